package stick

import "math"

// Proportions in body heights after Drillis & Contini 1966 (Winter 2009,
// Fig. 4.1): thigh 0.245, shank 0.246, ankle 0.039, foot 0.152, shoulder
// 0.818, hip 0.530, upper arm 0.186, forearm 0.146, chin 0.870. The hand is
// drawn closed at half its 0.108. The share of the foot behind the ankle and
// before the ball are from memory.
const (
	thigh    = 0.245
	shank    = 0.246
	trunk    = 0.818 - 0.530
	upperArm = 0.186
	forearm  = 0.146 + 0.054
	sole     = 0.039
	heelBack = 0.038
	ballFore = 0.075
	toeFore  = 0.152 - heelBack
	headUp   = 0.935 - 0.818
	headR    = 0.062
)

// Point is a place in body heights: X forward from the hip, Y up from the
// ground.
type Point struct{ X, Y float64 }

// Part is what a line belongs to.
type Part uint8

// The parts, from back to front.
const (
	Ground Part = iota
	Thing       // wall, box, pole
	FarLimb
	Body
	NearLimb
	Guide // a line that helps the eye
)

// Line is a polyline with round ends, Width in body heights. Filled closes
// and fills it.
type Line struct {
	Part   Part
	Points []Point
	Width  float64
	Filled bool
}

// Figure is a pose worked out.
type Figure struct {
	Caption string
	// Head is the centre of the head, HeadR its radius; Nose its foremost
	// point.
	Head  Point
	HeadR float64
	Nose  Point
	// Lines are in the order in which they are drawn. The head belongs with
	// the Body.
	Lines []Line
	// Left, Right and Top bound everything, Bottom is 0 or less.
	Left, Right, Bottom, Top float64
}

// joints are the places of one side.
type joints struct {
	knee, ankle, heel, ball, toe Point
	elbow, hand                  Point
}

// down is the unit vector at an angle in degrees from the downward vertical,
// forward positive.
func down(deg float64) Point {
	s, c := math.Sincos(deg * math.Pi / 180)
	return Point{s, -c}
}

func (p Point) plus(q Point, k float64) Point { return Point{p.X + k*q.X, p.Y + k*q.Y} }

// Solve works a pose out. The hip is at X = 0, and the lowest point at the
// pose's Lift.
func Solve(p Pose) Figure {
	hip := Point{}
	up := down(180 - p.Trunk)
	shoulder := hip.plus(up, trunk)
	neck := down(180 - p.Trunk - p.Head)
	head := shoulder.plus(neck, headUp)
	near := side(p, p.Near, p.NearArm, hip, shoulder)
	far := side(p, p.Far, p.FarArm, hip, shoulder)

	const skin = 0.02 // half the width of the limbs
	lowest := math.Min(hip.Y-0.03, math.Min(shoulder.Y-skin, head.Y-headR))
	for _, j := range []joints{near, far} {
		for _, q := range []Point{j.knee, j.heel, j.ball, j.toe, j.elbow, j.hand} {
			lowest = math.Min(lowest, q.Y-skin*0.7)
		}
	}
	rise := Point{0, p.Lift/100 - lowest}
	near, far = near.moved(rise), far.moved(rise)
	hip, shoulder, head = hip.plus(rise, 1), shoulder.plus(rise, 1), head.plus(rise, 1)

	f := Figure{Caption: p.Caption, Head: head, HeadR: headR, Nose: head.plus(down(90-p.Trunk-p.Head), headR*1.22)}
	f.Lines = append(f.Lines, far.lines(FarLimb, hip, shoulder)...)
	f.Lines = append(f.Lines,
		Line{Part: Body, Points: []Point{hip, shoulder}, Width: 0.062},
		Line{Part: Body, Points: []Point{shoulder, head}, Width: 0.034})
	f.Lines = append(f.Lines, near.lines(NearLimb, hip, shoulder)...)
	f.bound()
	f.Lines = append(f.props(p, near, far, hip, shoulder), f.Lines...)
	f.guides(p, near, hip)
	f.bound()
	f.Lines = append([]Line{{Part: Ground, Points: []Point{{f.Left - 0.03, 0}, {f.Right + 0.03, 0}}, Width: 0.008}}, f.Lines...)
	f.bound()
	return f
}

func side(p Pose, l Leg, a Arm, hip, shoulder Point) joints {
	var j joints
	j.knee = hip.plus(down(l.Thigh), thigh)
	shin := l.Thigh - l.Knee
	j.ankle = j.knee.plus(down(shin), shank)
	foot := shin + 90 + l.Ankle
	along, below := down(foot), down(foot-90)
	base := j.ankle.plus(below, sole)
	j.heel = base.plus(along, -heelBack)
	j.ball = base.plus(along, ballFore)
	j.toe = j.ball.plus(down(foot+l.Toes), toeFore-ballFore)
	arm := a.Shoulder - p.Trunk
	j.elbow = shoulder.plus(down(arm), upperArm)
	j.hand = j.elbow.plus(down(arm+a.Elbow), forearm)
	return j
}

func (j joints) moved(by Point) joints {
	for _, q := range []*Point{&j.knee, &j.ankle, &j.heel, &j.ball, &j.toe, &j.elbow, &j.hand} {
		*q = q.plus(by, 1)
	}
	return j
}

func (j joints) lines(part Part, hip, shoulder Point) []Line {
	return []Line{
		{Part: part, Points: []Point{j.ankle, j.heel, j.ball}, Width: 0.026, Filled: true},
		{Part: part, Points: []Point{j.ball, j.toe}, Width: 0.026},
		{Part: part, Points: []Point{j.knee, j.ankle}, Width: 0.036},
		{Part: part, Points: []Point{hip, j.knee}, Width: 0.05},
		{Part: part, Points: []Point{j.elbow, j.hand}, Width: 0.026},
		{Part: part, Points: []Point{shoulder, j.elbow}, Width: 0.032},
	}
}

// bound sets the figure's extent.
func (f *Figure) bound() {
	f.Left, f.Right = f.Head.X-f.HeadR, math.Max(f.Head.X+f.HeadR, f.Nose.X)
	f.Bottom, f.Top = 0, f.Head.Y+f.HeadR
	for _, l := range f.Lines {
		for _, q := range l.Points {
			f.Left, f.Right = math.Min(f.Left, q.X-l.Width/2), math.Max(f.Right, q.X+l.Width/2)
			f.Bottom, f.Top = math.Min(f.Bottom, q.Y-l.Width/2), math.Max(f.Top, q.Y+l.Width/2)
		}
	}
}

// props are the things behind the figure.
func (f *Figure) props(p Pose, near, far joints, hip, shoulder Point) []Line {
	var lines []Line
	box := func(left, right, top float64) {
		lines = append(lines, Line{Part: Thing, Filled: true, Width: 0.008,
			Points: []Point{{left, 0}, {left, top}, {right, top}, {right, 0}}})
	}
	for _, prop := range p.Props {
		switch prop {
		case WallAhead:
			x := near.hand.X + 0.014
			lines = append(lines, Line{Part: Thing, Points: []Point{{x, 0}, {x, math.Max(1.02, f.Top)}}, Width: 0.014})
		case WallBehind:
			x := f.Left - 0.008
			lines = append(lines, Line{Part: Thing, Points: []Point{{x, 0}, {x, math.Max(1.02, f.Top)}}, Width: 0.014})
		case BoxNear:
			box(near.heel.X-0.05, near.toe.X+0.06, math.Min(near.heel.Y, near.toe.Y)-0.014)
		case BoxFar:
			box(far.heel.X-0.05, far.toe.X+0.06, math.Min(far.heel.Y, far.toe.Y)-0.014)
		case Seat:
			box(hip.X-0.17, hip.X+0.06, hip.Y-0.07)
		case Pole:
			back := down(-90 - p.Trunk)
			along := Point{shoulder.X - hip.X, shoulder.Y - hip.Y}
			foot := hip.plus(back, 0.05).plus(along, -0.22)
			lines = append(lines, Line{Part: Thing, Points: []Point{foot, foot.plus(along, 1.9)}, Width: 0.014})
		}
	}
	return lines
}

// guides are the lines and arrows in front of the figure.
func (f *Figure) guides(p Pose, near joints, hip Point) {
	add := func(width float64, points ...Point) {
		f.Lines = append(f.Lines, Line{Part: Guide, Points: points, Width: width})
	}
	arrow := func(from, to Point) {
		length := math.Hypot(to.X-from.X, to.Y-from.Y)
		along := Point{(to.X - from.X) / length, (to.Y - from.Y) / length}
		across := Point{-along.Y, along.X}
		add(0.012, from, to)
		add(0.012, to.plus(along, -0.045).plus(across, 0.03), to, to.plus(along, -0.045).plus(across, -0.03))
	}
	left, right := f.Left-0.07, f.Right+0.07
	for _, prop := range p.Props {
		switch prop {
		case Plumb:
			add(0.009, Point{near.ankle.X, 0}, Point{near.ankle.X, f.Head.Y + 0.14})
		case LeanLine:
			dx, dy := f.Head.X-near.ankle.X, f.Head.Y-near.ankle.Y
			add(0.009, near.ankle, Point{near.ankle.X + 1.14*dx, near.ankle.Y + 1.14*dy})
		case Marks:
			for x := math.Floor(f.Left/0.2) * 0.2; x <= f.Right+0.1; x += 0.2 {
				add(0.01, Point{x, -0.035}, Point{x, -0.005})
			}
		case Up:
			arrow(Point{left, hip.Y - 0.1}, Point{left, hip.Y + 0.1})
		case Down:
			arrow(Point{left, hip.Y + 0.1}, Point{left, hip.Y - 0.1})
		case Forward:
			arrow(Point{right - 0.02, hip.Y + 0.16}, Point{right + 0.16, hip.Y + 0.16})
		case Back:
			arrow(Point{left + 0.02, hip.Y + 0.16}, Point{left - 0.16, hip.Y + 0.16})
		}
	}
}

package gait

import (
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/signal"
)

// legShare is (thigh + shank) / body height: 0.245 + 0.246.
// Source: Drillis & Contini 1966, as tabulated in Winter, Biomechanics and
// Motor Control of Human Movement.
const legShare = 0.491

// legShareSD is the spread of that share between people, relative: about
// 3 % (from memory; sitting height over height varies by about 2 %).
const legShareSD = 0.03

// Plane turns pixels of the picture into metres of the sagittal plane:
// X forward (the way the runner faces), Y up.
type Plane struct {
	Facing form.Side // Left or Right
	// RollDeg is how far the scene is turned clockwise: a level belt seen
	// falling to the right by this angle has roll +RollDeg.
	RollDeg, RollSD float64
	// YawDeg is how far the camera stands off side-on; positive when it sees
	// the runner more from behind.
	YawDeg, YawSD float64
	// MPerPx holds for the body's midplane.
	MPerPx float64
	// ScaleSD is relative: it goes into every length.
	ScaleSD float64
	// DistanceM is the camera's distance from the runner, from the size of
	// the picture and a telephone's usual lens; 0 where not known.
	DistanceM float64
	// TravelMS is the hips' travel, taken out so that an over-ground runner
	// stays in place.
	TravelMS       geom.Vec
	centre         geom.Vec // m, the hips' place at t0
	axis           geom.Vec // px, where the lens points
	t0             float64
	lateral        [form.NumJoints]float64
	sinYaw, cosYaw float64
}

// lateralShare is how far each point lies from the body's midplane as a
// share of body height; it takes the parallax out of a picture that is not
// quite side-on. Hip and shoulder widths after Drillis & Contini 1966
// (0.191 H and 0.259 H between the outer borders; joint centres lie inward),
// feet near the line of progression (from memory).
var lateralShare = map[form.Point]float64{
	form.Ear: 0.04, form.Eye: 0.018, form.Shoulder: 0.1, form.Elbow: 0.13, form.Wrist: 0.1,
	form.Hip: 0.055, form.Knee: 0.045, form.Ankle: 0.04, form.Heel: 0.035, form.Toe: 0.045,
}

// dir is +1 when forward is to the right of the picture.
func (p *Plane) dir() float64 {
	if p.Facing == form.Left {
		return -1
	}
	return 1
}

// Map gives a joint's place in metres, relative to the runner, from its place
// in pixels at time t.
func (p *Plane) Map(j form.Joint, px geom.Vec, t float64) geom.Vec {
	return p.lift(px, p.lateral[j]).Sub(p.TravelMS.Scale(t - p.t0)).Sub(p.centre)
}

// lift takes roll, perspective and yaw out of a point that lies z metres
// nearer to the camera than the body's midplane.
//
// A camera at distance D, turned by yaw ψ, sees the point (X, Y, z) at depth
// d = D + X·sin ψ − z·cos ψ, at x = D·(X·cos ψ + z·sin ψ)/d and y = D·Y/d
// (scaled to the midplane's size); solved for X and Y:
//
//	X = (x·(D − z·cos ψ) − D·z·sin ψ) / (D·cos ψ − x·sin ψ),  Y = y·d/D
//
// Without a known distance it is the limit of a far camera.
func (p *Plane) lift(px geom.Vec, z float64) geom.Vec {
	v := p.rotate(px.Sub(p.axis)).Scale(p.MPerPx)
	s, c, far := p.sinYaw, p.cosYaw, p.DistanceM
	if far <= 0 {
		return geom.Vec{X: (v.X - z*s) / c, Y: v.Y}
	}
	x := (v.X*(far-z*c) - far*z*s) / (far*c - v.X*s)
	return geom.Vec{X: x, Y: v.Y * (far + x*s - z*c) / far}
}

// Turned gives where a joint that Map put at m would lie if the camera stood
// deg further off side-on, metres: the far camera's limit, which is enough
// for small turns.
func (p *Plane) Turned(j form.Joint, m geom.Vec, deg float64) geom.Vec {
	s, c := math.Sincos(geom.Radians(p.YawDeg + deg))
	z := p.lateral[j]
	m.X = (m.X*p.cosYaw + z*(p.sinYaw-s)) / c
	return m
}

// Unmap is the inverse of Map for a point of the midplane: metres to pixels.
func (p *Plane) Unmap(m geom.Vec, t float64) geom.Vec {
	m = m.Add(p.centre).Add(p.TravelMS.Scale(t - p.t0))
	x, y := m.X*p.cosYaw, m.Y
	if p.DistanceM > 0 {
		k := p.DistanceM / (p.DistanceM + m.X*p.sinYaw)
		x, y = k*x, k*y
	}
	x, y = p.dir()*x/p.MPerPx, -y/p.MPerPx
	s, c := math.Sincos(geom.Radians(p.RollDeg))
	return geom.Vec{X: x*c - y*s, Y: x*s + y*c}.Add(p.axis)
}

// rotate takes the camera's roll out and turns picture axes (y down) into
// forward and up, still in pixels.
func (p *Plane) rotate(v geom.Vec) geom.Vec {
	s, c := math.Sincos(geom.Radians(p.RollDeg))
	x := v.X*c + v.Y*s
	y := -v.X*s + v.Y*c
	return geom.Vec{X: p.dir() * x, Y: -y}
}

func (p *Plane) setYaw(deg float64, heightM float64, near form.Side) {
	p.YawDeg = deg
	p.sinYaw, p.cosYaw = math.Sincos(geom.Radians(deg))
	for j := range form.Joint(form.NumJoints) {
		z := lateralShare[j.Point()] * heightM
		switch j.Side() {
		case form.Mid:
			z = 0
		case near:
		default:
			z = -z
		}
		p.lateral[j] = z
	}
}

// checkView refuses pictures that stand on their head, and those that are not
// from the side: there the width of the shoulders is large beside the trunk.
func (g *Gait) checkView() error {
	if v := g.Motion.Track.View; v == form.ViewFront || v == form.ViewBack {
		return because(ErrView, form.ClipError("this is a %s view; running is measured from the side: film side-on, camera at hip height", v))
	}
	if hip, ok := g.medianY(form.Hip); ok {
		for _, q := range []struct {
			p    form.Point
			sign float64
		}{{form.Shoulder, -1}, {form.Ankle, 1}} {
			if y, ok := g.medianY(q.p); ok && q.sign*(y-hip) < 0 {
				return because(ErrView, form.ClipError("the runner is upside down in the picture: turn the clip upright and try again"))
			}
		}
	}
	width := g.medianGap(form.Shoulder)
	long := g.medianLength(form.Hip, form.Shoulder)
	if !finite(width) || !finite(long) {
		return nil // legs alone: the stride itself will tell
	}
	if width/long > 0.55 {
		return because(ErrView, form.ClipError("the runner is seen from the front or the back, not from the side: film side-on, camera at hip height, at a right angle to the way they run. A clip from straight behind is checked with --view back, or beside one from the side with --back"))
	}
	return nil
}

// medianY is the median height of a point's sides in the picture, px down.
func (g *Gait) medianY(p form.Point) (float64, bool) {
	var y []float64
	for _, t := range g.Motion.Times {
		if v, ok := g.midPx(p, t); ok {
			y = append(y, v.Y)
		}
	}
	return signal.Median(y), len(y) > 0
}

// medianGap is the median horizontal distance of a point's two sides, px.
func (g *Gait) medianGap(p form.Point) float64 {
	l, r := g.Motion.Paths[form.At(p, form.Left)], g.Motion.Paths[form.At(p, form.Right)]
	if l == nil || r == nil {
		return math.NaN()
	}
	var gaps []float64
	for i := range g.Motion.Times {
		if l.Weight[i] > 0 && r.Weight[i] > 0 {
			gaps = append(gaps, math.Abs(l.X[i].X-r.X[i].X))
		}
	}
	return signal.Median(gaps)
}

// medianLength is the median distance between the midpoints of two points.
func (g *Gait) medianLength(a, b form.Point) float64 {
	var lengths []float64
	for _, t := range g.Motion.Times {
		p, okP := g.midPx(a, t)
		q, okQ := g.midPx(b, t)
		if okP && okQ {
			lengths = append(lengths, q.Sub(p).Norm())
		}
	}
	return signal.Median(lengths)
}

// midPx is the midpoint of a point's two sides in pixels, or the one side
// that is there.
func (g *Gait) midPx(p form.Point, t float64) (geom.Vec, bool) {
	l, _, okL := g.Motion.Spot(form.At(p, form.Left), t)
	r, _, okR := g.Motion.Spot(form.At(p, form.Right), t)
	switch {
	case okL && okR:
		return geom.Mid(l, r), true
	case okL:
		return l, true
	default:
		return r, okR
	}
}

// findPlane finds facing, drift, setting and a first scale; level and yaw
// are refined when the stance phases are known.
func (g *Gait) findPlane(facts Facts) error {
	p := &g.Plane
	p.cosYaw = 1
	p.Facing = facts.Facing
	if p.Facing != form.Left && p.Facing != form.Right {
		p.Facing = g.Motion.Track.Facing
	}
	if p.Facing != form.Left && p.Facing != form.Right {
		p.Facing = g.seenFacing()
	}
	g.Near = p.Facing // who runs to the right turns the right side to the camera
	p.t0 = g.Motion.Times[0]
	if t := g.Motion.Track; t.Width > 0 && t.Height > 0 {
		p.axis = geom.Vec{X: float64(t.Width) / 2, Y: float64(t.Height) / 2}
	} else if hip, ok := g.medianHip(); ok {
		p.axis = hip
	}
	leg, err := g.legPx()
	if err != nil {
		return err
	}
	p.ScaleSD = legShareSD
	g.setScale(leg)
	p.setYaw(0, facts.HeightM, g.Near)
	g.Setting = Treadmill
	if g.settle(); math.Abs(p.TravelMS.X) > overGroundMS {
		g.Setting = OverGround
		g.SeenSpeedMS = math.Abs(p.TravelMS.X)
	} else {
		p.TravelMS = geom.Vec{}
	}
	return nil
}

// settle finds the hips' place and travel in the plane as it stands: least
// squares through time.
func (g *Gait) settle() {
	p := &g.Plane
	var n, st, stt float64
	var sum, cross geom.Vec
	for _, t := range g.Motion.Times {
		v, ok := g.midPx(form.Hip, t)
		if !ok {
			continue
		}
		m, d := p.lift(v, 0), t-p.t0
		n, st, stt = n+1, st+d, stt+d*d
		sum, cross = sum.Add(m), cross.Add(m.Scale(d))
	}
	det := n*stt - st*st
	if det <= 0 {
		return
	}
	p.TravelMS = cross.Scale(n).Sub(sum.Scale(st)).Scale(1 / det)
	p.centre = sum.Sub(p.TravelMS.Scale(st)).Scale(1 / n)
	if g.Setting == Treadmill && math.Abs(p.TravelMS.X) <= overGroundMS {
		p.centre = sum.Scale(1 / n)
	}
}

// setScale fixes metres per pixel from the near leg's length in pixels. The
// near leg lies nearer to the camera than the midplane that the scale is for.
func (g *Gait) setScale(legPx float64) {
	p := &g.Plane
	p.MPerPx = g.LegM / legPx
	t := g.Motion.Track
	if t.Width == 0 || t.Height == 0 {
		return
	}
	z := (lateralShare[form.Hip] + lateralShare[form.Ankle]) / 2 * g.LegM / legShare
	focal := focalShare * float64(max(t.Width, t.Height))
	if t.FocalPx > 0 {
		focal = t.FocalPx
	}
	p.DistanceM = focal*p.MPerPx + z
	p.MPerPx *= p.DistanceM / (p.DistanceM - z)
}

// rescale measures the near leg once more, with perspective and yaw taken
// out, and corrects the scale: a leg that comes nearer to the camera, or
// swings towards it, is no longer taken for a longer one.
func (g *Gait) rescale() {
	p := &g.Plane
	var lengths []float64
	joints := [3]form.Joint{form.At(form.Hip, g.Near), form.At(form.Knee, g.Near), form.At(form.Ankle, g.Near)}
	for _, t := range g.Motion.Times {
		var at [3]geom.Vec
		whole := true
		for i, j := range joints {
			v, _, ok := g.Motion.Spot(j, t)
			at[i] = p.lift(v, p.lateral[j])
			whole = whole && ok
		}
		if whole {
			lengths = append(lengths, at[1].Sub(at[0]).Norm()+at[2].Sub(at[1]).Norm())
		}
	}
	if len(lengths) < minFrames {
		return
	}
	k := g.LegM / signal.Quantile(lengths, legQuantile)
	p.MPerPx *= k
	p.DistanceM *= k
}

// overGroundMS is the hips' travel, m/s, from which a clip is taken to be
// over ground: on a treadmill a runner drifts by a few cm/s.
const overGroundMS = 0.6

// seenFacing is the way toes point from heels, nose from ears.
func (g *Gait) seenFacing() form.Side {
	sum := 0.0
	for i := range g.Motion.Track.Frames {
		f := &g.Motion.Track.Frames[i]
		for _, s := range sides {
			if a, b := f.Spot(form.Heel, s), f.Spot(form.Toe, s); a.Seen() && b.Seen() {
				sum += b.X - a.X
			}
			if a, b := f.Spot(form.Ear, s), f.Spots[0]; a.Seen() && b.Seen() {
				sum += b.X - a.X
			}
		}
	}
	if sum < 0 {
		return form.Left
	}
	return form.Right
}

func (g *Gait) medianHip() (geom.Vec, bool) {
	var x, y []float64
	for _, t := range g.Motion.Times {
		if v, ok := g.midPx(form.Hip, t); ok {
			x, y = append(x, v.X), append(y, v.Y)
		}
	}
	return geom.Vec{X: signal.Median(x), Y: signal.Median(y)}, len(x) > 0
}

// legQuantile is the quantile of the in-plane thigh + shank length taken as
// the leg's true length: near the top, since the leg lies in the plane of
// the picture for most of the stride, but below the noise's own maxima.
const legQuantile = 0.85

// legPx is the near leg's thigh + shank in pixels.
func (g *Gait) legPx() (float64, error) {
	var lengths []float64
	for _, t := range g.Motion.Times {
		h, _, ok1 := g.Motion.Spot(form.At(form.Hip, g.Near), t)
		k, _, ok2 := g.Motion.Spot(form.At(form.Knee, g.Near), t)
		a, _, ok3 := g.Motion.Spot(form.At(form.Ankle, g.Near), t)
		if ok1 && ok2 && ok3 {
			lengths = append(lengths, k.Sub(h).Norm()+a.Sub(k).Norm())
		}
	}
	if len(lengths) < minFrames {
		return 0, form.ClipError("the leg nearest to the camera is hardly ever seen whole: keep hips, knees and feet in the picture")
	}
	leg := signal.Quantile(lengths, legQuantile)
	if leg < 30 {
		return 0, form.ClipError("the runner is too small in the picture (a leg of %.0f pixels): film closer, the whole body filling most of the picture's height", leg)
	}
	return leg, nil
}

package standin

import "math"

// figure holds the lengths of the runner's segments, metres.
//
// Segment lengths as fractions of height: Drillis & Contini 1966 as tabulated
// in Winter, Biomechanics and Motor Control of Human Movement (thigh 0.245,
// shank 0.246, upper arm 0.186, forearm 0.146, shoulder height 0.818, greater
// trochanter 0.530). Joint centres lie further in than the outer widths of
// that table: hip joints 0.100 H apart, shoulder joints 0.205 H (common
// practice, no source).
type figure struct {
	height              float64
	thigh, shank        float64
	trunk               float64 // hip centre → shoulder centre
	neck                float64 // shoulder centre → middle of the ears
	hipHalf             float64
	shoulderHalf        float64
	upperArm, fore      float64
	knuckle             float64 // wrist → knuckle of the middle finger
	earHalf             float64
	noseOut, noseDown   float64 // from the middle of the ears
	eyeOut, eyeUp, eyeZ float64
	shoe                shoe
}

func newFigure(r Runner) figure {
	h, b := r.HeightM, r.Body
	return figure{
		height: h,
		thigh:  0.245 * h * b.Leg, shank: 0.246 * h * b.Leg,
		trunk: 0.288 * h * b.Trunk, neck: 0.109 * h,
		hipHalf: 0.050 * h * b.HipWidth, shoulderHalf: 0.1025 * h * b.ShoulderWidth,
		upperArm: 0.186 * h * b.Arm, fore: 0.146 * h * b.Arm, knuckle: 0.0495 * h,
		earHalf: 0.042 * h,
		noseOut: 0.068 * h, noseDown: 0.004 * h,
		eyeOut: 0.050 * h, eyeUp: 0.016 * h, eyeZ: 0.019 * h,
		shoe: newShoe(h, b.Foot),
	}
}

// segment is one row of the mass table: fraction of the body's mass and
// where its centre lies, as a fraction of the length from the first end.
type segment struct{ mass, centre float64 }

// Mass table: de Leva 1996, J Biomech 29:1223–1230, mean of men and women;
// trunk from mid-shoulder to mid-hip, shank to the ankle joint centre, foot
// from heel to toe tip, hand from the wrist to the knuckle. The head with the
// neck (centre 0.5976 and 0.5894 of vertex → mid-gonion) is put at the middle
// of the ears.
var (
	segHead     = segment{(0.0694 + 0.0668) / 2, 0}
	segTrunk    = segment{(0.4346 + 0.4257) / 2, (0.4310 + 0.3782) / 2}
	segUpperArm = segment{(0.0271 + 0.0255) / 2, (0.5772 + 0.5754) / 2}
	segForearm  = segment{(0.0162 + 0.0138) / 2, (0.4574 + 0.4559) / 2}
	segHand     = segment{(0.0061 + 0.0056) / 2, (0.7900 + 0.7474) / 2}
	segThigh    = segment{(0.1416 + 0.1478) / 2, (0.4095 + 0.3612) / 2}
	segShank    = segment{(0.0433 + 0.0481) / 2, (0.4395 + 0.4352) / 2}
	segFoot     = segment{(0.0137 + 0.0129) / 2, (0.4415 + 0.4014) / 2}
)

// Limb is an arm and a leg of one side.
type Limb struct {
	Hip, Knee, Ankle, Heel, Ball, Toe Vec3
	// HeelEdge and Tip are the ends of the part of the sole that can touch.
	HeelEdge, Tip                   Vec3
	Shoulder, Elbow, Wrist, Knuckle Vec3
	Eye, Ear                        Vec3
	// HeelPitch and ToePitch are the turns of the foot's two parts from flat,
	// SoleLow the height of the lowest point of the sole over the belt.
	HeelPitch, ToePitch, SoleLow float64
	// ToeOut is the turn of the foot about the vertical, outward positive.
	ToeOut float64
	Down   bool // between contact and toe-off
	// inward is the turn of the knee about the line from hip to ankle.
	inward float64
}

// Pose is the whole figure at one time, in world axes: on a treadmill they
// stand still with the room, over ground too.
type Pose struct {
	Time      float64
	Limbs     [2]Limb // left, right
	Nose      Vec3
	Pelvis    Vec3 // middle of the hip joints
	Chest     Vec3 // middle of the shoulder joints
	Head      Vec3 // middle of the ears
	Mass      Vec3 // whole-body centre of mass
	PelvisYaw float64
	ChestYaw  float64
	ChestRoll float64 // left shoulder raised over the right
	HeadPitch float64
	TrunkLean float64
	TrunkSide float64 // to the right positive
	BeltM     float64 // how far the belt has travelled
	Pitch     float64 // incline of the ground, radians
}

// centreOfMass is the mass-weighted mean of the segments' centres.
func (p *Pose) centreOfMass() Vec3 {
	var sum Vec3
	total := 0.0
	add := func(s segment, a, b Vec3) {
		sum = sum.add(a.lerp(b, s.centre).scale(s.mass))
		total += s.mass
	}
	add(segHead, p.Head, p.Head)
	add(segTrunk, p.Chest, p.Pelvis)
	for i := range p.Limbs {
		l := &p.Limbs[i]
		add(segUpperArm, l.Shoulder, l.Elbow)
		add(segForearm, l.Elbow, l.Wrist)
		add(segHand, l.Wrist, l.Knuckle)
		add(segThigh, l.Hip, l.Knee)
		add(segShank, l.Knee, l.Ankle)
		add(segFoot, l.Heel, l.Toe)
	}
	return sum.scale(1 / total)
}

// eachPoint calls f with every place of the pose.
func (p *Pose) eachPoint(f func(*Vec3)) {
	for _, v := range []*Vec3{&p.Nose, &p.Pelvis, &p.Chest, &p.Head, &p.Mass} {
		f(v)
	}
	for i := range p.Limbs {
		l := &p.Limbs[i]
		for _, v := range []*Vec3{
			&l.Hip, &l.Knee, &l.Ankle, &l.Heel, &l.Ball, &l.Toe, &l.HeelEdge, &l.Tip,
			&l.Shoulder, &l.Elbow, &l.Wrist, &l.Knuckle, &l.Eye, &l.Ear,
		} {
			f(v)
		}
	}
}

// legAngles are the turns of a leg in its own plane, which holds the X axis,
// the hip and the ankle: thigh from the plane's downward direction (forward
// positive), knee flexion, and foot against shank (toes up positive), and
// how far the toe part is bent up against the heel part.
type legAngles struct{ thigh, knee, ankle, toes float64 }

func (a legAngles) sub(b legAngles) legAngles {
	return legAngles{a.thigh - b.thigh, a.knee - b.knee, a.ankle - b.ankle, a.toes - b.toes}
}

func (a legAngles) scale(k float64) legAngles {
	return legAngles{a.thigh * k, a.knee * k, a.ankle * k, a.toes * k}
}

func (a legAngles) mix(b legAngles, k float64) legAngles {
	return a.scale(1 - k).sub(b.scale(-k))
}

// placeArms sets the shoulders, arms, head and face of p from the pelvis,
// the trunk's lean and the turn of the shoulders.
func (f *figure) placeArms(p *Pose, upper, elbow [2]float64, headForward, headPitch float64) {
	sin, cos := math.Sincos(p.TrunkLean)
	over, up := math.Sincos(p.TrunkSide)
	p.Chest = p.Pelvis.add(Vec3{f.trunk * sin, f.trunk * cos * up, f.trunk * cos * over})
	p.Head = p.Chest.add(Vec3{headForward, math.Sqrt(f.neck*f.neck - headForward*headForward), 0})
	p.HeadPitch = headPitch
	face := func(v Vec3) Vec3 { return p.Head.add(v.aboutZ(headPitch)) }
	p.Nose = face(Vec3{f.noseOut, -f.noseDown, 0})
	const abducted, inward = 0.24, 0.30
	for leg := range p.Limbs {
		l, out := &p.Limbs[leg], outward(leg)
		l.Shoulder = p.Chest.add(Vec3{0, 0, out * f.shoulderHalf}.aboutX(p.ChestRoll).aboutY(p.ChestYaw))
		l.Eye = face(Vec3{f.eyeOut, f.eyeUp, out * f.eyeZ})
		l.Ear = face(Vec3{0, 0, out * f.earHalf})
		arm := func(angle, side float64) Vec3 {
			s, c := math.Sincos(angle)
			return Vec3{s * math.Cos(side), -c * math.Cos(side), math.Sin(side)}.aboutY(p.ChestYaw)
		}
		l.Elbow = l.Shoulder.add(arm(upper[leg], out*abducted).scale(f.upperArm))
		hand := arm(upper[leg]+elbow[leg], -out*inward*math.Sin(elbow[leg]/2))
		l.Wrist = l.Elbow.add(hand.scale(f.fore))
		l.Knuckle = l.Wrist.add(hand.scale(f.knuckle))
	}
}

// placeHips sets both hip joints from the pelvis.
func (f *figure) placeHips(p *Pose, drop float64) {
	for leg := range p.Limbs {
		side := Vec3{0, 0, outward(leg) * f.hipHalf}.aboutX(drop).aboutY(p.PelvisYaw)
		p.Limbs[leg].Hip = p.Pelvis.add(side)
	}
}

// bendTo places the knee between the hip and the given ankle and gives the
// leg's angles; bend is −1 for a knee bent backward. ok is false where the
// leg is too short; the leg is then straight.
func (f *figure) bendTo(l *Limb, ankle Vec3, bend float64) (legAngles, bool) {
	l.Ankle = ankle
	d := ankle.sub(l.Hip)
	dist := d.norm()
	reach := f.thigh + f.shank
	ok := dist <= reach && dist >= math.Abs(f.thigh-f.shank)
	cosKnee := clamp((dist*dist-f.thigh*f.thigh-f.shank*f.shank)/(2*f.thigh*f.shank), -1, 1)
	knee := bend * math.Acos(cosKnee)
	down := Vec3{0, d.Y, d.Z}
	drop := down.norm()
	down = down.unit()
	toAnkle := math.Atan2(d.X, drop)
	// In the plane, the ankle lies behind the thigh's direction by inset.
	inset := math.Atan2(f.shank*math.Sin(knee), f.thigh+f.shank*math.Cos(knee))
	thigh := toAnkle + inset
	s, c := math.Sincos(thigh)
	l.Knee = l.Hip.add(Vec3{X: f.thigh * s}).add(down.scale(f.thigh * c))
	l.turnKnee()
	return legAngles{thigh: thigh, knee: knee}, ok
}

// hang places knee and ankle of a swinging leg from its angles, the ankle at
// the given Z.
func (f *figure) hang(l *Limb, a legAngles, ankleZ float64) {
	s1, c1 := math.Sincos(a.thigh)
	s2, c2 := math.Sincos(a.thigh - a.knee)
	drop := f.thigh*c1 + f.shank*c2
	side := clamp((ankleZ-l.Hip.Z)/math.Max(drop, 0.05), -0.7, 0.7)
	down := Vec3{0, -math.Sqrt(1 - side*side), side}
	l.Knee = l.Hip.add(Vec3{X: f.thigh * s1}).add(down.scale(f.thigh * c1))
	l.Ankle = l.Knee.add(Vec3{X: f.shank * s2}).add(down.scale(f.shank * c2))
	l.turnKnee()
}

// placeFoot sets heel, ball and toe from the ankle and the sole's turn.
func (f *figure) placeFoot(l *Limb, a sole, toeOut float64, leg int) {
	p := f.shoe.points(vec2{}, a)
	sin, cos := math.Sincos(toeOut)
	forward := Vec3{cos, 0, outward(leg) * sin}
	at := func(v vec2) Vec3 {
		d := v.sub(p.ankle)
		return l.Ankle.add(forward.scale(d.U)).add(Vec3{Y: d.Y})
	}
	l.Heel, l.Ball, l.Toe, l.HeelEdge, l.Tip = at(p.heel), at(p.ball), at(p.toe), at(p.heelEdge), at(p.tip)
	l.HeelPitch, l.ToePitch, l.ToeOut = a.heel, a.toe, toeOut
	l.SoleLow = l.Ankle.Y + f.shoe.lowest(p, a) - p.ankle.Y
}

package stand

import (
	"math"

	"plumbstride/internal/body"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/geom"
	"plumbstride/internal/signal"
)

// Facts is what the coach stated, and the camera's level where it is known.
type Facts struct {
	HeightM float64
	Level   gait.Level
	Facing  form.Side // Both to find it
	View    form.View // "" to find it
}

// Place is a joint's mean place over the quiet time: metres from the middle
// of the ankles, Y up; X forward in a side view, to the person's own left in
// a front or back view. Noise is the standard uncertainty of each coordinate
// from the points' scatter over the frames.
type Place struct {
	At    geom.Vec
	Noise geom.Vec
	Seen  bool
}

// Pose is somebody standing.
type Pose struct {
	View         form.View
	Facing, Near form.Side // side view; Both otherwise
	Network      string
	// Frames is the number of frames of the quiet time, FromS to ToS.
	Frames     int
	FromS, ToS float64
	// RollDeg is how far the scene is turned clockwise; YawDeg how far from
	// side-on the camera stands, seeing more of the back where positive.
	RollDeg, RollSD float64
	YawDeg, YawSD   float64
	// TiltSD is how far, degrees, the camera may look down or up: what is
	// higher is then nearer to it or farther away.
	TiltSD float64
	// LevelKnown: the level was stated or seen in the background.
	LevelKnown bool
	MPerPx     float64
	ScaleSD    float64 // relative
	DistanceM  float64 // of the camera; 0 where not known
	LegM       float64
	Places     [form.NumJoints]Place

	pixels  [form.NumJoints]pixel
	axis    geom.Vec
	middle  geom.Vec // px, the ankles' middle
	heightM float64
}

// pixel is a joint's median place in the picture and its standard
// uncertainty there.
type pixel struct {
	at, sd geom.Vec
	seen   bool
}

var sides = [2]form.Side{form.Left, form.Right}

// Usual values behind the uncertainties.
const (
	// legShare is (thigh + shank)/height, 0.245 + 0.246, and legShareSD its
	// relative spread between people (from memory): Drillis & Contini 1966 as
	// tabulated in Winter, Biomechanics and Motor Control of Human Movement.
	legShareSD = 0.03
	// handLevelSD is how far, degrees, people hold or prop a telephone off
	// level, pitchSD how far they tilt it up or down; common practice, no
	// source.
	handLevelSD = 1.7
	pitchSD     = 5.0
	// focalShare is a telephone's focal length over the picture's longer side
	// (26 mm equivalent with a usual crop; from memory), known to focalSD.
	focalShare = 0.9
	// onePointSD is the scatter of a single look at a joint, as a share of
	// the body's height in the picture, where one frame cannot tell it.
	onePointSD = 0.004
	// leastLegPx is the shortest leg that can be measured.
	leastLegPx = 30.0
	// Limits of standing: how much of the leg's length the hips stand over
	// the ankles, how far the feet are apart fore and aft or in height, as
	// shares of the leg, and the trunk's lean.
	leastUpright = 0.8
	mostApart    = 0.28
	mostLeanDeg  = 35.0
)

// Find makes the pose from a track of somebody standing. The error is a
// form.Error that says why it can't: nobody stands still, the view is askew,
// hips or feet are not seen, the person sits.
func Find(t form.Track, facts Facts) (*Pose, error) {
	quiet := FindQuiet(t)
	if quiet.To <= quiet.From {
		return nil, form.ClipError("nobody stands still in this clip: the standing check needs a second or more without a step, arms hanging, weight on both feet")
	}
	frames := t.Frames[quiet.From:quiet.To]
	p := &Pose{
		Network: t.Network, Frames: len(frames), FromS: frames[0].Time, ToS: frames[len(frames)-1].Time,
		LegM: body.ThighLength(facts.HeightM) + body.ShankLength(facts.HeightM), heightM: facts.HeightM,
	}
	p.readPixels(t, frames)
	if err := p.checkSeen(); err != nil {
		return nil, err
	}
	stated := facts.View
	if stated == "" {
		stated = t.View
	}
	if err := p.findView(stated); err != nil {
		return nil, err
	}
	if p.View == form.ViewSide {
		if facts.Facing == form.Both {
			facts.Facing = t.Facing
		}
		p.findFacing(facts.Facing)
		p.Near = p.Facing
	}
	if err := p.checkUpright(); err != nil {
		return nil, err
	}
	p.findScale(t)
	p.findLevel(facts.Level, t)
	p.findYaw()
	p.place()
	return p, nil
}

// readPixels takes each joint's median over the frames, and the standard
// uncertainty of that from its scatter (medianSD).
func (p *Pose) readPixels(t form.Track, frames []form.Frame) {
	size := bodyPx(t)
	for j := range form.Joint(form.NumJoints) {
		var x, y []float64
		for i := range frames {
			s := frames[i].Spots[j]
			if s.Seen() && within(s, t.Width, t.Height) {
				x, y = append(x, s.X), append(y, s.Y)
			}
		}
		if len(x) == 0 || len(x) < len(frames)/4 {
			continue
		}
		p.pixels[j] = pixel{
			at:   geom.Vec{X: signal.Median(x), Y: signal.Median(y)},
			sd:   geom.Vec{X: medianSD(x, size), Y: medianSD(y, size)},
			seen: true,
		}
	}
}

// within tells whether a spot lies in the picture: what lies outside was
// guessed.
func within(s form.Spot, w, h int) bool {
	return w == 0 || h == 0 || s.X >= 0 && s.Y >= 0 && s.X <= float64(w) && s.Y <= float64(h)
}

// medianSD is the standard uncertainty of a median of n normal values with the
// correlation ρ from one to the next, ρᵏ from one to the k-th: that of the
// signs about the median over twice the density there, σ·√((π/2 + 2·Σ
// arcsin ρᵏ)/n), since two signs have the covariance arcsin(ρ)/2π (Sheppard
// 1899, Phil Trans R Soc A 192:101–167, from memory).
func medianSD(v []float64, size float64) float64 {
	if len(v) < 4 {
		return onePointSD * size
	}
	mean, sd := signal.MeanSD(v)
	lag := 0.0
	for i := 1; i < len(v); i++ {
		lag += (v[i] - mean) * (v[i-1] - mean)
	}
	rho := 0.0
	if sd > 0 {
		rho = math.Max(0, math.Min(lag/(sd*sd*float64(len(v)-1)), 0.9))
	}
	signs := math.Pi / 2
	for r := rho; r > 1e-3; r *= rho {
		signs += 2 * math.Asin(r)
	}
	return math.Min(sd, 1.3*signal.RobustSD(v)+1e-6*size) * math.Sqrt(signs/float64(len(v)))
}

func (p *Pose) px(pt form.Point, s form.Side) (geom.Vec, bool) {
	v := p.pixels[form.At(pt, s)]
	return v.at, v.seen
}

// midPx is the middle of both sides, or the one side that is there.
func (p *Pose) midPx(pt form.Point) (geom.Vec, bool) {
	l, okL := p.px(pt, form.Left)
	r, okR := p.px(pt, form.Right)
	switch {
	case okL && okR:
		return geom.Mid(l, r), true
	case okL:
		return l, true
	default:
		return r, okR
	}
}

// checkSeen sees that legs and shoulders are in the picture, head up.
func (p *Pose) checkSeen() error {
	for _, pt := range []form.Point{form.Shoulder, form.Hip, form.Knee, form.Ankle} {
		if _, ok := p.midPx(pt); !ok {
			return form.ClipError("the person's %ss are not seen: take the picture with the whole body in it, from head to feet", pt)
		}
	}
	shoulder, _ := p.midPx(form.Shoulder)
	hip, _ := p.midPx(form.Hip)
	ankle, _ := p.midPx(form.Ankle)
	if shoulder.Y > hip.Y && hip.Y > ankle.Y {
		return form.ClipError("the person is upside down in the picture: turn it upright and try again")
	}
	return nil
}

// checkUpright refuses who sits, bends or steps.
func (p *Pose) checkUpright() error {
	shoulder, _ := p.midPx(form.Shoulder)
	hip, _ := p.midPx(form.Hip)
	ankle, _ := p.midPx(form.Ankle)
	leg := p.legPx()
	if leg < leastLegPx {
		return form.ClipError("the person is too small in the picture (a leg of %.0f pixels): come closer, the whole body filling most of the picture's height", leg)
	}
	if up := ankle.Y - hip.Y; up < leastUpright*leg {
		return form.ClipError("the person does not stand upright on both legs: the standing check needs somebody standing, weight on both feet")
	}
	if lean := geom.Degrees(math.Atan2(math.Abs(shoulder.X-hip.X), hip.Y-shoulder.Y)); lean > mostLeanDeg {
		return form.ClipError("the person bends over by about %.0f degrees: the standing check needs somebody standing upright", lean)
	}
	l, okL := p.px(form.Ankle, form.Left)
	r, okR := p.px(form.Ankle, form.Right)
	apart := math.Abs(l.Y - r.Y)
	if p.View == form.ViewSide {
		apart = math.Max(apart, math.Abs(l.X-r.X))
	}
	if okL && okR && apart > mostApart*leg {
		return form.ClipError("the feet are not side by side, as in a step: the standing check needs both feet under the body; for a runner, film a clip of 8 seconds or more")
	}
	return nil
}

// legPx is thigh and shank in pixels: of the near leg from the side, the
// mean of both else.
func (p *Pose) legPx() float64 {
	sum, n := 0.0, 0.0
	for _, s := range sides {
		if p.View == form.ViewSide && s != p.Near {
			continue
		}
		h, ok1 := p.px(form.Hip, s)
		k, ok2 := p.px(form.Knee, s)
		a, ok3 := p.px(form.Ankle, s)
		if ok1 && ok2 && ok3 {
			sum, n = sum+k.Sub(h).Norm()+a.Sub(k).Norm(), n+1
		}
	}
	if n == 0 {
		h, _ := p.midPx(form.Hip)
		k, _ := p.midPx(form.Knee)
		a, _ := p.midPx(form.Ankle)
		return k.Sub(h).Norm() + a.Sub(k).Norm()
	}
	return sum / n
}

// findScale fixes metres per pixel from the leg and the stated height, and
// the camera's distance from the picture's size.
func (p *Pose) findScale(t form.Track) {
	p.MPerPx = p.LegM / p.legPx()
	p.ScaleSD = legShareSD
	p.middle, _ = p.midPx(form.Ankle)
	hip, _ := p.midPx(form.Hip)
	p.axis = geom.Vec{X: hip.X, Y: hip.Y}
	if t.Width == 0 || t.Height == 0 {
		return
	}
	p.axis = geom.Vec{X: float64(t.Width) / 2, Y: float64(t.Height) / 2}
	near := 0.0
	if p.View == form.ViewSide {
		near = lateralShare[form.Hip] * p.heightM // the near leg is nearer than the middle
	}
	p.DistanceM = focalShare*float64(max(t.Width, t.Height))*p.MPerPx + near
	p.MPerPx *= p.DistanceM / (p.DistanceM - near)
}

// findLevel takes the level that is known; to either comes what an unknown
// tilt up or down makes of uprights off the middle of the picture: they lean
// by tilt · x/focal length.
func (p *Pose) findLevel(level gait.Level, t form.Track) {
	p.RollSD, p.TiltSD = handLevelSD, pitchSD
	if level.Stated || level.Known {
		p.RollDeg, p.RollSD, p.LevelKnown = level.Deg, level.SD, true
	}
	if t.Width > 0 && t.Height > 0 {
		off := math.Abs(p.middle.X-p.axis.X) / (focalShare * float64(max(t.Width, t.Height)))
		p.RollSD = math.Hypot(p.RollSD, pitchSD*off)
	}
}

// findYaw reads the turn from the lead of the near shoulder and hip over the
// far ones in a side view; from the front it is not known.
func (p *Pose) findYaw() {
	p.YawSD = 5
	if p.View != form.ViewSide {
		return
	}
	var sum, weight float64
	for _, pt := range []form.Point{form.Shoulder, form.Hip} {
		n, ok1 := p.px(pt, p.Near)
		f, ok2 := p.px(pt, p.Near.Other())
		if !ok1 || !ok2 {
			continue
		}
		width := 2 * lateralShare[pt] * p.heightM
		sum += width * p.dir() * (n.X - f.X) * p.MPerPx
		weight += width * width
	}
	if weight > 0 {
		p.YawDeg = geom.Degrees(math.Asin(math.Max(-0.6, math.Min(0.6, sum/weight))))
	}
}

// dir is +1 where X of the pose runs to the right of the picture.
func (p *Pose) dir() float64 {
	switch {
	case p.View == form.ViewSide && p.Facing == form.Left, p.View == form.ViewBack:
		return -1
	default:
		return 1
	}
}

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
	// RollDeg is the camera's roll, clockwise positive: a level belt seen
	// falling to the right by this angle has roll +RollDeg.
	RollDeg, RollSD float64
	// YawDeg is how far the camera stands off side-on; positive when it sees
	// the runner more from the front.
	YawDeg, YawSD float64
	MPerPx        float64
	// ScaleSD is relative: it goes into every length.
	ScaleSD float64
	// DriftPx is the travel of the hips, pixels a second (picture axes),
	// taken out so that an over-ground runner stays in place.
	Drift geom.Vec
	// DistanceM is the camera's distance from the runner, from the size of
	// the picture and a telephone's usual lens; 0 where not known.
	DistanceM      float64
	centre, axis   geom.Vec
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

// Map gives a joint's place in metres from its place in pixels at time t.
//
// A joint that lies z nearer to the camera than the body's midplane is seen
// larger by D/(D − z), D being the camera's distance, and off side-on by yaw
// ψ shifted by z·sin ψ: X = (x·(1 − z/D) − z·sin ψ)/cos ψ.
func (p *Plane) Map(j form.Joint, px geom.Vec, t float64) geom.Vec {
	nearer := 1.0
	if p.DistanceM > 0 {
		nearer = 1 - p.lateral[j]/p.DistanceM
	}
	seen := px.Sub(p.axis).Scale(nearer).Add(p.axis)
	v := p.rotate(seen.Sub(p.Drift.Scale(t - p.t0)).Sub(p.centre)).Scale(p.MPerPx)
	v.X = (v.X - p.lateral[j]*p.sinYaw) / p.cosYaw
	return v
}

// MapVelocity gives metres a second from pixels a second.
func (p *Plane) MapVelocity(v geom.Vec) geom.Vec {
	out := p.rotate(v.Sub(p.Drift)).Scale(p.MPerPx)
	out.X /= p.cosYaw
	return out
}

// rotate takes the camera's roll out and turns picture axes (y down) into
// forward and up, still in pixels.
func (p *Plane) rotate(v geom.Vec) geom.Vec {
	s, c := math.Sincos(geom.Radians(p.RollDeg))
	x := v.X*c + v.Y*s
	y := -v.X*s + v.Y*c
	return geom.Vec{X: p.dir() * x, Y: -y}
}

// Unmap is the inverse of Map for a point of the midplane: metres to pixels.
func (p *Plane) Unmap(m geom.Vec, t float64) geom.Vec {
	x, y := p.dir()*m.X*p.cosYaw/p.MPerPx, -m.Y/p.MPerPx
	s, c := math.Sincos(geom.Radians(p.RollDeg))
	return geom.Vec{X: x*c - y*s, Y: x*s + y*c}.Add(p.centre).Add(p.Drift.Scale(t - p.t0))
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

// checkView refuses pictures that are not from the side: there the width of
// the shoulders, or of the hips where shoulders are missing, is large beside
// the trunk or leg.
func (g *Gait) checkView() error {
	if v := g.Motion.Track.View; v == form.ViewFront || v == form.ViewBack {
		return form.ClipError("this is a %s view; running is measured from the side: film side-on, camera at hip height", v)
	}
	width := g.medianGap(form.Shoulder)
	long := g.medianLength(form.Hip, form.Shoulder)
	if !finite(width) || !finite(long) {
		return nil // legs alone: the stride itself will tell
	}
	if width/long > 0.55 {
		return form.ClipError("the runner is seen from the front or the back, not from the side: film side-on, camera at hip height, at a right angle to the way they run")
	}
	return nil
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
	g.Near = p.Facing.Other()
	if p.Facing == form.Right {
		g.Near = form.Right
	} else {
		g.Near = form.Left
	}
	p.t0 = g.Motion.Times[0]
	hip, ok := g.medianHip()
	if !ok {
		return form.ClipError("the runner's hips are hardly ever seen: keep the whole body in the picture")
	}
	p.centre = hip
	leg, err := g.legPx()
	if err != nil {
		return err
	}
	p.ScaleSD = legShareSD
	g.setScale(leg)
	drift := g.hipDrift()
	if math.Abs(drift.X)*p.MPerPx > overGroundMS {
		g.Setting = OverGround
		p.Drift = drift
		g.SeenSpeedMS = math.Abs(drift.X) * p.MPerPx
		p.centre, _ = g.hipAt(p.t0)
	} else {
		g.Setting = Treadmill
	}
	return nil
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
	p.axis = geom.Vec{X: float64(t.Width) / 2, Y: float64(t.Height) / 2}
	z := (lateralShare[form.Hip] + lateralShare[form.Ankle]) / 2 * g.LegM / legShare
	p.DistanceM = focalShare*float64(max(t.Width, t.Height))*p.MPerPx + z
	p.MPerPx *= p.DistanceM / (p.DistanceM - z)
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

func (g *Gait) hipAt(t float64) (geom.Vec, bool) { return g.midPx(form.Hip, t) }

// hipDrift is the hips' mean velocity, px/s: least squares through time.
func (g *Gait) hipDrift() geom.Vec {
	var n, st, stt float64
	var sx, sy, stx, sty float64
	for _, t := range g.Motion.Times {
		if v, ok := g.midPx(form.Hip, t); ok {
			d := t - g.Plane.t0
			n, st, stt = n+1, st+d, stt+d*d
			sx, sy, stx, sty = sx+v.X, sy+v.Y, stx+d*v.X, sty+d*v.Y
		}
	}
	det := n*stt - st*st
	if det <= 0 {
		return geom.Vec{}
	}
	return geom.Vec{X: (n*stx - st*sx) / det, Y: (n*sty - st*sy) / det}
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

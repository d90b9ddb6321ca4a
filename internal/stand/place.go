package stand

import (
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
)

// lateralShare is how far each point lies from the body's midplane, and
// aheadShare how far ahead of the ankles, as shares of height: what a camera
// at a few metres shows larger or smaller for it (after Drillis & Contini
// 1966; joint centres lie inward of their widths, from memory).
var (
	lateralShare = map[form.Point]float64{
		form.Ear: 0.04, form.Eye: 0.018, form.Shoulder: 0.1, form.Elbow: 0.13, form.Wrist: 0.13,
		form.Hip: 0.055, form.Knee: 0.055, form.Ankle: 0.055, form.Heel: 0.055, form.Toe: 0.06,
	}
	aheadShare = map[form.Point]float64{
		form.Nose: 0.08, form.Eye: 0.07, form.Ear: 0.02, form.Shoulder: 0.01, form.Elbow: 0.0, form.Wrist: 0.05,
		form.Hip: 0.02, form.Knee: 0.015, form.Ankle: 0, form.Heel: -0.035, form.Toe: 0.12,
	}
)

// nearer is how far a joint lies nearer to the camera than the plane that the
// scale holds for, metres.
func (p *Pose) nearer(j form.Joint) float64 {
	switch p.View {
	case form.ViewFront:
		return aheadShare[j.Point()] * p.heightM
	case form.ViewBack:
		return -aheadShare[j.Point()] * p.heightM
	}
	switch j.Side() {
	case form.Mid:
		return 0
	case p.Near:
		return lateralShare[j.Point()] * p.heightM
	default:
		return -lateralShare[j.Point()] * p.heightM
	}
}

// place turns pixels into metres: roll out, X forward (or to the person's
// left), Y up, perspective and yaw out, the middle of the ankles at zero.
func (p *Pose) place() {
	for j := range form.Joint(form.NumJoints) {
		if v := p.pixels[j]; v.seen {
			p.Places[j] = Place{At: p.lift(v.at, p.nearer(j)), Noise: v.sd.Scale(p.MPerPx), Seen: true}
		}
	}
	zero := p.mid(form.Ankle)
	for j := range p.Places {
		p.Places[j].At = p.Places[j].At.Sub(zero)
	}
}

// lift: a point z nearer than the plane at distance D is shown D/(D−z) times
// as far from the lens's axis; seen at yaw ψ, X is cos ψ of itself.
func (p *Pose) lift(px geom.Vec, z float64) geom.Vec {
	s, c := math.Sincos(geom.Radians(p.RollDeg))
	d := px.Sub(p.axis)
	v := geom.Vec{X: p.dir() * (d.X*c + d.Y*s), Y: d.X*s - d.Y*c}.Scale(p.MPerPx)
	if p.DistanceM > 0 {
		v = v.Scale((p.DistanceM - z) / p.DistanceM)
	}
	if p.View == form.ViewSide {
		v.X = (v.X - z*math.Sin(geom.Radians(p.YawDeg))) / math.Cos(geom.Radians(p.YawDeg))
	}
	return v
}

// Pixel gives where a place of the pose (metres, of the body's midplane)
// lies in the picture.
func (p *Pose) Pixel(at geom.Vec) geom.Vec {
	x := at.X
	if p.View == form.ViewSide {
		x *= math.Cos(geom.Radians(p.YawDeg))
	}
	x, y := p.dir()*x/p.MPerPx, -at.Y/p.MPerPx
	s, c := math.Sincos(geom.Radians(p.RollDeg))
	return geom.Vec{X: x*c - y*s, Y: x*s + y*c}.Add(p.middle)
}

// SeenAt gives a joint's median place in the picture.
func (p *Pose) SeenAt(j form.Joint) (geom.Vec, bool) { return p.pixels[j].at, p.pixels[j].seen }

// mid is the middle of a point's two places, or the one that is there.
func (p *Pose) mid(pt form.Point) geom.Vec {
	l, r := p.Places[form.At(pt, form.Left)], p.Places[form.At(pt, form.Right)]
	switch {
	case l.Seen && r.Seen:
		return geom.Mid(l.At, r.At)
	case l.Seen:
		return l.At
	default:
		return r.At
	}
}

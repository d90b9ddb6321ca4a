package check

import (
	"context"
	"image"
	"image/draw"
	"math"

	"plumbstride/internal/body"
	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/geom"
)

// pictures cuts the near leg's initial contact and mid-stance from the clip,
// and says what is to be drawn on them. Faces are blurred unless the coach
// asked otherwise.
func pictures(ctx context.Context, frames Frames, s *sight, ask Ask) ([]card.Picture, error) {
	g := s.gait
	moments := s.moments()
	var times []float64
	for _, m := range moments {
		last := s.track.Frames[len(s.track.Frames)-1].Time // of this pass
		times = append(times, math.Max(0, math.Min(m.at*s.clock.slowed, last)))
	}
	stills, err := frames(ctx, times)
	if err != nil {
		return nil, err
	}
	var out []card.Picture
	for i, m := range moments {
		p := s.picture(stills[i], nearest(g.Motion.Times, times[i]/s.clock.slowed), ask)
		p.Moment, p.TimeS, p.Side = m.name, times[i], g.Near
		p.Title = g.Near.String() + " foot, " + m.name
		out = append(out, p)
	}
	return out, nil
}

// nearest gives the time in times nearest to t.
func nearest(times []float64, t float64) float64 {
	best := times[0]
	for _, v := range times {
		if math.Abs(v-t) < math.Abs(best-t) {
			best = v
		}
	}
	return best
}

// picture blurs the face, crops around the runner and places the lines.
func (s *sight) picture(still *image.RGBA, t float64, ask Ask) card.Picture {
	g := s.gait
	var img image.Image = still
	if !ask.ShowFace {
		if x, y, r, ok := s.face(t); ok {
			img = card.BlurFace(still, x, y, r)
		}
	}
	area := around(still.Bounds(), func(j form.Joint) (geom.Vec, bool) {
		v, _, ok := g.Motion.Spot(j, t)
		return s.shown(v, t*s.clock.slowed), ok
	})
	crop := image.NewRGBA(image.Rect(0, 0, area.Dx(), area.Dy()))
	draw.Draw(crop, crop.Bounds(), img, area.Min, draw.Src)
	p := card.Picture{Image: crop, Tilt: s.tilt(t), Place: s.place(t, area.Min)}
	shift := geom.Vec{X: -float64(area.Min.X), Y: -float64(area.Min.Y)}
	s.lines(&p, t, ask, func(v geom.Vec) geom.Vec { return s.shown(v, t*s.clock.slowed).Add(shift) })
	return p
}

// lines places the near limbs' lines, the centre of mass and the ground at a
// time; put takes a place in the track into the picture.
func (s *sight) lines(p *card.Picture, t float64, ask Ask, put func(geom.Vec) geom.Vec) {
	g := s.gait
	spot := func(pt form.Point, side form.Side) (geom.Vec, bool) {
		v, _, ok := g.Motion.Spot(form.At(pt, side), t)
		return put(v), ok
	}
	p.Body, p.Foot, p.CentreOfMass, p.GroundY = nil, nil, [2]float64{}, 0
	line := func(list *[]card.Line, a, b form.Point, side form.Side) {
		u, ok1 := spot(a, side)
		v, ok2 := spot(b, side)
		if ok1 && ok2 {
			*list = append(*list, card.Line{X1: u.X, Y1: u.Y, X2: v.X, Y2: v.Y})
		}
	}
	near := g.Near
	line(&p.Body, form.Ear, form.Shoulder, near)
	line(&p.Body, form.Shoulder, form.Hip, near)
	line(&p.Body, form.Hip, form.Knee, near)
	line(&p.Body, form.Knee, form.Ankle, near)
	line(&p.Foot, form.Heel, form.Toe, near)
	if com, ok := s.centreOfMassPx(t, ask); ok {
		com = put(com)
		p.CentreOfMass = [2]float64{com.X, com.Y}
	}
	heel, ok1 := spot(form.Heel, near)
	toe, ok2 := spot(form.Toe, near)
	if ok1 && ok2 {
		p.GroundY = math.Max(heel.Y, toe.Y)
	}
}

// place is where a place of the track lies in a picture cut from the clip at
// origin, at a time. A camera that moved is followed to first order about the
// hips.
func (s *sight) place(t float64, origin image.Point) card.Place {
	p := card.Moved(-float64(origin.X), -float64(origin.Y))
	at, _, ok := s.gait.Motion.Spot(form.At(form.Hip, s.gait.Near), t)
	if s.camera == nil || !ok {
		return p
	}
	const step = 50 // px
	o := s.shown(at, t*s.clock.slowed)
	x := s.shown(at.Add(geom.Vec{X: step}), t*s.clock.slowed).Sub(o).Scale(1.0 / step)
	y := s.shown(at.Add(geom.Vec{Y: step}), t*s.clock.slowed).Sub(o).Scale(1.0 / step)
	turn := card.Place{XX: x.X, XY: y.X, YX: x.Y, YY: y.Y}
	turn.X, turn.Y = o.X-turn.XX*at.X-turn.XY*at.Y, o.Y-turn.YX*at.X-turn.YY*at.Y
	return turn.Then(p)
}

// face is the disc that hides the face: about the head's points, as wide as
// a head is.
func (s *sight) face(t float64) (x, y, r float64, ok bool) {
	var sum geom.Vec
	n := 0.0
	add := func(j form.Joint) {
		if v, _, seen := s.gait.Motion.Spot(j, t); seen {
			sum = sum.Add(s.shown(v, t*s.clock.slowed))
			n++
		}
	}
	add(0)
	for _, side := range []form.Side{form.Left, form.Right} {
		add(form.At(form.Eye, side))
		add(form.At(form.Ear, side))
	}
	if n == 0 {
		return 0, 0, 0, false
	}
	const headRadius = 0.13 // m
	return sum.X / n, sum.Y / n, headRadius / s.gait.Plane.MPerPx, true
}

// around is the part of the picture that a card shows: the whole body, whose
// points spot gives, with some room.
func around(bounds image.Rectangle, spot func(form.Joint) (geom.Vec, bool)) image.Rectangle {
	lo := geom.Vec{X: math.Inf(1), Y: math.Inf(1)}
	hi := geom.Vec{X: math.Inf(-1), Y: math.Inf(-1)}
	for j := range form.Joint(form.NumJoints) {
		if v, ok := spot(j); ok {
			lo = geom.Vec{X: math.Min(lo.X, v.X), Y: math.Min(lo.Y, v.Y)}
			hi = geom.Vec{X: math.Max(hi.X, v.X), Y: math.Max(hi.Y, v.Y)}
		}
	}
	tall := (hi.Y - lo.Y) * 1.3
	wide := math.Max(tall*0.8, (hi.X-lo.X)*1.2)
	cx, cy := (lo.X+hi.X)/2, (lo.Y+hi.Y)/2-0.02*tall
	r := image.Rect(int(cx-wide/2), int(cy-tall/2), int(cx+wide/2), int(cy+tall/2)).Intersect(bounds)
	if r.Empty() {
		return bounds
	}
	return r
}

// centreOfMassPx is the whole-body centre of mass, in the track's pixels.
func (s *sight) centreOfMassPx(t float64, ask Ask) (geom.Vec, bool) {
	g := s.gait
	var pos body.Positions
	var ok body.Present
	for j := range form.Joint(form.NumJoints) {
		if v, _, seen := g.Motion.Spot(j, t); seen {
			m := g.Plane.Map(j, v, t)
			pos[j], ok[j] = [2]float64{m.X, m.Y}, true
		}
	}
	com, missing := body.DeLeva(ask.Sex).CentreOfMass(&pos, &ok)
	if missing > 0.12 {
		return geom.Vec{}, false
	}
	return g.Plane.Unmap(geom.Vec{X: com[0], Y: com[1]}, t), true
}

// tilt is how far a plumb line through the runner's hips leans in the picture
// shown at time t, radians, its top to the right positive.
func (s *sight) tilt(t float64) float64 {
	g := s.gait
	tilt := geom.Radians(g.Plane.RollDeg)
	hip, _, ok := g.Motion.Spot(form.At(form.Hip, g.Near), t)
	if s.camera == nil || !ok {
		return tilt
	}
	// The plumb line in the steady picture, then as the frame shows it.
	up := geom.Vec{X: math.Sin(tilt), Y: -math.Cos(tilt)}.Scale(0.5 / g.Plane.MPerPx)
	d := s.shown(hip.Add(up), t*s.clock.slowed).Sub(s.shown(hip, t*s.clock.slowed))
	return math.Atan2(d.X, -d.Y)
}

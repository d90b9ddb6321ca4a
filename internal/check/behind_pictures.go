package check

import (
	"context"
	"image"
	"image/draw"
	"math"

	"plumbstride/internal/card"
	"plumbstride/internal/clip"
	"plumbstride/internal/form"
	"plumbstride/internal/geom"
)

// cut takes a mid-stance of each leg from the middle of the clip, and says
// what is to be drawn on it: the line of running, shoulders, hips, and the
// standing leg.
func (b *behind) cut(ctx context.Context, deps Deps, ask Ask) ([]card.Picture, error) {
	sides := []form.Side{form.Left, form.Right}
	var times []float64
	last := b.track.Frames[len(b.track.Frames)-1].Time
	for _, s := range sides {
		m := b.back.Middles[s]
		times = append(times, math.Max(0, math.Min(m[len(m)/2]*b.clock.slowed, last)))
	}
	stills, err := clip.Pick(ctx, deps.Tools, b.film.info, times)
	if err != nil {
		return nil, err
	}
	var out []card.Picture
	for i, s := range sides {
		p := b.picture(stills[i], nearest(b.back.Motion.Times, times[i]/b.clock.slowed), s, ask)
		p.Moment, p.TimeS, p.Side, p.View = "mid-stance", times[i], s, form.ViewBack
		p.Title = s.String() + " foot, mid-stance"
		out = append(out, p)
	}
	return out, nil
}

// picture blurs the head, crops around the runner and places the lines.
func (b *behind) picture(still *image.RGBA, t float64, side form.Side, ask Ask) card.Picture {
	spot := func(pt form.Point, s form.Side) (geom.Vec, bool) {
		v, _, ok := b.back.Motion.Spot(form.At(pt, s), t)
		return v, ok
	}
	var img image.Image = still
	if !ask.ShowFace {
		var sum geom.Vec
		n := 0.0
		for _, s := range []form.Side{form.Left, form.Right} {
			for _, pt := range []form.Point{form.Eye, form.Ear} {
				if v, ok := spot(pt, s); ok {
					sum, n = sum.Add(v), n+1
				}
			}
		}
		if n > 0 {
			const headRadius = 0.13 // m
			img = card.BlurFace(still, sum.X/n, sum.Y/n, headRadius/b.back.MPerPx())
		}
	}
	area := around(still.Bounds(), func(j form.Joint) (geom.Vec, bool) {
		v, _, ok := b.back.Motion.Spot(j, t)
		return v, ok
	})
	crop := image.NewRGBA(image.Rect(0, 0, area.Dx(), area.Dy()))
	draw.Draw(crop, crop.Bounds(), img, area.Min, draw.Src)
	shift := geom.Vec{X: -float64(area.Min.X), Y: -float64(area.Min.Y)}
	p := card.Picture{Image: crop, Tilt: geom.Radians(b.back.RollDeg)}
	line := func(list *[]card.Line, a form.Point, sa form.Side, z form.Point, sz form.Side) {
		u, ok1 := spot(a, sa)
		v, ok2 := spot(z, sz)
		if ok1 && ok2 {
			u, v = u.Add(shift), v.Add(shift)
			*list = append(*list, card.Line{X1: u.X, Y1: u.Y, X2: v.X, Y2: v.Y})
		}
	}
	line(&p.Body, form.Shoulder, form.Left, form.Shoulder, form.Right)
	line(&p.Body, form.Hip, form.Left, form.Hip, form.Right)
	line(&p.Body, form.Hip, side, form.Knee, side)
	line(&p.Body, form.Knee, side, form.Ankle, side)
	if at, ok := b.back.Path(t); ok {
		at = at.Add(shift)
		p.Plumb = [2]float64{at.X, at.Y}
	}
	return p
}

package standin

import "math"

// floor is what lies on the ground of a lesson around the feet: the shadows
// that a lamp of any place and hardness throws, darker and lighter spots that
// mean nothing, and marks on the belt. Where the shoe's dark shadow always
// lies as near as the shoe is high, a network learns the shadow in place of
// the shoe.
type floor struct {
	spots []dusk
	marks []mark
}

// mark is a bar or an oval on the ground, in the belt's axes, m.
type mark struct {
	x, z          float64
	along, across float64 // half its sizes
	sin, cos      float64 // of its turn
	oval          bool
	colour        paint
	cover         float64
}

// floor draws what lies on the ground under a pose.
func (c *Teacher) floor(p *Pose, light float32) floor {
	f := floor{spots: c.shadows(p)}
	foot := func() Vec3 {
		l := &p.Limbs[c.rng.IntN(2)]
		return l.Heel.lerp(l.Toe, c.between(-0.3, 1.3)).aboutZ(-p.Pitch)
	}
	for range c.rng.IntN(5) {
		q := foot()
		f.spots = append(f.spots, dusk{
			x: q.X + c.between(-0.25, 0.25), z: q.Z + c.between(-0.2, 0.2),
			wide: math.Exp(c.between(-4.4, -2)), deep: c.between(-0.6, 0.85),
		})
	}
	if c.chance(0.6) {
		for range 1 + c.rng.IntN(5) {
			q := foot()
			turn := 0.0
			if c.chance(0.4) {
				turn = c.between(0, math.Pi)
			}
			m := mark{
				x: q.X + c.between(-0.35, 0.35), z: q.Z + c.between(-0.2, 0.2),
				along: math.Exp(c.between(-5, -2)), across: math.Exp(c.between(-5, -1.6)),
				oval: c.chance(0.3), colour: c.tint(light).scale(float32(c.between(0.3, 1.5))), cover: c.between(0.4, 1),
			}
			m.sin, m.cos = math.Sincos(turn)
			f.marks = append(f.marks, m)
		}
	}
	return f
}

// shadows gives the spots of shadow under a pose: mostly by a lamp of the
// lesson's own, as points along both legs let down on to the ground.
func (c *Teacher) shadows(p *Pose) []dusk {
	switch {
	case c.chance(0.2):
		return shadows(p)
	case c.chance(0.1):
		return nil
	}
	leanX, leanZ := c.between(-1.2, 1.2), c.between(-1.2, 1.2)
	edge, soft := math.Exp(c.between(-4.6, -2.8)), c.between(0.08, 0.6)
	deep, fade := c.between(0.25, 0.98), c.between(0, 12)
	var out []dusk
	let := func(a, b Vec3, n int, wide, share float64) {
		for i := range n {
			q := a.lerp(b, (float64(i)+0.5)/float64(n)).aboutZ(-p.Pitch)
			h := math.Max(0, q.Y)
			out = append(out, dusk{q.X + leanX*h, q.Z + leanZ*h, wide + edge + soft*h, deep * share / (1 + fade*h)})
		}
	}
	for i := range p.Limbs {
		l := &p.Limbs[i]
		let(l.HeelEdge, l.Ball, 4, 0.02, 0.7)
		let(l.Ball, l.Tip, 2, 0.02, 0.7)
		let(l.Ankle, l.Knee, 4, 0.04, 0.4)
		let(l.Knee, l.Hip, 2, 0.07, 0.3)
	}
	let(p.Pelvis, p.Pelvis, 1, 0.2, 0.5)
	return out
}

// paint gives what the ground's colour becomes at a place; metre is how many
// metres a pixel spans there.
func (f *floor) paint(at paint, x, z, metre float64) paint {
	for i := range f.marks {
		m := &f.marks[i]
		dx, dz := x-m.x, z-m.z
		u, v := dx*m.cos+dz*m.sin, dz*m.cos-dx*m.sin
		in := math.Min(m.along-math.Abs(u), m.across-math.Abs(v))
		if m.oval {
			in = (1 - math.Hypot(u/m.along, v/m.across)) * math.Min(m.along, m.across)
		}
		if k := clamp(in/metre+0.5, 0, 1); k > 0 {
			at = at.mix(m.colour, float32(k*m.cover))
		}
	}
	return at.scale(dim(f.spots, x, z))
}

package standin

import "math"

// shoe is the side outline of a shod foot lying flat: lengths in metres from
// the rearmost point of the shoe, heights from the ground.
type shoe struct {
	length         float64
	ankleU, ankleY float64 // ankle joint centre
	heelY, toeY    float64 // rearmost and foremost surface
	heelEdgeU      float64 // rear edge of the flat part of the sole
	ballU          float64 // ball of the foot: where the toes bend
	arcR, arcMax   float64 // the toe part of the sole is an arc from the ball
}

// newShoe gives the shoe of a runner of the given height. Foot length
// 0.152 H and ankle height 0.039 H: Drillis & Contini 1966 in Winter,
// Biomechanics and Motor Control of Human Movement; the rest is the shape
// of an ordinary running shoe (common practice, no source).
func newShoe(heightM, footScale float64) shoe {
	l := 0.152*heightM*footScale + 0.018
	return shoe{
		length: l,
		ankleU: 0.235 * l, ankleY: 0.039*heightM + 0.024,
		heelY: 0.10 * l, toeY: 0.078 * l,
		heelEdgeU: 0.035 * l,
		ballU:     0.72 * l,
		arcR:      1.0 * l, arcMax: 0.25,
	}
}

// sole is how a foot stands or hangs: heel part and toe part turned by
// heel and toe (radians, positive = toes up).
type sole struct{ heel, toe float64 }

// flatOffset is the angle of heel→toe to the ground with the foot flat.
func (s shoe) flatOffset() float64 { return math.Atan2(s.toeY-s.heelY, s.length) }

// footPoints are the places of one foot in its own vertical plane.
type footPoints struct{ ankle, heel, ball, toe, heelEdge, tip vec2 }

// points gives all places of the foot whose ball is at ball.
func (s shoe) points(ball vec2, a sole) footPoints {
	back := func(u, y float64) vec2 { return ball.add(vec2{u - s.ballU, y}.turned(a.heel)) }
	fore := func(u, y float64) vec2 { return ball.add(vec2{u - s.ballU, y}.turned(a.toe)) }
	tip := s.arcAt(s.arcMax)
	return footPoints{
		ankle: back(s.ankleU, s.ankleY), heel: back(0, s.heelY), heelEdge: back(s.heelEdgeU, 0),
		ball: ball, toe: fore(s.length, s.toeY), tip: fore(s.ballU+tip.U, tip.Y),
	}
}

// arcAt gives a point of the toe part of the sole relative to the ball, at
// the angle along the arc.
func (s shoe) arcAt(angle float64) vec2 {
	return vec2{s.arcR * math.Sin(angle), s.arcR * (1 - math.Cos(angle))}
}

// grounded gives where the ball is when the foot stands on the ground:
// relative to where it is with the foot flat, having rolled there without
// slipping. Toes up, the foot stands on the rear edge of the heel; toe part
// level, on the ball; toe part down, it rolls over the arc and then the tip.
func (s shoe) grounded(a sole) vec2 {
	if a.toe > 0 {
		behind := s.ballU - s.heelEdgeU
		return vec2{-behind, 0}.add(vec2{behind, 0}.turned(a.heel))
	}
	roll := -a.toe
	over := math.Max(0, roll-s.arcMax)
	rolled := math.Min(roll, s.arcMax)
	// Ball seen from the contact point of a wheel that has rolled by rolled.
	contact := s.arcR * rolled
	sin, cos := math.Sincos(rolled)
	ball := vec2{-s.arcR * sin, s.arcR - s.arcR*cos}
	return vec2{contact, 0}.add(ball.turned(-over))
}

// lowest gives the height of the lowest point of the sole.
func (s shoe) lowest(p footPoints, a sole) float64 {
	low := math.Min(p.heelEdge.Y, p.ball.Y)
	// The lowest point of the arc lies where its tangent is level.
	at := s.arcAt(clamp(-a.toe, 0, s.arcMax)).turned(a.toe)
	return math.Min(low, p.ball.Y+at.Y)
}

// contactSole gives the sole that meets the ground with the sagittal angle
// of heel→toe, less the flat foot's, equal to strike (radians), for a foot
// turned out by yaw. Toes up, the foot is straight; toes down, the toe part
// is level and the foot meets the ground with the ball.
func (s shoe) contactSole(strike, yaw float64) sole {
	sagittal := func(heel float64) float64 {
		a := sole{heel: heel, toe: math.Max(heel, 0)}
		p := s.points(vec2{}, a)
		d := p.toe.sub(p.heel)
		flat := math.Atan2(s.toeY-s.heelY, s.length*math.Cos(yaw))
		return math.Atan2(d.Y, d.U*math.Cos(yaw)) - flat
	}
	low, high := rad(-60), rad(60)
	for range 60 {
		mid := (low + high) / 2
		if sagittal(mid) < strike {
			low = mid
		} else {
			high = mid
		}
	}
	heel := (low + high) / 2
	return sole{heel: heel, toe: math.Max(heel, 0)}
}

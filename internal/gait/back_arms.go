package gait

import (
	"math"
	"math/cmplx"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
)

// A runner's arms swing against the legs: when the right foot lands, the
// right elbow is behind the body and raised, the right hand low. Seen from
// behind, the elbow's rise runs ahead of the other foot's by about a quarter
// of a stride, the hand's against it. Phases in invented runners (16 of
// standin.RandomBehind: 52 to 94° and −87 to −129°).
const (
	elbowPhase, wristPhase = 80.0, -100.0 // degrees against the ankles' lift
	// surely is from which agreement, −1 to 1, the arms decide which leg is
	// which; leastArms is the least rise and fall of a hand, metres, to count.
	surely    = 0.35
	leastArms = 0.015
)

// checkSides asks the arms whether left and right leg are told apart: where
// one leg hides the other at every step, a network may have them exchanged.
func (b *Back) checkSides(Facts) error {
	agree, ok := b.armsAgree()
	switch {
	case !ok || agree >= surely:
		return nil
	case agree <= -surely:
		b.exchangeLegs()
		b.note("From behind, left and right leg were exchanged in the body points: the arms, which swing against the legs, showed it, and it was put right.")
		return nil
	default:
		return form.ClipError("from behind, left and right leg can't be told apart: they cover each other, and the arms don't tell either. Film again in good light, with shoes and socks of a colour that differs from the background, the camera straight behind")
	}
}

// armsAgree is how well the arms' swing fits the legs', −1 (exchanged) to 1.
func (b *Back) armsAgree() (float64, bool) {
	sum, size, n := 0.0, 0.0, 0
	for _, arm := range []struct {
		point form.Point
		phase float64
	}{{form.Elbow, elbowPhase}, {form.Wrist, wristPhase}} {
		for _, s := range sides {
			for _, m := range b.Middles[s] {
				leg, ok1 := b.beat(form.Ankle, m)
				swing, ok2 := b.beat(arm.point, m)
				if !ok1 || !ok2 || cmplx.Abs(leg) == 0 {
					continue
				}
				turn := -swing / leg * complex(cmplx.Abs(leg), 0)
				sum += real(turn * cmplx.Exp(complex(0, -geom.Radians(arm.phase))))
				size += cmplx.Abs(turn)
				n++
			}
		}
	}
	if n == 0 || size/float64(n) < leastArms {
		return 0, false
	}
	return sum / size, true
}

// beat is the part at the stride's frequency of how much higher the left
// point of a pair is than the right one, in the stride around m, metres.
func (b *Back) beat(p form.Point, m float64) (complex128, bool) {
	const parts = 16
	var sum complex128
	for k := range parts {
		d := b.StrideS * ((float64(k)+0.5)/parts - 0.5)
		l, ok1 := b.px(p, form.Left, m+d)
		r, ok2 := b.px(p, form.Right, m+d)
		if !ok1 || !ok2 {
			return 0, false
		}
		sum += complex((r.Y-l.Y)*b.scale(m)*2/parts, 0) * cmplx.Exp(complex(0, -2*math.Pi*d/b.StrideS))
	}
	return sum, true
}

// exchangeLegs exchanges the sides of the legs from the knees down.
func (b *Back) exchangeLegs() {
	motion := *b.Motion
	for _, p := range []form.Point{form.Knee, form.Ankle, form.Heel, form.Toe} {
		l, r := form.At(p, form.Left), form.At(p, form.Right)
		motion.Paths[l], motion.Paths[r] = motion.Paths[r], motion.Paths[l]
	}
	b.Motion = &motion
	b.Middles[form.Left], b.Middles[form.Right] = b.Middles[form.Right], b.Middles[form.Left]
}

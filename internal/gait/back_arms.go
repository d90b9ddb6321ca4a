package gait

import (
	"math"
	"math/cmplx"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/track"
)

// A runner's arms swing against the legs: when the right foot lands, the
// right elbow is behind the body and raised, the right hand low. Phases of
// left less right height against the right mid-stance (8 invented runners: within 10°; degrees,
// later positive).
const (
	elbowPhase, wristPhase = 131.0, -48.0
	// leastArms is the least rise and fall of a hand or an elbow, metres, to
	// count.
	leastArms = 0.015
)

// From which sum of what the names and the arms say the sides are told, and
// from which the arms alone tell them, whatever the names; both −1 to 1.
const (
	surely    = 0.6
	armsAlone = 0.7
	armWeight = 1.5
)

// nameSides tells which of the alternating steps are the left foot's. The
// body points have names, but where one leg covers the other at every step a
// network may exchange them, now and then or throughout; the arms, which are
// never hidden both, are asked as well. Then the legs are named again so
// that the standing foot is the lower one.
func (b *Back) nameSides(steps [2][]float64) error {
	score := b.namesSay(steps)
	if arms, ok := b.armsSay(steps); ok && math.Abs(arms) >= armsAlone {
		score = arms
	} else if ok {
		score += armWeight * arms
	}
	switch {
	case math.Abs(score) < surely:
		return form.ClipError("from behind, left and right leg can't be told apart: they cover each other, and the arms don't tell either. Film again in good light, with shoes and socks of a colour that differs from the background, the camera straight behind")
	case score > 0:
		b.Middles[form.Right], b.Middles[form.Left] = steps[0], steps[1]
	default:
		b.Middles[form.Right], b.Middles[form.Left] = steps[1], steps[0]
	}
	if changed := b.renameLegs(); changed > 0.03 {
		b.note("From behind, left and right leg cover each other and were exchanged in %.0f %% of the pictures; the order of the steps and the arms, which swing against the legs, put it right.", 100*changed)
	}
	return nil
}

// namesSay is what the ankles' names say, −1 to 1: 1 where the first row of
// steps is the right foot's.
func (b *Back) namesSay(steps [2][]float64) float64 {
	sum, size := 0.0, 0.0
	for i, row := range steps {
		for _, m := range row {
			for _, d := range []float64{-0.06, -0.03, 0, 0.03, 0.06} {
				if l, ok := b.lift(m + d*b.StrideS); ok {
					sum += l * float64(1-2*i)
					size += math.Abs(l)
				}
			}
		}
	}
	if size == 0 {
		return 0
	}
	return sum / size
}

// armsSay is what the arms say, as namesSay.
func (b *Back) armsSay(steps [2][]float64) (float64, bool) {
	sum, size, n := 0.0, 0.0, 0
	for _, arm := range []struct {
		point form.Point
		phase float64
	}{{form.Elbow, elbowPhase}, {form.Wrist, wristPhase}} {
		for i, row := range steps {
			for _, m := range row {
				swing, ok := b.beat(arm.point, m)
				if !ok {
					continue
				}
				sum += float64(1-2*i) * real(swing*cmplx.Exp(complex(0, geom.Radians(arm.phase))))
				size += cmplx.Abs(swing)
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
// point of a pair is than the right one, in the stride around m, metres: its
// angle is minus the phase by which it is later than m.
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

// standsFor is the part of a step to each side of mid-stance in which the
// standing foot is surely the lower one in the picture, too: further off, a
// high and near camera sees the foot that is ahead higher, whichever stands.
// leastLift is the least difference of the ankles' heights, metres, that
// tells.
const (
	standsFor = 0.16
	leastLift = 0.05
)

// renameLegs exchanges the legs' names in the frames in which the standing
// foot would be the higher one, and up to half-way to the next such step,
// smooths again, and tells the share of the frames exchanged.
func (b *Back) renameLegs() float64 {
	t := b.Motion.Track
	times := b.Motion.Times
	verdict := make([]int, len(times)) // 1 right as it is, −1 exchanged, 0 open
	for _, s := range sides {
		for _, m := range b.Middles[s] {
			for i, at := range times {
				if math.Abs(at-m) > standsFor*b.StrideS/2 {
					continue
				}
				l, r := t.Frames[i].Spots[form.At(form.Ankle, form.Left)], t.Frames[i].Spots[form.At(form.Ankle, form.Right)]
				lift := (r.Y - l.Y) * b.scale(at)
				if !l.Seen() || !r.Seen() || math.Abs(lift) < leastLift {
					continue
				}
				verdict[i] = -1
				if (lift > 0) == (s == form.Right) {
					verdict[i] = 1
				}
			}
		}
	}
	nearest := nearestVerdict(verdict)
	count := 0
	frames := append([]form.Frame(nil), t.Frames...)
	for i := range frames {
		if nearest[i] >= 0 {
			continue
		}
		count++
		s := &frames[i].Spots
		for _, p := range []form.Point{form.Knee, form.Ankle, form.Heel, form.Toe} {
			l, r := form.At(p, form.Left), form.At(p, form.Right)
			s[l], s[r] = s[r], s[l]
		}
	}
	if count > 0 {
		t.Frames = frames
		b.Motion = track.Smooth(t)
	}
	return float64(count) / float64(len(frames))
}

// nearestVerdict fills the open frames from the nearest one that is decided.
func nearestVerdict(verdict []int) []int {
	out := append([]int(nil), verdict...)
	for i, v := range verdict {
		for d := 1; v == 0 && d < len(verdict); d++ {
			if i-d >= 0 && verdict[i-d] != 0 {
				v = verdict[i-d]
			} else if i+d < len(verdict) && verdict[i+d] != 0 {
				v = verdict[i+d]
			}
		}
		out[i] = v
	}
	return out
}

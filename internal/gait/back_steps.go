package gait

import (
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/signal"
)

// lowestBefore is how long, seconds, the body is lowest before the middle of
// contact and toe-off, since it is higher at toe-off than at contact: 20 ms
// in invented runners (TestBehind), 11 ms in the force-plate data of Fukuchi
// et al. 2017 (TestBackMiddlesAgainstForcePlate); middleSD is how far people
// differ.
const (
	lowestBefore = 0.015
	middleSD     = 0.009
)

// findMiddles finds the mid-stances. The ankles are level in the middle
// between two mid-stances, and that moment is sharp; the pelvis is lowest in
// the middle of a stance (Milner & Paquette 2015, doi
// 10.1016/j.jbiomech.2015.08.013, use its fall for contact; from memory), and
// tells how far the beat of the ankles is off, the same for all steps.
func (b *Back) findMiddles(Facts) error {
	up, down := b.levels()
	// Between up (the left ankle rises over the right) and down, the left
	// foot swings and the right one stands.
	b.Middles[form.Right] = between(up, down, b.StrideCheckS)
	b.Middles[form.Left] = between(down, up, b.StrideCheckS)
	if err := b.tooFew(); err != nil {
		return err
	}
	b.StrideS = b.meanStride()
	after, err := b.lowest()
	if err != nil {
		return err
	}
	for _, s := range sides {
		var kept []float64
		for _, t := range b.Middles[s] {
			if t += after(t) + lowestBefore; t > b.t0 {
				if _, ok := b.path(t); ok {
					kept = append(kept, t)
				}
			}
		}
		b.Middles[s] = kept
	}
	b.MiddleSD = middleSD
	if b.Setting == OverGround {
		b.StrideS = b.meanStride()
	}
	return b.tooFew()
}

// levels are the times at which the ankles are level: the left one rising
// over the right, and falling under it.
func (b *Back) levels() (up, down []float64) {
	times := b.Motion.Times
	prev, okPrev := b.lift(times[0])
	for i := 1; i < len(times); i++ {
		cur, ok := b.lift(times[i])
		if ok && okPrev && (prev <= 0) != (cur <= 0) {
			if prev <= 0 {
				up = spaced(up, bisect(func(t float64) (float64, bool) { v, ok := b.lift(t); return -v, ok }, times[i-1], times[i]), b.StrideCheckS)
			} else {
				down = spaced(down, bisect(b.lift, times[i-1], times[i]), b.StrideCheckS)
			}
		}
		prev, okPrev = cur, ok
	}
	return up, down
}

// spaced adds a time unless it comes too soon after the last.
func spaced(list []float64, t, period float64) []float64 {
	if n := len(list); n > 0 && t-list[n-1] < 0.6*period {
		return list
	}
	return append(list, t)
}

// between gives the middles of each from and the next to, where they are
// about half a stride apart.
func between(from, to []float64, period float64) []float64 {
	var out []float64
	for _, a := range from {
		for _, z := range to {
			if d := z - a; d > 0.3*period && d < 0.7*period {
				out = append(out, (a+z)/2)
				break
			}
		}
	}
	return out
}

// meanStride is the least-squares stride time through both sides' mid-stances.
func (b *Back) meanStride() float64 {
	var num, den float64
	for _, s := range sides {
		m := b.Middles[s]
		k := make([]float64, len(m))
		for i := 1; i < len(m); i++ {
			k[i] = k[i-1] + math.Round((m[i]-m[i-1])/b.StrideCheckS)
		}
		mk, _ := signal.MeanSD(k)
		mt, _ := signal.MeanSD(m)
		for i := range m {
			num += (k[i] - mk) * (m[i] - mt)
			den += (k[i] - mk) * (k[i] - mk)
		}
	}
	if den <= 0 {
		return b.StrideCheckS
	}
	return num / den
}

// bob fits the height of hips and shoulders, metres, in the step around m
// with one sine at the step's frequency: cos and sin parts.
func (b *Back) bob(m float64) (c, s float64, ok bool) {
	omega := 4 * math.Pi / b.StrideS
	const parts = 16
	for k := range parts {
		d := b.StrideS / 2 * ((float64(k)+0.5)/parts - 0.5)
		hip, ok1 := b.midPx(form.Hip, m+d)
		shoulder, ok2 := b.midPx(form.Shoulder, m+d)
		at, ok3 := b.path(m + d)
		if !ok1 || !ok2 || !ok3 {
			return 0, 0, false
		}
		h := (at.Y - geom.Mid(hip, shoulder).Y) * b.scale(m+d)
		c += h * math.Cos(omega*d) * 2 / parts
		s += h * math.Sin(omega*d) * 2 / parts
	}
	return c, s, true
}

// latestLow bounds, in radians of the step, how far from the ankles' beat a
// runner's body is lowest: invented runners stay within 0.6, walkers, who
// are lowest with both feet down, begin at 1.4.
const latestLow = 1.0

// leastBob is the amplitude, metres, below which a body's way up and down
// can't be told from noise.
const leastBob = 0.004

// lowest gives how long after a middle of the ankles' beat the body is
// lowest. A runner who runs away is seen at an angle that changes, and the
// ankles' beat shifts with it, as one over the distance. Who is lowest
// between the steps walks: a runner's body is lowest in mid-stance, a
// walker's is highest there (Novacheck 1998, Gait & Posture 7:77–95; from
// memory).
func (b *Back) lowest() (after func(t float64) float64, err error) {
	var c, s float64
	var near, late []float64
	for _, side := range sides {
		for _, m := range b.Middles[side] {
			if cc, ss, ok := b.bob(m); ok {
				c, s = c+cc, s+ss
				near, late = append(near, b.scale(b.t0)/b.scale(m)), append(late, b.phase(cc, ss))
			}
		}
	}
	n := float64(len(near))
	if n == 0 || math.Hypot(c, s)/n < leastBob {
		return nil, form.ClipError("the body's way up and down can't be seen from behind: is this running? Film at least 8 seconds, the whole body in the picture, in good light")
	}
	mean := b.phase(c, s)
	if math.Abs(mean)*4*math.Pi/b.StrideS > latestLow {
		return nil, because(ErrWalking, form.ClipError("this is walking, not running: at %.0f steps a minute the body is highest over the standing foot. Plumbstride measures running; ask the runner to run", 120/b.StrideS))
	}
	if a, slope, ok := lineOf(near, late, 6); ok && b.Setting == OverGround {
		return func(t float64) float64 { return a + slope*b.scale(b.t0)/b.scale(t) }, nil
	}
	return func(float64) float64 { return mean }, nil
}

// phase is when, seconds after its middle, c·cos + s·sin is lowest.
func (b *Back) phase(c, s float64) float64 { return math.Atan2(-s, -c) * b.StrideS / (4 * math.Pi) }

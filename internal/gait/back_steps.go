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

// height is how high hips and shoulders are, metres up from the top of the
// picture's scale: only its changes mean anything.
func (b *Back) height(t float64) (float64, bool) {
	hip, ok1 := b.midPx(form.Hip, t)
	shoulder, ok2 := b.midPx(form.Shoulder, t)
	return -geom.Mid(hip, shoulder).Y * b.scale(t), ok1 && ok2
}

// lift is how much higher the left ankle is than the right one, metres: a
// swinging foot rises far over the one that stands.
func (b *Back) lift(t float64) (float64, bool) {
	l, ok1 := b.px(form.Ankle, form.Left, t)
	r, ok2 := b.px(form.Ankle, form.Right, t)
	return (r.Y - l.Y) * b.scale(t), ok1 && ok2
}

// findStrides finds the step's time from the autocorrelation of the body's
// way up and down. The legs cover each other from behind; hips and shoulders
// never do.
func (b *Back) findStrides(Facts) error {
	const dt = 1.0 / 200
	var v []float64
	last := math.NaN()
	for t := b.t0; t <= b.Motion.Times[len(b.Motion.Times)-1]; t += dt {
		if h, ok := b.height(t); ok {
			last = h
		}
		if finite(last) {
			v = append(v, last)
		}
	}
	v = withoutDrift(v, int(0.45/dt))
	_, sd := signal.MeanSD(v)
	half, strength, ok := signal.HalfPeriod(v, dt, minStride/4, maxStride/4)
	if sd < leastBob || !ok || strength < 0.4 {
		return form.ClipError("no regular steps can be seen from behind: the person may be standing, or hidden; film a runner from straight behind for at least 8 seconds")
	}
	step := 2 * half / dt // samples
	for _, steps := range []float64{2, 4, 8} {
		step = sharpened(v, step, steps)
	}
	b.StrideCheckS = 2 * step * dt
	return nil
}

// sharpened looks for the autocorrelation's peak several steps on, within a
// quarter of a step: the error of a single step's time shrinks with their
// number. All in samples.
func sharpened(v []float64, step, steps float64) float64 {
	at := func(lag int) float64 {
		sum := 0.0
		for i := 0; i+lag < len(v); i++ {
			sum += v[i] * v[i+lag]
		}
		return sum / float64(max(len(v)-lag, 1))
	}
	middle := int(math.Round(step * steps))
	reach := max(int(step/4), 2)
	if middle+reach+1 >= 3*len(v)/4 {
		return step
	}
	best := middle - reach
	for lag := middle - reach; lag <= middle+reach; lag++ {
		if at(lag) > at(best) {
			best = lag
		}
	}
	if best == middle-reach || best == middle+reach {
		return step
	}
	l, c, r := at(best-1), at(best), at(best+1)
	shift := 0.0
	if d := l - 2*c + r; d < 0 {
		shift = (l - r) / (2 * d)
	}
	return (float64(best) + shift) / steps
}

// withoutDrift takes off the mean over half a window to each side.
func withoutDrift(v []float64, half int) []float64 {
	sum := make([]float64, len(v)+1)
	for i, x := range v {
		sum[i+1] = sum[i] + x
	}
	out := make([]float64, len(v))
	for i, x := range v {
		k := min(half, i, len(v)-1-i)
		out[i] = x - (sum[i+k+1]-sum[i-k])/float64(2*k+1)
	}
	return out
}

// leastBob is the spread of the body's height, metres, below which its way
// up and down can't be told from noise.
const leastBob = 0.005

// bob fits the body's height, metres, in the step around m with one sine at
// the step's frequency: cos and sin parts, by least squares over what is seen
// of it.
func (b *Back) bob(m, stride float64) (c, s float64, ok bool) {
	omega := 4 * math.Pi / stride
	const parts = 16
	var cc, ss, cs, c1, s1, hc, hs, h1, n float64
	for k := range parts {
		d := stride / 2 * ((float64(k)+0.5)/parts - 0.5)
		h, ok1 := b.height(m + d)
		at, ok2 := b.Path(m + d)
		if !ok1 || !ok2 {
			continue
		}
		h += at.Y * b.scale(m+d)
		sin, cos := math.Sincos(omega * d)
		n, c1, s1, h1 = n+1, c1+cos, s1+sin, h1+h
		cc, ss, cs, hc, hs = cc+cos*cos, ss+sin*sin, cs+cos*sin, hc+h*cos, hs+h*sin
	}
	if n < parts*3/4 {
		return 0, 0, false
	}
	cc, ss, cs = cc-c1*c1/n, ss-s1*s1/n, cs-c1*s1/n
	hc, hs = hc-h1*c1/n, hs-h1*s1/n
	det := cc*ss - cs*cs
	return (hc*ss - hs*cs) / det, (hs*cc - hc*cs) / det, true
}

// lows are the times at which the body is lowest, one a step.
func (b *Back) lows(stride float64) []float64 {
	var out []float64
	end := b.Motion.Times[len(b.Motion.Times)-1]
	for t := b.t0; t < end; {
		c, s, ok := b.bob(t, stride)
		if !ok {
			t += stride / 20
			continue
		}
		// c·cos + s·sin is lowest where its phase is π.
		at := t + math.Atan2(-s, -c)*stride/(4*math.Pi)
		for range 2 {
			if c, s, ok = b.bob(at, stride); !ok {
				break
			}
			at += math.Atan2(-s, -c) * stride / (4 * math.Pi)
		}
		if n := len(out); ok && (n == 0 || at-out[n-1] > 0.3*stride) {
			out = append(out, at)
		}
		t = math.Max(t, at) + stride/2
	}
	return out
}

// findMiddles finds the mid-stances: the body is lowest in each of them.
// Steps alternate; where one is missing, the count goes on by time.
func (b *Back) findMiddles(Facts) error {
	lows := b.lows(b.StrideCheckS)
	if len(lows) < 2*minSteps {
		return form.ClipError("too few steps are seen from behind (%d): film at least 8 seconds with the whole body in the picture", len(lows))
	}
	k := make([]float64, len(lows))
	for i := 1; i < len(lows); i++ {
		k[i] = k[i-1] + math.Max(1, math.Round(2*(lows[i]-lows[i-1])/b.StrideCheckS))
	}
	_, step, ok := lineOf(k, lows, 2)
	if !ok {
		return form.ClipError("too few steps are seen from behind (%d): film at least 8 seconds with the whole body in the picture", len(lows))
	}
	b.StrideS = 2 * step
	if err := b.checkRunning(lows); err != nil {
		return err
	}
	var parity [2][]float64
	for i, t := range lows {
		parity[int(k[i])%2] = append(parity[int(k[i])%2], t)
	}
	if err := b.nameSides(parity); err != nil {
		return err
	}
	for _, s := range sides {
		for i := range b.Middles[s] {
			b.Middles[s][i] += lowestBefore
		}
	}
	b.MiddleSD = middleSD
	return b.tooFew()
}

// fastWalk is a cadence, steps/min, that only race walkers walk faster at
// (common practice, no source).
const fastWalk = 150

// checkRunning tells running from walking: a runner's body is lowest in
// mid-stance, when the other foot is high, a walker's is lowest with both
// feet down (Novacheck 1998, Gait & Posture 7:77–95; from memory). A camera
// high over the belt and near sees the foot that is ahead higher, too, which
// in quick steps may be as much.
func (b *Back) checkRunning(lows []float64) error {
	var low, high, most float64
	for _, t := range lows {
		for _, d := range []float64{-0.03, 0, 0.03} {
			l, ok1 := b.lift(t + d*b.StrideS)
			h, ok2 := b.lift(t + (d+0.25)*b.StrideS)
			if ok1 && ok2 {
				low, high = low+math.Abs(l), high+math.Abs(h)
				most = math.Max(most, math.Max(math.Abs(l), math.Abs(h)))
			}
		}
	}
	if most < 0.05 {
		return form.ClipError("no steps can be seen from behind: the feet hardly leave the ground; film a runner from straight behind for at least 8 seconds")
	}
	if low < high && (120/b.StrideS < fastWalk || low < high/2) {
		return because(ErrWalking, form.ClipError("this is walking, not running: at %.0f steps a minute the body is lowest with both feet down. Plumbstride measures running; ask the runner to run", 120/b.StrideS))
	}
	return nil
}

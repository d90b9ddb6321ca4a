package pose

import (
	"math"
	"slices"

	"plumbstride/internal/form"
)

// The rules by which people are followed. Times in seconds, distances in
// sides of the person's region (a side is about 2.4 body heights' metres:
// some 2.3 m for an adult).
const (
	velocitySpan  = 0.5  // motion is judged over this long
	coastSpan     = 0.6  // a person not seen is expected where they were heading
	contestSpan   = 1.5  // longer, where another person is in the way
	freeStep      = 0.20 // least surprise that means another body
	contestedStep = 0.05 // the same while another person is in the way
	contestWidth  = 0.22 // people nearer than this are in each other's way
	sameWidth     = 0.10 // people nearer than this for sameSpan are one
	sameSpan      = 1.0
	rejoinWidth   = 0.35 // a lost person found again lies no further off
	slowest       = 0.15 // sides a second; who is slower stays in place
	confirmSteps  = 4    // seen this often, a person is one
)

// keyframe is where a person was at one step of the following.
type keyframe struct {
	time   float64
	region Region  // around the body, bodyFactor, in the frames' pixels
	weight float64 // 1 where seen, little where only expected
	free   bool    // nobody else was in the way
}

// person is somebody followed through the clip.
type person struct {
	id       int
	keys     []keyframe
	first    float64 // time first seen
	seen     float64 // time last seen
	steps    int     // times seen
	away     bool    // not followed now; may be found again
	merged   bool    // turned out to be somebody else followed twice
	score    float64 // how much the person looks like the runner, summed over the steps
	motion   float64 // mean speed of the feet about the hips, body sizes per second
	motions  int
	feet     footing
	shadowed map[int]float64 // by other person's id: time since which both lie on one spot
	crops    []*Crop
	settled  bool // not the runner beyond doubt: no more crops are kept
}

// footing is where the ankles were relative to the mid-hip, in body sizes.
type footing struct {
	time float64
	at   [2][2]float64
	ok   bool
}

// expect gives where the person's region should be at a time: a straight line
// through the last places in which nobody was in the way (or through the last
// of all, while there are few), and their mean size and angle. Who moves
// slowly, as on a treadmill, is expected to stay.
func (p *person) expect(t float64) Region {
	keys := p.recent()
	last := keys[len(keys)-1]
	var l line2
	var side, angle float64
	for _, k := range keys {
		l.add(k.weight, k.time-last.time, k.region.X-last.region.X, k.region.Y-last.region.Y)
		side += k.weight * k.region.Side
		angle += k.weight * wrapAngle(k.region.Angle-last.region.Angle)
	}
	r := Region{Side: side / l.w, Angle: wrapAngle(last.region.Angle + angle/l.w)}
	x, y, vx, vy := l.fit()
	// A quarter span's worth of places is needed before a velocity is believed.
	if last.time-keys[0].time < velocitySpan/4 || math.Hypot(vx, vy) < slowest*r.Side {
		x, y, vx, vy = l.sx/l.w, l.sy/l.w, 0, 0
	}
	dt := t - last.time
	r.X, r.Y = last.region.X+x+vx*dt, last.region.Y+y+vy*dt
	return r
}

// recent gives the keys of the last velocitySpan in which the person was seen
// free, or of all kinds while fewer than confirmSteps of these are known.
func (p *person) recent() []keyframe {
	var keys []keyframe
	for i := len(p.keys) - 1; i >= 0; i-- {
		k := p.keys[i]
		if len(keys) > 0 && k.time < keys[0].time-velocitySpan {
			break
		}
		if k.free && k.weight == 1 {
			keys = append(keys, k)
			if keys[0].time-k.time > velocitySpan {
				break
			}
		}
	}
	if len(keys) < confirmSteps {
		keys = keys[:0]
		last := p.keys[len(p.keys)-1].time
		for i := len(p.keys) - 1; i >= 0 && p.keys[i].time >= last-velocitySpan; i-- {
			keys = append(keys, p.keys[i])
		}
	}
	slices.Reverse(keys)
	return keys
}

// line2 fits a weighted straight line to a place over time.
type line2 struct{ w, st, stt, sx, sy, stx, sty float64 }

func (l *line2) add(w, t, x, y float64) {
	l.w += w
	l.st += w * t
	l.stt += w * t * t
	l.sx += w * x
	l.sy += w * y
	l.stx += w * t * x
	l.sty += w * t * y
}

// fit gives the place at time 0 and the velocity. A thousandth of a second
// of ridge turns the line into a mean where there is one point only.
func (l *line2) fit() (x, y, vx, vy float64) {
	det := l.w*(l.stt+1e-6*l.w) - l.st*l.st
	if l.w <= 0 || det <= 0 {
		return 0, 0, 0, 0
	}
	vx, vy = (l.w*l.stx-l.st*l.sx)/det, (l.w*l.sty-l.st*l.sy)/det
	return (l.sx - vx*l.st) / l.w, (l.sy - vy*l.st) / l.w, vx, vy
}

// fits tells whether a region may be the expected one: its centre within
// reach sides of it, its size not far off.
func (r Region) fits(expected Region, reach, sizes float64) bool {
	ratio := r.Side / expected.Side
	return math.Hypot(r.X-expected.X, r.Y-expected.Y) <= reach*expected.Side &&
		ratio < sizes && ratio > 1/sizes
}

// note adds what a step of the following saw of the person.
func (p *person) note(t float64, r Region, b *body, at Region, free bool, w, h int) {
	p.keys = append(p.keys, keyframe{time: t, region: r, weight: 1, free: free})
	gap := t - p.seen
	p.seen, p.away = t, false
	p.steps++
	size := r.Side / bodyFactor
	now := footing{time: t, ok: true}
	hipX, hipY := at.At(b.points[hipCentre].x, b.points[hipCentre].y)
	for s, side := range [2]form.Side{form.Left, form.Right} {
		i := landmarkOf[form.At(form.Ankle, side)]
		x, y := at.At(b.points[i].x, b.points[i].y)
		now.at[s] = [2]float64{(x - hipX) / size, (y - hipY) / size}
	}
	if dt := t - p.feet.time; p.feet.ok && dt > 0 && dt < 0.15 {
		speed := 0.0
		for s := range now.at {
			speed += math.Hypot(now.at[s][0]-p.feet.at[s][0], now.at[s][1]-p.feet.at[s][1]) / dt / 2
		}
		p.motions++
		p.motion += (math.Min(speed, 6) - p.motion) / float64(min(p.motions, 40))
	}
	p.feet = now
	p.score += math.Min(gap, 0.2) * likeness(r, p.motion, w, h)
}

// likeness is how much a person in a region looks like the runner the clip
// was made of: the larger, the more central and the more their feet move
// about the hips, the more. Feet of somebody standing move at about 0.1 body
// sizes a second, walking 1.5, running 3. Common practice, no source.
func likeness(r Region, motion float64, w, h int) float64 {
	size := r.Side / float64(min(w, h))
	off := math.Abs(r.X-float64(w)/2) / (float64(w) / 2)
	central := 1 - 0.5*math.Min(1, off)
	return math.Min(size, 1.5) * central * (0.1 + math.Min(motion/2, 1.2))
}

// coast records that the person was not seen where expected; after a while
// they are away.
func (p *person) coast(t float64, expected Region, contested bool) {
	span := coastSpan
	if contested {
		span = contestSpan
	}
	p.feet.ok = false
	if t-p.seen > span {
		p.away = true
		return
	}
	p.keys = append(p.keys, keyframe{time: t, region: expected, weight: 0.05})
}

// The smoothing of a person's region over time. Standard deviations of the
// Gaussian weights, in seconds.
const (
	placeSmooth = 0.08
	sizeSmooth  = 0.5
	// lookAhead is how far, in seconds, the following runs before the
	// measuring.
	lookAhead = 0.16
	gapSpan   = 0.3 // no region is guessed over longer gaps
)

// regionAt gives the person's smoothed region at a time: centre by a local
// straight line, size and angle by a local mean over the steps around.
// It is None where the person was not followed.
func (p *person) regionAt(t float64) Region {
	n := len(p.keys)
	if n == 0 || t < p.keys[0].time-1e-9 || t > p.keys[n-1].time+gapSpan/2 {
		return Region{}
	}
	first, near := n, false
	for i := n - 1; i >= 0 && p.keys[i].time > t-3*sizeSmooth; i-- {
		first = i
		near = near || math.Abs(p.keys[i].time-t) <= gapSpan/2
	}
	if !near {
		return Region{}
	}
	var l line2
	var ws, side, angle float64
	base := p.keys[first].region.Angle
	for _, k := range p.keys[first:] {
		dt := k.time - t
		if dt > 3*sizeSmooth {
			break
		}
		l.add(k.weight*math.Exp(-0.5*dt*dt/(placeSmooth*placeSmooth)), dt, k.region.X, k.region.Y)
		g := k.weight * math.Exp(-0.5*dt*dt/(sizeSmooth*sizeSmooth))
		ws += g
		side += g * k.region.Side
		angle += g * wrapAngle(k.region.Angle-base)
	}
	x, y, _, _ := l.fit()
	return Region{X: x, Y: y, Side: side / ws, Angle: wrapAngle(base + angle/ws)}
}

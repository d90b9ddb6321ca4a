package gait

import (
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/signal"
)

// bodyLevelSD is how far, degrees, the mean line of hips, shoulders and spine
// over whole strides lies from level: people are not even (common practice,
// no source).
const bodyLevelSD = 1.0

// findLevel takes the camera's roll from what was stated, from the
// background's uprights, or else from the runner: hips and shoulders are
// level, and the trunk upright, on average over whole strides.
func (b *Back) findLevel(facts Facts) error {
	switch l := facts.Level; {
	case l.Stated:
		b.RollDeg, b.RollSD, b.RollSeen = l.Deg, l.SD, true
		return nil
	case l.Known:
		b.RollDeg, b.RollSD, b.RollSeen = l.Deg, math.Max(l.SD, 0.25), true
		return nil
	}
	var hips, shoulders, spine []float64
	for i, t := range b.Motion.Times {
		if !b.hipsKnown[i] {
			continue
		}
		hl, ok1 := b.px(form.Hip, form.Left, t)
		hr, ok2 := b.px(form.Hip, form.Right, t)
		sl, ok3 := b.px(form.Shoulder, form.Left, t)
		sr, ok4 := b.px(form.Shoulder, form.Right, t)
		if !ok1 || !ok2 || !ok3 || !ok4 {
			continue
		}
		hips = append(hips, geom.Degrees(math.Atan2(hr.Y-hl.Y, hr.X-hl.X)))
		shoulders = append(shoulders, geom.Degrees(math.Atan2(sr.Y-sl.Y, sr.X-sl.X)))
		up := geom.Mid(hl, hr).Sub(geom.Mid(sl, sr))
		spine = append(spine, geom.Degrees(math.Atan2(-up.X, up.Y)))
	}
	if len(hips) < minFrames {
		b.RollSD = handLevelSD
		return nil
	}
	h, _ := signal.MeanSD(hips)
	s, _ := signal.MeanSD(shoulders)
	u, _ := signal.MeanSD(spine)
	seen := (h + s + u) / 3
	b.RollDeg, b.RollSD = shrink(seen, bodyLevelSD, handLevelSD)
	return nil
}

// Ankles swing forward and back once a stride. The amplitude of their
// separation is a share of body height and a share of the way run in a
// stride; where the speed is not known it is a share of the height alone. On
// average over a stride each ankle lies behind the hips, nearer to the
// camera, and is drawn larger for it. Sizes over invented runners
// (TestAheadOfInventedRunners: ± 0.06, and ± 0.15 without the speed). With
// scale, distance and how far a foot's way differs from a sine it is 0.09,
// as cameras 4 to 10° off find their view in that test.
const (
	swingOfHeight, swingOfStride, swingSD = 0.085, 0.233, 0.09
	swingAlone, swingAloneSD              = 0.38, 0.17
	swingBehind                           = 0.075
	// sideSwingSD is how unevenly left and right feet swing out, metres:
	// what a straight view may show of it (common practice, no source).
	sideSwingSD = 0.012
)

// swing is the amplitude of the ankles' separation along the line of
// progression as the camera would see it from the side, metres, and its
// relative uncertainty.
func (b *Back) swing(facts Facts) (amplitude, relative float64) {
	amplitude, relative = swingAlone*b.heightM, swingAloneSD
	if facts.SpeedMS > 0 {
		amplitude, relative = swingOfHeight*b.heightM+swingOfStride*facts.SpeedMS*b.StrideS, swingSD
	}
	// Both ankles' ways, each as large as one over its distance: the square
	// of the lead of one less the other's is their difference times their sum.
	if far := b.distance((b.t0 + b.Motion.Times[len(b.Motion.Times)-1]) / 2); far > 0 {
		amplitude *= 1 + 2*swingBehind*b.heightM/far
	}
	return amplitude, relative
}

// ankleSwing is the part at the stride's frequency of the way from the ankle
// that swings to the one that stands in the middle of the stride around m,
// metres: that of its lead which goes back through mid-stance, sideways and
// up.
func (b *Back) ankleSwing(m float64, stands form.Side) (swing geom.Vec, ok bool) {
	const parts = 24
	for k := range parts {
		d := b.StrideS * ((float64(k)+0.5)/parts - 0.5)
		here, ok1 := b.px(form.Ankle, stands, m+d)
		there, ok2 := b.px(form.Ankle, stands.Other(), m+d)
		if !ok1 || !ok2 {
			return geom.Vec{}, false
		}
		lead := -math.Sin(2*math.Pi*d/b.StrideS) * 2 / parts
		swing = swing.Add(turned(here.Sub(there), b.RollDeg).Scale(lead * b.scale(m+d)))
	}
	return swing, true
}

// findView finds the direction of view from the ankles. One that is ahead of
// the other lies to the side in the picture where the camera doesn't stand
// on the line of progression: once a stride each way. What the feet
// themselves swing out is the same on both sides, twice a stride, and falls
// out.
func (b *Back) findView(facts Facts) error {
	amplitude, relative := b.swing(facts)
	var mean, varOf, tilt float64
	seen := 0.0
	for _, s := range sides {
		var each []float64
		up := 0.0
		for _, m := range b.Middles[s] {
			if v, ok := b.ankleSwing(m, s); ok {
				each, up = append(each, v.X), up+v.Y
			}
		}
		if len(each) == 0 {
			continue
		}
		n := float64(len(each))
		m, sd := signal.MeanSD(each)
		if !finite(sd) {
			sd = 0.01 * math.Sqrt(n)
		}
		mean, varOf, tilt, seen = mean+m, varOf+sd*sd/n, tilt+up/n, seen+1
	}
	if seen == 0 {
		b.ViewSD = 6
		return nil
	}
	share := mean / seen / amplitude
	noise := math.Sqrt(varOf) / seen
	b.ViewDeg = geom.Degrees(math.Asin(math.Max(-0.5, math.Min(0.5, share))))
	b.viewPerRoll = -tilt / seen / amplitude
	b.ViewSD = geom.Degrees(math.Hypot(math.Hypot(sideSwingSD, noise)/amplitude, relative*share))
	if math.Abs(b.ViewDeg) > 20 {
		return because(ErrView, form.ClipError("the camera stands %.0f° off the line on which the runner runs: film from straight behind", math.Abs(b.ViewDeg)))
	}
	if math.Abs(b.ViewDeg) > 8 {
		b.note("The camera behind the runner stands about %.0f° off the line of running: knees and feet are seen from the side a little, which was taken out as far as can be.", math.Abs(b.ViewDeg))
	}
	return nil
}

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
const bodyLevelSD = 1.3

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
// stride, over invented runners (150 of standin.RandomBehind, spread 8 %);
// where the speed is not known it is a share of the height alone (18 %).
const (
	swingOfHeight, swingOfStride, swingSD = 0.083, 0.220, 0.09
	swingAlone, swingAloneSD              = 0.345, 0.20
	// sideSwingSD is how unevenly left and right feet swing out, metres:
	// what a straight view may show of it (common practice, no source).
	sideSwingSD = 0.012
)

// findView finds the direction of view from the ankles. One that is ahead of
// the other lies to the side in the picture where the camera doesn't stand
// on the line of progression: once a stride each way. What the feet
// themselves swing out is the same on both sides, twice a stride, and falls
// out.
func (b *Back) findView(facts Facts) error {
	amplitude, relative := swingAlone*b.heightM, swingAloneSD
	if facts.SpeedMS > 0 {
		amplitude, relative = swingOfHeight*b.heightM+swingOfStride*facts.SpeedMS*b.StrideS, swingSD
	}
	sum, n := 0.0, 0
	var each []float64
	const parts = 24
	for _, m := range b.Middles[form.Right] {
		part := 0.0
		whole := true
		for k := range parts {
			d := b.StrideS * ((float64(k)+0.5)/parts - 0.5)
			l, ok1 := b.px(form.Ankle, form.Left, m+d)
			r, ok2 := b.px(form.Ankle, form.Right, m+d)
			if !ok1 || !ok2 {
				whole = false
				break
			}
			x := turned(r.Sub(l), b.RollDeg).X * b.scale(m+d)
			// The right ankle goes back through mid-stance: its lead is −sin.
			part -= x * math.Sin(2*math.Pi*d/b.StrideS) * 2 / parts
		}
		if whole {
			sum, n = sum+part, n+1
			each = append(each, part)
		}
	}
	if n == 0 {
		b.ViewSD = 6
		return nil
	}
	seen := sum / float64(n) / amplitude
	b.ViewDeg = geom.Degrees(math.Asin(math.Max(-0.5, math.Min(0.5, seen))))
	noise := 0.01
	if _, sd := signal.MeanSD(each); finite(sd) {
		noise = sd / math.Sqrt(float64(n))
	}
	b.ViewSD = geom.Degrees(math.Hypot(math.Hypot(sideSwingSD, noise)/amplitude, relative*seen))
	if math.Abs(b.ViewDeg) > 20 {
		return because(ErrView, form.ClipError("the camera stands %.0f° off the line on which the runner runs: film from straight behind", math.Abs(b.ViewDeg)))
	}
	if math.Abs(b.ViewDeg) > 8 {
		b.note("The camera behind the runner stands about %.0f° off the line of running: knees and feet are seen from the side a little, which was taken out as far as can be.", math.Abs(b.ViewDeg))
	}
	return nil
}

package gait

import (
	"fmt"
	"math"
	"sort"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/signal"
	"plumbstride/internal/track"
)

// Back is a runner's clip from behind understood: everything a measure of
// the frontal plane is made from.
type Back struct {
	Motion  *track.Motion
	Setting Setting
	// RollDeg is how far the scene is turned clockwise in the picture, RollSD
	// its standard uncertainty; RollSeen tells that it was stated or seen in
	// the background, and not taken from the runner's own body.
	RollDeg, RollSD float64
	RollSeen        bool
	// ViewDeg is the angle between the line of sight to the runner and the
	// line of progression: the camera's yaw and the runner's place in the
	// picture together. Positive sees the runner from the right. ViewSD is
	// its standard uncertainty.
	ViewDeg, ViewSD float64
	// ScaleSD is the relative uncertainty of every length.
	ScaleSD float64
	// StrideS is the mean stride time; StrideCheckS the independent estimate
	// from the autocorrelation of the ankles' heights.
	StrideS, StrideCheckS float64
	// Middles are the times of mid-stance by form.Side, one a stride;
	// MiddleSD is the standard uncertainty that all of them share, seconds.
	Middles  [3][]float64
	MiddleSD float64
	// SpeedMS is the speed stated or seen by another camera; 0 where unknown.
	SpeedMS float64
	Notes   []string

	// viewPerRoll is by how many degrees the view found turns with each
	// degree of roll: the ankles rise as they swing.
	viewPerRoll float64
	heightM     float64
	perPx       [2]float64 // metres a pixel at t0, and its growth a second
	t0          float64
	hips        []geom.Vec // px, the mid-hip's path averaged over a stride, by frame
	hipsKnown   []bool
	halfWindow  float64
}

// Proportions seen from behind, as shares of body height (Drillis & Contini
// 1966 after Winter): shoulder joint 0.818, hip 0.530, and thigh and shank
// 0.491 with the knee bent as in mid-stance. About 40° (Fukuchi et al. 2017)
// shorten them to cos 20°, or 0.94, and invented runners' 50° to 0.90; it is
// set between, nearer to the people.
const (
	trunkShare     = 0.818 - 0.530
	stanceLegShare = 0.491 * 0.93
	trunkTilt      = 0.992 // cos of a usual forward lean of 7°
	backScaleSD    = 0.04
)

// Behind finds scale, level, direction of view, strides and mid-stances of a
// clip filmed from behind. The error is a form.Error that says why the clip
// can't be used: too short, not from behind, standing, walking, points not
// seen.
func Behind(m *track.Motion, facts Facts) (*Back, error) {
	n := len(m.Times)
	if n < minFrames || m.Times[n-1]-m.Times[0] < 2*minSeconds {
		return nil, form.ClipError("the clip from behind is too short: film at least 8 seconds, the whole body in the picture")
	}
	b := &Back{Motion: m, heightM: facts.HeightM, t0: m.Times[0], ScaleSD: backScaleSD, SpeedMS: facts.SpeedMS}
	for _, step := range []func(Facts) error{
		b.checkJoints, b.checkView, b.findScale, b.findStrides, b.findPath, b.findMiddles, b.rescale, b.findLevel, b.findView,
	} {
		if err := step(facts); err != nil {
			return nil, err
		}
	}
	return b, nil
}

// checkJoints sees that shoulders, hips, knees and ankles were seen at all.
func (b *Back) checkJoints(Facts) error {
	for _, p := range []form.Point{form.Shoulder, form.Hip, form.Knee, form.Ankle} {
		for _, s := range sides {
			if b.Motion.Paths[form.At(p, s)] == nil {
				return form.ClipError("the runner's %s %s is hardly ever seen from behind: keep the whole body in the picture, from head to feet", s, p)
			}
		}
	}
	return nil
}

// leastWidth is the least width between the shoulders over the trunk's
// length seen from behind: joints 0.205 H apart over 0.288 H are 0.7, and
// half a right angle off they are 0.5. Seen from the side they are below 0.3.
const leastWidth = 0.45

// checkView refuses what is not seen from behind. Which side is the left one
// is certain from behind: it is on the left. From the front it is on the
// right.
func (b *Back) checkView(Facts) error {
	if v := b.Motion.Track.View; v == form.ViewSide || v == form.ViewFront {
		return because(ErrView, form.ClipError("this is a %s view, and a clip from behind was asked for: film from straight behind the runner, camera at hip height", v))
	}
	var width, long, hips []float64
	down := 0
	for _, t := range b.Motion.Times {
		sl, okSL := b.px(form.Shoulder, form.Left, t)
		sr, okSR := b.px(form.Shoulder, form.Right, t)
		hl, okHL := b.px(form.Hip, form.Left, t)
		hr, okHR := b.px(form.Hip, form.Right, t)
		if !okSL || !okSR || !okHL || !okHR {
			continue
		}
		width, hips = append(width, sr.X-sl.X), append(hips, hr.X-hl.X)
		trunk := geom.Mid(hl, hr).Sub(geom.Mid(sl, sr))
		long = append(long, trunk.Norm())
		if trunk.Y < 0 {
			down++
		}
	}
	if len(long) < minFrames {
		return form.ClipError("shoulders and hips are hardly ever seen together from behind: keep the whole body in the picture")
	}
	if 2*down > len(long) {
		return because(ErrView, form.ClipError("the runner is upside down in the picture: turn the clip upright and try again"))
	}
	w, l, h := signal.Median(width), signal.Median(long), signal.Median(hips)
	switch {
	case math.Abs(w) < leastWidth*l:
		return because(ErrView, form.ClipError("the runner is not seen from behind: the shoulders are too narrow in the picture for that, as from the side. Film from straight behind, along the way the runner runs"))
	case w < 0 || h < 0:
		return because(ErrView, form.ClipError("the runner is seen from the front, or the picture is mirrored: left and right would be exchanged. Film from straight behind, without mirroring"))
	}
	return nil
}

// px is one joint's smoothed place in the picture.
func (b *Back) px(p form.Point, s form.Side, t float64) (geom.Vec, bool) {
	v, _, ok := b.Motion.Spot(form.At(p, s), t)
	return v, ok
}

// midPx is the middle between a point's two sides, where both are seen.
func (b *Back) midPx(p form.Point, t float64) (geom.Vec, bool) {
	l, okL := b.px(p, form.Left, t)
	r, okR := b.px(p, form.Right, t)
	return geom.Mid(l, r), okL && okR
}

// goneMS is the speed away from the camera, m/s, from which the runner is
// taken to run over ground.
const goneMS = 0.8

// findScale finds metres a pixel from the trunk's length in the picture. A
// runner who runs straight away becomes smaller: one over the size grows in
// even steps.
func (b *Back) findScale(Facts) error {
	var t, inverse []float64
	for _, at := range b.Motion.Times {
		s, ok1 := b.midPx(form.Shoulder, at)
		h, ok2 := b.midPx(form.Hip, at)
		if long := s.Sub(h).Norm(); ok1 && ok2 && long > 1 {
			t, inverse = append(t, at-b.t0), append(inverse, 1/long)
		}
	}
	a, slope, ok := lineOf(t, inverse, minFrames)
	if !ok || a <= 0 {
		return form.ClipError("the runner's trunk is hardly ever seen from behind: keep the whole body in the picture")
	}
	trunk := trunkShare * trunkTilt * b.heightM
	b.perPx = [2]float64{trunk * a, trunk * slope}
	b.Setting = Treadmill
	if b.depthSpeed() > goneMS {
		b.Setting = OverGround
	} else {
		b.perPx = [2]float64{trunk * signal.Median(inverse), 0}
	}
	if last := b.scale(b.Motion.Times[len(b.Motion.Times)-1]); !(last > 0) || trunk/last < 25 {
		return form.ClipError("the runner is too small in the picture from behind: film closer, the whole body filling most of the picture's height")
	}
	return nil
}

// depthSpeed is how fast the runner goes away from the camera, m/s, through
// a telephone's usual lens.
func (b *Back) depthSpeed() float64 {
	t := b.Motion.Track
	return focalShare * float64(max(t.Width, t.Height)) * b.perPx[1]
}

// distance is the camera's from the runner, metres, through a telephone's
// usual lens; 0 where the picture's size is not known.
func (b *Back) distance(t float64) float64 {
	return focalShare * float64(max(b.Motion.Track.Width, b.Motion.Track.Height)) * b.scale(t)
}

// scale is metres a pixel at a time.
func (b *Back) scale(t float64) float64 { return b.perPx[0] + b.perPx[1]*(t-b.t0) }

// lineOf is the least-squares line y = a + slope·x through least points or more.
func lineOf(x, y []float64, least int) (a, slope float64, ok bool) {
	if len(x) < least {
		return 0, 0, false
	}
	mx, _ := signal.MeanSD(x)
	my, _ := signal.MeanSD(y)
	var sxx, sxy float64
	for i := range x {
		sxx += (x[i] - mx) * (x[i] - mx)
		sxy += (x[i] - mx) * (y[i] - my)
	}
	if sxx <= 0 {
		return 0, 0, false
	}
	return my - sxy/sxx*mx, sxy / sxx, true
}

// findPath averages the mid-hip's place in the picture over one stride around
// each frame: the line along which the runner runs, with the sway of single
// steps gone.
func (b *Back) findPath(Facts) error {
	times := b.Motion.Times
	b.hips, b.hipsKnown = make([]geom.Vec, len(times)), make([]bool, len(times))
	b.halfWindow = b.StrideCheckS / 2
	const parts = 24
	for i, t := range times {
		var sum geom.Vec
		n := 0
		for k := range parts {
			v, ok := b.midPx(form.Hip, t+b.StrideCheckS*((float64(k)+0.5)/parts-0.5))
			if ok {
				sum, n = sum.Add(v), n+1
			}
		}
		if n >= parts*3/4 { // a short gap in a stride shifts its mean by millimetres
			b.hips[i], b.hipsKnown[i] = sum.Scale(1/float64(n)), true
		}
	}
	return nil
}

// Path is the mid-hip's averaged place in the picture at a time, px: the
// line of running goes through it. ok is false near the clip's ends.
func (b *Back) Path(t float64) (geom.Vec, bool) {
	times := b.Motion.Times
	i := max(0, sort.Search(len(times), func(i int) bool { return times[i] > t })-1)
	j := min(i+1, len(times)-1)
	if !b.hipsKnown[i] || !b.hipsKnown[j] {
		return geom.Vec{}, false
	}
	if times[j] <= times[i] {
		return b.hips[i], true
	}
	u := (t - times[i]) / (times[j] - times[i])
	return b.hips[i].Scale(1 - u).Add(b.hips[j].Scale(u)), true
}

// Off changes what places are worked out with, to see what each uncertainty
// does to a measure: degrees of roll and of view, metres by which points lie
// further ahead of the hips than is supposed, and the share by which the
// camera stands nearer than through a telephone's usual lens.
type Off struct {
	RollDeg, ViewDeg         float64
	KneeM, AnkleM, ShoulderM float64
	Nearer                   float64
}

// Opposite is the same change the other way.
func (o Off) Opposite() Off {
	return Off{-o.RollDeg, -o.ViewDeg, -o.KneeM, -o.AnkleM, -o.ShoulderM, -o.Nearer}
}

// How far ahead of the mid-hip the points lie at mid-stance, as shares of
// body height: the knee is bent forward, the ankle lies about under the
// hips, the trunk leans by some 7°. People differ in it, in knee and ankle
// together for the most part, and a little between their sides. Between
// invented runners (TestAheadOfInventedRunners: 0.089 and −0.032 ± 0.031,
// correlation 0.93; sides 0.007) and the real one of Fukuchi et al. 2017
// (TestBackViewOfARealRunner: 0.056 and −0.053; sides 0.012).
const (
	kneeAhead, ankleAhead, legAheadSD = 0.075, -0.043, 0.030
	ankleOwnSD, legSidesSD            = 0.012, 0.008
	shoulderAhead, shoulderAheadSD    = 0.055, 0.027
	// nearerSD is how far one over the camera's distance is off, since the
	// lens is not known: half as near to half as far again at its extremes
	// (common practice, no source).
	nearerSD = 0.4
)

// Doubts are one standard uncertainty each of what places are worked out
// with, independent of each other and the same for both sides.
func (b *Back) Doubts() []Off {
	h := b.heightM
	return []Off{
		{RollDeg: b.RollSD}, {ViewDeg: b.ViewSD},
		{KneeM: legAheadSD * h, AnkleM: legAheadSD * h}, {AnkleM: ankleOwnSD * h}, {ShoulderM: shoulderAheadSD * h},
		{Nearer: nearerSD},
	}
}

// SideDoubt is one standard uncertainty of each side's own.
func (b *Back) SideDoubt() Off {
	return Off{KneeM: legSidesSD * b.heightM, AnkleM: legSidesSD * b.heightM}
}

// At gives a joint's place in the frontal plane at a time of mid-stance,
// metres from the hips' mean path: X to the runner's right, Y up. Joints lie
// as far ahead as in mid-stance of the given side; the other leg's are only
// as good as the view is straight.
func (b *Back) At(j form.Joint, t float64, off Off) (geom.Vec, bool) {
	px, _, ok1 := b.Motion.Spot(j, t)
	at, ok2 := b.Path(t)
	if !ok1 || !ok2 {
		return geom.Vec{}, false
	}
	v := turned(px.Sub(at), b.RollDeg+off.RollDeg).Scale(b.scale(t))
	ahead := 0.0
	switch j.Point() {
	case form.Knee:
		ahead = kneeAhead*b.heightM + off.KneeM
	case form.Ankle, form.Heel:
		ahead = ankleAhead*b.heightM + off.AnkleM
	case form.Shoulder:
		ahead = shoulderAhead*b.heightM + off.ShoulderM
	}
	if far := b.distance(t); far > 0 { // what lies further away is drawn smaller
		v = v.Scale(1 + ahead/far*(1+off.Nearer))
	}
	s, c := math.Sincos(geom.Radians(b.ViewDeg + off.ViewDeg + off.RollDeg*b.viewPerRoll))
	return geom.Vec{X: (v.X - ahead*s) / c, Y: v.Y}, true
}

// turned takes the camera's roll out of a vector of the picture and turns it
// up: X to the right, Y up, still pixels.
func turned(v geom.Vec, rollDeg float64) geom.Vec {
	s, c := math.Sincos(geom.Radians(rollDeg))
	return geom.Vec{X: v.X*c + v.Y*s, Y: v.X*s - v.Y*c}
}

// rescale measures shoulders to stance ankle at the mid-stances: the longest
// length that the picture shows whole.
func (b *Back) rescale(Facts) error {
	var lengths []float64
	for _, s := range sides {
		for _, t := range b.Middles[s] {
			top, ok1 := b.midPx(form.Shoulder, t)
			foot, ok2 := b.px(form.Ankle, s, t)
			if ok1 && ok2 {
				lengths = append(lengths, top.Sub(foot).Norm()*b.scale(t))
			}
		}
	}
	if len(lengths) == 0 {
		return nil
	}
	k := (trunkShare*trunkTilt + stanceLegShare) * b.heightM / signal.Median(lengths)
	if k < 0.7 || k > 1.4 {
		return form.ClipError("trunk and legs don't fit together from behind: keep the whole body in the picture, the camera at hip height")
	}
	b.perPx[0] *= k
	b.perPx[1] *= k
	return nil
}

// MPerPx is metres a pixel in the middle of the clip.
func (b *Back) MPerPx() float64 {
	return b.scale((b.t0 + b.Motion.Times[len(b.Motion.Times)-1]) / 2)
}

// Steps is how many mid-stances were seen.
func (b *Back) Steps() int { return len(b.Middles[form.Left]) + len(b.Middles[form.Right]) }

// tooFew says how many steps there are where they are too few.
func (b *Back) tooFew() error {
	l, r := len(b.Middles[form.Left]), len(b.Middles[form.Right])
	if l < minSteps || r < minSteps {
		return form.ClipError("too few steps are seen from behind (%d): film at least 8 seconds with the whole body in the picture", l+r)
	}
	return nil
}

func (b *Back) note(format string, args ...any) {
	b.Notes = append(b.Notes, fmt.Sprintf(format, args...))
}

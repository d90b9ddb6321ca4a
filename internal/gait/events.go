package gait

import (
	"math"
	"sort"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/signal"
)

// A foot is on the ground while its lowest sole point lies within soleHeight
// of where it lies in mid-stance and it moves back at no less than
// groundShare of the belt's speed (over ground: the runner's own).
//
// Both thresholds stand where the vertical force passes 50 N in the data of
// Fukuchi et al. 2017 (PeerJ 5:e3298): at contact the foot moves back at
// 50 % of the belt's speed and the forefoot is lower than 1 cm; at toe-off
// the forefoot has risen 2 cm and still moves at 70 %.
const (
	soleHeight    = 0.02 // m
	groundShare   = 0.52
	toeOffShare   = 0.52
	stepPriorSD   = 0.008 // s: how far one step's event strays from the mean stride's
	eventBiasSD   = 0.006 // s: what a definition of "contact" is worth
	maxEventShift = 0.03  // s
)

// sole is one foot in the mean stride: heights above its mid-stance level
// and velocity relative to the body.
type sole struct {
	c                   *Cycle
	heel, toe           form.Joint
	heelLevel, toeLevel float64
	beltMS              float64
}

// newSole finds levels and the belt's speed from the middle of stance; ok is
// false where the side has neither heel nor toe.
func newSole(c *Cycle) (*sole, bool) {
	s := &sole{c: c, heel: form.At(form.Heel, c.Side), toe: form.At(form.Toe, c.Side)}
	if c.paths[s.heel] == nil || c.paths[s.toe] == nil {
		return nil, false
	}
	var heelY, toeY, speed []float64
	for t := -0.12 * c.StrideS; t <= 0.12*c.StrideS; t += 0.004 {
		h, hv, _, _ := c.At(s.heel, t)
		p, pv, _, _ := c.At(s.toe, t)
		heelY, toeY = append(heelY, h.Y), append(toeY, p.Y)
		if t <= 0.04*c.StrideS {
			speed = append(speed, -(hv.X+pv.X)/2)
		}
	}
	s.heelLevel = signal.Quantile(heelY, 0.15)
	s.toeLevel = signal.Quantile(toeY, 0.3)
	s.beltMS = signal.Median(speed)
	return s, true
}

// height of the lowest sole point over its mid-stance level, m.
func (s *sole) height(t float64) float64 {
	h, _, _, _ := s.c.At(s.heel, t)
	p, _, _, _ := s.c.At(s.toe, t)
	return math.Min(h.Y-s.heelLevel, p.Y-s.toeLevel)
}

// back is the foot's backward speed as a share of the belt's: before the
// anchor of the foot's middle, after it of the toe.
func (s *sole) back(t float64) float64 {
	_, hv, _, _ := s.c.At(s.heel, t)
	_, pv, _, _ := s.c.At(s.toe, t)
	if t < 0 {
		return -(hv.X + pv.X) / 2 / s.beltMS
	}
	return -pv.X / s.beltMS
}

// find walks from the anchor out to where the foot leaves the ground, in
// both directions, and refines each crossing by bisection.
func (s *sole) find() (contact, toeOff float64, ok bool) {
	down := func(t float64) bool {
		share := groundShare
		if t > 0 {
			share = toeOffShare
		}
		return s.height(t) < soleHeight && s.back(t) > share
	}
	if !(s.beltMS > 0.3) || !down(0) {
		return 0, 0, false
	}
	edge := func(dir float64) (float64, bool) {
		const step = 0.002
		for t := 0.0; math.Abs(t) < 0.5*s.c.StrideS; t += dir * step {
			if down(t) {
				continue
			}
			in, out := t-dir*step, t
			for range 20 {
				if m := (in + out) / 2; down(m) {
					in = m
				} else {
					out = m
				}
			}
			return (in + out) / 2, true
		}
		return 0, false
	}
	contact, ok1 := edge(-1)
	toeOff, ok2 := edge(+1)
	return contact, toeOff, ok1 && ok2
}

// levelFromStance finds roll from the path of the stance feet, then the mean
// strides again in the levelled plane.
func (g *Gait) levelFromStance(facts Facts) {
	g.findYaw(facts)
	p := &g.Plane
	if finite(facts.LevelDeg) {
		p.RollDeg, p.RollSD = facts.LevelDeg, 0.3
	} else {
		p.RollDeg, p.RollSD = g.seenRoll(facts)
	}
	leg, err := g.legPx()
	if err == nil {
		p.MPerPx = g.LegM / leg
	}
	for _, s := range sides {
		g.Cycles[s].build(g)
	}
}

// findEvents finds each side's contact and toe-off in the mean stride and
// from there in every stride, speed, and whether this is running at all.
func (g *Gait) findEvents(facts Facts) error {
	var belt []float64
	for _, s := range sides {
		c := g.Cycles[s]
		foot, ok := newSole(c)
		if !ok {
			return form.ClipError("the runner's %s foot is hardly ever seen: keep heels and toes in the picture and the light even", s)
		}
		c.ContactS, c.ToeOffS, ok = foot.find()
		if !ok {
			return form.ClipError("the %s foot is never seen still on the ground: is this running or walking, filmed side-on? Film at least 8 seconds with the feet in the picture", s)
		}
		belt = append(belt, foot.beltMS)
	}
	g.findSpeed(belt, facts)
	if err := g.checkRunning(); err != nil {
		return err
	}
	for _, s := range sides {
		g.placeEvents(g.Cycles[s])
	}
	sort.Slice(g.Events, func(i, j int) bool { return g.Events[i].Time < g.Events[j].Time })
	return nil
}

// findSpeed is the stance feet's backward speed (treadmill) or the hips'
// travel (over ground), unless stated.
func (g *Gait) findSpeed(belt []float64, facts Facts) {
	if g.Setting == Treadmill {
		g.SeenSpeedMS, _ = signal.MeanSD(belt)
	}
	g.SpeedMS = g.SeenSpeedMS
	g.SpeedSD = g.SeenSpeedMS * math.Hypot(g.Plane.ScaleSD, 0.02)
	if facts.SpeedMS > 0 {
		g.SpeedMS, g.SpeedSD = facts.SpeedMS, 0.02*facts.SpeedMS
	}
}

// checkRunning tells running (flight) from walking (both feet on the ground
// at times): Novacheck 1998, Gait & Posture 7:77–95 (from memory).
func (g *Gait) checkRunning() error {
	duty := 0.0
	for _, s := range sides {
		c := g.Cycles[s]
		duty += (c.ToeOffS - c.ContactS) / g.StrideS / 2
	}
	if duty >= walkingDuty {
		return form.ClipError("this is walking, not running: a foot is on the ground for %.0f %% of the stride, so both feet are down at times. Plumbstride measures running; ask the runner to run", 100*duty)
	}
	return nil
}

// walkingDuty is the share of the stride on the ground from which a gait
// has no flight.
const walkingDuty = 0.5

// placeEvents puts the mean stride's contact and toe-off into every stride
// of the side, each moved to fit the frames around it.
func (g *Gait) placeEvents(c *Cycle) {
	first, last := g.Motion.Times[0], g.Motion.Times[len(g.Motion.Times)-1]
	anchors := append([]float64{c.Anchors[0] - g.StrideS}, c.Anchors...)
	anchors = append(anchors, c.Anchors[len(c.Anchors)-1]+g.StrideS)
	put := func(kind form.EventKind, offset float64) float64 {
		var shifts []float64
		for i, a := range anchors {
			shift, sd, ok := g.shift(c, a, offset)
			t := a + offset + shift
			if !ok || t < first || t > last {
				continue
			}
			if i > 0 && i < len(anchors)-1 {
				shifts = append(shifts, shift)
			}
			g.Events = append(g.Events, form.Event{Kind: kind, Side: c.Side, Time: t, SD: math.Hypot(sd, eventBiasSD)})
		}
		_, spread := signal.MeanSD(shifts)
		if !finite(spread) {
			spread = stepPriorSD
		}
		return math.Hypot(spread/math.Sqrt(float64(max(len(shifts), 1))), eventBiasSD)
	}
	c.ContactSD = put(form.Contact, c.ContactS)
	c.ToeOffSD = put(form.ToeOff, c.ToeOffS)
}

// shift is how much later than in the mean stride the foot moves around
// offset in the stride of anchor a: one Gauss–Newton step on heel, toe and
// ankle against the mean stride, with a prior of stepPriorSD. ok is false
// where too few frames were seen around the event.
func (g *Gait) shift(c *Cycle, a, offset float64) (shift, sd float64, ok bool) {
	const window = 0.06 // s, either side
	var num, den float64
	used := 0
	for i, t := range g.Motion.Times {
		d := t - a - offset
		if math.Abs(d) > window {
			continue
		}
		for _, pt := range []form.Point{form.Heel, form.Toe, form.Ankle} {
			j := form.At(pt, c.Side)
			path := g.Motion.Paths[j]
			if path == nil || path.Weight[i] == 0 || c.paths[j] == nil {
				continue
			}
			spot := g.Motion.Track.Frames[i].Spots[j]
			z := g.Plane.Map(j, geom.Vec{X: spot.X, Y: spot.Y}, t)
			mean, vel, _, _ := c.At(j, t-a)
			noise := math.Max(path.Noise, 0.5) * g.Plane.MPerPx
			w := 1 / (noise * noise * 4) // neighbouring frames share their errors
			num -= w * ((z.X-mean.X)*vel.X + (z.Y-mean.Y)*vel.Y)
			den += w * (vel.X*vel.X + vel.Y*vel.Y)
			used++
		}
	}
	den += 1 / (stepPriorSD * stepPriorSD)
	shift = num / den
	return math.Max(-maxEventShift, math.Min(maxEventShift, shift)), 1 / math.Sqrt(den), used >= 4
}

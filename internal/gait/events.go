package gait

import (
	"fmt"
	"math"
	"sort"
	"strings"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/signal"
)

// A foot lands when, coming down, its lowest sole point lies within
// soleHeight of where it lies in mid-stance and its middle moves back at no
// less than landedShare of the belt's speed (over ground: the runner's own).
// It leaves when the point about which the sole rolls has risen by
// liftHeight, or moves back at less than liftShare.
//
// The thresholds stand where the vertical force passes 50 N in the data of
// Fukuchi et al. 2017 (PeerJ 5:e3298, doi 10.7717/peerj.3298): at contact
// the foot moves back at 50 % of the belt's speed, the forefoot lower than
// 1 cm; at toe-off the rolling point has risen by less than 1 cm.
const (
	soleHeight    = 0.015 // m
	heelHeight    = 0.006 // m: for a heel whose points follow the shoe itself, which gives by less (common practice, no source)
	restFall      = 0.15  // m/s: a heel within soleHeight that falls no faster has been stopped (it comes down at 0.5 to 1; common practice, no source)
	floatsAbove   = 0.003 // m: a heel whose lowest place lies higher than this stays up
	levelReach    = 0.25  // m: from the landing foot to where mid-stance gave the level
	landedShare   = 0.55
	liftHeight    = 0.006 // m
	liftShare     = 0.5
	downHeight    = 0.020  // m: a toe this near its lowest place may be down
	clearHeight   = 0.035  // m: a toe this far over its lowest place is off for sure
	swingShare    = 0.36   // of a stride after the anchor: the toe is up in every run
	stepPriorSD   = 0.008  // s: how far one step's event strays from the mean stride's
	contactBiasSD = 0.005  // s: how far a runner's contacts lie from the truth on average: the force plate's by 4 ms, invented runners' by 3 ± 3.5
	toeOffBiasSD  = 0.009  // s: likewise (docs/studies/events.md)
	seenContactSD = 0.003  // s: likewise by points known to be the shoe's ends, of which three signs tell (invented runners)
	seenToeOffSD  = 0.0055 // s: likewise
	maxEventShift = 0.03   // s
)

// sole is one foot in the mean stride.
type sole struct {
	c                   *Cycle
	heel, toe           form.Joint
	heelLevel, toeLevel float64 // mid-stance heights, m
	// groundLevel is where the heel point would be with the heel on the ground,
	// by the toe's level and a flat foot's angle; NaN where that is not known.
	groundLevel float64
	beltMS      float64
	// pivot is where on the line from heel through toe the sole rolls,
	// beyond the toe, as a share of heel to toe; pivotLevel its height.
	pivot, pivotLevel float64
	// tolerance is soleHeight and what an unsure level adds to it.
	tolerance float64
	// heelTolerance is the same for the heel: less, where a network's points
	// follow the shoe itself, by what the strides leave of their noise. A heel
	// above it that has stopped falling is down all the same: such a point may
	// go on gliding down under a foot that has landed.
	heelTolerance float64
	// clear is a time, from the anchor, at which the toe is off for sure.
	clear float64
	// slope is the belt's, tan of the incline, in the plane's X and Y.
	slope float64
}

// at gives a point's place with its height taken from the sloping belt, and
// its velocity.
func (s *sole) at(j form.Joint, t float64) (pos, vel geom.Vec) {
	p, v, _, _ := s.c.At(j, t)
	p.Y -= s.slope * p.X
	return p, v
}

// newSole finds levels, the belt's speed and the rolling point; ok is false
// where the side has no toe, or neither heel nor ankle.
func newSole(c *Cycle, rollSD, inclineDeg float64, network string) (*sole, bool) {
	s := &sole{c: c, slope: math.Tan(geom.Radians(inclineDeg)), tolerance: soleHeight + levelReach*math.Tan(geom.Radians(rollSD)), heel: form.At(form.Heel, c.Side), toe: form.At(form.Toe, c.Side)}
	if c.paths[s.heel] == nil { // a track without heels: the ankle stands in
		s.heel = form.At(form.Ankle, c.Side)
	}
	if c.paths[s.heel] == nil || c.paths[s.toe] == nil {
		return nil, false
	}
	var heelY, toeY, back []float64
	for t := -0.08 * c.StrideS; t <= 0.12*c.StrideS; t += 0.004 {
		h, _ := s.at(s.heel, t)
		p, v := s.at(s.toe, t)
		heelY, toeY, back = append(heelY, h.Y), append(toeY, p.Y), append(back, -v.X)
	}
	s.heelLevel = signal.Quantile(heelY, 0)
	s.toeLevel = signal.Quantile(toeY, 0.3)
	s.groundLevel, s.heelTolerance = math.NaN(), s.tolerance
	if flat, known := flatOf(network); known {
		s.groundLevel = s.toeLevel - s.footLength()*math.Sin(geom.Radians(flat))
		_, _, noise, _ := c.At(s.heel, 0)
		s.heelTolerance = math.Min(s.tolerance, s.tolerance-soleHeight+heelHeight+noise)
	}
	s.beltMS = signal.Median(back)
	s.findPivot()
	return s, true
}

// footLength is the median distance from heel to toe in mid-stance, m.
func (s *sole) footLength() float64 {
	var lengths []float64
	for t := -0.08 * s.c.StrideS; t <= 0.12*s.c.StrideS; t += 0.01 {
		h, _ := s.at(s.heel, t)
		p, _ := s.at(s.toe, t)
		lengths = append(lengths, p.Sub(h).Norm())
	}
	return signal.Median(lengths)
}

// FlatByLegs is the angle of heel→toe of the leg network's points with the foot
// flat on the ground, degrees: they are the rearmost and the foremost of the
// shoe. It was chosen with the network before this one, on clips drawn by two
// hands, and kept (record 25).
const FlatByLegs = -0.25

// flatOf is that angle where it is known.
func flatOf(network string) (deg float64, known bool) {
	return FlatByLegs, strings.HasSuffix(network, "+legs")
}

// findPivot fits the rolling point: the e for which toe + e·(toe − heel)
// keeps its height best from the anchor to just before the toe has risen for
// good. Where the toe point lies behind the sole's tip (a marker on the
// metatarsal head) e is positive; where it lies on the upper of the shoe,
// negative.
func (s *sole) findPivot() {
	toeY := func(t float64) float64 {
		p, _ := s.at(s.toe, t)
		return p.Y
	}
	low := math.Inf(1)
	for t := 0.0; t < swingShare*s.c.StrideS; t += 0.004 {
		low = math.Min(low, toeY(t))
	}
	// Back from the swing to where the toe was last down, then on to where it
	// is clear, or as high as it gets.
	down := swingShare * s.c.StrideS
	for down > 0.05 && toeY(down) > low+downHeight {
		down -= 0.004
	}
	s.clear = down
	for t := down; t < swingShare*s.c.StrideS && toeY(s.clear) <= low+clearHeight; t += 0.004 {
		if toeY(t) > toeY(s.clear) {
			s.clear = t
		}
	}
	var n, sx, sy, sxx, sxy float64
	for t := math.Max(0, s.clear-0.15); t < s.clear-0.035; t += 0.004 {
		h, _ := s.at(s.heel, t)
		p, _ := s.at(s.toe, t)
		x := p.Y - h.Y
		n, sx, sy, sxx, sxy = n+1, sx+x, sy+p.Y, sxx+x*x, sxy+x*p.Y
	}
	s.pivotLevel = s.toeLevel
	if det := n*sxx - sx*sx; n > 3 && det > 0 {
		s.pivot = math.Max(-0.3, math.Min(0.5, -(n*sxy-sx*sy)/det))
		s.pivotLevel = (sy + s.pivot*sx) / n
	}
}

// tipLeaves is when the toe point has risen by tipRise over its lowest place
// since mid-stance, where the points are known to be the foremost of the shoe:
// the tip comes down on to the ground last of all. ok is false where it does
// not rise before the swing.
func (s *sole) tipLeaves() (at float64, ok bool) {
	low := math.Inf(1)
	for t := afterMid; t < swingShare*s.c.StrideS; t += 0.001 {
		p, _ := s.at(s.toe, t)
		if p.Y < low {
			low, at = p.Y, 0
		}
		if at == 0 && p.Y > low+tipRise {
			at = t
		}
		if p.Y > low+tipGone {
			return at, at > 0
		}
	}
	return 0, false
}

// When a tip counts as leaving (common practice, no source; the record 25 says
// what came of it).
const (
	afterMid = 0.03  // s after the ankle passed under the hips
	tipRise  = 0.003 // m
	tipGone  = 0.012 // m: by then the tip has left for good
	tipReach = 0.06  // s: further from the foot's toe-off it is something else
)

// lift is the rolling point's height over its level, m.
func (s *sole) lift(t float64) float64 {
	h, _ := s.at(s.heel, t)
	p, _ := s.at(s.toe, t)
	return p.Y + s.pivot*(p.Y-h.Y) - s.pivotLevel
}

// landed tells, before the anchor, whether the foot is on the ground.
func (s *sole) landed(t float64) bool {
	_, hv, _, _ := s.c.At(s.heel, t)
	_, pv, _, _ := s.c.At(s.toe, t)
	h, _ := s.at(s.heel, t)
	p, _ := s.at(s.toe, t)
	above, falling := h.Y-s.heelLevel, s.slope*hv.X-hv.Y
	atRest := above < s.tolerance && falling < restFall
	down := above < s.heelTolerance || atRest || p.Y-s.toeLevel < s.tolerance
	return down && -(hv.X+pv.X)/2 > landedShare*s.beltMS
}

// standing tells, after the anchor, whether the foot is still on the ground.
func (s *sole) standing(t float64) bool {
	_, pv, _, _ := s.c.At(s.toe, t)
	return s.lift(t) < liftHeight && -pv.X > liftShare*s.beltMS
}

// find walks from the swing before to where the foot has landed, and from
// where the toe is clear back to where it still stands, and refines both
// crossings by bisection.
func (s *sole) find() (contact, toeOff float64, ok bool) {
	if !(s.beltMS > 0.3) {
		return 0, 0, false
	}
	contact, ok1 := edge(-swingShare*s.c.StrideS, 0, s.landed)
	if ok1 && !math.IsNaN(s.groundLevel) {
		contact = s.weighSigns(contact) + seenEarly
	}
	toeOff, ok2 := edge(s.clear, 0, s.standing)
	return contact, toeOff, ok1 && ok2
}

// unload is the moment at which the vertical force falls to 50 N, from where
// find saw the foot leave: the mean of what the foot and the knee show, for
// the two go wrong in different ways; where they are far apart, the foot's.
//
// Where the toe point is a marker on the metatarsal heads (pivot > 0) it has
// risen by markerLift by then, since the foot rolls on to the toes' tips
// (Fukuchi et al. 2017, as above). A point at the tip (pivot ≤ 0) only then
// begins to rise: its way up is traced back as one between even speed and even
// acceleration from rest, at most slowestLift long.
//
// The knee is straightest within some 5 ms of toe-off in 40 runners (Fellin
// et al. 2010, J Sci Med Sport 13:646–650, doi 10.1016/j.jsams.2010.03.006);
// the data of Fukuchi et al. pass 50 N kneeLag before it, their force being
// smoothed.
func (s *sole) unload(seen float64) float64 {
	tip := seen
	if v := s.rise(seen); v > 0 {
		tip -= math.Min(1.5*math.Max(s.lift(seen), 0)/v, slowestLift)
	}
	marker := seen
	for marker < s.clear && s.lift(marker) < markerLift {
		marker += 0.001
	}
	w := math.Max(0, math.Min(1, s.pivot/markerPivot))
	foot := w*marker + (1-w)*tip
	knee, ok := s.straightest(foot)
	if leaves, seen := s.tipLeaves(); seen && !math.IsNaN(s.groundLevel) && math.Abs(leaves-foot) < tipReach {
		if !ok {
			return (foot + leaves) / 2
		}
		return robustMean([]float64{foot, leaves, knee - kneeLag})
	}
	if !ok {
		return foot
	}
	return foot + math.Max(-kneeSay, math.Min(kneeSay, (knee-kneeLag-foot)/2))
}

const (
	markerLift  = 0.010 // m
	markerPivot = 0.07  // shares of heel to toe
	slowestLift = 0.030 // s
	kneeLag     = 0.010 // s
	kneeSay     = 0.005 // s: by how much the knee may move the foot's time
	kneeReach   = 0.035 // s: how far from the foot's toe-off the knee's may be
)

// rise is the rolling point's vertical speed, m/s.
func (s *sole) rise(t float64) float64 {
	const h = 0.004
	return (s.lift(t+h) - s.lift(t-h)) / (2 * h)
}

// straightest is when the knee is most extended around a time: the vertex of
// the least-squares parabola about the lowest flexion; ok is false where it
// has no minimum within kneeReach.
func (s *sole) straightest(around float64) (float64, bool) {
	side := s.c.Side
	flexion := func(t float64) float64 {
		hip, _, _, ok1 := s.c.At(form.At(form.Hip, side), t)
		knee, _, _, ok2 := s.c.At(form.At(form.Knee, side), t)
		ankle, _, _, ok3 := s.c.At(form.At(form.Ankle, side), t)
		if !ok1 || !ok2 || !ok3 {
			return math.NaN()
		}
		return geom.Flexion(hip, knee, ankle)
	}
	at, low := 0.0, math.Inf(1)
	for t := around - kneeReach; t <= around+kneeReach+kneeLag; t += 0.002 {
		if f := flexion(t); f < low {
			at, low = t, f
		}
	}
	if math.IsInf(low, 1) || at < around-kneeReach+0.003 || at > around+kneeReach+kneeLag-0.003 {
		return 0, false
	}
	const reach = 0.025
	var sxx, sxxxx, sy, sxy, sxxy, n float64
	for x := -reach; x <= reach; x += 0.0025 {
		y := flexion(at+x) - low
		n, sxx, sxxxx = n+1, sxx+x*x, sxxxx+x*x*x*x
		sy, sxy, sxxy = sy+y, sxy+x*y, sxxy+x*x*y
	}
	slope := sxy / sxx
	curve := (n*sxxy - sxx*sy) / (n*sxxxx - sxx*sxx)
	if !(curve > 0) {
		return 0, false
	}
	return at - math.Max(-reach, math.Min(reach, slope/(2*curve))), true
}

// weighSigns weighs the contact at which the sole reached its own mid-stance
// level against two other signs: a network's points know where a flat foot's
// heel would be, which tells the ground from the lowest place of a heel that
// never comes down; and the fall of the lower end of the foot is stopped
// hardest just after contact. It gives the robust mean of the three.
func (s *sole) weighSigns(own float64) float64 {
	signs := []float64{own, s.impact(own)}
	heelLevel := s.heelLevel
	s.heelLevel = math.Min(heelLevel, s.groundLevel+floatsAbove)
	ground, ok := edge(-swingShare*s.c.StrideS, 0, s.landed)
	s.heelLevel = heelLevel
	if !ok {
		return own
	}
	return robustMean(append(signs, ground))
}

// robustMean is the middle one of three times, moved by the others as far as
// they agree with it within signReach (Huber's mean, one step).
func robustMean(signs []float64) float64 {
	sort.Float64s(signs)
	middle, off := signs[1], 0.0
	for _, t := range signs {
		off += math.Max(-signReach, math.Min(signReach, t-middle)) / 3
	}
	return middle + off
}

// seenEarly is by how much, seconds, the leg network's points show a contact
// too early, in the mean of clips drawn by two different hands (record 25): with
// it, contact is found 0 ms late in the mean of a body model's clips, 1 ms in
// that of invented runners.
const seenEarly = 0.0025

// signReach is how far one sign of an event may pull, s.
const signReach = 0.012

// impact is where the fall of whichever of heel and toe is lower at a contact
// is stopped most, less impactLag: its largest upward acceleration within
// impactReach (Hreljac & Stergiou 2000, Med Biol Eng Comput, doi
// 10.1007/BF02345744; in Handsaker et al. 2016, J Biomech, it comes 3 ms
// after the force plate's contact).
func (s *sole) impact(contact float64) float64 {
	j := s.heel
	h, _ := s.at(s.heel, contact)
	p, _ := s.at(s.toe, contact)
	if p.Y-s.toeLevel < h.Y-s.heelLevel {
		j = s.toe
	}
	const step, span = 0.001, 0.006
	height := func(t float64) float64 {
		p, _ := s.at(j, t)
		return p.Y
	}
	best, at := 0.0, contact
	for t := contact - impactReach; t <= contact+impactReach; t += step {
		if a := height(t+span) - 2*height(t) + height(t-span); a > best {
			best, at = a, t
		}
	}
	return at - impactLag
}

const (
	impactReach = 0.025 // s
	impactLag   = 0.003 // s
)

// edge walks from a towards b until f holds, and gives the crossing.
func edge(a, b float64, f func(float64) bool) (float64, bool) {
	step := math.Copysign(0.002, b-a)
	for t := a; math.Abs(t-a) <= math.Abs(b-a); t += step {
		if !f(t) {
			continue
		}
		before, at := t-step, t
		for range 20 {
			if m := (before + at) / 2; f(m) {
				at = m
			} else {
				before = m
			}
		}
		return (before + at) / 2, true
	}
	return 0, false
}

// levelFromStance finds yaw, roll and scale now that the stance phases are
// known, and lays the strides over one another in the levelled plane.
func (g *Gait) levelFromStance(facts Facts) error {
	g.findYaw(facts)
	p := &g.Plane
	p.RollDeg, p.RollSD = g.seenRoll(facts)
	switch l := facts.Level; {
	case l.Stated:
		p.RollDeg, p.RollSD = l.Deg, l.SD
	case l.Known: // what the background shows is far surer
		p.RollDeg, p.RollSD = weigh(p.RollDeg, p.RollSD, l.Deg, math.Max(l.SD, 0.2))
	}
	g.rescale()
	g.settle()
	if g.Setting == OverGround {
		g.SeenSpeedMS = math.Abs(p.TravelMS.X)
	} else {
		p.TravelMS = geom.Vec{}
	}
	if err := g.findAnchors(g.StrideS); err != nil {
		return err
	}
	g.sayGround(facts)
	if err := g.findWindow(); err != nil {
		return err
	}
	for _, s := range sides {
		g.Cycles[s].build(g, false)
	}
	return nil
}

// findEvents finds each side's contact and toe-off in the mean stride and
// from there in every stride, speed, and whether this is running at all.
func (g *Gait) findEvents(facts Facts) error {
	var belt []float64
	for _, s := range sides {
		c := g.Cycles[s]
		foot, ok := newSole(c, g.Plane.RollSD, g.inclineDeg, g.Motion.Track.Network)
		if !ok {
			return form.ClipError("the runner's %s foot is hardly ever seen: keep heels and toes in the picture and the light even", s)
		}
		c.ContactS, c.ToeOffS, ok = foot.find()
		if !ok {
			return form.ClipError("the %s foot is never seen still on the ground: is this running or walking, filmed side-on? Film at least 8 seconds with the feet in the picture", s)
		}
		if early, late := networkTiming(g.Motion.Track.Network); early > 0 {
			c.ContactS += early
			c.ToeOffS -= late
		} else {
			c.ToeOffS = foot.unload(c.ToeOffS)
		}
		belt = append(belt, foot.beltMS)
	}
	g.mendHiddenToeOff()
	g.matchLegs()
	g.findSpeed(belt, facts)
	if err := g.checkRunning(); err != nil {
		return err
	}
	for _, s := range sides {
		g.placeEvents(g.Cycles[s])
		g.Cycles[s].build(g, true)
	}
	byTime(g.Events)
	return g.placeByHand(facts.ByHand)
}

func byTime(events []form.Event) {
	sort.Slice(events, func(i, j int) bool { return events[i].Time < events[j].Time })
}

// matchLegs draws a runner's two feet together where the leg network found
// them. What its points show of a foot at contact and toe-off goes wrong
// differently on the near foot and the far one, by the shadow under it and the
// side of the shoe that is seen; the shank's turn hardly does. So the time from
// each foot's event to the moment its shank passes an angle is drawn towards
// the mean of both sides, by a share chosen on the clips of two hands (record
// 25), and by less the nearer the feet are to what the shanks say, since there
// the runner's own difference may well be what is left. Where the shanks
// themselves turn differently, a real difference is made smaller by it: the
// whole move goes into the event's uncertainty.
func (g *Gait) matchLegs() {
	if _, ours := flatOf(g.Motion.Track.Network); !ours {
		return
	}
	l, r := g.Cycles[form.Left], g.Cycles[form.Right]
	match := func(a, b *float64, deg, share, own float64) (moved float64) {
		ta, okA := l.shankPasses(deg, *a-justBefore)
		tb, okB := r.shankPasses(deg, *b-justBefore)
		if !okA || !okB {
			return 0
		}
		apart := (*a - ta) - (*b - tb)
		move := share * apart * apart / (apart*apart + own*own) * apart / 2
		move = math.Max(-mostMatched, math.Min(mostMatched, move))
		*a, *b = *a-move, *b+move
		return move
	}
	contact := match(&l.ContactS, &r.ContactS, uprightShank, contactDrawn, ownContact)
	toeOff := match(&l.ToeOffS, &r.ToeOffS, pushedShank, toeOffDrawn, ownToeOff)
	l.ContactMoved, l.ToeOffMoved = -contact, -toeOff
	r.ContactMoved, r.ToeOffMoved = contact, toeOff
}

// The shank's angles that matchLegs looks at, degrees from upright, leaning
// ahead, and what share of the feet's own difference it draws away. Left
// against right, about the truth (rms): on the rendered clips the foot 7 and 21
// ms at contact and toe-off, the shank 5.5 and 7; on invented runners the foot
// 3.5 and 4, the shank 2.5 and 3. The shares are what the rendered clips ask for
// where feet and shanks are far apart (10 to 30 ms), as they are there, and half
// of it at ownContact and ownToeOff: at toe-off about as far as runners with 26 ms
// between left and right contact times bring them apart, at contact so that most
// of what a runner's knees differ by is shown
// (go test ./internal/check -run UnevenRunners).
const (
	uprightShank = 2.0
	pushedShank  = 45.0
	contactDrawn = 0.9
	ownContact   = 0.006 // s
	toeOffDrawn  = 0.9
	ownToeOff    = 0.008 // s
	mostMatched  = 0.02  // s: no foot is moved by more
	justBefore   = 0.03  // s: the shank is looked at from there on
)

// shankPasses is when, from a time on, the shank has turned as far ahead over
// the ankle as an angle; ok is false where it doesn't soon, or had already.
func (c *Cycle) shankPasses(deg, from float64) (float64, bool) {
	lean := func(t float64) float64 {
		k, _, _, ok1 := c.At(form.At(form.Knee, c.Side), t)
		a, _, _, ok2 := c.At(form.At(form.Ankle, c.Side), t)
		if !ok1 || !ok2 {
			return math.NaN()
		}
		return geom.Degrees(math.Atan2(k.X-a.X, k.Y-a.Y))
	}
	if !(lean(from) < deg) {
		return 0, false
	}
	return edge(from, from+swingShare*c.StrideS, func(t float64) bool { return lean(t) >= deg })
}

// networkTiming is how much too early the landmark networks' points show a
// contact and how much too late a toe-off, seconds: their feet glide into and
// out of stance. The mean over clips drawn by two different hands; tracks
// made elsewhere get none.
func networkTiming(network string) (early, late float64) {
	switch network {
	case "full", "heavy", "full+heavy", "lite":
		return 0.010, 0.008
	default:
		return 0, 0
	}
}

// mostUneven is by how much, seconds, left and right contact times may differ
// before the far foot's toe-off is taken to be hidden behind the near leg;
// people differ by a few per cent (step time asymmetry below 5 %: common
// practice, no source).
const mostUneven = 0.045

// mendHiddenToeOff replaces a far foot's toe-off that comes far too early,
// since the near leg hid it, by the near side's contact time. The wide
// uncertainty says so.
func (g *Gait) mendHiddenToeOff() {
	near, far := g.Cycles[g.Near], g.Cycles[g.Near.Other()]
	down := near.ToeOffS - near.ContactS
	if early, _ := networkTiming(g.Motion.Track.Network); early == 0 {
		return // points from elsewhere are taken as they are
	}
	if far.ToeOffS-far.ContactS >= down-mostUneven {
		return
	}
	far.ToeOffS = far.ContactS + down
	far.ToeOffHidden = true
	g.Notes = append(g.Notes, fmt.Sprintf("The %s foot's toe-off is hidden behind the other leg; its contact time is taken from the other side, with a wider uncertainty.", far.Side))
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
		if off := g.SeenSpeedMS/facts.SpeedMS - 1; math.Abs(off) > 0.1 {
			g.Notes = append(g.Notes, fmt.Sprintf("The stated speed of %.1f km/h and the speed seen in the clip, %.1f km/h, differ by more than 10 %%: the stated one was used. Check it, the runner's height and the clip's rate.", 3.6*facts.SpeedMS, 3.6*g.SeenSpeedMS))
		}
	}
}

// checkRunning tells running (flight) from walking (both feet on the ground
// at times): Novacheck 1998, Gait & Posture 7:77–95 (from memory). Points
// that find toe-off a little early make a walk's double support vanish, so
// at a walker's cadence a long contact is enough.
func (g *Gait) checkRunning() error {
	duty := 0.0
	for _, s := range sides {
		c := g.Cycles[s]
		duty += (c.ToeOffS - c.ContactS) / g.StrideS / 2
	}
	cadence := 120 / g.StrideS
	if duty >= walkingDuty || duty >= slowDuty && cadence > 80 && cadence < walkRunCadence {
		return because(ErrWalking, form.ClipError("this is walking, not running: at %.0f steps a minute a foot is on the ground for %.0f %% of the stride, so both feet are down at times. Plumbstride measures running; ask the runner to run", cadence, 100*duty))
	}
	return nil
}

// walkingDuty is the share of the stride on the ground from which a gait
// has no flight; slowDuty from which it is a walk at fewer steps a minute
// than walkRunCadence, where adults change from walk to run (about 140:
// PMC8629136).
const (
	walkingDuty    = 0.5
	slowDuty       = 0.44
	walkRunCadence = 140.0
)

// placeEvents puts the mean stride's contact and toe-off into every stride
// of the side, each moved to fit the frames around it.
func (g *Gait) placeEvents(c *Cycle) {
	first, last := g.Motion.Times[0], g.Motion.Times[len(g.Motion.Times)-1]
	anchors, seen := c.everyStride(g.StrideS)
	put := func(kind form.EventKind, offset, biasSD float64) float64 {
		var shifts []float64
		for i, a := range anchors {
			shift, sd, ok := g.shift(c, a, offset)
			t := a + offset + shift
			if !ok || t < first || t > last {
				continue
			}
			if seen[i] {
				shifts = append(shifts, shift)
			}
			g.Events = append(g.Events, form.Event{Kind: kind, Side: c.Side, Time: t, SD: math.Hypot(sd, biasSD)})
		}
		_, spread := signal.MeanSD(shifts)
		if !finite(spread) {
			spread = stepPriorSD
		}
		return math.Hypot(spread/math.Sqrt(float64(max(len(shifts), 1))), biasSD)
	}
	on, off := contactBiasSD, toeOffBiasSD
	if _, known := flatOf(g.Motion.Track.Network); known {
		on, off = seenContactSD, seenToeOffSD
	}
	if c.ToeOffHidden {
		off *= 2.5
	}
	on, off = math.Hypot(on, c.ContactMoved), math.Hypot(off, c.ToeOffMoved)
	c.ContactBias, c.ToeOffBias = on, off
	c.ContactSD = put(form.Contact, c.ContactS, on)
	c.ToeOffSD = put(form.ToeOff, c.ToeOffS, off)
}

// everyStride gives the anchors with those that were not seen: one stride
// before the first, one after the last, and those missing between, for a
// foot that is hidden for a moment goes on stepping.
func (c *Cycle) everyStride(stride float64) (anchors []float64, seen []bool) {
	put := func(t float64, s bool) { anchors, seen = append(anchors, t), append(seen, s) }
	put(c.Anchors[0]-stride, false)
	for i, a := range c.Anchors {
		if i > 0 {
			before := c.Anchors[i-1]
			n := math.Round((a - before) / stride)
			for k := 1.0; k < n; k++ {
				put(before+k/n*(a-before), false)
			}
		}
		put(a, true)
	}
	put(c.Anchors[len(c.Anchors)-1]+stride, false)
	return anchors, seen
}

// shift is how much later than in the mean stride the foot moves around
// offset in the stride of anchor a: one Gauss–Newton step on heel, toe and
// ankle against the mean stride, with a prior of stepPriorSD. Each
// coordinate's mean difference is left out, since a runner drifts on the
// belt: it is the shape that tells the time. ok is false where too few frames
// were seen around the event.
func (g *Gait) shift(c *Cycle, a, offset float64) (shift, sd float64, ok bool) {
	const window = 0.07 // s, either side
	var num, den float64
	used := 0
	for _, pt := range []form.Point{form.Heel, form.Toe, form.Ankle} {
		j := form.At(pt, c.Side)
		path := g.Motion.Paths[j]
		if path == nil || c.paths[j] == nil {
			continue
		}
		noise := math.Max(path.Noise, 0.5) * g.Plane.MPerPx
		w := 1 / (noise * noise * 4) // neighbouring frames share their errors
		var x, y joined
		for i, t := range g.Motion.Times {
			if math.Abs(t-a-offset) > window || path.Weight[i] == 0 {
				continue
			}
			spot := g.Motion.Track.Frames[i].Spots[j]
			z := g.Plane.Map(j, geom.Vec{X: spot.X, Y: spot.Y}, t)
			mean, vel, _, _ := c.At(j, t-a)
			x.add(vel.X, z.X-mean.X)
			y.add(vel.Y, z.Y-mean.Y)
			used++
		}
		num -= w * (x.cross() + y.cross())
		den += w * (x.square() + y.square())
	}
	den += 1 / (stepPriorSD * stepPriorSD)
	shift = num / den
	return math.Max(-maxEventShift, math.Min(maxEventShift, shift)), 1 / math.Sqrt(den), used >= 3
}

// joined sums up pairs for their centred products.
type joined struct{ n, sx, sy, sxx, sxy float64 }

func (s *joined) add(x, y float64) {
	s.n, s.sx, s.sy, s.sxx, s.sxy = s.n+1, s.sx+x, s.sy+y, s.sxx+x*x, s.sxy+x*y
}

// cross is Σ(x−x̄)(y−ȳ), square Σ(x−x̄)².
func (s *joined) cross() float64  { return s.sxy - s.sx*s.sy/math.Max(s.n, 1) }
func (s *joined) square() float64 { return s.sxx - s.sx*s.sx/math.Max(s.n, 1) }

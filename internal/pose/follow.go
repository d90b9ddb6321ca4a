package pose

import (
	"fmt"
	"math"
	"slices"

	"plumbstride/internal/clip"
)

// Steps of the following, in seconds.
const (
	followEvery = 0.045 // between looks at each person
	searchEvery = 0.33  // between looks for people not known yet
	mostPeople  = 4     // followed at a time
	mostLean    = 1.05  // rad; what lies flatter than 60° from upright is not taken for a person
)

// follower finds people with the detector and follows each with a light
// landmark network, a look every followEvery. It is sequential: where to look
// next depends on what was seen last.
type follower struct {
	detector, light Session
	anchors         [][2]float64
	sampler         *sampler
	wide, close     *picture
	wideIn, closeIn []float32
	wideTint        palette
	closeTint       palette
	people          []*person
	arrived         []*person // found in the last step
	views           int       // looks for people so far
	lastStep        float64
	lastSearch      float64
	started         bool
}

func newFollower(detector, light Session) *follower {
	return &follower{
		detector: detector, light: light,
		anchors: anchorCentres(), sampler: newSampler(),
		wide: newPicture(detectorSize), close: newPicture(cropSize),
		wideIn: make([]float32, 3*detectorSize*detectorSize), closeIn: make([]float32, 3*cropSize*cropSize),
		wideTint: palette{low: -1, high: 1}, closeTint: palette{low: 0, high: 1},
	}
}

// step looks at a frame if it is time to, and tells whether it did.
func (fo *follower) step(f *clip.Frame) (bool, error) {
	t := f.Time
	if fo.started && t-fo.lastStep < followEvery-1e-6 && t >= fo.lastStep {
		return false, nil
	}
	lost, here := false, 0
	for _, p := range fo.people {
		if !p.away && !p.merged {
			here++
			lost = lost || p.seen < fo.lastStep
		}
	}
	var found []Region
	if !fo.started || here == 0 || lost || t-fo.lastSearch >= searchEvery || t < fo.lastStep {
		var err error
		if found, err = fo.search(f, here == 0); err != nil {
			return false, err
		}
		fo.lastSearch = t
	}
	fo.started, fo.lastStep = true, t
	if err := fo.followAll(f, found); err != nil {
		return false, err
	}
	fo.mergeTwins(t)
	return true, nil
}

// search runs the detector on the whole picture, or, while nobody is known,
// by turns on it and on squares of its short side's size in the middle and at
// the ends, in which a small figure is larger.
func (fo *follower) search(f *clip.Frame, nobody bool) ([]Region, error) {
	square := letterbox(f.Width, f.Height)
	if nobody && fo.started {
		square = searchView(f.Width, f.Height, fo.views)
		fo.views++
	}
	fo.sampler.sample(f, square, fo.wide)
	fo.wideTint.fill(fo.wideIn, fo.wide)
	out, err := fo.detector.Run(fo.wideIn)
	if err != nil {
		return nil, fmt.Errorf("look for people in frame %d: %w", f.Index, err)
	}
	found, err := decodeDetections(fo.anchors, out["boxes"], out["scores"])
	if err != nil {
		return nil, fmt.Errorf("look for people in frame %d: %w", f.Index, err)
	}
	var regions []Region
	for _, d := range found {
		if r := d.region(square); r.Side > 0 && finite(r.Side) && math.Abs(r.Angle) < mostLean {
			regions = append(regions, r)
		}
	}
	return regions, nil
}

// searchView gives the squares searched by turns: whole, middle, whole, one
// end, whole, the other end.
func searchView(w, h, turn int) Region {
	r := letterbox(w, h)
	if turn%2 == 0 {
		return r
	}
	short, long := float64(min(w, h)), float64(max(w, h))
	offset := [3]float64{0, -(long - short) / 2, (long - short) / 2}[turn/2%3]
	r.Side = short
	if w >= h {
		r.X += offset
	} else {
		r.Y += offset
	}
	return r
}

// look runs the light network in a region.
func (fo *follower) look(f *clip.Frame, r Region) (body, error) {
	fo.sampler.sample(f, r, fo.close)
	fo.closeTint.fill(fo.closeIn, fo.close)
	out, err := fo.light.Run(fo.closeIn)
	if err != nil {
		return body{}, fmt.Errorf("follow the runner in frame %d: %w", f.Index, err)
	}
	b, err := decodeBody(out, mapLooks)
	if err != nil {
		return body{}, fmt.Errorf("follow the runner in frame %d: %w", f.Index, err)
	}
	return b, nil
}

// seek looks for a body in a region and gives the region around it, None
// where nobody is there.
func (fo *follower) seek(f *clip.Frame, r Region) (Region, body, error) {
	b, err := fo.look(f, r)
	if err != nil || b.presence < presentAbove {
		return Region{}, b, err
	}
	next := b.next(r, bodyFactor)
	if !finite(next.Side) || next.Side < 8 {
		return Region{}, b, nil
	}
	return next, b, nil
}

// followAll looks at everybody where they are expected, finds the lost among
// the detections, and makes the detections left over new people.
func (fo *follower) followAll(f *clip.Frame, found []Region) error {
	t := f.Time
	expected := make([]Region, len(fo.people))
	for i, p := range fo.people {
		expected[i] = p.expect(t)
	}
	used := make([]bool, len(found))
	for i, p := range fo.people {
		if p.merged || p.away {
			continue
		}
		contested := fo.contested(i, expected)
		if err := fo.followOne(f, i, expected, contested, found, used); err != nil {
			return err
		}
	}
	// Where people are now, so that nobody is found twice.
	for i, r := range found {
		for _, p := range fo.people {
			if !used[i] && !p.away && !p.merged && r.fits(p.keys[len(p.keys)-1].region, 0.25, 1.6) {
				used[i] = true
			}
		}
	}
	return fo.welcome(f, found, used)
}

// contested tells whether another person who is being followed is expected
// in the way of person i.
func (fo *follower) contested(i int, expected []Region) bool {
	for j, other := range fo.people {
		if j == i || other.away || other.merged || other.steps < confirmSteps {
			continue
		}
		size := math.Max(expected[i].Side, expected[j].Side)
		if math.Abs(expected[i].X-expected[j].X) < contestWidth*size &&
			math.Abs(expected[i].Y-expected[j].Y) < 0.5*size {
			return true
		}
	}
	return false
}

// followOne looks for a person where they are expected; failing that, among
// the detections near it; failing that, the person coasts.
func (fo *follower) followOne(f *clip.Frame, i int, expected []Region, contested bool, found []Region, used []bool) error {
	p, e := fo.people[i], expected[i]
	// The longer unseen, the wider the net.
	unseen := math.Max(0, f.Time-p.seen-followEvery)
	reach, sizes := math.Min(freeStep+0.3*unseen, 0.5), 1.45
	if contested {
		reach, sizes = contestedStep+0.05*unseen, 1.2
	}
	try := func(at Region) (bool, error) {
		r, b, err := fo.seek(f, at)
		if err != nil || r.None() || !r.fits(e, reach, sizes) || fo.others(i, expected, r) {
			return false, err
		}
		p.note(f.Time, r, &b, at, !contested, f.Width, f.Height)
		return true, nil
	}
	if ok, err := try(e); ok || err != nil {
		return err
	}
	for k, d := range found {
		if used[k] || !d.fits(e, reach, 1.4) {
			continue
		}
		ok, err := try(d)
		if ok || err != nil {
			used[k] = ok
			return err
		}
	}
	p.coast(f.Time, e, contested)
	return nil
}

// others tells whether a region is rather that of somebody else who is being
// seen: theirs is much nearer to it than person i's.
func (fo *follower) others(i int, expected []Region, r Region) bool {
	mine := math.Hypot(r.X-expected[i].X, r.Y-expected[i].Y)
	for j, q := range fo.people {
		if j == i || q.away || q.merged || q.keys[len(q.keys)-1].weight < 1 {
			continue
		}
		theirs := math.Hypot(r.X-expected[j].X, r.Y-expected[j].Y)
		if mine > 0.04*r.Side && theirs < mine/2 && r.fits(expected[j], sameWidth, 1.3) {
			return true
		}
	}
	return false
}

// welcome takes each detection that belongs to nobody being followed: it is
// somebody who was away, or somebody new.
func (fo *follower) welcome(f *clip.Frame, found []Region, used []bool) error {
	for i, d := range found {
		if used[i] {
			continue
		}
		r, b, err := fo.seek(f, d)
		if err != nil {
			return err
		}
		if r.None() || math.Abs(r.Angle) > mostLean || !r.fits(d, 0.3, 1.6) || fo.taken(r) {
			continue
		}
		p := fo.returning(f.Time, r)
		if p == nil {
			if fo.crowd() >= mostPeople {
				continue
			}
			p = &person{id: len(fo.people), first: f.Time, seen: f.Time, shadowed: map[int]float64{}}
			fo.people = append(fo.people, p)
		}
		p.note(f.Time, r, &b, d, true, f.Width, f.Height)
		fo.arrived = append(fo.arrived, p)
	}
	return nil
}

// lookBack follows those who have just arrived backwards through the frames
// before the one in which they were found, as far as these are still there.
func (fo *follower) lookBack(earlier []*clip.Frame) error {
	for _, p := range fo.arrived {
		n := len(p.keys) - 1
		ahead := []keyframe{p.keys[n]} // from here back in time
		for i := len(earlier) - 1; i >= 0; i-- {
			f, last := earlier[i], ahead[len(ahead)-1]
			if last.time-f.Time < followEvery-1e-6 || n > 0 && f.Time <= p.keys[n-1].time {
				continue
			}
			r, _, err := fo.seek(f, last.region)
			if err != nil {
				return err
			}
			if r.None() || !r.fits(last.region, freeStep, 1.45) {
				break
			}
			ahead = append(ahead, keyframe{time: f.Time, region: r, weight: 1, free: true})
		}
		slices.Reverse(ahead)
		p.keys = append(p.keys[:n], ahead...)
		p.first = math.Min(p.first, ahead[0].time)
	}
	fo.arrived = fo.arrived[:0]
	return nil
}

// taken tells whether somebody being followed is in that very place.
func (fo *follower) taken(r Region) bool {
	for _, p := range fo.people {
		if !p.away && !p.merged && r.fits(p.keys[len(p.keys)-1].region, sameWidth, 1.3) {
			return true
		}
	}
	return false
}

func (fo *follower) crowd() int {
	n := 0
	for _, p := range fo.people {
		if !p.away && !p.merged {
			n++
		}
	}
	return n
}

// returning gives the person away who may have come back in a region: of
// about the same size, where they were last seen or where they were heading.
func (fo *follower) returning(t float64, r Region) *person {
	var best *person
	nearest := math.Inf(1)
	for _, p := range fo.people {
		if !p.away || p.merged {
			continue
		}
		for _, e := range []Region{p.keys[len(p.keys)-1].region, p.expect(math.Min(t, p.seen+1))} {
			d := math.Hypot(r.X-e.X, r.Y-e.Y) / e.Side
			if r.fits(e, rejoinWidth, 1.4) && d < nearest {
				nearest, best = d, p
			}
		}
	}
	return best
}

// mergeTwins ends the younger of two followed persons who have been on one
// spot for sameSpan: it is one body.
func (fo *follower) mergeTwins(t float64) {
	for i, a := range fo.people {
		for _, b := range fo.people[i+1:] {
			if a.away || b.away || a.merged || b.merged {
				continue
			}
			ra, rb := a.keys[len(a.keys)-1].region, b.keys[len(b.keys)-1].region
			if !rb.fits(ra, sameWidth, 1.25) {
				delete(a.shadowed, b.id)
				continue
			}
			since, ok := a.shadowed[b.id]
			if !ok {
				a.shadowed[b.id] = t
			} else if t-since > sameSpan {
				b.merged = true
			}
		}
	}
}

// Package pose takes frames from clip and networks from infer, and gives the
// runner's key points to track: one form.Track in shown pixels, with the
// networks' confidence.
//
// The way from frame to key points, in reading order: follow.go finds people
// and follows each (detect.go, landmark.go, person.go), runner.go chooses the
// runner, sample.go and colour.go cut the square around them out of each
// frame, measure.go runs the measuring network on the squares in several
// sessions beside the decoder, and sides.go keeps left and right leg apart.
package pose

import (
	"context"
	"errors"
	"fmt"
	"io"
	"runtime"
	"sort"

	"plumbstride/internal/clip"
	"plumbstride/internal/form"
)

// Session runs one network, one picture at a time. It is not for concurrent
// use. The slices it gives are valid until the next Run.
type Session interface {
	Run(image []float32) (map[string][]float32, error)
	Close() error
}

// Networks opens sessions by name: "detector", "lite", "full", "heavy", "legs".
// Open may be called from several goroutines at a time.
type Networks interface {
	Open(name string) (Session, error)
}

// Source gives the frames of a clip in order, io.EOF after the last, and
// takes each back when it is done with.
type Source interface {
	Next() (*clip.Frame, error)
	Recycle(*clip.Frame)
}

// Options choose the networks and bound the work. The zero value is usual.
type Options struct {
	Follow  string // network that follows people; "" is "lite"
	Measure string // network that measures the runner; "" is "full"
	// Refine names the network that looks again at chosen frames; Refine
	// uses it, Find does not.
	Refine string
	// Twice has the measuring network (of Find) or the refining one (of
	// Refine) look at each picture and at its mirror image, and joins the two:
	// twice the work, hardly any exchanged legs, and offsets that vary less
	// between clips.
	Twice bool
	// Legs has our own network look at the legs of each frame, where the view
	// is from the side: hips, knees, ankles, heels and toes are then its.
	Legs bool
	// Sessions is the number of measuring sessions at work side by side, each
	// on one thread; 0 is one for each processor core.
	Sessions int
	// KeepBytes is the memory for crops; 0 is 120 MiB (1,280 frames).
	KeepBytes int
	// Progress, if set, is told how many frames have been read, in order, from
	// the goroutine that called Find.
	Progress func(done int)
}

func (o Options) withDefaults() Options {
	if o.Follow == "" {
		o.Follow = "lite"
	}
	if o.Measure == "" {
		o.Measure = "full"
	}
	if o.Refine == "" {
		o.Refine = "heavy"
	}
	if o.Sessions <= 0 {
		o.Sessions = runtime.NumCPU()
	}
	if o.KeepBytes <= 0 {
		o.KeepBytes = 120 << 20
	}
	return o
}

// Result is what Find made of a clip. All slices have one entry a frame.
type Result struct {
	// Track is the runner, in shown pixels, every frame in order; spots not
	// seen have confidence 0.
	Track form.Track
	// Net names the network that found each frame's points; "" where none did.
	Net []string
	// Depth is each joint's x, y, z in metres about the mid-hip, along the
	// picture's axes, z away from the camera; zeros where not known. The
	// networks guess it from the look of the body: good for the yaw, no more.
	Depth [][form.NumJoints][3]float64
	// Regions is the square looked at; None where no person was followed.
	Regions []Region
	// Persons counts the people followed for a while.
	Persons int
	// NoPersonFrames counts the frames without the runner.
	NoPersonFrames int
	// CutOff tells how much of the runner lay outside the picture.
	CutOff CutOff
	// LookedTwice counts the frames in which the legs were in doubt, so that
	// the mirror image was looked at as well.
	LookedTwice int
	// LegFrames counts the frames in which the legs are the leg network's.
	LegFrames int
	// Repair tells how far the legs had to be exchanged back.
	Repair Repair

	// Index is each entry's place in the clip (clip.Frame.Index).
	Index []int

	crops []*Crop    // by entry, nil where there is none
	raw   form.Track // before the repair of the sides
}

// frameMark is what is kept of a frame itself.
type frameMark struct {
	index int
	time  float64
}

// finder is one run of Find.
type finder struct {
	opts    Options
	src     Source
	follow  *follower
	team    *team
	store   store
	cut     *sampler
	marks   []frameMark
	pending []*clip.Frame // read, and waiting for the following to run ahead
	lead    *person
	width   int // of the frames
	height  int
	scale   float64
}

// mostPending bounds the frames held back for the look-ahead.
const mostPending = 14

// Find reads all frames and gives the runner's key points. total is the
// number of frames expected, or 0; it only saves memory being moved. A clip
// in which nobody is found is a form.Error.
func Find(ctx context.Context, nets Networks, src Source, total int, o Options) (*Result, error) {
	o = o.withDefaults()
	detector, err := nets.Open("detector")
	if err != nil {
		return nil, fmt.Errorf("open the detector: %w", err)
	}
	defer detector.Close()
	light, err := nets.Open(o.Follow)
	if err != nil {
		return nil, fmt.Errorf("open the network %s: %w", o.Follow, err)
	}
	defer light.Close()
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	fi := &finder{
		opts: o, src: src, follow: newFollower(detector, light),
		team: newTeam(ctx, nets, o.Measure, o), store: store{limit: o.KeepBytes},
		cut: newSampler(), marks: make([]frameMark, 0, max(0, total)),
	}
	defer fi.team.close()
	if err := fi.readAll(ctx); err != nil {
		return nil, err
	}
	if len(fi.marks) == 0 {
		return nil, form.ClipError("the clip has no pictures")
	}
	if err := fi.team.wait(); err != nil {
		return nil, err
	}
	runner := chooseRunner(fi.follow.people, fi.lead)
	if runner == nil {
		return nil, form.ClipError("nobody was found in the clip: film one runner from the side, whole body in the picture, in good light")
	}
	// Usually the runner has been the lead all along and nothing is left.
	for _, c := range runner.crops {
		if c.seen == nil && c.pic != nil {
			fi.team.measure(c)
		}
	}
	if err := fi.team.wait(); err != nil {
		return nil, err
	}
	r := fi.result(runner)
	if o.Twice {
		return r, nil
	}
	// Where the legs are in doubt, the mirror image is looked at as well.
	for i, doubt := range doubtful(r.raw) {
		if c := r.crops[i]; doubt && c != nil && c.Kept() && c.seen != nil && !c.hidden {
			fi.team.measureAgain(c)
			r.LookedTwice++
		}
	}
	if err := fi.team.wait(); err != nil {
		return nil, err
	}
	r.assemble()
	return r, nil
}

// readAll takes the frames in order: follow, and once the following is ahead
// of a frame, cut the people out of it and hand the lead's crop on.
func (fi *finder) readAll(ctx context.Context) error {
	defer func() {
		for _, f := range fi.pending {
			fi.src.Recycle(f)
		}
	}()
	for {
		if err := context.Cause(ctx); err != nil {
			return err
		}
		if err := fi.team.failed(); err != nil {
			return err
		}
		f, err := fi.src.Next()
		if errors.Is(err, io.EOF) {
			return fi.release(len(fi.pending))
		}
		if err != nil {
			return err
		}
		if len(fi.marks) == 0 {
			fi.width, fi.height, fi.scale = f.Width, f.Height, f.Scale
		}
		fi.marks = append(fi.marks, frameMark{index: f.Index, time: f.Time})
		fi.pending = append(fi.pending, f)
		if _, err := fi.follow.step(f); err != nil {
			return err
		}
		if err := fi.follow.lookBack(fi.pending[:len(fi.pending)-1]); err != nil {
			return err
		}
		fi.lead = chooseRunner(fi.follow.people, fi.lead)
		ready := 0
		for ready < len(fi.pending) &&
			(fi.pending[ready].Time <= f.Time-lookAhead || len(fi.pending)-ready > mostPending) {
			ready++
		}
		if err := fi.release(ready); err != nil {
			return err
		}
		if fi.opts.Progress != nil {
			fi.opts.Progress(len(fi.marks))
		}
	}
}

// release cuts the people out of the first n frames held back and gives the
// frames back to the source.
func (fi *finder) release(n int) error {
	first := len(fi.marks) - len(fi.pending)
	for i, f := range fi.pending[:n] {
		for _, p := range fi.follow.people {
			fi.cutOut(f, first+i, p)
		}
		fi.src.Recycle(f)
	}
	fi.pending = append(fi.pending[:0], fi.pending[n:]...)
	return fi.settle()
}

// cutOut keeps a person's crop of a frame and has it measured if the person
// is the lead.
func (fi *finder) cutOut(f *clip.Frame, entry int, p *person) {
	if p.settled || p.merged {
		return
	}
	r := p.regionAt(f.Time)
	if r.None() {
		return
	}
	r.Side *= measureFactor / bodyFactor
	pic := newPicture(cropSize)
	keep := fi.store.makeRoom(pic.bytes(), fi.follow.people, fi.lead)
	if p != fi.lead && !keep {
		return
	}
	fi.cut.sample(f, r, pic)
	c := &Crop{Frame: entry, Region: r.Scaled(f.Scale), scale: f.Scale, pic: pic}
	if fi.opts.Legs && p == fi.lead {
		c.low = cutLow(fi.cut, f, r)
	}
	fi.store.add(c)
	p.crops = append(p.crops, c)
	if p == fi.lead {
		fi.team.measure(c)
		if !keep {
			fi.store.drop(c) // the team holds the picture until it is measured
		}
	}
}

// settleAfter and settleRatio: who has been followed for so long and scored
// so much less than the lead is not the runner; common practice, no source.
const (
	settleAfter = 2.0 // s
	settleRatio = 3.0
)

// settle lets go of the crops of people who are not the runner beyond doubt.
func (fi *finder) settle() error {
	if fi.lead == nil || fi.lead.seen-fi.lead.first < settleAfter {
		return nil
	}
	for _, p := range fi.follow.people {
		if p == fi.lead || p.settled || p.score*settleRatio > fi.lead.score {
			continue
		}
		if p.seen-p.first < settleAfter && !p.away && !p.merged {
			continue
		}
		p.settled = !p.away // who comes back is looked at again
		for _, c := range p.crops {
			fi.store.drop(c)
		}
	}
	return nil
}

// result puts the runner's crops in the order of the frames.
func (fi *finder) result(runner *person) *Result {
	n := len(fi.marks)
	r := &Result{
		Net: make([]string, n), Depth: make([][form.NumJoints][3]float64, n), Regions: make([]Region, n),
		Index: make([]int, n), crops: make([]*Crop, n),
	}
	r.raw = form.Track{
		Width:   int(float64(fi.width)*fi.scale + 0.5),
		Height:  int(float64(fi.height)*fi.scale + 0.5),
		Network: fi.opts.Measure, Frames: make([]form.Frame, n),
	}
	for i, m := range fi.marks {
		r.Index[i] = m.index
		r.raw.Frames[i].Time = m.time
	}
	r.raw.RateHz = rate(fi.marks)
	for _, c := range runner.crops {
		r.crops[c.Frame] = c
		r.Regions[c.Frame] = c.Region
	}
	for _, p := range fi.follow.people {
		if !p.merged && p.steps >= confirmSteps {
			r.Persons++
		}
	}
	hideOthers(r.crops, runner, fi.follow.people, r.raw.Frames)
	r.assemble()
	return r
}

// assemble makes the track from the crops.
func (r *Result) assemble() {
	r.NoPersonFrames, r.LegFrames = 0, 0
	legs := legsCount(r.crops)
	for i, c := range r.crops {
		time := r.raw.Frames[i].Time
		r.raw.Frames[i] = form.Frame{Time: time}
		r.Net[i] = ""
		if c != nil && !c.hidden {
			r.raw.Frames[i] = c.frame(time)
			r.Depth[i] = c.depth()
			switch {
			case !legs:
			case c.placeLegs(&r.raw.Frames[i]):
				r.LegFrames++
			default:
				dropLegs(&r.raw.Frames[i])
			}
		}
		if r.raw.Frames[i].Spots[0].Seen() {
			r.Net[i] = c.net
		} else {
			r.NoPersonFrames++
		}
	}
	states := legStates(r.raw)
	r.Track = r.raw
	r.Track.Frames = append([]form.Frame(nil), r.raw.Frames...)
	r.Repair = exchangeLegs(r.Track.Frames, states)
	for i := range r.Depth {
		exchangeJoints(&r.Depth[i], states[i])
	}
	r.CutOff = cutOff(r.Track)
}

// rate is the usual number of frames a second: one over the median step.
func rate(marks []frameMark) float64 {
	var steps []float64
	for i := 1; i < len(marks); i++ {
		steps = append(steps, marks[i].time-marks[i-1].time)
	}
	sort.Float64s(steps)
	if len(steps) == 0 || steps[len(steps)/2] <= 0 {
		return 0
	}
	return 1 / steps[len(steps)/2]
}

package pose

import (
	"context"
	"fmt"
	"sync"
)

// team runs one network on crops in several sessions side by side. Each
// session is opened by the goroutine that uses it.
type team struct {
	ctx    context.Context
	twice  bool // look at each picture and its mirror image
	legs   bool // and at the legs, where their part of the frame is there
	jobs   chan job
	done   sync.WaitGroup // workers
	open   sync.WaitGroup // jobs not finished
	closed bool

	mu  sync.Mutex
	err error
}

// job carries the picture along, so that the crop may let go of it.
type job struct {
	crop  *Crop
	pic   *picture
	again bool // the mirror image alone, to be joined to what was seen
}

func newTeam(ctx context.Context, nets Networks, network string, o Options) *team {
	sessions := o.Sessions
	t := &team{ctx: ctx, twice: o.Twice, legs: o.Legs, jobs: make(chan job, 4*sessions)}
	for range sessions {
		t.done.Add(1)
		go func() {
			defer t.done.Done()
			t.work(nets, network)
		}()
	}
	return t
}

// measure hands a crop to the team; it waits while all are busy. The crop's
// seen and net may be read after wait.
func (t *team) measure(c *Crop) {
	t.hand(job{crop: c, pic: c.pic})
}

// measureAgain has the mirror image of a measured crop looked at as well.
func (t *team) measureAgain(c *Crop) {
	t.hand(job{crop: c, pic: c.pic, again: true})
}

func (t *team) hand(j job) {
	t.open.Add(1)
	t.jobs <- j
}

// wait gives the first error once all crops handed over are measured.
func (t *team) wait() error {
	t.open.Wait()
	return t.failed()
}

// close ends the team; crops not begun are left unmeasured if the context has
// ended.
func (t *team) close() {
	if !t.closed {
		t.closed = true
		close(t.jobs)
	}
	t.done.Wait()
}

func (t *team) failed() error {
	t.mu.Lock()
	defer t.mu.Unlock()
	return t.err
}

func (t *team) fail(err error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.err == nil {
		t.err = err
	}
}

// work opens a session and measures until there are no more jobs. After an
// error, jobs are taken and left undone so that nobody waits for ever.
func (t *team) work(nets Networks, network string) {
	session, err := nets.Open(network)
	if err != nil {
		t.fail(fmt.Errorf("open the network %s: %w", network, err))
	} else {
		defer session.Close()
	}
	input := make([]float32, 3*cropSize*cropSize)
	tint := palette{low: 0, high: 1}
	var below *legSession
	if t.legs && t.failed() == nil {
		if below, err = openLegs(nets); err != nil {
			t.fail(err)
		} else {
			defer below.close()
		}
	}
	for j := range t.jobs {
		if t.failed() == nil && t.ctx.Err() != nil {
			t.fail(context.Cause(t.ctx))
		}
		if t.failed() == nil {
			err := j.run(session, network, input, &tint, t.twice)
			if err == nil && below != nil {
				err = below.look(j.crop)
			}
			if err != nil {
				t.fail(err)
			}
		}
		t.open.Done()
	}
}

func (j job) run(session Session, network string, input []float32, tint *palette, twice bool) error {
	tint.fill(input, j.pic)
	var b body
	var err error
	if j.again {
		b = *j.crop.seen
	} else {
		b, err = lookAt(session, input)
	}
	if err == nil && (twice || j.again) {
		var other body
		mirror(input)
		if other, err = lookAt(session, input); err == nil {
			b = join(b, other.mirrored())
		}
	}
	if err != nil {
		return fmt.Errorf("measure frame %d: %w", j.crop.Frame, err)
	}
	j.crop.seen, j.crop.net = &b, network
	return nil
}

func lookAt(session Session, input []float32) (body, error) {
	out, err := session.Run(input)
	if err != nil {
		return body{}, err
	}
	return decodeBody(out, mapLooks)
}

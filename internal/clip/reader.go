package clip

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"sort"
	"strings"
	"sync"
	"time"

	"plumbstride/internal/form"
)

// Options is what part of a clip is read, and how.
type Options struct {
	// MaxSide is the longest side of the delivered pictures, pixels; 0
	// leaves them as they are. Pictures are never enlarged.
	MaxSide int
	// Start and End choose the pictures with Start ≤ time ≤ End, s on the
	// scale of Info.Times; End 0 is the clip's end.
	Start, End float64
	// Every reads each n-th of those, beginning with the first; 0 and 1
	// read all.
	Every int
	// Threads is how many threads decode; 0 leaves it to ffmpeg.
	Threads int
	// Silence is how long the decoder may keep silent while it is waited
	// for: 60 s if 0.
	Silence time.Duration
}

// Read is what a Reader has done so far.
type Read struct {
	Frames     int           // pictures delivered
	Skipped    int           // pictures before the last delivered one that the decoder left out
	Complaints int           // lines in which the decoder reported damage
	First      string        // the first of them
	CPU        time.Duration // processor time of the decoder, once it has ended
}

// Reader gives a clip's pictures in order. Next is for one goroutine; Recycle,
// Read and Close may be called from any.
type Reader struct {
	info   *Info
	name   string
	tools  Tools
	proto  Frame // size, scale and colour of every picture
	order  order
	cancel context.CancelCauseFunc
	frames chan *Frame
	free   chan []byte
	pumped chan struct{} // closed when the pump has ended

	mu   sync.Mutex
	read Read
	end  error // why there are no more frames; io.EOF when all is well
}

// readAhead is how many bytes of pictures are held ready.
const readAhead = 24 << 20

var errClosed = errors.New("clip: the reader is closed")

// Open starts decoding. Errors are form.Errors unless the context has ended.
func Open(ctx context.Context, tools Tools, info *Info, o Options) (*Reader, error) {
	if info == nil || info.path == "" || len(info.line.ticks) == 0 {
		panic("clip: Open wants an Info made by Probe")
	}
	r := &Reader{info: info, tools: tools, name: printable(filepath.Base(info.File), 80), pumped: make(chan struct{})}
	r.order = order{want: selection(info.Times, o), threads: o.Threads, silence: o.Silence}
	if r.order.silence <= 0 {
		r.order.silence = time.Minute
	}
	if len(r.order.want) == 0 {
		return nil, form.ClipError("%s has no picture between %.2f s and %.2f s", r.name, o.Start, o.End)
	}
	r.order.chain = func(m mark) string { return r.filters(m, o.Every) }
	r.proto = Frame{Full: info.full, BT709: info.bt709}
	r.proto.Width, r.proto.Height, r.proto.Scale = delivered(info.Width, info.Height, o.MaxSide)
	size := frameBytes(r.proto.Width, r.proto.Height)
	ahead := min(32, max(2, readAhead/size))
	r.frames, r.free = make(chan *Frame, ahead), make(chan []byte, ahead+16)

	ctx, r.cancel = context.WithCancelCause(ctx)
	seek := info.seekable(r.order.want[0])
	d, err := info.decode(ctx, tools, r.order, seek)
	if err != nil {
		r.cancel(err)
		return nil, err
	}
	go r.pump(ctx, d, seek, size)
	return r, nil
}

// selection lists the indices that the options ask for.
func selection(times []float64, o Options) []int {
	const slack = 1e-6
	end := o.End
	if end == 0 {
		end = math.Inf(1)
	}
	every := max(1, o.Every)
	var want []int
	for k := sort.SearchFloat64s(times, o.Start-slack); k < len(times) && times[k] <= end+slack; k += every {
		want = append(want, k)
	}
	return want
}

// filters is the chain from the decoder to the pipe.
func (r *Reader) filters(name mark, every int) string {
	var chain []string
	if want := r.order.want; len(want) < len(r.info.Times) {
		chain = append(chain, r.info.selectRange(want[0], want[len(want)-1]))
		if every > 1 {
			chain = append(chain, fmt.Sprintf("select=not(mod(n\\,%d))", every))
		}
	}
	chain = append(append(chain, name.filter()), r.info.toneFilters()...)
	w, h := r.proto.Width, r.proto.Height
	if r.info.turn.swaps() {
		w, h = h, w
	}
	pixels := "yuv420p"
	if r.info.full {
		pixels = "yuvj420p"
	}
	scale := fmt.Sprintf("scale=w=%d:h=%d:%s:out_range=%s:flags=bilinear", w, h, r.info.fromStored(), r.info.span())
	if r.info.rgb() {
		scale += "+accurate_rnd+full_chroma_inp:out_color_matrix=" + r.info.matrix()
	}
	chain = append(chain, scale, "format="+pixels)
	return strings.Join(append(chain, r.info.turn.filters()...), ",")
}

// selectRange keeps the pictures first…last, by time or, where the file has
// none, by count.
func (i *Info) selectRange(first, last int) string {
	if i.line.byOrder {
		return fmt.Sprintf("select=between(n\\,%d\\,%d)", first, last)
	}
	return fmt.Sprintf("select=between(pts\\,%d\\,%d)", i.line.ticks[first], i.line.ticks[last])
}

// pump reads whole pictures and hands them on. If the file could not be
// entered half-way, so that the first picture is missing, it begins again at
// the file's beginning.
func (r *Reader) pump(ctx context.Context, d *decoder, seek bool, size int) {
	defer close(r.pumped)
	defer close(r.frames)
	last, err := r.drain(ctx, d, seek, size)
	if errors.Is(err, errLanded) {
		_ = d.end(err)
		if d, err = r.info.decode(ctx, r.tools, r.order, false); err != nil {
			r.stop(err)
			return
		}
		last, err = r.drain(ctx, d, false, size)
	}
	r.finish(ctx, d, err, last)
}

var errEnough = errors.New("clip: the last picture wanted has come")

// errLanded: the decoder began after the first picture wanted.
var errLanded = errors.New("clip: the file could not be entered half-way")

// drain hands on the pictures of one decoder, and gives the index of the last
// one and why there are no more.
func (r *Reader) drain(ctx context.Context, d *decoder, seek bool, size int) (last int, err error) {
	last = -1
	want := r.order.want
	for count, next := 0, 0; last < want[len(want)-1]; count++ {
		f := r.proto
		f.planes(r.buffer(size))
		f.Index, err = d.picture(f.buf, want, count)
		if seek && count == 0 && (err != nil || f.Index > want[0]) {
			return last, errLanded
		}
		if err != nil {
			return last, err
		}
		if f.Index <= last {
			r.Recycle(&f) // a second picture for the same time
			continue
		}
		last, f.Time = f.Index, r.info.Times[f.Index]
		place := sort.SearchInts(want, last)
		r.skipped(place - next)
		next = place + 1
		select {
		case r.frames <- &f:
		case <-ctx.Done():
			return last, context.Cause(ctx)
		}
	}
	if last < len(r.info.Times)-1 {
		return last, errEnough // what follows is not wanted
	}
	return last, nil
}

// finish ends the child and says why there are no more pictures.
func (r *Reader) finish(ctx context.Context, d *decoder, err error, last int) {
	ended := d.end(err)
	r.mu.Lock()
	r.read.CPU, r.read.Complaints = d.child.cpu(), d.said.count
	if d.said.count > 0 {
		r.read.First = d.said.first()
	}
	r.mu.Unlock()
	r.stop(r.verdict(ctx, d, err, ended, last))
}

// stop sets what Next gives after the last picture.
func (r *Reader) stop(why error) {
	r.mu.Lock()
	r.end = why
	r.mu.Unlock()
	r.cancel(why)
}

func (r *Reader) skipped(n int) {
	r.mu.Lock()
	r.read.Skipped += n
	r.mu.Unlock()
}

// tailSlack is how much of a clip's end may be missing without a word, s.
const tailSlack = 0.25

// verdict is io.EOF when all that was asked for has come.
func (r *Reader) verdict(ctx context.Context, d *decoder, err, ended error, last int) error {
	final := r.order.want[len(r.order.want)-1]
	switch {
	case last == final:
		return io.EOF
	case ctx.Err() != nil:
		return context.Cause(ctx)
	case errors.Is(err, errResized):
		return form.ClipError("the pictures of %s change their size after %s; export it again from the phone", r.name, r.at(last))
	case errors.Is(err, errNoStamp), errors.Is(err, errForeign):
		return because(err, "%s can't be read after %s: its times do not fit its pictures; export it again from the phone", r.name, r.at(last))
	case errors.Is(ended, errSilent):
		return form.ClipError("%s can't be read after %s: the decoder gave no picture for %s", r.name, r.at(last), r.order.silence)
	case last < 0:
		return because(ended, "no picture of %s can be decoded: %s", r.name, d.said.words())
	case ended != nil:
		return because(ended, "decoding %s broke off after %s: %s", r.name, r.at(last), d.said.words())
	case r.info.Times[final]-r.info.Times[last] > tailSlack:
		return form.ClipError("%s can be decoded only up to %s: the rest is damaged or missing; cut it there or copy it again from the phone", r.name, r.at(last))
	}
	return io.EOF
}

// at is a place in the clip for people.
func (r *Reader) at(index int) string {
	if index < 0 {
		return "its beginning"
	}
	return fmt.Sprintf("%.2f s of %.2f s", r.info.Times[index], r.info.DurationS())
}

// Next gives the next picture; io.EOF after the last one. Give it back with
// Recycle when done with it. A decoder that breaks off half-way gives a
// form.Error after the last whole picture.
func (r *Reader) Next() (*Frame, error) {
	f, ok := <-r.frames
	r.mu.Lock()
	defer r.mu.Unlock()
	if !ok {
		return nil, r.end
	}
	r.read.Frames++
	return f, nil
}

// Recycle gives a Frame's planes back; they must not be used any more.
func (r *Reader) Recycle(f *Frame) {
	if f == nil || f.buf == nil {
		return
	}
	buf := f.buf
	f.buf, f.Y, f.Cb, f.Cr = nil, nil, nil, nil
	select {
	case r.free <- buf:
	default:
	}
}

func (r *Reader) buffer(size int) []byte {
	select {
	case buf := <-r.free:
		return buf
	default:
		return make([]byte, size)
	}
}

// Read tells what has been done so far; it is complete after Next has given
// an error or after Close.
func (r *Reader) Read() Read {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.read
}

// Close ends the decoder if it still runs and waits for it.
func (r *Reader) Close() error {
	r.cancel(errClosed)
	<-r.pumped
	return nil
}

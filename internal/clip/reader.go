package clip

import (
	"context"
	"errors"
	"fmt"
	"io"
	"math"
	"path/filepath"
	"sort"
	"strconv"
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

// Reader gives a clip's pictures in order. Next is for one goroutine; Recycle
// and Close may be called from any.
type Reader struct {
	info     *Info
	name     string
	proto    Frame // size, scale and colour of every picture
	want     []int // indices to come, ascending
	child    *child
	silence  time.Duration
	said     complaints // only the listener writes; read after heard
	stamps   chan stamp
	heard    chan struct{} // closed when standard error has ended
	frames   chan *Frame
	quit     chan struct{}
	quitOnce sync.Once
	free     chan []byte
	pumped   chan struct{} // closed when the pump has ended

	mu   sync.Mutex
	read Read
	end  error // why there are no more frames; io.EOF when all is well
}

// readAhead is how many bytes of pictures are held ready.
const readAhead = 24 << 20

// Open starts decoding. Errors are form.Errors unless the context has ended.
func Open(ctx context.Context, tools Tools, info *Info, o Options) (*Reader, error) {
	if info == nil || info.path == "" || len(info.line.ticks) == 0 {
		panic("clip: Open wants an Info made by Probe")
	}
	r := &Reader{
		info: info, name: printable(filepath.Base(info.File), 80), silence: o.Silence,
		want:   selection(info.Times, o),
		stamps: make(chan stamp, 1<<10), heard: make(chan struct{}),
		quit: make(chan struct{}), pumped: make(chan struct{}),
	}
	if r.silence <= 0 {
		r.silence = time.Minute
	}
	if len(r.want) == 0 {
		return nil, form.ClipError("%s has no picture between %.2f s and %.2f s", r.name, o.Start, o.End)
	}
	r.proto = Frame{Full: info.full, BT709: info.bt709}
	r.proto.Width, r.proto.Height, r.proto.Scale = delivered(info.Width, info.Height, o.MaxSide)
	size := frameBytes(r.proto.Width, r.proto.Height)
	ahead := min(32, max(2, readAhead/size))
	r.frames, r.free = make(chan *Frame, ahead), make(chan []byte, ahead+16)

	mark := newMark()
	args := decodeArgs(tools, info, o.Threads, r.want, r.filters(mark, o))
	args = append(args, "-f", "rawvideo", "pipe:1")
	var err error
	r.child, err = spawn(ctx, tools.ffmpeg(), args, childLimits{Memory: memoryLimit(info.codedW * info.codedH)})
	if err != nil {
		return nil, err
	}
	go r.listen(mark)
	go r.pump(ctx, size)
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

// decodeArgs are ffmpeg's arguments up to the output format: one input, one
// filter chain, each decoded picture once, times as in the file.
func decodeArgs(tools Tools, info *Info, threads int, want []int, chain string) []string {
	args := []string{
		"-hide_banner", "-nostdin", "-nostats", "-loglevel", "level+info",
		"-protocol_whitelist", "file,pipe", "-max_pixels", strconv.Itoa(info.maxPixels),
		"-f", info.container.demuxer,
	}
	if threads > 0 {
		args = append(args, "-threads", strconv.Itoa(threads))
	}
	if first := want[0]; first > 0 && !info.line.byOrder && !info.Still {
		// Land on the last whole picture before the first one wanted; what
		// lies between is decoded and not delivered.
		at := (float64(info.line.ticks[first]) - 0.25) * info.tick
		args = append(args, "-seek_timestamp", "1", "-noaccurate_seek", "-ss", strconv.FormatFloat(at, 'f', 6, 64))
	}
	args = append(args, "-noautorotate", "-copyts", "-i", "file:"+info.path,
		"-map", "0:"+strconv.Itoa(info.stream), "-an", "-sn", "-dn", "-vf", chain)
	args = append(args, tools.passthrough()...)
	return append(args, "-frames:v", strconv.Itoa(len(want)))
}

// filters is the chain from the decoder to the pipe.
func (r *Reader) filters(mark mark, o Options) string {
	var chain []string
	if len(r.want) < len(r.info.Times) {
		chain = append(chain, r.info.selectRange(r.want[0], r.want[len(r.want)-1]))
		if o.Every > 1 {
			chain = append(chain, fmt.Sprintf("select=not(mod(n\\,%d))", o.Every))
		}
	}
	chain = append(chain, mark.filter())
	w, h := r.proto.Width, r.proto.Height
	if r.info.turn.swaps() {
		w, h = h, w
	}
	pixels, span := "yuv420p", r.info.span()
	if r.info.full {
		pixels = "yuvj420p"
	}
	scale := fmt.Sprintf("scale=w=%d:h=%d:flags=bilinear:in_range=%s:out_range=%s", w, h, span, span)
	if r.info.rgb() {
		scale += ":out_color_matrix=" + r.info.matrix()
	}
	chain = append(chain, r.info.toneFilters()...)
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

// listen reads the decoder's standard error.
func (r *Reader) listen(mark mark) {
	defer close(r.heard)
	s := stampReader{prefix: mark.prefix(), tick: r.info.tick, said: &r.said}
	readLines(r.child.stderr, func(line string) {
		if st, ok := s.line(line); ok {
			select {
			case r.stamps <- st:
			case <-r.quit:
			}
		}
	})
}

// pump reads whole pictures, joins each with its stamp and hands it on.
func (r *Reader) pump(ctx context.Context, size int) {
	defer close(r.pumped)
	defer close(r.frames)
	watchdog := time.AfterFunc(r.silence, func() { r.child.kill(errSilent) })
	defer watchdog.Stop()
	last, next := -1, 0
	var err error
	for count := 0; err == nil && count < len(r.want); {
		buf := r.buffer(size)
		watchdog.Reset(r.silence)
		if _, err = io.ReadFull(r.child.stdout, buf); err != nil {
			break
		}
		var st stamp
		if st, err = r.stamp(); err != nil {
			break
		}
		watchdog.Stop()
		f := r.proto
		f.planes(buf)
		f.Index, err = r.index(st, count)
		if err != nil {
			break
		}
		count++
		if f.Index <= last {
			r.Recycle(&f) // shown twice at the same time
			continue
		}
		last = f.Index
		place := sort.SearchInts(r.want, last)
		r.skipped(place - next)
		next = place + 1
		f.Time = r.info.Times[f.Index]
		select {
		case r.frames <- &f:
		case <-r.quit:
			err = errClosed
		case <-ctx.Done():
			err = context.Cause(ctx)
		}
	}
	watchdog.Stop()
	r.finish(ctx, err, last)
}

var (
	errClosed  = errors.New("clip: the reader is closed")
	errNoStamp = errors.New("clip: the decoder wrote a picture without its time")
	errForeign = errors.New("clip: the decoder wrote a picture with a time that no packet has")
	errResized = errors.New("clip: the pictures change their size")
)

// stamp waits for the stamp of a picture that has been read.
func (r *Reader) stamp() (stamp, error) {
	select {
	case st := <-r.stamps:
		return st, nil
	case <-r.heard:
	}
	select { // it may have been the last line
	case st := <-r.stamps:
		return st, nil
	default:
		return stamp{}, errNoStamp
	}
}

// index finds which picture a stamp belongs to.
func (r *Reader) index(st stamp, count int) (int, error) {
	if st.w != r.info.codedW || st.h != r.info.codedH {
		return 0, errResized
	}
	line := r.info.line
	if line.byOrder || !st.timed || len(line.ticks) == 1 {
		return r.want[count], nil
	}
	k, off := line.nearest(st.seconds / r.info.tick)
	if off > 0.5 {
		return 0, errForeign
	}
	return k, nil
}

// finish ends the child and says why there are no more pictures.
func (r *Reader) finish(ctx context.Context, err error, last int) {
	all := last == r.want[len(r.want)-1]
	if err != nil && !errors.Is(err, io.EOF) && !errors.Is(err, io.ErrUnexpectedEOF) {
		r.child.kill(err)
	}
	r.leave()
	ended := r.child.waitFor(5*time.Second, r.heard)
	r.mu.Lock()
	defer r.mu.Unlock()
	r.read.CPU, r.read.Complaints = r.child.cpu(), r.said.count
	if r.said.count > 0 {
		r.read.First = r.said.first()
	}
	r.end = r.verdict(ctx, err, ended, all, last)
}

func (r *Reader) skipped(n int) {
	r.mu.Lock()
	r.read.Skipped += n
	r.mu.Unlock()
}

func (r *Reader) leave() { r.quitOnce.Do(func() { close(r.quit) }) }

// verdict is io.EOF when all that was asked for has come.
func (r *Reader) verdict(ctx context.Context, err, ended error, all bool, last int) error {
	switch {
	case all:
		return io.EOF
	case ctx.Err() != nil:
		return context.Cause(ctx)
	case errors.Is(err, errClosed):
		return errClosed
	case errors.Is(err, errResized):
		return form.ClipError("the pictures of %s change their size after %s; export it again from the phone", r.name, r.at(last))
	case errors.Is(err, errNoStamp), errors.Is(err, errForeign):
		return form.ClipError("%s can't be read after %s: its times do not fit its pictures; export it again from the phone (%w)", r.name, r.at(last), err)
	case errors.Is(ended, errSilent):
		return form.ClipError("%s can't be read after %s: the decoder gave no picture for %s", r.name, r.at(last), r.silence)
	case last < 0:
		return form.ClipError("no picture of %s can be decoded: %s", r.name, r.said.words())
	case ended != nil:
		return form.ClipError("decoding %s broke off after %s: %s", r.name, r.at(last), r.said.words())
	case r.info.Times[r.want[len(r.want)-1]]-r.info.Times[last] > 0.25:
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
	r.leave()
	r.child.kill(errClosed)
	<-r.pumped
	return nil
}

package clip

import (
	"context"
	"errors"
	"io"
	"strconv"
	"sync"
	"time"
)

// decoder is one run of ffmpeg that writes raw pictures to a pipe and tells
// the time of each.
type decoder struct {
	info     *Info
	child    *child
	watchdog *time.Timer
	silence  time.Duration
	said     complaints // only the listener writes; read after heard
	stamps   chan stamp
	heard    chan struct{} // closed when standard error has ended
	left     chan struct{} // closed when nobody wants stamps any more
	leave    func()
}

// order is what a decoder is to do: which pictures, and the filters that
// keep and shape them, given the mark that reports each.
type order struct {
	want    []int
	threads int
	silence time.Duration
	chain   func(mark) string
}

// decode starts a decoder; with seek it enters the file near the first
// picture wanted, without it at the beginning.
func (i *Info) decode(ctx context.Context, tools Tools, o order, seek bool) (*decoder, error) {
	name := newMark()
	c, err := spawn(ctx, tools.ffmpeg(), i.decodeArgs(tools, o, seek, o.chain(name)),
		childLimits{Memory: memoryLimit(i.codedW * i.codedH)})
	if err != nil {
		return nil, err
	}
	d := &decoder{
		info: i, child: c, silence: o.silence,
		stamps: make(chan stamp, 1<<10), heard: make(chan struct{}), left: make(chan struct{}),
	}
	d.leave = sync.OnceFunc(func() { close(d.left) })
	d.watchdog = time.AfterFunc(o.silence, func() { c.kill(errSilent) })
	go d.listen(name)
	return d, nil
}

// decodeArgs are ffmpeg's arguments: one input with a named demuxer, one
// filter chain, each decoded picture once, times as in the file.
func (i *Info) decodeArgs(tools Tools, o order, seek bool, chain string) []string {
	args := []string{
		"-hide_banner", "-nostdin", "-nostats", "-loglevel", "level+info",
		"-protocol_whitelist", "file,pipe", "-max_pixels", strconv.Itoa(i.maxPixels),
		"-f", i.container.demuxer,
	}
	if o.threads > 0 {
		args = append(args, "-threads", strconv.Itoa(o.threads))
	}
	if seek {
		// Land on the last whole picture before the first one wanted; what
		// lies between is decoded and not delivered.
		at := (float64(i.line.ticks[o.want[0]]) - 0.25) * i.tick
		args = append(args, "-seek_timestamp", "1", "-noaccurate_seek", "-ss", strconv.FormatFloat(at, 'f', 6, 64))
	}
	args = append(args, "-noautorotate", "-copyts", "-i", "file:"+i.path,
		"-map", "0:"+strconv.Itoa(i.stream), "-an", "-sn", "-dn", "-vf", chain)
	args = append(args, tools.passthrough()...)
	return append(args, "-f", "rawvideo", "pipe:1")
}

// seekable tells whether it is worth entering the file half-way. A file
// without presentation times or without an index is read from its beginning.
func (i *Info) seekable(first int) bool {
	return first > 0 && !i.line.byOrder && i.container.demuxer != "mpegts"
}

// listen reads the child's standard error.
func (d *decoder) listen(name mark) {
	defer close(d.heard)
	s := stampReader{prefix: name.prefix(), tick: d.info.tick, said: &d.said}
	readLines(d.child.stderr, func(line string) {
		if st, ok := s.line(line); ok {
			select {
			case d.stamps <- st:
			case <-d.left:
			}
		}
	})
}

var (
	errNoStamp = errors.New("clip: the decoder wrote a picture without its time")
	errForeign = errors.New("clip: the decoder wrote a picture with a time that no packet has")
	errResized = errors.New("clip: the pictures change their size")
)

// picture reads the next whole picture into buf and gives its index: the
// picture whose packet carries the time that the decoder tells. count is how
// many came before, which is all there is to go by in a file without times.
func (d *decoder) picture(buf []byte, want []int, count int) (int, error) {
	d.watchdog.Reset(d.silence)
	defer d.watchdog.Stop()
	if _, err := io.ReadFull(d.child.stdout, buf); err != nil {
		return 0, err
	}
	st, err := d.stamp()
	if err != nil {
		return 0, err
	}
	if st.w != d.info.codedW || st.h != d.info.codedH {
		return 0, errResized
	}
	line := d.info.line
	if line.byOrder || !st.timed || d.info.Still {
		if count >= len(want) {
			return 0, errForeign
		}
		return want[count], nil
	}
	k, off := line.nearest(st.seconds / d.info.tick)
	if off > 0.5 {
		return 0, errForeign
	}
	return k, nil
}

// stamp waits for the stamp of a picture that has been read.
func (d *decoder) stamp() (stamp, error) {
	select {
	case st := <-d.stamps:
		return st, nil
	case <-d.heard:
	}
	select { // it may have been the last line
	case st := <-d.stamps:
		return st, nil
	default:
		return stamp{}, errNoStamp
	}
}

// end waits for the child, kills it if there is a reason to, and tells how it
// ended. What it said is complete after that.
func (d *decoder) end(why error) error {
	d.watchdog.Stop()
	if why != nil && !errors.Is(why, io.EOF) && !errors.Is(why, io.ErrUnexpectedEOF) {
		d.child.kill(why)
	}
	d.leave()
	return d.child.waitFor(5*time.Second, d.heard)
}

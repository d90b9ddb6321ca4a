package pose

import (
	"fmt"
	"io"
	"math"
	"sync/atomic"

	"plumbstride/internal/clip"
	"plumbstride/internal/form"
)

// A stage is an invented clip: each actor is a grey block with two feet,
// painted back to front, and the stage's networks find blocks by their grey.
type stage struct {
	width, height int
	fps           float64
	frames        int
	actors        []actor // the later ones stand in front

	next      int
	out, most int
	opened    atomic.Int32
	closed    atomic.Int32
	failAfter int // runs of the measuring network; 0 never
	runs      atomic.Int32
}

// actor is one person on a stage. Greys lie 40 apart; feet are 20 brighter.
type actor struct {
	grey   byte
	tall   float64                         // px
	at     func(t float64) (x, y float64)  // the block's centre
	seen   func(t float64) bool            // nil: always
	stride func(t float64) (ahead float64) // of the left foot, in heights; nil: still
}

func still(x, y float64) func(float64) (float64, float64) {
	return func(float64) (float64, float64) { return x, y }
}

func running(t float64) float64 { return 0.22 * math.Sin(2*math.Pi*1.4*t) }
func walking(t float64) float64 { return 0.15 * math.Sin(2*math.Pi*0.9*t) }

func (a actor) visible(t float64) bool { return a.seen == nil || a.seen(t) }

func (s *stage) paint(t float64) *clip.Frame {
	f := paint(s.width, s.height, func(int, int) byte { return 0 }, grey, grey)
	f.Time, f.Full = t, true
	block := func(x, y, w, h float64, level byte) {
		for j := max(0, int(y-h/2)); j < min(s.height, int(y+h/2)); j++ {
			for i := max(0, int(x-w/2)); i < min(s.width, int(x+w/2)); i++ {
				f.Y[j*f.YStride+i] = level
			}
		}
	}
	for _, a := range s.actors {
		if !a.visible(t) {
			continue
		}
		x, y := a.at(t)
		block(x, y, 0.3*a.tall, a.tall, a.grey)
		ahead := 0.0
		if a.stride != nil {
			ahead = a.stride(t) * a.tall
		}
		for _, side := range []float64{1, -1} {
			block(x+side*ahead, y+0.55*a.tall, 0.08*a.tall, 0.08*a.tall, a.grey+20)
		}
	}
	return f
}

func (s *stage) Next() (*clip.Frame, error) {
	if s.next >= s.frames {
		return nil, io.EOF
	}
	f := s.paint(float64(s.next) / s.fps)
	f.Index = s.next
	s.next++
	s.out++
	s.most = max(s.most, s.out)
	return f, nil
}

func (s *stage) Recycle(*clip.Frame) { s.out-- }

func (s *stage) Open(name string) (Session, error) {
	if name == "absent" {
		return nil, fmt.Errorf("no such network")
	}
	s.opened.Add(1)
	return &stageNet{stage: s, name: name}, nil
}

type stageNet struct {
	stage *stage
	name  string
}

func (n *stageNet) Close() error { n.stage.closed.Add(1); return nil }

// blob is where a grey was seen.
type blob struct{ n, x, y, xx, yy, left, right float64 }

func (b *blob) add(x, y float64) {
	if b.n == 0 {
		b.left, b.right = x, x
	}
	b.n++
	b.x += x
	b.y += y
	b.xx += x * x
	b.yy += y * y
	b.left, b.right = min(b.left, x), max(b.right, x)
}

// centre and size of a block of even grey: a side's length is √12 standard
// deviations, which a few blended pixels at other blocks' edges hardly move.
func (b *blob) centre() (x, y float64) { return b.x / b.n, b.y / b.n }

func (b *blob) size() (w, h float64) {
	x, y := b.centre()
	return math.Sqrt(12 * (b.xx/b.n - x*x)), math.Sqrt(12 * (b.yy/b.n - y*y))
}

// blobs finds an actor's block and feet (as one) in a network's input.
func blobs(image []float32, size int, low, high float64, grey byte) (body, feet blob) {
	for j := range size {
		for i := range size {
			level := (float64(image[3*(j*size+i)]) - low) / (high - low) * 255
			x, y := (float64(i)+0.5)/float64(size), (float64(j)+0.5)/float64(size)
			switch {
			case math.Abs(level-float64(grey)) < 3:
				body.add(x, y)
			case math.Abs(level-float64(grey)-20) < 3:
				feet.add(x, y)
			}
		}
	}
	return body, feet
}

func (n *stageNet) Run(image []float32) (map[string][]float32, error) {
	if n.name == "detector" {
		return n.detect(image), nil
	}
	if n.name != "lite" && n.stage.failAfter > 0 && int(n.stage.runs.Add(1)) > n.stage.failAfter {
		return nil, fmt.Errorf("the network broke")
	}
	return n.landmarks(image), nil
}

func (n *stageNet) detect(image []float32) map[string][]float32 {
	boxes, scores := detectorOutput()
	for _, a := range n.stage.actors {
		b, _ := blobs(image, detectorSize, -1, 1, a.grey)
		if b.n < 150 {
			continue
		}
		x, y := b.centre()
		w, h := b.size()
		cell := min(6, int(y*7))*7 + min(6, int(x*7))
		anchor := 1960 + 6*cell
		for scores[anchor] > 0 {
			anchor++
		}
		cx, cy := float32((x-(float64(cell%7)+0.5)/7)*detectorSize), float32((y-(float64(cell/7)+0.5)/7)*detectorSize)
		see(boxes, scores, anchor, 4, cx, cy, float32(w*detectorSize), float32(h*detectorSize),
			[4][2]float32{{cx, cy}, {cx, cy - float32(0.55*h*detectorSize)}, {}, {}})
	}
	return map[string][]float32{"boxes": boxes, "scores": scores}
}

// landmarks is of the actor nearest to the middle: all points at the block's
// centre but for the nose above it and the feet. The network "heavy" sees all
// a little further right.
func (n *stageNet) landmarks(image []float32) map[string][]float32 {
	best, nearest := -1, 0.3
	for i, a := range n.stage.actors {
		b, _ := blobs(image, cropSize, 0, 1, a.grey)
		if b.n < 300 {
			continue
		}
		if d := math.Hypot(b.x/b.n-0.5, b.y/b.n-0.5); d < nearest {
			best, nearest = i, d
		}
	}
	if best < 0 {
		return bodyOutput(func(int) (float64, float64) { return 128, 128 }, 0.01)
	}
	b, feet := blobs(image, cropSize, 0, 1, n.stage.actors[best].grey)
	x, y := b.centre()
	_, h := b.size()
	x, y, h = x*cropSize, y*cropSize, h*cropSize
	if n.name == "heavy" {
		x += 4
	}
	left, right := landmarkOf[form.At(form.Ankle, form.Left)], landmarkOf[form.At(form.Ankle, form.Right)]
	return bodyOutput(func(i int) (float64, float64) {
		switch {
		case i == bodySize:
			return x, y - 0.55*h
		case i == landmarkOf[0]:
			return x, y - 0.5*h
		case i == left && feet.n > 0:
			return feet.left * cropSize, feet.y / feet.n * cropSize
		case i == right && feet.n > 0:
			return feet.right * cropSize, feet.y / feet.n * cropSize
		}
		return x, y
	}, 0.99)
}

// scaled gives a stage's frames as if they had been shrunk by the decoder.
type scaled struct {
	*stage
	by float64
}

func (s scaled) Next() (*clip.Frame, error) {
	f, err := s.stage.Next()
	if f != nil {
		f.Scale = s.by
	}
	return f, err
}

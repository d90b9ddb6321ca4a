package standin

import (
	"context"
	"image"
	"math"
	"math/rand/v2"
	"runtime"
	"sync"
)

// Render draws the clip of the runner, frame by frame in order, and gives
// each picture with the time of its frame to emit. The picture belongs to
// Render again as soon as emit returns. Frames are drawn side by side on all
// cores. Random numbers come from rng alone (nil: no spread from step to
// step, no flaws of the clock). The error is emit's, the context's, or says
// which number of the runner or the camera can't be.
func Render(ctx context.Context, r Runner, cam Camera, scene Scene, seconds float64, rng *rand.Rand, emit func(Stamp, *image.RGBA) error) error {
	m, err := NewMotion(r, seconds, rng)
	if err != nil {
		return err
	}
	return m.Render(ctx, cam, scene, rng, emit)
}

// Render draws the clip of the motion; see the function Render.
func (m *Motion) Render(ctx context.Context, cam Camera, scene Scene, rng *rand.Rand, emit func(Stamp, *image.RGBA) error) error {
	if err := cam.check(); err != nil {
		return err
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	stamps := cam.Stamps(m.seconds, rng)
	room := newRoom(m, cam, scene)
	workers := max(1, min(runtime.GOMAXPROCS(0), len(stamps)))
	// Worker w draws frames w, w+workers, …; the frames are taken in turn.
	done := make([]chan *image.RGBA, workers)
	free := make([]chan *image.RGBA, workers)
	var wait sync.WaitGroup
	for w := range workers {
		done[w], free[w] = make(chan *image.RGBA), make(chan *image.RGBA, 2)
		free[w] <- room.newFrame()
		free[w] <- room.newFrame()
		wait.Go(func() {
			p := newPainter(m, room, scene)
			for i := w; i < len(stamps); i += workers {
				select {
				case <-ctx.Done():
					return
				case img := <-free[w]:
					p.paint(img, stamps[i].Taken, uint64(i))
					select {
					case <-ctx.Done():
						return
					case done[w] <- img:
					}
				}
			}
		})
	}
	defer wait.Wait()
	defer cancel()
	for i, s := range stamps {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case img := <-done[i%workers]:
			if err := emit(s, img); err != nil {
				return err
			}
			free[i%workers] <- img
		}
	}
	return nil
}

// painter draws single frames; each has its own canvas.
type painter struct {
	m     *Motion
	room  *room
	scene Scene
	layer *layer
	flesh *flesh
	other *flesh
	stand *Motion
	spots []spot
	blur  []paint
}

func newPainter(m *Motion, room *room, scene Scene) *painter {
	p := &painter{m: m, room: room, scene: scene, layer: newLayer(room.w, room.h), flesh: newFlesh(m.fig, scene.Look)}
	if scene.Bystander {
		r := Stander()
		r.HeightM, r.StepSpread, r.HeadPitchDeg = 1.68, 4, -6
		if stand, err := NewMotion(r, m.seconds, nil); err == nil {
			look := DefaultLook()
			look.Shirt, look.Shorts, look.Hair, look.Shoe, look.Tights, look.Bun = 0x6F7F8C, 0x33373D, 0x5B4230, 0x3A3A3E, true, true
			p.stand, p.other = stand, newFlesh(stand.fig, look)
		}
	}
	return p
}

// blurSteps is the number of moments that make up a blurred frame.
const blurSteps = 5

// paint draws the frame taken at time t into img.
func (p *painter) paint(img *image.RGBA, t float64, frame uint64) {
	if cam := p.room.cam; !cam.Sway.Still() {
		p.room = p.room.seenBy(p.m.lensAt(cam, t))
	}
	copy(img.Pix, p.room.still)
	if p.scene.Shutter <= 0 {
		p.moment(t)
		p.ground(img, t)
		p.figures(img)
	} else {
		p.blurred(img, t)
	}
	if p.scene.Noise > 0 {
		noise(img, p.scene.Noise, rand.New(rand.NewPCG(p.scene.Seed, frame)))
	}
}

// moment draws the figures of one moment into the layer.
func (p *painter) moment(t float64) {
	p.layer.reset()
	if p.other != nil {
		pose := p.stand.Pose(t)
		// Behind the runner, turned half towards the camera.
		side := -1.0
		if p.room.lamp.behindZ < 0 {
			side = 1
		}
		at := Vec3{p.room.aimX - 1.15, p.room.floorY(), 1.45 * side}
		mesh := p.other.build(&pose)
		for i, v := range mesh.at {
			mesh.at[i] = v.aboutY(0.9 * side).add(at)
		}
		p.spots = p.layer.draw(mesh, &p.room.lens, &p.room.lamp, p.spots)
	}
	if !p.scene.Empty {
		pose := p.m.Pose(t)
		p.spots = p.layer.draw(p.flesh.build(&pose), &p.room.lens, &p.room.lamp, p.spots)
	}
}

// ground draws belt and shadows.
func (p *painter) ground(img *image.RGBA, t float64) {
	var spots []dusk
	pose := p.m.Pose(t)
	if !p.scene.Empty {
		spots = shadows(&pose)
	}
	level := p.room.lamp.level
	for i := range p.room.ground {
		g := &p.room.ground[i]
		x, z := float64(g.x), float64(g.z)
		c := p.room.linear[g.at]
		if g.belt > 0 {
			c = c.mix(beltPaint(x+pose.BeltM, z, float64(g.metre)).scale(0.9*level), g.belt)
		}
		c = c.scale(dim(spots, x, z))
		put(img.Pix[4*g.at:4*g.at+4], c)
	}
}

func add(a, b paint) paint { return paint{a.r + b.r, a.g + b.g, a.b + b.b} }

// figures lays the layer over the picture.
func (p *painter) figures(img *image.RGBA) {
	p.eachCovered(func(at, covered int, c paint) {
		px := img.Pix[4*at : 4*at+4]
		if covered < samples*samples {
			under := paint{linear[px[0]], linear[px[1]], linear[px[2]]}
			c = add(c, under.scale(float32(samples*samples-covered)))
		}
		put(px, c.scale(1.0/(samples*samples)))
	})
}

// linear is the light of an sRGB value.
var linear = func() (t [256]float32) {
	for i := range t {
		t[i] = hex(uint32(i)).b
	}
	return t
}()

// eachCovered calls f with every pixel of which at least one sample is
// covered, the number of those samples and the sum of their colours.
func (p *painter) eachCovered(f func(at, covered int, sum paint)) {
	l := p.layer
	if l.used.empty() {
		return
	}
	for y := l.used.y0 / samples; y <= (l.used.y1-1)/samples; y++ {
		for x := l.used.x0 / samples; x <= (l.used.x1-1)/samples; x++ {
			var sum paint
			covered := 0
			for sy := range samples {
				i := (y*samples+sy)*l.w + x*samples
				for sx := range samples {
					if l.depth[i+sx] != far {
						covered++
						sum = add(sum, l.colour[i+sx])
					}
				}
			}
			if covered > 0 {
				f(y*p.room.w+x, covered, sum)
			}
		}
	}
}

// blurred draws the mean of several moments while the shutter is open.
func (p *painter) blurred(img *image.RGBA, t float64) {
	if p.blur == nil {
		p.blur = make([]paint, p.room.w*p.room.h)
	}
	clear(p.blur)
	touched := make([]uint8, len(p.blur)) // moments in which a pixel was drawn
	open := p.scene.Shutter / p.room.cam.RateHz
	scratch := p.room.newFrame()
	for k := range blurSteps {
		at := clamp(t+open*((float64(k)+0.5)/blurSteps-0.5), 0, p.m.seconds)
		p.moment(at)
		copy(scratch.Pix, p.room.still)
		p.ground(scratch, at)
		p.figures(scratch)
		for i := range p.blur {
			px := scratch.Pix[4*i : 4*i+3]
			if still := p.room.still[4*i : 4*i+3]; px[0] == still[0] && px[1] == still[1] && px[2] == still[2] {
				continue
			}
			p.blur[i] = add(p.blur[i], paint{linear[px[0]], linear[px[1]], linear[px[2]]})
			touched[i]++
		}
	}
	for i, n := range touched {
		if n > 0 {
			c := add(p.blur[i], p.room.linear[i].scale(float32(blurSteps-n)))
			put(img.Pix[4*i:4*i+4], c.scale(1.0/blurSteps))
		}
	}
}

// noise adds sensor noise of the given standard deviation, the same for a
// pixel's three colours with a third of its own for each.
func noise(img *image.RGBA, sd float64, rng *rand.Rand) {
	var table [4096]int32 // 1/256 levels
	for i := range table {
		table[i] = int32(math.Round(256 * sd * rng.NormFloat64()))
	}
	state := rng.Uint64() | 1
	for i := 0; i < len(img.Pix); i += 4 {
		state ^= state << 13
		state ^= state >> 7
		state ^= state << 17
		common := table[state&4095]
		for k := range 3 {
			own := table[(state>>(12*uint(k)+12))&4095]
			v := int32(img.Pix[i+k]) + (common*15+own*5+2048)>>12
			img.Pix[i+k] = byte(min(max(v, 0), 255))
		}
	}
}

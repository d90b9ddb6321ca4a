package standin

import (
	"bytes"
	"image"
	"image/jpeg"
	"math"
	"math/rand/v2"

	"plumbstride/internal/form"
)

// LessonPoints are the places that a lesson names on each leg, in order.
var LessonPoints = [6]string{"hip", "knee", "ankle", "heel", "ball", "toe"}

// Lesson is one picture for teaching a network where the joints of the legs
// are: a square around both legs, the runner facing right, the near leg the
// right one.
type Lesson struct {
	Pix []byte // Size×Size pixels, red, green, blue
	// At holds the points of the near, then of the far leg in the picture's
	// pixels; they may lie outside it.
	At [2][len(LessonPoints)][2]float32
	// PxPerM is the scale at the runner's distance.
	PxPerM float32
}

// Teacher draws lessons. It varies all that a lesson should not depend on
// far beyond what an ordinary scene has: body, clothes, shoes, room, light,
// camera, sharpness, compression, and what stands in the way.
type Teacher struct {
	Size  int
	rng   *rand.Rand
	m     *Motion
	left  int // lessons left with this motion
	layer *layer
}

// NewTeacher gives a teacher who draws squares of size pixels.
func NewTeacher(size int, rng *rand.Rand) *Teacher {
	return &Teacher{Size: size, rng: rng, layer: newLayer(size, size)}
}

// lessonsPerMotion bounds how much time goes into solving motions.
const lessonsPerMotion = 40

// lessonSpan is the length of the motions, s.
const lessonSpan = 1.6

// LegSquare is the side of the square around the legs against the runner's
// height.
const LegSquare = 0.74

// Next draws a lesson.
func (c *Teacher) Next() Lesson {
	for c.left == 0 {
		c.m, c.left = c.motion(), lessonsPerMotion
	}
	c.left--
	rng := c.rng
	m := *c.m
	c.reshoe(&m)
	t := rng.Float64() * m.seconds
	cam := c.camera(&m)
	scene := Scene{Look: RandomLook(rng), Light: math.Exp(c.between(-1.3, 0.35))}
	c.dress(&scene.Look)
	lens := cam.Lens()
	middle := m.Pose(t)
	change := c.disturbance(&m)
	change(&middle)
	c.frame(&lens, &middle, m.fig.height)
	canvas := c.backdrop(&m, cam, lens, scene, &middle)
	c.expose(canvas, &m, &lens, scene, t, change)
	c.obstruct(canvas, &lens, &middle)
	out := Lesson{Pix: c.develop(canvas), PxPerM: float32(pxPerM(&lens, middle.Pelvis))}
	for k, leg := range []int{legRight, legLeft} {
		l := &middle.Limbs[leg]
		for i, v := range []Vec3{l.Hip, l.Knee, l.Ankle, l.Heel, l.Ball, l.Toe} {
			x, y, _ := lens.Project(v)
			out.At[k][i] = [2]float32{float32(x), float32(y)}
		}
	}
	return out
}

func (c *Teacher) between(a, b float64) float64 { return a + (b-a)*c.rng.Float64() }

func (c *Teacher) chance(p float64) bool { return c.rng.Float64() < p }

// motion draws a runner, now and then somebody who walks or stands.
func (c *Teacher) motion() *Motion {
	for {
		r, _ := Random(c.rng)
		switch {
		case c.chance(0.06):
			s := Stander()
			s.HeightM, s.Body, s.KneeStandingDeg = r.HeightM, r.Body, c.between(-4, 12)
			r = s
		case c.chance(0.08):
			w := Walker()
			w.HeightM, w.Body, w.ToeOutDeg = r.HeightM, r.Body, r.ToeOutDeg
			r = w
		}
		r.PelvisDeg *= c.between(0.5, 1.5)
		if m, err := NewMotion(r, lessonSpan, c.rng); err == nil {
			return m
		}
	}
}

// reshoe gives the figure other shoes: where the ankle sits in them, how high
// heel and toe are.
func (c *Teacher) reshoe(m *Motion) {
	s := &m.fig.shoe
	about := func(v, sd float64) float64 { return v * (1 + sd*clamp(c.rng.NormFloat64(), -2, 2)) }
	s.ankleU, s.ankleY = about(s.ankleU, 0.08), about(s.ankleY, 0.07)
	s.heelY, s.toeY = about(s.heelY, 0.22), about(s.toeY, 0.25)
	s.heelEdgeU, s.ballU = about(s.heelEdgeU, 0.4), about(s.ballU, 0.03)
	s.length = math.Max(about(s.length, 0.05), 1.18*s.ballU)
}

// dress draws clothes of any colour, often two alike.
func (c *Teacher) dress(l *Look) {
	l.odd = drawOddities(c.rng)
	l.Build = c.between(0.9, 1.22)
	if c.chance(0.3) {
		return // the ordinary colours
	}
	any := func() uint32 {
		v := c.between(0.02, 1)
		level := func() uint32 { return uint32(255 * v * c.between(0.35, 1)) }
		r, g, b := level(), level(), level()
		if c.chance(0.45) { // greyish
			g = (r + 3*g) / 4
			b = (r + 3*b) / 4
			r = g
		}
		return r<<16 | g<<8 | b
	}
	l.Shirt, l.Shorts, l.Shoe, l.Sole, l.Sock, l.Trim = any(), any(), any(), any(), any(), any()
	if c.chance(0.25) {
		l.Sock = l.Shoe
	}
	if c.chance(0.25) {
		l.Sole = l.Shoe
	}
	if c.chance(0.1) {
		l.Sock = l.Skin
	}
	if c.chance(0.03) {
		l.Shoe, l.Sole = l.Skin, l.Skin
	}
	if c.chance(0.2) {
		l.Shorts = l.Shirt
	}
}

// camera draws a side-on camera, wider than a runner's: it may stand well off
// its place.
func (c *Teacher) camera(m *Motion) Camera {
	cam := DefaultCamera()
	cam.Facing, cam.Width, cam.Height = form.Right, c.Size, c.Size
	cam.DistanceM, cam.HeightM = c.between(2.2, 7), c.between(0.25, 1.6)
	cam.YawDeg, cam.RollDeg = c.between(-20, 20), c.between(-5, 5)
	cam.AimYM = 0.5 * m.fig.height
	return cam
}

// frame turns and zooms the lens so that its picture is the square around the
// legs, placed as a first guess of the legs would place it.
func (c *Teacher) frame(lens *Lens, p *Pose, heightM float64) {
	x0, y0, x1, y1 := math.Inf(1), math.Inf(1), math.Inf(-1), math.Inf(-1)
	for i := range p.Limbs {
		l := &p.Limbs[i]
		for _, v := range []Vec3{l.Hip, l.Knee, l.Ankle, l.Heel, l.Toe} {
			x, y, _ := lens.Project(v)
			x0, x1, y0, y1 = math.Min(x0, x), math.Max(x1, x), math.Min(y0, y), math.Max(y1, y)
		}
	}
	side := LegSquare * heightM * pxPerM(lens, p.Pelvis) * c.between(0.88, 1.14)
	zoom := float64(c.Size) / side
	cx := (x0+x1)/2 + side*c.between(-0.05, 0.05)
	cy := (y0+y1)/2 + side*c.between(-0.05, 0.05)
	lens.focal *= zoom
	lens.cx = float64(c.Size)/2 + (lens.cx-cx)*zoom
	lens.cy = float64(c.Size)/2 + (lens.cy-cy)*zoom
}

// pxPerM is the lens's scale at a place.
func pxPerM(lens *Lens, at Vec3) float64 {
	_, _, depth := lens.Project(at)
	return lens.focal / depth
}

// disturbance gives a change of pose that no law of running gives: each leg
// turned at hip, knee and ankle by chance, so that a joint's place can't be
// guessed from the others'.
func (c *Teacher) disturbance(m *Motion) func(*Pose) {
	type turn struct {
		thigh, knee, foot, toes, out float64
		stiff                        float64 // how little the shoe bends at the ball
		curl                         float64 // toes bent down against the foot
	}
	var turns [2]turn
	for leg := range turns {
		if c.chance(0.4) {
			turns[leg].stiff = c.between(0, 1)
		}
		if c.chance(0.5) {
			sd := c.between(0.3, 1)
			turns[leg] = turn{
				thigh: rad(9 * sd * c.rng.NormFloat64()), knee: rad(11 * sd * c.rng.NormFloat64()),
				foot: rad(18 * sd * c.rng.NormFloat64()), toes: rad(10 * sd * c.rng.NormFloat64()),
				out: rad(7 * sd * c.rng.NormFloat64()), stiff: turns[leg].stiff,
			}
		}
		if c.chance(0.35) {
			turns[leg].curl = rad(c.between(0, 40))
		}
	}
	return func(p *Pose) {
		for leg, d := range turns {
			if d == (turn{}) {
				continue
			}
			l := &p.Limbs[leg]
			thigh := l.Knee.sub(l.Hip)
			shank := l.Ankle.sub(l.Knee)
			a := math.Atan2(thigh.X, -thigh.Y) + d.thigh
			k := math.Atan2(thigh.X, -thigh.Y) - math.Atan2(shank.X, -shank.Y)
			a2 := a - math.Max(rad(-3), k+d.knee)
			lengthA, lengthB := math.Hypot(thigh.X, thigh.Y), math.Hypot(shank.X, shank.Y)
			l.Knee = l.Hip.add(Vec3{lengthA * math.Sin(a), -lengthA * math.Cos(a), thigh.Z})
			l.Ankle = l.Knee.add(Vec3{lengthB * math.Sin(a2), -lengthB * math.Cos(a2), shank.Z})
			heel := l.HeelPitch + d.foot
			toes := math.Max(l.ToePitch+d.foot, heel) + math.Max(0, d.toes)
			toes += d.stiff*(heel-toes) - d.curl
			m.fig.placeFoot(l, sole{heel: heel, toe: toes}, l.ToeOut+d.out, leg)
		}
	}
}

// canvas is a picture in linear light.
type canvas struct {
	size int
	px   []paint
	dim  float32 // of the light on the ground
}

// backdrop draws what is behind the runner: the ordinary room in other
// colours, or clutter.
func (c *Teacher) backdrop(m *Motion, cam Camera, lens Lens, scene Scene, p *Pose) *canvas {
	cv := &canvas{size: c.Size, px: make([]paint, c.Size*c.Size), dim: float32(scene.Light)}
	if c.chance(0.4) {
		r := &room{cam: cam, lens: lens, w: c.Size, h: c.Size, tilt: m.tilt, tread: m.r.Treadmill && m.r.Gait != Standing}
		r.lamp = newLamp(cam, lens, scene)
		gear := newLayer(c.Size, c.Size)
		if r.tread {
			var mesh mesh
			treadmill(&mesh, cam)
			gear.draw(&mesh, &r.lens, &r.lamp, nil)
		}
		for y := range r.h {
			for x := range r.w {
				cv.px[y*r.w+x] = r.stillPixel(gear, x, y)
			}
		}
		f := c.floor(p, cv.dim)
		for i := range r.ground {
			g := &r.ground[i]
			at := &cv.px[g.at]
			if g.belt > 0 {
				*at = at.mix(beltPaint(float64(g.x)+p.BeltM, float64(g.z), float64(g.metre)).scale(0.9*r.lamp.level), g.belt)
			}
			*at = f.paint(*at, float64(g.x), float64(g.z), float64(g.metre))
		}
		cast := paint{float32(c.between(0.5, 1.5)), float32(c.between(0.5, 1.5)), float32(c.between(0.5, 1.5))}
		for i := range cv.px {
			q := &cv.px[i]
			q.r, q.g, q.b = q.r*cast.r, q.g*cast.g, q.b*cast.b
		}
		return cv
	}
	c.clutter(cv, &lens, p)
	return cv
}

// tint draws any colour in linear light.
func (c *Teacher) tint(light float32) paint {
	v := light * float32(math.Exp(c.between(-3, 0)))
	k := func() float32 { return v * float32(c.between(0.5, 1)) }
	return paint{k(), k(), k()}
}

// clutter fills the canvas with planes, shapes and lines, and a ground under
// the feet.
func (c *Teacher) clutter(cv *canvas, lens *Lens, p *Pose) {
	a, b := c.tint(cv.dim), c.tint(cv.dim)
	n := float64(cv.size)
	for i := range cv.px {
		cv.px[i] = a.mix(b, float32(i/cv.size)/float32(cv.size))
	}
	for range c.rng.IntN(16) {
		x, y := c.between(-0.2, 1.2)*n, c.between(-0.2, 1.1)*n
		w, h := math.Exp(c.between(0, 4.8)), math.Exp(c.between(0, 4.8))
		c.slab(cv, x, y, w, h, c.between(-0.1, 0.1)+float64(c.rng.IntN(2))*c.between(-1.5, 1.5), c.tint(cv.dim), c.chance(0.3))
	}
	// The ground: from a line a little above or below the feet down.
	_, low, _ := lens.Project(Vec3{p.Pelvis.X, 0, c.between(-1.5, 0.6)})
	c.slab(cv, n/2, low+2*n, 4*n, 2*n, c.between(-0.03, 0.03), c.tint(cv.dim), false)
	if c.chance(0.6) { // a belt's or a path's edge in front of the feet
		_, low, _ := lens.Project(Vec3{p.Pelvis.X, 0, c.between(0.2, 0.6)})
		c.slab(cv, n/2, low+c.between(2, 30), 4*n, c.between(1, 20), c.between(-0.03, 0.03), c.tint(cv.dim), false)
	}
	c.layFloor(cv, lens, p)
	if c.chance(0.5) { // grain
		sd := c.between(0.02, 0.25)
		cell := 1 + c.rng.IntN(6)
		for y := 0; y < cv.size; y += cell {
			for x := 0; x < cv.size; x += cell {
				k := float32(math.Exp(sd * c.rng.NormFloat64()))
				for yy := y; yy < min(y+cell, cv.size); yy++ {
					for xx := x; xx < min(x+cell, cv.size); xx++ {
						cv.px[yy*cv.size+xx] = cv.px[yy*cv.size+xx].scale(k)
					}
				}
			}
		}
	}
}

// slab fills a turned box or oval about x, y with half-sizes w and h.
func (c *Teacher) slab(cv *canvas, x, y, w, h, turn float64, colour paint, oval bool) {
	sin, cos := math.Sincos(turn)
	reach := int(math.Hypot(w, h)) + 1
	for py := max(0, int(y)-reach); py < min(cv.size, int(y)+reach); py++ {
		for px := max(0, int(x)-reach); px < min(cv.size, int(x)+reach); px++ {
			dx, dy := float64(px)+0.5-x, float64(py)+0.5-y
			u, v := (dx*cos+dy*sin)/w, (dy*cos-dx*sin)/h
			if oval && u*u+v*v < 1 || !oval && math.Abs(u) < 1 && math.Abs(v) < 1 {
				cv.px[py*cv.size+px] = colour
			}
		}
	}
}

// layFloor lays a floor over the canvas, wherever the ground within floorHalf of
// the line of running is seen.
func (c *Teacher) layFloor(cv *canvas, lens *Lens, p *Pose) {
	f := c.floor(p, cv.dim)
	for i := range cv.px {
		ray := lens.ray(float64(i%cv.size)+0.5, float64(i/cv.size)+0.5).aboutZ(-p.Pitch)
		eye := lens.eye.aboutZ(-p.Pitch)
		if ray.Y >= 0 {
			continue
		}
		t := -eye.Y / ray.Y
		if q := eye.add(ray.scale(t)); math.Abs(q.Z) < floorHalf {
			cv.px[i] = f.paint(cv.px[i], q.X, q.Z, t)
		}
	}
}

// floorHalf is half the floor's width among clutter, m.
const floorHalf = 0.9

// expose draws the runner over the backdrop, over the time in which the
// shutter is open.
func (c *Teacher) expose(cv *canvas, m *Motion, lens *Lens, scene Scene, t float64, change func(*Pose)) {
	moments, open := 1, 0.0
	if c.chance(0.5) {
		moments, open = 4, c.between(0.001, 0.014)
	}
	light := c.lamp(lens, scene)
	sum := make([]paint, len(cv.px))
	flesh := newFlesh(m.fig, scene.Look)
	var spots []spot
	for k := range moments {
		at := clamp(t+open*((float64(k)+0.5)/float64(moments)-0.5), 0, m.seconds)
		pose := m.Pose(at)
		change(&pose)
		c.layer.reset()
		spots = c.layer.draw(flesh.build(&pose), lens, light, spots)
		for i := range cv.px {
			x, y := i%cv.size, i/cv.size
			covered := 0
			var part paint
			for s := range samples * samples {
				j := (y*samples+s/samples)*c.layer.w + x*samples + s%samples
				if c.layer.depth[j] != far {
					covered++
					part = add(part, c.layer.colour[j])
				}
			}
			part = add(part, cv.px[i].scale(float32(samples*samples-covered)))
			sum[i] = add(sum[i], part.scale(1/float32(samples*samples*moments)))
		}
	}
	copy(cv.px, sum)
}

// lamp is a light from anywhere above, of any sharpness.
func (c *Teacher) lamp(lens *Lens, scene Scene) *lamp {
	l := lamp{
		dir:   Vec3{c.between(-1, 1), c.between(0.15, 1), c.between(-0.4, 1)}.unit(),
		level: float32(scene.Light), eye: lens.eye,
	}
	if c.chance(0.5) {
		l.behindZ = 1
	}
	return &l
}

// obstruct puts a rail or a post, or the front of the machine, before the
// legs now and then.
func (c *Teacher) obstruct(cv *canvas, lens *Lens, p *Pose) {
	n := float64(cv.size)
	if c.chance(0.12) {
		turn := float64(c.rng.IntN(2))*math.Pi/2 + c.between(-0.2, 0.2)
		c.slab(cv, c.between(0, 1)*n, c.between(0, 1)*n, 2*n, c.between(1, 7), turn, c.tint(cv.dim), false)
	}
	if c.chance(0.05) {
		_, low, _ := lens.Project(Vec3{p.Pelvis.X, 0, 0.3})
		c.slab(cv, n/2, low+n-c.between(-2, 8), 4*n, n, 0, c.tint(cv.dim), false)
	}
}

// develop makes the picture that a phone's video would hold: unsharp, noisy,
// of too few pixels, compressed.
func (c *Teacher) develop(cv *canvas) []byte {
	img := image.NewRGBA(image.Rect(0, 0, cv.size, cv.size))
	gain := float32(math.Exp(c.between(-0.35, 0.35)))
	for i, p := range cv.px {
		put(img.Pix[4*i:4*i+4], p.scale(gain))
	}
	if c.chance(0.4) {
		shrink(img, c.between(0.35, 0.95))
	}
	if c.chance(0.6) {
		noise(img, c.between(0.5, 7), c.rng)
	}
	if c.chance(0.8) {
		var buf bytes.Buffer
		quality := int(c.between(18, 96))
		if err := jpeg.Encode(&buf, img, &jpeg.Options{Quality: quality}); err == nil {
			if back, err := jpeg.Decode(&buf); err == nil {
				for y := range cv.size {
					for x := range cv.size {
						r, g, b, _ := back.At(x, y).RGBA()
						px := img.Pix[4*(y*cv.size+x):]
						px[0], px[1], px[2] = byte(r>>8), byte(g>>8), byte(b>>8)
					}
				}
			}
		}
	}
	out := make([]byte, 0, 3*cv.size*cv.size)
	for i := range cv.px {
		out = append(out, img.Pix[4*i], img.Pix[4*i+1], img.Pix[4*i+2])
	}
	return out
}

// shrink samples the picture down by the factor and up again, linearly.
func shrink(img *image.RGBA, factor float64) {
	n := img.Rect.Dx()
	small := max(8, int(factor*float64(n)))
	low := resample(img.Pix, n, small)
	copy(img.Pix, resample(low, small, n))
}

// resample gives a square RGBA picture of another size, linearly.
func resample(pix []byte, from, to int) []byte {
	out := make([]byte, 4*to*to)
	ratio := float64(from) / float64(to)
	for y := range to {
		sy := clamp((float64(y)+0.5)*ratio-0.5, 0, float64(from-1))
		y0 := int(sy)
		y1, fy := min(y0+1, from-1), sy-float64(y0)
		for x := range to {
			sx := clamp((float64(x)+0.5)*ratio-0.5, 0, float64(from-1))
			x0 := int(sx)
			x1, fx := min(x0+1, from-1), sx-float64(x0)
			for k := range 4 {
				a := float64(pix[4*(y0*from+x0)+k])*(1-fx) + float64(pix[4*(y0*from+x1)+k])*fx
				b := float64(pix[4*(y1*from+x0)+k])*(1-fx) + float64(pix[4*(y1*from+x1)+k])*fx
				out[4*(y*to+x)+k] = byte(a*(1-fy) + b*fy + 0.5)
			}
		}
	}
	return out
}

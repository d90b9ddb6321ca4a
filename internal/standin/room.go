package standin

import (
	"image"
	"math"

	"plumbstride/internal/form"
)

// Scene is where and in what light the invented runner is filmed.
type Scene struct {
	Look Look
	// Bystander puts a second, standing figure behind the runner; Empty
	// leaves the runner out.
	Bystander, Empty bool
	// Light is the level of light: 1 is a bright room, 0.25 a dim one.
	Light float64
	// Noise is the standard deviation of the sensor's noise, in levels of 255.
	Noise float64
	// Shutter is the part of a frame's time for which the shutter is open; 0
	// freezes every frame.
	Shutter float64
	// Place is where it is; a treadmill stands in a room.
	Place Place
	// Seed draws the noise.
	Seed uint64
}

// DefaultScene is a bright, plain room.
func DefaultScene() Scene { return Scene{Look: DefaultLook(), Light: 1, Seed: 1} }

// The room: floor, walls and the treadmill, metres.
const (
	deckHeight    = 0.17 // of the belt over the floor
	beltHalf      = 0.25
	deckHalf      = 0.36
	deckBack      = -0.92
	deckFront     = 0.98
	hoodFront     = 1.24
	wallZ         = 2.3
	roomHalf      = 7.0
	roomHeight    = 3.0
	markSpacing   = 0.80 // of the marks across the belt
	markHalfWidth = 0.014
)

// The room's colours.
var (
	ceilingColour  = hex(0xD9D9D4)
	wallColour     = hex(0xC9CDC6)
	dadoColour     = hex(0x8FA39C)
	railColour     = hex(0xE2E0D8)
	skirtingColour = hex(0xDAD7CE)
	boardColour    = hex(0xA98F70)
	beltColour     = hex(0x3A3D40)
	markColour     = hex(0xB8B6AC)
)

// room is the still part of the picture, and the ground as the moving part
// sees it.
type room struct {
	cam    Camera
	lens   Lens
	lamp   lamp
	w, h   int
	linear []paint // the still picture, linear light
	still  []byte  // the same, ready to be shown: RGBA
	ground []groundPixel
	tilt   float64
	tread  bool
	aimX   float64
	place  Place
	// scene is kept for a camera that moves: the room is drawn anew then.
	scene Scene
}

// groundPixel is a pixel that shows belt, deck or floor near the runner.
type groundPixel struct {
	at    int32
	x, z  float32
	belt  float32 // part of the pixel that is belt
	metre float32 // size of the pixel along the belt
}

// newRoom renders the still picture once.
func newRoom(m *Motion, cam Camera, scene Scene) *room {
	r := &room{
		cam: cam, lens: m.lensAt(cam, 0), w: cam.Width, h: cam.Height,
		tilt: m.tilt, tread: m.r.Treadmill && m.r.Gait != Standing, aimX: cam.AimXM,
		place: scene.Place, scene: scene,
	}
	r.draw()
	return r
}

// seenBy is the same room through another lens.
func (r *room) seenBy(lens Lens) *room {
	moved := *r
	moved.lens, moved.ground = lens, nil
	moved.draw()
	return &moved
}

// draw makes the still picture through the room's lens.
func (r *room) draw() {
	r.lamp = newLamp(r.cam, r.lens, r.scene)
	r.linear = make([]paint, r.w*r.h)
	gear := newLayer(r.w, r.h)
	if r.tread {
		var mesh mesh
		treadmill(&mesh, r.cam)
		for i := range mesh.at {
			mesh.at[i] = mesh.at[i].aboutZ(r.tilt)
		}
		gear.draw(&mesh, &r.lens, &r.lamp, nil)
	}
	for y := range r.h {
		for x := range r.w {
			r.linear[y*r.w+x] = r.stillPixel(gear, x, y)
		}
	}
	r.still = make([]byte, 4*r.w*r.h)
	for i, c := range r.linear {
		put(r.still[4*i:4*i+4], c)
	}
}

func newLamp(cam Camera, lens Lens, scene Scene) lamp {
	near := 1.0
	if cam.Facing == form.Left {
		near = -1
	}
	l := lamp{dir: Vec3{0.35, 0.80, 0.62 * near}.unit(), level: float32(scene.Light), eye: lens.eye, behindZ: near}
	if cam.View != form.ViewSide {
		out := lens.ahead.scale(-1)
		l.dir, l.behindZ = Vec3{out.X * 0.6, 0.8, out.Z*0.6 + 0.35}.unit(), 0
	}
	return l
}

// stillPixel mixes the room's planes and the gear in one pixel.
func (r *room) stillPixel(gear *layer, x, y int) paint {
	var sum paint
	for sy := range samples {
		for sx := range samples {
			i := (y*samples+sy)*gear.w + x*samples + sx
			c := gear.colour[i]
			if gear.depth[i] == far {
				c = r.plane(float64(x)+(float64(sx)+0.5)/samples, float64(y)+(float64(sy)+0.5)/samples)
			}
			sum = paint{sum.r + c.r, sum.g + c.g, sum.b + c.b}
		}
	}
	sum = sum.scale(1.0 / (samples * samples))
	r.noteGround(gear, x, y)
	return sum
}

// ray gives the direction in which a pixel looks.
func (l *Lens) ray(x, y float64) Vec3 {
	return l.ahead.scale(l.focal).add(l.right.scale(x - l.cx)).add(l.down.scale(y - l.cy))
}

// floorY is the height of the floor against the belt.
func (r *room) floorY() float64 {
	if r.tread {
		return -deckHeight
	}
	return 0
}

// plane gives the colour of floor or wall in the direction of a pixel: where
// the line of sight leaves the room.
func (r *room) plane(x, y float64) paint {
	d, e := r.lens.ray(x, y), r.lens.eye
	floor := r.floorY()
	best, face := math.Inf(1), 0
	try := func(pos, dir, low, high float64, f int) {
		if dir == 0 {
			return
		}
		wall, which := high, f+1
		if dir < 0 {
			wall, which = low, f
		}
		if t := (wall - pos) / dir; t < best {
			best, face = t, which
		}
	}
	half, height, deep := r.place.extent()
	try(e.X, d.X, r.aimX-half, r.aimX+half, 1)
	try(e.Y, d.Y, floor, height, 3)
	try(e.Z, d.Z, -deep, deep, 5)
	p := e.add(d.scale(best))
	level := r.lamp.level
	switch {
	case r.place == Blank:
		return blankColour.scale(level)
	case r.place == Outdoors && face == 3:
		return outdoorFloor(p).scale(level)
	case r.place == Outdoors && face == 4:
		return skyColour.scale(level)
	case r.place == Outdoors && face <= 2:
		return outdoorWall(p.Z, p.Y-floor).scale(level)
	case r.place == Outdoors:
		return outdoorWall(p.X, p.Y-floor).scale(level)
	}
	switch face {
	case 3:
		return r.floorPaint(p).scale(level)
	case 4:
		return ceilingColour.scale(0.8 * level)
	}
	along := p.X
	if face <= 2 {
		along = p.Z
	}
	return wallPaint(along, p.Y-floor).scale(level)
}

// wallPaint is a plaster wall with a dado, a rail and soft light from above.
func wallPaint(along, up float64) paint {
	c := wallColour
	if up < 1.02 {
		c = dadoColour
	}
	if up > 1.02 && up < 1.06 {
		c = railColour
	}
	if up < 0.11 {
		c = skirtingColour
	}
	light := 0.62 + 0.20*clamp(up/2.4, 0, 1) + 0.10*math.Exp(-sq((along+0.8)/1.6))
	// Panels every 1.2 m, a hair's breadth apart.
	gap := math.Abs(math.Remainder(along-0.35, 1.2))
	if gap < 0.004 {
		light *= 0.88
	}
	return c.scale(float32(light))
}

// floorPaint is a floor of boards along X.
func (r *room) floorPaint(p Vec3) paint {
	board := math.Floor(p.Z / 0.14)
	shift := 0.9 * math.Abs(math.Sin(board*12.9898))
	piece := math.Floor((p.X + shift*2) / 1.4)
	tone := 0.92 + 0.16*frac(math.Sin(board*78.233+piece*37.719)*43758.5)
	c := boardColour.scale(float32(0.80 * tone))
	if frac(p.Z/0.14) < 0.03 {
		c = c.scale(0.82)
	}
	if r.tread { // the treadmill's shadow
		dx := math.Max(0, math.Max(deckBack-p.X, p.X-hoodFront))
		dz := math.Max(0, math.Abs(p.Z)-deckHalf)
		c = c.scale(float32(1 - 0.45*math.Exp(-(dx*dx+dz*dz)/0.018)))
	}
	near := math.Exp(-sq((math.Abs(p.Z) - wallZ) / 0.25)) // dim along the wall
	return c.scale(float32(1 - 0.22*near))
}

func frac(v float64) float64 { return v - math.Floor(v) }

// treadmill adds deck, hood, and, seen from the side, one upright with a
// console and a hand rail on the runner's far side.
func treadmill(m *mesh, cam Camera) {
	dark, grey, light := hex(0x2B2F34), hex(0x7C8288), hex(0xB9BDBD)
	m.box(Vec3{deckBack, -deckHeight + 0.03, -deckHalf}, Vec3{deckFront, -0.004, deckHalf}, dark)
	for _, z := range []float64{-1, 1} { // foot rails
		a, b := beltHalf+0.005, deckHalf+0.004
		if z < 0 {
			a, b = -b, -a
		}
		m.box(Vec3{deckBack - 0.01, -0.030, a}, Vec3{deckFront, 0.0, b}, light)
	}
	m.box(Vec3{deckFront, -deckHeight + 0.02, -deckHalf - 0.01}, Vec3{hoodFront, 0.055, deckHalf + 0.01}, grey)
	for _, x := range []float64{deckBack + 0.06, hoodFront - 0.12} {
		m.box(Vec3{x, -deckHeight, -deckHalf}, Vec3{x + 0.07, -deckHeight + 0.03, deckHalf}, dark)
	}
	if cam.View != form.ViewSide {
		return
	}
	farSide := -1.0
	if cam.Facing == form.Left {
		farSide = 1
	}
	span := func(a, b float64) (low, high float64) {
		a, b = a*farSide, b*farSide
		return math.Min(a, b), math.Max(a, b)
	}
	z0, z1 := span(deckHalf+0.02, deckHalf+0.07)
	m.box(Vec3{hoodFront - 0.17, -deckHeight, z0}, Vec3{hoodFront - 0.11, 1.06, z1}, grey)
	m.box(Vec3{0.62, 0.90, z0}, Vec3{hoodFront - 0.11, 0.935, z1}, dark)
	c0, c1 := span(-0.05, deckHalf+0.07)
	m.box(Vec3{hoodFront - 0.16, 1.05, c0}, Vec3{hoodFront - 0.11, 1.24, c1}, dark)
}

// noteGround remembers a pixel that the runner's shadow and the belt touch.
func (r *room) noteGround(gear *layer, x, y int) {
	p, d, ok := r.onGround(float64(x)+0.5, float64(y)+0.5)
	reach := 1.7
	if !r.tread {
		reach = roomHalf
	}
	if !ok || math.Abs(p.Z) > 1.1 || math.Abs(p.X-r.aimX) > reach {
		return
	}
	g := groundPixel{at: int32(y*r.w + x), x: float32(p.X), z: float32(p.Z), metre: float32(d / r.lens.focal)}
	if r.tread {
		hits := 0
		for sy := range samples {
			for sx := range samples {
				q, depth, ok := r.onGround(float64(x)+(float64(sx)+0.5)/samples, float64(y)+(float64(sy)+0.5)/samples)
				i := (y*samples+sy)*gear.w + x*samples + sx
				clear := ok && float64(gear.depth[i]) > depth-0.05
				if clear && math.Abs(q.Z) < beltHalf && q.X > deckBack+0.02 && q.X < deckFront-0.01 {
					hits++
				}
			}
		}
		if math.Abs(p.Z) > deckHalf+0.02 {
			return
		}
		g.belt = float32(hits) / (samples * samples)
	}
	r.ground = append(r.ground, g)
}

// onGround gives the place of the belt's plane that a pixel shows, in the
// belt's own axes, and its depth.
func (r *room) onGround(x, y float64) (p Vec3, depth float64, ok bool) {
	d, e := r.lens.ray(x, y).aboutZ(-r.tilt), r.lens.eye.aboutZ(-r.tilt)
	if d.Y >= 0 {
		return Vec3{}, 0, false
	}
	t := -e.Y / d.Y
	return e.add(d.scale(t)), t * r.lens.focal, true
}

// beltPaint is the belt's surface: dark, with fine grain and marks across.
func beltPaint(x, z, metre float64) paint {
	loop := 4 * markSpacing
	x = math.Mod(x, loop)
	if x < 0 {
		x += loop
	}
	grain := frac(math.Sin(math.Floor(x/0.022)*12.9898+math.Floor(z/0.022)*78.233) * 43758.5453)
	c := beltColour.scale(float32(0.86 + 0.20*grain))
	off := math.Abs(math.Remainder(x, markSpacing))
	cover := clamp((markHalfWidth-off)/metre+0.5, 0, 1)
	if math.Abs(z) > beltHalf-0.03 {
		cover = 0
	}
	return c.mix(markColour, float32(0.8*cover))
}

// dusk is one soft spot of shadow on the ground.
type dusk struct{ x, z, wide, deep float64 }

// shadows gives the spots under a pose, in the belt's axes.
func shadows(p *Pose) []dusk {
	var out []dusk
	body := p.Pelvis.aboutZ(-p.Pitch)
	out = append(out, dusk{body.X, body.Z, 0.33, 0.20})
	for i := range p.Limbs {
		l := &p.Limbs[i]
		for _, v := range []Vec3{l.HeelEdge, l.HeelEdge.lerp(l.Ball, 0.5), l.Ball, l.Tip} {
			q := v.aboutZ(-p.Pitch)
			h := math.Max(0, q.Y)
			out = append(out, dusk{q.X, q.Z, 0.040 + 0.45*h, 0.42 / (1 + 14*h)})
		}
		k := l.Knee.aboutZ(-p.Pitch)
		out = append(out, dusk{k.X, k.Z, 0.10 + 0.25*k.Y, 0.06})
	}
	return out
}

// dim is the part of the light that the spots leave at a place.
func dim(spots []dusk, x, z float64) float32 {
	light := 1.0
	for i := range spots {
		s := &spots[i]
		dx, dz := x-s.x, z-s.z
		k := 1 + (dx*dx+dz*dz)/(s.wide*s.wide)
		light *= 1 - s.deep/(k*k)
	}
	return float32(light)
}

// tone is the sRGB value of linear light in 4096 steps.
var tone = func() (t [4097]byte) {
	for i := range t {
		v := float64(i) / 4096
		s := 12.92 * v
		if v > 0.0031308 {
			s = 1.055*math.Pow(v, 1/2.4) - 0.055
		}
		t[i] = byte(math.Round(255 * clamp(s, 0, 1)))
	}
	return t
}()

// put writes a colour as an opaque RGBA pixel.
func put(px []byte, c paint) {
	level := func(v float32) byte { return tone[int(min(max(v, 0), 1)*4096)] }
	px[0], px[1], px[2], px[3] = level(c.r), level(c.g), level(c.b), 255
}

// newFrame makes an empty picture of the room's size.
func (r *room) newFrame() *image.RGBA { return image.NewRGBA(image.Rect(0, 0, r.w, r.h)) }

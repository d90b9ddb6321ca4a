package standin

import (
	"math"
	"slices"
)

// flesh dresses poses of one figure as meshes. Girths are metres for a
// figure of 1.75 m; the shapes are drawn freehand after ordinary anatomy
// (common practice, no source).
type flesh struct {
	fig  figure
	look Look
	k    float64 // girth scale
	m    mesh

	skin, hair, shirt, shorts, trim, shoe, sole, sock paint
}

func newFlesh(f figure, look Look) *flesh {
	if look.Build == 0 {
		look = DefaultLook()
	}
	return &flesh{
		fig: f, look: look, k: f.height / 1.75 * look.Build,
		skin: hex(look.Skin), hair: hex(look.Hair), shirt: hex(look.Shirt), shorts: hex(look.Shorts),
		trim: hex(look.Trim), shoe: hex(look.Shoe), sole: hex(look.Sole), sock: hex(look.Sock),
	}
}

// build makes the mesh of a pose; it is good until the next call.
func (f *flesh) build(p *Pose) *mesh {
	f.m.reset()
	f.torso(p)
	for leg := range p.Limbs {
		f.legOf(p, leg)
		f.footOf(p, leg)
		f.armOf(p, leg)
	}
	f.head(p)
	return &f.m
}

// Torso: place along hip centre → shoulder centre, half width, front and
// back half-depth, shift forward.
var torsoShape = profile{
	{-0.17, 0.060, 0.060, 0.070, 0.000},
	{-0.10, 0.135, 0.082, 0.098, -0.002},
	{0.00, 0.166, 0.092, 0.112, -0.004},
	{0.12, 0.163, 0.094, 0.104, -0.002},
	{0.25, 0.150, 0.096, 0.086, 0.006},
	{0.38, 0.143, 0.096, 0.078, 0.010},
	{0.52, 0.150, 0.102, 0.086, 0.004},
	{0.68, 0.165, 0.110, 0.100, -0.004},
	{0.82, 0.175, 0.110, 0.104, -0.006},
	{0.91, 0.178, 0.096, 0.100, -0.006},
	{0.99, 0.178, 0.078, 0.090, -0.007},
	{1.045, 0.162, 0.064, 0.080, -0.010},
	{1.085, 0.122, 0.055, 0.070, -0.011},
	{1.12, 0.082, 0.052, 0.062, -0.010},
	{1.16, 0.060, 0.051, 0.057, -0.008},
}

// spine gives the directions of the trunk at the part s of the way from the
// hips to the shoulders.
func spine(p *Pose, s float64) (front, side Vec3) {
	yaw := p.PelvisYaw + (p.ChestYaw-p.PelvisYaw)*clamp(s, 0, 1)
	up := p.Chest.sub(p.Pelvis).unit()
	side = Vec3{Z: 1}.aboutY(yaw)
	side = side.sub(up.scale(side.dot(up))).unit()
	// The hips' own line leads where the pelvis is, also where one side drops.
	hips := p.Limbs[legRight].Hip.sub(p.Limbs[legLeft].Hip).unit()
	side = side.lerp(hips, 1-clamp(1.6*s, 0, 1)).unit()
	return up.cross(side).unit(), side
}

func (f *flesh) torso(p *Pose) {
	var rings []ring
	var v [4]float64
	add := func(s, more float64, c paint) {
		torsoShape.at(s, v[:])
		front, side := spine(p, s)
		k := f.k
		shift := f.look.odd.torso(s, v[:])
		rings = append(rings, ring{
			centre: p.Pelvis.lerp(p.Chest, s).add(front.scale(v[3]*k + shift)),
			front:  front, side: side,
			ahead: v[1]*k + more, back: v[2]*k + more, wide: v[0]*k + more, colour: c,
		})
	}
	const hem = 0.16
	for s := -0.17; s < hem-0.01; s += 0.04 {
		add(s, 0.004, f.shorts)
	}
	add(hem, 0.004, f.shorts)
	add(hem, 0.012, f.shirt.scale(0.8))
	for s := hem + 0.01; s < 1.09; s += 0.045 {
		// Cloth hangs a little off the waist.
		add(s, 0.007+0.010*math.Exp(-sq((s-0.34)/0.16)), f.shirt)
	}
	add(1.095, 0.006, f.shirt)
	add(1.105, 0.006, f.trim.mix(f.shirt, 0.4))
	add(1.12, 0.004, f.trim.mix(f.shirt, 0.4))
	add(1.121, -0.002, f.skin)
	add(1.16, 0, f.skin)
	// The neck goes on to the head.
	base := rings[len(rings)-1].centre
	top := p.Head.add(Vec3{-0.020 * f.k, -0.030 * f.k, 0})
	front, side := spine(p, 1)
	for _, u := range []float64{0.25, 0.5, 0.75, 1} {
		r := f.k * (0.055 - 0.006*u)
		rings = append(rings, ring{centre: base.lerp(top, u), front: front, side: side, ahead: r, back: r * 1.06, wide: r, colour: f.skin})
	}
	slices.Reverse(rings) // from the top down, as limbs are
	f.m.loft(rings, 30)
}

func sq(x float64) float64 { return x * x }

// Leg: place (0 hip, 1 knee, 2 ankle), front, back, half width.
var legShape = profile{
	{-0.10, 0.078, 0.080, 0.074},
	{0.00, 0.086, 0.094, 0.086},
	{0.15, 0.087, 0.092, 0.085},
	{0.40, 0.077, 0.080, 0.074},
	{0.65, 0.066, 0.066, 0.062},
	{0.85, 0.057, 0.058, 0.053},
	{1.00, 0.056, 0.050, 0.050},
	{1.10, 0.050, 0.052, 0.050},
	{1.25, 0.045, 0.064, 0.054},
	{1.38, 0.043, 0.066, 0.055},
	{1.55, 0.040, 0.056, 0.047},
	{1.75, 0.034, 0.041, 0.036},
	{1.92, 0.032, 0.036, 0.032},
	{2.02, 0.034, 0.036, 0.031},
}

// limbPath is a bent limb of two bones with the corner rounded off.
type limbPath struct {
	a, b, c Vec3
	side    Vec3
	round   float64 // part of each bone that is rounded
}

// at gives the place and the directions at t: 0 at a, 1 at b, 2 at c.
func (l *limbPath) at(t float64) (centre, front, side Vec3) {
	var dir Vec3
	switch {
	case t <= 1-l.round:
		centre, dir = l.a.lerp(l.b, t), l.b.sub(l.a)
	case t >= 1+l.round:
		centre, dir = l.b.lerp(l.c, t-1), l.c.sub(l.b)
	default:
		u := (t - 1 + l.round) / (2 * l.round)
		p, q := l.a.lerp(l.b, 1-l.round), l.b.lerp(l.c, l.round)
		r, s := p.lerp(l.b, u), l.b.lerp(q, u)
		centre, dir = r.lerp(s, u), s.sub(r)
	}
	dir = dir.unit()
	side = l.side.sub(dir.scale(l.side.dot(dir))).unit()
	return centre, side.cross(dir), side
}

func (f *flesh) legOf(p *Pose, leg int) {
	l := &p.Limbs[leg]
	path := limbPath{a: l.Hip, b: l.Knee, c: l.Ankle, side: Vec3{Z: 1}.aboutY(0.5 * p.PelvisYaw), round: 0.16}
	bent := clamp(flexion(l.Hip, l.Knee, l.Ankle), 0, 2)
	var rings []ring
	var v [3]float64
	add := func(t, more float64, c paint) {
		legShape.at(t, v[:])
		centre, front, side := path.at(t)
		k := f.k
		centre = centre.add(front.scale(f.look.odd.leg(t, v[:])))
		knee := math.Exp(-sq((t - 1) / 0.13))
		rings = append(rings, ring{
			centre: centre, front: front, side: side,
			ahead: (v[0]+0.014*bent*knee)*k + more, back: (v[1]-0.004*bent*knee)*k + more, wide: v[2]*k + more, colour: c,
		})
	}
	hem := 0.62
	if f.look.Tights {
		hem = 1.22
	}
	crew, slack := 1.80, 0.016
	if f.look.Tights {
		slack = 0
	}
	f.look.odd.clothes(&hem, &crew, &slack)
	loose := func(t float64) float64 {
		if slack == 0 {
			return 0.004
		}
		return 0.008 + slack*clamp(t/hem, 0, 1)
	}
	for t := -0.10; t < hem-0.01; t += 0.06 {
		add(t, loose(t), f.shorts)
	}
	add(hem, loose(hem), f.shorts)
	add(hem+0.002, 0.001, f.shorts.scale(0.6))
	add(hem+0.004, 0, f.skin)
	if crew > hem {
		for t := hem + 0.05; t < crew; t += 0.05 {
			add(t, 0, f.skin)
		}
		add(crew, 0.001, f.skin)
		add(crew+0.005, 0.004, f.sock)
	}
	for t := math.Max(crew, hem) + 0.05; t < 2.03; t += 0.05 {
		add(t, 0.004, f.sock)
	}
	f.m.loft(rings, 22)
	// The buttock rounds off hip and thigh.
	front, side := spine(p, 0)
	up := p.Chest.sub(p.Pelvis).unit()
	thigh := l.Knee.sub(l.Hip).unit()
	seat := l.Hip.add(front.scale(-0.030 * f.k)).add(up.scale(0.004 * f.k)).add(thigh.scale(0.012 * f.k))
	r := 0.089 * f.k * f.look.odd.seat()
	f.m.ball(seat, front.scale(r*1.02), up.scale(r*1.12), side.scale(r*0.94), f.shorts)
}

// Arm: place (0 shoulder, 1 elbow, 2 wrist), front, back, half width.
var armShape = profile{
	{-0.090, 0.006, 0.006, 0.006},
	{-0.080, 0.020, 0.020, 0.020},
	{-0.060, 0.034, 0.034, 0.033},
	{-0.030, 0.044, 0.045, 0.043},
	{0.00, 0.050, 0.052, 0.048},
	{0.15, 0.053, 0.054, 0.050},
	{0.40, 0.048, 0.048, 0.044},
	{0.70, 0.042, 0.044, 0.040},
	{0.92, 0.037, 0.041, 0.038},
	{1.00, 0.037, 0.042, 0.038},
	{1.15, 0.041, 0.041, 0.042},
	{1.35, 0.040, 0.038, 0.040},
	{1.65, 0.032, 0.030, 0.033},
	{1.90, 0.025, 0.024, 0.029},
	{2.05, 0.024, 0.022, 0.030},
}

func (f *flesh) armOf(p *Pose, leg int) {
	l := &p.Limbs[leg]
	side := Vec3{Z: 1}.aboutY(p.ChestYaw)
	path := limbPath{a: l.Shoulder, b: l.Elbow, c: l.Wrist, side: side, round: 0.16}
	var rings []ring
	var v [3]float64
	add := func(t, more float64, c paint) {
		armShape.at(t, v[:])
		centre, front, side := path.at(t)
		k := f.k
		rings = append(rings, ring{centre: centre, front: front, side: side,
			ahead: v[0]*k + more, back: v[1]*k + more, wide: v[2]*k + more, colour: c})
	}
	const hem = 0.56
	for _, t := range []float64{-0.090, -0.087, -0.080, -0.070, -0.053, -0.028} {
		add(t, 0.004*(t+0.090)/0.1, f.shirt)
	}
	for t := 0.0; t < hem-0.01; t += 0.06 {
		add(t, 0.006+0.010*clamp(t/hem, 0, 1), f.shirt)
	}
	add(hem, 0.016, f.shirt)
	add(hem+0.003, 0.002, f.shirt.scale(0.6))
	add(hem+0.006, 0, f.skin)
	for t := hem + 0.05; t < 2.06; t += 0.05 {
		add(t, 0, f.skin)
	}
	f.m.loft(rings, 18)
	f.hand(l, side)
}

// hand is a loosely closed hand: a palm, curled fingers and a thumb.
func (f *flesh) hand(l *Limb, side Vec3) {
	along := l.Knuckle.sub(l.Wrist).unit()
	side = side.sub(along.scale(side.dot(along))).unit()
	front := side.cross(along)
	k := f.k
	palm := l.Wrist.add(along.scale(0.048 * k))
	f.m.ball(palm, front.scale(0.040*k), along.scale(-0.056*k), side.scale(0.022*k), f.skin)
	curl := l.Wrist.add(along.scale(0.088 * k)).sub(side.scale(0.010 * k * sign(side.Z*l.Shoulder.Z)))
	f.m.ball(curl, front.scale(0.037*k), along.scale(-0.032*k), side.scale(0.026*k), f.skin.scale(0.95))
	thumb := l.Wrist.add(along.scale(0.060 * k)).add(front.scale(0.036 * k))
	f.m.ball(thumb, front.scale(0.014*k), along.scale(-0.034*k), side.scale(0.014*k), f.skin)
}

func sign(v float64) float64 {
	if v < 0 {
		return -1
	}
	return 1
}

// Shoe: place along the shoe (0 heel, 1 toe), half width of the sole, height
// of the sole's upper rim, height of the upper, narrowing at the top.
var shoeShape = profile{
	{0.00, 0.004, 0.030, 0.034, 0.8},
	{0.03, 0.024, 0.036, 0.078, 0.62},
	{0.10, 0.032, 0.036, 0.098, 0.55},
	{0.20, 0.034, 0.034, 0.104, 0.55},
	{0.32, 0.033, 0.031, 0.102, 0.55},
	{0.44, 0.035, 0.029, 0.086, 0.55},
	{0.58, 0.041, 0.027, 0.068, 0.62},
	{0.72, 0.046, 0.026, 0.056, 0.70},
	{0.85, 0.043, 0.025, 0.049, 0.74},
	{0.94, 0.032, 0.025, 0.042, 0.78},
	{0.985, 0.017, 0.024, 0.033, 0.8},
	{1.00, 0.004, 0.0215, 0.0235, 0.9},
}

// footOf draws the shoe so that its rearmost and foremost points and the
// contour of its sole are those the motion stands on.
func (f *flesh) footOf(p *Pose, leg int) {
	l := &p.Limbs[leg]
	sh := f.fig.shoe
	sin, cos := math.Sincos(l.ToeOut)
	forward := Vec3{cos, 0, outward(leg) * sin}
	side := Vec3{-outward(leg) * sin, 0, cos}
	tilt := p.Pitch
	at := func(u, y, z float64) Vec3 {
		// Heel part and toe part meet at the ball, softly.
		w := clamp((u-sh.ballU)/(0.06*sh.length)+0.5, 0, 1)
		w = w * w * (3 - 2*w)
		pitch := l.HeelPitch + (l.ToePitch-l.HeelPitch)*w
		d := vec2{u - sh.ballU, y}.turned(pitch)
		v := forward.scale(d.U).add(Vec3{Y: d.Y}).add(side.scale(z))
		return l.Ball.add(v.aboutZ(tilt))
	}
	const n, rows = 18, 26
	base := int32(len(f.m.at))
	var v [4]float64
	for i := range rows + 1 {
		part := float64(i) / rows
		part = 0.5 - 0.5*math.Cos(math.Pi*part) // closer rings at both ends
		shoeShape.at(part, v[:])
		f.look.odd.shoe(part, v[:])
		u := part * sh.length
		bottom := f.soleHeight(u)
		for k := range n {
			y, z, c := f.shoeCorner(k, n, v, bottom)
			f.m.vertex(at(u, y, z), c)
		}
	}
	f.m.skin(base, rows+1, n)
	for _, end := range []int32{base, base + rows*n} {
		mid := f.m.vertex(f.m.at[end].lerp(f.m.at[end+n/2], 0.5), f.shoe)
		for k := range int32(n) {
			a, b := end+k, end+(k+1)%n
			if end == base {
				a, b = b, a
			}
			f.m.tri = append(f.m.tri, [3]int32{a, b, mid})
		}
	}
}

// soleHeight is the height of the sole's underside along the flat shoe.
func (f *flesh) soleHeight(u float64) float64 {
	sh := f.fig.shoe
	switch {
	case u < sh.heelEdgeU: // the heel is bevelled
		return (sh.heelY - 0.004) * sq(1-u/sh.heelEdgeU)
	case u > sh.ballU:
		angle := math.Asin(clamp((u-sh.ballU)/sh.arcR, 0, 1))
		return sh.arcR * (1 - math.Cos(angle))
	default:
		return 0
	}
}

// shoeCorner gives height, side and colour of corner k of n around a ring of
// the shoe: flat underside, sole rim, rounded upper.
func (f *flesh) shoeCorner(k, n int, v [4]float64, bottom float64) (y, z float64, c paint) {
	scale := f.fig.shoe.length / 0.284
	wide, rim, top, narrow := v[0]*scale, v[1]*scale, v[2]*scale, v[3]
	rim, top = math.Max(rim, bottom+0.004), math.Max(top, bottom+0.006)
	// From the middle of the top (k = 0) round the +side to the underside.
	half := k
	s := 1.0
	if k > n/2 {
		half, s = n-k, -1
	}
	a := float64(half) / float64(n/2) // 0 top … 1 underside
	switch {
	case a < 0.60: // upper
		w := a / 0.60
		angle := w * math.Pi / 2
		z = s * wide * (narrow*math.Sin(angle) + (0.97-narrow)*w*w)
		y = rim + (top-rim)*math.Cos(angle)
		c = f.shoe
		if a < 0.12 {
			c = f.shoe.mix(f.sole, 0.25)
		}
	case a < 0.66:
		z, y, c = s*wide, rim, f.sole
	case a < 0.80:
		z, y, c = s*wide*1.02, bottom+(rim-bottom)*0.35, f.sole
	default:
		w := (1 - a) / 0.20
		z, y, c = s*wide*0.92*w, bottom, f.sole.scale(0.35)
	}
	return y, z, c
}

package standin

import (
	"math"
	"slices"
)

// Head: height over the middle of the ears, front, back, half width; metres
// for a figure of 1.75 m.
var headShape = profile{
	{-0.119, 0.070, -0.050, 0.008},
	{-0.115, 0.086, -0.030, 0.024},
	{-0.105, 0.095, -0.008, 0.038},
	{-0.088, 0.096, 0.014, 0.049},
	{-0.070, 0.095, 0.036, 0.056},
	{-0.052, 0.096, 0.056, 0.062},
	{-0.034, 0.093, 0.070, 0.066},
	{-0.014, 0.091, 0.080, 0.070},
	{0.008, 0.091, 0.087, 0.0735},
	{0.030, 0.090, 0.093, 0.0755},
	{0.050, 0.097, 0.098, 0.0765},
	{0.072, 0.093, 0.098, 0.0750},
	{0.092, 0.080, 0.090, 0.0670},
	{0.108, 0.060, 0.072, 0.0530},
	{0.119, 0.034, 0.045, 0.0330},
	{0.124, 0.008, 0.014, 0.0080},
}

// The face's colours.
var (
	earBlush    = hex(0xB0604A)
	cheekBlush  = hex(0xC0604F)
	irisColour  = hex(0x2A211C)
	eyeWhite    = hex(0xCFC6BC)
	lashColour  = hex(0x3A2A22)
	lipColour   = hex(0xA04A44)
	mouthColour = hex(0x6E332E)
)

// head draws the head with face, ears and hair.
func (f *flesh) head(p *Pose) {
	k := f.fig.height / 1.75
	turn := func(v Vec3) Vec3 { return p.Head.add(v.scale(k).aboutZ(p.HeadPitch)) }
	heights, azimuths := headGrid()
	base := int32(len(f.m.at))
	var v [3]float64
	for _, y := range heights {
		headShape.at(y, v[:])
		for _, a := range azimuths {
			f.m.vertex(turn(f.headPoint(y, a, v)), f.headPaint(y, a, v))
		}
	}
	f.m.skin(base, len(heights), len(azimuths))
	for _, side := range []float64{-1, 1} {
		ear := Vec3{-0.006, 0.000, side * 0.0755}
		x := Vec3{0.017, 0, 0}.scale(k).aboutZ(p.HeadPitch - 0.15)
		y := Vec3{0, 0.031, 0}.scale(k).aboutZ(p.HeadPitch - 0.15)
		z := Vec3{-0.003 * side * side, 0, side * 0.0105}.scale(k)
		if side < 0 { // keep the ball's corners turning the same way
			x = x.scale(-1)
		}
		f.m.ball(turn(ear), x, y, z, f.skin.mix(earBlush, 0.22))
		f.m.ball(turn(ear.add(Vec3{0.003, -0.002, side * 0.006})), x.scale(0.5), y.scale(0.55), z.scale(0.6), f.skin.scale(0.72))
	}
	if f.look.Bun {
		f.m.ball(turn(Vec3{-0.112, 0.055, 0}), Vec3{0.040 * k, 0, 0}, Vec3{0, 0.040 * k, 0}, Vec3{0, 0, 0.040 * k}, f.hair)
	}
}

// headGrid gives the rows and columns of the head's mesh, closer on the face.
func headGrid() (heights, azimuths []float64) {
	for y := -0.119; y < 0.062; y += 0.0038 {
		heights = append(heights, y)
	}
	for y := 0.062; y < 0.124; y += 0.006 {
		heights = append(heights, y)
	}
	heights = append(heights, 0.124)
	slices.Reverse(heights) // from the top down, as limbs are
	for i := range 36 {
		azimuths = append(azimuths, -0.9+1.8*float64(i)/36)
	}
	for i := range 44 {
		azimuths = append(azimuths, 0.9+(2*math.Pi-1.8)*float64(i)/44)
	}
	return heights, azimuths
}

// bump is a smooth hill of the given centre and half-width.
func bump(x, centre, half float64) float64 { return math.Exp(-sq((x - centre) / half)) }

// headPoint is the surface at height y and azimuth a (0 the face, positive
// to the runner's right).
func (f *flesh) headPoint(y, a float64, v [3]float64) Vec3 {
	s, c := math.Sincos(a)
	mid, along := (v[0]-v[1])/2, (v[0]+v[1])/2
	x, z := mid+along*c, v[2]*s
	face := bump(a, 0, 0.14+0.09*clamp((0.02-y)/0.03, 0, 1))
	nose := face * noseProfile(y) * 1.05
	socket := (bump(a, 0.38, 0.16) + bump(a, -0.38, 0.16)) * bump(y, 0.027, 0.013) * -0.007
	lips := bump(a, 0, 0.26) * (0.004*bump(y, -0.052, 0.006) + 0.004*bump(y, -0.064, 0.006))
	x += nose + socket + lips
	if h := f.hairAt(y, a); h > 0 {
		grow := 1 + 0.13*h
		x, z = x*grow, z*grow
		y += 0.011 * h * clamp(y/0.12, 0, 1)
	}
	return Vec3{x, y, z}
}

// noseProfile is how far the nose stands out at height y.
func noseProfile(y float64) float64 {
	switch {
	case y > 0.030 || y < -0.026:
		return 0
	case y > -0.010:
		return 0.028 * math.Pow((0.030-y)/0.040, 1.1)
	default:
		u := (y + 0.026) / 0.016
		return 0.028 * u * u * (3 - 2*u)
	}
}

// hairAt is 1 where hair covers the head, 0 on the skin, smooth between.
func (f *flesh) hairAt(y, a float64) float64 {
	a = math.Abs(math.Remainder(a, 2*math.Pi))
	line := 0.078 // on the forehead
	switch {
	case a > 1.75: // nape
		line = 0.030 - 0.085*clamp((a-1.75)/0.6, 0, 1)
	case a > 1.25: // over the ear
		line = 0.036
	case a > 0.80: // temple
		line = 0.078 - 0.042*clamp((a-0.80)/0.45, 0, 1)
	}
	u := clamp((y-line)/0.010+0.5, 0, 1)
	return u * u * (3 - 2*u)
}

// headPaint is the colour of the surface at height y and azimuth a.
func (f *flesh) headPaint(y, a float64, v [3]float64) paint {
	c := f.skin
	side := math.Abs(math.Remainder(a, 2*math.Pi))
	z := v[2] * math.Sin(side)
	if side < 1.2 {
		c = c.mix(cheekBlush, float32(0.16*bump(z, 0.045, 0.02)*bump(y, -0.015, 0.022)))
		eye := sq((z-0.033)/0.0140) + sq((y-0.0270)/0.0058)
		switch {
		case eye < 1 && sq((z-0.034)/0.0070)+sq((y-0.027)/0.0070) < 1:
			c = irisColour
		case eye < 1:
			c = eyeWhite
		case eye < 2.0 && y > 0.027:
			c = lashColour
		}
		if math.Abs(y-0.0455+0.1*(z-0.03)) < 0.0042 && z > 0.012 && z < 0.052 {
			c = f.hair.mix(f.skin, 0.2)
		}
		if z < 0.025 && math.Abs(y+0.058) < 0.0085-0.12*z {
			c = f.skin.mix(lipColour, 0.6)
			if math.Abs(y+0.0578) < 0.0020 {
				c = mouthColour
			}
		}
		if z > 0.003 && z < 0.012 && math.Abs(y+0.022) < 0.003 {
			c = f.skin.scale(0.55)
		}
	}
	if h := f.hairAt(y, a); h > 0 {
		strand := float32(0.85 + 0.3*math.Abs(math.Sin(23*a+90*y)))
		c = c.mix(f.hair.scale(strand), float32(h))
	}
	return c
}

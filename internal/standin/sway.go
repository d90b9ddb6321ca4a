package standin

import (
	"math"
	"math/rand/v2"
)

// Sway is how the camera moves while it films. The zero value is a tripod.
type Sway struct {
	// Follow is the share of the runner's way that the camera turns along
	// with: 0 films straight on, 1 keeps the runner where the aim put them.
	Follow float64
	// ShakeDeg is the standard deviation of each of the three turns of a hand
	// that holds the camera, ShakeM of its shifts along each axis, metres.
	ShakeDeg, ShakeM float64
	// Seed draws the shake.
	Seed uint64
}

// Still tells whether the camera does not move at all.
func (s Sway) Still() bool { return s.Follow == 0 && s.ShakeDeg == 0 && s.ShakeM == 0 }

// shakeHz are the frequencies of a hand: slow drift, breath and sway, tremor
// of the arm; shakeShare the share of the variance in each (common practice,
// no source).
var (
	shakeHz    = [5]float64{0.23, 0.6, 1.4, 3.1, 6.3}
	shakeShare = [5]float64{0.4, 0.3, 0.17, 0.1, 0.03}
)

// waves gives six smooth wanderings of standard deviation 1 at time t.
func (s Sway) waves(t float64) [6]float64 {
	rng := rand.New(rand.NewPCG(s.Seed, 77))
	var out [6]float64
	for i := range out {
		for k, f := range shakeHz {
			out[i] += math.Sqrt(2*shakeShare[k]) * math.Sin(2*math.Pi*(f*(0.85+0.3*rng.Float64())*t+rng.Float64()))
		}
	}
	return out
}

// LensAt sets the camera up as it stands at time t, the runner having come
// travelM along X since time 0.
func (c Camera) LensAt(t, travelM float64) Lens {
	l := c.Lens()
	if c.Sway.Still() {
		return l
	}
	w := c.Sway.waves(t)
	aim := Vec3{X: c.AimXM + c.Sway.Follow*(travelM-c.AimXM), Y: c.AimYM}
	eye := l.eye.add(Vec3{w[3], w[4], w[5]}.scale(c.Sway.ShakeM))
	roll := rad(c.RollDeg + c.Sway.ShakeDeg*w[2])
	yaw, pitch := rad(c.Sway.ShakeDeg*w[0]), rad(c.Sway.ShakeDeg*w[1])
	ahead := aim.sub(l.eye).unit()
	right := ahead.cross(Vec3{Y: 1}).unit()
	down := ahead.cross(right)
	ahead = ahead.add(right.scale(math.Tan(yaw))).add(down.scale(math.Tan(pitch))).unit()
	l.aim(eye, ahead, roll)
	return l
}

// aim points the lens from an eye in a direction, the scene turned clockwise
// by roll radians.
func (l *Lens) aim(eye, ahead Vec3, roll float64) {
	l.eye, l.ahead = eye, ahead
	right := ahead.cross(Vec3{Y: 1}).unit()
	down := ahead.cross(right)
	s, k := math.Sincos(roll)
	// The scene turns clockwise when the camera turns the other way.
	l.right = right.scale(k).sub(down.scale(s))
	l.down = right.scale(s).add(down.scale(k))
}

// Turn gives the directions of the lens's axes in the world – right, down,
// ahead – and its focal length in pixels: what a registration of the
// background should find.
func (l *Lens) Turn() (axes [3]Vec3, focalPx float64) {
	return [3]Vec3{l.right, l.down, l.ahead}, l.focal
}

// lensAt is the camera's lens at time t of the motion.
func (m *Motion) lensAt(cam Camera, t float64) Lens { return cam.LensAt(t, m.travel(t)) }

// travel is how far the runner has come over ground by time t, metres.
func (m *Motion) travel(t float64) float64 {
	if m.r.Treadmill {
		return 0
	}
	return m.r.SpeedMS * t
}

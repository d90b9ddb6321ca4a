package standin

import (
	"math"
	"math/rand/v2"

	"plumbstride/internal/form"
)

// Track films the runner's joints: the pose track a perfect network would
// give, with the camera's noise and gaps, and the truth behind it. Random
// numbers come from rng alone (nil: no spread from step to step, no flaws).
func Track(r Runner, cam Camera, seconds float64, rng *rand.Rand) (form.Track, Truth, error) {
	m, err := NewMotion(r, seconds, rng)
	if err != nil {
		return form.Track{}, Truth{}, err
	}
	if err := cam.check(); err != nil {
		return form.Track{}, Truth{}, err
	}
	return m.Track(cam, rng), m.Truth(cam.Near()), nil
}

// Track films the motion's joints with the camera; see the function Track.
func (m *Motion) Track(cam Camera, rng *rand.Rand) form.Track {
	out := form.Track{Width: cam.Width, Height: cam.Height, RateHz: cam.RateHz, View: cam.View}
	if cam.View == form.ViewSide {
		out.Facing = cam.Facing
	}
	var flaws [form.NumJoints]flaw
	var shown Pose
	taken := math.Inf(-1)
	var lens Lens
	for _, s := range cam.Stamps(m.seconds, rng) {
		if s.Taken != taken {
			shown, taken = m.Pose(s.Taken), s.Taken
			lens = m.lensAt(cam, s.Taken)
			for j := range flaws {
				flaws[j].step(cam, rng)
			}
		}
		f := form.Frame{Time: s.Time}
		for j := range form.Joint(form.NumJoints) {
			x, y, depth := lens.Project(shown.Joint(j))
			x, y = x+flaws[j].dx, y+flaws[j].dy
			inside := depth > 0 && x >= 0 && y >= 0 && x < float64(cam.Width) && y < float64(cam.Height)
			if !inside || flaws[j].gone {
				continue
			}
			f.Spots[j] = form.Spot{X: x, Y: y, Confidence: shown.confidence(j, &lens) - flaws[j].doubt}
		}
		out.Frames = append(out.Frames, f)
	}
	return out
}

// flaw is what is wrong with one joint in one frame.
type flaw struct {
	dx, dy, doubt float64
	gone, begun   bool
}

// meanGap is the mean length of a gap in frames.
const meanGap = 3

func (f *flaw) step(cam Camera, rng *rand.Rand) {
	if rng == nil {
		return
	}
	keep := cam.NoiseMemory
	fresh := cam.NoisePx * math.Sqrt(1-keep*keep)
	if !f.begun {
		keep, fresh = 0, cam.NoisePx
	}
	f.dx = keep*f.dx + fresh*rng.NormFloat64()
	f.dy = keep*f.dy + fresh*rng.NormFloat64()
	f.doubt = 0.05 * rng.Float64()
	// Two states: the part of time spent in a gap is Dropout.
	u := rng.Float64()
	switch {
	case !f.begun:
		f.gone = u < cam.Dropout
	case f.gone:
		f.gone = u > 1.0/meanGap
	default:
		f.gone = u < cam.Dropout/((1-cam.Dropout)*meanGap)
	}
	f.begun = true
}

// Joint gives the place of a joint of the pose track.
func (p *Pose) Joint(j form.Joint) Vec3 {
	if j == 0 {
		return p.Nose
	}
	l := &p.Limbs[0]
	if j.Side() == form.Right {
		l = &p.Limbs[1]
	}
	switch j.Point() {
	case form.Eye:
		return l.Eye
	case form.Ear:
		return l.Ear
	case form.Shoulder:
		return l.Shoulder
	case form.Elbow:
		return l.Elbow
	case form.Wrist:
		return l.Wrist
	case form.Hip:
		return l.Hip
	case form.Knee:
		return l.Knee
	case form.Ankle:
		return l.Ankle
	case form.Heel:
		return l.Heel
	default:
		return l.Toe
	}
}

// confidence is high for a joint in sight and lower for one that is hidden
// behind the trunk, the head or another limb.
func (p *Pose) confidence(j form.Joint, lens *Lens) float64 {
	at := p.Joint(j)
	_, _, depth := lens.Project(at)
	hidden := func(a, b Vec3, radius float64) bool {
		return p.covers(at, depth, a, b, radius, lens)
	}
	if hidden(p.Pelvis, p.Chest, 0.12) || hidden(p.Head, p.Head, 0.08) {
		return 0.55
	}
	for i := range p.Limbs {
		l := &p.Limbs[i]
		if hidden(l.Hip, l.Knee, 0.06) || hidden(l.Knee, l.Ankle, 0.045) || hidden(l.Shoulder, l.Elbow, 0.04) || hidden(l.Elbow, l.Wrist, 0.035) {
			return 0.65
		}
	}
	return 0.97
}

// covers tells whether the bar a–b of the given radius hides a place: it
// lies more than the radius and 3 cm nearer, and over it in the picture.
func (p *Pose) covers(at Vec3, depth float64, a, b Vec3, radius float64, lens *Lens) bool {
	ray := at.sub(lens.eye).unit()
	// The nearest point of the bar to the line of sight, by steps: bars are short.
	for i := range 9 {
		c := a.lerp(b, float64(i)/8)
		d := c.sub(lens.eye)
		along := d.dot(ray)
		if d.sub(ray.scale(along)).norm() < radius && d.dot(lens.ahead) < depth-radius-0.03 {
			return true
		}
	}
	return false
}

package standin

import "math/rand/v2"

// layGround draws the height of the ground under each step (nil: level).
func (m *Motion) layGround(rng *rand.Rand) {
	m.uneven = nil
	if rng == nil || m.r.UnevenM <= 0 || m.r.Gait != Running {
		return
	}
	m.uneven = make([]float64, len(m.steps))
	for i := range m.uneven {
		m.uneven[i] = m.r.UnevenM * clamp(rng.NormFloat64(), -2, 2)
	}
}

// rise is how much higher the whole runner is at time t for the ground's
// sake: the ground's height under the foot that stands on it, and smoothly
// from one to the next in flight, so that no angle changes.
func (m *Motion) rise(t float64) float64 {
	if m.uneven == nil {
		return 0
	}
	k := current(m.steps, t)
	if k+1 >= len(m.steps) || t <= m.steps[k].off {
		return m.uneven[k]
	}
	u := clamp((t-m.steps[k].off)/(m.steps[k+1].on-m.steps[k].off), 0, 1)
	return m.uneven[k] + (m.uneven[k+1]-m.uneven[k])*u*u*(3-2*u)
}

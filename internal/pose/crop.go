package pose

import "plumbstride/internal/form"

// Crop is the square of one frame that the measuring networks look at, kept
// so that a heavier network can look again without decoding the clip twice.
type Crop struct {
	// Frame is the place of the frame in the clip, from 0.
	Frame int
	// Region is where the square stands, in shown pixels.
	Region Region

	scale  float64  // shown pixels over the decoded frame's pixels
	pic    *picture // nil when let go
	seen   *body    // what the measuring network made of it
	net    string   // and which network that was
	hidden bool     // somebody else stands before the runner
	low    *low     // the legs' part of the frame, until it is looked at
	legs   *legLook // what the leg network made of it
}

// Kept tells whether the crop's picture is still there.
func (c *Crop) Kept() bool { return c.pic != nil }

// place gives a landmark in shown pixels.
func (c *Crop) place(p landmark) (x, y float64) { return c.Region.At(p.x, p.y) }

// frame gives the crop's body as spots of a form.Frame at a time. Without a
// person in the region every spot is missing.
func (c *Crop) frame(time float64) form.Frame {
	f := form.Frame{Time: time}
	if c.seen == nil || c.seen.presence < presentAbove {
		return f
	}
	for j := range f.Spots {
		i := landmarkOf[j]
		x, y := c.place(c.seen.points[i])
		f.Spots[j] = form.Spot{X: x, Y: y, Confidence: c.seen.confidence(i, c.seen.hasMap)}
	}
	return f
}

// depth gives the crop's joints in metres about the mid-hip, turned from the
// region's axes to the picture's.
func (c *Crop) depth() (joints [form.NumJoints][3]float64) {
	if c.seen == nil || !c.seen.hasWorld {
		return joints
	}
	square := Region{X: 0, Y: 0, Side: 1, Angle: c.Region.Angle}
	for j := range joints {
		w := c.seen.world[landmarkOf[j]]
		x, y := square.At(w[0]+0.5, w[1]+0.5)
		joints[j] = [3]float64{x, y, w[2]}
	}
	return joints
}

// store counts the memory that crops hold and lets go of the least useful
// ones when it is too much.
type store struct {
	limit, held int
}

func (s *store) add(c *Crop) { s.held += c.pic.bytes() }

func (s *store) drop(c *Crop) {
	if c.pic != nil {
		s.held -= c.pic.bytes()
		c.pic = nil
	}
}

// makeRoom lets go of crops until another fits: first those of people other
// than the lead, the oldest first. It tells whether there is room.
func (s *store) makeRoom(size int, people []*person, lead *person) bool {
	for _, p := range people {
		if p == lead {
			continue
		}
		for _, c := range p.crops {
			if s.held+size <= s.limit {
				return true
			}
			s.drop(c)
		}
	}
	return s.held+size <= s.limit
}

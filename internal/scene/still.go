package scene

import "math"

// Still tells whether the camera stood still between pictures, taken far
// apart in time, of which boxes holds what moves before the background: each
// lies on the first as it is better than moved aside by stillStep pixels in
// any direction, by the sum of absolute differences. Compression, noise and
// people who pass leave it true; a camera that was moved and not brought back
// does not. It needs two pictures; of a plain wall it tells nothing, and
// gives false.
func Still(pictures []Luma, boxes []Box) bool {
	if len(pictures) < 2 {
		return false
	}
	first, kept := pictures[0], 0
	for i := 1; i < len(pictures); i++ {
		if pictures[i].Width != first.Width || pictures[i].Height != first.Height {
			return false
		}
		hidden := []Box{boxes[0], boxes[i]}
		at := difference(first, pictures[i], hidden, 0, 0)
		best := math.Inf(1)
		for _, d := range [4][2]int{{stillStep, 0}, {-stillStep, 0}, {0, stillStep}, {0, -stillStep}} {
			best = math.Min(best, difference(first, pictures[i], hidden, d[0], d[1]))
		}
		if at < stillShare*best {
			kept++
		}
	}
	return kept == len(pictures)-1
}

const (
	stillStep  = 3    // pixels
	stillShare = 0.85 // of the difference when moved aside
	stillGrid  = 3    // every so many pixels are looked at
)

// difference is the mean absolute difference between a and b moved by dx, dy,
// outside the boxes.
func difference(a, b Luma, hidden []Box, dx, dy int) float64 {
	sum, n := 0, 0
	for y := stillStep; y < a.Height-stillStep; y += stillGrid {
	row:
		for x := stillStep; x < a.Width-stillStep; x += stillGrid {
			for _, h := range hidden {
				if h.holds(float64(x), float64(y)) {
					continue row
				}
			}
			d := int(a.Pix[y*a.Stride+x]) - int(b.Pix[(y+dy)*b.Stride+x+dx])
			sum += max(d, -d)
			n++
		}
	}
	if n == 0 {
		return 0
	}
	return float64(sum) / float64(n)
}

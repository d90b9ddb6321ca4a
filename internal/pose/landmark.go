package pose

import (
	"fmt"
	"math"

	"plumbstride/internal/form"
)

// The landmark networks' outputs.
const (
	numLandmarks   = 39 // 33 body points, 2 that place the region, 4 spare
	landmarkFields = 5  // x, y, z, visibility, presence
	hipCentre      = 33 // the mid-hip, centre of the next region
	bodySize       = 34 // its distance from the mid-hip is the body's size
	mapSize        = 64 // side of a heat map
	mapWindow      = 3  // columns and rows to each side of the raw point
	refineAbove    = 0.5
	mapLooks       = 5
	presentAbove   = 0.5 // least presence of a person in the region
)

// landmark is one point in the region: x, y and z in units of the region's
// side; visible and present are probabilities (not hidden; inside the
// square), peak is the largest probability of the heat map around the raw
// point, 0 where the network gave no map.
type landmark struct {
	x, y, z          float64
	visible, present float64
	peak             float64
}

// body is what a landmark network makes of one region.
type body struct {
	presence float64
	points   [numLandmarks]landmark
	world    [numLandmarks][3]float64 // metres from the mid-hip, along the region's axes; z away from the camera
	hasWorld bool
	hasMap   bool
}

// decodeBody reads a landmark network's outputs: landmarks (39 × 5, x, y, z
// in pixels of its input, then the logits of visibility and presence),
// presence (1, a probability) and, where there are, heatmap (64 × 64 × 39
// logits) and world (39 × 3). The points are refined by the map, with so many
// looks at it.
func decodeBody(out map[string][]float32, looks int) (body, error) {
	raw, presence := out["landmarks"], out["presence"]
	if len(raw) != numLandmarks*landmarkFields || len(presence) != 1 {
		return body{}, fmt.Errorf("landmark network gave %d values and %d presences, not %d and 1",
			len(raw), len(presence), numLandmarks*landmarkFields)
	}
	var b body
	b.presence = float64(presence[0])
	for i := range b.points {
		v := raw[i*landmarkFields:]
		b.points[i] = landmark{
			x: float64(v[0]) / cropSize, y: float64(v[1]) / cropSize, z: float64(v[2]) / cropSize,
			visible: sigmoid(float64(v[3])), present: sigmoid(float64(v[4])),
		}
		if !finite(b.points[i].x) || !finite(b.points[i].y) {
			return body{}, fmt.Errorf("landmark network gave a point that is not a number")
		}
	}
	if heat := out["heatmap"]; len(heat) == mapSize*mapSize*numLandmarks {
		b.hasMap = true
		for i := range b.points {
			b.points[i] = refined(b.points[i], heat, i, looks)
		}
	} else if len(heat) != 0 {
		return body{}, fmt.Errorf("landmark network gave a heat map of %d values, not %d",
			len(heat), mapSize*mapSize*numLandmarks)
	}
	if world := out["world"]; len(world) == numLandmarks*3 {
		b.hasWorld = true
		for i := range b.world {
			for k := range 3 {
				b.world[i][k] = float64(world[3*i+k])
			}
		}
	}
	return b, nil
}

// refined looks at the 7 × 7 cells of map k around a point's raw place and
// keeps their largest probability as the point's peak. Where it reaches
// refineAbove, the point moves to the mean place of the cells weighted by
// their probabilities; cell c stands at c/64 of the side. looks times in all,
// each around the place that the one before gave; with 0 the point stays.
func refined(p landmark, heat []float32, k, looks int) landmark {
	for look := range max(1, looks) {
		col, row := int(p.x*mapSize), int(p.y*mapSize)
		if col < 0 || col >= mapSize || row < 0 || row >= mapSize {
			return p
		}
		peak, sum, sumX, sumY := 0.0, 0.0, 0.0, 0.0
		for r := max(0, row-mapWindow); r <= min(mapSize-1, row+mapWindow); r++ {
			for c := max(0, col-mapWindow); c <= min(mapSize-1, col+mapWindow); c++ {
				q := sigmoid(float64(heat[(r*mapSize+c)*numLandmarks+k]))
				sum += q
				sumX += q * float64(c)
				sumY += q * float64(r)
				peak = math.Max(peak, q)
			}
		}
		p.peak = math.Max(p.peak, peak)
		if look >= looks || peak < refineAbove {
			return p
		}
		x, y := sumX/mapSize/sum, sumY/mapSize/sum
		still := int(x*mapSize) == col && int(y*mapSize) == row
		p.x, p.y = x, y
		if still {
			return p
		}
	}
	return p
}

// next gives the region around the body for the next frame.
func (b *body) next(at Region, factor float64) Region {
	hipX, hipY := at.At(b.points[hipCentre].x, b.points[hipCentre].y)
	topX, topY := at.At(b.points[bodySize].x, b.points[bodySize].y)
	return regionFromBody(hipX, hipY, topX, topY, factor)
}

// landmarkOf gives, for each joint of a form.Frame, the number of its
// landmark. The networks' left and right are the person's own.
var landmarkOf = func() (of [form.NumJoints]int) {
	of[0] = 0 // nose
	left := map[form.Point]int{
		form.Eye: 2, form.Ear: 7, form.Shoulder: 11, form.Elbow: 13, form.Wrist: 15,
		form.Hip: 23, form.Knee: 25, form.Ankle: 27, form.Heel: 29, form.Toe: 31,
	}
	for point, i := range left {
		of[form.At(point, form.Left)] = i
		of[form.At(point, form.Right)] = i + 1
	}
	of[form.At(form.Eye, form.Right)] = 5
	return of
}()

// confidence of one point: how sure the network is that the person is there,
// that the point is inside its square and that nothing hides it, lowered to
// half where the heat map shows no peak there:
// presence · present · visible · (1 + min(peak/0.5, 1))/2. Without a map the
// last factor is left out.
func (b *body) confidence(i int, hasMap bool) float64 {
	p := b.points[i]
	c := b.presence * p.present * p.visible
	if hasMap {
		c *= (1 + math.Min(p.peak/refineAbove, 1)) / 2
	}
	return math.Max(0, math.Min(c, 1))
}

func finite(x float64) bool { return !math.IsNaN(x) && !math.IsInf(x, 0) }

package pose

import (
	"fmt"
	"math"
	"sort"
)

const (
	numAnchors    = 2254
	boxFields     = 12  // centre x, y, width, height, then 4 points x, y
	boxPoints     = 4   // mid-hip, body size, mid-shoulder, upper-body size
	detectAbove   = 0.5 // least score of a detection
	suppressAbove = 0.3 // detections that overlap more are one person
	scoreLimit    = 100 // the score's logit is clipped here
)

// detection is one person as the detector sees them in a square: everything
// from 0 to 1 over the square's side.
type detection struct {
	score          float64
	x0, y0, x1, y1 float64 // box
	points         [boxPoints][2]float64
}

// region gives where a landmark network has to look, in the pixels in which
// the detector's square is given.
func (d detection) region(square Region) Region {
	hipX, hipY := square.At(d.points[0][0], d.points[0][1])
	topX, topY := square.At(d.points[1][0], d.points[1][1])
	return regionFromBody(hipX, hipY, topX, topY, bodyFactor)
}

// anchorCentres lists the detector's anchors as x, y in 0…1, in the order of
// its outputs: a grid of 28 × 28 cells with 2 anchors each, 14 × 14 with 2,
// and 7 × 7 with 6, row by row.
func anchorCentres() [][2]float64 {
	anchors := make([][2]float64, 0, numAnchors)
	for _, grid := range []struct{ cells, each int }{{28, 2}, {14, 2}, {7, 6}} {
		for row := range grid.cells {
			for col := range grid.cells {
				centre := [2]float64{
					(float64(col) + 0.5) / float64(grid.cells),
					(float64(row) + 0.5) / float64(grid.cells),
				}
				for range grid.each {
					anchors = append(anchors, centre)
				}
			}
		}
	}
	return anchors
}

// decodeDetections reads the detector's outputs boxes (2254 × 12, in pixels
// of its input and relative to the anchors) and scores (2254 logits) and
// joins what overlaps; the surest comes first.
func decodeDetections(anchors [][2]float64, boxes, scores []float32) ([]detection, error) {
	if len(boxes) != numAnchors*boxFields || len(scores) != numAnchors {
		return nil, fmt.Errorf("detector gave %d box values and %d scores, not %d and %d",
			len(boxes), len(scores), numAnchors*boxFields, numAnchors)
	}
	var found []detection
	for i, logit := range scores {
		score := sigmoid(math.Max(-scoreLimit, math.Min(float64(logit), scoreLimit)))
		if !(score >= detectAbove) {
			continue
		}
		row := boxes[i*boxFields : (i+1)*boxFields]
		at := func(k int) float64 { return float64(row[k])/detectorSize + anchors[i][k%2] }
		w, h := float64(row[2])/detectorSize, float64(row[3])/detectorSize
		d := detection{score: score}
		d.x0, d.y0, d.x1, d.y1 = at(0)-w/2, at(1)-h/2, at(0)+w/2, at(1)+h/2
		for p := range boxPoints {
			d.points[p] = [2]float64{at(4 + 2*p), at(5 + 2*p)}
		}
		found = append(found, d)
	}
	return suppress(found), nil
}

// suppress joins detections of the same person, weighted by score: each
// group is made of the surest detection left and of all that overlap its box
// by more than suppressAbove (intersection over union).
func suppress(found []detection) []detection {
	left := append([]detection(nil), found...)
	sort.SliceStable(left, func(i, j int) bool { return left[i].score > left[j].score })
	var people []detection
	for len(left) > 0 {
		best := left[0]
		var group, rest []detection
		for _, d := range left {
			if overlap(best, d) > suppressAbove {
				group = append(group, d)
			} else {
				rest = append(rest, d)
			}
		}
		if len(group) == 0 { // a box without area overlaps nothing, itself included
			group, rest = left[:1], left[1:]
		}
		people = append(people, weightedMean(group))
		left = rest
	}
	return people
}

// weightedMean is the mean of a group weighted by score, with the score of
// its first.
func weightedMean(group []detection) detection {
	sum := 0.0
	mean := detection{score: group[0].score}
	for _, d := range group {
		sum += d.score
		mean.x0 += d.score * d.x0
		mean.y0 += d.score * d.y0
		mean.x1 += d.score * d.x1
		mean.y1 += d.score * d.y1
		for p := range d.points {
			mean.points[p][0] += d.score * d.points[p][0]
			mean.points[p][1] += d.score * d.points[p][1]
		}
	}
	mean.x0 /= sum
	mean.y0 /= sum
	mean.x1 /= sum
	mean.y1 /= sum
	for p := range mean.points {
		mean.points[p][0] /= sum
		mean.points[p][1] /= sum
	}
	return mean
}

// overlap is the intersection of two boxes over their union.
func overlap(a, b detection) float64 {
	w := math.Min(a.x1, b.x1) - math.Max(a.x0, b.x0)
	h := math.Min(a.y1, b.y1) - math.Max(a.y0, b.y0)
	if w <= 0 || h <= 0 {
		return 0
	}
	area := func(d detection) float64 { return (d.x1 - d.x0) * (d.y1 - d.y0) }
	return w * h / (area(a) + area(b) - w*h)
}

func sigmoid(x float64) float64 { return 1 / (1 + math.Exp(-x)) }

package pose

import (
	"math"
	"testing"
)

func TestAnchors(t *testing.T) {
	anchors := anchorCentres()
	if len(anchors) != numAnchors {
		t.Fatalf("%d anchors, want %d", len(anchors), numAnchors)
	}
	// By hand: 28·28·2 = 1568 anchors come before the 14 × 14 grid, and
	// 14·14·2 = 392 more before the 7 × 7 grid.
	for _, tt := range []struct {
		i    int
		x, y float64
	}{
		{0, 0.5 / 28, 0.5 / 28}, {1, 0.5 / 28, 0.5 / 28}, {2, 1.5 / 28, 0.5 / 28}, {56, 0.5 / 28, 1.5 / 28},
		{1568, 0.5 / 14, 0.5 / 14}, {1960, 0.5 / 7, 0.5 / 7}, {1966, 1.5 / 7, 0.5 / 7}, {2253, 6.5 / 7, 6.5 / 7},
	} {
		if got := anchors[tt.i]; math.Abs(got[0]-tt.x) > 1e-12 || math.Abs(got[1]-tt.y) > 1e-12 {
			t.Errorf("anchor %d is at %.4f, %.4f, want %.4f, %.4f", tt.i, got[0], got[1], tt.x, tt.y)
		}
	}
}

// detectorOutput makes outputs in which nobody is seen.
func detectorOutput() (boxes, scores []float32) {
	boxes, scores = make([]float32, numAnchors*boxFields), make([]float32, numAnchors)
	for i := range scores {
		scores[i] = -50
	}
	return boxes, scores
}

// see writes one anchor's answer: everything in pixels of 224.
func see(boxes, scores []float32, anchor int, logit float32, dx, dy, w, h float32, points [4][2]float32) {
	row := boxes[anchor*boxFields:]
	row[0], row[1], row[2], row[3] = dx, dy, w, h
	for k, p := range points {
		row[4+2*k], row[5+2*k] = p[0], p[1]
	}
	scores[anchor] = logit
}

func TestDecodeDetections(t *testing.T) {
	anchors := anchorCentres()
	boxes, scores := detectorOutput()
	// Anchor 2100 is cell (2100−1960)/6 = 23 of the 7 × 7 grid: row 3, column
	// 2, centre 2.5/7, 3.5/7 = 80, 112 of 224.
	see(boxes, scores, 2100, 3, 4, -2, 40, 60, [4][2]float32{{0, 10}, {2, -50}, {}, {}})
	found, err := decodeDetections(anchors, boxes, scores)
	if err != nil || len(found) != 1 {
		t.Fatalf("found %d people (%v), want 1", len(found), err)
	}
	d := found[0]
	for name, tt := range map[string][2]float64{
		"score":       {d.score, 1 / (1 + math.Exp(-3))},
		"left edge":   {d.x0 * 224, 84 - 20},
		"right edge":  {d.x1 * 224, 84 + 20},
		"top edge":    {d.y0 * 224, 110 - 30},
		"bottom edge": {d.y1 * 224, 110 + 30},
		"hip x":       {d.points[0][0] * 224, 80},
		"hip y":       {d.points[0][1] * 224, 122},
		"size x":      {d.points[1][0] * 224, 82},
		"size y":      {d.points[1][1] * 224, 62},
	} {
		if math.Abs(tt[0]-tt[1]) > 1e-4 {
			t.Errorf("%s is %.4f, want %.4f", name, tt[0], tt[1])
		}
	}
	// In a picture of 1920 × 1080 the letterboxed square has a side of 1920
	// and begins 420 above the picture.
	r := d.region(letterbox(1920, 1080))
	k := 1920.0 / 224
	want := Region{X: 80 * k, Y: 122*k - 420, Side: 2.5 * math.Hypot(2, 60) * k, Angle: math.Atan2(2, 60)}
	if math.Abs(r.X-want.X) > 1e-3 || math.Abs(r.Y-want.Y) > 1e-3 || math.Abs(r.Side-want.Side) > 1e-3 || math.Abs(r.Angle-want.Angle) > 1e-6 {
		t.Errorf("region is %+v, want %+v", r, want)
	}
}

func TestDecodeDetectionsLimits(t *testing.T) {
	anchors := anchorCentres()
	boxes, scores := detectorOutput()
	scores[7] = -0.001 // just below 0.5
	scores[9] = float32(math.Inf(-1))
	scores[11] = float32(math.NaN())
	if found, err := decodeDetections(anchors, boxes, scores); err != nil || len(found) != 0 {
		t.Errorf("found %d people (%v), want none", len(found), err)
	}
	see(boxes, scores, 0, 0, 0, 0, 10, 10, [4][2]float32{})
	see(boxes, scores, 2253, float32(math.Inf(1)), 0, 0, 0, 0, [4][2]float32{}) // no area, and no end
	found, err := decodeDetections(anchors, boxes, scores)
	if err != nil || len(found) != 2 || found[0].score != 1 || found[1].score != 0.5 {
		t.Errorf("found %+v (%v), want scores 1 and 0.5", found, err)
	}
	if _, err := decodeDetections(anchors, boxes[1:], scores); err == nil {
		t.Error("too few values were taken")
	}
}

// Two boxes that overlap by 0.6 are one person, at the mean weighted by score;
// a third one elsewhere is another.
func TestSuppress(t *testing.T) {
	a := detection{score: 0.9, x0: 0.1, y0: 0.1, x1: 0.5, y1: 0.9}
	b := detection{score: 0.6, x0: 0.2, y0: 0.1, x1: 0.6, y1: 0.9} // intersection 0.3, union 0.5 of the width
	c := detection{score: 0.7, x0: 0.7, y0: 0.1, x1: 0.9, y1: 0.9}
	a.points[0], b.points[0] = [2]float64{0.3, 0.5}, [2]float64{0.4, 0.6}
	got := suppress([]detection{b, c, a})
	if len(got) != 2 || got[0].score != 0.9 || got[1].score != 0.7 {
		t.Fatalf("got %+v, want two people with scores 0.9 and 0.7", got)
	}
	// (0.9·0.1 + 0.6·0.2)/1.5 = 0.14, and so on.
	for name, tt := range map[string][2]float64{
		"left": {got[0].x0, 0.14}, "right": {got[0].x1, 0.54}, "hip x": {got[0].points[0][0], 0.34}, "hip y": {got[0].points[0][1], 0.54},
	} {
		if math.Abs(tt[0]-tt[1]) > 1e-12 {
			t.Errorf("%s is %.4f, want %.4f", name, tt[0], tt[1])
		}
	}
	d := detection{score: 0.6, x0: 0.4, y0: 0.1, x1: 0.8, y1: 0.9} // 0.1 of 0.7: apart
	if got := suppress([]detection{a, d}); len(got) != 2 {
		t.Errorf("boxes that overlap by a seventh were joined")
	}
}

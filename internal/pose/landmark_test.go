package pose

import (
	"math"
	"testing"

	"plumbstride/internal/form"
)

// mapWith makes heat maps that are next to zero but for given cells of map k.
func mapWith(k int, cells map[[2]int]float64) []float32 {
	heat := make([]float32, mapSize*mapSize*numLandmarks)
	for i := range heat {
		heat[i] = -100
	}
	for at, p := range cells {
		heat[(at[1]*mapSize+at[0])*numLandmarks+k] = float32(math.Log(p / (1 - p)))
	}
	return heat
}

func TestRefined(t *testing.T) {
	tests := []struct {
		name       string
		x, y       float64 // raw, in cells
		looks      int
		cells      map[[2]int]float64 // column, row → probability
		wantX      float64
		wantY      float64
		wantPeak   float64
		wantMissed bool
	}{
		{"one cell", 20.4, 30.2, 1, map[[2]int]float64{{22, 29}: 0.8}, 22, 29, 0.8, false},
		// (0.8·22 + 0.4·23 + 0.4·19)/1.6 = 21.5; (0.8·29 + 0.4·30 + 0.4·33)/1.6 = 30.25
		{"centroid", 20, 30, 1, map[[2]int]float64{{22, 29}: 0.8, {23, 30}: 0.4, {19, 33}: 0.4}, 21.5, 30.25, 0.8, false},
		{"outside the window", 20, 30, 1, map[[2]int]float64{{22, 29}: 0.8, {24, 30}: 0.9}, 22, 29, 0.8, false},
		{"the window moves on", 20, 30, 5, map[[2]int]float64{{23, 30}: 0.6, {26, 30}: 0.6}, 24.5, 30, 0.6, false},
		{"too faint", 20.4, 30.2, 1, map[[2]int]float64{{22, 29}: 0.49}, 20.4, 30.2, 0.49, false},
		{"just enough", 20.4, 30.2, 1, map[[2]int]float64{{22, 29}: 0.501}, 22, 29, 0.501, false},
		{"no looks", 20.4, 30.2, 0, map[[2]int]float64{{22, 29}: 0.8}, 20.4, 30.2, 0.8, false},
		{"corner", 0.5, 63.5, 1, map[[2]int]float64{{0, 63}: 0.9, {3, 60}: 0.9}, 1.5, 61.5, 0.9, false},
		{"outside the map", -5, 30, 1, map[[2]int]float64{{0, 30}: 0.9}, -5, 30, 0, true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			const k = 31
			raw := landmark{x: tt.x / mapSize, y: tt.y / mapSize}
			got := refined(raw, mapWith(k, tt.cells), k, tt.looks)
			if math.Abs(got.x*mapSize-tt.wantX) > 1e-5 || math.Abs(got.y*mapSize-tt.wantY) > 1e-5 || math.Abs(got.peak-tt.wantPeak) > 1e-6 {
				t.Errorf("at %.4f, %.4f with peak %.3f, want %.4f, %.4f with %.3f",
					got.x*mapSize, got.y*mapSize, got.peak, tt.wantX, tt.wantY, tt.wantPeak)
			}
		})
	}
}

// bodyOutput makes a landmark network's outputs with all points at places of
// 256 and visibility and presence logits of 4.
func bodyOutput(at func(i int) (x, y float64), presence float32) map[string][]float32 {
	points := make([]float32, numLandmarks*landmarkFields)
	for i := range numLandmarks {
		x, y := at(i)
		copy(points[i*landmarkFields:], []float32{float32(x), float32(y), 0, 4, 4})
	}
	return map[string][]float32{"landmarks": points, "presence": {presence}}
}

func TestDecodeBody(t *testing.T) {
	out := bodyOutput(func(i int) (float64, float64) { return float64(i), float64(2 * i) }, 0.75)
	out["world"] = make([]float32, 3*numLandmarks)
	out["world"][3*11] = 0.5
	b, err := decodeBody(out, mapLooks)
	if err != nil {
		t.Fatal(err)
	}
	c := &Crop{Region: Region{X: 1000, Y: 500, Side: 512}, seen: &b}
	f := c.frame(2.5)
	// The left heel is landmark 29: 29·2 and 58·2 px from the square's corner
	// at 744, 244.
	spot := f.Spot(form.Heel, form.Left)
	s4 := 1 / (1 + math.Exp(-4))
	if f.Time != 2.5 || math.Abs(spot.X-802) > 1e-9 || math.Abs(spot.Y-360) > 1e-9 || math.Abs(spot.Confidence-0.75*s4*s4) > 1e-9 {
		t.Errorf("left heel is %+v", spot)
	}
	if d := c.depth()[form.At(form.Shoulder, form.Left)]; d[0] != 0.5 {
		t.Errorf("left shoulder in metres is %v", d)
	}
	c.Region.Angle = math.Pi / 2 // turned clockwise: the region's x points down
	if d := c.depth()[form.At(form.Shoulder, form.Left)]; math.Abs(d[0]) > 1e-12 || math.Abs(d[1]-0.5) > 1e-12 {
		t.Errorf("left shoulder of a turned region in metres is %v", d)
	}
	b.presence = 0.4
	if f := c.frame(0); f.Spots[0].Seen() {
		t.Error("a body that is hardly there was believed")
	}
	for _, key := range []string{"landmarks", "presence", "heatmap"} {
		bad := bodyOutput(func(int) (float64, float64) { return 0, 0 }, 1)
		bad[key] = make([]float32, 7)
		if _, err := decodeBody(bad, 1); err == nil {
			t.Errorf("%s of 7 values was taken", key)
		}
	}
	nan := bodyOutput(func(int) (float64, float64) { return math.NaN(), 0 }, 1)
	if _, err := decodeBody(nan, 1); err == nil {
		t.Error("a point that is not a number was taken")
	}
}

// The numbers of the 33 body points: 11 left shoulder … 32 right foot index,
// as in the networks' published list.
func TestLandmarkOf(t *testing.T) {
	want := map[string]int{
		"nose": 0, "left eye": 2, "right eye": 5, "left ear": 7, "right ear": 8,
		"left shoulder": 11, "right shoulder": 12, "left elbow": 13, "right elbow": 14,
		"left wrist": 15, "right wrist": 16, "left hip": 23, "right hip": 24,
		"left knee": 25, "right knee": 26, "left ankle": 27, "right ankle": 28,
		"left heel": 29, "right heel": 30, "left toe": 31, "right toe": 32,
	}
	for j, i := range landmarkOf {
		if name := form.Joint(j).String(); want[name] != i {
			t.Errorf("%s is landmark %d, want %d", name, i, want[name])
		}
	}
}

func BenchmarkDecodeBody(b *testing.B) {
	out := bodyOutput(func(i int) (float64, float64) { return 100, float64(3 * i) }, 1)
	out["heatmap"] = mapWith(3, map[[2]int]float64{{25, 3}: 0.9})
	for b.Loop() {
		if _, err := decodeBody(out, mapLooks); err != nil {
			b.Fatal(err)
		}
	}
}

package gait

import (
	"math"
	"path/filepath"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/signal"
	"plumbstride/internal/testkit"
	"plumbstride/internal/track"
)

// place3 is a place in the laboratory: X forward, Y up, Z to the runner's
// right, metres.
type place3 struct{ x, y, z float64 }

func (a place3) lerp(b place3, k float64) place3 {
	return place3{a.x + k*(b.x-a.x), a.y + k*(b.y-a.y), a.z + k*(b.z-a.z)}
}

// rigid gives, frame by frame, the middle of two markers of the standing
// trial as it moves with a cluster: turned in the side plane, carried along
// sideways.
func rigid(static, run map[string][]float64, cluster []string, a, b string) []place3 {
	mean := func(name string) float64 { v, _ := signal.MeanSD(static[name]); return v }
	at := geom.Mid(geom.Vec{X: mean(a + "X"), Y: mean(a + "Y")}, geom.Vec{X: mean(b + "X"), Y: mean(b + "Y")})
	aside := (mean(a+"Z") + mean(b+"Z")) / 2
	for _, c := range cluster {
		aside -= mean(c+"Z") / float64(len(cluster))
	}
	out := make([]place3, len(run[cluster[0]+"X"]))
	for i, v := range fit(static, run, cluster, at) {
		out[i] = place3{v.X, v.Y, aside}
		for _, c := range cluster {
			out[i].z += run[c+"Z"][i] / float64(len(cluster))
		}
	}
	return out
}

// mocapBehind films the treadmill runner's markers from behind: a camera 4 m
// behind at hip height, turned by yaw about the runner, 1,150 pixels focal
// length. Hips lie on the pelvis's own line (Bell et al. 1990: 36 % of its
// width to each side, 30 % below; from memory), knees and ankles are rigid
// with their segments' markers; nothing was seen of the trunk, so the shoulders
// are drawn 0.5 m over the pelvis, level.
func mocapBehind(t testing.TB, yawDeg float64) (form.Track, []map[form.Joint]place3) {
	dir := testkit.OpenData(t, "treadmill-mocap")
	run := readMarkers(t, filepath.Join(dir, "RBDS001runT25markers.txt.gz"))
	static := readMarkers(t, filepath.Join(dir, "RBDS001static.txt.gz"))
	legs := map[form.Joint][]place3{}
	for s, p := range map[form.Side]string{form.Left: "L.", form.Right: "R."} {
		for point, names := range map[form.Point][3]string{form.Knee: {"Thigh", "Knee", "Knee.Medial"}, form.Ankle: {"Shank", "Ankle", "Ankle.Medial"}} {
			var cluster []string
			for _, c := range []string{".Top.Lateral", ".Bottom.Lateral", ".Top.Medial", ".Bottom.Medial"} {
				cluster = append(cluster, p+names[0]+c)
			}
			legs[form.At(point, s)] = rigid(static, run, cluster, p+names[1], p+names[2])
		}
	}
	at := func(name string, i int) place3 { return place3{run[name+"X"][i], run[name+"Y"][i], run[name+"Z"][i]} }
	mid := func(a, b string, i int) place3 { return at(a, i).lerp(at(b, i), 0.5) }
	tr := form.Track{Width: 1280, Height: 720, RateHz: 75}
	var places []map[form.Joint]place3
	sin, cos := math.Sincos(geom.Radians(yawDeg))
	centreX, _ := signal.MeanSD(run["R.PSISX"])
	left, _ := signal.MeanSD(run["L.PSISZ"])
	right, _ := signal.MeanSD(run["R.PSISZ"])
	for i := 0; i < len(run["R.MT1X"]); i += 2 {
		p := map[form.Joint]place3{}
		front, rear := mid("R.ASIS", "L.ASIS", i), mid("R.PSIS", "L.PSIS", i)
		pelvis := front.lerp(rear, 0.5)
		r, l := at("R.ASIS", i), at("L.ASIS", i)
		axis := place3{r.x - l.x, r.y - l.y, r.z - l.z}
		for s, k := range map[form.Side]float64{form.Left: -1, form.Right: 1} {
			width := math.Sqrt(axis.x*axis.x + axis.y*axis.y + axis.z*axis.z)
			p[form.At(form.Hip, s)] = place3{pelvis.x + 0.36*k*axis.x, pelvis.y + 0.36*k*axis.y - 0.3*width, pelvis.z + 0.36*k*axis.z}
			p[form.At(form.Knee, s)], p[form.At(form.Ankle, s)] = legs[form.At(form.Knee, s)][i], legs[form.At(form.Ankle, s)][i]
			p[form.At(form.Shoulder, s)] = place3{pelvis.x + 0.06, pelvis.y + 0.42, pelvis.z + 0.18*k}
		}
		f := form.Frame{Time: float64(i) / 150}
		for j, v := range p {
			x, z := v.x-centreX, v.z-(left+right)/2
			depth := 4 + x*cos - z*sin
			if math.IsNaN(depth + v.y) {
				continue
			}
			f.Spots[j] = form.Spot{X: 640 + 1150*(z*cos+x*sin)/depth, Y: 360 - 1150*(v.y-0.95)/depth, Confidence: 1}
		}
		tr.Frames = append(tr.Frames, f)
		places = append(places, p)
	}
	return tr, places
}

// Mid-stances from behind against the force plate's contacts and toe-offs,
// on a real runner who lands on the forefoot.
// Data: Fukuchi et al. 2017, PeerJ 5:e3298.
func TestBackMiddlesAgainstForcePlate(t *testing.T) {
	tr, _ := mocapBehind(t, 0)
	b, err := Behind(track.Smooth(tr), Facts{HeightM: 1.81})
	if err != nil {
		t.Fatal(err)
	}
	events := forceEvents(t)
	for _, s := range sides {
		var off []float64
		for i := 0; i+1 < len(events); i += 2 {
			if events[i].Side != s {
				continue
			}
			middle := (events[i].Time + events[i+1].Time) / 2
			best := math.Inf(1)
			for _, at := range b.Middles[s] {
				if math.Abs(at-middle) < math.Abs(best) {
					best = at - middle
				}
			}
			if math.Abs(best) < 0.2 {
				off = append(off, best)
			}
		}
		mean, sd := signal.MeanSD(off)
		t.Logf("%s: %d mid-stances, %+.1f ± %.1f ms", s, len(off), 1e3*mean, 1e3*sd)
		if len(off) < 30 || math.Abs(mean) > 1.96*b.MiddleSD || sd > 0.02 {
			t.Errorf("%s mid-stances: %d, off by %.1f ± %.1f ms", s, len(off), 1e3*mean, 1e3*sd)
		}
	}
	if got := 120 / b.StrideS; math.Abs(got-156.83) > 0.5 {
		t.Errorf("cadence %.2f steps/min, force plate 156.83", got)
	}
}

// The direction of view is found on a real runner's legs, and knee and ankle
// lie about as far ahead of the hips at mid-stance as is supposed.
func TestBackViewOfARealRunner(t *testing.T) {
	for _, yaw := range []float64{-9, 0, 6} {
		tr, places := mocapBehind(t, yaw)
		b, err := Behind(track.Smooth(tr), Facts{HeightM: 1.81, SpeedMS: 2.5})
		if err != nil {
			t.Fatal(err)
		}
		t.Logf("camera at %.0f°: found %.1f ± %.1f°, %.2f mm a pixel", yaw, b.ViewDeg, b.ViewSD, 1000*b.scale(10))
		if math.Abs(b.ViewDeg-yaw) > 1.96*b.ViewSD {
			t.Errorf("camera at %.0f°: found %.1f ± %.1f°", yaw, b.ViewDeg, b.ViewSD)
		}
		for _, s := range sides {
			var knee, ankle []float64
			for _, at := range b.Middles[s] {
				p := places[int(at*75)]
				hip := p[form.At(form.Hip, form.Left)].lerp(p[form.At(form.Hip, form.Right)], 0.5)
				knee = append(knee, p[form.At(form.Knee, s)].x-hip.x)
				ankle = append(ankle, p[form.At(form.Ankle, s)].x-hip.x)
			}
			k, a := signal.Median(knee)/1.81, signal.Median(ankle)/1.81
			t.Logf("%s knee %.3f H, ankle %.3f H ahead of the hips", s, k, a)
			if math.Abs(k-kneeAhead) > 2*legAheadSD || math.Abs(a-ankleAhead) > 2*legAheadSD {
				t.Errorf("%s knee %.3f H, ankle %.3f H ahead of the hips", s, k, a)
			}
		}
	}
}

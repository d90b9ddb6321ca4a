package gait

import (
	"bufio"
	"compress/gzip"
	"encoding/csv"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/signal"
	"plumbstride/internal/testkit"
	"plumbstride/internal/track"
)

// readMarkers gives marker columns in metres (Fukuchi et al. 2017, PeerJ
// 5:e3298, doi 10.7717/peerj.3298; CC-BY 4.0).
func readMarkers(t testing.TB, path string) map[string][]float64 {
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	z, err := gzip.NewReader(f)
	if err != nil {
		t.Fatal(err)
	}
	lines := bufio.NewScanner(z)
	lines.Buffer(make([]byte, 1<<20), 1<<20)
	lines.Scan()
	names := strings.Split(strings.TrimSpace(lines.Text()), "\t")
	columns := map[string][]float64{}
	for lines.Scan() {
		for i, cell := range strings.Split(strings.TrimSpace(lines.Text()), "\t") {
			v, err := strconv.ParseFloat(cell, 64)
			if err != nil {
				v = math.NaN()
			}
			columns[names[i]] = append(columns[names[i]], v/1000)
		}
	}
	return columns
}

// fit gives, frame by frame, a point that is rigid with a cluster of markers
// in the standing trial: the 2-D least-squares rotation and shift.
func fit(static, run map[string][]float64, cluster []string, at geom.Vec) []geom.Vec {
	mean := func(c map[string][]float64, name string, i int) geom.Vec {
		if i >= 0 {
			return geom.Vec{X: c[name+"X"][i], Y: c[name+"Y"][i]}
		}
		x, _ := signal.MeanSD(c[name+"X"])
		y, _ := signal.MeanSD(c[name+"Y"])
		return geom.Vec{X: x, Y: y}
	}
	var c0 geom.Vec
	for _, m := range cluster {
		c0 = c0.Add(mean(static, m, -1).Scale(1 / float64(len(cluster))))
	}
	out := make([]geom.Vec, len(run[cluster[0]+"X"]))
	for i := range out {
		var c1 geom.Vec
		for _, m := range cluster {
			c1 = c1.Add(mean(run, m, i).Scale(1 / float64(len(cluster))))
		}
		var s, c float64
		for _, m := range cluster {
			a, b := mean(static, m, -1).Sub(c0), mean(run, m, i).Sub(c1)
			c += a.X*b.X + a.Y*b.Y
			s += a.X*b.Y - a.Y*b.X
		}
		sin, cos := math.Sincos(math.Atan2(s, c))
		d := at.Sub(c0)
		out[i] = c1.Add(geom.Vec{X: d.X*cos - d.Y*sin, Y: d.X*sin + d.Y*cos})
	}
	return out
}

// mocapTrack projects the treadmill runner's markers to the side plane:
// 400 pixels a metre, hip/knee/ankle centres rigid with their clusters.
func mocapTrack(t testing.TB, every int) form.Track {
	dir := testkit.OpenData(t, "treadmill-mocap")
	static := readMarkers(t, filepath.Join(dir, "RBDS001static.txt.gz"))
	run := readMarkers(t, filepath.Join(dir, "RBDS001runT25markers.txt.gz"))
	mid := func(a, b string) geom.Vec {
		ax, _ := signal.MeanSD(static[a+"X"])
		ay, _ := signal.MeanSD(static[a+"Y"])
		bx, _ := signal.MeanSD(static[b+"X"])
		by, _ := signal.MeanSD(static[b+"Y"])
		return geom.Mid(geom.Vec{X: ax, Y: ay}, geom.Vec{X: bx, Y: by})
	}
	joints := map[form.Joint][]geom.Vec{}
	for s, p := range map[form.Side]string{form.Left: "L.", form.Right: "R."} {
		thigh := []string{p + "Thigh.Top.Lateral", p + "Thigh.Bottom.Lateral", p + "Thigh.Top.Medial", p + "Thigh.Bottom.Medial"}
		shank := []string{p + "Shank.Top.Lateral", p + "Shank.Bottom.Lateral", p + "Shank.Top.Medial", p + "Shank.Bottom.Medial"}
		joints[form.At(form.Hip, s)] = fit(static, run, thigh, mid(p+"GTR", p+"GTR"))
		joints[form.At(form.Knee, s)] = fit(static, run, thigh, mid(p+"Knee", p+"Knee.Medial"))
		joints[form.At(form.Ankle, s)] = fit(static, run, shank, mid(p+"Ankle", p+"Ankle.Medial"))
		for i := range run[p+"MT1X"] {
			j := form.At(form.Toe, s)
			joints[j] = append(joints[j], geom.Mid(
				geom.Vec{X: run[p+"MT1X"][i], Y: run[p+"MT1Y"][i]},
				geom.Vec{X: run[p+"MT5X"][i], Y: run[p+"MT5Y"][i]}))
			j = form.At(form.Heel, s)
			joints[j] = append(joints[j], geom.Vec{X: run[p+"Heel.BottomX"][i], Y: run[p+"Heel.BottomY"][i]})
		}
	}
	const pxPerM = 400
	tr := form.Track{Width: 1280, Height: 720, RateHz: 150 / float64(every), View: form.ViewSide, Facing: form.Right}
	for i := 0; i < len(run["R.MT1X"]); i += every {
		f := form.Frame{Time: float64(i) / 150}
		for j, path := range joints {
			if v := path[i]; !math.IsNaN(v.X + v.Y) {
				f.Spots[j] = form.Spot{X: v.X*pxPerM - 300, Y: 700 - v.Y*pxPerM, Confidence: 1}
			}
		}
		tr.Frames = append(tr.Frames, f)
	}
	return tr
}

// forceEvents are contact and toe-off from the force plate (> 50 N).
func forceEvents(t testing.TB) []form.Event {
	f, err := os.Open(filepath.Join(testkit.OpenData(t, "treadmill-mocap"), "events.csv"))
	if err != nil {
		t.Fatal(err)
	}
	defer f.Close()
	rows, err := csv.NewReader(f).ReadAll()
	if err != nil {
		t.Fatal(err)
	}
	var events []form.Event
	for _, row := range rows[1:] {
		side := map[string]form.Side{"L": form.Left, "R": form.Right}[row[0]]
		on, _ := strconv.ParseFloat(row[1], 64)
		off, _ := strconv.ParseFloat(row[2], 64)
		events = append(events,
			form.Event{Kind: form.Contact, Side: side, Time: on},
			form.Event{Kind: form.ToeOff, Side: side, Time: off})
	}
	return events
}

type eventErrors struct {
	mean, absolute map[form.EventKind]float64
	missed, extra  int
}

// compare matches found with true events of the same kind and side within
// 60 ms; extra events count only between the first and last true event.
func compare(found, truth []form.Event) eventErrors {
	e := eventErrors{mean: map[form.EventKind]float64{}, absolute: map[form.EventKind]float64{}}
	n := map[form.EventKind]float64{}
	used := make([]bool, len(found))
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, want := range truth {
		lo, hi = math.Min(lo, want.Time), math.Max(hi, want.Time)
		best := -1
		for i, got := range found {
			if !used[i] && got.Kind == want.Kind && got.Side == want.Side && math.Abs(got.Time-want.Time) < 0.06 &&
				(best < 0 || math.Abs(got.Time-want.Time) < math.Abs(found[best].Time-want.Time)) {
				best = i
			}
		}
		if best < 0 {
			e.missed++
			continue
		}
		used[best] = true
		d := found[best].Time - want.Time
		n[want.Kind]++
		e.mean[want.Kind] += d
		e.absolute[want.Kind] += math.Abs(d)
	}
	for k := range n {
		e.mean[k] /= n[k]
		e.absolute[k] /= n[k]
	}
	for i, u := range used {
		if !u && found[i].Time > lo+0.03 && found[i].Time < hi-0.03 {
			e.extra++
		}
	}
	return e
}

func TestEventsAgainstForcePlate(t *testing.T) {
	truth := forceEvents(t)
	for _, every := range []int{1, 2, 3, 5} {
		t.Run(fmt.Sprintf("%d Hz", 150/every), func(t *testing.T) {
			g, err := Analyse(track.Smooth(mocapTrack(t, every)), Facts{HeightM: 1.81})
			if err != nil {
				t.Fatal(err)
			}
			e := compare(g.Events, truth)
			t.Logf("contact %+.1f (|%.1f|) ms, toe-off %+.1f (|%.1f|) ms, missed %d, extra %d; speed %.3f m/s, roll %.2f yaw %.1f, stride %.4f s",
				1e3*e.mean[form.Contact], 1e3*e.absolute[form.Contact], 1e3*e.mean[form.ToeOff], 1e3*e.absolute[form.ToeOff],
				e.missed, e.extra, g.SeenSpeedMS, g.Plane.RollDeg, g.Plane.YawDeg, g.StrideS)
			if e.missed+e.extra > 0 {
				t.Errorf("%d events missed, %d invented", e.missed, e.extra)
			}
			if e.absolute[form.Contact] > 0.008 || e.absolute[form.ToeOff] > 0.010 {
				t.Errorf("mean absolute error %.1f ms at contact, %.1f ms at toe-off", 1e3*e.absolute[form.Contact], 1e3*e.absolute[form.ToeOff])
			}
			if math.Abs(e.mean[form.Contact]) > 0.005 || math.Abs(e.mean[form.ToeOff]) > 0.005 {
				t.Errorf("on average %+.1f ms off at contact, %+.1f ms at toe-off", 1e3*e.mean[form.Contact], 1e3*e.mean[form.ToeOff])
			}
			if got := 120 / g.StrideS; math.Abs(got-156.83) > 0.5 {
				t.Errorf("cadence %.2f steps/min, force plate 156.83", got)
			}
		})
	}
}

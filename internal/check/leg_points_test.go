package check

import (
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"sort"
	"strings"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/signal"
	"plumbstride/internal/standin"
	"plumbstride/internal/testkit"
	"plumbstride/internal/track"
)

// How far the usual points lie from the joints, by point and place in the
// stride, on clips that two hands drew: what the study of the uncertainties
// lays on its runners' joints.
// go test ./internal/check -run LegPoints -legpoints 16 -timeout 60m
var (
	legPointRunners = flag.Int("legpoints", 0, "how many invented runners are filmed for internal/measure/testdata/leg-points.csv, beside the rendered clips")
	legPointTracks  = flag.String("legpoints.tracks", "", "folder with the tracks that an earlier run left by -tracks")
)

// legPointSeed draws runners that the offsets in package measure were not set on.
const legPointSeed = 2031

// seenClip is a clip as the networks saw it, and what is true of it.
type seenClip struct {
	name, hand string
	heightM    float64
	near       form.Side
	rollDeg    float64 // the scene turned clockwise
	seen, true form.Track
	times      [3]testkit.StrideTimes // by form.Side
}

func TestLegPoints(t *testing.T) {
	if *legPointRunners == 0 {
		t.Skip("a study, run on request: -legpoints 16")
	}
	var clips []seenClip
	for i := range *legPointRunners {
		if c, ok := filmedRunner(t, uint64(i)); ok {
			clips = append(clips, c)
		}
	}
	clips = append(clips, renderedClips(t)...)
	var md strings.Builder
	md.WriteString("clip,hand,point,side,noise,memory,gross")
	for k := range testkit.StrideKnots {
		fmt.Fprintf(&md, ",x%d,y%d", k, k)
	}
	md.WriteString("\n")
	for _, c := range clips {
		for j := range form.Joint(form.NumJoints) {
			if e, ok := c.errorsOf(j); ok {
				c.write(&md, j, e)
			}
		}
	}
	if err := os.WriteFile(filepath.Join("..", "measure", "testdata", "leg-points.csv"), []byte(md.String()), 0o644); err != nil {
		t.Fatal(err)
	}
}

// seenTrack is the usual networks' track of a clip.
func seenTrack(t *testing.T, name, path string, heightM float64) (form.Track, bool) {
	t.Helper()
	if *legPointTracks != "" {
		f, err := os.Open(filepath.Join(*legPointTracks, name+".csv"))
		if err != nil {
			t.Logf("%s: %v", name, err)
			return form.Track{}, false
		}
		defer f.Close()
		tr, err := track.Read(f)
		if err != nil {
			t.Fatal(err)
		}
		return tr, strings.HasSuffix(tr.Network, "+legs")
	}
	out, err := Clip(context.Background(), realDeps(t), path, Ask{HeightM: heightM})
	if err != nil {
		t.Logf("%s: %v", name, err)
		return form.Track{}, false
	}
	keepTrack(t, name, out.Track)
	return out.Track, strings.HasSuffix(out.Track.Network, "+legs")
}

// filmedRunner films an invented runner.
func filmedRunner(t *testing.T, i uint64) (seenClip, bool) {
	t.Helper()
	const seconds = 5
	rng := rand.New(rand.NewPCG(legPointSeed, i))
	r, cam := standin.Random(rng)
	cam.Width, cam.Height, cam.RateHz = 960, 540, 60
	cam.NoisePx, cam.Dropout = 0, 0
	scene := anyScene(rng, func() uint64 { return i })
	again := rand.New(rand.NewPCG(i, 5))
	m, err := standin.NewMotion(r, seconds, again)
	if err != nil {
		t.Log(err)
		return seenClip{}, false
	}
	name := fmt.Sprintf("legs%d", i)
	path := filepath.Join(t.TempDir(), name+".mp4")
	if *legPointTracks == "" {
		if _, err := standin.WriteClip(context.Background(), realDeps(t).Tools.FFmpeg, path, r, cam, scene, seconds, rand.New(rand.NewPCG(i, 5)), nil); err != nil {
			t.Fatal(err)
		}
	}
	c := seenClip{name: name, hand: "invented", heightM: r.HeightM, near: cam.Near(), rollDeg: cam.RollDeg, true: m.Track(cam, nil)}
	for _, s := range []form.Side{form.Left, form.Right} {
		c.times[s] = testkit.TimesOf(m.Truth(cam.Near()).Events, s)
	}
	var ok bool
	c.seen, ok = seenTrack(t, name, path, r.HeightM)
	return c, ok
}

// renderedClips are those on a treadmill of the clips that others drew.
func renderedClips(t *testing.T) []seenClip {
	t.Helper()
	dir := testkit.OpenData(t, "rendered-clips")
	var out []seenClip
	for _, clip := range testkit.RenderedClips(t) {
		if !strings.HasPrefix(clip.Name, "cmu_") {
			continue
		}
		c := seenClip{name: clip.Name, hand: "body model", heightM: clip.HeightM, near: form.Right}
		if strings.Contains(clip.Name, "mirror") {
			c.near = form.Left
		}
		if strings.Contains(clip.Name, "roll3") {
			c.rollDeg = 3
		}
		c.times = renderedEvents(t, dir, clip.Name)
		for _, f := range testkit.RenderedJoints(t, dir, clip.Name) {
			frame := form.Frame{Time: f.TimeS}
			for j := range form.Joint(form.NumJoints) {
				key := j.Point().String()
				if j != 0 {
					key = j.Side().String() + "_" + key
				}
				if px, ok := f.Px[key]; ok {
					frame.Spots[j] = form.Spot{X: px[0], Y: px[1], Confidence: 1}
				}
			}
			c.true.Frames = append(c.true.Frames, frame)
		}
		var ok bool
		if c.seen, ok = seenTrack(t, clip.Name, filepath.Join(dir, clip.Name+".mp4"), clip.HeightM); ok {
			out = append(out, c)
		}
	}
	return out
}

// renderedEvents reads each side's contacts and toe-offs of a rendered clip.
func renderedEvents(t *testing.T, dir, name string) (times [3]testkit.StrideTimes) {
	t.Helper()
	type moment struct {
		Time float64 `json:"time_s"`
	}
	var doc struct {
		Persons []struct {
			Contact map[string]json.RawMessage
		}
	}
	text, err := os.ReadFile(filepath.Join(dir, name+".truth.json"))
	if err != nil {
		t.Fatal(err)
	}
	if err := json.Unmarshal(text, &doc); err != nil {
		t.Fatal(err)
	}
	for _, s := range []form.Side{form.Left, form.Right} {
		var c struct {
			Contacts []moment
			ToeOffs  []moment `json:"toe_offs"`
		}
		if err := json.Unmarshal(doc.Persons[0].Contact[s.String()], &c); err != nil {
			t.Fatal(err)
		}
		for _, m := range c.Contacts {
			times[s].On = append(times[s].On, m.Time)
		}
		for _, m := range c.ToeOffs {
			times[s].Off = append(times[s].Off, m.Time)
		}
	}
	return times
}

// somewhereElse is the distance, as a share of the body's height, from which
// a point of the leg is not where the network saw it best: mostly on the other
// foot.
const somewhereElse = 0.04

// leg tells whether the leg network puts a point.
func leg(p form.Point) bool {
	switch p {
	case form.Knee, form.Ankle, form.Heel, form.Toe:
		return true
	}
	return false
}

// errorsOf gives a joint's errors; ok is false where it has no truth.
func (c *seenClip) errorsOf(j form.Joint) (testkit.PointError, bool) {
	side := j.Side()
	if side != form.Left && side != form.Right {
		side = c.near
	}
	var errs []geom.Vec
	var times, knots []float64
	px, gross := c.pxPerHeight(), 0.0
	for i := range c.seen.Frames {
		f := &c.seen.Frames[i]
		exact := c.trueFrame(f.Time)
		knot, ok := c.times[side].Knot(f.Time)
		if exact == nil || !ok || !f.Spots[j].Seen() || !exact.Spots[j].Seen() {
			continue
		}
		axis, ok := testkit.LimbAxis(j, exact, c.near, c.rollDeg)
		if !ok {
			continue
		}
		d := geom.Vec{X: f.Spots[j].X - exact.Spots[j].X, Y: f.Spots[j].Y - exact.Spots[j].Y}.Scale(1 / px)
		if leg(j.Point()) && d.Norm() > somewhereElse {
			gross++
			continue
		}
		d = testkit.Along(testkit.Upright(d, c.near, c.rollDeg), axis)
		errs, times, knots = append(errs, d), append(times, f.Time), append(knots, knot)
	}
	if len(errs) < 3*testkit.StrideKnots {
		return testkit.PointError{}, false
	}
	e := overStrides(times, knots, errs)
	e.Gross = gross / (gross + float64(len(errs)))
	return e, true
}

// overStrides lays errors over one another by their place in the stride.
func overStrides(times, knots []float64, errs []geom.Vec) testkit.PointError {
	var e testkit.PointError
	var weight [testkit.StrideKnots]float64
	for i, v := range errs { // between two knots, each gets its share
		k, u := int(knots[i]), knots[i]-math.Floor(knots[i])
		for n, w := range [2]float64{1 - u, u} {
			n = (k + n) % testkit.StrideKnots
			e.Mean[n] = e.Mean[n].Add(v.Scale(w))
			weight[n] += w
		}
	}
	for k := range e.Mean {
		e.Mean[k] = e.Mean[k].Scale(1 / math.Max(weight[k], 1e-9))
	}
	left, x, y := make([]geom.Vec, len(errs)), make([]float64, len(errs)), make([]float64, len(errs))
	for i, v := range errs {
		left[i] = v.Sub(e.At(knots[i]))
		x[i], y[i] = left[i].X, left[i].Y
	}
	e.Noise = math.Sqrt((math.Pow(signal.RobustSD(x), 2) + math.Pow(signal.RobustSD(y), 2)) / 2)
	var cross, square, gap, n float64
	for i := 1; i < len(left); i++ {
		if d := times[i] - times[i-1]; d < 0.05 {
			a, b := left[i], left[i-1]
			cross, square = cross+a.X*b.X+a.Y*b.Y, square+(a.X*a.X+a.Y*a.Y+b.X*b.X+b.Y*b.Y)/2
			gap, n = gap+d, n+1
		}
	}
	e.Memory = math.Pow(math.Max(0, cross/square), n/gap/60)
	return e
}

// trueFrame has the true joints of a time; nil without them.
func (c *seenClip) trueFrame(at float64) *form.Frame {
	i := sort.Search(len(c.true.Frames), func(i int) bool { return c.true.Frames[i].Time > at-0.002 })
	if i < len(c.true.Frames) && math.Abs(c.true.Frames[i].Time-at) < 0.002 {
		return &c.true.Frames[i]
	}
	return nil
}

// pxPerHeight is the body's height in the picture, from the near leg's true
// length of 0.491 H.
func (c *seenClip) pxPerHeight() float64 {
	var sizes []float64
	for i := range c.true.Frames {
		f := &c.true.Frames[i]
		at := func(p form.Point) geom.Vec {
			s := f.Spot(p, c.near)
			return geom.Vec{X: s.X, Y: s.Y}
		}
		sizes = append(sizes, (at(form.Hip).Sub(at(form.Knee)).Norm()+at(form.Knee).Sub(at(form.Ankle)).Norm())/0.491)
	}
	return signal.Quantile(sizes, 0.85)
}

// write writes a line: ten-thousandths of the height.
func (c *seenClip) write(md *strings.Builder, j form.Joint, e testkit.PointError) {
	side := "mid"
	switch j.Side() {
	case c.near:
		side = "near"
	case c.near.Other():
		side = "far"
	}
	fmt.Fprintf(md, "%s,%s,%s,%s,%.1f,%.2f,%.4f", c.name, c.hand, j.Point(), side, 1e4*e.Noise, e.Memory, e.Gross)
	for _, v := range e.Mean {
		fmt.Fprintf(md, ",%.0f,%.0f", 1e4*v.X, 1e4*v.Y)
	}
	md.WriteString("\n")
}

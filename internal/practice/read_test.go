package practice_test

import (
	"bytes"
	"compress/gzip"
	"encoding/binary"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"github.com/muktihari/fit/kit/hash/crc16"

	"plumbstride/internal/form"
	"plumbstride/internal/practice"
	"plumbstride/internal/practice/practicetest"
	"plumbstride/internal/standin"
	"plumbstride/internal/testkit"
)

var now = time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)

// oneRun is the first activity of the invented course.
func oneRun(seed uint64) practice.Activity {
	return standin.NewCourse(monday).Activities(rand.New(rand.NewPCG(seed, 1)))[0]
}

func fit(t testing.TB, activities ...practice.Activity) []byte {
	t.Helper()
	data, err := practicetest.FIT(activities...)
	if err != nil {
		t.Fatal(err)
	}
	return data
}

func readOne(t testing.TB, data []byte) practice.Activity {
	t.Helper()
	all, err := practice.Read(bytes.NewReader(data), now)
	if err != nil {
		t.Fatal(err)
	}
	if len(all) != 1 {
		t.Fatalf("%d activities, want 1", len(all))
	}
	return all[0]
}

func take(t testing.TB, a practice.Activity, o practice.Options) practice.Run {
	t.Helper()
	r, err := practice.Take(a, o)
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// Three recordings of real watches. Truth: the data set's own description
// (open data beside the repository, test files of FIT parsers): 81.5 strides
// a minute of one leg over 2,809 records, 163 steps/min, in 2,832 s and 9.0
// km; 78 cycles, 156 steps, over 157.6 m; a walk of 41 cycles.
func TestRealWatches(t *testing.T) {
	dir := testkit.OpenData(t, "activity-files")
	for _, tt := range []struct {
		file  string
		kind  practice.Kind
		check func(practice.Run) error
	}{
		{"run-9km.fit", practice.Running, func(r practice.Run) error {
			if math.Abs(r.MeanCadence-163) > 0.5 || math.Abs(r.LengthS-2832) > 2 || math.Abs(r.DistanceM-9008.22) > 0.01 {
				return fmt.Errorf("mean %.2f steps/min in %.0f s, %.2f m", r.MeanCadence, r.LengthS, r.DistanceM)
			}
			// It walks at times, and the running alone is quicker than the mean.
			if r.WalkingS < 60 || r.RunningCadence <= r.MeanCadence || len(r.Samples) < 60 {
				return fmt.Errorf("walking %.0f s, running cadence %.1f, %d samples", r.WalkingS, r.RunningCadence, len(r.Samples))
			}
			return nil
		}},
		{"run-57s.fit", practice.Running, func(r practice.Run) error {
			if r.StatedSteps != 156 || math.Abs(r.DistanceM-157.56) > 0.01 {
				return fmt.Errorf("%d steps, %.2f m", r.StatedSteps, r.DistanceM)
			}
			return nil
		}},
		{"walk-45s.fit", practice.Walking, func(r practice.Run) error {
			if r.StatedSteps != 82 || r.RunningS != 0 || !strings.Contains(strings.Join(r.Notes, " "), "It is a walk") {
				return fmt.Errorf("%d steps, running %.0f s, %q", r.StatedSteps, r.RunningS, r.Notes)
			}
			return nil
		}},
	} {
		t.Run(tt.file, func(t *testing.T) {
			data, err := os.ReadFile(filepath.Join(dir, tt.file))
			if err != nil {
				t.Fatal(err)
			}
			r := take(t, readOne(t, data), practice.Options{})
			if r.Kind != tt.kind || r.Counts != practice.Strides || !strings.Contains(r.Why, "one leg") {
				t.Errorf("%s, %s: %s", r.Kind, r.Counts, r.Why)
			}
			if err := tt.check(r); err != nil {
				t.Error(err)
			}
		})
	}
}

// The real run of 9 km, alone: its cadence rises with its speed by as much as
// is published. The bounds span 5.6 steps/min for 1 m/s (Burns, Zendler and
// Zernicke 2019, doi 10.1152/japplphysiol.00374.2018) and 11.6 (van Oeveren
// and others 2017, doi 10.1371/journal.pone.0184273), with 3 to either side
// for one runner of many.
func TestRealRunGoesAsPublished(t *testing.T) {
	data, err := os.ReadFile(filepath.Join(testkit.OpenData(t, "activity-files"), "run-9km.fit"))
	if err != nil {
		t.Fatal(err)
	}
	rep := practice.Over([]practice.Run{take(t, readOne(t, data), practice.Options{})}, nil)
	if b := rep.Baseline; b == nil || b.PerMPS.Value < 2.6 || b.PerMPS.Value > 14.6 {
		t.Errorf("baseline %+v", b)
	}
	if rep.Trend.Verdict != practice.TooFew {
		t.Errorf("one run tells a trend: %+v", rep.Trend)
	}
}

// What is written to a FIT file is read from it: times, cadence with its
// halves, speed, height, strides, distance.
func TestFITRoundTrip(t *testing.T) {
	a := oneRun(1)
	got := readOne(t, fit(t, a))
	a.Points[len(a.Points)-1].HoldS = 0 // there the timer is stopped
	if diff := cmp.Diff(a, got, cmpopts.EquateApprox(0, 0.11), cmpopts.EquateNaNs()); diff != "" {
		t.Errorf("(-written +read):\n%.2000s", diff)
	}
}

// The same run as FIT and as GPX, where cadence is rounded and the speed comes
// from places: one run, and nearly the same numbers.
func TestGPXAgreesWithFIT(t *testing.T) {
	a := oneRun(2)
	one, two := take(t, readOne(t, fit(t, a)), practice.Options{}), take(t, readOne(t, practicetest.GPX(a)), practice.Options{})
	if !practice.Same(one, two) {
		t.Error("FIT and GPX of one run are taken for two runs")
	}
	if math.Abs(one.RunningCadence-two.RunningCadence) > 1 || math.Abs(one.SpeedMPS-two.SpeedMPS) > 0.03 || math.Abs(one.RunningS-two.RunningS) > 10 {
		t.Errorf("FIT %.1f steps/min, %.3f m/s, %.0f s; GPX %.1f, %.3f, %.0f", one.RunningCadence, one.SpeedMPS, one.RunningS, two.RunningCadence, two.SpeedMPS, two.RunningS)
	}
	if len(practice.Distinct([]practice.Run{one, two})) != 1 {
		t.Error("the second file of a run is not recognised")
	}
}

// Walking and standing are cut out, to the second or so.
func TestWalkingAndStandingAreCutOut(t *testing.T) {
	r := take(t, oneRun(3), practice.Options{})
	if math.Abs(r.WalkingS-120) > 3 || math.Abs(r.StandingS-60) > 3 || math.Abs(r.RunningS-(32*60-180)) > 5 {
		t.Errorf("walked %.0f s, stood %.0f s, ran %.0f s", r.WalkingS, r.StandingS, r.RunningS)
	}
	for _, s := range r.Samples {
		if s.CadenceSPM < 140 {
			t.Errorf("a sample of %.0f steps/min", s.CadenceSPM)
		}
	}
}

// A stopped timer is a pause, in FIT by its events and in GPX between
// segments.
func TestPauses(t *testing.T) {
	a := oneRun(4)
	const stop, minutes = 600, 5
	for i := range a.Points {
		if i > stop {
			a.Points[i].AtS += 60 * minutes
		}
	}
	r := take(t, readOne(t, fit(t, a)), practice.Options{})
	if math.Abs(r.PausedS-60*minutes) > 2 {
		t.Errorf("FIT: paused %.0f s", r.PausedS)
	}
	g := take(t, readOne(t, bytes.Replace(practicetest.GPX(a), []byte("</trkpt>\n"), []byte("</trkpt></trkseg><trkseg>\n"), 1)), practice.Options{})
	if math.Abs(g.PausedS-(60*minutes-10)) > 12 { // the gap alone ends after 10 s
		t.Errorf("GPX: paused %.0f s", g.PausedS)
	}
}

// Strides of one leg and steps are told apart, and it is said.
func TestUnits(t *testing.T) {
	slow, quick := oneRun(5), oneRun(5)
	double := func(a practice.Activity, by float64) practice.Activity {
		a.Points = append([]practice.Point(nil), a.Points...)
		for i := range a.Points {
			a.Points[i].Cadence = math.Round(by * a.Points[i].Cadence)
		}
		return a
	}
	for _, tt := range []struct {
		name   string
		a      practice.Activity
		stated practice.Unit
		want   practice.Unit
		says   string
	}{
		{"strides in FIT", slow, "", practice.Strides, "FIT protocol"},
		{"steps in FIT", double(quick, 2), "", practice.Steps, "can't be the strides"},
		{"strides in GPX", readOne(t, practicetest.GPX(slow)), "", practice.Strides, "strides of one leg"},
		{"steps in GPX", readOne(t, practicetest.GPX(double(quick, 2))), "", practice.Steps, "taken as steps"},
		{"between the two in GPX", readOne(t, practicetest.GPX(double(quick, 1.5))), "", "", "say which"},
		{"between the two, and stated", readOne(t, practicetest.GPX(double(quick, 1.5))), practice.Steps, practice.Steps, "You said"},
	} {
		r, err := practice.Take(tt.a, practice.Options{Counts: tt.stated})
		switch {
		case tt.want == "" && (err == nil || !strings.Contains(err.Error(), tt.says)):
			t.Errorf("%s: %v", tt.name, err)
		case tt.want != "" && (err != nil || r.Counts != tt.want || !strings.Contains(r.Why, tt.says)):
			t.Errorf("%s: %s %q %v", tt.name, r.Counts, r.Why, err)
		}
	}
}

// Indoors there is no place and no height; the speed comes from the file.
func TestTreadmill(t *testing.T) {
	a := oneRun(6)
	for i := range a.Points {
		a.Points[i].AltitudeM = math.NaN()
	}
	r := take(t, readOne(t, fit(t, a)), practice.Options{})
	if r.Graded || r.GradeWhy == "" || len(r.Samples) < 20 {
		t.Errorf("graded %v (%s), %d samples", r.Graded, r.GradeWhy, len(r.Samples))
	}
	for i := range a.Points {
		a.Points[i].SpeedMPS = math.NaN()
	}
	r = take(t, readOne(t, fit(t, a)), practice.Options{})
	if len(r.Samples) != 0 || r.RunningS < 1500 || !strings.Contains(strings.Join(r.Notes, " "), "No speed") {
		t.Errorf("%d samples, %.0f s, %q", len(r.Samples), r.RunningS, r.Notes)
	}
}

// Several sessions in one FIT file, several FIT files in one, several tracks
// in one GPX file.
func TestSeveralInOneFile(t *testing.T) {
	course := standin.NewCourse(monday).Activities(rand.New(rand.NewPCG(7, 1)))
	a, b := course[0], course[1]
	tracks := func(a practice.Activity) string {
		text := string(practicetest.GPX(a))
		return text[strings.Index(text, "<trk>"):strings.Index(text, "</gpx>")]
	}
	gpx := strings.Replace(string(practicetest.GPX(a)), "</gpx>", tracks(b)+"</gpx>", 1)
	for name, data := range map[string][]byte{
		"sessions": fit(t, a, b), "chained": append(fit(t, a), fit(t, b)...), "tracks": []byte(gpx),
	} {
		got, err := practice.Read(bytes.NewReader(data), now)
		if err != nil || len(got) != 2 {
			t.Fatalf("%s: %d activities, %v", name, len(got), err)
		}
		if !got[0].Start.Equal(a.Start) || !got[1].Start.Equal(b.Start) || len(got[0].Points) != len(a.Points) || len(got[1].Points) != len(b.Points) {
			t.Errorf("%s: %v with %d points, %v with %d", name, got[0].Start, len(got[0].Points), got[1].Start, len(got[1].Points))
		}
	}
}

// packed is a file in gzip.
func packed(t testing.TB, data []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	if _, err := z.Write(data); err != nil {
		t.Fatal(err)
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// The fuzz test's own seal is right: a file that it closes anew is read.
func TestSealed(t *testing.T) {
	data := fit(t, oneRun(8))
	data[len(data)-1] ^= 0xff
	if _, err := practice.Read(bytes.NewReader(data), now); err == nil {
		t.Fatal("a wrong checksum is taken")
	}
	readOne(t, sealed(data))
}

func TestPackedIsTheSame(t *testing.T) {
	data := fit(t, oneRun(8))
	one, two := take(t, readOne(t, data), practice.Options{}), take(t, readOne(t, packed(t, data)), practice.Options{})
	if one.Digest != two.Digest {
		t.Error("a packed file is another run")
	}
}

// endless is more zeros than fit, which pack very small.
func endless(t testing.TB, head []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	z := gzip.NewWriter(&b)
	chunk := bytes.Repeat([]byte(" "), 1<<20)
	if _, err := z.Write(head); err != nil {
		t.Fatal(err)
	}
	for range practice.MaxBytes>>20 + 1 {
		if _, err := z.Write(chunk); err != nil {
			t.Fatal(err)
		}
	}
	if err := z.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// Whatever comes, the reason is said, and it is one that the runner can act
// on.
func TestRefusals(t *testing.T) {
	whole := fit(t, oneRun(9))
	at := func(when time.Time) []byte { a := oneRun(9); a.Start = when; return practicetest.GPX(a) }
	back := oneRun(9)
	for i := range back.Points {
		if i%2 == 1 {
			back.Points[i].AtS -= 2
		}
	}
	head := `<gpx xmlns="http://www.topografix.com/GPX/1/1">`
	for name, tt := range map[string]struct {
		data []byte
		says string
	}{
		"empty":                 {nil, "empty"},
		"text":                  {[]byte("hello, this is no activity"), "neither a FIT nor a GPX"},
		"zip":                   {[]byte("PK\x03\x04 and more of that"), "unpack it"},
		"cut short":             {whole[:len(whole)/2], "cut short"},
		"one byte wrong":        {flipped(whole, len(whole)/2), "damaged"},
		"only a header":         {whole[:14], "cut short"},
		"gzip cut short":        {packed(t, whole)[:500], "cut short"},
		"gzip bomb":             {endless(t, []byte(head)), "more than 64 MB"},
		"gzip within gzip":      {packed(t, packed(t, whole)), "neither a FIT nor a GPX"},
		"XML of another kind":   {[]byte(`<?xml version="1.0"?><kml></kml>`), "not GPX"},
		"XML cut short":         {[]byte(head + "<trk><trkseg><trkpt"), "cut short"},
		"entities":              {[]byte(`<?xml version="1.0"?><!DOCTYPE gpx [<!ENTITY a "aaaa"><!ENTITY b "&a;&a;&a;">]>` + head + "<trk><name>&b;</name></trk></gpx>"), "damaged"},
		"elements without end":  {[]byte(head + strings.Repeat("<a>", 100_000)), "deep"},
		"letters from nowhere":  {[]byte(`<?xml version="1.0" encoding="x-none"?>` + head + "</gpx>"), "letters"},
		"a route":               {[]byte(head + `<rte><rtept lat="1" lon="2"/></rte></gpx>`), "no recorded track"},
		"a track without times": {[]byte(head + `<trk><trkseg><trkpt lat="1" lon="2"/></trkseg></trk></gpx>`), "no recorded track"},
		"from the future":       {at(now.AddDate(1, 0, 0)), "future"},
		"clock never set":       {at(time.Date(1990, 1, 1, 0, 0, 0, 0, time.UTC)), "clock was not set"},
		"time runs backwards":   {practicetest.GPX(back), "backwards"},
	} {
		_, err := practice.Read(bytes.NewReader(tt.data), now)
		if err == nil || !strings.Contains(err.Error(), tt.says) || form.CodeOf(err) != form.CodeClip {
			t.Errorf("%s: %v, want %q", name, err, tt.says)
		}
	}
}

func flipped(data []byte, at int) []byte {
	out := bytes.Clone(data)
	out[at] ^= 0x40
	return out
}

// What is no run is refused with its reason.
func TestNoPractice(t *testing.T) {
	ride := oneRun(10)
	ride.Sport = ""
	for i := range ride.Points {
		ride.Points[i].SpeedMPS, ride.Points[i].Cadence = 8, 85
	}
	named := oneRun(10)
	named.Sport = "cycling"
	silent := oneRun(10)
	for i := range silent.Points {
		silent.Points[i].Cadence = math.NaN()
	}
	short := oneRun(10)
	short.Points = short.Points[:1]
	for name, tt := range map[string]struct {
		a    practice.Activity
		says string
	}{
		"cycling by name":  {named, "of cycling, not of running"},
		"cycling by speed": {ride, "looks like cycling"},
		"no cadence":       {silent, "no cadence"},
		"one point":        {short, "fewer than two points"},
	} {
		if _, err := practice.Take(tt.a, practice.Options{}); err == nil || !strings.Contains(err.Error(), tt.says) || form.CodeOf(err) != form.CodeClip {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func FuzzFIT(f *testing.F) {
	a := oneRun(11)
	a.Points = a.Points[:40]
	data := fit(f, a)
	f.Add(data)
	f.Add(data[:60])
	f.Add(append(bytes.Clone(data), data...))
	f.Fuzz(func(t *testing.T, data []byte) {
		sound(t, data)
		sound(t, sealed(data))
	})
}

// sealed is a FIT file with its length and checksums put right, so that what
// else is wrong with it is reached.
func sealed(data []byte) []byte {
	if len(data) < 17 {
		return data
	}
	out := bytes.Clone(data)
	out[0] = 14
	copy(out[8:12], ".FIT")
	binary.LittleEndian.PutUint32(out[4:8], uint32(len(out)-16))
	sum := func(part []byte) uint16 {
		h := crc16.New()
		_, _ = h.Write(part)
		return h.Sum16()
	}
	binary.LittleEndian.PutUint16(out[12:14], sum(out[:12]))
	binary.LittleEndian.PutUint16(out[len(out)-2:], sum(out[:len(out)-2]))
	return out
}

func FuzzGPX(f *testing.F) {
	a := oneRun(12)
	a.Points = a.Points[:40]
	f.Add(practicetest.GPX(a))
	f.Add([]byte(`<gpx><trk><type>9</type><trkseg><trkpt lat="1" lon="2"><time>2026-03-02T06:00:00Z</time></trkpt></trkseg></trk></gpx>`))
	f.Fuzz(func(t *testing.T, data []byte) { sound(t, data) })
}

// sound holds whatever can be read to what a run must be.
func sound(t *testing.T, data []byte) {
	all, err := practice.Read(bytes.NewReader(data), now)
	if err != nil {
		if form.CodeOf(err) == "" {
			t.Fatalf("no form.Error: %v", err)
		}
		return
	}
	var runs []practice.Run
	for _, a := range all {
		r, err := practice.Take(a, practice.Options{})
		if err != nil {
			if form.CodeOf(err) == "" {
				t.Fatalf("no form.Error: %v", err)
			}
			continue
		}
		if sum := r.RunningS + r.WalkingS + r.StandingS + r.OtherS; sum > r.LengthS+2 || sum < 0 {
			t.Fatalf("%g s add up in %g s", sum, r.LengthS)
		}
		runs = append(runs, r)
	}
	target, _ := practice.NewTarget(168, practice.UsualWithin)
	rep := practice.Over(runs, practice.Always(&target))
	if b := rep.Baseline; b != nil && (math.IsNaN(b.Cadence.Value) || math.IsNaN(b.Cadence.SD)) {
		t.Fatalf("baseline %+v", b)
	}
}

func BenchmarkReadFIT(b *testing.B) {
	data := fit(b, oneRun(13))
	b.SetBytes(int64(len(data)))
	for b.Loop() {
		all, err := practice.Read(bytes.NewReader(data), now)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := practice.Take(all[0], practice.Options{}); err != nil {
			b.Fatal(err)
		}
	}
}

func BenchmarkOverYear(b *testing.B) {
	c := standin.NewCourse(monday)
	c.Runs, c.EveryDays = 150, 2.4
	rng := rand.New(rand.NewPCG(14, 1))
	var runs []practice.Run
	for _, a := range c.Activities(rng) {
		runs = append(runs, take(b, a, practice.Options{}))
	}
	for b.Loop() {
		practice.Over(runs, nil)
	}
}

package measure

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"sync"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/geom"
	"plumbstride/internal/standin"
	"plumbstride/internal/testkit"
	"plumbstride/internal/track"
)

// backCase is one draw of the study from behind: an invented runner filmed by
// an invented camera, and what is known of both.
type backCase struct {
	Track form.Track
	Truth []standin.Value
	Facts gait.Facts
	Seed  uint64
}

// drawBackCases draws the cases of one runner; none where no step fits.
func drawBackCases(runner uint64) []backCase {
	rng := rand.New(rand.NewPCG(47, runner))
	r, _ := standin.RandomBehind(rng)
	r.Body.Leg = 1 + 1.5*(r.Body.Leg-1) // people's legs differ by 3 % of their height
	// People are not even: as in standin.RandomStander.
	r.ShoulderLevelDeg, r.HipLevelDeg = 2*rng.NormFloat64(), 1.2*rng.NormFloat64()
	const seconds = 8
	m, err := standin.NewMotion(r, seconds, rng)
	if err != nil {
		return nil
	}
	truth := m.Truth(form.Both)
	var out []backCase
	for k := range uint64(camerasEach) {
		cam := standin.RandomCamera(r, rng)
		cam.View, cam.Facing, cam.AimXM = form.ViewBack, form.Both, 0
		cam.RateHz = []float64{30, 60, 120, 240}[rng.IntN(4)]
		if rng.IntN(2) == 0 { // held upright
			cam.Width, cam.Height = cam.Height, cam.Width
		}
		noise, memory := cam.NoisePx, cam.NoiseMemory
		cam.NoisePx = 0
		c := backCase{Truth: truth.Values, Facts: gait.Facts{HeightM: r.HeightM}, Seed: runner*camerasEach + k}
		pxPerM := float64(cam.Height) / 2 / math.Tan(geom.Radians(cam.FOVDeg/2)) / cam.DistanceM
		c.Track = whip(m.Track(cam, rng), truth, pxPerM, 0.012*rng.NormFloat64())
		c.Track = addNoise(c.Track, noise, memory, rng)
		if rng.IntN(2) == 0 { // stated, or from a clip from the side
			c.Facts.SpeedMS = r.SpeedMS
		}
		if rng.IntN(2) == 0 { // the background showed the level
			sd := 0.3 + 0.5*rng.Float64()
			c.Facts.Level = gait.Level{Deg: cam.RollDeg + sd*rng.NormFloat64(), SD: sd, Known: true}
		}
		out = append(out, c)
	}
	return out
}

// whip lets one foot lie further out than the other where it is ahead and
// further in where it is behind, as people's feet do when they don't swing
// alike, metres apart at most, and not at all at mid-stance. The track is
// changed.
func whip(t form.Track, truth standin.Truth, pxPerM, metres float64) form.Track {
	var landed [3][]float64
	for _, e := range truth.Events {
		if e.Kind == form.Contact {
			landed[e.Side] = append(landed[e.Side], e.Time)
		}
	}
	contact, _ := truth.Value("contact_time", "ms", form.Right)
	cadence, _ := truth.Value("cadence", "", form.Both)
	for i := range t.Frames {
		f := &t.Frames[i]
		phase := (f.Time - landed[form.Right][0] - contact.Value/2000) * cadence.Value / 120 * 2 * math.Pi
		for s, sign := range map[form.Side]float64{form.Left: 0.5, form.Right: -0.5} {
			for p, share := range map[form.Point]float64{form.Knee: 0.5, form.Ankle: 1, form.Heel: 1, form.Toe: 1} {
				if spot := &f.Spots[form.At(p, s)]; spot.Seen() {
					spot.X += sign * share * metres * pxPerM * math.Sin(phase)
				}
			}
		}
	}
	return t
}

// backKind is one column of the study from behind.
type backKind struct {
	name    string
	bias    biasTable
	network bool
}

func backKinds() []backKind {
	return []backKind{
		{"points of the heavy network", backNetworks, true},
		{"points from elsewhere", backElsewhere, false},
	}
}

// outcomeBehind measures a case as each kind of points, a systematic part
// drawn for every measure and side.
func outcomeBehind(c backCase, b *gait.Back, kind backKind) map[string][]trial {
	rng := rand.New(rand.NewPCG(53, c.Seed))
	measures, _ := (&backKit{b: b, bias: kind.bias, network: kind.network}).all()
	truth := standin.Truth{Values: c.Truth}
	out := map[string][]trial{}
	for _, m := range measures {
		want, ok := truth.Value(m.Name, m.Unit, m.Side)
		if !ok {
			continue
		}
		bias := kind.bias.of(m.Name, m.Unit)
		add := bias.offset + bias.sd*rng.NormFloat64()
		out[m.Name+" "+m.Unit] = append(out[m.Name+" "+m.Unit], trial{
			err: m.Value + add - want.Value, sd: m.SD,
			hit: want.Value >= m.Low+add && want.Value <= m.High+add,
		})
	}
	return out
}

// studyBehind draws n cases, a runner's cameras at a time, and measures each
// as every kind of points, on two processors: trials by kind, and refusals.
func studyBehind(n int) (all []map[string][]trial, refused map[string]int) {
	kinds := backKinds()
	draws := make([][]map[string][]trial, (n+camerasEach-1)/camerasEach)
	refused = map[string]int{}
	var wg sync.WaitGroup
	var mu sync.Mutex
	next := make(chan int)
	for range 2 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := range next {
				for _, c := range drawBackCases(uint64(i)) {
					b, err := gait.Behind(track.Smooth(c.Track), c.Facts)
					if err != nil {
						mu.Lock()
						refused[err.Error()]++
						mu.Unlock()
						continue
					}
					for _, kind := range kinds {
						draws[i] = append(draws[i], outcomeBehind(c, b, kind))
					}
				}
			}
		}()
	}
	for i := range draws {
		next <- i
	}
	close(next)
	wg.Wait()
	for range kinds {
		all = append(all, map[string][]trial{})
	}
	for _, d := range draws { // in the order of the runners, whoever was first
		for i, got := range d {
			for key, v := range got {
				all[i%len(kinds)][key] = append(all[i%len(kinds)][key], v...)
			}
		}
	}
	return all, refused
}

var behind = flag.Int("behind", 200, "how many invented runners and cameras the coverage test of the view from behind draws")

// TestBackCoverage draws invented runners and cameras behind them and asks
// that the truth lie within each measure's 95 % interval as often as it says,
// as far as so many draws can tell; with -study the study is written anew.
func TestBackCoverage(t *testing.T) {
	n := *behind
	if *writeStudy {
		n = 2000
	}
	all, refused := studyBehind(n)
	for why, lost := range refused {
		t.Logf("%d clips refused: %s", lost, why)
		if lost > n/50 {
			t.Errorf("%d of %d clips refused: %s", lost, n, why)
		}
	}
	for i, kind := range backKinds() {
		t.Run(kind.name, func(t *testing.T) { holdsAsOften(t, n, 1.3, all[i]) })
	}
	if *writeStudy {
		writeBehind(t, n, all, refused)
	}
}

// writeBehind writes the study from behind and its graphs.
func writeBehind(t *testing.T, n int, all []map[string][]trial, refused map[string]int) {
	lost := 0
	for _, k := range refused {
		lost += k
	}
	var md strings.Builder
	fmt.Fprintf(&md, behindText, n, n/camerasEach, camerasEach, lost)
	for i, kind := range backKinds() {
		shares(t, &md, kind.name, []string{"behind-network", "behind-elsewhere"}[i], n, all[i], "")
	}
	testkit.WriteStudy(t, "behind.md", md.String())
}

const behindText = `# Do the intervals from behind hold the truth?

Written by ` + "`make studies`" + `; every number in the tables comes from the program. The same test runs with fewer draws in ` + "`make test`" + `, and there asks as well that no claimed uncertainty be more than 1.3 times the error.

%d clips of invented runners (%d runners, %d cameras each), 8 s on a treadmill: random bodies (leg length ± 3 %% of height), speeds of 2–4.5 m/s, pelvis, trunk and knees that go their own ways on either side, shoulders sloped by 2° and hips by 1.2° (standard deviations), and feet that don't swing alike (12 mm); 30, 60, 120 or 240 frames a second; cameras 3–6 m away, 0.6–1.3 m high, turned by up to 10° and rolled by up to 3°, upright or lying; the level known from the background in half of them, the speed in half; noise of 0.5–3 px a point with a memory from frame to frame; up to 5 %% of the points missing. %d of the clips were refused; the few runners whom no steps fit are left out.

What a network adds to each measure is drawn anew for every clip, side and measure from ` + "`internal/measure/back_bias.go`" + `. So this study says whether the parts of the uncertainty add up to what happens, and not whether the networks' part itself is right: for that, see [decision 16](../decisions/0016-from-behind.md).

The truth is the mean over the clip's steps in the frontal plane, in the exact middle of each stance. There is no factor for each measure. Before, single measures held the truth in 97 to 100 %% (cadence 99.4, knee 98.2 and 98.4, difference of the drops 97.8, trunk 98.1) and ` + "`step_width`" + ` in 92.7 %% of 500 draws. The parts at fault:

| found | cause, and what was done |
|---|---|
| view found 15 to 20 %% too far off, with a claim too small far off and too large in line | the ankles' swing was set 7 %% too small, and what is nearer is drawn larger, which counts twice in the difference of two ankles; with both, a real runner's markers from −9 and 6° give −8.7 and 6.0° where they had given −9.7 and 6.6° |
| view taken from right mid-stances alone | both sides' now count alike: a mirrored track gives the mirrored values to rounding |
| knee too wide | knee and ankle lie ahead of the hips together (correlation 0.93), and had been doubted apart |
| knee too narrow in a straight view, too wide in a turned one | the camera's distance is a guess from a usual lens; a wrong one, which sets the knee too far out, now has its part |
| view found in line where it is not, rarely | a high, near camera sees the foot that is ahead higher, and legs that were right were exchanged; the standing foot is now looked at nearer to mid-stance |
| step width too narrow | no part for how the two sides differ in that; now 0.8 %% of body height |
| lengths 3 %% too large | invented runners bend the knee more in mid-stance than the one real runner; the stance leg is set between, and the scale's part is 4 %% |
| pelvic drop and its difference too wide | the pelvis's own turning was taken at its extreme, the level from the runner's body wider than hips, shoulders and spine together are uneven |
| a few pelvic drops too narrow | of ten steps half may be alike by chance, and good ones were thrown out as outliers |
| cadence too wide | the beat's spread was counted one and a half times |
| clips with 5 %% of the points missing refused, and a few taken for walking | one missing point in a stride spoilt it; a high, near camera sees the foot ahead higher |
`

package recheck

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"strings"
	"sync"
	"testing"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/graph"
	"plumbstride/internal/measure"
	"plumbstride/internal/signal"
	"plumbstride/internal/standin"
	"plumbstride/internal/testkit"
	"plumbstride/internal/track"
)

var writeStudy = flag.Bool("study", false, "draw more runners and write docs/studies/change.md and its graphs anew")

// studied are the measures of the study, and the change of 5 (steps/min,
// degrees, cm) that its power is told of.
var studied = []struct{ key, title string }{
	{"cadence steps/min both", "cadence, steps/min"},
	{"trunk_lean deg both", "trunk lean, °"},
	{"foot_strike_angle deg right", "foot strike, °"},
	{"knee_flexion_contact deg right", "knee at contact, °"},
	{"shank_angle deg right", "shank at contact, °"},
	{"landing_distance cm right", "landing distance, cm"},
	{"vertical_oscillation cm both", "bounce, cm"},
}

func keyOf(m form.Measure) string { return m.Name + " " + m.Unit + " " + m.Side.String() }

// filmed measures an invented runner as points from elsewhere, seen from the
// right: a still camera, about square to the run, that stands anew each time.
func filmed(r standin.Runner, seconds, rate float64, rng *rand.Rand) (map[string]form.Measure, standin.Truth, error) {
	m, err := standin.NewMotion(r, seconds, rng)
	if err != nil {
		return nil, standin.Truth{}, err
	}
	cam := standin.RandomCamera(r, rng)
	cam.Facing, cam.RateHz, cam.Width, cam.Height, cam.Dropout = form.Right, rate, 1280, 720, 0.01
	cam.YawDeg, cam.RollDeg, cam.NoisePx = 4*rng.Float64()-2, 2*rng.Float64()-1, 1+rng.Float64()
	g, err := gait.Analyse(track.Smooth(m.Track(cam, rng)), gait.Facts{
		HeightM: r.HeightM, SpeedMS: r.SpeedMS, Level: gait.Level{Deg: cam.RollDeg + 0.4*rng.NormFloat64(), SD: 0.4, Known: true},
	})
	if err != nil {
		return nil, standin.Truth{}, err
	}
	all, _ := measure.All(g, measure.Who{HeightM: r.HeightM})
	out := map[string]form.Measure{}
	for _, one := range all {
		out[keyOf(one)] = one
	}
	return out, m.Truth(form.Right), nil
}

// world is what changes in the runner between the two checks.
type world struct {
	name   string
	change func(*standin.Runner)
}

func worlds() []world {
	moved := func(k float64) func(*standin.Runner) {
		return func(r *standin.Runner) {
			r.CadenceSPM += 3 * k
			r.TrunkLeanDeg += 1.5 * k
			r.FootContactDeg.Left, r.FootContactDeg.Right = r.FootContactDeg.Left-3*k, r.FootContactDeg.Right-3*k
			r.KneeContactDeg.Left, r.KneeContactDeg.Right = r.KneeContactDeg.Left+2.5*k, r.KneeContactDeg.Right+2.5*k
			r.LandingM.Left, r.LandingM.Right = r.LandingM.Left-0.012*k, r.LandingM.Right-0.012*k
		}
	}
	return []world{{"none", func(*standin.Runner) {}}, {"small", moved(1)}, {"large", moved(3)}}
}

// trial is one measure in two checks: what truly changed, and what was told.
type trial struct {
	truth float64
	d     Difference
}

// twoChecks films one invented runner twice, eight weeks apart, in each world.
// The lasting part is drawn with the correlation that is claimed, and the
// days from the table. Where the runner can't run so, the world is left out.
func twoChecks(i uint64) map[string]map[string]trial {
	out := map[string]map[string]trial{}
	for _, w := range worlds() {
		rng := rand.New(rand.NewPCG(61, i))
		r, _ := standin.Random(rng)
		r.Body.Leg = 1 + 1.5*(r.Body.Leg-1)
		after := r
		w.change(&after)
		first, truth1, err1 := filmed(r, 8, 60, rng)
		second, truth2, err2 := filmed(after, 8, 60, rng)
		if err1 != nil || err2 != nil {
			continue
		}
		out[w.name] = map[string]trial{}
		for _, key := range sortedKeys(first) {
			a, b := first[key], second[key]
			was, ok1 := truth1.Value(a.Name, a.Unit, a.Side)
			now, ok2 := truth2.Value(a.Name, a.Unit, a.Side)
			day, ok3 := dayOf(a.Name, a.Unit, false, false)
			if b.Name == "" || !ok1 || !ok2 || !ok3 {
				continue
			}
			shared := rng.NormFloat64()
			look := func(m form.Measure) Reading {
				lasting := m.Lasting * (math.Sqrt(Returns)*shared + math.Sqrt(1-Returns)*rng.NormFloat64())
				by := lasting + day*rng.NormFloat64()
				return ReadingOf(card.Measure{Value: m.Value + by, SD: m.SD, SDLasting: m.Lasting, Low: m.Low + by, High: m.High + by})
			}
			out[w.name][key] = trial{now.Value - was.Value, Between(look(a), look(b), Returns, day)}
		}
	}
	return out
}

func sortedKeys(m map[string]form.Measure) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

// drawn runs twoChecks for many runners, on two processors.
func drawn(n int) []map[string]map[string]trial {
	out := make([]map[string]map[string]trial, n)
	inTwo(n, func(i int) { out[i] = twoChecks(uint64(i)) })
	return out
}

func inTwo(n int, do func(i int)) {
	var wg sync.WaitGroup
	next := make(chan int)
	for range 2 {
		wg.Go(func() {
			for i := range next {
				do(i)
			}
		})
	}
	for i := range n {
		next <- i
	}
	close(next)
	wg.Wait()
}

// counted is what the trials of a measure in a world come to, in percent.
type counted struct {
	n                       int
	truth, told, wrong, mdc float64
}

func count(all []map[string]map[string]trial, w, key string) counted {
	var c counted
	var truths, mdcs []float64
	told, wrong := 0, 0
	for _, one := range all {
		t, ok := one[w][key]
		if !ok {
			continue
		}
		c.n++
		truths, mdcs = append(truths, t.truth), append(mdcs, t.d.MDC95())
		if t.d.Changed() {
			told++
			if t.d.Value*t.truth < 0 {
				wrong++
			}
		}
	}
	c.truth, _ = signal.MeanSD(truths)
	c.mdc = signal.Median(mdcs)
	c.told, c.wrong = 100*float64(told)/float64(max(c.n, 1)), 100*float64(wrong)/float64(max(c.n, 1))
	return c
}

// TestStudyOfChange holds the rate of changes told where there is none to
// 5 %, as far as so few draws can tell; with -study it is written anew.
func TestStudyOfChange(t *testing.T) {
	n := 6
	if *writeStudy {
		n = 100
	}
	all := drawn(n)
	told, looked := 0, 0
	for _, one := range all {
		for _, trial := range one["none"] {
			looked++
			if trial.d.Changed() {
				told++
			}
		}
	}
	share := float64(told) / float64(max(looked, 1))
	// The measures of one runner are no independent draws: as if of five.
	if slack := 3 * math.Sqrt(0.05*0.95/float64(5*n)); looked < 10*n/2 || share > 0.05+slack {
		t.Errorf("%d of %d values without a change were called changed", told, looked)
	}
	for _, s := range studied {
		if c := count(all, "none", s.key); c.n == 0 {
			t.Errorf("%s was never measured", s.key)
		}
	}
	if *writeStudy {
		var md strings.Builder
		fmt.Fprintf(&md, changeText, n, Returns)
		for _, s := range studied {
			for _, w := range worlds() {
				c := count(all, w.name, s.key)
				fmt.Fprintf(&md, "| %s | %s | %d | %+.1f | %.2g | %.0f | %.1f |\n", s.title, w.name, c.n, math.Round(10*c.truth)/10+0, c.mdc, c.told, c.wrong)
			}
		}
		fmt.Fprintf(&md, "\nOver all measures, %.1f %% of %d values without a change were called changed.\n", 100*share, looked)
		powerPart(t, &md)
		learntPart(&md)
		testkit.WriteStudy(t, "change.md", strings.ReplaceAll(md.String(), "| -", "| −"))
	}
}

// lengths and rates of clips whose power is told.
var (
	studyLengths = []float64{2, 3, 4, 6, 8, 10, 15, 20, 30}
	studyRates   = []float64{30, 60, 120, 240}
)

// parts are the middle uncertainties of a measure in clips of one length and
// rate.
type parts struct{ own, lasting float64 }

// partsOf films some invented runners for each length and rate.
func partsOf(runners int, lengths, rates []float64) map[string]map[[2]float64]parts {
	type job struct{ length, rate float64 }
	var jobs []job
	for _, l := range lengths {
		for _, r := range rates {
			jobs = append(jobs, job{l, r})
		}
	}
	var mu sync.Mutex
	own, lasting := map[string]map[[2]float64][]float64{}, map[string]map[[2]float64][]float64{}
	inTwo(len(jobs)*runners, func(i int) {
		j := jobs[i/runners]
		rng := rand.New(rand.NewPCG(67, uint64(i%runners)))
		r, _ := standin.Random(rng)
		found, _, err := filmed(r, j.length, j.rate, rng)
		if err != nil {
			return
		}
		mu.Lock()
		defer mu.Unlock()
		for key, m := range found {
			if own[key] == nil {
				own[key], lasting[key] = map[[2]float64][]float64{}, map[[2]float64][]float64{}
			}
			at, reading := [2]float64{j.length, j.rate}, ReadingOf(card.Measure{Value: m.Value, SD: m.SD, SDLasting: m.Lasting, Low: m.Low, High: m.High})
			own[key][at] = append(own[key][at], math.Sqrt(reading.own()))
			lasting[key][at] = append(lasting[key][at], reading.Lasting)
		}
	})
	out := map[string]map[[2]float64]parts{}
	for key := range own {
		out[key] = map[[2]float64]parts{}
		for at := range own[key] {
			if 2*len(own[key][at]) > runners { // else most clips were refused
				out[key][at] = parts{signal.Median(own[key][at]), signal.Median(lasting[key][at])}
			}
		}
	}
	return out
}

// sure is the difference of two such checks of a true change.
func (p parts) sure(change, day float64) Difference {
	r := Reading{SD: math.Hypot(p.own, p.lasting), Lasting: p.lasting}
	return Difference{change, Between(r, r, Returns, day).SD}
}

// power is how often a true change is told: normal errors around it.
func power(d Difference) float64 {
	z := math.Abs(d.Value) / d.SD
	upper := 0.5 * math.Erfc((1.96-z)/math.Sqrt2)
	return upper + 0.5*math.Erfc((1.96+z)/math.Sqrt2)
}

// Power by hand: a change of 1.96 + 0.8416 sd is told in 80 %, of 0 in 5 %.
func TestPower(t *testing.T) {
	near(t, "80 %", power(Difference{1.96 + 0.8416, 1}), 0.8, 0.0005)
	near(t, "none", power(Difference{0, 1}), 0.05, 0.0005)
}

// powerPart tells how long a clip must be, and how many frames a second.
func powerPart(t *testing.T, md *strings.Builder) {
	all := partsOf(8, studyLengths, studyRates)
	md.WriteString(powerText)
	for _, s := range studied {
		fmt.Fprintf(md, "| %s |", s.title)
		day, _ := dayOf(strings.Fields(s.key)[0], unitIn(s.key), false, false)
		for _, at := range [][2]float64{{2, 60}, {4, 60}, {10, 60}, {30, 60}, {10, 30}, {10, 120}, {10, 240}} {
			p, ok := all[s.key][at]
			if !ok {
				md.WriteString(" – |")
				continue
			}
			d := p.sure(5, day)
			fmt.Fprintf(md, " %.1f (%.0f) |", d.MDC95(), 100*power(d))
		}
		fmt.Fprintf(md, " %.1f |\n", Difference{0, math.Sqrt2 * day}.MDC95())
	}
	md.WriteString("\n![The smallest change told, by the clip's length](change-length.svg)\n\n![The share of changes of 5° that are told, by the clip's length and rate](change-power.svg)\n")
	lengthGraph(t, all)
	powerGraph(t, all)
	shortest(md, all)
	md.WriteString(guidanceText)
}

func unitIn(key string) string {
	f := strings.Fields(key)
	return strings.Join(f[1:len(f)-1], " ")
}

// shortest says from which length on nothing of the table gains a tenth by
// filming to 30 s, at 60 frames a second.
func shortest(md *strings.Builder, all map[string]map[[2]float64]parts) {
	md.WriteString("\n| measure | length, s, from which 30 s at 60 frames a second would make the smallest change told less than a tenth smaller |\n|---|---|\n")
	for _, s := range studied {
		day, _ := dayOf(strings.Fields(s.key)[0], unitIn(s.key), false, false)
		full, ok := all[s.key][[2]float64{30, 60}]
		if !ok {
			continue
		}
		for _, l := range studyLengths {
			p, ok := all[s.key][[2]float64{l, 60}]
			if ok && p.sure(0, day).SD < full.sure(0, day).SD/0.9 {
				fmt.Fprintf(md, "| %s | %.0f |\n", s.title, l)
				break
			}
		}
	}
}

func lengthGraph(t *testing.T, all map[string]map[[2]float64]parts) {
	g := graph.Graph{
		Title: "Smallest change told, by the length of both clips (60 frames a second)",
		Desc:  "For each measure, the smallest change between two checks that is told from noise, days counted in.",
		X:     graph.Axis{Label: "length of a clip, s", Low: 2, Top: 30, Log: true}, Y: graph.Axis{Label: "smallest change told (unit of the measure)", Low: 0, Top: 12},
	}
	for _, l := range studyLengths {
		g.Ticks = append(g.Ticks, graph.Tick{At: l, Label: fmt.Sprintf("%.0f", l)})
	}
	for i, s := range studied {
		day, _ := dayOf(strings.Fields(s.key)[0], unitIn(s.key), false, false)
		one := graph.Series{Name: s.title, Joined: true, Ink: []graph.Ink{graph.Accent, graph.Text, graph.Quiet}[i%3], Dash: []string{"", "6 3", "2 3"}[i/3], Open: i%2 == 1}
		for _, l := range studyLengths {
			if p, ok := all[s.key][[2]float64{l, 60}]; ok {
				one.X, one.Y = append(one.X, l), append(one.Y, p.sure(0, day).MDC95())
			}
		}
		g.Series = append(g.Series, one)
	}
	testkit.WriteStudy(t, "change-length.svg", g.SVG("change-length"))
}

func powerGraph(t *testing.T, all map[string]map[[2]float64]parts) {
	g := graph.Graph{
		Title: "Changes of 5° of the foot strike angle that are told",
		Desc:  "The share of true changes of 5 degrees that two clips of a length and rate tell from noise.",
		X:     graph.Axis{Label: "length of a clip, s", Low: 2, Top: 30, Log: true}, Y: graph.Axis{Label: "% told", Low: 0, Top: 100},
	}
	for _, l := range studyLengths {
		g.Ticks = append(g.Ticks, graph.Tick{At: l, Label: fmt.Sprintf("%.0f", l)})
	}
	day, _ := dayOf("foot_strike_angle", "deg", false, false)
	for i, rate := range studyRates {
		one := graph.Series{Name: fmt.Sprintf("%.0f frames a second", rate), Joined: true, Ink: []graph.Ink{graph.Quiet, graph.Accent, graph.Text, graph.Text}[i], Dash: []string{"2 3", "", "6 3", ""}[i], Open: i == 3}
		for _, l := range studyLengths {
			if p, ok := all["foot_strike_angle deg right"][[2]float64{l, rate}]; ok {
				one.X, one.Y = append(one.X, l), append(one.Y, 100*power(p.sure(5, day)))
			}
		}
		g.Series = append(g.Series, one)
	}
	testkit.WriteStudy(t, "change-power.svg", g.SVG("change-power"))
}

// learntPart tells how often the rule calls an area learnt.
func learntPart(md *strings.Builder) {
	md.WriteString(learntText)
	const n = 20000
	for _, mix := range mixes {
		total := math.Sqrt(mix.own*mix.own + mix.lasting*mix.lasting + mix.day*mix.day)
		fmt.Fprintf(md, "| %.1f / %.1f / %.1f |", mix.own, mix.lasting, mix.day)
		for _, in := range []struct {
			checks int
			at     float64
		}{{2, 0}, {4, 0}, {8, 0}, {8, 0.5}, {2, -2}, {2, -3}, {4, -2}} {
			c := mix
			c.checks, c.usual = in.checks, func(float64) float64 { return in.at * total }
			fmt.Fprintf(md, " %.1f |", 100*c.rate(n, 17))
		}
		md.WriteString("\n")
	}
}

const changeText = `# What does a re-check tell?

Written by ` + "`make studies`" + ` (internal/recheck); every number here comes from the program.

## Two checks of one runner

%d invented runners, each filmed twice: 8 s at 60 frames a second, on a treadmill, the camera put up anew. Between the checks nothing changes, or five things do by a little, or by three times that. Bodies, speeds and foot strikes are random, the points noisy. What the networks add is drawn from its claimed size, with the claimed correlation of %.2f between two evenings, and the variation from day to day from ` + "`recheck.DayToDay`" + `. *Told* is the share of runners in whom a change was called, *wrong* the share of runners in whom one was called in the wrong direction: of few changes called, that may be one in six. Runners who can't run so are left out. What is drawn as claimed holds the arithmetic and the errors of the points, not the claims themselves. The smallest change told is the middle over the runners.

| measure | change | runners | true change, mean | smallest change told | told, %% | wrong, %% |
|---|---|---|---|---|---|---|
`

const powerText = `
## How long, and at how many frames a second?

Eight invented runners for each length and rate; the middle of the uncertainties that the program then claims. In each field: the smallest change told between two such clips, and in brackets how many in a hundred true changes of 5 (steps/min, degrees, cm) are told. The last column is what the runner's own days leave, were the clips perfect.

| measure | 2 s, 60 Hz | 4 s, 60 Hz | 10 s, 60 Hz | 30 s, 60 Hz | 10 s, 30 Hz | 10 s, 120 Hz | 10 s, 240 Hz | days alone |
|---|---|---|---|---|---|---|---|---|
`

const guidanceText = `
What follows for filming: four seconds at 60 frames a second tell a change almost as well as thirty at 240. The ten seconds of the README leave room for steps that are lost, and give about 27 steps: the 7 of Dingenen et al. 2018 and the 25 of Oliveira & Pirscoveanu (Sci Rep) that a runner's mean needs. A change of 5° of the foot strike angle or the knee is told by two checks in a third of runners only, whatever the camera: at the knee most of what hides it is the runner's own day, at the foot how surely its flat angle and the level are known. Several checks, on several days, tell more than a longer clip.
`

const learntText = `
## When is an area learnt?

Courses of checks two to eight weeks apart, 20,000 for each field, and how many in a hundred end with *learnt*. The uncertainty of the leading measure is made up of an own, a lasting and a day's part in the ratio given. The runner's usual value lies at the edge of the band (0), outside it (+) or inside (−), in standard uncertainties of one check. At the edge or outside, every *learnt* is false.

| own / lasting / day | 2 checks, 0 | 4 checks, 0 | 8 checks, 0 | 8 checks, +0.5 | 2 checks, −2 | 2 checks, −3 | 4 checks, −2 |
|---|---|---|---|---|---|---|---|
`

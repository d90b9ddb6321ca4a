package measure

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"sort"
	"strconv"
	"strings"
	"sync"
	"testing"

	"plumbstride/internal/body"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/geom"
	"plumbstride/internal/graph"
	"plumbstride/internal/signal"
	"plumbstride/internal/standin"
	"plumbstride/internal/testkit"
	"plumbstride/internal/track"
)

// One draw of the study: an invented runner filmed by an invented camera.
type studyCase struct {
	Track   form.Track
	Truth   []standin.Value
	Events  []form.Event
	HeightM float64
	Level   gait.Level
	Seed    uint64
	// NoisePx and Memory are the noise of points that are not the leg network's.
	NoisePx, Memory float64
	// Yaw is the camera's as package gait counts it, Roll the scene's, deg.
	Yaw, Roll float64
}

// pointNoise is a point's noise beside the body's mean: feet and hands are
// found less well than trunk and head.
var pointNoiseShare = map[form.Point]float64{
	form.Nose: 0.7, form.Eye: 0.7, form.Ear: 0.8, form.Shoulder: 0.9, form.Elbow: 1.1, form.Wrist: 1.4,
	form.Hip: 1, form.Knee: 0.9, form.Ankle: 1, form.Heel: 1.2, form.Toe: 1.3,
}

// camerasEach is how many cameras film one invented runner.
const camerasEach = 2

// drawCases draws the cases of one runner; none where no step fits.
func drawCases(runner uint64) []studyCase {
	rng := rand.New(rand.NewPCG(41, runner))
	r, _ := standin.Random(rng)
	r.Body.Leg = 1 + 1.5*(r.Body.Leg-1) // people's legs differ by 3 % of their height
	const seconds = 6
	m, err := standin.NewMotion(r, seconds, rng)
	if err != nil {
		return nil
	}
	truths := map[form.Side]standin.Truth{}
	var out []studyCase
	for k := range uint64(camerasEach) {
		cam := standin.RandomCamera(r, rng)
		cam.YawDeg, cam.RollDeg = 30*rng.Float64()-15, 6*rng.Float64()-3
		cam.RateHz = []float64{30, 60, 120, 240}[rng.IntN(4)]
		c := studyCase{HeightM: r.HeightM, Seed: runner*camerasEach + k, NoisePx: cam.NoisePx, Memory: cam.NoiseMemory, Yaw: -cam.YawDeg, Roll: cam.RollDeg}
		cam.NoisePx = 0
		c.Track = m.Track(cam, rng)
		if rng.IntN(2) == 0 { // the background showed the level
			sd := 0.3 + 0.5*rng.Float64()
			c.Level = gait.Level{Deg: cam.RollDeg + sd*rng.NormFloat64(), SD: sd, Known: true}
		}
		truth, ok := truths[cam.Near()]
		if !ok {
			truth = m.Truth(cam.Near())
			truths[cam.Near()] = truth
		}
		c.Truth, c.Events = truth.Values, truth.Events
		out = append(out, c)
	}
	return out
}

// addNoise moves every point by noise of sd px with a memory from frame to
// frame of 60 Hz.
func addNoise(t form.Track, sd, memory float64, rng *rand.Rand) form.Track {
	keep := math.Pow(memory, 60/t.RateHz)
	var off [form.NumJoints]geom.Vec
	for i := range t.Frames {
		for j := range off {
			k, fresh := keep, math.Sqrt(1-keep*keep)
			if i == 0 {
				k, fresh = 0, 1
			}
			off[j] = off[j].Scale(k).Add(geom.Vec{X: rng.NormFloat64(), Y: rng.NormFloat64()}.Scale(fresh))
			if s := &t.Frames[i].Spots[j]; s.Seen() {
				share := sd * pointNoiseShare[form.Joint(j).Point()]
				s.X, s.Y = s.X+share*off[j].X, s.Y+share*off[j].Y
			}
		}
	}
	return t
}

// kindOfTrack is one column of the study: what is drawn beside the camera's
// noise.
type kindOfTrack struct {
	name, id string
	// bias is the table that the measures are corrected by; each one's
	// systematic part is drawn from it.
	bias biasTable
	ours bool
	// square is how far pelvis and shoulders are turned off the run, sd deg:
	// what Plane.YawSD claims for such points.
	square float64
	// points are the errors that the networks' points were seen to have, laid
	// on the joints in place of the camera's noise and of what the table says.
	points *pointBank
}

func kindsOfTrack(t testing.TB) []kindOfTrack {
	bank, err := legPointBank()
	if err != nil {
		t.Fatal(err)
	}
	return []kindOfTrack{
		{"points of a network", "network", networks, true, 4, nil},
		{"points of the leg network", "legs", legged, true, 2.5, &bank},
		{"points from elsewhere", "elsewhere", elsewhere, false, 2.5, nil},
	}
}

// outcomeOf measures a case and gives each measure with its truth.
func outcomeOf(c studyCase, kt kindOfTrack) (map[string][]trial, error) {
	rng := rand.New(rand.NewPCG(43, c.Seed))
	c.Track.Frames = append([]form.Frame(nil), c.Track.Frames...)
	twist(c, kt.square*rng.NormFloat64())
	if kt.points != nil {
		return seenOutcome(c, kt, rng)
	}
	c.Track = addNoise(c.Track, c.NoisePx, c.Memory, rng)
	flat := kt.bias.of("flat_foot", "deg")
	layFoot(c, flat.offset+flat.sd*rng.NormFloat64())
	g, err := gait.Analyse(track.Smooth(c.Track), gait.Facts{HeightM: c.HeightM, Level: c.Level})
	if err != nil {
		return nil, err
	}
	g.Plane.YawSD = kt.square // the track has no network's name, so that no glide of its feet is taken off
	k := &kit{g: g, who: Who{HeightM: c.HeightM}, table: body.DeLeva(body.NotStated), bias: kt.bias, network: kt.ours}
	measures, _ := k.all()
	return trialsOf(c, measures, func(m form.Measure) float64 {
		b := kt.bias.of(m.Name, m.Unit)
		add := b.offset + b.sd*rng.NormFloat64()
		switch m.Name {
		case "hip_hinge": // it takes the trunk's offset off, too
			add += kt.bias.of("trunk_lean", "deg").offset
		case "step_time_asymmetry": // a size: what is added to it has a sign
			add = math.Abs(m.Value+add) - m.Value
		}
		return add
	}), nil
}

// seenOutcome is outcomeOf for points that err as the usual networks' do: the
// whole way as for a real clip, and nothing is drawn from the table.
func seenOutcome(c studyCase, kt kindOfTrack, rng *rand.Rand) (map[string][]trial, error) {
	seeAs(c, kt.points.draw(rng), rng)
	c.Track.Network = "full+legs"
	g, err := gait.Analyse(track.Smooth(c.Track), gait.Facts{HeightM: c.HeightM, Level: c.Level})
	if err != nil {
		return nil, err
	}
	measures, _ := All(g, Who{HeightM: c.HeightM})
	return trialsOf(c, measures, func(form.Measure) float64 { return 0 }), nil
}

// trialsOf sets measures, each with what is added to it, beside the truth.
func trialsOf(c studyCase, measures []form.Measure, added func(form.Measure) float64) map[string][]trial {
	truth := standin.Truth{Values: c.Truth}
	out := map[string][]trial{}
	for _, m := range measures {
		add := added(m)
		want, ok := truth.Value(m.Name, m.Unit, m.Side)
		if !ok {
			continue
		}
		low := m.Low + add
		if m.Name == "step_time_asymmetry" {
			want.Value, low = math.Abs(want.Value), math.Max(0, m.Value+add-(m.High-m.Value))
		}
		key := m.Name + " " + m.Unit
		out[key] = append(out[key], trial{err: m.Value + add - want.Value, sd: m.SD, hit: want.Value >= low && want.Value <= m.High+add})
	}
	return out
}

// trial is one measure of one case: its error, the standard uncertainty that
// was claimed, and whether the interval held the truth.
type trial struct {
	err, sd float64
	hit     bool
}

// study draws n cases, a runner's cameras at a time, and measures each as
// every kind of track, on two processors: trials and refusals by kind.
func study(n int, kinds []kindOfTrack) (all []map[string][]trial, refused []map[string]int) {
	draws := make([][]map[string][]trial, (n+camerasEach-1)/camerasEach)
	for range kinds {
		all, refused = append(all, map[string][]trial{}), append(refused, map[string]int{})
	}
	var wg sync.WaitGroup
	var mu sync.Mutex
	next := make(chan int)
	for range 2 {
		wg.Add(1)
		go func() {
			defer wg.Done()
			for i := range next {
				for _, c := range drawCases(uint64(i)) {
					for k, kt := range kinds {
						got, err := outcomeOf(c, kt)
						if err != nil {
							mu.Lock()
							refused[k][err.Error()]++
							mu.Unlock()
						}
						draws[i] = append(draws[i], got)
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
	for _, d := range draws { // in the order of the runners, whoever was first
		for i, got := range d {
			for key, v := range got {
				all[i%len(kinds)][key] = append(all[i%len(kinds)][key], v...)
			}
		}
	}
	return all, refused
}

// layFoot turns every foot's toe about its heel, so that heel→toe rises by
// deg where the shoe lies flat.
func layFoot(c studyCase, deg float64) {
	const own = -1.26 // the invented shoe's: atan((0.078 − 0.10)/1)
	dir := 1.0
	if c.Track.Facing == form.Left {
		dir = -1
	}
	sin, cos := math.Sincos(geom.Radians(deg - own))
	for i := range c.Track.Frames {
		f := &c.Track.Frames[i]
		for _, s := range []form.Side{form.Left, form.Right} {
			heel, toe := f.Spot(form.Heel, s), &f.Spots[form.At(form.Toe, s)]
			if !heel.Seen() || !toe.Seen() {
				continue
			}
			dx, up := dir*(toe.X-heel.X), heel.Y-toe.Y
			toe.X, toe.Y = heel.X+dir*(dx*cos-up*sin), heel.Y-(dx*sin+up*cos)
		}
	}
}

var runners = flag.Int("runners", 300, "how many invented runners and cameras the coverage test draws")

// TestCoverage draws invented runners and cameras and asks that the truth lie
// within each measure's 95 % interval as often as it says, as far as so many
// draws can tell; with -study the whole study is written anew.
func TestCoverage(t *testing.T) {
	n := *runners
	if *writeStudy {
		n = 2000
	}
	kinds := kindsOfTrack(t)
	all, refused := study(n, kinds)
	for i, kt := range kinds {
		t.Run(kt.name, func(t *testing.T) {
			for why, lost := range refused[i] {
				t.Logf("%d clips refused: %s", lost, why)
				if lost > n/20 {
					t.Errorf("%d clips refused: %s", lost, why)
				}
			}
			holdsAsOften(t, n, mostOff, all[i])
		})
	}
	if *writeStudy {
		writeUncertainty(t, n, kinds, all, refused)
	}
}

// holdsAsOften asks that n draws' intervals hold the truth as often as they
// say, and that the errors be at most mostOff times what was claimed and the
// other way round, root mean square, none counted as more than four times its
// claim.
func holdsAsOften(t *testing.T, n int, mostOff float64, all map[string][]trial) {
	t.Helper()
	slack := 0.0
	if n < 2000 { // two sides of one clip share most of their error
		slack = 3 * math.Sqrt(0.95*0.05/float64(n))
	}
	for _, k := range keysOf(all) {
		c := countOf(all[k])
		t.Logf("%-32s n %4d  in %5.1f %%  mean %+6.3f  error sd %6.3f  claimed %6.3f  over claim %.2f  worst %+.2f", k, c.n, 100*c.share, c.mean, c.sd, c.claimed, c.over, c.worst)
		if c.share < 0.93-slack || c.share > 0.97+slack {
			t.Errorf("%s: the 95 %% interval holds the truth in %.1f %% of %d", k, 100*c.share, c.n)
		}
		// So few draws can't tell 97 % from all: the size must be right too.
		if c.over > mostOff || c.over < 1/mostOff {
			t.Errorf("%s: the errors are %.2f times what was claimed", k, c.over)
		}
	}
}

// mostOff is how many times what was claimed the errors may be.
const mostOff = 1.4

var writeStudy = flag.Bool("study", false, "draw 2,000 and write docs/studies/uncertainty.md and its graphs anew")

// writeUncertainty writes the study and its graphs.
func writeUncertainty(t *testing.T, n int, kinds []kindOfTrack, all []map[string][]trial, refused []map[string]int) {
	var md strings.Builder
	fmt.Fprintf(&md, uncertaintyText, n, n/camerasEach, camerasEach)
	for i, kt := range kinds {
		lost := 0
		for _, m := range refused[i] {
			lost += m
		}
		shares(t, &md, kt.name, "uncertainty-"+kt.id, n, all[i], refusedText(lost, n))
	}
	md.WriteString(standingText)
	for _, kind := range standingKinds {
		trials := standingTrials(t, n, kind.network)
		lost := len(trials["refused"])
		delete(trials, "refused")
		shares(t, &md, kind.name, "uncertainty-"+kind.id, n, trials, refusedText(lost, 2*n))
	}
	openDataPart(t, &md)
	testkit.WriteStudy(t, "uncertainty.md", md.String())
}

func refusedText(lost, n int) string {
	return fmt.Sprintf("%d of %d clips were refused.\n\n", lost, n)
}

// shares adds one kind of points to a study: its graph, what more is to be
// said, and its table.
func shares(t *testing.T, md *strings.Builder, kind, id string, n int, all map[string][]trial, more string) {
	fmt.Fprintf(md, "\n## %s%s\n\n![Share of true values within the 95 %% interval](%s.svg)\n\n%s", strings.ToUpper(kind[:1]), kind[1:], id, more)
	md.WriteString("| measure | values | within the interval, % | mean error | sd of the error | claimed sd (root mean square) |\n|---|---|---|---|---|---|\n")
	g := graph.Graph{
		Title: "Truth within the 95 % interval: " + kind,
		Desc:  "For each measure, the share of invented people whose true value lies within the interval, with its own 95 % interval.",
		X:     graph.Axis{Label: "measure, by its number in the table"}, Y: graph.Axis{Label: "% within", Low: 88, Top: 100},
		Shade: [2]float64{93, 97},
	}
	s := graph.Series{}
	for j, k := range keysOf(all) {
		c := countOf(all[k])
		name, unit, _ := strings.Cut(k, " ")
		fmt.Fprintf(md, "| %d `%s`, %s | %d | %.1f | %+.3g | %.3g | %.3g |\n", j+1, name, unit, c.n, 100*c.share, c.mean, c.sd, c.claimed)
		s.X, s.Y = append(s.X, float64(j+1)), append(s.Y, 100*c.share)
		s.Err = append(s.Err, 196*math.Sqrt(c.share*(1-c.share)/float64(n)))
		g.Ticks = append(g.Ticks, graph.Tick{At: float64(j + 1), Label: strconv.Itoa(j + 1)})
	}
	g.X.Low, g.X.Top, g.Series = 0, float64(len(s.X)+1), []graph.Series{s}
	testkit.WriteStudy(t, id+".svg", g.SVG(id))
}

// openDataPart adds what the exact joints of the rendered clips say.
func openDataPart(t *testing.T, md *strings.Builder) {
	dir := testkit.OpenData(t, "rendered-clips")
	in, n := map[string]int{}, map[string]int{}
	for _, clip := range testkit.RenderedClips(t) {
		rate, err := strconv.ParseFloat(clip.Name[strings.LastIndex(clip.Name, "_")+1:], 64)
		if err != nil || strings.HasPrefix(clip.Name, "walk") {
			continue
		}
		g, err := gait.Analyse(track.Smooth(truthTrack(t, dir, clip.Name, rate)), gait.Facts{HeightM: clip.HeightM})
		if err != nil {
			continue
		}
		measures, _ := All(g, Who{HeightM: clip.HeightM})
		for _, want := range clip.Truth {
			for _, m := range measures {
				if m.Name == want.Name && m.Side.String() == want.Side && m.Unit == want.Unit {
					n[m.Name]++
					if want.Value >= m.Low && want.Value <= m.High {
						in[m.Name]++
					}
				}
			}
		}
	}
	names := make([]string, 0, len(n))
	for k := range n {
		names = append(names, k)
	}
	sort.Strings(names)
	md.WriteString(openDataText)
	total, hits := 0, 0
	for _, k := range names {
		fmt.Fprintf(md, "| `%s` | %d | %d |\n", k, n[k], in[k])
		total, hits = total+n[k], hits+in[k]
	}
	fmt.Fprintf(md, "\nTogether %d of %d (%.0f %%).\n", hits, total, 100*float64(hits)/float64(total))
}

// tally is what the trials of one measure come to.
type tally struct {
	n                        int
	share, mean, sd, claimed float64
	// over is the root mean square of error over claim, none of them over 4;
	// worst the largest error.
	over, worst float64
}

func countOf(trials []trial) tally {
	c := tally{n: len(trials)}
	var errs []float64
	hits, square, over := 0.0, 0.0, 0.0
	for _, t := range trials {
		errs = append(errs, t.err)
		square += t.sd * t.sd
		over += math.Min(t.err*t.err/(t.sd*t.sd), 16)
		if t.hit {
			hits++
		}
		if math.Abs(t.err) > math.Abs(c.worst) {
			c.worst = t.err
		}
	}
	c.mean, c.sd = signal.MeanSD(errs)
	c.share, c.claimed, c.over = hits/float64(c.n), math.Sqrt(square/float64(c.n)), math.Sqrt(over/float64(c.n))
	return c
}

func keysOf(all map[string][]trial) []string {
	keys := make([]string, 0, len(all))
	for k := range all {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

// twist turns pelvis and shoulders off square to the run, as people carry
// them: near and far points move apart along the run. The track is changed.
func twist(c studyCase, deg float64) {
	t, turn, size := c.Track, geom.Radians(deg), pxPerM(c)
	dir := 1.0
	if t.Facing == form.Left {
		dir = -1
	}
	for i := range t.Frames {
		for p, z := range map[form.Point]float64{form.Shoulder: 0.1, form.Hip: 0.055} {
			dx := dir * z * c.HeightM * math.Sin(turn) * size
			t.Frames[i].Spots[form.At(p, t.Facing)].X += dx
			t.Frames[i].Spots[form.At(p, t.Facing.Other())].X -= dx
		}
	}
}

const uncertaintyText = `# Do the intervals hold the truth?

Written by ` + "`make studies`" + `; every number in a table comes from the program. The same test runs with 300 draws in ` + "`make test`" + `.

%d clips of invented runners (%d runners, %d cameras each): random bodies (leg length ± 3 %% of height), speeds of 2–4.5 m/s, cadences, foot strikes from forefoot to heel, step-to-step spread; treadmill; 30, 60, 120 or 240 frames a second for 6 s; cameras 3–6 m away, turned by up to 15° and rolled by up to 3°, the level known from the background in half of them; up to 5 %% of the points missing. Pelvis and shoulders are carried off square by 2.5°. Three kinds of points are laid on them:

- *Points of a network*: noise of 0.5–3 px (heads less, feet and hands more) with a memory from frame to frame, pelvis and shoulders off square by 4°, a flat foot's angle drawn by its table. What the landmark networks add to each measure is drawn anew for every clip, side and measure from ` + "`internal/measure/bias.go`" + ` (offset and standard uncertainty), and the offset is then taken off as for a real clip.
- *Points of the leg network*, the usual way of a clip from the side: each point is moved by what the networks made of it in clips with exact truth (` + "`internal/measure/testdata/leg-points.csv`" + `, written by ` + "`go test ./internal/check -run LegPoints -legpoints 20 -timeout 60m`" + `: invented runners that the offsets were not set on, and the body model's clips on a treadmill). An error is a place beside the joint, along its limb and across it, near and far side apart; it is drawn normal about the mean of the two hands, as far from it as they are, and from there as far as a hand's clips are from each other, all points together as the clips had them. To that come, from the invented runners' clips, what changes in the course of a stride, and from both the noise with its memory and the share of points that lie on the other leg. Nothing is drawn from the table of offsets: contacts, toe-offs and all measures are found as in a real clip of this network.
- *Points from elsewhere*: noise as for a network, each measure's small systematic part by its table, and no offset.

So the first and the third column say whether the parts of the uncertainty add up to what happens: noise of the points, event timing, frame rate, scale, level, camera turn, spread over strides, a systematic part that is as it is said to be. They can't say whether the networks' part itself is right. The second says that too, as far as two hands that drew figures can tell: its table was set on what the same points' errors do to invented runners, and it is not known how far people of flesh and blood are from either. What the body model's foot, which bends less than the invented shoe, does to its points in the course of a stride is not in it, since it can't be laid on another foot. The clips drawn by others say more (below, and docs/studies of the networks).

The truth is the mean over the clip's steps, exactly from the side, at the exact events. There is no factor for each measure: where an interval had been too wide or too narrow, the part at fault was looked for, and set from its cause. The sizes of five parts (contact, toe-off, the toe's path, the fifth more for cadence, the belt's own speed) were set on the first draws.

| found | cause, and what was done |
|---|---|
| knee and shank at contact too flexed by 1–3° | the smoother rounded the moment of landing; it now lets the motion break there ([smoothing](smoothing.md)) |
| contact and flight time, duty factor too wide | events had been given 6 and 12 ms for their definition; [events](events.md) gives 4 and 9 ms for the force plate's, invented runners 5 ms for contact, and 3 and 5.5 ms where three signs tell, by the leg network's points |
| lengths at contact, leans too wide | a camera's turn was taken as ± 4° and the toe's path as ± 1.6°; level and turn now go through each measure's own formula |
| values at mid-stance too narrow | both sides' events are off the same way; the timing part is no longer averaged as if they were independent |
| knee at contact too narrow, shank too wide | the steeper side of the break at contact had counted for the timing part; the two sides count alike now, and contacts are given what they stray on invented runners |
| speed too narrow | the belt's own speed beside the scale is 2 %%, not 1.5 %%; where the leg network gives the scale, its points add 0.045 m/s |
| leg network: contact times, flight, foot strike, uneven steps too wide; hip hinge, bounce, whole-body lean too narrow | its table had been set on what the whole way is off, the events' definition included, which is told apart already; and the offsets of hinge and lean had never been compared. It is now what its points add |
| leg network: one contact in a hundred 20 to 50 ms late, the knee then 15–40° off | under a landed foot the heel's point may go on gliding down, and so come near its own lowest place late; a heel within 15 mm of it that has stopped falling counts as down now |
| leg network, since then: contact times, flight, foot strike, uneven steps too wide, shank too narrow | events had been given 4 and 7 ms; the table's foot strike (± 1.4°) held contact's late ones too, and its shank stood 0.4° from the middle |
| few strides | Student's t with the degrees of freedom of Welch and Satterthwaite |
| noise counted twice | the spread of single strides already holds the points' noise |
| standing: head, trunk, weight too narrow with a known level | a camera that looks down shows what is higher larger; that was left out |
| standing: knees, heads too wide | the scatter's uncertainty took the memory of the points twice as a median does |
| standing: stance width too narrow | a ratio with an uncertain divisor; it is uncertain by a factor now |
| standing: levels of shoulders and hips too wide | what is not known of both sides alike does not tilt a pair, but had been told by the slope that each side's own noise makes; a camera is held at 0.7 to 1.5 m, 0.23 m about its mean, not 0.3 |
`

const standingText = `
# Standing

Invented people standing, as many from the side as from the front, with faults of posture that people have; 30 frames a second for 1.5 s, cameras 2.5–5 m away, turned by 4.5° and rolled by 1.7° (standard deviations), tilted up to look at the hips, the level known to 0.3° in half of them. A network's points are placed as ` + "`internal/measure/standing_placing.go`" + ` says: mean offset, what is not known of it (both sides alike), each joint's own. So this can't say whether that placing is right. "Refused" counts people who were taken for askew, or for another view.
`

const openDataText = `
## Open data

The exact joints of the rendered clips (drawn by others from motion capture; one figure, one motion, so that these are far from independent): how many true values the intervals for points from elsewhere hold.

| measure | values | within the interval |
|---|---|---|
`

package explain

import (
	"encoding/json"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"sort"
	"strings"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/judge"
	"plumbstride/internal/measure"
	"plumbstride/internal/signal"
	"plumbstride/internal/stand"
	"plumbstride/internal/standin"
	"plumbstride/internal/track"
	"plumbstride/internal/words"
)

var update = flag.Bool("update", false, "write typical.json anew")

// Whose points the typical clip's are: from the side, and of somebody standing.
const (
	network         = "full+legs"
	standingNetwork = "full+heavy"
)

// sds gathers the standard uncertainties of invented people's measures by
// name and unit.
type sds map[string][]float64

func (s sds) add(measures []form.Measure) {
	for _, m := range measures {
		s[m.Name+" "+m.Unit] = append(s[m.Name+" "+m.Unit], m.SD)
	}
}

// fromSide checks n invented runners at a frame rate, with the points' noise
// and the bias of the networks, 8 s a clip, the level seen.
func fromSide(t *testing.T, n int, rateHz float64, into sds) {
	t.Helper()
	for i := range n {
		rng := rand.New(rand.NewPCG(23, uint64(i)))
		r, cam := standin.Random(rng)
		cam.RateHz = rateHz
		tr, _, err := standin.Track(r, cam, 8, rng)
		if err != nil {
			continue // rare: a body that no steps fit
		}
		tr.Network = network
		level := gait.Level{Deg: cam.RollDeg + 0.2*rng.NormFloat64(), SD: 0.2, Known: true}
		g, err := gait.Analyse(track.Smooth(tr), gait.Facts{HeightM: r.HeightM, Level: level})
		if err != nil {
			continue
		}
		ms, _ := measure.All(g, measure.Who{HeightM: r.HeightM, MassKg: 65})
		into.add(ms)
	}
}

func fromBehind(t *testing.T, n int, rateHz float64, into sds, refused map[string]string) {
	t.Helper()
	for i := range n {
		rng := rand.New(rand.NewPCG(29, uint64(i)))
		r, cam := standin.RandomBehind(rng)
		cam.RateHz = rateHz
		tr, _, err := standin.Track(r, cam, 8, rng)
		if err != nil {
			continue
		}
		tr.Network = "heavy" // the one that tells the legs apart from behind
		facts := gait.Facts{HeightM: r.HeightM, SpeedMS: r.SpeedMS, Level: gait.Level{Deg: cam.RollDeg + 0.2*rng.NormFloat64(), SD: 0.2, Known: true}}
		b, err := gait.Behind(track.Smooth(tr), facts)
		if err != nil {
			continue
		}
		ms, no := measure.Behind(b)
		for _, r := range no {
			refused[r.Name] = r.Reason
		}
		for _, m := range ms {
			if m.Name != "cadence" { // the side's is the card's
				into.add([]form.Measure{m})
			}
		}
	}
}

func inPlace(t *testing.T, n int, rateHz float64, into sds) {
	t.Helper()
	for i := range n {
		rng := rand.New(rand.NewPCG(37, uint64(i)))
		r, cam := standin.RandomOnTheSpot(rng)
		cam.RateHz = rateHz
		tr, _, err := standin.Track(r, cam, 8, rng)
		if err != nil {
			continue
		}
		tr.Network = network
		facts := gait.Facts{HeightM: r.HeightM, Level: gait.Level{Deg: cam.RollDeg + 0.2*rng.NormFloat64(), SD: 0.2, Known: true}}
		g, err := gait.Analyse(track.Smooth(tr), facts)
		if err != nil {
			continue
		}
		ms, _ := measure.All(g, measure.Who{HeightM: r.HeightM})
		for _, m := range ms {
			if m.Name == "knee_lift" { // the rest is told of runners
				into.add([]form.Measure{m})
			}
		}
	}
}

func standingStill(t *testing.T, n int, into sds) {
	t.Helper()
	for i := range n {
		rng := rand.New(rand.NewPCG(31, uint64(i)))
		r, cam := standin.RandomStander(rng, []form.View{form.ViewSide, form.ViewFront}[i%2])
		tr, _, err := standin.Track(r, cam, 1.5, rng)
		if err != nil {
			continue
		}
		tr.View, tr.Facing, tr.Network = "", form.Both, standingNetwork
		p, err := stand.Find(tr, stand.Facts{HeightM: r.HeightM, Level: gait.Level{Deg: cam.RollDeg + 0.3*rng.NormFloat64(), SD: 0.3, Known: true}})
		if err != nil {
			continue
		}
		ms, _ := measure.Standing(p, measure.Who{HeightM: r.HeightM})
		into.add(ms)
	}
}

// study is the median uncertainty of n invented people, two digits kept.
func study(t *testing.T, n int) Typical {
	t.Helper()
	out := Typical{RatesHz: []float64{60, 120, 240}, Running: map[string][]float64{}, Standing: map[string]float64{}, Refused: map[string]string{}}
	refused := map[string]string{}
	for k, rate := range out.RatesHz {
		got := sds{}
		fromSide(t, n, rate, got)
		fromBehind(t, n, rate, got, refused)
		inPlace(t, n, rate, got)
		for key, values := range got {
			if out.Running[key] == nil {
				out.Running[key] = make([]float64, len(out.RatesHz))
			}
			out.Running[key][k] = twoDigits(signal.Median(values))
		}
	}
	for name, why := range refused { // never told, not just now and then
		told := false
		for key := range out.Running {
			told = told || strings.HasPrefix(key, name+" ")
		}
		if !told {
			out.Refused[name] = why
		}
	}
	got := sds{}
	standingStill(t, 2*n, got)
	for key, values := range got {
		out.Standing[key] = twoDigits(signal.Median(values))
	}
	return out
}

func twoDigits(v float64) float64 {
	if !(v > 0) {
		return 0
	}
	scale := math.Pow(10, 1-math.Floor(math.Log10(v)))
	return math.Round(v*scale) / scale
}

// TestTypical: typical.json has every measure of the tables, and says what a
// few invented people give, within a factor; -update makes it anew from many.
func TestTypical(t *testing.T) {
	if *update {
		text, err := json.Marshal(study(t, People))
		if err != nil {
			t.Fatal(err)
		}
		lines := strings.NewReplacer(`,"`, ",\n\"", `{"`, "{\n\"").Replace(string(text)) + "\n"
		if err := os.WriteFile("typical.json", []byte(lines), 0o644); err != nil {
			t.Fatal(err)
		}
		return
	}
	have := typical()
	few := study(t, 3)
	keys := make([]string, 0, len(few.Running))
	for key := range few.Running {
		keys = append(keys, key)
	}
	sort.Strings(keys)
	for _, key := range keys {
		stored, ok := have.Running[key]
		if !ok || len(stored) != len(have.RatesHz) {
			t.Errorf("typical.json lacks %s (go test ./internal/explain -update)", key)
			continue
		}
		for i, sd := range few.Running[key] {
			if sd > 0 && (stored[i] > 2*sd || stored[i] < sd/2) {
				t.Errorf("%s at %g Hz: typical.json has ± %g, a few runners give %g (go test ./internal/explain -update)", key, have.RatesHz[i], stored[i], sd)
			}
		}
	}
	for key, sd := range few.Standing {
		if stored := have.Standing[key]; stored > 2*sd || stored < sd/2 {
			t.Errorf("%s: typical.json has ± %g, a few standing people give %g (go test ./internal/explain -update)", key, stored, sd)
		}
	}
}

// TestEveryMeasureIsExplained: no measure of any table lacks its words or, if
// it is filmed, its typical uncertainty, and no words are left over.
func TestEveryMeasureIsExplained(t *testing.T) {
	left := vocabulary()
	for _, s := range All(judge.Context{SpeedMS: 10 / 3.6, HeightM: 1.72}) {
		delete(left, s.Name)
		for what, text := range map[string]string{"needs": s.Needs, "cannot": s.Cannot, "claims": s.Claims} {
			if strings.TrimSpace(text) == "" || !strings.HasSuffix(text, ".") {
				t.Errorf("%s: vocabulary (internal/explain/words.go) has no sentence for %q: %q", s.Name, what, text)
			}
		}
		for _, r := range s.Rows {
			if r.Title == "" || r.Meaning == "" || r.Formula == "" || r.Source == "" || r.Unit == "" {
				t.Errorf("%s (%s): something is empty: %+v", s.Name, r.Kind, r)
			}
			if r.Kind != ByRecording && len(r.SD) == 0 && r.Refused == "" {
				t.Errorf("%s (%s, %s) has no typical uncertainty (go test ./internal/explain -update)", s.Name, r.Kind, r.Unit)
			}
			if (r.Band == "") != (r.BandSource == "") {
				t.Errorf("%s (%s): band %q from %q", s.Name, r.Kind, r.Band, r.BandSource)
			}
		}
	}
	for name := range left {
		t.Errorf("words for %s, which is no measure", name)
	}
}

// TestOverClaiming: what the literature says against making too much of a
// number is said where it belongs (the sources stand in the words).
func TestOverClaiming(t *testing.T) {
	sheets := All(judge.Context{SpeedMS: 3, HeightM: 1.7})
	for name, says := range map[string]string{
		"foot_strike_angle":    "no cut-offs at which this angle is abnormal (Souza 2016",
		"contact_time":         "does not predict running economy: r = −0.02",
		"head_forward":         "says nothing of pain",
		"plumb_ear":            "no bibliographic basis",
		"cadence":              "no right number",
		"pelvic_drop":          "cross-sectional",
		"leg_stiffness":        "inclines",
		"knee_flexion_contact": "between days",
	} {
		s, ok := Find(sheets, name, words.Book{})
		if !ok || !strings.Contains(s.Claims, says) {
			t.Errorf("%s does not say %q: %q", name, says, s.Claims)
		}
	}
}

// TestFind: names are found however they are written, and near misses are
// suggested.
func TestFind(t *testing.T) {
	sheets := All(judge.Context{SpeedMS: 3, HeightM: 1.7})
	for _, name := range []string{"cadence", "Cadence", " contact-time ", "Contact time", "BOUNCE", "vertical oscillation"} {
		if _, ok := Find(sheets, name, words.Book{}); !ok {
			t.Errorf("%q is not found", name)
		}
	}
	for wrong, want := range map[string]string{
		"cadense": "cadence", "contact": "contact_time", "knee": "knee_flexion_contact", "foot_strike": "foot_strike_angle",
		"bounc": "vertical_oscillation", "bouncee": "vertical_oscillation", "trunk lean standig": "trunk_lean_standing",
	} {
		if _, ok := Find(sheets, wrong, words.Book{}); ok {
			t.Errorf("%q is found", wrong)
		}
		if got := Nearest(sheets, wrong); len(got) == 0 || len(got) > 3 || !strings.Contains(fmt.Sprint(got), want) {
			t.Errorf("%q: %v, want %s among them", wrong, got, want)
		}
	}
	if got := Nearest(sheets, "xylophone of the moon"); len(got) != 0 {
		t.Errorf("nothing is near, but %v", got)
	}
	for _, c := range []struct {
		a, b string
		want int
	}{{"kitten", "sitting", 3}, {"", "abc", 3}, {"abc", "abc", 0}} { // the textbook's example
		if got := distance(c.a, c.b); got != c.want {
			t.Errorf("%s to %s: %d", c.a, c.b, got)
		}
	}
}

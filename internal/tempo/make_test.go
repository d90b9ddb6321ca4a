package tempo

import (
	"encoding/json"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"plumbstride/internal/form"
)

var update = flag.Bool("update", false, "write the golden files anew")

func TestParseCadence(t *testing.T) {
	for _, tt := range []struct {
		text string
		want Cadence
		says string
	}{
		{"168", 168_000, ""},
		{" 167.5 ", 167_500, ""},
		{"173.333", 173_333, ""},
		{"100", 100_000, ""},
		{"230", 230_000, ""},
		{"99.9", 0, "write 199.8"}, // one foot counted
		{"84", 0, "write 168"},
		{"230.001", 0, "between 100 and 230"},
		{"0", 0, "between 100 and 230"},
		{"40", 0, "between 100 and 230"},
		{"168.1234", 0, "is not a cadence"},
		{"1e2", 0, "is not a cadence"},
		{"-168", 0, "is not a cadence"},
		{"168,5", 0, "is not a cadence"},
		{"168.", 0, "is not a cadence"},
		{"NaN", 0, "is not a cadence"},
		{"", 0, "is not a cadence"},
		{"99999999999999999999", 0, "is not a cadence"},
	} {
		got, err := ParseCadence(tt.text)
		if got != tt.want || (err == nil) != (tt.says == "") || (err != nil && !strings.Contains(err.Error(), tt.says)) {
			t.Errorf("%q: %v, %v; want %v, %q", tt.text, got, err, tt.want, tt.says)
		}
		if err != nil && form.CodeOf(err) != form.CodeUsage {
			t.Errorf("%q: %v is no usage error", tt.text, err)
		}
	}
}

func TestParseMinutes(t *testing.T) {
	for text, want := range map[string]int64{"20": 1_200_000, "12.5": 750_000, "0.5": 30_000, "180": 10_800_000, "20min": 1_200_000, "0.49": 0, "181": 0, "x": 0, "": 0, "-3": 0, "20 s": 0} {
		got, err := ParseMinutes(text)
		if got != want || (err == nil) != (want != 0) {
			t.Errorf("%q: %d, %v; want %d", text, got, err, want)
		}
	}
}

func TestParsePattern(t *testing.T) {
	for _, tt := range []struct {
		text string
		want Pattern
	}{
		{"steady", Pattern{Shape: Steady}},
		{"Step-Up", Pattern{Shape: StepUp, GlideMS: -1}},
		{"step-up in 3 steps gliding 30s", Pattern{Shape: StepUp, Count: 3, GlideMS: 30_000}},
		{"step-up in 1 step gliding 0s", Pattern{Shape: StepUp, Count: 1}},
		{"ladder 150, 160, 170.5", Pattern{Shape: Ladder, Rungs: []Cadence{150_000, 160_000, 170_500}}},
		{"ladder 150 160 each 1min30s", Pattern{Shape: Ladder, Rungs: []Cadence{150_000, 160_000}, EachMS: 90_000}},
		{"on-off 2min on 1min off", Pattern{Shape: OnOff, OnMS: 120_000, OffMS: 60_000}},
		{"fading", Pattern{Shape: Fading, FirstPct: 100, LastPct: 20}},
		{"fading in 5 parts from 80% to 0%", Pattern{Shape: Fading, Count: 5, FirstPct: 80}},
	} {
		got, err := ParsePattern(tt.text)
		if err != nil {
			t.Errorf("%q: %v", tt.text, err)
		}
		if d := cmp.Diff(tt.want, got); d != "" {
			t.Errorf("%q (-want +got):\n%s", tt.text, d)
		}
	}
}

func TestPatternRefusals(t *testing.T) {
	for text, says := range map[string]string{
		"":                                "is not known",
		"wobbly":                          "is not known",
		"steady please":                   `"please"`,
		"step-up in 0 steps":              "from 1 to 30",
		"step-up in many steps":           "from 1 to 30",
		"step-up in 3":                    `wants "steps"`,
		"step-up gliding":                 "ends where a time should stand",
		"step-up gliding 90":              "has no unit",
		"step-up gliding 10min":           "not between",
		"ladder":                          "from 2 to 20",
		"ladder 150":                      "from 2 to 20",
		"ladder 160 150":                  "rises",
		"ladder 150 150":                  "rises",
		"ladder 75 160":                   "write 150",
		"ladder 150 160 each 2s":          "not between",
		"on-off":                          "ends where a time should stand",
		"on-off 1min 1min":                `wants "on"`,
		"on-off 1min on 5s off":           "not between",
		"fading from 20% to 80%":          "from more to less",
		"fading from 50% to 50%":          "from more to less",
		"fading from 120% to 50%":         "from 0% to 100%",
		"fading from 90 to 50":            "from 0% to 100%",
		"fading in 1 parts":               "from 2 to 24",
		"fading in 4 parts from 90%":      `wants "to"`,
		strings.Repeat("ladder 150 ", 99): "longer than",
	} {
		_, err := ParsePattern(text)
		if err == nil || !strings.Contains(err.Error(), says) || form.CodeOf(err) != form.CodeUsage {
			t.Errorf("%.40q: %v; want a usage error with %q", text, err, says)
		}
	}
}

// The rule of 5 %, worked out by hand: 5 % of 160 is 8.
func TestStepRule(t *testing.T) {
	up := Pattern{Shape: StepUp, GlideMS: -1}
	two := Pattern{Shape: StepUp, Count: 2, GlideMS: -1}
	for _, tt := range []struct {
		name string
		ask  Ask
		says string // "" where it is allowed
	}{
		{"exactly 5 %", Ask{Own: 160_000, Target: 168_000, Pattern: Pattern{Shape: Steady}}, ""},
		{"a thousandth more", Ask{Own: 160_000, Target: 168_001, Pattern: Pattern{Shape: Steady}}, "at most 5 % (168 steps/min)"},
		{"a thousandth more, decided", Ask{Own: 160_000, Target: 168_001, Pattern: Pattern{Shape: Steady}, LargerSteps: true}, ""},
		{"down as well", Ask{Own: 180_000, Target: 170_000, Pattern: Pattern{Shape: Steady}}, "-5.6 %, and a step is at most 5 % (171 steps/min)"},
		{"own not stated", Ask{Target: 190_000, Pattern: Pattern{Shape: Steady}}, ""},
		{"step-up takes two", Ask{Own: 160_000, Target: 172_000, Pattern: up}, ""},
		{"three steps' worth in two", Ask{Own: 160_000, Target: 180_000, Pattern: two}, "from 160 to 170 steps/min is a step of +6.2 %"},
		{"the same, decided", Ask{Own: 160_000, Target: 180_000, Pattern: two, LargerSteps: true}, ""},
		{"on-off", Ask{Own: 160_000, Target: 172_000, Pattern: Pattern{Shape: OnOff, OnMS: 60_000, OffMS: 60_000}}, "+7.5 %"},
		{"fading", Ask{Own: 160_000, Target: 172_000, Pattern: Pattern{Shape: Fading, FirstPct: 100}}, "+7.5 %"},
		{"step-up downwards", Ask{Own: 170_000, Target: 165_000, Pattern: up}, "rises"},
		{"step-up from nowhere", Ask{Target: 165_000, Pattern: up}, "own cadence"},
		{"no target", Ask{Own: 160_000}, "target cadence is lacking"},
		{"ladder with target", Ask{Target: 160_000, Pattern: Pattern{Shape: Ladder, Rungs: []Cadence{150_000, 190_000}}}, "names its cadences itself"},
	} {
		tt.ask.LengthMS = 20 * 60_000
		_, err := Make(tt.ask)
		switch {
		case (err == nil) != (tt.says == ""), err != nil && !strings.Contains(err.Error(), tt.says):
			t.Errorf("%s: %v; want %q", tt.name, err, tt.says)
		case err != nil && form.CodeOf(err) != form.CodeUsage:
			t.Errorf("%s: %v is no usage error", tt.name, err)
		}
	}
}

func TestLengthRefusals(t *testing.T) {
	for _, tt := range []struct {
		ask  Ask
		says string
	}{
		{Ask{Target: 168_000}, "length is lacking"},
		{Ask{Target: 168_000, LengthMS: 29_000}, "between 0.5 and 180"},
		{Ask{Target: 168_000, LengthMS: 181 * 60_000}, "between 0.5 and 180"},
		{Ask{Target: 300_000, LengthMS: 60_000}, "between 100 and 230"},
		{Ask{Own: 160_000, Target: 168_000, LengthMS: 49_000}, "too short for 2 cadences"},
		{Ask{Target: 168_000, LengthMS: 150_000, Pattern: Pattern{Shape: Fading, FirstPct: 100}}, "too short for a fading track in 3 parts"},
		{Ask{Target: 168_000, LengthMS: 600_000, Pattern: Pattern{Shape: Fading, Count: 4, FirstPct: 5}}, "would be silent"},
		{Ask{Pattern: Pattern{Shape: Ladder, Rungs: []Cadence{150_000, 160_000}}}, "either minutes"},
		{Ask{LengthMS: 60_000, Pattern: Pattern{Shape: Ladder, EachMS: 30_000, Rungs: []Cadence{150_000, 160_000}}}, "either minutes"},
		{Ask{LengthMS: 30_000, Pattern: Pattern{Shape: Ladder, Rungs: []Cadence{150_000, 160_000, 170_000}}}, "too short for a ladder"},
		{Ask{Pattern: Pattern{Shape: Ladder, EachMS: 3_600_000, Rungs: []Cadence{150_000, 160_000, 170_000, 180_000}}}, "at most 180 minutes"},
	} {
		_, err := Make(tt.ask)
		if err == nil || !strings.Contains(err.Error(), tt.says) || form.CodeOf(err) != form.CodeUsage {
			t.Errorf("%+v: %v; want a usage error with %q", tt.ask, err, tt.says)
		}
	}
}

// A step-up takes the fewest steps of at most 5 % of the own cadence, equal
// ones, and gives each cadence the same time.
func TestStepUpLevels(t *testing.T) {
	for _, tt := range []struct {
		own, target Cadence
		want        []Cadence
	}{
		{160_000, 168_000, []Cadence{168_000}},
		{160_000, 172_000, []Cadence{166_000, 172_000}},
		{160_000, 176_000, []Cadence{168_000, 176_000}},
		{163_000, 179_500, []Cadence{168_500, 174_000, 179_500}}, // 5 % of 163 is 8.15: 16.5 needs three
	} {
		if got := (Ask{Own: tt.own, Target: tt.target}).settled().levels(); !slices.Equal(got, tt.want) {
			t.Errorf("%v to %v: %v, want %v", tt.own, tt.target, got, tt.want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		own := Cadence(rapid.Int64Range(100_000, 200_000).Draw(t, "own"))
		ask := Ask{Own: own, Target: Cadence(rapid.Int64Range(int64(own)+1, 230_000).Draw(t, "target")), LengthMS: 3 * 3_600_000}
		plan, err := Make(ask)
		if err != nil {
			t.Fatalf("%+v: %v", ask, err)
		}
		at := own
		for _, p := range plan.Parts {
			if p.Kind != Steps || p.From == p.To {
				continue
			}
			if p.From != at || p.To < at || 100*(p.To-at) > 5*at {
				t.Fatalf("at %v, a step from %v to %v", at, p.From, p.To)
			}
			at = p.To
		}
		if at != ask.Target {
			t.Fatalf("it ends at %v, want %v", at, ask.Target)
		}
	})
}

// Whatever the pattern, the run has the length that was asked for, and what
// comes on top is the signals and the count-in at its ends.
func TestRunHasItsLength(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		ask := anyAsk(t)
		plan, err := Make(ask)
		if err != nil {
			t.Fatal(err)
		}
		n := len(plan.Parts)
		run := plan.LengthMS() - plan.Parts[0].MS - plan.Parts[1].MS - plan.Parts[n-1].MS
		if ask.Pattern.Shape != Ladder && run != ask.LengthMS {
			t.Fatalf("the run lasts %d ms, want %d", run, ask.LengthMS)
		}
		if plan.Parts[0].Signal != Start || plan.Parts[1].Kind != CountIn || plan.Parts[n-1].Signal != End {
			t.Fatalf("the ends are %+v", plan.Parts)
		}
	})
}

// Fading by hand: 20 minutes in 4 parts of 300 s from 100 % to 20 % are
// 100, 73⅓, 46⅔ and 20 %: 300, 220, 140 and 60 s on.
func TestFadingByHand(t *testing.T) {
	p := Pattern{Shape: Fading, FirstPct: 100, LastPct: 20}
	got, err := fadingTurns(&p, 20*60_000)
	if err != nil {
		t.Fatal(err)
	}
	want := []turn{{true, 520_000}, {false, 80_000}, {true, 140_000}, {false, 160_000}, {true, 60_000}, {false, 240_000}}
	if p.Count != 4 || !slices.Equal(got, want) {
		t.Errorf("%d parts, %v; want 4, %v", p.Count, got, want)
	}
}

// Whatever the numbers, less and less is on, and the lengths add up.
func TestFadingFades(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		first := rapid.IntRange(30, 100).Draw(t, "first")
		p := Pattern{Shape: Fading, Count: rapid.IntRange(2, 12).Draw(t, "count"), FirstPct: first, LastPct: rapid.IntRange(0, first-1).Draw(t, "last")}
		length := rapid.Int64Range(12*60_000, 180*60_000).Draw(t, "length")
		turns, err := fadingTurns(&p, length)
		if err != nil {
			t.Fatal(err)
		}
		sum, last := int64(0), turns[0].ms
		for i, tn := range turns {
			if sum += tn.ms; tn.on != (i%2 == 0) {
				t.Fatalf("turns don't alternate: %v", turns)
			}
			if tn.on && tn.ms > last+1 {
				t.Fatalf("more on after less: %v", turns)
			}
			if tn.on {
				last = tn.ms
			}
		}
		if sum != length {
			t.Fatalf("%d ms in all, want %d", sum, length)
		}
	})
}

func TestOnOffByHand(t *testing.T) {
	p := Pattern{Shape: OnOff, OnMS: 120_000, OffMS: 60_000}
	for _, tt := range []struct {
		length int64
		want   []turn
	}{
		{360_000, []turn{{true, 120_000}, {false, 60_000}, {true, 120_000}, {false, 60_000}}},
		{300_000, []turn{{true, 120_000}, {false, 60_000}, {true, 120_000}}},
		{185_000, []turn{{true, 120_000}, {false, 65_000}}}, // 5 s of tempo are none
		{100_000, []turn{{true, 100_000}}},
	} {
		if got := onOffTurns(p, tt.length); !slices.Equal(got, tt.want) {
			t.Errorf("%d: %v, want %v", tt.length, got, tt.want)
		}
	}
}

func TestCautions(t *testing.T) {
	for _, tt := range []struct {
		name string
		ask  Ask
		says []string
	}{
		{"always", Ask{Own: 160_000, Target: 164_000, LengthMS: 600_000}, []string{"Pain means stop", "traffic", "one thing at a time", "Achilles", "no medical device"}},
		{"own not stated", Ask{Target: 164_000, LengthMS: 600_000}, []string{"was not stated"}},
		{"by decision", Ask{Own: 160_000, Target: 170_000, LengthMS: 600_000, LargerSteps: true, Pattern: Pattern{Shape: Steady}}, []string{"From 160 to 170", "by the coach's decision"}},
		{"more than 10 %", Ask{Own: 160_000, Target: 180_000, LengthMS: 600_000}, []string{"+12 %"}},
		{"on the spot", Ask{Pattern: Pattern{Shape: Ladder, Rungs: []Cadence{150_000, 190_000}, EachMS: 30_000}}, []string{"no cadence to run at"}},
	} {
		plan, err := Make(tt.ask)
		if err != nil {
			t.Fatal(err)
		}
		all := strings.Join(plan.Cautions, "\n")
		for _, s := range tt.says {
			if !strings.Contains(all, s) {
				t.Errorf("%s: no caution with %q in\n%s", tt.name, s, all)
			}
		}
	}
}

// The plans that the pages and the files are made from, as JSON and in words.
func TestGoldenPlans(t *testing.T) {
	for name, ask := range map[string]Ask{
		"steady":  {Own: 160_000, Target: 167_500, LengthMS: 600_000, Pattern: Pattern{Shape: Steady}},
		"step-up": {Own: 160_000, Target: 172_000, LengthMS: 20 * 60_000},
		"ladder":  {LengthMS: 240_000, Pattern: Pattern{Shape: Ladder, Rungs: []Cadence{150_000, 160_000, 170_000}}},
		"on-off":  {Target: 168_000, LengthMS: 480_000, Pattern: Pattern{Shape: OnOff, OnMS: 120_000, OffMS: 60_000}},
		"fading":  {Own: 162_000, Target: 168_000, LengthMS: 20 * 60_000, Pattern: Pattern{Shape: Fading, FirstPct: 100, LastPct: 20}},
	} {
		plan, err := Make(ask)
		if err != nil {
			t.Fatal(err)
		}
		object, err := json.MarshalIndent(plan, "", "  ")
		if err != nil {
			t.Fatal(err)
		}
		golden(t, name+".json", string(object)+"\n")
		var words strings.Builder
		for _, l := range plan.Schedule() {
			fmt.Fprintf(&words, "%8s  %s\n", Clock(l.AtMS), l.Text)
		}
		golden(t, name+".txt", words.String()+plan.Comment()+"\n")
		back, err := DecodePlan(object)
		if err != nil {
			t.Errorf("%s: %v", name, err)
		}
		if d := cmp.Diff(plan, back); d != "" {
			t.Errorf("%s (-made +read):\n%s", name, d)
		}
	}
}

func golden(t *testing.T, name, got string) {
	t.Helper()
	path := filepath.Join("testdata", "golden", name)
	if *update {
		if err := os.WriteFile(path, []byte(got), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if d := cmp.Diff(string(want), got); d != "" {
		t.Errorf("%s (-want +got):\n%s", name, d)
	}
}

func TestCommentIsBounded(t *testing.T) {
	plan, err := Make(Ask{Target: 168_000, LengthMS: maxLengthMS, Pattern: Pattern{Shape: OnOff, OnMS: minTurnMS, OffMS: minTurnMS}})
	if err != nil {
		t.Fatal(err)
	}
	if c := plan.Comment(); len(c) > 4000 || !strings.HasSuffix(c, "parts in all") {
		t.Errorf("%d bytes: …%s", len(c), c[max(0, len(c)-80):])
	}
}

func TestDecodePlanRefuses(t *testing.T) {
	good := `{"version":1,"title":"x","pattern":"steady","parts":[{"kind":"steps","ms":60000,"from":168,"to":168}],"cautions":[]}`
	if _, err := DecodePlan([]byte(good)); err != nil {
		t.Fatal(err)
	}
	for _, change := range [][2]string{
		{`"version":1`, `"version":2`},
		{`"title":"x"`, `"title":"` + strings.Repeat("x", 601) + `"`},
		{`"title":"x"`, `"tittle":"x"`},
		{`"kind":"steps"`, `"kind":"leaps"`},
		{`"ms":60000`, `"ms":0`},
		{`"ms":60000`, `"ms":-5`},
		{`"ms":60000`, `"ms":999999999`},
		{`"ms":60000`, `"ms":1e999`},
		{`"from":168`, `"from":1e3`},
		{`"from":168`, `"from":1680`},
		{`"from":168`, `"from":168.00001`},
		{`"from":168`, `"from":"168"`},
		{`"from":168,"to":168`, `"signal":"start"`},
		{`"kind":"steps"`, `"kind":"quiet"`},
		{`"kind":"steps","ms":60000,"from":168,"to":168`, `"kind":"signal","ms":2000,"signal":"bang"`},
		{`"kind":"steps","ms":60000,"from":168,"to":168`, `"kind":"signal","ms":1000,"signal":"end"`},
		{`"kind":"steps","ms":60000,"from":168,"to":168`, `"kind":"quiet","ms":499`},
		{`{"kind":"steps","ms":60000,"from":168,"to":168}`, ``},
		{`"cautions":[]}`, `"cautions":[]} {}`},
	} {
		bad := strings.Replace(good, change[0], change[1], 1)
		if bad == good {
			t.Fatalf("%q is not in the plan", change[0])
		}
		if _, err := DecodePlan([]byte(bad)); form.CodeOf(err) != form.CodeUsage {
			t.Errorf("%q: %v, want a usage error", change[1], err)
		}
	}
}

func FuzzParsePattern(f *testing.F) {
	for _, s := range []string{"steady", "step-up in 3 steps gliding 30s", "ladder 150 160.5 170 each 1min40.25s", "on-off 2min on 61.5s off", "fading in 5 parts from 100% to 0%", "fading from % to", "ladder 150 each"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, text string) {
		p, err := ParsePattern(text)
		if err != nil {
			if form.CodeOf(err) != form.CodeUsage {
				t.Fatalf("%q: %v is no usage error", text, err)
			}
			return
		}
		again, err := ParsePattern(p.String())
		if err != nil {
			t.Fatalf("%q gives %q, which can't be read: %v", text, p, err)
		}
		if d := cmp.Diff(p, again); d != "" {
			t.Fatalf("%q gives %q, which reads otherwise:\n%s", text, p, d)
		}
	})
}

func FuzzDecodePlan(f *testing.F) {
	f.Add([]byte(`{"version":1,"title":"x","pattern":"steady","parts":[{"kind":"signal","ms":2000,"signal":"start"},{"kind":"count-in","ms":1,"from":168,"to":168},{"kind":"steps","ms":60000,"from":168,"to":100.5}],"cautions":["a"]}`))
	f.Add([]byte(`{"parts":null}`))
	f.Fuzz(func(t *testing.T, b []byte) {
		p, err := DecodePlan(b)
		if err != nil {
			if form.CodeOf(err) != form.CodeUsage {
				t.Fatalf("%v is no usage error", err)
			}
			return
		}
		last, end := int64(-1), p.Samples()
		for _, e := range p.Events() {
			if e.Sample < last || e.Sample > end {
				t.Fatalf("event %+v behind %d, end %d", e, last, end)
			}
			last = e.Sample
		}
		_ = p.Schedule()
		_ = p.Comment()
	})
}

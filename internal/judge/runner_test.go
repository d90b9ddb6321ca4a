package judge

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"

	"plumbstride/internal/form"
)

// spec is the unit and the usual standard uncertainty of each measure of an
// invented runner, and whether it comes once a side. The uncertainties are
// those of a good 60 frames/s side clip (order of size after Dingenen et al.
// 2018 doi 10.1016/j.ptsp.2018.06.009 and Van Hooren et al. 2023
// doi 10.1111/sms.14319).
var spec = map[string]struct {
	unit  string
	sd    float64
	sides bool
	usual float64
}{
	"cadence":               {"steps/min", 0.4, false, 168},
	"step_time_asymmetry":   {"%", 0.7, false, 1.5},
	"contact_time":          {"ms", 12, true, 265},
	"flight_time":           {"ms", 12, true, 95},
	"duty_factor":           {"–", 0.015, true, 0.37},
	"foot_strike_angle":     {"deg", 3, true, 12},
	"landing_distance":      {"cm", 1.8, true, 15},
	"heel_landing_distance": {"cm", 2, true, 11.5},
	"shank_angle":           {"deg", 2, true, 4},
	"knee_flexion_contact":  {"deg", 2.5, true, 13},
	"knee_flexion_peak":     {"deg", 2.5, true, 41},
	"trunk_lean":            {"deg", 1.2, false, 7},
	"body_lean":             {"deg", 1, false, 5},
	"hip_hinge":             {"deg", 1.6, false, 4.5},
	"head_forward":          {"cm", 1, false, 4.5},
	"midstance_stack":       {"cm", 2, false, 15},
	"vertical_oscillation":  {"cm", 0.5, false, 7.8},
	"speed":                 {"m/s", 0.05, false, 2.8},
}

// runner is an invented runner: an ordinary one but for what is set. A key
// may name one side ("landing_distance left").
type runner struct {
	set     map[string]float64
	sd      map[string]float64
	without []string
	refused []form.Refusal
	speed   float64
	height  float64
	pain    bool
}

func (r runner) context() Context {
	ctx := Context{SpeedMS: 2.8, HeightM: 1.75, Pain: r.pain}
	if r.speed != 0 {
		ctx.SpeedMS = r.speed
	}
	if r.height != 0 {
		ctx.HeightM = r.height
	}
	return ctx
}

func (r runner) measures() []form.Measure {
	for key := range r.set {
		if _, ok := spec[strings.Fields(key)[0]]; !ok {
			panic("judge: no measure " + key)
		}
	}
	var ms []form.Measure
	for _, name := range slices.Sorted(maps.Keys(spec)) {
		if slices.Contains(r.without, name) {
			continue
		}
		s := spec[name]
		sides := []form.Side{form.Both}
		if s.sides {
			sides = []form.Side{form.Left, form.Right}
		}
		for _, side := range sides {
			value, sd := s.usual, s.sd
			for _, key := range []string{name, name + " " + side.String()} {
				if v, ok := r.set[key]; ok {
					value = v
				}
			}
			if v, ok := r.sd[name]; ok {
				sd = v
			}
			ms = append(ms, form.With95(name, side, s.unit, value, sd, 20))
		}
	}
	return WithBands(ms, r.context())
}

func (r runner) judge() Verdict { return Judge(r.measures(), r.refused, r.context()) }

type values = map[string]float64

// allBut lists every measure but the ones named.
func allBut(names ...string) []string {
	var out []string
	for _, name := range slices.Sorted(maps.Keys(spec)) {
		if !slices.Contains(names, name) {
			out = append(out, name)
		}
	}
	return out
}

const (
	nothing   = "nothing"
	filmAgain = "film again"
)

// coachCases are invented runners as a coach would tell of them, with the
// area the coach would begin with. The answers were written down from the
// descriptions by the rules of the measures' definition (a low cadence with
// a long landing is a cadence matter first; a bend at the hips comes before
// the lean; symmetry before everything): common practice, no source.
var coachCases = []struct {
	told string
	runner
	first string
	why   string // a part of the two sentences
	tie   bool
}{
	{"nothing stands out, easy and tidy at 10 km/h", runner{}, nothing, "Nothing here needs changing", false},
	{"plods at 148 a minute and reaches out with the foot",
		runner{set: values{"cadence": 148, "landing_distance": 26, "heel_landing_distance": 22, "shank_angle": 13}},
		Cadence, "landing often goes with it", false},
	{"plods and bounces",
		runner{set: values{"cadence": 150, "vertical_oscillation": 11.5}}, Cadence, "bounce often goes with it", false},
	{"plods, reaches and bounces: the lot",
		runner{set: values{"cadence": 150, "landing_distance": 27, "shank_angle": 14, "vertical_oscillation": 11.8, "foot_strike_angle": 27}},
		Cadence, "landing and bounce often go with it", false},
	{"only the steps are slow, all else neat", runner{set: values{"cadence": 151}}, Cadence, "slow for this speed", false},
	{"quick enough, but throws the foot out in front",
		runner{set: values{"cadence": 172, "landing_distance": 28, "heel_landing_distance": 25, "shank_angle": 15}},
		Landing, "lands far ahead", false},
	{"throws the foot out and lands on the heel with the toes up",
		runner{set: values{"landing_distance": 26, "shank_angle": 13, "foot_strike_angle": 28}}, Landing, "lands far ahead", false},
	{"lands on the heel with the toes high, close under the body", runner{set: values{"foot_strike_angle": 29}}, nothing, "lies inside its bands", false},
	{"lands on the forefoot, close under the body", runner{set: values{"foot_strike_angle": -9, "landing_distance": 11}}, nothing, "lies inside its bands", false},
	{"comes down on a dead straight leg", runner{set: values{"knee_flexion_contact": -3}}, Landing, "almost straight", false},
	{"straight knee at landing and slow steps",
		runner{set: values{"knee_flexion_contact": -3, "cadence": 152}}, Cadence, "slow for this speed", false},
	{"one leg only reaches out, the left",
		runner{set: values{"landing_distance left": 31}}, Landing, "on the left", false},
	{"bends at the waist like a jack-knife",
		runner{set: values{"hip_hinge": 20, "trunk_lean": 21, "body_lean": 9}}, Alignment, "bends at the hips", false},
	{"bends at the waist, and so the whole body leans too",
		runner{set: values{"hip_hinge": 19, "trunk_lean": 22, "body_lean": 14}}, Alignment, "lean often goes with it", false},
	{"leans far forward in one piece",
		runner{set: values{"trunk_lean": 19, "body_lean": 15, "hip_hinge": 8}}, Lean, "leans far forward", false},
	{"leans back, sits behind the feet",
		runner{set: values{"trunk_lean": -6, "body_lean": -4, "hip_hinge": -4}}, Lean, "leans back", false},
	{"head out in front like a tortoise", runner{set: values{"head_forward": 13}}, Alignment, "head is carried ahead", false},
	{"head out in front, and that tips the ear over the ankle",
		runner{set: values{"head_forward": 14, "body_lean": 11.5}}, Alignment, "head is carried ahead", false},
	{"springs like a rubber ball, cadence fine", runner{set: values{"vertical_oscillation": 12.5}}, Bounce, "up and down", false},
	{"limps: the right step is much longer",
		runner{set: values{"step_time_asymmetry": 10}}, Symmetry, "ask about pain", false},
	{"limps, plods and reaches all at once",
		runner{set: values{"step_time_asymmetry": 11, "cadence": 150, "landing_distance": 26}}, Symmetry, "ask about pain", false},
	{"a touch uneven, as everybody is", runner{set: values{"step_time_asymmetry": 4}}, nothing, "Nothing here needs changing", false},
	{"tall man, 1.95 m, 158 a minute", runner{set: values{"cadence": 158}, height: 1.95}, nothing, "inside its bands or close to them at this speed", false},
	{"short woman, 1.55 m, the same 158", runner{set: values{"cadence": 158}, height: 1.55}, Cadence, "slow for this speed and height", false},
	{"jogs at 8 km/h with 158", runner{set: values{"cadence": 158}, speed: 2.22}, nothing, "at this speed", false},
	{"the same 158 at 13 km/h", runner{set: values{"cadence": 158}, speed: 3.61}, Cadence, "slow for this speed and height", false},
	{"patters along at 200", runner{set: values{"cadence": 200}}, Cadence, "quick and short", false},
	{"bounces and leans far forward, about as bad as each other",
		runner{set: values{"vertical_oscillation": 12, "trunk_lean": 20.2, "body_lean": 9}}, Lean, "leans far forward", true},
	{"long on the ground, shuffling, nothing else", runner{set: values{"contact_time": 360, "flight_time": 20, "duty_factor": 0.47}}, nothing, "Nothing here needs changing", false},
	{"dark clip, the pose is all over the place",
		runner{sd: values{"landing_distance": 9, "heel_landing_distance": 9, "shank_angle": 9, "knee_flexion_contact": 12,
			"knee_flexion_peak": 12, "trunk_lean": 8, "body_lean": 8, "hip_hinge": 9, "head_forward": 6, "midstance_stack": 14, "vertical_oscillation": 3}},
		filmAgain, "only 2 of the 6 areas", false},
	{"legs cut off by the picture's edge",
		runner{without: allBut("trunk_lean", "head_forward", "speed"),
			refused: []form.Refusal{{Name: "landing_distance", Reason: "The feet are outside the picture."}}},
		filmAgain, "the feet are outside the picture", false},
	{"only two steps before the runner left the picture",
		runner{without: allBut("speed"), refused: []form.Refusal{{Name: "cadence", Reason: "There are only 2 steps; at least 6 are needed."}}},
		filmAgain, "nothing could be judged: there are only 2 steps", false},
	{"markers on the legs alone, slow steps",
		runner{set: values{"cadence": 146}, without: []string{"trunk_lean", "body_lean", "hip_hinge", "head_forward", "midstance_stack", "vertical_oscillation"}},
		Cadence, "slow for this speed", false},
	{"could be reaching, the clip is too coarse to tell",
		runner{set: values{"landing_distance": 22, "heel_landing_distance": 18, "shank_angle": 9}, sd: values{"landing_distance": 5, "heel_landing_distance": 5, "shank_angle": 4}},
		nothing, "This clip can't tell about landing", false},
	{"carries the head drawn back behind the shoulders like a guardsman",
		runner{set: values{"head_forward": -7}}, Alignment, "behind the shoulders", false},
	{"holds the head a little back, nothing worse",
		runner{set: values{"head_forward": -3}}, nothing, "Nothing here needs changing", false},
	{"sits deep in every step, the knee folding far",
		runner{set: values{"knee_flexion_peak": 62}}, Landing, "bends deeply", false},
	{"slow steps, and the knee folds far with each",
		runner{set: values{"cadence": 150, "knee_flexion_peak": 62}}, Cadence, "landing often goes with it", false},
	{"hangs over from the hips and plods as well",
		runner{set: values{"hip_hinge": 21, "trunk_lean": 21, "cadence": 158}}, Alignment, "bends at the hips", false},
	{"plods at 144, and carries the head a little forward",
		runner{set: values{"cadence": 144, "head_forward": 10}}, Cadence, "slow for this speed", false},
	{"bounces, and lands straight-legged far in front, at a good cadence",
		runner{set: values{"vertical_oscillation": 11.2, "landing_distance": 28, "knee_flexion_contact": -2, "shank_angle": 15}},
		Landing, "lands far ahead", false},
	{"springs high and has the trunk bolt upright, leaning back a touch",
		runner{set: values{"vertical_oscillation": 13, "trunk_lean": -1}}, Bounce, "up and down", false},
	{"uneven steps, and hangs over from the hips",
		runner{set: values{"step_time_asymmetry": 9.5, "hip_hinge": 19, "trunk_lean": 20}}, Symmetry, "ask about pain", false},
	{"a short stocky man, 1.60 m at 9 km/h, all within reason",
		runner{set: values{"cadence": 172, "landing_distance": 12}, speed: 2.5, height: 1.60}, nothing, "at this speed", false},
	{"the right leg only comes down straight",
		runner{set: values{"knee_flexion_contact right": -6}}, Landing, "on the right", false},
	{"fast finisher at 15 km/h, 176 a minute, a long landing as the speed brings",
		runner{set: values{"cadence": 176, "landing_distance": 22, "heel_landing_distance": 18}, speed: 4.17}, nothing, "at this speed", false},
	{"only just slow: a hair outside, and the coach would let it be",
		runner{set: values{"cadence": 159.5}}, Cadence, "slow for this speed", true},
	{"says the knee hurts, and plods, reaches and bounces",
		runner{set: values{"cadence": 150, "landing_distance": 27, "vertical_oscillation": 11.8}, pain: true}, nothing, "Pain comes first", false},
	{"nothing out of order, but something hurts", runner{pain: true}, nothing, "doctor or physiotherapist", false},
}

func (v Verdict) answer() string {
	switch {
	case v.FilmAgain:
		return filmAgain
	case v.Priority == nil:
		return nothing
	default:
		return *v.Priority
	}
}

func TestCoachCases(t *testing.T) {
	if len(coachCases) < 40 {
		t.Fatalf("%d runners, want 40", len(coachCases))
	}
	for _, c := range coachCases {
		t.Run(c.told, func(t *testing.T) {
			v := c.judge()
			if v.answer() != c.first {
				t.Errorf("first is %q (%s), want %q", v.answer(), v.Why, c.first)
			}
			if c.why == "" || !strings.Contains(v.Why, c.why) {
				t.Errorf("why %q lacks %q", v.Why, c.why)
			}
			if c.tie != (v.Tie != "") {
				t.Errorf("tie %q, want one: %v", v.Tie, c.tie)
			}
			if t.Failed() {
				t.Log(describe(v, weigh(find(c.measures()))))
			}
		})
	}
}

func describe(v Verdict, tallies [len(areas)]tally) string {
	var b strings.Builder
	for i, a := range v.Areas {
		fmt.Fprintf(&b, "\n%-10s %-8s own %.2f score %.2f  %s", a.Name, a.State, tallies[i].own, tallies[i].score, a.Why)
	}
	return b.String() + "\n" + v.Why + "\n" + v.Tie
}

// What follows from a cause is still shown as outside, and says what it goes
// with.
func TestEffectNamesItsCause(t *testing.T) {
	v := runner{set: values{"cadence": 148, "landing_distance": 26}}.judge()
	for _, a := range v.Areas {
		if a.Name == Landing && (a.State != Look || !strings.Contains(a.Why, "goes with the cadence")) {
			t.Errorf("landing is %q: %s", a.State, a.Why)
		}
	}
}

func TestAreasAlwaysSix(t *testing.T) {
	for _, c := range coachCases {
		v := c.judge()
		var names []string
		for _, a := range v.Areas {
			names = append(names, a.Name)
			if a.Why == "" || !strings.HasSuffix(a.Why, ".") {
				t.Errorf("%s: %s: why %q", c.told, a.Name, a.Why)
			}
		}
		if want := []string{Alignment, Landing, Cadence, Lean, Bounce, Symmetry}; !slices.Equal(names, want) {
			t.Errorf("%s: areas %v", c.told, names)
		}
		if v.Priority != nil && v.FilmAgain {
			t.Errorf("%s: a priority and film again", c.told)
		}
	}
}

func TestNothingMeasured(t *testing.T) {
	v := Judge(nil, nil, Context{SpeedMS: math.NaN(), HeightM: math.NaN()})
	if !v.FilmAgain || v.Priority != nil || !strings.HasPrefix(v.Why, "Film again, because") {
		t.Errorf("verdict %+v", v)
	}
	for _, a := range v.Areas {
		if a.State != Unknown {
			t.Errorf("%s is %s, want unknown", a.Name, a.State)
		}
	}
}

package judge

import (
	"math"
	"regexp"
	"strings"
	"testing"

	"plumbstride/internal/form"
)

// upright is somebody who stands within every band.
func upright(change map[string]float64, sd float64) []form.Measure {
	var out []form.Measure
	for _, r := range StandingRows() {
		v := (r.Low + r.High) / 2
		if c, ok := change[r.Measure]; ok && r.Unit != "deg" || ok && r.Measure != "head_forward" {
			v = c
		}
		out = append(out, form.With95(r.Measure, form.Both, r.Unit, v, sd*r.SD, 30))
	}
	return WithStandingBands(out, Context{SpeedMS: math.NaN(), HeightM: 1.75})
}

// A standing check has one area, and exactly one priority or none.
func TestStandingVerdict(t *testing.T) {
	ctx := Context{SpeedMS: math.NaN(), HeightM: 1.75}
	for _, c := range []struct {
		told     string
		change   map[string]float64
		sd       float64
		priority bool
		again    bool
		says     string
	}{
		{"upright", nil, 0.3, false, false, "Nothing here needs changing"},
		{"head far forward", map[string]float64{"head_forward": 13}, 0.4, true, false, "The head is carried ahead of the shoulders: 13.0 cm"},
		{"locked knee", map[string]float64{"knee_flexion_standing": -12}, 0.3, true, false, "The knee is locked back"},
		{"leaning back, weight on the heels", map[string]float64{"trunk_lean_standing": -12, "weight_over_foot": 20}, 0.4, true, false, "The trunk leans back"},
		{"shoulder low, not surely", map[string]float64{"shoulder_level": 5}, 1.3, false, false, "too unsure to tell"},
		{"nothing finely enough", nil, 2, false, true, "Take the picture again"},
	} {
		v := Standing(upright(c.change, c.sd), nil, ctx)
		if (v.Priority != nil) != c.priority || v.FilmAgain != c.again || !strings.Contains(v.Why, c.says) {
			t.Errorf("%s: %+v", c.told, v)
		}
		if len(v.Areas) != 1 || v.Areas[0].Name != Alignment {
			t.Errorf("%s: areas %+v", c.told, v.Areas)
		}
		if n := len(regexp.MustCompile(`[.!?]( |$)`).FindAllString(v.Why, -1)); n != 2 {
			t.Errorf("%s: %d sentences: %s", c.told, n, v.Why)
		}
	}
	if v := Standing(nil, []form.Refusal{{Name: "plumb_ear", Reason: "the head is cut off"}}, ctx); !v.FilmAgain || !strings.Contains(v.Areas[0].Why, "cut off") {
		t.Errorf("nothing measured: %+v", v)
	}
}

// Every standing band is a rule of thumb and says so; the warning against
// reading pain from posture is there whatever was measured.
func TestStandingRowsAndCautions(t *testing.T) {
	for _, r := range StandingRows() {
		if r.Source != unsourced || r.Area != Alignment || !(r.Low < r.High) || !(r.SD > 0) || r.Note == "" || r.Title == "" {
			t.Errorf("%+v", r)
		}
		for _, d := range []Direction{r.Below, r.Above} {
			if (d.Weight > 0) != (d.Says != "" && d.Do != "") {
				t.Errorf("%s: weight %.1f with the words %q, %q", r.Measure, d.Weight, d.Says, d.Do)
			}
		}
	}
	all := strings.Join(standingCautionTexts(), "\n")
	for _, owed := range []string{"does not tell why something hurts", "doctor or physiotherapist", "not a medical device", "Change one thing at a time", "runner's consent", "minors"} {
		if !strings.Contains(all, owed) {
			t.Errorf("cautions lack %q", owed)
		}
	}
	walk := strings.Join(textsOf(WalkingCautions()), "\n")
	for _, of := range []string{"cadence", "landing", "easy run", "Achilles", "band"} {
		if strings.Contains(all, of) {
			t.Errorf("the cautions of standing speak of %s", of)
		}
		if strings.Contains(walk, of) {
			t.Errorf("the cautions of a walk speak of %s", of)
		}
	}
	if n := len(WalkingCautions()); n != 3 {
		t.Errorf("%d cautions go with a walk, want 3", n)
	}
}

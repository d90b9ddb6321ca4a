package judge

import (
	"regexp"
	"strings"
	"testing"

	"plumbstride/internal/form"
)

// told gathers every text that a coach or a runner reads.
func told() map[string][]string {
	texts := map[string][]string{}
	for _, c := range coachCases {
		v := c.judge()
		texts["verdict"] = append(texts["verdict"], v.Why, v.Tie)
		for _, a := range v.Areas {
			texts["area"] = append(texts["area"], a.Why)
		}
	}
	for _, r := range append(Rows(), StandingRows()...) {
		for _, d := range []Direction{r.Below, r.Above} {
			texts["row"] = append(texts["row"], d.Says, d.Do)
		}
		texts["row"] = append(texts["row"], r.Title)
		texts["note"] = append(texts["note"], r.Note)
	}
	texts["caution"] = append(cautionTexts(), standingCautionTexts()...)
	for _, change := range []map[string]float64{nil, {"head_forward": 13}, {"hip_level": 4.5}} {
		for _, sd := range []float64{0.3, 1.3, 2} {
			v := Standing(upright(change, sd), nil, Context{})
			texts["verdict"] = append(texts["verdict"], v.Why, v.Tie)
			texts["area"] = append(texts["area"], v.Areas[0].Why)
		}
	}
	return texts
}

// Nothing promises what no study supports: that injuries are avoided, that
// the runner gets faster, that a value is abnormal, that 180 is right.
func TestNoOverClaiming(t *testing.T) {
	claims := regexp.MustCompile(`(?i)prevent|avoid(s|ing)? injur|injury[- ]free|fewer injur|safer?\b|guarantee|\bcure|heal(s|ing)?\b|abnormal|\bnormal\b|\bwrong form|correct form|\bmust\b|optimal|more efficient|faster|perfect|\bideal|diagnos(e|ed)\b|efficien`)
	for kind, list := range told() {
		for _, text := range list {
			if found := claims.FindString(text); found != "" {
				t.Errorf("%s claims too much (%q): %s", kind, found, text)
			}
			if kind != "note" && strings.Contains(text, "180") {
				t.Errorf("%s holds up 180: %s", kind, text)
			}
		}
	}
}

// What coach and runner read is free of the laboratory's words, and no
// sentence of it is longer than 45 words.
func TestPlainWords(t *testing.T) {
	jargon := regexp.MustCompile(`(?i)sagittal|kinematic|centre of mass|flexion|oscillation|standard|deviation|percentile|probabilit|confidence|\bSD\b|dorsi|plantar|tibia|biomechan|uncertainty|parameter|_`)
	for kind, list := range told() {
		if kind == "note" {
			continue
		}
		for _, text := range list {
			if found := jargon.FindString(text); found != "" {
				t.Errorf("%s uses %q: %s", kind, found, text)
			}
			for sentence := range strings.SplitSeq(text, ". ") {
				if words := len(strings.Fields(sentence)); words > 45 {
					t.Errorf("%s: a sentence of %d words: %s", kind, words, sentence)
				}
			}
		}
	}
}

// The verdict's reason is two sentences.
func TestTwoSentences(t *testing.T) {
	end := regexp.MustCompile(`[.!?]( |$)`)
	for _, c := range coachCases {
		why := c.judge().Why
		if n := len(end.FindAllString(why, -1)); n != 2 {
			t.Errorf("%s: %d sentences: %s", c.told, n, why)
		}
	}
}

// Each warning the tool owes is there, whatever the verdict.
func TestCautionsAlwaysThere(t *testing.T) {
	owed := []string{
		"Pain means stop", "Change one thing at a time, and slowly", "calf, the Achilles tendon and the forefoot",
		"doctor or physiotherapist", "not a medical device", "runner's consent", "privacy law", "minors",
	}
	for _, c := range coachCases {
		all := strings.Join(c.judge().Cautions, "\n")
		for _, o := range owed {
			if !strings.Contains(all, o) {
				t.Errorf("%s: cautions lack %q", c.told, o)
			}
		}
	}
	for _, c := range Cautions() {
		if c.Source == "" {
			t.Errorf("no source: %s", c.Text)
		}
	}
}

func TestNumbers(t *testing.T) {
	cadence, _ := Find("cadence")
	lean, _ := Find("trunk_lean")
	for _, c := range []struct{ got, want string }{
		{cadence.number(151.6, "steps/min"), "152 steps/min"},
		{lean.number(-6.04, "deg"), "−6.0 degrees"},
		{lean.number(-0.01, "deg"), "0.0 degrees"},
		{lean.ends(form.Band{Low: 0.2, High: 14.4}), "of 0.2 to 14.4"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}

func BenchmarkJudge(b *testing.B) {
	r := runner{set: values{"cadence": 148, "landing_distance": 26}}
	measures, ctx := r.measures(), r.context()
	for b.Loop() {
		Judge(measures, nil, ctx)
	}
}

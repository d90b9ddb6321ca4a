package cli

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"plumbstride/internal/plan"
	"plumbstride/internal/tempo"
)

// The tracks of a plan are its beats: as long as the practised part, on for
// the share that the plan says (worked out again here from the parts of the
// track), at the cadence of the step, and never more than 5 % from the one
// before.
func TestTemposOfAPlan(t *testing.T) {
	p := slowPlan(t)
	runs, err := tempos(p)
	if err != nil {
		t.Fatal(err)
	}
	at := map[[2]int]planned{}
	for _, r := range runs {
		at[[2]int{r.week, r.session}] = r
	}
	for i, w := range p.Weeks {
		for k, s := range w.Sessions {
			run, ok := at[[2]int{i + 1, k + 1}]
			if ok != (s.Tempo != nil) {
				t.Fatalf("week %d, run %d: a track %v, a beat %v", i+1, k+1, ok, s.Tempo != nil)
			}
			if !ok || run.silent {
				continue
			}
			made, err := run.track()
			if err != nil {
				t.Fatal(err)
			}
			var on, all int64
			for _, part := range made.Parts {
				if part.Kind == tempo.Steps {
					on += part.MS
					if int(part.From) != 1000*s.Tempo.StepsPerMin || part.From != part.To {
						t.Errorf("week %d, run %d: a part at %s, want %d", i+1, k+1, part.From, s.Tempo.StepsPerMin)
					}
				}
			}
			// Signals of start and end, and the count-in, come on top.
			all = int64(s.PracticeMin) * 60_000
			if extra := made.LengthMS() - all; extra < 0 || extra > 12_000 {
				t.Errorf("week %d, run %d: %d ms for %d minutes", i+1, k+1, made.LengthMS(), s.PracticeMin)
			}
			want := wantOn(all, int64(s.Tempo.OnS)*1000, int64(s.Tempo.OffS)*1000)
			if d := on - want; d < -1 || d > 1 {
				t.Errorf("week %d, run %d: on for %d ms, want %d", i+1, k+1, on, want)
			}
		}
	}
	if last := runs[len(runs)-1]; !last.silent {
		t.Error("the last practice has a beat")
	}
}

// wantOn is how long turns of on and off, from the start, are on within a
// length; a rest of under ten seconds belongs to the turn before it.
func wantOn(length, on, off int64) int64 {
	if off == 0 {
		return length
	}
	total := int64(0)
	for at, sounding := int64(0), true; at < length; sounding = !sounding {
		turn := off
		if sounding {
			turn = on
		}
		if length-at-turn < 10_000 {
			turn = length - at
		}
		if sounding {
			total += turn
		}
		at += turn
	}
	return total
}

// A step of a plan rises from the one before it, the first from the runner's
// own: no step of a plan needs --larger-steps.
func TestEveryPlanHasItsTracks(t *testing.T) {
	catalogue, err := catalogueWith("")
	if err != nil {
		t.Fatal(err)
	}
	start, err := plan.ParseDate("2026-03-02")
	if err != nil {
		t.Fatal(err)
	}
	for cadence := 120.0; cadence < 163; cadence += 0.37 {
		p, err := plan.Make(plan.Ask{
			Area: "cadence", UsualWeekMin: 120, RunsPerWeek: 4, Weeks: 8, Start: start, Health: plan.Health{Asked: true},
			Cadence: &plan.Cadence{StepsPerMin: cadence, SD: 0.3, SpeedMS: 2.8, Low: 165, High: 187},
		}, catalogue)
		if err != nil {
			t.Fatal(err)
		}
		runs, err := tempos(p)
		if err != nil {
			t.Fatal(err)
		}
		for _, r := range runs {
			if _, err := r.track(); err != nil {
				t.Errorf("from %.2f: %v", cadence, err)
			}
		}
	}
}

func FuzzParsePlan(f *testing.F) {
	f.Add([]byte(`{"ask":{"area":"cadence"},"weeks":[{"sessions":[{"tempo":{"steps_per_min":170,"share_pct":50,"on_s":1,"off_s":-1},"practice_min":99999999}]}],"cadence_steps":[{}]}`))
	f.Add([]byte(`{"ask":{"area":"x","cadence":{"steps_per_min":1e300}},"weeks":[{}],"cadence_steps":[{"steps_per_min":1}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		p, err := parsePlan(data)
		if err != nil {
			return
		}
		runs, err := tempos(p)
		if err != nil {
			return
		}
		for _, r := range runs {
			if made, err := r.track(); err == nil {
				if err := made.Valid(); err != nil {
					t.Error(err)
				}
			}
		}
	})
}

// What plan --json prints is read back as the same plan.
func TestParsePlan(t *testing.T) {
	p := slowPlan(t)
	object, err := indented(p)
	if err != nil {
		t.Fatal(err)
	}
	back, err := parsePlan(object)
	if err != nil {
		t.Fatal(err)
	}
	again, err := indented(back)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(object), string(again)); diff != "" {
		t.Error(diff)
	}
	for _, bad := range []string{"", "{}", "[]", "null", `{"weeks":[]}`, `{"weeks":[{}]}`} {
		if _, err := parsePlan([]byte(bad)); err == nil {
			t.Errorf("%q was taken for a plan", bad)
		}
	}
}

package practice

import (
	"fmt"
	"math"
	"slices"
	"time"

	"gonum.org/v1/gonum/stat"

	"plumbstride/internal/form"
	"plumbstride/internal/judge"
)

// Target is the cadence that is practised, and how far off it still counts.
type Target struct {
	CadenceSPM float64 `json:"cadence_spm"`
	// Within is a share of it: 0.025 = 2.5 %.
	Within float64 `json:"within"`
	Low    float64 `json:"low_spm"`
	High   float64 `json:"high_spm"`
}

// UsualWithin is how far off a target counts unless stated: half of the
// largest step by which a plan raises cadence, 5 % (common practice, no
// source).
const UsualWithin = 0.025

// NewTarget gives the band around a cadence in steps a minute. What nobody
// runs is a form.Error.
func NewTarget(spm, within float64) (Target, error) {
	if !(spm >= 120 && spm <= 240) {
		return Target{}, form.UsageError("a target is between 120 and 240 steps a minute, both feet counted, and %g is not", spm)
	}
	if !(within >= 0.005 && within <= 0.15) {
		return Target{}, form.UsageError("the band around a target is between 0.5 %% and 15 %% of it to either side")
	}
	return Target{spm, within, round(spm*(1-within), 10), round(spm*(1+within), 10)}, nil
}

// in gives for how many seconds a run was in the band.
func (t Target) in(r Run) float64 {
	s := 0.0
	for _, share := range r.Spread {
		if c := float64(share.CadenceSPM); c >= t.Low && c <= t.High {
			s += share.Seconds
		}
	}
	return s
}

// Report is what the runs show. Cadences are steps a minute, speeds m/s.
type Report struct {
	// Target is the last run's; nil where there is none.
	Target *Target `json:"target" jsonschema:"nullable"`
	// Baseline is the runner's own: nil where there is no half minute of
	// steady running with a speed.
	Baseline *Baseline `json:"baseline" jsonschema:"nullable"`
	Runs     []Line    `json:"runs"`
	Weeks    []Week    `json:"weeks"`
	Trend    Trend     `json:"trend"`
	Cautions []string  `json:"cautions"`
}

// Baseline is how the runner's cadence goes with their speed and the grade.
type Baseline struct {
	// SpeedMPS is the runner's median speed, to which all is brought.
	SpeedMPS float64  `json:"speed_mps"`
	Cadence  Interval `json:"cadence_spm"`
	// PerMPS is what 1 m/s more adds at the same grade, PerGrade what one per
	// cent uphill adds at the same speed.
	PerMPS   Interval `json:"per_mps"`
	PerGrade Interval `json:"per_percent_grade"`
	// DaySD is by how much runs differ at equal speed and grade.
	DaySD   float64 `json:"day_to_day_sd_spm"`
	Runs    int     `json:"runs"`
	Samples int     `json:"half_minutes"`
}

// Line is one run in the report.
type Line struct {
	Run
	// InBandS is for how long the cadence was in the target's band.
	InBandS float64 `json:"in_band_s"`
	// Target is what was practised on that day; nil where there was none.
	Target *Target `json:"target" jsonschema:"nullable"`
	// AtSpeed is the run's cadence at the baseline's speed on the level; nil
	// where it can't be told.
	AtSpeed *Interval `json:"cadence_at_speed_spm" jsonschema:"nullable"`
}

// Week is one week, from Monday (UTC), as ISO 8601 counts them.
type Week struct {
	Monday   time.Time `json:"monday"`
	Runs     int       `json:"runs"`
	RunningS float64   `json:"running_s"`
	InBandS  float64   `json:"in_band_s"`
	TempoMin float64   `json:"tempo_min"`
	// Target is the one of the week's last run; nil where there is none.
	Target *Target `json:"target" jsonschema:"nullable"`
	// AtSpeed is the cadence at the baseline's speed on the level; nil where
	// it can't be told.
	AtSpeed *Interval `json:"cadence_at_speed_spm" jsonschema:"nullable"`
	// Speed and cadence as they were run, medians over the week's running.
	SpeedMPS   float64 `json:"speed_mps"`
	CadenceSPM float64 `json:"cadence_spm"`
}

// Trend is whether cadence changed from the first run to the last.
type Trend struct {
	Verdict Verdict `json:"verdict"`
	// Change is at equal speed and grade; nil with too few runs.
	Change *Interval `json:"change_spm" jsonschema:"nullable"`
	// Raw is how the cadence as it was run changed, and Speed how the pace
	// did, by a straight line through the runs: they say nothing alone.
	Raw   float64 `json:"raw_change_spm"`
	Speed float64 `json:"speed_change_mps"`
	Days  float64 `json:"days"`
	Why   string  `json:"why"`
}

// Always is one target for all days; nil is none.
func Always(t *Target) func(time.Time) *Target { return func(time.Time) *Target { return t } }

// Over gives the report of a runner's runs. target tells what was practised
// on a day; nil is nothing. Walks are left out; of runs that are the Same the
// first is taken. The order of runs does not matter.
func Over(runs []Run, target func(day time.Time) *Target) Report {
	rep := Report{Runs: []Line{}, Weeks: []Week{}, Cautions: Cautions()}
	if target == nil {
		target = Always(nil)
	}
	kept := Distinct(runs)
	if len(kept) == 0 {
		rep.Trend = Trend{Verdict: TooFew, Why: "There is no run yet."}
		return rep
	}
	s := within(kept)
	days := make([]float64, 0, len(s.runs))
	for _, l := range s.runs {
		days = append(days, kept[l.run].Start.Sub(kept[0].Start).Hours()/24)
	}
	speed := usualSpeed(kept)
	b := compare(s, speed, days)
	place := map[int]int{} // from a run to its level
	all := make([]int, len(s.runs))
	for i, l := range s.runs {
		place[l.run], all[i] = i, i
	}
	if len(s.runs) > 0 {
		rep.Baseline = baseline(s, b, all)
	}
	for i, r := range kept {
		line := Line{Run: r, Target: target(r.Start)}
		if line.Target != nil {
			line.InBandS = round(line.Target.in(r), 10)
		}
		rep.Target = line.Target
		if k, ok := place[i]; ok {
			at := b.at(s, []int{k})
			line.AtSpeed = &at
		}
		rep.Runs = append(rep.Runs, line)
	}
	rep.Weeks = weeks(rep.Runs, place, s, b)
	rep.Trend = trend(s, b, days)
	return rep
}

// Distinct gives the runs without walks and without a second file of the same
// run, the earliest first.
func Distinct(runs []Run) []Run {
	sorted := slices.Clone(runs)
	slices.SortStableFunc(sorted, func(a, b Run) int { return a.Start.Compare(b.Start) })
	var kept []Run
	for _, r := range sorted {
		if r.Kind == Running && !slices.ContainsFunc(kept, func(k Run) bool { return Same(k, r) }) {
			kept = append(kept, r)
		}
	}
	return kept
}

// usualSpeed is the median speed over all half minutes, m/s.
func usualSpeed(runs []Run) float64 {
	var all []weighted
	for _, r := range runs {
		for _, o := range r.Samples {
			all = append(all, weighted{o.SpeedMPS, 1})
		}
	}
	if m := median(all, 0); known(m) {
		return round(m, 100)
	}
	return 0
}

func baseline(s slopes, b between, all []int) *Baseline {
	out := &Baseline{
		SpeedMPS: b.speed, Cadence: b.at(s, all), PerMPS: with95(s.speed, s.speedSD, s.freedom),
		PerGrade: with95(s.grade/100, s.gradeSD/100, s.freedom), DaySD: b.daySD, Runs: len(all),
	}
	for _, l := range s.runs {
		out.Samples += l.n
	}
	return out
}

// monday is the first moment of the week, UTC.
func monday(t time.Time) time.Time {
	day := t.UTC().Truncate(24 * time.Hour)
	return day.AddDate(0, 0, -(int(day.Weekday())+6)%7)
}

func weeks(lines []Line, place map[int]int, s slopes, b between) []Week {
	var out []Week
	levels, cad, mps := map[time.Time][]int{}, map[time.Time][]weighted{}, map[time.Time][]weighted{}
	for i, l := range lines {
		m := monday(l.Start)
		if len(out) == 0 || !out[len(out)-1].Monday.Equal(m) {
			out = append(out, Week{Monday: m})
		}
		w := &out[len(out)-1]
		w.Runs, w.Target = w.Runs+1, l.Target
		w.RunningS, w.InBandS, w.TempoMin = w.RunningS+l.RunningS, w.InBandS+l.InBandS, w.TempoMin+l.TempoMin
		if k, ok := place[i]; ok {
			levels[m] = append(levels[m], k)
		}
		if l.RunningCadence > 0 {
			cad[m] = append(cad[m], weighted{l.RunningCadence, l.RunningS})
		}
		if l.SpeedMPS > 0 {
			mps[m] = append(mps[m], weighted{l.SpeedMPS, l.RunningS})
		}
	}
	for i := range out {
		w := &out[i]
		if k := levels[w.Monday]; len(k) > 0 {
			at := b.at(s, k)
			w.AtSpeed = &at
		}
		if v := median(cad[w.Monday], 0); known(v) {
			w.CadenceSPM = v
		}
		if v := median(mps[w.Monday], 0); known(v) {
			w.SpeedMPS = v
		}
	}
	return out
}

// trend says what changed. Cadence as it was run never decides: it rises with
// the pace.
func trend(s slopes, b between, days []float64) Trend {
	t := Trend{Verdict: TooFew}
	if len(days) > 1 {
		t.Days = days[len(days)-1] - days[0]
		t.Raw, t.Speed = rise(s, days)
	}
	if !b.enough {
		t.Why = fmt.Sprintf("A change is told from %d runs with steady running and a speed, over %.0f days or more; so far: %d, over %.0f days.", leastRuns, leastDays, len(days), t.Days)
		return t
	}
	change := b.change
	t.Change = &change
	figure := fmt.Sprintf("%s steps/min (%s to %s)", signed(change.Value), signed(change.Low), signed(change.High))
	switch {
	case change.Low > 0:
		t.Verdict = Rose
		t.Why = fmt.Sprintf("At equal speed and grade cadence rose over these runs: %s.", figure)
	case change.High < 0:
		t.Verdict = Fell
		t.Why = fmt.Sprintf("At equal speed and grade cadence fell over these runs: %s.", figure)
	default:
		t.Verdict = NoChange
		t.Why = fmt.Sprintf("At equal speed and grade no change of cadence is seen: %s.", figure)
	}
	if paced := s.speed * t.Speed; math.Abs(t.Raw) >= 1 && math.Abs(paced) >= math.Abs(t.Raw)/2 && paced*t.Raw > 0 {
		t.Why += fmt.Sprintf(" The cadence as it was run changed by %s steps/min; the pace changed too, and alone makes about %s of it.", signed(t.Raw), signed(paced))
	}
	return t
}

// signed writes a difference.
func signed(v float64) string { return form.Signed(v, 1) }

// rise is by how much cadence and speed as they were run changed from the
// first day to the last, by a straight line through the runs.
func rise(s slopes, days []float64) (cadence, speed float64) {
	spm, mps := make([]float64, len(days)), make([]float64, len(days))
	for i, l := range s.runs {
		spm[i], mps[i] = l.cadence, l.mps
	}
	span := days[len(days)-1] - days[0]
	if span == 0 {
		return 0, 0
	}
	_, cadence = stat.LinearRegression(days, spm, nil, false)
	_, speed = stat.LinearRegression(days, mps, nil, false)
	return cadence * span, speed * span
}

// Cautions are what stands beside every report.
func Cautions() []string {
	var out []string
	for _, c := range judge.PracticeCautions() {
		out = append(out, c.Text)
	}
	return append(out, "A watch at the wrist counts steps by the arm; where the arm holds something, its cadence can be wrong.")
}

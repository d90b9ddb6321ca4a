package practice_test

import (
	"math"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"plumbstride/internal/practice"
	"plumbstride/internal/standin"
)

// The cost of running on slopes as worked out from the polynomial of Minetti
// and others 2002 (doi 10.1152/japplphysiol.01177.2001), J/(kg·m), and what
// the paper measured: 3.40 ± 0.24 on the level, 1.73 ± 0.36 at −0.20, 18.93 ±
// 1.74 at +0.45, 3.92 ± 0.81 at −0.45 (from memory), within two of its spreads.
func TestCostOfSlopes(t *testing.T) {
	for _, tt := range []struct{ slope, want float64 }{
		{-0.45, 4.0323}, {-0.30, 2.4622}, {-0.20, 1.8000}, {-0.15, 1.8357}, {-0.10, 2.1517}, {-0.05, 2.7459}, {-0.02, 3.2289}, {0, 3.6000},
		{0.01, 3.7996}, {0.02, 4.0082}, {0.05, 4.6852}, {0.10, 5.9682}, {0.15, 7.4170}, {0.20, 9.0067}, {0.30, 12.5793}, {0.45, 19.4260},
	} {
		if got := practice.Cost(tt.slope); math.Abs(got-tt.want) > 0.0001 {
			t.Errorf("C(%g) = %.4f, want %.4f", tt.slope, got, tt.want)
		}
	}
	for _, tt := range []struct{ slope, mean, sd float64 }{{0, 3.40, 0.24}, {-0.20, 1.73, 0.36}, {0.45, 18.93, 1.74}, {-0.45, 3.92, 0.81}} {
		if got := practice.Cost(tt.slope); math.Abs(got-tt.mean) > 2*tt.sd {
			t.Errorf("C(%g) = %.2f, measured %.2f ± %.2f", tt.slope, got, tt.mean, tt.sd)
		}
	}
	if got := practice.LevelSpeed(2.5, 0.05); math.Abs(got-2.5*1.3014) > 0.001 {
		t.Errorf("2.5 m/s at 5 %% is as %.3f m/s on the level, want %.3f", got, 2.5*1.3014)
	}
	if practice.Cost(0.9) != practice.Cost(0.45) || practice.Cost(-0.9) != practice.Cost(-0.45) {
		t.Error("beyond ±0.45 nothing was measured, and the cost goes on")
	}
}

// Runners as published are found to be as published: cadence at equal speed,
// and what 1 m/s adds.
func TestPublishedTrendsOfCadenceWithSpeed(t *testing.T) {
	for _, tt := range []struct {
		source          string
		at, cadence     float64
		per             float64
		speeds          [2]float64
		withinCad, with float64
	}{
		// 154, 158, 160 steps/min at 2.4, 2.6, 2.9 m/s: 11.6 for 1 m/s by least squares.
		{"van Oeveren and others 2017, doi 10.1371/journal.pone.0184273", 2.63, 157.3, 11.6, [2]float64{2.5, 2.8}, 1.5, 1.5},
		// +5.6 steps/min for 1 m/s; mean 182.0.
		{"Burns, Zendler and Zernicke 2019, doi 10.1152/japplphysiol.00374.2018", 3.3, 182, 5.6, [2]float64{3.1, 3.5}, 1.5, 1.5},
		// 165 steps/min at 3.04 m/s; +3 for +15 % of the speed.
		{"Eur J Sport Sci 2020 20:182-190, doi 10.1080/17461391.2019.1626911", 3.04, 165, 3 / (0.15 * 3.04), [2]float64{2.9, 3.2}, 1.5, 1.5},
	} {
		r := runner{runs: 12, samples: 60, everyDays: 3, mps: tt.speeds, mpsSD: 0.1, within: 0.25, noise: 0.03, hills: 0.01, daySD: 0.5,
			perMPS: tt.per, cadence: tt.cadence + tt.per*(3-tt.at)}
		rep := practice.Over(r.kept(rand.New(rand.NewPCG(5, 5))), nil)
		b := rep.Baseline
		at := b.Cadence.Value + b.PerMPS.Value*(tt.at-b.SpeedMPS)
		if math.Abs(at-tt.cadence) > tt.withinCad || math.Abs(b.PerMPS.Value-tt.per) > tt.with {
			t.Errorf("%s: %.1f steps/min at %.2f m/s and %.1f for 1 m/s, want %.1f and %.1f", tt.source, at, tt.at, b.PerMPS.Value, tt.cadence, tt.per)
		}
		if rep.Trend.Verdict != practice.NoChange || rep.Trend.Raw < tt.per*0.15 {
			t.Errorf("%s: %+v", tt.source, rep.Trend)
		}
	}
}

// Second by second, through the whole line: a pace that rises makes no rise,
// and both are said; a true rise of 5 % is one.
func TestWholeLine(t *testing.T) {
	over := func(change func(*standin.Course)) practice.Report {
		c := standin.NewCourse(monday)
		c.Minutes, c.Runs, c.EveryDays = 18, 12, 3.4
		change(&c)
		var runs []practice.Run
		for _, a := range c.Activities(rand.New(rand.NewPCG(2, 7))) {
			runs = append(runs, take(t, a, practice.Options{TempoMin: 10}))
		}
		return practice.Over(runs, nil)
	}
	paced := over(func(c *standin.Course) { c.SpeedMPS = [2]float64{2.6, 3.3} })
	if paced.Trend.Verdict != practice.NoChange || paced.Trend.Raw < 3 || !strings.Contains(paced.Trend.Why, "the pace changed too") {
		t.Errorf("%+v", paced.Trend)
	}
	if b := paced.Baseline; math.Abs(b.PerMPS.Value-7) > 2.5 {
		t.Errorf("%+v", b)
	}
	rose := over(func(c *standin.Course) { c.Rise = 8 })
	if rose.Trend.Verdict != practice.Rose || rose.Trend.Change.Low > 8 || rose.Trend.Change.High < 8 {
		t.Errorf("%+v", rose.Trend)
	}
	tempo, ran := 0.0, 0
	for i, w := range rose.Weeks {
		tempo, ran = tempo+w.TempoMin, ran+w.Runs
		if w.Monday.Weekday() != time.Monday || w.AtSpeed == nil || i > 0 && !w.Monday.After(rose.Weeks[i-1].Monday) {
			t.Errorf("week %d: %+v", i, w)
		}
	}
	if tempo != 120 || ran != 12 {
		t.Errorf("%g minutes with tempo in %d runs", tempo, ran)
	}
}

// The time in the band is counted from every moment of running: by hand, of a
// run at 164, 168 and 180 steps/min.
func TestTimeInBand(t *testing.T) {
	target, err := practice.NewTarget(168, practice.UsualWithin)
	if err != nil || target.Low != 163.8 || target.High != 172.2 {
		t.Fatalf("%+v %v", target, err)
	}
	a := practice.Activity{Format: practice.FIT, Sport: "running", Start: monday}
	for s := range 600 {
		strides := 82.0
		if s >= 100 {
			strides = 84
		}
		if s >= 300 {
			strides = 90
		}
		a.Points = append(a.Points, practice.Point{AtS: float64(s), HoldS: 1, Cadence: strides, SpeedMPS: 2.8, AltitudeM: math.NaN()})
	}
	rep := practice.Over([]practice.Run{take(t, a, practice.Options{})}, practice.Always(&target))
	if rep.Runs[0].InBandS != 300 || rep.Weeks[0].InBandS != 300 || rep.Weeks[0].RunningS != 600 {
		t.Errorf("%+v", rep.Weeks[0])
	}
	for _, bad := range [][2]float64{{0, 0.025}, {300, 0.025}, {168, 0}, {168, 0.5}, {math.NaN(), 0.025}, {168, math.NaN()}} {
		if _, err := practice.NewTarget(bad[0], bad[1]); err == nil {
			t.Errorf("%v is taken", bad)
		}
	}
}

// Weeks begin on Monday: ISO 8601.
func TestWeekOfSunday(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	r := runner{runs: 2, samples: 30, everyDays: 6, mps: [2]float64{2.8, 2.8}, cadence: 165, perMPS: 6, within: 0.2}
	rep := practice.Over(r.kept(rng), nil) // Monday and Sunday of one week
	if len(rep.Weeks) != 1 || rep.Weeks[0].Runs != 2 || !rep.Weeks[0].Monday.Equal(monday.Truncate(24*time.Hour)) {
		t.Errorf("%+v", rep.Weeks)
	}
}

func TestNothingYet(t *testing.T) {
	walk := practice.Run{Kind: practice.Walking, Start: monday, LengthS: 600}
	for _, runs := range [][]practice.Run{nil, {walk}} {
		rep := practice.Over(runs, nil)
		if rep.Trend.Verdict != practice.TooFew || rep.Baseline != nil || len(rep.Weeks) != 0 || len(rep.Cautions) < 5 {
			t.Errorf("%+v", rep)
		}
	}
}

// Properties that hold for anyone: the order of the files does not matter, a
// file given twice changes nothing, a cadence that is shifted shifts the
// answer, and twice the days are the same change.
func TestOverProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		rng := rand.New(rand.NewPCG(rapid.Uint64().Draw(t, "seed"), 1))
		runs := anyone(rng).kept(rng)
		want := practice.Over(runs, nil)
		near := func(what string, got practice.Report, by float64) {
			a, b := want.Trend.Change, got.Trend.Change
			if got.Trend.Verdict != want.Trend.Verdict || math.Abs(a.Value-b.Value) > 1e-6 || math.Abs(a.SD-b.SD) > 1e-6 ||
				math.Abs(got.Baseline.Cadence.Value-want.Baseline.Cadence.Value-by) > 1e-6 {
				t.Fatalf("%s: %+v, %+v", what, a, b)
			}
		}
		shuffled := append([]practice.Run{runs[0]}, runs...)
		rng.Shuffle(len(shuffled), func(i, j int) { shuffled[i], shuffled[j] = shuffled[j], shuffled[i] })
		near("shuffled, and one twice", practice.Over(shuffled, nil), 0)
		shifted := make([]practice.Run, len(runs))
		for i, r := range runs {
			r.Samples = append([]practice.Sample(nil), r.Samples...)
			for k := range r.Samples {
				r.Samples[k].CadenceSPM += 7
			}
			shifted[i] = r
		}
		near("7 steps/min more", practice.Over(shifted, nil), 7)
		slower := make([]practice.Run, len(runs))
		for i, r := range runs {
			r.Start = monday.Add(2 * r.Start.Sub(monday))
			slower[i] = r
		}
		near("twice the days", practice.Over(slower, nil), 0)
	})
}

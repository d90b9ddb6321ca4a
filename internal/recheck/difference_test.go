package recheck

import (
	"math"
	"math/rand/v2"
	"testing"

	"pgregory.net/rapid"

	"plumbstride/internal/accelerometry"
	"plumbstride/internal/card"
	"plumbstride/internal/measure"
)

func near(t *testing.T, what string, got, want, by float64) {
	t.Helper()
	if !(math.Abs(got-want) <= by) {
		t.Errorf("%s: %.4f, want %.4f", what, got, want)
	}
}

// The smallest detectable change of a published SEM, SEM 1 → 2.772 and
// SEM 2.5 → 6.930 (arithmetic of 1.96·√2·SEM); the typical error of 2.5° of
// foot strike outdoors gives 6.9° (University of Waikato, 155 videos).
func TestSmallestChange(t *testing.T) {
	for sem, want := range map[float64]float64{1: 2.772, 2.5: 6.930, 1.581: 4.383, 1.342: 3.719} {
		near(t, "of two alike checks", Between(Reading{SD: sem}, Reading{SD: sem}, 0, 0).MDC95(), want, 0.002)
		near(t, "of the runner alone", Between(Reading{}, Reading{}, 0, sem).MDC95(), want, 0.002)
	}
}

// Parts by hand: own 3 and 4, lasting 5 in both. Wholly the same, the lasting
// parts fall out and 5 is left; wholly different, √(9+16+25+25) = 8.660; half
// the same, √(25+50−25) = 7.071 (propagation of uncertainty, JCGM 100:2008,
// 5.2.2).
func TestBetween(t *testing.T) {
	before, after := Reading{10, math.Sqrt(9 + 25), 5}, Reading{13, math.Sqrt(16 + 25), 5}
	for returns, want := range map[float64]float64{1: 5, 0: 8.660, 0.5: 7.071} {
		d := Between(before, after, returns, 0)
		near(t, "value", d.Value, 3, 1e-12)
		near(t, "sd", d.SD, want, 0.001)
	}
	d := Between(before, after, 1, 2) // and √(25 + 2·4) = 5.745
	near(t, "with days", d.SD, 5.745, 0.001)
	// Two-sided normal: 1.96 → 0.05, 2.576 → 0.01 (tables).
	near(t, "p", Difference{1.96, 1}.P(), 0.05, 0.0001)
	near(t, "p", Difference{-2.576, 1}.P(), 0.01, 0.0001)
	if (Difference{1.95, 1}).Changed() || !(Difference{-1.97, 1}).Changed() || (Difference{1, 0}).Changed() {
		t.Error("a change is told from 1.96 sd on, and never without an uncertainty")
	}
}

func TestBetweenProperties(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		one := func(name string) Reading {
			sd := rapid.Float64Range(0.01, 20).Draw(t, name+" sd")
			return Reading{rapid.Float64Range(-50, 200).Draw(t, name), sd, sd * rapid.Float64Range(0, 1).Draw(t, name+" lasting")}
		}
		a, b := one("a"), one("b")
		returns, day := rapid.Float64Range(0, 1).Draw(t, "returns"), rapid.Float64Range(0, 5).Draw(t, "day")
		d, back := Between(a, b, returns, day), Between(b, a, returns, day)
		if d.Value != -back.Value || math.Abs(d.SD-back.SD) > 1e-9 {
			t.Fatalf("there %v and back %v", d, back)
		}
		if none := Between(a, b, 0, day); d.SD > none.SD+1e-9 {
			t.Fatalf("what returns makes the difference less sure: %v against %v", d, none)
		}
		if more := Between(a, b, returns, day+1); more.SD <= d.SD {
			t.Fatalf("days that vary more make it surer")
		}
		if math.Abs(d.SD*1.96-d.MDC95()) > 1e-9*d.SD {
			t.Fatalf("MDC95 %v of sd %v", d.MDC95(), d.SD)
		}
	})
}

// Without any change 5 % are called one, whatever the parts; and what isn't
// taken into account would show.
func TestFalseChanges(t *testing.T) {
	const n = 20000
	rng := rand.New(rand.NewPCG(5, 7))
	for _, c := range []struct{ own, lasting, day float64 }{{1, 0, 0}, {1, 3, 0.5}, {0.3, 2, 1}, {0, 1, 0}} {
		told := 0
		for range n {
			shared := rng.NormFloat64()
			look := func() Reading {
				lasting := c.lasting * (math.Sqrt(Returns)*shared + math.Sqrt(1-Returns)*rng.NormFloat64())
				return Reading{7 + c.own*rng.NormFloat64() + lasting + c.day*rng.NormFloat64(), math.Hypot(c.own, c.lasting), c.lasting}
			}
			if Between(look(), look(), Returns, c.day).Changed() {
				told++
			}
		}
		share := float64(told) / n
		if math.Abs(share-0.05) > 4*math.Sqrt(0.05*0.95/n) {
			t.Errorf("%+v: %.2f %% of no changes were called changes", c, 100*share)
		}
	}
}

// A wide interval of few steps counts: Student's t in place of 1.96.
func TestReadingOf(t *testing.T) {
	r := ReadingOf(card.Measure{Value: 5, SD: 1, Low: 5 - 3.92, High: 5 + 3.92, SDLasting: 9})
	near(t, "sd", r.SD, 2, 1e-9)
	near(t, "lasting", r.Lasting, 2, 1e-9)
	r = ReadingOf(card.Measure{Value: 0.5, SD: 1, Low: 0, High: 0.5 + 1.96})
	near(t, "cut at zero", r.SD, 1, 1e-9)
	r = ReadingOf(card.Measure{Value: 5, SD: 1, Low: math.NaN(), High: math.NaN()})
	near(t, "no interval", r.SD, 1, 1e-9)
}

// Every measure that a check can give is in the table of variation from day
// to day, with a source, or is known not to be compared.
func TestDayToDayIsWhole(t *testing.T) {
	want := map[string]bool{}
	for _, d := range append(measure.Table(), measure.StandingTable()...) {
		want[d.Name+" "+d.Unit] = true
	}
	for _, d := range accelerometry.Table() {
		want[d.Name+" "+d.Unit] = true
	}
	for _, d := range DayToDay() {
		key := d.Measure + " " + d.Unit
		if !want[key] {
			t.Errorf("%s is no measure, or twice in the table", key)
		}
		delete(want, key)
		if !(d.SEM > 0) || d.Source == "" {
			t.Errorf("%s has no size or source", key)
		}
	}
	for key := range want {
		if name := key[:len(key)-len(key[indexBlank(key):])]; !uncompared[name] {
			t.Errorf("%s is not in the table", key)
		}
	}
}

func indexBlank(s string) int {
	for i, r := range s {
		if r == ' ' {
			return i
		}
	}
	return len(s)
}

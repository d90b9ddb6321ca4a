package tempo

import (
	"fmt"
	"math/big"
	"testing"

	"pgregory.net/rapid"
)

// nearest rounds a fraction to the nearest whole number, halves upwards.
func nearest(x *big.Rat) int64 {
	x = new(big.Rat).Add(x, big.NewRat(1, 2))
	return new(big.Int).Div(x.Num(), x.Denom()).Int64() // Euclidean: floor for a positive denominator
}

// The definition itself, in fractions: click k lies at k·60/rate seconds.
func TestSteadyClicksAreExactForThreeHours(t *testing.T) {
	for _, text := range []string{"100", "166", "168", "167.5", "173.333", "180", "230"} {
		c, err := ParseCadence(text)
		if err != nil {
			t.Fatal(err)
		}
		plan := Plan{Version: Version, Parts: []Part{{Kind: Steps, MS: maxLengthMS, From: c, To: c}}}
		rate, ok := new(big.Rat).SetString(text)
		if !ok {
			t.Fatal(text)
		}
		period := new(big.Rat).Quo(big.NewRat(60*SampleRate, 1), rate) // samples
		events := plan.Events()
		for k, e := range events {
			if want := nearest(new(big.Rat).Mul(period, big.NewRat(int64(k), 1))); e.Sample != want {
				t.Fatalf("%s: click %d at sample %d, want %d", text, k, e.Sample, want)
			}
		}
		// 180 minutes hold 180·rate steps; the last instant is not part of it.
		want := new(big.Rat).Mul(rate, big.NewRat(180, 1))
		whole := new(big.Int).Div(new(big.Int).Add(want.Num(), new(big.Int).Sub(want.Denom(), big.NewInt(1))), want.Denom())
		if int64(len(events)) != whole.Int64() {
			t.Errorf("%s: %d clicks in three hours, want %v", text, len(events), whole)
		}
	}
}

// Hand computation: at 180 steps/min a step lasts 14,700 samples; at 120 it
// lasts 22,050; from 120 to 180 in a minute there are 150 steps.
func TestHandComputed(t *testing.T) {
	plan := Plan{Version: Version, Parts: []Part{
		{Kind: Steps, MS: 1000, From: 180_000, To: 180_000},
		{Kind: Steps, MS: 1000, From: 120_000, To: 120_000},
		{Kind: Steps, MS: 60_000, From: 120_000, To: 180_000},
		{Kind: Quiet, MS: 500},
		{Kind: Steps, MS: 400, From: 180_000, To: 180_000},
	}}
	var got []string
	events := plan.Events()
	for _, e := range events {
		if e.Part != 2 {
			got = append(got, fmt.Sprint(e.Sample, e.Sound))
		}
	}
	want := "[0 left 14700 right 29400 left 44100 right 66150 left 2756250 left 2770950 right]"
	if fmt.Sprint(got) != want {
		t.Errorf("got %v, want %s", got, want)
	}
	var glide []Event
	for _, e := range events {
		if e.Part == 2 {
			glide = append(glide, e)
		}
	}
	if len(glide) != 150 || glide[0].Sample != 88200 || glide[0].Sound != Right {
		t.Errorf("the glide has %d steps, the first %+v; want 150, at 88200, right", len(glide), glide[0])
	}
	// The 100th step: 120t + 30t² = 100 (t in minutes) gives t = 0.7080128 min
	// (t = −2 + √(22/3)), which is 1,873,401.9 samples later.
	if got := glide[100].Sample - 88200; got != 1_873_402 {
		t.Errorf("step 100 of the glide after %d samples, want 1873402", got)
	}
}

// anyAsk draws asks of every shape that Make can't refuse for their numbers.
func anyAsk(t *rapid.T) Ask {
	own := Cadence(rapid.Int64Range(100_000, 210_000).Draw(t, "own"))
	ask := Ask{
		Own: own, Target: own + Cadence(rapid.Int64Range(1, int64(own)/20).Draw(t, "rise")),
		LengthMS: rapid.Int64Range(10*60_000, 30*60_000).Draw(t, "length"),
	}
	turn := rapid.Int64Range(minTurnMS, 200_000)
	switch rapid.SampledFrom([]Shape{Steady, StepUp, Ladder, OnOff, Fading}).Draw(t, "shape") {
	case Steady:
		ask.Pattern = Pattern{Shape: Steady}
	case StepUp:
		ask.Pattern = Pattern{Shape: StepUp, Count: rapid.IntRange(1, 6).Draw(t, "count"), GlideMS: rapid.Int64Range(0, 40_000).Draw(t, "glide")}
	case Ladder:
		ask = Ask{Pattern: Pattern{Shape: Ladder, EachMS: turn.Draw(t, "each")}}
		for c := own; c < MaxCadence && len(ask.Pattern.Rungs) < 6; c += Cadence(rapid.Int64Range(1, 9000).Draw(t, "rung")) {
			ask.Pattern.Rungs = append(ask.Pattern.Rungs, c)
		}
	case OnOff:
		ask.Pattern = Pattern{Shape: OnOff, OnMS: turn.Draw(t, "on"), OffMS: turn.Draw(t, "off")}
	case Fading:
		first := rapid.IntRange(40, 100).Draw(t, "first")
		ask.Pattern = Pattern{Shape: Fading, Count: rapid.IntRange(2, 9).Draw(t, "count"), FirstPct: first, LastPct: rapid.IntRange(0, first-1).Draw(t, "last")}
	}
	return ask
}

func anyPlan(t *rapid.T) Plan {
	plan, err := Make(anyAsk(t))
	if err != nil {
		t.Fatal(err)
	}
	return plan
}

// Every event of every pattern lies within half a sample of where the
// integral of the cadence, in fractions, says.
func TestEventsFollowTheCadence(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		plan := anyPlan(t)
		starts := make([]int64, len(plan.Parts))
		for i := range plan.Parts[1:] {
			starts[i+1] = starts[i] + plan.Parts[i].MS
		}
		phases := beat(plan)
		steps := map[int]int64{}
		last := int64(-1)
		for _, e := range plan.Events() {
			if e.Sample <= last {
				t.Fatalf("event at %d behind one at %d", e.Sample, last)
			}
			last = e.Sample
			part := plan.Parts[e.Part]
			if !part.steps() {
				continue
			}
			k, seen := steps[e.Part]
			if !seen {
				k = nearest(new(big.Rat).Add(phases[e.Part], big.NewRat(499_999_999_999, 1_000_000_000_000))) // next whole
			}
			steps[e.Part] = k + 1
			before, after := phaseAt(part, starts[e.Part], 2*e.Sample-1), phaseAt(part, starts[e.Part], 2*e.Sample+1)
			want := new(big.Rat).Sub(big.NewRat(k, 1), phases[e.Part])
			if before.Cmp(want) > 0 || after.Cmp(want) <= 0 {
				t.Fatalf("part %d %+v: step %d at sample %d; the beat there goes from %v to %v, want %v", e.Part, part, k, e.Sample, before, after, want)
			}
			if left := e.Sound == Left || e.Sound == CountLeft; left != (k%2 == 0) {
				t.Fatalf("step %d sounds as %v", k, e.Sound)
			}
		}
	})
}

// beat is how many steps the beat has made at each part's start.
func beat(plan Plan) []*big.Rat {
	out := make([]*big.Rat, len(plan.Parts))
	now, on := new(big.Rat), false
	for i, p := range plan.Parts {
		sounds := p.Kind == Steps || p.Kind == CountIn
		if sounds && !on {
			now = new(big.Rat)
		}
		out[i] = now
		if sounds { // mean cadence times length
			now = new(big.Rat).Add(now, big.NewRat(int64(p.From+p.To)*p.MS, 2*60_000_000))
		}
		on = sounds
	}
	return out
}

// phaseAt is how many steps a part has made at a time in half samples from
// the track's start.
func phaseAt(p Part, startMS, halves int64) *big.Rat {
	minutes := new(big.Rat).Sub(big.NewRat(halves, 2*SampleRate*60), big.NewRat(startMS, 60_000))
	length := big.NewRat(p.MS, 60_000)
	slope := new(big.Rat).Quo(big.NewRat(int64(p.To-p.From), 1000), length)
	out := new(big.Rat).Mul(minutes, big.NewRat(int64(p.From), 1000))
	return out.Add(out, slope.Mul(slope, minutes).Mul(slope, minutes).Quo(slope, big.NewRat(2, 1)))
}

// Within a beat, one step follows the other in the time of its cadence, left
// and right in turns, whatever the parts; glides move one way only.
func TestStepsAreEven(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		plan := anyPlan(t)
		events := plan.Events()
		for i := range events[1:] {
			a, b := events[i], events[i+1]
			pa, pb := plan.Parts[a.Part], plan.Parts[b.Part]
			if b.Part-a.Part > 1 || !pa.steps() || !pb.steps() {
				continue
			}
			low := 60_000 * float64(SampleRate) / float64(max(pa.From, pa.To, pb.From, pb.To))
			high := 60_000 * float64(SampleRate) / float64(min(pa.From, pa.To, pb.From, pb.To))
			if d := float64(b.Sample - a.Sample); d < low-1 || d > high+1 {
				t.Fatalf("%v samples between steps of parts %+v and %+v, want %v to %v", d, pa, pb, low, high)
			}
			if (a.Sound-b.Sound)%2 == 0 {
				t.Fatalf("%v follows %v", b.Sound, a.Sound)
			}
		}
	})
}

// Nothing sounds longer than until the next sound, so nothing is cut off and
// nothing adds up to more than the loudest sound; and the track ends quiet.
func TestSoundsDoNotMeet(t *testing.T) {
	v := voices()
	rapid.Check(t, func(t *rapid.T) {
		plan := anyPlan(t)
		events := append(plan.Events(), Event{Sample: plan.Samples()})
		for i, e := range events[:len(events)-1] {
			if end := e.Sample + int64(len(v[e.Sound])); end > events[i+1].Sample {
				t.Fatalf("%v at %d runs to %d, into the next at %d", e.Sound, e.Sample, end, events[i+1].Sample)
			}
		}
	})
}

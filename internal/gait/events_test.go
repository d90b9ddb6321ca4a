package gait

import (
	"fmt"
	"math"
	"math/rand/v2"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/signal"
	"plumbstride/internal/standin"
	"plumbstride/internal/track"
)

// eventBias gives the mean error of contact and toe-off over a runner's clip,
// ms; ok is false where the runner can't be drawn.
func eventBias(t testing.TB, seed uint64, change func(*standin.Runner, *standin.Camera)) (contact, toeOff float64, e eventErrors, ok bool) {
	rng := rand.New(rand.NewPCG(2026, seed))
	r, cam := standin.Random(rng)
	cam.RateHz, cam.RollDeg, cam.YawDeg, cam.NoisePx, cam.Dropout = 120, 0, 0, 1, 0
	change(&r, &cam)
	tr, truth, err := standin.Track(r, cam, 6, rng)
	if err != nil {
		return 0, 0, e, false
	}
	g, err := Analyse(track.Smooth(tr), Facts{HeightM: r.HeightM, InclineDeg: r.InclineDeg})
	if err != nil {
		t.Errorf("runner %d: %v", seed, err)
		return 0, 0, e, false
	}
	e = compare(g.Events, truth.Events)
	return 1e3 * e.mean[form.Contact], 1e3 * e.mean[form.ToeOff], e, true
}

// Events of invented runners who land on the heel, the midfoot and the
// forefoot are found alike: what is off on average, contact time included,
// stays small for each.
func TestEventsOfEveryFootStrike(t *testing.T) {
	for _, strike := range []struct {
		name     string
		from, to float64
	}{{"rearfoot", 10, 25}, {"midfoot", -1, 7}, {"forefoot", -15, -3}} {
		t.Run(strike.name, func(t *testing.T) {
			var contact, toeOff []float64
			lost := 0
			for seed := range uint64(8) {
				c, o, e, ok := eventBias(t, seed, func(r *standin.Runner, _ *standin.Camera) {
					r.FootContactDeg = standin.Even(strike.from + (strike.to-strike.from)*float64(seed)/8)
				})
				if ok {
					contact, toeOff = append(contact, c), append(toeOff, o)
					lost += e.missed + e.extra
				}
			}
			c, csd := signal.MeanSD(contact)
			o, osd := signal.MeanSD(toeOff)
			t.Logf("%d runners: contact %+.1f ms (sd %.1f), toe-off %+.1f ms (sd %.1f), %d events lost or extra", len(contact), c, csd, o, osd, lost)
			if len(contact) < 5 || math.Abs(c) > 6 || math.Abs(o) > 6 || lost > 2 {
				t.Errorf("contact %+.1f ms, toe-off %+.1f ms, %d lost or extra, from %d runners", c, o, lost, len(contact))
			}
		})
	}
}

// Treadmills at up to 10 degrees, uphill and downhill: who runs uphill lands
// further ahead.
func TestEventsOnInclines(t *testing.T) {
	for _, incline := range []float64{-10, -5, -2, 2, 5, 10} {
		t.Run(fmt.Sprintf("%+.0f degrees", incline), func(t *testing.T) {
			var contact, toeOff []float64
			lost := 0
			for i := range uint64(4) {
				c, o, e, ok := eventBias(t, i, func(r *standin.Runner, _ *standin.Camera) {
					spread := r.StepSpread
					*r = standin.DefaultRunner()
					r.InclineDeg, r.BounceM, r.StepSpread = incline, 0, 0.5*spread
					r.TrunkLeanDeg = 8 + 0.6*incline
					r.SpeedMS = 2.8
					r.KneeContactDeg = standin.Even([]float64{20, 30}[i/2%2])
					r.FootContactDeg = standin.Even([]float64{12, -4}[i%2])
					r.LandingM = standin.Even(0.17 + 0.008*incline)
				})
				if ok {
					contact, toeOff = append(contact, c), append(toeOff, o)
					lost += e.missed + e.extra
				}
			}
			c, _ := signal.MeanSD(contact)
			o, _ := signal.MeanSD(toeOff)
			t.Logf("%d runners: contact %+.1f ms, toe-off %+.1f ms, %d lost or extra", len(contact), c, o, lost)
			if len(contact) < 3 || math.Abs(c) > 7 || math.Abs(o) > 7 || lost > 2*len(contact) {
				t.Errorf("contact %+.1f ms, toe-off %+.1f ms, %d lost or extra, from %d runners", c, o, lost, len(contact))
			}
		})
	}
}

// mistreat gives the track with noise of sd px on every coordinate and a
// share of the points dropped, in runs of three frames on average.
func mistreat(tr form.Track, sd, dropped float64, seed uint64) form.Track {
	rng := rand.New(rand.NewPCG(seed, 77))
	frames := make([]form.Frame, len(tr.Frames))
	var gone [form.NumJoints]bool
	for i, f := range tr.Frames {
		for j := range f.Spots {
			u := rng.Float64()
			if gone[j] {
				gone[j] = u > 1.0/3
			} else {
				gone[j] = u < dropped/((1-dropped)*3)
			}
			if gone[j] {
				f.Spots[j] = form.Spot{}
			} else if f.Spots[j].Seen() {
				f.Spots[j].X += sd * rng.NormFloat64()
				f.Spots[j].Y += sd * rng.NormFloat64()
			}
		}
		frames[i] = f
	}
	tr.Frames = frames
	return tr
}

// resample gives the track at another rate, each point on the cubic through
// its neighbours.
func resample(tr form.Track, rate float64) form.Track {
	n := len(tr.Frames)
	last := tr.Frames[n-1].Time
	out := tr
	out.RateHz, out.Frames = rate, nil
	for k := 0; float64(k)/rate <= last; k++ {
		t := float64(k) / rate
		i := max(1, min(int(t*tr.RateHz+1e-9), n-3))
		u := t*tr.RateHz - float64(i)
		f := form.Frame{Time: t}
		for j := range f.Spots {
			var p [4]geom.Vec
			seen := true
			for m := range p {
				s := tr.Frames[i-1+m].Spots[j]
				p[m], seen = geom.Vec{X: s.X, Y: s.Y}, seen && s.Seen()
			}
			if seen { // Catmull–Rom
				cubic := func(a, b, c, d float64) float64 {
					return b + u*((c-a)/2+u*(a-2.5*b+2*c-d/2+u*(1.5*(b-c)+(d-a)/2)))
				}
				f.Spots[j] = form.Spot{X: cubic(p[0].X, p[1].X, p[2].X, p[3].X), Y: cubic(p[0].Y, p[1].Y, p[2].Y, p[3].Y), Confidence: 1}
			}
		}
		out.Frames = append(out.Frames, f)
	}
	return out
}

// The force plate's events (Fukuchi et al. 2017, PeerJ 5:e3298) from poorer
// recordings of the same runner: at
// other frame rates with noise as a network's, and with 30 % of the points
// missing.
func TestEventsFromPoorerRecordings(t *testing.T) {
	truth := forceEvents(t)
	whole := mocapTrack(t, 1)
	for name, c := range map[string]struct{ rate, noise, dropped float64 }{
		"30 Hz": {30, 2, 0}, "60 Hz": {60, 2, 0}, "120 Hz": {120, 2, 0}, "240 Hz": {240, 2, 0},
		"60 Hz, 30 % dropped": {60, 1, 0.3}, "150 Hz, 30 % dropped": {150, 0, 0.3},
	} {
		t.Run(name, func(t *testing.T) {
			tr := mistreat(resample(whole, c.rate), c.noise, c.dropped, 1)
			g, err := Analyse(track.Smooth(tr), Facts{HeightM: 1.81})
			if err != nil {
				t.Fatal(err)
			}
			e := compare(g.Events, truth)
			t.Logf("contact %+.1f (|%.1f|) ms, toe-off %+.1f (|%.1f|) ms, missed %d, extra %d",
				1e3*e.mean[form.Contact], 1e3*e.absolute[form.Contact], 1e3*e.mean[form.ToeOff], 1e3*e.absolute[form.ToeOff], e.missed, e.extra)
			if e.missed+e.extra > 0 || e.absolute[form.Contact] > 0.010 || e.absolute[form.ToeOff] > 0.012 {
				t.Errorf("contact |%.1f| ms, toe-off |%.1f| ms, missed %d, extra %d", 1e3*e.absolute[form.Contact], 1e3*e.absolute[form.ToeOff], e.missed, e.extra)
			}
		})
	}
}

// Where the near toe stays behind at toe-off (it is taken for the shadow that
// it leaves), the two feet's contact times still belong together by the leg
// network's way.
func TestLegsAreMatched(t *testing.T) {
	var apart []float64
	for seed := range uint64(8) {
		rng := rand.New(rand.NewPCG(2027, seed))
		r, cam := standin.Random(rng)
		cam.RateHz, cam.RollDeg, cam.YawDeg, cam.NoisePx, cam.Dropout = 60, 0, 0, 1, 0
		tr, truth, err := standin.Track(r, cam, 6, rng)
		if err != nil {
			continue
		}
		tr.Network = "full+legs"
		near := cam.Near()
		for _, e := range truth.Events {
			if e.Kind == form.ToeOff && e.Side == near {
				leaveToe(&tr, form.At(form.Toe, near), e.Time-0.01, e.Time+0.035)
			}
		}
		g, err := Analyse(track.Smooth(tr), Facts{HeightM: r.HeightM})
		if err != nil {
			t.Errorf("runner %d: %v", seed, err)
			continue
		}
		found := g.Cycles[near].ToeOffS - g.Cycles[near].ContactS - g.Cycles[near.Other()].ToeOffS + g.Cycles[near.Other()].ContactS
		on, _ := truth.Value("contact_time", "ms", near)
		off, _ := truth.Value("contact_time", "ms", near.Other())
		apart = append(apart, 1e3*found-(on.Value-off.Value))
	}
	mean, sd := signal.MeanSD(apart)
	t.Logf("near foot's contact time against the far one's: %+.1f ms (sd %.1f) of %d runners", mean, sd, len(apart))
	if len(apart) < 6 || math.Abs(mean) > 6 || sd > 8 {
		t.Errorf("the feet's contact times lie %+.1f ms (sd %.1f) further apart than they do", mean, sd)
	}
}

// A toe-off that a person sets gives back what it had drawn the other foot's by.
func TestByHandLetsTheOtherFootGo(t *testing.T) {
	rng := rand.New(rand.NewPCG(2027, 1))
	r, cam := standin.Random(rng)
	cam.RateHz, cam.RollDeg, cam.YawDeg, cam.NoisePx, cam.Dropout = 60, 0, 0, 1, 0
	tr, truth, err := standin.Track(r, cam, 6, rng)
	if err != nil {
		t.Fatal(err)
	}
	tr.Network = "full+legs"
	near := cam.Near()
	var set []ByHand
	for _, e := range truth.Events {
		if e.Kind == form.ToeOff && e.Side == near {
			leaveToe(&tr, form.At(form.Toe, near), e.Time-0.01, e.Time+0.05)
			if e.Time > 1 && e.Time < 4 {
				set = append(set, ByHand{Kind: e.Kind, Side: e.Side, Found: e.Time, Time: e.Time})
			}
		}
	}
	found, err := Analyse(track.Smooth(tr), Facts{HeightM: r.HeightM})
	if err != nil {
		t.Fatal(err)
	}
	mended, err := Analyse(track.Smooth(tr), Facts{HeightM: r.HeightM, ByHand: set})
	if err != nil {
		t.Fatal(err)
	}
	was, is := found.Cycles[near.Other()], mended.Cycles[near.Other()]
	if math.Abs(was.ToeOffMoved) < 0.001 {
		t.Fatalf("the far toe-off was moved by %.2f ms only: nothing to give back", 1e3*was.ToeOffMoved)
	}
	if math.Abs(is.ToeOffS-(was.ToeOffS-was.ToeOffMoved)) > 1e-9 || is.ToeOffMoved != 0 || is.ToeOffBias >= was.ToeOffBias {
		t.Errorf("toe-off at %.1f ms, moved by %.1f, ± %.1f; before %.1f, %.1f, ± %.1f", 1e3*is.ToeOffS, 1e3*is.ToeOffMoved, 1e3*is.ToeOffBias, 1e3*was.ToeOffS, 1e3*was.ToeOffMoved, 1e3*was.ToeOffBias)
	}
	a, b := meanTime(found.Events, near.Other()), meanTime(mended.Events, near.Other())
	if math.Abs(a-b-was.ToeOffMoved) > 1e-9 || is.ContactS != was.ContactS {
		t.Errorf("single toe-offs moved by %.2f ms in the mean, %.2f expected; contact by %.2f", 1e3*(a-b), 1e3*was.ToeOffMoved, 1e3*(was.ContactS-is.ContactS))
	}
}

// meanTime is the mean time of a foot's toe-offs, s.
func meanTime(events []form.Event, s form.Side) float64 {
	sum, n := 0.0, 0.0
	for _, e := range events {
		if e.Kind == form.ToeOff && e.Side == s {
			sum, n = sum+e.Time, n+1
		}
	}
	return sum / n
}

// leaveToe keeps a joint where it was at the time from, until the time to.
func leaveToe(tr *form.Track, j form.Joint, from, to float64) {
	var at form.Spot
	for i := range tr.Frames {
		switch f := &tr.Frames[i]; {
		case f.Time < from:
			at = f.Spots[j]
		case f.Time < to && at.Seen():
			f.Spots[j].X, f.Spots[j].Y = at.X, at.Y
		}
	}
}

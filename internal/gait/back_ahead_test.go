package gait

import (
	"flag"
	"math"
	"math/rand/v2"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/signal"
	"plumbstride/internal/standin"
	"plumbstride/internal/track"
)

var aheadRunners = flag.Int("ahead", 30, "how many invented runners are drawn to see how far ahead their joints lie")

// How far ahead of the hips joints lie at the mid-stances that are found, how
// much the two sides differ in it, and how far the ankles swing: constants of
// the view from behind against invented runners.
func TestAheadOfInventedRunners(t *testing.T) {
	var knee, ankle, shoulder, kneeSides, ankleSides, known, alone, behind, apart []float64
	for i := range *aheadRunners {
		rng := rand.New(rand.NewPCG(59, uint64(i)))
		r, cam := standin.RandomBehind(rng)
		r.Body.Leg = 1 + 1.5*(r.Body.Leg-1)
		cam.NoisePx, cam.Dropout, cam.RateHz = 0.2, 0, 60
		const seconds = 6
		m, err := standin.NewMotion(r, seconds, rng)
		if err != nil {
			continue
		}
		b, err := Behind(track.Smooth(m.Track(cam, rng)), Facts{HeightM: r.HeightM, SpeedMS: r.SpeedMS, Level: Level{Deg: cam.RollDeg, SD: 0.1, Known: true}})
		if err != nil {
			t.Log(err)
			continue
		}
		h := r.HeightM
		ahead := func(p form.Point, s form.Side, at float64) float64 {
			pose := m.Pose(at)
			hips := (pose.Joint(form.At(form.Hip, form.Left)).X + pose.Joint(form.At(form.Hip, form.Right)).X) / 2
			return (pose.Joint(form.At(p, s)).X - hips) / h
		}
		mean := func(p form.Point, s form.Side) float64 {
			var v []float64
			for _, at := range b.Middles[s] {
				v = append(v, ahead(p, s, at))
			}
			m, _ := signal.MeanSD(v)
			return m
		}
		kl, kr, al, ar := mean(form.Knee, form.Left), mean(form.Knee, form.Right), mean(form.Ankle, form.Left), mean(form.Ankle, form.Right)
		knee, ankle = append(knee, (kl+kr)/2), append(ankle, (al+ar)/2)
		kneeSides, ankleSides = append(kneeSides, (kl-kr)/2), append(ankleSides, (al-ar)/2)
		shoulder = append(shoulder, (mean(form.Shoulder, form.Left)+mean(form.Shoulder, form.Right))/2)
		swing, lag, n := 0.0, 0.0, 0.0
		for _, s := range sides {
			for _, at := range b.Middles[s] {
				if at < b.StrideS/2 || at+b.StrideS/2 > seconds {
					continue
				}
				for k := range 24 {
					d := b.StrideS * ((float64(k)+0.5)/24 - 0.5)
					here, there := ahead(form.Ankle, s, at+d), ahead(form.Ankle, s.Other(), at+d)
					swing -= (here - there) * math.Sin(2*math.Pi*d/b.StrideS) * 2 / 24
					lag -= (here*here - there*there) * math.Sin(2*math.Pi*d/b.StrideS) * 2 / 24
				}
				n++
			}
		}
		known = append(known, swing/n*h/(swingOfHeight*h+swingOfStride*r.SpeedMS*b.StrideS))
		alone = append(alone, swing/n/swingAlone)
		behind = append(behind, -lag/swing/2)
		apart = append(apart, ankle[len(ankle)-1]-knee[len(knee)-1])
	}
	for _, c := range []struct {
		name          string
		got           []float64
		mean, sd      float64
		offBy, spread float64
	}{
		// The real runner's lie behind (TestBackViewOfARealRunner).
		{"knee ahead, H", knee, kneeAhead, legAheadSD, 0.02, 1.3},
		{"ankle ahead, H", ankle, ankleAhead, math.Hypot(legAheadSD, ankleOwnSD), 0.02, 1.3},
		{"shoulders ahead, H", shoulder, shoulderAhead, shoulderAheadSD, 0.02, 1.3},
		{"ankle less knee, H", apart, ankleAhead - kneeAhead, ankleOwnSD, 0.01, 1.4},
		{"knee, half the sides' difference, H", kneeSides, 0, legSidesSD, 0.004, 1.3},
		{"ankle, half the sides' difference, H", ankleSides, 0, legSidesSD, 0.004, 1.3},
		{"swing over what speed and height say", known, 1, swingSD, 0.03, 1.3},
		{"swing over what height says", alone, 1, swingAloneSD, 0.06, 1.3},
		{"ankles behind the hips, H", behind, swingBehind, 0.02, 0.01, 1.5},
	} {
		mean, sd := signal.MeanSD(c.got)
		t.Logf("%-38s n %d: %.4f ± %.4f, supposed %.3f ± %.3f", c.name, len(c.got), mean, sd, c.mean, c.sd)
		if math.Abs(mean-c.mean) > c.offBy || sd > c.spread*c.sd {
			t.Errorf("%s: %.4f ± %.4f, supposed %.3f ± %.3f", c.name, mean, sd, c.mean, c.sd)
		}
	}
}

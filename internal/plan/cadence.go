package plan

import (
	"fmt"
	"math"

	"plumbstride/internal/judge"
)

const (
	// MaxStepPct is the most by which one step raises the cadence, percent
	// (common practice, no source; trials have held 7.5 and 10 % at once:
	// Willy et al. 2016 doi 10.1111/sms.12413, Wang et al. 2020
	// doi 10.7717/peerj.9813, Hafer et al. 2015
	// doi 10.1080/02640414.2014.962573).
	MaxStepPct = 5.0
	// MaxTotalPct is the most by which a whole plan raises it: the largest
	// change that those trials held.
	MaxTotalPct = 10.0
	// weeksPerStep is how long a step is held (common practice, no source).
	weeksPerStep = 2
	// surely is how likely the true cadence must lie below its band before
	// it is raised (our own choice).
	surely = 0.9
)

// Step is one rise of cadence, held from a week of the plan on.
type Step struct {
	FromWeek    int `json:"from_week"`
	StepsPerMin int `json:"steps_per_min"`
	// RisePct is the rise over what came before, RiseInAllPct over the
	// measured cadence, percent.
	RisePct      float64 `json:"rise_pct"`
	RiseInAllPct float64 `json:"rise_in_all_pct"`
}

// stepUps gives the steps of cadence, or none and why. They start from the
// runner's own measured cadence and end where the band begins or at
// MaxTotalPct, whichever is less. The first is at most MaxStepPct above the
// lower end of the measurement's 95 % interval, the others above the step
// before, so that none is larger for the true cadence either.
func stepUps(a Ask) (steps []Step, why string) {
	c := a.Cadence
	switch {
	case a.Area != judge.Cadence && a.Area != judge.Landing && a.Area != judge.Bounce:
		return nil, "This plan leaves the cadence as it is: one thing at a time."
	case c == nil:
		return nil, "The cadence was not measured, so it is left as it is."
	case !c.Low.Known():
		return nil, "There is no band for this cadence, so it is left as it is."
	case c.StepsPerMin >= float64(c.Low):
		return nil, fmt.Sprintf("The measured cadence, %.0f steps/min, is not below its band, so it is left as it is.", c.StepsPerMin)
	case below(*c) < surely:
		return nil, fmt.Sprintf("The measured cadence, %.0f ± %.1f steps/min, is too close to its band to be told from it, so it is left as it is.", c.StepsPerMin, 1.96*c.SD)
	}
	goal := math.Min(math.Ceil(float64(c.Low)), math.Floor(c.StepsPerMin*(1+MaxTotalPct/100)))
	first := math.Floor((c.StepsPerMin - 1.96*c.SD) * (1 + MaxStepPct/100))
	if first <= c.StepsPerMin {
		return nil, "The cadence was measured too roughly for a step of 5 %: film again, or count steps for a minute."
	}
	count := math.Ceil(math.Log(goal/c.StepsPerMin) / math.Log(1+MaxStepPct/100))
	even := math.Pow(goal/c.StepsPerMin, 1/math.Max(1, count))
	at, limit := c.StepsPerMin, first
	for week := 1; week < a.Weeks && at < goal; week += weeksPerStep {
		next := math.Min(math.Min(goal, limit), math.Max(math.Ceil(at*even), math.Floor(at)+1))
		steps = append(steps, Step{
			FromWeek: week, StepsPerMin: int(next),
			RisePct: 100 * (next/at - 1), RiseInAllPct: 100 * (next/c.StepsPerMin - 1),
		})
		at, limit = next, math.Floor(next*(1+MaxStepPct/100))
	}
	return steps, ""
}

// CadenceBefore is the cadence in steps/min that the step to stepsPerMin rises
// from: that of the step before, or the runner's own as measured; 0 where it
// was not measured.
func (p Plan) CadenceBefore(stepsPerMin int) float64 {
	if p.Ask.Cadence == nil {
		return 0
	}
	from := p.Ask.Cadence.StepsPerMin
	for _, s := range p.Steps {
		if s.StepsPerMin >= stepsPerMin {
			break
		}
		from = float64(s.StepsPerMin)
	}
	return from
}

// below is the probability that the true cadence lies below the band, from
// a normal distribution.
func below(c Cadence) float64 {
	return 0.5 * math.Erfc((c.StepsPerMin-float64(c.Low))/(c.SD*math.Sqrt2))
}

// Tempo is the beat of one practice: in every five minutes of the practised
// part it is on for OnS seconds and off for OffS.
type Tempo struct {
	StepsPerMin int `json:"steps_per_min"`
	// SharePct is the share of the practised part with the beat on, percent.
	SharePct int `json:"share_pct"`
	OnS      int `json:"on_s"`
	OffS     int `json:"off_s"`
}

const cycleS = 300

// fade gives the share of the practised part with the beat on, in percent,
// for practice i of the n that hold one step: all of it at first, then less
// in even steps, down to a fifth, and to none at the end of the last step.
// That feedback which is taken away little by little is kept better than
// constant feedback is common teaching (Winstein & Schmidt 1990, from
// memory); that the trial of Chan et al. 2018 doi 10.1177/0363546517736277
// faded it over its second half is from memory too. The numbers are our own.
func fade(i, n int, last bool) int {
	end := 20.0
	if last {
		end = 0
	}
	share := 100.0
	if n > 1 {
		share -= (100 - end) * float64(i) / float64(n-1)
	}
	return int(math.Round(share/10)) * 10
}

func tempoOf(step Step, share int) *Tempo {
	on := cycleS * share / 100
	return &Tempo{StepsPerMin: step.StepsPerMin, SharePct: share, OnS: on, OffS: cycleS - on}
}

package check

import (
	"context"
	"fmt"
	"io"
	"math"
	"strings"

	"plumbstride/internal/accelerometry"
	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/judge"
	"plumbstride/internal/measure"
)

// Recorder is what the coach stated about a recording of a body-worn
// accelerometer.
type Recorder struct {
	Options accelerometry.Options
	Worn    accelerometry.Place
}

// filmed is why a measure is missing from a recording.
const filmed = "needs a clip from the side; the recording of an accelerometer tells steps and times alone"

// Accelerometer checks a recording of a body-worn accelerometer. The outcome
// has no track and no gait. Errors are form.Errors where the coach can mend
// it.
func Accelerometer(ctx context.Context, deps Deps, r io.Reader, how Recorder, ask Ask) (*Outcome, error) {
	rec, err := accelerometry.Read(r, how.Options)
	if err != nil {
		return nil, err
	}
	if err := ctx.Err(); err != nil {
		return nil, fmt.Errorf("check: %w", err)
	}
	found, err := accelerometry.Analyse(rec, how.Worn)
	if err != nil {
		return nil, err
	}
	bands := judge.Context{SpeedMS: math.NaN(), HeightM: math.NaN(), Inches: ask.Inches, Pain: ask.Pain}
	if ask.SpeedMS > 0 {
		bands.SpeedMS = ask.SpeedMS
	}
	if ask.HeightM > 0 {
		bands.HeightM = ask.HeightM
	}
	c := card.Card{
		Program: deps.Program, Made: deps.Now(), Kind: card.Running,
		Runner: card.Runner{Name: ask.Name, HeightM: ask.HeightM, MassKg: ask.MassKg},
		Clip:   recorded(rec, found, bands.SpeedMS), Notes: found.Notes, Networks: []card.Network{},
		Refused: append(found.Refused, needFilm(found)...),
	}
	measures := judge.WithBands(found.Measures, bands)
	for _, m := range measures {
		row := rowOf(m)
		if title, ok := accelerometry.Title(m.Name); ok {
			row.Title = title
		}
		c.Measures = append(c.Measures, row)
	}
	judged := judge.Judge(measures, c.Refused, bands)
	c.Cautions = judged.Cautions
	if found.Gait == accelerometry.Walking {
		c.Cautions = nil
		for _, w := range judge.WalkingCautions() {
			c.Cautions = append(c.Cautions, w.Text)
		}
	}
	c.Priority.Why = recordedWhy(found, judged.Areas)
	if ask.Pain {
		c.Priority.Why = judged.Why
	}
	for _, a := range judged.Areas {
		c.Areas = append(c.Areas, card.Area{Name: a.Name, State: string(a.State), Why: a.Why})
	}
	return &Outcome{Card: c}, nil
}

func recorded(rec accelerometry.Recording, found accelerometry.Finding, speed float64) card.Clip {
	n := len(rec.TimesS)
	return card.Clip{
		Samples: n, DurationS: rec.TimesS[n-1] + 1/rec.RateHz, RateHz: rec.RateHz, Gait: string(found.Gait),
		SpeedMS: card.Number(speed), RollDeg: card.Number(math.NaN()), YawDeg: card.Number(math.NaN()),
		MPerPx: card.Number(math.NaN()), SlowedBy: 1,
	}
}

// needFilm refuses all that a recording can't tell.
func needFilm(found accelerometry.Finding) []form.Refusal {
	told := map[string]bool{"speed": true} // what the coach states, if anyone
	for _, m := range found.Measures {
		told[m.Name] = true
	}
	for _, r := range found.Refused {
		told[r.Name] = true
	}
	var out []form.Refusal
	for _, d := range measure.Table() {
		if !told[d.Name] {
			told[d.Name] = true
			why := filmed
			if d.View == form.ViewBack {
				why = strings.Replace(filmed, "the side", "behind", 1)
			}
			out = append(out, form.Refusal{Name: d.Name, Side: form.Both, Reason: why})
		}
	}
	return out
}

// recordedWhy says what a recording can say in place of a priority.
func recordedWhy(found accelerometry.Finding, areas []judge.Area) string {
	if found.Gait == accelerometry.Walking {
		return "This is walking: the steps are counted, and no measure of running is told. Record a run, or film one."
	}
	for _, a := range areas {
		if a.State == judge.Look {
			return a.Why + " Whether that comes first a recording can't tell: film a clip from the side as well."
		}
	}
	return "No area is put first: a recording tells steps and times alone. Film a clip from the side for the rest."
}

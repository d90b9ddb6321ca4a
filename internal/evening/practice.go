package evening

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"plumbstride/internal/plan"
	"plumbstride/internal/practice"
	"plumbstride/internal/store"
)

// Kept is what became of one recording of a watch.
type Kept struct {
	// Run is what was read; its Digest is empty where nothing could be.
	Run practice.Run
	// State is KeptNew, KeptTwice or KeptNot, and Reason a sentence.
	State  KeptState
	Reason string
}

// KeptState is what became of a recording.
type KeptState string

// The states.
const (
	KeptNew   KeptState = "kept"
	KeptTwice KeptState = "twice"
	KeptNot   KeptState = "refused"
)

// ReadRecordings reads what one file of a watch holds, and takes each recording of
// it by itself. Nothing is kept yet. A file that can't be read is a
// form.Error.
func ReadRecordings(from io.Reader, o practice.Options, now time.Time) ([]Kept, error) {
	activities, err := practice.Read(from, now)
	if err != nil {
		return nil, err
	}
	var out []Kept
	for _, a := range activities {
		r, err := practice.Take(a, o)
		switch {
		case err != nil:
			out = append(out, Kept{State: KeptNot, Reason: err.Error()})
		case r.Kind == practice.Walking:
			out = append(out, Kept{Run: r, State: KeptNot, Reason: strings.Join(r.Notes, " ")})
		default:
			out = append(out, Kept{Run: r, State: KeptNew, Reason: r.Why})
		}
	}
	return out, nil
}

// KeepRuns keeps for a runner what was read, in one transaction: each run
// that isn't there yet. A run that lies in two files, or in two formats, is
// kept once.
func KeepRuns(ctx context.Context, s store.Store, runnerID string, read []Kept) ([]Kept, error) {
	var out []Kept
	err := s.Within(ctx, func(s store.Store) error {
		there, err := PracticeOf(ctx, s, runnerID)
		if err != nil {
			return err
		}
		out = nil
		for _, k := range read {
			if k.State == KeptNew {
				if k.State, k.Reason, err = keepRun(ctx, s, runnerID, k, there); err != nil {
					return err
				}
				if k.State == KeptNew {
					there = append(there, Practised{Run: k.Run})
				}
			}
			out = append(out, k)
		}
		return nil
	})
	return out, err
}

func keepRun(ctx context.Context, s store.Store, runnerID string, k Kept, there []Practised) (KeptState, string, error) {
	twice := fmt.Sprintf("The run of %s is there already.", k.Run.Start.Format("2 January 2006, 15:04"))
	for _, t := range there {
		if practice.Same(t.Run, k.Run) {
			return KeptTwice, twice, nil
		}
	}
	object, err := json.Marshal(k.Run)
	if err != nil {
		return KeptNot, "", fmt.Errorf("a run as JSON: %w", err)
	}
	_, err = s.AddActivity(ctx, store.Activity{RunnerID: runnerID, Digest: k.Run.Digest, Start: k.Run.Start, Run: object})
	if errors.Is(err, store.ErrTaken) {
		return KeptTwice, twice, nil
	}
	return KeptNew, k.Reason, err
}

// Practised is a kept run with the record's ID.
type Practised struct {
	ID  string
	Run practice.Run
}

// PracticeOf reads a runner's kept runs, the earliest first.
func PracticeOf(ctx context.Context, s store.Store, runnerID string) ([]Practised, error) {
	all, err := s.RunnerActivities(ctx, runnerID)
	if err != nil {
		return nil, err
	}
	out := make([]Practised, 0, len(all))
	for _, a := range all {
		one := Practised{ID: a.ID}
		if err := json.Unmarshal(a.Run, &one.Run); err != nil {
			return nil, fmt.Errorf("the run %s: %w", a.ID, err)
		}
		one.Run.Start, one.Run.Digest = a.Start, a.Digest
		out = append(out, one)
	}
	return out, nil
}

// Planned is what plans ask for: the cadence of a day, and the minutes of
// practice of a week.
type Planned []plan.Plan

// Target is the cadence that the plan in force asks for on a day, with the
// usual band around it; nil before the first plan's first step of cadence.
func (p Planned) Target(day time.Time) *practice.Target {
	var in *plan.Plan
	for i := range p {
		start := p[i].Ask.Start.Time()
		if !start.After(day) && (in == nil || !start.Before(in.Ask.Start.Time())) {
			in = &p[i]
		}
	}
	if in == nil {
		return nil
	}
	week, spm := 1+int(day.Sub(in.Ask.Start.Time()).Hours()/(7*24)), 0
	for _, s := range in.Steps {
		if s.FromWeek <= week {
			spm = s.StepsPerMin
		}
	}
	t, err := practice.NewTarget(float64(spm), practice.UsualWithin)
	if err != nil {
		return nil
	}
	return &t
}

// Minutes is how many minutes of practice the plans ask for in the week that
// begins on a Monday.
func (p Planned) Minutes(monday time.Time) int {
	n := 0
	for _, one := range p {
		for _, w := range one.Weeks {
			for _, s := range w.Sessions {
				if at := s.Date.Time(); s.Practice && !at.Before(monday) && at.Before(monday.AddDate(0, 0, 7)) {
					n += s.PracticeMin
				}
			}
		}
	}
	return n
}

package evening

import (
	"context"
	"encoding/json"
	"fmt"
	"time"

	"plumbstride/internal/card"
	"plumbstride/internal/clinic"
	"plumbstride/internal/plan"
	"plumbstride/internal/store"
)

// usualCourse is when a runner without a plan is due: as long as the longest
// plan. soonest is the least time between a first check and one that shows what
// became of it.
const (
	usualCourse = 8 * 7 * 24 * time.Hour
	soonest     = 14 * 24 * time.Hour
)

// Clinic tells what became of all runners' courses. Of each runner the first
// course in each area counts.
func Clinic(ctx context.Context, s store.Store, program string, now time.Time) (clinic.Report, error) {
	runners, err := s.Runners(ctx)
	if err != nil {
		return clinic.Report{}, err
	}
	background, checked := clinic.Background{}, 0
	var courses []clinic.Course
	for number, r := range runners {
		looks, err := looksOf(ctx, s, r.ID)
		if err != nil {
			return clinic.Report{}, err
		}
		if len(looks) == 0 {
			continue
		}
		checked++
		background.Add(looks[0].card)
		own, err := coursesOf(ctx, s, r.ID, looks, now)
		if err != nil {
			return clinic.Report{}, err
		}
		for i := range own {
			own[i].Runner = number
		}
		courses = append(courses, own...)
	}
	report := clinic.Of(courses, background, checked, card.AreaNames())
	report.Program, report.Made = program, now
	return report, nil
}

// look is one running check with its card, a coach's corrections in it.
type look struct {
	store.Check
	card card.Card
}

func looksOf(ctx context.Context, s store.Store, runnerID string) ([]look, error) {
	checks, err := s.RunnerChecks(ctx, runnerID)
	if err != nil {
		return nil, err
	}
	var out []look
	for _, c := range checks {
		if c.State != store.Ready || c.Kind != store.Running {
			continue
		}
		one := look{Check: c}
		if err := json.Unmarshal(c.Card, &one.card); err != nil {
			return nil, fmt.Errorf("the card of check %s: %w", c.ID, err)
		}
		out = append(out, one)
	}
	return out, nil
}

// coursesOf are a runner's courses: from each area's first decision to the
// first check from soonest later on.
func coursesOf(ctx context.Context, s store.Store, runnerID string, looks []look, now time.Time) ([]clinic.Course, error) {
	plans, err := s.RunnerPlans(ctx, runnerID)
	if err != nil {
		return nil, err
	}
	begun := map[string]bool{}
	var out []clinic.Course
	for i, first := range looks {
		if first.Decision == nil || first.Decision.Area == "" || begun[first.Decision.Area] {
			continue
		}
		begun[first.Decision.Area] = true
		f := clinic.Facts{Area: first.Decision.Area, Recheck: first.Made.Add(usualCourse), Now: now}
		if err := planned(&f, plans, first.ID); err != nil {
			return nil, err
		}
		var later *card.Card
		for k := i + 1; k < len(looks) && later == nil; k++ {
			if looks[k].Made.Sub(first.Made) >= soonest {
				later = &looks[k].card
				for _, since := range looks[k+1:] {
					f.Since = append(f.Since, since.card)
				}
			} else {
				f.Between = append(f.Between, looks[k].card)
			}
		}
		out = append(out, clinic.CourseOf(first.card, later, f))
	}
	return out, nil
}

// planned fills in what the plan of a check says.
func planned(f *clinic.Facts, plans []store.Plan, checkID string) error {
	for _, one := range plans {
		if one.CheckID != checkID {
			continue
		}
		p, err := PlanOf(one)
		if err != nil {
			return err
		}
		f.Weeks, f.Recheck, f.Drills = len(p.Weeks), p.Recheck.Time(), drillsOf(p)
	}
	return nil
}

// drillsOf lists a plan's drills, each once.
func drillsOf(p plan.Plan) (ids []string) {
	seen := map[string]bool{}
	add := func(doses []plan.Dose) {
		for _, d := range doses {
			if !seen[d.ID] {
				seen[d.ID] = true
				ids = append(ids, d.ID)
			}
		}
	}
	for _, w := range p.Weeks {
		add(w.Apart)
		for _, one := range w.Sessions {
			add(one.Drills)
		}
	}
	return ids
}

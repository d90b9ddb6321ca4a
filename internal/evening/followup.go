package evening

import (
	"context"

	"plumbstride/internal/followup"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// Known gathers what is known of all runners, for following them up.
func Known(ctx context.Context, s store.Store) ([]followup.Known, error) {
	runners, err := s.Runners(ctx)
	if err != nil {
		return nil, err
	}
	no, err := s.Objections(ctx)
	if err != nil {
		return nil, err
	}
	var out []followup.Known
	for _, r := range runners {
		k, err := KnownOf(ctx, s, r)
		if err != nil {
			return nil, err
		}
		_, k.Objects = no[r.ID]
		out = append(out, k)
	}
	return out, nil
}

// KnownOf gathers what is known of one runner, but for objections.
func KnownOf(ctx context.Context, s store.Store, r roster.Runner) (k followup.Known, err error) {
	k.Runner = r
	if k.Consents, err = s.Consents(ctx, r.ID); err != nil {
		return k, err
	}
	checks, err := s.RunnerChecks(ctx, r.ID)
	if err != nil {
		return k, err
	}
	for _, c := range checks {
		if c.State == store.Ready {
			k.Checks = append(k.Checks, c.Made)
		}
	}
	plans, err := s.RunnerPlans(ctx, r.ID)
	if err != nil {
		return k, err
	}
	if n := len(plans); n > 0 {
		read, err := PlanOf(plans[n-1])
		if err != nil {
			return k, err
		}
		k.Recheck = read.Recheck
	}
	evenings, err := s.Attended(ctx, r.ID)
	if err != nil {
		return k, err
	}
	for _, a := range evenings {
		if a.Presence != roster.Expected {
			k.Signs = append(k.Signs, a.Since)
		}
	}
	activities, err := s.RunnerActivities(ctx, r.ID)
	if err != nil {
		return k, err
	}
	for _, a := range activities {
		k.Signs = append(k.Signs, a.Start)
	}
	k.Messages, err = s.RunnerMessages(ctx, r.ID)
	return k, err
}

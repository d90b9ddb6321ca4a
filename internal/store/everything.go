package store

import (
	"context"
	"encoding/json"
	"fmt"

	"plumbstride/internal/roster"
)

// Everything is all that is kept about one runner.
type Everything struct {
	Runner     roster.Runner       `json:"runner"`
	Attendance []roster.Attendance `json:"attendance"`
	Classes    []roster.Class      `json:"classes"`
	Consents   []roster.Consent    `json:"consents"`
	Checks     []Check             `json:"checks"`
	Decisions  []Decision          `json:"decisions"`
	Measures   []Past              `json:"measures"`
	Plans      []Plan              `json:"plans"`
	Notes      []Note              `json:"notes"`
	Activities []Activity          `json:"activities"`
	Messages   []Message           `json:"messages"`
	// Objects tells that the runner wants no messages.
	Objects bool      `json:"objects"`
	Footage []Footage `json:"footage"`
	Uploads []Upload  `json:"uploads"`
	Jobs    []Job     `json:"jobs"`
	Links   []Link    `json:"links"`
	Trail   []Entry   `json:"trail"`
}

// maxTrail is more lines than a runner's trail has in years.
const maxTrail = 100_000

// About gathers everything about one runner, at one moment.
func About(ctx context.Context, s Store, runnerID string) (Everything, error) {
	var e Everything
	err := s.Within(ctx, func(s Store) error {
		var err error
		get := func(what string, read func() error) {
			if err == nil {
				if err = read(); err != nil {
					err = fmt.Errorf("%s: %w", what, err)
				}
			}
		}
		get("runner", func() (err error) { e.Runner, err = s.Runner(ctx, runnerID); return })
		get("attendance", func() (err error) { e.Attendance, err = s.Attended(ctx, runnerID); return })
		for _, a := range e.Attendance {
			get("class", func() error {
				c, err := s.Class(ctx, a.ClassID)
				e.Classes = append(e.Classes, c)
				return err
			})
		}
		get("consents", func() (err error) { e.Consents, err = s.Consents(ctx, runnerID); return })
		get("checks", func() (err error) { e.Checks, err = s.RunnerChecks(ctx, runnerID); return })
		for _, c := range e.Checks {
			get("decisions", func() error {
				d, err := s.Decisions(ctx, c.ID)
				e.Decisions = append(e.Decisions, d...)
				return err
			})
			get("jobs", func() error {
				j, err := s.CheckJobs(ctx, c.ID)
				e.Jobs = append(e.Jobs, j...)
				return err
			})
		}
		get("measures", func() (err error) { e.Measures, err = s.History(ctx, runnerID); return })
		get("plans", func() (err error) { e.Plans, err = s.RunnerPlans(ctx, runnerID); return })
		get("notes", func() (err error) { e.Notes, err = s.RunnerNotes(ctx, runnerID); return })
		get("activities", func() (err error) { e.Activities, err = s.RunnerActivities(ctx, runnerID); return })
		get("messages", func() (err error) { e.Messages, err = s.RunnerMessages(ctx, runnerID); return })
		get("objections", func() error {
			no, err := s.Objections(ctx)
			_, e.Objects = no[runnerID]
			return err
		})
		get("footage", func() (err error) { e.Footage, err = s.RunnerFootage(ctx, runnerID); return })
		get("uploads", func() (err error) { e.Uploads, err = s.RunnerUploads(ctx, runnerID); return })
		get("links", func() (err error) { e.Links, err = s.RunnerLinks(ctx, runnerID); return })
		get("trail", func() (err error) { e.Trail, err = s.Entries(ctx, TrailFilter{RunnerID: runnerID}, maxTrail); return })
		return err
	})
	return e, err
}

// JSON gives everything as one indented object.
func (e Everything) JSON() ([]byte, error) {
	data, err := json.MarshalIndent(e, "", "  ")
	if err != nil {
		return nil, fmt.Errorf("everything about a runner as JSON: %w", err)
	}
	return append(data, '\n'), nil
}

package cli

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"plumbstride/internal/form"
	"plumbstride/internal/plan"
	"plumbstride/internal/sound"
	"plumbstride/internal/tempo"
)

// planned is the tempo of one run of a plan.
type planned struct {
	week, session int // from 1
	ask           tempo.Ask
	silent        bool // the run is practised without a beat
}

// name is what the run's track is called, without its ending.
func (p planned) name() string { return fmt.Sprintf("week-%d-run-%d", p.week, p.session) }

// maxPlanBytes is more than any plan's JSON has.
const maxPlanBytes = 4 << 20

// readPlan reads a plan's JSON from a file.
func readPlan(path string) (plan.Plan, error) {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return plan.Plan{}, form.ClipError("there is no file %s; look at its name and folder", path)
	}
	if err != nil {
		return plan.Plan{}, form.ClipError("the plan %s can't be read: %w", path, err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxPlanBytes+1))
	if err != nil {
		return plan.Plan{}, form.ClipError("the plan %s can't be read: %w", path, err)
	}
	p, err := parsePlan(data)
	if err != nil {
		return plan.Plan{}, form.ClipError("%s: %w", path, err)
	}
	return p, nil
}

// parsePlan reads a plan's JSON. An object that is no plan is an error.
func parsePlan(data []byte) (plan.Plan, error) {
	if len(data) > maxPlanBytes {
		return plan.Plan{}, fmt.Errorf("more than %d bytes are no plan", maxPlanBytes)
	}
	var p plan.Plan
	if err := json.Unmarshal(data, &p); err != nil {
		return plan.Plan{}, errors.New("not a plan's JSON; name the plan.json that plumbstride plan --out leaves")
	}
	if len(p.Weeks) == 0 || len(p.Weeks) > 52 || p.Ask.Area == "" {
		return plan.Plan{}, errors.New("not a plan's JSON; name the plan.json that plumbstride plan --out leaves")
	}
	return p, nil
}

// tempos gives the tempo of every practised run of a plan, in order.
func tempos(p plan.Plan) ([]planned, error) {
	if len(p.Steps) == 0 || p.Ask.Cadence == nil {
		return nil, form.ClipError("this plan has no beat: %s", strings.TrimSpace(p.NoSteps))
	}
	var out []planned
	for i, w := range p.Weeks {
		for k, s := range w.Sessions {
			if s.Tempo == nil {
				continue
			}
			run := planned{week: i + 1, session: k + 1, silent: s.Tempo.SharePct == 0}
			run.ask = tempo.Ask{
				Target: tempo.Cadence(s.Tempo.StepsPerMin) * 1000, Own: tempo.Cadence(1000 * p.CadenceBefore(s.Tempo.StepsPerMin)),
				LengthMS: int64(s.PracticeMin) * 60_000, Pattern: tempo.Pattern{Shape: tempo.Steady},
			}
			if s.Tempo.SharePct > 0 && s.Tempo.OffS > 0 {
				run.ask.Pattern = tempo.Pattern{Shape: tempo.OnOff, OnMS: 1000 * int64(s.Tempo.OnS), OffMS: 1000 * int64(s.Tempo.OffS)}
			}
			out = append(out, run)
		}
	}
	return out, nil
}

// fromPlan makes the track of one run of a plan, or of all.
func (v *tempoVerb) fromPlan(e *errand) error {
	if v.Target != 0 || v.From != 0 || v.Minutes != 0 || v.Pattern.Shape != "" || v.LargerSteps {
		return form.UsageError("with --plan the plan says the cadence, the length and the pattern; leave --target, --from, --minutes, --pattern and --larger-steps out")
	}
	p, err := readPlan(v.Plan)
	if err != nil {
		return err
	}
	runs, err := tempos(p)
	if err != nil {
		return err
	}
	if v.Week == 0 && v.Session == 0 {
		return v.every(e, runs)
	}
	for _, run := range runs {
		if run.week != v.Week || run.session != max(1, v.Session) {
			continue
		}
		if run.silent {
			return form.UsageError("run %d of week %d is practised without a beat: find the cadence by feel", run.session, run.week)
		}
		made, err := run.track()
		if err != nil {
			return err
		}
		return v.one(e, made)
	}
	return form.UsageError("the plan has no practice in run %d of week %d; its weeks are 1 to %d", max(1, v.Session), v.Week, len(p.Weeks))
}

// track is the run's tempo track, named after the run.
func (p planned) track() (tempo.Plan, error) {
	made, err := tempo.Make(p.ask)
	if err != nil {
		return made, fmt.Errorf("run %d of week %d: %w", p.session, p.week, err)
	}
	made.Title = fmt.Sprintf("Week %d, run %d. %s", p.week, p.session, made.Title)
	return made, nil
}

// every lists the tracks of a plan, and leaves them in a folder.
func (v *tempoVerb) every(e *errand, runs []planned) error {
	if v.JSON {
		return form.UsageError("--json prints one schedule: name the run with --week and --session")
	}
	var format sound.Format
	if v.Out != "" {
		var err error
		if format, err = sound.FormatOf("x." + v.Format); err != nil {
			return form.UsageError("--format: %w", err)
		}
		if _, err := folder(v.Out); err != nil {
			return err
		}
	}
	p := newProgress(e.Err, columnsOf(e.Err), e.now)
	p.say = e.book
	defer p.end()
	done, total := 0, 0
	for _, run := range runs {
		if !run.silent {
			total++
		}
	}
	t := newTable(columnsOf(e.Out))
	for _, run := range runs {
		if run.silent {
			t.hanging(fmt.Sprintf("  %-14s ", run.name()), v.book.Say("no beat: find %s steps/min by feel", run.ask.Target))
			continue
		}
		made, err := run.track()
		if err != nil {
			return err
		}
		if v.Out != "" {
			tell := func(int64, int64) { p.tell("Tempo tracks", "tracks", done, total) }
			if err := v.write(e, filepath.Join(v.Out, run.name()+"."+v.Format), format, made, tell); err != nil {
				return err
			}
			done++
			p.tell("Tempo tracks", "tracks", done, total)
		}
		says := v.book.Of(made.Title)
		if run.ask.Pattern.Shape != tempo.Steady {
			says += " (" + made.Pattern + ")"
		}
		t.hanging(fmt.Sprintf("  %-14s ", run.name()), says)
	}
	p.end()
	t.b.WriteString("\n")
	t.hanging("", v.book.Say("Start a track when the practised part of the run begins. Pain means stop, and keep an ear free for traffic."))
	if v.Out != "" {
		t.hanging("", v.book.Say("The tracks are in %s.", printable(v.Out)))
	}
	_, err := io.WriteString(e.Out, t.b.String())
	return err
}

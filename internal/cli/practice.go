package cli

import (
	"errors"
	"fmt"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"strings"
	"time"

	"plumbstride/internal/evening"
	"plumbstride/internal/form"
	"plumbstride/internal/practice"
	"plumbstride/internal/quantity"
	"plumbstride/internal/store"
	"plumbstride/internal/words"
)

// practiceVerb reads the files of a runner's watch.
type practiceVerb struct {
	Files []string `arg:"" optional:"" name:"FILE" help:"Activity files (.fit, .gpx, also gzipped), or folders of them."`

	Target  targetFlag `group:"What is practised:" placeholder:"168" help:"The cadence that is practised, in steps a minute, both feet counted."`
	Within  bandFlag   `group:"What is practised:" default:"2.5%" placeholder:"2.5%" help:"How far off the target still counts, to either side; 2.5% unless stated."`
	Tempo   tempoTime  `group:"What is practised:" placeholder:"12min" help:"Of each run named, how long was run with the tempo on, as the runner says; no watch knows it."`
	Cadence string     `group:"The files:" enum:",strides,steps" default:"" placeholder:"strides|steps" help:"What the cadence in the files counts, where it can't be told: the strides of one leg, or steps."`

	Runner string `group:"The records:" placeholder:"NAME" help:"Keep the runs with this runner's records, and report on all that are kept there; without --target, against the runner's plans."`

	JSON bool `group:"The result:" name:"json" help:"Print one JSON object, and nothing else, on standard output."`
	shown
}

// Help stands below the verb's first line in its help.
func (practiceVerb) Help() string {
	return `Tells from a runner's watch what the practice shows: cadence at the runner's own usual speed, week by week with its interval; the minutes within the target's band; and whether cadence has changed at equal speed and grade. Cadence that rises with the pace alone is never called a rise.

Walking, standing and pauses are cut out. A run that lies in two files counts once. Places are used for the speed and are neither kept nor printed. Exit status 3 also tells that no file could be used. With --runner the runs are kept in your records: ask the runner, or a minor's parent or guardian, first.

` + folderHelp + "\n\n" + exitCodes
}

// targetFlag is a cadence in steps a minute.
type targetFlag float64

// UnmarshalText reads "168".
func (c *targetFlag) UnmarshalText(text []byte) error {
	v, err := strconv.ParseFloat(string(text), 64)
	if err != nil {
		return form.UsageError("%q is no cadence; write steps a minute, both feet counted: 168", text)
	}
	if _, err := practice.NewTarget(v, practice.UsualWithin); err != nil {
		return err
	}
	*c = targetFlag(v)
	return nil
}

// bandFlag is a share of the target.
type bandFlag float64

// UnmarshalText reads "2.5%".
func (b *bandFlag) UnmarshalText(text []byte) error {
	v, err := quantity.Percent(string(text))
	if err != nil {
		return err
	}
	if _, err := practice.NewTarget(168, v/100); err != nil {
		return err
	}
	*b = bandFlag(v / 100)
	return nil
}

// tempoTime is a length in minutes.
type tempoTime float64

// UnmarshalText reads "12min".
func (m *tempoTime) UnmarshalText(text []byte) error {
	s, err := quantity.Duration(string(text))
	if err != nil {
		return err
	}
	if s < 0 || s > 12*3600 {
		return form.UsageError("the time with the tempo is between 0min and 720min of a run, and %s is not", text)
	}
	*m = tempoTime(s / 60)
	return nil
}

// taken is what became of one recording.
type taken struct {
	File string `json:"file"`
	// State is taken, walk, twice or refused; Reason is a sentence.
	State  string `json:"state"`
	Reason string `json:"reason"`
	run    *practice.Run
	// start is the day and time of a run that was there already, in an earlier
	// file of the same command or in the records.
	start   time.Time
	earlier bool
}

// says is the reason in the reader's words, with a date as they write it.
func (f taken) says(b words.Book) string {
	switch {
	case f.start.IsZero():
		return b.Of(f.Reason)
	case f.earlier:
		return b.Say("The run of %s is there already, in an earlier file.", b.Moment(f.start))
	default:
		return b.Say("The run of %s is there already.", b.Moment(f.start))
	}
}

// The states.
const (
	isTaken   = "taken"
	isWalk    = "walk"
	isTwice   = "twice"
	isRefused = "refused"
)

// practiced is the object that --json prints.
type practiced struct {
	Program string          `json:"program"`
	Files   []taken         `json:"files"`
	Report  practice.Report `json:"report"`
}

// Run reads the files and tells what they show.
func (v *practiceVerb) Run(e *errand) error {
	if err := v.settle(e); err != nil {
		return err
	}
	target, err := v.target()
	if err != nil {
		return err
	}
	if v.Runner != "" {
		return v.keep(e, target)
	}
	paths, err := activityFiles(v.Files)
	if err != nil {
		return err
	}
	files, err := takeFiles(e, paths, practice.Options{Counts: practice.Unit(v.Cadence), TempoMin: float64(v.Tempo)})
	if err != nil {
		return err
	}
	var runs []practice.Run
	for _, f := range files {
		if f.run != nil {
			runs = append(runs, *f.run)
		}
	}
	if len(runs) == 0 {
		if len(files) == 1 {
			return form.ClipError("%s: %s", files[0].File, files[0].Reason)
		}
		return form.ClipError("none of the %d files could be used; the first, %s: %s", len(files), files[0].File, files[0].Reason)
	}
	return v.print(e, files, practice.Over(runs, practice.Always(target)))
}

// target is the stated one; nil without.
func (v *practiceVerb) target() (*practice.Target, error) {
	if v.Target == 0 {
		return nil, nil
	}
	t, err := practice.NewTarget(float64(v.Target), float64(v.Within))
	return &t, err
}

// keep puts the runs to a runner's records, and reports on all of them.
func (v *practiceVerb) keep(e *errand, target *practice.Target) error {
	var files []taken
	if len(v.Files) > 0 {
		paths, err := activityFiles(v.Files)
		if err != nil {
			return err
		}
		if files, err = takeFiles(e, paths, practice.Options{Counts: practice.Unit(v.Cadence), TempoMin: float64(v.Tempo)}); err != nil {
			return err
		}
	}
	return withRecords(e, func(r *records) error {
		one, err := findRunner(e, r.db, v.Runner)
		if err != nil {
			return err
		}
		s := r.db.By(command())
		if err := keepTaken(e, s, one.ID, files); err != nil {
			return err
		}
		kept, err := evening.PracticeOf(e.ctx, s, one.ID)
		if err != nil {
			return err
		}
		runs := make([]practice.Run, 0, len(kept))
		for _, k := range kept {
			runs = append(runs, k.Run)
		}
		on := practice.Always(target)
		if target == nil {
			if on, err = plannedTarget(e, s, one.ID); err != nil {
				return err
			}
		}
		return v.print(e, listed(files), practice.Over(runs, on))
	})
}

// keepTaken keeps what was read, and says in files what became of it.
func keepTaken(e *errand, s store.Store, runnerID string, files []taken) error {
	for i := range files {
		f := &files[i]
		if f.run == nil || f.State != isTaken {
			continue
		}
		kept, err := evening.KeepRuns(e.ctx, s, runnerID, []evening.Kept{{Run: *f.run, State: evening.KeptNew, Reason: f.Reason}})
		if err != nil {
			return err
		}
		if kept[0].State == evening.KeptTwice {
			f.State, f.Reason, f.start = isTwice, kept[0].Reason, f.run.Start
		}
	}
	return nil
}

// plannedTarget is what a runner's plans ask for on a day.
func plannedTarget(e *errand, s store.Store, runnerID string) (func(time.Time) *practice.Target, error) {
	all, err := s.RunnerPlans(e.ctx, runnerID)
	if err != nil {
		return nil, err
	}
	var planned evening.Planned
	for _, one := range all {
		p, err := evening.PlanOf(one)
		if err != nil {
			return nil, err
		}
		planned = append(planned, p)
	}
	return planned.Target, nil
}

// print writes the report as text or as one object.
func (v *practiceVerb) print(e *errand, files []taken, rep practice.Report) error {
	out := practiced{Program: "plumbstride " + Version, Files: files, Report: rep}
	if v.JSON {
		object, err := indented(out)
		if err != nil {
			return err
		}
		_, err = e.Out.Write(object)
		return err
	}
	_, err := io.WriteString(e.Out, practiceText(out, v.Units, columnsOf(e.Out), v.book))
	return err
}

// maxActivityFiles is more than a runner has in ten years.
const maxActivityFiles = 10_000

// activityFiles gives the files that are named, and those of folders: there
// by their ending, and not what is hidden.
func activityFiles(names []string) ([]string, error) {
	if len(names) == 0 {
		return nil, form.UsageError("name the files of the watch, or a folder of them: plumbstride practice runs/ --target 168")
	}
	var out []string
	for _, name := range names {
		info, err := os.Stat(name)
		if errors.Is(err, fs.ErrNotExist) {
			return nil, form.UsageError("there is no file %s; look at its name and folder", name)
		}
		if err != nil {
			return nil, form.UsageError("%s can't be read: %w", name, err)
		}
		if !info.IsDir() {
			out = append(out, name)
			continue
		}
		err = filepath.WalkDir(name, func(path string, d fs.DirEntry, err error) error {
			if err != nil {
				return err
			}
			if d.Type().IsRegular() && isActivityFile(d.Name()) {
				out = append(out, path)
			}
			if len(out) > maxActivityFiles {
				return form.UsageError("%s holds more than %d activity files; name fewer", name, maxActivityFiles)
			}
			return nil
		})
		if err != nil {
			return nil, form.UsageError("the folder %s: %w", name, err)
		}
	}
	if len(out) == 0 {
		return nil, form.UsageError("no .fit or .gpx file is in %s", strings.Join(names, ", "))
	}
	return out, nil
}

// isActivityFile goes by a file's ending.
func isActivityFile(name string) bool {
	name = strings.TrimSuffix(strings.ToLower(name), ".gz")
	return !strings.HasPrefix(name, ".") && (strings.HasSuffix(name, ".fit") || strings.HasSuffix(name, ".gpx"))
}

// takeFiles reads each file; what can't be used is told with its reason, and
// the others go on.
func takeFiles(e *errand, paths []string, o practice.Options) ([]taken, error) {
	files := []taken{}
	var runs []practice.Run
	for _, path := range paths {
		if err := e.ctx.Err(); err != nil {
			return nil, err
		}
		read, err := readRecordings(e, path, o)
		if err != nil {
			if form.CodeOf(err) == "" {
				return nil, err
			}
			files = append(files, taken{File: path, State: isRefused, Reason: err.Error()})
			continue
		}
		for _, k := range read {
			f := taken{File: path, State: isRefused, Reason: k.Reason}
			switch {
			case k.State != evening.KeptNew && k.Run.Kind == practice.Walking:
				f.State = isWalk
			case k.State != evening.KeptNew:
			case slices.ContainsFunc(runs, func(r practice.Run) bool { return practice.Same(r, k.Run) }):
				f.State, f.start, f.earlier = isTwice, k.Run.Start, true
				f.Reason = f.says(words.Book{})
			default:
				runs = append(runs, k.Run)
				f.State, f.run = isTaken, &k.Run
			}
			files = append(files, f)
		}
	}
	return files, nil
}

func readRecordings(e *errand, path string, o practice.Options) ([]evening.Kept, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, form.ClipError("the file can't be read: %w", err)
	}
	defer f.Close()
	return evening.ReadRecordings(f, o, e.now())
}

// practiceText is the report as the coach reads it.
func practiceText(p practiced, units quantity.Units, columns int, b words.Book) string {
	t := newTable(columns)
	t.units, t.say = units, b
	for _, f := range p.Files {
		if f.State != isTaken {
			t.hanging("  ", printable(f.File)+": "+f.says(b))
		}
	}
	if t.b.Len() > 0 {
		t.b.WriteString("\n")
	}
	rep := p.Report
	t.hanging("", b.Of(rep.Trend.Why))
	t.b.WriteString("\n")
	if len(rep.Runs) > 0 {
		t.baseline(rep)
		t.practiceWeeks(rep)
		t.practiceRuns(rep)
	}
	t.list(b.Say("Take care"), b.Each(rep.Cautions))
	return t.b.String()
}

// baseline writes the runner's own line of cadence on speed.
func (t *tableWriter) baseline(rep practice.Report) {
	b := t.say
	if rep.Target != nil {
		t.hanging("", b.Say("Target: %.0f steps/min; %.1f to %.1f count as in the band.", rep.Target.CadenceSPM, rep.Target.Low, rep.Target.High))
	}
	step := t.units.SpeedStep()
	if l := rep.Baseline; l != nil {
		t.hanging("", b.Say("This runner's own line: %.1f steps/min (%.1f to %.1f) at %s on the level (runs: %d); at %s more %+.1f (%+.1f to %+.1f), at 1 %% uphill %+.1f (%+.1f to %+.1f).",
			l.Cadence.Value, l.Cadence.Low, l.Cadence.High, b.Figures(t.units.Speed(l.SpeedMPS)), l.Runs,
			b.Figures(t.units.Speed(step)), step*l.PerMPS.Value, step*l.PerMPS.Low, step*l.PerMPS.High, l.PerGrade.Value, l.PerGrade.Low, l.PerGrade.High))
	} else {
		t.hanging("", b.Say("No half minute of steady running with a speed is in these runs: cadence at speed can't be told."))
	}
	t.b.WriteString("\n")
}

// interval writes a value with its 95 % interval, or a dash.
func interval(i *practice.Interval, b words.Book) string {
	if i == nil {
		return "–"
	}
	return b.Say("%.1f (%.1f to %.1f)", i.Value, i.Low, i.High)
}

func (t *tableWriter) practiceWeeks(rep practice.Report) {
	b := t.say
	rows := [][]string{{b.Say("Week from"), b.Say("Runs"), b.Say("Running"), b.Say("In the band"), b.Say("With tempo*"), b.Say("Cadence at equal speed†"), b.Say("As it was run")}}
	for _, w := range rep.Weeks {
		band := "–"
		if rep.Target != nil {
			band = b.Say("%d min", minutesOf(w.InBandS))
		}
		tempo := "–"
		if w.TempoMin > 0 {
			tempo = b.Say("%d min", int(math.Round(w.TempoMin)))
		}
		rows = append(rows, []string{
			b.Weekday(w.Monday), fmt.Sprint(w.Runs), b.Say("%d min", minutesOf(w.RunningS)), band, tempo,
			interval(w.AtSpeed, b), t.asRun(w.CadenceSPM, w.SpeedMPS),
		})
	}
	t.columns(rows, []bool{false, true, true, true, true, false, false})
	t.b.WriteString("\n")
	t.hanging("* ", b.Say("as the runner says; a watch doesn't know it"))
	if rep.Baseline != nil {
		t.hanging("† ", b.Say("steps/min at %s on the level, with its 95 %% interval", b.Figures(t.units.Speed(rep.Baseline.SpeedMPS))))
	}
	t.b.WriteString("\n")
}

func (t *tableWriter) practiceRuns(rep practice.Report) {
	b := t.say
	rows := [][]string{{b.Say("Run"), b.Say("Running"), b.Say("Cut out"), b.Say("In the band"), b.Say("As it was run"), b.Say("As on the level")}}
	for _, r := range rep.Runs {
		band := "–"
		if rep.Target != nil {
			band = b.Say("%d min", minutesOf(r.InBandS))
		}
		level := "–"
		if r.LevelSpeedMPS > 0 && r.Graded {
			level = b.Figures(t.units.Speed(r.LevelSpeedMPS))
		}
		rows = append(rows, []string{
			b.Weekday(r.Start), b.Say("%d min", minutesOf(r.RunningS)), b.Say("%d min", minutesOf(r.WalkingS+r.StandingS+r.PausedS+r.OtherS)), band,
			t.asRun(r.RunningCadence, r.SpeedMPS), level,
		})
	}
	t.columns(rows, []bool{false, true, true, true, false, false})
	t.b.WriteString("\n")
	seen := map[string]bool{} // what is true of many runs is said of the first
	for _, r := range rep.Runs {
		if key := string(r.Format) + string(r.Counts); !seen[key] {
			seen[key] = true
			t.hanging("  ", b.Weekday(r.Start)+": "+b.Of(r.Why))
		}
		for _, say := range append([]string{r.GradeWhy}, r.Notes...) {
			if say != "" && !seen[say] {
				seen[say] = true
				t.hanging("  ", b.Weekday(r.Start)+": "+b.Of(say))
			}
		}
	}
	t.b.WriteString("\n")
}

// asRun is a cadence with the speed at which it was run.
func (t *tableWriter) asRun(spm, mps float64) string {
	if spm <= 0 {
		return "–"
	}
	text := t.say.Say("%.0f steps/min", spm)
	if mps > 0 {
		text += ", " + t.say.Figures(t.units.Speed(mps))
	}
	return text
}

func minutesOf(s float64) int { return int(math.Round(s / 60)) }

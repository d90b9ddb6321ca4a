package web

import (
	"errors"
	"html/template"
	"io"
	"math"
	"net/http"
	"strconv"
	"strings"

	"plumbstride/internal/chart"
	"plumbstride/internal/evening"
	"plumbstride/internal/form"
	"plumbstride/internal/plan"
	"plumbstride/internal/practice"
	"plumbstride/internal/roster"
)

// Bounds of what is sent at once.
const (
	maxPracticeFiles = 200
	maxPracticeBytes = 512 << 20
)

// practiceView is what a runner's watch shows, on their page.
type practiceView struct {
	To               string // where files go
	Why              string
	Baseline, Target string
	Cadence, Minutes template.HTML
	// Tempo tells whether minutes with the tempo were stated.
	Tempo, Planned bool
	Weeks          []practiceWeek
	Runs           []practiceRun
	Cautions       []string
	MayAdd         bool
	MayDelete      bool
	// Came is what became of the files that were just sent.
	Came []string
}

// practiceWeek is one week in the table.
type practiceWeek struct {
	Week, Running, InBand, Planned, Tempo, AtSpeed, AsRun string
}

// practiceRun is one run in the list.
type practiceRun struct {
	ID, Day, Says string
	More          []string
}

// practiceSection gathers what the watch shows; nil where nothing may be seen
// of it.
func (v *visit) practiceSection(plans []plan.Plan) (*practiceView, error) {
	if !v.may(roster.See, roster.PracticeKind) {
		return nil, nil
	}
	kept, err := evening.PracticeOf(v.ctx(), v.Store, v.runner.ID)
	if err != nil {
		return nil, err
	}
	p := &practiceView{To: v.practiceAt(), MayAdd: v.may(roster.Add, roster.PracticeKind), MayDelete: v.may(roster.Delete, roster.PracticeKind)}
	runs, ids := make([]practice.Run, 0, len(kept)), map[string]string{}
	for _, k := range kept {
		runs, ids[k.Run.Digest] = append(runs, k.Run), k.ID
	}
	if len(runs) == 0 {
		return p, nil
	}
	planned := evening.Planned(plans)
	rep := practice.Over(runs, planned.Target)
	p.Why, p.Cautions = v.words.Of(rep.Trend.Why), v.words.Each(rep.Cautions)
	v.practiceLine(p, rep)
	v.practiceWeeks(p, rep, planned)
	for i := range rep.Runs {
		r := rep.Runs[len(rep.Runs)-1-i] // the latest first
		p.Runs = append(p.Runs, v.practiceRun(ids[r.Digest], r))
	}
	return p, nil
}

// practiceAt is where the runner's files go.
func (v *visit) practiceAt() string {
	if v.link.ID != "" {
		return "/my/" + v.token + "/practice"
	}
	return "/runner/" + v.runner.ID + "/practice"
}

// practiceLine says the runner's own line, and the target.
func (v *visit) practiceLine(p *practiceView, rep practice.Report) {
	b := v.words
	if t := rep.Target; t != nil {
		p.Target = b.Say("Target of the plan: %.0f steps/min; %.1f to %.1f count as in the band.", t.CadenceSPM, t.Low, t.High)
	}
	step := v.site.Units.SpeedStep()
	if l := rep.Baseline; l != nil {
		p.Baseline = b.Say("Own line: %.1f steps/min (%.1f to %.1f) at %s on the level; %s more makes %+.1f (%+.1f to %+.1f).",
			l.Cadence.Value, l.Cadence.Low, l.Cadence.High, b.Figures(v.site.Units.Speed(l.SpeedMPS)), b.Figures(v.site.Units.Speed(step)), step*l.PerMPS.Value, step*l.PerMPS.Low, step*l.PerMPS.High)
	}
}

// practiceWeeks fills in the table and both drawings.
func (v *visit) practiceWeeks(p *practiceView, rep practice.Report, planned evening.Planned) {
	b := v.words
	var drawn []chart.PracticeWeek
	targets := false
	for _, w := range rep.Weeks {
		minutes := planned.Minutes(w.Monday)
		one := practiceWeek{Week: b.ShortDate(w.Monday), Running: b.Say("%d min", minutesOf(w.RunningS)), InBand: "–", Planned: "–", Tempo: "–", AtSpeed: "–", AsRun: v.asRun(w.CadenceSPM, w.SpeedMPS)}
		d := chart.PracticeWeek{Monday: w.Monday, Running: w.RunningS / 60, Planned: float64(minutes)}
		if w.Target != nil {
			targets = true
			one.InBand, d.InBand, d.Low, d.High = b.Say("%d min", minutesOf(w.InBandS)), w.InBandS/60, w.Target.Low, w.Target.High
		}
		if minutes > 0 {
			p.Planned, one.Planned = true, b.Say("%d min", minutes)
		}
		if w.TempoMin > 0 {
			p.Tempo, one.Tempo = true, b.Say("%d min", int(math.Round(w.TempoMin)))
		}
		if a := w.AtSpeed; a != nil {
			one.AtSpeed = b.Say("%.1f (%.1f to %.1f)", a.Value, a.Low, a.High)
			d.Known, d.Cadence = true, chart.Dated{At: w.Monday, Value: a.Value, Low: a.Low, High: a.High}
		}
		p.Weeks, drawn = append(p.Weeks, one), append(drawn, d)
	}
	if rep.Baseline != nil {
		p.Cadence = template.HTML(chart.PracticeCadence(v.site.letters, drawn, b).SVG("practice-cadence"))
	}
	if targets {
		p.Minutes = template.HTML(chart.PracticeMinutes(v.site.letters, drawn, b).SVG("practice-minutes"))
	}
}

// practiceRun is one run in a line, and what is to be known of it.
func (v *visit) practiceRun(id string, r practice.Line) practiceRun {
	b := v.words
	out := practiceRun{ID: id, Day: b.Weekday(r.Start), Says: b.Say("%d min", minutesOf(r.RunningS)) + ", " + v.asRun(r.RunningCadence, r.SpeedMPS)}
	if r.Target != nil {
		out.More = append(out.More, b.Say("%d min in the band of %.0f steps/min.", minutesOf(r.InBandS), r.Target.CadenceSPM))
	}
	if cut := r.WalkingS + r.StandingS + r.PausedS + r.OtherS; minutesOf(cut) > 0 {
		out.More = append(out.More, b.Say("%d min of walking, standing and pauses were cut out.", minutesOf(cut)))
	}
	if r.LevelSpeedMPS > 0 && r.Graded {
		out.More = append(out.More, b.Say("With its ups and downs it cost as much as %s on the level.", b.Figures(v.site.Units.Speed(r.LevelSpeedMPS))))
	}
	if r.TempoMin > 0 {
		out.More = append(out.More, b.Say("%d min with the tempo on, as the runner said.", int(math.Round(r.TempoMin))))
	}
	for _, say := range append([]string{r.Why, r.GradeWhy}, r.Notes...) {
		if say != "" {
			out.More = append(out.More, b.Of(say))
		}
	}
	return out
}

func (v *visit) asRun(spm, mps float64) string {
	if spm <= 0 {
		return "–"
	}
	text := v.words.Say("%.0f steps/min", spm)
	if mps > 0 {
		text += ", " + v.words.Figures(v.site.Units.Speed(mps))
	}
	return text
}

func minutesOf(s float64) int { return int(math.Round(s / 60)) }

// addPractice takes files of a runner's watch.
func (v *visit) addPractice() error {
	v.r.Body = http.MaxBytesReader(v.w, v.r.Body, maxPracticeBytes)
	came, err := v.practiceFiles()
	p, pageErr := v.runnerPageOf()
	if pageErr != nil {
		return pageErr
	}
	if p.Practice != nil {
		p.Practice.Came = came
	}
	if err != nil {
		return v.again(err, "runner", v.runner.Name, p)
	}
	return v.show("runner", v.runner.Name, p)
}

// sentFile is one file of the form with what was read in it.
type sentFile struct {
	name string
	read []evening.Kept
	err  error
}

// practiceFiles reads the form and keeps its runs, and says of each recording
// what became of it.
func (v *visit) practiceFiles() ([]string, error) {
	files, o, agreed, err := v.readPracticeForm()
	switch {
	case err != nil:
		return nil, err
	case len(files) == 0:
		return nil, form.UsageError("no file was chosen; go back and choose the watch's files")
	case !agreed:
		return nil, form.UsageError("nothing was kept: the runner must agree that the numbers are kept; tick the box")
	}
	var said []string
	for _, f := range files {
		if f.err != nil {
			said = append(said, f.name+": "+v.words.Of(sentence(f.err)))
			continue
		}
		for i := range f.read {
			f.read[i].Run.TempoMin = o.TempoMin
		}
		kept, err := evening.KeepRuns(v.ctx(), v.Store, v.runner.ID, f.read)
		if err != nil {
			return said, err
		}
		for _, k := range kept {
			says := v.words.Of(sentence(errors.New(k.Reason)))
			switch k.State {
			case evening.KeptNew:
				says = v.words.Say("kept, %s.", v.words.Moment(k.Run.Start)) + " " + v.words.Of(k.Reason)
			case evening.KeptTwice:
				says = v.words.Say("The run of %s is there already.", v.words.Moment(k.Run.Start))
			}
			said = append(said, f.name+": "+says)
		}
	}
	return said, nil
}

// readPracticeForm reads the fields and files of the form, in whatever order
// they come.
func (v *visit) readPracticeForm() (files []sentFile, o practice.Options, agreed bool, err error) {
	broke := func(err error) error {
		if _, big := errors.AsType[*http.MaxBytesError](err); big {
			return form.UsageError("these files are more than %d MB together; send fewer at a time", maxPracticeBytes>>20)
		}
		return form.UsageError("the files broke off on their way; send them again: %w", err)
	}
	parts, err := v.r.MultipartReader()
	if err != nil {
		return nil, o, false, form.UsageError("the form came without a file; choose one")
	}
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			return files, o, agreed, nil
		}
		if err != nil {
			return nil, o, false, broke(err)
		}
		if part.FormName() == "file" {
			if part.FileName() == "" {
				continue
			}
			if len(files) >= maxPracticeFiles {
				return nil, o, false, form.UsageError("these are more than %d files; send fewer at a time", maxPracticeFiles)
			}
			f := sentFile{name: fileName(part.FileName())}
			f.read, f.err = evening.ReadRecordings(part, o, v.site.Now())
			if f.err != nil && form.CodeOf(f.err) == "" {
				return nil, o, false, f.err
			}
			files = append(files, f)
			continue
		}
		text, err := io.ReadAll(io.LimitReader(part, 100))
		if err != nil {
			return nil, o, false, broke(err)
		}
		if err := practiceField(part.FormName(), strings.TrimSpace(string(text)), &o, &agreed); err != nil {
			return nil, o, false, err
		}
	}
}

// practiceField takes one field that is no file. The choice of what the
// cadence counts stands before the files in the form.
func practiceField(name, text string, o *practice.Options, agreed *bool) error {
	switch name {
	case "agreed":
		*agreed = text != ""
	case "counts":
		if u := practice.Unit(text); u == practice.Strides || u == practice.Steps {
			o.Counts = u
		}
	case "tempo":
		if text == "" {
			return nil
		}
		n, err := strconv.ParseFloat(strings.Replace(text, ",", ".", 1), 64)
		if err != nil || !(n >= 0 && n <= 720) {
			return form.UsageError("the minutes with tempo are a number from 0 to 720, and %q is not", text)
		}
		o.TempoMin = n
	}
	return nil
}

// removePractice deletes one kept run.
func (v *visit) removePractice() error {
	if err := v.RemoveActivity(v.ctx(), v.activity.ID); err != nil {
		return err
	}
	return v.seeOther(strings.TrimSuffix(v.practiceAt(), "/practice") + "#practice")
}

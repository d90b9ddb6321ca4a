package cli

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"plumbstride/internal/calendar"
	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/paper"
	"plumbstride/internal/plan"
	"plumbstride/internal/plan/drills"
	"plumbstride/internal/quantity"
)

// planVerb makes a plan from a check's JSON.
type planVerb struct {
	From string `group:"The check:" required:"" placeholder:"check.json" help:"The check's JSON, as check --out or --json gives it."`
	Area string `group:"The check:" enum:",alignment,landing,cadence,lean,bounce,symmetry" default:"" placeholder:"AREA" help:"Plan for this area instead of the check's priority: your own choice as the coach."`

	Usual    weekFlag   `group:"The runner, asked by you:" required:"" placeholder:"120min" help:"The running of the runner's usual week: 120min."`
	Sessions int        `group:"The runner, asked by you:" default:"3" placeholder:"3" help:"How many runs make that week, 1 to 7; 3 unless stated."`
	Start    plan.Date  `group:"The runner, asked by you:" required:"" placeholder:"2026-03-02" help:"The first day of the plan."`
	Weeks    int        `group:"The runner, asked by you:" default:"6" placeholder:"6" help:"How long, 4 to 8 weeks; 6 unless stated."`
	Health   healthFlag `group:"The runner, asked by you:" required:"" placeholder:"none|…" help:"What the runner said yes to, of the questions above: none, or the words, with commas between."`
	Note     string     `group:"The runner, asked by you:" placeholder:"TEXT" help:"Your note, where an answer stops a plan: who agreed to what."`

	Drills string `group:"The result:" placeholder:"DIR" help:"Add the drills in this folder to the catalogue."`
	Out    string `group:"The result:" placeholder:"DIR" help:"Leave plan.html, plan.pdf, plan.txt, plan.json and plan.ics in this folder."`
	JSON   bool   `group:"The result:" name:"json" help:"Print one JSON object, and nothing else, on standard output."`
	shown
}

// Help stands below the verb's first line in its help.
func (planVerb) Help() string {
	var b strings.Builder
	b.WriteString("Ask these questions first. With a yes to any but the last no plan is made without your note.\n\n")
	for _, q := range plan.Questions() {
		fmt.Fprintf(&b, "    %-16s %s\n", healthWord(q.Reason), q.Asks)
	}
	b.WriteString("\nNot a medical device: a plan takes no clinician's place, and promises nothing about injuries. Exit status 3 also tells that this check, or an answer without a note, gives no plan.\n\n")
	return b.String() + exitCodes
}

// healthFlag is what the runner answered.
type healthFlag plan.Health

// UnmarshalText reads "none", or words with commas between.
func (h *healthFlag) UnmarshalText(text []byte) error {
	answers := healthFlag{Asked: true, Yes: []plan.Reason{}}
	if !strings.EqualFold(string(text), "none") {
		for word := range strings.SplitSeq(strings.ToLower(string(text)), ",") {
			word = strings.TrimSpace(word)
			i := slices.IndexFunc(plan.Questions(), func(q plan.Question) bool { return healthWord(q.Reason) == word })
			if i < 0 {
				return form.UsageError("%q is not an answer; write none, or any of %s", word, strings.Join(healthWords(), ", "))
			}
			if r := plan.Questions()[i].Reason; !slices.Contains(answers.Yes, r) {
				answers.Yes = append(answers.Yes, r)
			}
		}
	}
	*h = answers
	return nil
}

// healthWord is an answer's word on the command line: "pain-now".
func healthWord(r plan.Reason) string { return strings.ReplaceAll(string(r), "_", "-") }

func healthWords() []string {
	var words []string
	for _, q := range plan.Questions() {
		words = append(words, healthWord(q.Reason))
	}
	return words
}

// weekFlag is the running of a usual week in minutes.
type weekFlag float64

// UnmarshalText reads "120min".
func (w *weekFlag) UnmarshalText(text []byte) error {
	seconds, err := quantity.Duration(string(text))
	if err != nil {
		return err
	}
	*w = weekFlag(seconds / 60)
	return nil
}

// The names of what --out leaves in its folder.
const (
	planPageName     = "plan.html"
	planSheetName    = "plan.pdf"
	planTextName     = "plan.txt"
	planObjectName   = "plan.json"
	planCalendarName = "plan.ics"
)

// Run makes the plan and leaves what was asked for.
func (v *planVerb) Run(e *errand) error {
	if err := v.settle(e); err != nil {
		return err
	}
	c, err := readCard(v.From)
	if err != nil {
		return err
	}
	if c.Kind == card.Standing {
		return form.ClipError("%s is a check of somebody standing; a plan is made from the check of a run", printable(v.From))
	}
	catalogue, err := catalogueWith(v.Drills)
	if err != nil {
		return err
	}
	ask, err := v.ask(c)
	if err != nil {
		return err
	}
	p, err := plan.Make(ask, catalogue)
	if form.CodeOf(err) == form.CodeClip && strings.Contains(err.Error(), "write a note") {
		return form.ClipError("%w (--note \"TEXT\")", err)
	}
	if err != nil {
		return err
	}
	object, err := indented(p)
	if err != nil {
		return err
	}
	if err := v.leave(e, p, catalogue, object); err != nil {
		return err
	}
	if v.JSON {
		_, err := e.Out.Write(object)
		return err
	}
	_, err = io.WriteString(e.Out, planText(p, v.Units, columnsOf(e.Out), v.book))
	return err
}

func (v *planVerb) ask(c card.Card) (plan.Ask, error) {
	ask, err := plan.FromCard(c, v.Area)
	if err != nil {
		return ask, err
	}
	ask.UsualWeekMin, ask.RunsPerWeek = float64(v.Usual), v.Sessions
	ask.Weeks, ask.Start, ask.Health, ask.Note = v.Weeks, v.Start, plan.Health(v.Health), v.Note
	return ask, nil
}

// leave writes the files of --out, all made before the first is written.
func (v *planVerb) leave(e *errand, p plan.Plan, catalogue plan.Catalogue, object []byte) error {
	if v.Out == "" {
		return nil
	}
	days, err := calendar.Write(p, "plumbstride "+Version, e.now(), v.Units, v.book)
	if err != nil {
		return err
	}
	options := paper.PlanOptions{
		Page: paper.Page(v.Page), Units: v.Units, Words: v.book, Drills: p.Uses(catalogue),
		Program: "plumbstride " + Version, Made: e.now(),
	}
	var page, sheets bytes.Buffer
	if err := paper.PlanHTML(&page, p, options); err != nil {
		return err
	}
	if err := paper.PlanPDF(&sheets, p, options); err != nil {
		return err
	}
	files := []file{
		{filepath.Join(v.Out, planPageName), page.Bytes()},
		{filepath.Join(v.Out, planSheetName), sheets.Bytes()},
		{filepath.Join(v.Out, planTextName), []byte(planText(p, v.Units, 0, v.book))},
		{filepath.Join(v.Out, planObjectName), object},
		{filepath.Join(v.Out, planCalendarName), days},
	}
	if err := spareFrom(v.From, files); err != nil {
		return err
	}
	if _, err := folder(v.Out); err != nil {
		return err
	}
	return publishAll(files)
}

// spareFrom refuses results that would overwrite what they are made from.
func spareFrom(from string, files []file) error {
	source, err := os.Stat(from)
	if err != nil {
		return form.UsageError("%s can't be read: %w", from, err)
	}
	for _, f := range files {
		if there, err := os.Stat(f.path); err == nil && os.SameFile(source, there) {
			return form.UsageError("the result %s would overwrite the check; name another folder", f.path)
		}
	}
	return nil
}

// maxCardBytes is more than any check's JSON has.
const maxCardBytes = 16 << 20

// readCard reads a check's JSON from a file.
func readCard(path string) (card.Card, error) {
	f, err := os.Open(path)
	if errors.Is(err, fs.ErrNotExist) {
		return card.Card{}, form.ClipError("there is no file %s; look at its name and folder", path)
	}
	if err != nil {
		return card.Card{}, form.ClipError("the check %s can't be read: %w", path, err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxCardBytes+1))
	if err != nil {
		return card.Card{}, form.ClipError("the check %s can't be read: %w", path, err)
	}
	c, err := parseCard(data)
	if err != nil {
		return card.Card{}, form.ClipError("%s: %w", path, err)
	}
	return c, nil
}

// parseCard reads a check's JSON. An object that is no check is an error.
func parseCard(data []byte) (card.Card, error) {
	var c card.Card
	if len(data) > maxCardBytes {
		return c, fmt.Errorf("more than %d bytes are no check", maxCardBytes)
	}
	if err := json.Unmarshal(data, &c); err != nil {
		return card.Card{}, errors.New("not a check's JSON; name the check.json that plumbstride check --out leaves")
	}
	if c.Program == "" || len(c.Areas) == 0 {
		return card.Card{}, errors.New("not a check's JSON; name the check.json that plumbstride check --out leaves")
	}
	return c, nil
}

// catalogueWith gives the program's own drills, and those of a folder added.
func catalogueWith(dir string) (plan.Catalogue, error) {
	own, err := plan.Load(drills.Files())
	if err != nil {
		return own, fmt.Errorf("the program's own drills: %w", err)
	}
	if dir == "" {
		return own, nil
	}
	if info, err := os.Stat(dir); err != nil || !info.IsDir() {
		return own, form.UsageError("--drills %s is not a folder", dir)
	}
	more, err := plan.Load(os.DirFS(dir))
	if err != nil {
		return own, err
	}
	all, err := own.With(more)
	if err != nil {
		return own, form.UsageError("--drills %s: %w", dir, err)
	}
	return all, nil
}

package plan

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path"
	"regexp"
	"slices"
	"strings"
	"unicode"
	"unicode/utf8"

	"plumbstride/internal/form"
	"plumbstride/internal/judge"
	"plumbstride/internal/stick"
)

// NoSource is what a rule of thumb says in place of a source.
const NoSource = "common practice, no source"

// Areas gives the six areas in the order in which they are shown.
func Areas() []string {
	return []string{judge.Alignment, judge.Landing, judge.Cadence, judge.Lean, judge.Bounce, judge.Symmetry}
}

// Drill is one exercise of the catalogue.
type Drill struct {
	// ID is the drill's name in files and commands: letters, digits, hyphens.
	ID   string `json:"id" jsonschema:"pattern=^[a-z0-9]+(-[a-z0-9]+)*$"`
	Area string `json:"area" jsonschema:"enum=alignment,enum=landing,enum=cadence,enum=lean,enum=bounce,enum=symmetry"`
	// Title is the ordinary name.
	Title string `json:"title"`
	// Stage is 1 for where to begin, 2 and 3 for later weeks.
	Stage int `json:"stage" jsonschema:"minimum=1,maximum=3"`
	// When tells where in a session it belongs: before the run, within it, or
	// on a day of its own.
	When string `json:"when" jsonschema:"enum=before,enum=within,enum=apart"`
	// Minutes is how long one dose takes.
	Minutes int    `json:"minutes" jsonschema:"minimum=1,maximum=15"`
	Purpose string `json:"purpose"`
	// How are the steps, in order.
	How  []string `json:"how"`
	Dose string   `json:"dose"`
	// Cue is one short thought to run with.
	Cue  string `json:"cue"`
	Feel string `json:"feel"`
	// Mistakes are what often goes wrong, and what to do instead.
	Mistakes []string `json:"mistakes"`
	// NotFor says in words who should leave it.
	NotFor []string `json:"not_for"`
	// Suits are the findings that the drill is for, as "trunk_lean:below"; with
	// none it is for every finding of its area.
	Suits []string `json:"suits,omitempty"`
	// NotWith are the answers to the health questions with which the drill is
	// left out of a plan.
	NotWith []Reason `json:"not_with,omitempty"`
	// Loads tells that it works the calf, the Achilles tendon and the
	// forefoot harder than easy running does.
	Loads    bool     `json:"loads_calf,omitempty"`
	Evidence Evidence `json:"evidence"`
	Picture  Picture  `json:"picture"`
}

// Evidence is how well a drill's purpose is backed.
type Evidence struct {
	// Level is "trial" (tried over weeks), "laboratory" (measured within a
	// session, or across runners) or "practice" (nobody's measurement).
	Level string `json:"level" jsonschema:"enum=trial,enum=laboratory,enum=practice"`
	// Says is what was found, and what was not.
	Says string `json:"says"`
	// Source names the papers, or says "common practice, no source".
	Source string `json:"source"`
}

// Picture is the line drawing: one to three poses, and the same in words.
type Picture struct {
	Alt   string       `json:"alt"`
	Poses []stick.Pose `json:"poses"`
}

// Catalogue is a set of drills, by area and stage; IDs are unique.
type Catalogue struct{ drills []Drill }

// drillFile is one file of a catalogue.
type drillFile struct {
	Drills []Drill `json:"drills"`
}

// Schema is the shape of a file of drills, for those who describe it.
func Schema() any { return drillFile{} }

// The limits of a folder of drills: more is no catalogue.
const (
	maxDrillBytes = 1 << 20
	maxDrillFiles = 200
	maxDrills     = 1000
)

// Load reads every .json file at the root of fsys, each an object with the
// list "drills", and checks every drill. An error names the file and the
// drill and is a form.Error of usage.
func Load(fsys fs.FS) (Catalogue, error) {
	names, err := fs.Glob(fsys, "*.json")
	if err != nil {
		return Catalogue{}, form.UsageError("the folder of drills can't be read: %w", err)
	}
	if len(names) == 0 {
		return Catalogue{}, form.UsageError("the folder of drills can't be read, or holds no .json file")
	}
	if len(names) > maxDrillFiles {
		return Catalogue{}, form.UsageError("the folder holds %d files of drills; at most %d are read", len(names), maxDrillFiles)
	}
	slices.Sort(names)
	var c Catalogue
	for _, name := range names {
		drills, err := loadFile(fsys, name)
		if err != nil {
			return Catalogue{}, err
		}
		if c, err = c.With(Catalogue{drills}); err != nil {
			return Catalogue{}, form.UsageError("%s: %w", path.Base(name), err)
		}
	}
	return c, nil
}

func loadFile(fsys fs.FS, name string) ([]Drill, error) {
	f, err := fsys.Open(name)
	if err != nil {
		return nil, form.UsageError("the drills in %s can't be read: %w", name, err)
	}
	defer f.Close()
	data, err := io.ReadAll(io.LimitReader(f, maxDrillBytes+1))
	if err != nil {
		return nil, form.UsageError("the drills in %s can't be read: %w", name, err)
	}
	drills, err := parseDrills(data)
	if err != nil {
		return nil, form.UsageError("%s: %w", name, err)
	}
	return drills, nil
}

// parseDrills reads one file of drills. Fields that aren't known are errors,
// so that a slip of the pen is not lost in silence.
func parseDrills(data []byte) ([]Drill, error) {
	if len(data) > maxDrillBytes {
		return nil, fmt.Errorf("more than %d bytes; split it into several files", maxDrillBytes)
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	var file drillFile
	if err := dec.Decode(&file); err != nil {
		return nil, fmt.Errorf("not a file of drills (%w); see docs/drills.schema.json", err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return nil, errors.New("something follows the object with the drills; keep one object a file")
	}
	if len(file.Drills) == 0 {
		return nil, errors.New(`no drills; write them as {"drills": [ … ]}`)
	}
	for i, d := range file.Drills {
		if err := d.check(); err != nil {
			return nil, fmt.Errorf("drill %d (%.40q): %w", i+1, d.ID, err)
		}
	}
	return file.Drills, nil
}

// With adds the drills of another catalogue. An ID that is there already is
// an error.
func (c Catalogue) With(more Catalogue) (Catalogue, error) {
	all := slices.Concat(c.drills, more.drills)
	if len(all) > maxDrills {
		return Catalogue{}, fmt.Errorf("%d drills, more than the %d that are kept", len(all), maxDrills)
	}
	seen := map[string]bool{}
	for _, d := range all {
		if seen[d.ID] {
			return Catalogue{}, fmt.Errorf("the id %q is there twice; give one of the two another", d.ID)
		}
		seen[d.ID] = true
	}
	areas := Areas()
	slices.SortStableFunc(all, func(a, b Drill) int {
		if a.Area != b.Area {
			return slices.Index(areas, a.Area) - slices.Index(areas, b.Area)
		}
		return a.Stage - b.Stage
	})
	return Catalogue{all}, nil
}

// All gives every drill, by area and stage.
func (c Catalogue) All() []Drill { return slices.Clone(c.drills) }

// Area gives the drills of one area, by stage.
func (c Catalogue) Area(area string) []Drill {
	return slices.DeleteFunc(c.All(), func(d Drill) bool { return d.Area != area })
}

// Find gives the drill with an ID.
func (c Catalogue) Find(id string) (Drill, bool) {
	i := slices.IndexFunc(c.drills, func(d Drill) bool { return d.ID == id })
	if i < 0 {
		return Drill{}, false
	}
	return c.drills[i], true
}

// Figures gives the poses of a drill's picture, worked out.
func (d Drill) Figures() []stick.Figure {
	var figures []stick.Figure
	for _, p := range d.Picture.Poses {
		figures = append(figures, stick.Solve(p))
	}
	return figures
}

var (
	idShape = regexp.MustCompile(`^[a-z0-9]+(-[a-z0-9]+)*$`)
	year    = regexp.MustCompile(`\b(19|20)\d\d\b`)
)

// check tells what is wrong with a drill.
func (d Drill) check() error {
	switch {
	case len(d.ID) > 60 || !idShape.MatchString(d.ID):
		return errors.New(`"id" is small letters, digits and single hyphens, at most 60`)
	case !slices.Contains(Areas(), d.Area):
		return fmt.Errorf(`"area" is one of %s`, strings.Join(Areas(), ", "))
	case d.Stage < 1 || d.Stage > 3:
		return errors.New(`"stage" is 1, 2 or 3`)
	case d.When != "before" && d.When != "within" && d.When != "apart":
		return errors.New(`"when" is before, within or apart`)
	case d.Minutes < 1 || d.Minutes > 15:
		return errors.New(`"minutes" is 1 to 15`)
	}
	for _, t := range []struct {
		field string
		texts []string
		max   int
	}{
		{"title", []string{d.Title}, 60}, {"purpose", []string{d.Purpose}, 400}, {"how", d.How, 400},
		{"dose", []string{d.Dose}, 200}, {"cue", []string{d.Cue}, 60}, {"feel", []string{d.Feel}, 300},
		{"mistakes", d.Mistakes, 300}, {"not_for", d.NotFor, 300},
		{"evidence.says", []string{d.Evidence.Says}, 400}, {"evidence.source", []string{d.Evidence.Source}, 400},
		{"picture.alt", []string{d.Picture.Alt}, 500},
	} {
		if err := texts(t.field, t.texts, t.max); err != nil {
			return err
		}
	}
	for _, r := range d.NotWith {
		if !slices.Contains(append(Reasons(), CalfTrouble), r) {
			return fmt.Errorf(`"not_with" knows %v, not %.30q`, append(Reasons(), CalfTrouble), r)
		}
	}
	for _, s := range d.Suits {
		measure, side, _ := strings.Cut(s, ":")
		if r, ok := judge.Find(measure); !ok || r.Area != d.Area || (side != "below" && side != "above") {
			return fmt.Errorf(`"suits" names a measure of the area and below or above, as "cadence:below", not %.40q`, s)
		}
	}
	if err := d.Evidence.check(); err != nil {
		return err
	}
	return d.Picture.check()
}

// texts checks one field: 1 to 12 texts that are not empty, not too long and
// hold no control characters.
func texts(field string, list []string, limit int) error {
	if len(list) == 0 || len(list) > 12 {
		return fmt.Errorf("%q needs one text or several, at most 12", field)
	}
	for _, text := range list {
		switch n := utf8.RuneCountInString(text); {
		case strings.TrimSpace(text) == "":
			return fmt.Errorf("%q is empty", field)
		case n > limit:
			return fmt.Errorf("%q has %d characters, more than %d", field, n, limit)
		case strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) }) || !utf8.ValidString(text):
			return fmt.Errorf("%q holds characters that can't be printed", field)
		}
	}
	return nil
}

// check holds the source to the level: a measurement names its paper and
// year, practice says that there is none.
func (e Evidence) check() error {
	switch e.Level {
	case "practice":
		if e.Source != NoSource {
			return fmt.Errorf(`"evidence.source" of the level practice is %q`, NoSource)
		}
	case "trial", "laboratory":
		if !year.MatchString(e.Source) {
			return fmt.Errorf(`"evidence.source" names paper and year for the level %s`, e.Level)
		}
	default:
		return errors.New(`"evidence.level" is trial, laboratory or practice`)
	}
	return nil
}

func (p Picture) check() error {
	if len(p.Poses) < 1 || len(p.Poses) > 3 {
		return errors.New(`"picture.poses" are one to three`)
	}
	for i, pose := range p.Poses {
		if err := texts("caption", []string{pose.Caption}, 60); err != nil {
			return fmt.Errorf("pose %d: %w", i+1, err)
		}
		if len(pose.Props) > 6 {
			return fmt.Errorf("pose %d: more than 6 props", i+1)
		}
		if err := pose.Check(); err != nil {
			return fmt.Errorf("pose %d: %w", i+1, err)
		}
	}
	return nil
}

// WhenWords tells where in a session the drill belongs.
func (d Drill) WhenWords() string {
	return map[string]string{"before": "before a run", "within": "within a run", "apart": "on days without practice"}[d.When]
}

// LevelWords tells what the level of the evidence means.
func (e Evidence) LevelWords() string {
	return map[string]string{
		"trial": "tried over weeks", "laboratory": "measured in a laboratory", "practice": "common practice",
	}[e.Level]
}

// LoadsWords is what must be said with a drill that loads the calf.
const LoadsWords = "It loads calf, Achilles tendon and forefoot: leave it when they are sore, and begin with half."

// NotForWords gives whom the drill is not for, with what its load asks for.
func (d Drill) NotForWords() []string {
	if !d.Loads {
		return d.NotFor
	}
	return append(slices.Clone(d.NotFor), LoadsWords)
}

package cli

import (
	"encoding/json"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"io"
	"maps"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/alecthomas/kong"
	"github.com/google/go-cmp/cmp"

	"plumbstride/internal/card"
	"plumbstride/internal/explain"
	"plumbstride/internal/form"
	"plumbstride/internal/handout"
	"plumbstride/internal/judge"
	"plumbstride/internal/measure"
	"plumbstride/internal/plan"
	"plumbstride/internal/quantity"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/words"
)

// sayLiteral is a message in a template, sayInScript one in a page's script.
var (
	sayLiteral  = regexp.MustCompile(`(?:\.Say|\bsay) ("(?:[^"\\]|\\.)*")`)
	sayInScript = regexp.MustCompile(`\bsay\((?:'([^'\\]*)'|"([^"\\]*)")`)
)

// said are the messages that code and templates give to Say, with the place
// of each.
func said(t *testing.T) map[string]string {
	t.Helper()
	found := map[string]string{}
	root := filepath.Join("..")
	err := filepath.WalkDir(root, func(path string, d os.DirEntry, err error) error {
		switch {
		case err != nil || d.IsDir():
			return err
		case strings.HasSuffix(path, ".html"):
			text, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			for _, m := range sayLiteral.FindAllStringSubmatch(string(text), -1) {
				message, err := strconv.Unquote(m[1])
				if err != nil {
					return fmt.Errorf("%s: %s: %w", path, m[1], err)
				}
				found[message] = path
			}
			return nil
		case strings.HasSuffix(path, ".js"):
			text, err := os.ReadFile(path)
			if err != nil {
				return err
			}
			for _, m := range sayInScript.FindAllStringSubmatch(string(text), -1) {
				found[m[1]+m[2]] = path
			}
			return nil
		case !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go"):
			return nil
		}
		file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
		if err != nil {
			return err
		}
		ast.Inspect(file, func(n ast.Node) bool {
			call, ok := n.(*ast.CallExpr)
			if !ok || len(call.Args) == 0 {
				return true
			}
			sel, ok := call.Fun.(*ast.SelectorExpr)
			if !ok || !slices.Contains(sayers, sel.Sel.Name) && !complains(path, sel) {
				return true
			}
			if message, ok := literal(call.Args[0]); ok {
				message = strings.ReplaceAll(message, "%w", "%s")
				found[message] = path
			}
			return true
		})
		return nil
	})
	if err != nil {
		t.Fatal(err)
	}
	return found
}

// sayers are the functions that take a message: Say itself, and those of
// package form, whose sentences a reader is shown by Of.
var sayers = []string{"Say", "UsageError", "ClipError", "MissingError"}

// complaining are the packages whose plain errors a reader is shown.
var complaining = []string{"account", "plan", "roster", "store", "supply"}

// complains tells a plain error of a package whose errors a reader is shown.
func complains(path string, sel *ast.SelectorExpr) bool {
	name := sel.Sel.Name
	from, ok := sel.X.(*ast.Ident)
	return ok && (from.Name == "fmt" && name == "Errorf" || from.Name == "errors" && name == "New") && slices.Contains(complaining, filepath.Base(filepath.Dir(path)))
}

// literal is a string that stands in the code, in one piece or several.
func literal(e ast.Expr) (string, bool) {
	switch v := e.(type) {
	case *ast.BasicLit:
		text, err := strconv.Unquote(v.Value)
		return text, v.Kind == token.STRING && err == nil
	case *ast.BinaryExpr:
		left, ok := literal(v.X)
		right, too := literal(v.Y)
		return left + right, ok && too
	}
	return "", false
}

// told are the texts that stand in tables, as a runner or coach reads them.
func told(t *testing.T) map[string]string {
	t.Helper()
	found := map[string]string{}
	add := func(where string, texts ...string) {
		for _, text := range texts {
			if text != "" {
				found[text] = where
			}
		}
	}
	catalogue, err := catalogueWith("")
	if err != nil {
		t.Fatal(err)
	}
	for _, d := range catalogue.All() {
		add("drill "+d.ID, d.Title, d.Purpose, d.Dose, d.Cue, d.Feel, d.Evidence.Says, d.Picture.Alt, d.WhenWords(), d.When, d.Evidence.LevelWords())
		add("drill "+d.ID, slices.Concat(d.How, d.Mistakes, d.NotForWords())...)
		for _, p := range d.Picture.Poses {
			add("drill "+d.ID, p.Caption)
		}
	}
	for _, r := range slices.Concat(judge.Rows(), judge.StandingRows()) {
		add("band of "+r.Measure, r.Title, r.Below.Says, r.Below.Do, r.Above.Says, r.Above.Do)
	}
	for _, c := range slices.Concat(judge.Cautions(), judge.StandingCautions(), judge.WalkingCautions(), judge.PracticeCautions()) {
		add("caution", c.Text)
	}
	add("cadence", judge.CadenceNote)
	addHelp(add)
	for _, s := range []store.CheckState{store.Waiting, store.Ready, store.Refused, store.Failed} {
		add("state of a check", string(s))
	}
	for _, k := range []store.CheckKind{store.Running, store.Standing} {
		add("kind of a check", string(k))
	}
	for _, r := range []roster.Role{roster.Coach, roster.Helper} {
		add("role", string(r))
	}
	for _, p := range []string{card.InitialContact, card.Loading, card.MidStance, card.ToeOff, card.Flight} {
		add("phase", p)
	}
	for j := range form.Joint(form.NumJoints) {
		add("point", j.Point().String())
	}
	for _, d := range slices.Concat(measure.Table(), measure.StandingTable()) {
		add("measure "+d.Name, d.Title, d.Meaning)
	}
	add("area", plan.Areas()...)
	for _, q := range plan.Questions() {
		add("question", q.Asks, q.Name)
	}
	for _, b := range plan.PainRule() {
		add("pain rule", b.Do, b.Source)
	}
	add("stop for", plan.StopFor()...)
	add("what if", plan.WhatIfNotes()...)
	for _, e := range plan.WhatIf(160)[0].Effects {
		add("what if", e.Title)
	}
	topics, err := handout.Choose(nil)
	if err != nil {
		t.Fatal(err)
	}
	for _, topic := range topics {
		add("handout", topic.What, topic.Try, topic.Tells, topic.Not, topic.Alt)
	}
	for _, pose := range handout.Stride() {
		add("handout", pose.Caption)
	}
	add("handout", slices.Concat(handout.Filming(quantity.Metric), handout.Filming(quantity.US))...)
	add("handout", handout.Cautions()...)
	return found
}

// addHelp adds the words of every command's help, and those with which the
// parser refuses.
func addHelp(add func(string, ...string)) {
	add("help", helpWords...)
	add("parser", parseTells...)
	var walk func(*kong.Node)
	walk = func(n *kong.Node) {
		where := "help of " + n.FullPath()
		add(where, strings.Split(n.Help, "\n\n")...)
		add(where, strings.Split(n.Detail, "\n\n")...)
		for _, f := range n.Flags {
			add(where, f.Help)
			if f.PlaceHolder != "" && f.PlaceHolder == strings.ToUpper(f.PlaceHolder) && hasWords(f.PlaceHolder) && !strings.ContainsAny(f.PlaceHolder, "0123456789") {
				add(where, f.PlaceHolder)
			}
			if f.Group != nil {
				add(where, f.Group.Title)
			}
		}
		for _, p := range n.Positional {
			add(where, p.Help)
		}
		for _, below := range n.Children {
			walk(below)
		}
	}
	walk(newParser(&verbs{}, Stdio{Out: io.Discard, Err: io.Discard}, words.Book{}).Model.Node)
}

// messages are all that a language must have.
func messages(t *testing.T) map[string]string {
	all := said(t)
	maps.Copy(all, told(t))
	// Sentences that Of finds again stand nowhere but in the languages' files:
	// what one language has, every language needs.
	for _, l := range words.Languages()[1:] {
		text, err := os.ReadFile(filepath.Join("..", "words", string(l)+".json"))
		if err != nil {
			t.Fatal(err)
		}
		var known map[string]string
		if err := json.Unmarshal(text, &known); err != nil {
			t.Fatal(err)
		}
		for message := range known {
			if all[message] == "" {
				all[message] = string(l) + ".json"
			}
		}
	}
	return all
}

// TestEveryMessageIsInEveryLanguage: the catalogue of messages, en.json, is
// what the code and the tables hold; and every language has each of them.
func TestEveryMessageIsInEveryLanguage(t *testing.T) {
	all := messages(t)
	path := filepath.Join("..", "words", "en.json")
	want, err := json.MarshalIndent(slices.Sorted(maps.Keys(all)), "", " ")
	if err != nil {
		t.Fatal(err)
	}
	want = append(want, '\n')
	if *update {
		if err := os.WriteFile(path, want, 0o644); err != nil {
			t.Fatal(err)
		}
	}
	got, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	var have []string
	if err := json.Unmarshal(got, &have); err != nil {
		t.Fatal(err)
	}
	// A message that was added meanwhile is shown in English until somebody
	// translates it: it is listed here, and fails where everything must hold.
	lacking := t.Logf
	if os.Getenv("CI") != "" || os.Getenv("PLUMBSTRIDE_TEST_ALL") != "" {
		lacking = t.Errorf
	}
	if diff := cmp.Diff(slices.Sorted(maps.Keys(all)), have); diff != "" {
		lacking("internal/words/en.json is out of date (-code +file; -update writes it anew):\n%s", diff)
	}
	for _, l := range words.Languages() {
		b, err := words.In(l)
		if err != nil {
			t.Fatal(err)
		}
		for message, where := range all {
			if hasWords(message) && !b.Has(message) {
				lacking("%s lacks %q (%s)", l, message, where)
			}
		}
		for _, message := range have {
			if hasWords(message) && !b.Has(message) {
				lacking("%s lacks %q, which en.json lists", l, message)
			}
		}
	}
}

// verbsOf are the places in a message where something is filled in.
var verbsOf = regexp.MustCompile(`%(?:\[\d+\])?[+\-#0]*(?:\d+|\*)?(?:\.(?:\d+|\*))?[a-zA-Z%]`)

func hasWords(message string) bool {
	return strings.ContainsFunc(verbsOf.ReplaceAllString(message, ""), func(r rune) bool { return r >= 'a' && r <= 'z' || r >= 'A' && r <= 'Z' })
}

// english finds words that no Spanish or German sentence has.
var english = regexp.MustCompile(`(?i)\b(the|of|with|your|are|from|when|this|steps|runner|which|its|seen|measured|practise|film again|week|and)\b`)

// cited is what stays in English: sources in brackets, addresses, and the
// names by which drills are called in commands.
var cited = regexp.MustCompile(`\[[^\]]*\]|doi \S+|PMC\d+|\b[a-z]+(-[a-z]+)+\b`)

// leftover gives the English that a text still holds, but for what is cited.
func leftover(text string) string {
	var out []string
	for line := range strings.Lines(cited.ReplaceAllString(strings.ReplaceAll(text, "\n", " \n"), "")) {
		if found := english.FindString(line); found != "" {
			out = append(out, fmt.Sprintf("%q in %s", found, strings.TrimSpace(line)))
		}
	}
	return strings.Join(out, "\n")
}

// A plan for any area, answers and units, in each language, as text: nothing
// of it is left in English but the sources and the coach's own note.
func TestPlanTextIsTranslated(t *testing.T) {
	if leftover("Practise with the beat") == "" || leftover("Übe mit Takt [the source of this]") != "" {
		t.Fatal("the check is blind, or sees too much")
	}
	catalogue, err := catalogueWith("")
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range []words.Language{words.Spanish, words.German} {
		b, err := words.In(l)
		if err != nil {
			t.Fatal(err)
		}
		for _, area := range plan.Areas() {
			for _, answers := range [][]plan.Reason{nil, {plan.Heart, plan.CalfTrouble, plan.Minor}} {
				for _, units := range []quantity.Units{quantity.Metric, quantity.US} {
					p := slowPlanFor(t, area, answers...)
					p.Ask.Note = ""
					text := planText(p, units, 0, b)
					if left := leftover(strings.ReplaceAll(text, "Agreed with the runner's physiotherapist.", "")); left != "" {
						t.Errorf("%s, %s:\n%s", l, area, left)
					}
				}
			}
		}
		for _, d := range catalogue.All() {
			if left := leftover(drillText(d, 0, b)); left != "" {
				t.Errorf("%s, %s:\n%s", l, d.ID, left)
			}
		}
		if left := leftover(drillList(catalogue.All(), 0, b)); left != "" {
			t.Errorf("%s: %s", l, left)
		}
	}
}

// slowPlanFor is the invented plan for another area.
func slowPlanFor(t *testing.T, area string, answers ...plan.Reason) plan.Plan {
	t.Helper()
	catalogue, err := catalogueWith("")
	if err != nil {
		t.Fatal(err)
	}
	ask := slowPlan(t, answers...).Ask
	ask.Area, ask.Finding, ask.Weeks, ask.Runner = area, "", 8, ""
	ask.Why = "The steps are slow for this speed and height: 158 steps/min against a band of 163 to 187. Practise slightly quicker, shorter steps at the same speed, at most 5 % quicker at a time; the landing and bounce often go with it, so look at those again afterwards."
	p, err := plan.Make(ask, catalogue)
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// judged is a card of an invented runner whose measures lie by so many
// spreads off the middle of their bands.
func judged(rows []judge.Row, off func(i int) float64, refused []form.Refusal, pain bool) card.Card {
	ctx := judge.Context{SpeedMS: 2.8, HeightM: 1.75, Pain: pain}
	bands := judge.Bands(ctx)
	var measures []form.Measure
	for i, r := range rows {
		b, ok := bands[r.Measure]
		if !ok || r.Unit == "% leg length" {
			continue
		}
		at := b.High
		if math.IsNaN(at) {
			at = b.Low
		}
		for _, side := range []form.Side{form.Left, form.Right} {
			value := at + off(i)*b.PopulationSD
			if side == form.Right {
				value = at - 2*b.PopulationSD
			}
			measures = append(measures, form.With95(r.Measure, side, r.Unit, value, 0.2*b.PopulationSD, 20))
		}
	}
	measures = judge.WithBands(measures, ctx)
	v := judge.Judge(measures, refused, ctx)
	c := card.Card{Program: "plumbstride test", Runner: card.Runner{HeightM: 1.75}, Refused: refused,
		Clip:     card.Clip{File: "x.mp4", Frames: 601, DurationS: 10.02, RateHz: 60, Setting: "over_ground", Facing: "left", View: "side", SpeedMS: 2.8, SlowedBy: 4},
		Priority: card.Priority{Area: v.Priority, Why: v.Why}, Cautions: v.Cautions}
	if v.Tie != "" {
		c.Notes = append(c.Notes, v.Tie)
	}
	for _, a := range v.Areas {
		c.Areas = append(c.Areas, card.Area{Name: a.Name, State: string(a.State), Why: a.Why})
	}
	for _, m := range measures {
		title := m.Name
		if d, ok := measure.Find(m.Name, m.Unit); ok {
			title = d.Title
		}
		row := card.Measure{Name: m.Name, Side: m.Side, Unit: m.Unit, Value: m.Value, SD: m.SD, Low: m.Low, High: m.High, N: m.N, Title: title}
		if m.Band != nil {
			row.Band = &card.Band{Low: card.Number(m.Band.Low), High: card.Number(m.Band.High), PopulationSD: card.Number(m.Band.PopulationSD)}
		}
		c.Measures = append(c.Measures, row)
	}
	return c
}

// Whatever a judgement says, its card is told in each language.
func TestCardTextIsTranslated(t *testing.T) {
	rows := judge.Rows()
	cards := map[string]card.Card{
		"nothing measured": judged(nil, nil, []form.Refusal{{Name: "cadence", Reason: "fewer than six steps: film at least 8 seconds"}}, false),
		"nothing at all":   judged(nil, nil, nil, false),
		"pain":             judged(rows, func(int) float64 { return 2 }, nil, true),
		"all in":           judged(rows, func(int) float64 { return -2 }, nil, false),
	}
	for i, r := range rows {
		for _, off := range []float64{-9, 0.05, 0.3, 0.5, 2} {
			one := func(k int) float64 {
				if k == i {
					return off
				}
				return -2
			}
			cards[fmt.Sprintf("%s %s %+.2f", r.Measure, r.Unit, off)] = judged(rows, one, nil, false)
			cards[fmt.Sprintf("%s %s %+.2f and slow", r.Measure, r.Unit, off)] = judged(rows, func(k int) float64 {
				if rows[k].Measure == "cadence" {
					return -5
				}
				return one(k)
			}, []form.Refusal{{Name: "leg_stiffness", Side: form.Left, Reason: "not asked"}}, false)
		}
	}
	for _, l := range []words.Language{words.Spanish, words.German} {
		b, err := words.In(l)
		if err != nil {
			t.Fatal(err)
		}
		for name, c := range cards {
			var text strings.Builder
			writeCard(&text, c.In(b), quantity.Metric, 0, nil, b)
			if left := leftover(text.String()); left != "" {
				t.Errorf("%s, %s:\n%s", l, name, left)
			}
		}
	}
}

// The help of every command is told in each language, named by the
// environment where the command doesn't say.
func TestHelpIsTranslated(t *testing.T) {
	// What is typed as it stands: flags, arguments, the patterns of tempo.
	names := regexp.MustCompile(`--[a-z-]+(=[a-z|]+)?|<[a-z]+>|\[in 3 steps\]`)
	var paths [][]string
	var walk func(*kong.Node, []string)
	walk = func(n *kong.Node, path []string) {
		paths = append(paths, path)
		for _, below := range n.Children {
			walk(below, append(slices.Clone(path), below.Name))
		}
	}
	walk(newParser(&verbs{}, Stdio{Out: io.Discard, Err: io.Discard}, words.Book{}).Model.Node, nil)
	for l, usage := range map[words.Language]string{words.Spanish: "Uso: plumbstride", words.German: "Aufruf: plumbstride"} {
		t.Setenv("LANG", string(l)+".UTF-8")
		t.Setenv(settingsVariable, "")
		for _, path := range paths {
			var out, errs strings.Builder
			status := Main(t.Context(), append(slices.Clone(path), "--help"), Stdio{Out: &out, Err: &errs})
			if status != 0 || !strings.HasPrefix(out.String(), usage) {
				t.Fatalf("%s, %v: status %d, %s%s", l, path, status, out.String(), errs.String())
			}
			text := names.ReplaceAllString(out.String(), "")
			if left := leftover(text); left != "" {
				t.Errorf("%s, %v:\n%s", l, path, left)
			}
		}
	}
}

// Whatever the environment says, a stated language comes first; and what is
// wrong with a command is told in it.
func TestAnsweredIn(t *testing.T) {
	t.Setenv(settingsVariable, "")
	t.Setenv("LC_ALL", "de_DE.UTF-8")
	for _, c := range []struct {
		args []string
		want words.Language
	}{
		{nil, words.German}, {[]string{"check", "--language", "es"}, words.Spanish}, {[]string{"check", "--language=en"}, words.English},
		{[]string{"check", "--language", "xx"}, words.German}, {[]string{"check", "--", "--language", "es"}, words.German},
	} {
		if got := answeredIn(c.args).Language(); got != c.want {
			t.Errorf("%v: %s, want %s", c.args, got, c.want)
		}
	}
	var errs strings.Builder
	if status := Main(t.Context(), []string{"check", "--heigth", "3"}, Stdio{Out: io.Discard, Err: &errs}); status != exitUsage {
		t.Errorf("status %d", status)
	}
	if got := errs.String(); !strings.HasPrefix(got, "plumbstride: unbekannte Option: --heigth") || leftover(got) != "" {
		t.Errorf("%q", got)
	}
}

// What explain tells of each measure is told in each language, but for the
// sources.
func TestExplainIsTranslated(t *testing.T) {
	sheets := explain.All(judge.Context{SpeedMS: 2.8, HeightM: 1.72})
	for _, l := range []words.Language{words.Spanish, words.German} {
		b, err := words.In(l)
		if err != nil {
			t.Fatal(err)
		}
		for _, s := range sheets {
			if found, ok := explain.Find(sheets, b.Of(s.Title()), b); !ok || found.Title() != s.Title() {
				t.Errorf("%s: %s isn't found by its title %q", l, s.Name, b.Of(s.Title()))
			}
			for _, line := range s.Lines(b) {
				if line.Head == b.Say("definition") || line.Head == b.Say("band") {
					continue
				}
				if left := leftover(line.Head + " " + line.Text); left != "" {
					t.Errorf("%s, %s: %s", l, s.Name, left)
				}
			}
		}
		list := newTable(0)
		list.measureList(sheets, b)
		if left := leftover(strings.ReplaceAll(list.b.String(), "_", "-")); left != "" {
			t.Errorf("%s: %s", l, left)
		}
	}
}

// late are the packages whose sentences are written in English first, and
// found again by Of.
var late = []string{"gait", "stand", "measure", "check", "judge", "plan", "tempo", "card", "accelerometry", "steady", "practice", "recheck", "roster", "account", "media", "amend", "evening", "supply", "quantity", "settings", "handout", "export", "backup"}

// TestLateSentences lists the sentences of the line that a language lacks
// still; they are shown in English. Sources and what is no sentence are left
// out.
func TestLateSentences(t *testing.T) {
	b, err := words.In(words.German)
	if err != nil {
		t.Fatal(err)
	}
	for _, name := range late {
		files, err := filepath.Glob(filepath.Join("..", name, "*.go"))
		if err != nil {
			t.Fatal(err)
		}
		for _, path := range files {
			if strings.HasSuffix(path, "_test.go") {
				continue
			}
			for _, text := range sentences(t, path) {
				if b.Of(text) == text {
					t.Logf("%s: %q", path, text)
				}
			}
		}
	}
}

// sentences are the string literals of a file that hold three blanks or
// more and are no source.
func sentences(t *testing.T, path string) (out []string) {
	t.Helper()
	file, err := parser.ParseFile(token.NewFileSet(), path, nil, parser.SkipObjectResolution)
	if err != nil {
		t.Fatal(err)
	}
	ast.Inspect(file, func(n ast.Node) bool {
		switch v := n.(type) {
		case *ast.KeyValueExpr:
			if key, ok := v.Key.(*ast.Ident); ok && slices.Contains([]string{"Source", "Population", "Note", "What", "Formula", "How"}, key.Name) {
				return false
			}
		case *ast.BasicLit:
			text, err := strconv.Unquote(v.Value)
			if v.Kind == token.STRING && err == nil && strings.Count(text, " ") >= 3 && !strings.Contains(text, "json:") &&
				!regexp.MustCompile(`doi |et al\.|Med |%w`).MatchString(text) {
				out = append(out, strings.TrimSpace(text))
			}
		}
		return true
	})
	return out
}

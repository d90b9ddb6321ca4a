package calendar_test

import (
	"bytes"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"
	"unicode/utf8"

	second "github.com/emersion/go-ical"
	"github.com/google/go-cmp/cmp"

	"plumbstride/internal/calendar"
	"plumbstride/internal/plan"
	"plumbstride/internal/plan/drills"
	"plumbstride/internal/quantity"
	"plumbstride/internal/words"
)

var update = flag.Bool("update", false, "write the golden file anew")

var made = time.Date(2026, time.March, 1, 18, 30, 15, 5, time.FixedZone("CET", 3600))

// invented is a plan of an invented runner whose name and note hold what
// iCalendar must escape.
func invented(t testing.TB) plan.Plan {
	t.Helper()
	catalogue, err := plan.Load(drills.Files())
	if err != nil {
		t.Fatal(err)
	}
	start, err := plan.ParseDate("2026-03-02")
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Make(plan.Ask{
		Area: "cadence", Finding: "cadence:below", UsualWeekMin: 120, RunsPerWeek: 3, Weeks: 4, Start: start,
		Cadence: &plan.Cadence{StepsPerMin: 158, SD: 0.8, SpeedMS: 2.8, Low: 163, High: 187},
		Health:  plan.Health{Asked: true},
	}, catalogue)
	if err != nil {
		t.Fatal(err)
	}
	p.Weeks[0].Sessions[0].Cue = "One, two; three\\four: “über” \U0001F3C3\x1b"
	return p
}

func written(t testing.TB) []byte {
	t.Helper()
	text, err := calendar.Write(invented(t), "plumbstride test", made, quantity.Metric, words.Book{})
	if err != nil {
		t.Fatal(err)
	}
	return text
}

func TestGolden(t *testing.T) {
	path := filepath.Join("testdata", "plan.ics")
	if *update {
		if err := os.WriteFile(path, written(t), 0o644); err != nil {
			t.Fatal(err)
		}
	}
	want, err := os.ReadFile(path)
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff(string(want), string(written(t))); diff != "" {
		t.Error(diff)
	}
}

// TestSecondParser reads the file with another implementation and compares
// every event with the plan.
func TestSecondParser(t *testing.T) {
	p := invented(t)
	cal, err := second.NewDecoder(bytes.NewReader(written(t))).Decode()
	if err != nil {
		t.Fatal(err)
	}
	type event struct{ start, end, title, says string }
	var want, got []event
	for _, w := range p.Weeks {
		for _, s := range w.Sessions {
			want = append(want, event{s.Date.String(), s.Date.Plus(1).String(), s.Title(), strings.Join(s.Lines(p.Ask.Cadence, quantity.Metric), "\n")})
		}
	}
	want = append(want, event{p.Recheck.String(), p.Recheck.Plus(1).String(), "Film again", strings.Join(p.RecheckLines(quantity.Metric), "\n")})
	ids := map[string]bool{}
	for _, e := range cal.Events() {
		start, err1 := e.DateTimeStart(time.UTC)
		end, err2 := e.DateTimeEnd(time.UTC)
		title, err3 := e.Props.Text(second.PropSummary)
		says, err4 := e.Props.Text(second.PropDescription)
		id, err5 := e.Props.Text(second.PropUID)
		stamp, err6 := e.Props.DateTime(second.PropDateTimeStamp, time.UTC)
		for _, err := range []error{err1, err2, err3, err4, err5, err6} {
			if err != nil {
				t.Fatal(err)
			}
		}
		if e.Props.Get(second.PropDateTimeStart).ValueType() != second.ValueDate {
			t.Errorf("%s does not last all day", title)
		}
		if !stamp.Equal(made.Truncate(time.Second)) {
			t.Errorf("made at %s, want %s", stamp, made)
		}
		ids[id] = true
		says, _, _ = strings.Cut(says, "\nAt a pain")
		got = append(got, event{start.Format(time.DateOnly), end.Format(time.DateOnly), title, says})
	}
	for i := range want {
		want[i].says = strings.ReplaceAll(want[i].says, "\x1b", "")
	}
	if diff := cmp.Diff(fmt.Sprint(want), fmt.Sprint(got)); diff != "" {
		t.Error(diff)
	}
	if len(ids) != len(got) {
		t.Errorf("%d identifiers for %d events", len(ids), len(got))
	}
}

// strict checks what RFC 5545 asks of content lines and of the components
// that are used here: lines end in CRLF (3.1) and have at most 75 octets,
// folds do not split a character, names and parameters are of the grammar,
// BEGIN and END match, VERSION and PRODID stand once (3.7), each VEVENT has
// one UID and DTSTAMP, and a DTSTART (3.6.1).
func strict(text []byte) error {
	if !bytes.HasSuffix(text, []byte("\r\n")) || bytes.Count(text, []byte("\n")) != bytes.Count(text, []byte("\r\n")) || bytes.Count(text, []byte("\r")) != bytes.Count(text, []byte("\r\n")) {
		return fmt.Errorf("a line does not end in CRLF")
	}
	var lines []string
	for _, line := range strings.Split(strings.TrimSuffix(string(text), "\r\n"), "\r\n") {
		switch {
		case len(line) > 75:
			return fmt.Errorf("%d octets: %q", len(line), line)
		case !utf8.ValidString(line):
			return fmt.Errorf("a fold splits a character: %q", line)
		case strings.ContainsFunc(line, func(r rune) bool { return r < 0x20 && r != '\t' || r == 0x7f }):
			return fmt.Errorf("a control character: %q", line)
		case strings.HasPrefix(line, " ") || strings.HasPrefix(line, "\t"):
			if len(lines) == 0 {
				return fmt.Errorf("a fold with nothing before it")
			}
			lines[len(lines)-1] += line[1:]
		case line == "":
			return fmt.Errorf("an empty line")
		default:
			lines = append(lines, line)
		}
	}
	return components(lines)
}

func components(lines []string) error {
	var open []string
	counts := map[string]int{}
	for _, line := range lines {
		head, value, ok := strings.Cut(line, ":")
		if !ok {
			return fmt.Errorf("no value: %q", line)
		}
		name, _, _ := strings.Cut(head, ";")
		if name == "" || strings.Trim(name, "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-") != "" {
			return fmt.Errorf("the name of %q", line)
		}
		switch name {
		case "BEGIN":
			open, counts[value] = append(open, value), counts[value]+1
			counts["UID"], counts["DTSTAMP"], counts["DTSTART"] = 0, 0, 0
		case "END":
			if len(open) == 0 || open[len(open)-1] != value {
				return fmt.Errorf("%q closes nothing", line)
			}
			if value == "VEVENT" && (counts["UID"] != 1 || counts["DTSTAMP"] != 1 || counts["DTSTART"] != 1) {
				return fmt.Errorf("an event with %v", counts)
			}
			open = open[:len(open)-1]
		default:
			if len(open) == 0 {
				return fmt.Errorf("outside: %q", line)
			}
			counts[name]++
			if slices.Contains([]string{"SUMMARY", "DESCRIPTION"}, name) {
				if err := escaped(value); err != nil {
					return err
				}
			}
		}
	}
	if len(open) > 0 || counts["VCALENDAR"] != 1 || counts["VERSION"] != 1 || counts["PRODID"] != 1 || counts["VEVENT"] == 0 {
		return fmt.Errorf("open %v, counts %v", open, counts)
	}
	return nil
}

// escaped checks a TEXT value (3.3.11).
func escaped(value string) error {
	for i := 0; i < len(value); i++ {
		switch value[i] {
		case '\\':
			i++
			if i == len(value) || !strings.ContainsRune(`\;,nN`, rune(value[i])) {
				return fmt.Errorf("a loose backslash in %q", value)
			}
		case ';', ',':
			return fmt.Errorf("%q is not escaped in %q", value[i], value)
		}
	}
	return nil
}

func TestStrict(t *testing.T) {
	if err := strict(written(t)); err != nil {
		t.Error(err)
	}
	text := string(written(t))
	for name, broken := range map[string]string{
		"line ends":   strings.ReplaceAll(text, "\r\n", "\n"),
		"long line":   strings.Replace(text, "METHOD:PUBLISH", "METHOD:PUBLISH"+strings.Repeat("x", 80), 1),
		"two ids":     strings.Replace(text, "UID:", "UID:a\r\nUID:", 1),
		"no end":      strings.TrimSuffix(text, "END:VCALENDAR\r\n"),
		"not escaped": strings.Replace(text, "SUMMARY:Film again", "SUMMARY:Film, again", 1),
		"empty line":  strings.Replace(text, "METHOD", "\r\nMETHOD", 1),
		"split fold":  strings.Replace(text, "SUMMARY:Film again", "SUMMARY:Film \xc3\r\n \xbc", 1),
	} {
		if strict([]byte(broken)) == nil {
			t.Errorf("%s: the check lets it pass", name)
		}
	}
}

func TestIdentityIsStable(t *testing.T) {
	other, err := calendar.Write(invented(t), "plumbstride test", made.Add(time.Hour), quantity.Metric, words.Book{})
	if err != nil {
		t.Fatal(err)
	}
	ids := func(text []byte) (out []string) {
		for line := range strings.Lines(string(text)) {
			if strings.HasPrefix(line, "UID:") {
				out = append(out, line)
			}
		}
		return out
	}
	if diff := cmp.Diff(ids(written(t)), ids(other)); diff != "" {
		t.Error(diff)
	}
}

// FuzzWrite: whatever the texts of a plan hold, the file keeps the rules.
func FuzzWrite(f *testing.F) {
	f.Add("cue; with, everything\\ in\nit", "Title")
	f.Add(strings.Repeat("ü", 200), "\r\nBEGIN:VEVENT\r\n")
	p := invented(f)
	p.Weeks = p.Weeks[:1]
	f.Fuzz(func(t *testing.T, cue, title string) {
		p.Weeks[0].Sessions[0].Cue = cue
		p.Weeks[0].Sessions[0].Drills = []plan.Dose{{ID: "x", Title: title, Minutes: 1}}
		text, err := calendar.Write(p, title, made, quantity.US, words.Book{})
		if err != nil {
			t.Fatal(err)
		}
		if err := strict(text); err != nil {
			t.Error(err)
		}
		if _, err := second.NewDecoder(bytes.NewReader(text)).Decode(); err != nil {
			t.Error(err)
		}
	})
}

// In every language the file keeps the rules, another parser reads it, and
// its events speak the language.
func TestLanguages(t *testing.T) {
	for l, want := range map[words.Language]string{
		words.English: "Film again", words.Spanish: "Graba de nuevo", words.German: "Wieder filmen",
	} {
		b, err := words.In(l)
		if err != nil {
			t.Fatal(err)
		}
		text, err := calendar.Write(invented(t), "plumbstride test", made, quantity.US, b)
		if err != nil {
			t.Fatal(err)
		}
		if err := strict(text); err != nil {
			t.Errorf("%s: %v", l, err)
		}
		cal, err := second.NewDecoder(bytes.NewReader(text)).Decode()
		if err != nil {
			t.Fatalf("%s: %v", l, err)
		}
		events := cal.Events()
		title, err := events[len(events)-1].Props.Text(second.PropSummary)
		if err != nil || title != want {
			t.Errorf("%s: the last event is %q, want %q (%v)", l, title, want, err)
		}
	}
}

// TestInvitation: a second parser reads the invitation, with what RFC 5546
// (3.2.2) asks of a request: method, organizer, attendee, sequence, start.
func TestInvitation(t *testing.T) {
	day, err := plan.ParseDate("2026-04-13")
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range words.Languages() {
		b, err := words.In(l)
		if err != nil {
			t.Fatal(err)
		}
		for name, i := range map[string]calendar.Invite{
			"to be answered": {RunnerID: "r", For: "p", Sequence: 2, Name: "Ada, \"Quill\"; \n\x07", Day: day, Timed: true, Clock: 18*time.Hour + 30*time.Minute, Minutes: 20, From: "shop@example.org", To: "ada@example.org"},
			"to be kept":     {RunnerID: "r", For: "p", Name: "Ada", Day: day, Shop: "Invented shop", Place: "Hall; 2"},
		} {
			text := calendar.Invitation(i, "plumbstride test", made, b)
			read, err := second.NewDecoder(bytes.NewReader(text)).Decode()
			if err != nil {
				t.Fatalf("%s: %v\n%s", name, err, text)
			}
			event := read.Events()[0]
			start, err := event.DateTimeStart(time.UTC)
			if err != nil {
				t.Fatal(err)
			}
			method, _ := read.Props.Text("METHOD")
			if i.Timed {
				// 18:30 in a place one hour east of UTC.
				if method != "REQUEST" || !start.Equal(time.Date(2026, 4, 13, 17, 30, 0, 0, time.UTC)) || event.Props.Get("ORGANIZER").Value != "mailto:shop@example.org" ||
					event.Props.Get("ATTENDEE").Value != "mailto:ada@example.org" || event.Props.Get("ATTENDEE").Params.Get("RSVP") != "TRUE" || event.Props.Get("SEQUENCE").Value != "2" {
					t.Errorf("%s:\n%s", name, text)
				}
			} else if method != "PUBLISH" || event.Props.Get("DTSTART").Value != "20260413" || event.Props.Get("ORGANIZER") != nil {
				t.Errorf("%s:\n%s", name, text)
			}
			for line := range strings.SplitSeq(strings.TrimSuffix(string(text), "\r\n"), "\r\n") {
				if len(line) > 75 || strings.ContainsAny(line, "\n\x07") {
					t.Errorf("%s: %q", name, line)
				}
			}
			again := calendar.Invitation(i, "plumbstride test", made.Add(time.Hour), b)
			uid, _ := event.Props.Text("UID")
			if !strings.Contains(string(again), uid) {
				t.Errorf("%s: another event the second time", name)
			}
		}
	}
}

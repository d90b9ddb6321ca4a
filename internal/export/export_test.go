package export

import (
	"encoding/csv"
	"encoding/json"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"plumbstride/internal/plan"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

func invented(t testing.TB, name string) store.Everything {
	t.Helper()
	day, err := plan.ParseDate("2026-03-02")
	if err != nil {
		t.Fatal(err)
	}
	at := time.Date(2026, 3, 2, 19, 0, 0, 0, time.FixedZone("", 3600))
	return store.Everything{
		Runner:     roster.Runner{ID: "r1", Name: name, HeightM: 1.72, Goals: "=HYPERLINK(\"x\")", Paces: []roster.Pace{{Name: "easy", SpeedMS: 2.8}}, Made: at},
		Attendance: []roster.Attendance{{ClassID: "c1", RunnerID: "r1", Presence: roster.Here, Place: 1}},
		Classes:    []roster.Class{{ID: "c1", Title: "Invented clinic", Date: day}},
		Consents:   []roster.Consent{{ID: "k1", RunnerID: "r1", Film: true, GivenBy: name, Words: "I agree,\nall of it.", Given: at, Withdrawn: &at}},
		Checks:     []store.Check{{ID: "h1", RunnerID: "r1", Kind: store.Running, State: store.Ready, Decision: &store.Decision{Area: "cadence", Reason: "-why"}, Made: at}},
		Measures:   []store.Past{{CheckID: "h1", Made: at, Name: "trunk_lean", Unit: "deg", Value: -3.25, SD: 0.5, Low: -4.2, High: -2.3, N: 12}},
		Footage:    []store.Footage{{ID: "f1", RunnerID: "r1", Kind: store.Clip, Name: "../../a.mp4", Bytes: 7}},
		Messages:   []store.Message{{ID: "m1", RunnerID: "r1", State: store.Sent, Subject: "=1", Body: "Hello,\nAda"}},
		Activities: []store.Activity{{ID: "a1", RunnerID: "r1", Start: at}},
		Trail:      []store.Entry{{ID: "t1", At: at, Action: "see", Kind: roster.CheckKind, Subject: "h1", RunnerID: "r1"}},
	}
}

// read reads a table back with the standard library's reader of RFC 4180.
func read(t interface{ Fatalf(string, ...any) }, x *Export, name string) [][]string {
	for _, f := range x.Tables() {
		if f.Name == name+".csv" {
			rows, err := csv.NewReader(strings.NewReader(string(f.Content))).ReadAll()
			if err != nil {
				t.Fatalf("%s: %v", f.Name, err)
			}
			return rows
		}
	}
	t.Fatalf("no table %s", name)
	return nil
}

func TestTables(t *testing.T) {
	x := New()
	file, err := x.Add(invented(t, "Ada Quill"), func(f store.Footage) string { return "files/" + f.ID + ".mp4" })
	if err != nil || file.Name != "runners/r1.json" || !json.Valid(file.Content) {
		t.Errorf("%s %v", file.Name, err)
	}
	if _, err := x.Add(invented(t, "Ben"), func(store.Footage) string { return "" }); err != nil {
		t.Fatal(err)
	}
	for name, want := range map[string][2]string{
		"runners":    {"r1|Ada Quill||", "|'=HYPERLINK(\"x\")|false||"},
		"classes":    {"c1|Invented clinic|2026-03-02|", "|90|"},
		"consents":   {"I agree,\nall of it.", "2026-03-02T18:00:00Z"},
		"checks":     {"h1|r1||running|ready||cadence|'-why", "2026-03-02T18:00:00Z"},
		"measures":   {"trunk_lean|", "|deg|-3.25|0.5|-4.2|-2.3|12"},
		"messages":   {"m1|r1||sent||'=1|Hello,\nAda|", ""},
		"activities": {"a1|r1|2026-03-02T18:00:00Z|", ""},
		"files":      {"|../../a.mp4|files/f1.mp4||7|", ""},
		"trail":      {"t1|2026-03-02T18:00:00Z|", "|see|check|h1|r1"},
	} {
		rows := read(t, x, name)
		if got := strings.Join(rows[1], "|"); !strings.Contains(got, want[0]) || !strings.Contains(got, want[1]) {
			t.Errorf("%s: %q", name, got)
		}
	}
	if n := len(read(t, x, "classes")); n != 2 {
		t.Errorf("one class stands there %d times", n-1)
	}
	if n := len(read(t, x, "runners")); n != 3 {
		t.Errorf("%d runners", n-1)
	}
}

// TestTextsComeBack: whatever a runner is called, the table has as many cells
// as headings, and no cell begins a formula.
func TestTextsComeBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := New()
		e := store.Everything{Runner: roster.Runner{ID: "r", Name: rapid.String().Draw(t, "name"), Goals: rapid.StringMatching(`[=+@-]?[",;a\n' ]{0,6}`).Draw(t, "goals")}}
		if _, err := x.Add(e, nil); err != nil {
			t.Fatal(err)
		}
		rows := read(t, x, "runners")
		if len(rows) != 2 || len(rows[0]) != len(rows[1]) {
			t.Fatalf("%q", rows)
		}
		for _, c := range rows[1] {
			if c != "" && strings.ContainsAny(c[:1], "=+-@") {
				t.Errorf("%q begins a formula", c)
			}
		}
	})
}

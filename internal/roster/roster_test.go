package roster

import (
	"math"
	"strings"
	"testing"
	"time"

	"plumbstride/internal/form"
	"plumbstride/internal/plan"
)

var evening = time.Date(2026, 3, 3, 18, 0, 0, 0, time.UTC)

func TestCleanRunner(t *testing.T) {
	r, err := Runner{Name: "  Mira\u202e \x00 of  the Hill ", HeightM: 1.70004, MassKg: 61.237, Paces: []Pace{{"easy|slow", 2.8}}}.Clean(evening)
	if err != nil {
		t.Fatal(err)
	}
	if r.Name != "Mira of the Hill" || r.HeightM != 1.7 || r.MassKg != 61.24 || r.Paces[0].Name != "easy/slow" {
		t.Errorf("%+v", r)
	}
	bad := map[string]Runner{
		"no name":             {Name: " \u200b "},
		"height in cm":        {Name: "A", HeightM: 172},
		"no number":           {Name: "A", HeightM: math.NaN()},
		"mass":                {Name: "A", MassKg: 3},
		"infinite mass":       {Name: "A", MassKg: math.Inf(1)},
		"not born yet":        {Name: "A", BirthYear: 2027},
		"long dead":           {Name: "A", BirthYear: 1850},
		"sex":                 {Name: "A", Sex: "x"},
		"pace":                {Name: "A", Paces: []Pace{{"fast", 40}}},
		"pace without number": {Name: "A", Paces: []Pace{{"fast", math.NaN()}}},
		"an unknown answer":   {Name: "A", Health: plan.Health{Asked: true, Yes: []plan.Reason{"tired"}}},
		"long name":           {Name: strings.Repeat("a", 81)},
		"broken text":         {Name: "A\xff"},
	}
	for name, r := range bad {
		if _, err := r.Clean(evening); form.CodeOf(err) != form.CodeUsage {
			t.Errorf("%s: %v", name, err)
		}
	}
}

func TestCleanClass(t *testing.T) {
	day := plan.Date{}.Plus(0)
	if _, err := (Class{Date: day}).Clean(); form.CodeOf(err) != form.CodeUsage {
		t.Errorf("a class without a day: %v", err)
	}
	day, _ = plan.ParseDate("2026-03-03")
	c, err := Class{Date: day, Title: " Tuesday ", Note: "one\r\ntwo\x07"}.Clean()
	if err != nil || c.Title != "Tuesday" || c.Note != "one\ntwo" || c.Days() != 90 {
		t.Errorf("%+v, %v", c, err)
	}
	for _, bad := range []Class{{Date: day, Capacity: -1}, {Date: day, KeepDays: 731}, {Date: day, Coach: strings.Repeat("x", 81)}} {
		if _, err := bad.Clean(); form.CodeOf(err) != form.CodeUsage {
			t.Errorf("%+v: %v", bad, err)
		}
	}
}

// TestMinor: the year alone does not tell on which side of the birthday we are.
func TestMinor(t *testing.T) {
	minor := plan.Health{Asked: true, Yes: []plan.Reason{plan.Minor}}
	for _, tt := range []struct {
		r    Runner
		want Minority
	}{
		{Runner{BirthYear: 2007}, OfAge},
		{Runner{BirthYear: 2008}, Unsure}, // 18 some day in 2026
		{Runner{BirthYear: 2009}, UnderAge},
		{Runner{}, Unsure},
		{Runner{Health: minor}, UnderAge},
		{Runner{BirthYear: 2008, Health: minor}, UnderAge},
		{Runner{BirthYear: 1990, Health: minor}, OfAge}, // an answer from long ago
	} {
		if got := tt.r.Minor(evening); got != tt.want {
			t.Errorf("%+v: %d, want %d", tt.r, got, tt.want)
		}
	}
}

func TestMayFilm(t *testing.T) {
	adult, child, turning := Runner{Name: "A", BirthYear: 1990}, Runner{Name: "B", BirthYear: 2012}, Runner{Name: "C", BirthYear: 2008}
	before := evening.Add(-time.Hour)
	yes := Consent{Film: true, Given: before}
	later := evening.Add(-time.Minute)
	taken := yes
	taken.Withdrawn = &later
	soon := evening.Add(time.Minute)
	toBeTaken := yes
	toBeTaken.Withdrawn = &soon
	no := Consent{Given: later}
	guardian := Consent{Film: true, Guardian: true, Given: before}
	stated := Consent{Film: true, StatedOfAge: true, Given: before}
	tomorrow := Consent{Film: true, Given: evening.Add(24 * time.Hour)}
	for _, tt := range []struct {
		name     string
		r        Runner
		consents []Consent
		want     bool
	}{
		{"nobody asked", adult, nil, false},
		{"agreed", adult, []Consent{yes}, true},
		{"agreed to come, not to be filmed", adult, []Consent{no}, false},
		{"took it back", adult, []Consent{taken}, false},
		{"takes it back later", adult, []Consent{toBeTaken}, true},
		{"the later one counts", adult, []Consent{yes, no}, false},
		{"in whatever order", adult, []Consent{no, yes}, false},
		{"an earlier one does not come back", adult, []Consent{{Film: true, Given: before.Add(-time.Hour)}, taken}, false},
		{"not given yet", adult, []Consent{tomorrow}, false},
		{"a child's own word", child, []Consent{yes}, false},
		{"a child says it is of age", child, []Consent{stated}, false},
		{"a guardian's", child, []Consent{guardian}, true},
		{"eighteen this year", turning, []Consent{yes}, false},
		{"eighteen this year and says so", turning, []Consent{stated}, true},
		{"age unknown", Runner{Name: "D"}, []Consent{yes}, false},
		{"age unknown, guardian", Runner{Name: "D"}, []Consent{guardian}, true},
	} {
		_, err := MayFilm(tt.r, tt.consents, evening)
		if (err == nil) != tt.want || err != nil && form.CodeOf(err) != form.CodeUsage {
			t.Errorf("%s: %v", tt.name, err)
		}
	}
}

func TestKeepUntil(t *testing.T) {
	for _, tt := range []struct{ class, consent, want int }{
		{0, 0, 90}, {30, 0, 30}, {30, 60, 30}, {30, 7, 7}, {0, 365, 90}, {365, 0, 365},
	} {
		got := KeepUntil(evening, Class{KeepDays: tt.class}, Consent{KeepDays: tt.consent})
		if want := evening.AddDate(0, 0, tt.want); !got.Equal(want) {
			t.Errorf("class %d, consent %d: %s, want %s", tt.class, tt.consent, got, want)
		}
	}
}

func TestCleanConsent(t *testing.T) {
	good := Consent{Film: true, Pictures: true, GivenBy: "Ada", Words: "I agree."}
	if _, err := good.Clean(); err != nil {
		t.Error(err)
	}
	for _, spoil := range []func(*Consent){
		func(c *Consent) { c.GivenBy = " " }, func(c *Consent) { c.Words = "" },
		func(c *Consent) { c.Film = false }, func(c *Consent) { c.KeepDays = -1 }, func(c *Consent) { c.KeepDays = 9999 },
	} {
		c := good
		spoil(&c)
		if _, err := c.Clean(); form.CodeOf(err) != form.CodeUsage {
			t.Errorf("%+v: %v", c, err)
		}
	}
}

func TestSame(t *testing.T) {
	ada := Runner{Name: "Ada", BirthYear: 1990}
	for _, tt := range []struct {
		other Runner
		want  bool
	}{
		{Runner{Name: "ADA", BirthYear: 1990}, true}, {Runner{Name: "Ada"}, true},
		{Runner{Name: "Ada", BirthYear: 1991}, false}, {Runner{Name: "Ada Q", BirthYear: 1990}, false},
	} {
		if got := ada.Same(tt.other); got != tt.want || got != tt.other.Same(ada) {
			t.Errorf("%+v: %t", tt.other, got)
		}
	}
}

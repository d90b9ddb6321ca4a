package words

import (
	"math"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"plumbstride/internal/form"
)

func in(t testing.TB, l Language) Book {
	t.Helper()
	b, err := In(l)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func book(t testing.TB, messages map[string]string) Book {
	t.Helper()
	b, err := Book{language: German}.With(messages)
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func TestSay(t *testing.T) {
	b := book(t, map[string]string{
		"plain":          "schlicht",
		"95 %% interval": "95-%%-Intervall",
	})
	indexed := book(t, map[string]string{"%d of %s at %.1f %%": "%[3]f %% von %[2]s, %[1]d mal", "plain": "schlicht"})
	if got := indexed.Say("%d of %s at %.1f %%", 3, "x", 2.5); got != "2,500000 % von x, 3 mal" {
		t.Errorf("%q", got)
	}
	for _, c := range []struct{ got, want string }{
		{b.Say("plain"), "schlicht"},
		{b.Say("95 %% interval"), "95-%-Intervall"},
		{Book{}.Say("95 %% interval"), "95 % interval"},
		{b.Say("not there, %.1f", -1.25), "not there, −1,2"},
		{Book{}.Say("%.1f and %+.1f", -1.25, 2.0), "−1.2 and +2.0"},
		{Book{}.Say("%.1f, %+.1f, %+.1f and %+.0f", -0.04, 0.04, -0.04, 0.0), "0.0, 0.0, 0.0 and 0"},
		{Book{}.Say("%.1f", -0.01), "0.0"},
		{b.Figures("8.3 ± 2.1 cm"), "8,3 ± 2,1 cm"},
		{Book{}.Figures("8.3"), "8.3"},
	} {
		if c.got != c.want {
			t.Errorf("%q, want %q", c.got, c.want)
		}
	}
}

// Sentences written in English are found again by the message they were made
// from, whole or one after the other; what isn't known stays.
func TestOf(t *testing.T) {
	b := book(t, map[string]string{
		"The steps are slow":            "Die Schritte sind langsam",
		"%s: %s against a band %s":      "%s: %s bei einem Bereich %s",
		"of %s to %s":                   "von %s bis %s",
		"Practise shorter steps":        "Übe kürzere Schritte",
		"steps/min":                     "Schritte/min",
		"Only %d steps are seen.":       "Nur %d Schritte sind zu sehen.",
		"Not measured: %s.":             "Nicht gemessen: %s.",
		"The feet are not seen":         "Die Füße sind nicht zu sehen",
		"landing":                       "Landung",
		"bounce":                        "Hub",
		"and":                           "und",
		"Look at %s.":                   "Schau auf %s.",
		"%s%s on the beat":              "%[1]s im Takt%[2]s",
		"Trunk lean":                    "Rumpfneigung",
		"Film %s":                       "%s filmen",
		"the frame rate of %.0f is low": "die Bildrate von %.0f ist niedrig",
	})
	for _, c := range []struct{ text, want string }{
		{"The steps are slow: 158 steps/min against a band of 163.5 to 187. Practise shorter steps.", "Die Schritte sind langsam: 158 Schritte/min bei einem Bereich von 163,5 bis 187. Übe kürzere Schritte."},
		{"Only 12 steps are seen.", "Nur 12 Schritte sind zu sehen."},
		{"Only 12 steps are seen. Nobody knows this. Practise shorter steps.", "Nur 12 Schritte sind zu sehen. Nobody knows this. Übe kürzere Schritte."},
		{"Not measured: the feet are not seen.", "Nicht gemessen: die Füße sind nicht zu sehen."},
		{"Look at landing and bounce.", "Schau auf Landung und Hub."},
		{"Not measured: the frame rate of 30 is low.", "Nicht gemessen: die Bildrate von 30 ist niedrig."},
		{"trunk lean", "Rumpfneigung"}, // a noun keeps its capital
		{"−1.4 ° (−3.5 to +0.7)", "−1,4 ° (−3,5 to +0,7)"},
		{"The feet are not seen; trunk lean.", "Die Füße sind nicht zu sehen; Rumpfneigung."},
		{"The feet are not seen; nobody knows this.", "The feet are not seen; nobody knows this."},
		{"", ""},
		{"Film Zoë", "Zoë filmen"},
		{"Film from the side and from behind, in good light.", "Film from the side and from behind, in good light."},
	} {
		if got := b.Of(c.text); got != c.want {
			t.Errorf("%q\n got %q\nwant %q", c.text, got, c.want)
		}
		if got := (Book{}).Of(c.text); got != c.text {
			t.Errorf("English changed %q to %q", c.text, got)
		}
	}
}

func TestDates(t *testing.T) {
	day := time.Date(2026, time.March, 2, 17, 5, 0, 0, time.UTC)
	for l, want := range map[Language][4]string{
		English: {"2 March 2026", "Mon 2 Mar 2026", "Mon 2 Mar", "2 March 2026, 17:05"},
		Spanish: {"2 de marzo de 2026", "lun 2 mar 2026", "lun 2 mar", "2 de marzo de 2026, 17:05"},
		German:  {"2. März 2026", "Mo 2. März 2026", "Mo 2. März", "2. März 2026, 17:05 Uhr"},
	} {
		b := in(t, l)
		if got := [4]string{b.Date(day), b.Weekday(day), b.DayMonth(day), b.Moment(day)}; got != want {
			t.Errorf("%s: %q, want %q", l, got, want)
		}
	}
}

func TestLanguages(t *testing.T) {
	for _, l := range Languages() {
		if b := in(t, l); b.Language() != l {
			t.Errorf("%s is %s", l, b.Language())
		}
	}
	if _, err := In("xx"); form.CodeOf(err) != form.CodeUsage {
		t.Errorf("an unknown language: %v", err)
	}
}

// A translation fills in what its message does, in any order, and never
// less or something else.
func TestSameVerbs(t *testing.T) {
	for _, c := range []struct {
		from, to string
		ok       bool
	}{
		{"%d of %s", "%[2]s, %[1]d", true}, {"%d of %s", "%d von %s", true}, {"%.1f %%", "%.0f %%", true}, {"%d", "", false},
		{"%d of %s", "%s von %d", false}, {"%d", "%d %d", false}, {"none", "%d", false}, {"%+.1f", "%+.1f", true}, {"%.*f s", "%.*f s", true},
	} {
		if err := sameVerbs(c.from, c.to); (err == nil) != c.ok {
			t.Errorf("%q, %q: %v", c.from, c.to, err)
		}
	}
	if _, err := (Book{language: Spanish}).With(map[string]string{"%d": "%s"}); err == nil {
		t.Error("a translation with other verbs was taken")
	}
}

// Whatever numbers a message is made with, Of finds them again.
func TestOfFindsWhatSaySays(t *testing.T) {
	b := book(t, map[string]string{"from %.1f to %d steps in %s": "von %.1f bis %d Schritte in %s"})
	rapid.Check(t, func(t *rapid.T) {
		v, n := rapid.Float64Range(-999, 999).Draw(t, "v"), rapid.IntRange(0, 999).Draw(t, "n")
		text := Book{}.Say("from %.1f to %d steps in %s", v, n, "Zoë")
		want := b.Say("from %.1f to %d steps in %s", v, n, "Zoë")
		if got := b.Of(text); got != want && math.Abs(v) >= 0.05 {
			t.Fatalf("%q, want %q", got, want)
		}
	})
}

// FuzzOf: no text is too strange, and none loses its end.
func FuzzOf(f *testing.F) {
	f.Add("The steps are slow: 158 steps/min against a band of 163 to 187. Practise.")
	f.Add("%s %d \x00 ..  ! A. B")
	b := in(f, Spanish)
	f.Fuzz(func(t *testing.T, text string) {
		if got := b.Of(text); strings.TrimSpace(text) != "" && strings.TrimSpace(got) == "" {
			t.Errorf("%q became nothing", text)
		}
	})
}

func BenchmarkOf(b *testing.B) {
	book := in(b, Spanish)
	for b.Loop() {
		book.Of("The steps are slow for this speed and height: 158 steps/min against a band of 163 to 187. Practise slightly quicker, shorter steps at the same speed, at most 5 % quicker at a time; the landing and bounce often go with it, so look at those again afterwards.")
	}
}

func BenchmarkIn(b *testing.B) {
	for b.Loop() {
		if _, err := In(German); err != nil {
			b.Fatal(err)
		}
	}
}

// The examples follow RFC 9110, 12.5.4: what is wanted most, of what there
// is.
func TestPreferred(t *testing.T) {
	for _, c := range []struct {
		header    string
		otherwise Language
		want      Language
	}{
		{"", "", English}, {"", German, German}, {"de-AT,de;q=0.9,en;q=0.8", "", German}, {"es-419", "", Spanish}, {"es;q=0.3, en-GB;q=0.7", "", English},
		{"fr-CA,fr;q=0.9", Spanish, Spanish}, {"fr, de;q=0.5", Spanish, German}, {"*", Spanish, Spanish}, {"de;q=0, es", "", Spanish},
		{"q;=,,;", German, German}, {"\x00", "", English}, {"gsw-CH, de-CH;q=0.9", "", German},
	} {
		if got := Preferred(c.header, c.otherwise); got != c.want {
			t.Errorf("%q or %q: %s, want %s", c.header, c.otherwise, got, c.want)
		}
	}
}

func TestOfLocale(t *testing.T) {
	for locale, want := range map[string]Language{"de_AT.UTF-8": German, "es": Spanish, "es_ES@euro": Spanish, "DE.utf8": German, "C.UTF-8": English, "POSIX": English, "": English, "fr_FR": English, "en_GB.UTF-8": English} {
		if got := OfLocale(locale); got != want {
			t.Errorf("%q: %s, want %s", locale, got, want)
		}
	}
}

// FuzzPreferred: no header is too strange.
func FuzzPreferred(f *testing.F) {
	f.Add("de-AT,de;q=0.9")
	f.Fuzz(func(t *testing.T, header string) {
		if l := Preferred(header, Spanish); !slices.Contains(Languages(), l) {
			t.Errorf("%q: %q", header, l)
		}
	})
}

// One thing has one word in a language: decision 18 lists them. Whoever
// writes to somebody says du and tú.
func TestTerms(t *testing.T) {
	for l, banned := range map[Language]*regexp.Regexp{
		German:  regexp.MustCompile(`Kadenz|\bClips?\b|\bTrainer|\bLäufer|[^.!?:“]\s(?:Sie|Ihnen|Ihre[mnrs]?)\b`),
		Spanish: regexp.MustCompile(`(?i)\bclips?\b[^.]|\bfilma|\busted(?:es)?\b|ancho de paso`),
	} {
		for message, to := range in(t, l).whole {
			if found := banned.FindString(to); found != "" {
				t.Errorf("%s: %q says %q: %s", l, message, found, to)
			}
		}
	}
}

package settings

import (
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"plumbstride/internal/form"
)

func TestParse(t *testing.T) {
	const whole = `{"shop":{"name":"Kestrel & Vole Running (invented)","line":"3 Mill Lane","colour":"#7a2e1d"},
		"language":"de","units":"us","page":"Letter","tempo_links":[{"label":"168, 20 minutes","link":"https://shop.example/168"}]}`
	s, err := Parse([]byte(whole))
	if err != nil || s.Shop.Name == "" || s.Language != "de" || s.Units != "us" || s.Page != "Letter" || len(s.TempoLinks) != 1 {
		t.Fatalf("%+v, %v", s, err)
	}
	if _, err := Parse([]byte(`{}`)); err != nil {
		t.Errorf("empty settings: %v", err)
	}
	for text, says := range map[string]string{
		"":                               "not settings",
		`[]`:                             "not settings",
		`{"shopp":{}}`:                   "shopp",
		`{} {}`:                          "follows",
		`{"language":"xx"}`:              "no language",
		`{"units":"stone"}`:              "not units",
		`{"page":"A3"}`:                  "not a page",
		`{"shop":{"colour":"blue"}}`:     "not a colour",
		`{"shop":{"colour":"#ffee00"}}`:  "too light",
		`{"shop":{"name":"a\u001bb"}}`:   "can't be printed",
		`{"tempo_links":[{"link":"x"}]}`: "needs a label",
		`{"tempo_links":[{"label":"a","link":"javascript:alert(1)"}]}`:                                   "not a web address",
		`{"tempo_links":[{"label":"a","link":"https://"}]}`:                                              "not a web address",
		`{"shop":{"name":"` + strings.Repeat("a", 61) + `"}}`:                                            "61 characters",
		`{"tempo_links":[{"label":"a","link":"https://shop.example/` + strings.Repeat("a", 200) + `"}]}`: "not a web address",
	} {
		if _, err := Parse([]byte(text)); form.CodeOf(err) != form.CodeUsage || !strings.Contains(err.Error(), says) {
			t.Errorf("%s: %v, want %q", text, err, says)
		}
	}
}

// The example beside the documents is one that would be taken.
func TestExample(t *testing.T) {
	text, err := os.ReadFile(filepath.Join("..", "..", "docs", "settings.example.json"))
	if err != nil {
		t.Fatal(err)
	}
	if s, err := Parse(text); err != nil || s.Shop.Name == "" || s.Shop.Colour == "" || len(s.TempoLinks) == 0 || s.Page == "" {
		t.Errorf("%+v, %v", s, err)
	}
}

// The contrast of #767676 with white is 4.54:1 and that of black 21:1, as
// WCAG's own examples give them (W3C, technique G18).
func TestContrast(t *testing.T) {
	for _, c := range []struct {
		rgb  [3]uint8
		want float64
	}{{[3]uint8{0, 0, 0}, 21}, {[3]uint8{255, 255, 255}, 1}, {[3]uint8{0x76, 0x76, 0x76}, 4.54}} {
		if got := contrastWithWhite(c.rgb); math.Abs(got-c.want) > 0.01 {
			t.Errorf("%v: %.3f, want %.2f", c.rgb, got, c.want)
		}
	}
}

func FuzzParse(f *testing.F) {
	f.Add([]byte(`{"shop":{"name":"a","colour":"#1f4d8f"},"tempo_links":[{"label":"a","link":"https://a.example"}]}`))
	f.Add([]byte(`{"language":"es"}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		if s, err := Parse(data); err != nil && form.CodeOf(err) != form.CodeUsage {
			t.Errorf("%v is no error of usage", err)
		} else if err == nil && s.Shop.Colour != "" {
			if rgb, err := ParseColour(s.Shop.Colour); err != nil || contrastWithWhite(rgb) < leastRead {
				t.Errorf("%s was taken", s.Shop.Colour)
			}
		}
	})
}

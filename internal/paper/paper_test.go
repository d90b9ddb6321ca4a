package paper

import (
	"bytes"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"html"
	"image"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"plumbstride/internal/card"
	"plumbstride/internal/card/cardtest"
	"plumbstride/internal/chart"
	"plumbstride/internal/paper/fonts"
	"plumbstride/internal/quantity"
	"plumbstride/internal/testkit"
)

func cards() map[string]card.Card {
	bare := cardtest.Invented()
	bare.Pictures, bare.Refused, bare.Notes, bare.Priority.Area = nil, nil, nil, nil
	bare.Priority.Why = "Nothing here needs changing. Keep running as you do."
	one := cardtest.Invented()
	one.Pictures = one.Pictures[1:]
	landscape := cardtest.Invented()
	for i := range landscape.Pictures {
		landscape.Pictures[i].Image = image.NewRGBA(image.Rect(0, 0, 1920, 1080))
	}
	unseen := cardtest.Standing()
	unseen.Pictures = nil
	return map[string]card.Card{
		"invented": cardtest.Invented(), "full": cardtest.Full(), "again": cardtest.FilmAgain(),
		"hostile": cardtest.Hostile(), "bare": bare, "one picture": one, "landscape": landscape, "empty": {}, "standing": cardtest.Standing(), "standing track": unseen,
	}
}

func pdf(t testing.TB, c card.Card, o Options) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := PDF(&b, c, o); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func markup(t testing.TB, c card.Card, o Options) string {
	t.Helper()
	var b bytes.Buffer
	if err := HTML(&b, c, o); err != nil {
		t.Fatal(err)
	}
	return b.String()
}

// keep writes a result to the folder that PLUMBSTRIDE_KEEP names, for a look
// at it.
func keep(t *testing.T, name string, data []byte) {
	if dir := os.Getenv("PLUMBSTRIDE_KEEP"); dir != "" {
		if err := os.WriteFile(filepath.Join(dir, name), data, 0o600); err != nil {
			t.Fatal(err)
		}
	}
}

// The sizes of paper are those of ISO 216 (210 × 297 mm) and of ANSI/ASME
// Y14.1 (8.5 × 11 in) in points of 1/72 inch.
func TestOneSheet(t *testing.T) {
	box := map[Page]string{A4: "/MediaBox [0 0 595.28 841.89]", Letter: "/MediaBox [0 0 612.00 792.00]"}
	for name, c := range cards() {
		for _, size := range []Page{A4, Letter} {
			data := pdf(t, c, Options{Page: size})
			keep(t, name+"-"+string(size)+".pdf", data)
			if n := len(regexp.MustCompile(`/Type /Page\b[^s]`).FindAll(data, -1)); n != 1 {
				t.Errorf("%s %s: %d pages", name, size, n)
			}
			if !bytes.Contains(data, []byte(box[size])) {
				t.Errorf("%s %s: the page isn’t %s", name, size, box[size])
			}
		}
	}
}

func TestSameCardSameBytes(t *testing.T) {
	c := cardtest.Invented()
	first := pdf(t, c, Options{})
	for range 8 { // maps are walked in another order each time
		if !bytes.Equal(first, pdf(t, c, Options{Page: A4, Units: quantity.Metric})) {
			t.Fatal("the same card gave two different PDFs")
		}
	}
	if markup(t, c, Options{}) != markup(t, c, Options{}) {
		t.Error("the same card gave two different pages")
	}
}

// TestWordsOnPaper reads the PDF back with poppler's pdftotext.
func TestWordsOnPaper(t *testing.T) {
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		testkit.Lacks(t, "pdftotext isn’t installed (Debian package poppler-utils)")
	}
	read := func(data []byte) string {
		cmd := exec.Command(tool, "-layout", "-", "-")
		cmd.Stdin = bytes.NewReader(data)
		out, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		text := strings.Join(strings.Fields(string(out)), " ")
		return strings.ReplaceAll(text, "≤ ", "≤") // told apart by the width of the gap
	}
	text := read(pdf(t, cardtest.Invented(), Options{}))
	for _, want := range []string{
		"Zoë Lindqvåg (invented)", "14 March 2026, 17:42", "treadmill 10.0 km/h (6:00 min/km)", "172 cm", "63 kg",
		"Work on one thing: landing", "about 12 cm ahead of your body", "Initial contact", "Mid-stance",
		"163.6 ± 0.6", "steps/min", "165–185", "−1.6 to 12", "≤5", "standard deviations (SD)",
		"Not measured, and why", "Leg stiffness, left:", "Take care", "Pain means stop.", "no medical device",
		"detector 9f3c61d2", "heavy 4be07a15", "601 frames in 10.02 s", "common practice, no source",
	} {
		if !strings.Contains(text, want) {
			t.Errorf("the sheet doesn’t say %q", want)
		}
	}
	standing := read(pdf(t, cardtest.Standing(), Options{}))
	for _, want := range []string{"standing check", "a single picture", "← ahead", "behind →", "shoulder 3.4 ± 3.5 cm", "widened sideways", "plumb line through the ankle"} {
		if !strings.Contains(standing, want) {
			t.Errorf("the sheet of a standing check doesn’t say %q", want)
		}
	}
	us := read(pdf(t, cardtest.Invented(), Options{Page: Letter, Units: quantity.US}))
	for _, want := range []string{"5 ft 8 in", "139 lb", "6.2 mph (9:39 min/mile)", "4.9 ± 1.2"} { // 12.4 cm, 2.94 cm
		if !strings.Contains(us, want) {
			t.Errorf("the sheet in US units doesn’t say %q", want)
		}
	}
	full := read(pdf(t, cardtest.Full(), Options{}))
	for _, caution := range cardtest.Full().Cautions { // in columns, so word by word
		for _, word := range strings.Fields(caution) {
			if !strings.Contains(full, word) {
				t.Errorf("a full sheet lost %q of a caution", word)
			}
		}
	}
	if !strings.Contains(full, "more points: see the card’s page.") {
		t.Error("a full sheet doesn’t say that something was left out")
	}
}

// onSheet fails where anything leaves the sheet's margins, where two texts
// lie on one another, or where a text lies on a picture.
func onSheet(t interface{ Errorf(string, ...any) }, name string, s sheet) {
	inner := chart.Box{X1: marginX - 1, Y1: marginTop - 10, X2: s.width - marginX + 1, Y2: s.height - marginBottom + 4}
	var labels []chart.Label
	for _, item := range s.drawing.Items {
		b := item.Box()
		if math.IsNaN(b.X1+b.X2+b.Y1+b.Y2) || !b.Within(inner, 0.01) {
			t.Errorf("%s: %+v lies outside %+v", name, item, inner)
		}
		if l, ok := item.(chart.Label); ok && l.Text != "" {
			labels = append(labels, l)
		}
	}
	for _, st := range s.stills {
		if !st.box.Within(inner, 0.01) {
			t.Errorf("%s: a picture lies outside: %+v", name, st.box)
		}
	}
	for i, a := range labels {
		for _, b := range labels[:i] {
			if a.Box().Overlaps(b.Box(), 0.4) {
				t.Errorf("%s: %q and %q lie on one another", name, a.Text, b.Text)
			}
		}
		for _, st := range s.stills {
			if a.Box().Overlaps(st.box, 0.1) {
				t.Errorf("%s: %q lies on a picture", name, a.Text)
			}
		}
	}
}

func TestNothingOverlapsOrOverflows(t *testing.T) {
	set, err := fonts.Load()
	if err != nil {
		t.Fatal(err)
	}
	for name, c := range cards() {
		for _, o := range []Options{{Page: A4, Units: quantity.Metric}, {Page: Letter, Units: quantity.Metric}, {Page: A4, Units: quantity.US}, {Page: Letter, Units: quantity.US}} {
			onSheet(t, fmt.Sprint(name, " ", o), compose(set, c, o).s)
		}
	}
}

// Ordinary titles, units and bands stand whole at every density.
func TestOrdinaryWordsAreNotCut(t *testing.T) {
	set, err := fonts.Load()
	if err != nil {
		t.Fatal(err)
	}
	c := cardtest.Invented()
	for _, width := range []float64{511, 528} { // A4 and Letter
		for _, d := range densities {
			p := &composer{m: set, c: c, o: Options{}.normal(), wide: width}
			for _, item := range p.chart(d).Items {
				if l, ok := item.(chart.Label); ok && strings.Contains(l.Text, "…") {
					t.Errorf("%v %+v: %q is cut", width, d, l.Text)
				}
			}
		}
	}
}

// Whatever the amounts of measures, refusals, notes and cautions, and however
// long their words, a sheet holds.
func TestAnyAmountFits(t *testing.T) {
	set, err := fonts.Load()
	if err != nil {
		t.Fatal(err)
	}
	full := cardtest.Full()
	rapid.Check(t, func(t *rapid.T) {
		c := full
		c.Measures = full.Measures[:rapid.IntRange(0, len(full.Measures)).Draw(t, "measures")]
		c.Refused = full.Refused[:rapid.IntRange(0, len(full.Refused)).Draw(t, "refusals")]
		c.Pictures = full.Pictures[:rapid.IntRange(0, 2).Draw(t, "pictures")]
		words := rapid.StringOfN(rapid.RuneFrom([]rune("aei mnW")), 0, 200, -1)
		c.Notes = rapid.SliceOfN(words, 0, 8).Draw(t, "notes")
		c.Cautions = rapid.SliceOfN(words, 0, 6).Draw(t, "cautions")
		c.Priority.Why = words.Draw(t, "priority")
		o := Options{Page: rapid.SampledFrom([]Page{A4, Letter}).Draw(t, "page"), Units: quantity.Metric}
		onSheet(t, "any", compose(set, c, o).s)
	})
}

func TestPageNeedsNothingElse(t *testing.T) {
	for name, c := range cards() {
		text := markup(t, c, Options{})
		keep(t, name+".html", []byte(text))
		rest := strings.ReplaceAll(text, `xmlns="http://www.w3.org/2000/svg"`, "")
		for _, bad := range []string{"http:", "https:", "<script", "<link", "<iframe", "javascript:", "@import", " style=", "ZgotmplZ", "onerror="} {
			if strings.Contains(rest, bad) {
				t.Errorf("%s: the page holds %q", name, bad)
			}
		}
		_, style, _ := strings.Cut(text, "<style>")
		style, _, _ = strings.Cut(style, "</style>")
		sum := sha256.Sum256([]byte(style))
		policy := regexp.MustCompile(`Content-Security-Policy" content="([^"]*)"`).FindStringSubmatch(text)
		if policy == nil || !strings.Contains(html.UnescapeString(policy[1]), "'sha256-"+base64.StdEncoding.EncodeToString(sum[:])+"'") ||
			!strings.Contains(html.UnescapeString(policy[1]), "default-src 'none'") {
			t.Errorf("%s: the policy %q doesn’t allow the page’s own style alone", name, policy)
		}
	}
}

func TestPageIsOrdered(t *testing.T) {
	for name, c := range cards() {
		text := markup(t, c, Options{})
		if !strings.Contains(text, `<html lang="en">`) {
			t.Errorf("%s: no language", name)
		}
		levels := regexp.MustCompile(`<h([1-6])`).FindAllStringSubmatch(text, -1)
		last := 0
		for i, l := range levels {
			level := int(l[1][0] - '0')
			if i == 0 && level != 1 || i > 0 && level == 1 || level > last+1 {
				t.Errorf("%s: heading %d has level %d after %d", name, i, level, last)
			}
			last = level
		}
		for _, img := range regexp.MustCompile(`<img [^>]*>`).FindAllString(text, -1) {
			if alt := regexp.MustCompile(`alt="([^"]*)"`).FindStringSubmatch(img); alt == nil || len(alt[1]) < 40 {
				t.Errorf("%s: a picture without words", name)
			}
		}
		seen := map[string]bool{}
		for _, id := range regexp.MustCompile(` id="([^"]*)"`).FindAllStringSubmatch(text, -1) {
			if seen[id[1]] {
				t.Errorf("%s: two elements are called %q", name, id[1])
			}
			seen[id[1]] = true
		}
	}
}

// Everything that the card knows stands on the page, also what the sheet has
// no room for.
func TestPageSaysEverything(t *testing.T) {
	c := cardtest.Full()
	text := html.UnescapeString(markup(t, c, Options{}))
	for _, r := range c.Refused {
		if !strings.Contains(text, r.Reason) {
			t.Errorf("the page doesn’t give the reason %q", r.Reason)
		}
	}
	for _, list := range [][]string{c.Notes, c.Cautions} {
		for _, line := range list {
			if !strings.Contains(text, line) {
				t.Errorf("the page doesn’t say %q", line)
			}
		}
	}
	for _, m := range c.Measures {
		if shown := card.Show(m, quantity.Metric); !strings.Contains(text, ">"+shown.Value+"<") {
			t.Errorf("the page doesn’t give %s = %s", m.Name, shown.Value)
		}
	}
	for _, a := range c.Areas {
		if !strings.Contains(text, a.Why) {
			t.Errorf("the page doesn’t say why %s stands as it does", a.Name)
		}
	}
}

func TestHostileNamesAreEscaped(t *testing.T) {
	text := markup(t, cardtest.Hostile(), Options{})
	if !strings.Contains(text, "&lt;script&gt;alert(") {
		t.Error("the name isn’t there at all")
	}
	if strings.ContainsAny(text, "\u202e\x00\x1b") {
		t.Error("a control character is in the page")
	}
}

type full struct{}

var errFull = errors.New("no room on the disk")

func (full) Write([]byte) (int, error) { return 0, errFull }

func TestWriteErrorsAreTold(t *testing.T) {
	if err := PDF(full{}, cardtest.FilmAgain(), Options{}); !errors.Is(err, errFull) {
		t.Errorf("PDF: %v", err)
	}
	if err := HTML(full{}, cardtest.FilmAgain(), Options{}); !errors.Is(err, errFull) {
		t.Errorf("HTML: %v", err)
	}
}

func TestUnknownPagePanics(t *testing.T) {
	defer func() {
		if r := recover(); r == nil || !strings.HasPrefix(fmt.Sprint(r), "paper: ") {
			t.Errorf("recovered %v", r)
		}
	}()
	_ = PDF(full{}, card.Card{}, Options{Page: "A7"})
}

func TestClassesAndNotesOfMeasures(t *testing.T) {
	c := cardtest.Invented()
	for i := range c.Measures {
		if c.Measures[i].Name == "foot_strike_angle" {
			c.Measures[i].Class, c.Measures[i].Classes = "rearfoot", map[string]float64{"rearfoot": 0.934}
			c.Measures[i].Note = "The flat reference is the network’s mean."
		}
	}
	notes := newContent(c, Options{}.normal()).notes
	want := []item{
		{"Foot strike angle:", "left rearfoot (93 %), right rearfoot (93 %)."},
		{"Foot strike angle:", "The flat reference is the network’s mean."},
	}
	for i, w := range want {
		if notes[i] != w {
			t.Errorf("note %d: %+v, want %+v", i, notes[i], w)
		}
	}
}

func BenchmarkPDF(b *testing.B) {
	c := cardtest.Invented()
	for b.Loop() {
		pdf(b, c, Options{})
	}
}

func BenchmarkHTML(b *testing.B) {
	c := cardtest.Invented()
	for b.Loop() {
		markup(b, c, Options{})
	}
}

package paper

import (
	"bytes"
	"fmt"
	"image"
	_ "image/png" // what pdftoppm gives
	"os/exec"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/makiuchi-d/gozxing"
	gozxingqr "github.com/makiuchi-d/gozxing/qrcode"

	"plumbstride/internal/chart"
	"plumbstride/internal/handout"
	"plumbstride/internal/paper/fonts"
	"plumbstride/internal/plan"
	"plumbstride/internal/settings"
	"plumbstride/internal/testkit"
	"plumbstride/internal/words"
)

func handoutOptions() HandoutOptions {
	return HandoutOptions{
		Shop: settings.Shop{Name: "Kestrel & Vole Running (invented)", Line: "3 Mill Lane, Nowhere", Colour: "#7a2e1d"},
		Links: []settings.Link{
			{Label: "164 steps a minute, 20 minutes", Link: "https://shop.example/tempo/164-20"},
			{Label: "Ladder on the spot", Link: "https://shop.example/tempo/ladder?from=150&to=170"},
			{Label: "A third", Link: "https://shop.example/" + strings.Repeat("x", 170)},
			{Label: "A fourth", Link: "http://a.example"},
		},
		Program: "plumbstride test", Made: time.Date(2026, 3, 1, 12, 0, 0, 0, time.UTC),
	}
}

func topicsOf(t testing.TB, areas ...string) []handout.Topic {
	t.Helper()
	topics, err := handout.Choose(areas)
	if err != nil {
		t.Fatal(err)
	}
	return topics
}

// Whatever is chosen, in every language and on both papers, nothing leaves
// its panel, no two texts lie on one another, and the type stays readable.
func TestHandoutHolds(t *testing.T) {
	set, err := fonts.Load()
	if err != nil {
		t.Fatal(err)
	}
	for _, l := range words.Languages() {
		for _, page := range []Page{A4, Letter} {
			for n := 1; n <= len(plan.Areas()); n++ {
				for _, links := range []int{0, 2, 4} {
					o := handoutOptions()
					o.Page, o.Words, o.Links = page, bookIn(t, l), o.Links[:links]
					pages, err := handoutPages(set, topicsOf(t, plan.Areas()[:n]...), o)
					if err != nil {
						t.Fatal(err)
					}
					for i, d := range pages {
						handoutHolds(t, fmt.Sprint(l, " ", page, " ", n, " areas ", links, " links, side ", i+1), d)
					}
				}
			}
		}
	}
}

func handoutHolds(t *testing.T, name string, d chart.Drawing) {
	t.Helper()
	half := d.Width / 2
	var labels []chart.Label
	for _, item := range d.Items {
		b := item.Box()
		if b.X1 == half && b.X2 == half { // where to fold
			continue
		}
		left := chart.Box{X1: panelMargin - 3, Y1: panelMargin - 8, X2: half - panelMargin + 3, Y2: d.Height - panelMargin + 8}
		right := left
		right.X1, right.X2 = left.X1+half, left.X2+half
		if !b.Within(left, 0) && !b.Within(right, 0) {
			t.Errorf("%s: %+v lies outside its panel", name, item)
		}
		if l, ok := item.(chart.Label); ok && l.Text != "" {
			if l.Size < 5.9 {
				t.Errorf("%s: %q is set in %.1f pt", name, l.Text, l.Size)
			}
			for _, other := range labels {
				if l.Box().Overlaps(other.Box(), 0.8) {
					t.Errorf("%s: %q and %q lie on one another", name, l.Text, other.Text)
				}
			}
			labels = append(labels, l)
		}
	}
}

// The sheet as another program draws it (poppler), read by another program's
// eye (a port of ZXing): every address comes back as it was.
func TestHandoutCodesAreRead(t *testing.T) {
	tool, err := exec.LookPath("pdftoppm")
	if err != nil {
		testkit.Lacks(t, "pdftoppm isn’t installed (Debian package poppler-utils)")
	}
	for _, link := range handoutOptions().Links {
		o := handoutOptions()
		o.Links = []settings.Link{link}
		var out bytes.Buffer
		if err := Handout(&out, topicsOf(t), o); err != nil {
			t.Fatal(err)
		}
		cmd := exec.Command(tool, "-r", "200", "-f", "1", "-l", "1", "-png")
		cmd.Stdin = &out
		picture, err := cmd.Output()
		if err != nil {
			t.Fatal(err)
		}
		img, _, err := image.Decode(bytes.NewReader(picture))
		if err != nil {
			t.Fatal(err)
		}
		bitmap, err := gozxing.NewBinaryBitmapFromImage(img)
		if err != nil {
			t.Fatal(err)
		}
		hints := map[gozxing.DecodeHintType]any{gozxing.DecodeHintType_TRY_HARDER: true}
		result, err := gozxingqr.NewQRCodeReader().Decode(bitmap, hints)
		if err != nil {
			t.Errorf("%s: %v", link.Label, err)
		} else if result.GetText() != link.Link {
			t.Errorf("%s: read %q, want %q", link.Label, result.GetText(), link.Link)
		}
	}
}

func TestHandoutOnPaper(t *testing.T) {
	tool, err := exec.LookPath("pdftotext")
	if err != nil {
		testkit.Lacks(t, "pdftotext isn’t installed (Debian package poppler-utils)")
	}
	var first, second bytes.Buffer
	for _, out := range []*bytes.Buffer{&first, &second} {
		if err := Handout(out, topicsOf(t, "cadence", "lean"), handoutOptions()); err != nil {
			t.Fatal(err)
		}
	}
	if !bytes.Equal(first.Bytes(), second.Bytes()) {
		t.Error("the same handout gave two different PDFs")
	}
	if n := len(regexp.MustCompile(`/Type\s*/Page\b[^s]`).FindAll(first.Bytes(), -1)); n != 2 {
		t.Errorf("%d sides", n)
	}
	cmd := exec.Command(tool, "-", "-")
	cmd.Stdin = &first
	out, err := cmd.Output()
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Join(strings.Fields(string(out)), " ")
	for _, want := range []string{"Kestrel & Vole Running (invented)", "Cadence", "Lean", "At home:", "It can’t tell", "Film yourself again", "164 steps a minute", "Pain means stop", "Not a medical device", "Notes"} {
		if !strings.Contains(text, want) {
			t.Errorf("the handout doesn’t say %q", want)
		}
	}
	if strings.Contains(text, "Bounce") {
		t.Error("an area is on the handout that was not chosen")
	}
}

// A colour that can't be read is refused, not printed.
func TestHandoutColour(t *testing.T) {
	o := handoutOptions()
	o.Shop.Colour = "#ffee00"
	if err := Handout(&bytes.Buffer{}, topicsOf(t), o); err == nil {
		t.Error("yellow on white was taken")
	}
}

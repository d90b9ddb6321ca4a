package paper

import (
	"bytes"
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/chromedp"

	"plumbstride/internal/card"
	"plumbstride/internal/card/cardtest"
	"plumbstride/internal/testkit"
)

// browser starts a headless Chromium that asks nothing of any network.
func browser(t *testing.T) context.Context {
	t.Helper()
	path := ""
	for _, name := range []string{"chromium", "chromium-browser", "google-chrome"} {
		if found, err := exec.LookPath(name); err == nil {
			path = found
			break
		}
	}
	if path == "" {
		testkit.Lacks(t, "no Chromium is installed (Debian package chromium)")
	}
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox,
		chromedp.DisableGPU, chromedp.UserDataDir(t.TempDir()), chromedp.Flag("disable-component-update", true))
	ctx, stop := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(stop)
	ctx, cancel := chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	ctx, done := context.WithTimeout(ctx, 3*time.Minute)
	t.Cleanup(done)
	return ctx
}

// TestInABrowser opens cards at 360 and 1200 pixels: nothing sticks out at
// the side, the page's own fonts are used, the policy has nothing to complain
// about; and an ordinary and a full card print on one sheet.
func TestInABrowser(t *testing.T) {
	ctx := browser(t)
	var lock sync.Mutex
	var complaints []string
	if err := chromedp.Listen(ctx, func(event any) {
		if e, ok := event.(*log.EventEntryAdded); ok {
			lock.Lock()
			defer lock.Unlock()
			complaints = append(complaints, e.Entry.Text)
		}
	}); err != nil {
		t.Fatal(err)
	}
	charts := 0
	for name, c := range map[string]card.Card{"invented": cardtest.Invented(), "full": cardtest.Full(), "usual": usual(), "hostile": cardtest.Hostile(), "again": cardtest.FilmAgain()} {
		for _, size := range []Page{A4, Letter} {
			file := filepath.Join(t.TempDir(), "card.html")
			if err := os.WriteFile(file, []byte(markup(t, c, Options{Page: size})), 0o600); err != nil {
				t.Fatal(err)
			}
			narrow := widthIn(t, ctx, file, 360)
			charts += oneWhatIf(t, ctx, name, 360, 320)
			wide := widthIn(t, ctx, file, 1200)
			charts += oneWhatIf(t, ctx, name, 1200, 700)
			fonts, err := chromedp.Run(ctx, chromedp.Evaluate[int](`[...document.fonts].filter(f => f.status == "loaded").length`))
			if err != nil {
				t.Fatal(err)
			}
			paper, err := chromedp.Run(ctx, chromedp.PrintToPDF(chromedp.PDFPreferCSSPageSize(), chromedp.PDFPrintBackground()))
			if err != nil {
				t.Fatalf("%s %s: %v", name, size, err)
			}
			if narrow > 360 || wide > 1200 {
				t.Errorf("%s %s: the page is %d pixels wide in 360, %d in 1200", name, size, narrow, wide)
			}
			if fonts < 3 {
				t.Errorf("%s %s: only %d of the page’s fonts are used", name, size, fonts)
			}
			sheets := len(regexp.MustCompile(`/Type\s*/Page\b[^s]`).FindAll(paper, -1))
			if sheets != 1 && name != "hostile" || !bytes.HasPrefix(paper, []byte("%PDF")) {
				t.Errorf("%s %s: printed on %d sheets", name, size, sheets)
			}
		}
	}
	if charts == 0 {
		t.Error("no card shows what quicker steps do")
	}
	lock.Lock()
	defer lock.Unlock()
	for _, text := range complaints {
		t.Errorf("the browser complains: %s", text)
	}
}

// widthIn opens a page in a window and gives the width that it takes.
func widthIn(t *testing.T, ctx context.Context, file string, window int64) int {
	t.Helper()
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(window, 780), chromedp.Navigate("file://"+file)); err != nil {
		t.Fatal(err)
	}
	width, err := chromedp.Run(ctx, chromedp.Evaluate[int](`document.documentElement.scrollWidth`))
	if err != nil {
		t.Fatal(err)
	}
	return width
}

// oneWhatIf looks at the chart of what quicker steps do: where a card has it,
// one of its two drawings is seen, at least as wide as stated. It gives how
// many are seen.
func oneWhatIf(t *testing.T, ctx context.Context, name string, window int, least float64) int {
	t.Helper()
	widths, err := chromedp.Run(ctx, chromedp.Evaluate[[]float64](`[...document.querySelectorAll(".whatif svg")].map(s => s.getBoundingClientRect().width)`))
	if err != nil {
		t.Fatal(err)
	}
	if len(widths) == 0 {
		return 0
	}
	seen := 0
	for _, w := range widths {
		if w > 0 {
			seen++
			if w < least {
				t.Errorf("%s: what quicker steps do is drawn %.0f pixels wide in a window of %d", name, w, window)
			}
		}
	}
	if seen != 1 {
		t.Errorf("%s: %d of the drawings of what quicker steps do are seen in a window of %d", name, seen, window)
	}
	return seen
}

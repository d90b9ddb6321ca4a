package web

import (
	"context"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"plumbstride/internal/roster"
	"plumbstride/internal/testkit"
)

// axeVersion is the version that tools/need.sh fetches.
const axeVersion = "4.14.1"

// axe is the text of axe-core, which looks at a page for what keeps people
// with a disability out.
func axe(t *testing.T) string {
	t.Helper()
	cache, err := os.UserCacheDir()
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(cache, "plumbstride", "axe-core-"+axeVersion, "axe.min.js"))
	if err != nil {
		testkit.Lacks(t, "axe-core is not here; run tools/need.sh test")
	}
	return string(text)
}

// window is a browser's window on a room.
type window struct {
	ctx  context.Context
	room *room
	axe  string
	name string // of the screenshots
	// bytes are what came over the line since the last page was opened,
	// without pictures.
	mu    sync.Mutex
	bytes int64
	kinds map[network.RequestID]network.ResourceType
}

// open starts a headless Chromium that takes the room's certificate.
func (r *room) open(t *testing.T, name string, width, height int64, dark bool) *window {
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
	options := append(chromedp.DefaultExecAllocatorOptions[:], chromedp.ExecPath(path), chromedp.NoSandbox, chromedp.DisableGPU,
		chromedp.UserDataDir(t.TempDir()), chromedp.Flag("disable-component-update", true), chromedp.Flag("ignore-certificate-errors", true))
	if dark {
		options = append(options, chromedp.Flag("blink-settings", "preferredColorScheme=0"))
	}
	ctx, stop := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(stop)
	ctx, cancel := chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	ctx, done := context.WithTimeout(ctx, 4*time.Minute)
	t.Cleanup(done)
	w := &window{ctx: ctx, room: r, axe: axe(t), name: name, kinds: map[network.RequestID]network.ResourceType{}}
	if err := chromedp.Listen(ctx, func(event any) { w.hear(t, event) }); err != nil {
		t.Fatal(err)
	}
	if err := chromedp.Do(ctx, chromedp.EmulateViewport(width, height)); err != nil {
		t.Fatal(err)
	}
	return w
}

// hear counts bytes, and fails the test where the browser complains.
func (w *window) hear(t *testing.T, event any) {
	w.mu.Lock()
	defer w.mu.Unlock()
	switch e := event.(type) {
	case *network.EventResponseReceived:
		w.kinds[e.RequestID] = e.Type
	case *network.EventLoadingFinished:
		if w.kinds[e.RequestID] != network.ResourceTypeImage {
			w.bytes += int64(e.EncodedDataLength)
		}
	case *log.EventEntryAdded:
		if e.Entry.Level == "error" && !strings.Contains(e.Entry.Text, "the server responded with a status of 4") {
			t.Errorf("%s: the browser complains: %s %s", w.name, e.Entry.Text, e.Entry.URL)
		}
	case *runtime.EventExceptionThrown:
		t.Errorf("%s: a script failed: %s", w.name, e.ExceptionDetails.Text)
	}
}

func (w *window) do(t *testing.T, actions ...chromedp.Action[chromedp.Void]) {
	t.Helper()
	ctx, done := context.WithTimeout(w.ctx, 30*time.Second)
	defer done()
	if err := chromedp.Do(ctx, actions...); err != nil {
		w.shoot(t, "stuck")
		t.Fatalf("%s: %v", w.name, err)
	}
}

// call has the browser tell what it fetches.
func (w *window) call(t *testing.T) {
	t.Helper()
	if _, err := chromedp.Call(w.ctx, network.Enable, network.EnableParams{}); err != nil {
		t.Fatal(err)
	}
}

// forget empties the browser's memory of files.
func (w *window) forget(t *testing.T) {
	t.Helper()
	if _, err := chromedp.Call(w.ctx, network.ClearBrowserCache, cdp.Empty{}); err != nil {
		t.Fatal(err)
	}
}

// offline takes the page's connection away, or gives it back.
func (w *window) offline(t *testing.T, away bool) {
	t.Helper()
	script := `window.fetch = window.there; dispatchEvent(new Event('online')); 0`
	if away {
		script = `window.there = window.fetch; window.fetch = () => Promise.reject(new TypeError('away')); 0`
	}
	if _, err := chromedp.Run(w.ctx, chromedp.Evaluate[int](script)); err != nil {
		t.Fatal(err)
	}
}

// budget is what a page may weigh without pictures, in bytes, with nothing
// of it in the browser's memory yet.
const budget = 300_000

// look checks the page that is open: it does not stick out, axe finds
// nothing serious, targets are large enough for a thumb; and leaves a picture
// of it.
func (w *window) look(t *testing.T, name string) {
	t.Helper()
	w.do(t, chromedp.WaitReady(chromedp.CSS("main")))
	type found struct {
		Wide  int
		Small []string
	}
	f, err := chromedp.Run(w.ctx, chromedp.Evaluate[found](`(() => {
		const small = [];
		for (const e of document.querySelectorAll('main button, main a.button, main select, main summary, nav a')) {
			const r = e.getBoundingClientRect();
			if (r.width > 0 && r.height < 40) small.push(e.outerHTML.slice(0, 90) + ' ' + r.height);
		}
		return { Wide: document.documentElement.scrollWidth - innerWidth, Small: small };
	})()`))
	if err != nil {
		t.Fatalf("%s %s: %v", w.name, name, err)
	}
	if f.Wide > 0 {
		t.Errorf("%s %s: the page sticks out by %d pixels", w.name, name, f.Wide)
	}
	for _, s := range f.Small {
		t.Errorf("%s %s: hard to hit with a thumb: %s", w.name, name, s)
	}
	w.shoot(t, name)
	w.judge(t, name)
}

// judge has axe-core look at the page.
func (w *window) judge(t *testing.T, name string) {
	t.Helper()
	there, err := chromedp.Run(w.ctx, chromedp.Evaluate[bool](`typeof axe !== 'undefined'`))
	if err != nil {
		t.Fatal(err)
	}
	if !there {
		if _, err := chromedp.Run(w.ctx, chromedp.Evaluate[int](w.axe+";0")); err != nil {
			t.Fatal(err)
		}
	}
	text, err := chromedp.Run(w.ctx, chromedp.Evaluate[string](
		`axe.run(document, { resultTypes: ['violations'] }).then(r => JSON.stringify(r.violations.map(v => ({ id: v.id, impact: v.impact, help: v.help, at: v.nodes.slice(0, 3).map(n => n.html.slice(0, 160) + ' ' + (n.any[0]?.message ?? '')) }))))`,
		chromedp.EvalAwaitPromise))
	if err != nil {
		t.Fatalf("%s %s: %v", w.name, name, err)
	}
	var violations []struct {
		ID, Impact, Help string
		At               []string
	}
	if err := json.Unmarshal([]byte(text), &violations); err != nil {
		t.Fatal(err)
	}
	for _, v := range violations {
		if v.Impact == "serious" || v.Impact == "critical" {
			t.Errorf("%s %s: %s (%s): %s\n%s", w.name, name, v.ID, v.Impact, v.Help, strings.Join(v.At, "\n"))
		} else {
			t.Logf("%s %s: %s (%s): %s %v", w.name, name, v.ID, v.Impact, v.Help, v.At)
		}
	}
}

// shoot leaves a picture of the whole page in the folder screenshots, beside
// the repository's own folders, to be looked at.
func (w *window) shoot(t *testing.T, name string) {
	t.Helper()
	picture, err := chromedp.Run(w.ctx, chromedp.FullScreenshot(80))
	if err != nil {
		t.Fatal(err)
	}
	dir := filepath.Join("..", "..", "screenshots")
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, w.name+"-"+name+".jpg"), picture, 0o644); err != nil {
		t.Fatal(err)
	}
}

// visit opens a page with nothing in the browser's memory and holds it to
// its budget.
func (w *window) visit(t *testing.T, path string) {
	t.Helper()
	w.mu.Lock()
	w.bytes = 0
	w.mu.Unlock()
	w.forget(t)
	w.do(t, chromedp.Navigate(w.room.http.URL+path), chromedp.WaitReady(chromedp.CSS("main")))
	// Told, not judged: it says as much about the machine as about the page.
	paint, err := chromedp.Run(w.ctx, chromedp.Evaluate[float64](`performance.getEntriesByType('paint').at(-1)?.startTime ?? -1`))
	if err != nil {
		t.Fatal(err)
	}
	w.mu.Lock()
	defer w.mu.Unlock()
	t.Logf("%s %s: %d bytes, first paint after %.0f ms", w.name, path, w.bytes, paint)
	if w.bytes > budget {
		t.Errorf("%s %s: %d bytes without pictures, more than %d", w.name, path, w.bytes, budget)
	}
}

// TestEveningInABrowser: the whole evening as a person does it, on a phone in
// daylight and on a laptop at night.
func TestEveningInABrowser(t *testing.T) {
	clipFile := filepath.Join(t.TempDir(), "runner.mov")
	if err := os.WriteFile(clipFile, clip(t), 0o600); err != nil {
		t.Fatal(err)
	}
	for _, screen := range []struct {
		name          string
		width, height int64
		dark          bool
	}{{"phone", 360, 740, false}, {"laptop", 1280, 800, true}} {
		t.Run(screen.name, func(t *testing.T) {
			r := newRoom(t, line)
			w := r.open(t, screen.name, screen.width, screen.height, screen.dark)
			w.call(t)
			w.comeIn(t)
			w.classOf(t)
			w.film(t, clipFile)
			w.decide(t)
			w.mail(t, clipFile)
			w.rest(t)
		})
	}
}

const enter = "\r"

func (w *window) comeIn(t *testing.T) {
	w.visit(t, "/begin")
	w.look(t, "01-begin")
	w.do(t, chromedp.SendKeys(chromedp.CSS(`[name=code]`), w.room.desk.Code()), chromedp.SendKeys(chromedp.CSS(`[name=name]`), "nora"),
		chromedp.SendKeys(chromedp.CSS(`[name=password]`), password), chromedp.SendKeys(chromedp.CSS(`[name=again]`), password+enter), chromedp.WaitVisible(chromedp.CSS(`[name=title]`)))
	w.look(t, "02-classes")
	w.do(t, chromedp.SendKeys(chromedp.CSS(`[name=title]`), "Invented class"), chromedp.SendKeys(chromedp.CSS(`[name=place]`), "Example hall"),
		chromedp.SendKeys(chromedp.CSS(`[name=capacity]`), "12"), chromedp.Submit(chromedp.CSS(`form.fields`)), chromedp.WaitVisible(chromedp.CSS(`[name=height]`)))
	w.look(t, "03-class-empty")
}

func (w *window) classOf(t *testing.T) {
	classes, err := w.room.db.Classes(t.Context())
	if err != nil || len(classes) != 1 {
		t.Fatal(classes, err)
	}
	for _, name := range []string{"Beryl Example", "Cosmo Example", "Dana Example-With-A-Rather-Long-Name"} {
		w.room.person(t, name, classes[0], roster.Audience{Runner: true})
	}
	w.do(t, chromedp.SendKeys(chromedp.CSS(`[name=name]`), "Ada Example"), chromedp.SendKeys(chromedp.CSS(`[name=height]`), "175"),
		chromedp.Submit(chromedp.CSS(`form[action$="/runners"]`)), chromedp.WaitVisible(chromedp.CSS(`[name=given_by]`)))
	w.look(t, "04-consent")
	w.do(t, chromedp.Click(chromedp.CSS(`[name=film]`)), chromedp.Click(chromedp.CSS(`[name=pictures]`)), chromedp.Click(chromedp.CSS(`[name=of_age]`)),
		chromedp.Submit(chromedp.CSS(`form.fields`)), chromedp.WaitVisible(chromedp.CSS(`.line`)))
	w.look(t, "05-class")
}

// film goes on from the class by the keyboard alone, and sends the clip.
func (w *window) film(t *testing.T, clipFile string) {
	w.do(t, chromedp.Focus(chromedp.CSS(`#next`)), chromedp.KeyEvent(enter), chromedp.WaitVisible(chromedp.CSS(`[name=speed]`)))
	w.look(t, "06-film")
	w.offline(t, true)
	w.do(t, chromedp.SendKeys(chromedp.CSS(`[name=speed]`), "10.8"), chromedp.SetUploadFiles(chromedp.CSS(`[name=clip]`), []string{clipFile}),
		chromedp.Click(chromedp.CSS(`form[data-upload] p.act > button`)), chromedp.WaitVisible(chromedp.CSS(`[data-sending] .state:not(:empty)`)))
	if said, err := chromedp.Run(w.ctx, chromedp.Evaluate[string](`document.querySelector('[data-sending] .state').textContent`)); err != nil || !strings.Contains(said, "connection was lost") {
		t.Errorf("without Wi-Fi the page says %q (%v)", said, err)
	}
	w.look(t, "07-no-wifi")
	w.offline(t, false)
	w.do(t, chromedp.WaitVisible(chromedp.CSS(`[data-done]`)))
	w.look(t, "07-sent")
	w.room.settled(t)
	w.do(t, chromedp.Click(chromedp.CSS(`[data-done] a.button`)), chromedp.WaitVisible(chromedp.CSS(`.line .ready, .line .bob.ready`)))
	w.look(t, "08-class-ready")
}

func (w *window) decide(t *testing.T) {
	w.do(t, chromedp.Click(chromedp.CSS(`.line .do a[href^="/check/"]`)), chromedp.WaitVisible(chromedp.CSS(`.form-card`)))
	w.look(t, "09-card")
	w.do(t, chromedp.Click(chromedp.CSS(`[name=area][value=cadence]`)), chromedp.SendKeys(chromedp.CSS(`[name=reason]`), "Heard it on the belt."),
		chromedp.Submit(chromedp.CSS(`form[action$="/word"]`)), chromedp.WaitVisible(chromedp.CSS(`[name=usual]`)))
	w.look(t, "10-decided")
	w.do(t, chromedp.SendKeys(chromedp.CSS(`[name=usual]`), "120"), chromedp.Click(chromedp.CSS(`[name=asked]`)), chromedp.Submit(chromedp.CSS(`form[action$="/plan"]`)), chromedp.WaitVisible(chromedp.CSS(`.form-plan`)))
	w.look(t, "11-plan")
	w.do(t, chromedp.Submit(chromedp.CSS(`form[action$="/links"]`)), chromedp.WaitVisible(chromedp.CSS(`.qr`)))
	w.look(t, "12-link")
}

// mail drops clips on the page for mail: a name is found, one isn't.
func (w *window) mail(t *testing.T, clipFile string) {
	classes, err := w.room.db.Classes(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	named := filepath.Join(filepath.Dir(clipFile), "IMG_2 cosmo.mov")
	if err := os.WriteFile(named, clip(t), 0o600); err != nil {
		t.Fatal(err)
	}
	w.visit(t, "/class/"+classes[0].ID+"/clips")
	w.do(t, chromedp.SetUploadFiles(chromedp.CSS(`[data-match] input[type=file]`), []string{named, clipFile}), chromedp.WaitVisible(chromedp.CSS(`.matches li:nth-child(2)`)))
	w.look(t, "13-mail")
	w.do(t, chromedp.Click(chromedp.CSS(`[data-match] button`)), chromedp.WaitVisible(chromedp.CSS(`.matches select:disabled`)))
	w.room.settled(t)
	runners, err := w.room.db.Runners(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	for _, p := range runners {
		checks, err := w.room.db.RunnerChecks(t.Context(), p.ID)
		if want := map[string]int{"Beryl Example": 1, "Cosmo Example": 1}[p.Name]; err != nil || len(checks) != want {
			t.Errorf("%s has %d checks, want %d (%v)", p.Name, len(checks), want, err)
		}
	}
}

// rest looks at every other page once.
func (w *window) rest(t *testing.T) {
	x := w.room.things(t, "Erin Example")
	class, runner := "/class/"+x.class.ID, "/runner/"+x.runner.ID
	for i, path := range []string{
		"/classes", class, class + "/clips", class + "/board", class + "/edit", class + "/runner/" + x.runner.ID + "/film", "/people", "/accounts", "/password", runner, runner + "/edit", runner + "/consent",
		"/check/" + x.kept.ID, "/check/" + x.released.ID, "/plan/" + x.releasedPlan.ID,
		"/door/" + x.door, "/my/" + x.own, "/my/" + x.own + "/check/" + x.released.ID, "/my/" + x.own + "/plan/" + x.releasedPlan.ID,
		"/invited/" + x.invited, "/stop/" + x.stop, "/trail", "/follow-up", runner + "/message", "/nothing-here",
	} {
		w.visit(t, path)
		parts := strings.Split(strings.Trim(path, "/"), "/")
		name := parts[0]
		if len(parts)%2 == 1 || parts[0] == "my" {
			name += "-" + parts[len(parts)-1]
			if len(parts[len(parts)-1]) > 20 {
				name = parts[0] + fmt.Sprint(len(parts))
			}
		}
		w.look(t, fmt.Sprintf("%d-%s", 20+i, name))
	}
}

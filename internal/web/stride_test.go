package web

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"image"
	"math"
	"math/rand/v2"
	"net/http"
	"os/exec"
	"regexp"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/emulation"
	cdplog "github.com/chromedp/cdproto/log"
	"github.com/chromedp/cdproto/network"
	"github.com/chromedp/cdproto/runtime"
	"github.com/chromedp/chromedp"

	"plumbstride/internal/account"
	"plumbstride/internal/check"
	"plumbstride/internal/evening"
	"plumbstride/internal/media"
	"plumbstride/internal/roster"
	"plumbstride/internal/standin"
	"plumbstride/internal/store"
	"plumbstride/internal/testkit"
	"plumbstride/internal/track"
)

// inventedRun measures an invented runner in place of any clip: the line's own
// stages, on true points with a little noise, and drawn pictures.
func inventedRun(ctx context.Context, _ store.CheckKind, _ string, ask check.Ask, _ func(check.Progress)) (*check.Outcome, error) {
	r, cam, scene, _ := standin.Demo()
	cam.NoisePx, cam.Width, cam.Height = 1, 960, 540
	m, err := standin.NewMotion(r, 5, nil)
	if err != nil {
		return nil, err
	}
	var b bytes.Buffer
	if err := track.Write(&b, m.Track(cam, rand.New(rand.NewPCG(3, 4)))); err != nil {
		return nil, err
	}
	deps := check.Deps{Program: "plumbstride test", Now: time.Now}
	deps.Frames = func(ctx context.Context, times []float64) ([]*image.RGBA, error) {
		return m.Pictures(ctx, cam, scene, times)
	}
	ask.HeightM = r.HeightM
	return check.Track(ctx, deps, &b, ask)
}

// checked gives a ready check of a runner who agreed to pictures.
func (r *room) checked(t *testing.T, shown roster.Audience) (roster.Runner, store.Check) {
	t.Helper()
	runner, err := r.db.AddRunner(t.Context(), roster.Runner{Name: "Invented Ilse", BirthYear: 1990, HeightM: 1.72})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := r.db.AddConsent(t.Context(), roster.Consent{RunnerID: runner.ID, Film: true, Pictures: true, Shown: shown, GivenBy: runner.Name, Words: "I agree."}); err != nil {
		t.Fatal(err)
	}
	u, err := r.db.AddUpload(t.Context(), store.Upload{RunnerID: runner.ID, Kind: store.Running, Name: "a.mp4", Bytes: 4, Ask: evening.AskFor(runner, 2.75).JSON()})
	if err != nil {
		t.Fatal(err)
	}
	if err := r.shelf.Begin(u); err != nil {
		t.Fatal(err)
	}
	if _, err := r.shelf.Append(t.Context(), u, 0, strings.NewReader("clip")); err != nil {
		t.Fatal(err)
	}
	c, err := media.Complete(t.Context(), r.db, r.shelf, u.ID, evening.Job())
	if err != nil {
		t.Fatal(err)
	}
	r.queue.Wake()
	for deadline := time.Now().Add(2 * time.Minute); c.State == store.Waiting; time.Sleep(20 * time.Millisecond) {
		if c, err = r.db.Check(t.Context(), c.ID); err != nil || time.Now().After(deadline) {
			t.Fatal("never measured", err)
		}
	}
	if c.State != store.Ready {
		t.Fatalf("%s: %s", c.State, c.Refusal)
	}
	return runner, c
}

var strideSrc = regexp.MustCompile(`href="(/check/[^"]+/stride/[^"]+)"`)

// TestStridePages: without scripts all phases of both feet are there as
// pictures with lines; a coach's corrections are measured at once, marked and
// can be taken back; nobody else may correct, and no address opens another
// check's picture.
func TestStridePages(t *testing.T) {
	r := newRoom(t, inventedRun)
	_, c := r.checked(t, roster.Audience{})
	coach, helper := r.signedIn(t, "nora", roster.Coach), r.signedIn(t, "hal", roster.Helper)
	path := "/check/" + c.ID + "/stride"
	page := coach.get(path)
	if page.status != http.StatusOK {
		t.Fatalf("%d %s", page.status, page.body)
	}
	for _, phase := range []string{"Initial contact", "Loading", "Mid-stance", "Toe-off", "Flight"} {
		if n := strings.Count(page.body, "<b>"+phase+"</b>"); n != 2 {
			t.Errorf("%d pictures of %s", n, phase)
		}
	}
	src := strideSrc.FindAllStringSubmatch(page.body, -1)
	if len(src) != 10 {
		t.Fatalf("%d pictures", len(src))
	}
	if got := coach.get(src[0][1]); got.status != http.StatusOK || got.head.Get("Content-Type") != "image/jpeg" || len(got.body) < 2000 || len(got.body) > 80_000 {
		t.Errorf("a picture: %d, %d bytes", got.status, len(got.body))
	}
	_, other := r.checked(t, roster.Audience{})
	id := src[0][1][strings.LastIndex(src[0][1], "/"):]
	for _, elsewhere := range []string{"/check/" + other.ID + "/stride" + id, path + "/nothing", path + "/" + c.ClipID} {
		if got := coach.get(elsewhere); got.status != http.StatusNotFound {
			t.Errorf("%s: %d", elsewhere, got.status)
		}
	}
	// A helper sees the lines, not the pictures that the runner didn't show,
	// and changes nothing.
	if got := helper.get(path); got.status != http.StatusOK || strideSrc.MatchString(got.body) || strings.Contains(got.body, "<form id=\"corrections\"") {
		t.Errorf("a helper's page: %d", got.status)
	}
	if got := helper.get(src[0][1]); got.status != http.StatusForbidden {
		t.Errorf("a helper's picture: %d", got.status)
	}
	if got := helper.post(path, "version", "1", "corrections", "{}"); got.status != http.StatusForbidden {
		t.Errorf("a helper corrects: %d", got.status)
	}
	if got := r.browser(t).get(path); !strings.HasPrefix(got.to, "/sign-in") {
		t.Errorf("a stranger is led to %q", got.to)
	}
	data := scriptOf(t, page.body)
	left := data.Feet[0]
	fix := fmt.Sprintf(`{"events":[{"kind":"contact","side":"left","found_s":%v,"time_s":%v}]}`, left.Contact.FoundS, left.Contact.FoundS+0.012)
	if got := coach.post(path, "version", fmt.Sprint(data.Version), "corrections", fix); got.to != path {
		t.Fatalf("correcting: %d %s", got.status, got.body)
	}
	page = coach.get(path)
	if !strings.Contains(page.body, "Corrected by hand") || !strings.Contains(page.body, "Contact time") || !scriptOf(t, page.body).Feet[0].Contact.ByHand {
		t.Error("the correction isn't shown")
	}
	if got := coach.post(path, "version", fmt.Sprint(data.Version), "corrections", "{}"); got.status != http.StatusConflict {
		t.Errorf("a page from before: %d", got.status)
	}
	for _, bad := range []string{"{", `{"points":[{"time_s":1,"point":"tail"}]}`, `{"events":[{"kind":"contact","side":"left","found_s":900,"time_s":900}]}`} {
		if got := coach.post(path, "version", fmt.Sprint(scriptOf(t, page.body).Version), "corrections", bad); got.status != http.StatusUnprocessableEntity {
			t.Errorf("%s: %d", bad, got.status)
		}
	}
	if got := coach.post(path, "version", fmt.Sprint(scriptOf(t, page.body).Version), "corrections", "{}"); got.to != path {
		t.Errorf("taking back: %d %s", got.status, got.body)
	}
	if page = coach.get(path); strings.Contains(page.body, "Corrected by hand") {
		t.Error("it isn't taken back")
	}
}

// TestStrideOfOwn: a runner's link opens their own stride once a coach has had
// their word, with pictures where the consent says so, and nobody else's.
func TestStrideOfOwn(t *testing.T) {
	r := newRoom(t, inventedRun)
	runner, c := r.checked(t, roster.Audience{Runner: true})
	_, other := r.checked(t, roster.Audience{Runner: true})
	token, hash := account.NewToken()
	if _, err := r.db.AddLink(t.Context(), store.Link{Role: roster.Own, RunnerID: runner.ID, Hash: hash, Expires: time.Now().Add(time.Hour)}); err != nil {
		t.Fatal(err)
	}
	b := r.browser(t)
	path := "/my/" + token + "/check/" + c.ID + "/stride"
	if got := b.get(path); got.status != http.StatusNotFound {
		t.Errorf("before the coach's word: %d", got.status)
	}
	for _, one := range []store.Check{c, other} {
		if _, err := r.db.Decide(t.Context(), one.ID, one.Version, proposedArea(t, one), ""); err != nil {
			t.Fatal(err)
		}
	}
	got := b.get(path)
	pictures := regexp.MustCompile(`href="(/my/[^"]+/stride/[^"]+)"`).FindAllStringSubmatch(got.body, -1)
	if got.status != http.StatusOK || len(pictures) != 10 || strings.Contains(got.body, "id=\"corrections\"") {
		t.Fatalf("%d, %d pictures", got.status, len(pictures))
	}
	if p := b.get(pictures[3][1]); p.status != http.StatusOK {
		t.Errorf("a picture: %d", p.status)
	}
	if got := b.get("/my/" + token + "/check/" + other.ID + "/stride"); got.status != http.StatusNotFound {
		t.Errorf("somebody else's: %d", got.status)
	}
	if got := b.post("/my/"+token+"/check/"+c.ID+"/stride", "version", "1", "corrections", "{}"); got.status < 400 {
		t.Errorf("a runner corrects: %d", got.status)
	}
}

func proposedArea(t *testing.T, c store.Check) string {
	t.Helper()
	var cd struct {
		Priority struct {
			Area *string `json:"area"`
		} `json:"priority"`
	}
	if err := json.Unmarshal(c.Card, &cd); err != nil {
		t.Fatal(err)
	}
	if cd.Priority.Area == nil {
		return ""
	}
	return *cd.Priority.Area
}

var strideData = regexp.MustCompile(`(?s)<script type="application/json" id="stride-data">(.*?)</script>`)

func scriptOf(t *testing.T, body string) strideScript {
	t.Helper()
	found := strideData.FindStringSubmatch(body)
	if found == nil {
		t.Fatal("no data for the script")
	}
	var s strideScript
	if err := json.Unmarshal([]byte(found[1]), &s); err != nil {
		t.Fatal(err)
	}
	return s
}

// chromium starts a headless browser that asks nothing of any network.
func chromium(t *testing.T) context.Context {
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
	ctx, stop := chromedp.NewExecAllocator(t.Context(), options...)
	t.Cleanup(stop)
	ctx, cancel := chromedp.NewContext(ctx)
	t.Cleanup(cancel)
	ctx, done := context.WithTimeout(ctx, 4*time.Minute)
	t.Cleanup(done)
	return ctx
}

// TestStrideInABrowser: a coach steps by keys and buttons, sets a landing,
// moves a point by mouse and by keys, saves, and finds it kept; nothing sticks
// out at 360 pixels, and the page has nothing to complain about.
func TestStrideInABrowser(t *testing.T) {
	ctx := chromium(t)
	r := newRoom(t, inventedRun)
	_, c := r.checked(t, roster.Audience{})
	coach := r.signedIn(t, "nora", roster.Coach)
	cookies := coach.c.Jar.Cookies(mustURL(t, r.http.URL))
	var lock sync.Mutex
	var complaints []string
	if err := chromedp.Listen(ctx, func(event any) {
		lock.Lock()
		defer lock.Unlock()
		switch e := event.(type) {
		case *cdplog.EventEntryAdded:
			complaints = append(complaints, e.Entry.Text)
		case *runtime.EventExceptionThrown:
			complaints = append(complaints, fmt.Sprint(e.ExceptionDetails.Text, " ", e.ExceptionDetails.Exception))
		}
	}); err != nil {
		t.Fatal(err)
	}
	path := "/check/" + c.ID + "/stride"
	do := func(actions ...chromedp.Action[chromedp.Void]) {
		t.Helper()
		if err := chromedp.Do(ctx, actions...); err != nil {
			t.Fatal(err)
		}
	}
	text := func(expression string) string {
		t.Helper()
		s, err := chromedp.Run(ctx, chromedp.Evaluate[string](expression))
		if err != nil {
			t.Fatal(err)
		}
		return s
	}
	do(chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
		_, err := cdp.Call(ctx, target, network.SetCookie, network.SetCookieParams{Name: cookies[0].Name, Value: cookies[0].Value, URL: r.http.URL, Path: "/", Secure: new(true), HTTPOnly: new(true)})
		return err
	}))
	for _, view := range []struct {
		width, height int64
		dark          string
	}{{360, 740, "light"}, {1200, 900, "dark"}} {
		do(chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
			_, err := cdp.Call(ctx, target, emulation.SetEmulatedMedia, emulation.SetEmulatedMediaParams{Features: []*emulation.MediaFeature{{Name: "prefers-color-scheme", Value: view.dark}}})
			return err
		}),
			chromedp.EmulateViewport(view.width, view.height), chromedp.Navigate(r.http.URL+path), chromedp.WaitVisible("#stepper svg image"))
		wide, err := chromedp.Run(ctx, chromedp.Evaluate[float64]("document.documentElement.scrollWidth"))
		if err != nil {
			t.Fatal(err)
		}
		if wide > float64(view.width) {
			t.Errorf("at %d pixels the page is %g wide", view.width, wide)
		}
		shoot(t, ctx, fmt.Sprintf("stride-%d-%s", view.width, view.dark))
	}
	scripts := func(off bool) chromedp.Action[chromedp.Void] {
		return chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
			_, err := cdp.Call(ctx, target, emulation.SetScriptExecutionDisabled, emulation.SetScriptExecutionDisabledParams{Value: off})
			return err
		})
	}
	do(chromedp.EmulateViewport(360, 740), scripts(true), chromedp.Navigate(r.http.URL+path), chromedp.WaitVisible("#all svg image"))
	shoot(t, ctx, "stride-360-without-scripts")
	do(scripts(false), chromedp.Navigate(r.http.URL+path), chromedp.WaitVisible("#stepper svg image"))
	phase := `document.querySelector(".where b").textContent`
	for _, want := range []string{"Loading", "Mid-stance", "Toe-off", "Flight", "Initial contact"} {
		press(ctx, t, "ArrowRight")
		if got := text(phase); got != want {
			t.Errorf("the arrow key leads to %q, not %q", got, want)
		}
	}
	press(ctx, t, "ArrowLeft")
	if got := text(phase); got != "Flight" {
		t.Errorf("back leads to %q", got)
	}
	click := func(label string) {
		t.Helper()
		text(fmt.Sprintf(`(() => { const b = [...document.querySelectorAll("#stepper button")].find((b) => b.textContent.trim() === %q && !b.disabled); if (!b) throw new Error("no button " + %q); b.click(); return ""; })()`, label, label))
	}
	click("Initial contact")
	click("Next picture")
	click("Next picture")
	click("It lands in this picture")
	if got := text(`document.querySelector(".panel p").textContent`); !strings.Contains(got, "Set by hand") || !strings.Contains(got, "first picture with the foot on the ground") {
		t.Errorf("the landing's panel says %q", got)
	}
	click("Move points")
	before := text(`JSON.stringify([...document.querySelectorAll("circle.spot")].map((c) => [+c.getAttribute("cx"), +c.getAttribute("cy")]))`)
	dragSpot(ctx, t, "Heel, right", 18, -9)
	text(`(document.querySelector('circle[aria-label^="Knee, left"]').focus(), "")`)
	for range 3 {
		press(ctx, t, "ArrowUp")
	}
	if label := text(`document.activeElement.getAttribute("aria-label")`); label != "Knee, left, set by hand" {
		t.Errorf("the focus is on %q", label)
	}
	if text(`JSON.stringify([...document.querySelectorAll("circle.spot")].map((c) => [+c.getAttribute("cx"), +c.getAttribute("cy")]))`) == before {
		t.Error("no point moved")
	}
	shoot(t, ctx, "stride-360-points")
	click("Closer")
	shoot(t, ctx, "stride-360-closer")
	click("Save 3 and measure again")
	do(chromedp.WaitVisible("#by-hand"), chromedp.WaitVisible("#stepper svg image"))
	kept, err := r.db.Check(t.Context(), c.ID)
	if err != nil {
		t.Fatal(err)
	}
	s, err := evening.StrideOf(t.Context(), r.db, r.shelf, kept)
	if err != nil || len(s.Fix.Points) != 2 || len(s.Fix.Events) != 1 {
		t.Fatalf("%+v, %v", s.Fix, err)
	}
	for _, p := range s.Fix.Points {
		k, ok := frameOf(s, p.TimeS)
		if !ok {
			t.Fatalf("no frame at %g", p.TimeS)
		}
		was := s.Track.Frames[k].Spots[p.Joint()]
		moved := math.Hypot(p.XPx-was.X, p.YPx-was.Y)
		if p.Joint().String() == "left knee" && math.Abs(moved-3) > 0.2 || p.Joint().String() == "right heel" && (moved < 5 || moved > 100) {
			t.Errorf("the %s moved by %.1f px", p.Joint(), moved)
		}
	}
	shoot(t, ctx, "stride-360-saved")
	do(chromedp.EmulateViewport(1200, 900))
	shoot(t, ctx, "stride-1200-saved")
	lock.Lock()
	defer lock.Unlock()
	for _, c := range complaints {
		t.Errorf("the browser says: %s", c)
	}
}

func frameOf(s evening.Stride, at float64) (int, bool) {
	for i, f := range s.Track.Frames {
		if math.Abs(f.Time-at) < 0.001 {
			return i, true
		}
	}
	return 0, false
}

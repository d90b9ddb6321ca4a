package tempo

import (
	"context"
	_ "embed"
	"encoding/json"
	"fmt"
	"math"
	"net/http"
	"net/http/httptest"
	"os"
	"os/exec"
	"slices"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
)

//go:embed testdata/live.html
var livePage []byte

// lacking skips on a developer's machine, and fails where everything must run.
func lacking(tb testing.TB, format string, args ...any) {
	tb.Helper()
	if os.Getenv("CI") != "" || os.Getenv("PLUMBSTRIDE_TEST_ALL") != "" {
		tb.Fatalf(format, args...)
	}
	tb.Skipf(format, args...)
}

// browser is a headless Chromium; ask runs one of the page's jobs on a plan.
type browser struct{ run context.Context }

func openBrowser(t *testing.T) browser {
	t.Helper()
	path, err := exec.LookPath("chromium")
	if err != nil {
		if path, err = exec.LookPath("chromium-browser"); err != nil {
			lacking(t, "Chromium is lacking, in which the page's tempo is tried (apt-get install chromium)")
		}
	}
	run, stop := chromedp.NewExecAllocator(context.Background(),
		chromedp.ExecPath(path), chromedp.UserDataDir(t.TempDir()), chromedp.Headless, chromedp.NoSandbox,
		chromedp.DisableGPU, chromedp.NoFirstRun, chromedp.Flag("disable-background-networking", true),
		chromedp.Flag("disable-component-update", true), chromedp.Flag("disable-sync", true),
		chromedp.Flag("disable-extensions", true), chromedp.Flag("disable-dev-shm-usage", true),
		chromedp.Flag("host-resolver-rules", "MAP * ~NOTFOUND, EXCLUDE 127.0.0.1"))
	t.Cleanup(stop)
	page, leave := chromedp.NewContext(run)
	t.Cleanup(func() {
		if err := chromedp.Cancel(page); err != nil {
			t.Logf("close the browser: %v", err)
		}
		leave()
	})
	return browser{page}
}

func (b browser) ask(t *testing.T, job string, plan Plan, into any) {
	t.Helper()
	object, err := json.Marshal(plan)
	if err != nil {
		t.Fatal(err)
	}
	mux := http.NewServeMux()
	serve := func(path, kind string, content []byte) {
		mux.HandleFunc("GET "+path, func(w http.ResponseWriter, _ *http.Request) {
			w.Header().Set("Content-Type", kind)
			w.Write(content)
		})
	}
	serve("/{$}", "text/html; charset=utf-8", livePage)
	serve("/live.js", "text/javascript", []byte(LiveJS))
	serve("/plan.json", "application/json", object)
	server := httptest.NewServer(mux)
	defer server.Close()
	if err := chromedp.Do(b.run, chromedp.Navigate(fmt.Sprintf("%s/?job=%s", server.URL, job))); err != nil {
		t.Fatalf("open the page: %v", err)
	}
	text, err := chromedp.Run(b.run, chromedp.Poll[string]("window.result",
		chromedp.WithPollingInterval(100*time.Millisecond), chromedp.WithPollingTimeout(3*time.Minute)))
	if err != nil {
		t.Fatalf("%s: %v", job, err)
	}
	var failed struct{ Failed string }
	if json.Unmarshal([]byte(text), &failed) == nil && failed.Failed != "" {
		t.Fatalf("%s: %s", job, failed.Failed)
	}
	if err := json.Unmarshal([]byte(text), into); err != nil {
		t.Fatalf("%s: %v in %.200s", job, err, text)
	}
}

// played is what a job recorded: times in samples from the plan's start.
type played struct {
	Times, Onsets []float64
	Missed, Ended int
	State         string
	Peak          float64
}

// tenMinutes holds everything a plan can hold.
func tenMinutes(t *testing.T) Plan {
	t.Helper()
	up, err := Make(Ask{Own: 161_300, Target: 176_900, LengthMS: 5 * 60_000})
	if err != nil {
		t.Fatal(err)
	}
	off, err := Make(Ask{Target: 173_333, LengthMS: 280_000, Pattern: Pattern{Shape: OnOff, OnMS: 61_001, OffMS: 17_003}})
	if err != nil {
		t.Fatal(err)
	}
	next := Part{Kind: Chime, MS: nextMS, Signal: Next}
	up.Parts = slices.Concat(up.Parts, []Part{next}, off.Parts)
	if err := up.Valid(); err != nil || up.LengthMS() < 590_000 {
		t.Fatalf("%d ms, %v", up.LengthMS(), err)
	}
	return up
}

func within(t *testing.T, what string, got []float64, events []Event, tolerance float64) {
	t.Helper()
	if len(got) != len(events) {
		t.Fatalf("%s: %d sounds, want %d", what, len(got), len(events))
	}
	worst := 0.0
	for i, e := range events {
		d := math.Abs(got[i] - float64(e.Sample))
		if worst = max(worst, d); d > tolerance {
			t.Fatalf("%s: sound %d (%v) at sample %v, want %d", what, i, e.Sound, got[i], e.Sample)
		}
	}
	t.Logf("%s: %d sounds over %.0f s, the worst off by %.2g samples", what, len(got), float64(events[len(events)-1].Sample)/SampleRate, worst)
}

// On a page the plan is played as it is rendered to a file: the same sounds
// at the same samples, however late the timers come, and the audio system
// itself begins each where it should. 2 ms would be 88 samples.
func TestLive(t *testing.T) {
	plan := tenMinutes(t)
	events := plan.Events()
	b := openBrowser(t)

	t.Run("schedule", func(t *testing.T) {
		var got []struct {
			Sample float64
			Sound  string
			Part   int
		}
		b.ask(t, "schedule", plan, &got)
		samples := make([]float64, len(got))
		for i, g := range got {
			samples[i] = g.Sample
			if i < len(events) && (g.Sound != events[i].Sound.String() || g.Part != events[i].Part) {
				t.Fatalf("sound %d is %+v, want %v of part %d", i, g, events[i].Sound, events[i].Part)
			}
		}
		within(t, "unrounded", samples, events, 0.5+1e-4)
	})
	t.Run("late timers", func(t *testing.T) {
		var got played
		b.ask(t, "late", plan, &got)
		within(t, "with timers up to a minute late", got.Times, events, 0.01)
		if got.Missed != 0 || got.Ended != 1 || got.State != "ended" {
			t.Errorf("missed %d, ended %d times, %s", got.Missed, got.Ended, got.State)
		}
	})
	t.Run("paused", func(t *testing.T) {
		var got played
		b.ask(t, "paused", plan, &got)
		within(t, "with two pauses", got.Times, events, 1) // the position of a pause is no whole sample
	})
	t.Run("stalled", func(t *testing.T) { // what is played is in its place; the rest is left out, not made up for
		var got played
		b.ask(t, "stalled", plan, &got)
		if got.Missed == 0 || got.Missed+len(got.Times) != len(events) {
			t.Fatalf("%d played and %d missed of %d", len(got.Times), got.Missed, len(events))
		}
		var due []Event
		for _, e := range events {
			if s := float64(e.Sample) / SampleRate; s < 1.9 || s > 30 { // 2 s ahead, less the 0.1 s before the start
				due = append(due, e)
			}
		}
		within(t, "with timers stopped for 30 s", got.Times, due, 0.01)
	})
	t.Run("audio system", func(t *testing.T) {
		var got played
		b.ask(t, "offline", plan, &got)
		within(t, "handed over", got.Times, events, 0.01)
		lags := map[Sound][]float64{}
		if len(got.Onsets) != len(events) {
			t.Fatalf("%d onsets in the sound, want %d", len(got.Onsets), len(events))
		}
		for i, e := range events {
			lags[e.Sound] = append(lags[e.Sound], got.Onsets[i]-float64(e.Sample))
		}
		for s, lag := range lags {
			low, high := slices.Min(lag), slices.Max(lag)
			t.Logf("%v: %d onsets, heard %.2f to %.2f samples after their time", s, len(lag), low, high)
			if high-low > 0.01 || low < 0 || high > 5*SampleRate/1000 {
				t.Errorf("%v is heard from %v to %v samples after its time", s, low, high)
			}
		}
		if got.Missed != 0 || got.Peak > 0.708 {
			t.Errorf("missed %d, peak %v", got.Missed, got.Peak)
		}
	})
	t.Run("sounds", func(t *testing.T) {
		var got map[string][]float64
		b.ask(t, "sounds", plan, &got)
		for s, want := range voices() {
			have := got[Sound(s).String()]
			if len(have) != len(want) {
				t.Fatalf("%v has %d samples, want %d", Sound(s), len(have), len(want))
			}
			for i, v := range want {
				if math.Abs(have[i]-float64(v)) > 1 {
					t.Fatalf("%v: sample %d is %v, want %d", Sound(s), i, have[i], v)
				}
			}
		}
		if len(got) != int(soundCount) {
			t.Errorf("the page has %d sounds, want %d", len(got), soundCount)
		}
	})
}

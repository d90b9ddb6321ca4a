package web

import (
	"context"
	"net/url"
	"os"
	"path/filepath"
	"testing"

	"github.com/chromedp/cdproto/cdp"
	"github.com/chromedp/cdproto/input"
	"github.com/chromedp/chromedp"
	"github.com/chromedp/chromedp/kb"
)

func mustURL(t *testing.T, text string) *url.URL {
	t.Helper()
	u, err := url.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	return u
}

// shoot keeps a screenshot in the folder that PLUMBSTRIDE_SCREENSHOTS names;
// without one, nothing.
func shoot(t *testing.T, ctx context.Context, name string) {
	t.Helper()
	dir := os.Getenv("PLUMBSTRIDE_SCREENSHOTS")
	if dir == "" {
		return
	}
	picture, err := chromedp.Run(ctx, chromedp.FullScreenshot(90))
	if err != nil {
		t.Fatal(err)
	}
	if err := os.MkdirAll(dir, 0o755); err != nil {
		t.Fatal(err)
	}
	if err := os.WriteFile(filepath.Join(dir, name+".jpg"), picture, 0o644); err != nil {
		t.Fatal(err)
	}
}

// press presses a key by its name.
func press(ctx context.Context, t *testing.T, key string) {
	t.Helper()
	keys := map[string]string{"ArrowLeft": kb.ArrowLeft, "ArrowRight": kb.ArrowRight, "ArrowUp": kb.ArrowUp, "ArrowDown": kb.ArrowDown}
	if err := chromedp.Do(ctx, chromedp.KeyEvent(keys[key])); err != nil {
		t.Fatal(err)
	}
}

// dragSpot drags a point of the drawing by some pixels of the screen.
func dragSpot(ctx context.Context, t *testing.T, label string, dx, dy float64) {
	t.Helper()
	at, err := chromedp.Run(ctx, chromedp.Evaluate[[2]float64](`(() => {
		document.querySelector("#stepper svg").scrollIntoView({block: "center", behavior: "instant"});
		const b = document.querySelector('circle[aria-label^="`+label+`"]').getBoundingClientRect();
		return [b.x + b.width / 2, b.y + b.height / 2];
	})()`))
	if err != nil {
		t.Fatal(err)
	}
	mouse := func(kind input.DispatchMouseEventType, x, y float64) chromedp.Action[chromedp.Void] {
		return chromedp.Func(func(ctx context.Context, target *chromedp.Target) error {
			_, err := cdp.Call(ctx, target, input.DispatchMouseEvent, input.DispatchMouseEventParams{Type: kind, X: x, Y: y, Button: "left", Buttons: 1, ClickCount: 1})
			return err
		})
	}
	if err := chromedp.Do(ctx, mouse("mousePressed", at[0], at[1]), mouse("mouseMoved", at[0]+dx/2, at[1]+dy/2),
		mouse("mouseMoved", at[0]+dx, at[1]+dy), mouse("mouseReleased", at[0]+dx, at[1]+dy)); err != nil {
		t.Fatal(err)
	}
}

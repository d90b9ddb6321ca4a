package cli

import (
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"os"
	"path/filepath"

	"plumbstride/internal/card"
	"plumbstride/internal/check"
	"plumbstride/internal/form"
	"plumbstride/internal/standin"
	"plumbstride/internal/store"
)

// demoVerb shows a check from beginning to end, on a clip of an invented
// runner, and a shop full of invented people.
type demoVerb struct {
	Out         string `default:"demo" placeholder:"DIR" help:"Leave the clip and the form card in this folder."`
	Shop        string `placeholder:"DIR" help:"The data folder to fill with the invented shop: the folder shop in that of --out unless stated here or by PLUMBSTRIDE_HOME. One with real records in it is left alone."`
	WithoutClip bool   `help:"Only fill the shop: no clip is drawn, and no network is needed."`
	Serve       bool   `help:"Then serve the invented shop's pages on this machine until Ctrl-C; once it is filled, at once."`
	Address     string `default:"127.0.0.1:8440" placeholder:"127.0.0.1:8440" help:"Where --serve listens; on this machine alone unless stated."`
	shown
}

// Help stands below the verb's first line in its help.
func (demoVerb) Help() string {
	return "Draws a runner who does not exist, with known movements, writes the clip, and checks it as any other clip is checked. Then fills a data folder with an invented shop: four evenings over two seasons, and three dozen people who do not exist, with checks, plans and notes. Everything is made on this machine. Run it again as often as you like: what is filled stays.\n\n" + exitCodes
}

// clipName is the demo's clip in its folder.
const clipName = "runner.mp4"

// Run draws the clip, checks it, fills the shop, and says where everything
// lies.
func (v *demoVerb) Run(e *errand) error {
	if err := v.settle(e); err != nil {
		return err
	}
	dir, err := v.shopFolder()
	if err != nil {
		return err
	}
	filled, err := shopState(e.ctx, dir, e.now)
	if err != nil {
		return err
	}
	if filled && v.Serve {
		return v.serve(e, dir)
	}
	f := &shopFiller{e: e}
	if !v.WithoutClip {
		if f.filmed, err = v.film(e); err != nil {
			return err
		}
		f.clip = filepath.Join(v.Out, clipName)
		fmt.Fprintln(e.Out)
	}
	if !filled {
		if err := v.fill(e, f, dir); err != nil {
			return err
		}
		fmt.Fprintln(e.Out, e.book.Say("%s lies in %s: %d evenings, %d people who do not exist, %d checks.", demoShop, printable(dir), len(f.classes), len(f.runners), f.checks))
	} else {
		fmt.Fprintln(e.Out, e.book.Say("%s lies in %s already; it was left as it is.", demoShop, printable(dir)))
	}
	if v.Serve {
		return v.serve(e, dir)
	}
	fmt.Fprintf(e.Out, "%s\n%s\n", e.book.Say("Look at it with: plumbstride demo --serve%s", v.again()), e.book.Say("The account to sign in with stands in %s.", printable(filepath.Join(dir, signInName))))
	return nil
}

// again are the flags that find the same shop again.
func (v *demoVerb) again() string {
	switch {
	case v.Shop != "":
		return " --shop " + printable(v.Shop)
	case v.Out != "demo" && namedFolder() == "":
		return " --out " + printable(v.Out)
	}
	return ""
}

// shopFolder is where the shop lies or is to lie: never in the user's usual
// data folder, unless it is named.
func (v *demoVerb) shopFolder() (string, error) {
	dir := v.Shop
	if dir == "" {
		dir = namedFolder()
	}
	if dir == "" {
		dir = filepath.Join(v.Out, "shop")
	}
	full, err := filepath.Abs(dir)
	if err != nil {
		return "", form.UsageError("the folder %q can't be used: %w", dir, err)
	}
	return full, nil
}

// fill fills the shop, with its progress shown.
func (v *demoVerb) fill(e *errand, f *shopFiller, dir string) error {
	p := newProgress(e.Err, columnsOf(e.Err), e.now)
	p.say = e.book
	defer p.end()
	f.tell = func(what string, done, all int) { p.tell(what, "checks", done, all) }
	if err := os.MkdirAll(filepath.Dir(dir), 0o755); err != nil {
		return form.UsageError("the folder %s can't be made: %w", filepath.Dir(dir), err)
	}
	return fillShop(f, dir)
}

// serve serves the invented shop's pages.
func (v *demoVerb) serve(e *errand, dir string) error {
	r, err := openFolder(e.ctx, dir, e.now)
	if err != nil {
		return err
	}
	defer r.close()
	signIn, err := os.ReadFile(filepath.Join(dir, signInName))
	if err != nil {
		return fmt.Errorf("the demo's account: %w", err)
	}
	fmt.Fprintf(e.Out, "\n%s\n", printableLines(string(signIn)))
	pages := serveVerb{Address: v.Address, HTTP: true, shown: v.shown, invented: true}
	pages.shop.Shop.Name = demoShop
	return pages.serve(e, r)
}

// film draws the clip, checks it and leaves its card.
func (v *demoVerb) film(e *errand) (*check.Outcome, error) {
	undo, err := folder(v.Out)
	if err != nil {
		return nil, err
	}
	clip := filepath.Join(v.Out, clipName)
	truth, err := v.draw(e, clip)
	if err != nil {
		undo()
		return nil, err
	}
	runner, camera, _, seconds := standin.Demo()
	fmt.Fprint(e.Out, v.book.Say("The clip is %s: %.0f s at %.0f frames a second of a runner who does not exist.", printable(clip), seconds, camera.RateHz), "\n\n")
	one := checkVerb{
		Clip: clip, Height: heightFlag(runner.HeightM), Mass: massFlag(runner.MassKg), Name: runner.Name,
		Longest: 60, Out: v.Out, shown: v.shown, stride: true,
	}
	out, err := one.check(e)
	if err != nil {
		return nil, err
	}
	return out, one.leave(e, out, func(m card.Measure) (float64, bool) {
		value, ok := truth.Value(m.Name, m.Unit, m.Side)
		return value.Value, ok
	})
}

// draw writes the clip of the invented runner, the same on every run.
func (v *demoVerb) draw(e *errand, path string) (standin.Truth, error) {
	encoder, err := encoder(e.ctx)
	if err != nil {
		return standin.Truth{}, err
	}
	p := newProgress(e.Err, columnsOf(e.Err), e.now)
	p.say = e.book
	defer p.end()
	runner, camera, scene, seconds := standin.Demo()
	return standin.WriteClip(e.ctx, encoder, path, runner, camera, scene, seconds, rand.New(rand.NewPCG(1, 2)),
		func(done, all int) { p.tell("Draw the invented runner", "frames", done, all) })
}

// cardOf reads a kept check's card.
func cardOf(c store.Check) (cd card.Card, err error) {
	if err := json.Unmarshal(c.Card, &cd); err != nil {
		return cd, fmt.Errorf("the card of check %s: %w", c.ID, err)
	}
	return cd, nil
}

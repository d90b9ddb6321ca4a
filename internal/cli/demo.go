package cli

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"

	"plumbstride/internal/card"
	"plumbstride/internal/quantity"
	"plumbstride/internal/standin"
)

// demoVerb shows a check from beginning to end, on a clip of an invented
// runner.
type demoVerb struct {
	Out   string         `default:"demo" placeholder:"DIR" help:"Leave the clip and the form card in this folder."`
	Page  string         `enum:"A4,Letter" default:"A4" placeholder:"A4|Letter" help:"The card's paper."`
	Units quantity.Units `enum:"metric,us" default:"metric" placeholder:"metric|us" help:"The units of the table and the card."`
}

// Help stands below the verb's first line in its help.
func (demoVerb) Help() string {
	return "Draws a runner who does not exist, with known movements, writes the clip, and checks it as any other clip is checked. Everything is made on this machine.\n\n" + exitCodes
}

// clipName is the demo's clip in its folder.
const clipName = "runner.mp4"

// Run draws the clip, checks it, and says where everything lies.
func (v *demoVerb) Run(e *errand) error {
	undo, err := folder(v.Out)
	if err != nil {
		return err
	}
	clip := filepath.Join(v.Out, clipName)
	truth, err := v.draw(e, clip)
	if err != nil {
		undo()
		return err
	}
	runner, camera, _, seconds := standin.Demo()
	fmt.Fprintf(e.Out, "The clip is %s: %.0f s at %.0f frames a second of a runner who does not exist.\n\n", printable(clip), seconds, camera.RateHz)
	check := checkVerb{
		Clip: clip, Height: heightFlag(runner.HeightM), Mass: massFlag(runner.MassKg), Name: runner.Name,
		Longest: 60, Out: v.Out, Page: v.Page, Units: v.Units,
	}
	out, err := check.check(e)
	if err != nil {
		return err
	}
	return check.leave(e, out, func(m card.Measure) (float64, bool) {
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
	defer p.end()
	runner, camera, scene, seconds := standin.Demo()
	return standin.WriteClip(e.ctx, encoder, path, runner, camera, scene, seconds, rand.New(rand.NewPCG(1, 2)),
		func(done, all int) { p.tell("Draw the invented runner", "frames", done, all) })
}

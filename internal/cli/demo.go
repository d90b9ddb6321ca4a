package cli

import (
	"fmt"
	"math/rand/v2"
	"path/filepath"

	"plumbstride/internal/card"
	"plumbstride/internal/standin"
)

// demoVerb shows a check from beginning to end, on a clip of an invented
// runner.
type demoVerb struct {
	Out string `default:"demo" placeholder:"DIR" help:"Leave the clip and the form card in this folder."`
	shown
}

// Help stands below the verb's first line in its help.
func (demoVerb) Help() string {
	return "Draws a runner who does not exist, with known movements, writes the clip, and checks it as any other clip is checked. Everything is made on this machine.\n\n" + exitCodes
}

// clipName is the demo's clip in its folder.
const clipName = "runner.mp4"

// Run draws the clip, checks it, and says where everything lies.
func (v *demoVerb) Run(e *errand) error {
	if err := v.settle(e); err != nil {
		return err
	}
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
	fmt.Fprint(e.Out, v.book.Say("The clip is %s: %.0f s at %.0f frames a second of a runner who does not exist.", printable(clip), seconds, camera.RateHz), "\n\n")
	check := checkVerb{
		Clip: clip, Height: heightFlag(runner.HeightM), Mass: massFlag(runner.MassKg), Name: runner.Name,
		Longest: 60, Out: v.Out, shown: v.shown,
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
	p.say = e.book
	defer p.end()
	runner, camera, scene, seconds := standin.Demo()
	return standin.WriteClip(e.ctx, encoder, path, runner, camera, scene, seconds, rand.New(rand.NewPCG(1, 2)),
		func(done, all int) { p.tell("Draw the invented runner", "frames", done, all) })
}

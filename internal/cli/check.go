package cli

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"

	"plumbstride/internal/check"
	"plumbstride/internal/form"
	"plumbstride/internal/quantity"
)

// checkVerb is one check: the clip, what the coach states, and what to make.
type checkVerb struct {
	Clip string   `arg:"" name:"clip" help:"The clip (mp4, mov, webm, avi), a picture of somebody standing (JPEG, PNG, WebP, HEIC), a track of body points (.csv), or the recording of an accelerometer."`
	More []string `arg:"" optional:"" name:"more" help:"More clips of the same runner passing the camera: all passes become one check."`

	Height  heightFlag  `group:"The runner and the run:" placeholder:"172cm" help:"The runner's height: 172cm, 1.72m, 5ft8in. Needed but for an accelerometer."`
	Mass    massFlag    `group:"The runner and the run:" placeholder:"64kg" help:"The runner's mass: 64kg, 141lb, 10st1lb."`
	Sex     string      `group:"The runner and the run:" enum:",female,male" default:"" placeholder:"female|male" help:"Whose segment masses to use; the mean of both where not stated."`
	Speed   speedFlag   `group:"The runner and the run:" placeholder:"10km/h" help:"The true speed, where it is known: 10km/h, 2.8m/s, 6.2mph, 6:00/km, 9:30/mile."`
	Incline inclineFlag `group:"The runner and the run:" placeholder:"1%" help:"The treadmill's incline."`
	Name    string      `group:"The runner and the run:" placeholder:"NAME" help:"What to call the runner on the card."`
	Pain    bool        `group:"The runner and the run:" help:"Something hurts the runner now: then nothing is put first."`

	Standing     bool   `group:"The camera:" help:"Somebody stands still in it: check how they stand. Found out by itself unless stated."`
	View         string `group:"The camera:" enum:",side,front,back" default:"" placeholder:"side|front|back" help:"From where the person is filmed; found out by itself unless stated."`
	Back         string `group:"The camera:" placeholder:"FILE" help:"A second clip (or track) of the same run, filmed from straight behind: step width, knees, trunk."`
	WithStanding string `group:"The camera:" placeholder:"FILE" help:"A side-view clip or picture of the same runner standing, in the same shoes: the flat foot for the foot strike angle."`

	Level       levelFlag  `group:"The camera:" default:"auto" placeholder:"auto|DEG" help:"How far the scene is turned clockwise in the picture (a level belt falls to the right), where it is known."`
	Facing      facingFlag `group:"The camera:" default:"auto" placeholder:"auto|left|right" help:"The way the runner faces in the picture."`
	CaptureRate rateFlag   `group:"The camera:" default:"auto" placeholder:"auto|240" help:"Frames a second at capture, for slow motion whose file doesn't tell."`
	Network     string     `group:"The camera:" enum:",lite,full,heavy" default:"" placeholder:"lite|full|heavy" help:"One network for every frame, in place of the usual choice."`
	Longest     spanFlag   `group:"The camera:" default:"60s" placeholder:"90s" help:"The longest clip to take on; 60s unless stated."`

	recorderFlags

	Out      string `group:"The result:" placeholder:"DIR" help:"Leave card.html, card.pdf, check.json, track.csv and pictures of a stride in this folder."`
	JSON     bool   `group:"The result:" name:"json" help:"Print one JSON object, and nothing else, on standard output."`
	Track    string `group:"The result:" placeholder:"FILE" help:"Write the track of body points to this file."`
	ShowFace bool   `group:"The result:" help:"Don't blur the face in the card's pictures."`
	shown

	stride bool // cut the stills of a stride, for records
}

// Help stands below the verb's first line in its help.
func (checkVerb) Help() string {
	return "Film from the side, the whole body in the picture, the camera still and level at hip height, 60 frames a second or more, about 10 seconds. Over ground, stand well back from the middle of the path and let the runner pass both ways; several clips are taken together, and a phone that turns with the runner is fine before a background with things in it. A picture, or a few seconds of somebody who stands still, seen from the side or the front, becomes a standing check. A second clip with --back, or one alone with --view back, is filmed from straight behind, on a treadmill or of a runner who runs away. The footage stays on this machine.\n\n" + exitCodes
}

// Run checks the clip and leaves what was asked for.
func (v *checkVerb) Run(e *errand) error {
	if err := v.settle(e); err != nil {
		return err
	}
	if err := v.spare(); err != nil {
		return err
	}
	undo := func() {}
	if v.Out != "" {
		var err error
		if undo, err = folder(v.Out); err != nil {
			return err
		}
	}
	out, err := v.check(e)
	if err != nil {
		undo()
		return err
	}
	return v.leave(e, out, nil)
}

// spare refuses a file that can't be a clip, and results that would
// overwrite it.
func (v *checkVerb) spare() error {
	for _, name := range v.clips() {
		if err := v.spareOne(name); err != nil {
			return err
		}
	}
	return nil
}

// clips are all clips named.
func (v *checkVerb) clips() []string { return append([]string{v.Clip}, v.More...) }

func (v *checkVerb) spareOne(name string) error {
	clip, err := os.Stat(name)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return form.ClipError("there is no file %s; look at its name and folder", name)
	case err != nil:
		return form.ClipError("the file %s can't be read: %w", name, err)
	case !clip.Mode().IsRegular():
		return form.ClipError("%s is not a file; name a clip or a track", name)
	case !v.Accelerometer && strings.HasSuffix(strings.ToLower(name), ".csv.gz"):
		return form.UsageError("%s is a packed table, not a video: add --accelerometer if it is the recording of an accelerometer; a track of body points must be unpacked first", printable(name))
	case len(v.More) > 0 && isTrack(name):
		return form.UsageError("%s is a track of body points; only clips can be taken together", name)
	}
	if err := v.spareBack(clip); err != nil {
		return err
	}
	for _, path := range v.places() {
		if there, err := os.Stat(path); err == nil && os.SameFile(clip, there) {
			return form.UsageError("the result %s would overwrite the file to be checked; name another place", path)
		}
	}
	return nil
}

func isTrack(name string) bool { return strings.EqualFold(filepath.Ext(name), ".csv") }

// spareBack refuses a clip from behind that can't be one.
func (v *checkVerb) spareBack(clip fs.FileInfo) error {
	if v.Back == "" {
		return nil
	}
	switch {
	case v.Standing:
		return form.UsageError("--back goes with a run, not with somebody standing; leave one of the two out")
	case v.View != "" && v.View != string(form.ViewSide):
		return form.UsageError("--back goes beside a clip from the side; a clip from behind alone is checked with --view back and without --back")
	}
	back, err := os.Stat(v.Back)
	switch {
	case err != nil || !back.Mode().IsRegular():
		return form.ClipError("there is no clip from behind named %s; look at its name and folder", printable(v.Back))
	case os.SameFile(clip, back):
		return form.UsageError("--back names the same file as the clip from the side; film a second one from behind")
	}
	for _, path := range v.places() {
		if there, err := os.Stat(path); err == nil && os.SameFile(back, there) {
			return form.UsageError("the result %s would overwrite the clip from behind; name another place", path)
		}
	}
	return nil
}

func (v *checkVerb) ask() check.Ask {
	ask := check.Ask{
		Name: v.Name, HeightM: float64(v.Height), MassKg: float64(v.Mass), Sex: sexOf(v.Sex),
		SpeedMS: float64(v.Speed), InclinePct: v.Incline.percent,
		Facing: form.Side(v.Facing), CaptureRateHz: float64(v.CaptureRate), Network: v.Network,
		LongestS: float64(v.Longest), ShowFace: v.ShowFace, Inches: v.Units == quantity.US, Pain: v.Pain,
	}
	if v.Level.stated {
		ask.Level = &v.Level.degrees
	}
	ask.Stride = v.stride || v.Out != ""
	ask.Standing, ask.View, ask.Back = v.Standing, form.View(v.View), v.Back
	return ask
}

// asked is ask with the flat foot of the standing clip, if one is named.
func (v *checkVerb) asked(e *errand, deps check.Deps) (check.Ask, error) {
	ask := v.ask()
	if v.WithStanding == "" {
		return ask, nil
	}
	if v.Standing {
		return ask, form.UsageError("--with-standing gives a running check its flat foot; leave --standing out")
	}
	if st, err := os.Stat(v.WithStanding); err != nil || !st.Mode().IsRegular() {
		return ask, form.ClipError("there is no file %s with somebody standing; look at its name and folder", printable(v.WithStanding))
	}
	flat, err := check.FlatFeet(e.ctx, deps, v.WithStanding, ask)
	ask.Flat = flat
	return ask, err
}

// check runs the line on the clip or the track, with its progress shown.
func (v *checkVerb) check(e *errand) (*check.Outcome, error) {
	p := newProgress(e.Err, columnsOf(e.Err), e.now)
	p.say = e.book
	defer p.end()
	if v.Accelerometer {
		return v.checkRecording(e, p)
	}
	if isTrack(v.Clip) && (v.WithStanding == "" || isTrack(v.WithStanding)) && (v.Back == "" || isTrack(v.Back)) {
		return v.checkTrack(e, forTrack(e, p))
	}
	deps, done, err := forClip(e, p)
	if err != nil {
		return nil, err
	}
	defer done()
	if isTrack(v.Clip) {
		return v.checkTrack(e, deps)
	}
	ask, err := v.asked(e, deps)
	if err != nil {
		return nil, err
	}
	return check.Clips(e.ctx, deps, v.clips(), ask)
}

func (v *checkVerb) checkTrack(e *errand, deps check.Deps) (*check.Outcome, error) {
	ask, err := v.asked(e, deps)
	if err != nil {
		return nil, err
	}
	f, err := os.Open(v.Clip)
	if err != nil {
		return nil, form.ClipError("the track %s can't be read: %w", v.Clip, err)
	}
	defer f.Close()
	out, err := check.Track(e.ctx, deps, f, ask)
	if err != nil {
		return nil, err
	}
	out.Card.Clip.File = filepath.Base(v.Clip)
	return out, nil
}

// leave prints the card or its JSON, and writes the files asked for. truth
// is nil but for the demo.
func (v *checkVerb) leave(e *errand, out *check.Outcome, truth known) error {
	object, err := cardJSON(out.Card)
	if err != nil {
		return err
	}
	files, err := v.results(out, object)
	if err != nil {
		return err
	}
	if err := e.ctx.Err(); err != nil {
		return err
	}
	if err := publishAll(files); err != nil { // an interrupt from here on waits: it takes milliseconds
		return err
	}
	if v.JSON {
		_, err := e.Out.Write(object)
		return err
	}
	writeCard(e.Out, out.Card.In(v.book), v.Units, columnsOf(e.Out), truth, v.book)
	if v.Out != "" {
		fmt.Fprintln(e.Out, v.book.Say("The form card is in %s and %s.", printable(filepath.Join(v.Out, pageName)), printable(filepath.Join(v.Out, sheetName))))
	} else {
		fmt.Fprintln(e.Out, v.book.Say("Add --out DIR to get the form card as a page and a PDF."))
	}
	return nil
}

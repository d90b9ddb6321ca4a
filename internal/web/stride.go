package web

import (
	"errors"
	"fmt"
	"io"
	"math"
	"net/http"
	"strconv"

	"plumbstride/internal/amend"
	"plumbstride/internal/card"
	"plumbstride/internal/evening"
	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
	"plumbstride/internal/words"
)

// stridePage is the drawing of a check: one stride of each foot, phase by
// phase.
type stridePage struct {
	Runner roster.Runner
	Base   string // the check's address
	Feet   []strideFoot
	// May: whoever looks may correct.
	May     bool
	Version int64
	// Moved are the measures that rest on corrections.
	Moved     []movedRow
	Corrected *card.Corrected
	Script    strideScript
}

type strideFoot struct {
	Side    string
	Near    bool
	Figures []strideFigure
}

// strideFigure is one phase as a picture with lines, in the picture's pixels.
type strideFigure struct {
	Name, Alt, Src string
	TimeS          string
	Width, Height  int
	Lines          []strideLine
	ByHand         bool
}

type strideLine struct {
	Class          string
	X1, Y1, X2, Y2 float64
}

// movedRow is a measure before and after corrections.
type movedRow struct{ Title, Side, Was, Now string }

// strideScript is what the page's script draws from.
type strideScript struct {
	Joints []string `json:"joints"`
	// JointNames are the same for people to read.
	JointNames []string          `json:"joint_names"`
	Bones      [][2]int          `json:"bones"`
	Feet       []scriptFoot      `json:"feet"`
	Fix        amend.Corrections `json:"fix"`
	Version    int64             `json:"version"`
	Width      int               `json:"width"` // of the track's picture; 0: not known
	Height     int               `json:"height"`
	Moved      bool              `json:"moved"` // the camera moved
	// TiltDeg is how far true vertical leans in the pictures, clockwise.
	TiltDeg float64 `json:"tilt_deg"`
}

type scriptFoot struct {
	Side    string        `json:"side"`
	Near    bool          `json:"near"`
	Phases  []scriptPhase `json:"phases"`
	Frames  []scriptFrame `json:"frames"`
	Contact scriptMoment  `json:"contact"`
	ToeOff  scriptMoment  `json:"toe_off"`
}

type scriptPhase struct {
	Name  string  `json:"name"`
	Title string  `json:"title"` // the same, to be read
	TimeS float64 `json:"time_s"`
	Frame int     `json:"frame"`
}

type scriptMoment struct {
	TimeS  float64 `json:"time_s"`
	FoundS float64 `json:"found_s"`
	ByHand bool    `json:"by_hand"`
}

// scriptFrame is one picture; Place takes the track into it. Spots are the
// joints as they were found, in the track's pixels, null where not.
type scriptFrame struct {
	TimeS float64       `json:"time_s"`
	Src   string        `json:"src"`
	W     int           `json:"w"`
	H     int           `json:"h"`
	Place [6]float64    `json:"place"`
	Spots []*[2]float64 `json:"spots"`
}

// jointName is what a joint is called for people to read.
func jointName(j form.Joint, b words.Book) string {
	point := b.Of(j.Point().String())
	switch j.Side() {
	case form.Left:
		return b.Say("%s, left", point)
	case form.Right:
		return b.Say("%s, right", point)
	}
	return point
}

// bones are the lines of the body that are drawn, by joint.
func bones() [][2]form.Joint {
	var out [][2]form.Joint
	for _, s := range []form.Side{form.Left, form.Right} {
		for _, b := range [][2]form.Point{
			{form.Ear, form.Shoulder}, {form.Shoulder, form.Hip}, {form.Shoulder, form.Elbow}, {form.Elbow, form.Wrist},
			{form.Hip, form.Knee}, {form.Knee, form.Ankle}, {form.Ankle, form.Heel}, {form.Heel, form.Toe}, {form.Ankle, form.Toe},
		} {
			out = append(out, [2]form.Joint{form.At(b[0], s), form.At(b[1], s)})
		}
	}
	return out
}

// boneClass is how a line is drawn: by the side it is on, and the sole
// thicker than the rest.
func boneClass(b [2]form.Joint, near form.Side) string {
	class := "far"
	if b[0].Side() == near {
		class = "near"
	}
	if b[0].Point() == form.Heel && b[1].Point() == form.Toe {
		class += " sole"
	}
	return class
}

// stridePage shows the stride, phase by phase.
func (v *visit) stridePage() error {
	p, err := v.strideOf()
	if err != nil {
		return err
	}
	return v.show("stride", v.words.Say("Stride of %s", v.runner.Name), p)
}

func (v *visit) strideOf() (stridePage, error) {
	s, err := evening.StrideOf(v.ctx(), v.Store, v.site.Shelf, v.check)
	if err != nil {
		return stridePage{}, err
	}
	p := stridePage{
		Runner: v.runner, Base: "/check/" + v.check.ID, May: v.may(roster.Change, roster.CheckKind),
		Version: v.check.Version, Corrected: s.Card.Corrected,
	}
	if v.link.ID != "" {
		p.Base = "/my/" + v.token + "/check/" + v.check.ID
	}
	p.Script = strideScript{
		Fix: s.Fix, Version: v.check.Version, Width: s.Track.Width, Height: s.Track.Height, Moved: s.Track.FocalPx > 0,
	}
	if s.Card.Clip.RollDeg.Known() {
		p.Script.TiltDeg = float64(s.Card.Clip.RollDeg)
	}
	for j := range form.Joint(form.NumJoints) {
		p.Script.Joints = append(p.Script.Joints, j.String())
		p.Script.JointNames = append(p.Script.JointNames, jointName(j, v.words))
	}
	for _, b := range bones() {
		p.Script.Bones = append(p.Script.Bones, [2]int{int(b[0]), int(b[1])})
	}
	fixed, _, err := amend.Apply(s.Track, amend.Corrections{Points: s.Fix.Points})
	if err != nil {
		return p, fmt.Errorf("the stored corrections of check %s: %w", v.check.ID, err)
	}
	for _, f := range s.Feet() {
		v.addFoot(&p, f, s.Track, fixed)
	}
	for _, m := range s.Card.Measures {
		if m.Found != nil {
			p.Moved = append(p.Moved, v.moved(m))
		}
	}
	return p, nil
}

// addFoot adds a foot's stride for those with scripts and those without.
// found are the points as they were measured, fixed as they are corrected.
func (v *visit) addFoot(p *stridePage, f evening.Foot, found, fixed form.Track) {
	seen := v.may(roster.See, roster.PictureKind)
	out := scriptFoot{
		Side: f.Side.String(), Near: f.Near,
		Contact: scriptMoment{f.Contact.Time, f.Contact.FoundS, f.Contact.ByHand},
		ToeOff:  scriptMoment{f.ToeOff.Time, f.ToeOff.FoundS, f.ToeOff.ByHand},
	}
	for _, one := range f.Frames {
		k, ok := amend.FrameAt(found, one.TimeS)
		if !ok {
			continue
		}
		frame := scriptFrame{
			TimeS: found.Frames[k].Time, W: one.Width, H: one.Height,
			Place: [6]float64{one.Place.XX, one.Place.XY, one.Place.X, one.Place.YX, one.Place.YY, one.Place.Y},
		}
		if seen && one.FootageID != "" {
			frame.Src = p.Base + "/stride/" + one.FootageID
		}
		for _, spot := range found.Frames[k].Spots {
			if spot.Seen() {
				frame.Spots = append(frame.Spots, &[2]float64{tenth(spot.X), tenth(spot.Y)})
			} else {
				frame.Spots = append(frame.Spots, nil)
			}
		}
		out.Frames = append(out.Frames, frame)
	}
	if len(out.Frames) == 0 {
		return
	}
	near := f.Side
	if !f.Near {
		near = f.Side.Other()
	}
	foot := strideFoot{Side: out.Side, Near: f.Near}
	for _, ph := range f.Phases {
		at := 0
		for i, one := range out.Frames {
			if math.Abs(one.TimeS-ph.TimeS) < math.Abs(out.Frames[at].TimeS-ph.TimeS) {
				at = i
			}
		}
		out.Phases = append(out.Phases, scriptPhase{ph.Name, v.words.Of(ph.Name), ph.TimeS, at})
		foot.Figures = append(foot.Figures, strideFigureOf(ph, out.Frames[at], f.Side, near, fixed, v.words))
	}
	p.Feet, p.Script.Feet = append(p.Feet, foot), append(p.Script.Feet, out)
}

func tenth(v float64) float64 { return math.Round(10*v) / 10 }

// strideFigureOf draws one phase.
func strideFigureOf(ph card.Phase, frame scriptFrame, side, near form.Side, t form.Track, b words.Book) strideFigure {
	fig := strideFigure{
		Name: ph.Name, Src: frame.Src, TimeS: b.Say("%.2f", ph.TimeS), Width: frame.W, Height: frame.H, ByHand: ph.ByHand,
	}
	fig.Alt = b.Say("Right foot: %s, %.2f s into the clip, with the body’s lines", b.Of(ph.Name), ph.TimeS)
	if side == form.Left {
		fig.Alt = b.Say("Left foot: %s, %.2f s into the clip, with the body’s lines", b.Of(ph.Name), ph.TimeS)
	}
	place := card.Place{XX: frame.Place[0], XY: frame.Place[1], X: frame.Place[2], YX: frame.Place[3], YY: frame.Place[4], Y: frame.Place[5]}
	k, ok := amend.FrameAt(t, frame.TimeS)
	if !ok {
		return fig
	}
	for _, bone := range bones() {
		a, z := t.Frames[k].Spots[bone[0]], t.Frames[k].Spots[bone[1]]
		if !a.Seen() || !z.Seen() {
			continue
		}
		l := strideLine{Class: boneClass(bone, near)}
		l.X1, l.Y1 = place.At(a.X, a.Y)
		l.X2, l.Y2 = place.At(z.X, z.Y)
		l.X1, l.Y1, l.X2, l.Y2 = tenth(l.X1), tenth(l.Y1), tenth(l.X2), tenth(l.Y2)
		fig.Lines = append(fig.Lines, l)
	}
	return fig
}

// moved tells what corrections did to a measure.
func (v *visit) moved(m card.Measure) movedRow {
	now := card.Show(m, v.site.Units).In(v.words)
	r := movedRow{Title: v.words.Of(m.Title), Side: card.SideIn(m.Side, v.words), Now: now.Text(), Was: v.words.Say("not measured")}
	if m.Found.Value.Known() {
		was := m
		was.Value, was.SD = float64(m.Found.Value), float64(m.Found.SD)
		was.Low, was.High = was.Value-1.96*was.SD, was.Value+1.96*was.SD
		r.Was = card.Show(was, v.site.Units).In(v.words).Text()
	}
	return r
}

// stridePicture is one picture of a check's stride, and of no other check.
func (v *visit) stridePicture() error {
	f, err := v.Footage(v.ctx(), v.r.PathValue("picture"))
	if err != nil {
		return err
	}
	if f.CheckID != v.check.ID || f.Kind != store.Picture || !f.Gone.IsZero() {
		return store.ErrNotFound
	}
	file, err := v.site.Shelf.Open(v.ctx(), f.Key)
	if err != nil {
		return store.ErrNotFound
	}
	defer file.Close()
	v.w.Header().Set("Content-Type", "image/jpeg")
	v.w.Header().Set("Cache-Control", "private, max-age=600")
	_, err = io.Copy(v.w, file)
	return gone(err)
}

// correct takes a coach's corrections, all of a check's at once, and measures
// the check again with them.
func (v *visit) correct() error {
	v.r.Body = http.MaxBytesReader(v.w, v.r.Body, 2<<20)
	if err := v.r.ParseForm(); err != nil {
		return form.UsageError("the corrections did not arrive whole; send them again: %w", err)
	}
	fix, err := amend.Parse([]byte(v.r.PostFormValue("corrections")))
	if err != nil {
		return err
	}
	c := v.check
	if c.Version, err = strconv.ParseInt(v.field("version", 20), 10, 64); err != nil {
		return form.UsageError("the page is out of date; load it again")
	}
	if c, err = evening.Correct(v.ctx(), v.Store, v.site.Shelf, v.site.Now, c, fix); err != nil {
		if errors.Is(err, store.ErrNotFound) {
			return form.UsageError("this check has no points that could be corrected; measure its clip again")
		}
		return err
	}
	if wantsJSON(v.r) {
		return v.json(http.StatusOK, map[string]any{"version": c.Version})
	}
	return v.seeOther("/check/" + v.check.ID + "/stride")
}

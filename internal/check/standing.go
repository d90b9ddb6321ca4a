package check

import (
	"context"
	"errors"
	"image"
	"image/draw"
	"io"
	"math"
	"os"
	"path/filepath"
	"strings"

	"plumbstride/internal/card"
	"plumbstride/internal/clip"
	"plumbstride/internal/form"
	"plumbstride/internal/gait"
	"plumbstride/internal/geom"
	"plumbstride/internal/judge"
	"plumbstride/internal/measure"
	"plumbstride/internal/pose"
	"plumbstride/internal/stand"
	"plumbstride/internal/steady"
)

// manyLooks gives a single picture as looksAtStill frames a twentieth of a
// second apart: finding and following a person takes several looks, and each
// look at the measuring networks then sees the person in a square of its own.
type manyLooks struct {
	pose.Source
	first *clip.Frame
	given int
}

const looksAtStill = 8

// Next gives the picture again, up to looksAtStill times.
func (m *manyLooks) Next() (*clip.Frame, error) {
	if m.first == nil {
		f, err := m.Source.Next()
		if err != nil {
			return nil, err
		}
		m.first = f
	}
	if m.given == looksAtStill {
		if _, err := m.Source.Next(); !errors.Is(err, io.EOF) {
			return nil, err
		}
		return nil, io.EOF
	}
	again := *m.first
	again.Index, again.Time = m.given, 0.05*float64(m.given)
	m.given++
	return &again, nil
}

// Recycle keeps the picture: it is one for all looks.
func (m *manyLooks) Recycle(*clip.Frame) {}

// stance is a track of somebody standing understood and measured.
type stance struct {
	track    form.Track // what was measured
	pose     *stand.Pose
	who      measure.Who
	measures []form.Measure
	refused  []form.Refusal
	still    bool
	// camera is how it moved; nil where it stood still.
	camera *steady.Motion
	at     float64 // the time of the picture shown, s
	// lengthS is the clip's; 0 takes the track's.
	lengthS float64
}

// posed runs stand and measure.
func posed(points form.Track, level gait.Level, ask Ask) (*stance, error) {
	p, err := stand.Find(points, stand.Facts{HeightM: ask.HeightM, Level: level, Facing: ask.Facing, View: ask.View})
	if err != nil {
		return nil, err
	}
	s := &stance{track: points, pose: p, who: measure.Who{HeightM: ask.HeightM, MassKg: ask.MassKg, Sex: ask.Sex}, still: len(points.Frames) == 1}
	s.measures, s.refused = measure.Standing(p, s.who)
	return s, nil
}

// feetOf is the pose by the leg network's points; nil where it had no say.
func feetOf(near form.Track, level gait.Level, ask Ask) *stand.Pose {
	if near.Network != usualMeasure+"+"+usualLegs {
		return nil
	}
	p, err := stand.Find(near, stand.Facts{HeightM: ask.HeightM, Level: level, Facing: ask.Facing, View: ask.View})
	if err != nil {
		return nil // the pose that is measured is there all the same
	}
	return p
}

// FlatFeet checks a side-view clip, picture or track (.csv) of somebody
// standing and gives the angle of each flat foot, for Ask.Flat. Of ask, the
// height and the network count.
func FlatFeet(ctx context.Context, deps Deps, path string, ask Ask) (*measure.Flat, error) {
	own := Ask{HeightM: ask.HeightM, Network: ask.Network, LongestS: ask.LongestS, Standing: true}
	name := filepath.Base(path)
	var out *Outcome
	var err error
	if strings.EqualFold(filepath.Ext(path), ".csv") {
		f, openErr := os.Open(path)
		if openErr != nil {
			return nil, form.ClipError("the track %s can't be read: %w", name, openErr)
		}
		defer f.Close()
		out, err = Track(ctx, deps, f, own)
	} else {
		out, err = Clip(ctx, deps, path, own)
	}
	if form.CodeOf(err) == form.CodeClip {
		return nil, form.ClipError("the standing check of %s failed: %w", name, err)
	}
	if err != nil {
		return nil, err
	}
	if flat := measure.FlatFeet(out.Stand); flat != nil {
		if out.feet != nil {
			flat.Legs = measure.FlatFeet(out.feet)
		}
		return flat, nil
	}
	return nil, form.ClipError("%s shows somebody standing in %s view, or without feet: the flat foot is seen from the side", name, out.Stand.View)
}

// stands tells whether a film is taken for one of somebody standing.
func (f *film) stands(ask Ask) bool {
	return ask.Standing || f.info.Still || stand.IsStanding(f.found.Track) || f.camera != nil && stand.IsStanding(f.laid())
}

// mostStandingLooks bounds the second look at somebody standing.
const mostStandingLooks = 24

// standing is the check of somebody standing: the heavier network looks at
// frames spread over the quiet time, and at their mirror images, and those
// are measured.
func (f *film) standing(ctx context.Context, deps Deps, ask Ask) (*Outcome, error) {
	if f.found.Persons > 1 {
		return nil, form.ClipError("more than one person is in the picture: for the standing check only the one to be measured may be in it")
	}
	points := f.laid()
	near := points // with the leg network's points, where it had a say
	if ask.Network == "" {
		frames := spread(stand.FindQuiet(points), mostStandingLooks)
		o := pose.Options{Refine: usualRefine, Twice: true}
		if deps.Progress != nil {
			o.Progress = func(done int) { deps.Progress(Progress{"look again", done, len(frames)}) }
		}
		refined, err := pose.Refine(ctx, deps.Networks, f.found, frames, o)
		if err != nil {
			return nil, err
		}
		f.found = refined
		points = lookedAt(f.laid(), refined, frames)
	}
	points.LevelDeg, points.LevelSD = f.found.Track.LevelDeg, f.found.Track.LevelSD
	seen, err := posed(points, levelOf(ask, f.levelDeg, f.levelSD), ask)
	if err != nil {
		return nil, err
	}
	seen.still, seen.camera, seen.lengthS = f.info.Still, f.camera, f.info.DurationS()
	out := seen.outcome(deps, ask)
	out.feet = feetOf(near, levelOf(ask, f.levelDeg, f.levelSD), ask)
	c := &out.Card
	c.Clip.File, c.Clip.RateHz, c.Clip.Frames, c.Clip.DurationS = filepath.Base(f.info.File), f.info.RateHz, len(f.info.Times), f.info.DurationS()
	c.Networks = networksOf([]*film{f}, deps)
	for i := range c.Networks {
		if c.Networks[i].Name == "lite" {
			c.Networks[i].Role = "follows the person"
		}
	}
	if f.info.CutShort {
		c.Notes = append(c.Notes, "The file ends before its stated length; what was there is checked.")
	}
	if f.damaged {
		c.Notes = append(c.Notes, "Parts of the file are damaged; copy it from the telephone once more if you can.")
	}
	c.Pictures, err = seen.pictures(ctx, deps, f.info, ask)
	return out, err
}

// spread chooses up to most frames, evenly over a quiet time.
func spread(q stand.Quiet, most int) []int {
	n := q.To - q.From
	frames := make([]int, 0, min(n, most))
	for i := range min(n, most) {
		frames = append(frames, q.From+(2*i+1)*n/(2*min(n, most)))
	}
	return frames
}

// lookedAt is the track of the chosen frames that the heavier network looked
// at; all of them, as they are, where it looked at none.
func lookedAt(t form.Track, r *pose.Result, frames []int) form.Track {
	var kept []form.Frame
	for _, i := range frames {
		if r.Net[i] == usualRefine {
			kept = append(kept, t.Frames[i])
		}
	}
	if len(kept) > 0 {
		t.Frames, t.Network = kept, usualRefine
	}
	return t
}

// outcome judges the measures and makes the card.
func (s *stance) outcome(deps Deps, ask Ask) *Outcome {
	ctx := judge.Context{SpeedMS: math.NaN(), HeightM: ask.HeightM, Inches: ask.Inches, Pain: ask.Pain}
	if s.still {
		for i := range s.measures {
			s.measures[i].N = 1
		}
	}
	measures := judge.WithStandingBands(s.measures, ctx)
	verdict := judge.Standing(measures, s.refused, ctx)
	unknown := card.Number(math.NaN())
	p := s.pose
	c := card.Card{
		Program: deps.Program, Made: deps.Now(), Kind: card.Standing,
		Runner: card.Runner{Name: ask.Name, HeightM: ask.HeightM, MassKg: ask.MassKg},
		Clip: card.Clip{
			Frames: len(s.track.Frames), RateHz: s.track.RateHz, View: string(p.View), SpeedMS: unknown,
			RollDeg: unknown, YawDeg: unknown, MPerPx: card.Number(p.MPerPx), SlowedBy: 1,
			DurationS: s.track.Frames[len(s.track.Frames)-1].Time - s.track.Frames[0].Time,
		},
		Events: []form.Event{}, Refused: s.refused, Priority: card.Priority{Area: verdict.Priority, Why: verdict.Why},
		Cautions: verdict.Cautions, Networks: []card.Network{}, Notes: s.notes(),
	}
	if p.LevelKnown {
		c.Clip.RollDeg = card.Number(p.RollDeg)
	}
	if p.View == form.ViewSide {
		c.Clip.Facing, c.Clip.YawDeg = p.Facing.String(), card.Number(p.YawDeg)
	}
	if verdict.Tie != "" {
		c.Notes = append(c.Notes, verdict.Tie)
	}
	for _, a := range verdict.Areas {
		c.Areas = append(c.Areas, card.Area{Name: a.Name, State: string(a.State), Why: a.Why})
	}
	for _, m := range measures {
		c.Measures = append(c.Measures, standingRow(m))
	}
	if c.Refused == nil {
		c.Refused = []form.Refusal{}
	}
	return &Outcome{Card: c, Track: s.track, Stand: p}
}

// standingRow is a measure as the card shows it.
func standingRow(m form.Measure) card.Measure {
	row := card.Measure{Name: m.Name, Side: m.Side, Unit: m.Unit, Value: m.Value, SD: m.SD, SDLasting: m.Lasting, Low: m.Low, High: m.High, N: m.N, Note: m.Note}
	if def, ok := measure.FindStanding(m.Name, m.Unit); ok {
		row.Title, row.Area = def.Title, def.Area
	}
	if m.Name == "weight_over_foot" {
		row.Note = "0 is the heel, 100 the toes"
		if m.Note != "" {
			row.Note += "; " + m.Note
		}
	}
	return banded(row, m)
}

// shortStandS is the length of a clip of somebody standing, in seconds, below
// which the card says so: common practice, no source.
const shortStandS = 3

// notes are facts about the picture that the coach should know.
func (s *stance) notes() []string {
	notes := []string{}
	switch frames := s.track.Frames; {
	case s.still:
		notes = append(notes, "This is one picture, one moment of somebody who sways: a clip of three seconds or more says it more surely.")
	case max(s.lengthS, frames[len(frames)-1].Time-frames[0].Time) < shortStandS:
		notes = append(notes, "This clip is short, and everybody sways: a clip of three seconds or more says it more surely.")
	}
	switch p := s.pose; {
	case p.View == form.ViewBack:
		notes = append(notes, "Seen from behind; left and right are the person's own.")
	case p.View == form.ViewFront:
		notes = append(notes, "Seen from the front; left and right are the person's own. Film from the side too for the plumb line.")
	case math.Abs(p.YawDeg) > 10:
		notes = append(notes, "The person stands somewhat turned from side-on; that is taken into account, but square to the camera is surer.")
	}
	return notes
}

// pictures is the middle frame of the quiet time with what is to be drawn on
// it.
func (s *stance) pictures(ctx context.Context, deps Deps, info *clip.Info, ask Ask) ([]card.Picture, error) {
	at := 0.0
	if !s.still {
		at = s.track.Frames[len(s.track.Frames)/2].Time
	}
	s.at = at
	stills, err := clip.Pick(ctx, deps.Tools, info, []float64{at})
	if err != nil {
		return nil, err
	}
	var img image.Image = stills[0]
	if !ask.ShowFace {
		if x, y, r, ok := s.face(); ok {
			img = card.BlurFace(stills[0], x, y, r)
		}
	}
	area := s.around(stills[0].Bounds())
	crop := image.NewRGBA(image.Rect(0, 0, area.Dx(), area.Dy()))
	draw.Draw(crop, crop.Bounds(), img, area.Min, draw.Src)
	p := card.Picture{Image: crop, TimeS: at, Moment: "standing", Title: "Standing, " + string(s.pose.View) + " view", Tilt: geom.Radians(s.pose.RollDeg)}
	if s.still {
		p.Moment = card.OnePicture
	}
	s.drawOn(&p, geom.Vec{X: -float64(area.Min.X), Y: -float64(area.Min.Y)})
	return []card.Picture{p}, nil
}

// drawOn places the plumb line, its bobs, the feet and, from the front, the
// lines of shoulders and hips.
func (s *stance) drawOn(p *card.Picture, shift geom.Vec) {
	spot := func(pt form.Point, side form.Side) (geom.Vec, bool) {
		v, ok := s.seen(form.At(pt, side))
		return v.Add(shift), ok
	}
	line := func(list *[]card.Line, a form.Point, sa form.Side, b form.Point, sb form.Side) {
		u, ok1 := spot(a, sa)
		v, ok2 := spot(b, sb)
		if ok1 && ok2 {
			*list = append(*list, card.Line{X1: u.X, Y1: u.Y, X2: v.X, Y2: v.Y})
		}
	}
	if ankle, ok := measure.StandingSpot(s.pose, s.who, form.Ankle); ok {
		ankle = s.shown(ankle)
		p.Plumb = [2]float64{ankle.X + shift.X, ankle.Y + shift.Y}
	}
	if s.pose.View == form.ViewSide {
		line(&p.Foot, form.Heel, s.pose.Near, form.Toe, s.pose.Near)
		for _, pt := range []form.Point{form.Ear, form.Shoulder, form.Hip, form.Knee} {
			px, ok := measure.StandingSpot(s.pose, s.who, pt)
			px = s.shown(px)
			for _, m := range s.measures {
				if ok && m.Name == "plumb_"+pt.String() {
					p.Bobs = append(p.Bobs, card.Bob{X: px.X + shift.X, Y: px.Y + shift.Y, Reach: 1.96 * m.SD / 100 / s.pose.MPerPx, Word: pt.String()})
				}
			}
		}
		return
	}
	for _, side := range []form.Side{form.Left, form.Right} {
		line(&p.Foot, form.Heel, side, form.Toe, side)
		line(&p.Body, form.Hip, side, form.Knee, side)
		line(&p.Body, form.Knee, side, form.Ankle, side)
	}
	line(&p.Body, form.Shoulder, form.Left, form.Shoulder, form.Right)
	line(&p.Body, form.Hip, form.Left, form.Hip, form.Right)
}

// shown gives the place in the picture of a place in the track, which a
// camera that moved was laid into.
func (s *stance) shown(v geom.Vec) geom.Vec {
	if s.camera == nil {
		return v
	}
	if x, y, ok := s.camera.Shown(s.at, v.X, v.Y); ok {
		return geom.Vec{X: x, Y: y}
	}
	return v
}

// seen is where a joint is in the picture shown.
func (s *stance) seen(j form.Joint) (geom.Vec, bool) {
	v, ok := s.pose.SeenAt(j)
	return s.shown(v), ok
}

// face is the disc that hides the face.
func (s *stance) face() (x, y, r float64, ok bool) {
	var sum geom.Vec
	n := 0.0
	add := func(j form.Joint) {
		if v, seen := s.seen(j); seen {
			sum, n = sum.Add(v), n+1
		}
	}
	add(0)
	for _, side := range []form.Side{form.Left, form.Right} {
		add(form.At(form.Eye, side))
		add(form.At(form.Ear, side))
	}
	if n == 0 {
		return 0, 0, 0, false
	}
	const headRadius = 0.13 // m
	return sum.X / n, sum.Y / n, headRadius / s.pose.MPerPx, true
}

// around is the part of the picture that a card shows.
func (s *stance) around(bounds image.Rectangle) image.Rectangle {
	lo := geom.Vec{X: math.Inf(1), Y: math.Inf(1)}
	hi := geom.Vec{X: math.Inf(-1), Y: math.Inf(-1)}
	for j := range form.Joint(form.NumJoints) {
		if v, ok := s.seen(j); ok {
			lo = geom.Vec{X: math.Min(lo.X, v.X), Y: math.Min(lo.Y, v.Y)}
			hi = geom.Vec{X: math.Max(hi.X, v.X), Y: math.Max(hi.Y, v.Y)}
		}
	}
	tall := (hi.Y - lo.Y) * 1.3
	wide := math.Max(tall*0.55, (hi.X-lo.X)*1.2)
	cx, cy := (lo.X+hi.X)/2, (lo.Y+hi.Y)/2-0.03*tall
	r := image.Rect(int(cx-wide/2), int(cy-tall/2), int(cx+wide/2), int(cy+tall/2)).Intersect(bounds)
	if r.Empty() {
		return bounds
	}
	return r
}

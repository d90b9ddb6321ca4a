package practice

import (
	"crypto/sha256"
	"encoding/binary"
	"encoding/hex"
	"fmt"
	"math"
	"slices"
	"time"

	"plumbstride/internal/form"
)

// BinS is how long a sample of a kept run lasts, seconds.
const BinS = 30.0

// Kind is what somebody did.
type Kind string

// The kinds of what is kept. A walk is no practice of running, and is said to
// be a walk.
const (
	Running Kind = "running"
	Walking Kind = "walking"
)

// Run is what is kept of an activity: no places, no heart rate, no device.
// Times are seconds, cadences steps a minute (both feet).
type Run struct {
	// Digest is the same for the same recording, packed or not.
	Digest string    `json:"digest"`
	Kind   Kind      `json:"kind"`
	Format Format    `json:"format"`
	Start  time.Time `json:"start"`
	// LengthS is from the first point to the last, pauses included.
	LengthS float64 `json:"length_s"`
	// What the time went to. Other is what the watch left out, or where what
	// it wrote can't be.
	RunningS  float64 `json:"running_s"`
	WalkingS  float64 `json:"walking_s"`
	StandingS float64 `json:"standing_s"`
	PausedS   float64 `json:"paused_s"`
	OtherS    float64 `json:"other_s"`
	// DistanceM is as stated, or added up; 0 where nobody knows.
	DistanceM float64 `json:"distance_m"`
	// Counts is what the file's cadence counts, and Why how that is known.
	Counts Unit   `json:"cadence_counts"`
	Why    string `json:"cadence_why"`
	// MeanCadence is over everything in which a cadence was written, as a
	// watch shows it; RunningCadence is the median of the running alone, 0
	// where there was none.
	MeanCadence    float64 `json:"mean_cadence_spm"`
	RunningCadence float64 `json:"running_cadence_spm"`
	// SpeedMPS is the median speed of the running; LevelSpeedMPS the speed on
	// the level that would have cost the same (Minetti). 0 where unknown.
	SpeedMPS      float64 `json:"speed_mps"`
	LevelSpeedMPS float64 `json:"level_speed_mps"`
	// StatedSteps is twice the strides that the file states, 0 without.
	StatedSteps int `json:"stated_steps,omitempty"`
	// Graded tells whether up and down are known; GradeWhy says why not.
	Graded   bool   `json:"graded"`
	GradeWhy string `json:"grade_why,omitempty"`
	// Samples are the half minutes of steady running.
	Samples []Sample `json:"samples"`
	// Spread is for how long the running was at each cadence, rounded to one
	// step a minute, so that the time in any band can be told later.
	Spread []Share `json:"spread"`
	// TempoMin is how many minutes the runner said they practised with the
	// tempo on; a watch does not know it.
	TempoMin float64 `json:"tempo_min"`
	// Notes are further facts, as sentences.
	Notes []string `json:"notes,omitempty"`
}

// Sample is half a minute of steady running: means over it.
type Sample struct {
	AtS        float64 `json:"at_s"`
	CadenceSPM float64 `json:"cadence_spm"`
	SpeedMPS   float64 `json:"speed_mps"`
	// Grade is rise over run, 0.02 = 2 %; 0 where up and down are unknown.
	Grade float64 `json:"grade"`
}

// Share is for how long the cadence was within half a step of a value.
type Share struct {
	CadenceSPM int     `json:"cadence_spm"`
	Seconds    float64 `json:"s"`
}

// Options says how an activity is taken.
type Options struct {
	// Counts settles what the cadence counts; empty decides by the file.
	Counts Unit
	// TempoMin is how many minutes with the tempo the runner states.
	TempoMin float64
}

// Doing is what a moment was.
type doing int

const (
	other doing = iota
	ran
	walked
	stood
)

// The bounds by which a moment is told, steps a minute. walkRunSPM is about
// where adults change between the two (Tudor-Locke and others 2021,
// PMC8629136: about 140); above a running speed slower steps are still
// running, down to slowestSPM. The others are common practice, no source.
const (
	walkRunSPM  = 140.0
	slowestSPM  = 124.0
	fastestSPM  = 260.0
	standMPS    = 0.5
	longestStep = 2.2 // m; with longer ones the speed or the cadence is wrong
	fastestMPS  = 9.0
)

// doingAt tells what a moment was, from steps a minute and m/s (NaN unknown).
func doingAt(spm, mps float64) doing {
	still := known(mps) && mps < standMPS
	switch {
	case !known(spm):
		if still {
			return stood
		}
		return other
	case spm < 40:
		if still || !known(mps) {
			return stood
		}
		return other
	case spm > fastestSPM, known(mps) && mps > fastestMPS, known(mps) && 60*mps/spm > longestStep:
		return other
	case spm >= walkRunSPM && (!known(mps) || mps >= 0.8):
		return ran
	case spm >= slowestSPM && known(mps) && mps >= runningMPS:
		return ran
	case still:
		return stood
	default:
		return walked
	}
}

// Take makes of an activity what is kept. What is no practice of running
// (cycling, say), or can't be read, is a form.Error.
func Take(a Activity, o Options) (Run, error) {
	switch a.Sport {
	case "", running, walking, hiking, "training", "fitness_equipment", "fitness equipment":
	default:
		return Run{}, form.ClipError("the recording is of %s, not of running", a.Sport)
	}
	if len(a.Points) < 2 {
		return Run{}, form.ClipError("the recording holds fewer than two points; export it from the watch again")
	}
	if a.Sport == "" && likelyCycling(a) {
		return Run{}, form.ClipError("the recording looks like cycling: for most of it the speed is beyond what goes with such a cadence on foot")
	}
	counts, why, err := counted(a, o.Counts)
	if err != nil {
		return Run{}, err
	}
	r := Run{
		Digest: digest(a), Format: a.Format, Start: a.Start, LengthS: a.Points[len(a.Points)-1].AtS, DistanceM: a.DistanceM,
		Counts: counts, Why: why, StatedSteps: 2 * a.Strides, TempoMin: o.TempoMin,
	}
	moments := momentsOf(a, counts)
	r.addUp(moments)
	slopes, unsound := grades(moments)
	r.Graded, r.GradeWhy = unsound == "", unsound
	r.Samples = samples(moments, slopes)
	r.describe(moments)
	r.note(a)
	return r, nil
}

// moment is a point with what it was.
type moment struct {
	Point
	spm float64
	doing
}

// momentsOf gives the points with their steps a minute and what each was.
func momentsOf(a Activity, counts Unit) []moment {
	factor := 1.0
	if counts == Strides {
		factor = 2
	}
	out := make([]moment, len(a.Points))
	for i, p := range a.Points {
		out[i] = moment{Point: p, spm: factor * p.Cadence, doing: doingAt(factor*p.Cadence, p.SpeedMPS)}
	}
	return out
}

// addUp counts where the time went.
func (r *Run) addUp(moments []moment) {
	held, way, steps, told := 0.0, 0.0, 0.0, 0.0
	spread := map[int]float64{}
	for _, m := range moments {
		held += m.HoldS
		if known(m.SpeedMPS) {
			way += m.SpeedMPS * m.HoldS
		}
		if known(m.spm) && m.spm >= 40 && m.spm <= fastestSPM {
			steps, told = steps+m.spm*m.HoldS, told+m.HoldS
		}
		switch m.doing {
		case ran:
			r.RunningS += m.HoldS
			spread[int(math.Round(m.spm))] += m.HoldS
		case walked:
			r.WalkingS += m.HoldS
		case stood:
			r.StandingS += m.HoldS
		default:
			r.OtherS += m.HoldS
		}
	}
	for spm, s := range spread {
		if s > 0 {
			r.Spread = append(r.Spread, Share{spm, round(s, 10)})
		}
	}
	slices.SortFunc(r.Spread, func(a, b Share) int { return a.CadenceSPM - b.CadenceSPM })
	r.PausedS = max(0, r.LengthS-held)
	if r.DistanceM == 0 {
		r.DistanceM = round(way, 10)
	}
	if told > 0 {
		r.MeanCadence = round(steps/told, 100)
	}
	r.Kind = Walking
	if r.RunningS >= r.WalkingS && r.RunningS > 0 {
		r.Kind = Running
	}
}

// describe fills in the medians of the running.
func (r *Run) describe(moments []moment) {
	var spm, mps []weighted
	for _, m := range moments {
		if m.doing != ran {
			continue
		}
		spm = append(spm, weighted{m.spm, m.HoldS})
		if known(m.SpeedMPS) {
			mps = append(mps, weighted{m.SpeedMPS, m.HoldS})
		}
	}
	if v := median(spm, 0); known(v) {
		r.RunningCadence = round(v, 100)
	}
	if v := median(mps, 0); known(v) {
		r.SpeedMPS = round(v, 1000)
	}
	level := make([]weighted, 0, len(r.Samples))
	for _, s := range r.Samples {
		level = append(level, weighted{LevelSpeed(s.SpeedMPS, s.Grade), 1})
	}
	if v := median(level, 0); known(v) {
		r.LevelSpeedMPS = round(v, 1000)
	}
}

// note adds what a reader should know of the recording.
func (r *Run) note(a Activity) {
	say := func(format string, args ...any) { r.Notes = append(r.Notes, fmt.Sprintf(format, args...)) }
	switch {
	case r.Kind == Walking && a.Sport == running:
		say("The watch calls it running, but it is walking by its steps and speed; it is not counted as practice.")
	case r.Kind == Walking:
		say("It is a walk, at %.0f steps/min; it is not counted as practice.", r.MeanCadence)
	case len(r.Samples) == 0 && r.SpeedMPS == 0:
		say("No speed is in the recording; it counts for the minutes in the band, not for cadence at speed.")
	case len(r.Samples) == 0:
		say("No half minute of steady running is in it; it counts for the minutes in the band, not for cadence at speed.")
	}
	if a.Backwards > 0 {
		say("Points left out, whose time was not after that of the one before: %d.", a.Backwards)
	}
	if r.StatedSteps > 0 && r.MeanCadence > 0 && r.LengthS-r.PausedS > 30 {
		counted := r.MeanCadence * (r.LengthS - r.PausedS) / 60
		if ratio := float64(r.StatedSteps) / counted; ratio < 0.8 || ratio > 1.25 {
			say("The file states %d steps in all, and its cadence adds up to %.0f.", r.StatedSteps, counted)
		}
	}
}

// likelyCycling tells a ride without a word for it: pedalling at 50 to 110
// turns while the speed would need steps of more than longestStep each, even
// with the cadence doubled, or much faster than anybody runs for long.
func likelyCycling(a Activity) bool {
	riding, all := 0.0, 0.0
	for _, p := range a.Points {
		if !known(p.SpeedMPS) || p.SpeedMPS < 1.5 {
			continue
		}
		all += p.HoldS
		if p.SpeedMPS > 6.5 || (known(p.Cadence) && p.Cadence > 20 && p.SpeedMPS > 4 && 30*p.SpeedMPS/p.Cadence > longestStep) {
			riding += p.HoldS
		}
	}
	return all > 30 && riding > all/2
}

// samples are the half minutes that hold hardly anything but running, in
// which the speed is known.
func samples(moments []moment, slopes []float64) []Sample {
	var out []Sample
	for begin := 0; begin < len(moments); {
		bin := math.Floor(moments[begin].AtS / BinS)
		end := begin
		var held, rest, steps, way, up float64
		for ; end < len(moments) && math.Floor(moments[end].AtS/BinS) == bin; end++ {
			m := moments[end]
			if m.doing != ran || !known(m.SpeedMPS) {
				rest += m.HoldS
				continue
			}
			held, steps, way = held+m.HoldS, steps+m.spm*m.HoldS, way+m.SpeedMPS*m.HoldS
			if slopes != nil {
				up += slopes[end] * m.HoldS
			}
		}
		begin = end
		if held >= 20 && rest <= 3 {
			out = append(out, Sample{AtS: bin * BinS, CadenceSPM: round(steps/held, 100), SpeedMPS: round(way/held, 1000), Grade: round(up/held, 1e4)})
		}
	}
	return out
}

// digest is the SHA-256 of what the activity holds.
func digest(a Activity) string {
	h := sha256.New()
	fmt.Fprintf(h, "%s %s %d\n", a.Format, a.Sport, a.Start.UnixMilli())
	var b [32]byte
	for _, p := range a.Points {
		for i, v := range []float64{p.AtS, p.Cadence, p.SpeedMPS, p.AltitudeM} {
			if !known(v) {
				v = math.NaN()
			}
			binary.LittleEndian.PutUint64(b[8*i:], math.Float64bits(v))
		}
		h.Write(b[:])
	}
	return hex.EncodeToString(h.Sum(nil))
}

// Same tells whether two runs are of one recording: the same file, or files
// of one watch in two formats, or of two watches worn at once, since nobody
// runs twice at the same time.
func Same(a, b Run) bool {
	if a.Digest == b.Digest {
		return true
	}
	endA, endB := a.Start.Add(seconds(a.LengthS)), b.Start.Add(seconds(b.LengthS))
	from, to := a.Start, endA
	if b.Start.After(from) {
		from = b.Start
	}
	if endB.Before(to) {
		to = endB
	}
	shared := to.Sub(from).Seconds()
	return shared > 0 && shared > min(a.LengthS, b.LengthS)/2
}

func seconds(s float64) time.Duration { return time.Duration(s * float64(time.Second)) }

// round keeps so many parts of one.
func round(v, parts float64) float64 { return math.Round(v*parts) / parts }

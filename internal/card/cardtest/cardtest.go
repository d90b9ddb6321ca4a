// Package cardtest takes nothing and gives invented form cards to the tests
// of the packages that show them: an ordinary one, one with everything on
// it, an empty one and a hostile one. No number in it was measured on
// anybody.
package cardtest

import (
	"fmt"
	"math"
	"strings"
	"time"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
)

func band(low, high, sd float64, source string) *card.Band {
	return &card.Band{Low: card.Number(low), High: card.Number(high), PopulationSD: card.Number(sd), Source: source}
}

var open = math.NaN()

const practice = "common practice, no source"

// row is a shorthand for one or two measures: values are one for the whole
// body, or left and right.
type row struct {
	area, name, title, unit string
	sd                      float64
	band                    *card.Band
	values                  []float64
}

func measures(rows []row) []card.Measure {
	var out []card.Measure
	for _, r := range rows {
		for i, v := range r.values {
			m := card.Measure{Name: r.name, Title: r.title, Area: r.area, Unit: r.unit, Value: v, SD: r.sd,
				Low: v - 1.96*r.sd, High: v + 1.96*r.sd, N: 27, Band: r.band}
			if len(r.values) == 2 {
				m.Side = []form.Side{form.Left, form.Right}[i]
				m.N = 13
			}
			out = append(out, m)
		}
	}
	return out
}

// invented rows; the bands' sources are placeholders of this test, too.
func ordinary() []row {
	const study = "invented study, for tests only"
	return []row{
		{"alignment", "head_forward", "Head forward", "cm", 1.1, band(open, 5, 2, practice), []float64{4.1}},
		{"alignment", "midstance_stack", "Mid-stance stack", "cm", 1.6, band(open, 12, 4, practice), []float64{9.4}},
		{"landing", "foot_strike_angle", "Foot strike angle", "deg", 2.3, band(-1.6, 12, 7.2, study), []float64{14.8, 12.1}},
		{"landing", "landing_distance", "Landing distance", "cm", 1.5, band(0, 8, 3.4, practice), []float64{12.4, 11.2}},
		{"landing", "heel_landing_distance", "Heel landing distance", "cm", 1.7, nil, []float64{7.9, 7.1}},
		{"landing", "shank_angle", "Shank angle", "deg", 1.4, band(-2, 6, 3.8, study), []float64{9.7, 8.8}},
		{"landing", "knee_flexion_contact", "Knee flexion at contact", "deg", 2.6, band(10, 24, 5.5, study), []float64{11.9, 13.6}},
		{"landing", "knee_flexion_peak", "Knee flexion, peak", "deg", 2.4, band(36, 50, 5.2, study), []float64{43.8, 42.7}},
		{"cadence", "cadence", "Cadence", "steps/min", 0.32, band(165, 185, 9.5, study), []float64{163.6}},
		{"cadence", "contact_time", "Contact time", "ms", 7, band(200, 270, 24, study), []float64{262, 256}},
		{"cadence", "flight_time", "Flight time", "ms", 8, nil, []float64{104, 111}},
		{"cadence", "duty_factor", "Duty factor", "–", 0.01, band(0.28, 0.37, 0.03, study), []float64{0.357, 0.349}},
		{"lean", "trunk_lean", "Trunk lean", "deg", 1.2, band(2, 10, 3.5, study), []float64{5.6}},
		{"lean", "body_lean", "Body lean", "deg", 1.3, band(1, 7, 2.4, practice), []float64{3.2, 2.9}},
		{"lean", "hip_hinge", "Hip hinge", "deg", 1.7, band(open, 8, 4, practice), []float64{4.4}},
		{"bounce", "vertical_oscillation", "Vertical oscillation", "cm", 0.5, band(5, 10, 1.4, study), []float64{9.1}},
		{"symmetry", "step_time_asymmetry", "Step time asymmetry", "%", 0.9, band(open, 4, 1.8, study), []float64{1.4}},
		{"", "speed", "Speed", "m/s", 0.04, nil, []float64{2.78}},
	}
}

// Invented is an ordinary card: a runner who lands far ahead of the body.
func Invented() card.Card {
	landing := "landing"
	return card.Card{
		Program: "plumbstride 0.1.0", Kind: card.Running,
		Made:   time.Date(2026, time.March, 14, 17, 42, 0, 0, time.FixedZone("CET", 3600)),
		Runner: card.Runner{Name: "Zoë Lindqvåg (invented)", HeightM: 1.72, MassKg: 63},
		Clip: card.Clip{
			File: "invented-runner-treadmill.mp4", Frames: 601, DurationS: 10.02, RateHz: 60, Setting: "treadmill",
			Facing: "right", View: "side", SpeedMS: 2.78, RollDeg: 0.4, YawDeg: card.Number(math.NaN()), MPerPx: 0.00231, SlowedBy: 1,
		},
		Measures: measures(ordinary()),
		Refused: []form.Refusal{
			{Name: "leg_stiffness", Side: form.Left, Reason: "The left foot’s toe-off is hidden behind the treadmill’s rail in most strides."},
			{Name: "leg_stiffness", Side: form.Right, Reason: "Two sides are needed; only one was measured."},
			{Name: "vertical_stiffness", Side: form.Both, Reason: "Two sides are needed; only one was measured."},
		},
		Areas: []card.Area{
			{Name: "alignment", State: "fine", Why: "Head and trunk stand over the foot within their bands."},
			{Name: "landing", State: "look", Why: "The foot lands about 4 cm farther ahead of the body than the band’s edge, on both sides."},
			{Name: "cadence", State: "unsure", Why: "163.6 steps/min is just below the band."},
			{Name: "lean", State: "fine", Why: "Trunk and body lean are within their bands."},
			{Name: "bounce", State: "fine", Why: "9.1 cm is within the band."},
			{Name: "symmetry", State: "fine", Why: "Left and right differ by 1.4 %, within the band."},
		},
		Priority: card.Priority{Area: &landing, Why: "Your foot comes down about 12 cm ahead of your body, some 4 cm more than most runners at this speed. Let it land closer under you, and leave everything else as it is."},
		Networks: []card.Network{
			{Name: "detector", Role: "finds the runner", SHA256: strings.Repeat("9f3c61d2", 8)},
			{Name: "heavy", Role: "finds the body points", SHA256: strings.Repeat("4be07a15", 8)},
		},
		Notes: []string{
			"The flat-foot reference comes from the part of stance in which the sole lies still.",
			"The far arm was mirrored half a stride apart where it was hidden.",
		},
		Cautions: Cautions(),
		Pictures: []card.Picture{
			picture(atContact, "initial contact", form.Left, 3.417, 420, 560),
			picture(atMidstance, "mid-stance", form.Left, 3.533, 420, 560),
		},
	}
}

// Cautions are of the usual length and kind.
func Cautions() []string {
	return []string{
		"Pain means stop. Pain that stays or comes back belongs before a doctor or physiotherapist.",
		"Change one thing at a time, slowly: a little of an easy run first, more over weeks.",
		"Landing farther forward on the foot loads the calf and the Achilles tendon more; build up with care.",
		"This is no medical device and no diagnosis. Film people only with their consent, minors only with that of a parent.",
	}
}

// Full has every row a card can have, many notes and twenty refusals.
func Full() card.Card {
	c := Invented()
	rows := ordinary()
	rows = append(rows,
		row{"landing", "landing_distance_leg", "Landing distance", "% leg length", 1.7, band(0, 9, 3.9, practice), []float64{14.1, 12.7}},
		row{"alignment", "head_forward", "Head forward, angle", "deg", 3.3, nil, []float64{12.2}},
		row{"bounce", "leg_stiffness", "Leg stiffness", "kN/m", 1.1, band(8, 14, 0, practice), []float64{9.6, 9.9}},
		row{"bounce", "vertical_stiffness", "Vertical stiffness", "kN/m", 2.1, nil, []float64{24.6}},
		row{"alignment", "plumb_ear", "Ear before the ankle, standing, with a rather long title", "cm", 1.2, band(0, 6, 2, practice), []float64{31}},
	)
	c.Measures = measures(rows)
	c.Refused = nil
	for i := range 20 {
		c.Refused = append(c.Refused, form.Refusal{
			Name: fmt.Sprintf("another_measure_%d", i+1), Side: []form.Side{form.Left, form.Right, form.Both}[i%3],
			Reason: fmt.Sprintf("Reason number %d: the foot is hidden at contact in %d of 26 steps; film from a place where both feet can be seen.", i/2+1, i+3),
		})
	}
	for i := range 6 {
		c.Notes = append(c.Notes, fmt.Sprintf("Note %d: a stated speed of 10.0 km/h and a measured one of 9.%d km/h disagree by more than a tenth; the stated one was used.", i+3, i))
	}
	c.Cautions = append(c.Cautions, "A runner under sixteen: let growth, not numbers, set the pace of any change.")
	return c
}

// FilmAgain is a card without pictures, measures or a priority.
func FilmAgain() card.Card {
	c := Invented()
	c.Measures, c.Pictures, c.Areas, c.Notes = nil, nil, nil, nil
	c.Clip.SpeedMS, c.Clip.RollDeg, c.Clip.MPerPx = card.Number(math.NaN()), card.Number(math.NaN()), card.Number(math.NaN())
	c.Priority = card.Priority{Why: "Film again, because the feet are cut off by the lower edge of the picture. Step back until a hand’s width of floor shows under the shoes."}
	return c
}

// Hostile has names and texts that try to break out of the page.
func Hostile() card.Card {
	c := Invented()
	evil := "\u202e<script>alert('x')</script>\"'&\x00\x1b[31m שלום 走る 🏃 " + strings.Repeat("W", 300)
	c.Program, c.Runner.Name, c.Clip.File = evil, evil, evil
	c.Clip.Setting, c.Clip.Facing = evil, evil
	c.Priority.Why = strings.Repeat(evil+" ", 5)
	c.Notes, c.Cautions = []string{evil, evil}, append(c.Cautions, evil)
	for i := range c.Measures {
		c.Measures[i].Title, c.Measures[i].Unit = evil, evil
		c.Measures[i].Value *= 1e6
	}
	c.Measures[0].Value, c.Measures[1].SD, c.Measures[2].Low = math.NaN(), math.Inf(1), math.Inf(-1)
	for i := range c.Areas {
		c.Areas[i].State, c.Areas[i].Why = evil, evil
	}
	for i := range c.Networks {
		c.Networks[i].Name, c.Networks[i].SHA256 = evil, evil
	}
	c.Refused = append(c.Refused, form.Refusal{Name: evil, Reason: evil})
	c.Pictures[0].Title, c.Pictures[0].Moment = evil, evil
	c.Pictures[0].CentreOfMass = [2]float64{math.Inf(1), math.NaN()}
	c.Pictures[1].Image = nil
	return c
}

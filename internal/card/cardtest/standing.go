package cardtest

import (
	"plumbstride/internal/card"
	"plumbstride/internal/form"
)

var upright = joints{
	head: [2]float64{4, 69}, neck: [2]float64{2, 59}, hip: [2]float64{1, 38},
	elbowNear: [2]float64{0, 50}, wristNear: [2]float64{3, 40}, elbowFar: [2]float64{1, 50}, wristFar: [2]float64{4, 40},
	kneeNear: [2]float64{2, 21}, ankleNear: [2]float64{0, 4}, heelNear: [2]float64{-2, 1.5}, toeNear: [2]float64{9, 1.5},
	kneeFar: [2]float64{2, 21}, ankleFar: [2]float64{0, 5}, heelFar: [2]float64{-2, 2.5}, toeFar: [2]float64{9, 2.5},
}

// Standing is a standing check from the side: the head carried forward, the
// person facing left.
func Standing() card.Card {
	alignment := "alignment"
	c := Invented()
	c.Kind = card.Standing
	c.Clip = card.Clip{
		File: "invented-stander.jpg", Frames: 1, View: "side", Facing: "left",
		SpeedMS: card.Number(open), RollDeg: 0.3, YawDeg: 2, MPerPx: 0.0029, SlowedBy: 1,
	}
	c.Measures = measures([]row{
		{"alignment", "plumb_ear", "Ear ahead of the ankle", "cm", 2.4, band(-3, 12, 4, practice), []float64{11.8}},
		{"alignment", "plumb_shoulder", "Shoulder ahead of the ankle", "cm", 1.8, band(-5, 9, 3.5, practice), []float64{3.4}},
		{"alignment", "plumb_hip", "Hip ahead of the ankle", "cm", 3.2, band(-3, 9, 3, practice), []float64{-1.6}},
		{"alignment", "plumb_knee", "Knee ahead of the ankle", "cm", 1.5, band(-3, 10, 3, practice), []float64{2.9}},
		{"alignment", "head_forward", "Head ahead of shoulders", "cm", 2.2, band(-3, 8, 2.5, practice), []float64{11.4}},
		{"alignment", "knee_flexion_standing", "Knee bend, standing", "deg", 5.2, band(-5, 15, 5, practice), []float64{4.1, 2.8}},
		{"alignment", "weight_over_foot", "Weight over the foot", "%", 6, band(25, 65, 8, practice), []float64{44}},
	})
	for i := range c.Measures {
		c.Measures[i].N = 1
	}
	c.Refused = []form.Refusal{{Name: "head_forward", Side: form.Both, Reason: "the points it needs were not seen well enough"}}
	c.Areas = []card.Area{{Name: "alignment", State: "look", Why: "The head is carried ahead of the shoulders: 11.4 cm against a band of −3.0 to 8.0."}}
	c.Priority = card.Priority{Area: &alignment, Why: "The head is carried ahead of the shoulders: 11.4 cm against a band of −3.0 to 8.0. Practise drawing the head back over the shoulders with the gaze level, without lifting the chin."}
	c.Notes = []string{"This is one picture, one moment of somebody who sways: a clip of three seconds or more says it more surely."}
	p := picture(upright, card.OnePicture, form.Both, 0, 300, 560)
	p.Title, p.CentreOfMass, p.Body = "Standing, side view", [2]float64{}, nil
	const scale = 560.0 / 92
	at := func(j [2]float64) (x, y float64) { return 300*0.47 + j[0]*scale, 560*0.87 - j[1]*scale }
	p.Plumb[0], p.Plumb[1] = at(upright.ankleNear)
	for _, b := range []struct {
		word string
		at   [2]float64
	}{{"ear", upright.head}, {"shoulder", upright.neck}, {"hip", upright.hip}, {"knee", upright.kneeNear}} {
		x, y := at(b.at)
		p.Bobs = append(p.Bobs, card.Bob{X: x, Y: y, Reach: 12, Word: b.word})
	}
	c.Pictures = []card.Picture{p}
	return c
}

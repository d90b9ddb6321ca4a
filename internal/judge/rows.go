package judge

import "math"

// CadenceNote tells the measured band of cadence from the trade's; it goes
// on every card with a cadence. The measured optima are those of the row.
const CadenceNote = "The cadence band goes by what was measured: the cadence that costs runners least lay at 166 to 174 steps/min on average, with a wide spread, higher at speed and lower for the tall. The trade's 170 to 185 is common practice, no source; no one number is right for everyone."

// Rows gives one row for each measure and unit of the side view, in the order
// in which they are weighed; of a measure in two units the first one there is
// judged. Where several runners' spread makes a band, it is
// mean ± 1.96 SD of the people measured; "derived" marks arithmetic on
// published numbers. A weight is our own choice: 1 for a measure that speaks
// for its area alone, less for one that repeats or only supports another.
func Rows() []Row {
	open := math.NaN()
	return []Row{
		{
			Measure: "step_time_asymmetry", Title: "Difference between left and right steps", Unit: "%", Area: Symmetry,
			Low: open, High: 5, SD: 2,
			Above: Direction{1, "The left and right steps do not take the same time",
				"Find out why before changing anything else: ask about pain or an old injury, and let a clinician look if there is any"},
			Source:     unsourced,
			Population: "none published that was seen; limit and spread are a rule of thumb",
			Note:       "A treadmill, a camera off to one side and too few steps all add to it. It says nothing of the cause.",
		},
		{
			Measure: "cadence", Title: "Cadence", Unit: "steps/min", Area: Cadence,
			Low: 171 - 8, High: 171 + 2*8, SD: 8,
			AtSpeedMS: 3.04, PerMS: 5.6, AtHeightM: 1.75, PerM: -50,
			Below: Direction{1, "The steps are slow for this speed and height",
				"Practise slightly quicker, shorter steps at the same speed, at most 5 % quicker at a time"},
			Above: Direction{0.3, "The steps are quick and short for this speed and height",
				"Try slightly longer, calmer steps at the same speed, and keep them only if they feel easier"},
			Source:     "derived from Eur J Sport Sci 2020 20:182–190 doi 10.1080/17461391.2019.1626911 (optimum 171 ± 8 at 3.04 m/s, preferred 165 ± 8, +3 for +15 % speed, height r −0.49 to −0.66); Burns et al. 2019 doi 10.1152/japplphysiol.00374.2018 (+5.6 per m/s); Lieberman et al. 2015 doi 10.1242/jeb.125500 (optimum 169.6 ± 7.2 at 3.0 m/s)",
			Population: "21 experienced recreational runners outdoors; 14 runners on a treadmill; for the speed's effect 20 elite runners of a 100 km race",
			Note:       "From one SD under the mean measured optimum to two above it. Measured mean optima are 166 to 174 with an SD of 7 to 10 between runners (also van Oeveren et al. 2017, de Ruiter et al. 2014), so a runner's own may well lie elsewhere. Height: −50 per metre, derived from r, SD 8 and an assumed SD of height of 0.09 m; the elite sample's −123 is not used. The trade's 170–185 is common practice, no source, and 180 is no law.",
		},
		{
			Measure: "hip_hinge", Title: "Bend at the hips", Unit: "deg", Area: Alignment,
			Low: open, High: 12.5, SD: 4,
			Above: Direction{1, "The body bends at the hips instead of leaning in one piece",
				"Practise running tall with the hips under the shoulders, so that any lean starts at the ankles"},
			Source:     "derived from Teng & Powers 2014 doi 10.2519/jospt.2014.5249 (trunk 7.3 ± 3.6°) and Patoz et al. 2022 Front Physiol 13:1044363 (leg angle at strike and toe-off, mid-stance about 2.7°)",
			Population: "24 recreational runners at 3.4 m/s; 115 runners on a treadmill",
			Note:       "4.7 ± 4 ° expected; the SD is widened from 3.6 because two samples were joined.",
		},
		{
			Measure: "head_forward", Title: "Head ahead of the shoulders", Unit: "cm", Area: Alignment,
			Low: -2, High: 8, SD: 2.5,
			Above: Direction{0.8, "The head is carried ahead of the shoulders",
				"Practise running with the gaze level and the head drawn back over the shoulders, without lifting the chin"},
			Below: Direction{0.3, "The head is carried behind the shoulders",
				"Practise running with a level gaze and a relaxed neck"},
			Source:     unsourced,
			Population: "none measured while running that was seen",
			Note:       "Standing adults' craniovertebral angle (50.6 ± 2.1° without neck pain, Lau et al. 2009) puts the ear about 4 cm ahead of the shoulder joint (derived); a lean of 7° adds 2 cm. Head posture alone says nothing of pain (medRxiv 2022.12.07.22283100).",
		},
		{
			Measure: "head_forward", Title: "Head against the line of the trunk", Unit: "deg", Area: Alignment,
			Low: -13, High: 15, SD: 7,
			Above: Direction{0.8, "The head is carried ahead of the line of the trunk",
				"Practise running with the gaze level and the head drawn back over the shoulders, without lifting the chin"},
			Below: Direction{0.3, "The head is carried behind the line of the trunk",
				"Practise running with a level gaze and a relaxed neck"},
			Source:     unsourced,
			Population: "none measured while running that was seen",
			Note:       "The band in centimetres seen from a shoulder 21 cm below the ear, under a lean of 7°; judged only where centimetres could not be had.",
		},
		{
			Measure: "midstance_stack", Title: "Nose, knee and foot at mid-stance", Unit: "cm", Area: Alignment,
			Low: open, High: open, SD: 6, Convert: withHeight,
			Source:     unsourced,
			Population: "none measured this way that was seen",
			Note:       "Shown, never judged: half-way through contact the foot lies behind the body by speed × half the contact time − landing distance, so speed and a near landing widen it.",
		},
		{
			Measure: "landing_distance", Title: "Foot ahead of the body at contact", Unit: "cm", Area: Landing,
			Low: open, High: 8.1 + 1.96*2.6, SD: 2.6, AtSpeedMS: 2.5, PerMS: 1.9, Convert: legAngleCm,
			Above: Direction{1, "The foot lands far ahead of the body",
				"Practise setting the foot down closer under the body, with a softly bent knee"},
			Source:     "derived from Patoz et al. 2022 Front Physiol 13:1044363 (leg angle at strike 8.1 ± 2.6, 9.2 ± 2.5, 10.2 ± 2.4° at 9, 11, 13 km/h) and a leg of 0.530 H (Drillis & Contini 1966)",
			Population: "115 runners on a treadmill; no measured distance of recreational runners was seen",
			Note:       "The foot always lands somewhat ahead of the body; there is no lower limit. Speed: +1.9° per m/s. Anything stricter is common practice, no source.",
		},
		{
			Measure: "landing_distance", Title: "Foot ahead of the body at contact", Unit: "% leg length", Area: Landing,
			Low: open, High: 8.1 + 1.96*2.6, SD: 2.6, AtSpeedMS: 2.5, PerMS: 1.9, Convert: legAnglePercent,
			Above: Direction{1, "The foot lands far ahead of the body",
				"Practise setting the foot down closer under the body, with a softly bent knee"},
			Source:     "derived from Patoz et al. 2022 Front Physiol 13:1044363, as in centimetres; leg of 0.530 H against thigh and shank of 0.491 H (Drillis & Contini 1966)",
			Population: "115 runners on a treadmill",
			Note:       "The same as in centimetres; judged only where those could not be had.",
		},
		{
			Measure: "heel_landing_distance", Title: "Heel ahead of the body at contact", Unit: "cm", Area: Landing,
			Low: open, High: 8.1 + 1.96*2.6, SD: 2.6, AtSpeedMS: 2.5, PerMS: 1.9, Convert: heelCm,
			Above: Direction{0.3, "The heel lands far ahead of the body",
				"Practise setting the foot down closer under the body, with a softly bent knee"},
			Source:     "derived from Patoz et al. 2022 Front Physiol 13:1044363, as the landing distance, less 0.02 H from heel to ankle (from memory)",
			Population: "115 runners on a treadmill",
			Note:       "The same evidence as the landing distance, so it counts for little beside it.",
		},
		{
			Measure: "shank_angle", Title: "Shin at contact", Unit: "deg", Area: Landing,
			Low: open, High: 9.5, SD: 3.5, AtSpeedMS: 2.5, PerMS: 1.9,
			Above: Direction{0.6, "The shin reaches forward when the foot lands",
				"Practise letting the foot come down under the knee"},
			Source:     "derived from Patoz et al. 2022 Front Physiol 13:1044363 (leg angle) and the knee's bend at contact of 46 runners (Fukuchi et al. 2017 doi 10.7717/peerj.3298 and Ferber's Running Injury Clinic data)",
			Population: "115 and 46 runners on treadmills",
			Note:       "Leg angle less half the knee's bend: 2.6 ± 3.5° at 2.5 m/s. No published limit was seen; the ankle ahead of the knee as a sign of a long step is common practice, no source.",
		},
		{
			Measure: "knee_flexion_contact", Title: "Knee bend at contact", Unit: "deg", Area: Landing,
			Low: 1.9, High: 20.2, SD: 4.7, AtSpeedMS: 2.5, PerMS: 2.0,
			Below: Direction{0.6, "The knee is almost straight when the foot lands",
				"Practise landing with a softly bent knee"},
			Above: Direction{0.2, "The knee is strongly bent when the foot lands",
				"Practise running a little taller"},
			Source:     "computed from Fukuchi et al. 2017 doi 10.7717/peerj.3298 and Ferber's Running Injury Clinic data (11.0 ± 4.7° at 2.5 m/s); speed after a thesis, Pacific University 1994 (11.48, 13.34, 14.21° at 6.0, 7.5, 9.0 mph)",
			Population: "46 runners on treadmills; 15 runners by two-dimensional video",
			Note:       "Published means run from 9 to 21° by method and speed.",
		},
		{
			Measure: "knee_flexion_peak", Title: "Deepest knee bend in stance", Unit: "deg", Area: Landing,
			Low: 30.4, High: 52.4, SD: 5.6,
			Below: Direction{0.4, "The knee bends little while the foot is on the ground",
				"Practise quiet, springy landings"},
			Above: Direction{0.4, "The knee bends deeply while the foot is on the ground",
				"Practise running a little taller, with quicker steps"},
			Source:     "computed from Fukuchi et al. 2017 doi 10.7717/peerj.3298 and Ferber's Running Injury Clinic data (41.4 ± 5.6° at 2.5 m/s); Wang et al. 2020 doi 10.7717/peerj.9813 (38.6 ± 5.0°); Souza 2016 doi 10.1016/j.pmr.2015.08.006 (considerably below 45°)",
			Population: "46 runners on treadmills; 24 men",
			Note:       "Published means run from 36 to 45°.",
		},
		{
			Measure: "foot_strike_angle", Title: "Foot angle at contact", Unit: "deg", Area: Landing,
			Low: open, High: open, SD: 5.6,
			Source:     "Altman & Davis 2012 Gait Posture 35:298–300 (classes; from memory); Wang et al. 2020 doi 10.7717/peerj.9813 (18.3 ± 5.6°); Souza 2016 doi 10.1016/j.pmr.2015.08.006",
			Population: "24 men; 71 % of 950 marathon runners land on the rearfoot (Patoz et al. 2019)",
			Note:       "Described by class, never judged alone: there is no band. The literature gives no cut-off for this angle (Souza 2016). Toes far up only add to a landing that is too far ahead already.",
		},
		{
			Measure: "trunk_lean", Title: "Trunk lean", Unit: "deg", Area: Lean,
			Low: 7.3 - 1.96*3.6, High: 7.3 + 1.96*3.6, SD: 3.6,
			Below: Direction{1, "The trunk leans back or stays bolt upright",
				"Practise a slight lean of the whole body from the ankles"},
			Above: Direction{1, "The trunk leans far forward",
				"Practise running taller, with a slight lean from the ankles only"},
			Source:     "Teng & Powers 2014 doi 10.2519/jospt.2014.5249 (7.3 ± 3.6°); Teng & Powers 2015 MSSE 47:625–630 (groups at 3.6 and 10.8°)",
			Population: "24 and 40 recreational runners at 3.4 m/s",
			Note:       "A little more lean took load off the knee's cap in the first study; an upright trunk is not wrong.",
		},
		{
			Measure: "body_lean", Title: "Lean of the whole body", Unit: "deg", Area: Lean,
			Low: open, High: open, SD: 3,
			Source:     unsourced,
			Population: "none measured this way that was seen",
			Note:       "Shown, never judged: it grows with speed and with a near landing, since the foot half-way through contact lies behind the body. A trunk at 7° over a leg at about 3° at mid-stance makes about 5° (derived from Teng & Powers 2014 and Patoz et al. 2022).",
		},
		{
			Measure: "vertical_oscillation", Title: "Bounce", Unit: "cm", Area: Bounce,
			Low: open, High: 9.9, SD: 1.25, AtSpeedMS: 2.7, PerMS: -1.1, Convert: withHeight,
			Above: Direction{1, "The body moves up and down a lot with each step",
				"Practise low, quiet steps, with the push going forward more than up"},
			Source:     "derived from Wang et al. 2020 doi 10.7717/peerj.9813 (7.7 ± 1.0 cm) and a thesis, Pacific University 1994 (7.2, 6.5, 5.7 cm at 6.0, 7.5, 9.0 mph)",
			Population: "24 men; 15 runners by two-dimensional video",
			Note:       "7.45 cm at 2.7 m/s, SD widened to 1.25 because the methods differ; scaled with body height from 1.75 m. A small bounce is no fault (Moore 2016 doi 10.1007/s40279-016-0474-4).",
		},
		{
			Measure: "contact_time", Title: "Time on the ground", Unit: "ms", Area: Cadence,
			Low: 231, High: 325, SD: 24, OnlySpeedMS: [2]float64{2.4, 3.1},
			Source:     "computed from Karamanidis & Arampatzis 2005 J Exp Biol 208 (four groups, 271 to 284 ms; paper and speed from memory)",
			Population: "49 people, runners and not, young and older, at about 2.7 m/s",
			Note:       "Shown, not judged: it goes with speed, and over 51 studies it had nothing to do with running economy (r = −0.02, Van Hooren et al. 2024 doi 10.1007/s40279-024-01997-3).",
		},
		{
			Measure: "flight_time", Title: "Time in the air", Unit: "ms", Area: Bounce,
			Low: 37, High: 146, SD: 28, OnlySpeedMS: [2]float64{2.4, 3.1},
			Source:     "computed from Karamanidis & Arampatzis 2005 J Exp Biol 208 (four groups, 80 to 112 ms; paper and speed from memory)",
			Population: "49 people, runners and not, young and older, at about 2.7 m/s",
			Note:       "Shown, not judged: the bounce says the same in centimetres.",
		},
		{
			Measure: "duty_factor", Title: "Share of the stride on the ground", Unit: "–", Area: Bounce,
			Low: 0.315, High: 0.441, SD: 0.032, OnlySpeedMS: [2]float64{2.4, 3.1},
			Source:     "computed from Karamanidis & Arampatzis 2005 J Exp Biol 208 (four groups, 35.5 to 38.9 %; paper and speed from memory)",
			Population: "49 people, runners and not, young and older, at about 2.7 m/s",
			Note:       "Shown, not judged.",
		},
		{
			Measure: "speed", Title: "Speed", Unit: "m/s",
			Low: open, High: open,
			Source:     "none needed: speed is what the runner chose",
			Population: "–",
			Note:       "No band: the other bands are taken at this speed.",
		},
	}
}

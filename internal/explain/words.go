package explain

// lore is what the tables of measures do not say of a measure.
type lore struct {
	// needs is what a clip or recording must have; cannot is what the number
	// can't tell; claims is the literature against making more of it.
	needs, cannot, claims string
}

// Common needs.
const (
	contactNeeds  = "A clip from the side at 60 frames a second or more; 120 is better, since a foot crosses 6 cm between two frames at 60."
	strideNeeds   = "A clip from the side with whole strides, shoulders and hips in the picture, and a level camera or a level that is seen."
	heightNeeds   = "The runner's height, since pixels become centimetres by it."
	backNeeds     = "A clip from straight behind, the camera level at hip height, the whole body in the picture."
	sideStanding  = "A still picture or short clip from the side, standing quietly, the camera level."
	frontStanding = "A still picture or short clip from the front, standing quietly, the camera level."
	plumbClaims   = "The plumb line of posture teaching has no bibliographic basis and does not follow the true line of gravity (Barra-López, J Rehabil Med scoping review). Posture is no diagnosis, and a crooked posture does not mean pain."
	twoD          = "By 2-D video the smallest difference that can be told from noise a week apart is 2.7–2.8° for pelvic drop and 1.3–2.3° for the trunk (Dingenen et al. 2018, doi 10.1016/j.ptsp.2018.06.009)."
)

// vocabulary gives the words of every measure, by its name.
func vocabulary() map[string]lore {
	return map[string]lore{
		"cadence": {
			needs:  "Six steps and more, from a clip of either view or a body-worn accelerometer; it needs no height and no level.",
			cannot: "Whether a runner would do better with another: the best cadence differs between runners by an SD of 7 to 10, and rises with speed and falls with height.",
			claims: "There is no right number: 180 was seen in Olympic distance runners racing (from memory), while measured mean optima of recreational runners are 166–174 (van Oeveren et al. 2017; de Ruiter et al. 2014; Lieberman et al. 2015). More steps a minute lower some loads; for injuries and performance the evidence is insufficient (Anderson et al. 2022, doi 10.1186/s40798-022-00504-0).",
		},
		"contact_time": {
			needs:  contactNeeds + " Or a sensor at the small of the back.",
			cannot: "How hard the foot lands, or how well the runner runs. It shortens with speed, so it is compared at like speed only.",
			claims: "Contact time does not predict running economy: r = −0.02 (95 % −0.15 to 0.12) over 51 studies and 1,115 runners (Van Hooren et al. 2024, doi 10.1007/s40279-024-01997-3). A force plate's own answer moves by 20 ms with its threshold (computed from Fukuchi et al. 2017).",
		},
		"flight_time": {
			needs:  contactNeeds + " Or a sensor at the small of the back.",
			cannot: "How high the body rises: that is the bounce.",
			claims: "Long flight is neither good nor bad; it goes with speed and cadence. No cut-off was seen in the literature.",
		},
		"duty_factor": {
			needs:  contactNeeds + " Or a sensor at the small of the back.",
			cannot: "Anything that contact and flight time don't already: it is made of them. It gives the peak force of the spring–mass model, π/(4 · duty factor) body weights, not a measured force.",
			claims: "It describes a style of running; no cut-off was seen. Older runners have higher ones at like speed (Karamanidis & Arampatzis 2005; from memory).",
		},
		"knee_lift": {
			needs:  "A clip from the side of somebody who runs or marches on the spot, the camera level; the centimetres need the runner's height.",
			cannot: "How high the knees come when running: it is given on the spot only, where no foot travels back under the body.",
			claims: "No study was seen that ties knee lift on the spot to how somebody runs; no band is used.",
		},
		"step_time_asymmetry": {
			needs:  contactNeeds + " Six steps and more a side: single steps differ.",
			cannot: "The cause. A treadmill, a camera off to one side and too few steps add to it. A sensor at the trunk tells it too small, so it is refused there.",
			claims: "The limit of 5 % is common practice, no source. Healthy runners are not symmetrical, and no study was seen that ties a little asymmetry to injury.",
		},
		"foot_strike_angle": {
			needs:  contactNeeds + " A flat reference: the standing check or a foot that lies flat in mid-stance; without one it is less sure.",
			cannot: "Whether a landing is good. Near a limit between classes it can't tell the class, and says so as a probability. Where the pressure lies under the foot it doesn't see.",
			claims: "There are no cut-offs at which this angle is abnormal (Souza 2016, doi 10.1016/j.pmr.2015.08.006). About 71 % of 950 marathon runners land on the rearfoot (Patoz et al. 2019). A landing further forward takes load off the knee and puts it on calf and Achilles tendon (Almonroeder et al. 2013, doi 10.1007/s10439-013-0819-1): a shift, not a gain. Its typical error by hand from 240-Hz video is 2.5°.",
		},
		"landing_distance": {
			needs:  contactNeeds + " " + heightNeeds + " The share of leg length does without. The whole body, arms included, for the centre of mass.",
			cannot: "The braking force. Every runner lands somewhat ahead of the body, more so at speed.",
			claims: "No measured distance of recreational runners was seen; the band is derived from leg angles (Patoz et al. 2022, Front Physiol 13:1044363). \"Land under the body\" is common practice, no source, and nobody does.",
		},
		"heel_landing_distance": {
			needs:  contactNeeds + " " + heightNeeds,
			cannot: "The braking force. For runners who land on the forefoot the heel is not what lands.",
			claims: "As landing distance: derived, not measured on runners with and without trouble.",
		},
		"shank_angle": {
			needs:  contactNeeds + " A level camera.",
			cannot: "By itself, overstriding: a long step with a bent knee has a steep shin.",
			claims: "Souza 2016 (doi 10.1016/j.pmr.2015.08.006) recommends to look at it and gives no cut-off; the ankle ahead of the knee as a fault is common practice, no source.",
		},
		"knee_flexion_contact": {
			needs:  contactNeeds + " The near leg in sight; the network's points of hip and ankle are off the joint centres by 2–3 cm, which is most of the uncertainty.",
			cannot: "The load on the knee.",
			claims: "Published means run from 9 to 21° by method and speed. The same runner measured on another day differs: prediction intervals are 9–14° wide between days (Damsted et al., IJSPT), so a small change between two checks is no change.",
		},
		"knee_flexion_peak": {
			needs:  "A clip from the side with the near leg in sight during stance.",
			cannot: "The load on the knee, or how springy the runner is.",
			claims: "\"Considerably below 45°\" may suggest reduced shock absorption (Souza 2016), in those words; means of healthy runners run from 36 to 45°.",
		},
		"trunk_lean": {
			needs:  strideNeeds,
			cannot: "Where the lean comes from, ankles or hips: that is the hip hinge.",
			claims: "Leaning more lowered the stress behind the kneecap in one laboratory (Teng & Powers 2014, doi 10.2519/jospt.2014.5249); injured runners in another leaned more (Bramah et al. 2018, doi 10.1177/0363546518793657). An upright trunk is not wrong.",
		},
		"body_lean": {
			needs:  strideNeeds + " Feet and head in the picture at mid-stance.",
			cannot: "Good from bad: half-way through contact the foot lies behind the body the more, the faster the run. It is shown, never judged.",
			claims: "The limits are common practice, no source. \"Lean from the ankles\" was not seen measured.",
		},
		"hip_hinge": {
			needs:  strideNeeds,
			cannot: "Whether tight hips, weak muscles or habit make it.",
			claims: "The band is derived from two studies of other things (trunk lean and leg angle); no study of the hinge itself was seen.",
		},
		"head_forward": {
			needs:  "A clip from the side with ear and shoulder in sight, a level camera for centimetres; degrees to the trunk line need no level.",
			cannot: "Anything of the neck. The ear's place against C7, which clinicians use, is not seen.",
			claims: "Head posture alone says nothing of pain: photographs of people with and without neck pain did not differ (medRxiv 2022.12.07.22283100), and the angle follows the spine's shape only loosely (R² = 0.30, Oakley et al. 2024). The pounds said to come with each inch are a model, not a measurement (Hansraj 2014).",
		},
		"midstance_stack": {
			needs:  strideNeeds + " " + heightNeeds,
			cannot: "Good from bad: speed and a near landing widen it. It is shown, never judged.",
			claims: "A picture of the trade; common practice, no source.",
		},
		"vertical_oscillation": {
			needs:  "A clip from the side with the whole body, arms included. " + heightNeeds,
			cannot: "Wasted work: part of it is what carries the flight. A watch's number is the sensor's place, not the body's centre.",
			claims: "Economical runners tend to bounce less (Folland et al. 2017; Moore 2016, doi 10.1007/s40279-016-0474-4), who also asks for caution in recommending one economical technique. A small bounce is no fault.",
		},
		"leg_stiffness": {
			needs:  contactNeeds + " The runner's mass and height; level ground.",
			cannot: "The stiffness of any joint or tendon. It is a model's number, 0.7–6.9 % below a force plate's in its own study.",
			claims: "It describes, it does not judge. On inclines the model gave results that are not valid (Meyer et al. 2023, doi 10.1055/a-2044-4805).",
		},
		"vertical_stiffness": {
			needs:  contactNeeds + " The runner's mass; level ground.",
			cannot: "As leg stiffness: a model's number.",
			claims: "It rises with speed and cadence by itself, so it is compared at like speed only.",
		},
		"speed": {
			needs:  "A treadmill whose belt the foot rides, or travel past the camera, and the runner's height; or the speed stated.",
			cannot: "The effort.",
			claims: "Speed from the display of a treadmill is off by several per cent at times (common practice, no source); a difference of more than 10 % is told.",
		},
		"step_width": {
			needs:  backNeeds + " " + heightNeeds,
			cannot: "Why the feet cross or stand apart.",
			claims: "Runners choose the width that costs least: 15 to 25 % of leg length more cost 9 to 15 % more energy (Arellano & Kram 2011, J Biomech). No cut-off for crossing over was seen.",
		},
		"foot_to_line": {
			needs:  backNeeds + " " + heightNeeds,
			cannot: "Which foot is at fault: the line is the mean path of both.",
			claims: "As step width; no cut-off was seen.",
		},
		"pelvic_drop": {
			needs:  backNeeds + " Shirt tucked in: the hips' points lie under cloth.",
			cannot: "Weakness. A drop may come from habit, fatigue, or a camera off level by as much.",
			claims: "In one comparison injured runners dropped more, +80 % odds for each degree (Bramah et al. 2018, doi 10.1177/0363546518793657): cross-sectional, so not a cause. " + twoD,
		},
		"pelvic_drop_difference": {
			needs:  backNeeds,
			cannot: "The cause; but a camera off level falls out of it.",
			claims: "No cut-off was seen. " + twoD,
		},
		"knee_projection": {
			needs:  backNeeds + " Knees in sight.",
			cannot: "Three-dimensional angles: a turned thigh looks like a knee that falls in.",
			claims: "The projection angle goes with three-dimensional measures only loosely (Willson & Davis; from memory), and no cut-off for running was seen.",
		},
		"trunk_side_lean": {
			needs:  backNeeds,
			cannot: "The cause, or a camera off level from a trunk off level where nothing upright is in the picture.",
			claims: twoD + " No cut-off was seen.",
		},
		"plumb_ear":             {needs: sideStanding + " " + heightNeeds, cannot: "How the person stands when nobody looks.", claims: plumbClaims},
		"plumb_shoulder":        {needs: sideStanding + " " + heightNeeds, cannot: "Where the shoulder blade sits.", claims: plumbClaims},
		"plumb_hip":             {needs: sideStanding + " " + heightNeeds, cannot: "The pelvis' tilt: its bony points are not seen.", claims: plumbClaims},
		"plumb_knee":            {needs: sideStanding + " " + heightNeeds, cannot: "More than the knee's bend does. It is shown, never judged.", claims: plumbClaims},
		"trunk_lean_standing":   {needs: sideStanding, cannot: "A leaning trunk from a leaning camera, unless the level is known.", claims: plumbClaims},
		"knee_flexion_standing": {needs: sideStanding, cannot: "A locked knee from a straight one to a few degrees.", claims: "Names such as genu recurvatum begin at 5 or 10° by convention (from memory); they are a clinician's to give."},
		"weight_over_foot": {
			needs: sideStanding + " The whole body, arms and shoes included.", cannot: "The pressure under the foot: it is the centre of mass over it, standing still.",
			claims: "In quiet standing gravity's line falls about 5 cm ahead of the ankle (weakly sourced); over mid-foot is taught, common practice, no source.",
		},
		"stance_width": {needs: frontStanding, cannot: "The width of the next stance: people stand differently each time.", claims: "\"About hip width\" is taught; common practice, no source."},
		"toe_out": {
			needs: frontStanding, cannot: "More than roughly in, straight or out: one camera sees a foot's turn by its foreshortening alone.",
			claims: "8 to 10° a side is taught (from memory). Hip bones differ, and some feet can't point straight.",
		},
		"shoulder_level": {needs: frontStanding, cannot: "A curved spine, which needs a clinician; a bag carried on one side does the same.", claims: "Few people are level. No cut-off was seen. " + plumbClaims},
		"hip_level":      {needs: frontStanding + " Shirt tucked in.", cannot: "A difference of leg length, which needs a clinician.", claims: "Few people are level. No cut-off was seen. " + plumbClaims},
		"step_count": {
			needs:  "The recording of a body-worn accelerometer, 25 samples a second or more.",
			cannot: "Left from right.",
			claims: "It is within 3 % on two recorded walks with 327 and 343 counted steps (Salvi et al. 2018); slow shuffling and loose phones do worse.",
		},
		"walking_cadence": {
			needs:  "The recording of a body-worn accelerometer, 25 samples a second or more.",
			cannot: "Anything of running: bands for running do not hold.",
			claims: "No band is given: walking cadence goes with speed and errand.",
		},
	}
}

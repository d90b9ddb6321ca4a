package judge

// StandingRows gives one row for each measure and unit of the standing check,
// in the order in which they are weighed. No band of standing posture has a
// study of healthy people behind it that was seen: the plumb line of posture
// teaching (Kendall & McCreary 1983) has no bibliographic basis and does not
// follow the true line of gravity (Barra-López, J Rehabil Med scoping
// review). So every limit here is a wide rule of thumb, and weights are low
// where even the rule is weak.
func StandingRows() []Row {
	const unseen = "none measured that was seen; limits and spread are a rule of thumb"
	return []Row{
		{
			Measure: "plumb_ear", Title: "Ear ahead of the ankle", Unit: "cm", Area: Alignment,
			Low: -3, High: 12, SD: 4,
			Above: Direction{0.8, "The head stands far ahead of the ankles",
				"Practise standing tall, with the back of the head drawn up and the weight over the middle of the feet"},
			Below: Direction{0.6, "The head stands behind the ankles",
				"Practise standing with the weight over the middle of the feet, without leaning back"},
			Source: unsourced, Population: unseen,
			Note: "The plumb line of posture teaching puts the ear lobe over a point a little ahead of the ankle; it has no bibliographic basis and may call too many people crooked (Barra-López, J Rehabil Med scoping review).",
		},
		{
			Measure: "plumb_shoulder", Title: "Shoulder ahead of the ankle", Unit: "cm", Area: Alignment,
			Low: -5, High: 9, SD: 3.5,
			Above: Direction{0.5, "The shoulders stand far ahead of the ankles",
				"Practise standing tall, with the weight over the middle of the feet"},
			Below: Direction{0.5, "The shoulders stand behind the ankles",
				"Practise standing with the ribs over the hips, without leaning back"},
			Source: unsourced, Population: unseen,
			Note: "As for the ear.",
		},
		{
			Measure: "plumb_hip", Title: "Hip ahead of the ankle", Unit: "cm", Area: Alignment,
			Low: -3, High: 9, SD: 3,
			Above: Direction{0.8, "The hips are pushed ahead of the feet",
				"Practise standing with the hips over the middle of the feet and the knees soft"},
			Below: Direction{0.6, "The hips stand behind the ankles",
				"Practise standing with the hips over the middle of the feet"},
			Source: unsourced, Population: unseen,
			Note: "As for the ear. The two hands by whose figures the networks were calibrated put the hip joint 4 cm apart, so this value is wide.",
		},
		{
			Measure: "plumb_knee", Title: "Knee ahead of the ankle", Unit: "cm", Area: Alignment,
			Low: -3, High: 10, SD: 3,
			Source: unsourced, Population: unseen,
			Note: "Shown, never judged: the knee's bend says it better.",
		},
		{
			Measure: "head_forward", Title: "Head ahead of the shoulders", Unit: "cm", Area: Alignment,
			Low: -3, High: 8, SD: 2.5,
			Above: Direction{0.9, "The head is carried ahead of the shoulders",
				"Practise drawing the head back over the shoulders with the gaze level, without lifting the chin"},
			Source: unsourced, Population: unseen,
			Note: "Standing adults' craniovertebral angle (50.6 ± 2.1° without neck pain, Lau et al. 2009) puts the ear about 4 cm ahead of the shoulder joint (derived). Photographs of people with and without neck pain did not differ (medRxiv 2022.12.07.22283100): it says nothing of pain. The pounds of load that are said to come with each inch of it are a model, not a measurement.",
		},
		{
			Measure: "head_forward", Title: "Head against the line of the trunk", Unit: "deg", Area: Alignment,
			Low: -16, High: 22, SD: 7,
			Source: unsourced, Population: unseen,
			Note: "The same in degrees; shown, never judged.",
		},
		{
			Measure: "trunk_lean_standing", Title: "Trunk lean, standing", Unit: "deg", Area: Alignment,
			Low: -6, High: 6, SD: 3,
			Above: Direction{0.7, "The trunk leans forward in standing",
				"Practise standing tall, with the shoulders over the hips"},
			Below: Direction{0.9, "The trunk leans back in standing",
				"Practise standing with the ribs over the hips, without pushing the hips forward"},
			Source: unsourced, Population: unseen,
			Note: "Upright within a few degrees; a camera that is off level by as much looks the same.",
		},
		{
			Measure: "knee_flexion_standing", Title: "Knee bend, standing", Unit: "deg", Area: Alignment,
			Low: -5, High: 15, SD: 5,
			Below: Direction{0.7, "The knee is locked back in standing",
				"Practise standing with soft knees, neither bent nor pushed back"},
			Above: Direction{0.3, "The knees stay bent in standing",
				"Practise standing tall, with the knees soft but not bent"},
			Source: unsourced, Population: unseen,
			Note: "0 is straight, less is bent back. More than 5° bent back is often called hyperextension and 10° counts in a score of loose joints (from memory); a video is sure of it to about 10°.",
		},
		{
			Measure: "weight_over_foot", Title: "Weight over the foot", Unit: "%", Area: Alignment,
			Low: 25, High: 65, SD: 8,
			Below: Direction{0.8, "The weight stands over the heels",
				"Practise standing with the weight over the middle of the feet, from where a run begins"},
			Above: Direction{0.6, "The weight stands over the balls of the feet",
				"Practise standing with the weight over the middle of the feet, heels down"},
			Source: unsourced, Population: unseen,
			Note: "The line of gravity falls about 5 cm ahead of the ankle in quiet standing (weakly sourced), some 40 % of the foot from the heel (derived); over the middle of the foot is what the trade teaches.",
		},
		{
			Measure: "stance_width", Title: "Stance width", Unit: "–", Area: Alignment,
			Low: 0.6, High: 2.0, SD: 0.35,
			Above: Direction{0.3, "The feet stand far apart",
				"Practise standing with the feet under the hips"},
			Below: Direction{0.3, "The feet stand close together",
				"Practise standing with the feet under the hips"},
			Source: unsourced, Population: unseen,
			Note: "Feet about hip width apart is what the trade teaches; 1 is the distance of the hip joints, which is half the width of the hips.",
		},
		{
			Measure: "toe_out", Title: "Foot turned out", Unit: "deg", Area: Alignment,
			Low: -5, High: 25, SD: 7,
			Above: Direction{0.5, "The foot is turned far out",
				"Practise standing with the feet pointing almost straight ahead, as far as hips and knees allow it without force"},
			Below: Direction{0.5, "The foot is turned in",
				"Practise standing with the feet pointing almost straight ahead, as far as hips and knees allow it without force"},
			Source: unsourced, Population: unseen,
			Note: "8 to 10° each side is taught (from memory). Hip bones differ, and some feet can't point straight.",
		},
		{
			Measure: "shoulder_level", Title: "Shoulder level", Unit: "deg", Area: Alignment,
			Low: -4, High: 4, SD: 2,
			Above: Direction{0.6, "The left shoulder is higher than the right",
				"Ask about pain, old injuries and one-sided habits before practising anything"},
			Below: Direction{0.6, "The right shoulder is higher than the left",
				"Ask about pain, old injuries and one-sided habits before practising anything"},
			Source: unsourced, Population: unseen,
			Note: "Most people are not level; the sign tells which side is higher, not why.",
		},
		{
			Measure: "hip_level", Title: "Hip level", Unit: "deg", Area: Alignment,
			Low: -4, High: 4, SD: 2,
			Above: Direction{0.6, "The left hip is higher than the right",
				"Ask about pain and old injuries, and let a clinician look before practising anything"},
			Below: Direction{0.6, "The right hip is higher than the left",
				"Ask about pain and old injuries, and let a clinician look before practising anything"},
			Source: unsourced, Population: unseen,
			Note: "A picture can't tell a leg that is longer from a knee that is bent or a foot that rolls in.",
		},
	}
}

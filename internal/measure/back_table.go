package measure

import "plumbstride/internal/form"

// backTable lists the measures of a clip from behind. Each holds at
// mid-stance: the middle of contact and toe-off.
func backTable() []Def {
	return []Def{
		{
			Name: "step_width", Title: "Step width", Unit: "cm", Area: "alignment", View: form.ViewBack,
			Meaning: "How far apart, side to side, left and right foot land; negative = they cross.",
			Formula: "sideways distance between left and right ankle, each at its own mid-stance, from the line of progression",
			Source:  "definition", behind: stepWidth,
		},
		{
			Name: "foot_to_line", Title: "Foot to the line of running", Unit: "cm", Area: "alignment", View: form.ViewBack, sided: true,
			Meaning: "How far the foot stands on its own side (+) of the line of running, or across it (−).",
			Formula: "sideways distance of the ankle at mid-stance from the line of progression, which is the hip centre's mean path over one stride; outward positive",
			Source:  "definition; compare Arellano & Kram 2011, J Biomech", behind: footToLine,
		},
		{
			Name: "pelvic_drop", Title: "Pelvic drop", Unit: "deg", Area: "alignment", View: form.ViewBack, sided: true,
			Meaning: "How far the pelvis drops on the free side while this leg carries the body.",
			Formula: "line through both hips to the level at mid-stance in the frontal plane; positive = the other side is lower",
			Source:  "definition; contralateral pelvic drop, Bramah et al. 2018, doi 10.1177/0363546518793657; from 2-D video: Dingenen et al. 2018, doi 10.1016/j.ptsp.2018.06.009", behind: pelvicDrop,
		},
		{
			Name: "pelvic_drop_difference", Title: "Pelvic drop, left less right", Unit: "deg", Area: "symmetry", View: form.ViewBack,
			Meaning: "How much more the pelvis drops over the left leg (+) or over the right one (−).",
			Formula: "mean pelvic drop over the left leg − the same over the right leg",
			Source:  "definition", behind: pelvicDropDifference,
		},
		{
			Name: "knee_projection", Title: "Knee to the hip–ankle line", Unit: "cm", Area: "alignment", View: form.ViewBack, sided: true,
			Meaning: "How far the knee stands inside (+) or outside (−) the line from hip to ankle.",
			Formula: "distance of the knee from the line hip–ankle at mid-stance in the frontal plane; towards the other leg positive",
			Source:  "definition", behind: kneeProjection,
		},
		{
			Name: "knee_projection", Title: "Knee projection angle", Unit: "deg", Area: "alignment", View: form.ViewBack, sided: true,
			Meaning: "The same as an angle, in the frontal plane: 0 = hip, knee and ankle in one line.",
			Formula: "180° − angle(hip, knee, ankle) at mid-stance in the frontal plane; knee towards the other leg positive",
			Source:  "frontal-plane projection angle: Willson, Ireland & Davis 2006, Med Sci Sports Exerc 38:945–952 (from memory)", behind: kneeAngle,
		},
		{
			Name: "trunk_side_lean", Title: "Trunk lean to the side", Unit: "deg", Area: "alignment", View: form.ViewBack, sided: true,
			Meaning: "How far the trunk leans over the leg that carries the body.",
			Formula: "hip centre→shoulder centre to the vertical at mid-stance in the frontal plane; over the standing leg positive",
			Source:  "definition; lateral trunk position from 2-D video: Dingenen et al. 2018, doi 10.1016/j.ptsp.2018.06.009", behind: trunkSideLean,
		},
	}
}

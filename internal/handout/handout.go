// Package handout takes the areas that a coach chose, and gives what a runner
// takes home about them to package paper: what each is, a check at home
// without any device and what it can and can't tell, how to film a re-check,
// and cautions. Pure; the words are English, as package words wants them.
package handout

import (
	"slices"
	"strings"

	"plumbstride/internal/form"
	"plumbstride/internal/judge"
	"plumbstride/internal/plan"
	"plumbstride/internal/quantity"
	"plumbstride/internal/stick"
)

// Topic is one area on a handout.
type Topic struct {
	Area string
	// What says what the area is, in one or two sentences.
	What string
	// Try is a check at home, without any device.
	Try string
	// Tells and Not are what the check can tell, and what it can't.
	Tells, Not string
	// Figure is its drawing, with words for those who don't see it.
	Figure stick.Pose
	Alt    string
}

// Choose gives the topics of areas in the order in which areas are shown;
// with none, all of them. An area that isn't known is a form.Error of usage.
func Choose(areas []string) ([]Topic, error) {
	var out []Topic
	for _, a := range areas {
		if !slices.Contains(plan.Areas(), a) {
			return nil, form.UsageError("%.30q is not an area; the areas are %s", a, strings.Join(plan.Areas(), ", "))
		}
	}
	for _, t := range topics() {
		if len(areas) == 0 || slices.Contains(areas, t.Area) {
			out = append(out, t)
		}
	}
	return out, nil
}

// topics are the six areas. The checks are common practice, no source.
func topics() []Topic {
	stand := stick.Leg{Thigh: 3, Knee: 5, Ankle: 2}
	other := stick.Leg{Thigh: -3, Knee: 2, Ankle: 5}
	return []Topic{
		{
			Area:  judge.Alignment,
			What:  "Head, ribs and hips carried one above the other, over the foot that is on the ground.",
			Try:   "Stand with your back to a wall, heels a hand's breadth away from it, seat and shoulder blades touching. Does the back of the head touch as well, without lifting the chin?",
			Tells: "whether standing tall comes without effort.",
			Not:   "how you hold yourself while running, or when tired. It says nothing about pain.",
			Figure: stick.Pose{Near: stand, Far: other, NearArm: stick.Arm{Elbow: 5}, FarArm: stick.Arm{Shoulder: 4, Elbow: 5},
				Props: []stick.Prop{stick.WallBehind}},
			Alt: "A figure stands tall with its back to a wall.",
		},
		{
			Area:  judge.Landing,
			What:  "How the foot comes down: softly, only a little ahead of the body, the knee bent. Every foot lands somewhat ahead; far ahead brakes.",
			Try:   "Jog on the spot for twenty quiet steps, then let yourself move off without changing them. Do the steps get louder, or the first one long?",
			Tells: "whether you reach for the ground as soon as you move.",
			Not:   "how far ahead the foot lands. That takes a clip from the side.",
			Figure: stick.Pose{Trunk: 6, Near: stick.Leg{Thigh: 20, Knee: 20, Ankle: 2}, Far: stick.Leg{Thigh: -2, Knee: 88, Ankle: -20},
				NearArm: stick.Arm{Shoulder: -46, Elbow: 85}, FarArm: stick.Arm{Shoulder: 22, Elbow: 95}, Props: []stick.Prop{stick.Plumb}},
			Alt: "A runner's foot comes down a little ahead of the body, the knee bent; a plumb line rises from the ankle.",
		},
		{
			Area:  judge.Cadence,
			What:  "How many steps you take a minute, both feet counted. It rises with speed and is lower in tall people; no one number is right for everyone.",
			Try:   "At an easy, even pace count how often the right foot lands in 30 seconds, and multiply by four. Do it three times and take the middle one.",
			Tells: "your cadence at that pace, to about four steps a minute.",
			Not:   "whether another cadence would suit you better.",
			Figure: stick.Pose{Trunk: 6, Near: stick.Leg{Thigh: 13, Knee: 37, Ankle: 24}, Far: stick.Leg{Thigh: 20, Knee: 100, Ankle: -15},
				NearArm: stick.Arm{Shoulder: -8, Elbow: 92}, FarArm: stick.Arm{Shoulder: 2, Elbow: 95}, Props: []stick.Prop{stick.Marks}},
			Alt: "A runner over marks at even distances on the ground.",
		},
		{
			Area:  judge.Lean,
			What:  "A slight tilt of the whole body in one piece, from the ankles and not from the waist.",
			Try:   "Stand tall an arm's length from a wall, hands up and ready. Sway towards it like a plank until the hands catch you. Did the hips come along with the shoulders?",
			Tells: "whether you can tip forward without folding at the waist.",
			Not:   "how far you lean when you run.",
			Figure: stick.Pose{Trunk: 14, Near: stick.Leg{Thigh: -14, Ankle: 14}, Far: stick.Leg{Thigh: -15, Ankle: 15},
				NearArm: stick.Arm{Shoulder: 82, Elbow: 12}, FarArm: stick.Arm{Shoulder: 86, Elbow: 12}, Props: []stick.Prop{stick.WallAhead, stick.LeanLine}},
			Alt: "A figure tips in one piece from the ankles and leans its hands against a wall.",
		},
		{
			Area:  judge.Bounce,
			What:  "How far the body goes up and down with each step.",
			Try:   "Run easily past something near at eye height, a hedge or a railing, and watch it against what lies far behind. Does the far edge jump, or does it glide?",
			Tells: "more or less than on another day, or after a change.",
			Not:   "how many centimetres. Some bounce is needed to fly at all.",
			Figure: stick.Pose{Trunk: 7, Near: stick.Leg{Thigh: -20, Knee: 30, Ankle: -30}, Far: stick.Leg{Thigh: 38, Knee: 62, Ankle: -5},
				NearArm: stick.Arm{Shoulder: 30, Elbow: 92}, FarArm: stick.Arm{Shoulder: -45, Elbow: 85}, Lift: 7, Props: []stick.Prop{stick.Up}},
			Alt: "A runner in flight, an arrow pointing up.",
		},
		{
			Area:  judge.Symmetry,
			What:  "Whether left and right do the same. Nobody is quite even.",
			Try:   "Beside a wall, one finger ready, stand on one leg for ten breaths, then on the other. Then run where it is quiet and listen: an even beat, or long and short?",
			Tells: "a clear difference between the two sides.",
			Not:   "why. A difference that is new, or that hurts, belongs to a doctor or physiotherapist.",
			Figure: stick.Pose{Trunk: 1, Near: stick.Leg{Thigh: 2, Knee: 4, Ankle: 2}, Far: stick.Leg{Thigh: 26, Knee: 48},
				NearArm: stick.Arm{Shoulder: 4, Elbow: 12}, FarArm: stick.Arm{Shoulder: 10, Elbow: 12}, Props: []stick.Prop{stick.Plumb}},
			Alt: "A figure stands quietly on one leg.",
		},
	}
}

// Stride are four moments of a running stride, for the front.
func Stride() []stick.Pose {
	return []stick.Pose{
		{Caption: "lands", Trunk: 6, Near: stick.Leg{Thigh: 20, Knee: 20, Ankle: 2}, Far: stick.Leg{Thigh: -2, Knee: 88, Ankle: -20},
			NearArm: stick.Arm{Shoulder: -46, Elbow: 85}, FarArm: stick.Arm{Shoulder: 22, Elbow: 95}},
		{Caption: "carries", Trunk: 6, Near: stick.Leg{Thigh: 13, Knee: 37, Ankle: 24}, Far: stick.Leg{Thigh: 20, Knee: 100, Ankle: -15},
			NearArm: stick.Arm{Shoulder: -8, Elbow: 92}, FarArm: stick.Arm{Shoulder: 2, Elbow: 95}, Props: []stick.Prop{stick.Plumb}},
		{Caption: "pushes", Trunk: 7, Near: stick.Leg{Thigh: -20, Knee: 12, Ankle: -22, Toes: 54}, Far: stick.Leg{Thigh: 44, Knee: 92, Ankle: -5},
			NearArm: stick.Arm{Shoulder: 30, Elbow: 92}, FarArm: stick.Arm{Shoulder: -45, Elbow: 85}},
		{Caption: "flies", Trunk: 7, Near: stick.Leg{Thigh: -20, Knee: 30, Ankle: -30}, Far: stick.Leg{Thigh: 38, Knee: 62, Ankle: -5},
			NearArm: stick.Arm{Shoulder: 30, Elbow: 92}, FarArm: stick.Arm{Shoulder: -45, Elbow: 85}, Lift: 5},
	}
}

// Filming are the steps to a clip that can be compared with the last one, with
// lengths in the family of units.
func Filming(units quantity.Units) []string {
	phone := "The phone still and level at the height of your hips, three to five metres to the side: on a tripod, a bench, a stack of books."
	if units == quantity.US {
		phone = "The phone still and level at the height of your hips, ten to sixteen feet to the side: on a tripod, a bench, a stack of books."
	}
	return []string{
		"The same shoes, place and easy speed as last time, after ten minutes of running, and without a beat in the ears.",
		phone,
		"The whole body in the picture, feet, arms and some ground, while you run square across it. Light from behind the phone.",
		"60 frames a second or more; slow motion is fine.",
		"Ten seconds on a treadmill. On the ground run past several times, at an even speed.",
		"Ask everyone who can be seen; for minors a parent must agree. Give the clip to your coach alone, and agree when it is deleted.",
	}
}

// Cautions stand on every handout, whatever was chosen.
func Cautions() []string {
	return append([]string{
		"Pain means stop. If it is still there the next morning, leave the practice until it is gone; if it stays or comes back, see a doctor or physiotherapist.",
		"Change one thing at a time: a few minutes of an easy run at first, and cadence by at most 5 % at a time.",
		"A new landing or cadence works calf, Achilles tendon and forefoot harder. Let them tire and rest, and go back a step when they are sore.",
		"Ask a doctor or physiotherapist first with pain now, after an operation or a stress fracture, in pregnancy, with a heart condition, or under 18.",
	}, append(plan.StopFor()[:1],
		"Not a medical device and no diagnosis. Nobody can promise that running differently keeps you from getting hurt.")...)
}

package measure

import (
	"math"

	"plumbstride/internal/body"
	"plumbstride/internal/form"
	"plumbstride/internal/geom"
)

var (
	fromSide  = []form.View{form.ViewSide}
	fromFront = []form.View{form.ViewFront, form.ViewBack}
)

// StandingTable lists every measure of the standing check, in the order in
// which a card shows them.
func StandingTable() []Def {
	const area = "alignment"
	return []Def{
		{
			Name: "plumb_ear", Title: "Ear ahead of the ankle", Unit: "cm", Area: area,
			Meaning: "How far the ear stands ahead of a plumb line through the ankle.",
			Formula: "X of the ears' middle − X of the ankles' middle, mean over the quiet frames",
			Source:  "definition; the plumb line of posture teaching", standing: plumb(form.Ear),
		},
		{
			Name: "plumb_shoulder", Title: "Shoulder ahead of the ankle", Unit: "cm", Area: area,
			Meaning: "How far the shoulder stands ahead of a plumb line through the ankle.",
			Formula: "X of the shoulders' middle − X of the ankles' middle, mean over the quiet frames",
			Source:  "definition; the plumb line of posture teaching", standing: plumb(form.Shoulder),
		},
		{
			Name: "plumb_hip", Title: "Hip ahead of the ankle", Unit: "cm", Area: area,
			Meaning: "How far the hip stands ahead of a plumb line through the ankle.",
			Formula: "X of the hips' middle − X of the ankles' middle, mean over the quiet frames",
			Source:  "definition; the plumb line of posture teaching", standing: plumb(form.Hip),
		},
		{
			Name: "plumb_knee", Title: "Knee ahead of the ankle", Unit: "cm", Area: area,
			Meaning: "How far the knee stands ahead of a plumb line through the ankle.",
			Formula: "X of the knees' middle − X of the ankles' middle, mean over the quiet frames",
			Source:  "definition; the plumb line of posture teaching", standing: plumb(form.Knee),
		},
		{
			Name: "head_forward", Title: "Head ahead of shoulders", Unit: "cm", Area: area,
			Meaning: "How far the ear is ahead of the shoulders.",
			Formula: "X of ear − X of shoulder centre",
			Source:  "definition", standing: &standDef{views: fromSide, of: headAhead, note: levelNote},
		},
		{
			Name: "head_forward", Title: "Head to trunk line", Unit: "deg", Area: area,
			Meaning: "The angle of the neck to the line of the trunk.",
			Formula: "shoulder→ear to the trunk line",
			Source:  "definition", standing: &standDef{views: fromSide, of: headToTrunk},
		},
		{
			Name: "trunk_lean_standing", Title: "Trunk lean, standing", Unit: "deg", Area: area,
			Meaning: "How far the trunk leans forward (+) or back (−) in standing.",
			Formula: "hip centre→shoulder centre to the vertical",
			Source:  "definition", standing: &standDef{views: fromSide, of: always(trunk), note: levelNote},
		},
		{
			Name: "knee_flexion_standing", Title: "Knee bend, standing", Unit: "deg", Area: area, sided: true,
			Meaning: "How bent the knee is in standing; 0 or less = locked or bent back.",
			Formula: "180° − angle(hip, knee, ankle)",
			Source:  "definition", standing: &standDef{views: fromSide, of: kneeStanding, extra: kneeDepth},
		},
		{
			Name: "weight_over_foot", Title: "Weight over the foot", Unit: "%", Area: area,
			Meaning: "Over which part of the foot the body's weight stands: 0 is the heel, 100 the toes.",
			Formula: "100·(X of whole-body centre of mass − X of heel) / (X of toe − X of heel), the middle of both feet",
			Source:  "definition; centre of mass after de Leva 1996, J Biomech 29:1223–1230", standing: &standDef{views: fromSide, of: weightOverFoot, note: levelNote},
		},
		{
			Name: "stance_width", Title: "Stance width", Unit: "–", Area: area,
			Meaning: "How far apart the feet stand: 1 is as far as the hip joints.",
			Formula: "distance of the ankles / distance of the hip joints, across",
			Source:  "definition", standing: &standDef{views: fromFront, of: always(stanceWidth), extra: tilted, ratio: true},
		},
		{
			Name: "toe_out", Title: "Foot turned out", Unit: "deg", Area: area, sided: true,
			Meaning: "How far the foot points outward (+) or inward (−).",
			Formula: "arcsin(outward distance of toe from heel / foot length of 0.155 H), perspective taken out",
			Source:  "definition; foot length after Drillis & Contini 1966 in Winter, with the shoe", standing: &standDef{
				views: []form.View{form.ViewFront}, of: toeOut, extra: toeOutExtra,
				note: func(*standKit) string {
					return "one camera sees a foot's turn only from its foreshortening, and a body turned a little turns both feet: read it as roughly in, straight or out"
				},
			},
		},
		{
			Name: "shoulder_level", Title: "Shoulder level", Unit: "deg", Area: area,
			Meaning: "How far the left shoulder is higher (+) or lower (−) than the right.",
			Formula: "slope of right shoulder→left shoulder to the horizontal",
			Source:  "definition", standing: &standDef{views: fromFront, of: always(levelOfPair(form.Shoulder)), extra: turnedPair(form.Shoulder), note: levelNote, level: true},
		},
		{
			Name: "hip_level", Title: "Hip level", Unit: "deg", Area: area,
			Meaning: "How far the left hip is higher (+) or lower (−) than the right.",
			Formula: "slope of right hip joint→left hip joint to the horizontal",
			Source:  "definition", standing: &standDef{views: fromFront, of: always(levelOfPair(form.Hip)), extra: turnedPair(form.Hip), note: levelNote, level: true},
		},
	}
}

// always is a shape that is the same for every kit and side.
func always(f shape) func(*standKit, form.Side) shape {
	return func(*standKit, form.Side) shape { return f }
}

// plumb is how far a point stands ahead of the ankles, cm.
func plumb(pt form.Point) *standDef {
	f := func(p place) (float64, bool) {
		v, ok1 := mid(p, pt)
		ankle, ok2 := mid(p, form.Ankle)
		return 100 * (v.X - ankle.X), ok1 && ok2
	}
	return &standDef{views: fromSide, of: always(f), note: levelNote}
}

func headAhead(*standKit, form.Side) shape {
	return func(p place) (float64, bool) {
		ear, ok1 := mid(p, form.Ear)
		shoulder, ok2 := mid(p, form.Shoulder)
		return 100 * (ear.X - shoulder.X), ok1 && ok2
	}
}

func headToTrunk(*standKit, form.Side) shape {
	return func(p place) (float64, bool) {
		ear, ok1 := mid(p, form.Ear)
		shoulder, ok2 := mid(p, form.Shoulder)
		lean, ok3 := trunk(p)
		return geom.Lean(shoulder, ear) - lean, ok1 && ok2 && ok3
	}
}

func kneeStanding(_ *standKit, s form.Side) shape { return kneeFlexion(s) }

// kneeDepth is what is left of perspective and of the leg's own plane: hip,
// knee and ankle lie 1 cm nearer or farther than thought, a tenth of the
// distance off the lens's axis, and are seen from a yaw that is known to
// YawSD.
func kneeDepth(k *standKit, s form.Side) float64 {
	const depth = 0.01
	turn := math.Sin(geom.Radians(k.p.YawSD))
	if k.p.DistanceM > 0 {
		turn = math.Hypot(turn/2, 0.1)
	}
	e := geom.Degrees(depth * turn / (k.p.LegM / 2))
	if s != k.p.Near {
		e *= 1.5
	}
	return e
}

func weightOverFoot(k *standKit, _ form.Side) shape {
	return func(p place) (float64, bool) {
		heel, ok1 := mid(p, form.Heel)
		toe, ok2 := mid(p, form.Toe)
		var pos body.Positions
		var ok body.Present
		for j := range form.Joint(form.NumJoints) {
			v, seen := p(j)
			pos[j], ok[j] = [2]float64{v.X, v.Y}, seen
		}
		com, missing := k.table.CentreOfMass(&pos, &ok)
		return 100 * (com[0] - heel.X) / (toe.X - heel.X), ok1 && ok2 && missing <= 0.12 && toe.X-heel.X > 0.08
	}
}

func stanceWidth(p place) (float64, bool) {
	la, ok1 := joint(p, form.Ankle, form.Left)
	ra, ok2 := joint(p, form.Ankle, form.Right)
	lh, ok3 := joint(p, form.Hip, form.Left)
	rh, ok4 := joint(p, form.Hip, form.Right)
	return math.Abs(la.X-ra.X) / lh.Sub(rh).Norm(), ok1 && ok2 && ok3 && ok4
}

// tilted is what a camera held high or low does to the stance's width: tilted
// down by 8°, the ankles are farther from it than the hips by 0.5 H · sin 8°.
func tilted(k *standKit, _ form.Side) float64 {
	v, _ := stanceWidth(k.place(&k.at))
	if k.p.DistanceM <= 0 {
		return 0.02 * v
	}
	return v * 0.5 * k.who.HeightM * math.Sin(geom.Radians(8)) / k.p.DistanceM
}

// footShare is heel to toe of a shod foot over body height, known to
// footShareSD: 0.152 H (Drillis & Contini 1966) and the shoe.
const (
	footShare   = 0.155
	footShareSD = 0.07
)

func toeOut(k *standKit, s form.Side) shape {
	return func(p place) (float64, bool) {
		heel, ok1 := joint(p, form.Heel, s)
		toe, ok2 := joint(p, form.Toe, s)
		out := toe.X - heel.X
		if s == form.Right {
			out = -out
		}
		return geom.Degrees(math.Asin(math.Max(-0.95, math.Min(0.95, out/(footShare*k.who.HeightM))))), ok1 && ok2
	}
}

// toeOutExtra: the foot's length, the camera's distance, and how far the
// body may be turned from facing it.
func toeOutExtra(k *standKit, s form.Side) float64 {
	v, _ := toeOut(k, s)(k.place(&k.at))
	length := geom.Degrees(math.Tan(geom.Radians(math.Abs(v))) * footShareSD)
	far := 0.0
	if k.p.DistanceM > 0 {
		foot, _ := joint(k.place(&k.at), form.Toe, s)
		const distanceSD = 0.15
		far = geom.Degrees(math.Abs(foot.X) / k.p.DistanceM * distanceSD)
	}
	return math.Hypot(k.p.YawSD, math.Hypot(length, far))
}

// levelOfPair is the slope from a point's right side up to its left.
func levelOfPair(pt form.Point) shape {
	return func(p place) (float64, bool) {
		l, ok1 := joint(p, pt, form.Left)
		r, ok2 := joint(p, pt, form.Right)
		return geom.Slope(r, l), ok1 && ok2
	}
}

// turnedPair is what a body turned by YawSD adds to a level: one side comes
// nearer to the camera, and lies higher in the picture where the pair is
// higher than the lens, held at 0.7 to 1.5 m (standard deviation 0.23 m).
func turnedPair(pt form.Point) func(*standKit, form.Side) float64 {
	return func(k *standKit, _ form.Side) float64 {
		if k.p.DistanceM <= 0 {
			return 0.5
		}
		v, _ := mid(k.place(&k.at), pt)
		rise := math.Hypot(v.Y+body.AnkleHeight(k.who.HeightM)-1.1, 0.23)
		return geom.Degrees(math.Sin(geom.Radians(k.p.YawSD)) * rise / k.p.DistanceM)
	}
}

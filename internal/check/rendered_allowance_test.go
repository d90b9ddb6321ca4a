package check

import (
	"math"
	"testing"

	"plumbstride/internal/body"
	"plumbstride/internal/form"
	"plumbstride/internal/testkit"
)

// contactAllowance is how far, s, a contact of the rendered clips may lie from
// another definition's (their README).
const contactAllowance = 0.015

// strictly is what is wanted of the two measures that go with the moment of
// contact, once that allowance is made.
var strictly = map[string]float64{"foot_strike_angle": 3.5, "landing_distance": 2}

// soleDeg is the flat foot's angle of the rendered man, heel to toe, deg (his
// truth.json).
const soleDeg = -1.65559

// allowedTruth is from where to where the exact joints of a rendered clip take
// the foot strike angle (deg) or the landing distance (cm) of a side while
// contact is anywhere within contactAllowance of its own.
func allowedTruth(t *testing.T, dir, clip, name string, s form.Side) (low, high float64) {
	t.Helper()
	low, high = math.Inf(1), math.Inf(-1)
	times := renderedEvents(t, dir, clip)
	for _, f := range testkit.RenderedJoints(t, dir, clip) {
		for _, on := range times[s].On {
			if math.Abs(f.TimeS-on) > contactAllowance {
				continue
			}
			v := landingOfJoints(f, s)
			if name == "foot_strike_angle" {
				v = footStrikeOfJoints(f, s)
			}
			low, high = math.Min(low, v), math.Max(high, v)
		}
	}
	return low, high
}

func footStrikeOfJoints(f testkit.RenderedFrame, s form.Side) float64 {
	heel, toe := f.M[s.String()+"_heel"], f.M[s.String()+"_toe"]
	return math.Atan2(toe[1]-heel[1], math.Abs(toe[0]-heel[0]))*180/math.Pi - soleDeg
}

// landingOfJoints is how far the ankle lies ahead of the centre of mass, cm.
func landingOfJoints(f testkit.RenderedFrame, s form.Side) float64 {
	var at body.Positions
	var ok body.Present
	for j := range form.Joint(form.NumJoints) {
		name := j.Point().String()
		if side := j.Side(); side != form.Mid {
			name = side.String() + "_" + name
		}
		if p, seen := f.M[name]; seen {
			at[j], ok[j] = [2]float64{p[0], p[1]}, true
		}
	}
	com, _ := body.DeLeva(body.NotStated).CentreOfMass(&at, &ok)
	ahead := f.M[s.String()+"_toe"][0] - f.M[s.String()+"_heel"][0]
	return 100 * math.Copysign(1, ahead) * (f.M[s.String()+"_ankle"][0] - com[0])
}

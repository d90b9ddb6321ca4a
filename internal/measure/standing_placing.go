package measure

import (
	"plumbstride/internal/form"
	"plumbstride/internal/geom"
)

// placing is where a network puts the points of somebody standing, against
// the joints' true places, in % of body height: ahead and up from the side
// (of the near and of the far limb), outward and up from the front.
type placing struct {
	side, front map[form.Point]offset
	// own is how differently one joint is placed on one body or another,
	// standard uncertainty of a coordinate as a share of body height: seen
	// from the side, and from the front.
	own [2]float64
}

// offset is a point's mean offset and the standard uncertainty that is left
// of it: the hands that drew the bodies do not agree where a joint lies.
type offset struct {
	near, far     geom.Vec
	sdAlong, sdUp float64
}

// ownOf is own in a view.
func (p placing) ownOf(v form.View) float64 {
	if v == form.ViewSide {
		return p.own[0]
	}
	return p.own[1]
}

func (p placing) of(v form.View) map[form.Point]offset {
	if v == form.ViewSide {
		return p.side
	}
	return p.front
}

// placingOf gives the placing of the network that found the points. Points
// made elsewhere are where their maker says, to half a millimetre.
func placingOf(network string) placing {
	switch network {
	case "heavy", "full", "full+heavy", "lite":
		p := networkPlacing()
		if network == "lite" {
			p.own = [2]float64{3 * p.own[0], 3 * p.own[1]} // for finding and following, not for measuring
		}
		return p
	default:
		return placing{own: [2]float64{0.0002, 0.0002}}
	}
}

// networkPlacing is a compromise between figures drawn by two different
// hands (go test ./internal/check -run StandingStudy -standing 60 -v): four
// fifths of the way to the body model's, whose joints were placed by
// anatomists, and one fifth to the invented standers', with three quarters of
// their difference as the standard uncertainty. People of flesh and blood
// were not measured. The two hands disagree most about the hip joint (4 cm
// fore and aft, 3 cm across), and about the heights of shoulder, knee and
// ankle.
func networkPlacing() placing {
	return placing{
		own: [2]float64{0.005, 0.003},
		side: map[form.Point]offset{
			form.Ear:      {geom.Vec{X: 1.9, Y: 0.2}, geom.Vec{X: 2.25, Y: 1.7}, 1.0, 0.4},
			form.Shoulder: {geom.Vec{X: -0.85, Y: 1.25}, geom.Vec{X: -0.5, Y: 2.45}, 0.65, 1.5},
			form.Hip:      {geom.Vec{X: 1.8, Y: 0.6}, geom.Vec{X: 1.75, Y: 0.45}, 1.8, 1.0},
			form.Knee:     {geom.Vec{X: -0.3, Y: 1.45}, geom.Vec{X: -0.3, Y: 0.25}, 0.4, 1.2},
			form.Ankle:    {geom.Vec{X: -0.55, Y: 3.1}, geom.Vec{X: 0.5, Y: 0.95}, 0.6, 0.8},
			form.Heel:     {geom.Vec{X: 0.8, Y: 1.7}, geom.Vec{X: 1.8, Y: -0.1}, 0.5, 0.4},
			form.Toe:      {geom.Vec{X: -2.35, Y: 2.1}, geom.Vec{X: -1.45, Y: 0.9}, 0.4, 0.3},
		},
		front: map[form.Point]offset{
			form.Ear:      {near: geom.Vec{X: -1.7, Y: 0.35}, sdAlong: 0.6, sdUp: 0.5},
			form.Shoulder: {near: geom.Vec{X: -1.0, Y: 0.8}, sdAlong: 1.0, sdUp: 1.4},
			form.Hip:      {near: geom.Vec{X: -0.35, Y: 0.1}, sdAlong: 1.15, sdUp: 0.3},
			form.Knee:     {near: geom.Vec{X: -0.2, Y: 1.2}, sdAlong: 0.3, sdUp: 0.6},
			form.Ankle:    {near: geom.Vec{X: -0.15, Y: 2.25}, sdAlong: 0.3, sdUp: 1.2},
			form.Heel:     {near: geom.Vec{X: -0.5, Y: 1.5}, sdAlong: 0.3, sdUp: 0.7},
			form.Toe:      {near: geom.Vec{X: -0.5, Y: 0.8}, sdAlong: 0.5, sdUp: 0.3},
		},
	}
}

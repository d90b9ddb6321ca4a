package body

import (
	"math"

	"plumbstride/internal/form"
)

// Positions are the joints' places in metres, X forward and Y up, indexed
// by form.Joint. What stands at a joint that is not there means nothing.
type Positions = [form.NumJoints][2]float64

// Present tells which joints of Positions are there.
type Present = [form.NumJoints]bool

// CentreOfMass gives the whole body's centre of mass, in the axes and unit
// of p, from the segments whose both ends are there:
//
//	com = Σ mᵢ·(fromᵢ + cᵢ·(toᵢ − fromᵢ)) / Σ mᵢ
//
// missingMass, 0..1, is the mass share of the segments left out. An end on
// the midline (head, trunk) is the centre of its left and right joints, or
// the one of them that is there. A limb that the camera did not see is left
// out, which shifts com towards the other one: the caller mirrors it half a
// stride apart beforehand, or refuses when missingMass is large. With
// nothing there, com is NaN and missingMass is 1.
func (t Table) CentreOfMass(p *Positions, ok *Present) (com [2]float64, missingMass float64) {
	var sum [2]float64
	mass := 0.0
	t.each(p, ok, func(s Segment, _ form.Side, from, to [2]float64, there bool) {
		if !there {
			return
		}
		c := along(from, to, s.COM)
		sum[0] += s.Mass * c[0]
		sum[1] += s.Mass * c[1]
		mass += s.Mass
	})
	if mass == 0 {
		return [2]float64{math.NaN(), math.NaN()}, 1
	}
	return [2]float64{sum[0] / mass, sum[1] / mass}, math.Max(0, 1-mass/t.MassSum())
}

// Missing names the segments that CentreOfMass leaves out, as "left foot" or
// "trunk", in the table's order.
func (t Table) Missing(ok *Present) []string {
	var names []string
	var nowhere Positions
	t.each(&nowhere, ok, func(s Segment, side form.Side, _, _ [2]float64, there bool) {
		switch {
		case there:
		case s.Paired:
			names = append(names, side.String()+" "+s.Name)
		default:
			names = append(names, s.Name)
		}
	})
	return names
}

// each visits every segment, a paired one left and right.
func (t Table) each(p *Positions, ok *Present, visit func(s Segment, side form.Side, from, to [2]float64, there bool)) {
	for _, s := range t.Segments {
		if !s.Paired {
			from, okFrom := centre(p, ok, s.From)
			to, okTo := centre(p, ok, s.To)
			visit(s, form.Both, from, to, okFrom && okTo)
			continue
		}
		for _, side := range []form.Side{form.Left, form.Right} {
			a, b := form.At(s.From, side), form.At(s.To, side)
			visit(s, side, p[a], p[b], ok[a] && ok[b])
		}
	}
}

// centre is the middle of a point's left and right joints, or the one there.
func centre(p *Positions, ok *Present, point form.Point) (at [2]float64, there bool) {
	l, r := form.At(point, form.Left), form.At(point, form.Right)
	switch {
	case ok[l] && ok[r]:
		return along(p[l], p[r], 0.5), true
	case ok[l]:
		return p[l], true
	default:
		return p[r], ok[r]
	}
}

// along is the point from + fraction·(to − from).
func along(from, to [2]float64, fraction float64) [2]float64 {
	return [2]float64{
		from[0] + fraction*(to[0]-from[0]),
		from[1] + fraction*(to[1]-from[1]),
	}
}

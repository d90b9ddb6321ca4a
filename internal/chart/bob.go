package chart

import "plumbstride/internal/form"

// bob is a plumb bob of the given height with its axis at x and its middle
// at y: whole for the whole body, its left or right half for one side.
// Hollow bobs stand for values beyond the edge of the axis.
func bob(x, y, height float64, side form.Side, ink Ink, hollow bool) Path {
	top, bottom := y-height/2, y+height/2
	var ops []Op
	switch side {
	case form.Left:
		ops = append([]Op{{Do: 'M', X: x, Y: top}}, flank(x, top, height, -1)...)
		ops = append(ops, Op{Do: 'L', X: x, Y: bottom})
	case form.Right:
		ops = append([]Op{{Do: 'M', X: x, Y: top}}, flank(x, top, height, 1)...)
		ops = append(ops, Op{Do: 'L', X: x, Y: bottom})
	default:
		ops = append([]Op{{Do: 'M', X: x, Y: top}}, flank(x, top, height, 1)...)
		ops = append(ops, upFlank(x, top, height)...)
	}
	p := Path{Ops: append(ops, Op{Do: 'Z'}), Fill: ink}
	if hollow {
		p.Fill, p.Stroke = Page, Stroke{Ink: ink, Width: height * 0.1}
	}
	return p
}

// flank runs from the top down one side to the tip: collar, shoulder, taper.
func flank(x, top, h, dir float64) []Op {
	return []Op{
		{Do: 'L', X: x + dir*0.12*h, Y: top},
		{Do: 'L', X: x + dir*0.12*h, Y: top + 0.15*h},
		{Do: 'C', X1: x + dir*0.30*h, Y1: top + 0.17*h, X2: x + dir*0.40*h, Y2: top + 0.26*h, X: x + dir*0.40*h, Y: top + 0.38*h},
		{Do: 'C', X1: x + dir*0.40*h, Y1: top + 0.58*h, X2: x + dir*0.14*h, Y2: top + 0.82*h, X: x, Y: top + h},
	}
}

// upFlank runs from the tip up the left side to the top.
func upFlank(x, top, h float64) []Op {
	return []Op{
		{Do: 'C', X1: x - 0.14*h, Y1: top + 0.82*h, X2: x - 0.40*h, Y2: top + 0.58*h, X: x - 0.40*h, Y: top + 0.38*h},
		{Do: 'C', X1: x - 0.40*h, Y1: top + 0.26*h, X2: x - 0.30*h, Y2: top + 0.17*h, X: x - 0.12*h, Y: top + 0.15*h},
		{Do: 'L', X: x - 0.12*h, Y: top},
	}
}

// whisker is a 95 % interval at height y, cut at the edges of the plot:
// short ticks where it ends, arrow heads where it runs on.
func whisker(low, high, left, right, y, tick float64, stroke Stroke) []Item {
	from, to := max(low, left), min(high, right)
	if !(from <= to) { // all of it lies beyond an edge, or it isn't known
		return nil
	}
	items := []Item{Segment{from, y, to, y, stroke}}
	end := func(x, beyond, edge, dir float64) {
		if beyond == edge {
			items = append(items, Segment{x, y - tick, x, y + tick, stroke})
			return
		}
		items = append(items,
			Segment{x, y, x - dir*1.3*tick, y - tick, stroke},
			Segment{x, y, x - dir*1.3*tick, y + tick, stroke})
	}
	end(from, low, from, -1)
	end(to, high, to, 1)
	return items
}

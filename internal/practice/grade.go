package practice

import (
	"math"
	"slices"

	"gonum.org/v1/gonum/stat"
)

// Bounds of a height that is fit to give a grade (own choices, no source).
const (
	// scatterM is by how much the height may jump about within half a minute,
	// as a standard deviation. Over the three windows of a grade, some 250 m,
	// 2 m make about one per cent.
	scatterM = 2.0
	// steepestM is steeper than anybody runs for a minute and a half.
	steepestM = 0.40
	// gradeS is half of the time over which a grade is taken, leastWayM the
	// least way.
	gradeS    = 45.0
	leastWayM = 60.0
)

// grades gives rise over run at each moment, or why that can't be told.
func grades(moments []moment) (slopes []float64, why string) {
	heights, missing := despiked(moments)
	switch {
	case missing > 0.1:
		return nil, "No height is in the recording: up and down are not taken into account."
	case scatter(moments, heights) > scatterM:
		return nil, "The height in the recording jumps about too much: up and down are not taken into account."
	}
	way := make([]float64, len(moments)) // metres from the start
	for i := 1; i < len(moments); i++ {
		way[i] = way[i-1]
		if m := moments[i-1]; known(m.SpeedMPS) {
			way[i] += m.SpeedMPS * m.HoldS
		}
	}
	slopes = make([]float64, len(moments))
	lo, hi := 0, 0
	for i, m := range moments {
		for moments[lo].AtS < m.AtS-gradeS {
			lo++
		}
		for hi+1 < len(moments) && moments[hi+1].AtS <= m.AtS+gradeS {
			hi++
		}
		if s, ok := slope(way[lo:hi+1], heights[lo:hi+1]); ok {
			slopes[i] = s
		}
	}
	return slopes, ""
}

// slope is that of the straight line through heights over the way.
func slope(way, heights []float64) (float64, bool) {
	if way[len(way)-1]-way[0] < leastWayM {
		return 0, false
	}
	x, y := paired(way, heights)
	if len(x) < 5 {
		return 0, false
	}
	_, s := stat.LinearRegression(x, y, nil, false)
	return s, math.Abs(s) <= steepestM // not of NaN: all in one place
}

// paired leaves out the places where a height is not known.
func paired(at, heights []float64) (x, y []float64) {
	for i, h := range heights {
		if known(h) {
			x, y = append(x, at[i]), append(y, h)
		}
	}
	return x, y
}

// despiked is the height at each moment, the median of fifteen, so that a
// few wrong ones go; missing is the share of time without.
func despiked(moments []moment) (heights []float64, missing float64) {
	heights = make([]float64, len(moments))
	without, all := 0.0, 0.0
	for i, m := range moments {
		all += m.HoldS
		if !known(m.AltitudeM) {
			without += m.HoldS
		}
		var near []float64
		for _, o := range moments[max(0, i-7):min(len(moments), i+8)] {
			if known(o.AltitudeM) {
				near = append(near, o.AltitudeM)
			}
		}
		heights[i] = math.NaN()
		if len(near) > 0 {
			slices.Sort(near)
			heights[i] = near[len(near)/2]
		}
	}
	if all == 0 {
		return heights, 1
	}
	return heights, without / all
}

// scatter is the median over half minutes of how far heights lie from a
// straight line through them in time, metres.
func scatter(moments []moment, heights []float64) float64 {
	var found []weighted
	for begin := 0; begin < len(moments); {
		end := begin
		bin := math.Floor(moments[begin].AtS / BinS)
		for end < len(moments) && math.Floor(moments[end].AtS/BinS) == bin {
			end++
		}
		if s, ok := roughness(moments[begin:end], heights[begin:end]); ok {
			found = append(found, weighted{s, 1})
		}
		begin = end
	}
	if m := median(found, 0); known(m) {
		return m
	}
	return 0
}

// roughness is the standard deviation of heights around their straight line.
func roughness(moments []moment, heights []float64) (float64, bool) {
	at := make([]float64, len(moments))
	for i, m := range moments {
		at[i] = m.AtS
	}
	t, h := paired(at, heights)
	if len(t) < 6 {
		return 0, false
	}
	level, rise := stat.LinearRegression(t, h, nil, false)
	sum := 0.0
	for i := range t {
		sum += math.Pow(h[i]-level-rise*t[i], 2)
	}
	return math.Sqrt(sum / float64(len(t)-2)), known(sum)
}

package practice

import (
	"math"
	"slices"
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

// slope is the straight line through heights over the way, by least squares.
func slope(way, heights []float64) (float64, bool) {
	if way[len(way)-1]-way[0] < leastWayM {
		return 0, false
	}
	n, mx, my := 0.0, 0.0, 0.0
	for i, h := range heights {
		if known(h) {
			n, mx, my = n+1, mx+way[i], my+h
		}
	}
	if n < 5 {
		return 0, false
	}
	mx, my = mx/n, my/n
	sxx, sxy := 0.0, 0.0
	for i, h := range heights {
		if known(h) {
			sxx, sxy = sxx+(way[i]-mx)*(way[i]-mx), sxy+(way[i]-mx)*(h-my)
		}
	}
	if sxx <= 0 {
		return 0, false
	}
	s := sxy / sxx
	return s, math.Abs(s) <= steepestM
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

func roughness(moments []moment, heights []float64) (float64, bool) {
	var t, h []float64
	for i, v := range heights {
		if known(v) {
			t, h = append(t, moments[i].AtS), append(h, v)
		}
	}
	if len(t) < 6 {
		return 0, false
	}
	mt, mh := mean(t), mean(h)
	stt, sth, shh := 0.0, 0.0, 0.0
	for i := range t {
		stt, sth, shh = stt+(t[i]-mt)*(t[i]-mt), sth+(t[i]-mt)*(h[i]-mh), shh+(h[i]-mh)*(h[i]-mh)
	}
	if stt <= 0 {
		return 0, false
	}
	return math.Sqrt(max(0, shh-sth*sth/stt) / float64(len(t)-2)), true
}

func mean(values []float64) float64 {
	sum := 0.0
	for _, v := range values {
		sum += v
	}
	return sum / float64(len(values))
}

package pose

import (
	"math"

	"gonum.org/v1/gonum/mat"
)

const (
	rhythmHarmonics = 4
	slowestStride   = 0.6 // Hz
	fastestStride   = 2.3
	// leastRhythm is the share of the ankles' separation that one sine must
	// explain before a rhythm is believed at all.
	leastRhythm = 0.5
)

// rhythm gives, for each frame and state, how badly the vector between the
// legs fits the rhythm of the strides around: 0 everywhere where no rhythm is
// found (standing still, or fewer than two strides). states are the sides
// believed so far.
func (l *legs) rhythm(states []int) [][numExchanges]float64 {
	cost := make([][numExchanges]float64, len(l.time))
	for from := 0; from < len(l.time); {
		to := l.pieceEnd(from)
		l.rhythmOf(from, to, states, cost)
		from = to
	}
	return cost
}

// pieceEnd cuts the track into pieces of about sidesSpan seconds, the last
// one up to half as long again.
func (l *legs) pieceEnd(from int) int {
	n := len(l.time)
	if l.time[n-1]-l.time[from] < 1.5*sidesSpan {
		return n
	}
	to := from + 1
	for to < n && l.time[to]-l.time[from] < sidesSpan {
		to++
	}
	return to
}

// between gives the vector from the right to the left point, with the sides
// of a state.
func (l *legs) between(t, point, state int) vec {
	return l.place(t, 1, point, state).to(l.place(t, 0, point, state))
}

func (l *legs) rhythmOf(from, to int, states []int, cost [][numExchanges]float64) {
	hz := l.sharpen(from, to, l.strideRate(from, to, states), states)
	if hz == 0 {
		return
	}
	for point := range numLegPoints {
		fit, scale, ok := l.fitRhythm(from, to, point, hz, states)
		if !ok {
			continue
		}
		for t := from; t < to; t++ {
			d := l.between(t, point, keptLegs)
			if !d.ok {
				continue
			}
			at := fit[t-from]
			kept := math.Hypot(d.x-at.x, d.y-at.y) / scale
			turned := math.Hypot(-d.x-at.x, -d.y-at.y) / scale
			kept, turned = math.Min(kept*kept, residualCap), math.Min(turned*turned, residualCap)
			for s := range numExchanges {
				if exchanged(s, point) {
					cost[t][s] += rhythmWeight * turned
				} else {
					cost[t][s] += rhythmWeight * kept
				}
			}
		}
	}
}

// ankle's place in legPoints.
const anklePoint = 1

// strideRate is the frequency of the one sine that explains most of the
// ankles' horizontal separation, or 0 where none explains leastRhythm of it
// or the piece is shorter than two strides.
func (l *legs) strideRate(from, to int, states []int) float64 {
	var time, sep []float64
	for t := from; t < to; t++ {
		if d := l.between(t, anklePoint, states[t]); d.ok {
			time, sep = append(time, l.time[t]), append(sep, d.x)
		}
	}
	if len(sep) < 12 {
		return 0
	}
	span := time[len(time)-1] - time[0]
	mean, power := 0.0, 0.0
	for _, x := range sep {
		mean += x / float64(len(sep))
	}
	for _, x := range sep {
		power += (x - mean) * (x - mean)
	}
	lowest := math.Max(slowestStride, 2/span)
	best, bestShare := 0.0, leastRhythm
	for hz := lowest; hz <= fastestStride; hz += 0.1 / span {
		if share := sineShare(time, sep, mean, hz) / power; share > bestShare {
			best, bestShare = hz, share
		}
	}
	return best
}

// sharpen looks near a stride rate for the one whose series fits the ankles'
// vector best, each frame's distance counting up to three times 0.05 leg
// lengths: exchanged frames bend the sine's frequency, but not this.
func (l *legs) sharpen(from, to int, hz float64, states []int) float64 {
	if hz == 0 {
		return 0
	}
	const steps, reach, usual = 8, 0.06, 0.05
	best, least := 0.0, math.Inf(1)
	for k := -steps; k <= steps; k++ {
		try := hz * (1 + reach*float64(k)/steps)
		fit, _, ok := l.fitRhythm(from, to, anklePoint, try, states)
		if !ok {
			return 0
		}
		loss := 0.0
		for i := range fit {
			if d := l.between(from+i, anklePoint, states[from+i]); d.ok {
				r := math.Hypot(d.x-fit[i].x, d.y-fit[i].y) / usual
				loss += math.Min(r*r, residualCap)
			}
		}
		if loss < least {
			best, least = try, loss
		}
	}
	return best
}

// sineShare is the power of values that a sine of frequency hz explains, by
// least squares.
func sineShare(time, values []float64, mean, hz float64) float64 {
	var cc, ss, cs, xc, xs float64
	for i, t := range time {
		s, c := math.Sincos(2 * math.Pi * hz * t)
		x := values[i] - mean
		cc, ss, cs = cc+c*c, ss+s*s, cs+c*s
		xc, xs = xc+x*c, xs+x*s
	}
	det := cc*ss - cs*cs
	if det <= 0 {
		return 0
	}
	a, b := (xc*ss-xs*cs)/det, (xs*cc-xc*cs)/det
	return a*xc + b*xs
}

// fitRhythm fits a Fourier series at the stride frequency to one point's
// vector between the legs, with Tukey's biweight, and gives the series in
// each frame and the usual distance from it (at least 0.03 leg lengths).
func (l *legs) fitRhythm(from, to, point int, hz float64, states []int) (fit []vec, scale float64, ok bool) {
	const columns = 1 + 2*rhythmHarmonics
	n := to - from
	weight := make([]float64, n)
	basis := make([][columns]float64, n)
	seen := 0
	for i := range n {
		basis[i] = harmonics(l.time[from+i], hz)
		if l.between(from+i, point, states[from+i]).ok {
			weight[i] = 1
			seen++
		}
	}
	if seen < 3*columns {
		return nil, 0, false
	}
	fit = make([]vec, n)
	for range 4 {
		cx, cy, solved := l.solveRhythm(from, point, states, basis, weight)
		if !solved {
			return nil, 0, false
		}
		var residuals []float64
		distance := make([]float64, n)
		for i := range n {
			fit[i] = vec{ok: true}
			for k, b := range basis[i] {
				fit[i].x += b * cx[k]
				fit[i].y += b * cy[k]
			}
			if d := l.between(from+i, point, states[from+i]); d.ok {
				distance[i] = math.Hypot(d.x-fit[i].x, d.y-fit[i].y)
				residuals = append(residuals, distance[i])
			}
		}
		// The median of a Rayleigh distance is 1.18 standard deviations.
		scale = math.Max(0.03, quantile(residuals, 0.5)/1.18)
		for i := range weight {
			if weight[i] = 0; l.between(from+i, point, states[from+i]).ok {
				u := distance[i] / (4.7 * scale)
				weight[i] = math.Pow(math.Max(0, 1-u*u), 2)
			}
		}
	}
	return fit, scale, true
}

func harmonics(t, hz float64) (row [1 + 2*rhythmHarmonics]float64) {
	row[0] = 1
	for k := 1; k <= rhythmHarmonics; k++ {
		row[2*k], row[2*k-1] = math.Sincos(2 * math.Pi * hz * float64(k) * t)
	}
	return row
}

// solveRhythm gives the series' weighted least-squares coefficients for x
// and y; a little ridge keeps short pieces from running wild.
func (l *legs) solveRhythm(from, point int, states []int, basis [][1 + 2*rhythmHarmonics]float64, weight []float64) (cx, cy []float64, ok bool) {
	const columns = 1 + 2*rhythmHarmonics
	var products [columns][columns]float64
	var sides [columns][2]float64
	for i, row := range basis {
		if weight[i] == 0 {
			continue
		}
		d := l.between(from+i, point, states[from+i])
		for a := range columns {
			for b := a; b < columns; b++ {
				products[a][b] += weight[i] * row[a] * row[b]
			}
			sides[a][0] += weight[i] * row[a] * d.x
			sides[a][1] += weight[i] * row[a] * d.y
		}
	}
	normal := mat.NewSymDense(columns, nil)
	right := mat.NewDense(columns, 2, nil)
	for a := range columns {
		products[a][a] += 0.5
		for b := a; b < columns; b++ {
			normal.SetSym(a, b, products[a][b])
		}
		right.SetRow(a, sides[a][:])
	}
	var chol mat.Cholesky
	if !chol.Factorize(normal) {
		return nil, nil, false
	}
	var solution mat.Dense
	if err := chol.SolveTo(&solution, right); err != nil {
		return nil, nil, false
	}
	return mat.Col(nil, 0, &solution), mat.Col(nil, 1, &solution), true
}

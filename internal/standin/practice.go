package standin

import (
	"math"
	"math/rand/v2"
	"time"

	"plumbstride/internal/practice"
)

// Course is some weeks of an invented runner's practice, as a watch would
// write it.
type Course struct {
	First time.Time
	Runs  int
	// EveryDays is how far the runs lie apart, Minutes how long each is.
	EveryDays, Minutes float64
	// SpeedMPS is the usual speed of the first run and of the last, in between
	// on a straight line; a run's own differs from it by SpeedSD.
	SpeedMPS [2]float64
	SpeedSD  float64
	// Cadence is steps a minute at 3 m/s on the level, PerMPS what 1 m/s adds,
	// PerGrade what a grade of 1 adds, Rise by how much it is higher in the last
	// run than in the first at equal speed.
	Cadence, PerMPS, PerGrade, Rise float64
	// DaySD is by how much runs differ by themselves, steps a minute; SpeedNoise
	// how far the watch's speed is off, m/s; HillM how high the hills are.
	DaySD, SpeedNoise, HillM float64
	// Breaks has the runner walk for two minutes in each run and stand for one.
	Breaks bool
}

// NewCourse gives six weeks of three runs, at a steady pace, of a runner whose
// cadence goes with speed as is usual (see package practice for the sources).
func NewCourse(first time.Time) Course {
	return Course{
		First: first, Runs: 18, EveryDays: 2.4, Minutes: 32, SpeedMPS: [2]float64{2.8, 2.8}, SpeedSD: 0.12,
		Cadence: 162, PerMPS: 7, PerGrade: 30, DaySD: 1.2, SpeedNoise: 0.1, HillM: 8, Breaks: true,
	}
}

// Activities writes the course down, with one point a second, no places, and
// cadence in strides of one leg, to the half.
func (c Course) Activities(rng *rand.Rand) []practice.Activity {
	out := make([]practice.Activity, c.Runs)
	for i := range out {
		share := 0.0
		if c.Runs > 1 {
			share = float64(i) / float64(c.Runs-1)
		}
		out[i] = c.run(i, share, rng)
	}
	return out
}

func (c Course) run(i int, share float64, rng *rand.Rand) practice.Activity {
	at := c.First.Add(time.Duration(float64(i) * c.EveryDays * float64(24*time.Hour))).UTC().Truncate(time.Second)
	a := practice.Activity{Format: practice.FIT, Sport: "running", Start: at}
	usual := c.SpeedMPS[0] + share*(c.SpeedMPS[1]-c.SpeedMPS[0]) + c.SpeedSD*rng.NormFloat64()
	day := c.Cadence + share*c.Rise + c.DaySD*rng.NormFloat64()
	slow, quick, noise := newWander(90, 0.2, rng), newWander(20, 1.2, rng), newWander(8, c.SpeedNoise, rng)
	phase, length, way, strides := rng.Float64()*2*math.Pi, 900+600*rng.Float64(), 0.0, 0.0
	total := int(60 * c.Minutes)
	for s := range total {
		mps := max(1.9, usual+slow.next(rng))
		grade := c.HillM * math.Pi / length * math.Cos(2*math.Pi*way/length+phase)
		spm := day + c.PerMPS*(mps-3) + c.PerGrade*grade + quick.next(rng)
		switch {
		case c.Breaks && s >= total/2 && s < total/2+120:
			mps, spm = 1.4+0.05*rng.NormFloat64(), 112+2*rng.NormFloat64()
		case c.Breaks && s >= total/3 && s < total/3+60:
			mps, spm = 0, 0
		}
		way += mps
		strides += spm / 120
		seen := mps
		if mps > 0 {
			seen = max(0, mps+noise.next(rng))
		}
		a.Points = append(a.Points, practice.Point{
			AtS: float64(s), HoldS: 1, Cadence: math.Round(spm) / 2, SpeedMPS: math.Round(1000*seen) / 1000,
			AltitudeM: math.Round(5*(80+c.HillM/2*math.Sin(2*math.Pi*way/length+phase)+0.15*rng.NormFloat64())) / 5,
		})
	}
	a.Strides, a.DistanceM = int(strides), math.Round(way)
	return a
}

// wander is noise that hangs together over so many seconds (an
// Ornstein–Uhlenbeck process, one value a second).
type wander struct{ seconds, sd, now float64 }

// newWander gives noise of a standard deviation, somewhere on its way.
func newWander(seconds, sd float64, rng *rand.Rand) *wander {
	return &wander{seconds, sd, sd * rng.NormFloat64()}
}

// next is the noise a second later.
func (w *wander) next(rng *rand.Rand) float64 {
	keep := math.Exp(-1 / w.seconds)
	w.now = keep*w.now + w.sd*math.Sqrt(1-keep*keep)*rng.NormFloat64()
	return w.now
}

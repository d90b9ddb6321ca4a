package practice

import (
	"math"
	"time"
)

// Format is the kind of a file.
type Format string

// The formats that are read.
const (
	FIT Format = "FIT"
	GPX Format = "GPX"
)

// Activity is one recording as its file tells it. Places are used in reading,
// for the speed, and are not kept: there is no field for them.
type Activity struct {
	Format Format
	// Sport is the file's own word in lower case, empty where it has none.
	Sport string
	Start time.Time // UTC
	// Points come in the order of time; AtS counts from Start.
	Points []Point
	// Strides is how many strides (two steps) the file states in all, 0 where
	// it doesn't.
	Strides int
	// DistanceM is the distance that the file states, 0 where it doesn't.
	DistanceM float64
	// Backwards is how many points were left out since their time was not
	// after that of the one before.
	Backwards int
}

// Point is one moment of a recording. What a watch did not know is NaN.
type Point struct {
	AtS float64
	// HoldS is for how long the point stands, up to the next one, a pause, or
	// maxHoldS.
	HoldS float64
	// Cadence is as the file writes it: strides or steps a minute.
	Cadence float64
	// SpeedMPS is metres a second, AltitudeM metres.
	SpeedMPS, AltitudeM float64
}

// maxHoldS is for how long a point stands where the next one is far: watches
// that save room write one only where something changes (common practice, no
// source).
const maxHoldS = 10.0

// maxPoints is more than anybody records at once: five days and nights, one
// point a second.
const maxPoints = 450_000

// pause is a span in which the watch was stopped, seconds from the start.
type pause struct{ from, to float64 }

// hold fills in for how long each point stands. pauses are in order.
func hold(points []Point, pauses []pause) {
	next := 0
	for i := range points {
		p := &points[i]
		p.HoldS = 1
		if i+1 < len(points) {
			p.HoldS = min(points[i+1].AtS-p.AtS, maxHoldS)
		}
		for next < len(pauses) && pauses[next].to <= p.AtS {
			next++
		}
		if next < len(pauses) && pauses[next].from < p.AtS+p.HoldS {
			p.HoldS = max(0, pauses[next].from-p.AtS)
		}
	}
}

// known tells a number from what a watch did not know.
func known(v float64) bool { return !math.IsNaN(v) && !math.IsInf(v, 0) }

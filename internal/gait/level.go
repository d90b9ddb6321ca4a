package gait

import (
	"math"

	"plumbstride/internal/form"
	"plumbstride/internal/geom"
	"plumbstride/internal/signal"
)

// focalShare is the focal length of a telephone's main camera in video over
// the picture's longer side: 26 mm equivalent (26/36) with a usual crop of
// 1.2 (from memory); rendered and open clips lie near it too.
const focalShare = 0.9

// findYaw estimates how far the camera stands off side-on from the mean lead
// of the near shoulder and hip over the far ones: over whole strides it is 0
// from the side, and width·sin(yaw) otherwise. A runner at X off the lens's
// axis is seen at an angle of X/D as well, which is not the camera's yaw.
func (g *Gait) findYaw(facts Facts) {
	height := facts.HeightM
	var est, weight float64
	for _, pt := range []form.Point{form.Shoulder, form.Hip} {
		lead, ok := g.meanLead(pt)
		if !ok {
			continue
		}
		width := 2 * lateralShare[pt] * height
		w := width * width
		est += w * lead * g.Plane.MPerPx / width
		weight += w
	}
	yaw := 0.0
	if weight > 0 {
		if p := &g.Plane; p.DistanceM > 0 {
			mid := p.centre.X + p.TravelMS.X*(g.Motion.Times[len(g.Motion.Times)-1]-p.t0)/2
			est -= weight * mid / p.DistanceM
		}
		yaw = geom.Degrees(math.Asin(math.Max(-0.7, math.Min(0.7, est/weight))))
	}
	g.Plane.YawSD = squareSD
	if g.Motion.Track.Network != "" {
		g.Plane.YawSD = networkSquareSD
	}
	if size, sd, ok := g.yawFromSize(); ok {
		yaw, g.Plane.YawSD = weigh(yaw, g.Plane.YawSD, size, sd)
	}
	g.Plane.setYaw(yaw, height, g.Near)
}

// squareSD is how far, degrees, people carry pelvis and shoulders off square
// to the way they run, averaged over strides (common practice, no source);
// networkSquareSD adds what a network makes of the hidden hip and shoulder.
const (
	squareSD        = 2.5
	networkSquareSD = 4.0
)

// meanLead is how far the near joint of a pair lies ahead of the far one,
// px, over whole strides.
func (g *Gait) meanLead(pt form.Point) (float64, bool) {
	near, far := form.At(pt, g.Near), form.At(pt, g.Near.Other())
	var lead []float64
	for _, t := range g.Motion.Times {
		a, _, okA := g.Motion.Spot(near, t)
		b, _, okB := g.Motion.Spot(far, t)
		if okA && okB {
			lead = append(lead, g.Plane.dir()*(a.X-b.X))
		}
	}
	if len(lead) < minFrames {
		return 0, false
	}
	mean, _ := signal.MeanSD(lead)
	return mean, true
}

// seenRoll is the camera's roll from the way the stance feet go: along the
// belt on a treadmill, through successive footfalls over ground.
func (g *Gait) seenRoll(facts Facts) (deg, sd float64) {
	var slopes []float64
	for _, s := range sides {
		slopes = append(slopes, g.stanceSlopes(s)...)
	}
	footfallSD := 0.0
	if g.Setting == OverGround {
		slopes = slopes[:0]
		if slope, sd, _, ok := g.footfallLine(); ok {
			slopes, footfallSD = append(slopes, slope), sd
		}
	}
	if len(slopes) == 0 {
		return 0, handLevelSD
	}
	// Uphill to the right rises in the picture, which looks like a negative
	// roll.
	seen := signal.Median(slopes) + facts.InclineDeg*g.Plane.dir() - g.yawSlope()
	spread := math.Max(signal.RobustSD(slopes)/math.Sqrt(float64(len(slopes))), 0.2)
	if g.Setting == Treadmill {
		spread = math.Hypot(spread, toePathSD)
	} else {
		spread = footfallSD
	}
	spread = math.Hypot(spread, yawTilt*g.Plane.YawSD)
	return shrink(seen, spread, handLevelSD)
}

// yawTilt is how much a degree of unknown yaw tilts the belt in the picture:
// tan of a usual depression angle of 12°.
const yawTilt = 0.2

// toePathSD is how far, degrees, the toe point's path strays from the belt's
// while the shoe rolls over it; handLevelSD how far people hold or prop a
// telephone off level (common practice, no source).
const (
	toePathSD   = 1.3
	handLevelSD = 1.7
)

// shrink weighs an estimate against "level" by their variances.
func shrink(seen, sd, prior float64) (deg, out float64) {
	w := prior * prior / (prior*prior + sd*sd)
	return w * seen, math.Sqrt(w) * sd
}

// stanceSlopes are, stride by stride, the slopes in the picture (degrees,
// falling to the right positive) of the toe's path after the anchor: the
// forefoot carries the body there however the foot landed.
func (g *Gait) stanceSlopes(s form.Side) []float64 {
	var out []float64
	for _, a := range g.Cycles[s].Anchors {
		var v geom.Vec
		for t := a; t <= a+0.12*g.StrideS; t += 0.005 {
			if _, vel, ok := g.Motion.Spot(form.At(form.Toe, s), t); ok {
				v = v.Add(vel)
			}
		}
		if math.Abs(v.X) > 0 {
			out = append(out, geom.Degrees(math.Atan(v.Y/v.X)))
		}
	}
	return out
}

// yawSlope is the slope (degrees) that a level belt seen at an angle takes
// on in the picture: below the camera, the far end rises. Seen from behind
// (yaw positive) the far end is ahead, so a belt facing right climbs to the
// right, which is a negative roll: with the belt a depression angle δ below
// the optical axis, tan(slope) = −tan δ·tan yaw.
func (g *Gait) yawSlope() float64 {
	t := g.Motion.Track
	if t.Width == 0 || t.Height == 0 {
		return 0
	}
	var y []float64
	for _, s := range sides {
		for _, a := range g.Cycles[s].Anchors {
			if v, _, ok := g.Motion.Spot(form.At(form.Heel, s), a); ok {
				y = append(y, v.Y)
			}
		}
	}
	if len(y) == 0 {
		return 0
	}
	focal := focalShare * float64(max(t.Width, t.Height))
	if t.FocalPx > 0 {
		focal = t.FocalPx
	}
	below := (signal.Median(y) - float64(t.Height)/2) / focal
	slope := geom.Degrees(math.Atan(below * math.Tan(geom.Radians(g.Plane.YawDeg))))
	return -g.Plane.dir() * slope
}

// weigh is the mean of two estimates by their variances.
func weigh(a, sdA, b, sdB float64) (mean, sd float64) {
	wa, wb := 1/(sdA*sdA), 1/(sdB*sdB)
	return (wa*a + wb*b) / (wa + wb), 1 / math.Sqrt(wa+wb)
}

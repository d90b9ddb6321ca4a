package judge

import (
	"math"
	"slices"

	"plumbstride/internal/form"
)

// Context is what the bands depend on beside the measure: speed in m/s and
// body height in metres, NaN where not known, and how lengths are written.
type Context struct {
	SpeedMS, HeightM float64
	// Inches has lengths written in inches instead of centimetres.
	Inches bool
	// Pain tells that something hurts the runner now: then nothing is put
	// first.
	Pain bool
}

const (
	// nominalHeightM stands in for a height that is not known where a length
	// has to be made from it.
	nominalHeightM = 1.70
	// The relations with speed and height are not carried beyond these.
	minSpeedMS, maxSpeedMS = 2.0, 4.5
	minHeightM, maxHeightM = 1.45, 2.05
)

// Bands gives the band of each measure that has one at this speed and
// height, by the measure's name and in the unit of its first Row. A speed or
// height that is not known leaves the band where it was published. A measure
// without a band (foot_strike_angle, speed, and the times outside the speeds
// at which they were published) is not in the map.
func Bands(ctx Context) map[string]form.Band {
	bands := map[string]form.Band{}
	for _, r := range Rows() {
		if _, earlier := bands[r.Measure]; earlier {
			continue
		}
		if b, ok := r.band(ctx); ok {
			bands[r.Measure] = b
		}
	}
	return bands
}

// WithBands gives a copy of the measures in which each has its Band at this
// speed and height in its own unit, or none where there is none.
func WithBands(measures []form.Measure, ctx Context) []form.Measure {
	return withBands(append(Rows(), BackRows()...), measures, ctx)
}

func withBands(rows []Row, measures []form.Measure, ctx Context) []form.Measure {
	banded := slices.Clone(measures)
	for i := range banded {
		m := &banded[i]
		m.Band = nil
		for _, r := range rows {
			if r.Measure != m.Name || r.Unit != m.Unit {
				continue
			}
			if b, ok := r.band(ctx); ok {
				m.Band = &b
			}
		}
	}
	return banded
}

// band is the row's band at a speed and height.
func (r Row) band(ctx Context) (form.Band, bool) {
	if math.IsNaN(r.Low) && math.IsNaN(r.High) {
		return form.Band{}, false
	}
	if only := r.OnlySpeedMS; only != [2]float64{} && !(ctx.SpeedMS >= only[0] && ctx.SpeedMS <= only[1]) {
		return form.Band{}, false
	}
	shift := 0.0
	if r.PerMS != 0 && !math.IsNaN(ctx.SpeedMS) {
		shift += r.PerMS * (clamp(ctx.SpeedMS, minSpeedMS, maxSpeedMS) - r.AtSpeedMS)
	}
	if r.PerM != 0 && !math.IsNaN(ctx.HeightM) {
		shift += r.PerM * (clamp(ctx.HeightM, minHeightM, maxHeightM) - r.AtHeightM)
	}
	height := nominalHeightM
	if !math.IsNaN(ctx.HeightM) {
		height = clamp(ctx.HeightM, minHeightM, maxHeightM)
	}
	convert := r.Convert
	if convert == nil {
		convert = func(base, _ float64) float64 { return base }
	}
	// Around the end that is not open, one SD inwards, in the unit.
	end, inwards := r.High+shift, r.High+shift-r.SD
	if math.IsNaN(r.High) {
		end, inwards = r.Low+shift, r.Low+shift+r.SD
	}
	return form.Band{
		Low: convert(r.Low+shift, height), High: convert(r.High+shift, height),
		PopulationSD: math.Abs(convert(end, height) - convert(inwards, height)),
		Source:       r.Source,
	}, true
}

func clamp(x, low, high float64) float64 { return math.Min(math.Max(x, low), high) }

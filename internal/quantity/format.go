package quantity

import (
	"fmt"
	"math"
)

// Units is the family of units in which a coach reads lengths, speeds and
// masses. Angles, times and rates are the same in both.
type Units string

// The families: metric (cm, km/h, kg) and US customary (in, mph, lb).
const (
	Metric Units = "metric"
	US     Units = "us"
)

// Convert gives a value of a measure, with its unit, in the family's unit:
// cm become inches, m/s become km/h or mph, kN/m stay. Intervals and
// uncertainties scale alike, since no conversion has an offset.
func (u Units) Convert(value float64, unit string) (float64, string) {
	factor, to := u.factor(unit)
	return value * factor, to
}

func (u Units) factor(unit string) (float64, string) {
	switch {
	case unit == "m/s" && u == US:
		return 3600 / metresPerMile, "mph"
	case unit == "m/s":
		return 3.6, "km/h"
	case unit == "cm" && u == US:
		return 0.01 / metresPerInch, "in"
	case unit == "kg" && u == US:
		return 1 / kgPerPound, "lb"
	default:
		return 1, unit
	}
}

// Height writes a body height in metres as "172 cm" or "5 ft 8 in".
func (u Units) Height(metres float64) string {
	if u != US {
		return fmt.Sprintf("%.0f cm", 100*metres)
	}
	inches := int(math.Round(metres / metresPerInch))
	return fmt.Sprintf("%d ft %d in", inches/12, inches%12)
}

// Mass writes a body mass in kilograms as "64 kg" or "141 lb".
func (u Units) Mass(kg float64) string {
	value, unit := u.Convert(kg, "kg")
	return fmt.Sprintf("%.0f %s", value, unit)
}

// SpeedStep is one of the family's units of speed, in metres per second.
func (u Units) SpeedStep() float64 {
	perMS, _ := u.Convert(1, "m/s")
	return 1 / perMS
}

// Speed writes a speed in metres per second as "10.0 km/h" or "6.2 mph".
func (u Units) Speed(metresPerSecond float64) string {
	value, unit := u.Convert(metresPerSecond, "m/s")
	return fmt.Sprintf("%.1f %s", value, unit)
}

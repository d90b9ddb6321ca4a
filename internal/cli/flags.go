package cli

import (
	"strconv"
	"strings"

	"plumbstride/internal/body"
	"plumbstride/internal/form"
	"plumbstride/internal/quantity"
)

// The flags' types: each reads a quantity with its unit and refuses what no
// runner and no camera has, before any work begins.

// heightFlag is a body height in metres.
type heightFlag float64

// UnmarshalText reads "172cm".
func (h *heightFlag) UnmarshalText(text []byte) error {
	v, err := quantity.Length(string(text))
	if err != nil {
		return err
	}
	if v < 1.0 || v > 2.3 {
		return form.UsageError("a runner's height is between 1 m and 2.3 m, and %s is not; look at the number and its unit", text)
	}
	*h = heightFlag(v)
	return nil
}

// massFlag is a body mass in kilograms.
type massFlag float64

// UnmarshalText reads "64kg".
func (m *massFlag) UnmarshalText(text []byte) error {
	v, err := quantity.Mass(string(text))
	if err != nil {
		return err
	}
	if v < 15 || v > 250 {
		return form.UsageError("a runner's mass is between 15 kg and 250 kg, and %s is not; look at the number and its unit", text)
	}
	*m = massFlag(v)
	return nil
}

// speedFlag is a running speed in metres per second.
type speedFlag float64

// UnmarshalText reads "10km/h" or "6:00/km".
func (s *speedFlag) UnmarshalText(text []byte) error {
	v, err := quantity.Speed(string(text))
	if err != nil {
		return err
	}
	if v < 0.3 || v > 12.5 {
		return form.UsageError("a speed is between 1 km/h and 45 km/h, and %s is not; look at the number and its unit", text)
	}
	*s = speedFlag(v)
	return nil
}

// inclineFlag is the treadmill's incline in per cent, if stated.
type inclineFlag struct {
	stated  bool
	percent float64
}

// UnmarshalText reads "1%".
func (i *inclineFlag) UnmarshalText(text []byte) error {
	v, err := quantity.Percent(string(text))
	if err != nil {
		return err
	}
	if v < -20 || v > 40 {
		return form.UsageError("an incline is between -20%% and 40%%, and %s is not", text)
	}
	*i = inclineFlag{stated: true, percent: v}
	return nil
}

// levelFlag is the camera's roll in degrees, if stated; "auto" leaves it to
// the program.
type levelFlag struct {
	stated  bool
	degrees float64
}

// UnmarshalText reads "auto" or "1.5deg".
func (l *levelFlag) UnmarshalText(text []byte) error {
	if isAuto(text) {
		*l = levelFlag{}
		return nil
	}
	v, err := quantity.Angle(string(text))
	if err != nil {
		return err
	}
	if v < -45 || v > 45 {
		return form.UsageError("the level is between -45deg and 45deg, and %s is not; turn the clip upright first", text)
	}
	*l = levelFlag{stated: true, degrees: v}
	return nil
}

// facingFlag is the way the runner faces in the picture; Both is "auto".
type facingFlag form.Side

// UnmarshalText reads "auto", "left" or "right".
func (f *facingFlag) UnmarshalText(text []byte) error {
	if isAuto(text) {
		*f = facingFlag(form.Both)
		return nil
	}
	side, err := form.ParseSide(strings.ToLower(string(text)))
	if err != nil || (side != form.Left && side != form.Right) {
		return form.UsageError("%q is not a way to face; write auto, left or right", text)
	}
	*f = facingFlag(side)
	return nil
}

// rateFlag is the true capture rate in frames a second; 0 is "auto".
type rateFlag float64

// UnmarshalText reads "auto" or "240".
func (r *rateFlag) UnmarshalText(text []byte) error {
	if isAuto(text) {
		*r = 0
		return nil
	}
	v, err := quantity.Rate(string(text))
	if err != nil {
		return err
	}
	if v < 10 || v > 2000 {
		return form.UsageError("a capture rate is between 10 and 2000 frames a second, and %s is not", text)
	}
	*r = rateFlag(v)
	return nil
}

// spanFlag is a span of time in seconds.
type spanFlag float64

// UnmarshalText reads "90s".
func (s *spanFlag) UnmarshalText(text []byte) error {
	v, err := quantity.Duration(string(text))
	if err != nil {
		return err
	}
	if v < 1 || v > 3600 {
		return form.UsageError("the longest clip is between 1s and 3600s, and %s is not", text)
	}
	*s = spanFlag(v)
	return nil
}

func isAuto(text []byte) bool { return strings.EqualFold(string(text), "auto") }

// joinSigned joins "--level -2" to "--level=-2", since a lone "-2" would be
// read as a flag.
func joinSigned(args []string) []string {
	out := make([]string, 0, len(args))
	for i := 0; i < len(args); i++ {
		a := args[i]
		if a == "--" {
			return append(out, args[i:]...)
		}
		if (a == "--level" || a == "--incline") && i+1 < len(args) && strings.HasPrefix(args[i+1], "-") && !strings.HasPrefix(args[i+1], "--") {
			a += "=" + args[i+1]
			i++
		}
		out = append(out, a)
	}
	return out
}

// sexOf turns the word of --sex into whose segment table to use.
func sexOf(word string) body.Sex {
	switch word {
	case "female":
		return body.Female
	case "male":
		return body.Male
	default:
		return body.NotStated
	}
}

// sizeFlag is a size in bytes.
type sizeFlag int64

// UnmarshalText reads "500MB", "1GB" or "2TB", in powers of ten.
func (s *sizeFlag) UnmarshalText(text []byte) error {
	number, unit := string(text), ""
	if n := len(number) - 2; n > 0 {
		number, unit = strings.TrimSpace(number[:n]), number[n:]
	}
	times := map[string]float64{"MB": 1e6, "GB": 1e9, "TB": 1e12}[strings.ToUpper(unit)]
	v, err := strconv.ParseFloat(number, 64)
	if err != nil || times == 0 || !(v > 0) || v*times > 1e18 {
		return form.UsageError("%q is no size; write it as 500MB or 1GB", text)
	}
	*s = sizeFlag(v * times)
	return nil
}

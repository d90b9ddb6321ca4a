package card

import (
	"cmp"
	"fmt"
	"math"
	"slices"
	"strings"

	"plumbstride/internal/form"
	"plumbstride/internal/measure"
	"plumbstride/internal/quantity"
)

// Shown is a measure as people read it, in the coach's units. PlusMinus is
// the half width of the 95 % interval, "" where none is known; Band is
// "165–185", "≤ 8", "≥ 3" or "". Minus signs are true ones (U+2212).
type Shown struct {
	Value, PlusMinus, Unit, Band string
}

// Text gives "8.3 ± 2.1 °" in one piece.
func (s Shown) Text() string {
	text := s.Value
	if s.PlusMinus != "" {
		text += " ± " + s.PlusMinus
	}
	if s.Unit != "" {
		text += " " + s.Unit
	}
	return text
}

// Show writes a measure in the coach's units, with as many decimals as its
// uncertainty bears: those usual for the unit, none from ±10 on, and more (up
// to three) only where the ± would otherwise read as zero.
func Show(m Measure, units quantity.Units) Shown {
	value, unit := units.Convert(m.Value, m.Unit)
	half, _ := units.Convert(halfWidth(m), m.Unit)
	places := usualPlaces(unit)
	if m.Name == "stance_width" && UnitSign(unit) == "" {
		unit = "× hip joints"
	}
	switch {
	case half >= 9.95:
		places = 0
	case half > 0:
		for places < 3 && half < 0.5*math.Pow10(-places) {
			places++
		}
	}
	shown := Shown{Value: decimal(value, places), Unit: Clean(UnitSign(unit), 20), Band: showBand(m.Band, m.Unit, units)}
	if half > 0 {
		shown.PlusMinus = decimal(half, places)
	}
	return shown
}

// halfWidth is half of the 95 % interval, the longer side where it is
// lopsided; 0 where there is no interval.
func halfWidth(m Measure) float64 {
	half := math.Max(m.High-m.Value, m.Value-m.Low)
	if math.IsNaN(half) || math.IsInf(half, 0) || half < 0 {
		return 0
	}
	return half
}

// usualPlaces is how many decimals a unit is read with.
func usualPlaces(unit string) int {
	switch unit {
	case "ms", "N", "steps":
		return 0
	case "", "–", "-", "1", "m/s", "m", "s":
		return 2
	default:
		return 1
	}
}

// UnitSign gives a unit as it is printed behind a number: "°" for deg,
// nothing for a plain ratio.
func UnitSign(unit string) string {
	switch unit {
	case "deg":
		return "°"
	case "–", "-", "1":
		return ""
	default:
		return unit
	}
}

func showBand(b *Band, unit string, units quantity.Units) string {
	if b == nil {
		return ""
	}
	low, to := units.Convert(float64(b.Low), unit)
	high, _ := units.Convert(float64(b.High), unit)
	places := usualPlaces(to)
	if math.Max(math.Abs(low), math.Abs(high)) >= 100 {
		places = 0 // three figures are enough for a band
	}
	switch {
	case b.Low.Known() && b.High.Known():
		join := "–"
		if low < 0 || high < 0 {
			join = " to "
		}
		return trimmed(low, places) + join + trimmed(high, places)
	case b.Low.Known():
		return "≥ " + trimmed(low, places)
	case b.High.Known():
		return "≤ " + trimmed(high, places)
	default:
		return ""
	}
}

// decimal writes a number with a true minus sign and never "−0.0".
func decimal(v float64, places int) string {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return "–"
	}
	if math.Abs(v) >= 99999.5 { // no measure is; but a column must hold it
		return strings.NewReplacer("e+0", "e", "e+", "e", "-", "−").Replace(fmt.Sprintf("%.1e", v))
	}
	text := fmt.Sprintf("%.*f", places, v)
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-")
	}
	return strings.Replace(text, "-", "−", 1)
}

// trimmed is decimal without zeros at the end of the fraction.
func trimmed(v float64, places int) string {
	text := decimal(v, places)
	if !strings.Contains(text, ".") || strings.Contains(text, "e") {
		return text
	}
	return strings.TrimRight(strings.TrimRight(text, "0"), ".")
}

// Pace writes a speed in metres per second as time for a kilometre or a
// mile: "5:33 min/km". It is "" for a speed that isn't above 0.1 m/s.
func Pace(metresPerSecond float64, units quantity.Units) string {
	metres, unit := 1000.0, "min/km"
	if units == quantity.US {
		metres, unit = 1609.344, "min/mile" // international mile, 1959
	}
	if !(metresPerSecond > 0.1) || math.IsInf(metresPerSecond, 0) {
		return ""
	}
	seconds := int(math.Round(metres / metresPerSecond))
	return fmt.Sprintf("%d:%02d %s", seconds/60, seconds%60, unit)
}

// AreaNames lists the six areas in the order in which a card shows them.
func AreaNames() []string {
	return []string{"alignment", "landing", "cadence", "lean", "bounce", "symmetry"}
}

// Words turns a name of the program ("over_ground") into words.
func Words(name string) string { return strings.ReplaceAll(name, "_", " ") }

// Capital turns a name of the program into words with a capital letter.
func Capital(name string) string {
	words := []rune(Words(name))
	if len(words) == 0 {
		return ""
	}
	return strings.ToUpper(string(words[:1])) + string(words[1:])
}

// Unmeasured is one reason and everything that it kept from being measured.
type Unmeasured struct {
	What   []string
	Reason string
}

// GroupRefusals puts refusals with the same reason together, in the order
// in which the reasons come, and joins the two sides of one measure. Titles
// are taken from the card's own measures where one has the same name, else
// from the tables of measures.
func GroupRefusals(c Card) []Unmeasured {
	titles := map[string]string{}
	for _, m := range c.Measures {
		if m.Title != "" {
			titles[m.Name] = m.Title
		}
	}
	var groups []Unmeasured
	sides := map[[2]string][]form.Side{}
	var order [][2]string
	for _, r := range c.Refused {
		key := [2]string{r.Reason, r.Name}
		if _, seen := sides[key]; !seen {
			order = append(order, key)
		}
		sides[key] = append(sides[key], r.Side)
	}
	at := map[string]int{}
	for _, key := range order {
		title := cmp.Or(titles[key[1]], tableTitle(key[1]), Capital(key[1]))
		i, seen := at[key[0]]
		if !seen {
			i = len(groups)
			at[key[0]] = i
			groups = append(groups, Unmeasured{Reason: key[0]})
		}
		groups[i].What = append(groups[i].What, fmt.Sprintf(SideWords(sides[key]...), title))
	}
	return groups
}

// tableTitle is the title of a measure in its table, "" where none has the
// name. The first row of a name carries the plain title.
func tableTitle(name string) string {
	for _, d := range slices.Concat(measure.Table(), measure.StandingTable()) {
		if d.Name == name {
			return d.Title
		}
	}
	return ""
}

// SideWords is the message that sets a title beside its sides.
func SideWords(sides ...form.Side) string {
	var left, right bool
	for _, s := range sides {
		left, right = left || s == form.Left, right || s == form.Right
	}
	switch {
	case left && right:
		return "%s, both sides"
	case left:
		return "%s, left"
	case right:
		return "%s, right"
	default:
		return "%s"
	}
}

// Clean makes text from outside fit to be shown: control characters and
// marks that turn the writing direction are dropped, blanks become single
// spaces, and what is longer than limit characters ends in "…".
func Clean(text string, limit int) string {
	text = strings.Map(func(r rune) rune {
		switch {
		case r == '\n' || r == '\t' || r == '\r' || r == '\u00a0':
			return ' '
		case r < 0x20 || r >= 0x7f && r < 0xa0:
			return -1
		case r >= 0x202a && r <= 0x202e, r >= 0x2066 && r <= 0x2069, r == 0x200e, r == 0x200f, r == 0xfeff, r == 0xfffd:
			return -1
		}
		return r
	}, strings.ToValidUTF8(text, ""))
	text = strings.Join(strings.Fields(text), " ")
	runes := []rune(text)
	if len(runes) <= limit {
		return text
	}
	return strings.TrimRight(string(runes[:max(0, limit-1)]), " ") + "…"
}

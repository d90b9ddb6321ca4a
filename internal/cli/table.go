package cli

import (
	"fmt"
	"io"
	"math"
	"strings"
	"unicode/utf8"

	"plumbstride/internal/card"
	"plumbstride/internal/form"
	"plumbstride/internal/quantity"
)

// textWidth is where running text is wrapped.
const textWidth = 92

// writeCard writes a card as text: who and what was filmed, the one
// priority, every measure with its uncertainty, what was refused and why,
// the areas, and the cautions.
func writeCard(w io.Writer, c card.Card, units quantity.Units) {
	t := &tableWriter{units: units}
	t.head(c)
	t.priority(c.Priority)
	t.measures(c.Measures)
	t.refused(c.Refused)
	t.areas(c.Areas)
	t.list("Notes", c.Notes)
	t.list("Take care", c.Cautions)
	_, _ = io.WriteString(w, t.b.String()) // a closed pipe ends the program's use, not its work
}

// tableWriter gathers the text; sources holds the bands' sources in the
// order in which they were first met.
type tableWriter struct {
	b       strings.Builder
	units   quantity.Units
	sources []string
}

func (t *tableWriter) head(c card.Card) {
	who := []string{}
	if c.Runner.Name != "" {
		who = append(who, printable(c.Runner.Name))
	}
	if c.Runner.HeightM > 0 {
		who = append(who, t.units.Height(c.Runner.HeightM))
	}
	if c.Runner.MassKg > 0 {
		who = append(who, t.units.Mass(c.Runner.MassKg))
	}
	if len(who) > 0 {
		fmt.Fprintf(&t.b, "%s\n", strings.Join(who, ", "))
	}
	fmt.Fprintf(&t.b, "%s\n\n", strings.Join(t.filmed(c.Clip), ", "))
}

// filmed says in a few words what was filmed and how it was read.
func (t *tableWriter) filmed(clip card.Clip) []string {
	words := []string{printable(clip.File)}
	words = append(words, fmt.Sprintf("%d frames in %.1f s", clip.Frames, clip.DurationS))
	if clip.Setting != "" {
		words = append(words, spaced(clip.Setting))
	}
	if clip.SpeedMS.Known() {
		words = append(words, t.units.Speed(float64(clip.SpeedMS)))
	}
	if clip.Facing != "" {
		words = append(words, "facing "+clip.Facing)
	}
	if clip.SlowedBy > 0 && math.Abs(clip.SlowedBy-1) > 0.01 {
		words = append(words, fmt.Sprintf("slowed %.3g times, corrected", clip.SlowedBy))
	}
	return words
}

func (t *tableWriter) priority(p card.Priority) {
	head := "Work on first: nothing"
	if p.Area != nil {
		head = "Work on first: " + printable(*p.Area)
	}
	fmt.Fprintf(&t.b, "%s\n", head)
	t.wrapped("  ", printable(p.Why))
	t.b.WriteString("\n")
}

// measures writes the table. "±" is the standard uncertainty; the interval
// is the one that holds the true value with a probability of 95 %.
func (t *tableWriter) measures(rows []card.Measure) {
	if len(rows) == 0 {
		return
	}
	cells := [][]string{{"measure", "side", "value ± sd", "unit", "95 % interval", "band", "n"}}
	for _, m := range rows {
		cells = append(cells, t.row(m))
	}
	t.aligned(cells)
	for i, s := range t.sources {
		t.hanging(fmt.Sprintf("  [%d] ", i+1), printable(s))
	}
	for _, m := range rows {
		if m.Note != "" {
			t.hanging("  ", printable(fmt.Sprintf("%s, %s: %s", title(m.Title, m.Name), m.Side, m.Note)))
		}
	}
	t.b.WriteString("\n")
}

func (t *tableWriter) row(m card.Measure) []string {
	v, unit := t.units.Convert(m.Value, m.Unit)
	sd, _ := t.units.Convert(m.SD, m.Unit)
	low, _ := t.units.Convert(m.Low, m.Unit)
	high, _ := t.units.Convert(m.High, m.Unit)
	d := decimals(sd)
	value := fmt.Sprintf("%s ± %s", minus(v, d), minus(sd, d))
	name := printable(title(m.Title, m.Name))
	if m.Class != "" {
		name += " (" + printable(m.Class) + ")"
	}
	return []string{
		name, sideWord(m.Side), value, printable(unit),
		fmt.Sprintf("%s … %s", minus(low, d), minus(high, d)), t.band(m.Band, m.Unit, d), fmt.Sprint(m.N),
	}
}

// band writes "170 … 190 [1]", "≤ 8 [2]", "≥ 3 [1]" or "–".
func (t *tableWriter) band(b *card.Band, unit string, d int) string {
	if b == nil {
		return "–"
	}
	low, _ := t.units.Convert(float64(b.Low), unit)
	high, _ := t.units.Convert(float64(b.High), unit)
	text := "–"
	switch {
	case b.Low.Known() && b.High.Known():
		text = fmt.Sprintf("%s … %s", trimmed(low, d), trimmed(high, d))
	case b.Low.Known():
		text = "≥ " + trimmed(low, d)
	case b.High.Known():
		text = "≤ " + trimmed(high, d)
	}
	if b.Source == "" {
		return text
	}
	return fmt.Sprintf("%s [%d]", text, t.source(b.Source))
}

// source numbers a source from 1, the same source always alike.
func (t *tableWriter) source(s string) int {
	for i, have := range t.sources {
		if have == s {
			return i + 1
		}
	}
	t.sources = append(t.sources, s)
	return len(t.sources)
}

func (t *tableWriter) refused(rows []form.Refusal) {
	if len(rows) == 0 {
		return
	}
	t.b.WriteString("Not measured\n")
	for _, r := range rows {
		name := spaced(printable(r.Name))
		if r.Side != form.Both {
			name += ", " + r.Side.String()
		}
		t.hanging(fmt.Sprintf("  %s: ", name), printable(r.Reason))
	}
	t.b.WriteString("\n")
}

func (t *tableWriter) areas(rows []card.Area) {
	if len(rows) == 0 {
		return
	}
	t.b.WriteString("Areas\n")
	for _, a := range rows {
		t.hanging(fmt.Sprintf("  %-10s %-8s ", printable(a.Name), printable(a.State)), printable(a.Why))
	}
	t.b.WriteString("\n")
}

func (t *tableWriter) list(head string, lines []string) {
	if len(lines) == 0 {
		return
	}
	fmt.Fprintf(&t.b, "%s\n", head)
	for _, line := range lines {
		t.hanging("  – ", printable(line))
	}
	t.b.WriteString("\n")
}

// aligned writes rows in columns: words to the left, numbers to the right.
func (t *tableWriter) aligned(rows [][]string) {
	widths := make([]int, len(rows[0]))
	for _, row := range rows {
		for i, cell := range row {
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
	right := []bool{false, false, true, false, true, false, true}
	for _, row := range rows {
		var line strings.Builder
		for i, cell := range row {
			pad := strings.Repeat(" ", widths[i]-utf8.RuneCountInString(cell))
			if right[i] {
				line.WriteString(pad + cell + "  ")
			} else {
				line.WriteString(cell + pad + "  ")
			}
		}
		fmt.Fprintf(&t.b, "  %s\n", strings.TrimRight(line.String(), " "))
	}
}

// wrapped writes text with every line behind the same indent.
func (t *tableWriter) wrapped(indent, text string) {
	for _, line := range wrap(text, textWidth-utf8.RuneCountInString(indent)) {
		fmt.Fprintf(&t.b, "%s%s\n", indent, line)
	}
}

// hanging writes text after a head, later lines under the first one's text.
func (t *tableWriter) hanging(head, text string) {
	n := utf8.RuneCountInString(head)
	for i, line := range wrap(text, max(30, textWidth-n)) {
		if i == 0 {
			fmt.Fprintf(&t.b, "%s%s\n", head, line)
		} else {
			fmt.Fprintf(&t.b, "%s%s\n", strings.Repeat(" ", n), line)
		}
	}
}

// wrap breaks text at blanks into lines of at most width characters; a
// longer word stands alone.
func wrap(text string, width int) []string {
	lines, line, n := []string{}, "", 0
	for _, word := range strings.Fields(text) {
		w := utf8.RuneCountInString(word)
		if n > 0 && n+1+w > width {
			lines, line, n = append(lines, line), "", 0
		}
		if n > 0 {
			line, n = line+" ", n+1
		}
		line, n = line+word, n+w
	}
	return append(lines, line)
}

// decimals is how many places a value is worth, from its standard
// uncertainty: one significant digit of it, at most three places.
func decimals(sd float64) int {
	if !(sd > 0) {
		return 1
	}
	return max(0, min(3, int(math.Ceil(-math.Log10(sd)))))
}

// minus writes a number with a true minus sign, and never "-0".
func minus(v float64, decimals int) string {
	text := fmt.Sprintf("%.*f", decimals, v)
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-")
	}
	return strings.Replace(text, "-", "−", 1)
}

// trimmed is minus without zeros at the end of the fraction: a limit of 8
// is not 8.0.
func trimmed(v float64, decimals int) string {
	text := minus(v, max(1, decimals))
	return strings.TrimRight(strings.TrimRight(text, "0"), ".")
}

// title is the measure's name for people.
func title(title, name string) string {
	if title != "" {
		return title
	}
	return spaced(name)
}

func sideWord(s form.Side) string {
	if s == form.Both {
		return ""
	}
	return s.String()
}

func spaced(name string) string { return strings.ReplaceAll(name, "_", " ") }

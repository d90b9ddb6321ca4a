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
	"plumbstride/internal/words"
)

// textWidth is where running text is wrapped, unless the terminal is
// narrower.
const textWidth = 92

// writeCard writes a card as text: who and what was filmed, the one
// priority, every measure with its uncertainty, what was refused and why,
// the areas, and the cautions.
//
// columns is the terminal's width, 0 where there is none; the table of
// measures is as wide as it is. known, which may be nil, adds a column of
// true values.
func writeCard(w io.Writer, c card.Card, units quantity.Units, columns int, known known, b words.Book) {
	t := newTable(columns)
	t.units, t.known, t.say = units, known, b
	t.head(c)
	t.priority(c.Priority)
	side, behind, two := card.SplitBehind(c)
	t.measures(side.Measures)
	t.refused(side)
	if two {
		t.behind(behind)
	}
	t.areas(c.Areas)
	t.list(b.Say("Notes"), c.Notes)
	t.list(b.Say("Take care"), c.Cautions)
	_, _ = io.WriteString(w, t.b.String()) // a closed pipe ends the program's use, not its work
}

// known gives the true value of a measure, in its unit, where there is one.
type known func(card.Measure) (float64, bool)

// tableWriter gathers the text; sources holds the bands' sources in the
// order in which they were first met.
type tableWriter struct {
	b       strings.Builder
	width   int
	units   quantity.Units
	known   known
	sources []string
	say     words.Book
}

func newTable(columns int) *tableWriter {
	t := &tableWriter{width: textWidth}
	if columns > 0 {
		t.width = max(40, min(textWidth, columns))
	}
	return t
}

// behind writes what a second clip shows from behind.
func (t *tableWriter) behind(c card.Card) {
	t.wrapped("", t.say.Say("From behind")+": "+strings.Join(t.filmed(c.Clip), ", "))
	t.wrapped("  ", printable(c.Priority.Why))
	t.b.WriteString("\n")
	t.sources = nil // each table numbers its own
	t.measures(c.Measures)
	t.refused(c)
	t.list(t.say.Say("Notes on the clip from behind"), c.Notes)
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
	t.wrapped("", strings.Join(t.filmed(c.Clip), ", "))
	t.b.WriteString("\n")
}

// filmed says in a few words what was filmed and how it was read.
func (t *tableWriter) filmed(clip card.Clip) []string {
	words := []string{printable(clip.File)}
	words = append(words, t.say.Of(clip.Span(1)))
	if clip.View == string(form.ViewFront) || clip.View == string(form.ViewBack) {
		words = append(words, t.say.Of("from the "+clip.View))
	}
	if clip.Gait != "" {
		words = append(words, t.say.Of(clip.Gait))
	}
	if clip.Setting != "" {
		words = append(words, t.say.Of(card.Words(clip.Setting)))
	}
	if clip.SpeedMS.Known() {
		words = append(words, t.say.Figures(t.units.Speed(float64(clip.SpeedMS))))
	}
	if clip.Facing != "" {
		words = append(words, t.say.Of("facing "+clip.Facing))
	}
	if clip.SlowedBy > 0 && math.Abs(clip.SlowedBy-1) > 0.01 {
		words = append(words, t.say.Say("slowed %.3g times, corrected", clip.SlowedBy))
	}
	return words
}

func (t *tableWriter) priority(p card.Priority) {
	head := t.say.Say("Work on first: nothing")
	if p.Area != nil {
		head = t.say.Say("Work on first: %s", t.say.Of(printable(*p.Area)))
	}
	fmt.Fprintf(&t.b, "%s\n", head)
	t.wrapped("  ", printable(p.Why))
	t.b.WriteString("\n")
}

// measures writes the table. "±" is half of the interval that holds the true
// value with a probability of 95 %, as on the card.
func (t *tableWriter) measures(rows []card.Measure) {
	if len(rows) == 0 {
		return
	}
	cells := [][]string{{t.say.Say("measure"), t.say.Say("side"), t.say.Say("value"), t.say.Say("unit"), t.say.Say("95 %% interval"), t.say.Say("band"), "n"}}
	if t.known != nil {
		cells[0] = append(cells[0], t.say.Say("truth"))
	}
	for _, m := range rows {
		cells = append(cells, t.row(m))
	}
	t.aligned(cells)
	t.hanging("  ", t.say.Say("n: how many steps, strides or pictures the value rests on"))
	t.within(rows)
	for i, s := range t.sources {
		t.hanging(fmt.Sprintf("  [%d] ", i+1), printable(s))
	}
	t.remarks(rows)
	t.b.WriteString("\n")
}

// remarks writes the measures' notes, each once, behind all that it is about.
func (t *tableWriter) remarks(rows []card.Measure) {
	var notes []string
	about := map[string][]string{}
	for _, m := range rows {
		if m.Note == "" {
			continue
		}
		if about[m.Note] == nil {
			notes = append(notes, m.Note)
		}
		if n := len(about[m.Note]); n > 0 && m.Side == form.Right && about[m.Note][n-1] == m.Heading()+", "+t.say.Of("left") {
			about[m.Note][n-1] = m.Heading() + ", " + t.say.Say("left and right")
			continue
		}
		about[m.Note] = append(about[m.Note], titleAndSide(m, t.say))
	}
	for _, note := range notes {
		t.hanging("  ", printable(strings.Join(about[note], "; ")+": "+note))
	}
}

func (t *tableWriter) row(m card.Measure) []string {
	shown := card.Show(m, t.units).In(t.say)
	value := shown.Value
	if shown.PlusMinus != "" {
		value += " ± " + shown.PlusMinus
	}
	name := printable(m.Heading())
	if m.Class != "" {
		name += " (" + printable(m.Class) + ")"
	}
	cells := []string{
		name, card.SideIn(m.Side, t.say), value, printable(shown.Unit),
		t.interval(m, places(shown.Value)), t.band(m, shown.Band), fmt.Sprint(m.N),
	}
	if t.known == nil {
		return cells
	}
	truth, ok := t.known(m)
	if !ok {
		return append(cells, "–")
	}
	truth, _ = t.units.Convert(truth, m.Unit)
	return append(cells, t.say.Figures(decimal(truth, places(shown.Value))))
}

// within counts how many true values lie in their intervals.
func (t *tableWriter) within(rows []card.Measure) {
	if t.known == nil {
		return
	}
	in, all := 0, 0
	for _, m := range rows {
		if truth, ok := t.known(m); ok {
			all++
			if m.Low <= truth && truth <= m.High {
				in++
			}
		}
	}
	fmt.Fprintf(&t.b, "  %s\n", t.say.Say("%d of %d true values lie in their 95 %% intervals.", in, all))
}

// interval writes the 95 % interval with the value's number of decimals.
func (t *tableWriter) interval(m card.Measure, places int) string {
	low, _ := t.units.Convert(m.Low, m.Unit)
	high, _ := t.units.Convert(m.High, m.Unit)
	return t.say.Figures(fmt.Sprintf("%s … %s", decimal(low, places), decimal(high, places)))
}

// band writes the band as the card does, with the number of its source.
func (t *tableWriter) band(m card.Measure, shown string) string {
	if m.Band == nil || shown == "" {
		return "–"
	}
	if m.Band.Source == "" {
		return shown
	}
	return fmt.Sprintf("%s [%d]", shown, t.source(brief(m.Band.Source)))
}

// brief is a source without what stands in brackets, but for the warning
// "from memory": the numbers behind a band are on the card and in
// docs/measures.md.
func brief(source string) string {
	var out, within strings.Builder
	depth := 0
	for _, r := range source {
		switch {
		case r == '(':
			depth++
		case r == ')' && depth > 0:
			if depth--; depth == 0 {
				if strings.Contains(within.String(), "from memory") {
					out.WriteString("(from memory)")
				}
				within.Reset()
			}
		case depth > 0:
			within.WriteRune(r)
		default:
			out.WriteRune(r)
		}
	}
	text := strings.Join(strings.Fields(out.String()), " ")
	for _, mark := range []string{",", ";", "."} {
		text = strings.ReplaceAll(text, " "+mark, mark)
	}
	return text
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

func (t *tableWriter) refused(c card.Card) {
	if len(c.Refused) == 0 {
		return
	}
	t.b.WriteString(t.say.Say("Not measured") + "\n")
	for _, group := range card.GroupRefusalsIn(c, t.say) {
		t.hanging("  – ", printable(strings.Join(group.What, "; ")+": "+group.Reason))
	}
	t.b.WriteString("\n")
}

func (t *tableWriter) areas(rows []card.Area) {
	if len(rows) == 0 {
		return
	}
	t.b.WriteString(t.say.Say("Areas") + "\n")
	wide, state := 10, 8
	for _, a := range rows {
		wide = max(wide, utf8.RuneCountInString(t.say.Of(printable(a.Name))))
		state = max(state, utf8.RuneCountInString(t.say.Of(printable(a.State))))
	}
	for _, a := range rows {
		t.hanging(fmt.Sprintf("  %-*s %-*s ", wide, t.say.Of(printable(a.Name)), state, t.say.Of(printable(a.State))), printable(a.Why))
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

// aligned writes the table of measures.
func (t *tableWriter) aligned(rows [][]string) {
	t.columns(rows, []bool{false, false, true, false, true, false, true, true})
}

// columns writes rows in columns, words to the left, and numbers to the right
// where right says so.
func (t *tableWriter) columns(rows [][]string, right []bool) {
	widths := make([]int, len(rows[0]))
	for _, row := range rows {
		for i, cell := range row {
			widths[i] = max(widths[i], utf8.RuneCountInString(cell))
		}
	}
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
	for _, line := range wrap(text, t.width-utf8.RuneCountInString(indent)) {
		fmt.Fprintf(&t.b, "%s%s\n", indent, line)
	}
}

// hanging writes text after a head, later lines under the first one's text.
func (t *tableWriter) hanging(head, text string) {
	n := utf8.RuneCountInString(head)
	for i, line := range wrap(text, max(20, t.width-n)) {
		if i == 0 {
			fmt.Fprintf(&t.b, "%s\n", strings.TrimRight(head+line, " "))
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

// places is how many decimals a number was written with.
func places(number string) int {
	if i := strings.IndexAny(number, ".,"); i >= 0 {
		return len(number) - i - 1
	}
	return 0
}

// decimal writes a number with a true minus sign, and never "−0".
func decimal(v float64, places int) string {
	text := fmt.Sprintf("%.*f", places, v)
	if strings.Trim(text, "-0.") == "" {
		return strings.TrimPrefix(text, "-")
	}
	return strings.Replace(text, "-", "−", 1)
}

func titleAndSide(m card.Measure, b words.Book) string {
	if m.Side == form.Both {
		return m.Heading()
	}
	return m.Heading() + ", " + b.Of(m.Side.String())
}

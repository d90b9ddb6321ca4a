package roster

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"plumbstride/internal/form"
	"plumbstride/internal/quantity"
)

// The most that is read of a roster.
const (
	maxRosterBytes = 4 << 20
	maxRosterRows  = 5000
	maxComplaints  = 20
)

// column is one column of the roster's CSV: its heading, how a cell is read,
// and how it is written. A column without write is only read.
type column struct {
	name  string
	read  func(r *Runner, cell string) error
	write func(r Runner) string
}

// columns lists the roster's columns in the order in which they are written.
// Answers about health are not among them: they have no place in a table
// that is mailed about.
func columns() []column {
	return []column{
		{"name", func(r *Runner, cell string) error { r.Name = cell; return nil }, func(r Runner) string { return r.Name }},
		{"contact", func(r *Runner, cell string) error { r.Contact = cell; return nil }, func(r Runner) string { return r.Contact }},
		{"birth_year", readYear, func(r Runner) string { return whole(r.BirthYear) }},
		{"height", readInto(quantity.Length, func(r *Runner) *float64 { return &r.HeightM }), func(r Runner) string { return measured(100*r.HeightM, 1, "cm") }},
		{"mass", readInto(quantity.Mass, func(r *Runner) *float64 { return &r.MassKg }), func(r Runner) string { return measured(r.MassKg, 2, "kg") }},
		{"sex", readSex, func(r Runner) string { return string(r.Sex) }},
		{"paces", readPaces, writePaces},
		{"shoes", func(r *Runner, cell string) error { r.Shoes = cell; return nil }, func(r Runner) string { return r.Shoes }},
		{"goals", func(r *Runner, cell string) error { r.Goals = cell; return nil }, func(r Runner) string { return r.Goals }},
		{"height_cm", readInto(suffixed("cm", quantity.Length), func(r *Runner) *float64 { return &r.HeightM }), nil},
		{"mass_kg", readInto(suffixed("kg", quantity.Mass), func(r *Runner) *float64 { return &r.MassKg }), nil},
	}
}

// Header gives the headings of the columns that WriteCSV writes.
func Header() []string {
	var names []string
	for _, c := range columns() {
		if c.write != nil {
			names = append(names, c.name)
		}
	}
	return names
}

// Sheet is what was read of a roster.
type Sheet struct {
	Runners []Runner
	// Ignored are the headings that no column is known for; their cells were
	// left out.
	Ignored []string
}

// ReadCSV reads a roster: a heading line with at least "name", then one
// runner a line, separated by commas, semicolons or tabs. A sheet with a
// mistake is refused whole, with its lines named, so that nothing is lost
// unseen; the error is a form.Error. now is today, for the years of birth.
func ReadCSV(in io.Reader, now time.Time) (Sheet, error) {
	data, err := io.ReadAll(io.LimitReader(in, maxRosterBytes+1))
	if err != nil {
		return Sheet{}, fmt.Errorf("the roster can't be read: %w", err)
	}
	text := strings.TrimPrefix(string(data), "\ufeff")
	switch {
	case len(data) > maxRosterBytes:
		return Sheet{}, form.UsageError("the roster has more than %d MB; split it", maxRosterBytes>>20)
	case strings.HasPrefix(text, "\xff\xfe") || strings.HasPrefix(text, "\xfe\xff") || strings.ContainsRune(text, 0):
		return Sheet{}, form.UsageError("the roster is not plain text; save it as CSV in UTF-8")
	case !utf8.ValidString(text):
		return Sheet{}, form.UsageError("the roster's letters are in no encoding that is known here; save it as CSV in UTF-8")
	}
	reader := csv.NewReader(strings.NewReader(text))
	reader.Comma, reader.FieldsPerRecord, reader.TrimLeadingSpace = separator(text), -1, true
	heading, err := reader.Read()
	if err != nil {
		return Sheet{}, form.UsageError("the roster has no heading line; begin it with: %s", strings.Join(Header(), ","))
	}
	sheet := Sheet{}
	order, err := sheet.order(heading)
	if err != nil {
		return Sheet{}, err
	}
	return sheet, sheet.fill(reader, order, now)
}

// separator is what the first line separates its cells by.
func separator(text string) rune {
	first, _, _ := strings.Cut(text, "\n")
	best, most := ',', 0
	for _, r := range ",;\t" {
		if n := strings.Count(first, string(r)); n > most {
			best, most = r, n
		}
	}
	return best
}

// order gives the column under each heading, nil where it is not known.
func (s *Sheet) order(heading []string) ([]*column, error) {
	known := columns()
	order := make([]*column, len(heading))
	seen := map[string]bool{}
	for i, h := range heading {
		name := strings.ReplaceAll(strings.ToLower(strings.TrimSpace(disarmed(h))), " ", "_")
		at := slices.IndexFunc(known, func(c column) bool { return c.name == name })
		switch {
		case at < 0 && name != "":
			shown, err := line("heading", disarmed(h), maxLine)
			if err != nil {
				return nil, err
			}
			s.Ignored = append(s.Ignored, shown)
		case at >= 0 && seen[name]:
			return nil, form.UsageError("the roster has two columns %q; keep one", name)
		case at >= 0:
			order[i], seen[name] = &known[at], true
		}
	}
	if !seen["name"] {
		return nil, form.UsageError("the roster has no column \"name\"; begin it with a line like: %s", strings.Join(Header(), ","))
	}
	return order, nil
}

// fill reads the lines below the heading.
func (s *Sheet) fill(reader *csv.Reader, order []*column, now time.Time) error {
	var complaints []string
	for {
		cells, err := reader.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return form.UsageError("the roster can't be read any further: %w", err)
		}
		if !slices.ContainsFunc(cells, func(c string) bool { return strings.TrimSpace(c) != "" }) {
			continue
		}
		if len(s.Runners) == maxRosterRows {
			return form.UsageError("the roster has more than %d runners; split it", maxRosterRows)
		}
		at, _ := reader.FieldPos(0)
		r, err := readRunner(cells, order, now)
		if err != nil {
			complaints = append(complaints, fmt.Sprintf("line %d: %v", at, err))
			if len(complaints) == maxComplaints {
				complaints = append(complaints, "and perhaps more")
				break
			}
		}
		s.Runners = append(s.Runners, r)
	}
	if len(complaints) > 0 {
		*s = Sheet{}
		return form.UsageError("nothing of the roster was taken; mend it and try again:\n%s", strings.Join(complaints, "\n"))
	}
	return nil
}

func readRunner(cells []string, order []*column, now time.Time) (Runner, error) {
	var r Runner
	if len(cells) > len(order) && slices.ContainsFunc(cells[len(order):], func(c string) bool { return c != "" }) {
		return r, form.UsageError("there are more cells (%d) than headings (%d); put quotes round a text that holds the separator", len(cells), len(order))
	}
	for i, c := range order {
		if c == nil || i >= len(cells) {
			continue
		}
		cell := strings.TrimSpace(disarmed(cells[i]))
		if cell == "" {
			continue
		}
		if err := c.read(&r, cell); err != nil {
			return r, fmt.Errorf("%s: %w", c.name, err)
		}
	}
	return r.Clean(now)
}

// WriteCSV writes a roster that ReadCSV reads back. Every cell is quoted,
// and no cell, nor any part of one that another separator would cut off,
// begins with what a spreadsheet takes for a formula: an apostrophe stands
// before it, and ReadCSV takes it away again.
func WriteCSV(out io.Writer, runners []Runner) error {
	var b strings.Builder
	WriteRow(&b, Header())
	for _, r := range runners {
		var cells []string
		for _, c := range columns() {
			if c.write != nil {
				cells = append(cells, Armed(c.write(r)))
			}
		}
		WriteRow(&b, cells)
	}
	if _, err := io.WriteString(out, b.String()); err != nil {
		return fmt.Errorf("the roster can't be written: %w", err)
	}
	return nil
}

// WriteRow adds one line of a table (RFC 4180): every cell quoted, the line
// ended with a carriage return and a line feed.
func WriteRow(b *strings.Builder, cells []string) {
	for i, cell := range cells {
		if i > 0 {
			b.WriteByte(',')
		}
		b.WriteByte('"')
		b.WriteString(strings.ReplaceAll(cell, `"`, `""`))
		b.WriteByte('"')
	}
	b.WriteString("\r\n")
}

// The characters with which spreadsheets begin a formula, their full-width
// forms too, and the apostrophe that stands before them. Source: OWASP, "CSV
// Injection" (owasp.org/www-community/attacks/CSV_Injection).
const (
	formulaSigns = "=+-@＝＋－＠"
	cellBreaks   = ",;\t\r\n|"
	passedOver   = " \"\u00a0"
)

// Armed puts an apostrophe before whatever could begin a formula.
func Armed(cell string) string {
	var b strings.Builder
	start := true
	for _, r := range cell {
		if start && strings.ContainsRune(formulaSigns+"'", r) {
			b.WriteByte('\'')
		}
		b.WriteRune(r)
		start = strings.ContainsRune(cellBreaks, r) || start && strings.ContainsRune(passedOver, r)
	}
	return b.String()
}

// disarmed takes the apostrophes of Armed away.
func disarmed(cell string) string {
	var b strings.Builder
	start := true
	for i := 0; i < len(cell); {
		r, size := utf8.DecodeRuneInString(cell[i:])
		if start && r == '\'' {
			if next, n := utf8.DecodeRuneInString(cell[i+1:]); n > 0 && strings.ContainsRune(formulaSigns+"'", next) {
				i++
				r, size = next, n
			}
		}
		b.WriteString(cell[i : i+size])
		i += size
		start = strings.ContainsRune(cellBreaks, r) || start && strings.ContainsRune(passedOver, r)
	}
	return b.String()
}

func readYear(r *Runner, cell string) error {
	year, err := strconv.Atoi(cell)
	if err != nil {
		return form.UsageError("%q is not a year; write it as 1988, or leave it out", cell)
	}
	r.BirthYear = year
	return nil
}

func readSex(r *Runner, cell string) error {
	switch strings.ToLower(cell) {
	case "female", "f", "woman":
		r.Sex = Female
	case "male", "m", "man":
		r.Sex = Male
	case "not stated", "-":
		r.Sex = NotStated
	default:
		return form.UsageError("%q is neither female nor male; leave it empty, and the middle of the segment tables is taken", cell)
	}
	return nil
}

func readInto(read func(string) (float64, error), field func(*Runner) *float64) func(*Runner, string) error {
	return func(r *Runner, cell string) (err error) {
		*field(r), err = read(cell)
		return err
	}
}

// suffixed reads a bare number as one with that unit.
func suffixed(unit string, read func(string) (float64, error)) func(string) (float64, error) {
	return func(cell string) (float64, error) {
		if last := cell[len(cell)-1]; last >= '0' && last <= '9' || last == '.' {
			cell += unit
		}
		return read(cell)
	}
}

// readPaces reads "easy 10km/h | long 6:30/km".
func readPaces(r *Runner, cell string) error {
	for part := range strings.SplitSeq(cell, "|") {
		part = strings.Join(strings.Fields(part), " ")
		if part == "" {
			continue
		}
		p, err := readPace(part)
		if err != nil {
			return err
		}
		r.Paces = append(r.Paces, p)
	}
	return nil
}

// readPace takes the shortest end of the text that is a speed; what stands
// before it is the pace's name.
func readPace(text string) (Pace, error) {
	for at := len(text); at >= 0; at = strings.LastIndexByte(text[:at], ' ') {
		if at == len(text) {
			continue
		}
		if speed, err := quantity.Speed(text[at+1:]); err == nil {
			return Pace{text[:at], speed}, nil
		}
	}
	speed, err := quantity.Speed(text)
	return Pace{"", speed}, err
}

func writePaces(r Runner) string {
	var parts []string
	for _, p := range r.Paces {
		parts = append(parts, strings.TrimSpace(p.Name+" "+measured(3.6*p.SpeedMS, 4, "km/h")))
	}
	return strings.Join(parts, " | ")
}

// whole writes a number, and nothing for 0.
func whole(n int) string {
	if n == 0 {
		return ""
	}
	return strconv.Itoa(n)
}

// measured writes a quantity with at most that many decimals, and nothing
// for what was not stated.
func measured(v float64, decimals int, unit string) string {
	if v == 0 || math.IsNaN(v) {
		return ""
	}
	text := strconv.FormatFloat(v, 'f', decimals, 64)
	return strings.TrimRight(strings.TrimRight(text, "0"), ".") + unit
}

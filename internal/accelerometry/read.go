package accelerometry

import (
	"bufio"
	"bytes"
	"compress/gzip"
	"errors"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"unicode"

	"plumbstride/internal/form"
)

// Bounds of a recording that is taken on: ten hours at 400 Hz.
const (
	maxSamples = 15_000_000
	maxLine    = 64 << 10
)

// Options says how a recording is to be read. The zero value reads a file
// with a usual header, or one of t, x, y, z without a header.
type Options struct {
	Columns Columns
	// TimeUnit is s, ms, us or ns; Unit is g, m/s2 or bw (body weights, the
	// same number as g). "" takes the header's, or goes by the size.
	TimeUnit, Unit string
	// RateHz, samples a second, stands in for a column of times; 0 where
	// there is one.
	RateHz float64
}

// Read reads a recording: text, perhaps compressed with gzip; columns parted
// by comma, semicolon, tab or blanks, with or without a header; lines that
// start with # are left out. Errors are form.Errors with the line's number.
func Read(r io.Reader, o Options) (Recording, error) {
	plain, err := decompress(bufio.NewReader(r))
	if err != nil {
		return Recording{}, err
	}
	t := &table{options: o}
	lines := bufio.NewScanner(plain)
	lines.Buffer(make([]byte, 4096), maxLine)
	lines.Split(splitLines)
	for n := 1; lines.Scan(); n++ {
		if err := t.take(n, lines.Text()); err != nil {
			return Recording{}, err
		}
	}
	switch err := lines.Err(); {
	case errors.Is(err, bufio.ErrTooLong):
		return Recording{}, form.ClipError("a line of the recording is longer than %d characters: it should be one sample a line", maxLine)
	case err != nil:
		return Recording{}, form.ClipError("the recording can't be read to its end: %w", err)
	case len(t.times) == 0 && len(t.values[0]) == 0:
		return Recording{}, form.ClipError("there are no samples in the recording: it should be one sample a line, for instance t,ax,ay,az")
	}
	return t.recording()
}

// decompress opens gzip where the first bytes say so.
func decompress(r *bufio.Reader) (io.Reader, error) {
	magic, _ := r.Peek(2)
	if !bytes.Equal(magic, []byte{0x1f, 0x8b}) {
		return r, nil
	}
	z, err := gzip.NewReader(r)
	if err != nil {
		return nil, form.ClipError("the recording is damaged: it looks compressed and can't be unpacked: %w", err)
	}
	return z, nil
}

// splitLines ends lines at \n, \r\n or a lone \r.
func splitLines(data []byte, atEOF bool) (advance int, token []byte, err error) {
	if i := bytes.IndexAny(data, "\r\n"); i >= 0 {
		end := i + 1
		if data[i] == '\r' {
			if i+1 == len(data) && !atEOF {
				return 0, nil, nil
			}
			if i+1 < len(data) && data[i+1] == '\n' {
				end++
			}
		}
		return end, data[:i], nil
	}
	if atEOF && len(data) > 0 {
		return len(data), data, nil
	}
	return 0, nil, nil
}

// table gathers the samples while the lines are read.
type table struct {
	options Options
	layout  layout
	parted  string // how the cells are parted: ",", ";", "\t" or " "
	comma   bool   // a comma is the decimal point
	width   int    // cells of a line; 0 before the first sample
	head    []string
	times   []float64
	lines   []int32 // the line of each sample
	// values are x, y, z, or vertical and forward.
	values [3][]float64
	axes   []int
}

// take reads one line.
func (t *table) take(n int, line string) error {
	line = strings.TrimSpace(strings.TrimPrefix(line, "\ufeff"))
	if line == "" || strings.HasPrefix(line, "#") {
		return nil
	}
	if t.width == 0 {
		t.learn(line)
	}
	cells := t.split(line)
	if t.width == 0 {
		if !t.numeric(cells) {
			if n > 200 {
				return form.ClipError("there are no numbers in the first 200 lines: this is no recording of an accelerometer")
			}
			t.head = cells
			return nil
		}
		if err := t.begin(cells); err != nil {
			return err
		}
	}
	if t.head != nil && len(cells) == len(t.head) && strings.EqualFold(strings.Join(cells, ","), strings.Join(t.head, ",")) {
		return nil // files joined end to end repeat it
	}
	return t.sample(n, cells)
}

// learn sees how a line's cells are parted.
func (t *table) learn(line string) {
	switch {
	case strings.Contains(line, ";"):
		t.parted, t.comma = ";", strings.Contains(line, ",") && !strings.Contains(line, ".")
	case strings.Contains(line, "\t"):
		t.parted, t.comma = "\t", strings.Contains(line, ",") && !strings.Contains(line, ".")
	case strings.Contains(line, ","):
		t.parted, t.comma = ",", false
	default:
		t.parted, t.comma = " ", false
	}
}

func (t *table) split(line string) []string {
	if t.parted == " " {
		return strings.FieldsFunc(line, unicode.IsSpace)
	}
	cells := strings.Split(line, t.parted)
	for i, c := range cells {
		cells[i] = strings.Trim(c, " \t\"")
	}
	return cells
}

// numeric tells whether a line is a sample: all but empty cells are numbers.
func (t *table) numeric(cells []string) bool {
	some := false
	for _, c := range cells {
		if c == "" {
			continue
		}
		if _, err := t.number(c); err != nil {
			return false
		}
		some = true
	}
	return some
}

func (t *table) number(cell string) (float64, error) {
	if t.comma {
		cell = strings.ReplaceAll(cell, ",", ".")
	}
	return strconv.ParseFloat(cell, 64)
}

// begin arranges the columns at the first sample.
func (t *table) begin(cells []string) error {
	t.width = len(cells)
	header := t.head
	if len(header) != t.width { // a title line is no header
		header, t.head = nil, nil
	}
	var err error
	if t.layout, err = arrange(t.options.Columns, header, t.width, t.options.RateHz > 0); err != nil {
		return err
	}
	t.axes = []int{t.layout.x, t.layout.y, t.layout.z}
	if t.layout.vertical >= 0 {
		t.axes = []int{t.layout.vertical}
		if t.layout.forward >= 0 {
			t.axes = append(t.axes, t.layout.forward)
		}
	}
	return nil
}

// sample keeps the numbers of one line.
func (t *table) sample(n int, cells []string) error {
	if len(cells) < t.width && !t.reaches(cells) {
		return form.ClipError("line %d of the recording has %d columns where the first has %d; is the file cut short or edited?", n, len(cells), t.width)
	}
	if len(t.values[0]) >= maxSamples {
		return form.ClipError("the recording has more than %d samples; cut out the run", maxSamples)
	}
	if t.layout.time >= 0 {
		v, err := t.cell(n, cells, t.layout.time, "time")
		if err != nil {
			return err
		}
		t.times = append(t.times, v)
	}
	for k, i := range t.axes {
		v, err := t.cell(n, cells, i, "acceleration")
		if err != nil {
			return err
		}
		t.values[k] = append(t.values[k], v)
	}
	t.lines = append(t.lines, int32(n))
	return nil
}

// reaches tells whether a short line has every column that is read.
func (t *table) reaches(cells []string) bool {
	for _, i := range t.layout.used() {
		if i >= len(cells) {
			return false
		}
	}
	return true
}

func (t *table) cell(n int, cells []string, i int, what string) (float64, error) {
	v, err := t.number(cells[i])
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		shown := cells[i]
		if len(shown) > 20 {
			shown = shown[:20] + "…"
		}
		return 0, form.ClipError("line %d, column %d of the recording should be the %s and is %q; is it the right column, or are samples missing? Leave such lines out", n, i+1, what, shown)
	}
	if math.Abs(v) > 1e19 {
		return 0, form.ClipError("line %d, column %d of the recording is %s: no %s is as large", n, i+1, fmt.Sprintf("%.3g", v), what)
	}
	return v, nil
}

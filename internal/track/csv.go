package track

import (
	"bufio"
	"bytes"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"math"
	"sort"
	"strconv"
	"strings"

	"plumbstride/internal/form"
)

const header = "time_s,point,side,x_px,y_px,confidence"

// maxFrames bounds a track file: ten minutes at 240 frames a second.
const maxFrames = 144_000

// maxSeconds bounds a track's span.
const maxSeconds = 600

// Write gives the track as CSV: one row a point and frame, missing points
// left out, what is known about the whole in `# key: value` lines before.
func Write(w io.Writer, t form.Track) error {
	b := bufio.NewWriter(w)
	meta := func(key, value string) {
		if value != "" && value != "0" {
			fmt.Fprintf(b, "# %s: %s\n", key, value)
		}
	}
	meta("width_px", strconv.Itoa(t.Width))
	meta("height_px", strconv.Itoa(t.Height))
	meta("rate_hz", strconv.FormatFloat(t.RateHz, 'f', -1, 64))
	meta("view", string(t.View))
	if t.Facing != form.Both {
		meta("facing", t.Facing.String())
	}
	meta("network", t.Network)
	if t.LevelSD > 0 {
		meta("level_deg", strconv.FormatFloat(t.LevelDeg, 'f', 4, 64))
		meta("level_sd", strconv.FormatFloat(t.LevelSD, 'f', 4, 64))
	}
	if t.FocalPx > 0 {
		meta("focal_px", strconv.FormatFloat(t.FocalPx, 'f', 2, 64))
		meta("focal_sd", strconv.FormatFloat(t.FocalSD, 'f', 4, 64))
	}
	fmt.Fprintln(b, header)
	for i := range t.Frames {
		f := &t.Frames[i]
		for j := range form.Joint(form.NumJoints) {
			s := f.Spots[j]
			if !s.Seen() {
				continue
			}
			fmt.Fprintf(b, "%.6f,%s,%s,%.3f,%.3f,%.4f\n",
				f.Time, j.Point(), j.Side(), s.X, s.Y, math.Max(s.Confidence, 0.0001))
		}
	}
	if err := b.Flush(); err != nil {
		return fmt.Errorf("write track: %w", err)
	}
	return nil
}

// Begins tells whether the first bytes of a file are those of a track: a
// comment line, or the header's first word.
func Begins(head []byte) bool {
	return bytes.HasPrefix(head, []byte("# ")) || bytes.HasPrefix(head, []byte(header[:strings.Index(header, ",")]))
}

// Read takes a track file as Write gives it, or as made elsewhere: rows in
// any order, unknown `#` lines ignored. What is wrong is said with its line.
func Read(r io.Reader) (form.Track, error) {
	var t form.Track
	in := bufio.NewReaderSize(r, 1<<16)
	line, err := readComments(in, &t)
	if err != nil {
		return form.Track{}, err
	}
	c := csv.NewReader(in)
	c.Comment = '#'
	c.ReuseRecord = true
	c.FieldsPerRecord = -1
	if err := checkHeader(c); err != nil {
		return form.Track{}, err
	}
	frames := map[float64]int{}
	for {
		row, err := c.Read()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return form.Track{}, form.ClipError("the track file can't be read as CSV: %w", err)
		}
		n, _ := c.FieldPos(0)
		if err := addRow(&t, frames, row); err != nil {
			return form.Track{}, form.ClipError("line %d of the track file: %w", line+n, err)
		}
	}
	if len(t.Frames) == 0 {
		return form.Track{}, form.ClipError("the track file holds no points; each row needs %s", header)
	}
	sort.SliceStable(t.Frames, func(i, j int) bool { return t.Frames[i].Time < t.Frames[j].Time })
	if span := t.Frames[len(t.Frames)-1].Time - t.Frames[0].Time; span > maxSeconds {
		return form.Track{}, form.ClipError("the track spans %.0f seconds, more than %d: is time_s in seconds, and no row astray?", span, maxSeconds)
	}
	if t.RateHz == 0 {
		t.RateHz = nominalRate(t.Frames)
	}
	return t, nil
}

// readComments takes the `# key: value` lines before the header and tells
// how many lines went by.
func readComments(in *bufio.Reader, t *form.Track) (int, error) {
	lines := 0
	for {
		peek, err := in.Peek(1)
		if err != nil || (peek[0] != '#' && peek[0] != '\n' && peek[0] != '\r' && peek[0] != 0xEF) {
			return lines, nil
		}
		if peek[0] == 0xEF { // byte order mark
			if bom, _ := in.Peek(3); string(bom) != "\xef\xbb\xbf" {
				return lines, nil
			}
			_, _ = in.Discard(3)
			continue
		}
		text, err := in.ReadString('\n')
		lines++
		if key, value, ok := strings.Cut(strings.TrimPrefix(strings.TrimSpace(text), "#"), ":"); ok {
			if err := setMeta(t, strings.TrimSpace(key), strings.TrimSpace(value)); err != nil {
				return lines, form.ClipError("line %d of the track file: %w", lines, err)
			}
		}
		if err != nil {
			return lines, nil
		}
	}
}

func setMeta(t *form.Track, key, value string) error {
	number := func(limit float64) (float64, error) {
		v, err := strconv.ParseFloat(value, 64)
		if err != nil || !(v >= 0 && v <= limit) {
			return 0, fmt.Errorf("%s %q is not a number from 0 to %g", key, value, limit)
		}
		return v, nil
	}
	var v float64
	var err error
	switch key {
	case "width_px":
		v, err = number(1e5)
		t.Width = int(v)
	case "height_px":
		v, err = number(1e5)
		t.Height = int(v)
	case "rate_hz":
		t.RateHz, err = number(1e5)
	case "view":
		switch v := form.View(value); v {
		case form.ViewSide, form.ViewFront, form.ViewBack:
			t.View = v
		default:
			return fmt.Errorf("view %q is not one of side, front, back", value)
		}
	case "facing":
		switch side, _ := form.ParseSide(value); side {
		case form.Left, form.Right:
			t.Facing = side
		default:
			return fmt.Errorf("facing %q is not left or right", value)
		}
	case "network":
		t.Network = value
	case "level_deg":
		t.LevelDeg, err = strconv.ParseFloat(value, 64)
		if err != nil || !(math.Abs(t.LevelDeg) <= 45) {
			return fmt.Errorf("level_deg %q is not an angle from −45 to 45 degrees", value)
		}
	case "level_sd":
		t.LevelSD, err = number(45)
	case "focal_px":
		t.FocalPx, err = number(1e6)
	case "focal_sd":
		t.FocalSD, err = number(10)
	}
	return err
}

func checkHeader(c *csv.Reader) error {
	row, err := c.Read()
	if errors.Is(err, io.EOF) {
		return form.ClipError("the track file is empty; it should begin with %s", header)
	}
	if err != nil {
		return form.ClipError("the track file can't be read as CSV: %w", err)
	}
	if got := strings.Join(row, ","); strings.ReplaceAll(got, " ", "") != header {
		return form.ClipError("the track file begins with %.80q; it should begin with %s (if this is the recording of an accelerometer, add --accelerometer)", got, header)
	}
	return nil
}

func addRow(t *form.Track, frames map[float64]int, row []string) error {
	if len(row) != 6 {
		return fmt.Errorf("%d columns, not 6 (%s)", len(row), header)
	}
	for i := range row {
		row[i] = strings.TrimSpace(row[i])
	}
	point, err := form.ParsePoint(row[1])
	if err != nil {
		return err
	}
	side, err := form.ParseSide(row[2])
	if err != nil {
		return err
	}
	if point != form.Nose && side != form.Left && side != form.Right {
		return fmt.Errorf("%s needs side left or right, not %q", point, row[2])
	}
	var v [4]float64
	for i, col := range [4]int{0, 3, 4, 5} {
		v[i], err = strconv.ParseFloat(row[col], 64)
		if err != nil || math.IsNaN(v[i]) || math.Abs(v[i]) > 1e7 {
			return fmt.Errorf("%q is not a number that can stand here", row[col])
		}
	}
	if v[0] < 0 || v[3] < 0 || v[3] > 1 {
		return fmt.Errorf("time must be 0 or more and confidence 0 to 1")
	}
	k, ok := frames[v[0]]
	if !ok {
		if len(t.Frames) >= maxFrames {
			return fmt.Errorf("more than %d frames", maxFrames)
		}
		k = len(t.Frames)
		frames[v[0]] = k
		t.Frames = append(t.Frames, form.Frame{Time: v[0]})
	}
	t.Frames[k].Spots[form.At(point, side)] = form.Spot{X: v[1], Y: v[2], Confidence: v[3]}
	return nil
}

// nominalRate is 1 / the median step between frames, Hz.
func nominalRate(frames []form.Frame) float64 {
	if len(frames) < 2 {
		return 0
	}
	steps := make([]float64, 0, len(frames)-1)
	for i := 1; i < len(frames); i++ {
		steps = append(steps, frames[i].Time-frames[i-1].Time)
	}
	sort.Float64s(steps)
	return 1 / steps[len(steps)/2]
}

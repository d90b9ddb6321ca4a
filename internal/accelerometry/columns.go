package accelerometry

import (
	"strconv"
	"strings"

	"plumbstride/internal/form"
)

// Columns names the columns of a recording, by their heading or their number
// from 1; "" is not stated. Either X, Y and Z are given, in any orientation,
// or Vertical (gravity included) and perhaps Forward, pointing either way.
type Columns struct {
	Time, X, Y, Z, Vertical, Forward string
}

// ParseColumns reads "time=1,x=2,y=3,z=4" or "time=t,vertical=av,forward=af".
func ParseColumns(text string) (Columns, error) {
	var c Columns
	for _, part := range strings.Split(text, ",") {
		role, name, ok := strings.Cut(part, "=")
		name = strings.TrimSpace(name)
		place := c.place(strings.ToLower(strings.TrimSpace(role)))
		switch {
		case !ok || name == "":
			return Columns{}, form.UsageError("%q does not say which column is what; write for instance time=1,x=2,y=3,z=4 or time=t,vertical=av,forward=af", part)
		case place == nil:
			return Columns{}, form.UsageError("%q is no part of a recording; there are time, x, y, z, vertical and forward", role)
		case *place != "":
			return Columns{}, form.UsageError("the column for %s is named twice", role)
		}
		*place = name
	}
	return c, c.check()
}

// place is where the column of a role is kept; nil for an unknown role.
func (c *Columns) place(role string) *string {
	switch role {
	case "time", "t":
		return &c.Time
	case "x", "ax":
		return &c.X
	case "y", "ay":
		return &c.Y
	case "z", "az":
		return &c.Z
	case "vertical", "up":
		return &c.Vertical
	case "forward", "fore-aft":
		return &c.Forward
	default:
		return nil
	}
}

// check refuses a choice of columns that can't be read.
func (c Columns) check() error {
	some := c.X != "" || c.Y != "" || c.Z != ""
	all := c.X != "" && c.Y != "" && c.Z != ""
	switch {
	case some && !all:
		return form.UsageError("name all three of x, y and z, or vertical")
	case all && (c.Vertical != "" || c.Forward != ""):
		return form.UsageError("name either x, y and z or vertical and forward, not both")
	case c.Forward != "" && c.Vertical == "":
		return form.UsageError("name the vertical column beside the forward one")
	}
	return nil
}

// layout is where each column lies, from 0; −1 where there is none.
type layout struct {
	time, x, y, z, vertical, forward int
	header                           []string // nil where the recording has none
	notes                            []string
}

// arrange finds the columns: as stated, else by the header's usual names,
// else by the usual order of a file without a header.
func arrange(c Columns, header []string, cells int, timed bool) (layout, error) {
	l := layout{time: -1, x: -1, y: -1, z: -1, vertical: -1, forward: -1, header: header}
	if err := c.check(); err != nil {
		return l, err
	}
	stated := c.X != "" || c.Vertical != ""
	for _, role := range []struct {
		name  string
		usual []string
		to    *int
		axis  bool
	}{
		{c.Time, []string{"t", "time", "timestamp", "seconds", "elapsed", "secondselapsed", "elapsedtime"}, &l.time, false},
		{c.X, []string{"x", "ax", "accx", "accelx", "accelerationx", "accelerometerx", "xaxis", "xacc"}, &l.x, true},
		{c.Y, []string{"y", "ay", "accy", "accely", "accelerationy", "accelerometery", "yaxis", "yacc"}, &l.y, true},
		{c.Z, []string{"z", "az", "accz", "accelz", "accelerationz", "accelerometerz", "zaxis", "zacc"}, &l.z, true},
		{c.Vertical, []string{"v", "av", "vertical", "accvertical", "verticalacceleration", "up", "vert"}, &l.vertical, true},
		{c.Forward, []string{"f", "af", "ap", "foreaft", "forward", "anteroposterior", "accap", "accforward", "foreaftacceleration"}, &l.forward, true},
	} {
		switch {
		case role.name != "":
			i, err := columnAt(role.name, header, cells)
			if err != nil {
				return l, err
			}
			*role.to = i
		case header != nil && !(role.axis && stated):
			*role.to = usualColumn(role.usual, header)
		}
	}
	return l.settle(stated, cells, timed)
}

// settle chooses between the axes found, and takes the usual order where
// there is no header.
func (l layout) settle(stated bool, cells int, timed bool) (layout, error) {
	if l.header == nil && !stated {
		switch {
		case cells >= 4 && l.time <= 0 && !timed:
			l.time, l.x, l.y, l.z = 0, 1, 2, 3
			l.notes = append(l.notes, "The recording has no header: its first four columns were taken for time, x, y and z.")
		case cells == 3 && timed:
			l.x, l.y, l.z = 0, 1, 2
			l.notes = append(l.notes, "The recording has no header: its three columns were taken for x, y and z.")
		default:
			return l, form.UsageError("the recording has no header: say which column is what, for instance --columns time=1,vertical=2,forward=3 or --columns time=1,x=2,y=3,z=4")
		}
	}
	if l.vertical >= 0 { // the better of two choices that a header may offer
		l.x, l.y, l.z = -1, -1, -1
	} else {
		l.forward = -1
	}
	switch {
	case l.vertical < 0 && (l.x < 0 || l.y < 0 || l.z < 0):
		return l, form.UsageError("no column for x, y and z, or for vertical, is found%s: say which is which with --columns", l.headings())
	case l.time < 0 && !timed:
		return l, form.UsageError("no column for the time is found%s: name it (--columns time=…), or state the samples a second (--sample-rate 100) if there is none", l.headings())
	case timed:
		l.time = -1
	}
	return l, l.distinct()
}

// distinct refuses one column for two things.
func (l layout) distinct() error {
	used := map[int]bool{}
	for _, i := range l.used() {
		if used[i] {
			return form.UsageError("column %d is named for two things; look at --columns", i+1)
		}
		used[i] = true
	}
	return nil
}

// used are the columns that are read.
func (l layout) used() []int {
	var out []int
	for _, i := range []int{l.time, l.x, l.y, l.z, l.vertical, l.forward} {
		if i >= 0 {
			out = append(out, i)
		}
	}
	return out
}

// headings lists the header for a message.
func (l layout) headings() string {
	if l.header == nil {
		return ""
	}
	shown := l.header
	if len(shown) > 12 {
		shown = shown[:12]
	}
	return " among " + strings.Join(shown, ", ")
}

// columnAt is the column of a stated heading or number.
func columnAt(name string, header []string, cells int) (int, error) {
	for i, h := range header {
		if strings.EqualFold(strings.TrimSpace(h), name) {
			return i, nil
		}
	}
	n, err := strconv.Atoi(name)
	switch {
	case err == nil && n >= 1 && n <= cells:
		return n - 1, nil
	case err == nil:
		return 0, form.UsageError("there is no column %d: the recording has %d", n, cells)
	case header == nil:
		return 0, form.UsageError("the recording has no header, so no column is called %s; give its number from 1", name)
	default:
		l := layout{header: header}
		return 0, form.UsageError("no column is called %s%s", name, l.headings())
	}
}

// usualColumn is the first column whose heading, without its unit and any
// sign, is one of the usual; −1 for none.
func usualColumn(usual, header []string) int {
	for i, h := range header {
		name, _ := splitUnit(h)
		plain := strings.Map(func(r rune) rune {
			if r >= 'a' && r <= 'z' || r >= '0' && r <= '9' {
				return r
			}
			return -1
		}, name)
		for _, u := range usual {
			if plain == u {
				return i
			}
		}
	}
	return -1
}

// splitUnit takes the unit off a heading: "Time (s)", "ax [m/s^2]", "time_ns".
func splitUnit(heading string) (name, unit string) {
	h := strings.ToLower(strings.TrimSpace(heading))
	if i := strings.IndexAny(h, "(["); i > 0 {
		return strings.TrimSpace(h[:i]), strings.Trim(h[i:], "()[] ")
	}
	if i := strings.LastIndex(h, "_"); i > 0 {
		switch u := h[i+1:]; u {
		case "s", "ms", "us", "ns", "g", "bw", "ms2", "mps2":
			return h[:i], u
		}
	}
	return h, ""
}

package accelerometry

import (
	"bytes"
	"compress/gzip"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"plumbstride/internal/form"
)

func formatTime(v float64) string { return strconv.FormatFloat(v, 'f', 5, 64) }

// lines makes a recording of n lines from a format of time (s) and sample.
func lines(n int, head string, line func(i int) string) string {
	var b strings.Builder
	b.WriteString(head)
	for i := range n {
		b.WriteString(line(i) + "\n")
	}
	return b.String()
}

func up(i int) float64 { return 1 + 0.3*math.Sin(float64(i)/5) }

// TestRead: the same run in every shape that recorders write.
func TestRead(t *testing.T) {
	gz := func(text string) string {
		var b bytes.Buffer
		z := gzip.NewWriter(&b)
		_, _ = z.Write([]byte(text))
		_ = z.Close()
		return b.String()
	}
	plain := lines(1000, "", func(i int) string { return fmt.Sprintf("%.3f,0,%.4f,0", float64(i)/100, up(i)) })
	for name, c := range map[string]struct {
		text string
		o    Options
	}{
		"no header":            {plain, Options{}},
		"gzip":                 {gz(plain), Options{}},
		"byte-order mark":      {"\ufefft,ax,ay,az\n" + plain, Options{}},
		"carriage returns":     {strings.ReplaceAll(plain, "\n", "\r\n"), Options{}},
		"old line ends":        {strings.ReplaceAll(plain, "\n", "\r"), Options{}},
		"a title and a header": {"Recorded in the park\ntime,x,y,z\n" + plain, Options{}},
		"remarks":              {"# sensor 1\n\n" + plain, Options{}},
		"header again":         {"time,x,y,z\n" + plain[:len(plain)/2-len(plain)/2%1] + "", Options{}},
		"tabs":                 {"time\tx\ty\tz\n" + strings.ReplaceAll(plain, ",", "\t"), Options{}},
		"blanks":               {strings.ReplaceAll(plain, ",", "  "), Options{}},
		"decimal commas":       {strings.ReplaceAll(strings.ReplaceAll(plain, ",", ";"), ".", ","), Options{}},
		"quotes":               {`"time","x","y","z"` + "\n" + plain, Options{}},
		"units in the header":  {lines(1000, "Time (ms),Acceleration x (m/s^2),Acceleration y (m/s^2),Acceleration z (m/s^2)\n", func(i int) string { return fmt.Sprintf("%d,0,%.4f,0", 10*i, 9.80665*up(i)) }), Options{}},
		"nanoseconds, m/s²":    {lines(1000, "", func(i int) string { return fmt.Sprintf("%d,0,%.4f,0", 1500000000000000000+10000000*i, 9.80665*up(i)) }), Options{}},
		"stated units":         {lines(1000, "", func(i int) string { return fmt.Sprintf("%d,0,%.4f,0", 10000*i, 9.80665*up(i)) }), Options{TimeUnit: "us", Unit: "m/s2"}},
		"stated columns":       {lines(1000, "n,clock,a,b,c\n", func(i int) string { return fmt.Sprintf("%d,%.3f,0,%.4f,0", i, float64(i)/100, up(i)) }), Options{Columns: Columns{Time: "clock", X: "a", Y: "b", Z: "5"}}},
		"no time":              {lines(1000, "", func(i int) string { return fmt.Sprintf("0,%.4f,0", up(i)) }), Options{RateHz: 100}},
		"vertical alone":       {lines(1000, "time_s,vertical_g\n", func(i int) string { return fmt.Sprintf("%.3f,%.4f", float64(i)/100, up(i)) }), Options{}},
		"body weights":         {lines(1000, "t,vertical,fore-aft\n", func(i int) string { return fmt.Sprintf("%.3f,%.4f,0.1", float64(i)/100, up(i)) }), Options{Unit: "bw"}},
	} {
		t.Run(name, func(t *testing.T) {
			rec, err := Read(strings.NewReader(c.text), c.o)
			if err != nil {
				t.Fatal(err)
			}
			if math.Abs(rec.RateHz-100) > 0.1 {
				t.Errorf("rate %g", rec.RateHz)
			}
			i := 137
			size := 0.0
			for _, axis := range rec.Axes[:1+2*b2i(!rec.Upright)] {
				size = math.Hypot(size, axis[i])
			}
			if math.Abs(size-up(i)) > 1e-3 || math.Abs(rec.TimesS[i]-1.37) > 1e-6 {
				t.Errorf("sample %d: %g at %g, want %g at 1.37", i, size, rec.TimesS[i], up(i))
			}
		})
	}
}

func b2i(b bool) int {
	if b {
		return 1
	}
	return 0
}

// TestReadRefuses: what can't be read is refused with a sentence that names
// the place and what to do.
func TestReadRefuses(t *testing.T) {
	good := func(n int) string {
		return lines(n, "t,x,y,z\n", func(i int) string { return fmt.Sprintf("%.3f,0,%.4f,0", float64(i)/100, up(i)) })
	}
	for name, c := range map[string]struct {
		text string
		o    Options
		code form.Code
		says string
	}{
		"nothing":              {"", Options{}, form.CodeClip, "no samples"},
		"a letter":             {strings.Repeat("Dear coach, here is my run\n", 300), Options{}, form.CodeClip, "no recording"},
		"damaged gzip":         {"\x1f\x8bxx", Options{}, form.CodeClip, "damaged"},
		"one long line":        {strings.Repeat("1,", 100000), Options{}, form.CodeClip, "longer"},
		"no such column":       {good(1000), Options{Columns: Columns{Time: "t", X: "ax", Y: "y", Z: "z"}}, form.CodeUsage, "no column is called ax among t, x, y, z"},
		"no such number":       {good(1000), Options{Columns: Columns{Time: "9", X: "x", Y: "y", Z: "z"}}, form.CodeUsage, "no column 9: the recording has 4"},
		"a column twice":       {good(1000), Options{Columns: Columns{Time: "t", X: "x", Y: "x", Z: "z"}}, form.CodeUsage, "two things"},
		"unknown headings":     {strings.Replace(good(1000), "t,x,y,z", "a,b,c,d", 1), Options{}, form.CodeUsage, "among a, b, c, d"},
		"no time":              {strings.Replace(good(1000), "t,x", "n,x", 1), Options{}, form.CodeUsage, "--sample-rate"},
		"three, no header":     {strings.SplitN(lines(1000, "", func(i int) string { return "0.1,1,0" }), "", 1)[0], Options{}, form.CodeUsage, "no header"},
		"acceleration as time": {good(1000), Options{Columns: Columns{Time: "y", X: "x", Y: "t", Z: "z"}}, form.CodeClip, "backwards in line"},
		"not a number":         {good(500) + "5.00,0,NaN,0\n" + good(3)[8:], Options{}, form.CodeClip, `line 502, column 3 of the recording should be the acceleration and is "NaN"`},
		"a word":               {good(500) + "5.00,0,err,0\n", Options{}, form.CodeClip, `is "err"`},
		"a short line":         {good(500) + "5.00,0\n", Options{}, form.CodeClip, "line 502"},
		"infinite":             {good(500) + "5.00,0,inf,0\n", Options{}, form.CodeClip, "line 502"},
		"huge":                 {good(500) + "5.00,0,1e30,0\n", Options{}, form.CodeClip, "as large"},
		"backwards":            {good(500) + good(500)[8:], Options{}, form.CodeClip, "backwards in line 502"},
		"coarse clock":         {lines(1000, "t,x,y,z\n", func(i int) string { return fmt.Sprintf("%d,0,1,0", i/100) }), Options{}, form.CodeClip, "same time"},
		"too short":            {good(200), Options{}, form.CodeClip, "lasts 2.0 s"},
		"two samples":          {good(2), Options{}, form.CodeClip, "too few samples in the recording (2)"},
		"too slow":             {lines(200, "t,x,y,z\n", func(i int) string { return fmt.Sprintf("%.2f,0,1,0", float64(i)/10) }), Options{}, form.CodeClip, "too few to see steps"},
		"wrong time unit":      {good(1000), Options{TimeUnit: "ms"}, form.CodeClip, "--time-unit"},
		"wrong unit":           {good(1000), Options{Unit: "m/s2"}, form.CodeClip, "--acceleration-unit"},
		"half gravity":         {lines(1000, "t,x,y,z\n", func(i int) string { return fmt.Sprintf("%.2f,0,0.4,0", float64(i)/100) }), Options{}, form.CodeClip, "gravity is 1"},
		"without gravity":      {lines(1000, "t,x,y,z\n", func(i int) string { return fmt.Sprintf("%.2f,0,%.3f,0", float64(i)/100, up(i)-1) }), Options{}, form.CodeClip, "gravity is not in it"},
		"milligravities":       {lines(1000, "t,x,y,z\n", func(i int) string { return fmt.Sprintf("%.2f,0,%.1f,0", float64(i)/100, 1000*up(i)) }), Options{}, form.CodeClip, "another unit"},
		"a rate of three":      {good(1000), Options{RateHz: 3}, form.CodeClip, "too few"},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Read(strings.NewReader(c.text), c.o)
			if err == nil || form.CodeOf(err) != c.code || !strings.Contains(err.Error(), c.says) {
				t.Errorf("%v; want %q with code %s", err, c.says, c.code)
			}
		})
	}
}

// TestParseColumns: columns are named by role, once each.
func TestParseColumns(t *testing.T) {
	c, err := ParseColumns("time=1, vertical=av ,forward=af")
	if err != nil || c != (Columns{Time: "1", Vertical: "av", Forward: "af"}) {
		t.Errorf("%+v, %v", c, err)
	}
	for text, says := range map[string]string{
		"":                 "does not say",
		"time":             "does not say",
		"time=":            "does not say",
		"roll=1":           "no part of a recording",
		"time=1,time=2":    "twice",
		"x=1,y=2":          "all three",
		"x=1,y=2,z=3,up=4": "not both",
		"forward=1":        "name the vertical",
	} {
		if _, err := ParseColumns(text); err == nil || form.CodeOf(err) != form.CodeUsage || !strings.Contains(err.Error(), says) {
			t.Errorf("%q: %v", text, err)
		}
	}
}

// TestGaps: a recording with a hole is read in pieces, and the hole is told.
func TestGaps(t *testing.T) {
	v := invented{rateHz: 100, seconds: 40, stepS: 0.36, contactS: 0.25, noiseG: 0.02, seed: 2}
	all := strings.Split(strings.TrimSpace(v.upright()), "\n")
	holed := strings.Join(append(append([]string{}, all[:1500]...), all[2100:]...), "\n")
	f := analyse(t, holed, Options{}, Back)
	if m, ok := f.measure("cadence"); !ok || math.Abs(m.Value-60/0.36) > 1 {
		t.Errorf("cadence %.1f, %v", m.Value, f.Refused)
	}
	if !strings.Contains(strings.Join(f.Notes, " "), "15.0 % of the recording's time is missing") {
		t.Errorf("notes %q", f.Notes)
	}
	var scraps []string
	for i := 1; i < len(all); i += 300 {
		scraps = append(scraps, all[i:min(i+100, len(all))]...)
	}
	rec, err := Read(strings.NewReader(strings.Join(scraps, "\n")), Options{Columns: Columns{Time: "1", Vertical: "2", Forward: "3"}})
	if err != nil {
		t.Fatal(err)
	}
	if _, err := Analyse(rec, Back); err == nil || !strings.Contains(err.Error(), "missing or in pieces") {
		t.Errorf("scraps: %v", err)
	}
}

// FuzzRead: no text makes the reader panic, and what it reads is in order,
// finite and of one length.
func FuzzRead(f *testing.F) {
	f.Add([]byte("t,x,y,z\n0,0,1,0\n0.01,0,1,0\n"), "", 0.0)
	f.Add([]byte("0;0,1;1,0;0\n0,01;0;1;0"), "time=1,x=2,y=3,z=4", 0.0)
	f.Add([]byte("1\t2\t3\r1\t2\t3"), "vertical=1", 100.0)
	f.Add([]byte("\x1f\x8b\x08"), "", 0.0)
	f.Add([]byte(lines(600, "time_ms,vertical_g,fore_aft\n", func(i int) string { return fmt.Sprintf("%d,%.2f,0", 10*i, up(i)) })), "", 0.0)
	f.Fuzz(func(t *testing.T, data []byte, columns string, rate float64) {
		c, err := ParseColumns(columns)
		if err != nil {
			c = Columns{}
		}
		rec, err := Read(bytes.NewReader(data), Options{Columns: c, RateHz: rate})
		if err != nil {
			if form.CodeOf(err) == "" {
				t.Fatalf("not a sentence: %v", err)
			}
			return
		}
		for i, at := range rec.TimesS {
			if i > 0 && at <= rec.TimesS[i-1] {
				t.Fatalf("times %d and %d are out of order", i-1, i)
			}
			for _, axis := range rec.Axes {
				if len(axis) != len(rec.TimesS) || math.IsNaN(axis[i]) || math.Abs(axis[i]) > 200 {
					t.Fatalf("sample %d is %v", i, axis[i])
				}
			}
		}
		if rec.TimesS[len(rec.TimesS)-1] < 3600 {
			if found, err := Analyse(rec, NotStated); err == nil && found.Gait == None {
				t.Fatal("neither a gait nor a reason")
			}
		}
	})
}

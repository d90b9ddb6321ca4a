package clip

import (
	"bufio"
	"fmt"
	"io"
	"regexp"
	"strings"
)

const (
	maxLine       = 4096 // bytes of one line of standard error that are looked at
	maxComplaints = 32   // lines kept
)

// readLines calls f for each line of r, cut to maxLine bytes, to r's end.
func readLines(r io.Reader, f func(line string)) {
	in := bufio.NewReaderSize(r, maxLine)
	for {
		line, isPrefix, err := in.ReadLine()
		if err != nil {
			return
		}
		f(string(line))
		for isPrefix && err == nil {
			_, isPrefix, err = in.ReadLine()
		}
	}
}

// complaints are the error lines of a child, the first few kept, all counted.
type complaints struct {
	lines []string
	count int
}

// labels at the front of a line: "[h264 @ 0x55d0] [error] ".
var labels = regexp.MustCompile(`^(?:\[[^\]]*\] ?)*`)

// add looks at one line of "-loglevel level+…" output.
func (c *complaints) add(line string) {
	front := labels.FindString(line)
	if front != "" && !strings.Contains(front, "[error]") && !strings.Contains(front, "[fatal]") && !strings.Contains(front, "[panic]") {
		return
	}
	if line = strings.TrimSpace(line[len(front):]); line == "" {
		return
	}
	c.count++
	if len(c.lines) < maxComplaints {
		c.lines = append(c.lines, line)
	}
}

// first is the first complaint as it was made, safe to print on one line.
func (c *complaints) first() string {
	if c == nil || len(c.lines) == 0 {
		return "no reason given"
	}
	return printable(c.lines[0], 200)
}

func (c *complaints) find(part string) (string, bool) {
	for _, line := range c.lines {
		if strings.Contains(line, part) {
			return line, true
		}
	}
	return "", false
}

var tooManyPixels = regexp.MustCompile(`Picture size (\d+)x(\d+) exceeds`)

// reasons turns what the tools say into what a coach can act on, in order.
var reasons = []struct{ part, words string }{
	{"moov atom not found", "its end is missing: the recording was stopped hard or the copy was cut short; copy it again from the phone"},
	{"Cannot allocate memory", "it asks for more memory than a clip needs; it may be damaged"},
	{"not found for input stream", "this machine's ffmpeg can't decode its kind of picture"},
	{"Decoding requested, but no decoder found", "this machine's ffmpeg can't decode its kind of picture"},
	{"could not find codec parameters", "no whole picture can be read from it"},
	{"Could not find codec parameters", "no whole picture can be read from it"},
	{"No such file or directory", "it is not there any more"},
	{"Permission denied", "this user may not read it"},
	{"Invalid data found", "its contents are damaged or it is not a video"},
	{"partial file", "it is cut short"},
	{"error reading header", "its index is damaged or cut short; copy it again from the phone"},
}

// words says in plain words why the child failed.
func (c *complaints) words() string {
	for _, line := range c.lines {
		if m := tooManyPixels.FindStringSubmatch(line); m != nil {
			return fmt.Sprintf("its pictures are %s × %s pixels, more than is read", m[1], m[2])
		}
	}
	for _, r := range reasons {
		if _, ok := c.find(r.part); ok {
			return r.words
		}
	}
	if c.count == 0 {
		return "it is empty, damaged or cut short"
	}
	return "ffmpeg says: " + c.first()
}

// printable keeps a foreign text to one line of at most n characters without
// control characters.
func printable(s string, n int) string {
	var b strings.Builder
	for i, r := range []rune(strings.ToValidUTF8(s, "?")) {
		if i >= n {
			b.WriteString("…")
			break
		}
		if r < ' ' || r == 0x7f || r >= 0x80 && r < 0xa0 || r == 0x2028 || r == 0x2029 || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 {
			r = '?'
		}
		b.WriteRune(r)
	}
	return b.String()
}

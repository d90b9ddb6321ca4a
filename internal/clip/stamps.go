package clip

import (
	"crypto/rand"
	"strconv"
	"strings"
)

// stamp is what the decoder says about one picture that it puts out.
type stamp struct {
	seconds float64 // presentation time on the file's clock
	timed   bool    // the time is known
	w, h    int     // stored size
}

// mark is the name of a showinfo filter that no file can know.
type mark string

func newMark() mark { return mark("s" + strings.ToLower(rand.Text())) }

// filter reports each picture that passes, without reading its pixels.
func (m mark) filter() string { return "showinfo@" + string(m) + "=checksum=0" }

// prefix begins each line of such a report.
func (m mark) prefix() string { return "[showinfo@" + string(m) + " @ " }

// stampReader picks the stamps out of ffmpeg's standard error: the lines of a
// showinfo filter with a name that nobody can guess, so that no text inside a
// file can pass for one. Everything else is kept as a possible complaint.
type stampReader struct {
	prefix string // "[showinfo@NAME @ "
	tick   float64
	said   *complaints
}

// line gives the stamp on a line, if there is one.
func (s *stampReader) line(text string) (stamp, bool) {
	if !strings.HasPrefix(text, s.prefix) {
		s.said.add(text)
		return stamp{}, false
	}
	_, text, _ = strings.Cut(text, "] ")
	text = strings.TrimPrefix(text, "[info] ")
	if rest, ok := strings.CutPrefix(text, "config in time_base: "); ok {
		word, _, _ := strings.Cut(rest, ",")
		var r ratio
		if r.UnmarshalJSON([]byte(word)) == nil && r.float() > 0 {
			s.tick = r.float()
		}
		return stamp{}, false
	}
	if !strings.HasPrefix(text, "n:") {
		return stamp{}, false
	}
	var out stamp
	if pts, err := strconv.ParseInt(field(text, " pts:"), 10, 64); err == nil {
		out.seconds, out.timed = float64(pts)*s.tick, true
	}
	w, h, _ := strings.Cut(field(text, " s:"), "x")
	out.w, _ = strconv.Atoi(w)
	out.h, _ = strconv.Atoi(h)
	return out, true
}

// field gives the word that follows a key, whatever blanks stand between.
func field(text, key string) string {
	_, rest, ok := strings.Cut(text, key)
	if !ok {
		return ""
	}
	rest = strings.TrimLeft(rest, " ")
	word, _, _ := strings.Cut(rest, " ")
	return word
}

package web

import (
	"strconv"
	"testing"
	"time"

	"plumbstride/internal/practice"
)

// Two runs three weeks apart are no practice over three weeks; five with steady
// running are, and a walk or a run without a speed after them adds no day.
func TestPracticeBetweenChecks(t *testing.T) {
	from := time.Date(2026, 3, 2, 18, 0, 0, 0, time.UTC)
	run := func(day int, samples int) practice.Run {
		r := practice.Run{Kind: practice.Running, Digest: strconv.Itoa(day), Start: from.AddDate(0, 0, day), LengthS: 1800}
		for k := range samples {
			r.Samples = append(r.Samples, practice.Sample{AtS: 30 * float64(k), CadenceSPM: 172 + float64(k%3), SpeedMPS: 2.8 + 0.1*float64(k%4)})
		}
		return r
	}
	to := from.AddDate(0, 0, 40)
	if p := practiceBetween([]practice.Run{run(1, 40), run(26, 40)}, from, to); p != nil {
		t.Errorf("two runs: %+v", p)
	}
	p := practiceBetween([]practice.Run{run(30, 40), run(1, 40), run(8, 40), run(14, 40), run(22, 40), run(39, 0), run(-3, 40), run(41, 40)}, from, to)
	if p == nil || !p.From.Equal(from.AddDate(0, 0, 1)) || !p.To.Equal(from.AddDate(0, 0, 30)) {
		t.Errorf("five runs over 29 days: %+v", p)
	}
}

package clinic

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"

	"plumbstride/internal/graph"
	"plumbstride/internal/testkit"
)

var writeStudy = flag.Bool("study", false, "write docs/studies/clinic.md and its graph anew")

const studyText = `# What a clinic shows of itself

Written by ` + "`make studies`" + ` (` + "`internal/clinic`" + `). Clinics that never were: 160 runners each, true cadence 166 ± 8 steps/min, of whom those found below 160 work on it (about a quarter), three in ten of them never come back, and the work truly changes nothing, or raises cadence by 3 or 6 steps/min. Each check errs by 1.5 to 6 steps/min, and what it says of its own error is off by a quarter here and there. 600 clinics a row.

“As seen” is the mean of later less earlier; “own” is the same with regression to the mean taken off (decision 33). An interval of 95 % should hold the truth in 95 of 100.

| error of a check | true change | as seen, mean | holds the truth | own, mean | holds the truth | runners compared |
|---:|---:|---:|---:|---:|---:|---:|
`

// What is seen of runners who were chosen for standing out, by the error of a
// check, with and without the correction.
func TestStudyClinic(t *testing.T) {
	if !*writeStudy {
		t.Skip("a study, run on request: make studies")
	}
	var md strings.Builder
	md.WriteString(studyText)
	rng := rand.New(rand.NewPCG(33, 1))
	seen, own := graph.Series{Name: "as seen", Joined: true, Ink: graph.Quiet, Open: true, Dash: "4 3"}, graph.Series{Name: "own", Joined: true}
	const times = 600
	for _, errorSD := range []float64{1.5, 3, 4.5, 6} {
		for _, change := range []float64{0, 3, 6} {
			var s shown
			for range times {
				one := many(evenings{runners: 160, errorSD: errorSD, believedSD: errorSD * (1 + errorUnsure*rng.NormFloat64()), change: change, stays: 0.3, band: 160}, 1, rng)
				s.seen, s.own, s.n = s.seen+one.seen/times, s.own+one.own/times, s.n+one.n/times
				s.covered, s.seenCovered = s.covered+one.covered/times, s.seenCovered+one.seenCovered/times
			}
			fmt.Fprintf(&md, "| %.1f | %.0f | %+.2f | %.0f %% | %+.2f | %.0f %% | %.0f |\n", errorSD, change, s.seen, 100*s.seenCovered, s.own, 100*s.covered, s.n)
			if change == 0 {
				seen.X, seen.Y = append(seen.X, errorSD), append(seen.Y, s.seen)
				own.X, own.Y = append(own.X, errorSD), append(own.Y, s.own)
			}
		}
	}
	md.WriteString("\n![What a clinic that changes nothing seems to change](clinic.svg)\n\nWithout the correction a clinic that does nothing finds that it raises cadence, the more the worse its checks are. With it the mean is within half a step a minute of the truth – it takes off a little too much where the error is large and misjudged, for its square counts – and the interval is wide enough for that. These clinics are drawn from the distribution that the correction takes for granted, and have one value a runner: the study holds the arithmetic, not that runners are so.\n")
	g := graph.Graph{
		Title: "A clinic that changes nothing", Desc: "What is seen and what is told of it, by the error of a check",
		X: graph.Axis{Label: "error of a check, steps/min", Low: 1, Top: 6.5}, Y: graph.Axis{Label: "mean change told, steps/min", Low: -1, Top: 6},
		Series: []graph.Series{seen, own},
	}
	testkit.WriteStudy(t, "clinic.svg", g.SVG("clinic"))
	testkit.WriteStudy(t, "clinic.md", strings.ReplaceAll(md.String(), "| -", "| −"))
}

package gait

import (
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"plumbstride/internal/form"
	"plumbstride/internal/graph"
	"plumbstride/internal/signal"
	"plumbstride/internal/testkit"
	"plumbstride/internal/track"
)

var writeStudy = flag.Bool("study", false, "write docs/studies/events.md and smoothing.md and their graphs anew")

// The study of events: the force plate's against those found in the same
// markers at other frame rates with a network's noise, and the invented
// runners' by foot strike and incline.
func TestStudyEvents(t *testing.T) {
	if !*writeStudy {
		t.Skip("a study, run on request: make studies")
	}
	truth := forceEvents(t)
	whole := mocapTrack(t, 1)
	var md strings.Builder
	md.WriteString(eventsText)
	rates := []float64{30, 60, 120, 150, 240}
	var series [2]graph.Series
	names := []form.EventKind{form.Contact, form.ToeOff}
	for _, rate := range rates {
		const draws = 5
		var mae, bias [2][]float64
		lost := 0
		for seed := range uint64(draws) {
			g, err := Analyse(track.Smooth(mistreat(resample(whole, rate), 2, 0, seed)), Facts{HeightM: 1.81})
			if err != nil {
				t.Fatal(err)
			}
			e := compare(g.Events, truth)
			lost += e.missed + e.extra
			for k, kind := range names {
				mae[k] = append(mae[k], 1e3*e.absolute[kind])
				bias[k] = append(bias[k], 1e3*e.mean[kind])
			}
		}
		fmt.Fprintf(&md, "| %.0f |", rate)
		for k := range names {
			m, sd := signal.MeanSD(mae[k])
			b, _ := signal.MeanSD(bias[k])
			fmt.Fprintf(&md, " %.1f | %+.1f |", m, b)
			s := &series[k]
			s.X, s.Y, s.Err = append(s.X, rate), append(s.Y, m), append(s.Err, 2*sd)
		}
		fmt.Fprintf(&md, " %d |\n", lost)
	}
	series[0].Name, series[0].Joined = "contact", true
	series[1].Name, series[1].Joined, series[1].Ink, series[1].Open, series[1].Dash = "toe-off", true, graph.Text, true, "4 3"
	g := graph.Graph{
		Title:  "Events against the force plate",
		Desc:   "Mean absolute error of contact and toe-off at 30 to 240 frames a second, with the spread of five draws of noise.",
		X:      graph.Axis{Label: "frames a second", Low: 25, Top: 300, Log: true},
		Y:      graph.Axis{Label: "mean absolute error, ms", Low: 0, Top: 12},
		Ticks:  []graph.Tick{{At: 30, Label: "30"}, {At: 60, Label: "60"}, {At: 120, Label: "120"}, {At: 150, Label: "150"}, {At: 240, Label: "240"}},
		Series: series[:],
	}
	testkit.WriteStudy(t, "events-by-rate.svg", g.SVG("events-by-rate"))
	testkit.WriteStudy(t, "events.md", md.String()+eventsAfter)
}

// flaws of a smoothed path against the recorded one: all over, and within
// 30 ms of the contacts, mm root mean square.
func pathFlaws(times []float64, got func(float64) float64, truth func(float64) float64, contacts []float64) (all, near float64) {
	var a, n, na, nn float64
	for _, t := range times {
		d := 1e3 * (got(t) - truth(t))
		a, na = a+d*d, na+1
		for _, c := range contacts {
			if math.Abs(t-c) < 0.03 {
				n, nn = n+d*d, nn+1
			}
		}
	}
	return math.Sqrt(a / na), math.Sqrt(n / nn)
}

// The study of smoothing: the markers of a real runner at 60 frames a second
// with a network's noise, smoothed in three ways, against the markers as they
// were recorded at 150 Hz.
func TestStudySmoothing(t *testing.T) {
	if !*writeStudy {
		t.Skip("a study, run on request: make studies")
	}
	whole := mocapTrack(t, 1)
	var contacts []float64
	for _, e := range forceEvents(t) {
		if e.Kind == form.Contact && e.Side == form.Right {
			contacts = append(contacts, e.Time)
		}
	}
	const perM, rate, noise = 400.0, 60.0, 2.0
	poor := mistreat(resample(whole, rate), noise, 0, 9)
	var md strings.Builder
	md.WriteString(smoothingText)
	md.WriteString(residualPart(t, whole))
	md.WriteString(meanStridePart(t, whole))
	joints := []struct {
		name  string
		joint form.Joint
		up    bool
	}{{"heel, height", form.At(form.Heel, form.Right), true}, {"toe, height", form.At(form.Toe, form.Right), true}, {"ankle, along the run", form.At(form.Ankle, form.Right), false}, {"knee, along the run", form.At(form.Knee, form.Right), false}}
	md.WriteString("\n## Three smoothers\n\nRoot mean square error, mm: over the whole run / within 30 ms of a contact.\n\n| point | cut-off, Hz | Butterworth, zero lag | smoother | smoother across the landing |\n|---|---|---|---|---|\n")
	cuts := []float64{6, 8, 10, 12, 15, 20, 25}
	for k, j := range joints {
		value := func(f *form.Frame) float64 {
			if s := f.Spots[j.joint]; j.up {
				return -s.Y / perM
			} else {
				return s.X / perM
			}
		}
		var ct, cv []float64
		for i := range whole.Frames {
			if whole.Frames[i].Spots[j.joint].Seen() {
				ct, cv = append(ct, whole.Frames[i].Time), append(cv, value(&whole.Frames[i]))
			}
		}
		truth := func(at float64) float64 { return linear(ct, cv, at) }
		var times, values, sds []float64
		for i := range poor.Frames {
			times, values, sds = append(times, poor.Frames[i].Time), append(values, value(&poor.Frames[i])), append(sds, noise/perM)
			if !poor.Frames[i].Spots[j.joint].Seen() {
				values[i] = truth(times[i])
			}
		}
		var hits []signal.Impact
		for _, c := range contacts {
			for _, k := range landing(j.joint.Point(), c) {
				hits = append(hits, k)
			}
		}
		series := []graph.Series{
			{Name: "Butterworth", Ink: graph.Quiet, Dash: "2 3", Joined: true},
			{Name: "smoother", Ink: graph.Text, Dash: "6 3", Joined: true, Open: true},
			{Name: "across the landing", Ink: graph.Accent, Joined: true},
		}
		inner := times[30 : len(times)-30]
		for _, cut := range cuts {
			low := signal.LowPass(values, rate, cut)
			q := signal.JerkDensity(cut, rate, noise/perM)
			plain := signal.Smooth(times, values, sds, q)
			across := signal.SmoothAcross(times, values, sds, q, hits)
			fmt.Fprintf(&md, "| %s | %.0f |", j.name, cut)
			for m, got := range []func(float64) float64{
				func(at float64) float64 { return linear(times, low, at) },
				func(at float64) float64 { return signal.Interpolate(times, plain, at).X },
				func(at float64) float64 { return signal.Interpolate(times, across, at).X },
			} {
				all, near := pathFlaws(inner, got, truth, contacts)
				fmt.Fprintf(&md, " %.1f / %.1f |", all, near)
				series[m].X, series[m].Y = append(series[m].X, cut), append(series[m].Y, near)
			}
			md.WriteString("\n")
		}
		if k == 0 {
			g := graph.Graph{
				Title:  "The heel's height within 30 ms of a contact",
				Desc:   "Root mean square error against the cut-off for a Butterworth filter, the smoother, and the smoother that lets the motion break at the landing.",
				X:      graph.Axis{Label: "cut-off, Hz", Low: 4, Top: 27},
				Y:      graph.Axis{Label: "root mean square error, mm", Low: 0, Top: 16},
				Series: series,
			}
			testkit.WriteStudy(t, "smoothing-heel.svg", g.SVG("smoothing-heel"))
			md.WriteString("\n![The heel's height near contacts](smoothing-heel.svg)\n\n| point | cut-off, Hz | Butterworth, zero lag | smoother | smoother across the landing |\n|---|---|---|---|---|\n")
		}
	}
	md.WriteString(smoothingAfter)
	testkit.WriteStudy(t, "smoothing.md", md.String())
}

// linear interpolates between samples.
func linear(t, v []float64, at float64) float64 {
	i := 1
	for lo, hi := 1, len(t)-1; lo <= hi; {
		if m := (lo + hi) / 2; t[m] < at {
			lo = m + 1
			i = min(lo, len(t)-1)
		} else {
			hi = m - 1
			i = m
		}
	}
	u := (at - t[i-1]) / (t[i] - t[i-1])
	return v[i-1] + u*(v[i]-v[i-1])
}

// residualPart is Winter's residual analysis: the root mean square of what a
// filter takes away, against its cut-off; the straight part at high cut-offs
// is noise alone, carried on to 0 Hz it is the noise's size, and the cut-off
// at which the residual has that size takes as much signal as it leaves
// noise.
func residualPart(t *testing.T, whole form.Track) string {
	var md strings.Builder
	md.WriteString("| point | by the residuals, by the likelihood, Hz: markers with noise of 0.4 px / 1 px / 2 px / 4 px | used on one stride's track, Hz | usual on the strides laid over one another, Hz |\n|---|---|---|---|\n")
	used := map[form.Point][2]float64{form.Hip: {9, 14}, form.Knee: {12, 18}, form.Ankle: {15, 24}, form.Heel: {15, 24}, form.Toe: {15, 24}}
	for _, p := range []form.Point{form.Hip, form.Knee, form.Ankle, form.Heel, form.Toe} {
		fmt.Fprintf(&md, "| %s | ", p)
		for i, noise := range []float64{0.4, 1, 2, 4} {
			rng := rand.New(rand.NewPCG(3, uint64(i)))
			var x []float64
			for k := range whole.Frames {
				s := whole.Frames[k].Spots[form.At(p, form.Right)]
				if !s.Seen() && k > 0 {
					x = append(x, x[k-1])
					continue
				}
				x = append(x, s.Y+noise*rng.NormFloat64())
			}
			if i > 0 {
				md.WriteString(" / ")
			}
			fmt.Fprintf(&md, "%.0f, %.0f", residualCutoff(x, 150), likelyCutoff(x, 150))
		}
		fmt.Fprintf(&md, " | %.0f | %.0f |\n", used[p][0], used[p][1])
	}
	return md.String()
}

// likelyCutoff is the smoother's likeliest cut-off for an even series.
func likelyCutoff(x []float64, rate float64) float64 {
	times, doubts := make([]float64, len(x)), make([]float64, len(x))
	for i := range x {
		times[i], doubts[i] = float64(i)/rate, 1
	}
	return signal.LikelyCutoff(times, [][]float64{x}, doubts, rate, 2, 40)
}

// meanStridePart holds three ways to choose the cut-off on the strides laid
// over one another to the mean stride of the markers as recorded: the same
// anchors and plane, so that only the smoothing differs.
func meanStridePart(t *testing.T, whole form.Track) string {
	var md strings.Builder
	md.WriteString(meanStrideText)
	clean, err := Analyse(track.Smooth(whole), Facts{HeightM: 1.81})
	if err != nil {
		t.Fatal(err)
	}
	truth := clean.Cycles[form.Right]
	for _, p := range []form.Point{form.Hip, form.Shoulder, form.Knee, form.Ankle, form.Heel, form.Toe} {
		j := form.At(p, form.Right)
		if clean.Motion.Paths[j] == nil {
			continue
		}
		for _, noise := range []float64{2, 5} {
			g := *clean
			g.Motion = track.Smooth(mistreat(resample(whole, 60), noise, 0, 9))
			c := &Cycle{Side: form.Right, Anchors: truth.Anchors, StrideS: truth.StrideS, ContactS: truth.ContactS}
			samples := c.samples(&g)
			for _, s := range samples {
				c.times = append(c.times, s.t)
			}
			l := c.lay(&g, j, samples)
			usual := usualCutoff(p, len(c.Anchors), 60)
			likely := signal.LikelyCutoff(l.times, [][]float64{l.x, l.y}, l.doubt, l.rateHz, 3, 27)
			fmt.Fprintf(&md, "| %s | %.0f | %d |", p, noise, len(c.Anchors))
			for _, cut := range []float64{usual, likely, l.cutoff(p, len(c.Anchors), 60)} {
				all, near := c.flaws(l, j, cut, truth)
				fmt.Fprintf(&md, " %.1f Hz: %.1f / %.1f |", cut, all, near)
			}
			md.WriteString("\n")
		}
	}
	return md.String()
}

// flaws of a mean stride smoothed at a cut-off against the true one, mm root
// mean square over both coordinates: all over, and within 30 ms of contact.
func (c *Cycle) flaws(l laid, j form.Joint, cut float64, truth *Cycle) (all, near float64) {
	q := signal.JerkDensity(cut, l.rateHz, l.noiseM)
	sd := make([]float64, len(l.doubt))
	for i, d := range l.doubt {
		sd[i] = d * l.noiseM
	}
	breaks := landing(j.Point(), c.ContactS)
	path := cyclePath{signal.SmoothAcross(l.times, l.x, sd, q, breaks), signal.SmoothAcross(l.times, l.y, sd, q, breaks)}
	var a, n, na, nn float64
	for at := -c.StrideS / 2; at < c.StrideS/2; at += 0.002 {
		want, _, _, _ := truth.At(j, at)
		d := math.Hypot(signal.Interpolate(l.times, path.x, at).X-want.X, signal.Interpolate(l.times, path.y, at).X-want.Y)
		a, na = a+d*d, na+1
		if math.Abs(at-c.ContactS) < 0.03 {
			n, nn = n+d*d, nn+1
		}
	}
	return 1e3 * math.Sqrt(a/na), 1e3 * math.Sqrt(n/nn)
}

func residualCutoff(x []float64, rate float64) float64 {
	residual := func(cut float64) float64 {
		y := signal.LowPass(x, rate, cut)
		sum := 0.0
		for i := 30; i < len(x)-30; i++ {
			sum += (x[i] - y[i]) * (x[i] - y[i])
		}
		return math.Sqrt(sum / float64(len(x)-60))
	}
	// The straight part: 30 to 45 Hz.
	a, b := residual(30), residual(45)
	noise := a - 30*(b-a)/15
	for cut := 2.0; cut < 40; cut += 0.5 {
		if residual(cut) <= noise {
			return cut
		}
	}
	return 40
}

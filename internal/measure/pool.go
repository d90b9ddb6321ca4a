package measure

import (
	"fmt"
	"math"

	"plumbstride/internal/form"
)

// Pass is one of several clips, or parts of a clip, of the same runner.
type Pass struct {
	Near     form.Side // the side turned to the camera
	SpeedMS  float64
	ScaleSD  float64 // relative
	Measures []form.Measure
	Refused  []form.Refusal
}

// Pool makes one set of measures out of several passes. A measure of one side
// is taken from the passes that turn that side to the camera, where there are
// any; else from all that have it. Each counts by its own uncertainty; what
// passes share (Common) does not become less by pooling, and passes that
// differ by more than their uncertainties make the result less sure. A measure
// is refused only where every pass refuses it. Notes are for the coach.
func Pool(passes []Pass) (measures []form.Measure, refused []form.Refusal, notes []string) {
	for _, def := range Table() {
		sides := []form.Side{form.Both}
		if def.sided {
			sides = []form.Side{form.Left, form.Right}
		}
		for _, s := range sides {
			found := candidates(passes, def, s)
			if len(found) > 0 {
				measures = append(measures, pooled(found))
				continue
			}
			if r, ok := refusal(passes, def, s); ok {
				refused = append(refused, r)
			}
		}
	}
	return measures, dedupe(refused), speedNotes(passes)
}

// candidates are the measures of a name, unit and side that count.
func candidates(passes []Pass, def Def, s form.Side) []form.Measure {
	var near, all []form.Measure
	for _, p := range passes {
		for _, m := range p.Measures {
			if m.Name != def.Name || m.Unit != def.Unit || m.Side != s {
				continue
			}
			if def.Name == "speed" {
				m.Common = m.Value * p.ScaleSD
				m.Lasting = m.Common
			}
			all = append(all, m)
			if p.Near == s {
				near = append(near, m)
			}
		}
	}
	if len(near) > 0 {
		return near
	}
	return all
}

// pooled is the mean by the parts of the uncertainty that are each one's own.
func pooled(found []form.Measure) form.Measure {
	out := found[0]
	if len(found) == 1 {
		return out
	}
	var sum, weight, common, lasting, most float64
	n := 0
	own := make([]float64, len(found))
	for i, m := range found {
		// Nobody's own part is nothing: a tenth of the whole, at least.
		own[i] = math.Max(m.SD*m.SD-m.Common*m.Common, 0.01*m.SD*m.SD+1e-12)
		w := 1 / own[i]
		sum, weight, common, n = sum+w*m.Value, weight+w, common+w*m.Common, n+m.N
		lasting += w * m.Lasting
		if w > most {
			most, out.Note = w, m.Note
		}
	}
	mean := sum / weight
	chi := 0.0
	for i, m := range found {
		chi += (m.Value - mean) * (m.Value - mean) / own[i]
	}
	spread := math.Max(1, chi/float64(len(found)-1)) / weight
	common /= weight
	p := form.With95(out.Name, out.Side, out.Unit, mean, math.Sqrt(common*common+spread), n)
	p.Common, p.Lasting, p.Note = common, lasting/weight, out.Note
	if out.Class != "" {
		p.Class, p.Classes = Classify(p.Value, p.SD)
	}
	if out.Name == "step_time_asymmetry" {
		p.Low = math.Max(p.Low, 0)
	}
	return p
}

// refusal is the first reason why a measure can't be had.
func refusal(passes []Pass, def Def, s form.Side) (form.Refusal, bool) {
	for _, near := range []bool{true, false} {
		for _, p := range passes {
			for _, r := range p.Refused {
				if r.Name == def.Name && r.Side == s && (p.Near == s || !near) {
					return r, true
				}
			}
		}
	}
	return form.Refusal{}, false
}

// likeSpeed is how far, relative, passes may differ in speed and still be
// called alike (the project's own rule for comparing two checks).
const likeSpeed = 0.05

// speedNotes says where the passes are not of one speed.
func speedNotes(passes []Pass) []string {
	low, high := math.Inf(1), 0.0
	for _, p := range passes {
		if p.SpeedMS > 0 {
			low, high = math.Min(low, p.SpeedMS), math.Max(high, p.SpeedMS)
		}
	}
	if !(high > low*(1+likeSpeed)) {
		return nil
	}
	return []string{fmt.Sprintf("The passes were run at unlike speeds, %.1f to %.1f km/h. Cadence, contact time and landing change with speed, so their means belong to none of them: let the runner pass at one even pace.", 3.6*low, 3.6*high)}
}

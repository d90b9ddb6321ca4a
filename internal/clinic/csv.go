package clinic

import (
	"encoding/csv"
	"fmt"
	"io"
	"strconv"
)

// WriteCSV writes the report as a table (RFC 4180), a row an estimate: what it
// is of, the number, its 95 % interval and how many runners it rests on.
func (r Report) WriteCSV(w io.Writer) error {
	out := csv.NewWriter(w)
	out.UseCRLF = true
	number := func(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }
	row := func(area, what, measure, unit string, e *Estimate) {
		if e != nil {
			_ = out.Write([]string{area, what, measure, unit, number(e.Value), number(e.Low), number(e.High), strconv.Itoa(e.N)}) // Error tells
		}
	}
	_ = out.Write([]string{"area", "what", "measure", "unit", "value", "low_95", "high_95", "runners"})
	for _, a := range r.Areas {
		for _, n := range []struct {
			what string
			n    *int
		}{{"started", &a.Started}, {"due", a.Due}, {"came_back", a.Back}} {
			if n.n != nil {
				_ = out.Write([]string{a.Area, n.what, "", "runners", strconv.Itoa(*n.n), "", "", strconv.Itoa(*n.n)})
			}
		}
		row(a.Area, "returned", "", "%", a.Returned)
		for _, c := range a.Changes {
			direction := "less"
			if c.More {
				direction = "more"
			}
			name := c.Measure.Name + " " + direction
			row(a.Area, "change_as_seen", name, c.Measure.Unit, &c.Seen)
			row(a.Area, "change", name, c.Measure.Unit, c.Own)
			row(a.Area, "change_of_others", name, c.Measure.Unit, c.Others)
		}
		row(a.Area, "change_of_all_measures", "", "SD", a.Pooled)
		row(a.Area, "change_if_the_missing_did_not_change", "", "SD", a.IfUnchanged)
		row(a.Area, "in_band", "", "%", a.InBand)
		row(a.Area, "learnt", "", "%", a.Learnt)
		row(a.Area, "missing_lay_further_out", "", "SD", a.Missing)
	}
	for _, d := range r.Drills {
		row("", "more_change_with_drill", d.Drill, "SD", &d.MoreSD)
	}
	for _, l := range r.Lengths {
		row("", "change_with_plan_of_weeks", strconv.Itoa(l.Weeks), "SD", &l.Change)
	}
	out.Flush()
	if err := out.Error(); err != nil {
		return fmt.Errorf("the clinic's table: %w", err)
	}
	return nil
}

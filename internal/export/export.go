// Package export takes everything that is kept about runners, one after the
// other, and gives it as open files: one JSON object a runner, and tables in
// CSV (RFC 4180, UTF-8) over all of them, each with a line of headings. Texts
// in the tables can't begin a spreadsheet's formula (package roster tells
// how); numbers stand in SI units, with a point, and times in UTC (RFC 3339).
package export

import (
	"fmt"
	"strconv"
	"strings"
	"time"

	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// File is one file of an export.
type File struct {
	Name    string
	Content []byte
}

// table is a table that grows.
type table struct {
	name string
	text strings.Builder
}

// Export gathers runners.
type Export struct {
	tables  []*table
	classes map[string]bool
}

// The tables with their headings, in the order in which they are listed.
var headings = []struct {
	name  string
	cells string
}{
	{"runners", "runner_id,name,contact,birth_year,height_m,mass_kg,sex,paces,shoes,goals,health_asked,health_yes,health_note,made,changed"},
	{"classes", "class_id,title,date,place,capacity,coach,note,keep_days,made,changed"},
	{"attendance", "class_id,runner_id,presence,place,since"},
	{"consents", "consent_id,runner_id,film,pictures,faces,shown_to_helpers,shown_to_runner,keep_days,given_by,guardian,stated_of_age,words,given,withdrawn"},
	{"checks", "check_id,runner_id,class_id,kind,state,refusal,area,reason,made,measured"},
	{"measures", "check_id,runner_id,made,name,side,unit,value,sd,low,high,n"},
	{"decisions", "decision_id,check_id,by_kind,by_id,area,proposed,reason,at"},
	{"plans", "plan_id,runner_id,check_id,made,changed"},
	{"notes", "note_id,runner_id,check_id,by_kind,by_id,text,made,changed"},
	{"messages", "message_id,runner_id,kind,state,recipient,subject,body,reason,by_kind,by_id,made,ended"},
	{"activities", "activity_id,runner_id,start,digest,made"},
	{"files", "file_id,runner_id,class_id,check_id,kind,name,file,sha256,bytes,filmed,made,keep_until,gone"},
	{"trail", "entry_id,at,who_kind,who_id,action,kind,subject,runner_id"},
}

// New begins an export.
func New() *Export {
	x := &Export{classes: map[string]bool{}}
	for _, h := range headings {
		t := &table{name: h.name}
		roster.WriteRow(&t.text, strings.Split(h.cells, ","))
		x.tables = append(x.tables, t)
	}
	return x
}

// row adds a line: texts are armed, numbers, truths and times written as they
// are.
func (x *Export) row(name string, cells ...any) {
	for _, t := range x.tables {
		if t.name != name {
			continue
		}
		texts := make([]string, len(cells))
		for i, c := range cells {
			texts[i] = cell(c)
		}
		roster.WriteRow(&t.text, texts)
		return
	}
	panic("export: no table " + name)
}

func cell(c any) string {
	switch c := c.(type) {
	case string:
		return roster.Armed(c)
	case int:
		return strconv.Itoa(c)
	case int64:
		return strconv.FormatInt(c, 10)
	case float64:
		return strconv.FormatFloat(c, 'g', -1, 64)
	case bool:
		return strconv.FormatBool(c)
	case time.Time:
		if c.IsZero() {
			return ""
		}
		return c.UTC().Format(time.RFC3339)
	case *time.Time:
		if c == nil {
			return ""
		}
		return cell(*c)
	}
	panic(fmt.Sprintf("export: a cell of %T", c))
}

// stated is a number that 0 means was not stated.
func stated(n float64) any {
	if n == 0 {
		return ""
	}
	return n
}

// Add adds a runner to the tables, and gives the runner's own file. named
// gives the name under which a file of the runner lies in the export.
func (x *Export) Add(e store.Everything, named func(store.Footage) string) (File, error) {
	x.person(e)
	x.looks(e)
	for _, p := range e.Plans {
		x.row("plans", p.ID, p.RunnerID, p.CheckID, p.Made, p.Changed)
	}
	for _, n := range e.Notes {
		x.row("notes", n.ID, n.RunnerID, n.CheckID, n.By.Kind, n.By.ID, n.Text, n.Made, n.Changed)
	}
	for _, m := range e.Messages {
		x.row("messages", m.ID, m.RunnerID, m.Kind, string(m.State), m.Recipient, m.Subject, m.Body, m.Reason, m.By.Kind, m.By.ID, m.Made, m.Ended)
	}
	for _, a := range e.Activities {
		x.row("activities", a.ID, a.RunnerID, a.Start, a.Digest, a.Made)
	}
	for _, f := range e.Footage {
		x.row("files", f.ID, f.RunnerID, f.ClassID, f.CheckID, string(f.Kind), f.Name, named(f), f.SHA256, f.Bytes, f.Filmed, f.Made, f.KeepUntil, f.Gone)
	}
	for _, t := range e.Trail {
		x.row("trail", t.ID, t.At, t.Who.Kind, t.Who.ID, t.Action, string(t.Kind), t.Subject, t.RunnerID)
	}
	object, err := e.JSON()
	return File{"runners/" + e.Runner.ID + ".json", object}, err
}

// person adds who the runner is, where they were and what they agreed to.
func (x *Export) person(e store.Everything) {
	r := e.Runner
	var paces, yes []string
	for _, p := range r.Paces {
		paces = append(paces, strings.TrimSpace(p.Name+" "+strconv.FormatFloat(p.SpeedMS, 'g', -1, 64)+"m/s"))
	}
	for _, reason := range r.Health.Yes {
		yes = append(yes, string(reason))
	}
	x.row("runners", r.ID, r.Name, r.Contact, stated(float64(r.BirthYear)), stated(r.HeightM), stated(r.MassKg), string(r.Sex), strings.Join(paces, " | "),
		r.Shoes, r.Goals, r.Health.Asked, strings.Join(yes, " | "), r.HealthNote, r.Made, r.Changed)
	for _, c := range e.Classes {
		if !x.classes[c.ID] {
			x.classes[c.ID] = true
			x.row("classes", c.ID, c.Title, c.Date.Time().Format(time.DateOnly), c.Place, c.Capacity, c.Coach, c.Note, c.Days(), c.Made, c.Changed)
		}
	}
	for _, a := range e.Attendance {
		x.row("attendance", a.ClassID, a.RunnerID, string(a.Presence), a.Place, a.Since)
	}
	for _, c := range e.Consents {
		x.row("consents", c.ID, c.RunnerID, c.Film, c.Pictures, c.Faces, c.Shown.Helpers, c.Shown.Runner, c.KeepDays, c.GivenBy, c.Guardian, c.StatedOfAge, c.Words, c.Given, c.Withdrawn)
	}
}

// looks adds the checks with what was measured and decided.
func (x *Export) looks(e store.Everything) {
	for _, c := range e.Checks {
		area, reason := "", ""
		if c.Decision != nil {
			area, reason = c.Decision.Area, c.Decision.Reason
		}
		x.row("checks", c.ID, c.RunnerID, c.ClassID, string(c.Kind), string(c.State), c.Refusal, area, reason, c.Made, c.Measured)
	}
	for _, m := range e.Measures {
		x.row("measures", m.CheckID, e.Runner.ID, m.Made, m.Name, m.Side.String(), m.Unit, m.Value, m.SD, m.Low, m.High, m.N)
	}
	for _, d := range e.Decisions {
		x.row("decisions", d.ID, d.CheckID, d.By.Kind, d.By.ID, d.Area, d.Proposed, d.Reason, d.At)
	}
}

// Tables gives the tables over all runners that were added.
func (x *Export) Tables() []File {
	var out []File
	for _, t := range x.tables {
		out = append(out, File{t.name + ".csv", []byte(t.text.String())})
	}
	return out
}

package web

import (
	"plumbstride/internal/roster"
)

// classesPage is the list of evenings.
type classesPage struct {
	Tonight, Coming, Past []roster.Class
	May                   bool
	Form                  answers
	Open                  bool
}

// classes lists the evenings.
func (v *visit) classes() error {
	p, err := v.classesPage()
	if err != nil {
		return err
	}
	return v.show("classes", v.words.Say("Classes"), p)
}

func (v *visit) classesPage() (p classesPage, err error) {
	all, err := v.Classes(v.ctx())
	if err != nil {
		return p, err
	}
	today := v.today()
	for _, c := range all {
		switch day := c.Date.Time(); {
		case c.Date == today:
			p.Tonight = append(p.Tonight, c)
		case day.After(today.Time()):
			p.Coming = append([]roster.Class{c}, p.Coming...)
		default:
			p.Past = append(p.Past, c)
		}
	}
	p.May = v.may(roster.Add, roster.ClassKind)
	p.Form = answers{"date": today.String()}
	p.Open = len(all) == 0
	return p, nil
}

// addClass makes a new evening.
func (v *visit) addClass() error {
	f := v.read("title", "date", "place", "capacity", "coach", "keep_days", "note")
	c, err := classOf(f, roster.Class{})
	if err == nil {
		c, err = v.AddClass(v.ctx(), c)
	}
	if err != nil {
		p, listErr := v.classesPage()
		if listErr != nil {
			return listErr
		}
		p.Form, p.Open = f, true
		return v.again(err, "classes", v.words.Say("Classes"), p)
	}
	return v.seeOther("/class/" + c.ID)
}

// classOf puts a form's fields into a class.
func classOf(f answers, c roster.Class) (_ roster.Class, err error) {
	c.Title, c.Place, c.Coach, c.Note = f["title"], f["place"], f["coach"], f["note"]
	if c.Date, err = dateOf(f["date"]); err != nil {
		return c, err
	}
	if c.Capacity, err = wholeOf(f["capacity"], "how many runners fit", 1, roster.MaxCapacity); err != nil {
		return c, err
	}
	if c.KeepDays, err = wholeOf(f["keep_days"], "how many days clips are kept", 1, roster.MaxKeepDays); err != nil {
		return c, err
	}
	return c.Clean()
}

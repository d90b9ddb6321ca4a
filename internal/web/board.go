package web

import (
	"bytes"

	"plumbstride/internal/card"
	"plumbstride/internal/paper"
	"plumbstride/internal/roster"
)

// boardPage is the class on one screen.
type boardPage struct {
	Class              roster.Class
	Waits, Now, Ready  []row
	Tally              []paper.AreaCount
	Nothing, Undecided int
	Coach              bool
}

// board shows it.
func (v *visit) board() error {
	b, err := v.boardOf()
	if err != nil {
		return err
	}
	return v.show("board", v.words.Say("The board"), b)
}

func (v *visit) boardOf() (b boardPage, err error) {
	b = boardPage{Class: v.class, Coach: v.may(roster.Export, roster.ClassKind)}
	rows, err := v.rows()
	if err != nil {
		return b, err
	}
	count := map[string]int{}
	for _, r := range rows {
		switch r.State {
		case ready:
			b.Ready = append(b.Ready, r)
			if r.Area == "" {
				b.Nothing++
			} else {
				count[r.Area]++
			}
			if !r.Decided {
				b.Undecided++
			}
		case measuring, sending, inLine:
			b.Now = append(b.Now, r)
		default:
			if r.Presence != roster.Gone {
				b.Waits = append(b.Waits, r)
			}
		}
	}
	for _, a := range card.AreaNames() {
		b.Tally = append(b.Tally, paper.AreaCount{Area: a, Runners: count[a]})
	}
	return b, nil
}

// boardNews sends the board anew.
func (v *visit) boardNews() error {
	return v.live(func() (string, bool, error) {
		b, err := v.boardOf()
		if err != nil {
			return "", false, err
		}
		html, err := v.part("board", "columns", b)
		return html, false, err
	})
}

// summary is the class on paper, without a name.
func (v *visit) summary() error {
	b, err := v.boardOf()
	if err != nil {
		return err
	}
	s := paper.ClassSummary{
		Title: classPage{Class: v.class}.title(v.words), Day: v.words.Weekday(v.class.Date.Time()), Place: v.class.Place, Areas: b.Tally, Nothing: b.Nothing,
		Undecided: b.Undecided, Unmeasured: len(b.Waits) + len(b.Now), Program: v.site.Program, Made: v.site.Now(), Page: v.site.Page, Words: v.words,
	}
	var out bytes.Buffer
	if err := paper.ClassPDF(&out, s); err != nil {
		return err
	}
	return v.file("application/pdf", "class.pdf", out.Bytes())
}

package judge

import (
	"fmt"
	"math"
	"slices"
	"strings"

	"plumbstride/internal/form"
)

// State is how an area stands.
type State string

// The states of an area.
const (
	// Fine: inside its bands, or outside by too little to matter.
	Fine State = "fine"
	// Look: outside a band surely and far enough to be worth working on.
	Look State = "look"
	// Unsure: it may be outside, and the clip can't tell.
	Unsure State = "unsure"
	// Unknown: nothing of it could be measured.
	Unknown State = "unknown"
)

// Area is one of the six areas, how it stands, and why in one sentence.
type Area struct {
	Name  string
	State State
	Why   string
}

// Verdict is the judgement of one check.
type Verdict struct {
	// Areas are the six areas in a fixed order.
	Areas []Area
	// Priority is the one area to work on first; nil where nothing needs
	// changing, something hurts, or the clip has to be filmed again.
	Priority *string
	// Why is two plain sentences for coach and runner.
	Why string
	// FilmAgain tells that too little could be judged to choose.
	FilmAgain bool
	// Tie tells that another answer would be about as sound; else empty.
	Tie string
	// Cautions always go with the verdict (see Cautions).
	Cautions []string
}

// minAreas is how many of the six areas must be measured finely enough before
// one is put first, and clear before nothing is: half (our own choice).
const minAreas = 3

// Judge weighs the measures, each with its Band set (see WithBands), and
// gives the verdict; refused tells why others are missing. ctx is what the
// bands were taken for and appears in the words alone. The same input gives
// the same verdict, in whatever order the measures come.
func Judge(measures []form.Measure, refused []form.Refusal, ctx Context) Verdict {
	ordered := slices.Clone(measures)
	slices.SortStableFunc(ordered, func(a, b form.Measure) int {
		return int(a.Side) - int(b.Side)
	})
	found := find(ordered)
	for i := range found {
		found[i].row.inches = ctx.Inches && found[i].row.Unit == "cm"
	}
	tallies := weigh(found)
	v := Verdict{Cautions: cautionTexts()}
	var clear, doubtful []string
	measured := 0
	for _, t := range tallies {
		a := Area{Name: t.name, State: t.state()}
		a.Why = t.why(a.State, refused)
		v.Areas = append(v.Areas, a)
		if t.measurable() {
			measured++
		}
		if a.State == Fine || a.State == Look {
			clear = append(clear, a.Name)
		} else {
			doubtful = append(doubtful, a.Name)
		}
	}
	first, second := rank(tallies)
	switch {
	case ctx.Pain:
		v.Why = painWhy
	case measured < minAreas || (first == nil && len(clear) < minAreas):
		v.FilmAgain = true
		v.Why = filmAgainWhy(tallies, v.Areas, len(clear), refused)
	case first == nil:
		v.Why = nothingWhy(doubtful, ctx)
		v.Tie = almostTie(tallies, len(clear))
	default:
		v.Priority = &first.name
		v.Why = first.priorityWhy()
		v.Tie = tie(first, second)
	}
	return v
}

// painWhy stands in the place of a priority while something hurts.
const painWhy = "Pain comes first: nothing is put first to work on while something hurts. Let a doctor or physiotherapist look at it before anything about the running is changed."

// rank gives the first two of the areas to look at, by score; equal scores
// stay in the order of areas.
func rank(tallies [len(areas)]tally) (first, second *tally) {
	for i := range tallies {
		t := &tallies[i]
		switch {
		case t.state() != Look:
		case first == nil || t.score > first.score:
			first, second = t, first
		case second == nil || t.score > second.score:
			second = t
		}
	}
	return first, second
}

// state is how the area stands on its own, before anything is pulled.
func (t tally) state() State {
	top, ok := t.top()
	if !ok {
		return Unknown
	}
	maybe, doubt := 0.0, false
	for _, f := range t.findings {
		maybe = math.Hypot(maybe, f.maybe)
		doubt = doubt || (f.likely >= notInside && f.could >= 2*worth && f.excess < worth)
	}
	switch {
	case t.own >= worth && top.outside > 0:
		return Look
	case maybe >= worth || doubt || !t.measurable():
		return Unsure
	default:
		return Fine
	}
}

// measurable tells whether anything of the area was measured finely enough to be
// judged.
func (t tally) measurable() bool {
	return slices.ContainsFunc(t.findings, func(f finding) bool { return !f.wide })
}

func (t tally) why(state State, refused []form.Refusal) string {
	switch top, _ := t.top(); state {
	case Look:
		if len(t.movedTo) > 0 {
			return fmt.Sprintf("%s, which often goes with the %s.", top.seen(), and(t.movedTo))
		}
		return top.seen() + "."
	case Unsure:
		if f, ok := t.doubtful(); ok {
			return fmt.Sprintf("Too unsure to tell: %s is %s, give or take %s, against a band %s.",
				lowerFirst(f.row.Title), f.row.number(f.lead.Value, f.lead.Unit),
				f.row.number(f.lead.High-f.lead.Value, f.lead.Unit), f.row.ends(*f.lead.Band))
		}
		return "Too unsure to tell."
	case Unknown:
		if reason := reasonFor(t.name, refused); reason != "" {
			return fmt.Sprintf("Not measured: %s.", reason)
		}
		return "Not measured in this clip."
	default:
		if t.own > 0 {
			return "Just outside its band, by too little to work on."
		}
		if len(t.findings) == 1 {
			return fmt.Sprintf("Inside its band: %s at %s.", lowerFirst(top.row.Title), top.row.number(top.lead.Value, top.lead.Unit))
		}
		return "Inside its bands, or so close that it makes no difference."
	}
}

// doubtful is the finding that might be furthest outside.
func (t tally) doubtful() (f finding, ok bool) {
	for _, g := range t.findings {
		if g.direction().Says != "" && (!ok || g.could > f.could) {
			f, ok = g, true
		}
	}
	return f, ok
}

// seen tells what was found with its number, without a full stop.
func (f finding) seen() string {
	says := f.direction().Says
	if f.oneSided {
		says = fmt.Sprintf("%s, on the %s", says, f.lead.Side)
	}
	return fmt.Sprintf("%s: %s against a band %s", says,
		f.row.number(f.lead.Value, f.lead.Unit), f.row.ends(*f.lead.Band))
}

// priorityWhy is two sentences: what was seen, and what to practise.
func (t tally) priorityWhy() string {
	top, _ := t.top()
	do := top.direction().Do
	switch len(t.follows) {
	case 0:
	case 1:
		do = fmt.Sprintf("%s; the %s often goes with it, so look at that again afterwards", do, t.follows[0])
	default:
		do = fmt.Sprintf("%s; the %s often go with it, so look at those again afterwards", do, and(t.follows))
	}
	return top.seen() + ". " + do + "."
}

func tie(first, second *tally) string {
	if second != nil && second.score >= even*first.score {
		return fmt.Sprintf("%s and %s come out about even: to begin with either is sound.",
			upperFirst(first.name), second.name)
	}
	if first.own < justWorth*worth {
		return fmt.Sprintf("%s is only just far enough outside its band to be worth working on: to change nothing is as sound.",
			upperFirst(first.name))
	}
	return ""
}

// almostTie tells that nothing was chosen by a little: an area is almost
// outside, or just enough areas are clear.
func almostTie(tallies [len(areas)]tally, clear int) string {
	for _, t := range tallies {
		if t.own >= even*worth {
			return fmt.Sprintf("%s is almost far enough outside its band to be worth working on: to begin there would be as sound.",
				upperFirst(t.name))
		}
	}
	if clear == minAreas {
		return fmt.Sprintf("Only %d of the %d areas are clear: to film again would be as sound.", clear, len(areas))
	}
	return ""
}

func nothingWhy(doubtful []string, ctx Context) string {
	text := "Nothing here needs changing: what could be judged lies inside its bands or close to them."
	if ctx.SpeedMS > 0 {
		text = "Nothing here needs changing: what could be judged lies inside its bands or close to them at this speed."
	}
	if len(doubtful) > 0 {
		return text + " " + fmt.Sprintf("This clip can't tell about %s.", and(doubtful))
	}
	return text + " Keep running as it is, and check again when something has changed."
}

func filmAgainWhy(tallies [len(areas)]tally, judged []Area, clear int, refused []form.Refusal) string {
	because := ""
	for i, a := range judged {
		if a.State != Unknown && a.State != Unsure {
			continue
		}
		if because = reasonFor(a.Name, refused); because != "" {
			break
		}
		if f, ok := tallies[i].doubtful(); ok && f.wide {
			because = fmt.Sprintf("the %s came out too uncertain", a.Name)
			break
		}
	}
	const how = " Film from the side, at hip height, with the whole body in the picture for ten seconds and in good light."
	switch {
	case clear == 0 && because == "":
		return "Film again, because nothing could be judged." + how
	case clear == 0:
		return fmt.Sprintf("Film again, because nothing could be judged: %s.", because) + how
	case because == "":
		return fmt.Sprintf("Film again, because only %d of the %d areas could be judged.", clear, len(areas)) + how
	default:
		return fmt.Sprintf("Film again, because only %d of the %d areas could be judged: %s.", clear, len(areas), because) + how
	}
}

// reasonFor is the reason of the first refusal, by the order of Rows, of a
// judged measure of the area, as part of a sentence.
func reasonFor(area string, refused []form.Refusal) string {
	for _, r := range Rows() {
		if r.Area != area || !r.Judged() {
			continue
		}
		for _, no := range refused {
			if no.Name == r.Measure && strings.TrimSpace(no.Reason) != "" {
				return lowerFirst(strings.ReplaceAll(strings.TrimRight(strings.TrimSpace(no.Reason), "."), ". ", "; "))
			}
		}
	}
	return ""
}

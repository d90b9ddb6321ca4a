package tempo

import (
	"fmt"
	"strings"

	"plumbstride/internal/words"
)

// Line is a line of the schedule in words.
type Line struct {
	// AtMS is where it begins.
	AtMS int64
	Text string
}

// Schedule gives the plan in words, a line a part.
func (p Plan) Schedule() []Line {
	var out []Line
	at := int64(0)
	for _, part := range p.Parts {
		out = append(out, Line{at, part.words()})
		at += part.MS
	}
	return out
}

func (p Part) words() string {
	switch p.Kind {
	case CountIn:
		return fmt.Sprintf("count-in at %s steps/min", p.From)
	case Steps:
		if p.From != p.To {
			return fmt.Sprintf("from %s to %s steps/min in %s", p.From, p.To, Clock(p.MS))
		}
		return fmt.Sprintf("%s steps/min for %s", p.From, Clock(p.MS))
	case Quiet:
		return fmt.Sprintf("silence for %s: keep the cadence alone", Clock(p.MS))
	default:
		return map[Signal]string{
			Start: "signal: the track begins", End: "signal: the track ends", Next: "signal: the next cadence follows",
			Off: "signal: the tempo falls silent", On: "signal: the tempo comes back",
		}[p.Signal]
	}
}

// Clock writes milliseconds as minutes and seconds, "12:30", with tenths
// where there are any ("0:02.5"), cut off and not rounded.
func Clock(ms int64) string {
	s := fmt.Sprintf("%d:%02d", ms/60_000, ms/1000%60)
	if tenths := ms / 100 % 10; tenths != 0 {
		s += fmt.Sprintf(".%d", tenths)
	}
	return s
}

// maxCommentLines is how many lines of the schedule a comment holds.
const maxCommentLines = 60

// Comment gives the schedule on one line, for a file's tag.
func (p Plan) Comment() string { return p.CommentIn(words.Book{}) }

// CommentIn is Comment in a book's language.
func (p Plan) CommentIn(b words.Book) string {
	lines := p.Schedule()
	var said []string
	for i, l := range lines {
		if i == maxCommentLines {
			said = append(said, b.Say("and so on, %d parts in all", len(lines)))
			break
		}
		said = append(said, Clock(l.AtMS)+" "+b.Of(l.Text))
	}
	return p.Pattern + ": " + strings.Join(said, "; ")
}

// title names a track by what it does.
func (a Ask) title() string {
	p := a.Pattern
	switch p.Shape {
	case Ladder:
		return fmt.Sprintf("Ladder on the spot, %s to %s steps/min", p.Rungs[0], p.Rungs[len(p.Rungs)-1])
	case StepUp:
		return fmt.Sprintf("Step-up, %s to %s steps/min, %s min", a.Own, a.Target, minutes(a.LengthMS))
	case OnOff:
		return fmt.Sprintf("On and off, %s steps/min, %s min", a.Target, minutes(a.LengthMS))
	case Fading:
		return fmt.Sprintf("Fading tempo, %s steps/min, %s min", a.Target, minutes(a.LengthMS))
	default:
		return fmt.Sprintf("Steady tempo, %s steps/min, %s min", a.Target, minutes(a.LengthMS))
	}
}

// minutes writes milliseconds, which are a whole number of thousandths of a
// minute wherever ParseMinutes made them, as minutes.
func minutes(ms int64) string { return decimal(ms / 60) }

// cautions are what must be said with the track.
func (a Ask) cautions() []string {
	out := []string{
		"Pain means stop. If it hasn't settled by the next day, or comes back, see a doctor or a physiotherapist.",
		"Keep your ears open: near traffic and other people, one ear free and the track turned low, or run without it.",
		"Change one thing at a time, slowly, over weeks, on easy runs and familiar ground.",
		"If you come to land further forward on the foot, calf and Achilles tendon carry more; go gently.",
	}
	switch {
	case a.Pattern.Shape == Ladder:
		out = append(out, "This ladder is for stepping on the spot. It is no cadence to run at.")
	case a.Own == 0:
		out = append(out, "The runner's own cadence was not stated, so nobody has checked how large a change this is.")
	default:
		out = append(out, a.stepCautions()...)
	}
	return append(out, "A tempo track is an aid to practice. It is no medical device and gives no advice on injuries.")
}

func (a Ask) stepCautions() []string {
	var out []string
	from := a.Own
	for _, to := range a.levels() {
		if larger(from, to) {
			out = append(out, fmt.Sprintf("From %s to %s steps/min is a step of more than %d %%, by the coach's decision.", from, to, MaxStepPct))
		}
		from = to
	}
	if d := a.Target - a.Own; 10*max(d, -d) > a.Own {
		out = append(out, fmt.Sprintf("In all this is a change of %+.0f %%; the changes that have been studied well end at 10 %%.", float64(d)/float64(a.Own)*100))
	}
	return out
}

package tempo

import "plumbstride/internal/form"

// turn is a stretch with the tempo on or off.
type turn struct {
	on bool
	ms int64
}

// onOffTurns cuts the length into turns, the first of them on. What is left
// at the end and shorter than a turn may be belongs to the turn before it.
func onOffTurns(p Pattern, lengthMS int64) []turn {
	var out []turn
	for left, on := lengthMS, true; left > 0; on = !on {
		ms := p.OffMS
		if on {
			ms = p.OnMS
		}
		if left-ms < minTurnMS {
			ms = left
		}
		out = append(out, turn{on, ms})
		left -= ms
	}
	return out
}

// fadingTurns cuts the length into p.Count equal parts (about five minutes
// each where that is left open, but from three to twelve of them). With n
// parts, part i = 0…n−1 begins with the tempo on for the share
//
//	first + (last − first)·i/(n−1)
//
// of its time and ends in silence. Silence shorter than its signals need is
// left out, and so is a tempo shorter than ten seconds. It sets p.Count.
func fadingTurns(p *Pattern, lengthMS int64) ([]turn, error) {
	if p.Count == 0 {
		p.Count = int(min(max((lengthMS+fadingPartMS/2)/fadingPartMS, 3), 12))
	}
	n := int64(p.Count)
	if lengthMS/n < minFadingPartMS {
		return nil, form.UsageError("%s is too short for a fading track in %d parts of %s at least; make it longer, or the parts fewer", span(lengthMS), n, span(minFadingPartMS))
	}
	var out []turn
	add := func(on bool, ms int64) {
		if last := len(out) - 1; last >= 0 && out[last].on == on {
			out[last].ms += ms
		} else if ms > 0 {
			out = append(out, turn{on, ms})
		}
	}
	for i := range n {
		part := lengthMS*(i+1)/n - lengthMS*i/n
		on := part * (int64(p.FirstPct)*(n-1) - int64(p.FirstPct-p.LastPct)*i) / (100 * (n - 1))
		switch {
		case part-on < shortestQuietMS:
			on = part
		case on < minTurnMS:
			on = 0
		}
		add(true, on)
		add(false, part-on)
	}
	if !out[0].on {
		return nil, form.UsageError("the first part of this fading track would be silent; begin with a larger share than %d%%", p.FirstPct)
	}
	return out, nil
}

// turns plays turns at one cadence. A quiet turn begins with a signal and,
// where the tempo comes back, ends with one.
func (b *builder) turns(c Cadence, turns []turn) {
	for i, t := range turns {
		if t.on {
			b.steps(c, c, t.ms)
			continue
		}
		quiet := t.ms - turnMS
		b.signal(Off, turnMS)
		if i == len(turns)-1 {
			b.add(Part{Kind: Quiet, MS: quiet})
			continue
		}
		b.add(Part{Kind: Quiet, MS: quiet - turnMS})
		b.signal(On, turnMS)
	}
}

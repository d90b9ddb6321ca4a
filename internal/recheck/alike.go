package recheck

import (
	"fmt"
	"math"
	"slices"

	"plumbstride/internal/card"
)

// terms is how two checks may be compared.
type terms struct {
	pace
	// returns is Returns where both were filmed alike, else 0.
	returns float64
	// heights is by what share the stated heights differ, 0 where hardly:
	// lengths don't share their scale then.
	heights float64
	ground  bool // over ground
	oneDay  bool
	notes   []string
}

// unlike says why two checks can't be compared at all, "" where they can.
func unlike(before, after card.Card) string {
	kind := func(c card.Card) card.Kind {
		if c.Kind == "" {
			return card.Running
		}
		return c.Kind
	}
	view := func(c card.Card) string {
		if c.Clip.View == "" {
			return "side"
		}
		return c.Clip.View
	}
	switch b, a := before.Clip, after.Clip; {
	case oneClip(before, after):
		return "Both checks are of one clip, read twice, and tell nothing of a change. Film the runner again."
	case kind(before) != kind(after):
		return "One check is of a run and the other of somebody standing: they can't be compared. Film the same again."
	case (b.Samples > 0) != (a.Samples > 0):
		return "One check is of a clip and the other of an accelerometer's recording: they can't be compared. Record the same way again."
	case b.Gait != a.Gait:
		return "One recording is of a run and the other of a walk: they can't be compared. Record the same again."
	case view(before) != view(after):
		return "The two checks were filmed from different sides of the body (side, front or back): they can't be compared. Film from the same side again."
	case b.Setting != a.Setting && b.Setting != "" && a.Setting != "":
		return "One check is on a treadmill and the other over ground or on the spot: running differs between them by itself, so they can't be compared. Film where the first clip was filmed."
	default:
		return ""
	}
}

// oneClip tells whether two checks are of one clip: as many frames over the same
// time, and its cadence, or each number where there is none, the same to the
// last digit: another height or speed may have been stated. A check's time is
// when it was made, so that it doesn't tell.
func oneClip(a, b card.Card) bool {
	if a.Clip.Frames+a.Clip.Samples == 0 || a.Clip.Frames != b.Clip.Frames || a.Clip.Samples != b.Clip.Samples || a.Clip.DurationS != b.Clip.DurationS || len(a.Measures) == 0 {
		return false
	}
	equal := func(x, y card.Measure) bool {
		return same(x, y) && x.Value == y.Value && x.SD == y.SD && x.N == y.N
	}
	for _, m := range a.Measures {
		if m.Name == "cadence" {
			other, ok := match(b, m)
			return ok && equal(m, other)
		}
	}
	return slices.EqualFunc(a.Measures, b.Measures, equal)
}

// oneDayHours is how near two checks must lie to be of one day.
const oneDayHours = 12

// termsOf says how two checks that can be compared may be, and what the
// coach must know of it.
func termsOf(before, after card.Card) terms {
	t := terms{returns: Returns, ground: after.Clip.Setting == overGround}
	t.oneDay = math.Abs(after.Made.Sub(before.Made).Hours()) < oneDayHours
	apart := func(note string) {
		t.returns = 0
		t.notes = append(t.notes, note)
	}
	switch {
	case before.Clip.Samples > 0: // the same device or not: nothing was told apart
	case len(before.Networks) == 0 || len(after.Networks) == 0:
		apart("The points of a check come from elsewhere, so that what their maker adds is taken as different each time: only larger changes can be told.")
	case !sameNetworks(before.Networks, after.Networks):
		apart("The two checks were read by different networks: what these add doesn't fall out, so only larger changes can be told. Check the first clip again with today's networks.")
	}
	if before.Clip.Facing != after.Clip.Facing {
		apart("The runner turned another side to the camera: left and right are seen differently well, so only larger changes can be told. Film the same side again.")
	}
	if b, a := before.Runner.HeightM, after.Runner.HeightM; b > 0 && a > 0 && math.Abs(b-a) > 0.005*b {
		t.heights = math.Abs(b-a) / b
		t.notes = append(t.notes, "Two different heights were stated: lengths in one check are larger by that alone. State the same height.")
	}
	if t.pace = paceOf(before, after, t.returns); t.heights > 0 && t.ground {
		t.pace = paceOf(before, after, 0) // over ground speed has the height's scale
	}
	if t.apart() > likeSpeed {
		t.notes = append(t.notes, fmt.Sprintf("The speeds differ by %.0f %%: what goes with speed by a published slope is adjusted for it, with its uncertainty, and what can't be is left out.", 100*t.apart()))
	}
	if !t.still && !t.known() && before.Clip.Samples == 0 {
		t.notes = append(t.notes, "The speed of a check is not known: nothing is adjusted for it.")
	}
	if t.oneDay {
		t.notes = append(t.notes, "Both checks are of one day: this tells what a cue or a shoe does now, not what is learnt.")
	}
	return t
}

// sameNetworks tells whether the same networks, by name and hash, found the
// points.
func sameNetworks(a, b []card.Network) bool {
	key := func(list []card.Network) []string {
		var out []string
		for _, n := range list {
			if n.Name != "runtime" {
				out = append(out, n.Name+" "+n.SHA256)
			}
		}
		slices.Sort(out)
		return slices.Compact(out)
	}
	return slices.Equal(key(a), key(b))
}

package roster

import (
	"fmt"
	"testing"
)

// TestNobodyElse: whatever is asked, a link never opens what belongs to
// another runner or another class, or to nobody; helpers never reach health,
// contact, notes, plans or the trail; nobody but a coach deletes footage,
// confirms or hands out links; unknown words are refused.
func TestNobodyElse(t *testing.T) {
	all := Audience{Helpers: true, Runner: true}
	for _, kind := range Kinds() {
		for _, action := range Actions() {
			for _, on := range []Resource{
				{Kind: kind, RunnerID: "b", ClassID: "2", Released: true, Shown: all},
				{Kind: kind, Released: true, Shown: all},
			} {
				what := fmt.Sprintf("%s %s of %q", action, kind, on.RunnerID)
				for _, actor := range []Actor{
					{Role: Own, RunnerID: "a"}, {Role: Own}, {Role: Invited, RunnerID: "a"}, {Role: Invited},
					{Role: Door, ClassID: "1"}, {Role: Door}, {Role: Stop, RunnerID: "a"}, {Role: Stop}, {Role: "guest"}, {},
				} {
					if May(actor, action, on) {
						t.Errorf("%s may %s", actor.Role, what)
					}
				}
			}
			on := Resource{Kind: kind, RunnerID: "a", ClassID: "1", Released: true, Shown: all}
			if May(Actor{Role: Stop, RunnerID: "a"}, action, on) && (kind != MessageKind || action != See && action != Change) {
				t.Errorf("a link that stops messages may %s %s", action, kind)
			}
			owner := action != See && action != Export
			if May(Actor{Role: Own, RunnerID: "a"}, action, on) && owner && (kind != ConsentKind || action != Delete) && (kind != PracticeKind || action != Add && action != Delete) {
				t.Errorf("a private link may %s %s; it only reads, takes consent back, and minds its own practice", action, kind)
			}
			if action == Confirm || action == Export || kind == HealthKind || kind == NoteKind || kind == MessageKind || kind == AuditKind || kind == AccountKind || kind == LinkKind || kind == PlanKind || kind == PracticeKind {
				if May(Actor{Role: Helper}, action, on) {
					t.Errorf("a helper may %s %s", action, kind)
				}
			}
		}
		if May(Actor{Role: Coach}, "burn", Resource{Kind: kind}) {
			t.Errorf("a coach may burn %s", kind)
		}
	}
	if May(Actor{Role: Coach}, See, Resource{Kind: "safe"}) {
		t.Error("a coach may see what isn't known")
	}
}

// TestMay holds the lines that matter to people.
func TestMay(t *testing.T) {
	link := Actor{Role: Own, RunnerID: "a"}
	helper, coach := Actor{Role: Helper}, Actor{Role: Coach}
	door, invited := Actor{Role: Door, ClassID: "1"}, Actor{Role: Invited, RunnerID: "a"}
	mine := func(kind Kind) Resource { return Resource{Kind: kind, RunnerID: "a"} }
	released := func(kind Kind, shown Audience) Resource {
		return Resource{Kind: kind, RunnerID: "a", Released: true, Shown: shown}
	}
	for _, tt := range []struct {
		who    Actor
		action Action
		on     Resource
		want   bool
	}{
		{link, See, mine(CheckKind), false}, // not before a coach has looked
		{link, See, released(CheckKind, Audience{}), true},
		{link, See, released(ClipKind, Audience{}), false},
		{link, See, released(ClipKind, Audience{Runner: true}), true},
		{link, See, Resource{Kind: ClipKind, RunnerID: "a", Shown: Audience{Runner: true}}, false},
		{link, Delete, mine(ConsentKind), true}, // withdraw any time
		{link, See, mine(NoteKind), false},
		{link, Add, mine(PracticeKind), true},
		{link, See, mine(PracticeKind), true},
		{link, See, Resource{Kind: PracticeKind, RunnerID: "b"}, false},
		{helper, See, mine(PracticeKind), false},
		{invited, Add, mine(PracticeKind), false},
		{link, Add, mine(ClipKind), false},
		{helper, Add, mine(ClipKind), true},
		{helper, Add, mine(RunnerKind), true},
		{helper, See, mine(HealthKind), false},
		{helper, See, mine(ContactKind), false},
		{helper, See, mine(ClipKind), false},
		{helper, See, Resource{Kind: ClipKind, Shown: Audience{Helpers: true}}, true},
		{helper, Delete, mine(RunnerKind), false},
		{coach, Delete, mine(RunnerKind), true},
		{coach, Confirm, mine(CheckKind), true},
		{coach, See, mine(ClipKind), true},
		{invited, Add, mine(ClipKind), true},
		{invited, Add, mine(ConsentKind), true},
		{invited, See, released(CheckKind, Audience{}), false},
		{door, Add, Resource{Kind: RunnerKind, ClassID: "1"}, true},
		{door, Add, Resource{Kind: ConsentKind, ClassID: "1"}, true},
		{door, See, Resource{Kind: RosterList, ClassID: "1"}, false},
		{door, See, Resource{Kind: AttendanceKind, ClassID: "1"}, false},
	} {
		if got := May(tt.who, tt.action, tt.on); got != tt.want {
			t.Errorf("%s %s %+v: %t", tt.who.Role, tt.action, tt.on, got)
		}
	}
}

// TestCoachReachesEverything: nothing stands in the table that no coach can
// see, so that no record is beyond the shop's own reach.
func TestCoachReachesEverything(t *testing.T) {
	for _, kind := range Kinds() {
		if !May(Actor{Role: Coach}, See, Resource{Kind: kind}) {
			t.Errorf("a coach can't see %s", kind)
		}
	}
	if len(permissions) != len(Kinds()) {
		t.Errorf("%d kinds in the table, %d listed", len(permissions), len(Kinds()))
	}
}

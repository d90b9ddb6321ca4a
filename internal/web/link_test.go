package web

import (
	"fmt"
	"regexp"
	"strings"
	"testing"
	"time"

	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// TestDoor: people put themselves on the list, with what they agree to; a
// minor needs a guardian; without a yes nobody may be filmed; a full class
// and a code that is over say so.
func TestDoor(t *testing.T) {
	r := newRoom(t, nil)
	b := r.signedIn(t, "nora", roster.Coach)
	c := r.class(t)
	c.Capacity = 2
	if _, err := r.db.ChangeClass(t.Context(), c); err != nil {
		t.Fatal(err)
	}
	code := func() string {
		shown := b.post("/class/" + c.ID + "/door")
		shown.want(t, 200, "Sign in for tonight", "class=\"qr\"")
		return regexp.MustCompile(`/door/[a-z0-9]+`).FindString(shown.body)
	}
	door := code()
	phone := r.browser(t)
	page := phone.get(door)
	page.want(t, 200, "Invented class", "no medical examination")
	if strings.Contains(page.body, " checked") {
		t.Error("a box of consent is ticked before anybody agreed")
	}
	thisYear := time.Now().Year()
	child := []string{"name", "Kit", "height", "150", "birth_year", fmt.Sprint(thisYear - 12), "film", "on", "given_by", "Kit"}
	phone.post(door, child...).want(t, 422, `value="Kit"`)
	phone.post(door, "name", "Lee", "height", "").want(t, 422, "Your height is needed")
	phone.post(door, append(child, "given_by", "Parent of Kit", "guardian", "on")...).want(t, 422) // the name agreed for is the first
	phone.post(door, "name", "Kit", "height", "150", "birth_year", fmt.Sprint(thisYear-12), "film", "on", "given_by", "Parent of Kit", "guardian", "on").want(t, 200, "You are on the list", "consent is recorded")
	phone.post(door, "name", "Lee", "height", "180", "birth_year", "1980").want(t, 200, "did not agree to be filmed")
	phone.post(door, "name", "Max", "height", "180", "birth_year", "1980").want(t, 422, "full")
	b.get("/class/"+c.ID).want(t, 200, "Kit", "Lee", "Ask consent")
	people, err := r.db.Runners(t.Context())
	if err != nil || len(people) != 2 {
		t.Errorf("%d runners, %v", len(people), err)
	}
	newer := code()
	phone.get(door).want(t, 404, "opens nothing")
	phone.get(newer).want(t, 200)
	b.post("/class/"+c.ID+"/door/end").want(t, 303)
	phone.get(newer).want(t, 404)
}

// TestInvited: somebody at home agrees, sends a clip, and gets the card only
// after a coach's word.
func TestInvited(t *testing.T) {
	r := newRoom(t, line)
	b := r.signedIn(t, "nora", roster.Coach)
	p, err := r.db.AddRunner(t.Context(), roster.Runner{Name: "Ada"})
	if err != nil {
		t.Fatal(err)
	}
	page := "/runner/" + p.ID
	find := func(a answer, kind string) string {
		return regexp.MustCompile(`/` + kind + `/[a-z0-9]+`).FindString(a.body)
	}
	invited := find(b.post(page+"/links", "role", "invited"), "invited")
	own := find(b.post(page+"/links", "role", "own"), "my")
	home := r.browser(t)
	home.get(invited).want(t, 200, "no medical examination", "Your height")
	home.film(invited+"/film", clip(t)).want(t, 422)
	home.post(invited+"/consent", "film", "on", "given_by", "Ada", "of_age", "on").want(t, 422, "Your height is needed")
	home.post(invited+"/consent", "film", "on", "given_by", "Ada", "height", "175").want(t, 422)
	home.post(invited+"/consent", "film", "on", "given_by", "Ada", "height", "175", "of_age", "on").want(t, 303)
	home.get(invited).want(t, 200, "How to film", "Stop if anything hurts", "capture=\"environment\"")
	home.film(invited+"/film", clip(t)).want(t, 303)
	r.settled(t)
	home.get(invited).want(t, 200, "One clip has come in")
	checks, err := r.db.RunnerChecks(t.Context(), p.ID)
	if err != nil || len(checks) != 1 || checks[0].State != store.Ready {
		t.Fatal(checks, err)
	}
	if got := home.get(own); got.status != 200 || strings.Contains(got.body, checks[0].ID) {
		t.Errorf("the card is named before a coach's word: %d", got.status)
	}
	home.get(own+"/check/"+checks[0].ID).want(t, 404)
	b.get("/check/"+checks[0].ID).want(t, 200, "Your word")
	proposedArea := proposed(checks[0])
	b.post("/check/"+checks[0].ID+"/word", "area", proposedArea, "version", fmt.Sprint(checks[0].Version)).want(t, 303)
	home.get(own+"/check/"+checks[0].ID).want(t, 200, "form-card")
	home.post(own+"/withdraw").want(t, 303)
	files, err := r.db.RunnerFootage(t.Context(), p.ID)
	for _, f := range files {
		if f.Gone.IsZero() && f.Kind != store.Track {
			t.Errorf("%s is still kept after consent was taken back", f.Kind)
		}
	}
	if err != nil {
		t.Error(err)
	}
	home.film(invited+"/film", clip(t)).want(t, 422)
}

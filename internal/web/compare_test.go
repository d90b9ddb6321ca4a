package web

import (
	"strings"
	"testing"

	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// A coach lays any two checks of a runner beside one another; the runner's
// own link those that were released; nobody another runner's. The trail tells
// of both checks.
func TestComparePages(t *testing.T) {
	r := newRoom(t, nil)
	coach, nobody := r.signedIn(t, "nora", roster.Coach), r.browser(t)
	ada, bob := r.things(t, "Ada"), r.things(t, "Bob")
	page := "/runner/" + ada.runner.ID + "/compare"
	coach.get("/runner/"+ada.runner.ID).want(t, 200, page, "What changed since the check before")
	two := "?before=" + ada.released.ID + "&after=" + ada.kept.ID
	for _, path := range []string{page, page + two, page + "?before=" + ada.kept.ID + "&after=" + ada.released.ID} {
		coach.get(path).want(t, 200, "<h1><bdi>Ada</bdi>", "plumb line", "Both checks are of one day", "Pain means stop", "form-compare")
	}
	if got := coach.get(page + two); strings.Contains(got.body, `style="`) || strings.Contains(got.body, "<style") {
		t.Error("the page holds styles of its own, which its policy forbids")
	}
	if got := coach.get("/runner/" + ada.runner.ID + "/compare.pdf" + two); got.status != 200 || !strings.HasPrefix(got.body, "%PDF-") {
		t.Errorf("the sheets: %d", got.status)
	}
	// One released check is none to compare; two are.
	own := "/my/" + ada.own + "/compare"
	nobody.get(own).want(t, 404)
	nobody.get(own+two).want(t, 404)
	if got := nobody.get("/my/" + ada.own); strings.Contains(got.body, "/compare") {
		t.Error("the own page offers a comparison that isn't there")
	}
	again, _ := r.check(t, ada.runner.ID, ada.class.ID, true)
	nobody.get("/my/"+ada.own).want(t, 200, own)
	got := nobody.get(own)
	got.want(t, 200, "<h1><bdi>Ada</bdi>", own+".pdf?before="+ada.released.ID+"&amp;after="+again.ID)
	if strings.Contains(got.body, ada.kept.ID) {
		t.Error("the own page names a check that was not released")
	}
	coach.get(page).want(t, 200, "Other checks", ada.kept.ID)
	// Other people's, the same twice, and what isn't there.
	coach.get(page+"?before="+ada.released.ID+"&after="+bob.released.ID).want(t, 404)
	nobody.get(own+"?before="+ada.released.ID+"&after="+bob.released.ID).want(t, 404)
	coach.get(page+"?before="+ada.released.ID+"&after="+ada.released.ID).want(t, 422, "two different checks")
	coach.get(page+"?before=&after=").want(t, 404)
	entries, err := r.db.Entries(t.Context(), store.TrailFilter{RunnerID: ada.runner.ID}, 1000)
	if err != nil {
		t.Fatal(err)
	}
	seen, lines := map[string]bool{}, map[string]int{}
	for _, e := range entries {
		if e.Kind == roster.CheckKind && e.Action == string(roster.See) {
			seen[e.Subject] = true
			if lines[e.Who.ID+e.Subject]++; lines[e.Who.ID+e.Subject] > 1 {
				t.Errorf("looking again within a moment stands there as another look: %+v", e)
			}
		}
	}
	if !seen[ada.released.ID] || !seen[ada.kept.ID] || !seen[again.ID] {
		t.Errorf("the trail lacks who looked at what: %v", seen)
	}
}

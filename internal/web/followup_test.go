package web

import (
	"encoding/json"
	"net/http"
	"strings"
	"testing"
	"time"

	second "github.com/emersion/go-ical"

	"plumbstride/internal/outbox"
	"plumbstride/internal/plan"
	"plumbstride/internal/post"
	"plumbstride/internal/roster"
	"plumbstride/internal/settings"
	"plumbstride/internal/store"
)

// late makes a runner's plan one whose day to film again was ten days ago.
func (r *room) late(t *testing.T, x things) {
	t.Helper()
	for _, id := range []string{x.releasedPlan.ID, x.keptPlan.ID} {
		p, err := r.db.Plan(t.Context(), id)
		if err != nil {
			t.Fatal(err)
		}
		var read plan.Plan
		if err := json.Unmarshal(p.Plan, &read); err != nil {
			t.Fatal(err)
		}
		if read.Recheck, err = plan.ParseDate(time.Now().AddDate(0, 0, 30).Format(time.DateOnly)); err != nil {
			t.Fatal(err)
		}
		if p.Plan, err = json.Marshal(read); err != nil {
			t.Fatal(err)
		}
		if _, err := r.db.ChangePlan(t.Context(), p); err != nil {
			t.Fatal(err)
		}
	}
}

// in40Days serves the same records forty days later.
func (r *room) in40Days(t *testing.T, change func(*Parts)) *room {
	t.Helper()
	later := func() time.Time { return time.Now().AddDate(0, 0, 40) }
	return r.again(t, func(p *Parts) {
		p.Now = later
		if change != nil {
			change(p)
		}
	})
}

// TestFollowUp: a runner whose plan is over its day is due, can be written
// to, is waited for then, and is left alone once they say stop.
func TestFollowUp(t *testing.T) {
	r := newRoom(t, nil)
	coach := r.signedIn(t, "nora", roster.Coach)
	ada := r.things(t, "Ada")
	ada.runner.Contact = "ada@example.org"
	var err error
	if ada.runner, err = r.db.ChangeRunner(t.Context(), ada.runner); err != nil {
		t.Fatal(err)
	}
	r.late(t, ada)
	coach.get("/follow-up").want(t, 200, "Under way")
	other := r.in40Days(t, nil)
	coach = other.browser(t)
	coach.post("/sign-in", "name", "nora", "password", password).want(t, http.StatusSeeOther)
	coach.get("/follow-up").want(t, 200, "10 days over its day", "/runner/"+ada.runner.ID+"/message")
	page := "/runner/" + ada.runner.ID + "/message"
	got := coach.get(page)
	got.want(t, 200, "Hello Ada,", "mailto:ada@example.org?subject=", "doctor or physiotherapist", "It is sent")
	if strings.Contains(got.body, "Look at what leaves") {
		t.Error("without a mail server something could be sent")
	}
	coach.get(page+"?language=de&day=2026-04-13&clock=18:30").want(t, 200, "Hallo Ada,", "13. April 2026")
	coach.get(page+"?day=x").want(t, http.StatusUnprocessableEntity)
	invitation := coach.get("/runner/" + ada.runner.ID + "/again.ics?day=2026-04-13&clock=18:30&language=en")
	invitation.want(t, 200, "METHOD:PUBLISH")
	if _, err := second.NewDecoder(strings.NewReader(invitation.body)).Decode(); err != nil {
		t.Error(err)
	}
	coach.post(page, "do", "send", "subject", "s", "body", "b").want(t, http.StatusUnprocessableEntity, "mail server is named in the settings")
	coach.post(page, "do", "handed", "subject", "Again?", "body", "Hello", "kind", "recheck").want(t, http.StatusSeeOther)
	coach.get(page).want(t, 200, "sent by hand")
	all, err := r.db.RunnerMessages(t.Context(), ada.runner.ID)
	if err != nil || len(all) != 1 || all[0].State != store.Handed || all[0].By.Kind != "account" {
		t.Errorf("%+v %v", all, err)
	}
	nobody := other.browser(t)
	nobody.get("/stop/"+ada.stop).want(t, 200, "No more messages")
	// As a mail program does on its own (RFC 8058, section 3.2).
	nobody.post("/stop/"+ada.stop, "List-Unsubscribe", "One-Click").want(t, http.StatusSeeOther)
	nobody.get("/stop/"+ada.stop).want(t, 200, "You get no more messages")
	coach.get("/follow-up").want(t, 200, "Wants no messages.")
	got = coach.get(page)
	got.want(t, 200, "Wants no messages.")
	if strings.Contains(got.body, "mailto:") || strings.Contains(got.body, "<textarea") {
		t.Error("a message is drafted against the runner's wish")
	}
	coach.post(page, "do", "handed", "subject", "s", "body", "b").want(t, http.StatusUnprocessableEntity, "wants no messages")
	nobody.post("/stop/"+ada.stop, "again", "1").want(t, http.StatusSeeOther)
	coach.get(page).want(t, 200, "<textarea")
	coach.post("/runner/"+ada.runner.ID+"/objects").want(t, http.StatusSeeOther)
	if no, err := r.db.Objections(t.Context()); err != nil || len(no) != 1 {
		t.Errorf("%v %v", no, err)
	}
}

// TestGuardianIsWrittenTo: where the runner is under age, the words are for a
// parent or guardian; without a contact nothing is drafted.
func TestGuardianIsWrittenTo(t *testing.T) {
	r := newRoom(t, nil)
	coach := r.signedIn(t, "nora", roster.Coach)
	ada, bob := r.things(t, "Ada"), r.things(t, "Bob")
	ada.runner.BirthYear, ada.runner.Contact = time.Now().Year()-12, "+34 600 000 000"
	bob.runner.Contact = ""
	for _, one := range []roster.Runner{ada.runner, bob.runner} {
		if _, err := r.db.ChangeRunner(t.Context(), one); err != nil {
			t.Fatal(err)
		}
	}
	got := coach.get("/runner/" + ada.runner.ID + "/message")
	got.want(t, 200, "for a parent or guardian", "This goes to a parent or guardian.")
	if strings.Contains(got.body, "mailto:") {
		t.Error("a telephone is no address to mail to")
	}
	got = coach.get("/runner/" + bob.runner.ID + "/message")
	got.want(t, 200, "Gave no contact.")
	if strings.Contains(got.body, "<textarea") {
		t.Error("a message is drafted to nobody")
	}
	coach.post("/runner/"+bob.runner.ID+"/message", "do", "handed", "subject", "s", "body", "b").want(t, http.StatusUnprocessableEntity, "no contact")
}

// TestMessageIsShownFirst: with a mail server, a message is shown as it
// leaves, with the link that stops messages, and then waits to be sent.
func TestMessageIsShownFirst(t *testing.T) {
	r := newRoom(t, nil)
	r.signedIn(t, "nora", roster.Coach)
	ada := r.things(t, "Ada")
	ada.runner.Contact = "ada@example.org"
	if _, err := r.db.ChangeRunner(t.Context(), ada.runner); err != nil {
		t.Fatal(err)
	}
	other := r.again(t, func(p *Parts) {
		p.Post = post.New(settings.Mail{Host: "mail.example.org", From: "shop@example.org", Pages: "https://checks.example.org"}, "")
	})
	coach := other.browser(t)
	coach.post("/sign-in", "name", "nora", "password", password).want(t, http.StatusSeeOther)
	page := "/runner/" + ada.runner.ID + "/message"
	first := coach.get(page)
	first.want(t, 200, "Look at what leaves", "https://checks.example.org/stop/")
	_, rest, _ := strings.Cut(first.body, "https://checks.example.org/stop/")
	token := rest[:26]
	if again := coach.get(page); !strings.Contains(again.body, token) {
		t.Error("another link the second time")
	}
	fields := []string{"subject", "Film again?", "body", "Hello Ada,\r\n\r\ncome & film <again>.", "day", "2026-04-13", "clock", "18:30", "language", "en", "kind", "recheck", "invite", "1"}
	coach.post(page, append(fields, "do", "look")...).want(t, 200, "This is what leaves", "shop@example.org", "ada@example.org", "Film again?", "come &amp; film &lt;again&gt;.", "Send it now")
	if all, err := r.db.RunnerMessages(t.Context(), ada.runner.ID); err != nil || len(all) != 0 {
		t.Errorf("looked at, and it waits: %+v %v", all, err)
	}
	coach.post(page, append(fields, "do", "send")...).want(t, http.StatusSeeOther)
	all, err := r.db.RunnerMessages(t.Context(), ada.runner.ID)
	if err != nil || len(all) != 1 || all[0].State != store.Queued || all[0].Recipient != "ada@example.org" || all[0].Body != "Hello Ada,\n\ncome & film <again>.\n" ||
		!strings.Contains(all[0].Calendar, "METHOD:REQUEST") || all[0].Stop != "https://checks.example.org/stop/"+token {
		t.Errorf("%+v %v", all, err)
	}
	jobs, err := r.db.Queue(t.Context())
	if err != nil || len(jobs) != 1 || jobs[0].Kind != outbox.JobKind {
		t.Errorf("%+v %v", jobs, err)
	}
	coach.get(page).want(t, 200, "waits to be sent")
	// Whoever stops now does not get it.
	other.browser(t).post("/stop/"+token).want(t, http.StatusSeeOther)
	if all, err := r.db.RunnerMessages(t.Context(), ada.runner.ID); err != nil || all[0].State != store.Unsent {
		t.Errorf("%+v %v", all, err)
	}
	coach.post(page, append(fields, "do", "send")...).want(t, http.StatusUnprocessableEntity)
	coach.get("/runner/"+ada.runner.ID).want(t, 200)
}

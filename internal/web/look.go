package web

import (
	"net/http"
	"strings"
	"sync"
	"time"

	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// lookAgain is for how long another look at the same thing is the same look.
const lookAgain = 10 * time.Minute

// looks remembers what was looked at a moment ago, so that the pictures of a
// stride, or a page that is reloaded, don't fill the trail.
type looks struct {
	mu   sync.Mutex
	last map[look]time.Time
}

type look struct {
	who    store.Who
	action string
	kind   roster.Kind
	id     string
}

// fresh tells whether a look is a new one.
func (l *looks) fresh(one look, now time.Time) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if at, ok := l.last[one]; ok && now.Sub(at) < lookAgain && !now.Before(at) {
		return false
	}
	if l.last == nil || len(l.last) > 100_000 {
		l.last = map[look]time.Time{}
	}
	l.last[one] = now
	return true
}

// told are the kinds of things about which the trail tells who looked at
// them, or took them away.
var told = map[roster.Kind]bool{
	roster.RosterList: true, roster.RunnerKind: true, roster.ConsentKind: true, roster.ClipKind: true, roster.PictureKind: true,
	roster.CheckKind: true, roster.PlanKind: true, roster.LinkKind: true, roster.MessageKind: true, roster.AccountKind: true, roster.AuditKind: true, roster.ClinicKind: true,
}

// note writes into the trail what the visitor is about to be shown. What is
// changed, the store notes itself.
func (v *visit) note(rt route) error {
	exports := rt.action == roster.Export
	if v.r.Method != http.MethodGet || rt.action == roster.Add || !told[rt.kind] && !(exports && rt.kind == roster.ClassKind) || strings.HasSuffix(rt.pattern, "/news") {
		return nil
	}
	action := string(roster.See)
	if exports {
		action = string(roster.Export)
	}
	kinds := []roster.Kind{rt.kind}
	if rt.kind == roster.RunnerKind && !exports {
		if v.may(roster.See, roster.ContactKind) && v.runner.Contact != "" {
			kinds = append(kinds, roster.ContactKind)
		}
		if v.may(roster.See, roster.HealthKind) && (v.runner.HealthNote != "" || v.runner.Health.Asked) {
			kinds = append(kinds, roster.HealthKind)
		}
	}
	if rt.kind == roster.MessageKind && v.runner.Contact != "" && v.may(roster.See, roster.ContactKind) {
		kinds = append(kinds, roster.ContactKind)
	}
	for _, kind := range kinds {
		if err := v.noteOne(action, kind, v.subject(kind)); err != nil {
			return err
		}
	}
	return nil
}

// noteOne writes one look into the trail, if it isn't the same as a moment ago.
func (v *visit) noteOne(action string, kind roster.Kind, subject string) error {
	if !v.site.looks.fresh(look{v.who, action, kind, subject + v.runner.ID}, v.site.Now()) {
		return nil
	}
	return v.Record(v.ctx(), store.Entry{Action: action, Kind: kind, Subject: subject, RunnerID: v.runner.ID})
}

// subject is the ID of the record that is looked at: of a picture, its
// check's.
func (v *visit) subject(kind roster.Kind) string {
	switch kind {
	case roster.CheckKind, roster.PictureKind:
		return v.check.ID
	case roster.PlanKind:
		return v.plan.ID
	case roster.ClassKind:
		return v.class.ID
	case roster.ClipKind:
		return v.upload.ID
	case roster.RosterList, roster.AccountKind, roster.AuditKind, roster.ClinicKind:
		return ""
	default:
		return v.runner.ID
	}
}

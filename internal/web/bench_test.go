package web

import (
	"fmt"
	"testing"

	"plumbstride/internal/roster"
)

// BenchmarkPages is the time for each of the evening's largest pages, of a
// class of twelve, over TLS on loopback.
func BenchmarkPages(b *testing.B) {
	r := newRoom(b, nil)
	coach := r.signedIn(b, "nora", roster.Coach)
	x := r.things(b, "Ada")
	for i := range 11 {
		p := r.person(b, fmt.Sprintf("Runner %d", i), x.class, roster.Audience{})
		r.check(b, p.ID, x.class.ID, i%2 == 0)
	}
	for name, path := range map[string]string{
		"class": "/class/" + x.class.ID, "board": "/class/" + x.class.ID + "/board", "check": "/check/" + x.released.ID,
		"plan": "/plan/" + x.releasedPlan.ID, "runner": "/runner/" + x.runner.ID, "static": "/static/site.css",
	} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				if got := coach.get(path); got.status != 200 {
					b.Fatal(got.status)
				}
			}
		})
	}
}

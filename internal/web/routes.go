package web

import "plumbstride/internal/roster"

// routes is every address of the site, with what roster's table must allow
// to whoever asks. A page action without a kind is open to everybody.
func (s *Site) routes() []route {
	return []route{
		{"GET /{$}", "", "", (*visit).home},
		{"GET /static/{file}", "", "", (*visit).static},
		{"GET /begin", "", "", (*visit).beginPage},
		{"POST /begin", "", "", (*visit).begin},
		{"GET /sign-in", "", "", (*visit).signInPage},
		{"POST /sign-in", "", "", (*visit).signIn},
		{"POST /sign-out", "", "", (*visit).signOut},

		{"GET /classes", roster.See, roster.ClassKind, (*visit).classes},
		{"POST /classes", roster.Add, roster.ClassKind, (*visit).addClass},
	}
}

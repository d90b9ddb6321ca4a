// Package web takes requests from phones and laptops in the room, and gives
// pages: tonight's class, the clip of the next runner, the card, the plan,
// the board. It takes what is kept from package store, clips from package
// media, cards from package evening, and who is asking from package account;
// who may see and do what is package roster's table alone. Everything a page
// needs is in the program: nothing is fetched from anywhere else.
//
// routes.go lists every address. A page action has a file of its own; its
// words stand in view, what runs in the browser in static.
package web

import (
	"fmt"
	"io"
	"log"
	"net/http"
	"time"

	"plumbstride/internal/account"
	"plumbstride/internal/media"
	"plumbstride/internal/paper"
	"plumbstride/internal/paper/fonts"
	"plumbstride/internal/plan"
	"plumbstride/internal/post"
	"plumbstride/internal/quantity"
	"plumbstride/internal/settings"
	"plumbstride/internal/store"
	"plumbstride/internal/words"
	"plumbstride/internal/work"
)

// Parts is what a site is built from.
type Parts struct {
	DB    store.Database
	Shelf *media.Folder
	Queue *work.Queue
	Desk  *account.Desk
	Now   func() time.Time
	// Drills are what plans are made with.
	Drills plan.Catalogue
	// Program names the program and its version, at the foot of sheets.
	Program string
	Shop    settings.Shop
	Units   quantity.Units
	Page    paper.Page
	// Language is the shop's; empty where none was chosen.
	Language words.Language
	// Post sends messages; nil where the settings name no mail server.
	Post *post.Office
	// ReadOnly: nothing may be changed, and DB refuses it.
	ReadOnly bool
	// Log is told what went wrong within; it never holds a runner's name.
	Log io.Writer
}

// Site answers requests.
type Site struct {
	Parts
	books   map[words.Language]words.Book
	views   views
	assets  map[string]asset
	letters *fonts.Set
	log     *log.Logger
	looks   looks
	handler http.Handler
}

// New gives a site. It reads the program's own templates and panics where
// they are broken.
func New(p Parts) (*Site, error) {
	letters, err := fonts.Load()
	if err != nil {
		return nil, fmt.Errorf("web: %w", err)
	}
	if p.Units == "" {
		p.Units = quantity.Metric
	}
	if p.Page == "" {
		p.Page = paper.A4
	}
	if p.Log == nil {
		p.Log = io.Discard
	}
	books := map[words.Language]words.Book{}
	for _, l := range words.Languages() {
		if books[l], err = words.In(l); err != nil {
			return nil, fmt.Errorf("web: %w", err)
		}
	}
	s := &Site{Parts: p, books: books, views: readViews(books), letters: letters, log: log.New(p.Log, "plumbstride: ", log.LstdFlags)}
	if s.assets, err = readAssets(); err != nil {
		return nil, err
	}
	mux := http.NewServeMux()
	for _, r := range s.routes() {
		mux.Handle(r.pattern, s.guard(r))
	}
	mux.HandleFunc("/", func(w http.ResponseWriter, r *http.Request) {
		s.fail(&visit{site: s, w: w, r: r, Store: p.DB, words: books[s.languageOf(r)]}, store.ErrNotFound)
	})
	s.handler = s.headers(http.NewCrossOriginProtection().Handler(mux))
	return s, nil
}

// ServeHTTP answers one request.
func (s *Site) ServeHTTP(w http.ResponseWriter, r *http.Request) { s.handler.ServeHTTP(w, r) }

// policy forbids a page everything but what comes from this program.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; font-src 'self'; img-src 'self' data:; media-src 'self' blob:; connect-src 'self'; manifest-src 'self'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'"

// headers says on every answer what a browser may do with it.
func (s *Site) headers(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(self), microphone=(), geolocation=()")
		h.Set("Cache-Control", "no-store")
		next.ServeHTTP(w, r)
	})
}

package web

import (
	"fmt"
	"time"

	"github.com/skip2/go-qrcode"
	"html/template"
	"strings"

	"plumbstride/internal/account"
	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// shownLink is a private address on the one page that shows it.
type shownLink struct {
	URL  string
	Code template.HTML
	Says string
	Ends time.Time
}

// address gives the full address of a path of this site, as the visitor
// reached it.
func (v *visit) address(path string) string {
	scheme := "https"
	if !v.secure() {
		scheme = "http"
	}
	return scheme + "://" + v.r.Host + path
}

// newLink makes a private address and gives it with its code.
func (v *visit) newLink(first string, l store.Link, says string) (*shownLink, error) {
	token, l, err := account.NewLink(v.ctx(), v.Store, l)
	if err != nil {
		return nil, err
	}
	url := v.address("/" + first + "/" + token)
	code, err := qrOf(url, v.words.Say("QR code of this address"))
	return &shownLink{URL: url, Code: code, Says: says, Ends: l.Expires}, err
}

// qrOf draws a QR code with a title, dark on light by day and by night.
func qrOf(text, title string) (template.HTML, error) {
	q, err := qrcode.New(text, qrcode.Medium)
	if err != nil {
		return "", fmt.Errorf("a QR code: %w", err)
	}
	bits := q.Bitmap()
	var b strings.Builder
	fmt.Fprintf(&b, `<svg class="qr" viewBox="0 0 %[1]d %[1]d" role="img" aria-label="%[2]s" shape-rendering="crispEdges"><rect width="%[1]d" height="%[1]d" fill="#fff"/><path fill="#000" d="`, len(bits), template.HTMLEscapeString(title))
	for y, line := range bits {
		for x, dark := range line {
			if dark {
				fmt.Fprintf(&b, "M%d %dh1v1h-1z", x, y)
			}
		}
	}
	b.WriteString(`"/></svg>`)
	return template.HTML(b.String()), nil
}

// doorFor is how long a code on the door works: an evening, with the hours
// before it.
const doorFor = 18 * time.Hour

// openDoor makes the code for the door, in place of earlier ones.
func (v *visit) openDoor() error {
	if err := v.endDoors(); err != nil {
		return err
	}
	link, err := v.newLink("door", store.Link{Role: roster.Door, ClassID: v.class.ID, Expires: v.site.Now().Add(doorFor)},
		v.words.Say("Whoever scans this puts themselves on tonight’s list and says what they agree to. Print it, or leave this page open by the door."))
	if err != nil {
		return err
	}
	return v.show("link", v.words.Say("Code for the door"), linkPage{Title: v.words.Say("Sign in for tonight"), Link: link, Back: "/class/" + v.class.ID})
}

// linkPage shows one private address, once.
type linkPage struct {
	Title string
	Link  *shownLink
	Back  string
}

func (v *visit) endDoors() error {
	links, err := v.ClassLinks(v.ctx(), v.class.ID)
	if err != nil {
		return err
	}
	for _, l := range links {
		if l.Usable(v.site.Now()) {
			if err := v.RevokeLink(v.ctx(), l.ID); err != nil {
				return err
			}
		}
	}
	return nil
}

// closeDoor ends the code for the door.
func (v *visit) closeDoor() error {
	if err := v.endDoors(); err != nil {
		return err
	}
	return v.seeOther("/class/" + v.class.ID)
}

// doorPage is what a runner sees who scanned the code.
type doorPage struct {
	Class roster.Class
	Form  answers
	Agree agreement
	Done  string // the runner's name, once they are on the list
	Film  bool
}

func (v *visit) doorPage() error {
	return v.show("door", v.words.Say("Sign in for tonight"), v.doorPageOf(answers{}))
}

func (v *visit) doorPageOf(f answers) doorPage {
	a := v.agreement(v.class, f)
	a.Asked = true
	return doorPage{Class: v.class, Form: f, Agree: a}
}

// signIntoClass puts the runner on tonight's list, with what they agree to.
func (v *visit) signIntoClass() error {
	f := v.read(append([]string{"name", "height", "birth_year", "contact"}, consentFields...)...)
	if f["given_by"] == "" {
		f["given_by"] = f["name"]
	}
	r, err := runnerOf(f, roster.Runner{})
	if err == nil {
		r, err = r.Clean(v.site.Now())
	}
	if err == nil && r.HeightM == 0 {
		err = form.UsageError("your height is needed: it turns what the camera sees into centimetres")
	}
	if err == nil {
		err = v.Within(v.ctx(), func(s store.Store) error {
			r, err := s.AddRunner(v.ctx(), r)
			if err != nil {
				return err
			}
			if _, err := store.Join(v.ctx(), s, roster.Attendance{ClassID: v.class.ID, RunnerID: r.ID, Presence: roster.Here}); err != nil {
				return err
			}
			if f["film"] == "" {
				return nil
			}
			c, err := v.consentOf(f, v.class)
			if err != nil {
				return err
			}
			return v.record(s, r, c)
		})
	}
	if err != nil {
		return v.again(err, "door", v.words.Say("Sign in for tonight"), v.doorPageOf(f))
	}
	p := v.doorPageOf(f)
	p.Done, p.Film = r.Name, f["film"] != ""
	return v.show("door", v.words.Say("You are on the list"), p)
}

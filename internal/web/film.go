package web

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"mime"
	"net/http"
	"path/filepath"
	"strconv"
	"strings"
	"time"

	"plumbstride/internal/evening"
	"plumbstride/internal/form"
	"plumbstride/internal/media"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// filmPage is where a runner is filmed, or clips of them are chosen.
type filmPage struct {
	Runner  roster.Runner
	Class   roster.Class
	Form    answers
	To      string // where the clip goes
	Back    string
	Invited bool
	Next    *row
}

// filmPage shows how to film, and takes the clip. Consent comes first.
func (v *visit) filmPage() error {
	consents, err := v.Consents(v.ctx(), v.runner.ID)
	if err != nil {
		return err
	}
	if _, err := roster.MayFilm(v.runner, consents, v.site.Now()); err != nil {
		return v.seeOther("/runner/" + v.runner.ID + "/consent?class=" + v.class.ID)
	}
	p, err := v.filmPageOf()
	if err != nil {
		return err
	}
	return v.show("film", v.words.Say("Film %s", v.runner.Name), p)
}

func (v *visit) filmPageOf() (p filmPage, err error) {
	base := "/class/" + v.class.ID
	p = filmPage{Runner: v.runner, Class: v.class, To: base + "/runner/" + v.runner.ID, Back: base, Form: answers{}}
	if len(v.runner.Paces) > 0 {
		p.Form["speed"] = strconv.FormatFloat(v.runner.Paces[0].SpeedMS*3.6, 'f', 1, 64)
	}
	rows, err := v.rows()
	for i, r := range rows {
		if r.Presence == roster.Here && r.State == toFilm && r.RunnerID != v.runner.ID {
			p.Next = &rows[i]
			break
		}
	}
	return p, err
}

// clips takes clips that came by mail, and asks whose each is.
func (v *visit) clips() error {
	p, err := v.lineUp()
	if err != nil {
		return err
	}
	return v.show("clips", v.words.Say("Clips that came by mail"), p)
}

// stated is what is said with a clip, as a form or a script sends it.
type stated struct {
	Name    string `json:"name"`
	Bytes   int64  `json:"bytes"`
	Kind    string `json:"kind"`
	Speed   string `json:"speed"`
	Incline string `json:"incline"`
	Rate    string `json:"rate"`
	// Filmed is the file's time, in milliseconds since 1970; 0 unknown.
	Filmed int64 `json:"filmed"`
}

// ask gives what is stated for the check, and which kind it is.
func (f stated) ask(r roster.Runner) (store.CheckKind, evening.Ask, error) {
	kind := store.CheckKind(f.Kind)
	switch kind {
	case "":
		kind = store.Running
	case store.Running, store.Standing, store.BackView:
	default:
		return kind, evening.Ask{}, form.UsageError("a clip shows somebody running, standing, or running seen from behind; %q is none of these", f.Kind)
	}
	if r.HeightM == 0 {
		return kind, evening.Ask{}, form.UsageError("the height of %s is not known yet, and nothing can be measured without it; add it first", r.Name)
	}
	speed, err := speedOf(f.Speed)
	if err != nil {
		return kind, evening.Ask{}, err
	}
	a := evening.AskFor(r, speed)
	if f.Incline != "" {
		a.InclinePct, err = strconv.ParseFloat(strings.Replace(strings.TrimSuffix(f.Incline, "%"), ",", ".", 1), 64)
		if err != nil || !(a.InclinePct >= -20 && a.InclinePct <= 40) {
			return kind, a, form.UsageError("an incline is a number of percent from -20 to 40, and %q is not", f.Incline)
		}
	}
	if f.Rate != "" {
		rate, err := wholeOf(f.Rate, "the frames a second at which the phone filmed", 20, 1000)
		if err != nil {
			return kind, a, err
		}
		a.CaptureRateHz = float64(rate)
	}
	return kind, a, nil
}

// fileName is what the sender called a clip, for people only.
func fileName(name string) string {
	name = strings.Map(func(r rune) rune {
		if r < ' ' || r == 0x7f || r >= 0x202a && r <= 0x202e || r >= 0x2066 && r <= 0x2069 {
			return -1
		}
		return r
	}, strings.ToValidUTF8(filepath.Base(strings.ReplaceAll(name, "\\", "/")), ""))
	if runes := []rune(name); len(runes) > 120 {
		return string(runes[:120])
	}
	return name
}

// beginUpload takes a clip on that comes in pieces.
func (v *visit) beginUpload() error {
	var f stated
	if err := json.NewDecoder(v.r.Body).Decode(&f); err != nil {
		return form.UsageError("the clip was not announced as it should be: %w", err)
	}
	kind, ask, err := f.ask(v.runner)
	if err != nil {
		return err
	}
	if f.Bytes <= 0 {
		return form.UsageError("the clip is empty; film again")
	}
	filmed := time.Time{}
	if f.Filmed > 0 {
		filmed = time.UnixMilli(f.Filmed).UTC()
	}
	if err := v.site.Shelf.Room(f.Bytes); err != nil {
		return err
	}
	u, err := v.AddUpload(v.ctx(), store.Upload{
		RunnerID: v.runner.ID, ClassID: v.class.ID, Kind: kind, Name: fileName(f.Name), Bytes: f.Bytes, Ask: ask.JSON(), Filmed: filmed,
	})
	if err != nil {
		return err
	}
	if err := v.site.Shelf.Begin(u); err != nil {
		return errors.Join(err, v.RemoveUpload(v.ctx(), u.ID))
	}
	return v.json(http.StatusCreated, progress{ID: u.ID})
}

// progress is how much of a clip is here, as a script reads it.
type progress struct {
	ID   string `json:"id"`
	Have int64  `json:"have"`
	// Check is the check that it became, once it is whole.
	Check string `json:"check,omitempty"`
	Error string `json:"error,omitempty"`
}

// uploadState tells how much of a clip is here.
func (v *visit) uploadState() error {
	if v.upload.CheckID != "" {
		return v.json(http.StatusOK, progress{ID: v.upload.ID, Have: v.upload.Bytes, Check: v.upload.CheckID})
	}
	have, err := v.site.Shelf.Received(v.upload)
	if err != nil {
		return err
	}
	return v.json(http.StatusOK, progress{ID: v.upload.ID, Have: have})
}

// stall is how long a piece may bring nothing before it is given up.
const stall = 30 * time.Second

// patient reads a body for as long as something comes.
type patient struct {
	io.Reader
	c *http.ResponseController
}

func (p patient) Read(b []byte) (int, error) {
	_ = p.c.SetReadDeadline(time.Now().Add(stall)) // not every connection has deadlines
	return p.Reader.Read(b)
}

// piece takes the next piece of a clip. What came before the connection
// broke is kept.
func (v *visit) piece() error {
	if v.upload.CheckID != "" {
		return v.uploadState()
	}
	offset, err := strconv.ParseInt(v.r.URL.Query().Get("offset"), 10, 64)
	if err != nil {
		return form.UsageError("a piece says at which byte it begins")
	}
	// Not the request's context: what has arrived is kept, also when the
	// sender has gone.
	c := http.NewResponseController(v.w)
	have, err := v.site.Shelf.Append(context.WithoutCancel(v.ctx()), v.upload, offset, patient{v.r.Body, c})
	_ = c.SetReadDeadline(time.Time{})
	if _, gap := errors.AsType[*media.OffsetError](err); gap {
		return v.json(http.StatusConflict, progress{ID: v.upload.ID, Have: have, Error: err.Error()})
	}
	if err != nil {
		return err
	}
	p := progress{ID: v.upload.ID, Have: have}
	if have == v.upload.Bytes {
		whole, err := media.Complete(context.WithoutCancel(v.ctx()), v.Store, v.site.Shelf, v.upload.ID, evening.Job())
		if err != nil {
			return err
		}
		v.site.Queue.Wake()
		p.Check = whole.ID
	}
	return v.json(http.StatusOK, p)
}

// film takes clips from a form, where no script runs: whole, one after the
// other.
func (v *visit) film() error {
	parts, err := v.r.MultipartReader()
	if err != nil {
		return form.UsageError("the form came without a clip; choose one")
	}
	f, n := stated{}, 0
	fields := map[string]*string{"kind": &f.Kind, "speed": &f.Speed, "incline": &f.Incline, "rate": &f.Rate}
	for {
		part, err := parts.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			return form.UsageError("the clip broke off on its way; send it again: %w", err)
		}
		if to := fields[part.FormName()]; to != nil {
			text, err := io.ReadAll(io.LimitReader(part, 200))
			if err != nil {
				return form.UsageError("the form broke off on its way; send it again: %w", err)
			}
			*to = strings.TrimSpace(string(text))
			continue
		}
		if part.FormName() != "clip" || part.FileName() == "" {
			continue
		}
		if err := v.whole(f, part.FileName(), part); err != nil {
			p, pageErr := v.filmPageOf()
			if pageErr != nil {
				return pageErr
			}
			p.Form = answers{"kind": f.Kind, "speed": f.Speed, "incline": f.Incline, "rate": f.Rate}
			return v.again(err, "film", v.words.Say("Film %s", v.runner.Name), p)
		}
		n++
	}
	if n == 0 {
		return form.UsageError("no clip was chosen; go back and choose one")
	}
	v.site.Queue.Wake()
	if v.link.ID != "" {
		return v.seeOther("/invited/" + v.token)
	}
	return v.seeOther("/class/" + v.class.ID + "#r-" + v.runner.ID)
}

// whole stores one clip and puts its check in the line. Consent is asked
// before a byte is kept, and again by the store.
func (v *visit) whole(f stated, name string, from io.Reader) error {
	kind, ask, err := f.ask(v.runner)
	if err != nil {
		return err
	}
	consents, err := v.Consents(v.ctx(), v.runner.ID)
	if err != nil {
		return err
	}
	if _, err := roster.MayFilm(v.runner, consents, v.site.Now()); err != nil {
		return err
	}
	if err := v.site.Shelf.Room(max(0, v.r.ContentLength)); err != nil {
		return err
	}
	file, err := v.site.Shelf.Put(v.ctx(), store.Clip, patient{from, http.NewResponseController(v.w)})
	if err != nil {
		return err
	}
	if file.Bytes == 0 {
		err = form.UsageError("the clip %s is empty; film again", fileName(name))
	} else {
		err = v.Within(v.ctx(), func(s store.Store) error {
			clip, err := s.AddFootage(v.ctx(), store.Footage{
				RunnerID: v.runner.ID, ClassID: v.class.ID, Kind: store.Clip, Name: fileName(name), Key: file.Key, SHA256: file.SHA256, Bytes: file.Bytes,
			})
			if err != nil {
				return err
			}
			c, err := s.AddCheck(v.ctx(), store.Check{RunnerID: v.runner.ID, ClassID: v.class.ID, ClipID: clip.ID, Kind: kind, Ask: ask.JSON()})
			if err != nil {
				return err
			}
			j := evening.Job()
			j.CheckID = c.ID
			_, err = s.AddJob(v.ctx(), j)
			return err
		})
	}
	if err != nil {
		if gone := v.site.Shelf.Remove(context.WithoutCancel(v.ctx()), file.Key); gone != nil {
			return fmt.Errorf("%w (besides: %w)", gone, err)
		}
	}
	return err
}

// isForm tells whether a body is a form that has no files, or a script's
// announcement: such a body is small.
func isForm(r *http.Request) bool {
	kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
	return r.Method == http.MethodPost && kind != "multipart/form-data"
}

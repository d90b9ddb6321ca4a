package cli

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"maps"
	"os"
	"runtime"
	"time"

	"plumbstride/internal/account"
	"plumbstride/internal/card"
	"plumbstride/internal/check"
	"plumbstride/internal/clip"
	"plumbstride/internal/evening"
	"plumbstride/internal/form"
	"plumbstride/internal/home"
	"plumbstride/internal/infer"
	"plumbstride/internal/legs"
	"plumbstride/internal/media"
	"plumbstride/internal/outbox"
	"plumbstride/internal/paper"
	"plumbstride/internal/pose"
	"plumbstride/internal/post"
	"plumbstride/internal/settings"
	"plumbstride/internal/store"
	"plumbstride/internal/store/aside"
	"plumbstride/internal/store/sqlite"
	"plumbstride/internal/supply"
	"plumbstride/internal/track"
	"plumbstride/internal/web"
	"plumbstride/internal/work"
)

// This file is the only place that builds things.

// forTrack is what the check of a track needs.
func forTrack(e *errand, p *progress) check.Deps {
	return check.Deps{
		Program: "plumbstride " + Version, Now: e.now,
		Progress: func(s check.Progress) { p.tell(card.Capital(s.Stage), "frames", s.Done, s.Total) },
	}
}

// forClip is what the check of a clip needs besides: the decoder, and the
// networks, which are loaded when the first is asked for, so that a file
// that is no clip is refused before. done frees them.
func forClip(e *errand, p *progress) (deps check.Deps, done func(), err error) {
	kit, missing := supply.Find(os.Getenv)
	deps = forTrack(e, p)
	deps.Tools, err = clip.Find(e.ctx, clip.Tools{FFmpeg: kit.FFmpeg, FFprobe: kit.FFprobe})
	if err != nil {
		return deps, nil, err
	}
	n := &networks{missing: missing, Networks: infer.Networks{
		Runtime: kit.Runtime, Files: kit.Models, Models: map[string][]byte{legs.Name: legs.Model()},
	}}
	deps.Networks, deps.Hash = n, maps.Clone(kit.Hash)
	deps.Hash[legs.Name] = legs.Hash()
	return deps, n.Close, nil
}

// networks opens sessions of this machine's networks.
type networks struct {
	missing error // what the machine lacks, said when it is first asked for
	infer.Networks
}

// Open gives a new session of the network "detector", "lite", "full", "heavy"
// or of our own.
func (n *networks) Open(name string) (pose.Session, error) {
	if n.missing != nil {
		return nil, n.missing
	}
	s, err := n.Networks.Open(name)
	if err != nil {
		return nil, fmt.Errorf("network %s: %w (plumbstride doctor tells more)", name, err)
	}
	return s, nil
}

// encoder gives the program that writes the demo's clip: the one that reads
// clips.
func encoder(ctx context.Context) (string, error) {
	kit, _ := supply.Find(os.Getenv) // without it, the search path is looked through
	tools, err := clip.Find(ctx, clip.Tools{FFmpeg: kit.FFmpeg, FFprobe: kit.FFprobe})
	return tools.FFmpeg, err
}

// records is the user's data folder, opened.
type records struct {
	folder home.Folder
	db     store.Database
	// file is the database behind db.
	file  *sqlite.Database
	shelf *media.Folder
	// readOnly: nothing may be changed.
	readOnly bool
}

// openRecords opens the data folder. Unless it may be new, there must be
// records in it: whoever wants to read has mistaken the folder otherwise.
func openRecords(e *errand, mayBeNew bool) (*records, error) {
	folder, err := home.Find(os.Getenv)
	if err != nil {
		return nil, err
	}
	if !mayBeNew && !folder.Used() {
		return nil, form.MissingError("there are no records in %s yet; begin with plumbstride roster import, or name another folder with %s", folder, home.Variable)
	}
	return openFolder(e.ctx, string(folder), e.now)
}

// namedFolder is the data folder that the environment names; "" for none.
func namedFolder() string { return os.Getenv(home.Variable) }

// folderVariable names the data folder in the environment.
const folderVariable = home.Variable

// holdsRecords tells whether there are records in a folder.
func holdsRecords(dir string) bool { return home.Folder(dir).Used() }

// openFolder opens a folder as a data folder, at a time.
func openFolder(ctx context.Context, dir string, now func() time.Time) (*records, error) {
	folder := home.Folder(dir)
	db, err := sqlite.Open(ctx, folder.Database(), now)
	if err != nil {
		return nil, err
	}
	shelf, err := media.OpenFolder(folder.Media(), media.DefaultLimits())
	if err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return &records{folder, db, db, shelf, false}, nil
}

// openToRead opens the user's data folder without writing a byte to it. Who
// looks at what is told, since the trail can't be written.
func openToRead(e *errand) (*records, error) {
	folder, err := theFolder()
	if err != nil {
		return nil, err
	}
	if !folder.Used() {
		return nil, form.MissingError("there are no records in %s yet; begin with plumbstride roster import, or name another folder with %s", folder, home.Variable)
	}
	file, err := sqlite.OpenToRead(e.ctx, folder.Database(), e.now)
	if err != nil {
		return nil, err
	}
	shelf, err := media.OpenFolder(folder.Media(), media.DefaultLimits())
	if err != nil {
		return nil, errors.Join(err, file.Close())
	}
	db := aside.New(file, e.now, func(one store.Entry) {
		fmt.Fprintf(e.Err, "%s %s %s: %s %s %s\n", one.At.Local().Format("2006-01-02 15:04:05"), one.Who.Kind, one.Who.ID, one.Action, one.Kind, one.Subject)
	})
	return &records{folder, db, file, shelf, true}, nil
}

// close lets go of the folder. What was written is safe before.
func (r *records) close() {
	_ = r.shelf.Close()
	_ = r.db.Close()
}

// dataFolder is a folder of records, opened or not.
type dataFolder = home.Folder

// theFolder is the user's data folder, whether it is there or not.
func theFolder() (dataFolder, error) { return home.Find(os.Getenv) }

// copied opens a copy of the records, to be read alone.
func copied(ctx context.Context, path string) (store.Database, error) {
	return sqlite.OpenToRead(ctx, path, time.Now)
}

// intact reads a copy of the records from end to end.
func intact(ctx context.Context, path string) error {
	_, err := sqlite.Sound(ctx, path)
	return err
}

// newestTables is the last step of the tables' history that is known here.
func newestTables() (int64, error) { return sqlite.Newest() }

// tryLock takes a file for this process alone.
func tryLock(f *os.File) (bool, error) { return supply.TryLock(f) }

// house is what an evening is served from.
type house struct {
	records *records
	desk    *account.Desk
	queue   *work.Queue
	site    *web.Site
	// lacking is what clips can't be measured without; nil where all is here.
	lacking error
	close   func()
}

// openHouse builds the pages, the queue and what measures.
func openHouse(e *errand, r *records, v shown) (*house, error) {
	desk, err := account.New(r.db, e.now, account.DefaultCost())
	if err != nil {
		return nil, err
	}
	own, err := catalogueWith("")
	if err != nil {
		return nil, err
	}
	c := &house{records: r, desk: desk, close: func() {}}
	deps, done, err := forClip(e, nil)
	if _, missing := supply.Find(os.Getenv); err == nil && missing != nil {
		c.lacking = missing
	}
	if err != nil {
		c.lacking = err
	} else {
		c.close = done
	}
	kinds := map[string]work.Kind{evening.JobKind: evening.Kind(r.db, r.shelf, measuring(deps, err))}
	office, err := openOffice(v.shop.Mail)
	if err != nil {
		return nil, err
	}
	if office != nil {
		kinds[outbox.JobKind] = outbox.Kind(r.db, office.Send)
	}
	c.queue = work.New(r.db, work.Options{
		Kinds: kinds,
		// A clip is decoded and measured on about two cores.
		Workers: max(1, min(4, runtime.NumCPU()/2)),
		Room:    func() error { return r.shelf.Room(0) },
		Trouble: func(err error) { fmt.Fprintf(e.Err, "plumbstride: the queue: %v\n", err) },
	})
	c.site, err = web.New(web.Parts{
		DB: r.db, Shelf: r.shelf, Queue: c.queue, Desk: desk, Now: e.now, Drills: own, Program: "plumbstride " + Version,
		Shop: v.shop.Shop, Units: v.Units, Page: paper.Page(v.Page), Language: v.Language, Log: e.Err,
		ReadOnly: r.readOnly, Post: office,
	})
	return c, err
}

// mailPasswordVariable holds the mail server's password in the environment.
const mailPasswordVariable = "PLUMBSTRIDE_MAIL_PASSWORD"

// openOffice gives what sends messages; nil where the settings name no mail
// server.
func openOffice(m *settings.Mail) (*post.Office, error) {
	if m == nil {
		return nil, nil
	}
	password := os.Getenv(mailPasswordVariable)
	if m.PasswordFile != "" {
		f, err := os.Open(m.PasswordFile)
		if err != nil {
			return nil, form.MissingError("the mail server's password can't be read: %w", err)
		}
		defer f.Close()
		if password, err = firstLine(f); err != nil {
			return nil, err
		}
	}
	return post.New(*m, password), nil
}

// measuring is the line for a check that waits in the records: a clip, or a
// track of body points in its place. Where the decoder is lacking, it says so
// for each clip.
func measuring(deps check.Deps, lacking error) evening.Measure {
	return func(ctx context.Context, kind store.CheckKind, path string, ask check.Ask, tell func(check.Progress)) (*check.Outcome, error) {
		own := deps
		own.Progress = tell
		switch kind {
		case store.Standing:
			ask.Standing = true
		case store.BackView:
			ask.View = form.ViewBack
		}
		f, err := os.Open(path)
		if err != nil {
			return nil, fmt.Errorf("the clip: %w", err)
		}
		defer f.Close()
		in := bufio.NewReader(f)
		if head, _ := in.Peek(64); track.Begins(head) {
			return check.Track(ctx, own, in, ask)
		}
		if lacking != nil {
			return nil, lacking
		}
		return check.Clip(ctx, own, path, ask)
	}
}

// command is who stands in the trail for what the command line does.
func command() store.Who { return store.Who{Kind: "command"} }

// finding is one line of what doctor found.
type finding = supply.Finding

// inspect looks at everything that a check needs from this machine, and
// tries whether the inference library can be loaded here.
func inspect() []finding {
	findings := supply.Inspect(os.Getenv)
	kit, _ := supply.Find(os.Getenv) // what it lacks is among the findings
	if kit.Runtime == "" {
		return findings
	}
	f := finding{Name: "library loads"}
	library, err := infer.Load(kit.Runtime)
	if err != nil {
		f.Detail, f.Fix = err.Error(), "Remove "+kit.Runtime+" and run: plumbstride setup"
		return append(findings, f)
	}
	defer library.Close()
	f.OK, f.Detail = true, "ONNX Runtime "+library.Version()
	return append(findings, f)
}

// setUp fetches, or takes from a folder, whatever is lacking.
func setUp(ctx context.Context, from string, p *progress) error {
	_, err := supply.Setup(ctx, supply.Options{
		From: from, Env: os.Getenv,
		Progress: func(step string, done, total int64) { p.tell(card.Capital(step), "bytes", int(done), int(total)) },
	})
	return err
}

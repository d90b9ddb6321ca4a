package cli

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"log"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"
	"sync"
	"time"
	"unicode/utf8"

	"github.com/skip2/go-qrcode"

	"plumbstride/internal/certificate"
	"plumbstride/internal/form"
	"plumbstride/internal/media"
)

// serveVerb is the clinic evening: pages for everybody in the room.
type serveVerb struct {
	Address  string   `default:":8440" placeholder:":8440" help:"The address and port to listen on; :8440 is port 8440 for the whole local network, 127.0.0.1:8440 for this machine alone."`
	HTTP     bool     `name:"http" help:"Serve without encryption. Only behind a host that encrypts, or on this machine alone."`
	Name     string   `placeholder:"HOST" help:"What phones call this machine, where it has a name of its own: clinic.example.org. It goes into the certificate and the address that is shown."`
	KeepFree sizeFlag `default:"1GB" placeholder:"1GB" help:"How much of the disk stays free: clips that would take more are refused, and none is measured until there is room."`
	ReadOnly bool     `help:"Show what is there and change nothing: every change is refused, no clip is measured, and not a byte of the data folder is written, so that a copy on a locked disk will do."`
	shown

	invented bool // the demo's shop, of which nothing is secret
}

// Help stands below the verb's first line in its help.
func (serveVerb) Help() string {
	return "One process and one port, for the phones and laptops in the room. Nothing is fetched from the internet and nothing is sent there. The first start prints a code, with which the coach makes the first account. The certificate is made on this machine: a browser that sees it for the first time asks, and the fingerprint that is printed here is what to compare.\n\n" + folderHelp + "\n\n" + exitCodes
}

// Run serves until it is interrupted.
func (v *serveVerb) Run(e *errand) error {
	if err := v.settle(e); err != nil {
		return err
	}
	open := func() (*records, error) { return openRecords(e, true) }
	if v.ReadOnly {
		open = func() (*records, error) { return openToRead(e) }
	}
	r, err := open()
	if err != nil {
		return err
	}
	defer r.close()
	return v.serve(e, r)
}

// serve serves the records of a data folder.
func (v *serveVerb) serve(e *errand, r *records) error {
	if v.KeepFree > 0 {
		r.shelf.KeepFree(int64(v.KeepFree))
	}
	h, err := openHouse(e, r, v.shown)
	if err != nil {
		return err
	}
	defer h.close()
	listener, err := net.Listen("tcp", v.Address)
	if err != nil {
		return form.UsageError("can't listen on %s: %w; another plumbstride may be running, or name another port with --address", v.Address, err)
	}
	hosts, err := certificate.Hosts()
	if err != nil {
		return errors.Join(err, listener.Close())
	}
	if v.Name != "" {
		hosts = append([]string{v.Name}, hosts...)
	}
	server := &http.Server{
		Handler: h.site, ReadHeaderTimeout: 10 * time.Second, IdleTimeout: 2 * time.Minute, MaxHeaderBytes: 64 << 10,
		ErrorLog: log.New(quiet{}, "", 0),
	}
	if !v.HTTP {
		certify := certificate.For
		if v.ReadOnly {
			certify = certificate.ToRead
		}
		c, err := certify(r.folder.Certificate(), hosts, e.now())
		if err != nil {
			return errors.Join(err, listener.Close())
		}
		server.TLSConfig = &tls.Config{Certificates: []tls.Certificate{c}, MinVersion: tls.VersionTLS12}
		defer func() { fmt.Fprintln(e.Out, e.book.Say("The evening is over; everything is saved.")) }()
		v.greet(e, h, listener.Addr(), hosts, certificate.Fingerprint(c))
	} else {
		v.greet(e, h, listener.Addr(), hosts, "")
	}
	return v.run(e, h, server, listener)
}

// quiet takes what browsers do to connections: a handshake with a
// certificate that nobody has looked at yet is no trouble of this program.
type quiet struct{}

func (quiet) Write(p []byte) (int, error) { return len(p), nil }

// run serves, measures and purges until the errand is over.
func (v *serveVerb) run(e *errand, h *house, server *http.Server, listener net.Listener) error {
	ctx, stop := context.WithCancel(e.ctx)
	defer stop()
	// Requests end with the errand: an open page of live news, too.
	server.BaseContext = func(net.Listener) context.Context { return ctx }
	var running sync.WaitGroup
	if !v.ReadOnly {
		running.Go(func() { h.queue.Run(ctx) })
		running.Go(func() { h.purge(ctx, e) })
	}
	failed := make(chan error, 1)
	running.Go(func() {
		if v.HTTP {
			failed <- server.Serve(listener)
		} else {
			failed <- server.ServeTLS(listener, "", "")
		}
	})
	var err error
	select {
	case err = <-failed:
	case <-ctx.Done():
		wait, done := context.WithTimeout(context.WithoutCancel(ctx), 5*time.Second)
		defer done()
		if server.Shutdown(wait) != nil {
			_ = server.Close() // uploads go on where they stopped
		}
	}
	stop()
	running.Wait()
	if err != nil && !errors.Is(err, http.ErrServerClosed) {
		return fmt.Errorf("serving: %w", err)
	}
	return nil
}

// purge removes what is over its time, at the start and once an hour.
func (h *house) purge(ctx context.Context, e *errand) {
	tick := time.NewTicker(time.Hour)
	defer tick.Stop()
	for {
		p, err := media.Purge(ctx, h.records.db, h.records.shelf, e.now())
		switch {
		case err != nil && ctx.Err() == nil:
			fmt.Fprintln(e.Err, "plumbstride: "+e.book.Say("removing what is over its time: %s", e.book.Of(err.Error())))
		case p.Any():
			fmt.Fprintln(e.Err, "plumbstride: "+e.book.Say("removed; clips and pictures whose time was over: %d, unfinished uploads: %d", p.Footage, p.Uploads))
		}
		select {
		case <-ctx.Done():
			return
		case <-tick.C:
		}
	}
}

// greet prints where the pages are, and what to do first.
func (v *serveVerb) greet(e *errand, h *house, at net.Addr, hosts []string, fingerprint string) {
	scheme := "https"
	if v.HTTP {
		scheme = "http"
	}
	if v.HTTP && !v.invented {
		fmt.Fprintln(e.Err, "plumbstride: "+e.book.Say("WARNING: without encryption, anybody on the network can read names, passwords and clips. Use this only behind a host that encrypts, or on this machine alone."))
	}
	urls := addresses(scheme, at, hosts)
	line, also := e.book.Say("The pages are at"), e.book.Say("and")
	fmt.Fprintf(e.Out, "%s %s\n", line, urls[0])
	for _, u := range urls[1:] {
		fmt.Fprintf(e.Out, "%*s %s\n", utf8.RuneCountInString(line), also, u)
	}
	if fingerprint != "" {
		fmt.Fprintf(e.Out, "\n%s\n  %s\n", e.book.Say("A browser that comes for the first time asks about the certificate, which was made on this machine. Its fingerprint (SHA-256) is"), fingerprint)
	}
	if q, err := qrcode.New(urls[0], qrcode.Low); err == nil && columnsOf(e.Out) > 0 {
		fmt.Fprintf(e.Out, "\n%s", q.ToSmallString(false))
	}
	if v.ReadOnly {
		fmt.Fprintln(e.Out, "\n"+e.book.Say("Open for reading alone: nothing is changed, nothing is measured, and who looks at what is told here."))
	} else if fresh, err := h.desk.Fresh(e.ctx); err == nil && fresh {
		fmt.Fprintf(e.Out, "\n%s\n", e.book.Say("There is no account yet. Open the address and make the coach’s, with this code: %s", h.desk.Code()))
	}
	if h.lacking != nil && !v.ReadOnly {
		fmt.Fprintln(e.Err, "plumbstride: "+e.book.Say("clips can't be measured yet: %s", e.book.Of(h.lacking.Error())))
	}
	fmt.Fprintf(e.Out, "\n%s\n", e.book.Say("End it with Ctrl-C."))
}

// addresses gives where the pages can be reached: what phones on the local
// network can use first.
func addresses(scheme string, at net.Addr, hosts []string) []string {
	listening, err := netip.ParseAddrPort(at.String())
	if err != nil {
		return []string{scheme + "://" + at.String() + "/"}
	}
	rank := func(host string) int {
		ip, err := netip.ParseAddr(host)
		switch {
		case err != nil && host == "localhost":
			return 4
		case err != nil && !strings.Contains(host, "."):
			return 5
		case err != nil && strings.HasSuffix(host, ".local"):
			return 2
		case err != nil:
			return 0
		case ip.IsLoopback():
			return 5
		case ip.Is4():
			return 1
		}
		return 3
	}
	if only := listening.Addr(); !only.IsUnspecified() {
		if only.IsLoopback() {
			return []string{fmt.Sprintf("%s://localhost:%d/", scheme, listening.Port())}
		}
		return []string{fmt.Sprintf("%s://%s/", scheme, listening)}
	}
	hosts = slices.Clone(hosts)
	slices.SortStableFunc(hosts, func(a, b string) int { return rank(a) - rank(b) })
	var urls []string
	for _, h := range hosts {
		if rank(h) < 5 && rank(h) != 3 {
			urls = append(urls, fmt.Sprintf("%s://%s/", scheme, net.JoinHostPort(h, fmt.Sprint(listening.Port()))))
		}
	}
	return urls
}

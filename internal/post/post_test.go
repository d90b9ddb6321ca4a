package post

import (
	"bufio"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"errors"
	"fmt"
	"io"
	"math/big"
	"mime"
	"mime/multipart"
	"net"
	"net/mail"
	"strings"
	"sync"
	"testing"
	"time"

	"plumbstride/internal/form"
	"plumbstride/internal/settings"
)

// server is a mail server on loopback that speaks as much of RFC 5321 as a
// message needs, and misbehaves where it is told to.
type server struct {
	listener net.Listener
	tls      *tls.Config
	trust    *tls.Config
	// answers replaces what is said to a verb ("RCPT", "DATA", ".", "AUTH");
	// "" ends the connection.
	answers map[string]string

	mu    sync.Mutex
	got   []string
	plain bool // something came before the connection was encrypted
}

func newServer(t *testing.T, answers map[string]string) *server {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		t.Fatal(err)
	}
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), Subject: pkix.Name{CommonName: "mail"}, DNSNames: []string{"localhost"},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IsCA: true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	if err != nil {
		t.Fatal(err)
	}
	leaf, err := x509.ParseCertificate(der)
	if err != nil {
		t.Fatal(err)
	}
	roots := x509.NewCertPool()
	roots.AddCert(leaf)
	s := &server{
		tls:     &tls.Config{Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}}},
		trust:   &tls.Config{RootCAs: roots, ServerName: "localhost", MinVersion: tls.VersionTLS12},
		answers: answers,
	}
	if s.listener, err = net.Listen("tcp", "127.0.0.1:0"); err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { s.listener.Close() })
	go func() {
		for {
			c, err := s.listener.Accept()
			if err != nil {
				return
			}
			go s.serve(c)
		}
	}()
	return s
}

// serve speaks with one client.
func (s *server) serve(c net.Conn) {
	defer func() { c.Close() }()
	in, encrypted := bufio.NewReader(c), false
	say := func(text string) { fmt.Fprintf(c, "%s\r\n", text) }
	say("220 localhost ready")
	for {
		line, err := in.ReadString('\n')
		if err != nil {
			return
		}
		verb, _, _ := strings.Cut(strings.ToUpper(strings.TrimSpace(line)), " ")
		if answer, ok := s.answers[verb]; ok {
			if answer == "" {
				return
			}
			say(answer)
			continue
		}
		switch verb {
		case "EHLO":
			fmt.Fprint(c, "250-localhost\r\n250-STARTTLS\r\n250 AUTH PLAIN\r\n")
		case "STARTTLS":
			say("220 go on")
			c = tls.Server(c, s.tls)
			in, encrypted = bufio.NewReader(c), true
		case "AUTH":
			say("235 welcome")
		case "DATA":
			say("354 go on")
			text := s.read(in, encrypted)
			if answer, ok := s.answers["."]; ok {
				if answer == "" {
					return
				}
				say(answer)
				continue
			}
			s.mu.Lock()
			s.got = append(s.got, text)
			s.mu.Unlock()
			say("250 taken")
		case "QUIT":
			say("221 bye")
			return
		default:
			say("250 ok")
		}
	}
}

func (s *server) read(in *bufio.Reader, encrypted bool) string {
	var text strings.Builder
	for {
		line, err := in.ReadString('\n')
		if err != nil || line == ".\r\n" {
			break
		}
		text.WriteString(strings.TrimPrefix(line, "."))
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	s.plain = s.plain || !encrypted
	return text.String()
}

func (s *server) office(t *testing.T, change func(*settings.Mail)) *Office {
	t.Helper()
	m := settings.Mail{Host: "localhost", Port: s.listener.Addr().(*net.TCPAddr).Port, From: "shop@example.org", User: "shop"}
	if change != nil {
		change(&m)
	}
	o := New(m, "a password")
	o.trust = s.trust
	return o
}

var letter = Letter{
	ID: "m1", To: "ada@example.org", Subject: "¿Toca grabar otra vez? – Größe", Body: "Hello Ada,\n\n.a line that begins with a point\nÜbung\n",
	Calendar: "BEGIN:VCALENDAR\r\nEND:VCALENDAR\r\n", Method: "REQUEST", Stop: "https://checks.shop.example/stop/abc",
}

// TestSend: what arrives is the letter, encrypted on its way, with the ways
// to stop messages (RFC 2369, RFC 8058) in its head; the standard library
// reads it.
func TestSend(t *testing.T) {
	s := newServer(t, nil)
	if err := s.office(t, nil).Send(t.Context(), letter); err != nil {
		t.Fatal(err)
	}
	if len(s.got) != 1 || s.plain {
		t.Fatalf("%d messages, in the clear: %v", len(s.got), s.plain)
	}
	m, err := mail.ReadMessage(strings.NewReader(s.got[0]))
	if err != nil {
		t.Fatal(err)
	}
	subject, err := new(mime.WordDecoder).DecodeHeader(m.Header.Get("Subject"))
	if err != nil || subject != letter.Subject {
		t.Errorf("%q, %v", subject, err)
	}
	for name, want := range map[string]string{
		"To": "<ada@example.org>", "From": "<shop@example.org>", "Message-Id": "<m1@example.org>",
		"List-Unsubscribe":      "<https://checks.shop.example/stop/abc>, <mailto:shop@example.org?subject=stop>",
		"List-Unsubscribe-Post": "List-Unsubscribe=One-Click",
	} {
		if got := m.Header.Get(name); got != want {
			t.Errorf("%s: %q, want %q", name, got, want)
		}
	}
	kind, params, err := mime.ParseMediaType(m.Header.Get("Content-Type"))
	if err != nil || kind != "multipart/alternative" {
		t.Fatalf("%s %v", kind, err)
	}
	parts := map[string]string{}
	for r := multipart.NewReader(m.Body, params["boundary"]); ; {
		p, err := r.NextPart()
		if errors.Is(err, io.EOF) {
			break
		}
		if err != nil {
			t.Fatal(err)
		}
		text, err := io.ReadAll(p)
		if err != nil {
			t.Fatal(err)
		}
		kind, params, _ := mime.ParseMediaType(p.Header.Get("Content-Type"))
		parts[kind+params["method"]] = strings.ReplaceAll(string(text), "\r\n", "\n")
	}
	if parts["text/plain"] != letter.Body || !strings.Contains(parts["text/calendarREQUEST"], "BEGIN:VCALENDAR") {
		t.Errorf("%q", parts)
	}
}

// TestSendFails: what a server does wrong is told apart: to be tried again,
// not to be tried again, and not to be known.
func TestSendFails(t *testing.T) {
	for name, c := range map[string]struct {
		answers map[string]string
		change  func(*settings.Mail)
		letter  func(*Letter)
		want    error // nil for a form.Error
	}{
		"nobody there":        {nil, func(m *settings.Mail) { m.Port = 1 }, nil, ErrLater},
		"no such mailbox":     {map[string]string{"RCPT": "550 no such mailbox"}, nil, nil, nil},
		"mailbox is busy":     {map[string]string{"RCPT": "451 try again"}, nil, nil, ErrLater},
		"content refused":     {map[string]string{".": "554 looks like spam"}, nil, nil, nil},
		"content not now":     {map[string]string{".": "452 disk full"}, nil, nil, ErrLater},
		"cut before the text": {map[string]string{"DATA": ""}, nil, nil, ErrLater},
		"cut after the text":  {map[string]string{".": ""}, nil, nil, ErrUnsure},
		"wrong password":      {map[string]string{"AUTH": "535 wrong"}, nil, nil, nil},
		"sign in later":       {map[string]string{"AUTH": "454 auth 535 is away"}, nil, nil, ErrLater},
		"no encryption":       {map[string]string{"STARTTLS": "454 not available"}, nil, nil, ErrLater},
		"two lines of head":   {nil, nil, func(l *Letter) { l.Subject = "a\r\nBcc: b@example.org" }, nil},
		"no address":          {nil, nil, func(l *Letter) { l.To = "a@example.org, b@example.org\r\n" }, nil},
	} {
		s := newServer(t, c.answers)
		l := letter
		if c.letter != nil {
			c.letter(&l)
		}
		err := s.office(t, c.change).Send(t.Context(), l)
		if c.want != nil && !errors.Is(err, c.want) || c.want == nil && form.CodeOf(err) != form.CodeUsage {
			t.Errorf("%s: %v", name, err)
		}
		if len(s.got) > 0 {
			t.Errorf("%s: it arrived all the same", name)
		}
	}
}

// TestNotInTheClear: to a server whose certificate nobody vouches for, nothing
// is sent.
func TestNotInTheClear(t *testing.T) {
	s := newServer(t, nil)
	o := s.office(t, nil)
	o.trust = nil
	if err := o.Send(t.Context(), letter); err == nil || len(s.got) > 0 {
		t.Errorf("%v", err)
	}
	if err := s.office(t, func(m *settings.Mail) { m.TLS = "none" }).Send(t.Context(), letter); err != nil || !s.plain {
		t.Errorf("to a server on this machine: %v", err)
	}
}

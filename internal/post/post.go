// Package post takes a message and gives it to a shop's mail server (SMTP, RFC
// 5321), encrypted, or says why it did not: for now, for good, or so that
// nobody knows. It is used only where a shop has named a server.
package post

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/textproto"
	"slices"
	"strings"
	"time"

	"github.com/wneessen/go-mail"

	"plumbstride/internal/form"
	"plumbstride/internal/settings"
)

// Letter is what is sent.
type Letter struct {
	// ID names the message for good, so that a server or reader which gets it
	// twice knows.
	ID      string
	To      string
	Subject string
	Body    string
	// Calendar is an invitation (RFC 5545), Method its METHOD; may be empty.
	Calendar, Method string
	// Stop is the https address that stops messages; may be empty.
	Stop string
}

// Office sends letters by one server.
type Office struct {
	mail     settings.Mail
	password string
	// trust is nil for the system's own roots.
	trust *tls.Config
}

// New gives an office. password may be empty where the server wants none.
func New(m settings.Mail, password string) *Office { return &Office{mail: m, password: password} }

// From is the address that writes.
func (o *Office) From() string { return o.mail.From }

// Pages is where runners reach the pages from outside; may be empty.
func (o *Office) Pages() string { return o.mail.Pages }

// ErrUnsure: the connection ended after the message was handed over and
// before the server said that it has it.
var ErrUnsure = errors.New("the connection to the mail server broke at the end; whether the message left, nobody knows: look into the mailbox before you send it again")

// ErrLater: the server can't be reached, or says to try again.
var ErrLater = errors.New("the mail server can't take it just now")

// Send hands a letter over. ErrLater tells that trying again may help,
// ErrUnsure that nobody knows, a form.Error that it won't.
func (o *Office) Send(ctx context.Context, l Letter) error {
	m, err := o.message(l)
	if err != nil {
		return form.UsageError("the message can't be sent as it is: %w", err)
	}
	c, err := o.client()
	if err != nil {
		return form.UsageError("the mail server of the settings can't be used: %w", err)
	}
	if err := c.DialWithContext(ctx); err != nil {
		return o.explain(err)
	}
	err = c.Send(m)
	// The server has the message, or has refused it: how the goodbye went
	// changes nothing.
	_ = c.Close()
	return o.explain(err)
}

// message is the letter as a mail (RFC 5322), with the ways to stop messages
// in its head (RFC 2369; RFC 8058 where there is an address).
func (o *Office) message(l Letter) (*mail.Msg, error) {
	m := mail.NewMsg(mail.WithNoDefaultUserAgent())
	if err := errors.Join(m.From(o.mail.From), m.To(l.To)); err != nil {
		return nil, err
	}
	if strings.ContainsAny(l.Subject, "\r\n") {
		return nil, errors.New("the subject has more than one line")
	}
	m.Subject(l.Subject)
	m.SetDate()
	_, host, _ := strings.Cut(o.mail.From, "@")
	m.SetMessageIDWithValue(l.ID + "@" + host)
	stop := "<mailto:" + o.mail.From + "?subject=stop>"
	if l.Stop != "" {
		stop = "<" + l.Stop + ">, " + stop
		m.SetGenHeader("List-Unsubscribe-Post", "List-Unsubscribe=One-Click")
	}
	m.SetGenHeader("List-Unsubscribe", stop)
	m.SetGenHeader("Auto-Submitted", "no")
	m.SetBodyString(mail.TypeTextPlain, l.Body)
	if l.Calendar != "" {
		m.AddAlternativeString(mail.ContentType("text/calendar; method="+l.Method), l.Calendar)
	}
	return m, nil
}

// timeout is for how long a server may be silent.
const timeout = 30 * time.Second

func (o *Office) client() (*mail.Client, error) {
	options := []mail.Option{mail.WithTimeout(timeout), mail.WithTLSConfig(o.tls())}
	port := o.mail.Port
	switch o.mail.TLS {
	case "tls":
		options = append(options, mail.WithSSL())
		if port == 0 {
			port = 465
		}
	case "none":
		options = append(options, mail.WithTLSPolicy(mail.NoTLS))
		if port == 0 {
			port = 25
		}
	default:
		options = append(options, mail.WithTLSPolicy(mail.TLSMandatory))
		if port == 0 {
			port = 587
		}
	}
	options = append(options, mail.WithPort(port))
	if o.mail.User != "" {
		auth := mail.SMTPAuthAutoDiscover
		if o.mail.TLS == "none" {
			auth = mail.SMTPAuthPlainNoEnc // on this machine alone
		}
		options = append(options, mail.WithSMTPAuth(auth), mail.WithUsername(o.mail.User), mail.WithPassword(o.password))
	}
	return mail.NewClient(o.mail.Host, options...)
}

func (o *Office) tls() *tls.Config {
	if o.trust != nil {
		return o.trust
	}
	return &tls.Config{ServerName: o.mail.Host, MinVersion: tls.VersionTLS12}
}

// explain sorts what a server or the way to it said.
func (o *Office) explain(err error) error {
	if err == nil {
		return nil
	}
	if s, ok := errors.AsType[*mail.SendError](err); ok {
		switch {
		case s.Reason == mail.ErrSMTPDataClose && s.ErrorCode() == 0, s.Reason == mail.ErrWriteContent:
			return fmt.Errorf("%w (%w)", ErrUnsure, err)
		case s.IsTemp() || s.ErrorCode() == 0:
			return fmt.Errorf("%w: %w", ErrLater, err)
		default:
			return form.UsageError("the mail server refused the message: %w", err)
		}
	}
	_, cut := errors.AsType[net.Error](err)
	if cut || errors.Is(err, context.DeadlineExceeded) {
		return fmt.Errorf("%w: %w", ErrLater, err)
	}
	if refused(err) {
		return form.UsageError("the mail server does not take the name and password of the settings: %w", err)
	}
	return fmt.Errorf("%w: %w", ErrLater, err)
}

// refused tells that a server doesn't take the name and password: it says so
// for good (the codes of RFC 4954, 4 and 6), or offers no way of signing in
// that is known here.
func refused(err error) bool {
	if said, ok := errors.AsType[*textproto.Error](err); ok {
		return slices.Contains([]int{504, 530, 534, 535, 538}, said.Code)
	}
	return errors.Is(err, mail.ErrNoSupportedAuthDiscovered) || errors.Is(err, mail.ErrPlainAuthNotSupported)
}

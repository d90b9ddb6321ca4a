// Package settings takes the bytes of a settings file, and gives what a shop
// has chosen once and for all to the command line: its name and colour, the
// language, the units, the paper, and links to its tempo tracks.
package settings

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"math"
	"regexp"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"

	"plumbstride/internal/form"
	"plumbstride/internal/quantity"
	"plumbstride/internal/words"
)

// Settings are what a shop has chosen. Every field may be left out.
type Settings struct {
	Shop     Shop           `json:"shop,omitempty"`
	Language words.Language `json:"language,omitempty" jsonschema:"enum=en,enum=es,enum=de"`
	Units    quantity.Units `json:"units,omitempty" jsonschema:"enum=metric,enum=us"`
	Page     string         `json:"page,omitempty" jsonschema:"enum=A4,enum=Letter"`
	// TempoLinks are links to tempo tracks or pages, for the handout.
	TempoLinks []Link `json:"tempo_links,omitempty"`
	// Mail is the server that messages to runners leave by; without it none
	// leaves from here.
	Mail *Mail `json:"mail,omitempty"`
}

// Mail is a mail server (SMTP, RFC 5321), and who writes.
type Mail struct {
	Host string `json:"host"`
	// Port is 587 with STARTTLS, 465 with TLS from the start; 0 takes that.
	Port int `json:"port,omitempty" jsonschema:"minimum=1,maximum=65535"`
	// TLS is "starttls" where it is left out; "none" only for a server on
	// this machine.
	TLS  string `json:"tls,omitempty" jsonschema:"enum=starttls,enum=tls,enum=none"`
	User string `json:"user,omitempty"`
	// PasswordFile is a file whose first line is the password; without it
	// PLUMBSTRIDE_MAIL_PASSWORD is taken.
	PasswordFile string `json:"password_file,omitempty"`
	// From is the address that writes.
	From string `json:"from"`
	// Pages is where runners reach the pages from outside: an https address
	// without a path. With it a message carries a link that stops messages.
	Pages string `json:"pages,omitempty"`
}

// check tells what is wrong with a mail server.
func (m Mail) check() error {
	if !hostShape.MatchString(m.Host) {
		return form.UsageError("%.60q is not a mail server's name; write, for instance, mail.shop.example", m.Host)
	}
	local := m.Host == "localhost" || m.Host == "127.0.0.1" || m.Host == "::1"
	switch {
	case m.Port < 0 || m.Port > 65535:
		return form.UsageError("%d is not a port", m.Port)
	case m.TLS != "" && m.TLS != "starttls" && m.TLS != "tls" && m.TLS != "none":
		return form.UsageError("the mail server's tls is starttls, tls or none, not %.20q", m.TLS)
	case m.TLS == "none" && !local:
		return form.UsageError("mail leaves this machine encrypted or not at all; tls: none is for a server on this machine")
	case len(m.From) > 254 || !addressShape.MatchString(m.From):
		return form.UsageError("%.60q is not an e-mail address to write from", m.From)
	case m.Pages != "" && !pagesShape.MatchString(m.Pages):
		return form.UsageError("%.60q is not where runners reach the pages; write it like https://checks.shop.example", m.Pages)
	}
	for _, text := range []string{m.User, m.PasswordFile} {
		if err := printed("the mail server's user or file", text, maxLink); err != nil {
			return err
		}
	}
	return nil
}

var (
	hostShape    = regexp.MustCompile(`^([A-Za-z0-9]([A-Za-z0-9.-]{0,250}[A-Za-z0-9])?|::1)$`)
	addressShape = regexp.MustCompile(`^[A-Za-z0-9.!#$%&'*+/=?^_{|}~-]+@[A-Za-z0-9]([A-Za-z0-9.-]*[A-Za-z0-9])?$`)
	pagesShape   = regexp.MustCompile(`^https://[A-Za-z0-9]([A-Za-z0-9.-]*[A-Za-z0-9])?(:[0-9]{1,5})?$`)
)

// Shop is who hands out the paper.
type Shop struct {
	Name string `json:"name,omitempty"`
	// Line is one line under the name: a street, a telephone number.
	Line string `json:"line,omitempty"`
	// Colour is the colour of titles, "#rrggbb", dark enough to be read on
	// white.
	Colour string `json:"colour,omitempty" jsonschema:"pattern=^#[0-9a-fA-F]{6}$"`
}

// Link is an address and the few words that stand beside it.
type Link struct {
	Label string `json:"label"`
	Link  string `json:"link"`
}

// The limits of a settings file.
const (
	maxBytes  = 64 << 10
	maxLinks  = 4
	maxName   = 60
	maxLine   = 90
	maxLabel  = 40
	maxLink   = 200
	leastRead = 4.5 // contrast with white, WCAG 2.2, 1.4.3
)

// Parse reads a settings file. A field that isn't known is an error, so that
// a slip of the pen is not lost in silence. Errors are form.Errors of usage.
func Parse(data []byte) (Settings, error) {
	if len(data) > maxBytes {
		return Settings{}, form.UsageError("the settings have more than %d bytes", maxBytes)
	}
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.DisallowUnknownFields()
	var s Settings
	if err := dec.Decode(&s); err != nil {
		return Settings{}, form.UsageError("these are not settings (%w); see docs/settings.schema.json", err)
	}
	if _, err := dec.Token(); !errors.Is(err, io.EOF) {
		return Settings{}, form.UsageError("something follows the settings' object")
	}
	return s, s.check()
}

func (s Settings) check() error {
	if _, err := words.In(s.Language); err != nil {
		return err
	}
	if s.Units != "" && s.Units != quantity.Metric && s.Units != quantity.US {
		return form.UsageError("%.20q are not units; write metric or us", s.Units)
	}
	if s.Page != "" && s.Page != "A4" && s.Page != "Letter" {
		return form.UsageError("%.20q is not a page; write A4 or Letter", s.Page)
	}
	for _, t := range []struct {
		what, text string
		most       int
	}{{"the shop's name", s.Shop.Name, maxName}, {"the shop's line", s.Shop.Line, maxLine}} {
		if err := printed(t.what, t.text, t.most); err != nil {
			return err
		}
	}
	if s.Shop.Colour != "" {
		if _, err := ParseColour(s.Shop.Colour); err != nil {
			return err
		}
	}
	if s.Mail != nil {
		if err := s.Mail.check(); err != nil {
			return err
		}
	}
	if len(s.TempoLinks) > maxLinks {
		return form.UsageError("there are %d tempo links, and a handout has room for %d", len(s.TempoLinks), maxLinks)
	}
	for _, l := range s.TempoLinks {
		if err := l.Check(); err != nil {
			return err
		}
	}
	return nil
}

// Check tells what is wrong with a link.
func (l Link) Check() error {
	if strings.TrimSpace(l.Label) == "" {
		return form.UsageError("a tempo link needs a label: what stands beside it on the handout")
	}
	if err := printed("the label of a tempo link", l.Label, maxLabel); err != nil {
		return err
	}
	if len(l.Link) > maxLink || !linkShape.MatchString(l.Link) {
		return form.UsageError("%.60q is not a web address of at most %d characters; write, for instance, https://shop.example/168", l.Link, maxLink)
	}
	return nil
}

// linkShape is a web address in printable ASCII, as a QR code holds it.
var linkShape = regexp.MustCompile(`^https?://[A-Za-z0-9.-]*[A-Za-z0-9](:[0-9]{1,5})?([/?#][!-~]*)?$`)

func printed(what, text string, most int) error {
	if n := utf8.RuneCountInString(text); n > most {
		return form.UsageError("%s has %d characters, more than %d", what, n, most)
	}
	if !utf8.ValidString(text) || strings.ContainsFunc(text, func(r rune) bool { return !unicode.IsPrint(r) }) {
		return form.UsageError("%s holds characters that can't be printed", what)
	}
	return nil
}

var colourShape = regexp.MustCompile(`^#[0-9a-fA-F]{6}$`)

// ParseColour reads "#1f4d8f" as red, green and blue. A colour too light to
// be read on white is refused.
func ParseColour(text string) (rgb [3]uint8, err error) {
	if !colourShape.MatchString(text) {
		return rgb, form.UsageError("%.20q is not a colour; write it like #1f4d8f", text)
	}
	for i := range rgb {
		v, err := strconv.ParseUint(text[1+2*i:3+2*i], 16, 8)
		if err != nil {
			return rgb, form.UsageError("%.20q is not a colour; write it like #1f4d8f", text)
		}
		rgb[i] = uint8(v)
	}
	if c := contrastWithWhite(rgb); c < leastRead {
		return rgb, form.UsageError("the colour %s is too light to be read on white (contrast %.1f, at least %.1f is needed); choose a darker one", text, c, leastRead)
	}
	return rgb, nil
}

// contrastWithWhite is the contrast ratio of WCAG 2.2 ("relative luminance").
func contrastWithWhite(rgb [3]uint8) float64 {
	luminance := 0.0
	for i, weight := range [3]float64{0.2126, 0.7152, 0.0722} {
		c := float64(rgb[i]) / 255
		if c <= 0.04045 {
			c /= 12.92
		} else {
			c = math.Pow((c+0.055)/1.055, 2.4)
		}
		luminance += weight * c
	}
	return 1.05 / (luminance + 0.05)
}

package cli

import (
	"bytes"
	"fmt"
	"path/filepath"
	"strings"

	"plumbstride/internal/form"
	"plumbstride/internal/handout"
	"plumbstride/internal/paper"
	"plumbstride/internal/settings"
)

// handoutVerb makes the sheet that runners take home from a clinic.
type handoutVerb struct {
	Areas []string `arg:"" optional:"" name:"areas" help:"The areas on it (alignment, landing, cadence, lean, bounce, symmetry); all six where none is named."`

	TempoLinks []linkFlag `group:"The handout:" name:"tempo-link" sep:"none" placeholder:"LABEL=ADDRESS" help:"A link to a tempo track or page, printed as a QR code; up to four, in place of those of the settings."`

	Out string `group:"The result:" required:"" placeholder:"FILE.pdf" help:"Where to leave the handout."`
	shown
}

// Help stands below the verb's first line in its help.
func (handoutVerb) Help() string {
	return "Prints on both sides of one sheet, turned on the short edge, and folds in the middle. The shop's name, line and colour come from the settings file (docs/settings.schema.json).\n\n" + exitCodes
}

// linkFlag is a label and an address with "=" between.
type linkFlag settings.Link

// UnmarshalText reads "168, 20 minutes=https://shop.example/168".
func (l *linkFlag) UnmarshalText(text []byte) error {
	label, link, ok := strings.Cut(string(text), "=")
	if !ok {
		return form.UsageError("%q is not a link; write what stands beside it, =, and the address: \"168, 20 minutes=https://shop.example/168\"", text)
	}
	*l = linkFlag{Label: strings.TrimSpace(label), Link: strings.TrimSpace(link)}
	return settings.Link(*l).Check()
}

// maxTempoLinks is how many codes a handout has room for.
const maxTempoLinks = 4

// Run makes the handout.
func (v *handoutVerb) Run(e *errand) error {
	if err := v.settle(e); err != nil {
		return err
	}
	topics, err := handout.Choose(v.Areas)
	if err != nil {
		return err
	}
	if !strings.EqualFold(filepath.Ext(v.Out), ".pdf") {
		return form.UsageError("--out %s: a handout is a .pdf file", v.Out)
	}
	links := v.shop.TempoLinks
	if len(v.TempoLinks) > 0 {
		links = nil
		for _, l := range v.TempoLinks {
			links = append(links, settings.Link(l))
		}
	}
	if len(links) > maxTempoLinks {
		return form.UsageError("a handout has room for %d tempo links, not %d", maxTempoLinks, len(links))
	}
	var out bytes.Buffer
	if err := paper.Handout(&out, topics, paper.HandoutOptions{
		Page: paper.Page(v.Page), Units: v.Units, Words: v.book, Shop: v.shop.Shop, Links: links, Program: "plumbstride " + Version, Made: e.now(),
	}); err != nil {
		return err
	}
	if err := publish(v.Out, out.Bytes()); err != nil {
		return err
	}
	_, err = fmt.Fprintln(e.Out, v.book.Say("The handout is in %s. Print it on both sides, turned on the short edge, and fold it in the middle.", printable(v.Out)))
	return err
}

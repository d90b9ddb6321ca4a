package followup

import (
	"net/url"
	"strings"

	"plumbstride/internal/words"
)

// Draft is what could be written: plain text, to be changed by whoever sends
// it.
type Draft struct {
	Kind    string
	Subject string
	Body    string
}

// The kinds of messages.
const (
	Recheck = "recheck"
	Hello   = "quiet"
)

// Ask is what a draft is made for.
type Ask struct {
	Line Line
	// Shop signs the message; it may be empty.
	Shop string
	// Day is the day that is proposed, in words.
	Day string
	// Stop is the address of the page that stops messages; "" where there is
	// none that the reader could reach.
	Stop string
}

// Write drafts the message to a runner, or to a parent or guardian. It
// promises nothing about pain or injuries.
func Write(a Ask, b words.Book) Draft {
	d := Draft{Kind: Recheck, Subject: b.Say("Time to film again?")}
	name := a.Line.Runner.Name
	var parts []string
	if a.Line.Guardian {
		parts = append(parts, b.Say("Hello,"), b.Say("this is about %s, and is for a parent or guardian.", name))
	} else {
		parts = append(parts, b.Say("Hello %s,", name))
	}
	if a.Line.State == Quiet {
		d.Kind, d.Subject = Hello, b.Say("How is the running going?")
		parts = append(parts, b.Say("it is a while since the last running check. If you like, come and film again: ten seconds of running tell which changes are larger than the noise, and where none can be told from it."))
	} else {
		parts = append(parts, b.Say("the practice plan comes to its day to film again. Ten seconds of running tell which changes are larger than the noise, and where none can be told from it."))
	}
	if a.Day != "" {
		parts = append(parts, b.Say("Would %s suit you? A short answer is enough, also if it does not.", a.Day))
	}
	parts = append(parts, b.Say("With pain, leave the practice be and say so; a doctor or physiotherapist comes first. This is not a medical device."))
	if a.Line.Guardian {
		parts = append(parts, b.Say("Nobody under 18 is filmed without a parent or guardian agreeing. You can take that back at any time."))
	}
	if a.Shop != "" {
		parts = append(parts, a.Shop)
	}
	end := b.Say("You get this because this address was given to us for running checks. No more messages: answer with “stop”.")
	if a.Stop != "" {
		end = b.Say("You get this because this address was given to us for running checks. No more messages: %s", a.Stop)
	}
	d.Body = strings.Join(append(parts, end), "\n\n") + "\n"
	return d
}

// Mailto is an address that opens the message in a mail program (RFC 6068).
func Mailto(to, subject, body string) string {
	escape := func(text string) string { return strings.ReplaceAll(url.QueryEscape(text), "+", "%20") }
	body = strings.ReplaceAll(strings.ReplaceAll(body, "\r\n", "\n"), "\n", "\r\n")
	return "mailto:" + strings.ReplaceAll(url.PathEscape(to), "%40", "@") + "?subject=" + escape(subject) + "&body=" + escape(body)
}

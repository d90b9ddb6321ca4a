package roster

import (
	"time"

	"plumbstride/internal/form"
)

// Consent is what a runner agreed to, when, and in whose words. It is never
// changed: it is withdrawn, and a new one given.
type Consent struct {
	ID       string `json:"id"`
	RunnerID string `json:"runner_id"`
	// Film: clips may be made, kept for KeepDays and measured.
	Film bool `json:"film"`
	// Pictures: stills of the clips may stand on the card, for as long as
	// clips are kept.
	Pictures bool `json:"pictures"`
	// Faces: the face in the pictures needn't be blurred.
	Faces bool `json:"faces"`
	// Shown is who may see clips and pictures, beside the coach.
	Shown Audience `json:"shown"`
	// KeepDays is the longest that clips may be kept; 0 leaves it to the class.
	KeepDays int `json:"keep_days"`
	// GivenBy is who agreed: the runner's name, or the guardian's where
	// Guardian is true.
	GivenBy  string `json:"given_by"`
	Guardian bool   `json:"guardian"`
	// StatedOfAge: the runner said that they are 18 or older. Only asked
	// where the year of birth does not tell.
	StatedOfAge bool `json:"stated_of_age"`
	// Words is the text that was agreed to, as it was shown.
	Words     string     `json:"words"`
	Given     time.Time  `json:"given"`
	Withdrawn *time.Time `json:"withdrawn"`
}

// Audience is who may see clips and pictures, beside the coach.
type Audience struct {
	Helpers bool `json:"helpers"`
	// Runner: through the runner's private link.
	Runner bool `json:"runner"`
}

// Clean gives the consent with its texts tidied, or a form.Error: a consent
// names who gave it and the words agreed to.
func (c Consent) Clean() (Consent, error) {
	var err error
	if c.GivenBy, err = line("name of who consents", c.GivenBy, maxName); err != nil {
		return c, err
	}
	if c.GivenBy == "" {
		return c, form.UsageError("a consent needs the name of who gives it")
	}
	if c.Words, err = notes("words of the consent", c.Words); err != nil {
		return c, err
	}
	if c.Words == "" {
		return c, form.UsageError("a consent keeps the words that were agreed to; none were given")
	}
	if c.KeepDays < 0 || c.KeepDays > MaxKeepDays {
		return c, form.UsageError("clips can be kept for 1 to %d days, not %d", MaxKeepDays, c.KeepDays)
	}
	if !c.Film && (c.Pictures || c.Faces) {
		return c, form.UsageError("pictures come from clips: without filming there are none")
	}
	return c, nil
}

// Stands tells whether the consent was given by then and not withdrawn.
func (c Consent) Stands(at time.Time) bool {
	return !at.Before(c.Given) && (c.Withdrawn == nil || at.Before(*c.Withdrawn))
}

// Standing gives the latest of a runner's consents, if it stands at that
// moment: a later consent takes the place of earlier ones, and when it is
// withdrawn the earlier ones do not come back.
func Standing(consents []Consent, at time.Time) (Consent, bool) {
	latest, found := Consent{}, false
	for _, c := range consents {
		if !at.Before(c.Given) && (!found || !c.Given.Before(latest.Given)) {
			latest, found = c, true
		}
	}
	if !found || !latest.Stands(at) {
		return Consent{}, false
	}
	return latest, true
}

// MayFilm gives the consent under which the runner may be filmed now, or a
// form.Error with what to ask first. Without it no clip is stored.
func MayFilm(r Runner, consents []Consent, at time.Time) (Consent, error) {
	c, ok := Standing(consents, at)
	switch {
	case !ok:
		return c, form.UsageError("%s has not agreed to be filmed, or has taken it back; ask first, and record the consent", r.Name)
	case !c.Film:
		return c, form.UsageError("%s agreed to be here but not to be filmed; no clip is kept", r.Name)
	case c.Guardian:
		return c, nil
	}
	switch r.Minor(at) {
	case UnderAge:
		return Consent{}, form.UsageError("%s is under 18; a guardian must agree before anything is filmed", r.Name)
	case Unsure:
		if !c.StatedOfAge {
			return Consent{}, form.UsageError("nobody has recorded whether %s is 18 or older; ask, or let a guardian agree", r.Name)
		}
	}
	return c, nil
}

// KeepUntil is when a clip filmed under this consent in this class must be
// gone: after the class's days or the consent's, whichever are fewer.
func KeepUntil(filmed time.Time, class Class, c Consent) time.Time {
	days := class.Days()
	if c.KeepDays > 0 && c.KeepDays < days {
		days = c.KeepDays
	}
	return filmed.Add(time.Duration(days) * 24 * time.Hour)
}

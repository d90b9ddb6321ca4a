package roster

import (
	"math"
	"slices"
	"strings"
	"time"

	"plumbstride/internal/form"
	"plumbstride/internal/plan"
)

// Sex chooses the table of body segments; NotStated takes the middle.
type Sex string

// The values of Sex.
const (
	NotStated Sex = ""
	Female    Sex = "female"
	Male      Sex = "male"
)

// Pace is a speed that the runner knows by name: "easy", 2.8 m/s.
type Pace struct {
	Name    string  `json:"name"`
	SpeedMS float64 `json:"speed_m_s"`
}

// Runner is one person who runs. Only the name is needed, and a nickname
// will do.
type Runner struct {
	ID      string `json:"id"`
	Version int64  `json:"version"`
	Name    string `json:"name"`
	Contact string `json:"contact"`
	// BirthYear is 0 where it was not stated; so are HeightM and MassKg.
	BirthYear int     `json:"birth_year"`
	HeightM   float64 `json:"height_m"`
	MassKg    float64 `json:"mass_kg"`
	Sex       Sex     `json:"sex"`
	Paces     []Pace  `json:"paces"`
	Shoes     string  `json:"shoes"`
	// Health holds the answers to plan.Questions; HealthNote what the runner
	// said besides: pain, history.
	Health     plan.Health `json:"health"`
	HealthNote string      `json:"health_note"`
	Goals      string      `json:"goals"`
	Made       time.Time   `json:"made"`
	Changed    time.Time   `json:"changed"`
}

// Same tells whether two records look like one person: the same name, and no
// two different years of birth.
func (r Runner) Same(other Runner) bool {
	return strings.EqualFold(r.Name, other.Name) &&
		(r.BirthYear == other.BirthYear || r.BirthYear == 0 || other.BirthYear == 0)
}

// The bounds of what is believed of a runner; beyond them lies a slip of the
// pen (common practice, no source).
const (
	minHeightM, maxHeightM = 0.7, 2.5
	minMassKg, maxMassKg   = 12.0, 300.0
	minSpeedMS, maxSpeedMS = 0.3, 13.0
	minBirthYear           = 1900
	maxPaces               = 12
)

// Clean gives the runner with texts tidied and numbers rounded (height to
// 1 mm, mass to 0.01 kg), or a form.Error that says what is wrong. now is
// today, for the year of birth.
func (r Runner) Clean(now time.Time) (Runner, error) {
	texts := []struct {
		what string
		text *string
		most int
	}{
		{"name", &r.Name, maxName}, {"contact", &r.Contact, maxLine},
		{"shoes", &r.Shoes, maxLine}, {"goals", &r.Goals, 2 * maxLine},
	}
	for _, t := range texts {
		clean, err := line(t.what, *t.text, t.most)
		if err != nil {
			return r, err
		}
		*t.text = clean
	}
	if r.Name == "" {
		return r, form.UsageError("a runner needs a name; a nickname will do")
	}
	var err error
	if r.HealthNote, err = notes("note on health", r.HealthNote); err != nil {
		return r, err
	}
	r.HeightM, r.MassKg = math.Round(r.HeightM*1e3)/1e3, math.Round(r.MassKg*1e2)/1e2
	if err := r.believable(now); err != nil {
		return r, err
	}
	r.Paces, err = cleanPaces(r.Paces)
	return r, err
}

// believable refuses numbers that no runner has, and answers to questions
// that were not asked.
func (r Runner) believable(now time.Time) error {
	switch {
	case r.BirthYear != 0 && (r.BirthYear < minBirthYear || r.BirthYear > now.Year()):
		return form.UsageError("%s can't be born in %d; write the year of birth, or leave it out", r.Name, r.BirthYear)
	case r.HeightM != 0 && !within(r.HeightM, minHeightM, maxHeightM):
		return form.UsageError("%s can't be %.2f m tall; write the height with its unit, as 172cm or 5ft8in", r.Name, r.HeightM)
	case r.MassKg != 0 && !within(r.MassKg, minMassKg, maxMassKg):
		return form.UsageError("%s can't weigh %.1f kg; write the mass with its unit, as 64kg or 140lb", r.Name, r.MassKg)
	case r.Sex != NotStated && r.Sex != Female && r.Sex != Male:
		return form.UsageError("the segment table knows female and male; leave %q out, and the middle is taken", string(r.Sex))
	}
	known := plan.Questions()
	for _, answer := range r.Health.Yes {
		if !slices.ContainsFunc(known, func(q plan.Question) bool { return q.Reason == answer }) {
			return form.UsageError("%q answers none of the questions of health", string(answer))
		}
	}
	return nil
}

// within is false for what is no number, too.
func within(v, low, high float64) bool { return v >= low && v <= high }

func cleanPaces(paces []Pace) ([]Pace, error) {
	if len(paces) > maxPaces {
		return nil, form.UsageError("%d paces are too many; %d are the most", len(paces), maxPaces)
	}
	clean := make([]Pace, 0, len(paces))
	for _, p := range paces {
		name, err := line("name of a pace", p.Name, 40)
		if err != nil {
			return nil, err
		}
		if !within(p.SpeedMS, minSpeedMS, maxSpeedMS) {
			return nil, form.UsageError("nobody runs at %.1f m/s; write the pace with its unit, as 6:00/km or 10km/h", p.SpeedMS)
		}
		// The bar stands between paces in a table.
		clean = append(clean, Pace{strings.ReplaceAll(name, "|", "/"), p.SpeedMS})
	}
	return clean, nil
}

// ageOfMajority is the age from which a person consents alone.
const ageOfMajority = 18

// Minority is what the year of birth alone tells about a runner's age.
type Minority int

// The answers: of age, under age, or not to be told from the year.
const (
	Unsure Minority = iota
	OfAge
	UnderAge
)

// Minor tells what is known at a moment of whether the runner is under 18.
// Someone who turns 18 this year is Unsure, since the day isn't recorded; so
// is a runner without a year of birth. The answer "under 18" to the
// questions of health settles it.
func (r Runner) Minor(at time.Time) Minority {
	years := at.Year() - r.BirthYear
	switch {
	case r.Health.Has(plan.Minor) && (r.BirthYear == 0 || years <= ageOfMajority):
		return UnderAge
	case r.BirthYear == 0 || years == ageOfMajority:
		return Unsure
	case years < ageOfMajority:
		return UnderAge
	default:
		return OfAge
	}
}

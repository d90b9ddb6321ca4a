package roster

import (
	"time"

	"plumbstride/internal/form"
	"plumbstride/internal/plan"
)

// DefaultKeepDays is how many days clips are kept where the class says
// nothing else. Measures stay.
const DefaultKeepDays = 90

// MaxKeepDays is the longest that a class may keep its clips: two years.
const MaxKeepDays = 730

// MaxCapacity is more people than any class can film.
const MaxCapacity = 500

// Class is one evening with a coach.
type Class struct {
	ID      string `json:"id"`
	Version int64  `json:"version"`
	// Title is what people call it; it may be empty.
	Title string    `json:"title"`
	Date  plan.Date `json:"date"`
	Place string    `json:"place"`
	// Capacity is how many runners fit; 0 where nobody counts.
	Capacity int    `json:"capacity"`
	Coach    string `json:"coach"`
	Note     string `json:"note"`
	// KeepDays is how long this class's clips are kept; 0 means DefaultKeepDays.
	KeepDays int       `json:"keep_days"`
	Made     time.Time `json:"made"`
	Changed  time.Time `json:"changed"`
}

// Days is how long this class's clips are kept, in days.
func (c Class) Days() int {
	if c.KeepDays <= 0 {
		return DefaultKeepDays
	}
	return c.KeepDays
}

// Clean gives the class with its texts tidied, or a form.Error that says
// what is wrong with it.
func (c Class) Clean() (Class, error) {
	var err error
	if c.Date == (plan.Date{}) {
		return c, form.UsageError("a class needs a day; write it as 2026-03-02")
	}
	if c.Title, err = line("class's name", c.Title, maxName); err != nil {
		return c, err
	}
	if c.Place, err = line("place", c.Place, maxLine); err != nil {
		return c, err
	}
	if c.Coach, err = line("coach's name", c.Coach, maxName); err != nil {
		return c, err
	}
	if c.Note, err = notes("note", c.Note); err != nil {
		return c, err
	}
	if c.Capacity < 0 || c.Capacity > MaxCapacity {
		return c, form.UsageError("a class of %d has no sense; 0 (nobody counts) to %d", c.Capacity, MaxCapacity)
	}
	if c.KeepDays < 0 || c.KeepDays > MaxKeepDays {
		return c, form.UsageError("clips can be kept for 1 to %d days, not %d", MaxKeepDays, c.KeepDays)
	}
	return c, nil
}

// Presence is where a runner stands in a class.
type Presence string

// The presences. A runner is expected, then here, then gone.
const (
	Expected Presence = "expected"
	Here     Presence = "here"
	Gone     Presence = "gone"
)

// Valid tells whether p is one of the three.
func (p Presence) Valid() bool { return p == Expected || p == Here || p == Gone }

// Attendance is one runner in one class.
type Attendance struct {
	ClassID  string   `json:"class_id"`
	RunnerID string   `json:"runner_id"`
	Presence Presence `json:"presence"`
	// Place is the runner's turn in the line, from 1; 0 means last come, last
	// served.
	Place int       `json:"place"`
	Since time.Time `json:"since"`
}

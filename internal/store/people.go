package store

import (
	"context"

	"plumbstride/internal/form"
	"plumbstride/internal/roster"
)

// Classes keeps the evenings.
type Classes interface {
	AddClass(ctx context.Context, c roster.Class) (roster.Class, error)
	Class(ctx context.Context, id string) (roster.Class, error)
	// Classes lists all, the latest day first.
	Classes(ctx context.Context) ([]roster.Class, error)
	ChangeClass(ctx context.Context, c roster.Class) (roster.Class, error)
	// RemoveClass takes the class, its attendance and its door away. Checks
	// and footage stay with their runners.
	RemoveClass(ctx context.Context, id string) error
}

// Runners keeps the people.
type Runners interface {
	AddRunner(ctx context.Context, r roster.Runner) (roster.Runner, error)
	Runner(ctx context.Context, id string) (roster.Runner, error)
	// Runners lists all by name.
	Runners(ctx context.Context) ([]roster.Runner, error)
	ChangeRunner(ctx context.Context, r roster.Runner) (roster.Runner, error)
	// ForgetRunner deletes the runner and everything about them, and puts
	// their files on the list of Removals. What is left is the trail, which
	// knows the runner's random ID alone. Package media removes the files
	// and scrubs the database: use media.Forget.
	ForgetRunner(ctx context.Context, id string) error
}

// Attendances keeps who is in which class.
type Attendances interface {
	// Attend puts a runner into a class, or changes their presence or turn
	// there. A new runner without a turn (Place 0) gets the last one. Since
	// is filled in when the presence changes. Capacity is the caller's to
	// mind, inside a Within.
	Attend(ctx context.Context, a roster.Attendance) (roster.Attendance, error)
	// Attendance lists a class in the order of its turns.
	Attendance(ctx context.Context, classID string) ([]roster.Attendance, error)
	// Attended lists a runner's classes, the latest day first.
	Attended(ctx context.Context, runnerID string) ([]roster.Attendance, error)
	// Unattend takes a runner out of a class.
	Unattend(ctx context.Context, classID, runnerID string) error
}

// Consents keeps what runners agreed to; nothing is ever changed in it.
type Consents interface {
	// AddConsent records a consent, which takes the place of earlier ones:
	// footage that it no longer covers is due at once (DueFootage), and the
	// rest no later than it allows. Given is now.
	AddConsent(ctx context.Context, c roster.Consent) (roster.Consent, error)
	// Consents lists a runner's, the earliest first.
	Consents(ctx context.Context, runnerID string) ([]roster.Consent, error)
	// WithdrawConsent takes a consent back; again does no harm. Clips and
	// pictures are due at once, unfinished uploads end, what waits to be
	// measured is Refused and leaves the queue; measures that are there stay.
	// Use media.Withdraw, which removes the files too.
	WithdrawConsent(ctx context.Context, id string) error
}

// Join puts a runner into a class as Attend does, if there is room: a
// form.Error where as many as fit are expected or here already. A coach may
// take in more with Attend.
func Join(ctx context.Context, s Store, a roster.Attendance) (joined roster.Attendance, err error) {
	err = s.Within(ctx, func(s Store) error {
		class, err := s.Class(ctx, a.ClassID)
		if err != nil {
			return err
		}
		all, err := s.Attendance(ctx, a.ClassID)
		if err != nil {
			return err
		}
		others := 0
		for _, other := range all {
			if other.RunnerID != a.RunnerID && other.Presence != roster.Gone {
				others++
			}
		}
		if class.Capacity > 0 && others >= class.Capacity {
			return form.UsageError("the class is full: %d runners are the most; ask the coach", class.Capacity)
		}
		joined, err = s.Attend(ctx, a)
		return err
	})
	return joined, err
}

package tables

import (
	"context"
	"slices"

	"plumbstride/internal/form"
	"plumbstride/internal/plan"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

const classColumns = "id, version, title, day, place, capacity, coach, note, keep_days, made_us, changed_us"

func readClass(scan scanner) (c roster.Class, err error) {
	var day string
	err = scan(&c.ID, &c.Version, &c.Title, &day, &c.Place, &c.Capacity, &c.Coach, &c.Note, &c.KeepDays, when{&c.Made}, when{&c.Changed})
	if err == nil {
		c.Date, err = plan.ParseDate(day)
	}
	return c, err
}

// AddClass adds a class.
func (t *Tables) AddClass(ctx context.Context, c roster.Class) (roster.Class, error) {
	c, err := c.Clean()
	if err != nil {
		return c, err
	}
	c.ID, c.Version, c.Made = newID(), 1, t.now()
	c.Changed = c.Made
	return c, t.change(ctx, func(t *Tables) (store.Entry, error) {
		_, err := t.exec(ctx, "INSERT INTO classes ("+classColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)",
			c.ID, c.Version, c.Title, c.Date.String(), c.Place, c.Capacity, c.Coach, c.Note, c.KeepDays, micro(c.Made), micro(c.Changed))
		return entry(roster.Add, roster.ClassKind, c.ID, ""), err
	})
}

// Class gives a class.
func (t *Tables) Class(ctx context.Context, id string) (roster.Class, error) {
	return only(ctx, t, readClass, "SELECT "+classColumns+" FROM classes WHERE id = ?", id)
}

// Classes lists all classes, the latest day first.
func (t *Tables) Classes(ctx context.Context) ([]roster.Class, error) {
	return list(ctx, t, readClass, "SELECT "+classColumns+" FROM classes ORDER BY day DESC, made_us DESC, id")
}

// ChangeClass changes a class.
func (t *Tables) ChangeClass(ctx context.Context, c roster.Class) (roster.Class, error) {
	c, err := c.Clean()
	if err != nil {
		return c, err
	}
	err = t.change(ctx, func(t *Tables) (store.Entry, error) {
		err := t.execVersion(ctx, "classes", `UPDATE classes SET version = version + 1, title = ?, day = ?, place = ?, capacity = ?,
			coach = ?, note = ?, keep_days = ?, changed_us = ? WHERE id = ? AND version = ?`,
			c.Title, c.Date.String(), c.Place, c.Capacity, c.Coach, c.Note, c.KeepDays, micro(t.now()), c.ID, c.Version)
		if err == nil {
			c, err = t.Class(ctx, c.ID)
		}
		return entry(roster.Change, roster.ClassKind, c.ID, ""), err
	})
	return c, err
}

// RemoveClass deletes a class.
func (t *Tables) RemoveClass(ctx context.Context, id string) error {
	return t.change(ctx, func(t *Tables) (store.Entry, error) {
		return entry(roster.Delete, roster.ClassKind, id, ""), t.execOne(ctx, "DELETE FROM classes WHERE id = ?", id)
	})
}

const runnerColumns = "id, version, name, contact, birth_year, height_m, mass_kg, sex, paces, shoes, health, health_note, goals, made_us, changed_us"

func readRunner(scan scanner) (r roster.Runner, err error) {
	return r, scan(&r.ID, &r.Version, &r.Name, &r.Contact, &r.BirthYear, &r.HeightM, &r.MassKg, &r.Sex, object{&r.Paces},
		&r.Shoes, object{&r.Health}, &r.HealthNote, &r.Goals, when{&r.Made}, when{&r.Changed})
}

// runnerValues are the columns between version and made_us.
func runnerValues(r roster.Runner) ([]any, error) {
	paces, err := asText(r.Paces)
	if err != nil {
		return nil, err
	}
	health, err := asText(r.Health)
	return []any{r.Name, r.Contact, r.BirthYear, r.HeightM, r.MassKg, string(r.Sex), paces, r.Shoes, health, r.HealthNote, r.Goals}, err
}

// AddRunner adds a runner.
func (t *Tables) AddRunner(ctx context.Context, r roster.Runner) (roster.Runner, error) {
	r, err := r.Clean(t.now())
	if err != nil {
		return r, err
	}
	r.ID, r.Version, r.Made = newID(), 1, t.now()
	r.Changed = r.Made
	values, err := runnerValues(r)
	if err != nil {
		return r, err
	}
	return r, t.change(ctx, func(t *Tables) (store.Entry, error) {
		values := slices.Concat([]any{r.ID, r.Version}, values, []any{micro(r.Made), micro(r.Changed)})
		_, err := t.exec(ctx, "INSERT INTO runners ("+runnerColumns+") VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", values...)
		return entry(roster.Add, roster.RunnerKind, r.ID, r.ID), err
	})
}

// Runner gives a runner.
func (t *Tables) Runner(ctx context.Context, id string) (roster.Runner, error) {
	return only(ctx, t, readRunner, "SELECT "+runnerColumns+" FROM runners WHERE id = ?", id)
}

// Runners lists all runners by name.
func (t *Tables) Runners(ctx context.Context) ([]roster.Runner, error) {
	return list(ctx, t, readRunner, "SELECT "+runnerColumns+" FROM runners ORDER BY LOWER(name), made_us, id")
}

// ChangeRunner changes a runner.
func (t *Tables) ChangeRunner(ctx context.Context, r roster.Runner) (roster.Runner, error) {
	r, err := r.Clean(t.now())
	if err != nil {
		return r, err
	}
	values, err := runnerValues(r)
	if err != nil {
		return r, err
	}
	err = t.change(ctx, func(t *Tables) (store.Entry, error) {
		err := t.execVersion(ctx, "runners", `UPDATE runners SET version = version + 1, name = ?, contact = ?, birth_year = ?,
			height_m = ?, mass_kg = ?, sex = ?, paces = ?, shoes = ?, health = ?, health_note = ?, goals = ?, changed_us = ?
			WHERE id = ? AND version = ?`, append(values, micro(t.now()), r.ID, r.Version)...)
		if err == nil {
			r, err = t.Runner(ctx, r.ID)
		}
		return entry(roster.Change, roster.RunnerKind, r.ID, r.ID), err
	})
	return r, err
}

// ForgetRunner deletes a runner and all about them.
func (t *Tables) ForgetRunner(ctx context.Context, id string) error {
	return t.change(ctx, func(t *Tables) (store.Entry, error) {
		e := entry("forget", roster.RunnerKind, id, id)
		if _, err := t.exec(ctx, `INSERT INTO removals (media_key) SELECT media_key FROM footage WHERE runner_id = ? AND gone_us = 0
			ON CONFLICT DO NOTHING`, id); err != nil {
			return e, err
		}
		if err := t.dropUploads(ctx, "runner_id = ?", id); err != nil {
			return e, err
		}
		return e, t.execOne(ctx, "DELETE FROM runners WHERE id = ?", id)
	})
}

const attendanceColumns = "class_id, runner_id, presence, place, since_us"

func readAttendance(scan scanner) (a roster.Attendance, err error) {
	return a, scan(&a.ClassID, &a.RunnerID, &a.Presence, &a.Place, when{&a.Since})
}

// Attend puts a runner into a class or changes where they stand in it.
func (t *Tables) Attend(ctx context.Context, a roster.Attendance) (roster.Attendance, error) {
	if !a.Presence.Valid() {
		return a, form.UsageError("a runner is %s, %s or %s, not %q", roster.Expected, roster.Here, roster.Gone, a.Presence)
	}
	if a.Place < 0 {
		return a, form.UsageError("turns in a class count from 1")
	}
	err := t.change(ctx, func(t *Tables) (e store.Entry, err error) {
		a.Since = t.now()
		before, err := list(ctx, t, readAttendance, "SELECT "+attendanceColumns+" FROM attendance WHERE class_id = ? AND runner_id = ?", a.ClassID, a.RunnerID)
		if err != nil {
			return e, err
		}
		if len(before) > 0 {
			if a.Place == 0 {
				a.Place = before[0].Place
			}
			if a.Presence == before[0].Presence {
				a.Since = before[0].Since
			}
			_, err = t.exec(ctx, "UPDATE attendance SET presence = ?, place = ?, since_us = ? WHERE class_id = ? AND runner_id = ?",
				string(a.Presence), a.Place, micro(a.Since), a.ClassID, a.RunnerID)
			return entry(roster.Change, roster.AttendanceKind, a.ClassID, a.RunnerID), err
		}
		if a.Place == 0 {
			a.Place, err = only(ctx, t, readInt, "SELECT COALESCE(MAX(place), 0) + 1 FROM attendance WHERE class_id = ?", a.ClassID)
			if err != nil {
				return e, err
			}
		}
		_, err = t.exec(ctx, "INSERT INTO attendance ("+attendanceColumns+") VALUES (?, ?, ?, ?, ?)",
			a.ClassID, a.RunnerID, string(a.Presence), a.Place, micro(a.Since))
		return entry(roster.Add, roster.AttendanceKind, a.ClassID, a.RunnerID), err
	})
	return a, err
}

func readInt(scan scanner) (n int, err error) { return n, scan(&n) }

// Attendance lists a class in the order of its turns.
func (t *Tables) Attendance(ctx context.Context, classID string) ([]roster.Attendance, error) {
	return list(ctx, t, readAttendance, "SELECT "+attendanceColumns+" FROM attendance WHERE class_id = ? ORDER BY place, since_us, runner_id", classID)
}

// Attended lists a runner's classes, the latest day first.
func (t *Tables) Attended(ctx context.Context, runnerID string) ([]roster.Attendance, error) {
	return list(ctx, t, readAttendance, `SELECT a.class_id, a.runner_id, a.presence, a.place, a.since_us
		FROM attendance a JOIN classes c ON c.id = a.class_id WHERE a.runner_id = ? ORDER BY c.day DESC, c.made_us DESC, c.id`, runnerID)
}

// Unattend takes a runner out of a class.
func (t *Tables) Unattend(ctx context.Context, classID, runnerID string) error {
	return t.change(ctx, func(t *Tables) (store.Entry, error) {
		err := t.execOne(ctx, "DELETE FROM attendance WHERE class_id = ? AND runner_id = ?", classID, runnerID)
		return entry(roster.Delete, roster.AttendanceKind, classID, runnerID), err
	})
}

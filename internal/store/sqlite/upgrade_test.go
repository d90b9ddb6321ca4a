package sqlite

import (
	"compress/gzip"
	"database/sql"
	"fmt"
	"io"
	"maps"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"plumbstride/internal/form"
	"plumbstride/internal/roster"
	"plumbstride/internal/store"
)

// oldDatabase unpacks a stored database of an earlier step of the tables'
// history.
func oldDatabase(t *testing.T, name string) (path string) {
	t.Helper()
	in, err := os.Open(filepath.Join("testdata", name))
	if err != nil {
		t.Fatal(err)
	}
	defer in.Close()
	z, err := gzip.NewReader(in)
	if err != nil {
		t.Fatal(err)
	}
	content, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	path = filepath.Join(t.TempDir(), "plumbstride.db")
	if err := os.WriteFile(path, content, 0o600); err != nil {
		t.Fatal(err)
	}
	return path
}

// columnsOf gives the columns of each table but the history's own.
func columnsOf(t *testing.T, db *sql.DB) map[string][]string {
	t.Helper()
	rows, err := db.Query(`SELECT m.name, c.name FROM sqlite_master m JOIN pragma_table_info(m.name) c
		WHERE m.type = 'table' AND m.name NOT LIKE 'sqlite%' AND m.name NOT LIKE 'goose%' ORDER BY m.name, c.cid`)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	columns := map[string][]string{}
	for rows.Next() {
		var table, column string
		if err := rows.Scan(&table, &column); err != nil {
			t.Fatal(err)
		}
		columns[table] = append(columns[table], column)
	}
	return columns
}

// contentOf gives the rows of each table as text, in those columns.
func contentOf(t *testing.T, db *sql.DB, columns map[string][]string) map[string][]string {
	t.Helper()
	content := map[string][]string{}
	for table, names := range columns {
		list := strings.Join(names, ", ")
		rows, err := db.Query("SELECT " + list + " FROM " + table + " ORDER BY " + list)
		if err != nil {
			t.Fatalf("%s: %v", table, err)
		}
		for rows.Next() {
			cells, into := make([]any, len(names)), make([]any, len(names))
			for i := range cells {
				into[i] = &cells[i]
			}
			if err := rows.Scan(into...); err != nil {
				t.Fatal(err)
			}
			content[table] = append(content[table], fmt.Sprintf("%q", fmt.Sprint(cells...)))
		}
		if err := rows.Close(); err != nil {
			t.Fatal(err)
		}
	}
	return content
}

// TestUpgrade: whatever stood in a database of the first step stands in it
// still, word for word, after today's program has opened it; opening it again
// changes nothing of the tables' history.
func TestUpgrade(t *testing.T) {
	path := oldDatabase(t, "schema1.db.gz")
	raw, err := sql.Open("sqlite", address(path))
	if err != nil {
		t.Fatal(err)
	}
	columns := columnsOf(t, raw)
	before := contentOf(t, raw, columns)
	if err := raw.Close(); err != nil {
		t.Fatal(err)
	}
	if len(columns) < 18 || len(before["runners"]) != 3 || len(before["trail"]) < 20 {
		t.Fatalf("the stored database is not what it was: %d tables, %d runners", len(columns), len(before["runners"]))
	}
	for round := range 2 {
		db := openAt(t, path, time.Now)
		if diff := cmp.Diff(before, contentOf(t, db.db, columns)); diff != "" {
			t.Errorf("opened %d times (-before +after):\n%s", round+1, diff)
		}
		steps, err := provider(db.db)
		if err != nil {
			t.Fatal(err)
		}
		if pending, err := steps.HasPending(t.Context()); err != nil || pending {
			t.Errorf("opened, and steps are left: %v, %v", pending, err)
		}
		var taken int
		if err := db.db.QueryRow("SELECT COUNT(*) FROM goose_db_version WHERE version_id > 0").Scan(&taken); err != nil || taken != len(steps.ListSources()) {
			t.Errorf("opened %d times: %d steps stand in the history, %v", round+1, taken, err)
		}
	}
}

// TestUpgradedRecords: the old records are read by today's store, and can be
// changed.
func TestUpgradedRecords(t *testing.T) {
	db := openAt(t, oldDatabase(t, "schema1.db.gz"), time.Now)
	ctx := t.Context()
	runners, err := db.Runners(ctx)
	if err != nil || len(runners) != 3 {
		t.Fatalf("%+v, %v", runners, err)
	}
	ida := runners[0]
	if ida.Name != "Ida Invented" || ida.Contact != "ida@example.org" || !ida.Health.Asked || ida.HealthNote != "invented trouble" {
		t.Errorf("%+v", ida)
	}
	all, err := store.About(ctx, db, ida.ID)
	if err != nil {
		t.Fatal(err)
	}
	if len(all.Checks) != 1 || all.Checks[0].State != store.Ready || !all.Checks[0].Released() || len(all.Checks[0].Card) == 0 ||
		len(all.Measures) < 10 || len(all.Plans) != 1 || len(all.Notes) != 1 || len(all.Footage) != 2 || len(all.Links) != 1 || len(all.Consents) != 1 {
		t.Errorf("of Ida: %d checks, %d measures, %d plans, %d notes, %d files, %d links, %d consents", len(all.Checks), len(all.Measures),
			len(all.Plans), len(all.Notes), len(all.Footage), len(all.Links), len(all.Consents))
	}
	if a, err := db.AccountByName(ctx, "nora"); err != nil || a.Role != roster.Coach {
		t.Errorf("%+v, %v", a, err)
	}
	ida.Goals = "another goal"
	if _, err := db.ChangeRunner(ctx, ida); err != nil {
		t.Error(err)
	}
	for _, r := range runners {
		if err := db.ForgetRunner(ctx, r.ID); err != nil {
			t.Errorf("%s: %v", r.Name, err)
		}
	}
}

// TestNewerIsLeftAlone: a database of a newer program is refused, and no byte
// of it is changed.
func TestNewerIsLeftAlone(t *testing.T) {
	path := oldDatabase(t, "schema1.db.gz")
	db, err := Open(t.Context(), path, time.Now)
	if err != nil {
		t.Fatal(err)
	}
	if _, err := db.db.Exec("INSERT INTO goose_db_version (version_id, is_applied) VALUES (99999, 1)"); err != nil {
		t.Fatal(err)
	}
	columns := columnsOf(t, db.db)
	before := contentOf(t, db.db, columns)
	if err := db.Close(); err != nil {
		t.Fatal(err)
	}
	_, err = Open(t.Context(), path, time.Now)
	if form.CodeOf(err) != form.CodeMissing || !strings.Contains(err.Error(), "last used by a newer plumbstride (99999") {
		t.Errorf("%v", err)
	}
	raw, err := sql.Open("sqlite", address(path))
	if err != nil {
		t.Fatal(err)
	}
	defer raw.Close()
	after := contentOf(t, raw, columns)
	if diff := cmp.Diff(maps.Clone(before), after); diff != "" {
		t.Error(diff)
	}
}

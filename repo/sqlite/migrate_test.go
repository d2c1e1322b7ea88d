package sqlite

import (
	"context"
	"database/sql"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	engine "github.com/golang-migrate/migrate/v4/database/sqlite"
	"github.com/google/go-cmp/cmp"

	"coldrise/domain/problem"
	"coldrise/migrations"
	"coldrise/repo"
)

// second is a migration after the released ones. mischief goes wrong in a
// file, and passes in memory, where the schema is tried first.
func second(t *testing.T, mischief string) fs.FS {
	t.Helper()
	return released(map[string]string{
		"0002_shelves.up.sql":   "CREATE TABLE shelves (shop TEXT NOT NULL, name TEXT NOT NULL, PRIMARY KEY (shop, name)) STRICT;\n" + mischief,
		"0002_shelves.down.sql": "DROP TABLE shelves;",
	})
}

const mischief = "INSERT INTO probe (one, writes) SELECT 2, 0 FROM pragma_database_list WHERE file <> ''; -- no end of line"

// made is a file at the released schema with a plan in it, closed.
func made(t *testing.T) string {
	t.Helper()
	path := filepath.Join(t.TempDir(), "bench.db")
	s, err := Open(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	if err := s.SavePlan(context.Background(), repo.Bench, repo.Plan{ID: "kept", Document: []byte("{}")}); err != nil {
		t.Fatal(err)
	}
	if err := s.Close(); err != nil {
		t.Fatal(err)
	}
	return path
}

func wantOpens(t *testing.T, path string, files fs.FS, version uint) {
	t.Helper()
	s, err := open(context.Background(), path, files)
	if err != nil {
		t.Fatalf("%v (cause: %v)", err, problem.As(err).Cause)
	}
	defer s.Close()
	if _, err := s.Plan(context.Background(), repo.Bench, "kept"); err != nil {
		t.Errorf("the plan that was there: %v", err)
	}
	if have, dirty := recorded(t, path); have != version || dirty {
		t.Errorf("version %d, dirty %t; want %d, clean", have, dirty, version)
	}
}

// wantRefused checks the code, that the words are ours and say what was
// asked, and that nothing beside the file's folder was touched.
func wantRefused(t *testing.T, path string, files fs.FS, code problem.Code, words ...string) {
	t.Helper()
	before := contents(t, path)
	s, err := open(context.Background(), path, files)
	if err == nil {
		s.Close()
		t.Fatal("it opened")
	}
	if problem.CodeOf(err) != code {
		t.Errorf("%s, want %s: %v (cause: %v)", problem.CodeOf(err), code, err, problem.As(err).Cause)
	}
	for _, w := range words {
		if !strings.Contains(err.Error(), w) {
			t.Errorf("%q does not say %q", err, w)
		}
	}
	for _, foreign := range []string{"SQLITE_", "unable to", "no such", "sql:", "syntax", "permission denied"} {
		if strings.Contains(err.Error(), foreign) {
			t.Errorf("foreign words: %q", err)
		}
	}
	if diff := cmp.Diff(before, contents(t, path)); diff != "" {
		t.Error("the file was changed")
	}
}

// contents gives the bytes of a database and of its log. No connection of
// this process may be open on it.
func contents(t *testing.T, path string) [2]string {
	t.Helper()
	var all [2]string
	for i, suffix := range []string{"", "-wal"} {
		if info, err := os.Stat(path + suffix); err != nil || !info.Mode().IsRegular() {
			continue
		}
		data, err := os.ReadFile(path + suffix)
		if err != nil {
			continue // One that this user may not read.
		}
		all[i] = string(data)
	}
	return all
}

func TestOpenAgainKeepsWhatIsThere(t *testing.T) {
	t.Parallel()
	path := made(t)
	wantOpens(t, path, migrations.Files, 1)
	wantOpens(t, path, second(t, ""), 2)
	wantOpens(t, path, second(t, ""), 2)
}

func TestOlderBinaryOnNewerSchema(t *testing.T) {
	t.Parallel()
	path := made(t)
	wantOpens(t, path, second(t, ""), 2)
	wantRefused(t, path, migrations.Files, problem.Conflict, "version 2", "knows 1 ")
	tamper(t, path, "UPDATE schema_migrations SET dirty = 1")
	wantRefused(t, path, migrations.Files, problem.Conflict, "version 2", "knows 1 ")
}

// The newer process was killed, and its log not yet folded into the file.
func TestOlderBinaryLeavesTheLogOfANewerOne(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "bench.db")
	s, err := open(context.Background(), path, second(t, ""))
	if err != nil {
		t.Fatal(err)
	}
	copied := filepath.Join(t.TempDir(), "copy.db")
	all := contents(t, path)
	s.Close()
	if all[1] == "" {
		t.Fatal("there is no log to leave")
	}
	for i, suffix := range []string{"", "-wal"} {
		if err := os.WriteFile(copied+suffix, []byte(all[i]), 0o600); err != nil {
			t.Fatal(err)
		}
	}
	wantRefused(t, copied, migrations.Files, problem.Conflict, "version 2", "knows 1 ")
}

func TestFailedMigrationLeavesTheVersionBefore(t *testing.T) {
	t.Parallel()
	path := made(t)
	if _, err := open(context.Background(), path, second(t, mischief)); problem.CodeOf(err) != problem.Internal {
		t.Fatalf("%v, want internal", err)
	}
	if version, dirty := recorded(t, path); version != 1 || dirty {
		t.Errorf("version %d, dirty %t; want 1, clean", version, dirty)
	}
	wantOpens(t, path, migrations.Files, 1)
	wantOpens(t, path, second(t, ""), 2)
}

// Killed behind a step, ahead of golang-migrate's own last word on it, a file
// must have the version of its tables.
func TestVersionIsWrittenWithItsStep(t *testing.T) {
	t.Parallel()
	path := made(t)
	for _, tt := range []struct {
		target int
		step   string
		want   uint
	}{{2, "CREATE TABLE shelves (a TEXT) STRICT", 2}, {1, "DROP TABLE shelves -- no end", 1}, {-1, "SELECT 1;", 0}} {
		db, err := sql.Open(driverName, writerDSN(path))
		if err != nil {
			t.Fatal(err)
		}
		inner, err := engine.WithInstance(db, &engine.Config{})
		if err != nil {
			t.Fatal(err)
		}
		w := &wholeSteps{Driver: inner}
		if err := w.SetVersion(tt.target, true); err != nil {
			t.Fatal(err)
		}
		if err := w.Run(strings.NewReader(tt.step)); err != nil {
			t.Fatal(err)
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		if version, dirty := recorded(t, path); version != tt.want || dirty {
			t.Errorf("after the step to %d: version %d, dirty %t", tt.target, version, dirty)
		}
	}
}

func TestMigrationThatIsNoSQLTouchesNoFile(t *testing.T) {
	t.Parallel()
	wantRefused(t, made(t), second(t, "CREATE TABLE"), problem.Internal)
}

// The mark that golang-migrate's own tool leaves where it was stopped.
func TestDirtyMarkIsSettledByTheTables(t *testing.T) {
	t.Parallel()
	dataOnly := released(map[string]string{"0002_data.up.sql": "UPDATE probe SET writes = 0;", "0002_data.down.sql": "SELECT 1;"})
	for _, tt := range []struct {
		name, sql string
		files     fs.FS
		version   uint // 0: it cannot be told, and is refused
	}{
		{"done, and the mark left", "UPDATE schema_migrations SET dirty = 1", migrations.Files, 1},
		{"undone, and the version left", "UPDATE schema_migrations SET version = 2, dirty = 1", second(t, ""), 2},
		{"done once more than recorded", "CREATE TABLE shelves (shop TEXT NOT NULL, name TEXT NOT NULL, PRIMARY KEY (shop, name)) STRICT; UPDATE schema_migrations SET dirty = 1", second(t, ""), 2},
		{"half done", "CREATE TABLE shelf (a INTEGER) STRICT; UPDATE schema_migrations SET version = 2, dirty = 1", second(t, ""), 0},
		{"half undone", "DROP INDEX parts_by_value; UPDATE schema_migrations SET dirty = 1", migrations.Files, 0},
		{"a step that changes no table", "UPDATE schema_migrations SET version = 2, dirty = 1", dataOnly, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			path := made(t)
			tamper(t, path, tt.sql)
			if tt.version == 0 {
				wantRefused(t, path, tt.files, problem.Conflict, "broken off")
				return
			}
			wantOpens(t, path, tt.files, tt.version)
		})
	}
	t.Run("undone in an empty file", func(t *testing.T) {
		t.Parallel()
		path := filepath.Join(t.TempDir(), "bench.db")
		tamper(t, path, "CREATE TABLE schema_migrations (version uint64,dirty bool); INSERT INTO schema_migrations VALUES (1, 1)")
		opened(t, path)
		if version, dirty := recorded(t, path); version != 1 || dirty {
			t.Errorf("version %d, dirty %t", version, dirty)
		}
	})
}

func TestTablesThatAreNotOursAreRefused(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct{ name, sql, words string }{
		{"an index dropped", "DROP INDEX parts_by_value", "not those of its schema version 1"},
		{"a table added", "CREATE TABLE invoices (a INTEGER)", "not those of its schema version 1"},
		{"a column added", "ALTER TABLE parts ADD COLUMN colour TEXT", "not those of its schema version 1"},
		{"the version lost", "DELETE FROM schema_migrations", "not coldrise's"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			path := made(t)
			tamper(t, path, tt.sql)
			wantRefused(t, path, migrations.Files, problem.Conflict, tt.words)
		})
	}
	t.Run("another program's file", func(t *testing.T) {
		t.Parallel()
		path := filepath.Join(t.TempDir(), "other.db")
		tamper(t, path, "CREATE TABLE invoices (a INTEGER)")
		wantRefused(t, path, migrations.Files, problem.Conflict, "not coldrise's")
	})
}

func TestOpenGivesUpWithItsContext(t *testing.T) {
	t.Parallel()
	path := made(t)
	done, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Open(done, path); problem.CodeOf(err) != problem.Cancelled {
		t.Errorf("%v, want cancelled", err)
	}
	unlock, err := lockFile(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	short, cancel := context.WithTimeout(context.Background(), 100*time.Millisecond)
	defer cancel()
	begun := time.Now()
	if _, err := Open(short, path); problem.CodeOf(err) != problem.Cancelled || time.Since(begun) > 5*time.Second {
		t.Errorf("%v after %v, want cancelled", err, time.Since(begun))
	}
	opening := make(chan error, 1)
	go func() {
		s, err := Open(context.Background(), path)
		if err == nil {
			s.Close()
		}
		opening <- err
	}()
	select {
	case err := <-opening:
		t.Errorf("it did not wait for the lock: %v", err)
	case <-time.After(100 * time.Millisecond):
	}
	unlock()
	if err := <-opening; err != nil {
		t.Errorf("once the lock was free: %v", err)
	}
}

// The lock outlasts the context it was taken with: a migration that has begun is not disturbed.
func TestLockOutlastsItsContext(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "bench.db")
	ctx, cancel := context.WithCancel(context.Background())
	unlock, err := lockFile(ctx, path)
	if err != nil {
		t.Fatal(err)
	}
	defer unlock()
	cancel()
	short, stop := context.WithTimeout(context.Background(), 200*time.Millisecond)
	defer stop()
	if again, err := lockFile(short, path); err == nil {
		again()
		t.Error("two hold the lock")
	}
}

func TestEveryMigrationGoesDownAgain(t *testing.T) {
	t.Parallel()
	steps, err := migrations.Steps(migrations.Files, migrations.SQLite)
	if err != nil {
		t.Fatal(err)
	}
	prints, err := fingerprints(context.Background(), steps)
	if err != nil {
		t.Fatal(err)
	}
	db, err := sql.Open(driverName, "file::memory:?_pragma=foreign_keys(1)")
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	run := func(text string, want uint) {
		t.Helper()
		if _, err := db.Exec(text); err != nil {
			t.Fatal(err)
		}
		if got, err := fingerprint(context.Background(), db); err != nil || got != prints[want] {
			t.Errorf("after the step to version %d: %v\n%s", want, err, cmp.Diff(prints[want], got))
		}
	}
	for range 2 {
		for _, s := range steps {
			run(s.Up, s.Version)
		}
		for i := len(steps) - 1; i >= 0; i-- {
			run(steps[i].Down, steps[i].Version-1)
		}
	}
}

package sqlite

import (
	"context"
	"database/sql"
	"fmt"
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
	"coldrise/repo/repotest"
)

// newest is the schema version this program makes.
func newest(t *testing.T) uint {
	t.Helper()
	steps, err := migrations.Steps(migrations.Files, migrations.SQLite)
	if err != nil {
		t.Fatal(err)
	}
	return uint(len(steps))
}

// next is a migration after the released ones. mischief goes wrong in a
// file, and passes in memory, where the schema is tried first.
func next(t *testing.T, mischief string) fs.FS {
	t.Helper()
	n := newest(t) + 1
	return repotest.Released(migrations.SQLite, map[string]string{
		fmt.Sprintf("%04d_shelves.up.sql", n):   "CREATE TABLE shelves (shop TEXT NOT NULL, name TEXT NOT NULL, PRIMARY KEY (shop, name)) STRICT;\n" + mischief,
		fmt.Sprintf("%04d_shelves.down.sql", n): "DROP TABLE shelves;",
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
	path, now := made(t), newest(t)
	wantOpens(t, path, migrations.Files, now)
	wantOpens(t, path, next(t, ""), now+1)
	wantOpens(t, path, next(t, ""), now+1)
}

func TestOlderBinaryOnNewerSchema(t *testing.T) {
	t.Parallel()
	path, now := made(t), newest(t)
	newer, knows := fmt.Sprint("version ", now+1), fmt.Sprint("knows ", now, " ")
	wantOpens(t, path, next(t, ""), now+1)
	wantRefused(t, path, migrations.Files, problem.Conflict, newer, knows)
	tamper(t, path, "UPDATE schema_migrations SET dirty = 1")
	wantRefused(t, path, migrations.Files, problem.Conflict, newer, knows)
}

// The newer process was killed, and its log not yet folded into the file.
func TestOlderBinaryLeavesTheLogOfANewerOne(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "bench.db")
	s, err := open(context.Background(), path, next(t, ""))
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
	wantRefused(t, copied, migrations.Files, problem.Conflict, fmt.Sprint("version ", newest(t)+1), fmt.Sprint("knows ", newest(t), " "))
}

func TestFailedMigrationLeavesTheVersionBefore(t *testing.T) {
	t.Parallel()
	path := made(t)
	if _, err := open(context.Background(), path, next(t, mischief)); problem.CodeOf(err) != problem.Internal {
		t.Fatalf("%v, want internal", err)
	}
	now := newest(t)
	if version, dirty := recorded(t, path); version != now || dirty {
		t.Errorf("version %d, dirty %t; want %d, clean", version, dirty, now)
	}
	wantOpens(t, path, migrations.Files, now)
	wantOpens(t, path, next(t, ""), now+1)
}

// Killed behind a step, ahead of golang-migrate's own last word on it, a file
// must have the version of its tables.
func TestVersionIsWrittenWithItsStep(t *testing.T) {
	t.Parallel()
	path, now := made(t), newest(t)
	for _, tt := range []struct {
		target int
		step   string
		want   uint
	}{{int(now) + 1, "CREATE TABLE shelves (a TEXT) STRICT", now + 1}, {int(now), "DROP TABLE shelves -- no end", now}, {-1, "SELECT 1;", 0}} {
		db, err := sql.Open(driverName, writerDSN(path))
		if err != nil {
			t.Fatal(err)
		}
		inner, err := engine.WithInstance(db, &engine.Config{})
		if err != nil {
			t.Fatal(err)
		}
		w := migrations.WholeSteps(inner)
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
	wantRefused(t, made(t), next(t, "CREATE TABLE"), problem.Internal)
}

// The mark that golang-migrate's own tool leaves where it was stopped.
func TestDirtyMarkIsSettledByTheTables(t *testing.T) {
	t.Parallel()
	now := newest(t)
	after := now + 1
	dataOnly := repotest.Released(migrations.SQLite, map[string]string{
		fmt.Sprintf("%04d_data.up.sql", after):   "UPDATE probe SET writes = 0;",
		fmt.Sprintf("%04d_data.down.sql", after): "SELECT 1;"})
	atNext := fmt.Sprintf("UPDATE schema_migrations SET version = %d, dirty = 1", after)
	for _, tt := range []struct {
		name, sql string
		files     fs.FS
		version   uint // 0: it cannot be told, and is refused
	}{
		{"done, and the mark left", "UPDATE schema_migrations SET dirty = 1", migrations.Files, now},
		{"undone, and the version left", atNext, next(t, ""), after},
		{"done once more than recorded", "CREATE TABLE shelves (shop TEXT NOT NULL, name TEXT NOT NULL, PRIMARY KEY (shop, name)) STRICT; UPDATE schema_migrations SET dirty = 1", next(t, ""), after},
		{"half done", "CREATE TABLE shelf (a INTEGER) STRICT; " + atNext, next(t, ""), 0},
		{"half undone", "DROP INDEX parts_by_value; UPDATE schema_migrations SET dirty = 1", migrations.Files, 0},
		{"a step that changes no table", atNext, dataOnly, 0},
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
		if version, dirty := recorded(t, path); version != now || dirty {
			t.Errorf("version %d, dirty %t", version, dirty)
		}
	})
}

func TestTablesThatAreNotOursAreRefused(t *testing.T) {
	t.Parallel()
	notThose := fmt.Sprint("not those of its schema version ", newest(t))
	for _, tt := range []struct{ name, sql, words string }{
		{"an index dropped", "DROP INDEX parts_by_value", notThose},
		{"a table added", "CREATE TABLE invoices (a INTEGER)", notThose},
		{"a column added", "ALTER TABLE parts ADD COLUMN colour TEXT", notThose},
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

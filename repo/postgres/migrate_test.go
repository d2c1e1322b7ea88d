package postgres

import (
	"context"
	"fmt"
	"io/fs"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/jackc/pgx/v5"

	"coldrise/domain/problem"
	"coldrise/migrations"
	"coldrise/repo"
	"coldrise/repo/postgres/pgtest"
	"coldrise/repo/repotest"
)

// further is a migration after the released ones. mischief goes wrong in a
// database's own schema, and passes where the schema is tried first.
func further(mischief string) fs.FS {
	name := shelves(newest() + 1)
	return repotest.Released(migrations.Postgres, map[string]string{
		name + ".up.sql":   "CREATE TABLE shelves (shop text NOT NULL, name text NOT NULL, PRIMARY KEY (shop, name));\n" + mischief,
		name + ".down.sql": "DROP TABLE shelves;",
	})
}

func shelves(version uint) string { return fmt.Sprintf("%04d_shelves", version) }

// newest is the released schema's version; 0 where the migrations cannot be read.
func newest() uint {
	steps, _ := migrations.Steps(migrations.Files, migrations.Postgres)
	return uint(len(steps))
}

const mischief = "INSERT INTO probe (one, writes) SELECT 2, 0 WHERE current_schema() = 'public'; -- no end of line"

// made is a database at the released schema with a plan in it, closed.
func made(t *testing.T) string {
	t.Helper()
	url := pgtest.Empty(t)
	s, err := Open(context.Background(), url)
	if err != nil {
		t.Fatalf("%v (cause: %v)", err, problem.As(err).Cause)
	}
	defer s.Close()
	if err := s.SavePlan(context.Background(), repo.Bench, repo.Plan{ID: "kept", Document: []byte("{}")}); err != nil {
		t.Fatal(err)
	}
	return url
}

func wantOpens(t *testing.T, url string, files fs.FS, version uint) {
	t.Helper()
	s, err := open(context.Background(), url, files)
	if err != nil {
		t.Fatalf("%v (cause: %v)", err, problem.As(err).Cause)
	}
	defer s.Close()
	if _, err := s.Plan(context.Background(), repo.Bench, "kept"); err != nil {
		t.Errorf("the plan that was there: %v", err)
	}
	if got := stateOf(t, url); got.Version != version || got.Dirty {
		t.Errorf("version %d, dirty %t; want %d, clean", got.Version, got.Dirty, version)
	}
}

// wantRefused checks the code, that the words are ours and say what was
// asked, and that nothing in the database was touched.
func wantRefused(t *testing.T, url string, files fs.FS, code problem.Code, words ...string) {
	t.Helper()
	before := traceOf(t, url)
	s, err := open(context.Background(), url, files)
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
	for _, foreign := range []string{"SQLSTATE", "ERROR", "relation", "syntax"} {
		if strings.Contains(err.Error(), foreign) {
			t.Errorf("foreign words: %q", err)
		}
	}
	if diff := cmp.Diff(before, traceOf(t, url)); diff != "" {
		t.Errorf("the database was changed: %s", diff)
	}
}

// trace is what any change of a schema or of its version leaves marks in.
type trace struct {
	State   migrations.State
	Catalog []string
}

func traceOf(t *testing.T, url string) trace {
	t.Helper()
	s := trace{State: stateOf(t, url)}
	connected(t, url, func(conn *pgx.Conn) error {
		rows, err := conn.Query(context.Background(), `SELECT relname || ' ' || oid || ' ' || xmin FROM pg_class WHERE relnamespace = 'public'::regnamespace ORDER BY oid`)
		if err != nil {
			return err
		}
		s.Catalog, err = pgx.CollectRows(rows, pgx.RowTo[string])
		return err
	})
	return s
}

func stateOf(t *testing.T, url string) (s migrations.State) {
	t.Helper()
	connected(t, url, func(conn *pgx.Conn) (err error) {
		s, err = look(context.Background(), conn)
		return err
	})
	return s
}

// tamper runs SQL on a database, as some other tool would.
func tamper(t *testing.T, url, sql string) {
	t.Helper()
	connected(t, url, func(conn *pgx.Conn) error {
		_, err := conn.Exec(context.Background(), sql)
		return err
	})
}

func connected(t *testing.T, url string, do func(conn *pgx.Conn) error) {
	t.Helper()
	conn, err := pgx.Connect(context.Background(), url)
	if err != nil {
		t.Fatal(err)
	}
	defer conn.Close(context.Background())
	if err := do(conn); err != nil {
		t.Fatal(err)
	}
}

func TestOpenAgainKeepsWhatIsThere(t *testing.T) {
	t.Parallel()
	url, last := made(t), newest()
	wantOpens(t, url, migrations.Files, last)
	wantOpens(t, url, further(""), last+1)
	wantOpens(t, url, further(""), last+1)
}

func TestOlderBinaryOnNewerSchema(t *testing.T) {
	t.Parallel()
	url, last := made(t), newest()
	wantOpens(t, url, further(""), last+1)
	words := []string{fmt.Sprint("version ", last+1), fmt.Sprintf("knows %d ", last), "left as it is"}
	wantRefused(t, url, migrations.Files, problem.Conflict, words...)
	tamper(t, url, "UPDATE schema_migrations SET dirty = true")
	wantRefused(t, url, migrations.Files, problem.Conflict, words...)
}

func TestFailedMigrationLeavesTheVersionBefore(t *testing.T) {
	t.Parallel()
	url, last := made(t), newest()
	if _, err := open(context.Background(), url, further(mischief)); problem.CodeOf(err) != problem.Internal {
		t.Fatalf("%v, want internal", err)
	}
	if got := stateOf(t, url); got.Version != last || got.Dirty {
		t.Errorf("version %d, dirty %t; want %d, clean", got.Version, got.Dirty, last)
	}
	wantOpens(t, url, migrations.Files, last)
	wantOpens(t, url, further(""), last+1)
}

func TestMigrationThatIsNoSQLTouchesNothing(t *testing.T) {
	t.Parallel()
	wantRefused(t, made(t), further("CREATE TABLE"), problem.Internal)
}

// The mark that golang-migrate's own tool leaves where it was stopped.
func TestDirtyMarkIsSettledByTheTables(t *testing.T) {
	t.Parallel()
	last := newest()
	next := shelves(last + 1)
	dataOnly := repotest.Released(migrations.Postgres, map[string]string{next + ".up.sql": "UPDATE probe SET writes = 0;", next + ".down.sql": "SELECT 1;"})
	shelved := "CREATE TABLE shelves (shop text NOT NULL, name text NOT NULL, PRIMARY KEY (shop, name)); "
	for _, tt := range []struct {
		name, sql string
		files     fs.FS
		version   uint // 0: it cannot be told, and is refused
	}{
		{"done, and the mark left", "UPDATE schema_migrations SET dirty = true", migrations.Files, last},
		{"undone, and the version left", "UPDATE schema_migrations SET version = version + 1, dirty = true", further(""), last + 1},
		{"done once more than recorded", shelved + "UPDATE schema_migrations SET dirty = true", further(""), last + 1},
		{"half done", "CREATE TABLE shelf (a integer); UPDATE schema_migrations SET version = version + 1, dirty = true", further(""), 0},
		{"half undone", "DROP INDEX parts_by_series; UPDATE schema_migrations SET dirty = true", migrations.Files, 0},
		{"a step that changes no table", "UPDATE schema_migrations SET version = version + 1, dirty = true", dataOnly, 0},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			url := made(t)
			tamper(t, url, tt.sql)
			if tt.version == 0 {
				wantRefused(t, url, tt.files, problem.Conflict, "broken off")
				return
			}
			wantOpens(t, url, tt.files, tt.version)
		})
	}
	t.Run("undone in an empty database", func(t *testing.T) {
		t.Parallel()
		url := pgtest.Empty(t)
		tamper(t, url, versionTable+"; INSERT INTO schema_migrations VALUES (1, true)")
		s, err := Open(context.Background(), url)
		if err != nil {
			t.Fatal(err)
		}
		s.Close()
		if got := stateOf(t, url); got.Version != last || got.Dirty {
			t.Errorf("version %d, dirty %t", got.Version, got.Dirty)
		}
	})
}

func TestTablesThatAreNotOursAreRefused(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct{ name, sql, words string }{
		{"an index dropped", "DROP INDEX parts_by_series", "not those of its schema version"},
		{"a table added", "CREATE TABLE invoices (a integer)", "not those of its schema version"},
		{"a column added", "ALTER TABLE parts ADD COLUMN colour text", "not those of its schema version"},
		{"a limit dropped", "ALTER TABLE parts DROP CONSTRAINT parts_rated_v_check", "not those of its schema version"},
		{"another collation", `ALTER TABLE amps ALTER COLUMN name TYPE text COLLATE "POSIX"`, "not those of its schema version"},
		{"a default", "ALTER TABLE amps ALTER COLUMN name SET DEFAULT 'x'", "not those of its schema version"},
		{"a trigger", "CREATE TRIGGER t BEFORE UPDATE ON parts FOR EACH ROW EXECUTE FUNCTION suppress_redundant_updates_trigger()", "not those of its schema version"},
		{"the version lost", "DELETE FROM schema_migrations", "not coldrise's"},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			url := made(t)
			tamper(t, url, tt.sql)
			wantRefused(t, url, migrations.Files, problem.Conflict, tt.words)
		})
	}
	t.Run("another program's database", func(t *testing.T) {
		t.Parallel()
		url := pgtest.Empty(t)
		tamper(t, url, "CREATE TABLE invoices (a integer)")
		wantRefused(t, url, migrations.Files, problem.Conflict, "not coldrise's")
	})
}

// What operators and the job queue add is none of the schema's business.
func TestTablesOfOthersThatAreLetBe(t *testing.T) {
	t.Parallel()
	url := made(t)
	tamper(t, url, `CREATE VIEW stock_by_maker AS SELECT maker, sum(stock) FROM parts GROUP BY maker;
		CREATE TABLE river_job (id bigint PRIMARY KEY); CREATE INDEX river_job_i ON river_job (id);
		CREATE SCHEMA reports; CREATE TABLE reports.parts (a integer); ANALYZE`)
	wantOpens(t, url, migrations.Files, newest())
}

// Two shops' databases may be schemas of one: the first of the search path is meant.
func TestSchemaOfTheSearchPath(t *testing.T) {
	t.Parallel()
	url := pgtest.Empty(t)
	tamper(t, url, "CREATE SCHEMA bench; CREATE TABLE public.invoices (a integer)")
	s, err := Open(context.Background(), url+"&search_path=bench")
	if err != nil {
		t.Fatalf("%v (cause: %v)", err, problem.As(err).Cause)
	}
	defer s.Close()
	if err := s.SavePlan(context.Background(), repo.Bench, repo.Plan{ID: "kept", Document: []byte("{}")}); err != nil {
		t.Error(err)
	}
	wantOpens(t, url+"&search_path=bench", migrations.Files, newest())
	wantRefused(t, url, migrations.Files, problem.Conflict, "not coldrise's")
}

func TestOpenGivesUpWithItsContext(t *testing.T) {
	t.Parallel()
	url := made(t)
	done, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := Open(done, url); problem.CodeOf(err) != problem.Cancelled {
		t.Errorf("%v, want cancelled", err)
	}
	holder, err := pgx.Connect(context.Background(), url)
	if err != nil {
		t.Fatal(err)
	}
	defer holder.Close(context.Background())
	if _, err := holder.Exec(context.Background(), "SELECT pg_advisory_lock($1)", int64(migrationLock)); err != nil {
		t.Fatal(err)
	}
	short, cancel := context.WithTimeout(context.Background(), 100*time.Millisecond)
	defer cancel()
	begun := time.Now()
	if _, err := Open(short, url); problem.CodeOf(err) != problem.Cancelled || time.Since(begun) > 5*time.Second {
		t.Errorf("%v after %v, want cancelled", err, time.Since(begun))
	}
	opening := make(chan error, 1)
	go func() {
		s, err := Open(context.Background(), url)
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
	holder.Close(context.Background())
	if err := <-opening; err != nil {
		t.Errorf("once the lock was free: %v", err)
	}
}

func TestEveryMigrationGoesDownAgain(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	steps, err := migrations.Steps(migrations.Files, migrations.Postgres)
	if err != nil {
		t.Fatal(err)
	}
	connected(t, pgtest.Empty(t), func(conn *pgx.Conn) error {
		prints, err := fingerprints(ctx, conn, steps)
		if err != nil {
			return err
		}
		run := func(sql string, want uint) {
			t.Helper()
			if _, err := conn.Exec(ctx, sql); err != nil {
				t.Fatal(err)
			}
			if got, err := look(ctx, conn); err != nil || got.Print != prints[want] {
				t.Errorf("after the step to version %d: %v\n%s", want, err, cmp.Diff(prints[want], got.Print))
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
		return nil
	})
}

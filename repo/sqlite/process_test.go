package sqlite

import (
	"bytes"
	"context"
	"database/sql"
	sqldriver "database/sql/driver"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"

	driver "modernc.org/sqlite"

	"coldrise/domain/problem"
	"coldrise/migrations"
	"coldrise/repo"
	"coldrise/repo/repotest"
)

func TestMain(m *testing.M) {
	switch role, words := repotest.Role(); role {
	case "":
		os.Exit(m.Run())
	case "load":
		os.Exit(repotest.LoadOnSignal(func() (repo.Store, error) { return Open(context.Background(), words[0]) }))
	case "die":
		os.Exit(dieMigrating(words[0], words[1]))
	}
	os.Exit(99)
}

func TestProcessesStartingAtOnce(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "bench.db")
	repotest.StartTogether(t, 5, func() *exec.Cmd { return repotest.Itself(t, "load", path) }, func() repo.Store { return opened(t, path) })
}

// dieMigrating opens the store with a migration that kills the process behind
// its n-th statement: without warning, as the kernel or a power cut would. Not
// in memory, where the schema is only tried.
func dieMigrating(path, n string) int {
	driver.MustRegisterScalarFunction("die", 0, func(*driver.FunctionContext, []sqldriver.Value) (sqldriver.Value, error) {
		return nil, syscall.Kill(os.Getpid(), syscall.SIGKILL)
	})
	behind, err := strconv.Atoi(n)
	if err != nil {
		return 2
	}
	files, _ := repotest.Interrupted(migrations.SQLite, behind, "SELECT die() FROM pragma_database_list WHERE name = 'main' AND file <> '';")
	s, err := open(context.Background(), path, files)
	fmt.Println("survived", s != nil, err, problem.As(err).Cause)
	return 1
}

func TestKilledMigrationIsFinishedByTheNextStart(t *testing.T) {
	t.Parallel()
	steps, err := migrations.Steps(migrations.Files, migrations.SQLite)
	if err != nil {
		t.Fatal(err)
	}
	_, n := repotest.Interrupted(migrations.SQLite, 0, "")
	if n < 10 {
		t.Fatalf("the migrations were cut into %d statements", n)
	}
	for i := range n {
		path := filepath.Join(t.TempDir(), "bench.db")
		out, err := repotest.Itself(t, "die", path, strconv.Itoa(i)).CombinedOutput()
		state, ok := err.(*exec.ExitError)
		if !ok || !state.Sys().(syscall.WaitStatus).Signaled() || bytes.Contains(out, []byte("survived")) {
			t.Fatalf("after statement %d the process was to be killed: %v: %s", i, err, out)
		}
		if version, dirty := recorded(t, path); version > uint(len(steps)-1) || dirty {
			t.Errorf("after statement %d: version %d, dirty %t", i, version, dirty)
		}
		s := opened(t, path)
		if err := s.SavePlan(context.Background(), repo.Bench, repo.Plan{ID: "p", Document: []byte("{}")}); err != nil {
			t.Errorf("after statement %d: %v", i, err)
		}
	}
}

// recorded reads the version a file says it has.
func recorded(t *testing.T, path string) (uint, bool) {
	t.Helper()
	s, err := look(context.Background(), path)
	if err != nil {
		t.Fatal(err)
	}
	return s.Version, s.Dirty
}

// tamper runs SQL on a file, as some other tool would.
func tamper(t *testing.T, path, text string) {
	t.Helper()
	db, err := sql.Open(driverName, dsn(path, writerPragmas))
	if err != nil {
		t.Fatal(err)
	}
	defer db.Close()
	if _, err := db.Exec(text); err != nil {
		t.Fatal(err)
	}
}

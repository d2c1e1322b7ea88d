package postgres

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"strconv"
	"syscall"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"coldrise/domain/problem"
	"coldrise/migrations"
	"coldrise/repo"
	"coldrise/repo/postgres/pgtest"
	"coldrise/repo/repotest"
)

func TestMain(m *testing.M) {
	switch role, words := repotest.Role(); role {
	case "":
		os.Exit(pgtest.Run(m))
	case "load":
		os.Exit(repotest.LoadOnSignal(func() (repo.Store, error) { return Open(context.Background(), words[0]) }))
	case "halt":
		os.Exit(haltMigrating(words[0], words[1]))
	}
	os.Exit(99)
}

func TestProcessesStartingAtOnce(t *testing.T) {
	t.Parallel()
	url := pgtest.Empty(t)
	repotest.StartTogether(t, 5, func() *exec.Cmd { return repotest.Itself(t, "load", url) }, func() repo.Store { return opened(t, url) })
}

func opened(t *testing.T, url string) *Store {
	t.Helper()
	s, err := Open(context.Background(), url)
	if err != nil {
		t.Fatalf("%v (cause: %v)", err, problem.As(err).Cause)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// gate is a lock that a migration waits for in a test.
const gate = 77

// haltMigrating opens the store with a migration that waits for the gate
// behind its n-th statement, in the database's own schema alone.
func haltMigrating(url, n string) int {
	behind, err := strconv.Atoi(n)
	if err != nil {
		return 2
	}
	files, _ := repotest.Interrupted(migrations.Postgres, behind, fmt.Sprintf("SELECT pg_advisory_xact_lock(%d) WHERE current_schema() = 'public';", gate))
	s, err := open(context.Background(), url, files)
	fmt.Println("survived", s != nil, err, problem.As(err).Cause)
	return 1
}

// A process is killed while its server is behind the n-th statement of a
// migration. Where the server goes as well, as with a machine, the next start
// does all of it; where the server lives on, the next start waits until it is
// through.
func TestKilledMigrationIsFinishedByTheNextStart(t *testing.T) {
	t.Parallel()
	_, n := repotest.Interrupted(migrations.Postgres, 0, "")
	if n < 10 {
		t.Fatalf("the migrations were cut into %d statements", n)
	}
	for i := range n {
		t.Run(fmt.Sprint("after statement ", i), func(t *testing.T) {
			t.Parallel()
			killMigrating(t, i, i%2 == 0)
		})
	}
}

func killMigrating(t *testing.T, behind int, serverToo bool) {
	ctx := context.Background()
	url := pgtest.Empty(t)
	holder, err := pgx.Connect(ctx, url)
	if err != nil {
		t.Fatal(err)
	}
	defer holder.Close(ctx)
	if _, err := holder.Exec(ctx, "SELECT pg_advisory_lock($1)", gate); err != nil {
		t.Fatal(err)
	}
	cmd := repotest.Itself(t, "halt", url, strconv.Itoa(behind))
	if err := cmd.Start(); err != nil {
		t.Fatal(err)
	}
	server := awaitGate(t, holder)
	if err := cmd.Process.Signal(syscall.SIGKILL); err != nil {
		t.Fatal(err)
	}
	_ = cmd.Wait() // It was killed.
	if serverToo {
		if _, err := holder.Exec(ctx, "SELECT pg_terminate_backend($1)", server); err != nil {
			t.Fatal(err)
		}
	}
	next := make(chan error, 1)
	go func() {
		s, err := Open(ctx, url)
		if err == nil {
			err = s.SavePlan(ctx, repo.Bench, repo.Plan{ID: "p", Document: []byte("{}")})
			s.Close()
		}
		next <- err
	}()
	if !serverToo {
		select {
		case err := <-next:
			t.Errorf("the next start did not wait for the server: %v", err)
		case <-time.After(50 * time.Millisecond):
		}
		holder.Close(ctx)
	}
	if err := <-next; err != nil {
		t.Errorf("the next start: %v (cause: %v)", err, problem.As(err).Cause)
	}
	if got := stateOf(t, url); got.Version != newest() || got.Dirty {
		t.Errorf("version %d, dirty %t", got.Version, got.Dirty)
	}
}

// awaitGate waits until a server waits for the gate, and gives its process id.
func awaitGate(t *testing.T, conn *pgx.Conn) (server int) {
	t.Helper()
	for begun := time.Now(); time.Since(begun) < time.Minute; time.Sleep(5 * time.Millisecond) {
		err := conn.QueryRow(context.Background(), `SELECT coalesce(max(pid), 0) FROM pg_locks WHERE locktype = 'advisory' AND objid = $1 AND NOT granted
			AND database = (SELECT oid FROM pg_database WHERE datname = current_database())`, gate).Scan(&server)
		if err != nil {
			t.Fatal(err)
		}
		if server != 0 {
			return server
		}
	}
	t.Fatal("no migration came to the gate")
	return 0
}

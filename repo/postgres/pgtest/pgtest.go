// Package pgtest gives tests a PostgreSQL of their own: a server made from the
// installed binaries in a temporary folder, with no port, gone with the test
// binary however that ends.
package pgtest

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"testing"

	"github.com/jackc/pgx/v5"
)

// InstallLine is what installs the server on Debian, without the cluster that
// the package would make and start by itself.
const InstallLine = "mkdir -p /etc/postgresql-common && echo 'create_main_cluster = false' > /etc/postgresql-common/createcluster.conf && " +
	"apt-get update && DEBIAN_FRONTEND=noninteractive apt-get install -y --no-install-recommends postgresql"

var (
	start   sync.Once
	running *server
	failed  error

	lock      sync.Mutex
	spare     = map[string][]string{} // databases to be had again, by what prepared them
	named     atomic.Int64
	errAbsent = errors.New("PostgreSQL is not installed")
)

// Run runs the tests of a package and stops the server that they may have
// started. Its TestMain is os.Exit(pgtest.Run(m)).
func Run(m *testing.M) int {
	defer func() {
		if running != nil {
			running.stop()
		}
	}()
	return m.Run()
}

// Empty gives the URL of a new, empty database, which is gone after the test.
// Without a PostgreSQL the test is skipped; under CI it fails.
func Empty(t testing.TB) string {
	t.Helper()
	s := serverOf(t)
	name := create(t, s)
	t.Cleanup(func() { s.admin(t, "DROP DATABASE IF EXISTS "+name+" WITH (FORCE)") })
	return s.url(name)
}

// Prepared gives the URL of a database that prepare has made ready, and that
// holds no row but those prepare left in the tables of seed. It is used again
// by a later test: so tests may change rows, and no table.
func Prepared(t testing.TB, kind string, prepare func(url string) error) string {
	t.Helper()
	s := serverOf(t)
	name, again := take(kind)
	if !again {
		name = create(t, s)
		if err := prepare(s.url(name)); err != nil {
			t.Fatalf("prepare a database: %v", err)
		}
	}
	url := s.url(name)
	t.Cleanup(func() {
		if err := empty(url); err != nil {
			t.Errorf("empty a database: %v", err)
			return
		}
		lock.Lock()
		defer lock.Unlock()
		spare[kind] = append(spare[kind], name)
	})
	return url
}

func take(kind string) (name string, ok bool) {
	lock.Lock()
	defer lock.Unlock()
	all := spare[kind]
	if len(all) == 0 {
		return "", false
	}
	spare[kind] = all[:len(all)-1]
	return all[len(all)-1], true
}

// kept are the tables whose rows a schema brings with it.
var kept = []string{"schema_migrations", "probe"}

// empty takes all rows out of a database's tables.
func empty(url string) error {
	ctx := context.Background()
	conn, err := pgx.Connect(ctx, url)
	if err != nil {
		return err
	}
	defer conn.Close(ctx)
	rows, err := conn.Query(ctx, "SELECT tablename::text FROM pg_tables WHERE schemaname = 'public'")
	if err != nil {
		return err
	}
	tables, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil {
		return err
	}
	// The order of the tables does not matter where references are not looked at.
	script := "BEGIN; SET LOCAL session_replication_role = replica;"
	for _, t := range tables {
		if !slices.Contains(kept, t) {
			script += "DELETE FROM " + pgx.Identifier{t}.Sanitize() + ";"
		}
	}
	_, err = conn.Exec(ctx, script+"COMMIT")
	return err
}

// create makes an empty database.
func create(t testing.TB, s *server) string {
	t.Helper()
	name := fmt.Sprint("test", named.Add(1))
	s.admin(t, "CREATE DATABASE "+name)
	return name
}

// serverOf starts the server at its first call.
func serverOf(t testing.TB) *server {
	t.Helper()
	start.Do(func() {
		var bin string
		if bin, failed = binaries(); failed == nil {
			running, failed = launch(bin)
		}
	})
	switch {
	case errors.Is(failed, errAbsent) && os.Getenv("CI") != "true":
		t.Skip("PostgreSQL is not installed: " + InstallLine)
	case failed != nil:
		t.Fatalf("start PostgreSQL: %v (install it: %s)", failed, InstallLine)
	}
	return running
}

// binaries finds the folder of the newest server installed.
func binaries() (string, error) {
	found, err := filepath.Glob("/usr/lib/postgresql/*/bin/postgres")
	if err != nil || len(found) == 0 {
		return "", errAbsent
	}
	slices.SortFunc(found, func(a, b string) int { return len(a) - len(b) + strings.Compare(a, b)/2 })
	return filepath.Dir(found[len(found)-1]), nil
}

package postgres

import (
	"context"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/problem"
	"coldrise/repo"
	"coldrise/repo/postgres/pgtest"
	"coldrise/repo/repotest"
)

func TestConformance(t *testing.T) { conforms(t, "") }

func TestConformanceSimpleProtocol(t *testing.T) {
	conforms(t, "default_query_exec_mode=simple_protocol")
}

// With one connection a store that asks the pool inside a transaction stands still.
func TestConformancePoolOfOne(t *testing.T) { conforms(t, "pool_max_conns=1") }

func conforms(t *testing.T, parameters string) {
	t.Parallel()
	repotest.Run(t, func(t *testing.T) repo.Store { return fresh(t, parameters) })
}

// fresh opens a store on a database of the newest schema without rows.
func fresh(t testing.TB, parameters string) *Store {
	t.Helper()
	c, err := configure(migrated(t) + "&" + parameters)
	if err != nil {
		t.Fatal(err)
	}
	s, err := connect(context.Background(), c)
	if err != nil {
		t.Fatalf("%v (cause: %v)", err, problem.As(err).Cause)
	}
	t.Cleanup(func() { s.Close() })
	return s
}

// migrated gives the URL of a database of the newest schema without rows.
func migrated(t testing.TB) string {
	t.Helper()
	return pgtest.Prepared(t, "newest", func(url string) error {
		s, err := Open(context.Background(), url)
		if err != nil {
			return problem.As(err).Cause
		}
		return s.Close()
	})
}

func sampleAmp() amp.Amplifier {
	return amp.Amplifier{Name: "Fernhollow 6", Mains: amp.Mains{NominalV: 230, FrequencyHz: 50}}
}

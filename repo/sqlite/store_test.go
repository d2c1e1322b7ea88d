package sqlite

import (
	"context"
	"path/filepath"
	"testing"

	"coldrise/domain/problem"
	"coldrise/repo"
	"coldrise/repo/repotest"
)

func TestConformance(t *testing.T) {
	t.Parallel()
	repotest.Run(t, func(t *testing.T) repo.Store { return fresh(t) })
}

// fresh opens a store on a new file.
func fresh(t testing.TB) *Store {
	t.Helper()
	return opened(t, filepath.Join(t.TempDir(), "bench.db"))
}

func opened(t testing.TB, path string) *Store {
	t.Helper()
	s, err := Open(context.Background(), path)
	if err != nil {
		t.Fatalf("%v (cause: %v)", err, problem.As(err).Cause)
	}
	t.Cleanup(func() {
		if err := s.Close(); err != nil {
			t.Error(err)
		}
	})
	return s
}

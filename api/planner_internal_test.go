package api

import (
	"context"
	"errors"
	"os"
	"path/filepath"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/plan"
	"coldrise/domain/problem"

	"github.com/google/go-cmp/cmp"
)

func study(t *testing.T) *plan.Study {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "testdata", "amps", "fernhollow-6.json"))
	if err != nil {
		t.Fatal(err)
	}
	a, err := amp.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	s, err := plan.Assess(t.Context(), a, derate.Default())
	if err != nil {
		t.Fatal(err)
	}
	out, err := s.Study(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// The bands must not depend on how many cores the machine has.
func TestPointsComeOutTheSameOnAnyNumberOfWorkers(t *testing.T) {
	t.Parallel()
	s := study(t)
	points := s.Ends()
	one, err := runPoints(t.Context(), s, points, 1)
	if err != nil {
		t.Fatal(err)
	}
	for _, workers := range []int{2, 5, 2 * len(points)} {
		many, err := runPoints(t.Context(), s, points, workers)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(one, many); d != "" {
			t.Errorf("%d workers:\n%s", workers, d)
		}
	}
}

// The caller's end of a request ends its points, and says so.
func TestPointsStopWithTheRequest(t *testing.T) {
	t.Parallel()
	s := study(t)
	ctx, cancel := context.WithCancelCause(t.Context())
	cancel(errors.New("the client went away"))
	if _, err := runPoints(ctx, s, s.Ends(), 2); problem.CodeOf(err) != problem.Cancelled {
		t.Errorf("got %v, want a cancelled problem", err)
	}
}

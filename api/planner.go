package api

import (
	"bytes"
	"context"
	"errors"
	"runtime"
	"sort"
	"sync"
	"sync/atomic"
	"time"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/plan"
	"coldrise/domain/problem"
	"coldrise/repo"
)

// MakePlan makes the plan of an amplifier from a shop's catalogue, asking the
// store only for the parts within the windows of the positions. The amplifier
// must have passed amp.Parse; today is the day ages are counted to, samples how
// many draws its bands rest on. It is computing for seconds; ctx ends it.
// Codes: those of the store, of plan.Assess and of plan.Make.
func MakePlan(ctx context.Context, store repo.Store, shop repo.Shop, a *amp.Amplifier, p derate.Policy, today time.Time, samples int) (*plan.Plan, error) {
	assessed, err := plan.AssessOn(ctx, a, p, today)
	if err != nil {
		return nil, err
	}
	if err := studied(ctx, assessed, samples, runtime.GOMAXPROCS(0)); err != nil {
		return nil, err
	}
	c, err := catalogueFor(ctx, store, shop, assessed.Windows())
	if err != nil {
		return nil, err
	}
	return plan.Make(ctx, assessed, c)
}

// ComparePolicies makes the plans of an amplifier under two policies and holds
// them against each other; neither is stored. The supplies are run once. It
// takes as long as a plan, and has its codes.
func ComparePolicies(ctx context.Context, store repo.Store, shop repo.Shop, a *amp.Amplifier, first, second derate.Policy, today time.Time, samples int) (*plan.Comparison, error) {
	one, err := plan.AssessOn(ctx, a, first, today)
	if err != nil {
		return nil, err
	}
	if err := studied(ctx, one, samples, runtime.GOMAXPROCS(0)); err != nil {
		return nil, err
	}
	other := one.Under(second)
	c, err := catalogueFor(ctx, store, shop, append(one.Windows(), other.Windows()...))
	if err != nil {
		return nil, err
	}
	underFirst, err := plan.Make(ctx, one, c)
	if err != nil {
		return nil, err
	}
	underSecond, err := plan.Make(ctx, other, c)
	if err != nil {
		return nil, err
	}
	return plan.Compare(underFirst, underSecond, c), nil
}

// catalogueFor gives what a store holds within some windows.
func catalogueFor(ctx context.Context, store repo.Store, shop repo.Shop, windows []plan.Window) (plan.Catalogue, error) {
	found, err := candidates(ctx, store, shop, windows)
	if err != nil {
		return plan.Catalogue{}, err
	}
	c := plan.Catalogue{}
	for i := range found {
		c.Parts = append(c.Parts, found[i].Part)
	}
	c.Series, err = store.Series(ctx, shop)
	return c, err
}

// candidates gives the parts of all windows once each, by maker and part
// number, so that the plan does not hang on the order of the windows.
func candidates(ctx context.Context, store repo.Store, shop repo.Shop, windows []plan.Window) ([]repo.Part, error) {
	seen := map[string]bool{}
	var all []repo.Part
	for _, w := range windows {
		parts, err := store.Candidates(ctx, shop, repo.CandidateWindow(w))
		if err != nil {
			return nil, err
		}
		for _, p := range parts {
			if !seen[p.ID] {
				seen[p.ID] = true
				all = append(all, p)
			}
		}
	}
	sort.Slice(all, func(i, j int) bool {
		x, y := &all[i], &all[j]
		if x.Maker != y.Maker {
			return x.Maker < y.Maker
		}
		if x.PartNumber != y.PartNumber {
			return x.PartNumber < y.PartNumber
		}
		return x.ID < y.ID
	})
	return all, nil
}

// KeepPlan gives a plan its id, its amplifier's id ("" where that is not
// stored) and its time, and stores it for good. It gives the document that is
// read back unchanged ever after. Codes: those of SavePlan.
func KeepPlan(ctx context.Context, store repo.Store, shop repo.Shop, p *plan.Plan, id, ampID string, at time.Time) ([]byte, error) {
	at = at.UTC().Truncate(time.Microsecond)
	p.ID, p.AmpID, p.MadeAt = id, ampID, timeText(at)
	text, err := encode(p)
	if err != nil {
		return nil, err
	}
	text = bytes.TrimSuffix(text, []byte("\n"))
	row := repo.Plan{ID: id, AmpID: ampID, AmpName: p.Amplifier, Created: at, Document: text}
	if err := store.SavePlan(ctx, shop, row); err != nil {
		return nil, err
	}
	return text, nil
}

// studied runs the study of an assessed amplifier on every core and settles
// its bands. The result does not depend on the number of workers: each point
// is pure, and stands in its own place.
func studied(ctx context.Context, a *plan.Assessment, samples, workers int) error {
	t, err := a.Study(ctx)
	if err != nil {
		return err
	}
	ends, err := runPoints(ctx, t, t.Ends(), workers)
	if err != nil {
		return err
	}
	round := t.Corners(ends, samples)
	rest, err := runPoints(ctx, t, round.Points, workers)
	if err != nil {
		return err
	}
	round.Settle(a, rest)
	return nil
}

// runPoints runs the points of a study on some workers. The first error ends all.
func runPoints(ctx context.Context, t *plan.Study, points []plan.Point, workers int) ([][]float64, error) {
	ctx, stop := context.WithCancelCause(ctx)
	defer stop(nil)
	out := make([][]float64, len(points))
	var next atomic.Int64
	var wait sync.WaitGroup
	for range max(workers, 1) {
		wait.Go(func() {
			at := t.Runner()
			for i := int(next.Add(1)) - 1; i < len(points) && ctx.Err() == nil; i = int(next.Add(1)) - 1 {
				values, err := at(ctx, points[i])
				if err != nil {
					stop(err)
					return
				}
				out[i] = values
			}
		})
	}
	wait.Wait()
	cause := context.Cause(ctx)
	if cause == nil {
		return out, nil
	}
	var ours *problem.Error
	if errors.As(cause, &ours) {
		return nil, ours
	}
	return nil, &problem.Error{Code: problem.Cancelled, Message: "stopped before its bands were worked out", Cause: cause}
}

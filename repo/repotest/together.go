package repotest

import (
	"fmt"
	"sync"
	"testing"

	"coldrise/domain/problem"
	"coldrise/repo"
)

// togetherCases: many goroutines on one store.
func togetherCases() []testCase {
	return []testCase{
		{"of twenty writers of one part none loses an update", noLostParts},
		{"of twenty writers of one amplifier none loses an update", noLostAmps},
		{"of many makers of one part exactly one succeeds", oneMaker},
		{"of many makers of one number exactly one succeeds", oneNumber},
		{"of many savers of one plan exactly one succeeds", oneSaver},
		{"of many deletions exactly one succeeds", oneDeletion},
		{"of many catalogue loads exactly one is done", oneLoad},
		{"a reader sees a part whole, old or new", wholeParts},
	}
}

// atOnce runs n calls as near to the same time as can be had, and gives their errors.
func atOnce(n int, call func(i int) error) []error {
	errs := make([]error, n)
	start := make(chan struct{})
	var all sync.WaitGroup
	for i := range n {
		all.Go(func() {
			<-start
			errs[i] = call(i)
		})
	}
	close(start)
	all.Wait()
	return errs
}

const (
	writers = 20
	rounds  = 2
)

// untilTaken repeats a read, change and write until the store takes it; only
// a stale version may be a reason to try again.
func untilTaken(change func() error) error {
	for range rounds {
		for {
			err := change()
			if err == nil {
				break
			}
			if problem.CodeOf(err) != problem.Stale {
				return err
			}
		}
	}
	return nil
}

func noLostParts(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	for _, err := range atOnce(writers, func(int) error {
		return untilTaken(func() error {
			p, err := s.Part(ctx, shop, "part-1")
			if err != nil {
				return err
			}
			p.Offers[0].Stock++
			_, err = s.ReplacePart(ctx, shop, "part-1", p.Version, p.Part, stamp())
			return err
		})
	}) {
		must(t, err)
	}
	p := sure(s.Part(ctx, shop, "part-1"))(t)
	want := samplePart("HA-1")
	want.Offers[0].Stock += writers * rounds
	same(t, want, p.Part)
	same(t, int64(1+writers*rounds), p.Version)
}

func noLostAmps(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	for _, err := range atOnce(writers, func(int) error {
		return untilTaken(func() error {
			a, err := s.Amp(ctx, shop, "amp-1")
			if err != nil {
				return err
			}
			a.Supplies[0].Nodes[0].Loads[0].Count++
			_, err = s.ReplaceAmp(ctx, shop, "amp-1", a.Version, a.Amplifier, stamp())
			return err
		})
	}) {
		must(t, err)
	}
	a := sure(s.Amp(ctx, shop, "amp-1"))(t)
	same(t, 4+writers*rounds, a.Supplies[0].Nodes[0].Loads[0].Count)
	same(t, int64(1+writers*rounds), a.Version)
}

// oneOf checks that exactly one call succeeded and the others were refused with the code.
func oneOf(t *testing.T, errs []error, refusal problem.Code) {
	t.Helper()
	done := 0
	for _, err := range errs {
		if err == nil {
			done++
		} else if problem.CodeOf(err) != refusal {
			t.Errorf("%v (cause: %v), want %s", err, problem.As(err).Cause, refusal)
		}
	}
	if done != 1 {
		t.Errorf("%d calls succeeded, want one", done)
	}
}

func oneMaker(t *testing.T, s repo.Store) {
	must(t, s.PutSeries(background(), shop, sampleSeries("HA"), stamp()))
	oneOf(t, atOnce(writers, func(i int) error {
		_, err := s.CreatePart(background(), shop, "part-1", samplePart(fmt.Sprint("HA-", i)), stamp())
		return err
	}), problem.Conflict)
	same(t, 1, len(allParts(t, s, shop, repo.PartFilter{}, 10)))
}

func oneNumber(t *testing.T, s repo.Store) {
	must(t, s.PutSeries(background(), shop, sampleSeries("HA"), stamp()))
	oneOf(t, atOnce(writers, func(i int) error {
		_, err := s.CreatePart(background(), shop, fmt.Sprint("part-", i), samplePart("HA-1"), stamp())
		return err
	}), problem.Conflict)
	same(t, 1, len(allParts(t, s, shop, repo.PartFilter{}, 10)))
}

func oneSaver(t *testing.T, s repo.Store) {
	oneOf(t, atOnce(writers, func(i int) error {
		return s.SavePlan(background(), shop, samplePlan("plan", ""))
	}), problem.Conflict)
}

func oneDeletion(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	oneOf(t, atOnce(writers, func(int) error { return s.DeletePart(background(), shop, "part-1", 1, stamp()) }), problem.NotFound)
	oneOf(t, atOnce(writers, func(int) error { return s.DeleteAmp(background(), shop, "amp-1", 1) }), problem.NotFound)
}

func oneLoad(t *testing.T, s repo.Store) {
	var loaded [writers]bool
	for _, err := range atOnce(writers, func(i int) (err error) {
		series, ids, parts := three()
		loaded[i], err = s.LoadCatalogue(background(), shop, series, ids, parts, stamp())
		return err
	}) {
		must(t, err)
	}
	done := 0
	for _, did := range loaded {
		if did {
			done++
		}
	}
	same(t, 1, done)
	same(t, []string{"HA-1", "HA-2", "HA-3"}, partNumbers(allParts(t, s, shop, repo.PartFilter{}, 10)))
}

// wholeParts replaces a part to and fro between two that differ in everything
// that can lie in another table, while it is read in all three ways.
func wholeParts(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	full, bare := samplePart("HA-1"), plainPart("Sedgemere", "HA-1", 32, 450)
	change := func(round int) error {
		p := full
		if round%2 == 0 {
			p = bare
		}
		_, err := s.ReplacePart(ctx, shop, "part-1", int64(round+1), p, stamp())
		return err
	}
	whole := func(p repo.Part) {
		t.Helper()
		want := full
		if p.Version%2 == 0 {
			want = bare
		}
		same(t, want, p.Part)
	}
	churn(t, change, func() {
		for range 40 {
			whole(sure(s.Part(ctx, shop, "part-1"))(t))
			whole(allParts(t, s, shop, repo.PartFilter{}, 1)[0])
			whole(sure(s.Candidates(ctx, shop, repo.CandidateWindow{MinUF: 32}))(t)[0])
		}
	})
}

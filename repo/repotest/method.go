package repotest

import (
	"context"
	"testing"
	"time"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/repo"
)

// method is a call that succeeds in a stocked shop, as the row the shop holds
// is the one it means.
type method struct {
	name string
	call func(ctx context.Context, s repo.Keeper, in repo.Shop) error
	// elsewhere is the code in a shop that has nothing; "" where an empty
	// answer, or a row of that shop's own, is right.
	elsewhere problem.Code
}

// methods are all of a store's that name a shop. The ids are those of stocked.
func methods() []method {
	one := repo.Page{Limit: 1}
	return []method{
		{"CreatePart", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.CreatePart(ctx, in, "part-3", samplePart("HA-3"), stamp())
			return err
		}, problem.Invalid}, // The series is another shop's.
		{"Part", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.Part(ctx, in, "part-1")
			return err
		}, problem.NotFound},
		{"ReplacePart", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.ReplacePart(ctx, in, "part-1", 1, samplePart("HA-1"), stamp())
			return err
		}, problem.NotFound},
		{"DeletePart", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			return s.DeletePart(ctx, in, "part-1", 1, stamp())
		}, problem.NotFound},
		{"Parts", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, _, err := s.Parts(ctx, in, repo.PartFilter{}, one)
			return err
		}, ""},
		{"Candidates", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.Candidates(ctx, in, repo.CandidateWindow{})
			return err
		}, ""},
		{"PutSeries", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			return s.PutSeries(ctx, in, bareSeries("HA", 105), stamp())
		}, ""},
		{"Series", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.Series(ctx, in)
			return err
		}, ""},
		{"CreateSeries", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.CreateSeries(ctx, in, bareSeries("HC", 105), stamp())
			return err
		}, ""},
		{"OneSeries", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.OneSeries(ctx, in, "HA")
			return err
		}, problem.NotFound},
		{"ReplaceSeries", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.ReplaceSeries(ctx, in, 1, bareSeries("HA", 105), stamp())
			return err
		}, problem.NotFound},
		{"DeleteSeries", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			return s.DeleteSeries(ctx, in, "spare", 1)
		}, problem.NotFound},
		{"EachPart", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			for _, err := range s.EachPart(ctx, in, repo.PartFilter{}) {
				if err != nil {
					return err
				}
			}
			return nil
		}, ""},
		{"Changes", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, _, err := s.Changes(ctx, in, repo.ChangeFilter{PartID: "part-1"}, one)
			return err
		}, ""},
		{"ImportParts", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.ImportParts(ctx, in, sampleImport("import-2"), rowsOf(samplePart("HA-1"), samplePart("HA-3")), stamp())
			return err
		}, problem.Invalid}, // The series is another shop's.
		{"ImportRecord", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.ImportRecord(ctx, in, "import-1")
			return err
		}, problem.NotFound},
		{"ImportRecords", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, _, err := s.ImportRecords(ctx, in, one)
			return err
		}, ""},
		{"UndoImport", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.UndoImport(ctx, in, "import-1", stamp())
			return err
		}, problem.NotFound},
		{"CreateDocument", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.CreateDocument(ctx, in, sampleDocument("run-2"), stamp())
			return err
		}, ""},
		{"Document", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.Document(ctx, in, repo.Run, "run-1")
			return err
		}, problem.NotFound},
		{"ReplaceDocument", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			d := sampleDocument("run-1")
			d.Version = 1
			_, err := s.ReplaceDocument(ctx, in, d, stamp())
			return err
		}, problem.NotFound},
		{"DeleteDocument", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			return s.DeleteDocument(ctx, in, repo.Run, "run-1", 1)
		}, problem.NotFound},
		{"Documents", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, _, err := s.Documents(ctx, in, repo.DocumentFilter{Kind: repo.Run}, one)
			return err
		}, ""},
		{"SaveFile", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			return s.SaveFile(ctx, in, sampleFile("file-2"))
		}, ""},
		{"File", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.File(ctx, in, "file-1")
			return err
		}, problem.NotFound},
		{"DeleteFile", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			return s.DeleteFile(ctx, in, "file-1")
		}, problem.NotFound},
		{"LoadCatalogue", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.LoadCatalogue(ctx, in, []part.Series{sampleSeries("HA")}, []string{"part-1"}, []part.Part{samplePart("HA-1")}, stamp())
			return err
		}, ""},
		{"CreateAmp", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.CreateAmp(ctx, in, "amp-2", sampleAmp("B"), stamp())
			return err
		}, ""},
		{"Amp", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.Amp(ctx, in, "amp-1")
			return err
		}, problem.NotFound},
		{"ReplaceAmp", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.ReplaceAmp(ctx, in, "amp-1", 1, sampleAmp("B"), stamp())
			return err
		}, problem.NotFound},
		{"DeleteAmp", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			return s.DeleteAmp(ctx, in, "amp-1", 1)
		}, problem.NotFound},
		{"Amps", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, _, err := s.Amps(ctx, in, one)
			return err
		}, ""},
		{"SavePlan", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			return s.SavePlan(ctx, in, samplePlan("plan-2", "amp-1"))
		}, problem.NotFound},
		{"Plan", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, err := s.Plan(ctx, in, "plan-1")
			return err
		}, problem.NotFound},
		{"Plans", func(ctx context.Context, s repo.Keeper, in repo.Shop) error {
			_, _, err := s.Plans(ctx, in, "amp-1", one)
			return err
		}, ""},
	}
}

// anyMethodCases: what holds for every method alike.
func anyMethodCases() []testCase {
	var cases []testCase
	for _, m := range methods() {
		cases = append(cases,
			testCase{m.name + " succeeds in its own shop", func(t *testing.T, s repo.Store) {
				stocked(t, s, shop)
				must(t, m.call(background(), s, shop))
			}},
			testCase{m.name + " leaves another shop alone", func(t *testing.T, s repo.Store) { leavesAlone(t, s, m) }},
			testCase{m.name + " succeeds within a transaction", func(t *testing.T, s repo.Store) {
				stocked(t, s, shop)
				must(t, s.Update(background(), func(tx repo.Tx) error { return m.call(background(), tx, shop) }))
			}},
		)
	}
	return append(cases,
		testCase{"without a shop is internal", func(t *testing.T, s repo.Store) {
			allRefuse(t, problem.Internal, func(m method) error { return m.call(background(), s, "") })
		}},
		testCase{"after Close is internal", func(t *testing.T, s repo.Store) {
			must(t, s.Close())
			allRefuse(t, problem.Internal, func(m method) error { return m.call(background(), s, shop) })
			wantCode(t, s.Ready(background()), problem.Internal)
			wantCode(t, s.Update(background(), func(repo.Tx) error { return nil }), problem.Internal)
		}},
		testCase{"with a context that is done is cancelled", givesUp},
		testCase{"Ready says yes, many times at once", readyOften},
	)
}

func allRefuse(t *testing.T, code problem.Code, call func(m method) error) {
	for _, m := range methods() {
		t.Run(m.name, func(t *testing.T) { wantCode(t, call(m), code) })
	}
}

// leavesAlone calls a method in a shop that has nothing, with the ids of one
// that is stocked.
func leavesAlone(t *testing.T, s repo.Store, m method) {
	stocked(t, s, shop)
	before := holdingsOf(t, s, shop)
	if err := m.call(background(), s, other); m.elsewhere == "" {
		must(t, err)
	} else {
		wantCode(t, err, m.elsewhere)
		same(t, holdings{}, holdingsOf(t, s, other))
	}
	same(t, before, holdingsOf(t, s, shop))
}

func givesUp(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	before := holdingsOf(t, s, shop)
	cancelled, cancel := context.WithCancel(background())
	cancel()
	late, cancel := context.WithDeadline(background(), time.Unix(0, 0))
	defer cancel()
	for _, ctx := range []context.Context{cancelled, late} {
		allRefuse(t, problem.Cancelled, func(m method) error { return m.call(ctx, s, shop) })
		wantCode(t, s.Ready(ctx), problem.Cancelled)
		wantCode(t, s.Update(ctx, func(repo.Tx) error { return nil }), problem.Cancelled)
	}
	// The store is none the worse for it.
	same(t, before, holdingsOf(t, s, shop))
	must(t, s.Ready(background()))
}

func readyOften(t *testing.T, s repo.Store) {
	errs := make(chan error)
	const n = 20
	for range n {
		go func() { errs <- s.Ready(background()) }()
	}
	for range n {
		if err := <-errs; err != nil {
			t.Errorf("not ready: %v", err)
		}
	}
}

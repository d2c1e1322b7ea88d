// Package repotest is the contract of repo.Store as tests. An engine's own
// tests call Run, and then hold only what is peculiar to that engine.
package repotest

import (
	"context"
	"fmt"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/repo"
)

// testCase is one thing a store must do, on a store of its own.
type testCase struct {
	name string
	run  func(t *testing.T, s repo.Store)
}

// Run proves a store. open gives a fresh, empty one, and closes it when its
// test is over; closing twice must do no harm. It is called from many
// goroutines.
func Run(t *testing.T, open func(t *testing.T) repo.Store) {
	for _, group := range []struct {
		name  string
		cases []testCase
	}{
		{"kept", keptCases()},
		{"refused", refusedCases()},
		{"any_method", anyMethodCases()},
		{"version", versionCases()},
		{"list", listCases()},
		{"cursor", cursorCases()},
		{"candidates", candidateCases()},
		{"catalogue", catalogueCases()},
		{"together", togetherCases()},
		{"orders", orderCases()},
		{"changes", changeCases()},
		{"imports", importCases()},
		{"undo", undoCases()},
		{"documents", documentCases()},
		{"transaction", transactionCases()},
		{"claims", claimCases()},
	} {
		t.Run(group.name, func(t *testing.T) {
			t.Parallel()
			for _, c := range group.cases {
				t.Run(c.name, func(t *testing.T) {
					t.Parallel()
					c.run(t, open(t))
				})
			}
		})
	}
}

// shop is the one most cases work in, and other is a second one.
const (
	shop  repo.Shop = "bench"
	other repo.Shop = "the other shop"
)

// noon is when the samples are made, with a zone and digits that stores must
// bring to UTC and to whole microseconds.
var noon = time.Date(2026, 3, 1, 12, 30, 0, 123_456_789, time.FixedZone("UTC+2", 7200))

// noonKept is noon as a store gives it back.
var noonKept = time.Date(2026, 3, 1, 10, 30, 0, 123_456_000, time.UTC)

func stamp() repo.Stamp { return repo.Stamp{At: noon} }

func background() context.Context { return context.Background() }

// reporter is a *testing.T, or a *rapid.T, which then looks for a smaller example.
type reporter interface {
	Helper()
	Fatalf(format string, args ...any)
}

// must stops a test at an error that is none of its subject.
func must(t reporter, err error) {
	t.Helper()
	if err != nil {
		t.Fatalf("%v (cause: %v)", err, problem.As(err).Cause)
	}
}

// sure gives the value of a call whose error is none of the test's subject:
// sure(s.Part(ctx, shop, id))(t).
func sure[T any](v T, err error) func(t reporter) T {
	return func(t reporter) T {
		t.Helper()
		must(t, err)
		return v
	}
}

func wantCode(t *testing.T, err error, want problem.Code) {
	t.Helper()
	if err == nil {
		t.Fatalf("no error; want %s", want)
	}
	if got := problem.CodeOf(err); got != want {
		t.Fatalf("code %s, want %s: %v (cause: %v)", got, want, err, problem.As(err).Cause)
	}
}

func wantFault(t *testing.T, err error, pointer string) {
	t.Helper()
	wantCode(t, err, problem.Invalid)
	for _, f := range problem.As(err).Faults {
		if f.Pointer == pointer {
			return
		}
	}
	t.Fatalf("no fault at %s: %v", pointer, err)
}

func same(t reporter, want, got any) {
	t.Helper()
	if diff := cmp.Diff(want, got, cmp.Comparer(sameInstant)); diff != "" {
		t.Fatalf("(-want +got)\n%s", diff)
	}
}

// sameInstant holds the zone against the contract too, which time.Equal does not.
func sameInstant(a, b time.Time) bool {
	return a.Equal(b) && a.Location().String() == b.Location().String()
}

// stocked is a shop with two parts of a series and one series of none, an
// amplifier and its plan, a document, a file and an import of nothing, under
// ids the cases know.
func stocked(t *testing.T, s repo.Store, in repo.Shop) {
	t.Helper()
	ctx := background()
	must(t, s.PutSeries(ctx, in, sampleSeries("HA"), stamp()))
	for i, number := range []string{"HA-1", "HA-2"} {
		sure(s.CreatePart(ctx, in, fmt.Sprintf("part-%d", i+1), samplePart(number), stamp()))(t)
	}
	sure(s.CreateAmp(ctx, in, "amp-1", sampleAmp("Saltmarsh 30"), stamp()))(t)
	must(t, s.SavePlan(ctx, in, samplePlan("plan-1", "amp-1")))
	must(t, s.PutSeries(ctx, in, sampleSeries("spare"), stamp()))
	sure(s.ImportParts(ctx, in, sampleImport("import-1"), rowsOf(), stamp()))(t)
	sure(s.CreateDocument(ctx, in, sampleDocument("run-1"), stamp()))(t)
	must(t, s.SaveFile(ctx, in, sampleFile("file-1")))
}

// holdings is all a shop has.
type holdings struct {
	Parts     []repo.Part
	Series    []part.Series
	Amps      []repo.Amp
	Plans     []repo.Plan
	Documents []repo.Document
	Changes   []repo.Change
	Imports   []repo.ImportRecord
}

// holdingsOf reads a shop through its lists: of plans, those for amp-1 and those
// for no stored amplifier; of documents, the runs.
func holdingsOf(t *testing.T, s repo.Store, in repo.Shop) holdings {
	t.Helper()
	h := holdings{
		Parts:  allParts(t, s, in, repo.PartFilter{}, repo.MaxPage),
		Series: sure(s.Series(background(), in))(t),
		Amps:   allAmps(t, s, in, repo.MaxPage),
		Documents: walk(t, repo.MaxPage, func(p repo.Page) ([]repo.Document, string, error) {
			return s.Documents(background(), in, repo.DocumentFilter{Kind: repo.Run}, p)
		}),
		Changes: unnumbered(t, allChanges(t, s, in, repo.ChangeFilter{}, repo.MaxPage)),
		Imports: walk(t, repo.MaxPage, func(p repo.Page) ([]repo.ImportRecord, string, error) { return s.ImportRecords(background(), in, p) }),
	}
	for _, ampID := range []string{"amp-1", ""} {
		h.Plans = append(h.Plans, allPlans(t, s, in, ampID, repo.MaxPage)...)
	}
	return h
}

// maxPages is more pages than any case here has: a list that comes back to
// where it was must not hold the tests up for good.
const maxPages = 2000

// walk reads a list to its end, page by page, as list gives them.
func walk[T any](t *testing.T, limit int, list func(p repo.Page) ([]T, string, error)) []T {
	t.Helper()
	var all []T
	page := repo.Page{Limit: limit}
	for range maxPages {
		rows, next, err := list(page)
		must(t, err)
		if len(rows) > limit || (next != "" && len(rows) != limit) {
			t.Fatalf("a page of %d, with more to come: %t; want %d", len(rows), next != "", limit)
		}
		all = append(all, rows...)
		if page.After = next; next == "" {
			return all
		}
	}
	t.Fatalf("no end after %d pages", maxPages)
	return nil
}

func allParts(t *testing.T, s repo.Store, in repo.Shop, f repo.PartFilter, limit int) []repo.Part {
	t.Helper()
	return walk(t, limit, func(p repo.Page) ([]repo.Part, string, error) { return s.Parts(background(), in, f, p) })
}

func allChanges(t *testing.T, s repo.Store, in repo.Shop, f repo.ChangeFilter, limit int) []repo.Change {
	t.Helper()
	return walk(t, limit, func(p repo.Page) ([]repo.Change, string, error) { return s.Changes(background(), in, f, p) })
}

// unnumbered takes the numbers off changes, which two shops need not share; they fall.
func unnumbered(t *testing.T, changes []repo.Change) []repo.Change {
	t.Helper()
	for i := range changes {
		if i > 0 && changes[i].Seq >= changes[i-1].Seq {
			t.Fatalf("change %d follows %d", changes[i].Seq, changes[i-1].Seq)
		}
	}
	for i := range changes {
		changes[i].Seq = 0
	}
	return changes
}

func allAmps(t *testing.T, s repo.Store, in repo.Shop, limit int) []repo.Amp {
	t.Helper()
	return walk(t, limit, func(p repo.Page) ([]repo.Amp, string, error) { return s.Amps(background(), in, p) })
}

func allPlans(t *testing.T, s repo.Store, in repo.Shop, ampID string, limit int) []repo.Plan {
	t.Helper()
	return walk(t, limit, func(p repo.Page) ([]repo.Plan, string, error) { return s.Plans(background(), in, ampID, p) })
}

func partNumbers(parts []repo.Part) []string {
	var numbers []string
	for i := range parts {
		numbers = append(numbers, parts[i].PartNumber)
	}
	return numbers
}

func ampIDs(amps []repo.Amp) []string {
	var ids []string
	for i := range amps {
		ids = append(ids, amps[i].ID)
	}
	return ids
}

func planIDs(plans []repo.Plan) []string {
	var ids []string
	for i := range plans {
		ids = append(ids, plans[i].ID)
	}
	return ids
}

func instant(t *testing.T, text string) time.Time {
	t.Helper()
	at, err := time.Parse(time.RFC3339Nano, text)
	must(t, err)
	return at.UTC()
}

package repotest

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/repo"
)

// undoCases: an import is taken back while nothing depends on it.
func undoCases() []testCase {
	return []testCase{
		{"what it created goes, what it changed is as before", undoRestores},
		{"and can be imported again", undoneAgain},
		{"a second time is a conflict", undoneTwice},
		{"more parts than are held at once", undoMany},
		{"all reasons against it are named", undoRefused},
		{"reasons are counted past the most that are named", undoManyReasons},
		{"later imports are undone first", undoInTurn},
		{"series go back too", undoSeries},
		{"series that others use, or that were changed since", undoSeriesRefused},
		{"of many at once exactly one succeeds", undoOnce},
		{"none there", undoNone},
	}
}

// standing is what a shop's lists show, without the record of how it came about.
func standing(t *testing.T, s repo.Store) holdings {
	t.Helper()
	h := holdingsOf(t, s, shop)
	h.Changes, h.Imports = nil, nil
	for i := range h.Parts {
		h.Parts[i].Version, h.Parts[i].Changed = 0, time.Time{}
	}
	return h
}

func undoRestores(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	before := standing(t, s)
	changed := samplePart("HA-1")
	changed.Note, changed.Offers, changed.FurtherSectionsUF = "another", []part.Offer{offerOf("Fenwick", "1", 7), offerOf("New", "1", 7)}, nil
	importInto(t, s, "in", changed, samplePart("HA-2"), samplePart("HA-3"))
	undone := sure(s.UndoImport(background(), shop, "in", by("Ben", 2*time.Hour)))(t)
	same(t, before, standing(t, s))
	same(t, noonKept.Add(2*time.Hour), undone.UndoneAt)
	same(t, "Ben", undone.UndoneBy)
	same(t, undone, sure(s.ImportRecord(background(), shop, "in"))(t))

	p := sure(s.Part(background(), shop, "part-1"))(t)
	same(t, int64(3), p.Version)
	same(t, noonKept.Add(2*time.Hour), p.Changed)
	changes := allChanges(t, s, shop, repo.ChangeFilter{PartID: "part-1"}, 10)
	same(t, []string{`part-1 restored by "in" line 0`, `part-1 replaced by "in" line 2`, `part-1 created by "" line 0`}, kinds(changes))
	same(t, "Ben", changes[0].By)
	same(t, "another", changes[0].Before.Note)
	changes = allChanges(t, s, shop, repo.ChangeFilter{PartID: "in-001"}, 10)
	same(t, []string{`in-001 withdrawn by "in" line 0`, `in-001 created by "in" line 4`}, kinds(changes))
	same(t, samplePart("HA-3"), *changes[0].Before)
	// The import's own rows are still those of its file.
	same(t, 2, len(allChanges(t, s, shop, repo.ChangeFilter{ImportID: "in"}, 10)))
}

func undoneAgain(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	for i := range 3 {
		id := fmt.Sprint("in", i)
		same(t, [3]int{1, 0, 1}, counts(importInto(t, s, id, samplePart("HA-1"), samplePart("HA-3"))))
		sure(s.UndoImport(background(), shop, id, stamp()))(t)
	}
}

func undoneTwice(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	importInto(t, s, "in", samplePart("HA-3"))
	sure(s.UndoImport(background(), shop, "in", stamp()))(t)
	before := holdingsOf(t, s, shop)
	_, err := s.UndoImport(background(), shop, "in", stamp())
	wantReasons(t, err, "undone already")
	same(t, before, holdingsOf(t, s, shop))
}

// wantReasons checks a refusal's faults, in order, by words in each.
func wantReasons(t *testing.T, err error, words ...string) {
	t.Helper()
	wantCode(t, err, problem.Conflict)
	faults := problem.As(err).Faults
	if len(faults) != len(words) {
		t.Fatalf("%d reasons, want %d: %v", len(faults), len(words), err)
	}
	for i, f := range faults {
		if !strings.Contains(f.Pointer+" "+f.Message, words[i]) {
			t.Errorf("reason %d is %s %q; want %q", i, f.Pointer, f.Message, words[i])
		}
	}
}

func undoMany(t *testing.T, s repo.Store) {
	n := repo.IntakeChunk + 100
	before := shelf(t, s, n/2)
	var rows []part.Part
	for i := range n {
		p := plainPart("M", fmt.Sprintf("%05d", i), 33, 450)
		p.Offers = []part.Offer{offerOf("A", "1", 1)}
		rows = append(rows, p)
	}
	same(t, [3]int{n - n/2, n / 2, 0}, counts(importInto(t, s, "in", rows...)))
	sure(s.UndoImport(background(), shop, "in", stamp()))(t)
	var got []part.Part
	for _, p := range each(t, s, repo.PartFilter{}) {
		got = append(got, p.Part)
	}
	same(t, before, got)
}

func undoRefused(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	changed := samplePart("HA-1")
	changed.Note = "another"
	importInto(t, s, "in", samplePart("HA-3"), samplePart("HA-4"), changed, samplePart("HA-5"), samplePart("HA-6"))
	byNumber := map[string]repo.Part{}
	for _, p := range allParts(t, s, shop, repo.PartFilter{}, 10) {
		byNumber[p.PartNumber] = p
	}
	edited := samplePart("HA-3")
	edited.Note = "by hand"
	sure(s.ReplacePart(ctx, shop, byNumber["HA-3"].ID, 1, edited, stamp()))(t)
	must(t, s.DeletePart(ctx, shop, byNumber["HA-4"].ID, 1, stamp()))
	sure(s.ReplacePart(ctx, shop, "part-1", 2, samplePart("HA-1"), stamp()))(t)
	run := sampleDocument("run-2")
	run.Parts = []string{byNumber["HA-5"].ID, "part-2"}
	sure(s.CreateDocument(ctx, shop, run, stamp()))(t)
	before := holdingsOf(t, s, shop)
	_, err := s.UndoImport(ctx, shop, "in", stamp())
	wantCode(t, err, problem.Conflict)
	reasons := err.Error()
	for _, words := range []string{`"HA-3" of the maker "Sedgemere" has been changed`, `the part "` + byNumber["HA-4"].ID + `" has been changed or deleted`,
		`"HA-1" of the maker "Sedgemere" has been changed`, `"HA-5" of the maker "Sedgemere" is used by the run "run-2"`} {
		if !strings.Contains(reasons, words) {
			t.Errorf("%q is not among the reasons: %s", words, reasons)
		}
	}
	same(t, 4, len(problem.As(err).Faults))
	same(t, before, holdingsOf(t, s, shop))
	// A part it changed, and did not create, may be rested on.
	must(t, s.DeleteDocument(ctx, shop, repo.Run, "run-2", 1))
	_, err = s.UndoImport(ctx, shop, "in", stamp())
	same(t, 3, len(problem.As(err).Faults))
}

func undoManyReasons(t *testing.T, s repo.Store) {
	must(t, s.PutSeries(background(), shop, sampleSeries("HA"), stamp()))
	n := repo.MaxReasons + 20
	var rows []part.Part
	for i := range n {
		rows = append(rows, plainPart("M", fmt.Sprintf("%05d", i), 22, 450))
	}
	importInto(t, s, "in", rows...)
	for i := range rows {
		rows[i].Note = "again"
	}
	importInto(t, s, "later", rows...)
	_, err := s.UndoImport(background(), shop, "in", stamp())
	wantCode(t, err, problem.Conflict)
	faults := problem.As(err).Faults
	same(t, repo.MaxReasons, len(faults))
	same(t, fmt.Sprintf("and %d reasons more", n-repo.MaxReasons+1), faults[repo.MaxReasons-1].Message)
	sure(s.UndoImport(background(), shop, "later", stamp()))(t)
	sure(s.UndoImport(background(), shop, "in", stamp()))(t)
	same(t, []repo.Part(nil), allParts(t, s, shop, repo.PartFilter{}, 10))
}

func undoInTurn(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	before := standing(t, s)
	row := func(note string) part.Part { p := samplePart("HA-1"); p.Note = note; return p }
	for _, id := range []string{"a", "b", "c"} {
		importInto(t, s, id, row(id))
	}
	for _, id := range []string{"a", "b"} {
		_, err := s.UndoImport(background(), shop, id, stamp())
		wantReasons(t, err, "has been changed")
	}
	for _, id := range []string{"c", "b", "a"} {
		same(t, id, sure(s.Part(background(), shop, "part-1"))(t).Note)
		sure(s.UndoImport(background(), shop, id, stamp()))(t)
	}
	same(t, before, standing(t, s))
	same(t, int64(7), sure(s.Part(background(), shop, "part-1"))(t).Version)
}

func undoSeries(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	before := standing(t, s)
	in := sampleImport("in")
	in.Series = []part.Series{bareSeries("HA", 105), bareSeries("HB", 85)}
	p, moved := samplePart("HB-1"), samplePart("HA-1")
	p.Series, moved.Series = "HB", "HB"
	sure(s.ImportParts(ctx, shop, in, rowsOf(p, moved), stamp()))(t)
	sure(s.UndoImport(ctx, shop, "in", stamp()))(t)
	same(t, before, standing(t, s))
	same(t, int64(3), sure(s.OneSeries(ctx, shop, "HA"))(t).Version)
	_, err := s.OneSeries(ctx, shop, "HB")
	wantCode(t, err, problem.NotFound)
}

func undoSeriesRefused(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	in := sampleImport("in")
	in.Series = []part.Series{bareSeries("HA", 105), bareSeries("HB", 85), bareSeries("HC", 85)}
	sure(s.ImportParts(ctx, shop, in, rowsOf(), stamp()))(t)
	must(t, s.PutSeries(ctx, shop, bareSeries("HA", 70), stamp()))
	must(t, s.DeleteSeries(ctx, shop, "HC", 1))
	p := samplePart("HB-1")
	p.Series = "HB"
	sure(s.CreatePart(ctx, shop, "own", p, stamp()))(t)
	before := holdingsOf(t, s, shop)
	_, err := s.UndoImport(ctx, shop, "in", stamp())
	wantReasons(t, err, `/series/HA the series "HA" has been changed`, `/series/HB parts of other origin`, `/series/HC the series "HC" has been changed or deleted`)
	same(t, before, holdingsOf(t, s, shop))
}

func undoOnce(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	importInto(t, s, "in", samplePart("HA-3"))
	oneOf(t, atOnce(writers, func(int) error {
		_, err := s.UndoImport(background(), shop, "in", stamp())
		return err
	}), problem.Conflict)
	same(t, 2, len(allParts(t, s, shop, repo.PartFilter{}, 10)))
}

func undoNone(t *testing.T, s repo.Store) {
	for _, id := range []string{"none", "", "\x00"} {
		_, err := s.UndoImport(background(), shop, id, stamp())
		wantCode(t, err, problem.NotFound)
	}
}

package repotest

import (
	"fmt"
	"testing"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/repo"
)

// catalogueCases: LoadCatalogue does all or nothing, once.
func catalogueCases() []testCase {
	return []testCase{
		{"loads series and parts under their ids", loads},
		{"a second time it does nothing, and says so", loadsOnce},
		{"a shop with one part is left alone", oneIsEnough},
		{"a shop with series alone is loaded, its series replaced", seriesAlone},
		{"after the last part is gone it loads again", loadsAgain},
		{"each shop is loaded for itself", loadsEach},
		{"nothing to load", loadsNothing},
		{"a part of no series undoes it all", undone(problem.Invalid, func(_ []string, p []part.Part) { p[2].Series = "HB" })},
		{"a repeated id undoes it all", undone(problem.Conflict, func(ids []string, _ []part.Part) { ids[2] = ids[0] })},
		{"a repeated maker and number undoes it all", undone(problem.Conflict, func(_ []string, p []part.Part) { p[2].PartNumber = p[0].PartNumber })},
		{"a value past all bounds undoes it all", undone(problem.Invalid, func(_ []string, p []part.Part) { p[2].Offers[0].Pack = 0 })},
		{"text with NUL undoes it all", undone(problem.Invalid, func(_ []string, p []part.Part) { p[2].Note = "\x00" })},
		{"an empty id undoes it all", undone(problem.Invalid, func(ids []string, _ []part.Part) { ids[2] = "" })},
		{"ids that do not go with the parts are internal", idsAmiss},
	}
}

// three is a small catalogue.
func three() ([]part.Series, []string, []part.Part) {
	return []part.Series{sampleSeries("HA")}, []string{"part-1", "part-2", "part-3"},
		[]part.Part{samplePart("HA-1"), samplePart("HA-2"), samplePart("HA-3")}
}

func load(t *testing.T, s repo.Store, in repo.Shop, want bool) {
	t.Helper()
	series, ids, parts := three()
	if did := sure(s.LoadCatalogue(background(), in, series, ids, parts, stamp()))(t); did != want {
		t.Fatalf("loaded: %t, want %t", did, want)
	}
}

func loads(t *testing.T, s repo.Store) {
	load(t, s, shop, true)
	series, ids, parts := three()
	same(t, series, sure(s.Series(background(), shop))(t))
	for i, id := range ids {
		want := repo.Part{Meta: repo.Meta{ID: id, Version: 1, Created: noonKept, Changed: noonKept}, Part: parts[i]}
		same(t, want, sure(s.Part(background(), shop, id))(t))
	}
}

func loadsOnce(t *testing.T, s repo.Store) {
	load(t, s, shop, true)
	changed := sampleSeries("HA")
	changed.MaxC = some(105)
	must(t, s.PutSeries(background(), shop, changed, stamp()))
	before := holdingsOf(t, s, shop)
	load(t, s, shop, false)
	same(t, before, holdingsOf(t, s, shop))
}

func oneIsEnough(t *testing.T, s repo.Store) {
	must(t, s.PutSeries(background(), shop, sampleSeries("own"), stamp()))
	p := plainPart("M", "1", 22, 450)
	p.Series = "own"
	sure(s.CreatePart(background(), shop, "p", p, stamp()))(t)
	before := holdingsOf(t, s, shop)
	load(t, s, shop, false)
	same(t, before, holdingsOf(t, s, shop))
}

func seriesAlone(t *testing.T, s repo.Store) {
	old := sampleSeries("HA")
	old.MaxC = some(105)
	must(t, s.PutSeries(background(), shop, old, stamp()))
	must(t, s.PutSeries(background(), shop, sampleSeries("own"), stamp()))
	load(t, s, shop, true)
	same(t, []part.Series{sampleSeries("HA"), sampleSeries("own")}, sure(s.Series(background(), shop))(t))
}

func loadsAgain(t *testing.T, s repo.Store) {
	load(t, s, shop, true)
	_, ids, _ := three()
	for _, id := range ids {
		load(t, s, shop, false)
		must(t, s.DeletePart(background(), shop, id, 1, stamp()))
	}
	load(t, s, shop, true)
}

func loadsEach(t *testing.T, s repo.Store) {
	load(t, s, shop, true)
	load(t, s, other, true)
	same(t, holdingsOf(t, s, shop), holdingsOf(t, s, other))
	must(t, s.DeletePart(background(), other, "part-1", 1, stamp()))
	same(t, []string{"HA-1", "HA-2", "HA-3"}, partNumbers(allParts(t, s, shop, repo.PartFilter{}, 10)))
}

func loadsNothing(t *testing.T, s repo.Store) {
	for range 2 {
		if !sure(s.LoadCatalogue(background(), shop, nil, nil, nil, stamp()))(t) {
			t.Error("a shop without parts was not loaded")
		}
	}
	same(t, holdings{}, holdingsOf(t, s, shop))
}

// undone spoils the last part of a catalogue; whatever the shop had must be as before.
func undone(want problem.Code, spoil func(ids []string, parts []part.Part)) func(t *testing.T, s repo.Store) {
	return func(t *testing.T, s repo.Store) {
		must(t, s.PutSeries(background(), shop, sampleSeries("own"), stamp()))
		before := holdingsOf(t, s, shop)
		series, ids, parts := three()
		spoil(ids, parts)
		did, err := s.LoadCatalogue(background(), shop, series, ids, parts, stamp())
		wantCode(t, err, want)
		if did {
			t.Error("it says that it loaded")
		}
		same(t, before, holdingsOf(t, s, shop))
		load(t, s, shop, true)
	}
}

func idsAmiss(t *testing.T, s repo.Store) {
	series, ids, parts := three()
	for n := range ids {
		_, err := s.LoadCatalogue(background(), shop, series, ids[:n], parts, stamp())
		wantCode(t, err, problem.Internal)
	}
	same(t, holdings{}, holdingsOf(t, s, shop))
	load(t, s, shop, true)
	same(t, fmt.Sprint(len(ids)), fmt.Sprint(len(allParts(t, s, shop, repo.PartFilter{}, 10))))
}

package repotest

import (
	"fmt"
	"testing"
	"time"

	"coldrise/domain/part"
	"coldrise/repo"
)

// changeCases: who changed what, when, and what it was before.
func changeCases() []testCase {
	return []testCase{
		{"a part's life from its creation to its end", partsLife},
		{"a catalogue that is loaded is recorded", loadRecorded},
		{"changes of one part, of one import, of all", changesOfOne},
		{"changes outlive their part, and go on with another of its id", changesOutlive},
		{"what was before comes back bit for bit", beforeKept},
		{"changes that were there appear once while others are made", walkChanges},
		{"a list of changes that is another's", otherChanges},
	}
}

func by(who string, after time.Duration) repo.Stamp { return repo.Stamp{At: noon.Add(after), By: who} }

func partsLife(t *testing.T, s repo.Store) {
	ctx := background()
	must(t, s.PutSeries(ctx, shop, sampleSeries("HA"), stamp()))
	first, second := samplePart("HA-1"), plainPart("Sedgemere", "HA-1b", 22, 450)
	sure(s.CreatePart(ctx, shop, "p", first, by("Ada", 0)))(t)
	sure(s.ReplacePart(ctx, shop, "p", 1, second, by("Ben – Ω", time.Hour)))(t)
	must(t, s.DeletePart(ctx, shop, "p", 2, by("", 2*time.Hour)))
	want := []repo.Change{
		{PartID: "p", Kind: repo.Deleted, Version: 2, At: noonKept.Add(2 * time.Hour), Before: &second},
		{PartID: "p", Kind: repo.Replaced, Version: 2, At: noonKept.Add(time.Hour), By: "Ben – Ω", Before: &first},
		{PartID: "p", Kind: repo.Created, Version: 1, At: noonKept, By: "Ada"},
	}
	for _, f := range []repo.ChangeFilter{{}, {PartID: "p"}} {
		same(t, want, unnumbered(t, allChanges(t, s, shop, f, 1)))
	}
	same(t, []repo.Change(nil), allChanges(t, s, shop, repo.ChangeFilter{PartID: "P"}, 1))
}

func loadRecorded(t *testing.T, s repo.Store) {
	load(t, s, shop, true)
	load(t, s, shop, false)
	var want []repo.Change
	for i := 3; i > 0; i-- {
		want = append(want, repo.Change{PartID: fmt.Sprint("part-", i), Kind: repo.Created, Version: 1, At: noonKept})
	}
	same(t, want, unnumbered(t, allChanges(t, s, shop, repo.ChangeFilter{}, 2)))
}

func kinds(changes []repo.Change) []string {
	var all []string
	for _, c := range changes {
		all = append(all, fmt.Sprintf("%s %s by %q line %d", c.PartID, c.Kind, c.ImportID, c.Line))
	}
	return all
}

func changesOfOne(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	changed := samplePart("HA-1")
	changed.Note = "another"
	sure(s.ImportParts(ctx, shop, sampleImport("in"), rowsOf(samplePart("HA-9"), changed, samplePart("HA-2")), stamp()))(t)
	sure(s.ReplacePart(ctx, shop, "part-2", 1, changed2(), stamp()))(t)
	for _, tt := range []struct {
		f    repo.ChangeFilter
		want []string
	}{
		{repo.ChangeFilter{ImportID: "in"}, []string{`in-001 created by "in" line 2`, `part-1 replaced by "in" line 3`}},
		{repo.ChangeFilter{ImportID: "in", PartID: "part-1"}, []string{`part-1 replaced by "in" line 3`}},
		{repo.ChangeFilter{PartID: "part-1"}, []string{`part-1 replaced by "in" line 3`, `part-1 created by "" line 0`}},
		{repo.ChangeFilter{PartID: "part-2"}, []string{`part-2 replaced by "" line 0`, `part-2 created by "" line 0`}},
		{repo.ChangeFilter{}, []string{`part-2 replaced by "" line 0`, `part-1 replaced by "in" line 3`, `in-001 created by "in" line 2`,
			`part-2 created by "" line 0`, `part-1 created by "" line 0`}},
		{repo.ChangeFilter{ImportID: "import-1"}, nil}, {repo.ChangeFilter{ImportID: "none"}, nil},
	} {
		for _, limit := range []int{1, repo.MaxPage} {
			same(t, tt.want, kinds(allChanges(t, s, shop, tt.f, limit)))
		}
	}
}

func changed2() part.Part { p := samplePart("HA-2"); p.Note = "changed"; return p }

func changesOutlive(t *testing.T, s repo.Store) {
	ctx := background()
	must(t, s.PutSeries(ctx, shop, sampleSeries("HA"), stamp()))
	for range 2 {
		sure(s.CreatePart(ctx, shop, "p", plainPart("M", "1", 22, 450), stamp()))(t)
		must(t, s.DeletePart(ctx, shop, "p", 1, stamp()))
	}
	same(t, []string{`p deleted by "" line 0`, `p created by "" line 0`, `p deleted by "" line 0`, `p created by "" line 0`},
		kinds(allChanges(t, s, shop, repo.ChangeFilter{PartID: "p"}, 3)))
}

func beforeKept(t *testing.T, s repo.Store) {
	ctx := background()
	must(t, s.PutSeries(ctx, shop, sampleSeries("HA"), stamp()))
	generator := anyPart("HA")
	version := int64(0)
	for seed := range 40 {
		p := generator.Example(seed)
		if version == 0 {
			version = sure(s.CreatePart(ctx, shop, "p", p, stamp()))(t).Version
			continue
		}
		before := sure(s.Part(ctx, shop, "p"))(t).Part
		version = sure(s.ReplacePart(ctx, shop, "p", version, p, stamp()))(t).Version
		last, _, err := s.Changes(ctx, shop, repo.ChangeFilter{PartID: "p"}, repo.Page{Limit: 1})
		must(t, err)
		same(t, &before, last[0].Before)
		same(t, version, last[0].Version)
	}
}

func walkChanges(t *testing.T, s repo.Store) {
	ctx := background()
	shelf(t, s, 40)
	var stayers []string
	for _, c := range allChanges(t, s, shop, repo.ChangeFilter{}, repo.MaxPage) {
		stayers = append(stayers, fmt.Sprint(c.Seq))
	}
	change := func(round int) error {
		_, err := s.ReplacePart(ctx, shop, "part 00000", int64(round+1), plainPart("M", "00000", 22, 450), stamp())
		return err
	}
	churn(t, change, func() {
		var seen []string
		// From here on: a walk that begins at the newest never ends beside this.
		page := repo.Page{Limit: 3}
		for {
			changes, next, err := s.Changes(ctx, shop, repo.ChangeFilter{}, page)
			must(t, err)
			for _, c := range changes {
				seen = append(seen, fmt.Sprint(c.Seq))
			}
			if page.After = next; next == "" {
				break
			}
		}
		once(t, stayers, seen)
	})
}

func otherChanges(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	one := repo.Page{Limit: 1}
	_, next, err := s.Changes(background(), shop, repo.ChangeFilter{}, one)
	must(t, err)
	for _, f := range []repo.ChangeFilter{{PartID: "part-1"}, {ImportID: "import-1"}} {
		_, _, err := s.Changes(background(), shop, f, repo.Page{Limit: 1, After: next})
		wantFault(t, err, "/cursor")
	}
	_, _, err = s.Changes(background(), shop, repo.ChangeFilter{PartID: "\x00"}, one)
	wantFault(t, err, "/part_id")
	_, _, err = s.Changes(background(), shop, repo.ChangeFilter{}, repo.Page{})
	wantFault(t, err, "/limit")
}

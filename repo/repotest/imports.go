package repotest

import (
	"context"
	"errors"
	"fmt"
	"testing"
	"time"

	"pgregory.net/rapid"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/repo"
)

// importCases: all or nothing, by maker and part number.
func importCases() []testCase {
	return []testCase{
		{"creates, changes and leaves alone", createsAndChanges},
		{"the record is read back", recordKept},
		{"records with the last first", recordsInOrder},
		{"unchanged rows keep the version", keepsVersions},
		{"offers of the row's suppliers are replaced, others' stay", mergesOffers},
		{"a part in several rows, for several suppliers", partInRows},
		{"a part in two rows with other figures is refused", otherFigures},
		{"series come with the parts", seriesCome},
		{"random imports leave what a plain merge leaves", randomImports},
		{"more rows than are held at once", manyRows},
		{"progress is told", progressTold},
		{"a fault at any row undoes it all, and names its line", importUndone},
		{"an error among the rows undoes it all", rowsFail},
		{"ended by its context it leaves nothing", importCancelled},
		{"headers that are refused", headersRefused},
		{"of imports at once none is lost", importsTogether},
		{"beside writers no update is lost", importBesideWriters},
	}
}

func importInto(t *testing.T, s repo.Store, id string, parts ...part.Part) repo.ImportRecord {
	t.Helper()
	return sure(s.ImportParts(background(), shop, sampleImport(id), rowsOf(parts...), by("Ada", time.Hour)))(t)
}

func counts(r repo.ImportRecord) [3]int { return [3]int{r.Created, r.Changed, r.Unchanged} }

func createsAndChanges(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	changed := samplePart("HA-2")
	changed.Note, changed.FurtherSectionsUF = "another", []float64{8, 4}
	r := importInto(t, s, "in", samplePart("HA-1"), changed, samplePart("HA-3"))
	same(t, [3]int{1, 1, 1}, counts(r))
	at := noonKept.Add(time.Hour)
	same(t, []repo.Part{
		{Meta: repo.Meta{ID: "part-1", Version: 1, Created: noonKept, Changed: noonKept}, Part: samplePart("HA-1")},
		{Meta: repo.Meta{ID: "part-2", Version: 2, Created: noonKept, Changed: at}, Part: changed},
		{Meta: repo.Meta{ID: "in-001", Version: 1, Created: at, Changed: at}, Part: samplePart("HA-3")},
	}, allParts(t, s, shop, repo.PartFilter{}, 10))
	before := samplePart("HA-2")
	same(t, []repo.Change{
		{PartID: "part-2", Kind: repo.Replaced, Version: 2, At: at, By: "Ada", ImportID: "in", Line: 3, Before: &before},
		{PartID: "in-001", Kind: repo.Created, Version: 1, At: at, By: "Ada", ImportID: "in", Line: 4},
	}, rising(t, allChanges(t, s, shop, repo.ChangeFilter{ImportID: "in"}, 1)))
}

// rising is unnumbered of changes whose numbers rise, brought in the order of
// their parts' lines.
func rising(t *testing.T, changes []repo.Change) []repo.Change {
	t.Helper()
	last := int64(0)
	for i := range changes {
		if changes[i].Seq <= last {
			t.Fatalf("change %d follows %d", changes[i].Seq, last)
		}
		last, changes[i].Seq = changes[i].Seq, 0
	}
	for i := range changes { // Within a chunk an engine may store new parts first.
		for k := i; k > 0 && changes[k].Line < changes[k-1].Line; k-- {
			changes[k], changes[k-1] = changes[k-1], changes[k]
		}
	}
	return changes
}

func recordKept(t *testing.T, s repo.Store) {
	must(t, s.PutSeries(background(), shop, sampleSeries("HA"), stamp()))
	want := repo.ImportRecord{ID: "in", Source: "Oxbow 2026-03.csv", SHA256: "00ff", At: noonKept.Add(time.Hour), By: "Ada", Created: 1, Findings: []byte(`{"warnings": [] }`)}
	same(t, want, importInto(t, s, "in", samplePart("HA-1")))
	same(t, want, sure(s.ImportRecord(background(), shop, "in"))(t))
	bare := repo.Import{ID: "bare", NewID: sampleImport("x").NewID}
	want = repo.ImportRecord{ID: "bare", At: noonKept, Findings: []byte("null")}
	same(t, want, sure(s.ImportParts(background(), shop, bare, rowsOf(), stamp()))(t))
	same(t, want, sure(s.ImportRecord(background(), shop, "bare"))(t))
}

func recordsInOrder(t *testing.T, s repo.Store) {
	for i := range 7 {
		id := fmt.Sprint("in", i*3%7)
		sure(s.ImportParts(background(), shop, sampleImport(id), rowsOf(), by("", time.Duration(i/2)*time.Hour)))(t)
	}
	for _, limit := range []int{1, 3, repo.MaxPage} {
		var got []string
		for _, r := range walk(t, limit, func(p repo.Page) ([]repo.ImportRecord, string, error) { return s.ImportRecords(background(), shop, p) }) {
			got = append(got, r.ID)
		}
		// At one instant the later id goes first: in3 and in0, in6 and in2, in5 and in1.
		same(t, []string{"in4", "in5", "in1", "in6", "in2", "in3", "in0"}, got)
	}
	_, _, err := s.ImportRecords(background(), shop, repo.Page{Limit: 1, After: "x"})
	wantFault(t, err, "/cursor")
}

func keepsVersions(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	before := allParts(t, s, shop, repo.PartFilter{}, 10)
	changes := allChanges(t, s, shop, repo.ChangeFilter{}, 10)
	for i := range 2 {
		row := samplePart("HA-1")
		row.Offers = row.Offers[i : i+1] // One supplier's row says nothing of the other.
		same(t, [3]int{0, 0, 2}, counts(importInto(t, s, fmt.Sprint("in", i), row, samplePart("HA-2"))))
	}
	same(t, before, allParts(t, s, shop, repo.PartFilter{}, 10))
	same(t, changes, allChanges(t, s, shop, repo.ChangeFilter{}, 10))
}

func offerOf(supplier, sku string, stock int) part.Offer {
	return part.Offer{Supplier: supplier, SKU: sku, Currency: "GBP", Pack: 1, MinQty: 1, Stock: stock, Breaks: []part.Break{{MinQty: 1, UnitPrice: 100}}}
}

func mergesOffers(t *testing.T, s repo.Store) {
	must(t, s.PutSeries(background(), shop, sampleSeries("HA"), stamp()))
	with := func(offers ...part.Offer) part.Part {
		p := plainPart("M", "1", 22, 450)
		p.Offers = offers
		return p
	}
	a1, a2, b, c := offerOf("A", "1", 1), offerOf("A", "2", 2), offerOf("B", "1", 4), offerOf("C", "1", 8)
	for _, tt := range []struct {
		name      string
		row       part.Part
		want      []part.Offer
		unchanged int
	}{
		{"the first", with(b, a1, a2), []part.Offer{b, a1, a2}, 0},
		{"no offer says nothing", with(), []part.Offer{b, a1, a2}, 1},
		{"fewer of a supplier", with(a2), []part.Offer{b, a2}, 0},
		{"more of a supplier, and a new one ahead", with(c, a1, a2), []part.Offer{b, a1, c, a2}, 0},
		{"in the middle", with(b), []part.Offer{b, a1, c, a2}, 1},
	} {
		r := importInto(t, s, tt.name, tt.row)
		same(t, tt.unchanged, r.Unchanged)
		same(t, tt.want, allParts(t, s, shop, repo.PartFilter{}, 10)[0].Offers)
	}
	same(t, 1, len(allParts(t, s, shop, repo.PartFilter{InStock: true}, 10)))
}

func partInRows(t *testing.T, s repo.Store) {
	must(t, s.PutSeries(background(), shop, sampleSeries("HA"), stamp()))
	row := func(number string, offers ...part.Offer) part.Part {
		p := plainPart("M", number, 22, 450)
		p.Offers = offers
		return p
	}
	a, b, c := offerOf("A", "1", 1), offerOf("B", "1", 2), offerOf("A", "2", 3)
	r := importInto(t, s, "in", row("1", a), row("2", a), row("1", b), row("1", b), row("1", c))
	same(t, [3]int{2, 2, 1}, counts(r))
	got := allParts(t, s, shop, repo.PartFilter{}, 10)
	same(t, []part.Offer{c, b}, got[0].Offers)
	same(t, int64(1), got[0].Version)
	same(t, []string{`in-001 created by "in" line 2`, `in-002 created by "in" line 3`}, kinds(allChanges(t, s, shop, repo.ChangeFilter{ImportID: "in"}, 10)))

	// A part that was there has one further version, and one record with what it
	// was ahead of the import.
	r = importInto(t, s, "again", row("1", a), row("1", offerOf("B", "1", 9)))
	same(t, [3]int{0, 2, 0}, counts(r))
	changes := allChanges(t, s, shop, repo.ChangeFilter{ImportID: "again"}, 10)
	same(t, 1, len(changes))
	same(t, []part.Offer{c, b}, changes[0].Before.Offers)
	same(t, int64(2), sure(s.Part(background(), shop, "in-001"))(t).Version)
}

func otherFigures(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	before := holdingsOf(t, s, shop)
	second := samplePart("HA-3")
	second.RippleMA = some(1)
	_, err := s.ImportParts(background(), shop, sampleImport("in"), rowsOf(samplePart("HA-3"), second), stamp())
	wantFault(t, err, "/rows/3")
	same(t, before, holdingsOf(t, s, shop))
}

func seriesCome(t *testing.T, s repo.Store) {
	ctx := background()
	must(t, s.PutSeries(ctx, shop, sampleSeries("HA"), stamp()))
	in := sampleImport("in")
	in.Series = []part.Series{sampleSeries("HA"), bareSeries("HB", 85)}
	p := samplePart("HB-1")
	p.Series = "HB"
	r := sure(s.ImportParts(ctx, shop, in, rowsOf(p), stamp()))(t)
	same(t, []repo.SeriesChange{{Name: "HB", Version: 1}}, r.Series)
	same(t, int64(1), sure(s.OneSeries(ctx, shop, "HA"))(t).Version)

	again := sampleImport("again")
	again.Series = []part.Series{bareSeries("HB", 105)}
	before := bareSeries("HB", 85)
	same(t, []repo.SeriesChange{{Name: "HB", Version: 2, Before: &before}}, sure(s.ImportParts(ctx, shop, again, rowsOf(), stamp()))(t).Series)
	same(t, bareSeries("HB", 105), sure(s.OneSeries(ctx, shop, "HB"))(t).Series)
}

// randomImports holds the store against a map, row by row.
func randomImports(t *testing.T, s repo.Store) {
	n := 0
	rapid.Check(t, func(rt *rapid.T) {
		n++
		in, have := repo.Shop(fmt.Sprint("shop ", n)), map[string]part.Part{}
		must(rt, s.PutSeries(background(), in, sampleSeries("HA"), stamp()))
		for k := range rapid.IntRange(1, 3).Draw(rt, "imports") {
			var rows []part.Part
			given, want := map[string]bool{}, [3]int{}
			for range rapid.IntRange(0, 6).Draw(rt, "rows") {
				p := anyPart("HA").Draw(rt, "part")
				p.Maker, p.PartNumber = "M", rapid.SampledFrom([]string{"1", "2", "3", "Ω", "\\"}).Draw(rt, "part_number")
				for i := range p.Offers {
					p.Offers[i].Supplier = rapid.SampledFrom([]string{"A", "B", "'"}).Draw(rt, "supplier")
				}
				if given[p.PartNumber] {
					continue
				}
				given[p.PartNumber] = true
				before, there := have[p.PartNumber]
				merged := p
				if repo.DropEmpty(&merged); there {
					merged = repo.Merge(before, p)
				}
				switch {
				case !there:
					want[0]++
				case repo.Same(&before, &merged):
					want[2]++
				default:
					want[1]++
				}
				rows, have[p.PartNumber] = append(rows, p), merged
			}
			id := fmt.Sprint("in ", n, " ", k)
			same(rt, want, counts(sure(s.ImportParts(background(), in, sampleImport(id), rowsOf(rows...), stamp()))(rt)))
		}
		for _, p := range allParts(t, s, in, repo.PartFilter{}, 10) {
			same(rt, have[p.PartNumber], p.Part)
			delete(have, p.PartNumber)
		}
		same(rt, map[string]part.Part{}, have)
	})
}

func manyRows(t *testing.T, s repo.Store) {
	must(t, s.PutSeries(background(), shop, sampleSeries("HA"), stamp()))
	n := 2*repo.IntakeChunk + 37
	row := func(i, stock int) part.Part {
		p := plainPart("M", fmt.Sprintf("%05d", i), float64(1+i), 450)
		p.Offers = []part.Offer{offerOf("A", "1", stock)}
		if i%3 == 0 {
			p.FurtherSectionsUF = []float64{float64(1 + i)}
		}
		return p
	}
	for k, want := range [][3]int{{n, 0, 0}, {0, 0, n}, {0, n/2 + n%2, n / 2}} {
		var rows []part.Part
		for i := range n {
			stock := 1
			if k == 2 && i%2 == 0 {
				stock = 2
			}
			rows = append(rows, row(i, stock))
		}
		same(t, want, counts(importInto(t, s, fmt.Sprint("in", k), rows...)))
		i := 0
		for p, err := range s.EachPart(background(), shop, repo.PartFilter{}) {
			must(t, err)
			same(t, rows[i], p.Part)
			i++
		}
		same(t, n, i)
		same(t, want[0]+want[1], len(allChanges(t, s, shop, repo.ChangeFilter{ImportID: fmt.Sprint("in", k)}, 100)))
	}
}

func progressTold(t *testing.T, s repo.Store) {
	must(t, s.PutSeries(background(), shop, sampleSeries("HA"), stamp()))
	var parts []part.Part
	for i := range 2*repo.IntakeChunk + 1 {
		parts = append(parts, plainPart("M", fmt.Sprint(i), 22, 450))
	}
	in := sampleImport("in")
	var told []int
	in.Progress = func(rows int) { told = append(told, rows) }
	sure(s.ImportParts(background(), shop, in, rowsOf(parts...), stamp()))(t)
	same(t, []int{repo.IntakeChunk, 2 * repo.IntakeChunk, 2*repo.IntakeChunk + 1}, told)
}

// importUndone puts one faulty row among sound ones, at the start, within, at
// the end of what is held at once, and behind.
func importUndone(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	before := holdingsOf(t, s, shop)
	ids := sampleImport("in")
	for name, tt := range map[string]struct {
		code  problem.Code
		spoil func(p *part.Part)
	}{
		"a series that is not there": {problem.Invalid, func(p *part.Part) { p.Series = "HB" }},
		"a value past all bounds":    {problem.Invalid, func(p *part.Part) { p.RatedV = -1 }},
		"text with NUL":              {problem.Invalid, func(p *part.Part) { p.Note = "\x00" }},
		"a price below 0":            {problem.Invalid, func(p *part.Part) { p.Offers[0].Breaks[0].UnitPrice = -1 }},
		"an id that is there":        {problem.Conflict, func(p *part.Part) { ids.NewID = func() string { return "part-1" } }},
		"an empty id":                {problem.Invalid, func(p *part.Part) { ids.NewID = func() string { return "" } }},
	} {
		for _, at := range []int{0, repo.IntakeChunk - 1, repo.IntakeChunk + 2} {
			ids = sampleImport("in")
			rows := func(yield func(repo.ImportRow, error) bool) {
				for i := range repo.IntakeChunk + 3 {
					p := samplePart(fmt.Sprintf("HA-%05d", i))
					if i == at {
						tt.spoil(&p)
					}
					if !yield(repo.ImportRow{Line: i + 100, Part: p}, nil) {
						return
					}
				}
			}
			in := ids
			in.NewID = func() string { return ids.NewID() }
			_, err := s.ImportParts(background(), shop, in, rows, stamp())
			if problem.CodeOf(err) != tt.code {
				t.Fatalf("%s at row %d: %v (cause: %v)", name, at, err, problem.As(err).Cause)
			}
			if name != "an id that is there" && name != "an empty id" { // Those spoil the rows behind, of their chunk, as well.
				wantRow(t, err, at+100)
			}
			same(t, before, holdingsOf(t, s, shop))
		}
	}
}

func wantRow(t *testing.T, err error, line int) {
	t.Helper()
	faults := problem.As(err).Faults
	want := fmt.Sprintf("/rows/%d", line)
	if len(faults) == 0 || faults[0].Pointer != want && faults[0].Pointer[:min(len(want)+1, len(faults[0].Pointer))] != want+"/" {
		t.Fatalf("%v does not point at %s", err, want)
	}
}

func rowsFail(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	before := holdingsOf(t, s, shop)
	for _, fail := range []error{problem.New(problem.Invalid, "line 7: no number"), errors.New("disk full")} {
		rows := func(yield func(repo.ImportRow, error) bool) {
			for i := range repo.IntakeChunk + 5 {
				if !yield(repo.ImportRow{Part: samplePart(fmt.Sprint("HA-", i))}, nil) {
					return
				}
			}
			yield(repo.ImportRow{}, fail)
		}
		_, err := s.ImportParts(background(), shop, sampleImport("in"), rows, stamp())
		if problem.CodeOf(err) != problem.CodeOf(fail) || !errors.Is(err, fail) {
			t.Errorf("%v came as %v", fail, err)
		}
		same(t, before, holdingsOf(t, s, shop))
	}
}

func importCancelled(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	before := holdingsOf(t, s, shop)
	ctx, cancel := context.WithCancel(background())
	defer cancel()
	endless := func(yield func(repo.ImportRow, error) bool) {
		for i := 0; yield(repo.ImportRow{Part: samplePart(fmt.Sprint("HA-", i))}, nil); i++ {
			if i == repo.IntakeChunk+7 {
				cancel()
			}
		}
	}
	_, err := s.ImportParts(ctx, shop, sampleImport("in"), endless, stamp())
	wantCode(t, err, problem.Cancelled)
	same(t, before, holdingsOf(t, s, shop))
	importInto(t, s, "in", samplePart("HA-3"))
}

func headersRefused(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	before := holdingsOf(t, s, shop)
	for name, tt := range map[string]struct {
		code   problem.Code
		change func(in *repo.Import)
	}{
		"an id that is there": {problem.Conflict, func(in *repo.Import) { in.ID = "import-1" }},
		"no id":               {problem.Invalid, func(in *repo.Import) { in.ID = "" }},
		"NUL in the source":   {problem.Invalid, func(in *repo.Import) { in.Source = "\x00" }},
		"findings not JSON":   {problem.Invalid, func(in *repo.Import) { in.Findings = []byte("{") }},
		"a series twice":      {problem.Invalid, func(in *repo.Import) { in.Series = []part.Series{bareSeries("HB", 85), bareSeries("HB", 105)} }},
		"a series of no name": {problem.Invalid, func(in *repo.Import) { in.Series = []part.Series{{}} }},
		"no NewID":            {problem.Internal, func(in *repo.Import) { in.NewID = nil }},
	} {
		in := sampleImport("in")
		tt.change(&in)
		if _, err := s.ImportParts(background(), shop, in, rowsOf(samplePart("HA-3")), stamp()); problem.CodeOf(err) != tt.code || err == nil {
			t.Errorf("%s: %v, want %s", name, err, tt.code)
		}
		same(t, before, holdingsOf(t, s, shop))
	}
	_, err := s.ImportParts(background(), shop, sampleImport("in"), rowsOf(), repo.Stamp{At: noon, By: "\xff"})
	wantCode(t, err, problem.Invalid)
	_, err = s.ImportRecord(background(), shop, "import-9")
	wantCode(t, err, problem.NotFound)
	_, err = s.ImportRecord(background(), shop, "\x00")
	wantCode(t, err, problem.NotFound)
}

func importsTogether(t *testing.T, s repo.Store) {
	must(t, s.PutSeries(background(), shop, sampleSeries("HA"), stamp()))
	const n = 6
	for _, err := range atOnce(n, func(i int) error {
		var parts []part.Part
		for k := range 50 {
			p := plainPart("M", fmt.Sprint(k), 22, 450)
			p.Offers = []part.Offer{offerOf(fmt.Sprint("supplier ", i), "1", i)}
			parts = append(parts, p)
		}
		_, err := s.ImportParts(background(), shop, sampleImport(fmt.Sprint("in ", i)), rowsOf(parts...), stamp())
		return err
	}) {
		must(t, err)
	}
	all := allParts(t, s, shop, repo.PartFilter{}, repo.MaxPage)
	same(t, 50, len(all))
	for _, p := range all {
		if len(p.Offers) != n || p.Version != n {
			t.Errorf("%s has %d offers at version %d, want %d", p.PartNumber, len(p.Offers), p.Version, n)
		}
	}
}

// importBesideWriters counts a part's stock up by one supplier's offer, while
// imports set another's.
func importBesideWriters(t *testing.T, s repo.Store) {
	ctx := background()
	must(t, s.PutSeries(ctx, shop, sampleSeries("HA"), stamp()))
	p := plainPart("M", "1", 22, 450)
	p.Offers = []part.Offer{offerOf("A", "1", 0)}
	sure(s.CreatePart(ctx, shop, "p", p, stamp()))(t)
	for _, err := range atOnce(8, func(i int) error {
		if i%2 == 0 {
			return untilTaken(func() error {
				p, err := s.Part(ctx, shop, "p")
				if err != nil {
					return err
				}
				p.Offers[0].Stock++
				_, err = s.ReplacePart(ctx, shop, "p", p.Version, p.Part, stamp())
				return err
			})
		}
		row := plainPart("M", "1", 22, 450)
		row.Offers = []part.Offer{offerOf("B", fmt.Sprint(i), i)}
		_, err := s.ImportParts(ctx, shop, sampleImport(fmt.Sprint("in ", i)), rowsOf(row), stamp())
		return err
	}) {
		must(t, err)
	}
	got := sure(s.Part(ctx, shop, "p"))(t)
	same(t, 4*rounds, got.Offers[0].Stock)
	same(t, int64(1+4*rounds+4), got.Version)
	same(t, int(got.Version), len(allChanges(t, s, shop, repo.ChangeFilter{PartID: "p"}, 50)))
}

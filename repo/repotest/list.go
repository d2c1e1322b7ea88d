package repotest

import (
	"fmt"
	"slices"
	"sort"
	"testing"

	"pgregory.net/rapid"

	"coldrise/domain/part"
	"coldrise/repo"
)

// listCases: order and filters.
func listCases() []testCase {
	return []testCase{
		{"part numbers in byte order", numbersInOrder},
		{"makers in byte order, ahead of numbers", makersInOrder},
		{"series in byte order", seriesInOrder},
		{"amplifiers in byte order of their ids", ampsInOrder},
		{"plans newest first, then by id", plansInOrder},
		{"plans of one amplifier alone, without documents", plansOfOne},
		{"names that differ in one sign are different", namesApart},
		{"random filters find what a plain loop finds", randomFilters},
		{"a filter by value counts every section of a can", filterSections},
		{"a filter by stock counts every offer", filterStock},
	}
}

// shuffled is a fixed disorder: a store that lists in the order of insertion fails.
func shuffled(names []string) []string {
	out := make([]string, len(names))
	for i, name := range names {
		out[i*7%len(names)] = name // 7 and the length have no common factor.
	}
	return out
}

func numbersInOrder(t *testing.T, s repo.Store) {
	if len(oddNames)%7 == 0 || !sort.StringsAreSorted(oddNames) {
		t.Fatal("the odd names are to be sorted, and not a multiple of 7")
	}
	must(t, s.PutSeries(background(), shop, sampleSeries("HA"), stamp()))
	for i, name := range shuffled(oddNames) {
		sure(s.CreatePart(background(), shop, fmt.Sprint("part ", i), plainPart("M", name, 22, 450), stamp()))(t)
	}
	for _, limit := range []int{1, 4, len(oddNames), repo.MaxPage} {
		same(t, oddNames, partNumbers(allParts(t, s, shop, repo.PartFilter{}, limit)))
	}
	same(t, oddNames, partNumbers(sure(s.Candidates(background(), shop, repo.CandidateWindow{}))(t)))
}

func makersInOrder(t *testing.T, s repo.Store) {
	must(t, s.PutSeries(background(), shop, sampleSeries("HA"), stamp()))
	for i, name := range shuffled(oddNames) {
		// Numbers run against the makers.
		number := fmt.Sprintf("%03d", 999-slices.Index(oddNames, name))
		sure(s.CreatePart(background(), shop, fmt.Sprint("part ", i), plainPart(name, number, 22, 450), stamp()))(t)
	}
	for _, limit := range []int{1, 4, repo.MaxPage} {
		var makers []string
		for _, p := range allParts(t, s, shop, repo.PartFilter{}, limit) {
			makers = append(makers, p.Maker)
		}
		same(t, oddNames, makers)
	}
}

func seriesInOrder(t *testing.T, s repo.Store) {
	for _, name := range shuffled(oddNames) {
		must(t, s.PutSeries(background(), shop, sampleSeries(name), stamp()))
	}
	var names []string
	for _, one := range sure(s.Series(background(), shop))(t) {
		names = append(names, one.Name)
	}
	same(t, oddNames, names)
}

func ampsInOrder(t *testing.T, s repo.Store) {
	for _, id := range shuffled(oddNames) {
		sure(s.CreateAmp(background(), shop, id, sampleAmp("A"), stamp()))(t)
	}
	for _, limit := range []int{1, 4, len(oddNames)} {
		same(t, oddNames, ampIDs(allAmps(t, s, shop, limit)))
	}
}

func plansInOrder(t *testing.T, s repo.Store) {
	var want []string
	for i, id := range shuffled(oddNames) {
		// Three plans share each instant, the nineteen-sixties included.
		at := noon.AddDate(-10*(i/3), 0, 0)
		must(t, s.SavePlan(background(), shop, repo.Plan{ID: id, Created: at, Document: []byte("{}")}))
		want = append(want, fmt.Sprintf("%012d %s", at.Unix()+1e11, id))
	}
	sort.Sort(sort.Reverse(sort.StringSlice(want)))
	for i := range want {
		want[i] = want[i][len("012345678901 "):]
	}
	for _, limit := range []int{1, 4, len(oddNames)} {
		same(t, want, planIDs(allPlans(t, s, shop, "", limit)))
	}
}

func plansOfOne(t *testing.T, s repo.Store) {
	ctx := background()
	stocked(t, s, shop)
	sure(s.CreateAmp(ctx, shop, "amp-2", sampleAmp("B"), stamp()))(t)
	must(t, s.SavePlan(ctx, shop, samplePlan("plan-2", "amp-2")))
	must(t, s.SavePlan(ctx, shop, samplePlan("plan-3", "")))
	plans, next, err := s.Plans(ctx, shop, "amp-2", repo.Page{Limit: 10})
	must(t, err)
	same(t, []repo.Plan{{ID: "plan-2", AmpID: "amp-2", AmpName: "Saltmarsh 30", Created: noonKept}}, plans)
	same(t, "", next)
	same(t, []string{"plan-3"}, planIDs(allPlans(t, s, shop, "", 10)))
	same(t, []string(nil), planIDs(allPlans(t, s, shop, "amp-9", 10)))
}

func namesApart(t *testing.T, s repo.Store) {
	ctx := background()
	for _, name := range oddNames {
		must(t, s.PutSeries(ctx, shop, sampleSeries(name), stamp()))
		p := plainPart(name, name, 22, 450)
		p.Series = name
		sure(s.CreatePart(ctx, shop, name, p, stamp()))(t)
	}
	for _, name := range oddNames {
		same(t, name, sure(s.Part(ctx, shop, name))(t).PartNumber)
		for _, f := range []repo.PartFilter{{Maker: name}, {Series: name}} {
			same(t, []string{name}, partNumbers(allParts(t, s, shop, f, 10)))
		}
	}
}

// passes is the filter in Go.
func passes(f repo.PartFilter, p *part.Part) bool {
	stock := 0
	for _, o := range p.Offers {
		stock += o.Stock
	}
	return (f.Maker == "" || p.Maker == f.Maker) && (f.Series == "" || p.Series == f.Series) &&
		(f.Technology == "" || p.Technology == f.Technology) && (f.Style == "" || p.Style == f.Style) &&
		holds(p, f.MinUF, f.MaxUF) && p.RatedV >= f.MinRatedV && (!f.InStock || stock > 0)
}

// holds says whether any section is in the window.
func holds(p *part.Part, least, most float64) bool {
	return slices.ContainsFunc(append([]float64{p.CapacitanceUF}, p.FurtherSectionsUF...), func(uf float64) bool {
		return uf >= least && (most == 0 || uf <= most)
	})
}

// crowd stores 60 parts of few different figures, so that filters meet.
func crowd(t reporter, s repo.Store, seed int) []part.Part {
	ctx := background()
	for _, name := range []string{"HA", "HB"} {
		must(t, s.PutSeries(ctx, shop, sampleSeries(name), stamp()))
	}
	values, volts := []float64{0.1, 16, 22, 32, 47}, []float64{63, 400, 450}
	var all []part.Part
	for i := range 60 {
		pick := func(n, stride int) int { return (i*stride + i/n + seed) % n }
		p := plainPart([]string{"Sedgemere", "sedgemere"}[pick(2, 1)], fmt.Sprintf("%02d", i*7%60), values[pick(5, 3)], volts[pick(3, 2)])
		p.Series = []string{"HA", "HB"}[pick(2, 5)]
		p.Technology = []part.Technology{part.Electrolytic, part.Film, part.SafetyX, part.SafetyY}[pick(4, 7)]
		p.Style = []part.Style{part.Axial, part.Radial, part.Can}[pick(3, 11)]
		for j := range pick(4, 1) {
			p.FurtherSectionsUF = append(p.FurtherSectionsUF, values[(j+i)%5])
		}
		for j := range pick(3, 1) {
			p.Offers = append(p.Offers, part.Offer{Supplier: "Oxbow", SKU: fmt.Sprint(j), Currency: "GBP", Pack: 1, MinQty: 1, Stock: (i + j) % 3})
		}
		all = append(all, p)
		sure(s.CreatePart(ctx, shop, fmt.Sprintf("part %02d", i), p, stamp()))(t)
	}
	sort.Slice(all, func(i, j int) bool {
		a, b := &all[i], &all[j]
		return a.Maker < b.Maker || (a.Maker == b.Maker && a.PartNumber < b.PartNumber)
	})
	return all
}

func randomFilters(t *testing.T, s repo.Store) {
	all := crowd(t, s, 1)
	edge := rapid.SampledFrom([]float64{0, 0.1, 15.999, 16, 22, 32, 47, 1e9, -1})
	rapid.Check(t, func(rt *rapid.T) {
		f := repo.PartFilter{
			Maker: rapid.SampledFrom([]string{"", "", "Sedgemere", "sedgemere"}).Draw(rt, "maker"), Series: rapid.SampledFrom([]string{"", "", "HA", "HB"}).Draw(rt, "series"),
			Technology: rapid.SampledFrom([]part.Technology{"", "", part.Electrolytic, part.SafetyY}).Draw(rt, "technology"),
			Style:      rapid.SampledFrom([]part.Style{"", "", part.Axial, part.Can}).Draw(rt, "style"),
			MinUF:      edge.Draw(rt, "min_uf"), MaxUF: edge.Draw(rt, "max_uf"), MinRatedV: rapid.SampledFrom([]float64{0, 400, 450, 451}).Draw(rt, "min_rated_v"),
			InStock: rapid.Bool().Draw(rt, "in_stock"),
		}
		var want []part.Part
		for i := range all {
			if passes(f, &all[i]) {
				want = append(want, all[i])
			}
		}
		var got []part.Part
		for _, p := range allParts(t, s, shop, f, rapid.SampledFrom([]int{1, 3, 200}).Draw(rt, "limit")) {
			got = append(got, p.Part)
		}
		same(rt, want, got)
	})
}

func filterSections(t *testing.T, s repo.Store) {
	stocked(t, s, shop) // 32 and 16 µF
	for uf, want := range map[float64][]string{32: {"HA-1", "HA-2"}, 16: {"HA-1", "HA-2"}, 24: nil} {
		same(t, want, partNumbers(allParts(t, s, shop, repo.PartFilter{MinUF: uf, MaxUF: uf}, 1)))
	}
}

func filterStock(t *testing.T, s repo.Store) {
	ctx := background()
	must(t, s.PutSeries(ctx, shop, sampleSeries("HA"), stamp()))
	for number, stocks := range map[string][]int{"none": nil, "zero": {0, 0}, "first": {1, 0}, "second": {0, 100_000_000}} {
		p := plainPart("M", number, 22, 450)
		for i, stock := range stocks {
			p.Offers = append(p.Offers, part.Offer{Supplier: "Oxbow", SKU: fmt.Sprint(i), Currency: "GBP", Pack: 1, MinQty: 1, Stock: stock})
		}
		sure(s.CreatePart(ctx, shop, number, p, stamp()))(t)
	}
	same(t, []string{"first", "second"}, partNumbers(allParts(t, s, shop, repo.PartFilter{InStock: true}, 10)))
}

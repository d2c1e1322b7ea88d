package repotest

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"slices"
	"testing"
	"time"

	"pgregory.net/rapid"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/repo"
)

// orderCases: every order of parts, in pages and as one loop.
func orderCases() []testCase {
	return []testCase{
		{"random filters in random orders find what a plain sort finds", randomOrders},
		{"filters by size, supplier and rated volts", furtherFilters},
		{"by price counts the cheapest offer of the currency alone", cheapestOffer},
		{"by change puts the last changed first", lastChanged},
		{"parts that stay appear once while others come and go, in every order", walkOrders},
		{"a cursor of one order is none of another", ownOrder},
		{"an order that there is not, and prices of no currency", noOrder},
		{"a loop gives what the pages give", eachAsPages},
		{"a loop can be left", eachLeft},
		{"a loop ends with an error", eachFails},
		{"a loop sees one moment", eachSnapshot},
	}
}

// inOrder says how two stored parts follow one another in an order.
func inOrder(f repo.PartFilter, a, b *repo.Part) int {
	switch f.Order {
	case repo.ByCapacitance:
		return cmp.Or(cmp.Compare(a.CapacitanceUF, b.CapacitanceUF), cmp.Compare(a.RatedV, b.RatedV), cmp.Compare(a.ID, b.ID))
	case repo.ByRating:
		return cmp.Or(cmp.Compare(a.RatedV, b.RatedV), cmp.Compare(a.CapacitanceUF, b.CapacitanceUF), cmp.Compare(a.ID, b.ID))
	case repo.ByPrice:
		x, _ := priceIn(f.Currency, a)
		y, _ := priceIn(f.Currency, b)
		return cmp.Or(cmp.Compare(x, y), cmp.Compare(a.ID, b.ID))
	case repo.ByChange:
		return cmp.Or(b.Changed.Compare(a.Changed), cmp.Compare(b.ID, a.ID))
	}
	return cmp.Or(cmp.Compare(a.Maker, b.Maker), cmp.Compare(a.PartNumber, b.PartNumber))
}

// priceIn is the least price of one piece at an offer's least quantity.
func priceIn(currency string, p *repo.Part) (least part.Money, found bool) {
	for _, o := range p.Offers {
		if o.Currency != currency || len(o.Breaks) == 0 {
			continue
		}
		price := o.Breaks[0].UnitPrice
		for _, b := range o.Breaks {
			if b.MinQty <= o.MinQty {
				price = b.UnitPrice
			}
		}
		if !found || price < least {
			least, found = price, true
		}
	}
	return least, found
}

var allOrders = []repo.PartOrder{repo.ByNumber, repo.ByCapacitance, repo.ByRating, repo.ByPrice, repo.ByChange}

// market stores the crowd once more, at several instants, offered by two
// suppliers in two currencies.
func market(t *testing.T, s repo.Store) []repo.Part {
	t.Helper()
	crowd(t, s, 3)
	var all []repo.Part
	for i, p := range allParts(t, s, shop, repo.PartFilter{}, repo.MaxPage) {
		for k := range p.Offers {
			p.Offers[k].Supplier = []string{"Oxbow", "Fenwick"}[(i+k)%2]
			p.Offers[k].Currency = []string{"GBP", "EUR"}[(i/2+k)%2]
			p.Offers[k].MinQty = 1 + i%3*5
			p.Offers[k].Breaks = []part.Break{{MinQty: 1, UnitPrice: part.Money(100 + i*7%5)}, {MinQty: 10, UnitPrice: part.Money(90 + i%3)}}
		}
		if i%4 > 0 {
			p.DiameterMM, p.LengthMM = some(float64(10+i%3*5)), some(float64(20+i%5*5))
		}
		at := repo.Stamp{At: noon.Add(time.Duration(i%7) * time.Hour)}
		all = append(all, sure(s.ReplacePart(background(), shop, p.ID, 1, p.Part, at))(t))
	}
	return all
}

func randomOrders(t *testing.T, s repo.Store) {
	all := market(t, s)
	within := func(most float64, size *float64) bool { return most == 0 || size != nil && *size <= most }
	rapid.Check(t, func(rt *rapid.T) {
		f := repo.PartFilter{
			Order:         rapid.SampledFrom(allOrders).Draw(rt, "order"),
			Currency:      rapid.SampledFrom([]string{"GBP", "EUR", "USD"}).Draw(rt, "currency"),
			Supplier:      rapid.SampledFrom([]string{"", "", "Oxbow", "Fenwick", "oxbow"}).Draw(rt, "supplier"),
			MaxDiameterMM: rapid.SampledFrom([]float64{0, 0, 10, 15.5, 1000}).Draw(rt, "max_diameter_mm"),
			MaxLengthMM:   rapid.SampledFrom([]float64{0, 0, 20, 30}).Draw(rt, "max_length_mm"),
			MinRatedV:     rapid.SampledFrom([]float64{0, 0, 400}).Draw(rt, "min_rated_v"),
			MaxRatedV:     rapid.SampledFrom([]float64{0, 0, 400, 63}).Draw(rt, "max_rated_v"),
			MinUF:         rapid.SampledFrom([]float64{0, 0, 16}).Draw(rt, "min_uf"),
			InStock:       rapid.Bool().Draw(rt, "in_stock"),
		}
		var want []repo.Part
		for i := range all {
			p := &all[i]
			_, priced := priceIn(f.Currency, p)
			if passes(f, &p.Part) && within(f.MaxDiameterMM, p.DiameterMM) && within(f.MaxLengthMM, p.LengthMM) && (f.MaxRatedV == 0 || p.RatedV <= f.MaxRatedV) &&
				(f.Supplier == "" || slices.ContainsFunc(p.Offers, func(o part.Offer) bool { return o.Supplier == f.Supplier })) && (f.Order != repo.ByPrice || priced) {
				want = append(want, *p)
			}
		}
		slices.SortFunc(want, func(a, b repo.Part) int { return inOrder(f, &a, &b) })
		same(rt, want, allParts(t, s, shop, f, rapid.SampledFrom([]int{1, 7, repo.MaxPage}).Draw(rt, "limit")))
	})
}

func furtherFilters(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	both := []string{"HA-1", "HA-2"}
	for _, tt := range []struct {
		f    repo.PartFilter
		want []string
	}{
		{repo.PartFilter{MaxDiameterMM: 35}, both}, {repo.PartFilter{MaxDiameterMM: 34.999}, nil}, {repo.PartFilter{MaxLengthMM: 51}, both},
		{repo.PartFilter{MaxLengthMM: 50}, nil}, {repo.PartFilter{Supplier: "Oxbow Spares"}, both}, {repo.PartFilter{Supplier: "Fenwick"}, both},
		{repo.PartFilter{Supplier: "fenwick"}, nil}, {repo.PartFilter{MaxRatedV: 450}, both}, {repo.PartFilter{MaxRatedV: 449}, nil},
		{repo.PartFilter{MinRatedV: 450, MaxRatedV: 450}, both},
	} {
		same(t, tt.want, partNumbers(allParts(t, s, shop, tt.f, 1)))
	}
}

func cheapestOffer(t *testing.T, s repo.Store) {
	must(t, s.PutSeries(background(), shop, sampleSeries("HA"), stamp()))
	offer := func(currency string, minQty int, prices ...part.Money) part.Offer {
		o := part.Offer{Supplier: "Oxbow", SKU: "1", Currency: currency, Pack: 1, MinQty: minQty}
		for i, price := range prices {
			o.Breaks = append(o.Breaks, part.Break{MinQty: 1 + i*10, UnitPrice: price})
		}
		return o
	}
	for number, offers := range map[string][]part.Offer{
		"a": {offer("GBP", 1, 500), offer("GBP", 1, 300, 10), offer("EUR", 1, 1)},
		"b": {offer("EUR", 1, 900), offer("GBP", 1, 200)},
		"c": {offer("GBP", 15, 900, 250, 1)}, // at least 15, so the second break holds
		"d": {offer("EUR", 1, 5)},
		"e": {offer("GBP", 1)}, // no price
		"f": {offer("GBP", 1, 300), offer("GBP", 1, 300)},
		"g": nil,
		"h": {offer("GBP", 1, 0)},
	} {
		p := plainPart("M", number, 22, 450)
		p.Offers = offers
		sure(s.CreatePart(background(), shop, number, p, stamp()))(t)
	}
	for currency, want := range map[string][]string{"GBP": {"h", "b", "c", "a", "f"}, "EUR": {"a", "d", "b"}, "gbp": nil} {
		for _, limit := range []int{1, repo.MaxPage} {
			same(t, want, partNumbers(allParts(t, s, shop, repo.PartFilter{Order: repo.ByPrice, Currency: currency}, limit)))
		}
	}
}

func lastChanged(t *testing.T, s repo.Store) {
	ctx := background()
	must(t, s.PutSeries(ctx, shop, sampleSeries("HA"), stamp()))
	at := func(us int) repo.Stamp { return repo.Stamp{At: noon.Add(time.Duration(us) * time.Microsecond)} }
	for i, number := range []string{"a", "b", "c", "d"} {
		sure(s.CreatePart(ctx, shop, number, plainPart("M", number, 22, 450), at(i/2)))(t)
	}
	list := func() []string {
		return partNumbers(allParts(t, s, shop, repo.PartFilter{Order: repo.ByChange}, 1))
	}
	same(t, []string{"d", "c", "b", "a"}, list())
	sure(s.ReplacePart(ctx, shop, "a", 1, plainPart("M", "a", 22, 450), at(2)))(t)
	sure(s.ReplacePart(ctx, shop, "d", 1, plainPart("M", "d", 22, 450), at(-1)))(t)
	same(t, []string{"a", "c", "b", "d"}, list())
}

func walkOrders(t *testing.T, s repo.Store) {
	ctx := background()
	var stayers []string
	figures := func(i int) part.Part {
		p := plainPart("M", fmt.Sprintf("%03d", i), float64(1+i/20), float64(1+i/10))
		p.Offers = []part.Offer{{Supplier: "Oxbow", SKU: "1", Currency: "GBP", Pack: 1, MinQty: 1, Breaks: []part.Break{{MinQty: 1, UnitPrice: part.Money(i / 15)}}}}
		return p
	}
	must(t, s.PutSeries(ctx, shop, sampleSeries("HA"), stamp()))
	for i := range 30 {
		stayers = append(stayers, fmt.Sprintf("%03d", 10*i))
		sure(s.CreatePart(ctx, shop, "part "+stayers[i], figures(10*i), repo.Stamp{At: noon.Add(time.Duration(i/3) * time.Second)}))(t)
	}
	change := func(round int) error {
		i := 10*(round%30) + 1
		id := fmt.Sprintf("part %03d", i)
		if _, err := s.CreatePart(ctx, shop, id, figures(i), repo.Stamp{At: noon.Add(time.Duration(round%10) * time.Second)}); err != nil {
			return err
		}
		return s.DeletePart(ctx, shop, id, 1, stamp())
	}
	churn(t, change, func() {
		for _, order := range allOrders {
			once(t, stayers, partNumbers(allParts(t, s, shop, repo.PartFilter{Order: order, Currency: "GBP"}, 4)))
		}
	})
}

func ownOrder(t *testing.T, s repo.Store) {
	stocked(t, s, shop)
	one := repo.Page{Limit: 1}
	for _, order := range allOrders {
		_, next, err := s.Parts(background(), shop, repo.PartFilter{Order: order, Currency: "GBP"}, one)
		must(t, err)
		for _, other := range allOrders {
			_, _, err := s.Parts(background(), shop, repo.PartFilter{Order: other, Currency: "GBP"}, repo.Page{Limit: 1, After: next})
			if other == order {
				must(t, err)
			} else {
				wantFault(t, err, "/cursor")
			}
		}
	}
}

func noOrder(t *testing.T, s repo.Store) {
	for pointer, f := range map[string]repo.PartFilter{"/order": {Order: "colour"}, "/currency": {Order: repo.ByPrice}} {
		_, _, err := s.Parts(background(), shop, f, repo.Page{Limit: 1})
		wantFault(t, err, pointer)
		for _, err := range s.EachPart(background(), shop, f) {
			wantFault(t, err, pointer)
		}
	}
}

// shelf loads n parts.
func shelf(t *testing.T, s repo.Store, n int) []part.Part {
	t.Helper()
	ids, parts := make([]string, n), make([]part.Part, n)
	for i := range n {
		ids[i], parts[i] = fmt.Sprintf("part %05d", i), plainPart("M", fmt.Sprintf("%05d", i), float64(1+i%50), 450)
	}
	sure(s.LoadCatalogue(background(), shop, []part.Series{sampleSeries("HA")}, ids, parts, stamp()))(t)
	return parts
}

func each(t *testing.T, s repo.Keeper, f repo.PartFilter) []repo.Part {
	t.Helper()
	var all []repo.Part
	for p, err := range s.EachPart(background(), shop, f) {
		must(t, err)
		all = append(all, p)
	}
	return all
}

func eachAsPages(t *testing.T, s repo.Store) {
	same(t, []repo.Part(nil), each(t, s, repo.PartFilter{}))
	shelf(t, s, 1000) // More than once round, and nothing over.
	for _, f := range []repo.PartFilter{{}, {Order: repo.ByCapacitance, MinUF: 3}, {Order: repo.ByChange}} {
		same(t, allParts(t, s, shop, f, repo.MaxPage), each(t, s, f))
	}
}

func eachLeft(t *testing.T, s repo.Store) {
	shelf(t, s, 3)
	for range 40 { // More often than there are connections.
		for p, err := range s.EachPart(background(), shop, repo.PartFilter{}) {
			must(t, err)
			if p.PartNumber == "00001" {
				break
			}
		}
	}
	must(t, s.DeletePart(background(), shop, "part 00001", 1, stamp()))
}

func eachFails(t *testing.T, s repo.Store) {
	shelf(t, s, 1200)
	ctx, cancel := context.WithCancel(background())
	defer cancel()
	seen := 0
	var last error
	for _, err := range s.EachPart(ctx, shop, repo.PartFilter{}) {
		if last != nil {
			t.Fatal("something comes behind the error")
		}
		if last = err; err == nil {
			seen++
		}
		cancel()
	}
	wantCode(t, last, problem.Cancelled)
	if seen == 0 || seen == 1200 {
		t.Errorf("%d parts came ahead of the error", seen)
	}
	same(t, 1200, len(each(t, s, repo.PartFilter{})))
	err := s.Update(background(), func(tx repo.Tx) error {
		for range tx.EachPart(background(), shop, repo.PartFilter{}) {
			return errors.New("left")
		}
		return nil
	})
	wantCode(t, err, problem.Internal)
}

// eachSnapshot changes parts ahead of a loop that has begun. A store with one
// connection cannot do both at once; there the change waits.
func eachSnapshot(t *testing.T, s repo.Store) {
	shelf(t, s, 1200)
	ctx, cancel := context.WithTimeout(background(), 300*time.Millisecond)
	defer cancel()
	begun := false
	for p, err := range s.EachPart(background(), shop, repo.PartFilter{}) {
		must(t, err)
		if !begun {
			begun = true
			err := s.DeletePart(ctx, shop, "part 01100", 1, stamp())
			if err != nil && problem.CodeOf(err) != problem.Cancelled {
				must(t, err)
			}
			if err != nil {
				return
			}
		}
		if p.ID == "part 01100" {
			return
		}
	}
	t.Error("the part that was deleted meanwhile did not come")
}

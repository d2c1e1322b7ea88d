package pick_test

import (
	"math/rand/v2"
	"testing"

	"coldrise/domain/part"
	"coldrise/domain/pick"
)

const smallInstances = 1500

// TestOracleEveryAssignmentAndPurchase tries, for each small instance, every
// part or none for every need and every quantity of every offer, and expects
// the same count unfilled, the same total to the micro-unit and the same count
// of lines. It counts what the instances exercise, so that none of it is
// covered in name only.
func TestOracleEveryAssignmentAndPurchase(t *testing.T) {
	t.Parallel()
	var short, contended, split, extra, several, nodes int
	for seed := range uint64(smallInstances) {
		in := smallInstance(seed)
		want := in.enumerate()
		got := in.solve(t)
		if !got.Proven || got.Bound != got.Total {
			t.Errorf("seed %d: proven %v, bound %v, total %v; want a proof", seed, got.Proven, got.Bound, got.Total)
		}
		if len(got.Short) != want.unfilled || got.Total != want.total || len(got.Lines) != want.lines {
			t.Errorf("seed %d: got %d unfilled, %v in %d lines; every way tried gives %d, %v in %d", seed,
				len(got.Short), got.Total, len(got.Lines), want.unfilled, want.total, want.lines)
		}
		in.audit(t, got)
		nodes += got.Nodes
		short += min(1, want.unfilled)
		lines := map[int]int{}
		pieces := 0
		for _, l := range got.Lines {
			lines[l.Part]++
			pieces += l.Quantity - l.ForUse
		}
		if pieces > in.settings.Spare*len(lines) {
			extra++
		}
		if len(lines) < len(got.Lines) {
			split++
		}
		if len(lines) > 1 {
			several++
		}
		for _, s := range got.Short {
			if s.Reason == "the stock of its parts does not reach for this position beside the others" {
				contended++
			}
		}
	}
	t.Logf("%d instances, %d nodes: %d with a need unfilled (%d needs for want of stock beside others), %d with a part split over offers, %d with more bought than wanted, %d with several parts",
		smallInstances, nodes, short, contended, split, extra, several)
	for _, n := range []int{short, contended, split, extra, several} {
		if n < 20 {
			t.Errorf("the instances exercise too little: %d of a kind", n)
		}
	}
}

// TestOraclePurchaseOfOnePart tries every quantity of every offer for one need
// of many pieces, where a purchase is split over offers of unlike packs.
func TestOraclePurchaseOfOnePart(t *testing.T) {
	t.Parallel()
	const instances = 400
	split, short := 0, 0
	for seed := range uint64(instances) {
		r := rand.New(rand.NewPCG(seed, 31))
		in := instance{settings: pick.Settings{Currency: "EUR", LineCost: part.Money(r.IntN(3)) * 700_001, Spare: r.IntN(3)},
			needs: []pick.Need{{Ref: "C1", Options: []int{0}, Quantity: 1 + r.IntN(70)}}, parts: []part.Part{{}}}
		for k := range 1 + r.IntN(3) {
			o := smallOffer(r, k, 1)
			o.Currency, o.Pack, o.Stock = "EUR", 1+r.IntN(7), 5+r.IntN(40)
			in.parts[0].Offers = append(in.parts[0].Offers, o)
		}
		got, want := in.solve(t), in.enumerate()
		in.audit(t, got)
		if len(got.Short) != want.unfilled || got.Total != want.total || len(got.Lines) != want.lines {
			t.Errorf("seed %d: %d short, %v in %d lines; every quantity tried gives %d, %v in %d", seed,
				len(got.Short), got.Total, len(got.Lines), want.unfilled, want.total, want.lines)
		}
		split += min(1, max(0, len(got.Lines)-1))
		short += want.unfilled
	}
	t.Logf("%d purchases: %d split over offers, %d out of stock", instances, split, short)
	if split < 50 || short < 20 || short > instances/2 {
		t.Errorf("the instances exercise too little: %d split, %d short", split, short)
	}
}

// answer is what enumeration finds.
type answer struct {
	unfilled int
	total    part.Money
	lines    int
}

func (a answer) better(b answer) bool {
	if a.unfilled != b.unfilled {
		return a.unfilled < b.unfilled
	}
	if a.total != b.total {
		return a.total < b.total
	}
	return a.lines < b.lines
}

// enumerate tries every assignment.
func (in instance) enumerate() answer {
	best := answer{unfilled: len(in.needs) + 1}
	known := map[[2]int]*answer{}
	used := make([]int, len(in.parts))
	var try func(i, unfilled int)
	try = func(i, unfilled int) {
		if i == len(in.needs) {
			sum := answer{unfilled: unfilled}
			for p, q := range used {
				if q == 0 {
					continue
				}
				key := [2]int{p, q}
				if _, is := known[key]; !is {
					known[key] = in.enumeratePurchases(p, q+in.settings.Spare)
				}
				if known[key] == nil {
					return
				}
				sum.total += known[key].total
				sum.lines += known[key].lines
			}
			if sum.better(best) {
				best = sum
			}
			return
		}
		try(i+1, unfilled+1)
		for _, p := range in.needs[i].Options {
			used[p] += in.needs[i].Quantity
			try(i+1, unfilled)
			used[p] -= in.needs[i].Quantity
		}
	}
	try(0, 0)
	return best
}

// enumeratePurchases tries every quantity of every offer of a part, and gives
// the cheapest that makes so many pieces or more; nil where none does.
func (in instance) enumeratePurchases(p, pieces int) *answer {
	var best *answer
	offers := in.parts[p].Offers
	var try func(k, got int, sum answer)
	try = func(k, got int, sum answer) {
		if k == len(offers) {
			if got >= pieces && (best == nil || sum.better(*best)) {
				found := sum
				best = &found
			}
			return
		}
		try(k+1, got, sum)
		for x := 1; x <= offers[k].Stock; x++ {
			price, ok := priceOf(offers[k], x, in.settings.Currency)
			if ok {
				try(k+1, got+x, answer{total: sum.total + price*part.Money(x) + in.settings.LineCost, lines: sum.lines + 1})
			}
		}
	}
	try(0, 0, answer{})
	return best
}

// priceOf is the unit price of so many pieces of an offer, where it sells so many.
func priceOf(o part.Offer, x int, currency string) (price part.Money, ok bool) {
	if o.Currency != currency || x < o.MinQty || x%o.Pack != 0 || x > o.Stock {
		return 0, false
	}
	for _, b := range o.Breaks {
		if x >= b.MinQty {
			price, ok = b.UnitPrice, true
		}
	}
	return price, ok
}

// audit checks that an order is one: choices among the options, lines that the
// offers sell at the price they ask, uses and spares covered, sums right.
func (in instance) audit(t fataler, o pick.Order) {
	t.Helper()
	used, bought, forUse := map[int]int{}, map[int]int{}, map[int]int{}
	unfilled := 0
	for i, p := range o.Choice {
		if p < 0 {
			unfilled++
			continue
		}
		used[p] += in.needs[i].Quantity
		offered := false
		for _, q := range in.needs[i].Options {
			offered = offered || p == q
		}
		if !offered {
			t.Errorf("need %d: part %d is not among its options", i, p)
		}
	}
	if unfilled != len(o.Short) {
		t.Errorf("%d choices of none and %d shortages", unfilled, len(o.Short))
	}
	var total part.Money
	twice := map[[2]int]bool{}
	for _, l := range o.Lines {
		price, ok := priceOf(in.parts[l.Part].Offers[l.Offer], l.Quantity, in.settings.Currency)
		if !ok || price != l.UnitPrice || l.Total != price*part.Money(l.Quantity) || twice[[2]int{l.Part, l.Offer}] {
			t.Errorf("line %+v is not what its offer sells (%v %v)", l, price, ok)
		}
		twice[[2]int{l.Part, l.Offer}] = true
		bought[l.Part] += l.Quantity
		forUse[l.Part] += l.ForUse
		total += l.Total
	}
	for p, q := range bought {
		if used[p] == 0 || q < used[p]+in.settings.Spare || forUse[p] != used[p] {
			t.Errorf("part %d: %d bought, %d of them for use; %d used", p, q, forUse[p], used[p])
		}
	}
	if len(used) != len(bought) {
		t.Errorf("%d parts used, %d bought", len(used), len(bought))
	}
	lineCosts := in.settings.LineCost * part.Money(len(o.Lines))
	if o.LinesTotal != total || o.LineCosts != lineCosts || o.Total != total+lineCosts || o.Bound > o.Total {
		t.Errorf("sums %v + %v = %v, bound %v; lines come to %v + %v", o.LinesTotal, o.LineCosts, o.Total, o.Bound, total, lineCosts)
	}
}

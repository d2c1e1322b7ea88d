package pick_test

import (
	"cmp"
	"fmt"
	"math/big"
	"slices"
	"testing"

	"coldrise/domain/part"
	"coldrise/domain/pick"
)

const smallInstances = 300

// TestOracleEveryWayAndPurchase tries, for each small instance, every way or
// none for every place and every quantity of every offer, and expects the same
// count unfilled, the same total to the micro-unit and the same count of lines.
func TestOracleEveryWayAndPurchase(t *testing.T) {
	t.Parallel()
	nodes := 0
	for seed := range uint64(smallInstances) {
		in := smallInstance(seed)
		want := enumerate(&in)
		got := in.solve(t)
		nodes += got.Nodes
		if want == nil {
			if got.Status != pick.Infeasible {
				t.Errorf("seed %d: %s at %v; no way tried keeps the limits", seed, got.Status, got.Total)
			}
			continue
		}
		if got.Status != pick.Proven || got.Bound != got.Total {
			t.Errorf("seed %d: %s, bound %v, total %v; want a proof", seed, got.Status, got.Bound, got.Total)
			continue
		}
		if len(got.Short) != want.unfilled || got.Total != want.total || len(got.Lines) != want.lines {
			t.Errorf("seed %d: got %d unfilled, %v in %d lines; every way tried gives %d, %v in %d", seed,
				len(got.Short), got.Total, len(got.Lines), want.unfilled, want.total, want.lines)
		}
		audit(t, &in, got)
	}
	t.Logf("%d instances, %d nodes", smallInstances, nodes)
}

// TestRunsAreSound audits the orders of production runs that nothing enumerates.
func TestRunsAreSound(t *testing.T) {
	t.Parallel()
	for seed := range uint64(20) {
		in := runInstance(seed, 6+int(seed), 1+int(seed/4))
		if got := in.solve(t); got.Status != pick.Infeasible {
			audit(t, &in, got)
		}
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

// enumerate tries every way to build; nil where the limits allow none. Fewest
// places unfilled is what stock, date and the suppliers' minima allow: a limit
// of parts has to be kept with so many filled.
func enumerate(in *instance) *answer {
	fewest := len(in.job.Places)
	var best *answer
	known, weighed := map[int][]bought{}, map[string]bool{}
	in.fillings(func(used map[int]int, extra part.Money, unfilled int) {
		key := fmt.Sprint(used, extra, unfilled)
		if unfilled > fewest || weighed[key] || !in.stocked(used) {
			return
		}
		weighed[key] = true
		a, ok := in.purchases(used, known)
		if !ok {
			return
		}
		if unfilled < fewest {
			fewest, best = unfilled, nil
		}
		a.total, a.unfilled = a.total+extra, unfilled
		if in.settings.MaxParts > 0 && len(used) > in.settings.MaxParts {
			return
		}
		if best == nil || a.better(*best) {
			best = &a
		}
	})
	return best
}

// fillings visits every choice of ways, no place filled twice, with the pieces
// that it uses by part.
func (in *instance) fillings(visit func(used map[int]int, extra part.Money, unfilled int)) {
	filled := make([]bool, len(in.job.Places))
	used := map[int]int{}
	var try func(w int, extra part.Money, unfilled int)
	try = func(w int, extra part.Money, unfilled int) {
		if w == len(in.job.Ways) {
			visit(used, extra, unfilled)
			return
		}
		try(w+1, extra, unfilled)
		x := in.job.Ways[w]
		for _, i := range x.Places {
			if filled[i] {
				return
			}
		}
		count := in.job.Places[x.Places[0]].Count
		mark := func(is bool, sign int) {
			for _, i := range x.Places {
				filled[i] = is
			}
			for _, t := range x.Pieces {
				used[t.Part] += sign * count * t.Count
				if used[t.Part] == 0 {
					delete(used, t.Part)
				}
			}
		}
		mark(true, 1)
		try(w+1, extra+x.Extra*part.Money(count), unfilled-len(x.Places))
		mark(false, -1)
	}
	try(0, 0, len(in.job.Places))
}

// wanted is what is to be had of a part of which so many are used.
func (in *instance) wanted(used int) int {
	spare := used * in.settings.SpareBasisPoints / 10_000
	if used*in.settings.SpareBasisPoints%10_000 > 0 {
		spare++
	}
	return used + spare + in.settings.Spare
}

func (in *instance) stocked(used map[int]int) bool {
	for p, n := range used {
		have := in.job.Parts[p].Shelf
		for _, o := range in.job.Parts[p].Offers {
			most := 0
			for x := 1; x <= o.Stock; x++ {
				if _, _, ok := in.priceOf(o, x); ok {
					most = x
				}
			}
			have += most
		}
		if have < in.wanted(n) {
			return false
		}
	}
	return true
}

// bought is what has been bought: by supplier what was spent there, in its
// currency, −1 for no line there; and what it costs.
type bought struct {
	spent []part.Money
	cost  part.Money
	lines int
}

// purchases tries every purchase for a filling and gives the cheapest.
func (in *instance) purchases(used map[int]int, known map[int][]bought) (answer, bool) {
	start := bought{spent: make([]part.Money, len(in.job.Suppliers))}
	for s := range start.spent {
		start.spent[s] = -1
	}
	all := []bought{start}
	for p := range in.job.Parts {
		if used[p] == 0 {
			continue
		}
		key := p*1000 + used[p]
		if _, is := known[key]; !is {
			known[key] = in.buyings(p, in.wanted(used[p]))
		}
		var next []bought
		for _, a := range all {
			for _, b := range known[key] {
				sum := bought{spent: slices.Clone(a.spent), cost: a.cost + b.cost, lines: a.lines + b.lines}
				for s, m := range b.spent {
					if m >= 0 {
						sum.spent[s] = max(0, sum.spent[s]) + m
					}
				}
				next = append(next, sum)
			}
		}
		all = in.useful(next)
	}
	best, found := answer{}, false
	for _, b := range all {
		a := answer{total: b.cost, lines: b.lines}
		ok := true
		for s, m := range b.spent {
			if m < 0 {
				continue
			}
			x := in.job.Suppliers[s]
			ok = ok && m >= x.Minimum
			if x.FreeFrom == nil || m < *x.FreeFrom {
				a.total += in.home(x.Carriage, x.Currency)
			}
		}
		if ok && (!found || a.better(best)) {
			best, found = a, true
		}
	}
	return best, found
}

// useful drops baskets that another with lines at the same suppliers beats. What
// is spent past all that a supplier's terms ask for is as good as nothing.
func (in *instance) useful(all []bought) []bought {
	for _, b := range all {
		for s, x := range in.job.Suppliers {
			most := x.Minimum
			if x.FreeFrom != nil && x.Carriage > 0 {
				most = max(most, *x.FreeFrom)
			}
			b.spent[s] = min(b.spent[s], most)
		}
	}
	slices.SortFunc(all, func(a, b bought) int {
		return cmp.Or(cmp.Compare(a.cost, b.cost), cmp.Compare(a.lines, b.lines), slices.Compare(b.spent, a.spent))
	})
	var kept []bought
next:
	for _, a := range all {
		for _, k := range kept {
			if k.lines <= a.lines && beats(k.spent, a.spent) {
				continue next
			}
		}
		kept = append(kept, a)
	}
	return kept
}

func beats(a, b []part.Money) bool {
	for s := range a {
		if (a[s] < 0) != (b[s] < 0) || a[s] < b[s] {
			return false
		}
	}
	return true
}

// buyings tries every quantity of every offer of a part and every number from
// the shelf, and gives those that make so many pieces or more.
func (in *instance) buyings(p, pieces int) []bought {
	var all []bought
	offers := in.job.Parts[p].Offers
	b := bought{spent: make([]part.Money, len(in.job.Suppliers))}
	for s := range b.spent {
		b.spent[s] = -1
	}
	var try func(k, got int, b bought)
	try = func(k, got int, b bought) {
		if k == len(offers) {
			if got >= pieces {
				all = append(all, b)
			}
			return
		}
		try(k+1, got, b)
		for x := 1; x <= offers[k].Stock; x++ {
			own, home, ok := in.priceOf(offers[k], x)
			if !ok {
				continue
			}
			more := bought{spent: slices.Clone(b.spent), cost: b.cost + home*part.Money(x) + in.settings.LineCost, lines: b.lines + 1}
			s := slices.IndexFunc(in.job.Suppliers, func(s pick.Supplier) bool { return s.Name == offers[k].Supplier })
			more.spent[s] = max(0, more.spent[s]) + own*part.Money(x)
			try(k+1, got+x, more)
		}
	}
	for n := range min(in.job.Parts[p].Shelf, pieces) + 1 {
		try(0, n, bought{spent: b.spent, cost: in.job.Parts[p].Book * part.Money(n)})
	}
	return in.useful(all)
}

// priceOf is the unit price of so many pieces of an offer, in its currency and
// in the order's, where it sells so many in time.
func (in *instance) priceOf(o part.Offer, x int) (own, home part.Money, ok bool) {
	days := o.LeadDays
	for _, s := range in.job.Suppliers {
		if s.Name == o.Supplier {
			days += s.LeadDays
		}
	}
	if in.settings.DueDays != nil && days > *in.settings.DueDays {
		return 0, 0, false
	}
	if x < o.MinQty || x%o.Pack != 0 || x > o.Stock {
		return 0, 0, false
	}
	for _, b := range o.Breaks {
		if x >= b.MinQty {
			own, ok = b.UnitPrice, true
		}
	}
	return own, in.home(own, o.Currency), ok
}

// home converts an amount, half a millionth upwards.
func (in *instance) home(m part.Money, currency string) part.Money {
	for _, r := range in.settings.Rates {
		if r.Currency == currency {
			x := new(big.Int).Mul(big.NewInt(int64(m)), big.NewInt(r.Num))
			x.Mul(x, big.NewInt(2)).Add(x, big.NewInt(r.Den)).Div(x, big.NewInt(2*r.Den))
			return part.Money(x.Int64())
		}
	}
	return m
}

// audit checks that an order is one: ways that fill each place once, lines that
// the offers sell at the price they ask, uses and spares covered, sums right.
func audit(t fataler, in *instance, o pick.Order) {
	t.Helper()
	used := map[int]int{}
	var extra part.Money
	done := map[int]bool{}
	unfilled := 0
	for i, w := range o.Chosen {
		if w < 0 {
			unfilled++
			continue
		}
		x := in.job.Ways[w]
		if !slices.Contains(x.Places, i) {
			t.Errorf("place %d: way %d does not fill it", i, w)
		}
		for _, k := range x.Places {
			if o.Chosen[k] != w {
				t.Errorf("way %d fills place %d, chosen there is %d", w, k, o.Chosen[k])
			}
		}
		if done[w] {
			continue
		}
		done[w] = true
		count := in.job.Places[i].Count
		extra += x.Extra * part.Money(count)
		for _, p := range x.Pieces {
			used[p.Part] += p.Count * count
		}
	}
	if unfilled != len(o.Short) {
		t.Errorf("%d places without a way and %d shortages", unfilled, len(o.Short))
	}
	in.auditLines(t, o, used, extra)
}

func (in *instance) auditLines(t fataler, o pick.Order, used map[int]int, extra part.Money) {
	t.Helper()
	if len(used) != o.Parts || in.settings.MaxParts > 0 && o.Parts > in.settings.MaxParts {
		t.Errorf("%d parts used, said %d, at most %d", len(used), o.Parts, in.settings.MaxParts)
	}
	var goods, shelf, freight part.Money
	bought, forUse := map[int]int{}, map[int]int{}
	spent := map[string]part.Money{}
	twice := map[[2]int]bool{}
	for _, l := range o.Lines {
		offer := in.job.Parts[l.Part].Offers[l.Offer]
		own, home, ok := in.priceOf(offer, l.Quantity)
		if !ok || own != l.UnitPrice || l.OwnTotal != own*part.Money(l.Quantity) || l.Total != home*part.Money(l.Quantity) || twice[[2]int{l.Part, l.Offer}] {
			t.Errorf("line %+v is not what its offer sells (%v %v %v)", l, own, home, ok)
		}
		twice[[2]int{l.Part, l.Offer}] = true
		bought[l.Part] += l.Quantity
		forUse[l.Part] += l.ForUse
		spent[offer.Supplier] += l.OwnTotal
		goods += l.Total
	}
	for _, d := range o.Drawn {
		if d.Quantity > in.job.Parts[d.Part].Shelf || d.Value != in.job.Parts[d.Part].Book*part.Money(d.Quantity) {
			t.Errorf("drawn %+v of a shelf of %d at %v", d, in.job.Parts[d.Part].Shelf, in.job.Parts[d.Part].Book)
		}
		bought[d.Part] += d.Quantity
		forUse[d.Part] += min(d.Quantity, used[d.Part])
		shelf += d.Value
	}
	for p, q := range bought {
		if used[p] == 0 || q < in.wanted(used[p]) || forUse[p] != used[p] {
			t.Errorf("part %d: %d bought, %d of them for use; %d used, %d wanted", p, q, forUse[p], used[p], in.wanted(used[p]))
		}
	}
	for p := range used {
		if bought[p] == 0 {
			t.Errorf("part %d is used and not bought", p)
		}
	}
	for _, s := range in.job.Suppliers {
		m, is := spent[s.Name]
		if !is {
			continue
		}
		if m < s.Minimum {
			t.Errorf("%s: goods of %v, at least %v are asked", s.Name, m, s.Minimum)
		}
		if s.FreeFrom == nil || m < *s.FreeFrom {
			freight += in.home(s.Carriage, s.Currency)
		}
	}
	lines := in.settings.LineCost * part.Money(len(o.Lines))
	if o.Goods != goods || o.ShelfValue != shelf || o.Freight != freight || o.Extras != extra || o.LineCosts != lines ||
		o.Total != goods+shelf+freight+extra+lines || o.Bound > o.Total {
		t.Errorf("sums %v + %v + %v + %v + %v = %v, bound %v; by the lines %v + %v + %v + %v + %v", o.Goods, o.LineCosts, o.Freight, o.Extras, o.ShelfValue,
			o.Total, o.Bound, goods, lines, freight, extra, shelf)
	}
}

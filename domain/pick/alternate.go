package pick

import (
	"cmp"

	"coldrise/domain/part"
)

// Alternates gives for each need the index of its second source, or −1: an
// option by another maker than the one chosen, with an offer in the settings'
// currency. In stock goes before out of stock, then one that a supplier offers
// who is not on the chosen part's lines, then the least cost of the need by
// itself with its spare, then the lower index. A need without a choice has none.
func Alternates(order Order, needs []Need, parts []part.Part, s Settings) []int {
	taken := map[int]map[string]bool{}
	for _, l := range order.Lines {
		if taken[l.Part] == nil {
			taken[l.Part] = map[string]bool{}
		}
		taken[l.Part][parts[l.Part].Offers[l.Offer].Supplier] = true
	}
	second := make([]int, len(needs))
	for i, n := range needs {
		second[i] = -1
		chosen := order.Choice[i]
		if chosen < 0 {
			continue
		}
		var best standIn
		for _, p := range n.Options {
			if parts[p].Maker == parts[chosen].Maker {
				continue
			}
			c, ok := judge(&parts[p], p, n.Quantity+s.Spare, taken[chosen], s)
			if ok && (second[i] < 0 || c.before(best)) {
				second[i], best = p, c
			}
		}
	}
	return second
}

// standIn is how good a second source is.
type standIn struct {
	noStock, sameSupplier bool
	cost                  cost
	part                  int
}

func (c standIn) before(d standIn) bool {
	return cmp.Or(compareBool(c.noStock, d.noStock), compareBool(c.sameSupplier, d.sameSupplier),
		cmp.Compare(c.cost, d.cost), cmp.Compare(c.part, d.part)) < 0
}

func compareBool(a, b bool) int {
	switch {
	case a == b:
		return 0
	case b:
		return -1
	}
	return 1
}

// judge finds the best standing of a part: from stock of other suppliers, from
// stock of any, from other suppliers whatever their stock, from any.
func judge(p *part.Part, index, pieces int, taken map[string]bool, s Settings) (standIn, bool) {
	m := newMarket(len(p.Offers), Settings{Currency: s.Currency, LineCost: s.LineCost})
	for _, try := range [4]standIn{{}, {sameSupplier: true}, {noStock: true}, {noStock: true, sameSupplier: true}} {
		offers := make([]part.Offer, 0, len(p.Offers))
		for _, o := range p.Offers {
			if !try.sameSupplier && taken[o.Supplier] {
				continue
			}
			if try.noStock {
				o.Stock = maxStock
			}
			offers = append(offers, o)
		}
		if c := m.least(&part.Part{Offers: offers}, pieces, pieces)[1]; c < never {
			try.cost, try.part = c, index
			return try, true
		}
	}
	return standIn{}, false
}

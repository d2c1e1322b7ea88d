package pick

import (
	"slices"

	"coldrise/domain/part"
)

// basket is a whole order as the search has it: how often each way is built,
// and what is bought of each good.
type basket struct {
	x    []int   // by way
	lots [][]lot // by good; of those without sellers nothing is written
	cost cost
}

// buyer settles where to buy for a filling: a local search over which sellers
// are bought from at all. It is a heuristic; topUp is exact.
type buyer struct {
	g     *model
	load  []int
	goods []int // those used that have sellers
	open  []bool
	lots  [][]lot
	costs []cost // by good
	spent []part.Money
	users []int // by seller, goods that buy there
	by    []tariff
}

func newBuyer(g *model) *buyer {
	b := &buyer{g: g, open: make([]bool, len(g.sellers)), lots: make([][]lot, len(g.goods)), costs: make([]cost, len(g.goods)),
		spent: make([]part.Money, len(g.sellers)), users: make([]int, len(g.sellers)), by: make([]tariff, len(g.goods))}
	for d := range g.goods {
		if g.tolled(d) {
			b.by[d] = listed(g.goods[d].shop.sources)
		}
	}
	return b
}

// buy gives what a filling costs and where its goods are bought, beginning
// with some sellers open. It is not ok where that could not be found.
func (b *buyer) buy(f *filling, open []bool) (*basket, bool) {
	b.load, b.goods = f.load, b.goods[:0]
	for d, n := range f.load {
		b.lots[d], b.costs[d] = nil, 0
		if n > 0 && b.g.tolled(d) {
			b.goods = append(b.goods, d)
		}
	}
	copy(b.open, open)
	total := b.total()
	for range polishRounds {
		better := b.toggle(total)
		if better >= total {
			break
		}
		total = better
	}
	total = b.total()
	if total >= never {
		return nil, false
	}
	b.pad()
	return &basket{x: slices.Clone(f.x), lots: b.copied(), cost: total.plus(b.g.fixed(f.x, f.load))}, true
}

// pad enlarges the lots that are to reach a seller's next band.
func (b *buyer) pad() {
	for s := range b.g.sellers {
		if b.users[s] == 0 {
			continue
		}
		_, short := b.asked(s)
		if short <= 0 {
			continue
		}
		d, at, more, _ := b.padding(s, short)
		b.lots[d] = slices.Clone(b.lots[d])
		b.lots[d][at].quantity += more
	}
}

// copied is the lots by good, for keeping.
func (b *buyer) copied() [][]lot {
	lots := make([][]lot, len(b.g.goods))
	for _, d := range b.goods {
		lots[d] = slices.Clone(b.lots[d])
	}
	return lots
}

// fixed is what a filling costs that no seller has a part in.
func (g *model) fixed(x, load []int) cost {
	total := cost(0)
	for d, n := range load {
		if !g.tolled(d) {
			total = total.plus(g.goods[d].curve[n])
		}
	}
	for w, n := range x {
		total = total.plus(g.ways[w].extra.times(n))
	}
	return total
}

// total buys everything anew from the open sellers, and gives the cost of it
// with what they ask, padding included.
func (b *buyer) total() cost {
	total := cost(0)
	clear(b.spent)
	clear(b.users)
	for _, d := range b.goods {
		b.lots[d], b.costs[d] = b.cheapest(d, none, none)
		if b.costs[d] >= never {
			return never
		}
		total += b.costs[d]
		b.enter(d, b.lots[d], 1)
	}
	for s := range b.g.sellers {
		if b.users[s] > 0 {
			asked, _ := b.asked(s)
			total = total.plus(asked)
		}
	}
	return total
}

// enter counts lots in or out of what is spent.
func (b *buyer) enter(d int, lots []lot, sign int) {
	h := b.g.goods[d].shop
	for _, l := range lots {
		if s := &h.sources[l.source]; s.seller != none {
			b.spent[s.seller] += s.steps[l.step].own * part.Money(l.quantity*sign)
			b.users[s.seller] += sign
		}
	}
}

// cheapest gives the lots of a good from the open sellers, one of them taken
// for shut and one for open.
func (b *buyer) cheapest(d, shut, unshut int) ([]lot, cost) {
	h, l := b.g.goods[d].shop, b.load[d]
	if h.need[l] == 0 {
		return nil, 0
	}
	can := func(s int) bool { return s == none || s == unshut || s != shut && b.open[s] }
	var best []lot
	least := never
	for k := range h.single {
		x := h.single[k][l : l+1]
		if x[0].quantity == 0 || !can(h.sources[k].seller) {
			continue
		}
		if c := b.by[d].sum(x); c < least {
			best, least = x, c
		}
	}
next:
	for _, lots := range h.pool[l] {
		for _, x := range lots {
			if !can(h.sources[x.source].seller) {
				continue next
			}
		}
		if c := b.by[d].sum(lots); c < least {
			best, least = lots, c
		}
	}
	return best, least
}

// asked is what a seller asks for what is spent there, and by how much more
// has to be spent for that: below a band it may be less to pad the order up to it.
func (b *buyer) asked(s int) (least cost, short part.Money) {
	w := &b.g.sellers[s]
	least = never
	for k := range w.bands {
		c, lack := w.bands[k].charge, w.bands[k].from-b.spent[s]
		if lack > 0 {
			_, _, _, padding := b.padding(s, lack)
			c = c.plus(padding)
		}
		if c < least {
			least, short = c, lack
		}
	}
	return least, short
}

// padding finds the cheapest way to spend so much more with a seller on one
// lot there already: the good, which of its lots, and by how many pieces.
func (b *buyer) padding(s int, short part.Money) (good, at, more int, least cost) {
	good, least = none, never
	for _, d := range b.goods {
		h := b.g.goods[d].shop
		for i, l := range b.lots[d] {
			src := &h.sources[l.source]
			st := &src.steps[l.step]
			if src.seller != s || st.own == 0 {
				continue
			}
			pack := st.own * part.Money(src.pack)
			packs := int((short + pack - 1) / pack)
			if packs > (st.hi-l.quantity)/src.pack {
				continue
			}
			if c := st.price.times(packs * src.pack); c < least {
				good, at, more, least = d, i, packs*src.pack, c
			}
		}
	}
	return good, at, more, least
}

// toggle tries to shut each open seller and to open each shut one, and keeps
// what costs less.
func (b *buyer) toggle(total cost) cost {
	for s := range b.open {
		if b.g.halted() {
			break
		}
		was := b.open[s]
		b.open[s] = !was
		if c := b.total(); c < total {
			total = c
		} else {
			b.open[s] = was
		}
	}
	return total
}

package pick

import (
	"cmp"
	"math"
	"slices"
)

// bounder evaluates the bound; see the package's documentation for what it is.
// What it holds is scratch and the answer of the last evaluation.
type bounder struct {
	g    *model
	at   spans
	mult []cost // the multipliers, by spans

	earns   []cost   // by way, what its own good is credited for it
	tariffs []tariff // by good with a tolled shop
	curves  [][]cost // by good, at the present multipliers
	exact   bool     // whether the curves are the least of all purchases, not of those known

	alive []int   // the goods that the box leaves anything of
	order [][]int // by good, its items in the box by falling worth, kept from one evaluation to the next
	taken [][]int // by good and item, how often it would be built
	units []int   // by good, what it would have used
	share []cost  // by good, its term of the bound
	modes []int   // by seller, the mode its term takes: 0 closed, b+1 band b
	terms []cost  // by seller, its term of the bound
	tolls []cost  // by seller, the sum of its tolls
	slope []int   // by multiplier, how the bound rises with it, in fractions
	turn  []int   // under a limit of goods, those that would be used, by rising term
	last  cost    // term of the last whose turn came, where the limit is reached
	next  cost    // and of the first whose turn did not

	knap knapsack
	t    table
}

// spans are where the kinds of multipliers stand in one list: a worth for each
// group, a split for each take beyond a way's first, a toll for each source of
// a seller, a stake for each seller.
type spans struct{ splits, tolls, stakes, all int }

// fraction is one, in slopes and means.
const fraction = 1024

func newBounder(g *model) *bounder {
	b := &bounder{g: g, earns: make([]cost, len(g.ways)), tariffs: make([]tariff, len(g.goods)), curves: make([][]cost, len(g.goods)),
		order: make([][]int, len(g.goods)), taken: make([][]int, len(g.goods)), units: make([]int, len(g.goods)),
		share: make([]cost, len(g.goods)), modes: make([]int, len(g.sellers)), terms: make([]cost, len(g.sellers)), tolls: make([]cost, len(g.sellers))}
	b.at.splits = len(g.groups)
	b.at.tolls = b.at.splits + g.splits
	b.at.stakes = b.at.tolls + g.tolls
	b.at.all = b.at.stakes + len(g.sellers)
	b.mult, b.slope = make([]cost, b.at.all), make([]int, b.at.all)
	for d := range g.goods {
		b.taken[d] = make([]int, len(g.goods[d].items))
		b.curves[d] = g.goods[d].curve
		if g.tolled(d) {
			b.tariffs[d] = listed(g.goods[d].shop.sources)
			b.curves[d] = slices.Clone(g.goods[d].curve)
		}
	}
	return b
}

func (g *model) tolled(d int) bool { return g.goods[d].shop != nil && g.goods[d].shop.tolled }

// focus prepares for evaluations over a box, and over boxes inside it.
func (b *bounder) focus(in box) {
	b.alive = b.alive[:0]
	for d := range b.g.goods {
		b.order[d] = b.order[d][:0]
		clear(b.taken[d])
		b.units[d], b.share[d] = 0, 0
		for i, x := range b.g.goods[d].items {
			if in.hi[x.way] > 0 {
				b.order[d] = append(b.order[d], i)
			}
		}
		if len(b.order[d]) > 0 {
			b.alive = append(b.alive, d)
		}
	}
}

// lowest is a bound that says nothing.
const lowest cost = math.MinInt64 / 4

// evaluate gives the bound over a box at the present multipliers; never where
// some good cannot be had as the box wants it. It leaves what each good, and
// each seller, would do by itself, and the slopes.
func (b *bounder) evaluate(in box) cost {
	total := cost(0)
	for i := range b.g.groups {
		total += b.mult[i] * cost(len(b.g.groups[i].places))
	}
	b.earn()
	for _, d := range b.alive {
		b.reprice(d, in)
		b.share[d] = b.least(d, in)
		if b.share[d] >= never {
			return never
		}
	}
	total += b.few(in)
	b.lean(in)
	return max(total+b.sellers(in), lowest)
}

// earn works out what each way's own good is credited for it: the worth of the
// places it fills, less what it costs beside, and less what its other goods are
// credited.
func (b *bounder) earn() {
	for w := range b.g.ways {
		x := &b.g.ways[w]
		e := -x.extra
		for _, i := range x.cover {
			e += b.mult[i]
		}
		for _, t := range x.takes[1:] {
			e -= b.mult[b.at.splits+t.split]
		}
		b.earns[w] = e
	}
}

// worth is what a good is credited for one building of a way.
func (b *bounder) worth(x *item) cost {
	if x.split != none {
		return b.mult[b.at.splits+x.split]
	}
	return b.earns[x.way]
}

// reprice brings a good's tariff and curve to the present multipliers. What
// sellers ask beside their prices comes as tolls on the use of their sources,
// less a credit on each piece: the seller's stake is paid for goods of
// seller.full, and each price earns its part of it, rounded up.
func (b *bounder) reprice(d int, in box) {
	if !b.g.tolled(d) {
		return
	}
	h, by := b.g.goods[d].shop, b.tariffs[d]
	for k := range h.sources {
		s := &h.sources[k]
		if s.seller == none {
			continue
		}
		if in.modes[s.seller] == closed {
			by.entry[k] = never
			continue
		}
		by.entry[k] = s.line + b.mult[b.at.tolls+s.toll]
		for j := range s.steps {
			by.price[k][j] = s.steps[j].price - b.credit(s.seller, &s.steps[j])
		}
	}
	curve := h.cheapest(by, b.curves[d][:in.most[d]+1])
	if b.exact && h.split {
		b.t.fill(h.sources, by, h.need[in.most[d]])
		h.learn(by, &b.t, curve)
		h.cheapest(by, curve)
	}
}

// credit is what a price earns of its seller's stake.
func (b *bounder) credit(s int, st *step) cost {
	stake := b.mult[b.at.stakes+s]
	if stake == 0 {
		return 0
	}
	return mulDiv(stake, cost(st.own), cost(b.g.sellers[s].full), true)
}

// least is one good's term of the bound. It leaves what the good takes.
func (b *bounder) least(d int, in box) cost {
	base, credit := b.base(d, in)
	items := b.g.goods[d].items
	b.knap.fill(b, d, in, in.most[d]-base, in.least[d] > base)
	best, at := never, -1
	curve := b.curves[d][base:]
	for k, w := range b.knap.worth {
		if base+k < in.least[d] || w <= lowest || curve[k] >= never {
			continue
		}
		if c := curve[k] - credit - w; c < best {
			best, at = c, k
		}
	}
	if at < 0 {
		return never
	}
	for _, i := range b.order[d] {
		b.taken[d][i] = in.lo[items[i].way]
	}
	b.knap.trace(at, b.taken[d])
	b.units[d] = base + at
	return best
}

// base is the units that a box demands of a good, and their worth.
func (b *bounder) base(d int, in box) (units int, credit cost) {
	items := b.g.goods[d].items
	for _, i := range b.order[d] {
		x := &items[i]
		if n := in.lo[x.way]; n > 0 {
			units += n * x.units
			credit += b.worth(x) * cost(n)
		}
	}
	return units, credit
}

// few sums the goods' terms. Where a limit of goods does not let all be used
// that would be, those are whose terms are least, and the others take nothing.
func (b *bounder) few(in box) cost {
	total, room := cost(0), b.g.limit
	b.turn = b.turn[:0]
	for _, d := range b.alive {
		total += b.share[d]
		if !b.g.goods[d].counts() {
			continue
		}
		if in.least[d] > 0 {
			room--
		} else if b.units[d] > 0 {
			b.turn = append(b.turn, d)
		}
	}
	b.last, b.next = 0, 0
	if b.g.limit == 0 || len(b.turn) < room {
		return total
	}
	slices.SortFunc(b.turn, func(x, y int) int { return cmp.Or(cmp.Compare(b.share[x], b.share[y]), cmp.Compare(x, y)) })
	if room > 0 {
		b.last = b.share[b.turn[room-1]]
	}
	for k, d := range b.turn[room:] {
		if k == 0 {
			b.next = b.share[d]
		}
		total -= b.share[d]
		clear(b.taken[d])
		b.units[d] = 0
	}
	return total
}

// rest is the bound without a good's term, where the good is used or where it
// is not: under a limit another good's turn comes or goes with that.
func (b *bounder) rest(in box, d int, bound cost, used bool) cost {
	if in.least[d] > 0 || !b.g.goods[d].counts() {
		return bound - b.share[d]
	}
	if b.units[d] > 0 { // its turn came
		if used {
			return bound - b.share[d]
		}
		return bound - b.share[d] + b.next
	}
	if used {
		return bound - b.last
	}
	return bound
}

// lean writes the slopes of the worths and the splits, and begins those of the
// tolls and stakes with what the goods would buy.
func (b *bounder) lean(in box) {
	clear(b.slope)
	for i := range b.g.groups {
		b.slope[i] = len(b.g.groups[i].places) * fraction
	}
	for _, d := range b.alive {
		items := b.g.goods[d].items
		for _, i := range b.order[d] {
			n := b.taken[d][i] * fraction
			if n == 0 {
				continue
			}
			if x := &items[i]; x.split != none {
				b.slope[b.at.splits+x.split] -= n
				continue
			}
			w := &b.g.ways[items[i].way]
			for _, k := range w.cover {
				b.slope[k] -= n
			}
			for _, t := range w.takes[1:] {
				b.slope[b.at.splits+t.split] += n
			}
		}
		if b.units[d] > 0 && b.g.tolled(d) {
			b.buy(d)
		}
	}
}

// buy enters what a good would buy of sellers into the slopes.
func (b *bounder) buy(d int) {
	h := b.g.goods[d].shop
	for _, l := range h.bought(b.tariffs[d], b.curves[d], b.units[d]) {
		s := &h.sources[l.source]
		if s.seller == none {
			continue
		}
		b.slope[b.at.tolls+s.toll] += fraction
		if full := b.g.sellers[s.seller].full; full > 0 {
			spent := mulDiv(cost(s.steps[l.step].own)*cost(l.quantity), fraction, cost(full), false)
			b.slope[b.at.stakes+s.seller] -= int(min(spent, 4*fraction))
		}
	}
}

// sellers gives the sellers' terms, and ends the slopes: each does what is
// cheapest for it, its tolls being its own to keep where it is open.
func (b *bounder) sellers(in box) cost {
	if len(b.g.sellers) == 0 {
		return 0
	}
	clear(b.tolls)
	for _, d := range b.alive {
		if !b.g.tolled(d) {
			continue
		}
		for _, s := range b.g.goods[d].shop.sources {
			if s.seller != none {
				b.tolls[s.seller] += b.mult[b.at.tolls+s.toll]
			}
		}
	}
	total := cost(0)
	for i := range b.g.sellers {
		mode, term := b.mode(i, in.modes[i], b.tolls[i])
		b.modes[i], b.terms[i] = mode, term
		total += term
	}
	for _, d := range b.alive {
		if !b.g.tolled(d) {
			continue
		}
		for _, s := range b.g.goods[d].shop.sources {
			if s.seller != none && b.modes[s.seller] > 0 {
				b.slope[b.at.tolls+s.toll] -= fraction
			}
		}
	}
	for i := range b.g.sellers {
		if m := b.modes[i]; m > 0 {
			b.slope[b.at.stakes+i] += int(b.staked(i, m-1, fraction))
		}
	}
	return total
}

// mode gives the cheapest of a seller's modes and its term.
func (b *bounder) mode(i int, allowed modes, tolls cost) (mode int, term cost) {
	term = never
	if allowed&closed != 0 {
		term = 0
	}
	for k := range b.g.sellers[i].bands {
		if allowed&(2<<k) == 0 {
			continue
		}
		if c := b.opening(i, k) - tolls; c < term {
			mode, term = k+1, c
		}
	}
	return mode, term
}

// opening is what an order in a band costs beside its goods and before its
// tolls: the charge, and the stake that the goods' credits have to make up.
func (b *bounder) opening(i, band int) cost {
	return b.g.sellers[i].bands[band].charge + b.staked(i, band, b.mult[b.at.stakes+i])
}

// staked is the share of a stake that goods of a band come to, rounded down.
func (b *bounder) staked(i, band int, stake cost) cost {
	w := &b.g.sellers[i]
	if w.full == 0 {
		return 0
	}
	return mulDiv(stake, cost(w.bands[band].from), cost(w.full), false)
}

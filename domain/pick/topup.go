package pick

import (
	"cmp"
	"slices"

	"coldrise/domain/part"
)

// topper finds the cheapest purchase for a filling where every seller's mode
// is settled, exactly: each open seller's goods have to come to its band. Where
// the cheapest purchases by themselves do not, something has to be shifted to
// the seller or bought beyond need. Goods are weighed one after the other; of
// two ways to buy the goods so far, one that costs no less and brings no
// seller further is dropped, and so is one that by the bound leads past target.
type topper struct {
	g     *model
	b     *bounder
	in    box
	bands []int        // sellers that have to come to an amount, and
	from  []part.Money // that amount
	at    []int        // by seller its index in bands, or none
	t     table
	found []purchase // of one good, by enumerate
	lots  []lot      // scratch of enumerate
}

// purchase is one way to buy one good.
type purchase struct {
	lots  []lot
	cost  cost // by the lists
	over  cost // what it costs more than the cheapest at the present tariffs
	spent []part.Money
}

// label is a way to buy the goods so far.
type label struct {
	cost  cost
	over  cost
	spent []part.Money // by index in bands, held at the amount wanted
	last  *purchase
	prev  *label
}

// maxLabels is where the exact purchase gives up.
const maxLabels = 20_000

// topUp gives the cheapest purchase of a settled box that costs target or
// less, nil where there is none. It is not complete where that took too much;
// then floor is a bound on what was left out.
func (g *model) topUp(b *bounder, in box, target cost) (best *basket, floor cost, complete bool) {
	p := &topper{g: g, b: b, in: in, at: make([]int, len(g.sellers))}
	asked := p.want()
	load := make([]int, len(g.goods))
	for w, n := range in.lo {
		for _, t := range g.ways[w].takes {
			load[t.good] += n * t.units
		}
	}
	base := asked.plus(g.fixed(in.lo, load))
	var goods []int
	for d, n := range load {
		if n > 0 && g.tolled(d) {
			goods = append(goods, d)
		}
	}
	floor = p.floor(goods, load, base)
	if floor > target {
		return nil, floor, true
	}
	labels := []*label{{cost: base, spent: make([]part.Money, len(p.bands))}}
	for _, d := range goods {
		if !p.enumerate(d, load[d], target-floor) {
			return nil, floor, false
		}
		labels = p.extend(labels, target-floor)
		if len(labels) > maxLabels {
			return nil, floor, false
		}
	}
	least := p.cheapest(labels)
	if least == nil || least.cost > target {
		return nil, floor, true
	}
	best = &basket{x: slices.Clone(in.lo), lots: make([][]lot, len(g.goods)), cost: least.cost}
	for i := len(goods) - 1; i >= 0; i-- {
		best.lots[goods[i]] = least.last.lots
		least = least.prev
	}
	return best, floor, true
}

// want lists the sellers that have to come to an amount, and gives what all
// open ones ask.
func (p *topper) want() cost {
	asked := cost(0)
	for s := range p.g.sellers {
		p.at[s] = none
		if p.in.modes[s] == closed {
			continue
		}
		w := &p.g.sellers[s].bands[p.in.modes[s].band()]
		asked += w.charge
		if w.from > 0 {
			p.at[s] = len(p.bands)
			p.bands = append(p.bands, s)
			p.from = append(p.from, w.from)
		}
	}
	return asked
}

// floor is the bound on the box by the present stakes: what the cheapest
// purchases come to with their credits, and the stakes they have to make up.
func (p *topper) floor(goods, load []int, base cost) cost {
	floor := base
	for _, s := range p.bands {
		floor += p.b.staked(s, p.in.modes[s].band(), p.b.mult[p.b.at.stakes+s])
	}
	for _, d := range goods {
		h := p.g.goods[d].shop
		p.t.fill(h.sources, p.tariff(d), h.need[load[d]])
		floor = floor.plus(p.t.rows[len(h.sources)][h.need[load[d]]])
	}
	return floor
}

// tariff is a good's at the present stakes and without tolls: with modes
// settled nothing hangs on them.
func (p *topper) tariff(d int) tariff {
	by, h := p.b.tariffs[d], p.g.goods[d].shop
	for k := range h.sources {
		s := &h.sources[k]
		switch {
		case s.seller == none:
		case p.in.modes[s.seller] == closed:
			by.entry[k] = never
		default:
			by.entry[k] = s.line
			for j := range s.steps {
				by.price[k][j] = s.steps[j].price
				if p.at[s.seller] != none {
					by.price[k][j] -= p.b.credit(s.seller, &s.steps[j])
				}
			}
		}
	}
	return by
}

// enumerate lists the ways to buy a good that cost at most room more than the
// cheapest, at the present stakes. It says whether that was not too many.
func (p *topper) enumerate(d, units int, room cost) bool {
	h := p.g.goods[d].shop
	by := p.tariff(d)
	r := h.need[units]
	p.t.fill(h.sources, by, r)
	p.found, p.lots = p.found[:0], p.lots[:0]
	e := enumeration{p: p, h: h, by: by, least: p.t.rows[len(h.sources)][r], room: room}
	if !p.matters(h) {
		e.keep(p.t.trace(h.sources, by, r), 0)
		return true
	}
	e.from(len(h.sources), r, 0)
	return len(p.found) <= maxLabels
}

// matters says whether a good can be bought of a seller that has to come to an amount.
func (p *topper) matters(h *shop) bool {
	for k := range h.sources {
		if s := h.sources[k].seller; s != none && p.at[s] != none {
			return true
		}
	}
	return false
}

// enumeration is the recursion of enumerate over the sources from the last.
type enumeration struct {
	p     *topper
	h     *shop
	by    tariff
	least cost
	room  cost
}

// from buys r pieces more of the first k sources, having paid so much.
func (e *enumeration) from(k, r int, paid cost) {
	rows := e.p.t.rows
	if len(e.p.found) > maxLabels || paid.plus(rows[k][r])-e.least > e.room {
		return
	}
	if k == 0 {
		e.keep(slices.Clone(e.p.lots), paid-e.least)
		return
	}
	e.from(k-1, r, paid)
	s := &e.h.sources[k-1]
	if e.by.entry[k-1] >= never {
		return
	}
	for j := range s.steps {
		st := &s.steps[j]
		for q := st.lo; q <= st.hi; q += s.pack {
			if q > st.lo && q-s.pack >= r && !e.pads(s, st, q-s.pack) {
				break
			}
			now := paid.plus(e.by.entry[k-1]).plus(e.by.price[k-1][j].times(q))
			if now-e.least > e.room {
				break
			}
			e.p.lots = append(e.p.lots, lot{source: k - 1, step: j, quantity: q})
			e.from(k-1, max(0, r-q), now)
			e.p.lots = e.p.lots[:len(e.p.lots)-1]
		}
	}
}

// pads says whether more than q pieces could bring a seller further.
func (e *enumeration) pads(s *source, st *step, q int) bool {
	if s.seller == none || e.p.at[s.seller] == none {
		return false
	}
	return st.own > 0 && st.own*part.Money(q) < e.p.from[e.p.at[s.seller]]
}

func (e *enumeration) keep(lots []lot, over cost) {
	x := purchase{lots: lots, over: over, spent: make([]part.Money, len(e.p.bands))}
	for _, l := range lots {
		s := &e.h.sources[l.source]
		x.cost += s.line + s.steps[l.step].price*cost(l.quantity)
		if s.seller != none && e.p.at[s.seller] != none {
			x.spent[e.p.at[s.seller]] += s.steps[l.step].own * part.Money(l.quantity)
		}
	}
	e.p.found = append(e.p.found, x)
}

// extend adds each purchase of the next good to each label, and drops those
// that another is as good as.
func (p *topper) extend(labels []*label, room cost) []*label {
	found := slices.Clone(p.found)
	var all []*label
	for _, l := range labels {
		for i := range found {
			x := &found[i]
			if l.over+x.over > room {
				continue
			}
			spent := make([]part.Money, len(p.bands))
			for k := range spent {
				spent[k] = min(l.spent[k]+x.spent[k], p.from[k])
			}
			all = append(all, &label{cost: l.cost + x.cost, over: l.over + x.over, spent: spent, last: x, prev: l})
		}
		if len(all) > 8*maxLabels {
			return all
		}
	}
	slices.SortStableFunc(all, func(a, b *label) int {
		return cmp.Or(cmp.Compare(a.cost, b.cost), slices.Compare(b.spent, a.spent))
	})
	kept := all[:0]
next:
	for _, l := range all {
		for _, k := range kept {
			if k.reaches(l.spent) {
				continue next
			}
		}
		kept = append(kept, l)
	}
	return kept
}

// reaches says whether a label has spent as much with every seller.
func (l *label) reaches(spent []part.Money) bool {
	for k := range spent {
		if l.spent[k] < spent[k] {
			return false
		}
	}
	return true
}

// cheapest is the first label that comes to every amount.
func (p *topper) cheapest(labels []*label) *label {
	var best *label
	for _, l := range labels {
		if l.reaches(p.from) && (best == nil || l.cost < best.cost) {
			best = l
		}
	}
	return best
}

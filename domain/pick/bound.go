package pick

import (
	"math"
	"slices"
)

// The bound is a Lagrangian one. Give every need of a group a worth w. Then
//
//	least cost ≥ Σ needs' worth + Σ parts, least over what the part may take of (cost of it − worth of it)
//
// for any worths at all, because a way to fill every need pays each worth back
// once. Each part's least is found exactly, with its price breaks, packs and
// line costs, so nothing is lost inside a part; and everything is in whole
// numbers, so no rounding can make the bound too high. Fisher, Management
// Science 27 (1981) 1, on the method and on its step rule, from memory.

// bounder evaluates the bound; what it holds is scratch and the answer of the
// last evaluation.
type bounder struct {
	g     *model
	worth []cost   // by group, of one need
	x     []int    // by edge, what each part would take by itself
	share []cost   // by part, its term of the bound
	alive []int    // the parts that the box leaves anything of
	order [][]int  // by part, its edges in the box by worth, kept from one evaluation to the next
	sums  []cost   // scratch of mixed
	items []int    // scratch of mixed: an edge for each need it may take
	from  [][]bool // scratch of mixed: whether an item was taken to reach a count of units
}

func newBounder(g *model) *bounder {
	return &bounder{g: g, worth: make([]cost, len(g.groups)), x: make([]int, len(g.edges)),
		share: make([]cost, len(g.parts)), order: make([][]int, len(g.parts))}
}

// focus prepares for evaluations over a box, and over boxes inside it.
func (b *bounder) focus(in box) {
	b.alive = b.alive[:0]
	clear(b.x)
	clear(b.share)
	for p, edges := range b.g.of {
		b.order[p] = b.order[p][:0]
		for _, e := range edges {
			if in.hi[e] > 0 {
				b.order[p] = append(b.order[p], e)
			}
		}
		if len(b.order[p]) > 0 {
			b.alive = append(b.alive, p)
		}
	}
}

// lowest is a bound that says nothing.
const lowest cost = math.MinInt64 / 2

// evaluate gives the bound over a box at the present worths; never where some
// part cannot be had as the box wants it.
func (b *bounder) evaluate(in box) cost {
	total := cost(0)
	for i, w := range b.worth {
		total += w * cost(len(b.g.groups[i].needs))
	}
	for _, p := range b.alive {
		b.share[p] = b.least(p, in, true)
		if b.share[p] >= never {
			return never
		}
		total += b.share[p]
		if total < lowest/2 {
			return lowest
		}
	}
	return total
}

// least is one part's term of the bound. With keep it leaves what the part
// takes in x.
func (b *bounder) least(p int, in box, keep bool) cost {
	if b.g.step[p] == 0 {
		return b.mixed(p, in, keep)
	}
	order := b.order[p]
	if keep {
		b.sort(order)
	}
	curve, step := b.g.curves[p], b.g.step[p]
	units, worth := 0, cost(0)
	for _, e := range order {
		units += in.lo[e] * step
		worth += b.worth[b.g.edges[e].group] * cost(in.lo[e])
	}
	best, bestAt := never, 0
	if units >= in.least[p] && units <= in.most[p] && curve[units] < never {
		best = curve[units] - worth
	}
	// The dearest needs first: for each count of units they are worth the most.
	taken := 0
needs:
	for _, e := range order {
		w := b.worth[b.g.edges[e].group]
		if w <= 0 && best < never {
			break
		}
		for range in.hi[e] - in.lo[e] {
			taken++
			units += step
			worth += w
			if units > in.most[p] || curve[units] >= never {
				break needs
			}
			if c := curve[units] - worth; c < best && units >= in.least[p] {
				best, bestAt = c, taken
			}
		}
	}
	if keep {
		b.keep(order, in, bestAt)
	}
	return best
}

// keep writes to x the first n needs in order beyond those the box demands.
func (b *bounder) keep(order []int, in box, n int) {
	for _, e := range order {
		more := min(n, in.hi[e]-in.lo[e])
		b.x[e] = in.lo[e] + more
		n -= more
	}
}

// sort orders edges by falling worth. Worths change little from one
// evaluation to the next, so that insertion is quick.
func (b *bounder) sort(order []int) {
	for i := 1; i < len(order); i++ {
		e := order[i]
		w := b.worth[b.g.edges[e].group]
		j := i
		for ; j > 0; j-- {
			before := b.worth[b.g.edges[order[j-1]].group]
			if before > w || before == w && order[j-1] < e {
				break
			}
			order[j] = order[j-1]
		}
		order[j] = e
	}
}

// mixed is least for a part whose needs differ in size: the greatest worth for
// each count of units, by the knapsack recursion.
func (b *bounder) mixed(p int, in box, keep bool) cost {
	curve := b.g.curves[p]
	base, worth := 0, cost(0)
	b.items = b.items[:0]
	for _, e := range b.g.of[p] {
		base += in.lo[e] * b.g.size(e)
		w := b.worth[b.g.edges[e].group]
		worth += w * cost(in.lo[e])
		for range in.hi[e] - in.lo[e] {
			b.items = append(b.items, e)
		}
	}
	if base > in.most[p] {
		return never
	}
	b.knapsack(in.most[p] + 1 - base)
	best, bestAt := never, 0
	for k, w := range b.sums {
		if w < 0 || base+k < in.least[p] || curve[base+k] >= never {
			continue
		}
		if c := curve[base+k] - worth - w; c < best {
			best, bestAt = c, k
		}
	}
	if keep {
		b.trace(p, in, bestAt)
	}
	return best
}

// knapsack fills sums with the greatest worth of items of k units in all, k
// below limit; −1 where no choice makes k.
func (b *bounder) knapsack(limit int) {
	b.sums = slices.Grow(b.sums[:0], limit)[:limit]
	for k := range b.sums {
		b.sums[k] = -1
	}
	b.sums[0] = 0
	for i, e := range b.items {
		if i == len(b.from) {
			b.from = append(b.from, nil)
		}
		b.from[i] = slices.Grow(b.from[i][:0], limit)[:limit]
		size, w := b.g.size(e), b.worth[b.g.edges[e].group]
		for k := limit - 1; k >= 0; k-- {
			better := k >= size && b.sums[k-size] >= 0 && b.sums[k-size]+w > b.sums[k]
			b.from[i][k] = better
			if better {
				b.sums[k] = b.sums[k-size] + w
			}
		}
	}
}

// trace writes to x the items that make up k units.
func (b *bounder) trace(p int, in box, k int) {
	for _, e := range b.g.of[p] {
		b.x[e] = in.lo[e]
	}
	for i := len(b.items) - 1; i >= 0; i-- {
		if b.from[i][k] {
			b.x[b.items[i]]++
			k -= b.g.size(b.items[i])
		}
	}
}

// tighten takes out of the box what cannot be part of an order of cost target
// or less, by the bound with one limit changed. The last evaluation was over
// this box and gave bound.
func (b *bounder) tighten(in box, bound, target cost) (changed bool) {
	for _, p := range b.alive {
		room := target - (bound - b.share[p])
		for _, e := range b.order[p] {
			changed = b.lower(p, e, in, room) || changed
			changed = b.raise(p, e, in, room) || changed
		}
		for in.least[p] < in.most[p] && b.over(p, in, in.least[p], room) {
			in.least[p]++
			changed = true
		}
		for in.least[p] < in.most[p] && b.over(p, in, in.most[p], room) {
			in.most[p]--
			changed = true
		}
	}
	return changed
}

// over says whether a part's term passes room where just so many units are used.
func (b *bounder) over(p int, in box, units int, room cost) bool {
	least, most := in.least[p], in.most[p]
	in.least[p], in.most[p] = units, units
	over := b.least(p, in, false) > room
	in.least[p], in.most[p] = least, most
	return over
}

// lower takes from hi the counts of an edge for which the part's term passes room.
func (b *bounder) lower(p, e int, in box, room cost) (changed bool) {
	lo := in.lo[e]
	for in.hi[e] > lo {
		in.lo[e] = in.hi[e]
		over := b.least(p, in, false) > room
		in.lo[e] = lo
		if !over {
			return changed
		}
		in.hi[e]--
		changed = true
	}
	return changed
}

// raise adds to lo likewise.
func (b *bounder) raise(p, e int, in box, room cost) (changed bool) {
	hi := in.hi[e]
	for in.lo[e] < hi {
		in.hi[e] = in.lo[e]
		over := b.least(p, in, false) > room
		in.hi[e] = hi
		if !over {
			return changed
		}
		in.lo[e]++
		changed = true
	}
	return changed
}

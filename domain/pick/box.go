package pick

import (
	"math/bits"
	"slices"
)

// box is a part of the search space: how often each way is built, from lo to
// hi, how many units of each good are used, from least to most, and which
// modes each seller may be in.
type box struct {
	lo, hi      []int
	least, most []int
	modes       []modes
}

// modes is a set of a seller's modes: bit 0 for buying nothing there, bit b+1
// for an order in band b.
type modes uint8

const closed modes = 1

// settled says whether only one mode is left.
func (m modes) settled() bool { return m&(m-1) == 0 }

// band is the last band of a set.
func (m modes) band() int { return bits.Len8(uint8(m)) - 2 }

func (g *model) whole() box {
	b := box{lo: make([]int, len(g.ways)), hi: make([]int, len(g.ways)), least: make([]int, len(g.goods)), most: make([]int, len(g.goods)),
		modes: make([]modes, len(g.sellers))}
	for w := range g.ways {
		b.hi[w] = g.most(w)
	}
	for d := range g.goods {
		b.most[d] = len(g.goods[d].curve) - 1
	}
	for s := range g.sellers {
		b.modes[s] = 1<<(len(g.sellers[s].bands)+1) - 1
	}
	return b
}

func (b box) clone() box {
	return box{lo: slices.Clone(b.lo), hi: slices.Clone(b.hi), least: slices.Clone(b.least), most: slices.Clone(b.most), modes: slices.Clone(b.modes)}
}

// close narrows the box until its limits agree with each other, and says
// whether anything can be left in it. A box closed to one point per way is a
// filling: goods and groups have each been looked at since the last change.
func (g *model) close(b box) bool {
	if slices.Contains(b.modes, 0) {
		return false
	}
	for {
		narrowed, ok := g.closeGroups(b)
		if !ok {
			return false
		}
		more, ok := g.closeGoods(b)
		if !ok {
			return false
		}
		if !narrowed && !more {
			return true
		}
	}
}

// closeGroups holds the counts of each group's ways against its places.
func (g *model) closeGroups(b box) (narrowed, ok bool) {
	for i := range g.groups {
		gr := &g.groups[i]
		lo, hi := 0, 0
		for _, w := range gr.ways {
			if b.lo[w] > b.hi[w] {
				return false, false
			}
			lo, hi = lo+b.lo[w], hi+b.hi[w]
		}
		n := len(gr.places)
		if lo > n || hi < n {
			return false, false
		}
		for _, w := range gr.ways {
			most, least := n-(lo-b.lo[w]), n-(hi-b.hi[w])
			if most < b.hi[w] || least > b.lo[w] {
				lo, hi = lo-b.lo[w], hi-b.hi[w]
				b.hi[w], b.lo[w] = min(b.hi[w], most), max(b.lo[w], least)
				lo, hi = lo+b.lo[w], hi+b.hi[w]
				narrowed = true
			}
		}
	}
	return narrowed, true
}

// closeGoods holds the counts of the ways that use each good against its units,
// and the goods in use against their limit.
func (g *model) closeGoods(b box) (narrowed, ok bool) {
	inUse := 0
	for d := range g.goods {
		items := g.goods[d].items
		base, full := 0, 0
		for _, x := range items {
			base, full = base+b.lo[x.way]*x.units, full+b.hi[x.way]*x.units
		}
		if base > b.least[d] || full < b.most[d] {
			b.least[d], b.most[d] = max(b.least[d], base), min(b.most[d], full)
			narrowed = true
		}
		if b.least[d] > b.most[d] {
			return false, false
		}
		for _, x := range items {
			if most := b.lo[x.way] + (b.most[d]-base)/x.units; most < b.hi[x.way] {
				b.hi[x.way] = most
				narrowed = true
			}
		}
		if b.least[d] > 0 && g.goods[d].counts() {
			inUse++
		}
	}
	if g.limit == 0 || inUse < g.limit {
		return narrowed, true
	}
	if inUse > g.limit {
		return narrowed, false
	}
	for d := range g.goods {
		if b.least[d] == 0 && b.most[d] > 0 && g.goods[d].counts() {
			b.most[d] = 0
			narrowed = true
		}
	}
	return narrowed, true
}

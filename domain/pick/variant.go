package pick

import "slices"

func (g *model) allOpen() []bool {
	open := make([]bool, len(g.sellers))
	for i := range open {
		open[i] = true
	}
	return open
}

// carriage is what all sellers ask together at most; minima what all their
// bands come to.
func (g *model) carriage() cost {
	total := cost(0)
	for _, s := range g.sellers {
		total = total.plus(s.bands[0].charge)
	}
	return total
}

func (g *model) minima() cost {
	total := cost(0)
	for _, s := range g.sellers {
		total = total.plus(s.ceiling)
	}
	return total
}

// curves are the goods' where sellers ask nothing.
func (g *model) curves() [][]cost {
	curves := make([][]cost, len(g.goods))
	for d := range g.goods {
		curves[d] = g.goods[d].curve
	}
	return curves
}

// withLeaving adds to each group a way of leaving places unfilled, at a penalty
// each. These ways stand behind the others, in the order of the groups.
func (g *model) withLeaving(penalty cost) *model {
	wide := *g
	wide.groups, wide.ways, wide.goods = slices.Clone(g.groups), slices.Clone(g.ways), slices.Clone(g.goods)
	d := wide.add(none)
	for i := range wide.groups {
		w := len(wide.ways)
		wide.ways = append(wide.ways, way{cover: []int{i}, extra: penalty})
		wide.groups[i].ways = append(slices.Clone(wide.groups[i].ways), w)
		wide.take(w, d, 1)
	}
	wide.goods[d].curve = make([]cost, wide.demand(d)+1)
	return &wide
}

// left is how often the ways that withLeaving adds are built beside x.
func (g *model) left(x []int) []int {
	left := make([]int, len(g.groups))
	for i := range g.groups {
		left[i] = len(g.groups[i].places)
		for _, w := range g.groups[i].ways {
			if w < len(x) {
				left[i] -= x[w]
			}
		}
	}
	return left
}

// asksMinimum says whether some seller sells nothing below an amount.
func (g *model) asksMinimum() bool {
	for _, s := range g.sellers {
		if s.bands[0].from > 0 {
			return true
		}
	}
	return false
}

// bare is the model without sellers, extras and prices: goods cost by what
// price makes of each curve.
func (g *model) bare(price func(d, units int) cost) *model {
	b := *g
	b.sellers, b.tolls = nil, 0
	b.ways, b.goods = slices.Clone(g.ways), slices.Clone(g.goods)
	for w := range b.ways {
		b.ways[w].extra = 0
	}
	for d := range b.goods {
		curve := make([]cost, len(g.goods[d].curve))
		for k, c := range g.goods[d].curve {
			curve[k] = never
			if c < never {
				curve[k] = price(d, k)
			}
		}
		b.goods[d].curve, b.goods[d].shop = curve, nil
	}
	return &b
}

// available is the model in which all that can be had costs nothing.
func (g *model) available() *model {
	return g.bare(func(int, int) cost { return 0 })
}

// counted is the model without a limit in which each part used costs a unit,
// and leaving a place unfilled more than all parts.
func (g *model) counted() *model {
	b := g.bare(func(d, units int) cost {
		if units == 0 || !g.goods[d].counts() {
			return 0
		}
		return unit
	})
	b.limit = 0
	for w := range b.ways {
		if g.ways[w].from == nil {
			b.ways[w].extra = unit.times(len(g.goods) + 1)
		}
	}
	return b
}

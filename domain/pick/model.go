package pick

import (
	"context"
	"fmt"
	"slices"

	"coldrise/domain/part"
)

// model is the choice in its barest form. Needs of one size and with the same
// options are one group; an edge is a group and a part that passes there, and
// the search decides how many of the group's needs each of its edges takes.
// What a part then costs is a curve over the units used of it, all edges together.
type model struct {
	groups []group
	parts  []int    // index into the caller's parts, ascending; leave for leaving a need unfilled
	curves [][]cost // by part, over units used
	edges  []edge
	of     [][]int // by part, its edges
	step   []int   // by part, the units that each of its edges takes a time, 0 where they differ
	unit   int     // pieces in a unit: the greatest common divisor of all sizes
}

// leave stands in model.parts for no part at all.
const leave = -1

type group struct {
	needs []int // index into the caller's needs, ascending
	size  int   // units that each need takes
	edges []int
}

type edge struct{ group, part int }

// newModel groups the needs that have an option; options are ascending and
// each can be bought for its need alone.
func newModel(ctx context.Context, needs []Need, options [][]int, parts []part.Part, m market) (*model, error) {
	g := &model{}
	g.group(needs, options)
	at := map[int]int{}
	for _, list := range options {
		g.parts = append(g.parts, list...)
	}
	slices.Sort(g.parts)
	g.parts = slices.Compact(g.parts)
	for p, index := range g.parts {
		at[index] = p
	}
	for i := range g.groups {
		for _, index := range options[g.groups[i].needs[0]] {
			g.edges = append(g.edges, edge{group: i, part: at[index]})
		}
	}
	g.link()
	for p, index := range g.parts {
		if ctx.Err() != nil {
			return nil, cancelled()
		}
		g.curves = append(g.curves, m.least(&parts[index], g.unit, g.demand(p)*g.unit))
	}
	return g.withoutDominated(), nil
}

func (g *model) group(needs []Need, options [][]int) {
	at := map[string]int{}
	for i, list := range options {
		if len(list) == 0 {
			continue
		}
		key := fmt.Sprint(needs[i].Quantity, list)
		k, known := at[key]
		if !known {
			k = len(g.groups)
			at[key] = k
			g.groups = append(g.groups, group{size: needs[i].Quantity})
			g.unit = gcd(g.unit, needs[i].Quantity)
		}
		g.groups[k].needs = append(g.groups[k].needs, i)
	}
	for i := range g.groups {
		g.groups[i].size /= g.unit
	}
}

func gcd(a, b int) int {
	for b != 0 {
		a, b = b, a%b
	}
	return a
}

// link rebuilds what follows from edges.
func (g *model) link() {
	g.of = make([][]int, len(g.parts))
	g.step = make([]int, len(g.parts))
	for i := range g.groups {
		g.groups[i].edges = nil
	}
	for e, x := range g.edges {
		size := g.groups[x.group].size
		switch {
		case len(g.of[x.part]) == 0:
			g.step[x.part] = size
		case g.step[x.part] != size:
			g.step[x.part] = 0
		}
		g.of[x.part] = append(g.of[x.part], e)
		g.groups[x.group].edges = append(g.groups[x.group].edges, e)
	}
}

// demand is the units of a part where all needs that can take it do.
func (g *model) demand(p int) int {
	units := 0
	for _, e := range g.of[p] {
		units += g.count(e) * g.size(e)
	}
	return units
}

// count is how many needs an edge can take; size the units that each takes.
func (g *model) count(e int) int { return len(g.groups[g.edges[e].group].needs) }
func (g *model) size(e int) int  { return g.groups[g.edges[e].group].size }

// withoutDominated drops each part that another, alive one can stand in for at
// every need, in whatever number, at no more cost.
func (g *model) withoutDominated() *model {
	covers := make([][]bool, len(g.parts))
	for p := range g.parts {
		covers[p] = make([]bool, len(g.groups))
		for _, e := range g.of[p] {
			covers[p][g.edges[e].group] = true
		}
	}
	dead := make([]bool, len(g.parts))
	for p := range g.parts {
		for _, e := range g.groups[g.edges[g.of[p][0]].group].edges {
			q := g.edges[e].part
			if q == p || dead[q] || !g.standsIn(q, p, covers[q]) {
				continue
			}
			// Of two that stand in for each other the first stays.
			if q > p && g.standsIn(p, q, covers[p]) {
				continue
			}
			dead[p] = true
			break
		}
	}
	return g.without(dead)
}

// tableLimit keeps the comparison of two long curves from costing more than the
// search that it is to shorten.
const tableLimit = 1 << 16

// standsIn says whether moving any use of p onto q, whatever q is used for
// already, never costs more.
func (g *model) standsIn(q, p int, covered []bool) bool {
	for _, e := range g.of[p] {
		if !covered[g.edges[e].group] {
			return false
		}
	}
	a, b := g.curves[q], g.curves[p]
	if len(a)*len(b) > tableLimit {
		return false
	}
	for y := 1; y < len(b); y++ {
		for x := 0; x+y < len(a); x++ {
			if a[x+y] > a[x].plus(b[y]) {
				return false
			}
		}
	}
	return true
}

func (g *model) without(dead []bool) *model {
	left := &model{groups: g.groups, unit: g.unit}
	now := make([]int, len(g.parts))
	for p, gone := range dead {
		if gone {
			continue
		}
		now[p] = len(left.parts)
		left.parts = append(left.parts, g.parts[p])
		left.curves = append(left.curves, g.curves[p])
	}
	for _, x := range g.edges {
		if !dead[x.part] {
			left.edges = append(left.edges, edge{group: x.group, part: now[x.part]})
		}
	}
	left.link()
	return left
}

// withLeaving adds to each group an edge for leaving needs unfilled, at a
// penalty each. Parts cost by the curves given.
func (g *model) withLeaving(penalty cost, curves [][]cost) *model {
	wide := &model{groups: slices.Clone(g.groups), unit: g.unit,
		parts: slices.Clone(g.parts), curves: slices.Clone(curves), edges: slices.Clone(g.edges)}
	for i, gr := range g.groups {
		curve := make([]cost, len(gr.needs)*gr.size+1)
		for k := 1; k < len(curve); k++ {
			curve[k] = penalty.times((k + gr.size - 1) / gr.size)
		}
		wide.edges = append(wide.edges, edge{group: i, part: len(wide.parts)})
		wide.parts = append(wide.parts, leave)
		wide.curves = append(wide.curves, curve)
	}
	wide.link()
	return wide
}

// availability is the curves with every cost that can be had made nothing.
func (g *model) availability() [][]cost {
	free := make([][]cost, len(g.curves))
	for p, curve := range g.curves {
		free[p] = make([]cost, len(curve))
		for k, c := range curve {
			if c >= never {
				free[p][k] = never
			}
		}
	}
	return free
}

// price is what counts per edge cost, all parts together.
func (g *model) price(x []int) cost {
	total := cost(0)
	for p, edges := range g.of {
		units := 0
		for _, e := range edges {
			units += x[e] * g.size(e)
		}
		total = total.plus(g.curves[p][units])
	}
	return total
}

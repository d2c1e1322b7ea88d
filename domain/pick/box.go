package pick

import "slices"

// box is a part of the search space: how many of its group's needs each edge
// takes, from lo to hi, and how many units of each part are used, from least to most.
type box struct {
	lo, hi      []int
	least, most []int
}

func (g *model) whole() box {
	b := box{lo: make([]int, len(g.edges)), hi: make([]int, len(g.edges)), least: make([]int, len(g.parts)), most: make([]int, len(g.parts))}
	for e := range g.edges {
		b.hi[e] = g.count(e)
	}
	for p := range g.parts {
		b.most[p] = g.demand(p)
	}
	return b
}

func (b box) clone() box {
	return box{lo: slices.Clone(b.lo), hi: slices.Clone(b.hi), least: slices.Clone(b.least), most: slices.Clone(b.most)}
}

// close narrows the box until its limits agree with each other, and says
// whether anything can be left in it. A box closed to one point per edge is a
// filling: parts and groups have each been looked at since the last change.
func (g *model) close(b box) bool {
	for {
		narrowed, ok := g.closeGroups(b)
		if !ok {
			return false
		}
		more, ok := g.closeParts(b)
		if !ok {
			return false
		}
		if !narrowed && !more {
			return true
		}
	}
}

// closeGroups holds the counts of each group's edges against its needs.
func (g *model) closeGroups(b box) (narrowed, ok bool) {
	for i := range g.groups {
		gr := &g.groups[i]
		lo, hi := 0, 0
		for _, e := range gr.edges {
			if b.lo[e] > b.hi[e] {
				return false, false
			}
			lo, hi = lo+b.lo[e], hi+b.hi[e]
		}
		n := len(gr.needs)
		if lo > n || hi < n {
			return false, false
		}
		for _, e := range gr.edges {
			most, least := n-(lo-b.lo[e]), n-(hi-b.hi[e])
			if most < b.hi[e] || least > b.lo[e] {
				b.hi[e], b.lo[e] = min(b.hi[e], most), max(b.lo[e], least)
				narrowed = true
			}
		}
	}
	return narrowed, true
}

// closeParts holds the counts of each part's edges against its units.
func (g *model) closeParts(b box) (narrowed, ok bool) {
	for p, edges := range g.of {
		base, full := 0, 0
		for _, e := range edges {
			base, full = base+b.lo[e]*g.size(e), full+b.hi[e]*g.size(e)
		}
		if base > b.least[p] || full < b.most[p] {
			b.least[p], b.most[p] = max(b.least[p], base), min(b.most[p], full)
			narrowed = true
		}
		if b.least[p] > b.most[p] {
			return false, false
		}
		for _, e := range edges {
			if most := b.lo[e] + (b.most[p]-base)/g.size(e); most < b.hi[e] {
				b.hi[e] = most
				narrowed = true
			}
		}
	}
	return narrowed, true
}

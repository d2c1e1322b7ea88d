package pick

import (
	"cmp"
	"fmt"
	"maps"
	"slices"

	"coldrise/domain/part"
)

// standIn is one offer that could take over, and how good it is at that.
type standIn struct {
	part, offer  int
	sameMaker    bool
	noStock      bool // the offer's stock does not cover the pieces
	sameSupplier bool // as one that the part it stands in for is bought from
	cost         cost
	way          int
}

// before says which of two is the better second source.
func (a *standIn) before(b *standIn) bool {
	return cmp.Or(compareBool(a.sameMaker, b.sameMaker), compareBool(a.noStock, b.noStock), compareBool(a.sameSupplier, b.sameSupplier),
		cmp.Compare(a.cost, b.cost), cmp.Compare(a.part, b.part), cmp.Compare(a.offer, b.offer), cmp.Compare(a.way, b.way)) < 0
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

// seconds finds the second sources of an order: for each line, and for each
// place another way.
type seconds struct {
	c      *compiler
	o      *Order
	beside map[string][]int  // by the places they fill, the ways
	taken  []map[string]bool // by part, the suppliers it is bought from
}

func (c *compiler) seconds(o *Order) {
	s := seconds{c: c, o: o, beside: map[string][]int{}, taken: make([]map[string]bool, len(c.job.Parts))}
	for w := range c.job.Ways {
		key := s.key(w)
		s.beside[key] = append(s.beside[key], w)
	}
	for _, l := range o.Lines {
		if s.taken[l.Part] == nil {
			s.taken[l.Part] = map[string]bool{}
		}
		s.taken[l.Part][c.job.Parts[l.Part].Offers[l.Offer].Supplier] = true
	}
	for i := range o.Lines {
		if best := s.forLine(&o.Lines[i]); best != nil {
			o.Lines[i].Second = &Second{Part: best.part, Offer: best.offer, OtherMaker: !best.sameMaker, InStock: !best.noStock}
		}
	}
	o.Alternates = make([]int, len(c.job.Places))
	for k, w := range o.Chosen {
		o.Alternates[k] = none
		if best := s.forWay(w); best != nil {
			o.Alternates[k] = best.way
		}
	}
}

// key is the places that a way fills.
func (s *seconds) key(w int) string {
	return fmt.Sprint(slices.Sorted(slices.Values(s.c.job.Ways[w].Places)))
}

// forLine looks for what passes wherever a line's part is used, and at the
// part's other suppliers.
func (s *seconds) forLine(l *Line) *standIn {
	pieces := map[int]int{l.Part: l.ForUse + l.ForSpare} // by part that may stand in
	for i, w := range s.users(l.Part) {
		here := s.instead(w, l.Part)
		for p := range pieces {
			if p == l.Part {
				continue
			}
			if n, ok := here[p]; ok {
				pieces[p] += n
			} else {
				delete(pieces, p)
			}
		}
		if i == 0 {
			for p, n := range here {
				pieces[p] = n
			}
		}
	}
	var best *standIn
	for _, p := range slices.Sorted(maps.Keys(pieces)) {
		n := pieces[p]
		if p != l.Part {
			n = s.c.s.required(n)
		}
		best = s.better(best, p, n, l.Part, none)
	}
	return best
}

// users gives the chosen ways that take a part, each once.
func (s *seconds) users(p int) []int {
	var ways []int
	for _, w := range s.o.Chosen {
		if w != none && !slices.Contains(ways, w) && s.c.uses(w, p) {
			ways = append(ways, w)
		}
	}
	return ways
}

func (c *compiler) uses(w, p int) bool {
	return slices.ContainsFunc(c.job.Ways[w].Pieces, func(t Pieces) bool { return t.Part == p })
}

// instead gives the parts, and their pieces, that other ways over the same
// places take without a part.
func (s *seconds) instead(w, p int) map[int]int {
	all := map[int]int{}
	for _, v := range s.beside[s.key(w)] {
		if s.c.uses(v, p) {
			continue
		}
		for _, t := range s.c.takes(v) {
			if n, known := all[t.Part]; !known || t.Count < n {
				all[t.Part] = t.Count
			}
		}
	}
	return all
}

// better gives the best of a part's offers and of what was best before.
func (s *seconds) better(best *standIn, p, pieces, instead, way int) *standIn {
	job := s.c.job
	for i := range job.Parts[p].Offers {
		o := &job.Parts[p].Offers[i]
		rate, ok := s.c.s.rate(o.Currency)
		if !ok || !s.c.intime(o) || pieces < 1 {
			continue
		}
		x := standIn{part: p, offer: i, way: way, sameMaker: job.Parts[p].Maker == job.Parts[instead].Maker, sameSupplier: s.taken[instead][o.Supplier]}
		if x.sameMaker && x.sameSupplier {
			continue
		}
		if x.cost = s.c.least(o, rate, pieces); x.cost >= never {
			endless := *o
			endless.Stock = maxStock
			x.noStock, x.cost = true, s.c.least(&endless, rate, pieces)
		}
		if x.cost < never && (best == nil || x.before(best)) {
			best = &x
		}
	}
	return best
}

// least is what so many pieces cost at one offer.
func (m *market) least(o *part.Offer, rate Rate, pieces int) cost {
	least := never
	for _, st := range m.cut(o, rate) {
		if pieces <= st.hi {
			least = min(least, st.price.times(st.atLeast(pieces, o.Pack)))
		}
	}
	return least
}

// forWay looks for another way over the same places whose first part is
// another maker's.
func (s *seconds) forWay(w int) *standIn {
	if w == none || len(s.c.job.Ways[w].Pieces) == 0 {
		return nil
	}
	p := s.c.job.Ways[w].Pieces[0].Part
	var best *standIn
	for _, v := range s.beside[s.key(w)] {
		if len(s.c.job.Ways[v].Pieces) == 0 {
			continue
		}
		t := s.c.takes(v)[0]
		if s.c.job.Parts[t.Part].Maker != s.c.job.Parts[p].Maker {
			best = s.better(best, t.Part, s.c.s.required(t.Count), p, v)
		}
	}
	return best
}

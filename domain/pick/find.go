package pick

import "slices"

// finder answers the questions that an order takes, one search after the other,
// within one limit of nodes.
type finder struct {
	limit   int
	nodes   int
	stopped bool // one of the searches was, by the limit
	scale   cost
	tell    func(Progress)
}

// found is the outcome. Best is nil where no order keeps the limits, and left
// how many places no order fills.
type found struct {
	g      *model
	best   *basket
	bound  cost
	left   int
	status Status
	nodes  int
}

// unit is one place or one part where those are counted and not money; large,
// so that steps in whole numbers are fine enough.
const unit cost = 1 << 20

// find first settles how few places can be left unfilled by stock, then whether
// the limit of parts can be kept so, then what is cheapest. Where the suppliers'
// minima then let nothing be bought, more places are left.
func (q *finder) find(g *model) (found, error) {
	start, left, err := q.fewestUnfilled(g)
	if err != nil {
		return found{}, err
	}
	if start.price() >= weighable/cost(len(g.groups)+1) {
		return found{}, tooLarge()
	}
	if left > 0 {
		return q.leaving(g, start.x)
	}
	f, err := q.cheapest(g, start, 0)
	if err != nil || f.status != Infeasible || !g.asksMinimum() {
		return f, err
	}
	return q.leaving(g, start.x)
}

// leaving finds the cheapest order with the fewest places left, from a filling
// that may leave some. One place more has to cost more than all it could save.
func (q *finder) leaving(g *model, x []int) (found, error) {
	start := newFilling(g, g.curves(), x)
	penalty := start.price().plus(g.carriage()).plus(g.minima()).plus(1)
	wide := g.withLeaving(penalty)
	free := *wide
	free.limit = 0
	f, err := q.cheapest(&free, newFilling(&free, free.curves(), append(slices.Clone(x), g.left(x)...)), penalty)
	if err != nil || g.limit == 0 || f.status == Cancelled {
		return f, err
	}
	least := f.left
	f, err = q.cheapest(wide, newFilling(wide, wide.curves(), f.best.x), penalty)
	if f.best != nil && f.left > least {
		f.best, f.status = nil, Infeasible
	}
	return f, err
}

// cheapest finds the cheapest order of a model from a first filling.
func (q *finder) cheapest(g *model, start *filling, penalty cost) (found, error) {
	if g.limit > 0 {
		var err error
		if start, err = q.keepLimit(g, start); start == nil {
			return found{g: g, status: Infeasible, nodes: q.nodes}, err
		}
	}
	s := q.search(g, 1)
	s.tell = q.report(penalty)
	s.hint = start.price().plus(g.carriage()).plus(g.minima())
	s.offer(start, g.allOpen())
	if penalty > 0 {
		s.offer(newFilling(g, g.curves(), append(make([]int, len(g.ways)-len(g.groups)), g.left(nil)...)), g.allOpen())
	}
	s.run()
	q.nodes += s.nodes
	f := found{g: g, best: s.best, status: Proven, nodes: q.nodes, bound: s.bound()}
	switch {
	case s.cancelled && s.best == nil:
		return f, cancelled()
	case s.cancelled:
		f.status = Cancelled
	case q.stopped || s.stopped:
		f.status = NodeLimit
	case s.best == nil:
		f.status = Infeasible
	}
	if f.best != nil && penalty > 0 {
		f.left = int(f.best.cost / penalty)
		f.best.cost -= penalty.times(f.left)
		f.bound = f.bound - penalty.times(f.left)
	}
	f.bound = max(0, f.bound)
	return f, nil
}

func (q *finder) search(g *model, grain cost) *search {
	return g.newSearch(grain, max(1, q.limit-q.nodes))
}

// count runs a search in which places or parts are counted, from a first
// filling, and gives the best filling and its count.
func (q *finder) count(g *model, start *filling) (x []int, n int, err error) {
	s := q.search(g, unit)
	s.offer(start, nil)
	s.run()
	q.nodes += s.nodes
	q.stopped = q.stopped || s.stopped
	if s.cancelled {
		return nil, 0, cancelled()
	}
	return s.best.x, int(s.cost / unit), nil
}

// fewestUnfilled gives a filling with as few places left out as can be, by
// stock alone, and their number.
func (q *finder) fewestUnfilled(g *model) (start *filling, left int, err error) {
	free := *g
	free.limit = 0
	start, ok := free.fill(g.curves())
	if !ok {
		wide := free.available().withLeaving(unit)
		first, _ := wide.fill(wide.curves())
		x, n, err := q.count(wide, first)
		if err != nil {
			return nil, 0, err
		}
		start, left = newFilling(&free, g.curves(), x[:len(g.ways)]), n
	}
	if left == 0 {
		start.improve()
	}
	return start, left, nil
}

// keepLimit gives a filling within the limit of parts; nil where there is none
// with so many places filled.
func (q *finder) keepLimit(g *model, start *filling) (*filling, error) {
	if start.inUse <= g.limit {
		return newFilling(g, g.curves(), start.x), nil
	}
	if f, ok := g.fewer(start); ok {
		return f, nil
	}
	x, parts, err := q.leastParts(g, start)
	if err != nil || parts > g.limit {
		return nil, err
	}
	return newFilling(g, g.curves(), x), nil
}

// leastParts finds the least number of distinct parts that a filling takes.
func (q *finder) leastParts(g *model, start *filling) (x []int, parts int, err error) {
	counted := g.counted()
	return q.count(counted, newFilling(counted, counted.curves(), start.x))
}

// fewer drops goods from a filling until it keeps the limit, each time the one
// that costs least.
func (g *model) fewer(start *filling) (*filling, bool) {
	f := newFilling(g, start.curves, start.x)
	for f.inUse > g.limit {
		before := slices.Clone(f.x)
		var best []int
		least := never
		for d := range g.goods {
			if f.load[d] == 0 || !g.goods[d].counts() {
				continue
			}
			if f.empty(d) && f.price() < least {
				best, least = slices.Clone(f.x), f.price()
			}
			f.reset(before)
		}
		if best == nil {
			return nil, false
		}
		f.reset(best)
	}
	return f, true
}

// report tells progress in money.
func (q *finder) report(paid cost) func(*search) {
	if q.tell == nil {
		return func(*search) {}
	}
	return func(s *search) {
		p := Progress{Found: s.best != nil, Nodes: q.nodes + s.nodes, Share: int(s.share * 1000 / shares), Bound: max(0, s.root-paid).money(q.scale)}
		if p.Found {
			p.Best = (s.cost - paid).money(q.scale)
		}
		q.tell(p)
	}
}

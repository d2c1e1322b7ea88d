package pick

import (
	"slices"

	"coldrise/domain/problem"
)

// DefaultMaxNodes is how many nodes a search has where Settings says nothing.
const DefaultMaxNodes = 10_000

// search is depth-first branch and bound. A node is a box; it is left when its
// bound shows that nothing in it costs target or less.
type search struct {
	g     *model
	b     *bounder
	buyer *buyer
	best  *basket
	cost  cost // of best
	grain cost // costs differ by this at least
	nodes int
	limit int
	// Where the search was stopped, open is the least bound among the boxes not
	// looked into to the end.
	stopped   bool
	cancelled bool
	open      cost
	share     int  // settled part of the space, in shares
	root      cost // bound found at the root
	hint      cost // about what an order costs, while there is none
	tell      func(*search)
	// Running means over the evaluations of an ascent.
	use  []int   // by good, units used
	paid []cost  // by good, what the bound pays for them
	mean [][]int // by good and item, how often it is built
	in   [][]int // by seller and mode, how often the seller is in it
}

// shares is the whole space, halved at each split.
const shares = 1 << 40

func (g *model) newSearch(grain cost, limit int) *search {
	s := &search{g: g, b: newBounder(g), buyer: newBuyer(g), grain: grain, limit: limit, open: never, cost: never, hint: never, root: lowest,
		use: make([]int, len(g.goods)), paid: make([]cost, len(g.goods)), tell: func(*search) {}}
	for d := range g.goods {
		s.mean = append(s.mean, make([]int, len(g.goods[d].items)))
	}
	for i := range g.sellers {
		s.in = append(s.in, make([]int, len(g.sellers[i].bands)+1))
	}
	return s
}

// run searches the whole space.
func (s *search) run() {
	mult := make([]cost, s.b.at.all)
	for i := range s.g.groups {
		mult[i] = s.g.usualCost(i)
	}
	s.visit(s.g.whole(), mult, lowest, shares)
}

// usualCost is the least cost of one place of a group where goods are bought in
// the number that makes each unit cheapest.
func (g *model) usualCost(i int) cost {
	least := never
	for _, w := range g.groups[i].ways {
		c := g.ways[w].extra
		for _, t := range g.ways[w].takes {
			unit := never
			for k, paid := range g.goods[t.good].curve {
				if k > 0 && paid < never {
					unit = min(unit, paid/cost(k))
				}
			}
			c = c.plus(unit.times(t.units))
		}
		least = min(least, c/cost(len(g.ways[w].cover)))
	}
	return least
}

// target is what an order may cost at most to be better than the best.
func (s *search) target() cost { return s.cost - s.grain }

// offer improves a filling, settles where to buy it, and keeps it where it is better.
func (s *search) offer(f *filling, open []bool) {
	f.improve()
	if b, ok := s.buyer.buy(f, open); ok {
		s.record(b)
	}
}

// gap is how far a bound is below the best order, or what one may cost.
func (s *search) gap(bound cost) cost { return max(0, min(s.cost, s.hint)-bound) }

func (s *search) record(b *basket) {
	if b.cost < s.cost {
		s.best, s.cost = b, b.cost
		s.tell(s)
	}
}

// bound is a lower bound on every order's cost.
func (s *search) bound() cost { return min(s.open, s.cost) }

// leave ends a node unsettled, with a bound for it.
func (s *search) leave(floor cost) {
	s.stopped = true
	s.open = min(s.open, floor)
}

// visit searches a box. Floor is a bound known for it already; the multipliers
// are where the ascent starts.
func (s *search) visit(in box, mult []cost, floor cost, share int) {
	s.cancelled = s.cancelled || s.g.halted()
	if s.cancelled || s.nodes >= s.limit {
		s.leave(floor)
		return
	}
	steps := nodeSteps
	if s.nodes == 0 {
		steps = rootSteps
	}
	s.nodes++
	mult = slices.Clone(mult)
	for changed := true; changed; {
		if !s.g.close(in) {
			s.settle(share)
			return
		}
		s.b.focus(in)
		bound := s.ascend(in, mult, steps)
		floor = max(floor, bound)
		if s.nodes == 1 {
			s.root = floor
			s.tell(s)
		}
		if floor > s.target() {
			s.settle(share)
			return
		}
		if s.cancelled {
			s.leave(floor)
			return
		}
		changed = s.b.tighten(in, bound, s.target())
		steps = nodeSteps
	}
	s.branch(in, mult, floor, share)
}

func (s *search) settle(share int) {
	s.share += share
	s.tell(s)
}

func cancelled() error {
	return problem.New(problem.Cancelled, "the search for the cheapest order was cancelled")
}

// branch looks into the two halves of a box, or settles the one filling it is.
func (s *search) branch(in box, mult []cost, floor cost, share int) {
	first, second, ok := s.split(in, s.gap(floor)/justice)
	if !ok {
		best, low, complete := s.g.topUp(s.b, in, s.target())
		if best != nil {
			s.record(best)
		}
		if complete {
			s.settle(share)
		} else {
			s.leave(max(floor, low))
		}
		return
	}
	s.visit(first, mult, floor, share-share/2)
	s.visit(second, mult, floor, share/2)
}

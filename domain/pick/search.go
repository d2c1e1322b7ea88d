package pick

import (
	"context"
	"slices"

	"coldrise/domain/problem"
)

// DefaultMaxNodes is how many nodes a search has where Settings says nothing.
const DefaultMaxNodes = 10_000

// The ascent of the bound. None of these touches what is right, only how soon
// it is reached; they were set on the benchmark's instances.
const (
	rootSteps  = 400 // evaluations at the root
	nodeSteps  = 60  // at every other node
	patience   = 8   // evaluations without a better bound before the step is halved
	fullStep   = 1536
	stepUnit   = 1024 // step 1 as a fraction
	fillEvery  = 10   // evaluations between attempts at a better filling
	meanWeight = 8    // of the running mean of what parts would take
	meanUnit   = 1024
	justice    = 64 // share of the gap below which a part's own gap is let be
)

// search is depth-first branch and bound. A node is a box; it is left when its
// bound shows that nothing in it costs target or less.
type search struct {
	ctx   context.Context
	g     *model
	b     *bounder
	best  []int // by edge
	cost  cost  // of best
	grain cost  // costs differ by this at least
	nodes int
	limit int
	// Where the limit of nodes stopped the search, open is the least bound
	// among the boxes not looked into.
	stopped bool
	open    cost
	mean    []int  // by edge, running mean of what the parts would take
	use     []int  // by part, running mean of the units used
	paid    []cost // by part, running mean of their cost
	err     error
}

// solve finds the cheapest filling, from a first one.
func (g *model) solve(ctx context.Context, start []int, grain cost, limit int) (*search, error) {
	s := &search{ctx: ctx, g: g, b: newBounder(g), grain: grain, limit: limit, open: never, cost: never,
		mean: make([]int, len(g.edges)), use: make([]int, len(g.parts)), paid: make([]cost, len(g.parts))}
	s.offer(newFilling(g, slices.Clone(start)))
	worth := make([]cost, len(g.groups))
	for i := range g.groups {
		worth[i] = g.usualCost(i)
	}
	s.visit(g.whole(), worth, 0)
	return s, s.err
}

// usualCost is the least cost of one need of a group where parts are bought in
// the number that makes each unit cheapest.
func (g *model) usualCost(i int) cost {
	least := never
	for _, e := range g.groups[i].edges {
		curve := g.curves[g.edges[e].part]
		for k := 1; k < len(curve); k++ {
			if curve[k] < never {
				least = min(least, curve[k]/cost(k)*cost(g.groups[i].size))
			}
		}
	}
	return least
}

// target is what a filling may cost at most to be better than the best.
func (s *search) target() cost { return s.cost - s.grain }

// offer improves a filling and keeps it where it is better.
func (s *search) offer(f *filling) {
	f.improve()
	s.record(f.x)
}

func (s *search) record(x []int) {
	if c := s.g.price(x); c < s.cost {
		s.best, s.cost = slices.Clone(x), c
	}
}

// bound is a lower bound on every filling's cost.
func (s *search) bound() cost { return min(s.open, s.cost) }

// visit searches a box. Floor is a bound known for it already; the worths are
// where the ascent starts.
func (s *search) visit(in box, worth []cost, floor cost) {
	if s.err != nil {
		return
	}
	if s.ctx.Err() != nil {
		s.err = cancelled()
		return
	}
	if s.nodes >= s.limit {
		s.stopped = true
		s.open = min(s.open, floor)
		return
	}
	steps := nodeSteps
	if s.nodes == 0 {
		steps = rootSteps
	}
	s.nodes++
	worth = slices.Clone(worth)
	for changed := true; changed; {
		if !s.g.close(in) {
			return
		}
		s.b.focus(in)
		bound := s.ascend(in, worth, steps)
		floor = max(floor, bound)
		if floor > s.target() {
			return
		}
		changed = s.b.tighten(in, bound, s.target())
		steps = nodeSteps
	}
	s.branch(in, worth, floor)
}

func cancelled() error {
	return problem.New(problem.Cancelled, "the search for the cheapest order was cancelled")
}

// branch looks into the two halves of a box, or takes the one point it is.
func (s *search) branch(in box, worth []cost, floor cost) {
	first, second, ok := s.split(in, (s.cost-floor)/justice)
	if !ok {
		s.record(in.lo)
		return
	}
	s.visit(first, worth, floor)
	s.visit(second, worth, floor)
}

// split halves a box, the likelier half first: of the part whose cost the
// bound makes least of, so many units at least are used or fewer; where the
// bound does every part justice, an edge takes at least so many needs or
// fewer. It is not ok where the box is one point. The box itself is used up.
func (s *search) split(in box, slack cost) (first, second box, ok bool) {
	more, less := in, in.clone()
	likely := true
	if p, at := s.openPart(in, slack); p >= 0 {
		more.least[p], less.most[p] = at, at-1
		likely = s.use[p] >= at*meanUnit-meanUnit/2
	} else if e := s.openEdge(in); e >= 0 {
		at := min(max((s.mean[e]+meanUnit/2)/meanUnit, in.lo[e]+1), in.hi[e])
		more.lo[e], less.hi[e] = at, at-1
		likely = s.mean[e] >= at*meanUnit-meanUnit/2
	} else {
		return in, in, false
	}
	if !likely {
		return less, more, true
	}
	return more, less, true
}

// openPart gives the part for which the mean of what the bound pays falls
// furthest below what the mean of the units costs, and the units to split at;
// −1 where that is never more than slack. A curve with line costs and breaks
// is not convex, and the bound sees the chord.
func (s *search) openPart(in box, slack cost) (part, at int) {
	part = -1
	for _, p := range s.b.alive {
		if in.least[p] == in.most[p] {
			continue
		}
		curve, units := s.g.curves[p], s.use[p]/meanUnit
		dear := curve[units]
		if over := s.use[p] % meanUnit; over > 0 {
			dear += (curve[units+1] - dear) / meanUnit * cost(over)
		}
		if gap := dear - s.paid[p]; gap > slack {
			part, slack = p, gap
			at = min(max(units+1, in.least[p]+1), in.most[p])
		}
	}
	return part, at
}

// openEdge gives the edge whose count is least settled, or −1 where the box
// settles all.
func (s *search) openEdge(in box) int {
	best, widest := -1, -1
	for e := range s.g.edges {
		if in.lo[e] == in.hi[e] {
			continue
		}
		over := s.mean[e] % meanUnit
		if open := min(over, meanUnit-over); open > widest {
			best, widest = e, open
		}
	}
	return best
}

// ascend raises the bound over a box by subgradient steps in the worths, and
// leaves the best worths in worth and the bounder evaluated there.
func (s *search) ascend(in box, worth []cost, steps int) cost {
	copy(s.b.worth, worth)
	best, scale, stall := lowest, cost(fullStep), 0
	for i := range steps {
		bound := s.b.evaluate(in)
		s.average(i == 0)
		if bound > best {
			best, stall = bound, 0
			copy(worth, s.b.worth)
		} else if stall++; stall == patience {
			scale, stall = scale/2, 0
			copy(s.b.worth, worth)
			bound = s.b.evaluate(in)
		}
		if i%fillEvery == 0 && (i == 0 || s.nodes == 1) {
			s.refill()
		}
		if best > s.target() || s.ctx.Err() != nil || !s.step(s.cost-bound, scale) {
			break
		}
	}
	copy(s.b.worth, worth)
	return s.b.evaluate(in)
}

// step moves the worths against what needs have too many or too few of, by
// gap/‖excess‖² as far as scale says. It says whether that moves anything.
func (s *search) step(gap, scale cost) bool {
	norm := cost(0)
	for i := range s.g.groups {
		d := cost(s.missing(i))
		norm += d * d
	}
	if norm == 0 {
		s.record(s.b.x)
		return false
	}
	size := gap / norm / stepUnit * scale
	if gap/norm < never/fullStep {
		size = gap / norm * scale / stepUnit
	}
	if size == 0 {
		return false
	}
	for i := range s.g.groups {
		w := s.b.worth[i].plus(size.timesSigned(s.missing(i)))
		s.b.worth[i] = min(max(w, 0), s.cost)
	}
	return true
}

// missing is how many needs of a group no part would take, negative where
// parts would take more than there are.
func (s *search) missing(i int) int {
	n := len(s.g.groups[i].needs)
	for _, e := range s.g.groups[i].edges {
		n -= s.b.x[e]
	}
	return n
}

// average updates the running means by the last evaluation.
func (s *search) average(afresh bool) {
	weight := meanWeight
	if afresh {
		weight = 1
	}
	for _, p := range s.b.alive {
		units := 0
		for _, e := range s.b.order[p] {
			s.mean[e] += (s.b.x[e]*meanUnit - s.mean[e]) / weight
			units += s.b.x[e] * s.g.size(e)
		}
		s.use[p] += (units*meanUnit - s.use[p]) / weight
		s.paid[p] += (s.g.curves[p][units] - s.paid[p]) / cost(weight)
	}
}

// refill makes a filling of what the parts took in the last evaluation.
func (s *search) refill() {
	if f, ok := s.g.repair(s.b.x); ok {
		s.offer(f)
	}
}

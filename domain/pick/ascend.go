package pick

// The ascent of the bound. None of these touches what is right, only how soon
// it is reached; they were set on the benchmark's instances.
const (
	rootSteps  = 400 // evaluations at the root
	nodeSteps  = 60  // at every other node
	patience   = 8   // evaluations without a better bound before the step is halved
	fullStep   = 1536
	stepUnit   = 1024 // step 1 as a fraction
	fillEvery  = 10   // evaluations between attempts at a better filling
	meanWeight = 8    // of the running mean of what goods would take
	justice    = 64   // share of the gap below which a good's own gap is let be
)

// ascend raises the bound over a box by subgradient steps in the multipliers,
// and leaves the best in mult and the bounder evaluated there, exactly.
func (s *search) ascend(in box, mult []cost, steps int) cost {
	s.b.free(in, mult)
	copy(s.b.mult, mult)
	best, scale, stall := lowest, cost(fullStep), 0
	s.b.exact = false
	for i := range steps {
		bound := s.b.evaluate(in)
		s.average(i == 0)
		if bound > best {
			best, stall = bound, 0
			copy(mult, s.b.mult)
		} else if stall++; stall == patience {
			scale, stall = scale/2, 0
			copy(s.b.mult, mult)
			bound = s.b.evaluate(in)
		}
		if i%fillEvery == 0 && (i == 0 || s.nodes == 1) {
			s.refill()
		}
		s.cancelled = s.cancelled || s.g.halted()
		if best > s.target() || s.cancelled || !s.step(s.gap(bound), scale) {
			break
		}
	}
	copy(s.b.mult, mult)
	s.b.exact = true
	return s.b.evaluate(in)
}

// free takes the tolls off the sources of sellers that are open for certain:
// what such a seller asks hangs on nobody.
func (b *bounder) free(in box, mult []cost) {
	for d := range b.g.goods {
		if !b.g.tolled(d) {
			continue
		}
		for _, s := range b.g.goods[d].shop.sources {
			if s.seller != none && (in.modes[s.seller]&closed == 0 || in.modes[s.seller] == closed) {
				mult[b.at.tolls+s.toll] = 0
			}
		}
	}
}

// step moves the multipliers along the slopes by gap/‖slopes‖² as far as scale
// says. It says whether that moves anything.
func (s *search) step(gap, scale cost) bool {
	b := s.b
	norm := cost(0)
	for i, v := range b.slope {
		if b.stuck(i, v) {
			b.slope[i] = 0
			continue
		}
		norm += cost(v) * cost(v)
	}
	if norm == 0 {
		return false
	}
	moved := false
	for i, v := range b.slope {
		if v == 0 {
			continue
		}
		by := mulDiv(max(gap, 0), scale*cost(max(v, -v))*fraction/stepUnit, norm, false)
		if v < 0 {
			by = -by
		}
		moved = moved || by != 0
		b.mult[i] = b.held(i, b.mult[i]+by)
	}
	return moved
}

// stuck says whether a multiplier stands at its limit and leans beyond.
func (b *bounder) stuck(i, slope int) bool {
	if i < b.at.tolls {
		return false
	}
	if slope < 0 {
		return b.mult[i] <= 0
	}
	return i >= b.at.stakes && b.mult[i] >= b.g.sellers[i-b.at.stakes].ceiling
}

// held keeps a multiplier within its limits: tolls and stakes are not negative.
func (b *bounder) held(i int, v cost) cost {
	const far = weighable >> 8
	switch {
	case i < b.at.tolls:
		return min(max(v, -far), far)
	case i < b.at.stakes:
		return min(max(v, 0), far)
	}
	return min(max(v, 0), b.g.sellers[i-b.at.stakes].ceiling)
}

// average updates the running means by the last evaluation.
func (s *search) average(afresh bool) {
	weight := meanWeight
	if afresh {
		weight = 1
	}
	for _, d := range s.b.alive {
		for _, i := range s.b.order[d] {
			s.mean[d][i] += (s.b.taken[d][i]*fraction - s.mean[d][i]) / weight
		}
		s.use[d] += (s.b.units[d]*fraction - s.use[d]) / weight
		s.paid[d] += (s.b.curves[d][s.b.units[d]] - s.paid[d]) / cost(weight)
	}
	for i, m := range s.b.modes {
		for k := range s.in[i] {
			share := 0
			if k == m {
				share = fraction
			}
			s.in[i][k] += (share - s.in[i][k]) / weight
		}
	}
}

// refill makes a filling of what the goods took in the last evaluation, and of
// sellers those open whose goods would buy there.
func (s *search) refill() {
	x := make([]int, len(s.g.ways))
	for _, d := range s.b.alive {
		for i, it := range s.g.goods[d].items {
			if it.split == none {
				x[it.way] = s.b.taken[d][i]
			}
		}
	}
	open := make([]bool, len(s.g.sellers))
	for i := range open {
		open[i] = s.b.modes[i] > 0 || s.in[i][0] < fraction/2
	}
	curves := s.openCurves(open)
	if f, ok := s.g.repair(curves, x); ok {
		s.offer(f, open)
	}
}

// openCurves gives what goods cost at the open sellers by their lists.
func (s *search) openCurves(open []bool) [][]cost {
	curves := make([][]cost, len(s.g.goods))
	for d := range s.g.goods {
		curves[d] = s.g.goods[d].curve
		if !s.g.tolled(d) {
			continue
		}
		h := s.g.goods[d].shop
		by := listed(h.sources)
		for k := range h.sources {
			if x := h.sources[k].seller; x != none && !open[x] {
				by.entry[k] = never
			}
		}
		curves[d] = h.cheapest(by, make([]cost, len(h.need)))
	}
	return curves
}

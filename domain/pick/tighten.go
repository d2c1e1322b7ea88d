package pick

// tighten takes out of the box what cannot be part of an order of cost target
// or less, by the bound with one limit changed. The last evaluation was over
// this box, at exact curves, and gave bound.
func (b *bounder) tighten(in box, bound, target cost) (changed bool) {
	for i := range b.g.sellers {
		changed = b.tightenSeller(in, i, target-(bound-b.terms[i])) || changed
	}
	for _, d := range b.alive {
		changed = b.tightenGood(in, d, bound, target) || changed
	}
	return changed
}

// tightenSeller takes away the modes whose term passes room.
func (b *bounder) tightenSeller(in box, i int, room cost) (changed bool) {
	left := in.modes[i]
	if left.settled() {
		return false
	}
	if left&closed != 0 && room < 0 {
		left &^= closed
	}
	for k := range b.g.sellers[i].bands {
		if left&(2<<k) != 0 && b.opening(i, k)-b.tolls[i] > room {
			left &^= 2 << k
		}
	}
	if left == in.modes[i] {
		return false
	}
	in.modes[i] = left
	return true
}

// tightenGood narrows a good's units, and the counts of the ways that use it.
func (b *bounder) tightenGood(in box, d int, bound, target cost) (changed bool) {
	base, credit := b.base(d, in)
	b.knap.fill(b, d, in, in.most[d]-base, true)
	f := fitting{curve: b.curves[d], worth: b.knap.worth, base: base, credit: credit}
	used, unused := target-b.rest(in, d, bound, true), target-b.rest(in, d, bound, false)
	over := func(units int) bool {
		if units == 0 {
			return f.at(0) > unused
		}
		return f.at(units) > used
	}
	for in.least[d] <= in.most[d] && over(in.least[d]) {
		in.least[d]++
		changed = true
	}
	for in.least[d] <= in.most[d] && over(in.most[d]) {
		in.most[d]--
		changed = true
	}
	if in.least[d] > in.most[d] {
		return true
	}
	items := b.g.goods[d].items
	for _, i := range b.order[d] {
		x := &items[i]
		for in.hi[x.way] > in.lo[x.way] && f.with(in, d, x.units, in.hi[x.way]-in.lo[x.way], b.worth(x)) > used {
			in.hi[x.way]--
			changed = true
		}
	}
	return changed
}

// fitting weighs one good's use with a limit changed.
type fitting struct {
	curve, worth []cost
	base         int
	credit       cost
}

// at is the good's term where just so many units are used.
func (f *fitting) at(units int) cost {
	k := units - f.base
	if k < 0 || k >= len(f.worth) || f.worth[k] <= lowest || f.curve[units] >= never {
		return never
	}
	return f.curve[units] - f.credit - f.worth[k]
}

// with is a lower bound on the term where one way is built so many times more,
// each of units and worth: the others make up the rest as best they can.
func (f *fitting) with(in box, d, units, times int, worth cost) cost {
	best := never
	for u := max(in.least[d], f.base+units*times); u <= in.most[d]; u++ {
		k := u - f.base - units*times
		if k >= len(f.worth) {
			break
		}
		if f.worth[k] > lowest && f.curve[u] < never {
			best = min(best, f.curve[u]-f.credit-f.worth[k]-worth*cost(times))
		}
	}
	return best
}

package pick

// improve applies moves for as long as they pay.
func (f *filling) improve() {
	for range polishRounds {
		if f.g.halted() {
			return
		}
		paid := f.movePlaces()
		paid = f.joinGoods() || paid
		paid = f.dropGoods() || paid
		paid = f.tryBundles() || paid
		if !paid {
			return
		}
	}
}

// movePlaces takes one place out and fills it anew.
func (f *filling) movePlaces() (paid bool) {
	for w := range f.x {
		cover := f.g.ways[w].cover
		for more := true; more && f.x[w] > 0 && len(cover) == 1; {
			saved := f.change(w, -1)
			f.move(w, -1)
			end, way, least := f.nearest(cover[0], none)
			switch more = least < -saved; {
			case !more:
				f.move(w, 1)
			case end != none:
				f.follow(end)
			default:
				f.move(way, 1)
			}
			paid = paid || more
		}
	}
	return paid
}

// joinGoods moves to another good all that it can take of one's places.
func (f *filling) joinGoods() (paid bool) {
	arrive := make([]int, len(f.g.goods)) // units that each good could take
	leave := make([]int, len(f.g.goods))  // and those that would leave for it
	extra := make([]cost, len(f.g.goods))
	for q := range f.g.goods {
		if f.load[q] == 0 {
			continue
		}
		clear(arrive)
		clear(leave)
		clear(extra)
		f.beside(q, func(from, to int) {
			a, b := &f.g.ways[from], &f.g.ways[to]
			d := b.takes[0].good
			arrive[d] += f.x[from] * b.takes[0].units
			leave[d] += f.x[from] * a.takes[0].units
			extra[d] += (b.extra - a.extra) * cost(f.x[from])
		})
		for d, units := range arrive {
			if units == 0 {
				continue
			}
			more := f.shiftFor(q, leave[d], d, units)
			if more < never && more+f.shift(q, -leave[d])+extra[d] < 0 {
				f.join(q, d)
				paid = true
				break
			}
		}
	}
	return paid
}

// shiftFor is shift where units of another good are given up for it.
func (f *filling) shiftFor(q, leave, d, units int) cost {
	if leave < f.load[q] || !f.g.goods[q].counts() {
		return f.shift(d, units)
	}
	f.inUse--
	defer func() { f.inUse++ }()
	return f.shift(d, units)
}

func (f *filling) join(q, d int) {
	f.beside(q, func(from, to int) {
		if n := f.x[from]; f.g.ways[to].takes[0].good == d {
			f.move(to, n)
			f.move(from, -n)
		}
	})
}

// beside visits each simple way of q that is built, with the first simple way
// of each other good that fills the same place.
func (f *filling) beside(q int, visit func(from, to int)) {
	for _, x := range f.g.goods[q].items {
		if f.x[x.way] == 0 || !f.g.simple(x.way) {
			continue
		}
		last := none
		for _, to := range f.g.groups[f.g.ways[x.way].cover[0]].ways {
			if !f.g.simple(to) {
				continue
			}
			if d := f.g.ways[to].takes[0].good; d != q && d != last {
				visit(x.way, to)
				last = d
			}
		}
	}
}

// dropGoods does without one good, its places being filled each where it costs least.
func (f *filling) dropGoods() (paid bool) {
	for d := range f.g.goods {
		if f.load[d] == 0 || f.g.halted() {
			continue
		}
		before, was := append([]int(nil), f.x...), f.price()
		if f.empty(d) && f.price() < was {
			paid = true
			continue
		}
		f.reset(before)
	}
	return paid
}

func (f *filling) empty(d int) bool {
	for _, x := range f.g.goods[d].items {
		for f.x[x.way] > 0 {
			f.move(x.way, -1)
			for _, i := range f.g.ways[x.way].cover {
				if f.missing(i) > 0 && !f.place(i, d) {
					return false
				}
			}
		}
	}
	return f.load[d] == 0
}

// tryBundles builds ways over several places instead of what fills them, and
// the other way round.
func (f *filling) tryBundles() (paid bool) {
	for w := range f.g.ways {
		if len(f.g.ways[w].cover) == 1 || f.g.halted() {
			continue
		}
		if f.x[w] == 0 {
			paid = f.swap(w, 0) || paid
			continue
		}
		before, was := append([]int(nil), f.x...), f.price()
		f.move(w, -1)
		ok := true
		for _, i := range f.g.ways[w].cover {
			ok = ok && (f.missing(i) <= 0 || f.place(i, none))
		}
		if !ok || f.price() >= was {
			f.reset(before)
		} else {
			paid = true
		}
	}
	return paid
}

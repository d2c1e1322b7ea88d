package pick

// filling is one way to fill every place, being improved: the orders that the
// search prunes against come from here. Nothing in it has to be best.
type filling struct {
	g      *model
	curves [][]cost // what goods are taken to cost
	x      []int    // how often each way is built
	load   []int    // units used of each good
	inUse  int      // goods used that count as parts
	// Scratch of reach: the goods reached, and for each the move that reaches it.
	reached []int
	into    []int  // by good, the way by which a place arrives; none where not reached
	out     []int  // by good, the way which that place leaves; none for the place being filled
	extra   []cost // by good, what the moves up to it cost beside their pieces
}

// polishRounds bounds the improvement of one filling.
const polishRounds = 20

func newFilling(g *model, curves [][]cost, x []int) *filling {
	f := &filling{g: g, curves: curves, x: make([]int, len(g.ways)), load: make([]int, len(g.goods)),
		into: make([]int, len(g.goods)), out: make([]int, len(g.goods)), extra: make([]cost, len(g.goods))}
	f.reset(x)
	return f
}

// reset makes it the filling x.
func (f *filling) reset(x []int) {
	clear(f.x)
	clear(f.load)
	f.inUse = 0
	for w, n := range x {
		if n > 0 {
			f.move(w, n)
		}
	}
}

// fill takes places one by one to where each costs least, groups with the least
// choice before the others. It says whether every place was filled.
func (g *model) fill(curves [][]cost) (*filling, bool) {
	f := newFilling(g, curves, nil)
	return f, f.complete()
}

// repair makes a filling of what the goods would take by themselves: what
// groups have too many of is put back, then the rest is filled.
func (g *model) repair(curves [][]cost, x []int) (*filling, bool) {
	f := newFilling(g, curves, x)
	for d := range g.goods {
		for _, x := range g.goods[d].items {
			for f.x[x.way] > 0 && (f.load[d] >= len(curves[d]) || curves[d][f.load[d]] >= never) {
				f.move(x.way, -1)
			}
		}
	}
	for i := range g.groups {
		for n := f.missing(i); n < 0; n++ {
			f.move(f.dearest(i), -1)
		}
	}
	return f, f.complete()
}

func (f *filling) missing(i int) int {
	n := len(f.g.groups[i].places)
	for _, w := range f.g.groups[i].ways {
		n -= f.x[w]
	}
	return n
}

// dearest finds the way of a group that saves most by being built once less.
func (f *filling) dearest(i int) int {
	best, most := none, never
	for _, w := range f.g.groups[i].ways {
		if f.x[w] == 0 {
			continue
		}
		if d := f.change(w, -1); d < most || best == none {
			best, most = w, d
		}
	}
	return best
}

func (f *filling) complete() bool {
	for size := 1; ; size++ {
		wider := false
		for i := range f.g.groups {
			wider = wider || len(f.g.groups[i].ways) > size
			if len(f.g.groups[i].ways) != size {
				continue
			}
			for n := f.missing(i); n > 0; n-- {
				if !f.place(i, none) && !f.force(i) {
					return false
				}
			}
		}
		if !wider {
			return true
		}
	}
}

// change is the further cost where a way is built n times more; never where it
// cannot be.
func (f *filling) change(w, n int) cost {
	x := &f.g.ways[w]
	total := x.extra.timesSigned(n)
	for _, t := range x.takes {
		d := f.shift(t.good, n*t.units)
		if d >= never {
			return never
		}
		total += d
	}
	return total
}

func (f *filling) shift(d, units int) cost {
	curve, load := f.curves[d], f.load[d]
	if load+units >= len(curve) || curve[load+units] >= never {
		return never
	}
	if load == 0 && units > 0 && f.g.limit > 0 && f.inUse >= f.g.limit && f.g.goods[d].counts() {
		return never
	}
	return curve[load+units] - curve[load]
}

func (f *filling) move(w, n int) {
	f.x[w] += n
	for _, t := range f.g.ways[w].takes {
		before := f.load[t.good]
		f.load[t.good] += n * t.units
		if !f.g.goods[t.good].counts() {
			continue
		}
		if before == 0 {
			f.inUse++
		} else if f.load[t.good] == 0 {
			f.inUse--
		}
	}
}

// simple says whether a way fills one place with one good.
func (g *model) simple(w int) bool {
	return len(g.ways[w].cover) == 1 && len(g.ways[w].takes) == 1
}

// pieces is how many a simple way takes.
func (g *model) pieces(w int) int {
	t := g.ways[w].takes[0]
	return t.units * g.goods[t.good].unit
}

// place fills one more place of a group where that costs least, not with the
// good barred. Where stock stands in the way, places filled from as many pieces
// make room along a chain: only the good at its end is used more.
func (f *filling) place(i, barred int) bool {
	end, way, _ := f.nearest(i, barred)
	switch {
	case end != none:
		f.follow(end)
	case way != none:
		f.move(way, 1)
	default:
		return false
	}
	return true
}

// nearest finds where one more place of a group costs least: at the end of a
// chain of simple ways, or by another way whose places are all to be filled.
func (f *filling) nearest(i, barred int) (end, way int, least cost) {
	end, way, least = none, none, never
	f.reach(i, barred)
	for _, d := range f.reached {
		c := f.shift(d, f.g.ways[f.into[d]].takes[0].units)
		if c < never && c+f.extra[d] < least {
			end, least = d, c+f.extra[d]
		}
	}
	for _, w := range f.g.groups[i].ways {
		if f.g.simple(w) || f.uses(w, barred) || !f.fits(w) {
			continue
		}
		if c := f.change(w, 1); c < least {
			end, way, least = none, w, c
		}
	}
	return end, way, least
}

func (f *filling) uses(w, d int) bool {
	for _, t := range f.g.ways[w].takes {
		if t.good == d {
			return true
		}
	}
	return false
}

// fits says whether every group that a way covers has a place left to fill.
func (f *filling) fits(w int) bool {
	for _, i := range f.g.ways[w].cover {
		if f.missing(i) <= 0 {
			return false
		}
	}
	return true
}

// reach finds, nearest first, the goods that one more place of a group can
// lead to by simple ways.
func (f *filling) reach(i, barred int) {
	for d := range f.into {
		f.into[d] = none
	}
	f.reached = f.reached[:0]
	arrive := func(from, group int, extra cost) {
		for _, to := range f.g.groups[group].ways {
			if to == from || !f.g.simple(to) {
				continue
			}
			if d := f.g.ways[to].takes[0].good; f.into[d] == none && d != barred {
				f.into[d], f.out[d], f.extra[d] = to, from, extra+f.g.ways[to].extra
				f.reached = append(f.reached, d)
			}
		}
	}
	arrive(none, i, 0)
	for k := 0; k < len(f.reached); k++ {
		d := f.reached[k]
		for _, x := range f.g.goods[d].items {
			if f.x[x.way] > 0 && f.g.simple(x.way) && f.g.pieces(x.way) == f.g.pieces(f.into[d]) {
				arrive(x.way, f.g.ways[x.way].cover[0], f.extra[d]-f.g.ways[x.way].extra)
			}
		}
	}
}

// follow makes the moves that reach a good.
func (f *filling) follow(d int) {
	for {
		f.move(f.into[d], 1)
		from := f.out[d]
		if from == none {
			return
		}
		f.move(from, -1)
		d = f.g.ways[from].takes[0].good
	}
}

// force fills a place by a way over several that puts out what fills the
// others of its places, or says that it cannot.
func (f *filling) force(i int) bool {
	for _, w := range f.g.groups[i].ways {
		if len(f.g.ways[w].cover) > 1 && f.swap(w, never) {
			return true
		}
	}
	return false
}

// swap builds a way over several places in place of what fills them, where
// that changes the cost by less than limit.
func (f *filling) swap(w int, limit cost) bool {
	before, was := append([]int(nil), f.x...), f.price()
	var open []int
	for _, i := range f.g.ways[w].cover {
		if f.missing(i) > 0 {
			continue
		}
		out := f.dearest(i)
		f.move(out, -1)
		for _, k := range f.g.ways[out].cover {
			if k != i {
				open = append(open, k)
			}
		}
	}
	ok := f.change(w, 1) < never
	if ok {
		f.move(w, 1)
		for _, k := range open {
			ok = ok && (f.missing(k) <= 0 || f.place(k, none))
		}
	}
	if !ok || f.price()-was >= limit {
		f.reset(before)
		return false
	}
	return true
}

// price is what the filling costs by its curves.
func (f *filling) price() cost {
	total := cost(0)
	for d, n := range f.load {
		total = total.plus(f.curves[d][n])
	}
	for w, n := range f.x {
		total = total.plus(f.g.ways[w].extra.times(n))
	}
	return total
}

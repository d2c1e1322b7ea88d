package pick

// filling is one way to fill every need, being improved: the orders that the
// search prunes against come from here. Nothing in it has to be best.
type filling struct {
	g    *model
	x    []int // needs that each edge takes
	load []int // units used of each part
	// Scratch of chain: the parts reached, and for each the moves that reach it.
	reached []int
	into    []int // by part, the edge by which a need arrives; −1 where not reached
	out     []int // by part, the edge from which that need came; −1 for the need being placed
}

// polishRounds bounds the improvement of one filling.
const polishRounds = 20

func newFilling(g *model, x []int) *filling {
	f := &filling{g: g, x: x, load: make([]int, len(g.parts)),
		into: make([]int, len(g.parts)), out: make([]int, len(g.parts))}
	for e, n := range x {
		f.load[g.edges[e].part] += n * g.size(e)
	}
	return f
}

// fill takes needs one by one to where each costs least, groups with the least
// choice before the others. It says whether every need found a part in stock.
func (g *model) fill() (*filling, bool) {
	f := newFilling(g, make([]int, len(g.edges)))
	return f, f.complete()
}

// repair makes a filling of what the parts would take by themselves: what
// needs have too many of is put back, then the rest is filled.
func (g *model) repair(x []int) (*filling, bool) {
	f := newFilling(g, append([]int(nil), x...))
	for i := range g.groups {
		for n := f.missing(i); n < 0; n++ {
			f.move(f.dearest(i), -1)
		}
	}
	return f, f.complete()
}

func (f *filling) missing(i int) int {
	n := len(f.g.groups[i].needs)
	for _, e := range f.g.groups[i].edges {
		n -= f.x[e]
	}
	return n
}

// dearest finds the edge of a group that saves most by one need less.
func (f *filling) dearest(i int) int {
	best, most := -1, never
	for _, e := range f.g.groups[i].edges {
		if f.x[e] == 0 {
			continue
		}
		if d := f.change(e, -1); d < most {
			best, most = e, d
		}
	}
	return best
}

func (f *filling) complete() bool {
	for size := 1; ; size++ {
		wider := false
		for i := range f.g.groups {
			wider = wider || len(f.g.groups[i].edges) > size
			if len(f.g.groups[i].edges) != size {
				continue
			}
			for n := f.missing(i); n > 0; n-- {
				if !f.place(i, leave) {
					return false
				}
			}
		}
		if !wider {
			return true
		}
	}
}

// change is the further cost where an edge takes n more needs; never where it cannot.
func (f *filling) change(e, n int) cost {
	return f.shift(f.g.edges[e].part, n*f.g.size(e))
}

func (f *filling) shift(p, units int) cost {
	curve := f.g.curves[p]
	if f.load[p]+units >= len(curve) || curve[f.load[p]+units] >= never {
		return never
	}
	return curve[f.load[p]+units] - curve[f.load[p]]
}

func (f *filling) move(e, n int) {
	f.x[e] += n
	f.load[f.g.edges[e].part] += n * f.g.size(e)
}

// place takes one more need of a group to the part where that costs least,
// not through the part barred. Where stock stands in the way, needs of the
// same size make room along a chain: only the part at its end takes more.
func (f *filling) place(i, barred int) bool {
	f.reach(i, barred)
	end, least := -1, never
	for _, p := range f.reached {
		if d := f.shift(p, f.g.groups[i].size); d < least {
			end, least = p, d
		}
	}
	if end < 0 {
		return false
	}
	f.follow(end)
	return true
}

// reach finds, nearest first, the parts that one more need of a group can
// lead to, by moving needs of its size.
func (f *filling) reach(i, barred int) {
	for p := range f.into {
		f.into[p] = -1
	}
	f.reached = f.reached[:0]
	arrive := func(from, group int) {
		for _, to := range f.g.groups[group].edges {
			if p := f.g.edges[to].part; f.into[p] < 0 && p != barred {
				f.into[p], f.out[p] = to, from
				f.reached = append(f.reached, p)
			}
		}
	}
	arrive(-1, i)
	for k := 0; k < len(f.reached); k++ {
		for _, from := range f.g.of[f.reached[k]] {
			if f.x[from] > 0 && f.g.size(from) == f.g.groups[i].size {
				arrive(from, f.g.edges[from].group)
			}
		}
	}
}

// follow makes the moves that reach a part.
func (f *filling) follow(p int) {
	for {
		f.move(f.into[p], 1)
		from := f.out[p]
		if from < 0 {
			return
		}
		f.move(from, -1)
		p = f.g.edges[from].part
	}
}

// improve applies moves for as long as they pay.
func (f *filling) improve() {
	for range polishRounds {
		paid := f.moveNeeds()
		paid = f.joinParts() || paid
		paid = f.dropParts() || paid
		if !paid {
			return
		}
	}
}

// moveNeeds takes one need out and places it anew.
func (f *filling) moveNeeds() (paid bool) {
	for e := range f.x {
		for more := true; more && f.x[e] > 0; {
			saved := f.change(e, -1)
			f.move(e, -1)
			f.reach(f.g.edges[e].group, leave)
			end, least := f.g.edges[e].part, -saved
			for _, p := range f.reached {
				if d := f.shift(p, f.g.size(e)); d < least {
					end, least = p, d
				}
			}
			if more = least < -saved; more {
				f.follow(end)
				paid = true
			} else {
				f.move(e, 1)
			}
		}
	}
	return paid
}

// joinParts moves to another part all that it can take of one's needs.
func (f *filling) joinParts() (paid bool) {
	movable := make([]int, len(f.g.parts)) // units that each part could take
	for q := range f.g.parts {
		if f.load[q] == 0 {
			continue
		}
		clear(movable)
		f.beside(q, func(from, to int) { movable[f.g.edges[to].part] += f.x[from] * f.g.size(from) })
		for p, units := range movable {
			if units > 0 && f.shift(p, units)+f.shift(q, -units) < 0 {
				f.beside(q, func(from, to int) {
					if f.g.edges[to].part == p {
						n := f.x[from]
						f.move(to, n)
						f.move(from, -n)
					}
				})
				paid = true
				break
			}
		}
	}
	return paid
}

// beside visits each edge of q in use with each other edge of its group.
func (f *filling) beside(q int, visit func(from, to int)) {
	for _, from := range f.g.of[q] {
		if f.x[from] == 0 {
			continue
		}
		for _, to := range f.g.groups[f.g.edges[from].group].edges {
			if to != from {
				visit(from, to)
			}
		}
	}
}

// dropParts does without one part, its needs going each to where it costs least.
func (f *filling) dropParts() (paid bool) {
	for p := range f.g.parts {
		if f.load[p] == 0 {
			continue
		}
		before, was := append([]int(nil), f.x...), f.g.price(f.x)
		if f.empty(p) && f.g.price(f.x) < was {
			paid = true
			continue
		}
		*f = *newFilling(f.g, before)
	}
	return paid
}

func (f *filling) empty(p int) bool {
	for _, from := range f.g.of[p] {
		for f.x[from] > 0 {
			f.move(from, -1)
			if !f.place(f.g.edges[from].group, p) {
				return false
			}
		}
	}
	return true
}

// settle moves needs to parts of lower index where the cost is the same.
func (f *filling) settle() {
	for range polishRounds {
		moved := false
		for i := range f.g.groups {
			edges := f.g.groups[i].edges
			for a, to := range edges {
				for _, from := range edges[a+1:] {
					for f.x[from] > 0 && f.change(to, 1)+f.change(from, -1) == 0 {
						f.move(to, 1)
						f.move(from, -1)
						moved = true
					}
				}
			}
		}
		if !moved {
			return
		}
	}
}

package pick

// filling is one way to fill every need, being improved: the orders that the
// search prunes against come from here. Nothing in it has to be best.
type filling struct {
	g    *model
	x    []int // needs that each edge takes
	load []int // units used of each part
}

// polishRounds bounds the improvement of one filling.
const polishRounds = 20

func newFilling(g *model, x []int) *filling {
	f := &filling{g: g, x: x, load: make([]int, len(g.parts))}
	for e, n := range x {
		f.load[g.edges[e].part] += n * g.size(e)
	}
	return f
}

// fill takes needs one by one to where each costs least, at first among the
// parts marked, groups with the least choice before the others. It says
// whether every need found a part in stock.
func (g *model) fill(marked []bool) (*filling, bool) {
	f := newFilling(g, make([]int, len(g.edges)))
	for _, i := range g.narrowFirst() {
		for range g.groups[i].needs {
			e, ok := f.cheapest(i, marked, leave)
			if !ok {
				e, ok = f.cheapest(i, nil, leave)
			}
			if !ok {
				return f, false
			}
			f.move(e, 1)
		}
	}
	return f, true
}

// narrowFirst orders the groups by their count of edges.
func (g *model) narrowFirst() []int {
	var order []int
	for size := 1; len(order) < len(g.groups); size++ {
		for i := range g.groups {
			if len(g.groups[i].edges) == size || size == 1 && len(g.groups[i].edges) == 0 {
				order = append(order, i)
			}
		}
	}
	return order
}

// cheapest finds the edge that takes one more need of a group at the least
// further cost, of the marked parts (nil: of all) but not the one left out.
func (f *filling) cheapest(i int, marked []bool, out int) (best int, ok bool) {
	least := never
	for _, e := range f.g.groups[i].edges {
		p := f.g.edges[e].part
		if p == out || marked != nil && !marked[p] {
			continue
		}
		if d := f.change(e, 1); d < least {
			best, least, ok = e, d, true
		}
	}
	return best, ok
}

// change is the further cost where an edge takes n more needs; never where it cannot.
func (f *filling) change(e, n int) cost {
	p := f.g.edges[e].part
	return f.shift(p, n*f.g.size(e))
}

func (f *filling) shift(p, units int) cost {
	curve := f.g.curves[p]
	after := curve[f.load[p]+units]
	if after >= never {
		return never
	}
	return after - curve[f.load[p]]
}

func (f *filling) move(e, n int) {
	f.x[e] += n
	f.load[f.g.edges[e].part] += n * f.g.size(e)
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

// moveNeeds moves one need, or all that an edge takes, to another part.
func (f *filling) moveNeeds() (paid bool) {
	for i := range f.g.groups {
		edges := f.g.groups[i].edges
		for _, from := range edges {
			for k := 0; k < len(edges) && f.x[from] > 0; k++ {
				if to := edges[k]; to != from && (f.pays(from, to, f.x[from]) || f.pays(from, to, 1)) {
					paid = true
				}
			}
		}
	}
	return paid
}

// pays moves n needs between two edges where that costs less.
func (f *filling) pays(from, to, n int) bool {
	if f.change(to, n)+f.change(from, -n) >= 0 {
		return false
	}
	f.move(to, n)
	f.move(from, -n)
	return true
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
		before := append([]int(nil), f.x...)
		was := f.g.price(before)
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
			to, ok := f.cheapest(f.g.edges[from].group, nil, p)
			if !ok {
				return false
			}
			f.move(to, 1)
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

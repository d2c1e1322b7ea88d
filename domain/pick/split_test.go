package pick

import (
	"math/rand/v2"
	"testing"

	"coldrise/domain/part"
)

// TestSplitLosesNothing has every filling of a box lie in just one of its
// halves, down to single points. The orders found show a lost half seldom: the
// fillings that the search begins with are mostly the best already.
func TestSplitLosesNothing(t *testing.T) {
	t.Parallel()
	byPart, byEdge := 0, 0
	for seed := range uint64(40) {
		r := rand.New(rand.NewPCG(seed, 3))
		g := steppedModel(t, r)
		s := &search{ctx: t.Context(), g: g, b: newBounder(g), cost: weighable / 1000,
			mean: make([]int, len(g.edges)), use: make([]int, len(g.parts)), paid: make([]cost, len(g.parts))}
		var all [][]int
		g.points(g.whole(), func(x []int) { all = append(all, append([]int(nil), x...)) })
		var down func(in box, left [][]int)
		down = func(in box, left [][]int) {
			if !g.close(in) {
				if len(left) > 0 {
					t.Fatalf("seed %d: a box of %d fillings was closed", seed, len(left))
				}
				return
			}
			s.b.focus(in)
			for i := range s.b.worth {
				s.b.worth[i] = cost(r.IntN(4_000_000))
			}
			if s.b.evaluate(in) >= never {
				if len(left) > 0 {
					t.Fatalf("seed %d: a box of %d fillings is bounded by never", seed, len(left))
				}
				return
			}
			s.average(r.IntN(2) == 0)
			slack := cost(r.IntN(2)) * never / 2
			first, second, ok := s.split(in.clone(), slack)
			if !ok {
				if len(left) != 1 {
					t.Fatalf("seed %d: a box of %d fillings is taken for a point", seed, len(left))
				}
				return
			}
			if slack == 0 {
				byPart++
			} else {
				byEdge++
			}
			var one, other [][]int
			for _, x := range left {
				a, b := g.holds(first, x), g.holds(second, x)
				if a == b {
					t.Fatalf("seed %d: filling %v is in the halves %v, %v", seed, x, a, b)
				}
				if a {
					one = append(one, x)
				} else {
					other = append(other, x)
				}
			}
			down(first, one)
			down(second, other)
		}
		down(g.whole(), all)
	}
	if byPart < 100 || byEdge < 100 {
		t.Errorf("%d splits by part, %d by edge: too few", byPart, byEdge)
	}
}

// steppedModel has up to four groups on three parts with a line cost.
func steppedModel(t *testing.T, r *rand.Rand) *model {
	t.Helper()
	var needs []Need
	var options [][]int
	for range 2 + r.IntN(4) {
		list := [][]int{{0, 1}, {1, 2}, {0, 1, 2}}[r.IntN(3)]
		needs = append(needs, Need{Options: list, Quantity: 1 + r.IntN(2)})
		options = append(options, list)
	}
	parts := make([]part.Part, 3)
	for p := range parts {
		parts[p].Offers = []part.Offer{{Currency: "EUR", Pack: 1, MinQty: 1, Stock: 100,
			Breaks: []part.Break{{MinQty: 1, UnitPrice: part.Money(1_000_000 + r.IntN(1_000_000))}}}}
	}
	g, err := newModel(t.Context(), needs, options, parts, newMarket(10, Settings{Currency: "EUR", LineCost: 1_000_000}))
	if err != nil {
		t.Fatal(err)
	}
	return g
}

// points visits every filling of a box.
func (g *model) points(in box, visit func(x []int)) {
	x := make([]int, len(g.edges))
	var set func(e int)
	set = func(e int) {
		if e == len(x) {
			if g.holds(in, x) {
				visit(x)
			}
			return
		}
		for x[e] = in.lo[e]; x[e] <= in.hi[e]; x[e]++ {
			set(e + 1)
		}
		x[e] = 0
	}
	set(0)
}

// holds says whether a filling of every need lies in a box.
func (g *model) holds(in box, x []int) bool {
	for i := range g.groups {
		if newFilling(g, x).missing(i) != 0 {
			return false
		}
	}
	for e, n := range x {
		if n < in.lo[e] || n > in.hi[e] {
			return false
		}
	}
	for p, units := range newFilling(g, x).load {
		if units < in.least[p] || units > in.most[p] {
			return false
		}
	}
	return true
}

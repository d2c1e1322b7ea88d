package pick

import (
	"context"
	"fmt"
	"slices"

	"coldrise/domain/part"
	"coldrise/domain/problem"
)

// Cheapest gives the cheapest whole order that fills the needs, each by one of
// its options. Fewest needs unfilled comes first, then the least total, then
// the fewest lines; of what is left equal, parts of lower index are preferred.
//
// A quantity is bought the cheapest way there is, over several offers of the
// part and past what is used where that costs less. A need that no stock can
// fill has Choice −1 and stands in Short. Parts and needs are not changed.
//
// Its errors: Invalid for settings, needs or offers out of their ranges, with
// every fault, and for amounts too large to weigh; Cancelled where ctx ended
// before the search did. A search stopped by MaxNodes is no error: see Proven.
func Cheapest(ctx context.Context, needs []Need, parts []part.Part, s Settings) (Order, error) {
	if err := check(needs, parts, s); err != nil {
		return Order{}, err
	}
	options, short := sift(needs, parts, s)
	m := newMarket(mostLines(parts, options), s)
	g, err := newModel(ctx, needs, options, parts, m)
	if err != nil {
		return Order{}, err
	}
	found, err := g.find(ctx, limitOf(s))
	if err != nil {
		return Order{}, err
	}
	return assemble(needs, parts, m, found, short)
}

func limitOf(s Settings) int {
	if s.MaxNodes > 0 {
		return s.MaxNodes
	}
	return DefaultMaxNodes
}

// mostLines is past what any order of the needs can have in lines: each need
// adds one part at most, with all its offers.
func mostLines(parts []part.Part, options [][]int) int {
	lines := 0
	for _, list := range options {
		most := 0
		for _, p := range list {
			most = max(most, len(parts[p].Offers))
		}
		lines += most
	}
	return lines
}

// sift gives for each need its options in ascending order without those that
// stock cannot fill it from; for a need without any, why.
func sift(needs []Need, parts []part.Part, s Settings) (options [][]int, short []string) {
	options, short = make([][]int, len(needs)), make([]string, len(needs))
	m := market{currency: s.Currency, scale: 1}
	stock := map[int]int{}
	for i, n := range needs {
		sorted := slices.Clone(n.Options)
		slices.Sort(sorted)
		sorted = slices.Compact(sorted)
		offered, most := 0, 0
		for _, p := range sorted {
			if _, known := stock[p]; !known {
				stock[p] = m.most(&parts[p])
			}
			offered += count(parts[p].Offers, s.Currency)
			most = max(most, stock[p])
			if stock[p] >= n.Quantity+s.Spare {
				options[i] = append(options[i], p)
			}
		}
		if len(options[i]) > 0 {
			continue
		}
		switch {
		case len(sorted) == 0:
			short[i] = "no part passes here"
		case offered == 0:
			short[i] = "no part that passes here has an offer in " + s.Currency
		default:
			short[i] = fmt.Sprintf("takes %d from stock; the most to be had of any part that passes here is %d", n.Quantity+s.Spare, most)
		}
	}
	return options, short
}

func count(offers []part.Offer, currency string) int {
	n := 0
	for _, o := range offers {
		if o.Currency == currency {
			n++
		}
	}
	return n
}

// most is how many pieces of a part can be had, all its offers together.
func (m market) most(p *part.Part) int {
	n := 0
	for _, s := range m.sources(p) {
		n += s.steps[len(s.steps)-1].hi
	}
	return n
}

// found is the outcome of the search over a model.
type found struct {
	g      *model
	x      []int // by edge
	cost   cost  // of the parts
	bound  cost  // on the same
	proven bool
	nodes  int
}

// unfilled is the weight of a need left unfilled while nothing else has any;
// large, so that steps in whole numbers are fine enough.
const unfilled cost = 1 << 20

// weighable bounds the sums that the bound forms.
const weighable cost = 1 << 60

// find first settles how few needs can be left unfilled, then what is cheapest
// with so few.
func (g *model) find(ctx context.Context, limit int) (found, error) {
	if len(g.groups) == 0 {
		return found{g: g, proven: true}, nil
	}
	if !g.affordable() {
		return found{}, tooLarge()
	}
	wide := g.withLeaving(unfilled, g.availability())
	first, _ := wide.fill()
	few, err := wide.solve(ctx, first.x, unfilled, limit)
	if err != nil {
		return found{}, err
	}
	left := int(few.cost / unfilled)
	real := few.best[:len(g.edges)]
	penalty, start := cost(0), real
	if left > 0 {
		// One need more left unfilled must cost more than all that it could save.
		penalty = g.price(real).plus(1)
		start = few.best
		g = g.withLeaving(penalty, g.curves)
	} else if f, ok := g.fill(); ok && g.price(f.x) < g.price(start) {
		start = f.x
	}
	if g.price(start) >= weighable/cost(g.needs()) {
		return found{}, tooLarge()
	}
	s, err := g.solve(ctx, start, 1, max(1, limit-few.nodes))
	if err != nil {
		return found{}, err
	}
	filling := newFilling(g, s.best)
	filling.settle()
	paid := penalty.times(left)
	return found{g: g, x: filling.x, cost: s.cost - paid, bound: max(0, s.bound()-paid),
		proven: !few.stopped && !s.stopped, nodes: few.nodes + s.nodes}, nil
}

func tooLarge() error {
	return problem.New(problem.Invalid, "the order's amounts are too large to weigh")
}

// affordable says whether each group has an edge that a need of it can take.
// Stock was looked at before; what is never to be had then is past every amount.
func (g *model) affordable() bool {
	for i := range g.groups {
		some := false
		for _, e := range g.groups[i].edges {
			some = some || g.curves[g.edges[e].part][g.size(e)] < never
		}
		if !some {
			return false
		}
	}
	return true
}

func (g *model) needs() int {
	n := 0
	for i := range g.groups {
		n += len(g.groups[i].needs)
	}
	return n
}

// assemble writes the order out.
func assemble(needs []Need, parts []part.Part, m market, f found, short []string) (Order, error) {
	o := Order{Choice: f.choices(len(needs)), Proven: f.proven, Nodes: f.nodes, Bound: f.bound.money(m.scale)}
	used := map[int]int{}
	for i, p := range o.Choice {
		if p >= 0 {
			used[p] += needs[i].Quantity
			continue
		}
		reason := short[i]
		if reason == "" {
			reason = "the stock of its parts does not reach for this position beside the others"
		}
		o.Short = append(o.Short, Shortage{Ref: needs[i].Ref, Reason: reason})
	}
	for p := range parts {
		if used[p] > 0 {
			o.Lines = append(o.Lines, m.lines(parts, p, used[p])...)
		}
	}
	for _, l := range o.Lines {
		o.LinesTotal += l.Total
	}
	o.LineCosts = m.lineCost.Times(len(o.Lines))
	o.Total = o.LinesTotal + o.LineCosts
	if o.Total > part.MaxMoney {
		return Order{}, problem.New(problem.Invalid, "the cheapest order passes %s, the largest amount there is", part.MaxMoney)
	}
	if f.proven {
		o.Bound = o.Total
	}
	return o, nil
}

// choices gives each need's part: a group's needs in their order take the
// group's parts in theirs.
func (f found) choices(n int) []int {
	choice := make([]int, n)
	for i := range choice {
		choice[i] = leave
	}
	for i := range f.g.groups {
		needs := f.g.groups[i].needs
		for _, e := range f.g.groups[i].edges {
			for range f.x[e] {
				choice[needs[0]] = f.g.parts[f.g.edges[e].part]
				needs = needs[1:]
			}
		}
	}
	return choice
}

// lines buys what is used of a part, and spare pieces.
func (m market) lines(parts []part.Part, p, used int) []Line {
	var lines []Line
	for _, b := range m.buy(&parts[p], used+m.spare) {
		l := Line{Part: p, Offer: b.offer, Quantity: b.quantity, ForUse: min(used, b.quantity),
			UnitPrice: b.unit, Total: b.unit.Times(b.quantity)}
		used -= l.ForUse
		lines = append(lines, l)
	}
	return lines
}

package pick

import (
	"slices"

	"coldrise/domain/part"
)

// market is how parts are bought.
type market struct {
	currency string
	scale    cost
	lineCost part.Money
	line     cost // of one order line: lineCost, and one line
	spare    int  // pieces wanted beyond those used, of each part that is used
}

func newMarket(lines int, s Settings) market {
	m := market{currency: s.Currency, scale: scaleFor(lines), lineCost: s.LineCost, spare: s.Spare}
	m.line = cost(s.LineCost).times(int(m.scale)).plus(1)
	return m
}

// source is one offer as a buyer sees it.
type source struct {
	offer, pack int
	steps       []step // ascending in quantity
}

// step is the quantities lo, lo+pack, … hi of an offer, which share a unit price.
type step struct {
	lo, hi int
	unit   part.Money
	price  cost
}

// purchase is a quantity bought of one offer.
type purchase struct {
	offer, quantity int
	unit            part.Money
}

// sources gives what can be bought of a part: its offers in the market's
// currency, cut at their price breaks, least quantity, pack and stock.
func (m market) sources(p *part.Part) []source {
	var all []source
	for i := range p.Offers {
		o := &p.Offers[i]
		if o.Currency != m.currency || o.Pack < 1 {
			continue
		}
		if steps := m.steps(o); len(steps) > 0 {
			all = append(all, source{offer: i, pack: o.Pack, steps: steps})
		}
	}
	return all
}

func (m market) steps(o *part.Offer) []step {
	breaks := slices.Clone(o.Breaks)
	slices.SortStableFunc(breaks, func(a, b part.Break) int { return a.MinQty - b.MinQty })
	var steps []step
	for j, b := range breaks {
		lo, hi := max(1, o.MinQty, b.MinQty), o.Stock
		if j+1 < len(breaks) {
			hi = min(hi, breaks[j+1].MinQty-1)
		}
		if lo > hi {
			continue
		}
		hi -= hi % o.Pack
		if over := lo % o.Pack; over > 0 {
			lo += min(o.Pack-over, hi-lo+1)
		}
		price := cost(b.UnitPrice).times(int(m.scale))
		if lo <= hi && price < never {
			steps = append(steps, step{lo: lo, hi: hi, unit: b.UnitPrice, price: price})
		}
	}
	return steps
}

// rows gives the least cost of buying at least r pieces, r from 0 to upTo:
// row k from the first k sources alone, the last row from all of them. Its
// time is in proportion to sources × steps × upTo.
func (m market) rows(sources []source, upTo int) [][]cost {
	none := make([]cost, upTo+1)
	for r := 1; r <= upTo; r++ {
		none[r] = never
	}
	rows := [][]cost{none}
	for _, s := range sources {
		before := rows[len(rows)-1]
		row := slices.Clone(before)
		for _, st := range s.steps {
			m.alone(row, st, s.pack)
			m.beside(row, before, st, s.pack)
		}
		rows = append(rows, row)
	}
	return rows
}

// alone lowers row to what one step costs where it covers the whole quantity.
func (m market) alone(row []cost, st step, pack int) {
	for r := 1; r < len(row) && r <= st.hi; r++ {
		row[r] = min(row[r], m.line.plus(st.price.times(st.atLeast(r, pack))))
	}
}

// atLeast is the least quantity of the step that is r or more; r is hi at most.
func (st step) atLeast(r, pack int) int {
	if r <= st.lo {
		return st.lo
	}
	return st.lo + (r-st.lo+pack-1)/pack*pack
}

// beside lowers row to what one step costs together with the offers before it.
// For a quantity r the step gives x and the others r−x. The others' quantities
// that can serve r lie in a window of one residue of pack that slides with r,
// and the queue holds those of them that may still be the cheapest.
func (m market) beside(row, before []cost, st step, pack int) {
	upTo := len(row) - 1
	if st.lo >= upTo {
		return
	}
	var queue []int
	for first := 1; first <= pack && first+st.lo <= upTo; first++ {
		queue = queue[:0]
		head := 0
		for y := first; y+st.lo <= upTo; y += pack {
			if before[y] < never {
				for len(queue) > head && before[queue[len(queue)-1]].plus(st.price.times(y-queue[len(queue)-1])) >= before[y] {
					queue = queue[:len(queue)-1]
				}
				queue = append(queue, y)
			}
			r := y + st.lo
			for head < len(queue) && queue[head] < r-st.hi {
				head++
			}
			if head < len(queue) {
				q := queue[head]
				row[r] = min(row[r], before[q].plus(st.price.times(r-q)).plus(m.line))
			}
		}
	}
}

// least gives the cost of using q = 0, unit, 2·unit … pieces of a part, up to
// limit of them, spare pieces bought as well.
func (m market) least(p *part.Part, unit, limit int) []cost {
	rows := m.rows(m.sources(p), limit+m.spare)
	last := rows[len(rows)-1]
	curve := make([]cost, limit/unit+1)
	for k := 1; k < len(curve); k++ {
		curve[k] = last[k*unit+m.spare]
	}
	return curve
}

// buy gives a cheapest purchase of at least so many pieces, in the order of the
// offers; nil where they are not to be had.
func (m market) buy(p *part.Part, pieces int) []purchase {
	sources := m.sources(p)
	rows := m.rows(sources, pieces)
	if rows[len(sources)][pieces] >= never {
		return nil
	}
	var bought []purchase
	for k := len(sources); k > 0 && pieces > 0; k-- {
		if rows[k][pieces] == rows[k-1][pieces] {
			continue
		}
		b := m.take(sources[k-1], rows[k-1], rows[k][pieces], pieces)
		bought = append(bought, b)
		pieces = max(0, pieces-b.quantity)
	}
	slices.Reverse(bought)
	return bought
}

// take finds the quantity of one source that, beside the offers before it,
// makes up the cost want of so many pieces.
func (m market) take(s source, before []cost, want cost, pieces int) purchase {
	for _, st := range s.steps {
		for x := st.lo; x <= st.hi; x += s.pack {
			rest := before[max(0, pieces-x)]
			if m.line.plus(st.price.times(x)).plus(rest) == want {
				return purchase{offer: s.offer, quantity: x, unit: st.unit}
			}
			if x >= pieces {
				break
			}
		}
	}
	panic("pick: a cost that no purchase makes up")
}

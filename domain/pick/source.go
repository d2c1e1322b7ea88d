package pick

import (
	"slices"

	"coldrise/domain/part"
)

// source is one place to buy a part: an offer, or the shop's own shelf.
type source struct {
	offer  int // index into the part's offers, or shelf
	seller int // index into the model's sellers, or none
	toll   int // index among the tolls; none where there is no seller
	pack   int
	line   cost   // of an order line
	steps  []step // ascending in quantity
}

// shelf stands in source.offer for the shop's own stock; none for no seller,
// no toll, no part.
const (
	shelf = -1
	none  = -1
)

// step is the quantities lo, lo+pack, … hi of a source, which share a unit price.
type step struct {
	lo, hi int
	own    part.Money // in the offer's currency
	unit   part.Money // in the order's
	price  cost
}

// lot is a quantity bought of one source.
type lot struct{ source, step, quantity int }

// atLeast is the least quantity of the step that is r or more; r is hi at most.
func (st *step) atLeast(r, pack int) int {
	if r <= st.lo {
		return st.lo
	}
	return st.lo + (r-st.lo+pack-1)/pack*pack
}

// cut gives the steps of an offer: its price breaks cut at its least quantity,
// its pack and its stock. Price breaks follow part.Offer: the whole quantity is
// bought at the price of the last break it reaches.
func (m *market) cut(o *part.Offer, rate Rate) []step {
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
		if lo > hi {
			continue
		}
		if unit, ok := rate.convert(b.UnitPrice); ok {
			steps = append(steps, step{lo: lo, hi: hi, own: b.UnitPrice, unit: unit, price: m.cost(unit)})
		}
	}
	return steps
}

// tariff is what the steps of one part's sources cost at the moment: entry by
// source, of using it at all, never where it is closed; price by source and step.
type tariff struct {
	entry []cost
	price [][]cost
}

// listed is the tariff as the sources have it.
func listed(sources []source) tariff {
	t := tariff{entry: make([]cost, len(sources)), price: make([][]cost, len(sources))}
	for k := range sources {
		t.entry[k] = sources[k].line
		for j := range sources[k].steps {
			t.price[k] = append(t.price[k], sources[k].steps[j].price)
		}
	}
	return t
}

// table is the least cost of buying at least r pieces, r from 0 up: row k from
// the first k sources alone, the last row from all of them.
type table struct {
	rows  [][]cost
	queue []int
}

// fill computes the rows for up to so many pieces. Its time is in proportion
// to sources × steps × upTo.
func (t *table) fill(sources []source, by tariff, upTo int) {
	for len(t.rows) <= len(sources) {
		t.rows = append(t.rows, nil)
	}
	for k := range t.rows {
		t.rows[k] = slices.Grow(t.rows[k][:0], upTo+1)[:upTo+1]
	}
	none := t.rows[0]
	none[0] = 0
	for r := 1; r <= upTo; r++ {
		none[r] = never
	}
	for k := range sources {
		before, row := t.rows[k], t.rows[k+1]
		copy(row, before)
		if by.entry[k] >= never {
			continue
		}
		for j := range sources[k].steps {
			st := &sources[k].steps[j]
			alone(row, st, sources[k].pack, by.entry[k], by.price[k][j])
			t.beside(row, before, st, sources[k].pack, by.entry[k], by.price[k][j])
		}
	}
}

// alone lowers row to what one step costs where it covers the whole quantity.
func alone(row []cost, st *step, pack int, entry, price cost) {
	for r := 1; r < len(row) && r <= st.hi; r++ {
		row[r] = min(row[r], entry.plus(price.times(st.atLeast(r, pack))))
	}
}

// beside lowers row to what one step costs together with the sources before it.
// For a quantity r the step gives x and the others r−x. The others' quantities
// that can serve r lie in a window of one residue of pack that slides with r,
// and the queue holds those of them that may still be the cheapest.
func (t *table) beside(row, before []cost, st *step, pack int, entry, price cost) {
	upTo := len(row) - 1
	if st.lo >= upTo {
		return
	}
	queue := t.queue
	for first := 1; first <= pack && first+st.lo <= upTo; first++ {
		queue = queue[:0]
		head := 0
		for y := first; y+st.lo <= upTo; y += pack {
			if before[y] < never {
				for len(queue) > head && before[queue[len(queue)-1]].plus(price.times(y-queue[len(queue)-1])) >= before[y] {
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
				row[r] = min(row[r], before[q].plus(price.times(r-q)).plus(entry))
			}
		}
	}
	t.queue = queue
}

// trace gives the lots that make up the cost of so many pieces in the rows as
// last filled; nil where they are not to be had.
func (t *table) trace(sources []source, by tariff, pieces int) []lot {
	if pieces <= 0 || t.rows[len(sources)][pieces] >= never {
		return nil
	}
	var lots []lot
	for k := len(sources); k > 0 && pieces > 0; k-- {
		if t.rows[k][pieces] == t.rows[k-1][pieces] {
			continue
		}
		l := t.take(&sources[k-1], k-1, by, pieces)
		lots = append(lots, l)
		pieces = max(0, pieces-l.quantity)
	}
	slices.Reverse(lots)
	return lots
}

// take finds the quantity of source k that, beside the sources before it,
// makes up the cost of so many pieces.
func (t *table) take(s *source, k int, by tariff, pieces int) lot {
	before, want := t.rows[k], t.rows[k+1][pieces]
	for j := range s.steps {
		st := &s.steps[j]
		for x := st.lo; x <= st.hi; x += s.pack {
			if by.entry[k].plus(by.price[k][j].times(x)).plus(before[max(0, pieces-x)]) == want {
				return lot{source: k, step: j, quantity: x}
			}
			if x >= pieces {
				break
			}
		}
	}
	panic("pick: a cost that no purchase makes up")
}

package ordersheet

import (
	"coldrise/api/ordersheet/formula"
)

// change is what a fill does to the rows of the sheet, in the rows' numbers of
// before: count rows come in before row at, and the lines then end at row end
// of after.
type change struct {
	sheet       string
	at, count   int // count is 0 where no row is inserted
	left, right int // columns of the lines
	first, last int // rows of the lines before; last is the header where there were none
	end         int
	like        int // row that new ones are like, as of before; 0 where there is none
}

// effect is what a change does to a formula's references: several things at
// once where it has several.
type effect int

const (
	pushed  effect = 1 << iota // one moves down, or spans the rows that came in
	grown                      // one covered all lines and must end further down
	partial                    // one covers some lines and ends short of the new ones
	tangled                    // one would have to change and goes through several sheets

	none effect = 0
)

func (e effect) has(what effect) bool { return e&what != 0 }

// place gives a reference as it must read after the change. In a formula of a
// line, lineRow is its row (0 elsewhere): there an end that is not fixed by $
// belongs to the line and does not grow, as in a running sum.
func (c *change) place(r formula.Ref, lineRow int) (formula.Ref, effect, error) {
	after, err := r.Pushed(c.at, c.count)
	if err != nil {
		return r, none, err
	}
	did := none
	if after != r {
		did = pushed
	}
	if c.startsPushed(r) {
		return after, did | partial, nil
	}
	if !c.covers(r) || after.Bottom() >= c.end {
		return after, did, nil
	}
	switch {
	case lineRow != 0 && !r.BottomEnd().FixRow && r.Bottom() == lineRow:
		return after, did, nil
	case r.Top() > c.first, lineRow != 0 && !r.BottomEnd().FixRow:
		return after, did | partial, nil
	}
	after.BottomEnd().Row = c.end
	return after, did | grown, nil
}

// covers says whether a range is over columns of the lines and reaches the
// last; where there is no line yet, the first row below the header. A sum over
// the header's cell alone stands for lines to come, too.
func (c *change) covers(r formula.Ref) bool {
	if r.Kind != formula.Range && r.Kind != formula.Rows {
		return false
	}
	reach := max(c.last, c.first)
	if c.last < c.first && r.Left() == r.Right() {
		reach = c.last
	}
	below := c.count > 0 && r.Top() >= c.at
	return !below && r.Left() <= c.right && r.Right() >= c.left && r.Bottom() >= reach
}

// startsPushed says whether a range began where the first line would have stood,
// and is pushed past it: where there is no line yet and the totals follow the
// header.
func (c *change) startsPushed(r formula.Ref) bool {
	return c.count > 0 && c.last < c.first && c.at == c.first && r.Kind == formula.Range && r.Top() == c.at && r.Bottom() > c.at &&
		r.Left() <= c.right && r.Right() >= c.left
}

// row gives a row's number after the change.
func (c *change) row(n int) int {
	if c.count > 0 && n >= c.at {
		return n + c.count
	}
	return n
}

// cuts says whether rows come in within an area, so that it would be torn.
func (c *change) cuts(a formula.Area) bool {
	return c.count > 0 && a.Top < c.at && a.Bottom >= c.at
}

// area gives an area after the change: moved down, or longer where rows come
// in within it.
func (c *change) area(a formula.Area) formula.Area {
	a.Top, a.Bottom = c.row(a.Top), min(c.row(a.Bottom), formula.MaxRow)
	return a
}

// stretch gives an area that covers the row that new ones are like as far as
// the last new row; others only move.
func (c *change) stretch(a formula.Area) (formula.Area, bool) {
	over := c.like > 0 && a.Top <= c.like && a.Bottom >= c.like && a.Left <= c.right && a.Right >= c.left
	after := c.area(a)
	if over && after.Bottom < c.end {
		after.Bottom = c.end
		return after, true
	}
	return after, false
}

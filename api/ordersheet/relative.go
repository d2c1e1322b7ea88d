package ordersheet

import (
	"fmt"
	"strings"

	"coldrise/api/ordersheet/formula"
)

// relative gives a formula of a conditional format or a validation after the
// change. Such a formula is written for the top row of its areas and means for
// every other row what it would mean carried there: rows without $ keep their
// distance, rows with $ follow what they name. False, with a fault, where rows
// coming in would change the distance for some of the rows only.
func (f *fill) relative(text, sqref, what string) (string, bool) {
	parsed, err := formula.Parse(text)
	if err != nil {
		f.report.leave(f.s.name, fmt.Sprintf("the %s over %s has a formula that could not be read and was left as it is", what, sqref))
		return text, false
	}
	areas := areasOf(sqref)
	if len(areas) == 0 {
		return text, false
	}
	base := areas[0].Top
	ok := true
	out, err := parsed.Map(func(r formula.Ref) (formula.Ref, error) {
		if !r.On(f.s.name, f.s.name) {
			return r, nil
		}
		after, did, err := f.place.change.place(r, base)
		if did.has(partial) {
			f.report.leave(f.s.name, fmt.Sprintf("the %s over %s refers to %s, some of the lines and not the new ones", what, sqref, r))
		}
		if r.Kind == formula.Columns {
			return after, err
		}
		for _, end := range []struct{ was, is *formula.Corner }{{&r.From, &after.From}, {&r.To, &after.To}} {
			if !end.was.FixRow {
				moved, clean := f.distance(end.was.Row-base, areas)
				ok = ok && clean
				end.is.Row = end.was.Row + moved
			}
		}
		return after, err
	})
	if err != nil || !ok {
		f.fault("/append", "="+text, "the %s over %s!%s looks from one side of the inserted rows to the other by rows that are not fixed with $", what, f.s.name, sqref)
		return text, false
	}
	return out, true
}

func areasOf(sqref string) []formula.Area {
	var list []formula.Area
	for _, one := range strings.Fields(sqref) {
		if a, err := formula.ParseArea(one); err == nil {
			list = append(list, a)
		}
	}
	return list
}

// distance says by how much the row named in the top row's formula moves, for
// a formula that looks d rows down from each row of the areas, and whether
// that keeps its meaning in all of them. A look at the next row or the one
// before keeps its distance: what stands there is next after the change too.
func (f *fill) distance(d int, areas []formula.Area) (moved int, clean bool) {
	c := &f.place.change
	base := areas[0].Top
	shift := c.row(base) - base
	for _, a := range areas {
		apart := c.row(a.Top)-a.Top != shift
		if a.Top < base && apart {
			return 0, false // which row the formula was written for is not plain
		}
		lo, hi := c.at-d, c.at-1 // rows whose look crosses the inserted rows
		if d < 0 {
			lo, hi = c.at, c.at-d-1
		}
		if c.count == 0 || d >= -1 && d <= 1 || a.Top > hi || a.Bottom < lo {
			continue
		}
		if len(areas) > 1 || a.Top < lo || a.Bottom > hi {
			return 0, false
		}
		shift = c.row(base+d) - (base + d)
	}
	return shift, true
}

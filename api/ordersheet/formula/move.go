package formula

import (
	"errors"
	"strings"
)

// ErrOffSheet means that a reference would leave the sheet.
var ErrOffSheet = errors.New("formula: a reference leaves the sheet")

// Carry writes a formula as it reads when filled from one cell into another,
// rows and cols further on: what is fixed by $ stays, the rest moves along.
func (f Formula) Carry(cols, rows int) (string, error) {
	return f.Map(func(r Ref) (Ref, error) {
		var err error
		if r.From, err = r.From.carried(r.Kind, cols, rows); err != nil {
			return r, err
		}
		r.To, err = r.To.carried(r.Kind, cols, rows)
		return r, err
	})
}

func (c Corner) carried(k Kind, cols, rows int) (Corner, error) {
	if k != Rows && !c.FixCol {
		c.Col += cols
	}
	if k != Columns && !c.FixRow {
		c.Row += rows
	}
	if (k != Rows && (c.Col < 1 || c.Col > MaxCol)) || (k != Columns && (c.Row < 1 || c.Row > MaxRow)) {
		return c, ErrOffSheet
	}
	return c, nil
}

// Pushed gives the reference as it reads once count rows were inserted before
// row at of the sheet it refers to: what stands there or below moves down, and
// a range that the new rows fall into grows.
func (r Ref) Pushed(at, count int) (Ref, error) {
	if r.Kind == Columns || count == 0 {
		return r, nil
	}
	if r.Top() >= at && r.Top()+count > MaxRow {
		return r, ErrOffSheet
	}
	for _, c := range []*Corner{&r.From, &r.To} {
		if c.Row >= at {
			c.Row = min(c.Row+count, MaxRow) // a range to the last row stays one
		}
	}
	return r, nil
}

// On says whether a reference in a formula of one sheet is to cells of
// another (or the same), by name as spreadsheets compare names.
func (r Ref) On(host, sheet string) bool {
	if r.External {
		return false
	}
	name := r.Sheet
	if name == "" {
		name = host
	}
	return r.LastSheet == "" && strings.EqualFold(name, sheet)
}

package ordersheet

import (
	"fmt"

	"coldrise/api/ordersheet/formula"
)

// holds says whether a row holds a line: one of the map's columns is filled.
func (f *fit) holds(r *row) bool {
	for _, w := range f.writes {
		if c := r.cell(w.col); c != nil && f.w.filled(*c) {
			return true
		}
	}
	return false
}

// findLines finds the first and last line, the totals row, and the row that
// new ones are like.
func (f *fit) findLines() {
	below, end := f.header, formula.MaxRow
	switch f.m.Append.Where {
	case BeforeTotals:
		f.totals = f.findTotals()
		end = f.totals - 1
	case IntoTable:
		end = f.table.area.Bottom - f.table.totals
		if f.table.totals > 0 {
			f.totals = end + 1
		}
	}
	f.first, f.last = below+1, below
	for i := f.s.from(below + 1); i < len(f.s.rows) && f.s.rows[i].number <= end; i++ {
		r := &f.s.rows[i]
		if !f.holds(r) {
			continue
		}
		if gap := r.number - f.last - 1; f.m.Append.Where == AfterLastRow && gap > f.m.Append.BlankRows {
			f.stray(r, gap)
			return
		}
		if f.last == below {
			f.first = r.number
		}
		f.last = r.number
	}
	if f.like = f.last; f.last == below {
		f.like = 0
		if r := f.s.row(below + 1); below+1 <= end && f.styled(r) {
			f.like = below + 1
		}
	}
}

// stray says that what stands below a gap may be no line at all.
func (f *fit) stray(r *row, gap int) {
	for _, w := range f.writes {
		if c := r.cell(w.col); c != nil && f.w.filled(*c) {
			f.fault("/append", f.w.value(*c), "%s reads %s below %d empty rows; say where the lines end by before_totals or table, or allow the gap by blank_rows",
				at(f.s.name, c.col, c.row), reads(f.w.value(*c)), gap)
			return
		}
	}
}

// styled says whether a row has anything of its own in the block.
func (f *fit) styled(r *row) bool {
	if r == nil {
		return false
	}
	for _, c := range r.cells {
		if c.col >= f.left && c.col <= f.right {
			return true
		}
	}
	return false
}

// findTotals finds the one cell that marks the totals row; 0 with a fault.
func (f *fit) findTotals() int {
	t := f.m.Append.Totals
	left, right := f.left, f.right
	if t.Header != "" || t.Column != "" {
		left = f.column(spot{&t.Place, "/append/totals"})
		if right = left; left == 0 {
			return 0
		}
	}
	var cells []cell
	for i := f.s.from(f.header + 1); i < len(f.s.rows); i++ {
		for _, c := range f.s.rows[i].cells {
			if c.col >= left && c.col <= right && c.f == nil && folded(f.w.value(c)) == folded(t.Text) {
				cells = append(cells, c)
			}
		}
	}
	where := fmt.Sprintf("columns %s to %s", formula.ColumnName(left), formula.ColumnName(right))
	if left == right {
		where = "column " + formula.ColumnName(left)
	}
	switch len(cells) {
	case 1:
		return cells[0].row
	case 0:
		f.fault("/append/totals", "", "no cell of %s below row %d of sheet %q reads %q", where, f.header, f.s.name, t.Text)
	default:
		f.fault("/append/totals", t.Text, "%s and %s both read %q; name the column of the totals' text, or make it unlike the other",
			at(f.s.name, cells[0].col, cells[0].row), at(f.s.name, cells[1].col, cells[1].row), t.Text)
	}
	return 0
}

// checkLike holds the row that new ones are like against the map: a formula
// where the map has one, none where it writes.
func (f *fit) checkLike() {
	like := f.s.row(f.like)
	for _, w := range f.writes {
		if c := like.cell(w.col); c != nil && c.f != nil {
			text, _ := f.s.formulaOf(*c)
			f.fault(w.pointer, "="+text, "%s holds a formula; expected a value, for the map writes there. List the column under formulas instead", at(f.s.name, c.col, c.row))
		}
	}
	for _, s := range f.formulas {
		col := formula.ParseColumn(s.Column)
		c := like.cell(col)
		switch {
		case f.like == 0:
			f.fault(s.pointer, "", "%s is empty; expected a formula to carry on, and there is no line above to take it from", at(f.s.name, col, f.header+1))
		case c == nil || c.f == nil:
			found := ""
			if c != nil {
				found = f.w.value(*c)
			}
			f.fault(s.pointer, found, "%s reads %s; expected a formula to carry on", at(f.s.name, col, f.like), reads(found))
		}
	}
	f.checkCarried(like)
}

// checkCarried refuses formulas that cannot be carried into one further row.
func (f *fit) checkCarried(like *row) {
	if like == nil {
		return
	}
	for _, c := range like.cells {
		if c.f == nil || c.col < f.left || c.col > f.right {
			continue
		}
		kind, _ := c.f.Attr("t")
		ref, _ := c.f.Attr("ref")
		if kind == "dataTable" || kind == "array" && ref != formula.CellName(c.col, c.row) {
			f.fault(f.pointerOf(c.col), "", "%s holds part of an array or of a data table over %s, which cannot be carried into one further row", at(f.s.name, c.col, c.row), ref)
			continue
		}
		text, err := f.s.formulaOf(c)
		if err == nil {
			_, err = formula.Parse(text)
		}
		if err != nil {
			f.fault(f.pointerOf(c.col), "", "%s holds a formula that cannot be read", at(f.s.name, c.col, c.row))
		}
	}
	for _, a := range f.s.spread {
		if a.Top < like.number && a.Meets(f.block(like.number, like.number)) {
			f.fault("/append", "", "%s is part of an array over %s, which cannot be carried into one further row", at(f.s.name, max(a.Left, f.left), like.number), a)
		}
	}
}

// pointerOf gives the map's member about a column of formulas.
func (f *fit) pointerOf(col int) string {
	if p, ok := f.formulaAt[col]; ok {
		return p
	}
	return "/formulas"
}

// block is the area of the lines' columns from one row to another.
func (f *fit) block(top, bottom int) formula.Area {
	return formula.Area{Left: f.left, Top: top, Right: f.right, Bottom: bottom}
}

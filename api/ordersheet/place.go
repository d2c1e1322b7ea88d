package ordersheet

import (
	"slices"

	"coldrise/api/ordersheet/formula"
)

// placing says which row each line goes into, by the rows' numbers of after.
type placing struct {
	rows     []int
	inserted int // how many of them, the last ones, come in
	change   change
	merges   []formula.Area // merged cells of a line, repeated in rows that have nothing yet
}

// old gives the number a written row had before; 0 for one that comes in.
func (p *placing) old(i int) int {
	if i >= len(p.rows)-p.inserted {
		return 0
	}
	return p.rows[i]
}

// place finds rows for n lines: those that are free below the last line, then
// further ones. Faults say what is in the way.
func (f *fit) place(n int) *placing {
	free, room := f.free(n)
	p := &placing{change: change{sheet: f.s.name, left: f.left, right: f.right, first: f.first, last: f.last, like: f.like}}
	for i := range min(n, free) {
		p.rows = append(p.rows, f.last+1+i)
	}
	at := f.last + 1 + free
	for i := range n - len(p.rows) {
		p.rows = append(p.rows, at+i)
	}
	if left := n - free; left > 0 && !room {
		p.inserted, p.change.at, p.change.count = left, at, left
	}
	p.change.end = p.rows[n-1]
	bottom := p.change.end
	if k := len(f.s.rows); k > 0 {
		bottom = max(bottom, p.change.row(f.s.rows[k-1].number))
	}
	if bottom > formula.MaxRow {
		f.fault("/append", "", "sheet %q has no room for %d further rows", f.s.name, n)
		return p
	}
	f.checkRows(p)
	return p
}

// free counts the rows below the last line that are there to be used, up to n
// or more, and says whether what is left over finds room below them without
// pushing anything.
func (f *fit) free(n int) (count int, room bool) {
	switch f.m.Append.Where {
	case BeforeTotals:
		for r := f.last + 1; r < f.totals && count < n && (f.last == f.header || f.prepared(r)) && f.vacant(r); r++ {
			count++
		}
		return count, false
	case IntoTable:
		end := f.table.area.Bottom - f.table.totals
		count = end - f.last
		left := n - count
		return count, f.table.totals == 0 && (left <= 0 || f.clear(end+1, end+left))
	}
	return 0, true
}

// prepared says whether an empty row is laid out as a line: a formula in the
// block, or a column of the map with the format it has in a line.
func (f *fit) prepared(n int) bool {
	r, like := f.s.row(n), f.s.row(f.like)
	if r == nil {
		return false
	}
	for _, c := range r.cells {
		if c.f != nil && c.col >= f.left && c.col <= f.right {
			return true
		}
	}
	for _, w := range f.writes {
		a, b := r.cell(w.col), like.cell(w.col)
		if a != nil && b != nil && a.style() > 0 && a.style() == b.style() {
			return true
		}
	}
	return false
}

// vacant says whether a row's columns of the map are empty, and nothing but
// what may be preprinted stands beside them.
func (f *fit) vacant(n int) bool {
	before := len(f.faults)
	f.checkVacant(n)
	vacant := len(f.faults) == before
	f.faults = f.faults[:before]
	return vacant
}

// clear says whether rows hold nothing at all in the block, no merged cell and
// no other table.
func (f *fit) clear(top, bottom int) bool {
	area := f.block(top, bottom)
	for i := f.s.from(top); i < len(f.s.rows) && f.s.rows[i].number <= bottom; i++ {
		for _, c := range f.s.rows[i].cells {
			if area.Has(c.col, c.row) && f.w.filled(c) {
				return false
			}
		}
	}
	for _, m := range f.s.merges() {
		if m.Meets(area) {
			return false
		}
	}
	for i := range f.w.tables {
		if t := &f.w.tables[i]; t.sheet == f.s.name && t.area.Meets(area) {
			return false
		}
	}
	return true
}

// checkRows holds the rows against what is in them.
func (f *fit) checkRows(p *placing) {
	bottom := f.last
	for i := range p.rows {
		bottom = max(bottom, p.old(i))
	}
	merges := slices.DeleteFunc(f.s.merges(), func(m formula.Area) bool { return !m.Meets(f.block(max(f.like, 1), bottom)) })
	for i := range p.rows {
		n := p.old(i)
		if n == 0 {
			break
		}
		f.checkVacant(n)
		f.checkMerged(merges, n)
	}
	if f.like > 0 {
		f.checkMerged(merges, f.like)
		for _, m := range merges {
			if m.Meets(f.block(f.like, f.like)) {
				p.merges = append(p.merges, m)
			}
		}
	}
}

// checkVacant takes a fault for each cell of a row that is in the way.
func (f *fit) checkVacant(n int) {
	r := f.s.row(n)
	if r == nil {
		return
	}
	if flag(r.el, "hidden") {
		f.fault("/append", "", "row %d of sheet %q is free and hidden; what is written there would not be seen", n, f.s.name)
	}
	mapped := map[int]string{}
	for _, w := range f.writes {
		mapped[w.col] = w.pointer
	}
	for _, c := range r.cells {
		if c.col < f.left || c.col > f.right || !f.w.filled(c) {
			continue
		}
		pointer, written := mapped[c.col]
		switch {
		case written && c.f != nil:
			text, _ := f.s.formulaOf(c)
			f.fault(pointer, "="+text, "%s holds a formula; expected an empty cell for the next line", at(f.s.name, c.col, n))
		case written:
			f.fault(pointer, f.w.value(c), "%s reads %s; expected an empty cell for the next line", at(f.s.name, c.col, n), reads(f.w.value(c)))
		case f.preprinted[c.col]:
		case c.f != nil:
			f.checkSame(c)
		default:
			f.fault("/append", f.w.value(c), "%s reads %s beside a free row; expected nothing there, or the column listed under preprinted", at(f.s.name, c.col, n), reads(f.w.value(c)))
		}
	}
	for _, a := range f.s.spread {
		if a.Meets(f.block(n, n)) {
			f.fault("/append", "", "row %d of sheet %q is part of an array over %s", n, f.s.name, a)
		}
	}
}

// checkSame wants the formula of a free row to be the lines' own carried down:
// a totals row looks much like a free row otherwise.
func (f *fit) checkSame(c cell) {
	if c.row == f.like {
		return
	}
	text, err := f.s.formulaOf(c)
	want := ""
	if like := f.s.row(f.like).cell(c.col); like != nil && like.f != nil && err == nil {
		var own string
		if own, err = f.s.formulaOf(*like); err == nil {
			want, err = carried(own, c.row-f.like)
		}
	}
	if err != nil || text != want {
		f.fault("/append", "="+text, "%s holds a formula that is not the one of the lines above; expected a free row or one laid out as a line", at(f.s.name, c.col, c.row))
	}
}

func carried(text string, rows int) (string, error) {
	parsed, err := formula.Parse(text)
	if err != nil {
		return "", err
	}
	return parsed.Carry(0, rows)
}

// merges gives the merged cells of the sheet.
func (s *sheet) merges() []formula.Area {
	var list []formula.Area
	for _, e := range s.kids("mergeCells") {
		for _, k := range e.Kids {
			ref, _ := k.Attr("ref")
			if a, err := formula.ParseArea(ref); err == nil && k.Is(mainSpace, "mergeCell") {
				list = append(list, a)
			}
		}
	}
	return list
}

// checkMerged wants merged cells of a row to lie within it and not to hide a
// column that is written.
func (f *fit) checkMerged(merges []formula.Area, n int) {
	for _, m := range merges {
		if !m.Meets(f.block(n, n)) {
			continue
		}
		if m.Top != m.Bottom {
			f.fault("/append", "", "%s!%s is merged over several rows, and a line would go into row %d", f.s.name, m, n)
			continue
		}
		for _, w := range f.writes {
			if w.col > m.Left && w.col <= m.Right {
				f.fault(w.pointer, "", "%s is merged into %s and would not be seen; map column %s", at(f.s.name, w.col, n), m, formula.ColumnName(m.Left))
			}
		}
	}
}

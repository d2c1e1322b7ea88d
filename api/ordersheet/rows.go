package ordersheet

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"coldrise/api/ordersheet/formula"
	"coldrise/api/ordersheet/parts"
	"coldrise/domain/problem"
)

// rewriteRows changes the rows of the sheet: lines go in, rows below move
// down, formulas follow, cached results go.
func (f *fill) rewriteRows(ctx context.Context) error {
	if err := f.gatherCarry(); err != nil {
		return err
	}
	texts, unshare, err := f.follow()
	if err != nil {
		return err
	}
	cleared := 0
	for i := range f.s.rows {
		if i%1000 == 0 && ctx.Err() != nil {
			return problem.New(problem.Cancelled, "the fill was cancelled")
		}
		r := &f.s.rows[i]
		if to := f.place.change.row(r.number); to != r.number {
			f.push(r, to)
		}
		for _, c := range r.cells {
			if c.f != nil {
				f.rewriteFormula(c, texts[c.f], unshare)
			}
		}
		cleared += clearRow(f.s, r, &f.edits)
	}
	f.clearedIn(f.s.name, cleared)
	return f.writeLines()
}

func (f *fill) clearedIn(sheet string, n int) {
	if n > 0 {
		f.report.Cleared = append(f.report.Cleared, Cleared{sheet, n})
	}
}

// push gives a row and its cells a new number.
func (f *fill) push(r *row, to int) {
	f.edits.SetAttr(f.s.data, r.el, "r", strconv.Itoa(to))
	for _, c := range r.cells {
		f.edits.SetAttr(f.s.data, c.el, "r", formula.CellName(c.col, to))
	}
}

// follow works out how each formula of the sheet reads after the change, and
// which shared formulas can no longer be shared: those of which one moves or
// changes.
func (f *fill) follow() (texts map[*parts.Element]string, unshare map[string]bool, err error) {
	texts, unshare = map[*parts.Element]string{}, map[string]bool{}
	for i := range f.s.rows {
		for _, c := range f.s.rows[i].cells {
			if c.f == nil {
				continue
			}
			text, err := f.s.formulaOf(c)
			if err != nil {
				return nil, nil, err
			}
			line := 0
			if f.isLine(c) {
				line = c.row
			}
			after, did, err := f.placed(text, f.s.name, line)
			if err != nil {
				return nil, nil, f.unreadable(c, err)
			}
			f.noteFormula(c, text, after, did)
			texts[c.f] = after
			if kind, _ := c.f.Attr("t"); kind == "shared" && (after != text || f.place.change.row(c.row) != c.row) {
				si, _ := c.f.Attr("si")
				unshare[si] = true
			}
		}
	}
	f.checkArrays()
	return texts, unshare, nil
}

// isLine says whether a cell belongs to a line, or to a row laid out as one.
func (f *fill) isLine(c cell) bool {
	end := f.place.change.end
	if f.place.change.count > 0 {
		end = f.place.change.at - 1
	}
	return c.col >= f.left && c.col <= f.right && c.row > f.header && c.row <= end
}

func (f *fill) noteFormula(c cell, before, after string, did effect) {
	where := at(f.s.name, c.col, f.place.change.row(c.row))
	if did.has(grown) {
		f.report.extend(where, "=%s became =%s", before, after)
	}
	if did.has(partial) {
		f.report.leave(where, fmt.Sprintf("=%s covers some of the lines and not the new ones", after))
	}
	if did.has(tangled) {
		f.fault("/append", "="+before, "%s refers through several sheets to rows that would have to move or grow", at(f.s.name, c.col, c.row))
	}
	if f.place.change.count > 0 && refersByText(before) {
		f.report.leave(where, "="+after+" takes a reference from text, which does not follow the rows that moved")
	}
}

// checkArrays refuses to tear an array, or to move a data table.
func (f *fill) checkArrays() {
	c := &f.place.change
	for _, a := range f.s.arrays {
		switch {
		case c.cuts(a.area):
			f.fault("/append", "", "%s holds an array over %s, and rows must be inserted within it", at(f.s.name, a.cell.col, a.cell.row), a.area)
		case a.kind == "dataTable" && c.count > 0:
			f.fault("/append", "", "%s holds a data table over %s, which cannot be followed when rows are inserted", at(f.s.name, a.cell.col, a.cell.row), a.area)
		}
	}
}

// rewriteFormula writes a formula as it reads after the change.
func (f *fill) rewriteFormula(c cell, text string, unshare map[string]bool) {
	kind, _ := c.f.Attr("t")
	si, _ := c.f.Attr("si")
	switch {
	case kind == "shared" && unshare[si]:
		more := ""
		if flag(c.f, "ca") {
			more = ` ca="1"`
		}
		f.edits.Replace(c.f.All, "<"+f.tag("f")+more+">"+parts.Escape(text)+"</"+f.tag("f")+">")
		return
	case kind == "shared":
		return
	case kind == "array":
		ref, _ := c.f.Attr("ref")
		if a, err := formula.ParseArea(ref); err == nil {
			if to := f.place.change.area(a); to != a {
				f.edits.SetAttr(f.s.data, c.f, "ref", to.String())
			}
		}
	}
	if text != c.f.Text {
		f.edits.Fill(f.s.data, c.f, parts.Escape(text))
	}
}

// clearRow takes the cached results out of a row and counts them: values of
// formulas, and of cells that an array fills.
func clearRow(s *sheet, r *row, edits *parts.Splices) int {
	n := 0
	for _, c := range r.cells {
		if c.v == nil || c.f == nil && !c.inArray {
			continue
		}
		edits.Replace(c.v.All, "")
		edits.DropAttr(s.data, c.el, "t")
		edits.DropAttr(s.data, c.el, "vm") // describes the result
		n++
	}
	return n
}

// writeLines puts the lines in: into rows that are there, and as new rows.
func (f *fill) writeLines() error {
	var fresh strings.Builder
	insert := -1
	flush := func() {
		if fresh.Len() > 0 {
			f.insertRows(insert, fresh.String())
			fresh.Reset()
		}
	}
	for i, n := range f.place.rows {
		cells, err := f.rowCells(i)
		if err != nil {
			return err
		}
		if there := f.s.row(f.place.old(i)); there != nil {
			flush()
			f.intoRow(there, cells)
			continue
		}
		before := f.s.from(n)
		if f.place.old(i) == 0 {
			before = f.s.from(f.place.change.at)
		}
		if before != insert {
			flush()
		}
		insert = before
		text, err := f.newRow(n, cells)
		if err != nil {
			return err
		}
		fresh.WriteString(text)
	}
	flush()
	return nil
}

// insertRows puts rows before the row of an index.
func (f *fill) insertRows(before int, text string) {
	switch {
	case before < len(f.s.rows):
		f.edits.Insert(f.s.rows[before].el.All.From, text)
	case f.s.cells.SelfClosed:
		f.edits.Fill(f.s.data, f.s.cells, text)
	default:
		f.edits.Insert(f.s.cells.Body.To, text)
	}
}

// newRow writes a row that was not there: the row's element of the one above,
// without what is that row's alone.
func (f *fill) newRow(n int, cells []newCell) (string, error) {
	tag := "<" + f.tag("row") + ` r="` + strconv.Itoa(n) + `">`
	if like := f.s.row(f.like); like != nil {
		var change parts.Splices
		change.SetAttr(f.s.data, like.el, "r", strconv.Itoa(n))
		for _, name := range []string{"spans", "hidden", "collapsed"} {
			change.DropAttr(f.s.data, like.el, name)
		}
		copied, err := change.ApplyWithin(f.s.data, like.el.Tag)
		if err != nil {
			return "", problem.Wrap(err, "copying a row")
		}
		tag = strings.TrimSuffix(strings.TrimSuffix(string(copied), ">"), "/") + ">"
	}
	return tag + joined(cells) + "</" + f.tag("row") + ">", nil
}

func joined(cells []newCell) string {
	var b strings.Builder
	for _, c := range cells {
		b.WriteString(c.xml)
	}
	return b.String()
}

// intoRow puts cells into a row that is there.
func (f *fill) intoRow(r *row, cells []newCell) {
	f.edits.DropAttr(f.s.data, r.el, "spans") // a hint that may no longer hold
	if r.el.SelfClosed {
		f.edits.Fill(f.s.data, r.el, joined(cells))
		return
	}
	for _, c := range cells {
		if have := r.cell(c.col); have != nil {
			f.edits.Replace(have.el.All, c.xml)
			continue
		}
		next := r.el.Body.To
		for _, h := range r.cells {
			if h.col > c.col {
				next = h.el.All.From
				break
			}
		}
		f.edits.Insert(next, c.xml)
	}
}

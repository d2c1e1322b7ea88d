package ordersheet

import (
	"fmt"
	"strings"

	"coldrise/api/ordersheet/formula"
	"coldrise/api/ordersheet/parts"
	"coldrise/domain/problem"
)

// rewriteTables grows the table that takes the lines, and refuses what would
// need more of a table to change than that.
func (f *fill) rewriteTables() error {
	c := &f.place.change
	for i := range f.w.tables {
		t := &f.w.tables[i]
		f.tableFormulas(t)
		if t.sheet != f.s.name {
			continue
		}
		if t == f.table {
			if err := f.growTable(t); err != nil {
				return err
			}
			continue
		}
		if c.count > 0 && t.area.Bottom >= c.at {
			f.fault("/append", "", "table %s at %s!%s would have to move when rows are inserted before row %d", t.name, t.sheet, t.area, c.at)
		}
	}
	return nil
}

// growTable changes a table's ranges and nothing else. One without a line has
// a blank row marked as the place to type into; that mark goes.
func (f *fill) growTable(t *sheetTable) error {
	body := max(t.area.Bottom-t.totals, f.place.change.end)
	if body == t.area.Bottom-t.totals && !flag(t.root, "insertRow") {
		return nil
	}
	data, _ := f.w.file.Part(t.part)
	var edits parts.Splices
	ref := t.area
	ref.Bottom = body + t.totals
	edits.SetAttr(data, t.root, "ref", ref.String())
	for _, name := range []string{"insertRow", "insertRowShift"} {
		edits.DropAttr(data, t.root, name)
	}
	t.root.Each(func(e *parts.Element) {
		if e != t.root && (e.Is(mainSpace, "autoFilter") || e.Is(mainSpace, "sortState")) {
			text, _ := e.Attr("ref")
			if a, err := formula.ParseArea(text); err == nil && a.Bottom >= f.last {
				a.Bottom = body
				edits.SetAttr(data, e, "ref", a.String())
			}
		}
		if e.Is(mainSpace, "filterColumn") && len(e.Kids) > 0 {
			f.report.leave(t.name, "a filter is set; the new rows are shown until it is applied again")
		}
	})
	out, err := edits.Apply(data)
	if err != nil {
		return problem.Wrap(err, "growing a table")
	}
	f.out[t.part] = out
	f.report.extend(f.s.name, "table %s over %s covers %s", t.name, t.area, ref)
	return nil
}

// tableFormulas looks at the formulas that tables keep for their columns.
func (f *fill) tableFormulas(t *sheetTable) {
	t.root.Each(func(e *parts.Element) {
		if e.Is(mainSpace, "calculatedColumnFormula") || e.Is(mainSpace, "totalsRowFormula") {
			f.elsewhere(fmt.Sprintf("table %s of sheet %q", t.name, t.sheet), strings.TrimPrefix(e.Text, "="), t.sheet)
		}
	})
}

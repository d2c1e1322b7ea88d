package ordersheet

import (
	"context"
	"encoding/json"
	"fmt"
	"strings"

	"coldrise/api/ordersheet/formula"
	"coldrise/domain/problem"
)

// fit is a map held against a workbook: which column is which, and where the
// lines stand.
type fit struct {
	w      *Workbook
	m      *Map
	s      *sheet
	faults []problem.Fault

	header      int
	writes      []write
	formulas    []spot
	formulaAt   map[int]string // pointer of the map's member, by column
	preprinted  map[int]bool
	left, right int
	table       *sheetTable
	totals      int // row of the totals; 0 where there is none
	first, last int // rows of the first and last line; the header where there is none
	like        int // row whose style and formulas new rows take; 0 where there is none
}

// write is a column that gets a value in every row.
type write struct {
	col     int
	field   Field // "" for a fixed value
	fixed   value
	form    form
	pointer string
}

// Fit holds a map against the workbook and gives it pinned: every column by
// its letters as well as by its header, so that a column that moves later is
// named with its cell. A map that does not fit is refused with every fault,
// each naming sheet and cell, what was found and what was expected.
func (w *Workbook) Fit(ctx context.Context, m Map) (pinned Map, err error) {
	defer crashed(&err)
	f, err := w.fit(ctx, m)
	if err != nil {
		return Map{}, err
	}
	return *f.m, nil
}

func (w *Workbook) fit(ctx context.Context, m Map) (*fit, error) {
	var l problem.List
	m.Check(&l)
	if err := l.Err("order sheet map"); err != nil {
		return nil, err
	}
	own := m.clone()
	f := &fit{w: w, m: &own, formulaAt: map[int]string{}, preprinted: map[int]bool{}}
	entry, ok := f.findSheet()
	if !ok {
		return nil, f.err()
	}
	var err error
	if f.s, err = w.readSheet(ctx, entry, true); err != nil {
		return nil, err
	}
	if f.findHeader() {
		f.columns()
	}
	if len(f.faults) == 0 {
		f.findLines()
	}
	if len(f.faults) == 0 {
		f.checkLike()
	}
	return f, f.err()
}

func (m Map) clone() Map {
	m.Columns = append([]MapColumn(nil), m.Columns...)
	m.Fixed = append([]Fixed(nil), m.Fixed...)
	m.Formulas = append([]Place(nil), m.Formulas...)
	m.Preprinted = append([]Place(nil), m.Preprinted...)
	return m
}

// fault takes a fault of the workbook. Pointers may repeat: two cells can
// break one rule of the map.
func (f *fit) fault(pointer, found, format string, args ...any) {
	f.faults = append(f.faults, problem.Fault{Pointer: pointer, Message: fmt.Sprintf(format, args...), Value: quote(found)})
}

// quote is a cell's text as short JSON; nothing for an empty one.
func quote(text string) string {
	if text == "" {
		return ""
	}
	if runes := []rune(text); len(runes) > 60 {
		text = string(runes[:59]) + "…"
	}
	out, err := json.Marshal(text)
	if err != nil {
		return ""
	}
	return string(out)
}

func (f *fit) err() error {
	if len(f.faults) == 0 {
		return nil
	}
	list := f.faults
	if more := len(list) - 50; more > 0 {
		list = append(list[:50:50], problem.Fault{Message: fmt.Sprintf("%d further faults are not listed", more)})
	}
	return &problem.Error{Code: problem.Invalid, Message: "the workbook cannot be filled by this map; it was left unchanged", Faults: list}
}

func (f *fit) findSheet() (sheetEntry, bool) {
	var names []string
	for _, s := range f.w.sheets {
		if strings.EqualFold(s.name, f.m.Sheet) {
			if s.kind == "worksheet" {
				f.m.Sheet = s.name
				return s, true
			}
			f.fault("/sheet", s.name, "sheet %q is a %s and holds no cells", s.name, s.kind)
			return s, false
		}
		names = append(names, fmt.Sprintf("%q", s.name))
	}
	f.fault("/sheet", f.m.Sheet, "the workbook has no sheet %q; it has %.300s", f.m.Sheet, strings.Join(names, ", "))
	return sheetEntry{}, false
}

// findHeader settles which row holds the headers: the map's, or the table's.
func (f *fit) findHeader() bool {
	if f.m.Append.Where != IntoTable {
		f.header = f.m.HeaderRow
		return true
	}
	var names []string
	for i := range f.w.tables {
		t := &f.w.tables[i]
		names = append(names, fmt.Sprintf("%q on sheet %q", t.name, t.sheet))
		if !strings.EqualFold(t.name, f.m.Append.Table) || t.sheet != f.s.name {
			continue
		}
		f.table, f.header = t, t.area.Top+t.headers-1
		kind, _ := t.root.Attr("tableType")
		switch {
		case t.headers == 0:
			f.fault("/append/table", t.name, "table %s at %s!%s has no header row", t.name, t.sheet, t.area)
		case kind != "" && kind != "worksheet":
			f.fault("/append/table", t.name, "table %s is filled from elsewhere (%s); what is added would be lost when it is refreshed", t.name, kind)
		}
		return len(f.faults) == 0
	}
	f.fault("/append/table", f.m.Append.Table, "sheet %q has no table %q; the workbook has %.300s", f.s.name, f.m.Append.Table, orNone(names))
	return false
}

func orNone(names []string) string {
	if len(names) == 0 {
		return "none"
	}
	return strings.Join(names, ", ")
}

// columns finds each place of the map in the header row.
func (f *fit) columns() {
	used := map[int]string{}
	settle := func(s spot) int {
		col := f.column(s)
		if before, twice := used[col]; twice && col > 0 {
			f.fault(s.pointer, "", "is column %s, as %s is already", formula.ColumnName(col), before)
		}
		if col > 0 {
			used[col], s.Column = s.pointer, formula.ColumnName(col)
			if f.left == 0 {
				f.left, f.right = col, col
			}
			f.left, f.right = min(f.left, col), max(f.right, col)
		}
		return col
	}
	for i, s := range f.m.written() {
		f.writes = append(f.writes, f.newWrite(i, settle(s), s.pointer))
	}
	formulas, preprinted := f.m.others()
	for _, s := range formulas {
		f.formulaAt[settle(s)] = s.pointer
	}
	f.formulas = formulas
	for _, s := range preprinted {
		f.preprinted[settle(s)] = true
	}
	f.widen()
}

func (f *fit) newWrite(i, col int, pointer string) write {
	if i < len(f.m.Columns) {
		c := f.m.Columns[i]
		form := c.As
		if form == "" {
			form = c.Field.natural()
		}
		return write{col: col, field: c.Field, form: form, pointer: pointer}
	}
	v := fixedValue(f.m.Fixed[i-len(f.m.Columns)])
	return write{col: col, fixed: v, form: v.form, pointer: pointer}
}

// column gives the column of a place; 0 with a fault where it is not there.
func (f *fit) column(s spot) int {
	header := f.s.row(f.header)
	if s.Column != "" {
		col := formula.ParseColumn(s.Column)
		if s.Header == "" {
			return col
		}
		found := ""
		if c := header.cell(col); c != nil {
			found = f.w.value(*c)
		}
		if folded(found) != folded(s.Header) {
			f.fault(s.pointer, found, "%s reads %s; expected the header %q", at(f.s.name, col, f.header), reads(found), s.Header)
			return 0
		}
		return col
	}
	var cols []int
	if header != nil {
		for _, c := range header.cells {
			if folded(f.w.value(c)) == folded(s.Header) {
				cols = append(cols, c.col)
			}
		}
	}
	switch len(cols) {
	case 1:
		return cols[0]
	case 0:
		f.fault(s.pointer, "", "no cell of row %d of sheet %q reads %q; it reads %.300s", f.header, f.s.name, s.Header, f.headers(header))
	default:
		f.fault(s.pointer, s.Header, "%s and %s both read %q; name the column by its letters", at(f.s.name, cols[0], f.header), at(f.s.name, cols[1], f.header), s.Header)
	}
	return 0
}

func reads(text string) string {
	if strings.TrimSpace(text) == "" {
		return "nothing"
	}
	return quote(text)
}

func (f *fit) headers(r *row) string {
	var list []string
	if r != nil {
		for _, c := range r.cells {
			switch v := f.w.value(c); {
			case strings.TrimSpace(v) != "":
				list = append(list, fmt.Sprintf("%q in %s", v, formula.CellName(c.col, c.row)))
			case c.f != nil:
				list = append(list, "a formula without a result in "+formula.CellName(c.col, c.row))
			}
		}
	}
	if len(list) == 0 {
		return "nothing"
	}
	return strings.Join(list, ", ")
}

// widen takes the headed columns beside the map's into the block of the lines:
// a table's own, else as far as the header goes on without a gap.
func (f *fit) widen() {
	if f.table != nil {
		for _, w := range f.writes {
			if w.col > 0 && (w.col < f.table.area.Left || w.col > f.table.area.Right) {
				f.fault(w.pointer, "", "column %s lies outside table %s at %s!%s", formula.ColumnName(w.col), f.table.name, f.s.name, f.table.area)
			}
		}
		f.left, f.right = f.table.area.Left, f.table.area.Right
		return
	}
	header := f.s.row(f.header)
	headed := func(col int) bool {
		c := header.cell(col)
		return c != nil && f.w.filled(*c)
	}
	for f.left > 1 && headed(f.left-1) {
		f.left--
	}
	for f.right < formula.MaxCol && headed(f.right+1) {
		f.right++
	}
	for i := range f.w.tables {
		t := &f.w.tables[i]
		if t.sheet == f.s.name && t.area.Meets(formula.Area{Left: f.left, Top: f.header, Right: f.right, Bottom: f.header + 1}) {
			f.fault("/append/where", "", "the lines stand in table %s at %s!%s; append to it with \"table\", or it would not grow", t.name, f.s.name, t.area)
		}
	}
}

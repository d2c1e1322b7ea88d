package ordersheet

import (
	"context"
	"slices"
	"strconv"
	"strings"

	"coldrise/api/ordersheet/formula"
	"coldrise/api/ordersheet/parts"
	"coldrise/domain/problem"
)

// Limits of a sheet: the cells of the one that is filled; the arrays over
// several cells of any; the bytes of its formulas, each shared one written out.
const (
	maxCells    = 200_000
	maxSpread   = 1_000
	maxFormulas = 8 << 20
)

// sheet is a worksheet's part, read.
type sheet struct {
	name, part string
	data       []byte
	root       *parts.Element
	rest       []*parts.Element // children of the root but for the rows
	cells      *parts.Element   // sheetData
	rows       []row
	shared     map[string]master
	arrays     []array
	spread     []formula.Area // of arrays, those over several cells
	open       []formula.Area // of those, the ones that reach the last row read
	written    int            // bytes of formulas written out
}

type row struct {
	number int
	el     *parts.Element
	cells  []cell
	last   int // column of the last cell read
}

// cell is one cell; f, v and is are its formula, value and inline text, or nil.
type cell struct {
	col, row int
	el       *parts.Element
	f, v, is *parts.Element
	inArray  bool // filled by a formula that may stand in another
}

// master is the cell whose formula others share.
type master struct {
	cell
	parsed formula.Formula
}

// readSheet reads a worksheet: every row, and all cells or those whose value is
// a formula's result.
func (w *Workbook) readSheet(ctx context.Context, entry sheetEntry, all bool) (*sheet, error) {
	data, _ := w.file.Part(entry.part)
	s := &sheet{name: entry.name, part: entry.part, data: data, shared: map[string]master{}}
	scan := parts.Scan(entry.part, data)
	for {
		more, err := scan.Next()
		if err != nil {
			return nil, err
		}
		e := scan.Opened
		switch {
		case !more && s.root != nil && s.cells != nil:
			return s, nil
		case !more:
			return nil, problem.New(problem.Malformed, "sheet %.40q holds no cells' part", entry.name)
		case e == nil:
		case s.root == nil && e.Is(mainSpace, "worksheet"):
			s.root = e
		case s.root == nil:
			return nil, problem.New(problem.Malformed, "sheet %.40q is no worksheet", entry.name)
		case e.Is(mainSpace, "sheetData") && s.cells == nil:
			s.cells = e
			if err := s.readRows(ctx, scan, all); err != nil {
				return nil, err
			}
		default:
			if err := scan.Tree(e); err != nil {
				return nil, err
			}
			s.rest = append(s.rest, e)
		}
	}
}

// readRows reads what is in sheetData, rows and cells in order.
func (s *sheet) readRows(ctx context.Context, scan *parts.Scanner, all bool) error {
	kept := 0
	for {
		if _, err := scan.Next(); err != nil {
			return err
		}
		e := scan.Opened
		switch {
		case scan.Closed == s.cells && s.cells != nil:
			return nil
		case e == nil:
		case e.Is(mainSpace, "row"):
			if err := s.addRow(e); err != nil {
				return err
			}
			if len(s.rows)%1000 == 0 && ctx.Err() != nil {
				return problem.New(problem.Cancelled, "the fill was cancelled")
			}
		case e.Is(mainSpace, "c") && len(s.rows) > 0 && scan.Depth() == 4:
			if err := scan.Tree(e); err != nil {
				return err
			}
			c, err := s.newCell(e)
			if err != nil {
				return err
			}
			last := &s.rows[len(s.rows)-1]
			if c.inArray = s.reached(c); all || c.f != nil || c.inArray {
				if kept++; kept > maxCells {
					return problem.New(problem.TooLarge, "sheet %.40q has more than %d cells", s.name, maxCells)
				}
				last.cells = append(last.cells, c)
			}
			last.last = c.col
		default:
			if err := scan.Tree(e); err != nil {
				return err
			}
		}
	}
}

// addRow takes a row; one without a number follows the one before.
func (s *sheet) addRow(e *parts.Element) error {
	before := 0
	if n := len(s.rows); n > 0 {
		before = s.rows[n-1].number
	}
	n := number(e, "r", before+1)
	if n <= before || n > formula.MaxRow {
		return problem.New(problem.Malformed, "sheet %.40q has row %d after row %d", s.name, n, before)
	}
	s.rows = append(s.rows, row{number: n, el: e})
	s.open = slices.DeleteFunc(s.open, func(a formula.Area) bool { return a.Bottom < n })
	return nil
}

// newCell reads a cell of the last row; one without a name follows the one before.
func (s *sheet) newCell(e *parts.Element) (cell, error) {
	r := &s.rows[len(s.rows)-1]
	c := cell{col: r.last + 1, row: r.number, el: e}
	if name, ok := e.Attr("r"); ok {
		col, row, err := formula.ParseCell(name)
		if err != nil || row != r.number || col <= r.last {
			return c, problem.New(problem.Malformed, "sheet %.40q has cell %.12q in row %d, out of order", s.name, name, r.number)
		}
		c.col = col
	}
	if c.col > formula.MaxCol {
		return c, problem.New(problem.Malformed, "sheet %.40q has a cell past the last column in row %d", s.name, r.number)
	}
	c.f, c.v, c.is = e.Kid(mainSpace, "f"), e.Kid(mainSpace, "v"), e.Kid(mainSpace, "is")
	if c.f == nil {
		return c, nil
	}
	return c, s.note(c)
}

// array is a formula that fills an area: an array's or a data table's.
type array struct {
	cell cell
	kind string
	area formula.Area
}

// note keeps a formula that others use, or that fills an area.
func (s *sheet) note(c cell) error {
	kind, _ := c.f.Attr("t")
	if kind == "array" || kind == "dataTable" {
		ref, _ := c.f.Attr("ref")
		area, err := formula.ParseArea(ref)
		if err != nil {
			return problem.New(problem.Malformed, "%s holds an array without its range", at(s.name, c.col, c.row))
		}
		s.arrays = append(s.arrays, array{c, kind, area})
		if area.Left != area.Right || area.Top != area.Bottom {
			s.spread, s.open = append(s.spread, area), append(s.open, area)
		}
		if len(s.spread) > maxSpread {
			return problem.New(problem.TooLarge, "sheet %.40q has more than %d arrays over several cells", s.name, maxSpread)
		}
	}
	if kind != "shared" || c.f.Text == "" {
		return nil
	}
	parsed, err := formula.Parse(c.f.Text)
	if err != nil {
		return problem.New(problem.Malformed, "%s holds a formula that cannot be read", at(s.name, c.col, c.row))
	}
	si, _ := c.f.Attr("si")
	s.shared[si] = master{c, parsed}
	return nil
}

// reached says whether an array fills the cell just read.
func (s *sheet) reached(c cell) bool {
	return slices.ContainsFunc(s.open, func(a formula.Area) bool { return a.Has(c.col, c.row) })
}

// formulaOf gives a cell's formula as it would read if nothing were shared;
// "" where it has none of its own.
func (s *sheet) formulaOf(c cell) (string, error) {
	if c.f == nil {
		return "", nil
	}
	if kind, _ := c.f.Attr("t"); kind != "shared" || c.f.Text != "" {
		return c.f.Text, nil
	}
	si, _ := c.f.Attr("si")
	m, ok := s.shared[si]
	if !ok {
		return "", problem.New(problem.Malformed, "%s shares a formula that no cell has", at(s.name, c.col, c.row))
	}
	text, err := m.parsed.Carry(c.col-m.col, c.row-m.row)
	if err != nil {
		return "", problem.New(problem.Malformed, "%s shares a formula that leaves the sheet there", at(s.name, c.col, c.row))
	}
	if s.written += len(text); s.written > maxFormulas {
		return "", problem.New(problem.TooLarge, "sheet %.40q has formulas of more than %d bytes", s.name, maxFormulas)
	}
	return text, nil
}

// kind is the type of a cell's value, as the file writes it.
func (c cell) kind() string {
	kind, ok := c.el.Attr("t")
	if !ok {
		return "n"
	}
	return kind
}

// style is the index of a cell's format; -1 where it names none.
func (c cell) style() int { return number(c.el, "s", -1) }

// value gives what a cell shows as text, without its number format; "" where
// it is empty.
func (w *Workbook) value(c cell) string {
	switch {
	case c.is != nil:
		return plain(c.is)
	case c.v == nil:
		return ""
	case c.kind() == "s":
		if i, err := strconv.Atoi(strings.TrimSpace(c.v.Text)); err == nil && i >= 0 && i < len(w.strings) {
			return w.strings[i]
		}
		return ""
	case c.kind() == "str":
		return unescaped(c.v.Text)
	}
	return c.v.Text
}

// filled says whether a cell holds something: a value that is not blank, or a formula.
func (w *Workbook) filled(c cell) bool {
	return c.f != nil || strings.TrimSpace(w.value(c)) != ""
}

// row gives the row of a number, or nil.
func (s *sheet) row(n int) *row {
	i := s.from(n)
	if i < len(s.rows) && s.rows[i].number == n {
		return &s.rows[i]
	}
	return nil
}

// from gives the index of the first row at or below a number.
func (s *sheet) from(n int) int {
	lo, hi := 0, len(s.rows)
	for lo < hi {
		if mid := (lo + hi) / 2; s.rows[mid].number < n {
			lo = mid + 1
		} else {
			hi = mid
		}
	}
	return lo
}

// cell gives the cell of a row in a column, or nil.
func (r *row) cell(col int) *cell {
	if r == nil {
		return nil
	}
	for i := range r.cells {
		if r.cells[i].col == col {
			return &r.cells[i]
		}
	}
	return nil
}

// kids gives the elements of a name among what stands beside the rows.
func (s *sheet) kids(local string) []*parts.Element {
	var list []*parts.Element
	for _, e := range s.rest {
		if e.Is(mainSpace, local) {
			list = append(list, e)
		}
	}
	return list
}

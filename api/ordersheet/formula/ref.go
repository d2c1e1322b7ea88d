// Package formula finds the references in worksheet formulas and moves them.
//
// It reads the form in which a workbook file keeps a formula: A1 notation,
// English names, commas and decimal points whatever the locale, without the
// leading equals sign (ECMA-376 Part 1, 18.17). It evaluates nothing: whatever
// is no reference is passed through byte for byte.
package formula

import (
	"fmt"
	"strconv"
	"strings"
)

// The last row and column of a worksheet (ECMA-376 Part 1, 18.17.2.3).
const (
	MaxRow = 1 << 20
	MaxCol = 1 << 14
)

// Kind says what shape a reference has.
type Kind int

// The shapes.
const (
	Cell    Kind = iota // A1
	Range               // A1:B2
	Columns             // A:C
	Rows                // 3:7
)

// Corner is one end of a reference. Rows and columns count from 1; a Columns
// reference has no rows and a Rows reference no columns.
type Corner struct {
	Col, Row       int
	FixCol, FixRow bool // written with $
}

// Ref is one reference of a formula.
type Ref struct {
	// Sheet is the sheet it names, unquoted; "" where it names none.
	Sheet string
	// LastSheet is the other end of a reference through several sheets.
	LastSheet string
	// External is set where it names another workbook.
	External bool
	Kind     Kind
	From, To Corner // equal for a Cell
	repeated bool   // the sheet stands before both ends
}

// Top and Bottom give the rows it covers, in order; whole columns cover all.
func (r Ref) Top() int { top, _ := r.rows(); return top }

// Bottom is the last row it covers.
func (r Ref) Bottom() int { _, bottom := r.rows(); return bottom }

func (r Ref) rows() (top, bottom int) {
	if r.Kind == Columns {
		return 1, MaxRow
	}
	return min(r.From.Row, r.To.Row), max(r.From.Row, r.To.Row)
}

// Left and Right give the columns it covers, in order; whole rows cover all.
func (r Ref) Left() int { left, _ := r.cols(); return left }

// Right is the last column it covers.
func (r Ref) Right() int { _, right := r.cols(); return right }

func (r Ref) cols() (left, right int) {
	if r.Kind == Rows {
		return 1, MaxCol
	}
	return min(r.From.Col, r.To.Col), max(r.From.Col, r.To.Col)
}

// BottomEnd gives the end that holds the last row.
func (r *Ref) BottomEnd() *Corner {
	if r.From.Row > r.To.Row {
		return &r.From
	}
	return &r.To
}

// String writes the reference without its sheet.
func (r Ref) String() string {
	switch r.Kind {
	case Cell:
		return r.From.String()
	case Columns:
		return column(r.From) + ":" + column(r.To)
	case Rows:
		return row(r.From) + ":" + row(r.To)
	}
	return r.From.String() + ":" + r.To.String()
}

// String writes the corner with its dollar signs.
func (c Corner) String() string { return column(c) + row(c) }

func column(c Corner) string { return dollar(c.FixCol) + ColumnName(c.Col) }
func row(c Corner) string    { return dollar(c.FixRow) + strconv.Itoa(c.Row) }

func dollar(fixed bool) string {
	if fixed {
		return "$"
	}
	return ""
}

// ColumnName gives the letters of a column: 1 is A, 28 is AB.
func ColumnName(col int) string {
	var letters []byte
	for ; col > 0; col = (col - 1) / 26 {
		letters = append([]byte{byte('A' + (col-1)%26)}, letters...)
	}
	return string(letters)
}

// ParseColumn reads the letters of a column, either case; 0 where they are none.
func ParseColumn(letters string) int {
	if letters == "" || len(letters) > 3 {
		return 0
	}
	col := 0
	for _, c := range []byte(strings.ToUpper(letters)) {
		if c < 'A' || c > 'Z' {
			return 0
		}
		col = 26*col + int(c-'A') + 1
	}
	if col > MaxCol {
		return 0
	}
	return col
}

// CellName gives the name of a cell: "B7".
func CellName(col, row int) string { return ColumnName(col) + strconv.Itoa(row) }

// ParseCell reads a cell's name without dollar signs: "B7".
func ParseCell(name string) (col, row int, err error) {
	c, ok := corner(name)
	if !ok || c.FixCol || c.FixRow {
		return 0, 0, fmt.Errorf("formula: %q is no cell", name)
	}
	return c.Col, c.Row, nil
}

// Area is a block of cells, as sqref and ref attributes name it.
type Area struct{ Left, Top, Right, Bottom int }

// ParseArea reads "B7" or "B7:D9".
func ParseArea(text string) (Area, error) {
	from, to, two := strings.Cut(text, ":")
	if !two {
		to = from
	}
	a, okA := corner(strings.ReplaceAll(from, "$", ""))
	b, okB := corner(strings.ReplaceAll(to, "$", ""))
	if !okA || !okB {
		return wholeLines(text)
	}
	return Area{min(a.Col, b.Col), min(a.Row, b.Row), max(a.Col, b.Col), max(a.Row, b.Row)}, nil
}

// wholeLines reads an area of whole columns or rows: "A:XFD", "3:9".
func wholeLines(text string) (Area, error) {
	f, err := Parse(text)
	if err != nil || len(f.refs) != 1 || f.refs[0].prefix != "" || f.refs[0].start != 0 || f.refs[0].end != len(text) {
		return Area{}, fmt.Errorf("formula: %q is no block of cells", text)
	}
	r := f.refs[0].Ref
	return Area{r.Left(), r.Top(), r.Right(), r.Bottom()}, nil
}

// String writes the area: "B7:D9", or "B7" for one cell.
func (a Area) String() string {
	from, to := CellName(a.Left, a.Top), CellName(a.Right, a.Bottom)
	if from == to {
		return from
	}
	return from + ":" + to
}

// Has says whether a cell lies in the area.
func (a Area) Has(col, row int) bool {
	return col >= a.Left && col <= a.Right && row >= a.Top && row <= a.Bottom
}

// Meets says whether two areas share a cell.
func (a Area) Meets(b Area) bool {
	return a.Left <= b.Right && b.Left <= a.Right && a.Top <= b.Bottom && b.Top <= a.Bottom
}

package table

import (
	"bytes"
	"context"
	"encoding/xml"
	"fmt"
	"io"
	"math"
	"strconv"
	"unicode/utf8"

	"coldrise/domain/problem"
)

// sheetReader streams the rows of one sheet.
type sheetReader struct {
	t       *tokens
	shared  *sharedStrings
	formats formats
	limits  Limits
	whole   int64
	total   int // rows, counted ahead

	row     Row
	line    int
	rows    int
	open    bool // inside a row
	done    bool
	cells   []Cell
	cell    openCell
	collect textCollector
}

// openCell is the cell that is being read.
type openCell struct {
	column             int
	ref, style, typeOf string
	value              []byte
	inValue, inFormula bool
	formula, stored    bool
}

// Sheet reads one sheet, by its name; the first that is not hidden for "".
// The error is a *problem.Error: invalid where there is no such sheet,
// malformed, too_large.
func (w *Workbook) Sheet(ctx context.Context, name string) (r Reader, sheet string, err error) {
	defer rescue(&err)
	entry, err := w.find(name)
	if err != nil {
		return nil, "", err
	}
	if err := w.prepare(ctx, entry.path); err != nil {
		return nil, "", err
	}
	t, err := w.tokens(ctx, entry.path)
	if err != nil {
		return nil, "", err
	}
	s := &sheetReader{t: t, shared: w.shared, formats: w.formats, limits: w.limits, total: w.rows[entry.path], whole: w.size}
	s.collect.limit = w.limits.CellRunes
	return s, entry.name, nil
}

// prepare reads what the readings of a sheet share, once.
func (w *Workbook) prepare(ctx context.Context, path string) (err error) {
	if _, counted := w.rows[path]; !counted {
		if w.rows[path], err = w.countRows(ctx, path); err != nil {
			delete(w.rows, path)
			return err
		}
	}
	if w.shared != nil {
		return nil
	}
	if w.formats, err = w.readFormats(ctx); err != nil {
		return err
	}
	w.shared, err = w.readStrings(ctx)
	return err
}

// countRows counts the rows of a sheet ahead of reading it, and refuses a
// sheet with too many. Unpacking is some ten times as fast as reading.
func (w *Workbook) countRows(ctx context.Context, name string) (int, error) {
	p, err := w.open(ctx, name)
	if err != nil {
		return 0, err
	}
	defer p.Close()
	buffer := make([]byte, 64<<10)
	kept, rows := 0, 0
	for {
		n, err := p.Read(buffer[kept:])
		p.leash.slacken()
		text := buffer[:kept+n]
		rows += bytes.Count(text, []byte("<row "))
		// A tag may be cut in two: its start is looked at again with what follows.
		kept = copy(buffer, text[max(0, len(text)-4):])
		if rows > w.limits.SheetRows {
			return 0, problem.New(problem.TooLarge, "the sheet has more than %d rows; delete the empty rows below the table, or save it as CSV", w.limits.SheetRows)
		}
		if err == io.EOF {
			return rows, nil
		}
		if err != nil {
			return 0, broken(err)
		}
	}
}

func (s *sheetReader) Read() (int64, int64) {
	if s.total == 0 {
		return s.whole, s.whole
	}
	return s.whole * int64(min(s.rows, s.total)) / int64(s.total), s.whole
}

func (s *sheetReader) Rows() int    { return s.total }
func (s *sheetReader) Close() error { return s.t.part.Close() }

func (s *sheetReader) Next() (row Row, err error) {
	defer rescue(&err)
	if s.done {
		return Row{}, io.EOF
	}
	for {
		token, err := s.t.next()
		if err == io.EOF && s.open {
			err = problem.New(problem.Malformed, "the workbook's sheet breaks off in row %d", s.line)
		}
		if err != nil {
			s.done = true
			return Row{}, err
		}
		ended, err := s.take(token)
		if err != nil {
			s.done = true
			return Row{}, err
		}
		if ended {
			return s.row, nil
		}
	}
}

// take takes one token, and says whether it ended a row.
func (s *sheetReader) take(token xml.Token) (bool, error) {
	switch token := token.(type) {
	case xml.StartElement:
		switch token.Name.Local {
		case "row":
			return false, s.beginRow(token)
		case "c":
			return false, s.beginCell(token)
		case "v":
			s.cell.inValue = true
		case "f":
			s.cell.formula, s.cell.inFormula = true, true
		default:
			s.collect.token(token)
		}
	case xml.EndElement:
		switch token.Name.Local {
		case "row":
			s.row.Cells, s.open = s.cells, false
			return true, nil
		case "c":
			return false, s.endCell()
		case "v":
			s.cell.inValue = false
		case "f":
			s.cell.inFormula = false
		default:
			s.collect.token(token)
		}
	case xml.CharData:
		if s.cell.inValue {
			s.cell.value, s.cell.stored = append(s.cell.value, token...), true
		} else if !s.cell.inFormula {
			s.collect.token(token)
		}
	}
	return false, nil
}

func (s *sheetReader) beginRow(e xml.StartElement) error {
	s.line++
	if r := attribute(e, "r"); r != "" {
		n, err := strconv.Atoi(r)
		if err != nil || n < s.line || n > 1<<20 {
			return problem.New(problem.Malformed, "the workbook's sheet has its rows out of order after row %d", s.line-1)
		}
		s.line = n
	}
	if s.rows++; s.rows > s.limits.SheetRows {
		return problem.New(problem.TooLarge, "the sheet has more than %d rows; delete the empty rows below the table, or save it as CSV", s.limits.SheetRows)
	}
	hidden := attribute(e, "hidden")
	s.row = Row{Line: s.line, Hidden: hidden == "1" || hidden == "true"}
	s.cells, s.open = s.cells[:0], true
	s.cell.column = -1
	return nil
}

func (s *sheetReader) beginCell(e xml.StartElement) error {
	c := openCell{column: s.cell.column + 1, value: s.cell.value[:0], typeOf: "n"}
	for i := range e.Attr {
		switch e.Attr[i].Name.Local {
		case "r":
			c.ref = e.Attr[i].Value
		case "s":
			c.style = e.Attr[i].Value
		case "t":
			c.typeOf = e.Attr[i].Value
		}
	}
	if c.ref != "" {
		column, ok := refColumn(c.ref)
		if !ok || column < c.column {
			return problem.New(problem.Malformed, "the workbook's sheet has the cells of row %d out of order", s.line)
		}
		c.column = column
	}
	s.cell = c
	s.collect.take()
	return nil
}

// refColumn gives the column of a reference such as AB12.
func refColumn(ref string) (int, bool) {
	letters := 0
	for letters < len(ref) && ref[letters] >= 'A' && ref[letters] <= 'Z' {
		letters++
	}
	return LetterColumn(ref[:letters])
}

// endCell puts the cell that was read into the row.
func (s *sheetReader) endCell() error {
	c := &s.cell
	cell, trouble := s.value()
	if cell.Text == "" && trouble == "" {
		return nil
	}
	if c.column >= s.limits.Columns {
		return problem.New(problem.TooLarge, "the sheet has a cell in column %s, row %d; a table may have %d columns, up to %s",
			Letter(c.column), s.line, s.limits.Columns, Letter(s.limits.Columns-1))
	}
	for len(s.cells) <= c.column {
		s.cells = append(s.cells, Cell{})
	}
	s.cells[c.column] = cell
	if trouble != "" {
		s.row.Faults = append(s.row.Faults, Fault{Column: c.column, Trouble: BadCell, Message: trouble, Raw: short(cell.Text)})
	}
	return nil
}

// value gives the cell that was read, or the trouble with it.
func (s *sheetReader) value() (Cell, string) {
	c := &s.cell
	cell := Cell{Formula: c.formula}
	if c.formula && !c.stored && c.typeOf != "inlineStr" {
		return cell, "is a formula without a stored value; open the workbook in a spreadsheet, let it calculate, and save it"
	}
	switch c.typeOf {
	case "s":
		if !c.stored {
			return cell, ""
		}
		text, ok := s.shared.at(string(c.value))
		if !ok {
			return cell, "refers to a text that the workbook does not hold"
		}
		return s.text(cell, text, false)
	case "inlineStr":
		long := s.collect.long
		return s.text(cell, s.collect.take(), long)
	case "str":
		return s.text(cell, unescape(string(c.value)), false)
	case "b":
		cell.Kind = Bool
		cell.Text = map[string]string{"0": "FALSE", "1": "TRUE"}[string(c.value)]
		return cell, ""
	case "e":
		cell.Kind, cell.Text = Error, string(c.value)
		return cell, ""
	case "d":
		cell.Kind, cell.Text = Date, string(c.value)
		return cell, ""
	}
	return s.number(cell, string(c.value))
}

func (s *sheetReader) text(cell Cell, text string, long bool) (Cell, string) {
	if long || len(text) > s.limits.CellRunes && utf8.RuneCountInString(text) > s.limits.CellRunes {
		return Cell{Text: short(text)}, fmt.Sprintf("must have at most %d characters", s.limits.CellRunes)
	}
	cell.Text = Unguard(text)
	return cell, ""
}

// number reads a number as the workbook keeps it, and writes it as briefly as
// tells it from its neighbours: 0.1 and not 0.10000000000000001.
func (s *sheetReader) number(cell Cell, text string) (Cell, string) {
	if text == "" {
		return cell, ""
	}
	v, err := strconv.ParseFloat(text, 64)
	if err != nil || math.IsNaN(v) || math.IsInf(v, 0) {
		return Cell{Text: short(text)}, "is marked as a number and is none"
	}
	cell.Kind = s.formats.of(s.cell.style)
	if cell.Kind == Percent {
		// Rounded as the eye sees it: 0.07 × 100 is 7, and not a little more.
		v, _ = strconv.ParseFloat(strconv.FormatFloat(v*100, 'g', 15, 64), 64)
	}
	cell.Text = FormatNumber(v)
	return cell, ""
}

// FormatNumber writes a finite number with a point, so that every reader of
// decimal numbers gives it back; an exponent only where there would be many zeros.
func FormatNumber(v float64) string {
	if a := math.Abs(v); a != 0 && (a < 1e-9 || a >= 1e15) {
		return strconv.FormatFloat(v, 'e', -1, 64)
	}
	return strconv.FormatFloat(v, 'f', -1, 64)
}

package table

import (
	"bufio"
	"context"
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"coldrise/domain/problem"
)

// CSVOptions say how a CSV file is written. What is left out is taken from the
// file: its byte-order mark, a first line such as sep=;.
type CSVOptions struct {
	Encoding  Encoding // "": UTF-8
	Separator rune     // 0: comma
	// LooseQuotes takes a quotation mark inside a cell that is not quoted for
	// what it is: 1" x 3". Carriage returns inside cells are lost then.
	LooseQuotes bool
	Limits      Limits
}

// csvReader reads a CSV file by RFC 4180, with any line end.
type csvReader struct {
	records   *csv.Reader
	counted   *counter
	leash     *leash
	size      int64
	encoding  Encoding
	separator rune
	limits    Limits
	ahead     int // lines cut off ahead of what records sees
	rows      int
	line      int // the last row's
	cells     []Cell
	ended     error
}

// counter counts what is read through it.
type counter struct {
	from io.Reader
	n    int64
}

func (c *counter) Read(p []byte) (int, error) {
	n, err := c.from.Read(p)
	c.n += int64(n)
	return n, err
}

// CSVReader is a Reader of a CSV file that also tells how it is written.
type CSVReader interface {
	Reader
	Encoding() Encoding
	Separator() rune
}

// errTooLong ends a row that goes on for ever, as one does whose quotation
// mark nobody closes.
var errTooLong = errors.New("row too long")

// NewCSV reads a CSV file of size bytes. The error is a *problem.Error: what
// encodingOf has, or invalid where the file's own sep= line contradicts o.
func NewCSV(ctx context.Context, src io.ReaderAt, size int64, o CSVOptions) (CSVReader, error) {
	l := o.Limits.WithDefaults()
	start := make([]byte, min(head, size))
	n, err := src.ReadAt(start, 0)
	if err != nil && !errors.Is(err, io.EOF) {
		return nil, problem.Wrap(err, "read the start of a file")
	}
	encoding, mark, err := encodingOf(start[:n], o.Encoding)
	if err != nil {
		return nil, err
	}
	c := &csvReader{size: size, encoding: encoding, limits: l, separator: o.Separator}
	c.counted = &counter{from: io.NewSectionReader(src, int64(mark), size-int64(mark))}
	c.leash = &leash{ctx: ctx, from: c.counted, length: l.RecordBytes, stop: errTooLong}
	text := decoded(c.leash, encoding)
	if !o.LooseQuotes {
		text = &quotedCR{from: text}
	}
	lines := bufio.NewReaderSize(text, 64<<10)
	said, err := separatorLine(lines)
	if err != nil {
		return nil, c.failed(err)
	}
	if err := c.agree(said); err != nil {
		return nil, err
	}
	c.records = csv.NewReader(lines)
	c.records.Comma, c.records.FieldsPerRecord = c.separator, -1
	c.records.LazyQuotes, c.records.ReuseRecord = o.LooseQuotes, true
	return c, nil
}

// agree settles the separator between what is declared and what the file says.
func (c *csvReader) agree(said rune) error {
	if said != 0 {
		c.ahead = 1
		if !strings.ContainsRune(",;\t|", said) || c.separator != 0 && c.separator != said {
			return problem.New(problem.Invalid, "the file's first line says that its separator is %q, and %q is declared", said, c.separator)
		}
		c.separator = said
	}
	if c.separator == 0 {
		c.separator = ','
	}
	return nil
}

func (c *csvReader) Encoding() Encoding   { return c.encoding }
func (c *csvReader) Separator() rune      { return c.separator }
func (c *csvReader) Read() (int64, int64) { return min(c.counted.n, c.size), c.size }
func (c *csvReader) Rows() int            { return 0 }
func (c *csvReader) Close() error         { return nil }

func (c *csvReader) Next() (Row, error) {
	if c.ended != nil {
		return Row{}, c.ended
	}
	record, err := c.records.Read()
	c.leash.slacken()
	var broken *csv.ParseError
	switch {
	case errors.As(err, &broken):
		return c.row(Row{Line: broken.StartLine + c.ahead, Faults: []Fault{quotingFault(broken, c.ahead)}})
	case err != nil:
		c.ended = c.failed(err)
		return Row{}, c.ended
	}
	line, _ := c.records.FieldPos(0)
	row := Row{Line: line + c.ahead}
	if len(record) > c.limits.Columns {
		if row.Faults, err = c.tooWide(record); err != nil {
			c.ended = err
			return Row{}, err
		}
		record = record[:c.limits.Columns]
	}
	c.cells = c.cells[:0]
	for i, text := range record {
		cell, fault := c.cell(i, text)
		c.cells = append(c.cells, cell)
		if fault != nil {
			row.Faults = append(row.Faults, *fault)
		}
	}
	row.Cells = c.cells
	return c.row(row)
}

// row counts a row before it is given.
func (c *csvReader) row(r Row) (Row, error) {
	c.line = r.Line
	if c.rows++; c.rows > c.limits.CSVRows {
		c.ended = problem.New(problem.TooLarge, "the file has more than %d rows; import it in parts", c.limits.CSVRows)
		return Row{}, c.ended
	}
	return r, nil
}

func (c *csvReader) cell(column int, text string) (Cell, *Fault) {
	if ascii(text) {
		if len(text) > c.limits.CellRunes {
			return Cell{}, c.tooLong(column, text)
		}
		return textCell(text), nil
	}
	text = strings.ReplaceAll(text, carriedStr, "\r")
	if why := misread(text, c.encoding); why != "" {
		return Cell{Text: text}, &Fault{Column: column, Trouble: BadEncoding, Message: why, Raw: strings.ToValidUTF8(text, "\ufffd")}
	}
	if utf8.RuneCountInString(text) > c.limits.CellRunes {
		return Cell{}, c.tooLong(column, text)
	}
	return textCell(text), nil
}

// textCell gives a cell without its guard. What begins as a formula does, and
// has no guard, is marked as one; ="0042" is how spreadsheets are made to keep
// the zeros of a text, and gives the text.
func textCell(text string) Cell {
	if !strings.HasPrefix(text, "=") {
		return Cell{Text: Unguard(text)}
	}
	cell := Cell{Text: Unguard(text), Formula: true}
	if inner, ok := strings.CutPrefix(text, `="`); ok && strings.HasSuffix(inner, `"`) && strings.Count(inner, `"`) == 1 {
		cell.Text = inner[:len(inner)-1]
	}
	return cell
}

func ascii(s string) bool {
	for i := range len(s) {
		if s[i] >= utf8.RuneSelf {
			return false
		}
	}
	return true
}

func (c *csvReader) tooLong(column int, text string) *Fault {
	return &Fault{Column: column, Trouble: BadCell, Message: fmt.Sprintf("must have at most %d characters", c.limits.CellRunes), Raw: short(text)}
}

// tooWide allows blanks beyond the last column there may be.
func (c *csvReader) tooWide(record []string) ([]Fault, error) {
	for i, text := range record[c.limits.Columns:] {
		if strings.TrimSpace(text) != "" {
			return nil, problem.New(problem.TooLarge, "the file has a cell in column %s; a table may have %d columns, up to %s",
				Letter(c.limits.Columns+i), c.limits.Columns, Letter(c.limits.Columns-1))
		}
	}
	return nil, nil
}

func quotingFault(e *csv.ParseError, ahead int) Fault {
	f := Fault{Column: -1, Trouble: BadQuoting, Raw: fmt.Sprintf("line %d, character %d", e.Line+ahead, e.Column)}
	if errors.Is(e.Err, csv.ErrBareQuote) {
		f.Message = `has a quotation mark inside a cell that is not quoted; quote the cell and double the mark, or declare loose quotes`
	} else {
		f.Message = `has a quotation mark that does not pair: inside a quoted cell it is doubled, and behind the last one comes a separator or the line's end`
	}
	return f
}

// failed makes our error of what stopped the reading.
func (c *csvReader) failed(err error) error {
	switch {
	case errors.Is(err, io.EOF):
		return io.EOF
	case errors.Is(err, errTooLong):
		return problem.New(problem.TooLarge, "a row near line %d has more than %s; most often a quotation mark before it is never closed", c.line+1, bytesText(int64(c.limits.RecordBytes)))
	case problem.CodeOf(err) == problem.Cancelled:
		return problem.As(err)
	}
	return problem.Wrap(err, "read a CSV file")
}

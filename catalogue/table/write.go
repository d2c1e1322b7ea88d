package table

import (
	"bufio"
	"io"
	"strconv"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"github.com/xuri/excelize/v2"

	"coldrise/domain/problem"
)

// Writer takes the rows of a table one by one.
type Writer interface {
	// Row writes one row. Texts are guarded against being taken for formulas;
	// numbers have a point and are written as the form has them. The error is a
	// *problem.Error: invalid for a text no table can hold, internal where the
	// writing itself fails.
	Row(cells []Cell) error
	// Close ends the table and lets go of what the writer holds. A table that
	// was not closed is not whole.
	Close() error
}

// Flavour is how a CSV file is written. The zero value is RFC 4180: UTF-8
// without a mark, commas, decimal points.
type Flavour struct {
	Mark         bool // a byte-order mark, by which spreadsheets know UTF-8
	Separator    rune // 0: comma
	DecimalComma bool
	BlankLines   int // ahead of the header
}

// The longest text of a workbook's cell, in UTF-16 units: more would be cut
// off without a word.
const maxCellUnits = excelize.TotalCellChars

// writtenRows is how many rows a sheet is written with: what is written can be
// read back under the default limits.
var writtenRows = Limits{}.WithDefaults().SheetRows

// NewCSVWriter writes CSV to w, with CRLF at the end of each row. The header
// comes first, where it is not nil; its cells are texts.
func NewCSVWriter(w io.Writer, header []string, f Flavour) (Writer, error) {
	buffered := bufio.NewWriterSize(w, 64<<10)
	if f.Mark {
		if _, err := buffered.Write(utf8BOM); err != nil {
			return nil, problem.Wrap(err, "write a CSV file")
		}
	}
	c := &csvWriter{out: buffered, comma: f.DecimalComma, separator: f.Separator}
	if c.separator == 0 {
		c.separator = ','
	}
	if _, err := buffered.WriteString(strings.Repeat("\r\n", f.BlankLines)); err != nil {
		return nil, problem.Wrap(err, "write a CSV file")
	}
	if header == nil {
		return c, nil
	}
	return c, c.Row(texts(header))
}

func texts(words []string) []Cell {
	cells := make([]Cell, len(words))
	for i, word := range words {
		cells[i].Text = word
	}
	return cells
}

// csvWriter writes rows itself: encoding/csv, told to end rows with CRLF, also
// changes the line ends inside cells.
type csvWriter struct {
	out       *bufio.Writer
	separator rune
	comma     bool
	line      []byte
}

func (c *csvWriter) Row(cells []Cell) error {
	c.line = c.line[:0]
	for i := range cells {
		if i > 0 {
			c.line = utf8.AppendRune(c.line, c.separator)
		}
		text, err := c.text(&cells[i])
		if err != nil {
			return err
		}
		c.cell(text)
	}
	c.line = append(c.line, "\r\n"...)
	if _, err := c.out.Write(c.line); err != nil {
		return problem.Wrap(err, "write a CSV file")
	}
	return nil
}

// cell appends a text, in quotation marks where it needs them. RFC 4180, 2.5
// to 2.7; a blank at either end is quoted too, for readers that cut it off.
func (c *csvWriter) cell(text string) {
	if text == "" {
		return
	}
	quote := text[0] == ' ' || text[len(text)-1] == ' '
	for i := 0; i < len(text) && !quote; i++ {
		b := text[i]
		quote = b == '"' || b == '\r' || b == '\n' || b == '\t' || rune(b) == c.separator
	}
	if !quote {
		c.line = append(c.line, text...)
		return
	}
	c.line = append(c.line, '"')
	for i := range len(text) {
		if text[i] == '"' {
			c.line = append(c.line, '"')
		}
		c.line = append(c.line, text[i])
	}
	c.line = append(c.line, '"')
}

func (c *csvWriter) text(cell *Cell) (string, error) {
	switch {
	case cell.Kind == Text:
		return writable(cell.Text)
	case c.comma:
		return strings.Replace(cell.Text, ".", ",", 1), nil
	}
	return cell.Text, nil
}

func (c *csvWriter) Close() error {
	if err := c.out.Flush(); err != nil {
		return problem.Wrap(err, "write a CSV file")
	}
	return nil
}

// writable gives a text as every form can hold it, or refuses it.
func writable(s string) (string, error) {
	if s == "" {
		return "", nil
	}
	if !utf8.ValidString(s) {
		return "", problem.New(problem.Invalid, "a text to be written is not UTF-8: %q", short(strings.ToValidUTF8(s, "\ufffd")))
	}
	for _, c := range s {
		if c < ' ' && c != '\t' && c != '\n' && c != '\r' || c == 0x7f {
			return "", problem.New(problem.Invalid, "a text to be written has the control character %U, which no table holds: %q", c, short(s))
		}
	}
	return Guard(s), nil
}

// BookWriter writes an XLSX workbook, sheet by sheet.
type BookWriter struct {
	file   *excelize.File
	out    io.Writer
	header int // style of the first row
	sheets int
}

// NewBookWriter begins a workbook that Close writes to w.
func NewBookWriter(w io.Writer) (*BookWriter, error) {
	file := excelize.NewFile()
	style, err := file.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	if err != nil {
		return nil, problem.Wrap(err, "begin a workbook")
	}
	return &BookWriter{file: file, out: w, header: style}, nil
}

// Sheet begins a sheet with its header, which stays in sight. The sheet before
// must be closed.
func (b *BookWriter) Sheet(name string, header []string) (Writer, error) {
	if b.sheets++; b.sheets == 1 {
		if err := b.file.SetSheetName(b.file.GetSheetName(0), name); err != nil {
			return nil, problem.Wrap(err, "name a sheet")
		}
	} else if _, err := b.file.NewSheet(name); err != nil {
		return nil, problem.Wrap(err, "begin a sheet")
	}
	stream, err := b.file.NewStreamWriter(name)
	if err != nil {
		return nil, problem.Wrap(err, "begin a sheet")
	}
	s := &sheetWriter{stream: stream}
	if err := s.begin(header, b.header); err != nil {
		return nil, problem.Wrap(err, "write a sheet's header")
	}
	return s, nil
}

// Close writes the workbook and lets go of its temporary files, which it does
// also where it fails.
func (b *BookWriter) Close() error {
	_, err := b.file.WriteTo(b.out)
	if closing := b.file.Close(); err == nil {
		err = closing
	}
	if err != nil {
		return problem.Wrap(err, "write a workbook")
	}
	return nil
}

// Abandon lets go of the temporary files of a workbook that is not to be written.
func (b *BookWriter) Abandon() error {
	if err := b.file.Close(); err != nil {
		return problem.Wrap(err, "abandon a workbook")
	}
	return nil
}

type sheetWriter struct {
	stream *excelize.StreamWriter
	line   int
	values []any
}

func (s *sheetWriter) begin(header []string, style int) error {
	err := s.stream.SetPanes(&excelize.Panes{Freeze: true, YSplit: 1, TopLeftCell: "A2", ActivePane: "bottomLeft"})
	if err != nil {
		return err
	}
	if err := s.stream.SetColWidth(1, max(1, len(header)), 14); err != nil {
		return err
	}
	values := make([]any, len(header))
	for i, h := range header {
		values[i] = excelize.Cell{StyleID: style, Value: h}
	}
	s.line = 1
	return s.stream.SetRow("A1", values)
}

func (s *sheetWriter) Row(cells []Cell) error {
	s.values = s.values[:0]
	for i := range cells {
		value, err := sheetValue(&cells[i])
		if err != nil {
			return err
		}
		s.values = append(s.values, value)
	}
	if s.line++; s.line > 1+writtenRows {
		return problem.New(problem.TooLarge, "a workbook is written with %d rows at most, as many as are read; export as CSV", writtenRows)
	}
	if err := s.stream.SetRow("A"+strconv.Itoa(s.line), s.values); err != nil {
		return problem.Wrap(err, "write a sheet")
	}
	return nil
}

// sheetDigits is how many digits of a number a spreadsheet keeps; the library
// cuts off the others. A number that needs more is written as a text, so that
// nothing is lost: it is read back to the same.
const sheetDigits = 15

// sheetValue gives what the stream writes: nil for a blank cell, a text that
// stays a text whatever it begins with, or a number.
func sheetValue(cell *Cell) (any, error) {
	switch {
	case cell.Text == "":
		return nil, nil
	case cell.Kind != Text:
		v, err := strconv.ParseFloat(cell.Text, 64)
		if err != nil {
			return nil, problem.Wrap(err, "write a number to a sheet")
		}
		if short, err := strconv.ParseFloat(strconv.FormatFloat(v, 'g', sheetDigits, 64), 64); err != nil || short != v {
			return cell.Text, nil
		}
		return v, nil
	}
	text, err := writable(cell.Text)
	if err != nil {
		return nil, err
	}
	if strings.ContainsAny(text, "\ufffe\uffff") {
		return nil, problem.New(problem.Invalid, "a text to be written has a character that XML has not: %q; export as CSV", short(text))
	}
	if units := len(utf16.Encode([]rune(text))); units > maxCellUnits {
		return nil, problem.New(problem.Invalid, "a text to be written has %d UTF-16 units, and a workbook's cell holds %d; export as CSV", units, maxCellUnits)
	}
	return text, nil
}

func (s *sheetWriter) Close() error {
	if err := s.stream.Flush(); err != nil {
		return problem.Wrap(err, "write a sheet")
	}
	return nil
}

package table

import (
	"bufio"
	"bytes"
	"encoding/csv"
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

// NewCSVWriter writes CSV to w, with CRLF at the end of each row. The header
// comes first, where it is not nil; its cells are texts.
func NewCSVWriter(w io.Writer, header []string, f Flavour) (Writer, error) {
	buffered := bufio.NewWriterSize(w, 64<<10)
	if f.Mark {
		if _, err := buffered.Write(utf8BOM); err != nil {
			return nil, problem.Wrap(err, "write a CSV file")
		}
	}
	c := &csvWriter{out: buffered, comma: f.DecimalComma}
	c.records = csv.NewWriter(&c.line)
	if f.Separator != 0 {
		c.records.Comma = f.Separator
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

type csvWriter struct {
	out     *bufio.Writer
	records *csv.Writer
	line    bytes.Buffer
	comma   bool
	record  []string
}

func (c *csvWriter) Row(cells []Cell) error {
	c.record = c.record[:0]
	for i := range cells {
		text, err := c.text(&cells[i])
		if err != nil {
			return err
		}
		c.record = append(c.record, text)
	}
	return c.end(c.records.Write(c.record))
}

// end puts CRLF behind a row. Left to encoding/csv, it would also change the
// line ends inside cells.
func (c *csvWriter) end(err error) error {
	c.records.Flush()
	if err == nil {
		err = c.records.Error()
	}
	if err == nil {
		_, err = c.out.Write(bytes.TrimSuffix(c.line.Bytes(), []byte("\n")))
	}
	if err == nil {
		_, err = c.out.WriteString("\r\n")
	}
	if err != nil {
		return problem.Wrap(err, "write a CSV file")
	}
	c.line.Reset()
	return nil
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
	if !utf8.ValidString(s) {
		return "", problem.New(problem.Invalid, "a text to be written is not UTF-8: %q", short(strings.ToValidUTF8(s, "\ufffd")))
	}
	for _, c := range s {
		if c < ' ' && c != '\t' && c != '\n' && c != '\r' || c == 0x7f || c == 0xfffe || c == 0xffff {
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
	if s.line++; s.line > excelize.TotalRows {
		return problem.New(problem.TooLarge, "a sheet holds %d rows at most; export as CSV", excelize.TotalRows)
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

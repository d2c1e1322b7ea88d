// Package table reads and writes tables of cells: CSV in the encodings and
// with the separators that shops' programs write, and the sheets of XLSX
// workbooks. It streams: memory does not grow with the number of rows, but
// for the texts a workbook shares between its cells.
//
// It knows nothing of what a cell means. Numbers of a workbook come with a
// decimal point whatever the locale; all of a CSV file is text as it stands.
//
// Files are taken to be hostile: every size has a limit that counts what is
// really read, and what a file is goes by its content.
package table

import (
	"context"
	"strconv"
	"strings"
)

// Kind is what a cell holds.
type Kind uint8

// The kinds. All cells of a CSV file are Text.
const (
	Text    Kind = iota
	Number       // Text is a decimal number with a point, perhaps with an exponent
	Percent      // as Number, already times a hundred
	Date         // Text is the number of a day: most often a text a spreadsheet took for a date
	Bool         // Text is TRUE or FALSE
	Error        // Text is the error a spreadsheet shows, such as #N/A
)

// Cell is one cell. The zero Cell is blank.
type Cell struct {
	Text    string
	Kind    Kind
	Formula bool // Text is what the formula gave when the file was saved last
}

// Row is one row. Its cells run from column A, and are the reader's until the
// next call of Next; their texts stay.
type Row struct {
	Line   int // of the file, 1 the first; in a workbook the row's number
	Cells  []Cell
	Hidden bool
	Faults []Fault
}

// Blank says whether no cell of the row holds anything.
func (r *Row) Blank() bool {
	for i := range r.Cells {
		if strings.TrimSpace(r.Cells[i].Text) != "" {
			return false
		}
	}
	return len(r.Faults) == 0
}

// Trouble is a kind of Fault. The set is closed.
type Trouble string

// The troubles.
const (
	BadEncoding Trouble = "encoding" // bytes that are no text in the file's encoding
	BadQuoting  Trouble = "quoting"  // quotation marks that do not pair
	BadCell     Trouble = "cell"     // a cell that cannot be taken at all
)

// Fault is what is wrong with a row before anybody asks what it means.
type Fault struct {
	Column  int // 0 for A; -1 where it is the row's
	Trouble Trouble
	Message string
	Raw     string // what stood there
}

// Reader gives the rows of a table one by one.
type Reader interface {
	// Next gives the next row, and io.EOF after the last. Rows without anything
	// in them may be left out. Any other error is a *problem.Error, after which
	// nothing more can be read: malformed, too_large, or cancelled.
	Next() (Row, error)
	// Read counts the bytes of the file taken so far, of Size.
	Read() (taken, size int64)
	// Rows is how many rows the table has at most; 0 where that is not known ahead.
	Rows() int
	// Close lets go of what the reader holds.
	Close() error
}

// Limits bound what is read. The zero value of each member stands for the
// default beside it.
type Limits struct {
	CSVBytes      int64 // size of a CSV file, 256 MiB
	WorkbookBytes int64 // size of a workbook, 64 MiB
	Unpacked      int64 // size of a workbook once unpacked, 256 MiB
	CSVRows       int   // 2 000 000
	SheetRows     int   // 250 000
	Columns       int   // 200
	CellRunes     int   // longest cell, 32 767
	RecordBytes   int   // longest row, with its line breaks, 1 MiB
}

// WithDefaults gives the limits with the default for each that is 0.
func (l Limits) WithDefaults() Limits {
	def(&l.CSVBytes, 256<<20)
	def(&l.WorkbookBytes, 64<<20)
	def(&l.Unpacked, 256<<20)
	def(&l.CSVRows, 2_000_000)
	def(&l.SheetRows, 250_000)
	def(&l.Columns, 200)
	def(&l.CellRunes, 32_767)
	def(&l.RecordBytes, 1<<20)
	return l
}

func def[T int | int64](v *T, d T) {
	if *v == 0 {
		*v = d
	}
}

// Letter names a column as spreadsheets do: 0 is A, 26 is AA.
func Letter(column int) string {
	if column < 0 {
		return ""
	}
	letters := ""
	for column++; column > 0; column = (column - 1) / 26 {
		letters = string(rune('A'+(column-1)%26)) + letters
	}
	return letters
}

// LetterColumn gives the column that letters name, from 0; false where they
// name none that a spreadsheet has (A to XFD).
func LetterColumn(letters string) (int, bool) {
	if letters == "" || len(letters) > 3 {
		return 0, false
	}
	n := 0
	for _, c := range []byte(letters) {
		if c < 'A' || c > 'Z' {
			return 0, false
		}
		n = 26*n + int(c-'A'+1)
	}
	return n - 1, n <= 16_384
}

// bytesText writes a limit of bytes as people do.
func bytesText(n int64) string {
	if n >= 1<<20 && n%(1<<20) == 0 {
		return strconv.FormatInt(n>>20, 10) + " MiB"
	}
	return strconv.FormatInt(n, 10) + " bytes"
}

// leash bounds how far a parser may read on without giving anything: each
// slacken grants it the same stretch again. It ends with its context.
type leash struct {
	ctx    context.Context
	from   interface{ Read([]byte) (int, error) }
	length int
	since  int
	stop   error // what Read gives once the leash is taut
}

func (l *leash) slacken() { l.since = 0 }

func (l *leash) Read(p []byte) (int, error) {
	if err := l.ctx.Err(); err != nil {
		return 0, cancelled(err)
	}
	if l.since > l.length {
		return 0, l.stop
	}
	n, err := l.from.Read(p)
	l.since += n
	return n, err
}

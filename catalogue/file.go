package catalogue

import (
	"context"
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io"
	"iter"
	"strings"

	"coldrise/catalogue/table"
	"coldrise/domain/part"
	"coldrise/domain/problem"
)

// Options are what a reading needs beside its file and map. The zero value
// knows no series, and has the default limits.
type Options struct {
	// Name is the file's, for what it says of its form; "" where it has none.
	Name string
	// Series gives a series of the shop by name. Where nil, the checks of a part
	// against its series are left out. It is called from several goroutines at once.
	Series func(name string) (*part.Series, bool)
	// Errors is how many errors a report lists; 1000 where 0.
	Errors int
	// Progress, if not nil, is called every few hundred rows, and at the end, on
	// the caller's goroutine.
	Progress func(Progress)
	Limits   table.Limits
}

// Progress is how far a reading has come.
type Progress struct {
	Taken, Size int64 // bytes of the file
	Rows        int   // read so far
}

// File is a supplier's file that is open under a map. Its methods each read
// the whole file anew, and are for one goroutine at a time.
type File struct {
	src     io.ReaderAt
	size    int64
	m       Map
	o       Options
	form    table.Form
	sum     string
	lay     *layout
	notes   []Finding // of the header
	sheet   string
	book    *table.Workbook
	csv     table.CSVOptions
	written [2]string // encoding and separator, for the report
}

// Open looks at a file's form and header, and binds the map to it. The file
// must not change until the last use of what is given; Parts finds out.
//
// The error is a *problem.Error: unsupported for what is no CSV or XLSX,
// malformed for what is broken or is not what its name says, too_large, and
// invalid, with a fault for each, for columns the map needs and the file lacks.
func Open(ctx context.Context, src io.ReaderAt, size int64, m Map, o Options) (*File, error) {
	f := &File{src: src, size: size, m: m, o: o}
	var err error
	if f.form, err = table.Detect(src, size, o.Name, o.Limits); err != nil {
		return nil, err
	}
	if f.sum, err = f.hash(ctx); err != nil {
		return nil, err
	}
	if f.form == table.XLSX {
		err = f.openBook(ctx)
	} else {
		err = f.openCSV(ctx)
	}
	if err != nil {
		return nil, err
	}
	return f, nil
}

// hash sums the file, to know it again.
func (f *File) hash(ctx context.Context) (string, error) {
	h := sha256.New()
	buffer := make([]byte, 256<<10)
	for at := int64(0); at < f.size; {
		if err := ctx.Err(); err != nil {
			return "", stopped(err)
		}
		n, err := f.src.ReadAt(buffer[:min(int64(len(buffer)), f.size-at)], at)
		h.Write(buffer[:n])
		at += int64(n)
		if err != nil && !(errors.Is(err, io.EOF) && at == f.size) {
			return "", problem.Wrap(err, "read a file")
		}
	}
	return hex.EncodeToString(h.Sum(nil)), nil
}

func stopped(cause error) error {
	return &problem.Error{Code: problem.Cancelled, Message: "reading the file was stopped", Cause: cause}
}

func (f *File) openBook(ctx context.Context) error {
	var err error
	if f.book, err = table.OpenWorkbook(ctx, f.src, f.size, f.o.Limits); err != nil {
		return err
	}
	r, sheet, err := f.book.Sheet(ctx, f.m.Sheet)
	if err != nil {
		return err
	}
	defer r.Close()
	f.sheet = sheet
	header, err := f.header(r)
	if err != nil {
		return err
	}
	f.lay, f.notes, err = bind(&f.m, header, false)
	return err
}

// openCSV tries the separators there may be, and takes the one by which every
// column the map needs is found.
func (f *File) openCSV(ctx context.Context) error {
	var first error
	for _, separator := range f.separators() {
		o := table.CSVOptions{Encoding: table.Encoding(f.m.Encoding), Separator: separator, LooseQuotes: f.m.LooseQuotes, Limits: f.o.Limits}
		r, err := table.NewCSV(ctx, f.src, f.size, o)
		if err != nil {
			return err
		}
		header, err := f.header(r)
		if err == nil {
			f.lay, f.notes, err = bind(&f.m, header, true)
		}
		if err == nil {
			o.Separator = r.Separator()
			f.csv = o
			f.written = [2]string{string(r.Encoding()), separatorWord(r.Separator())}
			return nil
		}
		if first == nil || len(header) > 1 && problem.CodeOf(first) == problem.Invalid {
			first = err
		}
		if o.Separator == 0 {
			break // the file said which
		}
	}
	return first
}

// separators lists what to try: 0, for what the file itself says or a comma,
// where no header could tell.
func (f *File) separators() []rune {
	if f.m.Separator == "" && f.m.NoHeader || f.saysSeparator() {
		return []rune{separators[f.m.Separator]}
	}
	return f.m.tried()
}

// saysSeparator says whether the file begins with a line such as sep=;.
func (f *File) saysSeparator() bool {
	start := make([]byte, min(40, f.size))
	n, _ := f.src.ReadAt(start, 0)
	text := strings.ToLower(strings.ReplaceAll(string(start[:n]), "\x00", ""))
	return strings.Contains(text, "sep=")
}

func separatorWord(c rune) string {
	for word, r := range separators {
		if r == c {
			return word
		}
	}
	return ""
}

// header reads up to the header's row and gives its texts; nil where there is none.
func (f *File) header(r table.Reader) ([]string, error) {
	if f.m.NoHeader {
		return nil, nil
	}
	for {
		row, err := r.Next()
		if err == io.EOF {
			return nil, problem.New(problem.Invalid, "the file has no line %d, where the map has its header", max(1, f.m.HeaderRow))
		}
		if err != nil {
			return nil, err
		}
		if row.Line < f.m.HeaderRow {
			continue
		}
		if len(row.Faults) > 0 {
			return nil, problem.New(problem.Invalid, "the header, in line %d, cannot be read: column %s %s", row.Line, table.Letter(row.Faults[0].Column), row.Faults[0].Message)
		}
		header := make([]string, len(row.Cells))
		for i := range row.Cells {
			header[i] = row.Cells[i].Text
		}
		for len(header) > 0 && strings.TrimSpace(header[len(header)-1]) == "" {
			header = header[:len(header)-1]
		}
		return header, nil
	}
}

// reader begins another reading, behind the header.
func (f *File) reader(ctx context.Context) (table.Reader, error) {
	var r table.Reader
	var err error
	if f.form == table.XLSX {
		r, _, err = f.book.Sheet(ctx, f.m.Sheet)
	} else {
		r, err = table.NewCSV(ctx, f.src, f.size, f.csv)
	}
	if err != nil {
		return nil, err
	}
	if _, err := f.header(r); err != nil {
		r.Close()
		return nil, err
	}
	return r, nil
}

// Check reads the whole file and reports all that is wrong with it. The error
// is a *problem.Error where the reading itself failed: cancelled, malformed,
// too_large, internal. Faults of rows are in the report, and no error.
func (f *File) Check(ctx context.Context) (Report, error) {
	report := Report{Form: string(f.form), Encoding: f.written[0], Separator: f.written[1], Sheet: f.sheet, SHA256: f.sum, Bytes: f.size}
	w := newWarnings(f.sheet)
	for _, n := range f.notes {
		w.add(n)
	}
	most := f.o.Errors
	if most == 0 {
		most = 1000
	}
	err := f.walk(ctx, w.add, false, func(g *group) error {
		report.count(g, f.sheet, most)
		return nil
	}, &report.Skipped)
	if err != nil {
		return Report{}, err
	}
	w.into(&report)
	return report, nil
}

// Row is one part of a file, and where it stands.
type Row struct {
	Part  part.Part
	Sheet string
	Line  int // of the part's first row
}

// Parts reads the file again and gives its parts without errors, in the file's
// order. Where partial is false, a part with an error ends it; a file that is
// not what Check saw ends it in any case, after its last part: what was taken
// must then be given back, as a store does whose import is all or nothing.
func (f *File) Parts(ctx context.Context, partial bool) iter.Seq2[Row, error] {
	return func(yield func(Row, error) bool) {
		ignore := func(Finding) {}
		var skipped int
		err := f.walk(ctx, ignore, false, func(g *group) error {
			switch {
			case len(g.findings) == 0:
				if !yield(Row{Part: g.part, Sheet: f.sheet, Line: g.lines[0]}, nil) {
					return errEnough
				}
			case !partial:
				g.findings[0].Sheet = f.sheet
				return problem.New(problem.Invalid, "%s", g.findings[0])
			}
			return nil
		}, &skipped)
		if err == nil {
			err = f.unchanged(ctx)
		}
		if err != nil && err != errEnough {
			yield(Row{}, err)
		}
	}
}

// errEnough ends a walk whose caller wants no more.
var errEnough = errors.New("enough")

// unchanged finds whether the file is still what it was when it was opened.
func (f *File) unchanged(ctx context.Context) error {
	sum, err := f.hash(ctx)
	if err == nil && sum != f.sum {
		err = problem.New(problem.Conflict, "the file changed while it was read; nothing of it may be kept")
	}
	return err
}

// Form gives what the file is: csv or xlsx.
func (f *File) Form() string { return string(f.form) }

// SHA256 gives the file's sum, hexadecimal.
func (f *File) SHA256() string { return f.sum }

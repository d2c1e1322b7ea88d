package catalogue

import (
	"context"
	"io"
	"reflect"

	"coldrise/catalogue/table"
	"coldrise/domain/document"
	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/domain/quantity"
)

// maxSeries bounds a file of series: a shop has tens of them.
const maxSeries = 5000

// ReadSeries reads what WriteSeries wrote, or the sheet of series of an
// exported workbook. Decimal is "point" or "comma". Where the report has an
// error nothing is given. The error is a *problem.Error, as Open's and Check's.
func ReadSeries(ctx context.Context, src io.ReaderAt, size int64, decimal string, o Options) ([]part.Series, Report, error) {
	f := &File{src: src, size: size, o: o, m: Map{Decimal: decimal}}
	r, header, err := f.seriesTable(ctx)
	if err != nil {
		return nil, Report{}, err
	}
	defer r.Close()
	s, err := newSeriesReader(header, decimal)
	if err != nil {
		return nil, Report{}, err
	}
	s.report = Report{Form: string(f.form), Sheet: f.sheet, SHA256: f.sum, Bytes: size, Findings: []Finding{}, Tallies: []Tally{}}
	for {
		row, err := r.Next()
		if err == io.EOF {
			s.end()
			break
		}
		if err != nil {
			return nil, Report{}, err
		}
		if row.Blank() {
			continue
		}
		if s.row(&row); s.report.Parts+s.report.BadParts > maxSeries {
			return nil, Report{}, problem.New(problem.TooLarge, "a file of series may have %d", maxSeries)
		}
	}
	if s.report.Errors > 0 {
		return nil, s.report, nil
	}
	return s.all, s.report, nil
}

// seriesTable opens the table of series and reads its header.
func (f *File) seriesTable(ctx context.Context) (r table.Reader, header []string, err error) {
	if f.form, err = table.Detect(f.src, f.size, f.o.Name, f.o.Limits); err != nil {
		return nil, nil, err
	}
	if f.sum, err = f.hash(ctx); err != nil {
		return nil, nil, err
	}
	if f.form == table.XLSX {
		book, err := table.OpenWorkbook(ctx, f.src, f.size, f.o.Limits)
		if err != nil {
			return nil, nil, err
		}
		if r, f.sheet, err = book.Sheet(ctx, seriesSheet); err != nil {
			return nil, nil, err
		}
		header, err = f.header(r)
		return r, header, err
	}
	for _, separator := range f.separators() {
		if r, err = table.NewCSV(ctx, f.src, f.size, table.CSVOptions{Separator: separator, Limits: f.o.Limits}); err != nil {
			return nil, nil, err
		}
		if header, err = f.header(r); err != nil || len(header) > 1 {
			break
		}
	}
	return r, header, err
}

// seriesReader makes series of rows; those of one series stand together.
type seriesReader struct {
	columns []*member // of each column; nil where nothing takes it
	text    []reading
	header  []string
	report  Report
	all     []part.Series

	series   part.Series
	first    int // line; 0 where no series is begun
	findings []Finding
	names    map[string]int
}

func newSeriesReader(header []string, decimal string) (*seriesReader, error) {
	s := &seriesReader{header: header, columns: make([]*member, len(header)), text: make([]reading, len(header)), names: map[string]int{}}
	found := map[string]bool{}
	for i, h := range header {
		for j := range seriesMembers {
			if m := &seriesMembers[j]; m.name == foldHeader(h) && !found[m.name] {
				s.columns[i] = m
				s.text[i] = readingOf(m, quantity.Options{DecimalComma: decimals[decimal]}, m.in, 1)
				found[m.name] = true
			}
		}
	}
	l := &problem.List{}
	for i := range seriesMembers {
		if m := &seriesMembers[i]; m.required() && m.owner == ofPart && !found[m.name] {
			l.Addf(document.Pointer(m.name), "the file has no column headed %q; its header reads: %s", m.name, headerText(header))
		}
	}
	return s, l.Err("file of series")
}

// row takes one row: another series, or a further point of the last one's tables.
func (s *seriesReader) row(row *table.Row) {
	s.report.Rows++
	var now part.Series
	own := slot{v: reflect.ValueOf(&now).Elem()}
	var f part.FrequencyFactor
	var t part.TemperatureFactor
	slots := map[owner]*slot{ofPart: &own, ofFrequency: {v: reflect.ValueOf(&f).Elem()}, ofTemperature: {v: reflect.ValueOf(&t).Elem()}}
	s.read(row, slots)
	if s.first == 0 || now.Name != s.series.Name {
		s.end()
		s.series, s.first = now, row.Line
		s.missing(ofPart, &own, row.Line)
	}
	if p := slots[ofFrequency]; p.given != 0 {
		s.missing(ofFrequency, p, row.Line)
		s.series.FrequencyFactors = append(s.series.FrequencyFactors, f)
	}
	if p := slots[ofTemperature]; p.given != 0 {
		s.missing(ofTemperature, p, row.Line)
		s.series.TemperatureFactors = append(s.series.TemperatureFactors, t)
	}
}

func (s *seriesReader) read(row *table.Row, slots map[owner]*slot) {
	for _, f := range row.Faults {
		s.find(CodeValue, row.Line, f.Column, "", f.Raw, f.Message)
	}
	for i, m := range s.columns {
		if m == nil || i >= len(row.Cells) || row.Cells[i].Text == "" {
			continue
		}
		cell := &row.Cells[i]
		v, t := s.text[i].read(cell, cell.Text)
		if t != nil {
			s.find(t.code, row.Line, i, m.name, cell.Text, t.message)
			slots[m.owner].given |= 1 << m.index
			continue
		}
		s.text[i].set(slots[m.owner], v)
	}
}

func (s *seriesReader) find(code Code, line, column int, member, raw, message string) {
	f := Finding{Severity: IsError, Code: code, Sheet: s.report.Sheet, Line: line, Column: table.Letter(column), Member: member, Raw: shortRaw(raw), Message: message}
	if column >= 0 && column < len(s.header) {
		f.Header = s.header[column]
	}
	s.findings = append(s.findings, f)
}

func (s *seriesReader) missing(o owner, p *slot, line int) {
	for i := range seriesMembers {
		if m := &seriesMembers[i]; m.owner == o && m.required() && !p.has(m) {
			s.find(CodeRequired, line, -1, m.name, "", m.name+" must not be blank")
		}
	}
}

// end ends the series begun, and checks it as a whole.
func (s *seriesReader) end() {
	if s.first == 0 {
		return
	}
	if before, twice := s.names[s.series.Name]; twice {
		s.find(CodeDuplicate, s.first, -1, "name", s.series.Name, "the rows of one series stand together; it is in line "+table.FormatNumber(float64(before))+" already")
	}
	s.names[s.series.Name] = s.first
	var l problem.List
	s.series.Check(&l)
	if err := l.Err("series"); err != nil {
		for _, f := range problem.As(err).Faults {
			s.find(CodeContradiction, s.first, -1, f.Pointer[1:], f.Value, f.Message)
		}
	}
	if len(s.findings) == 0 {
		s.all = append(s.all, s.series)
		s.report.Parts++
	} else {
		s.report.BadParts++
		s.report.Errors += len(s.findings)
		for i := range s.findings {
			s.report.tally(&s.findings[i])
		}
		s.report.Findings = append(s.report.Findings, s.findings...)
	}
	s.findings, s.first = nil, 0
}

package catalogue

import (
	"io"
	"iter"
	"reflect"
	"strconv"

	"coldrise/catalogue/table"
	"coldrise/domain/part"
	"coldrise/domain/problem"
)

// Export says how a catalogue is written. The zero value is CSV by RFC 4180.
type Export struct {
	Form    table.Form    // "" is CSV
	Flavour table.Flavour // of CSV; a workbook needs none
	// Series goes to a sheet of its own in a workbook. CSV holds one table: write
	// series with WriteSeries.
	Series []part.Series
}

// The sheets of an export.
const (
	partsSheet  = "parts"
	seriesSheet = "series"
)

// WriteParts writes parts to w, with every member, so that reading it with
// OwnMap gives the same parts: each row is a detail of a part, and says all of
// the part again. An empty life or storage is left out. It stops at the first
// error of parts, and gives it. What was written until then is no whole file.
// Other errors are a *problem.Error: invalid for a text no table can hold.
func WriteParts(w io.Writer, parts iter.Seq2[part.Part, error], e Export) error {
	if e.Form == table.XLSX {
		return writeBook(w, parts, e.Series)
	}
	out, err := table.NewCSVWriter(w, headerOf(members), e.Flavour)
	if err != nil {
		return err
	}
	if err := writeParts(out, parts); err != nil {
		return err
	}
	return out.Close()
}

// WriteSeries writes series to w as CSV, for ReadSeries.
func WriteSeries(w io.Writer, series []part.Series, f table.Flavour) error {
	out, err := table.NewCSVWriter(w, headerOf(seriesMembers), f)
	if err != nil {
		return err
	}
	if err := writeSeries(out, series); err != nil {
		return err
	}
	return out.Close()
}

func writeBook(w io.Writer, parts iter.Seq2[part.Part, error], series []part.Series) (err error) {
	book, err := table.NewBookWriter(w)
	if err != nil {
		return err
	}
	defer func() {
		if err != nil {
			_ = book.Abandon() // the first error is the one to tell
		}
	}()
	sheet, err := book.Sheet(partsSheet, headerOf(members))
	if err != nil {
		return err
	}
	if err := writeParts(sheet, parts); err != nil {
		return err
	}
	if err := sheet.Close(); err != nil {
		return err
	}
	if sheet, err = book.Sheet(seriesSheet, headerOf(seriesMembers)); err != nil {
		return err
	}
	if err := writeSeries(sheet, series); err != nil {
		return err
	}
	if err := sheet.Close(); err != nil {
		return err
	}
	return book.Close()
}

func headerOf(all []member) []string {
	names := make([]string, len(all))
	for i := range all {
		names[i] = all[i].name
	}
	return names
}

func writeParts(out table.Writer, parts iter.Seq2[part.Part, error]) error {
	rows := newDetailRows(members)
	for p, err := range parts {
		if err != nil {
			return err
		}
		if err := rows.writePart(out, &p); err != nil {
			return named(err, "part", p.Maker+" "+p.PartNumber)
		}
	}
	return nil
}

func writeSeries(out table.Writer, series []part.Series) error {
	rows := newDetailRows(seriesMembers)
	for i := range series {
		s := &series[i]
		rows.own(reflect.ValueOf(s).Elem())
		if err := rows.write(out, nil, s.FrequencyFactors, s.TemperatureFactors); err != nil {
			return named(err, "series", s.Name)
		}
	}
	return nil
}

// named says of which row an error is, where it is not of the writing itself.
func named(err error, what, name string) error {
	if p := problem.As(err); p.Code == problem.Invalid {
		return problem.New(problem.Invalid, "%s %s: %s", what, strconv.Quote(shortRaw(name)), p.Message)
	}
	return err
}

// detailRows writes what has lists of its own as rows, one for each detail.
type detailRows struct {
	members []member
	of      map[owner][]int // which members are an owner's
	cells   []table.Cell
	details []detail
}

func newDetailRows(all []member) *detailRows {
	r := &detailRows{members: all, cells: make([]table.Cell, len(all)), of: map[owner][]int{}}
	for i := range all {
		r.of[all[i].owner] = append(r.of[all[i].owner], i)
	}
	return r
}

// detail is an offer with one of its price breaks; brk is nil where it has none.
type detail struct {
	offer *part.Offer
	brk   *part.Break
}

func (r *detailRows) writePart(out table.Writer, p *part.Part) error {
	r.own(reflect.ValueOf(p).Elem())
	r.details = r.details[:0]
	for i := range p.Offers {
		o := &p.Offers[i]
		if len(o.Breaks) == 0 {
			r.details = append(r.details, detail{offer: o})
		}
		for j := range o.Breaks {
			r.details = append(r.details, detail{o, &o.Breaks[j]})
		}
	}
	return r.write(out, r.details, p.FrequencyFactors, p.TemperatureFactors)
}

// own fills the cells of what every row repeats.
func (r *detailRows) own(v reflect.Value) { r.fill(ofPart, v, true) }

// write writes as many rows as the longest list has items, and one at least.
func (r *detailRows) write(out table.Writer, details []detail, frequency part.FrequencyTable, temperature part.TemperatureTable) error {
	for i := range max(1, len(details), len(frequency), len(temperature)) {
		var offer *part.Offer
		var brk *part.Break
		if i < len(details) {
			offer, brk = details[i].offer, details[i].brk
		}
		r.fill(ofOffer, reflect.ValueOf(offer), offer != nil)
		r.fill(ofBreak, reflect.ValueOf(brk), brk != nil)
		r.fill(ofFrequency, item(frequency, i), i < len(frequency))
		r.fill(ofTemperature, item(temperature, i), i < len(temperature))
		if err := out.Row(r.cells); err != nil {
			return err
		}
	}
	return nil
}

// valueOf is the struct p points to.
func valueOf(p any) reflect.Value { return reflect.ValueOf(p).Elem() }

func item[T any](list []T, i int) reflect.Value {
	if i >= len(list) {
		return reflect.Value{}
	}
	return reflect.ValueOf(&list[i])
}

// fill writes an owner's cells, or blanks them where it is not there.
func (r *detailRows) fill(o owner, v reflect.Value, there bool) {
	for _, i := range r.of[o] {
		r.cells[i] = table.Cell{}
		if there {
			r.cells[i] = r.members[i].write(v)
		}
	}
}

// write gives a member as a cell; blank where it is left out.
func (m *member) write(v reflect.Value) table.Cell {
	v, there := m.look(v)
	if !there {
		return table.Cell{}
	}
	switch m.form {
	case isNumber:
		return table.Cell{Text: table.FormatNumber(v.Float()), Kind: table.Number}
	case isWhole:
		return table.Cell{Text: strconv.FormatInt(v.Int(), 10), Kind: table.Number}
	case isMoney:
		return table.Cell{Text: part.Money(v.Int()).String(), Kind: table.Number}
	case isFlag:
		return table.Cell{Text: "yes"}
	}
	return table.Cell{Text: v.String()}
}

// OwnMap is the map of a file that WriteParts wrote. A program that has fewer
// members than this one wrote none of the others; those columns may be absent.
func OwnMap(f table.Flavour) Map {
	m := Map{Name: "coldrise export", Rows: "detail", Exact: true, Sheet: "", Decimal: "point", Separator: separatorWord(f.Separator)}
	if f.DecimalComma {
		m.Decimal = "comma"
	}
	for i := range members {
		k := &members[i]
		c := Column{Header: k.name, To: k.name, Unit: k.in, Optional: !k.rule.Required || k.owner != ofPart}
		m.Columns = append(m.Columns, c)
	}
	return m
}

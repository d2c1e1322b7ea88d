package ordersheet

import (
	"fmt"
	"slices"

	"coldrise/api/ordersheet/formula"
	"coldrise/domain/document"
	"coldrise/domain/problem"
)

// Map says where in a workbook an order goes. It is kept beside the workbook
// and held against it at each fill.
type Map struct {
	Name  string `json:"name,omitempty" maxLength:"80" doc:"What the shop calls this sheet"`
	Sheet string `json:"sheet" minLength:"1" maxLength:"31" doc:"Sheet that takes the lines"`
	// HeaderRow is the last row of the header; left out where lines go into a table, which has its own.
	HeaderRow  int         `json:"header_row,omitempty" minimum:"1" maximum:"1048575" doc:"Row of the column headers; not for a table"`
	Columns    []MapColumn `json:"columns" minItems:"1" maxItems:"64" doc:"Where each figure of a line goes"`
	Fixed      []Fixed     `json:"fixed,omitempty" maxItems:"64" doc:"The same in every row"`
	Formulas   []Place     `json:"formulas,omitempty" maxItems:"64" doc:"Columns whose formula is carried on from the row above; the row above must have one there"`
	Preprinted []Place     `json:"preprinted,omitempty" maxItems:"64" doc:"Columns that may hold something in rows still free, such as line numbers"`
	Append     Append      `json:"append"`
	// ShortRanges says what to do where a chart, a pivot table or a formula of
	// another sheet covers all lines now and would not cover the new ones. They
	// are never changed: either the fill is refused, or it says so.
	ShortRanges ShortRanges `json:"short_ranges,omitempty" enum:"refuse,report" doc:"What to do where a range elsewhere would miss the new rows; refuse where left out"`
}

// ShortRanges is what to do about ranges that cannot grow.
type ShortRanges string

// The choices.
const (
	RefuseShort ShortRanges = "refuse"
	ReportShort ShortRanges = "report"
)

// Place is a column: by its header, by its letters, or by both, and then the
// header must stand in that column.
type Place struct {
	Header string `json:"header,omitempty" maxLength:"255" doc:"Text of the header cell; case and runs of blanks do not count"`
	Column string `json:"column,omitempty" pattern:"^[A-Z]{1,3}$" patternDescription:"the letters of a column, such as F" doc:"Letters of the column"`
}

// MapColumn is where a figure of a line goes.
type MapColumn struct {
	Field Field `json:"field" enum:"supplier,sku,maker,part_number,text,refs,quantity,for_use,unit_price,total,currency,lead_days,order_reference,order_date,line_number"`
	Place
	As form `json:"as,omitempty" enum:"text,number,date" doc:"How it is written; left out, figures are numbers, order_date is a date and the rest text"`
}

// Fixed is a value that every row gets.
type Fixed struct {
	Place
	Text   *string  `json:"text,omitempty" maxLength:"1000"`
	Number *float64 `json:"number,omitempty" minimum:"-1000000000000" maximum:"1000000000000"`
}

// Append says where the lines go.
type Append struct {
	Where Where `json:"where" enum:"after_last_row,before_totals,table" doc:"after_last_row: below the last line; before_totals: the same, and rows are inserted where the totals row is reached; table: into a named table, which grows"`
	// BlankRows is how many empty rows may lie between two lines, after_last_row only.
	BlankRows int     `json:"blank_rows,omitempty" minimum:"0" maximum:"100"`
	Totals    *Totals `json:"totals,omitempty" doc:"How the totals row is known, for before_totals"`
	Table     string  `json:"table,omitempty" maxLength:"255" doc:"Name of the table, for table"`
}

// Where names a way to append.
type Where string

// The ways.
const (
	AfterLastRow Where = "after_last_row"
	BeforeTotals Where = "before_totals"
	IntoTable    Where = "table"
)

// Totals names the cell that marks the totals row: the only one below the
// header, in that column or in any of the table's, that reads the text.
type Totals struct {
	Text string `json:"text" minLength:"1" maxLength:"255"`
	Place
}

// ParseMap reads a map document, strictly. The error is a *problem.Error with
// every fault.
func ParseMap(data []byte) (Map, error) {
	var m Map
	if err := document.Decode(data, &m, "order sheet map", m.Check); err != nil {
		return Map{}, err
	}
	return m, nil
}

// Check adds to l what is wrong with the map beyond its shape: columns that
// are not named or named twice, values that no field has, members that belong
// to another way of appending.
func (m *Map) Check(l *problem.List) {
	if m.ShortRanges == "" {
		m.ShortRanges = RefuseShort
	}
	m.checkAppend(l)
	if m.HeaderRow == 0 && m.Append.Where != IntoTable {
		l.Addf("/header_row", "is required, but for a table")
	}
	for i, c := range m.Columns {
		if c.As != "" && c.As != asText && c.As != c.Field.natural() {
			l.Addf(document.Pointer("columns", i, "as"), "%s", c.Field.forms())
		}
	}
	for i, f := range m.Fixed {
		if (f.Text == nil) == (f.Number == nil) {
			l.Addf(document.Pointer("fixed", i), "must have a text or a number, and not both")
		}
		if f.Text != nil {
			checkText(l, document.Pointer("fixed", i, "text"), *f.Text)
		}
	}
	m.checkPlaces(l)
}

// forms says how a field may be written.
func (f Field) forms() string {
	if f.natural() == asText {
		return fmt.Sprintf("%s is written as text", f)
	}
	return fmt.Sprintf("%s is written as a %s or as text", f, f.natural())
}

func (m *Map) checkAppend(l *problem.List) {
	a := &m.Append
	if a.Where != AfterLastRow && a.BlankRows != 0 {
		l.Addf("/append/blank_rows", "is for after_last_row alone")
	}
	if (a.Where == BeforeTotals) != (a.Totals != nil) {
		l.Addf("/append/totals", "is required for before_totals, and is for it alone")
	}
	if (a.Where == IntoTable) != (a.Table != "") {
		l.Addf("/append/table", "is required for table, and is for it alone")
	}
	if a.Where == IntoTable && m.HeaderRow != 0 {
		l.Addf("/header_row", "is not for a table, which has its own header")
	}
}

// spot is a place and where it stands in the map.
type spot struct {
	*Place
	pointer string
}

// written gives the places that a row gets values in: columns, then fixed.
func (m *Map) written() []spot {
	var all []spot
	for i := range m.Columns {
		all = append(all, spot{&m.Columns[i].Place, document.Pointer("columns", i)})
	}
	for i := range m.Fixed {
		all = append(all, spot{&m.Fixed[i].Place, document.Pointer("fixed", i)})
	}
	return all
}

// others gives the places of formulas and of what is preprinted.
func (m *Map) others() (formulas, preprinted []spot) {
	for i := range m.Formulas {
		formulas = append(formulas, spot{&m.Formulas[i], document.Pointer("formulas", i)})
	}
	for i := range m.Preprinted {
		preprinted = append(preprinted, spot{&m.Preprinted[i], document.Pointer("preprinted", i)})
	}
	return formulas, preprinted
}

func (m *Map) checkPlaces(l *problem.List) {
	formulas, preprinted := m.others()
	all := slices.Concat(m.written(), formulas, preprinted)
	letters, headers := map[string]string{}, map[string]string{}
	for _, s := range all {
		if s.Header == "" && s.Column == "" {
			l.Addf(s.pointer, "must name a column by header, by column, or by both")
			continue
		}
		if s.Column != "" && formula.ParseColumn(s.Column) == 0 {
			l.Add(problem.Fault{Pointer: s.pointer + "/column", Message: "the last column of a sheet is XFD", Value: fmt.Sprintf("%q", s.Column)})
		}
		once(l, letters, s.Column, s.pointer+"/column")
		if s.Column == "" {
			once(l, headers, folded(s.Header), s.pointer+"/header")
		}
	}
}

// once adds a fault where a name was used before.
func once(l *problem.List, seen map[string]string, name, pointer string) {
	if name == "" {
		return
	}
	if before, twice := seen[name]; twice {
		l.Add(problem.Fault{Pointer: pointer, Message: "is named at " + before + " already", Value: fmt.Sprintf("%q", name)})
		return
	}
	seen[name] = pointer
}

package ordersheet

import (
	"bytes"
	"slices"

	"coldrise/catalogue/table"
	"coldrise/domain/document"
	"coldrise/domain/problem"
)

// Flavour is a way to write CSV.
type Flavour string

// The flavours.
const (
	// RFC4180 is commas, decimal points, CRLF, UTF-8 without a mark.
	RFC4180 Flavour = "rfc4180"
	// Excel is the same with a byte order mark, without which spreadsheets take
	// the file for one in the machine's own code page, and with the separator and
	// decimal mark of the shop's locale.
	Excel Flavour = "excel"
)

// Profile is the columns of a shop's CSV, kept under a name.
type Profile struct {
	Name     string          `json:"name,omitempty" maxLength:"80"`
	Flavour  Flavour         `json:"flavour" enum:"rfc4180,excel"`
	NoHeader bool            `json:"no_header,omitempty" doc:"Leaves the header out"`
	Columns  []ProfileColumn `json:"columns" minItems:"1" maxItems:"64" doc:"Columns in order"`
	// Separator and DecimalMark are the excel flavour's: a comma and a point, or
	// a semicolon where the decimal mark is a comma.
	Separator   string `json:"separator,omitempty" enum:"comma,semicolon,tab,bar"`
	DecimalMark string `json:"decimal_mark,omitempty" enum:"point,comma"`
}

// ProfileColumn is a column: a field, or the same text in every row.
type ProfileColumn struct {
	Field  Field  `json:"field,omitempty" enum:"supplier,sku,maker,part_number,text,refs,quantity,for_use,unit_price,total,currency,lead_days,order_reference,order_date,line_number"`
	Fixed  string `json:"fixed,omitempty" maxLength:"1000" doc:"Text of every row; instead of a field"`
	Header string `json:"header,omitempty" maxLength:"255" doc:"Header; the field's name where left out"`
}

// Plain is the profile of a shop that has set none.
func Plain() Profile {
	p := Profile{Flavour: RFC4180}
	for _, f := range []Field{Supplier, SKU, Maker, PartNumber, Text, Refs, Quantity, ForUse, UnitPrice, Total, Currency, LeadDays} {
		p.Columns = append(p.Columns, ProfileColumn{Field: f})
	}
	return p
}

// ParseProfile reads a profile document, strictly. The error is a
// *problem.Error with every fault.
func ParseProfile(data []byte) (Profile, error) {
	var p Profile
	if err := document.Decode(data, &p, "CSV profile", p.Check); err != nil {
		return Profile{}, err
	}
	return p, nil
}

// Check adds to l what is wrong with the profile beyond its shape.
func (p *Profile) Check(l *problem.List) {
	if p.Flavour == RFC4180 && (p.Separator != "" || p.DecimalMark != "") {
		l.Addf("/flavour", "rfc4180 has commas and decimal points; take excel for others")
	}
	if p.separator() == p.decimalMark() {
		l.Addf("/separator", "must differ from the decimal mark")
	}
	for i, c := range p.Columns {
		if (c.Field == "") == (c.Fixed == "") {
			l.Addf(document.Pointer("columns", i), "must have a field or a fixed text, and not both")
		}
		checkText(l, document.Pointer("columns", i, "fixed"), c.Fixed)
		checkText(l, document.Pointer("columns", i, "header"), c.Header)
	}
}

func (p *Profile) decimalMark() rune {
	if p.DecimalMark == "comma" {
		return ','
	}
	return '.'
}

func (p *Profile) separator() rune {
	switch {
	case p.Separator == "semicolon", p.Separator == "" && p.DecimalMark == "comma":
		return ';'
	case p.Separator == "tab":
		return '\t'
	case p.Separator == "bar":
		return '|'
	}
	return ','
}

// MediaType is the type of what CSV writes, with the parameters of RFC 4180.
func (p *Profile) MediaType() string {
	if p.NoHeader {
		return "text/csv; charset=utf-8; header=absent"
	}
	return "text/csv; charset=utf-8; header=present"
}

// CSV writes the order's lines by a profile, records ending in CRLF. Texts are
// guarded against being run as formulas, which table.Unguard takes away again;
// figures are plain decimals without groups. The error is a *problem.Error,
// Invalid for a profile or an order.
func CSV(o Order, p Profile) ([]byte, error) {
	if err := p.fits(&o); err != nil {
		return nil, err
	}
	var b bytes.Buffer
	w, err := table.NewCSVWriter(&b, p.header(), table.Flavour{Mark: p.Flavour == Excel, Separator: p.separator(), DecimalComma: p.decimalMark() == ','})
	if err != nil {
		return nil, err
	}
	row := make([]table.Cell, len(p.Columns))
	for i := range o.Lines {
		for k, c := range p.Columns {
			row[k] = c.cell(&o, i)
		}
		if err := w.Row(row); err != nil {
			return nil, err
		}
	}
	if err := w.Close(); err != nil {
		return nil, err
	}
	return b.Bytes(), nil
}

// fits gives what is wrong with an order or the profile it is written by.
func (p *Profile) fits(o *Order) error {
	var l problem.List
	o.Check(&l)
	o.checkDate(&l, slices.ContainsFunc(p.Columns, func(c ProfileColumn) bool { return c.Field == OrderDate }))
	if err := l.Err("order"); err != nil {
		return err
	}
	p.Check(&l)
	return l.Err("CSV profile")
}

// header gives the headers; nil where the profile wants none.
func (p *Profile) header() []string {
	if p.NoHeader {
		return nil
	}
	var names []string
	for _, c := range p.Columns {
		if c.Header == "" {
			c.Header = string(c.Field)
		}
		names = append(names, c.Header)
	}
	return names
}

func (c ProfileColumn) cell(o *Order, i int) table.Cell {
	switch {
	case c.Field == "":
		return table.Cell{Text: c.Fixed}
	case c.Field.natural() == asNumber:
		return table.Cell{Text: c.Field.of(o, i), Kind: table.Number}
	}
	return table.Cell{Text: c.Field.of(o, i)}
}

package catalogue

import (
	"fmt"
	"slices"
	"sort"
	"strconv"
	"strings"

	"coldrise/catalogue/table"
	"coldrise/domain/document"
	"coldrise/domain/problem"
	"coldrise/domain/quantity"
)

// Map says how one supplier's file is to be read: which column holds what, in
// what unit, and how its numbers are written. It is kept for each kind of file
// and never guessed: Propose makes a first draft, for somebody to look at.
type Map struct {
	Name string `json:"name" minLength:"1" maxLength:"80" doc:"Name of the map, unique in the shop"`
	Note string `json:"note,omitempty" maxLength:"400"`

	// How the file is written. What is left out is taken from the file, where it says.
	Encoding    string `json:"encoding,omitempty" enum:"utf-8,utf-16,utf-16le,utf-16be,windows-1252" doc:"Of a CSV file without a byte-order mark; utf-8 where left out"`
	Separator   string `json:"separator,omitempty" enum:"comma,semicolon,tab,bar" doc:"Of a CSV file; where left out the one by which all columns are found"`
	LooseQuotes bool   `json:"loose_quotes,omitempty" doc:"Quotation marks inside cells that are not quoted stand for themselves, as in 1\" x 3\""`
	Sheet       string `json:"sheet,omitempty" maxLength:"80" doc:"Of a workbook; the first that is not hidden where left out"`
	HeaderRow   int    `json:"header_row,omitempty" minimum:"1" maximum:"1000" doc:"Line of the header; 1 where left out"`
	NoHeader    bool   `json:"no_header,omitempty" doc:"The table has no header; columns go by letter"`

	// How its numbers are written. Undeclared, a comma is refused, and so is a
	// point ahead of three digits: each may be a decimal sign or part off thousands.
	Decimal     string `json:"decimal,omitempty" enum:"point,comma" doc:"The decimal sign; number cells of a workbook need none"`
	Grouping    string `json:"grouping,omitempty" enum:"point,comma,blank,apostrophe" doc:"What parts off thousands; nothing where left out"`
	LegacyUnits bool   `json:"legacy_units,omitempty" doc:"Old markings: mF and a bare M are microfarads"`

	// Rows says what a row is. With part, each row is a part, and two rows of
	// one part are a fault. With detail, the rows of one part stand together,
	// and each adds an offer, a price break, a point of a table.
	Rows    string            `json:"rows,omitempty" enum:"part,detail" doc:"What a row is; part where left out"`
	Columns []Column          `json:"columns" minItems:"1" maxItems:"200"`
	Fixed   map[string]string `json:"fixed,omitempty" doc:"Members that are the same in every row, as text with a decimal point"`
	Skip    []Skip            `json:"skip,omitempty" maxItems:"50" doc:"Rows that are left out"`
	Ignore  []string          `json:"ignore,omitempty" maxItems:"200" maxLength:"200" doc:"Headers that are known to be of no use"`
	// Exact takes texts with the blanks at their ends, as exports write them.
	Exact bool `json:"exact,omitempty" doc:"Texts are taken with the blanks at their ends"`
}

// Column says what one column of the file holds.
type Column struct {
	Header   string `json:"header,omitempty" maxLength:"200" doc:"The column by its header; case and blanks do not count"`
	Letter   string `json:"letter,omitempty" maxLength:"3" doc:"The column by its letter, A to GR"`
	To       string `json:"to" minLength:"1" maxLength:"40" doc:"The member it feeds; see Targets"`
	Optional bool   `json:"optional,omitempty" doc:"The file may lack the column"`
	// Unit is what numbers without a unit are in. Where left out, capacitances
	// from 1 up, currents, lengths and ESR are refused without one.
	Unit    string            `json:"unit,omitempty" maxLength:"20"`
	Values  map[string]string `json:"values,omitempty" doc:"What words of the file stand for; case does not count; an empty text is none"`
	Break   int               `json:"break,omitempty" minimum:"1" maximum:"20" doc:"Which price break of the row, where it has several"`
	FromQty int               `json:"from_qty,omitempty" minimum:"1" maximum:"1000000" doc:"The quantity from which a column's price holds"`
	Per     int               `json:"per,omitempty" minimum:"1" maximum:"1000000" doc:"How many pieces a price is for; 1 where left out"`
	Order   []string          `json:"order,omitempty" maxItems:"3" enum:"diameter_mm,length_mm,thickness_mm" doc:"Of a size, what its dimensions are"`
}

// Skip leaves rows out by what one column holds.
type Skip struct {
	Header string   `json:"header,omitempty" maxLength:"200"`
	Letter string   `json:"letter,omitempty" maxLength:"3"`
	Is     []string `json:"is" minItems:"1" maxItems:"100" maxLength:"200" doc:"Words that leave a row out; case does not count; an empty text is a blank cell"`
}

// ParseMap reads a map document, strictly. The error is a *problem.Error:
// malformed, or invalid with all faults.
func ParseMap(data []byte) (Map, error) {
	var m Map
	if err := document.Decode(data, &m, "column map", m.Check); err != nil {
		return Map{}, err
	}
	return m, nil
}

// Targets lists what a column may feed: the members of a part, and what holds
// several of them in one cell.
func Targets() []string {
	var all []string
	for _, m := range members {
		all = append(all, m.name)
	}
	for _, c := range compounds {
		all = append(all, c.name)
	}
	return all
}

// Check adds what is wrong with a map beyond the ranges of its members.
// Pointers are those of a map document.
func (m *Map) Check(l *problem.List) {
	if m.Decimal != "" && m.Decimal == m.Grouping {
		l.Addf("/grouping", "the decimal sign cannot also part off thousands")
	}
	if m.NoHeader && m.HeaderRow != 0 {
		l.Addf("/header_row", "a table without a header has no row of it")
	}
	feeds := feeds{}
	for i := range m.Columns {
		m.checkColumn(l, i, feeds)
	}
	for i, s := range m.Skip {
		m.checkPlace(l, "/skip/"+strconv.Itoa(i), s.Header, s.Letter)
	}
	m.checkFixed(l, feeds)
	m.checkFed(l, feeds)
}

// feeds is what feeds each member, by name and break: "a column", "a fixed value".
type feeds map[feed]string

type feed struct {
	member string
	slot   int
}

func (f feeds) any(name string) bool {
	for k := range f {
		if k.member == name {
			return true
		}
	}
	return false
}

func (m *Map) checkPlace(l *problem.List, at, header, letter string) {
	_, named := table.LetterColumn(letter)
	switch {
	case header == "" && letter == "":
		l.Addf(at+"/header", "a column goes by its header or its letter")
	case header != "" && letter != "":
		l.Addf(at+"/letter", "a column goes by its header or its letter, not by both")
	case letter != "" && !named:
		l.Add(problem.Fault{Pointer: at + "/letter", Value: strconv.Quote(letter), Message: "must be a column's letter, A to XFD"})
	case header != "" && m.NoHeader:
		l.Addf(at+"/header", "the table has no header; the column goes by its letter")
	}
}

func (m *Map) checkColumn(l *problem.List, i int, fed feeds) {
	c := &m.Columns[i]
	at := "/columns/" + strconv.Itoa(i)
	m.checkPlace(l, at, c.Header, c.Letter)
	sets, unit, ok := c.feeds()
	if !ok {
		near := ""
		if word, close := document.Nearest(c.To, Targets()); close {
			near = fmt.Sprintf("; did you mean %q?", word)
		}
		l.Add(problem.Fault{Pointer: at + "/to", Value: strconv.Quote(c.To), Message: "is no member a column can feed" + near})
		return
	}
	if c.Unit != "" && (unit == nil || !unit.Knows(c.Unit)) {
		l.Add(problem.Fault{Pointer: at + "/unit", Value: strconv.Quote(c.Unit), Message: "is no unit of " + c.To})
	}
	m.checkPrice(l, at, c)
	if len(c.Order) > 0 && c.To != "size_mm" {
		l.Addf(at+"/order", "only a size has an order of its dimensions")
	}
	for _, name := range sets {
		key := feed{name, c.slot()}
		if before, twice := fed[key]; twice {
			l.Addf(at+"/to", "%s is fed already, by %s", name, before)
		}
		fed[key] = c.place()
	}
	fed.qty(c)
}

// qty notes that a price of a stated quantity feeds its break's.
func (f feeds) qty(c *Column) {
	if c.FromQty > 0 && c.To == "unit_price" {
		f[feed{"break_min_qty", c.slot()}] = c.place()
	}
}

func (m *Map) checkPrice(l *problem.List, at string, c *Column) {
	price := c.To == "unit_price"
	if c.Break > 0 && !price && c.To != "break_min_qty" {
		l.Addf(at+"/break", "only prices and their quantities belong to a break")
	}
	if c.FromQty > 0 && !price {
		l.Addf(at+"/from_qty", "only a price holds from a quantity")
	}
	if c.Per > 0 && !price {
		l.Addf(at+"/per", "only a price is for so many pieces")
	}
	if c.FromQty > 0 && c.Break > 0 {
		l.Addf(at+"/from_qty", "the break's quantity is stated or in a column, not both")
	}
	if (c.Break > 0 || c.FromQty > 0) && m.Rows == "detail" {
		l.Addf(at+"/to", "where each row is a detail, it has one price break; break and from_qty have no meaning")
	}
}

// slot tells the price breaks of a row apart: by number, or by quantity.
func (c *Column) slot() int {
	if c.FromQty > 0 {
		return -c.FromQty
	}
	return c.Break
}

func (c *Column) place() string {
	if c.Letter != "" {
		return "column " + c.Letter
	}
	return "the column " + strconv.Quote(c.Header)
}

// feeds gives the members a column sets and its unit, nil where it has none.
func (c *Column) feeds() (sets []string, unit *quantity.Unit, ok bool) {
	if m := memberNamed(c.To); m != nil {
		if m.form == isNumber || m.form == isWhole {
			unit = &m.unit
		}
		return []string{m.name}, unit, true
	}
	if k := compoundNamed(c.To); k != nil {
		return k.sets, k.unit, true
	}
	return nil, nil, false
}

func (m *Map) checkFixed(l *problem.List, fed feeds) {
	for _, name := range sortedKeys(m.Fixed) {
		at := document.Under("/fixed", name)
		known := memberNamed(name)
		switch {
		case known == nil:
			l.Addf(at, "is no member that can be fixed")
			continue
		case fed.any(name):
			l.Addf(at, "is fed already, by a column")
		}
		if _, f := known.canonical(m.Fixed[name]); f != nil {
			f.Pointer = at
			l.Add(*f)
		}
		fed[feed{name, 0}] = "a fixed value"
	}
}

// checkFed misses what nothing feeds and every part or offer needs.
func (m *Map) checkFed(l *problem.List, fed feeds) {
	if lacking := fed.lack(ofPart); len(lacking) > 0 {
		l.Addf("/columns", "nothing feeds %s, which every part needs: map a column to each, or put it in fixed", strings.Join(lacking, ", "))
	}
	offered := slices.ContainsFunc(members, func(k member) bool { return (k.owner == ofOffer || k.owner == ofBreak) && fed.any(k.name) })
	if lacking := append(fed.lack(ofOffer), fed.lack(ofBreak)...); offered && len(lacking) > 0 {
		l.Addf("/fixed", "nothing feeds %s, which every offer needs: map a column to each, or put it in fixed", strings.Join(lacking, ", "))
	}
}

// lack lists the members an owner needs and nothing feeds.
func (f feeds) lack(o owner) []string {
	var lacking []string
	for i := range members {
		k := &members[i]
		switch {
		case k.owner != o || !k.required() || f.any(k.name):
		case (k.name == "technology" || k.name == "maker") && f.any("series"):
			// The series, which the shop has, says both.
		case k.name == "break_min_qty":
			// A first break holds from the offer's least quantity.
		default:
			lacking = append(lacking, k.name)
		}
	}
	return lacking
}

func sortedKeys(m map[string]string) []string {
	keys := make([]string, 0, len(m))
	for k := range m {
		keys = append(keys, k)
	}
	sort.Strings(keys)
	return keys
}

var decimals = map[string]bool{"comma": true}

var groupings = map[string]string{"point": ".", "comma": ",", "blank": " ", "apostrophe": "'"}

var separators = map[string]rune{"comma": ',', "semicolon": ';', "tab": '\t', "bar": '|'}

// options gives how the map's numbers are written, but for their unit.
func (m *Map) options() quantity.Options {
	return quantity.Options{DecimalComma: decimals[m.Decimal], Grouping: groupings[m.Grouping], DoubtPoint: m.Decimal == "", Legacy: m.LegacyUnits}
}

// tried lists the separators worth trying for a file that says none.
func (m *Map) tried() []rune {
	if m.Separator != "" {
		return []rune{separators[m.Separator]}
	}
	return slices.Clone([]rune{',', ';', '\t', '|'})
}

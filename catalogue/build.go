package catalogue

import (
	"reflect"
	"strconv"
	"strings"

	"coldrise/catalogue/table"
	"coldrise/domain/part"
)

// slot is a struct that is being filled, and which of its members were.
type slot struct {
	v     reflect.Value
	given uint64
}

func (s *slot) has(m *member) bool { return s.given&(1<<m.index) != 0 }

// builder makes a part of the rows that are its own.
type builder struct {
	lay    *layout
	series func(name string) (*part.Series, bool) // nil where they are not at hand

	part     part.Part
	own      slot
	lines    []int // of the rows taken
	first    []table.Cell
	findings []Finding
	warn     func(Finding)

	// The row at hand.
	line   int
	offer  part.Offer
	terms  slot
	breaks []part.Break
	prices []slot
	point  part.FrequencyFactor
	points slot
	heat   part.TemperatureFactor
	heats  slot
	sign   string // the currency beside a price
	signAt place

	// Where the part's offers and price breaks came from.
	offerLines []int
	breakPlace [][]breakPlace
}

// breakPlace is the line of a price break, and which of its row it was.
type breakPlace struct{ line, slot int }

func newBuilder(lay *layout, series func(string) (*part.Series, bool), warn func(Finding)) *builder {
	b := &builder{lay: lay, series: series, warn: warn}
	b.breaks, b.prices = make([]part.Break, len(lay.breaks)), make([]slot, len(lay.breaks))
	b.own.v = reflect.ValueOf(&b.part).Elem()
	b.terms.v = reflect.ValueOf(&b.offer).Elem()
	b.points.v, b.heats.v = reflect.ValueOf(&b.point).Elem(), reflect.ValueOf(&b.heat).Elem()
	for i := range b.breaks {
		b.prices[i].v = reflect.ValueOf(&b.breaks[i]).Elem()
	}
	return b
}

// begin starts another part.
func (b *builder) begin() {
	b.part = part.Part{}
	b.own.given = 0
	b.lines, b.findings = b.lines[:0], nil // those found are the group's
	b.offerLines, b.breakPlace = b.offerLines[:0], b.breakPlace[:0]
}

// clear empties what a row fills beside the part itself.
func (b *builder) clear() {
	b.offer, b.point, b.heat, b.sign = part.Offer{}, part.FrequencyFactor{}, part.TemperatureFactor{}, ""
	b.terms.given, b.points.given, b.heats.given = 0, 0, 0
	for i := range b.breaks {
		b.breaks[i], b.prices[i].given = part.Break{}, 0
	}
}

// add takes a row of the part begun.
func (b *builder) add(row *table.Row) {
	first := len(b.lines) == 0
	b.lines = append(b.lines, row.Line)
	b.line = row.Line
	b.clear()
	b.faults(row)
	for i := range b.lay.columns {
		c := &b.lay.columns[i]
		var cell table.Cell
		if c.index < len(row.Cells) {
			cell = row.Cells[c.index]
		}
		if c.owner == ofPart && !first {
			b.compare(c, &cell)
			continue
		}
		b.cell(c, &cell)
	}
	if first {
		b.first = append(b.first[:0], row.Cells...)
		if b.noPart() {
			return
		}
		b.fill(ofPart, &b.own)
	}
	b.takeOffer()
	b.takePoints()
}

// noPart finds a row that is no part at all, a total or a heading: it has no
// part number and lacks something else besides. One error says so.
func (b *builder) noPart() bool {
	if b.own.has(numberMember) || len(b.findings) > 0 {
		return false
	}
	lacking := 0
	for _, m := range requiredOf[ofPart] {
		_, fed := b.lay.of[feedKey(m.pointer(), 0)]
		if fed && !b.own.has(m) {
			lacking++
		}
	}
	if lacking < 2 {
		return false
	}
	p := place{index: -1}
	if at, ok := b.lay.of[feedKey(numberMember.pointer(), 0)]; ok {
		p = b.lay.columns[at].place
	}
	b.find(CodeRequired, p, numberMember.name, "", "part_number must not be blank, and more is missing beside it; if the row is no part, but a total or a heading, leave it out by the map's skip")
	b.part = part.Part{}
	return true
}

var numberMember = memberNamed("part_number")

// faults takes what is wrong with the row itself.
func (b *builder) faults(row *table.Row) {
	codes := map[table.Trouble]Code{table.BadEncoding: CodeEncoding, table.BadQuoting: CodeQuoting, table.BadCell: CodeValue}
	for _, f := range row.Faults {
		b.find(codes[f.Trouble], place{index: f.Column, header: b.headerOf(f.Column)}, "", f.Raw, f.Message)
	}
	if b.lay.header == nil {
		return
	}
	for i := len(b.lay.header); i < len(row.Cells); i++ {
		if strings.TrimSpace(row.Cells[i].Text) == "" {
			continue
		}
		if b.lay.strict {
			b.find(CodeColumns, place{index: i}, "", row.Cells[i].Text, "the row has more cells than the header has: a separator inside a text moves all that follows; such a text is quoted")
		} else {
			b.warn(Finding{Severity: IsWarning, Code: CodeUnknownColumn, Line: b.line, Column: table.Letter(i), Raw: shortRaw(row.Cells[i].Text),
				Message: "the column has no header; what it holds is not imported"})
		}
		return
	}
}

func (b *builder) headerOf(column int) string {
	if column >= 0 && column < len(b.lay.header) {
		return b.lay.header[column]
	}
	return ""
}

// find notes an error of the row at hand.
func (b *builder) find(code Code, at place, member, raw, message string) {
	b.findings = append(b.findings, Finding{Severity: IsError, Code: code, Line: b.line, Column: table.Letter(at.index),
		Header: shortRaw(at.header), Member: member, Raw: shortRaw(raw), Message: message})
}

// text gives a cell's text as it is taken; false where it is blank.
func (b *builder) text(c *column, cell *table.Cell) (string, bool) {
	text := cell.Text
	if !b.lay.m.Exact {
		text = trimBlanks(text)
	}
	return text, text != ""
}

// trimBlanks cuts blanks of every kind off both ends.
func trimBlanks(s string) string {
	if s == "" || s[0] > ' ' && s[0] < 0x80 && s[len(s)-1] > ' ' && s[len(s)-1] < 0x80 {
		return s
	}
	return strings.TrimSpace(s)
}

// cell reads a cell into its slot.
func (b *builder) cell(c *column, cell *table.Cell) {
	text, given := b.text(c, cell)
	if !given {
		return
	}
	if cell.Formula {
		b.warn(Finding{Severity: IsWarning, Code: CodeFormula, Line: b.line, Column: c.letter(), Header: shortRaw(c.header), Member: c.from.To, Raw: shortRaw(text),
			Message: "is a formula, or what one gave when the file was saved last"})
	}
	reading := &c.reading
	if c.values != nil {
		if means, ok := c.values[foldHeader(text)]; ok {
			if means == "" {
				return
			}
			plain := table.Cell{Text: means}
			b.put(c, &c.named, &plain, means)
			return
		}
	}
	if cell.Kind == table.Number && reading.member.form == isText && c.compound == nil {
		b.warn(Finding{Severity: IsWarning, Code: CodeNumberAsText, Line: b.line, Column: c.letter(), Header: shortRaw(c.header), Member: c.from.To, Raw: shortRaw(text),
			Message: "is a number to the spreadsheet: zeros at its start, if there were any, are lost; format the column as text"})
	}
	b.put(c, reading, cell, text)
}

// put reads a text and sets what it is for.
func (b *builder) put(c *column, by *reading, cell *table.Cell, text string) {
	if c.compound != nil {
		all, t := c.readCompound(cell, text)
		if t != nil {
			b.find(t.code, c.place, c.from.To, text, t.message)
			return
		}
		for _, a := range all {
			r := reading{member: memberNamed(a.member)}
			r.set(&b.own, value{number: a.number})
		}
		return
	}
	to := b.slotOf(c)
	v, t := by.read(cell, text)
	if t != nil {
		b.find(t.code, c.place, c.from.To, text, t.message)
		to.given |= 1 << by.member.index // it is there, if at fault: nothing misses it
		return
	}
	if by.member.form == isMoney {
		if _, sign := splitCurrency(text); sign != "" {
			b.sign, b.signAt = sign, c.place
		}
	}
	by.set(to, v)
}

func (b *builder) slotOf(c *column) *slot {
	switch c.owner {
	case ofOffer:
		return &b.terms
	case ofBreak:
		return &b.prices[c.slot]
	case ofFrequency:
		return &b.points
	case ofTemperature:
		return &b.heats
	}
	return &b.own
}

// compare holds a cell of a further row against the part's first: blank, or the same.
func (b *builder) compare(c *column, cell *table.Cell) {
	text, given := b.text(c, cell)
	before := ""
	if c.index < len(b.first) {
		before, _ = b.text(c, &b.first[c.index])
	}
	if given && text != before {
		b.find(CodeContradiction, c.place, c.from.To, text,
			"differs from line "+strconv.Itoa(b.lines[0])+", which has "+strconv.Quote(shortRaw(before))+": the rows of one part agree, or leave the cell blank")
	}
}

// fill sets what is fixed and was not given, and misses what is required.
func (b *builder) fill(o owner, s *slot) {
	for i := range b.lay.fixed[o] {
		f := &b.lay.fixed[o][i]
		if !s.has(f.reading.member) {
			f.reading.set(s, f.value)
		}
	}
	var series *part.Series
	if o == ofPart {
		series = b.fromSeries()
	}
	for _, m := range requiredOf[o] {
		if s.has(m) || series != nil && (m.name == "maker" || m.name == "technology") {
			continue
		}
		at, ok := b.lay.of[feedKey(m.pointer(), 0)]
		p := place{index: -1}
		if ok {
			p = b.lay.columns[at].place
		}
		b.find(CodeRequired, p, m.name, "", m.name+" must not be blank")
	}
}

// fromSeries gives a part what only its series says: maker and technology.
func (b *builder) fromSeries() *part.Series {
	if b.series == nil || b.part.Series == "" {
		return nil
	}
	s, ok := b.series(b.part.Series)
	if !ok {
		return nil
	}
	if b.part.Maker == "" {
		b.part.Maker = s.Maker
	}
	if b.part.Technology == "" {
		b.part.Technology = s.Technology
	}
	return s
}

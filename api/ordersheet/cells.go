package ordersheet

import (
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"coldrise/api/ordersheet/formula"
	"coldrise/api/ordersheet/parts"
	"coldrise/domain/problem"
)

// fill carries one fill: what was placed, and the changes gathered so far.
type fill struct {
	*fit
	order  *Order
	place  *placing
	styles *styles
	report *Report
	out    map[string][]byte // parts that changed
	edits  parts.Splices     // of the sheet
	// carry is the formulas of the row that new ones are like, by column, as
	// they read there after the change.
	carry map[int]carrying
}

// carrying is a formula to be carried on.
type carrying struct {
	text  string
	attrs string // of the formula's element, an array's without its range
	meta  string // of the cell: cm
	array bool
}

// newCell is a cell to be written.
type newCell struct {
	col int
	xml string
}

// value is what goes into a cell: a text, or a number in plain decimals.
type value struct {
	form form
	text string
}

func fixedValue(f Fixed) value {
	if f.Number != nil {
		return value{asNumber, strconv.FormatFloat(*f.Number, 'f', -1, 64)}
	}
	if f.Text != nil {
		return value{asText, *f.Text}
	}
	return value{form: asText}
}

// valueOf gives what a column gets in line i.
func (w write) valueOf(o *Order, i int) value {
	if w.field == "" {
		return w.fixed
	}
	return value{w.form, w.field.of(o, i)}
}

// rowCells gives the cells to be written for line i into a row, which had the
// number old before (0 where it comes in), in order of their columns.
func (f *fill) rowCells(i int) ([]newCell, error) {
	there, like := f.s.row(f.place.old(i)), f.s.row(f.like)
	var list []newCell
	for _, w := range f.writes {
		c, err := f.valueCell(there, like, w, i)
		if err != nil {
			return nil, err
		}
		list = append(list, c)
	}
	if like != nil {
		for _, l := range like.cells {
			if c, ok := f.likeCell(there, l, f.place.rows[i]); ok {
				list = append(list, c)
			}
		}
	}
	slices.SortFunc(list, func(a, b newCell) int { return a.col - b.col })
	return list, nil
}

// likeCell gives what a column that the map does not write takes from the row
// above: its format, and its formula if it has one. What is there already stays.
func (f *fill) likeCell(there *row, like cell, n int) (newCell, bool) {
	written := slices.ContainsFunc(f.writes, func(w write) bool { return w.col == like.col })
	if written || like.col < f.left || like.col > f.right || there == f.s.row(f.like) {
		return newCell{}, false
	}
	have := there.cell(like.col)
	c, carries := f.carry[like.col]
	style := f.styleFor(there, f.s.row(f.like), like.col)
	name := formula.CellName(like.col, n)
	switch {
	case have != nil && (!carries || f.w.filled(*have)):
		return newCell{}, false
	case !carries && style < 0:
		return newCell{}, false
	case !carries:
		return newCell{like.col, f.open("c", name, style, "", "") + "/>"}, true
	}
	text, err := carried(c.text, n-f.like)
	if err != nil {
		f.fault(f.pointerOf(like.col), "="+c.text, "the formula of %s cannot be carried to row %d: a reference would leave the sheet", at(f.s.name, like.col, f.like), n)
		return newCell{}, false
	}
	attrs := c.attrs
	if c.array {
		attrs += ` ref="` + name + `"`
	}
	tag := f.tag("f")
	return newCell{like.col, f.open("c", name, style, "", c.meta) + "><" + tag + attrs + ">" + parts.Escape(text) + "</" + tag + "></" + f.tag("c") + ">"}, true
}

// tag writes an element's name as the sheet does.
func (f *fill) tag(local string) string { return f.s.cells.Prefixed(local) }

// open begins a cell's start tag.
func (f *fill) open(local, name string, style int, kind, more string) string {
	b := "<" + f.tag(local) + ` r="` + name + `"`
	if style >= 0 {
		b += ` s="` + strconv.Itoa(style) + `"`
	}
	if kind != "" {
		b += ` t="` + kind + `"`
	}
	return b + more
}

// styleFor is the format of a cell to be written: its own, else that of the
// row above, else that of its row or column; -1 for none.
func (f *fill) styleFor(there, like *row, col int) int {
	if c := there.cell(col); c != nil && c.style() >= 0 {
		return c.style()
	}
	if c := like.cell(col); c != nil {
		return c.style()
	}
	for _, r := range []*row{there, like} {
		if r != nil && flag(r.el, "customFormat") {
			return number(r.el, "s", -1)
		}
	}
	for _, cols := range f.s.kids("cols") {
		for _, k := range cols.Kids {
			if col >= number(k, "min", 0) && col <= number(k, "max", 0) {
				return number(k, "style", -1)
			}
		}
	}
	return -1
}

// valueCell writes a figure of line i.
func (f *fill) valueCell(there, like *row, w write, i int) (newCell, error) {
	style, err := f.styleFor(there, like, w.col), error(nil)
	name, v := formula.CellName(w.col, f.place.rows[i]), w.valueOf(f.order, i)
	content, kind := "", ""
	switch {
	case v.text == "":
	case v.form == asNumber:
		content = v.text
	case v.form == asDate:
		if f.styles == nil {
			f.fault(w.pointer, "", "the workbook has no cell formats, so a number would not show as a date; write it as text")
			return newCell{}, nil
		}
		style, err = f.styles.dated(style)
		content = strconv.Itoa(serial(f.order.Date, f.w.date1904))
	default:
		kind = "inlineStr"
		if mayRun(v.text) && f.styles != nil {
			style, err = f.styles.quoted(style)
		}
	}
	open := f.open("c", name, style, kind, "")
	switch {
	case kind != "":
		is, t := f.tag("is"), f.tag("t")
		return newCell{w.col, open + "><" + is + "><" + t + preserve(v.text) + ">" + escaped(v.text) + "</" + t + "></" + is + "></" + f.tag("c") + ">"}, err
	case content != "":
		return newCell{w.col, open + "><" + f.tag("v") + ">" + content + "</" + f.tag("v") + "></" + f.tag("c") + ">"}, err
	}
	return newCell{w.col, open + "/>"}, err
}

// preserve keeps blanks that XML would let go.
func preserve(text string) string {
	if strings.TrimSpace(text) != text || strings.ContainsAny(text, "\n\t") || strings.Contains(text, "  ") {
		return ` xml:space="preserve"`
	}
	return ""
}

// serial is a date as a workbook counts it: days since 30 December 1899, which
// holds from March 1900 on, or since 1 January 1904 (ISO/IEC 29500-1, 18.17.4.1).
func serial(date time.Time, from1904 bool) int {
	epoch := time.Date(1899, 12, 30, 0, 0, 0, 0, time.UTC)
	if from1904 {
		epoch = time.Date(1904, 1, 1, 0, 0, 0, 0, time.UTC)
	}
	y, m, d := date.Date()
	return int(time.Date(y, m, d, 0, 0, 0, 0, time.UTC).Sub(epoch).Hours() / 24)
}

// gatherCarry works out the formulas that new rows carry on.
func (f *fill) gatherCarry() error {
	f.carry = map[int]carrying{}
	like := f.s.row(f.like)
	if like == nil {
		return nil
	}
	for _, c := range like.cells {
		if c.f == nil || c.col < f.left || c.col > f.right {
			continue
		}
		text, err := f.s.formulaOf(c)
		if err != nil {
			return err
		}
		if f.pointsBelow(c, text) {
			continue
		}
		placed, _, err := f.placed(text, f.s.name, c.row)
		if err != nil {
			return f.unreadable(c, err)
		}
		f.carry[c.col] = newCarrying(c, placed)
		f.compareAbove(c, text)
	}
	return nil
}

func newCarrying(c cell, text string) carrying {
	k := carrying{text: text}
	if kind, _ := c.f.Attr("t"); kind == "array" {
		k.array, k.attrs = true, ` t="array"`
	}
	if flag(c.f, "ca") {
		k.attrs += ` ca="1"`
	}
	if cm, ok := c.el.Attr("cm"); ok {
		k.meta = ` cm="` + parts.Escape(cm) + `"`
	}
	return k
}

// pointsBelow refuses a formula to be carried that looks at a row which is
// pushed down, without $: carried on, it would look past it.
func (f *fill) pointsBelow(c cell, text string) bool {
	parsed, err := formula.Parse(text)
	if err != nil || f.place.change.count == 0 {
		return false
	}
	for _, r := range parsed.Refs() {
		if !r.On(f.s.name, f.s.name) || r.Kind == formula.Columns {
			continue
		}
		for _, end := range []formula.Corner{r.From, r.To} {
			if !end.FixRow && end.Row >= f.place.change.at {
				f.fault(f.pointerOf(c.col), "="+text, "%s refers to %s, below the lines, and rows must be inserted between; fix the row with $ so that it can be carried on", at(f.s.name, c.col, c.row), r)
				return true
			}
		}
	}
	return false
}

// compareAbove says where the formula carried on is not the one of the line
// above carried down.
func (f *fill) compareAbove(c cell, text string) {
	above := f.s.row(c.row - 1).cell(c.col)
	if above == nil || above.f == nil || c.row-1 < f.first {
		return
	}
	own, err := f.s.formulaOf(*above)
	if err == nil {
		own, err = carried(own, 1)
	}
	if err == nil && own != text {
		f.report.leave(at(f.s.name, c.col, c.row), fmt.Sprintf("new rows carry on =%s, which is not the formula of the row above carried down", text))
	}
}

// placed gives a formula of a sheet as it reads after the change, and what
// that does to its references. lineRow is the row of a line's formula.
func (f *fill) placed(text, host string, lineRow int) (string, effect, error) {
	parsed, err := formula.Parse(text)
	if err != nil {
		return "", none, err
	}
	did := none
	out, err := parsed.Map(func(r formula.Ref) (formula.Ref, error) {
		through := f.w.through(r, f.s.name)
		if !through && !r.On(host, f.s.name) {
			return r, nil
		}
		after, effect, err := f.place.change.place(r, lineRow)
		if through && effect != none {
			effect, after = tangled, r
		}
		did |= effect
		return after, err
	})
	return out, did, err
}

// unreadable says that a formula could not be followed.
func (f *fill) unreadable(c cell, err error) error {
	if errors.Is(err, formula.ErrOffSheet) {
		return problem.New(problem.Invalid, "the formula of %s would refer to cells past the last row", at(f.s.name, c.col, c.row))
	}
	return problem.New(problem.Malformed, "%s holds a formula that cannot be read", at(f.s.name, c.col, c.row))
}

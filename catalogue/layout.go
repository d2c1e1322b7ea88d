package catalogue

import (
	"fmt"
	"slices"
	"strings"

	"coldrise/catalogue/table"
	"coldrise/domain/document"
	"coldrise/domain/problem"
	"coldrise/domain/quantity"
)

// layout is a map bound to one file: which cell of a row goes where.
type layout struct {
	m       *Map
	header  []string // as it stands; nil where there is none
	columns []column
	fixed   map[owner][]fixedValue
	breaks  []breakSlot
	skips   []boundSkip
	// of finds the column that feeds a member by its pointer, and for the
	// members of a break by the break's number in the row.
	of     map[string]int
	key    [2]int    // columns of maker and part number; -1 where fixed or the series'
	keyed  [2]string // what is fixed of them
	strict bool      // a row may not be wider than its header
}

// column is a column of the file that the map takes.
type column struct {
	place
	from     *Column
	owner    owner
	slot     int // which break of the row
	reading  reading
	compound *compound
	options  quantity.Options // of a compound
	order    []string
	values   map[string]string // by folded word
	named    reading           // for what values give
}

// place is where a column stands.
type place struct {
	index  int
	header string
}

func (p place) letter() string { return table.Letter(p.index) }

type fixedValue struct {
	reading reading
	value   value
}

// breakSlot is one price break of a row.
type breakSlot struct {
	number  int // as Column.slot
	fromQty int // 0 where a column gives it, or the offer's least quantity is meant
}

type boundSkip struct {
	place
	words map[string]bool
}

// foldHeader brings a header to what does not depend on case and blanks.
func foldHeader(s string) string {
	return strings.ToLower(strings.Join(strings.Fields(strings.ReplaceAll(s, "\u00a0", " ")), " "))
}

// bind finds the map's columns in a header, and lists what is left over. The
// error is a *problem.Error, invalid, that names every column that is missing.
func bind(m *Map, header []string, strict bool) (*layout, []Finding, error) {
	lay := &layout{m: m, header: header, strict: strict, of: map[string]int{}, fixed: map[owner][]fixedValue{}}
	var warnings []Finding
	l := &problem.List{}
	for i := range m.Columns {
		c := &m.Columns[i]
		at, ok := lay.find(l, document.Pointer("columns", i), c.Header, c.Letter, c.Optional)
		if ok {
			lay.take(c, at)
		} else if c.Optional {
			warnings = append(warnings, Finding{Severity: IsWarning, Code: CodeAbsentColumn, Header: c.Header, Column: c.Letter, Member: c.To,
				Message: "the file has no such column; the map says that it may lack it"})
		}
	}
	for i, s := range m.Skip {
		if at, ok := lay.find(l, document.Pointer("skip", i), s.Header, s.Letter, false); ok {
			lay.skips = append(lay.skips, boundSkip{place: at, words: foldedSet(s.Is)})
		}
	}
	if err := l.Err("file's header, held against the map,"); err != nil {
		return nil, nil, err
	}
	lay.fix()
	lay.indexColumns()
	return lay, append(warnings, lay.unknown()...), nil
}

func foldedSet(words []string) map[string]bool {
	set := map[string]bool{}
	for _, w := range words {
		set[foldHeader(w)] = true
	}
	return set
}

// find gives a column by header or letter; a fault where it is not there and must be.
func (lay *layout) find(l *problem.List, at, header, letter string, optional bool) (place, bool) {
	if letter != "" {
		i, _ := table.LetterColumn(letter)
		p := place{index: i}
		if i < len(lay.header) {
			p.header = lay.header[i]
		} else if lay.header != nil {
			if !optional {
				l.Addf(at+"/letter", "the file has no column %s: its header ends at %s", letter, table.Letter(len(lay.header)-1))
			}
			return p, false
		}
		return p, true
	}
	found := -1
	for i, h := range lay.header {
		if foldHeader(h) != foldHeader(header) {
			continue
		}
		if found >= 0 {
			l.Addf(at+"/header", "the file has two columns headed %q, %s and %s: map the one that is meant by its letter", header, table.Letter(found), table.Letter(i))
			return place{}, false
		}
		found = i
	}
	if found < 0 {
		if !optional {
			l.Addf(at+"/header", "the file has no column headed %q; its header reads: %s", header, headerText(lay.header))
		}
		return place{}, false
	}
	return place{found, lay.header[found]}, true
}

// headerText shows a header, not all of a long one.
func headerText(header []string) string {
	const most = 30
	var shown []string
	for _, h := range header[:min(len(header), most)] {
		shown = append(shown, fmt.Sprintf("%q", shortRaw(h)))
	}
	if len(header) > most {
		shown = append(shown, fmt.Sprintf("and %d more", len(header)-most))
	}
	return strings.Join(shown, ", ")
}

// take binds one column of the map.
func (lay *layout) take(from *Column, at place) {
	c := column{place: at, from: from, order: from.Order}
	o := lay.m.options()
	if m := memberNamed(from.To); m != nil {
		c.owner = m.owner
		c.reading = readingOf(m, o, from.Unit, from.Per)
		c.named = readingOf(m, quantity.Options{}, m.in, from.Per)
	} else {
		c.compound = compoundNamed(from.To)
		o.Bare = from.Unit
		if o.Bare == "" {
			o.Bare = c.compound.bare
		}
		c.options = o
		c.reading = reading{member: memberNamed(c.compound.sets[0])}
	}
	if c.owner == ofBreak {
		c.slot = lay.breakSlot(from)
	}
	if len(from.Values) > 0 {
		c.values = map[string]string{}
		for word, means := range from.Values {
			c.values[foldHeader(word)] = means
		}
	}
	lay.columns = append(lay.columns, c)
}

// breakSlot gives the number of a column's break in the row.
func (lay *layout) breakSlot(from *Column) int {
	for i, b := range lay.breaks {
		if b.number == from.slot() {
			return i
		}
	}
	lay.breaks = append(lay.breaks, breakSlot{number: from.slot(), fromQty: from.FromQty})
	return len(lay.breaks) - 1
}

// fix reads the fixed values; Map.Check has found those that cannot be read.
func (lay *layout) fix() {
	for _, name := range sortedKeys(lay.m.Fixed) {
		m := memberNamed(name)
		v, f := m.canonical(lay.m.Fixed[name])
		if f != nil {
			continue
		}
		lay.fixed[m.owner] = append(lay.fixed[m.owner], fixedValue{readingOf(m, quantity.Options{}, m.in, 1), v})
		switch name {
		case "maker":
			lay.keyed[0] = v.text
		case "part_number":
			lay.keyed[1] = v.text
		}
	}
}

// indexColumns orders the columns as the file has them and notes what feeds what.
func (lay *layout) indexColumns() {
	slices.SortStableFunc(lay.columns, func(a, b column) int { return a.index - b.index })
	lay.key = [2]int{-1, -1}
	for i := range lay.columns {
		c := &lay.columns[i]
		names := []string{c.from.To}
		if c.compound != nil {
			names = c.compound.sets
		}
		for _, name := range names {
			lay.of[feedKey(memberNamed(name).pointer(), c.slot)] = i
			switch name {
			case "maker":
				lay.key[0] = c.index
			case "part_number":
				lay.key[1] = c.index
			}
		}
	}
}

func feedKey(pointer string, slot int) string { return fmt.Sprintf("%s %d", pointer, slot) }

// unknown lists the columns that nothing takes.
func (lay *layout) unknown() []Finding {
	taken := map[int]bool{}
	for i := range lay.columns {
		taken[lay.columns[i].index] = true
	}
	for _, s := range lay.skips {
		taken[s.index] = true
	}
	ignored := foldedSet(append(slices.Clone(lay.m.Ignore), reasonHeader, lineHeader))
	var all []Finding
	for i, h := range lay.header {
		if taken[i] || ignored[foldHeader(h)] {
			continue
		}
		f := Finding{Severity: IsWarning, Code: CodeUnknownColumn, Column: table.Letter(i), Header: shortRaw(h),
			Message: "nothing of the map takes this column; what it holds is not imported"}
		if to, ok := knownHeader(h); ok {
			f.Message += "; it may be " + to
		}
		all = append(all, f)
	}
	return all
}

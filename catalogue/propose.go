package catalogue

import (
	"context"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"coldrise/catalogue/table"
	"coldrise/domain/problem"
)

// Proposal is a first draft of a map, made from a file's header and first
// rows. It is for somebody to look at: nothing is imported by it unseen.
type Proposal struct {
	Map Map `json:"map"`
	// Doubts is what was taken by the look of it, and what could not be told.
	Doubts []string `json:"doubts"`
	// Unmatched are the headers that go by no name known here.
	Unmatched []string `json:"unmatched"`
	// Faults is what keeps the draft from being used, such as members that
	// nothing feeds; none where it is ready.
	Faults []problem.Fault `json:"faults"`
}

const (
	headerWithin = 20  // rows in which a header is looked for
	sampled      = 200 // rows whose numbers are looked at
)

// Propose drafts a map for a file. The error is a *problem.Error, as Open's for
// the file's form.
func Propose(ctx context.Context, src io.ReaderAt, size int64, o Options) (Proposal, error) {
	f := &File{src: src, size: size, o: o}
	var err error
	if f.form, err = table.Detect(src, size, o.Name, o.Limits); err != nil {
		return Proposal{}, err
	}
	d := &draft{f: f}
	if err := d.rows(ctx); err != nil {
		return Proposal{}, err
	}
	if len(d.sample) == 0 {
		return Proposal{}, problem.New(problem.Invalid, "the file has no rows")
	}
	d.findHeader()
	if d.own() {
		return d.finish(), nil
	}
	d.columns()
	d.numbers()
	d.offers()
	return d.finish(), nil
}

// draft is a proposal in the making.
type draft struct {
	f      *File
	p      Proposal
	sample []sampleRow
	header int // index in sample
}

func (d *draft) doubt(format string, args ...any) {
	d.p.Doubts = append(d.p.Doubts, fmt.Sprintf(format, args...))
}

func (d *draft) findHeader() {
	d.header = bestHeader(d.sample).index
	if line := d.sample[d.header].line; line > 1 {
		d.p.Map.HeaderRow = line
		d.doubt("line %d was taken for the header", line)
	}
}

// own sees whether the file is an export of this program.
func (d *draft) own() bool {
	names := map[string]bool{}
	for _, c := range d.sample[d.header].cells {
		names[c.Text] = true
	}
	if !names["maker"] || !names["part_number"] || !names["capacitance_uf"] || !names["break_min_qty"] {
		return false
	}
	own := OwnMap(table.Flavour{Separator: separators[d.p.Map.Separator], DecimalComma: d.decimal() == "comma"})
	own.Sheet, own.HeaderRow, own.Encoding = d.p.Map.Sheet, d.p.Map.HeaderRow, d.p.Map.Encoding
	d.p.Map = own
	return true
}

func (d *draft) finish() Proposal {
	if d.p.Map.Name == "" {
		d.p.Map.Name = "draft"
	}
	l := &problem.List{}
	d.p.Map.Check(l)
	d.p.Faults = []problem.Fault{}
	if err := l.Err("column map"); err != nil {
		d.p.Faults = problem.As(err).Faults
	}
	// In JSON what is none is an empty list, and no null.
	d.p.Doubts = append([]string{}, d.p.Doubts...)
	d.p.Unmatched = append([]string{}, d.p.Unmatched...)
	d.p.Map.Columns = append([]Column{}, d.p.Map.Columns...)
	return d.p
}

// unitOf parts a header such as "Ripple (mA)" or "Spannung [V]" into its name
// and what stands in brackets.
var unitOf = regexp.MustCompile(`^(.*?)\s*[(\[]([^)\]]*)[)\]]\s*$`)

// quantityOf finds the quantity of a price's header: Price 10+, Preis ab 100, 10-49.
var quantityOf = regexp.MustCompile(`(?i)^(?:(?:unit )?price|preis|prix|each|stückpreis)?\s*(?:ab|from|@|à partir de|bei|für)?\s*([0-9]{1,6})\s*(?:\+|-\s*[0-9]+|–\s*[0-9]+|\s*(?:pcs|stk|stück|off)\.?)?$`)

// columns matches every header by its name.
func (d *draft) columns() {
	for i, cell := range d.sample[d.header].cells {
		header := strings.TrimSpace(cell.Text)
		if header == "" {
			continue
		}
		c, ok := d.match(header)
		if ok && d.fed(c) {
			d.doubt("column %s (%s) may be %s too, which another column feeds already", table.Letter(i), header, c.To)
			ok = false
		}
		if !ok {
			d.p.Unmatched = append(d.p.Unmatched, header)
			continue
		}
		if d.twice(header) {
			c.Header, c.Letter = "", table.Letter(i)
		}
		d.p.Map.Columns = append(d.p.Map.Columns, c)
	}
}

func (d *draft) twice(header string) bool {
	n := 0
	for _, c := range d.sample[d.header].cells {
		if foldHeader(c.Text) == foldHeader(header) {
			n++
		}
	}
	return n > 1
}

func (d *draft) fed(c Column) bool {
	sets, _, _ := c.feeds()
	for i := range d.p.Map.Columns {
		other, _, _ := d.p.Map.Columns[i].feeds()
		for _, name := range sets {
			if slices.Contains(other, name) && d.p.Map.Columns[i].slot() == c.slot() {
				return true
			}
		}
	}
	return false
}

// match finds what a header means, and in what unit.
func (d *draft) match(header string) (Column, bool) {
	name, inside := header, ""
	if m := unitOf.FindStringSubmatch(header); m != nil {
		name, inside = m[1], m[2]
	}
	if to, ok := knownHeader(name); ok {
		c := Column{Header: header, To: to}
		d.unit(&c, inside)
		return c, true
	}
	if m := quantityOf.FindStringSubmatch(name); m != nil {
		quantity, _ := strconv.Atoi(m[1]) // six digits at most
		if quantity > 0 {
			return Column{Header: header, To: "unit_price", FromQty: quantity}, true
		}
	}
	return Column{}, false
}

// unit takes what stands in a header's brackets for its unit, or its currency.
func (d *draft) unit(c *Column, inside string) {
	_, unit, _ := c.feeds()
	switch {
	case c.To == "unit_price" && len(inside) == 3 && strings.ToUpper(inside) == inside:
		d.fix("currency", inside)
	case unit != nil && inside != "" && unit.Knows(inside):
		c.Unit = inside
	case c.To == memberNameOf(c.Header) && unit != nil:
		c.Unit = memberNamed(c.To).in // the header is our own name, which says it
	}
}

func memberNameOf(header string) string {
	if m := memberNamed(foldHeader(header)); m != nil {
		return m.name
	}
	return ""
}

func (d *draft) fix(member, value string) {
	if d.p.Map.Fixed == nil {
		d.p.Map.Fixed = map[string]string{}
	}
	d.p.Map.Fixed[member] = value
}

// offers fills in what an offer needs and most lists do not say.
func (d *draft) offers() {
	feeds := feeds{}
	for i := range d.p.Map.Columns {
		c := &d.p.Map.Columns[i]
		sets, _, _ := c.feeds()
		for _, name := range sets {
			feeds[feed{name, c.slot()}] = c.place()
		}
	}
	if !feeds.any("unit_price") && !feeds.any("sku") {
		return
	}
	for _, name := range []string{"pack", "min_qty"} {
		if !feeds.any(name) {
			d.fix(name, "1")
			d.doubt("no column gives %s; 1 was taken for every offer", name)
		}
	}
}

// knownHeader finds what a header most often means, by the names it goes by in
// English, German and French; common practice.
func knownHeader(h string) (string, bool) {
	folded := foldHeader(h)
	for i := range members {
		m := &members[i]
		if folded == m.name || m.known != "" && slices.Contains(strings.Split(m.known, "|"), folded) {
			return m.name, true
		}
	}
	for i := range compounds {
		c := &compounds[i]
		if folded == c.name || slices.Contains(strings.Split(c.known, "|"), folded) {
			return c.name, true
		}
	}
	return "", false
}

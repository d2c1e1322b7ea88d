package catalogue

import (
	"context"
	"fmt"
	"io"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

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

type sampleRow struct {
	line  int
	cells []table.Cell
}

func (d *draft) doubt(format string, args ...any) {
	d.p.Doubts = append(d.p.Doubts, fmt.Sprintf(format, args...))
}

// rows reads the first rows, under the separator that suits them best.
func (d *draft) rows(ctx context.Context) error {
	if d.f.form == table.XLSX {
		book, err := table.OpenWorkbook(ctx, d.f.src, d.f.size, d.f.o.Limits)
		if err != nil {
			return err
		}
		r, sheet, err := book.Sheet(ctx, "")
		if err != nil {
			return err
		}
		if sheets := book.Sheets(); len(sheets) > 1 {
			d.doubt("the workbook has %d sheets; %q was taken", len(sheets), sheet)
		}
		d.p.Map.Sheet = sheet
		d.sample, err = firstRows(r)
		return err
	}
	encoding := d.encoding()
	best := -1
	for _, c := range d.f.separators() {
		r, err := table.NewCSV(ctx, d.f.src, d.f.size, table.CSVOptions{Encoding: encoding, Separator: c, Limits: d.f.o.Limits})
		if err != nil {
			return err
		}
		rows, err := firstRows(r)
		if err != nil {
			return err
		}
		if known := bestHeader(rows); known.score > best {
			best, d.sample = known.score, rows
			d.p.Map.Separator = separatorWord(r.Separator())
		}
	}
	return nil
}

// encoding looks whether the file's start is UTF-8.
func (d *draft) encoding() table.Encoding {
	start := make([]byte, min(1<<16, d.f.size))
	n, _ := d.f.src.ReadAt(start, 0)
	start = start[:n]
	for len(start) > 0 && !utf8.RuneStart(start[len(start)-1]) {
		start = start[:len(start)-1] // a character may be cut in two
	}
	start = start[:max(0, len(start)-1)]
	if utf8.Valid(start) || slices.Contains(start, 0) {
		return ""
	}
	d.p.Map.Encoding = string(table.Windows1252)
	d.doubt("the file is not UTF-8; windows-1252 was taken: see whether µ, Ω and letters with marks come out right")
	return table.Windows1252
}

func firstRows(r table.Reader) ([]sampleRow, error) {
	defer r.Close()
	var rows []sampleRow
	for len(rows) < headerWithin+sampled {
		row, err := r.Next()
		if err == io.EOF {
			break
		}
		if err != nil {
			return nil, err
		}
		if !row.Blank() {
			rows = append(rows, sampleRow{row.Line, slices.Clone(row.Cells)})
		}
	}
	return rows, nil
}

type headerGuess struct{ index, score int }

// bestHeader finds the row with the most cells that go by a known name; cells
// count a little, so that of separators none knows the one that parts wins.
func bestHeader(rows []sampleRow) headerGuess {
	var best headerGuess
	for i := range rows[:min(len(rows), headerWithin)] {
		score := 0
		for _, c := range rows[i].cells {
			if _, ok := knownHeader(c.Text); ok {
				score += 100
			} else if c.Kind == table.Text && strings.TrimSpace(c.Text) != "" {
				score++
			}
		}
		if score > best.score {
			best = headerGuess{i, score}
		}
	}
	return best
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
	if err := l.Err("column map"); err != nil {
		d.p.Faults = problem.As(err).Faults
	}
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

// numbers looks at how the sample's numbers are written.
func (d *draft) numbers() {
	if d.p.Map.Decimal = d.decimal(); d.p.Map.Decimal == "" {
		if d.f.form == table.CSV {
			d.doubt("the first rows do not tell which sign is the decimal one; declare it")
		}
		return
	}
	if d.f.form == table.CSV {
		d.doubt("by the first rows the decimal sign is a %s; see whether that is right", d.p.Map.Decimal)
	}
	if d.p.Map.Grouping = d.grouping(); d.p.Map.Grouping != "" {
		d.doubt("by the first rows a %s parts off thousands; see whether that is right", d.p.Map.Grouping)
	}
}

// Thousands that are parted off by one sign alone, perhaps with decimals.
var parted = map[string]*regexp.Regexp{
	"point": regexp.MustCompile(`(?:^|[^0-9.,])[0-9]{1,3}(?:\.[0-9]{3})+(?:,[0-9]*)?(?:[^0-9.,]|$)`), "comma": regexp.MustCompile(`(?:^|[^0-9.,])[0-9]{1,3}(?:,[0-9]{3})+(?:\.[0-9]*)?(?:[^0-9.,]|$)`),
	"blank":      regexp.MustCompile(`(?:^|[^0-9.,])[0-9]{1,3}(?:[ \x{a0}\x{202f}][0-9]{3})+(?:[.,][0-9]*)?(?:[^0-9.,]|$)`),
	"apostrophe": regexp.MustCompile(`(?:^|[^0-9.,])[0-9]{1,3}(?:['’][0-9]{3})+(?:[.,][0-9]*)?(?:[^0-9.,]|$)`),
}

// grouping tells what parts off thousands, once the decimal sign is known.
func (d *draft) grouping() string {
	best, most := "", 0
	for _, name := range []string{"point", "comma", "blank", "apostrophe"} {
		if name == d.p.Map.Decimal {
			continue
		}
		if n := d.count(parted[name]); n > most {
			best, most = name, n
		}
	}
	return best
}

// count counts the sample's texts that match.
func (d *draft) count(pattern *regexp.Regexp) int {
	n := 0
	for _, row := range d.sample[d.header+1:] {
		for _, c := range row.cells {
			if c.Kind == table.Text && utf8.RuneCountInString(c.Text) <= 24 && pattern.MatchString(c.Text) {
				n++
			}
		}
	}
	return n
}

// A sign with one, two or more than three digits behind it, and no other sign
// after, can only be a decimal one.
var (
	pointed = regexp.MustCompile(`[0-9]\.(?:[0-9]{1,2}|[0-9]{4,})(?:[^0-9.,]|$)|(?:^|[^0-9])0?\.[0-9]+(?:[^0-9.,]|$)`)
	commaed = regexp.MustCompile(`[0-9],(?:[0-9]{1,2}|[0-9]{4,})(?:[^0-9.,]|$)|(?:^|[^0-9])0?,[0-9]+(?:[^0-9.,]|$)`)
)

func (d *draft) decimal() string {
	points, commas := d.count(pointed), d.count(commaed)
	if points > 0 && commas > 0 {
		d.doubt("of the first rows' numbers %d have a comma for their decimal sign and %d a point: look at the fewer", commas, points)
	}
	switch {
	case points > 4*commas:
		return "point"
	case commas > 4*points:
		return "comma"
	}
	return ""
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

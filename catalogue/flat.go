package catalogue

import (
	"io"
	"iter"
	"strconv"

	"coldrise/catalogue/table"
	"coldrise/domain/part"
	"coldrise/domain/problem"
)

// Flat is the catalogue as a spreadsheet wants it: a row for each part and
// offer, numbers alone in their cells, the figures of the series where a part
// has none of its own. It is for looking at and reckoning with; an export to
// be read back is WriteParts'.
type Flat struct {
	// Quantities are what prices are given for; 1, 10 and 100 where nil. A price
	// is blank below the offer's least quantity.
	Quantities []int
	// Series gives a series of the shop by name; nil where they are not at hand.
	Series func(name string) (*part.Series, bool)
}

// flatColumn is one column of the flat view.
type flatColumn struct {
	name string
	of   func(*flatRow) table.Cell
}

// flatRow is what the cells of one row are made of.
type flatRow struct {
	part  *part.Part
	known part.Effective
	offer *part.Offer // nil where nobody offers the part
}

// byName is the column of a member as it stands in the part or the offer.
func byName(name string) flatColumn {
	m := memberNamed(name)
	return flatColumn{name, func(r *flatRow) table.Cell {
		switch {
		case m.owner == ofPart:
			return m.write(valueOf(r.part))
		case r.offer == nil:
			return table.Cell{}
		}
		return m.write(valueOf(r.offer))
	}}
}

// figure is the column of a figure that a part or its series gives. What is
// only assumed is left blank: a table does not say so beside it.
func figure(name string, of func(*part.Effective) part.Figure) flatColumn {
	return flatColumn{name, func(r *flatRow) table.Cell {
		f := of(&r.known)
		if f.From != part.OfPart && f.From != part.OfSeries {
			return table.Cell{}
		}
		return table.Cell{Text: table.FormatNumber(f.Value), Kind: table.Number}
	}}
}

var flatColumns = []flatColumn{
	byName("maker"), byName("part_number"), byName("series"), byName("technology"), byName("style"),
	byName("capacitance_uf"), byName("section_2_uf"), byName("section_3_uf"), byName("section_4_uf"), byName("section_5_uf"), byName("section_6_uf"),
	figure("tol_minus_pct", func(e *part.Effective) part.Figure { return e.TolMinusPct }),
	figure("tol_plus_pct", func(e *part.Effective) part.Figure { return e.TolPlusPct }),
	byName("rated_v"), byName("rated_v_ac"), byName("safety_class"),
	figure("surge_v", func(e *part.Effective) part.Figure { return e.SurgeV }),
	byName("ripple_ma"),
	figure("base_hz", func(e *part.Effective) part.Figure { return e.BaseHz }),
	figure("min_c", func(e *part.Effective) part.Figure { return e.MinC }),
	figure("max_c", func(e *part.Effective) part.Figure { return e.MaxC }),
	{"life_h", flatLife},
	figure("tan_delta", func(e *part.Effective) part.Figure { return e.TanDelta }),
	figure("esr_ohm", func(e *part.Effective) part.Figure { return e.ESROhm }),
	byName("leakage_ua"), byName("diameter_mm"), byName("length_mm"), byName("thickness_mm"), byName("lead_pitch_mm"), byName("note"),
	byName("supplier"), byName("sku"), byName("currency"), byName("pack"), byName("min_qty"), byName("stock"), byName("lead_days"), byName("preferred"),
}

func flatLife(r *flatRow) table.Cell {
	if r.known.Life.RatedH == 0 {
		return table.Cell{}
	}
	return table.Cell{Text: table.FormatNumber(r.known.Life.RatedH), Kind: table.Number}
}

// quantities gives what prices are for.
func (f Flat) quantities() []int {
	if f.Quantities == nil {
		return []int{1, 10, 100}
	}
	return f.Quantities
}

// Header gives the names of the columns.
func (f Flat) Header() []string {
	names := make([]string, 0, len(flatColumns)+3)
	for _, c := range flatColumns {
		names = append(names, c.name)
	}
	for _, q := range f.quantities() {
		names = append(names, "unit_price_at_"+strconv.Itoa(q))
	}
	return names
}

// Rows gives the rows of parts, in their order. The cells are the iterator's
// until the next; an error of parts ends it.
func (f Flat) Rows(parts iter.Seq2[part.Part, error]) iter.Seq2[[]table.Cell, error] {
	return func(yield func([]table.Cell, error) bool) {
		cells := make([]table.Cell, 0, len(flatColumns)+3)
		for p, err := range parts {
			if err != nil {
				yield(nil, err)
				return
			}
			r := flatRow{part: &p, known: p.Effective(f.seriesOf(&p))}
			for i := range max(1, len(p.Offers)) {
				if r.offer = nil; i < len(p.Offers) {
					r.offer = &p.Offers[i]
				}
				if !yield(f.row(cells[:0], &r), nil) {
					return
				}
			}
		}
	}
}

func (f Flat) seriesOf(p *part.Part) *part.Series {
	if f.Series == nil || p.Series == "" {
		return nil
	}
	s, _ := f.Series(p.Series)
	return s
}

func (f Flat) row(cells []table.Cell, r *flatRow) []table.Cell {
	for i := range flatColumns {
		cells = append(cells, flatColumns[i].of(r))
	}
	for _, q := range f.quantities() {
		cells = append(cells, priceAt(r.offer, q))
	}
	return cells
}

// priceAt gives an offer's unit price at a quantity; blank where it sells none.
func priceAt(o *part.Offer, quantity int) table.Cell {
	if o == nil || quantity < o.MinQty {
		return table.Cell{}
	}
	var cell table.Cell
	for _, b := range o.Breaks {
		if b.MinQty <= quantity {
			cell = table.Cell{Text: b.UnitPrice.String(), Kind: table.Number}
		}
	}
	return cell
}

// WriteFlat writes the flat view to w. See WriteParts for errors.
func WriteFlat(w io.Writer, parts iter.Seq2[part.Part, error], f Flat, e Export) error {
	write := func(out table.Writer) error {
		for cells, err := range f.Rows(parts) {
			if err != nil {
				return err
			}
			if err := out.Row(cells); err != nil {
				return named(err, "part", cells[0].Text+" "+cells[1].Text)
			}
		}
		return out.Close()
	}
	if e.Form == table.XLSX {
		return flatBook(w, f.Header(), write)
	}
	out, err := table.NewCSVWriter(w, f.Header(), e.Flavour)
	if err != nil {
		return problem.As(err)
	}
	return write(out)
}

func flatBook(w io.Writer, header []string, write func(table.Writer) error) error {
	book, err := table.NewBookWriter(w)
	if err != nil {
		return err
	}
	sheet, err := book.Sheet(partsSheet, header)
	if err == nil {
		err = write(sheet)
	}
	if err != nil {
		_ = book.Abandon() // the first error is the one to tell
		return err
	}
	return book.Close()
}

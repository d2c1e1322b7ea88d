package catalogue

import (
	"context"
	"io"
	"strconv"
	"strings"

	"coldrise/catalogue/table"
)

// What WriteBad puts beside the rows it hands back. A later import of the same
// rows, mended, passes over these columns.
const (
	lineHeader   = "coldrise: line"
	reasonHeader = "coldrise: reason"
)

// WriteBad reads the file again and writes the rows of all parts with errors
// to w, as CSV under the file's own header, with the line and the reasons
// behind. Mended, it can be imported with the same map. The error is a
// *problem.Error.
func (f *File) WriteBad(ctx context.Context, w io.Writer) error {
	flavour := table.Flavour{Mark: true, Separator: f.csv.Separator, DecimalComma: decimals[f.m.Decimal], BlankLines: max(0, f.m.HeaderRow-1)}
	if f.form == table.XLSX {
		flavour.Separator = separators[f.m.Separator]
	}
	var header []string
	if !f.m.NoHeader {
		header = append(append(header, f.lay.header...), lineHeader, reasonHeader)
	}
	out, err := table.NewCSVWriter(w, header, flavour)
	if err != nil {
		return err
	}
	var skipped int
	err = f.walk(ctx, func(Finding) {}, true, func(g *group) error {
		if len(g.findings) == 0 {
			return nil
		}
		return f.writeGroup(out, g)
	}, &skipped)
	if err != nil {
		return err
	}
	return out.Close()
}

func (f *File) writeGroup(out table.Writer, g *group) error {
	for i := range g.rows {
		row := g.rows[i].Cells
		cells := make([]table.Cell, max(len(f.lay.header), len(row)), len(row)+len(f.lay.header)+2)
		for j := range row {
			cells[j] = f.handedBack(row[j])
		}
		line := strconv.Itoa(g.lines[min(i, len(g.lines)-1)])
		cells = append(cells, table.Cell{Text: line, Kind: table.Number}, table.Cell{Text: g.reasons(i)})
		if err := out.Row(cells); err != nil {
			return err
		}
	}
	return nil
}

// handedBack gives a cell as it can be written and read again to the same.
func (f *File) handedBack(c table.Cell) table.Cell {
	switch c.Kind {
	case table.Percent:
		return table.Cell{Text: c.Text + "%", Kind: table.Number}
	case table.Number:
		// Where nobody declared what a point is, one ahead of three digits is in doubt.
		if _, decimals, _ := strings.Cut(c.Text, "."); f.m.Decimal == "" && len(decimals) == 3 {
			c.Text += "0"
		}
		return c
	}
	return table.Cell{Text: strings.Map(func(r rune) rune {
		if r < ' ' && r != '\t' && r != '\n' && r != '\r' || r == 0x7f {
			return '\ufffd'
		}
		return r
	}, strings.ToValidUTF8(c.Text, "\ufffd"))}
}

// reasons says what is wrong with one row of a part.
func (g *group) reasons(i int) string {
	var all []string
	for _, f := range g.findings {
		if f.Line != g.lines[min(i, len(g.lines)-1)] {
			continue
		}
		if f.Column != "" {
			all = append(all, "column "+f.Column+": "+f.Message)
		} else {
			all = append(all, f.Message)
		}
	}
	if len(all) == 0 {
		return "another row of this part has an error"
	}
	return strings.Join(all, "; ")
}

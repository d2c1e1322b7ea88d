package catalogue

import (
	"context"
	"io"
	"regexp"
	"slices"
	"strings"
	"unicode/utf8"

	"coldrise/catalogue/table"
)

type sampleRow struct {
	line  int
	cells []table.Cell
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

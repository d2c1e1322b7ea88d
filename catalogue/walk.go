package catalogue

import (
	"cmp"
	"context"
	"hash/maphash"
	"io"
	"slices"
	"strconv"

	"coldrise/catalogue/table"
	"coldrise/domain/part"
)

// group is the rows of one part, and what was made of them. It is the walk's
// until the next.
type group struct {
	part     part.Part
	lines    []int
	findings []Finding
	rows     [][]table.Cell // as they stand, where they are kept
}

// walker reads a file's rows and makes parts of them.
type walker struct {
	f     *File
	b     *builder
	visit func(*group) error
	keep  bool
	g     group
	open  bool // a part is begun
	key   [2]string
	seen  map[uint64]int32 // first line of each part, by maker and part number
	seed  maphash.Seed
	warn  func(Finding)
}

// maxGroup bounds the rows of one part: no part has more details than this.
const maxGroup = 1000

// walk calls visit for every part of the file, in order. Rows without anything
// in them are passed over; those the map leaves out are counted.
func (f *File) walk(ctx context.Context, warn func(Finding), keep bool, visit func(*group) error, skipped *int) error {
	r, err := f.reader(ctx)
	if err != nil {
		return err
	}
	defer r.Close()
	w := &walker{f: f, b: newBuilder(f.lay, f.o.Series, warn), visit: visit, keep: keep, seen: map[uint64]int32{}, seed: maphash.MakeSeed(), warn: warn}
	for rows := 0; ; rows++ {
		row, err := r.Next()
		if rows%512 == 0 || err == io.EOF {
			f.progress(r, rows)
		}
		if err == io.EOF {
			return w.end()
		}
		if err != nil {
			return err
		}
		switch {
		case row.Blank():
		case f.lay.skipped(&row):
			*skipped++
		default:
			if err := w.row(&row); err != nil {
				return err
			}
		}
	}
}

func (f *File) progress(r table.Reader, rows int) {
	if f.o.Progress != nil {
		taken, size := r.Read()
		f.o.Progress(Progress{Taken: taken, Size: size, Rows: rows})
	}
}

// skipped says whether the map leaves the row out.
func (lay *layout) skipped(row *table.Row) bool {
	for i := range lay.skips {
		s := &lay.skips[i]
		text := ""
		if s.index < len(row.Cells) {
			text = row.Cells[s.index].Text
		}
		if s.words[foldHeader(text)] {
			return true
		}
	}
	return false
}

// row takes a row: a part of its own, or one more of the part begun.
func (w *walker) row(row *table.Row) error {
	if row.Hidden {
		w.warn(Finding{Severity: IsWarning, Code: CodeHiddenRow, Line: row.Line, Message: "the row is hidden in the spreadsheet; it was read"})
	}
	key := w.keyOf(row)
	if w.open && !(w.f.m.Rows == "detail" && key == w.key && len(row.Faults) == 0) {
		if err := w.end(); err != nil {
			return err
		}
	}
	if !w.open {
		w.b.begin()
		w.open, w.key, w.g.rows = true, key, w.g.rows[:0]
	}
	if w.keep {
		w.g.rows = append(w.g.rows, append([]table.Cell(nil), row.Cells...))
	}
	if len(w.b.lines) < maxGroup {
		w.b.add(row)
	} else if len(w.b.lines) == maxGroup {
		w.b.line = row.Line
		w.b.lines = append(w.b.lines, row.Line)
		w.b.find(CodeRange, place{index: -1}, "", "", "one part has more than "+strconv.Itoa(maxGroup)+" rows; those behind are not looked at")
	}
	if w.f.m.Rows != "detail" {
		return w.end()
	}
	return nil
}

// keyOf gives what tells parts apart, as it stands in the row.
func (w *walker) keyOf(row *table.Row) [2]string {
	key := w.f.lay.keyed
	for i, column := range w.f.lay.key {
		if column >= 0 && column < len(row.Cells) {
			key[i] = trimBlanks(row.Cells[column].Text)
		}
	}
	return key
}

// end ends the part begun, if there is one.
func (w *walker) end() error {
	if !w.open {
		return nil
	}
	w.open = false
	w.b.finish()
	w.duplicate()
	slices.SortStableFunc(w.b.findings, inFileOrder)
	w.g.part, w.g.lines, w.g.findings = w.b.part, w.b.lines, w.b.findings
	return w.visit(&w.g)
}

// inFileOrder sorts findings by line, then column; those of no column come last.
func inFileOrder(a, b Finding) int {
	order := func(f *Finding) int {
		if f.Column == "" {
			return 1 << 20
		}
		n, _ := table.LetterColumn(f.Column)
		return n
	}
	return cmp.Or(cmp.Compare(a.Line, b.Line), cmp.Compare(order(&a), order(&b)))
}

// duplicate finds a part that the file has already. Keys are kept as hashes of
// 64 bits with a seed of their own: two that differ and fall together are one
// in ten million files of two million rows.
func (w *walker) duplicate() {
	p := &w.b.part
	if p.Maker == "" || p.PartNumber == "" {
		return
	}
	var h maphash.Hash
	h.SetSeed(w.seed)
	h.WriteString(p.Maker)
	h.WriteByte(0)
	h.WriteString(p.PartNumber)
	key := h.Sum64()
	first, twice := w.seen[key]
	if !twice {
		w.seen[key] = int32(w.b.lines[0])
		return
	}
	message := "the part is in line " + strconv.Itoa(int(first)) + " already"
	if w.f.m.Rows == "detail" {
		message += "; the rows of one part stand together: sort the file by maker and part number"
	} else {
		message += "; if its further rows are further offers or price breaks, say so in the map's rows"
	}
	w.b.at("/part_number", "", CodeDuplicate, message)
}

package catalogue

import (
	"cmp"
	"context"
	"fmt"
	"hash/maphash"
	"io"
	"runtime"
	"slices"
	"strconv"
	"sync"

	"coldrise/catalogue/table"
	"coldrise/domain/part"
	"coldrise/domain/problem"
)

// group is the rows of one part, and what was made of them.
type group struct {
	part     part.Part
	lines    []int
	findings []Finding
	rows     []table.Row // as they stand, where they are kept
}

// batch is a stretch of rows that one worker turns into parts. It holds whole
// groups, and is used again once it was walked.
type batch struct {
	rows     []table.Row
	cells    []table.Cell // of all rows
	starts   []int        // first row of each group
	groups   []group
	lines    []int // of all groups
	warnings []Finding
	progress Progress
	skipped  int
	err      error // of the reader, behind the rows
	done     chan struct{}
}

const (
	batchRows = 256
	// maxGroup bounds the rows of one part: no part has more details than this.
	maxGroup = 1000
	// maxWorkers is as many as one goroutine that reads can keep busy.
	maxWorkers = 4
)

// walk calls visit for every part of the file, in order, on the caller's
// goroutine. One goroutine reads rows ahead, some turn them into parts. What
// visit is given is its own only until it returns, but for the part. Rows
// without anything in them are passed over; those the map leaves out are counted.
func (f *File) walk(ctx context.Context, warn func(Finding), keep bool, visit func(*group) error, skipped *int) error {
	r, err := f.reader(ctx)
	if err != nil {
		return err
	}
	ctx, stop := context.WithCancel(ctx)
	w := &walker{f: f, r: r, ordered: make(chan *batch, maxWorkers), todo: make(chan *batch), free: make(chan *batch, 2*maxWorkers), keep: keep,
		seen: map[uint64]int32{}, seed: maphash.MakeSeed()}
	w.start(ctx)
	defer func() {
		stop()
		w.running.Wait()
		_ = r.Close() // nothing was written
	}()
	for b := range w.ordered {
		select {
		case <-b.done:
		case <-ctx.Done():
			return stopped(ctx.Err())
		}
		*skipped += b.skipped
		for _, f := range b.warnings {
			warn(f)
		}
		for i := range b.groups {
			w.duplicate(&b.groups[i])
			slices.SortStableFunc(b.groups[i].findings, inFileOrder)
			if err := visit(&b.groups[i]); err != nil {
				return err
			}
		}
		if f.o.Progress != nil {
			f.o.Progress(b.progress)
		}
		if b.err != nil && b.err != io.EOF {
			return b.err
		}
		w.recycle(b)
	}
	if err := ctx.Err(); err != nil {
		return stopped(err)
	}
	return nil
}

// walker reads a file's rows ahead of who wants its parts.
type walker struct {
	f       *File
	r       table.Reader
	ordered chan *batch // in the file's order
	todo    chan *batch // for the workers
	free    chan *batch
	running sync.WaitGroup
	keep    bool
	seen    map[uint64]int32 // first line of each part, by maker and part number
	seed    maphash.Seed
}

func (w *walker) start(ctx context.Context) {
	w.running.Go(func() { w.read(ctx) })
	for range min(maxWorkers, runtime.GOMAXPROCS(0)) {
		w.running.Go(func() {
			k := worker{f: w.f, keep: w.keep}
			k.b = newBuilder(w.f.lay, w.f.o.Series, k.warn)
			for b := range w.todo {
				k.work(b)
			}
		})
	}
}

// read fills batches until the file or the context ends.
func (w *walker) read(ctx context.Context) {
	defer close(w.todo)
	defer close(w.ordered)
	cut := cutter{lay: w.f.lay, detail: w.f.m.Rows == "detail"}
	rows := 0
	b := w.batch()
	for {
		row, err := w.r.Next()
		if err != nil {
			b.err = err
		} else if rows++; row.Blank() {
			continue
		} else if w.f.lay.skipped(&row) {
			b.skipped++
			continue
		}
		if begins := err != nil || cut.begins(&row); begins && (err != nil || len(b.rows) >= batchRows) {
			taken, size := w.r.Read()
			b.progress = Progress{Taken: taken, Size: size, Rows: rows}
			if !w.send(ctx, b) || err != nil {
				return
			}
			b = w.batch()
			b.take(&row, true)
		} else {
			b.take(&row, begins)
		}
	}
}

// send puts a batch in its order and gives it to a worker; false where nobody
// wants it any more.
func (w *walker) send(ctx context.Context, b *batch) bool {
	for _, to := range []chan *batch{w.ordered, w.todo} {
		select {
		case to <- b:
		case <-ctx.Done():
			return false
		}
	}
	return true
}

func (w *walker) batch() *batch {
	select {
	case b := <-w.free:
		return b
	default:
		return &batch{done: make(chan struct{}, 1)}
	}
}

func (w *walker) recycle(b *batch) {
	b.rows, b.cells, b.starts, b.groups, b.lines, b.warnings = b.rows[:0], b.cells[:0], b.starts[:0], b.groups[:0], b.lines[:0], b.warnings[:0]
	b.skipped, b.err = 0, nil
	select {
	case w.free <- b:
	default:
	}
}

// take copies a row; begins says whether another part begins with it.
func (b *batch) take(row *table.Row, begins bool) {
	if begins {
		b.starts = append(b.starts, len(b.rows))
	}
	from := len(b.cells)
	b.cells = append(b.cells, row.Cells...)
	kept := *row
	kept.Cells = b.cells[from:len(b.cells):len(b.cells)]
	b.rows = append(b.rows, kept)
}

// cutter tells where another part begins.
type cutter struct {
	lay    *layout
	detail bool
	key    [2]string
	count  int
}

func (c *cutter) begins(row *table.Row) bool {
	if !c.detail {
		return true
	}
	key := c.lay.keyOf(row)
	c.count++
	if key == c.key && len(row.Faults) == 0 && c.count > 1 && c.count < 2*maxGroup {
		return false
	}
	c.key, c.count = key, 1
	return true
}

// keyOf gives what tells parts apart, as it stands in the row.
func (lay *layout) keyOf(row *table.Row) [2]string {
	key := lay.keyed
	for i, column := range lay.key {
		if column >= 0 && column < len(row.Cells) {
			key[i] = trimBlanks(row.Cells[column].Text)
		}
	}
	return key
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

// worker turns batches into parts.
type worker struct {
	f    *File
	b    *builder
	keep bool
	now  *batch
}

func (k *worker) warn(f Finding) { k.now.warnings = append(k.now.warnings, f) }

// work makes the groups of a batch. A panic, which nobody foresees, is the
// file's refusal and not the end of the process.
func (k *worker) work(b *batch) {
	defer func() {
		if p := recover(); p != nil {
			b.err = &problem.Error{Code: problem.Malformed, Message: "the file cannot be read: it holds something nobody foresaw", Cause: fmt.Errorf("panic: %v", p)}
		}
		b.done <- struct{}{}
	}()
	k.now = b
	for i, from := range b.starts {
		to := len(b.rows)
		if i+1 < len(b.starts) {
			to = b.starts[i+1]
		}
		b.groups = append(b.groups, k.group(b.rows[from:to]))
	}
}

func (k *worker) group(rows []table.Row) group {
	k.b.begin()
	for i := range rows {
		if rows[i].Hidden {
			k.warn(Finding{Severity: IsWarning, Code: CodeHiddenRow, Line: rows[i].Line, Message: "the row is hidden in the spreadsheet; it was read"})
		}
		if i == maxGroup {
			k.b.line = rows[i].Line
			k.b.find(CodeRange, place{index: -1}, "", "", "one part has more than "+strconv.Itoa(maxGroup)+" rows; those behind are not looked at")
		}
		if i >= maxGroup {
			k.b.lines = append(k.b.lines, rows[i].Line)
			continue
		}
		k.b.add(&rows[i])
	}
	k.b.finish()
	from := len(k.now.lines)
	k.now.lines = append(k.now.lines, k.b.lines...)
	g := group{part: k.b.part, lines: k.now.lines[from:], findings: k.b.findings}
	if k.keep {
		g.rows = rows
	}
	return g
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

// duplicate finds a part that the file has already. Keys are kept as hashes of 64 bits with a seed of their own: two
// that differ and fall together are one in ten million files of two million rows.
func (w *walker) duplicate(g *group) {
	p := &g.part
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
		w.seen[key] = int32(g.lines[0])
		return
	}
	message := "the part is in line " + strconv.Itoa(int(first)) + " already"
	if w.f.m.Rows == "detail" {
		message += "; the rows of one part stand together: sort the file by maker and part number"
	} else {
		message += "; if its further rows are further offers or price breaks, say so in the map's rows"
	}
	f := Finding{Severity: IsError, Code: CodeDuplicate, Line: g.lines[0], Member: numberMember.name, Raw: shortRaw(p.PartNumber), Message: message}
	if column := w.f.lay.key[1]; column >= 0 {
		f.Column = table.Letter(column)
		if column < len(w.f.lay.header) {
			f.Header = shortRaw(w.f.lay.header[column])
		}
	}
	g.findings = append(g.findings, f)
}

package ordersheet

import (
	"context"
	"fmt"
	"slices"

	"coldrise/api/ordersheet/formula"
	"coldrise/api/ordersheet/parts"
	"coldrise/domain/problem"
)

// Filled is a copy of a workbook with an order in it.
type Filled struct {
	Data   []byte
	Report Report
}

// Fill gives a copy of the workbook with the order's lines in it, one row
// each, and says what it did. The workbook is not changed, and the same
// workbook, map and order give the same copy.
//
// It is refused, with every reason, where the map no longer fits, where cells
// are in the way, or where something that must not change would have to: see
// the package's comment and Map.ShortRanges. The error is a *problem.Error:
// Invalid for a map, an order or a workbook that does not fit, Malformed for a
// workbook that is broken, TooLarge over a limit, Cancelled where ctx ended.
func (w *Workbook) Fill(ctx context.Context, m Map, o Order) (filled Filled, err error) {
	defer crashed(&err)
	var l problem.List
	if len(o.Lines) == 0 {
		l.Addf("/lines", "has no lines to fill in")
	}
	o.Check(&l)
	o.checkDate(&l, slices.ContainsFunc(m.Columns, func(c MapColumn) bool { return c.Field == OrderDate }))
	if err := l.Err("order"); err != nil {
		return Filled{}, err
	}
	fitted, err := w.fit(ctx, m)
	if err != nil {
		return Filled{}, err
	}
	f := &fill{fit: fitted, order: &o, out: map[string][]byte{}}
	if f.place = f.fit.place(len(o.Lines)); len(f.faults) > 0 {
		return Filled{}, f.err()
	}
	f.report = f.newReport()
	for _, step := range []func(context.Context) error{f.prepare, f.rewriteRows, f.finishSheet, f.rewriteOthers, f.rewriteRest} {
		if err := step(ctx); err != nil {
			return Filled{}, err
		}
	}
	if err := f.err(); err != nil {
		return Filled{}, err
	}
	return f.finish()
}

func (f *fill) prepare(context.Context) (err error) {
	f.styles, err = f.w.readStyles()
	if like := f.s.row(f.like); like != nil && flag(like.el, "hidden") {
		f.report.leave(fmt.Sprintf("%s!row %d", f.s.name, f.like), "is hidden; the new rows like it are not")
	}
	for _, e := range f.s.rest {
		if e.Is(mainSpace, "sheetProtection") && flag(e, "sheet") {
			f.report.leave(f.s.name, "the sheet is protected and stays so")
		}
	}
	return err
}

// finishSheet changes what stands beside the rows and writes the sheet's part.
func (f *fill) finishSheet(ctx context.Context) error {
	if err := f.rewriteBeside(ctx); err != nil {
		return err
	}
	out, err := f.edits.Apply(f.s.data)
	if err != nil {
		return problem.Wrap(err, "writing the sheet")
	}
	f.out[f.s.part] = out
	f.report.Carried = f.columnsCarried()
	return nil
}

func (f *fill) rewriteRest(context.Context) error {
	if err := f.rewriteTables(); err != nil {
		return err
	}
	if err := f.rewriteWorkbook(); err != nil {
		return err
	}
	return f.lookAround()
}

// definedNames gives the workbook's names.
func (f *fill) definedNames() []*parts.Element {
	if list := f.w.root.Kid(mainSpace, "definedNames"); list != nil {
		return list.Kids
	}
	return nil
}

// rewriteWorkbook lets the names of the workbook follow, and asks for all
// formulas to be worked out when it is opened.
func (f *fill) rewriteWorkbook() error {
	data, _ := f.w.file.Part(f.w.part)
	var edits parts.Splices
	for _, k := range f.definedNames() {
		f.rewriteName(data, k, &edits)
	}
	if pr := f.w.root.Kid(mainSpace, "calcPr"); pr != nil {
		edits.SetAttr(data, pr, "fullCalcOnLoad", "1")
		if exact, there := pr.Attr("fullPrecision"); there && (exact == "0" || exact == "false") {
			f.report.leave("workbook", "counts with figures as their formats show them; a price with more decimals than its format is rounded when opened")
		}
		if mode, _ := pr.Attr("calcMode"); mode == "manual" {
			f.report.leave("workbook", "is set to work out formulas only when told to; it is asked to do so once when opened")
		}
	} else {
		after := f.w.root.Kid(mainSpace, "sheets")
		for _, local := range []string{"functionGroups", "externalReferences", "definedNames"} {
			if e := f.w.root.Kid(mainSpace, local); e != nil {
				after = e
			}
		}
		edits.Insert(after.All.To, "<"+f.w.root.Prefixed("calcPr")+` fullCalcOnLoad="1"/>`)
	}
	out, err := edits.Apply(data)
	if err != nil {
		return problem.Wrap(err, "writing the workbook's part")
	}
	f.out[f.w.part] = out
	return nil
}

// rewriteName lets a defined name follow the rows it refers to. One whose rows
// are not fixed means other cells from each cell it is used in, and stays.
func (f *fill) rewriteName(data []byte, k *parts.Element, edits *parts.Splices) {
	name, _ := k.Attr("name")
	to, did, err := f.placed(k.Text, "", 0)
	switch {
	case err != nil:
		f.report.leave("name "+name, "could not be read and was left as it is")
	case did == none:
	case did.has(tangled):
		f.fault("/append", k.Text, "name %q refers through several sheets to rows that would have to move or grow", name)
	case f.floats(k.Text):
		f.report.leave("name "+name, fmt.Sprintf("%s names rows without $ and was left as it is", k.Text))
	case to != k.Text:
		edits.Fill(data, k, parts.Escape(to))
		f.report.extend("name "+name, "%s became %s", k.Text, to)
	}
	if did.has(partial) {
		f.report.leave("name "+name, fmt.Sprintf("%s covers some of the lines and not the new ones", k.Text))
	}
}

// floats says whether a formula refers to the sheet by rows that are not fixed.
func (f *fill) floats(text string) bool {
	parsed, err := formula.Parse(text)
	if err != nil {
		return true
	}
	for _, r := range parsed.Refs() {
		if r.On("", f.s.name) && r.Kind != formula.Columns && (!r.From.FixRow || !r.To.FixRow) {
			return true
		}
	}
	return false
}

// finish packs the copy. The chain in which formulas were last worked out goes:
// it is a hint, would be wrong now, and is made anew.
func (f *fill) finish() (Filled, error) {
	changes := parts.Changes{Parts: f.out, Removed: map[string]bool{}}
	if f.styles != nil {
		data, err := f.styles.bytes()
		if err != nil {
			return Filled{}, err
		}
		f.out[f.styles.part] = data
	}
	relations, err := f.w.file.Relations(f.w.part)
	if err != nil {
		return Filled{}, err
	}
	for _, r := range relations {
		if r.Kind() != "calcChain" || r.External {
			continue
		}
		changes.Removed[r.Target] = true
		for _, without := range []func() (string, []byte, error){
			func() (string, []byte, error) { return f.w.file.WithoutRelation(f.w.part, "calcChain") },
			func() (string, []byte, error) { return f.w.file.WithoutType(r.Target) },
		} {
			name, data, err := without()
			if err != nil {
				return Filled{}, err
			}
			changes.Parts[name] = data
		}
	}
	data, err := f.w.file.Write(changes)
	if err != nil {
		return Filled{}, err
	}
	return Filled{data, *f.report}, nil
}

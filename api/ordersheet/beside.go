package ordersheet

import (
	"context"
	"fmt"
	"strconv"
	"strings"

	"coldrise/api/ordersheet/formula"
	"coldrise/api/ordersheet/parts"
	"coldrise/domain/problem"
)

// rewriteBeside changes what stands in the sheet beside its rows: ranges of
// formats, validation, merged cells and the like.
func (f *fill) rewriteBeside(ctx context.Context) error {
	for _, e := range f.s.rest {
		if ctx.Err() != nil {
			return problem.New(problem.Cancelled, "the fill was cancelled")
		}
		e.Each(func(k *parts.Element) {
			if k.Is(mainSpace, "controlPr") {
				f.controlCells(k, f.s.name)
			}
		})
		if e.Space != mainSpace {
			f.foreignElement(e)
			continue
		}
		switch e.Local {
		case "dimension":
			f.dimension(e)
		case "mergeCells":
			f.mergeCells(e)
		case "conditionalFormatting":
			f.conditional(e, e, "conditional format")
		case "dataValidations":
			for _, k := range e.Kids {
				f.conditional(k, k, "data validation")
			}
		case "protectedRanges", "ignoredErrors":
			for _, k := range e.Kids {
				f.sqref(k, f.edits.SetAttr, e.Local)
			}
		case "hyperlinks":
			for _, k := range e.Kids {
				f.hyperlink(k)
			}
		case "autoFilter":
			f.autoFilter(e)
		case "sortState":
			f.reref(e)
		case "rowBreaks":
			f.breaks(e)
		case "extLst":
			f.extensions(e)
		default:
			f.otherElement(e)
		}
	}
	return nil
}

// settled are elements that name no rows, or only what the reader was looking at.
var settled = map[string]bool{
	"sheetPr": true, "sheetViews": true, "sheetFormatPr": true, "cols": true, "sheetCalcPr": true, "sheetProtection": true,
	"phoneticPr": true, "printOptions": true, "pageMargins": true, "pageSetup": true, "headerFooter": true, "colBreaks": true,
	"customProperties": true, "drawing": true, "legacyDrawing": true, "legacyDrawingHF": true, "drawingHF": true, "picture": true,
	"tableParts": true,
}

// positioned are elements that may stand at rows, by a position of their own.
var positioned = map[string]bool{"oleObjects": true, "controls": true, "customSheetViews": true, "webPublishItems": true}

// otherElement refuses to push rows under an element that may name them and
// is not followed.
func (f *fill) otherElement(e *parts.Element) {
	switch {
	case f.place.change.count == 0 || settled[e.Local]:
	case positioned[e.Local]:
		f.report.leave(f.s.name, fmt.Sprintf("%s stay where they are while rows below the lines moved down", e.Local))
	default:
		f.fault("/append", "", "sheet %q has %s, which may refer to rows and cannot be followed when rows are inserted", f.s.name, e.Local)
	}
}

func (f *fill) foreignElement(e *parts.Element) {
	if f.place.change.count > 0 {
		f.report.leave(f.s.name, fmt.Sprintf("content of another make (%s) was left as it is while rows moved down", e.Local))
	}
}

// dimension covers the rows written.
func (f *fill) dimension(e *parts.Element) {
	ref, _ := e.Attr("ref")
	a, err := formula.ParseArea(ref)
	if err != nil {
		return
	}
	rows := f.block(f.place.rows[0], f.place.change.end)
	to := f.place.change.area(a)
	to = formula.Area{Left: min(to.Left, rows.Left), Top: min(to.Top, rows.Top), Right: max(to.Right, rows.Right), Bottom: max(to.Bottom, rows.Bottom)}
	if to != a {
		f.edits.SetAttr(f.s.data, e, "ref", to.String())
	}
}

// mergeCells moves merged cells, and merges in new rows what is merged in a line.
func (f *fill) mergeCells(e *parts.Element) {
	for _, k := range e.Kids {
		ref, _ := k.Attr("ref")
		if a, err := formula.ParseArea(ref); err == nil && f.place.change.cuts(a) {
			f.fault("/append", "", "%s!%s is merged, and rows must be inserted within it", f.s.name, a)
			continue
		}
		f.reref(k)
	}
	var b strings.Builder
	n := 0
	for i, to := range f.place.rows {
		if old := f.place.old(i); old != 0 && f.styled(f.s.row(old)) {
			continue
		}
		for _, m := range f.place.merges {
			m.Top, m.Bottom = to, to
			fmt.Fprintf(&b, `<%s ref="%s"/>`, f.tag("mergeCell"), m)
			n++
		}
	}
	if n > 0 {
		f.edits.Insert(e.Body.To, b.String())
		f.edits.SetAttr(f.s.data, e, "count", strconv.Itoa(len(e.Kids)+n))
		f.report.extend(f.s.name, "cells merged in a line are merged in the new rows")
	}
}

// reref moves the range of an element that has one.
func (f *fill) reref(e *parts.Element) {
	ref, ok := e.Attr("ref")
	if !ok {
		return
	}
	if a, err := formula.ParseArea(ref); err == nil {
		if to := f.place.change.area(a); to != a {
			f.edits.SetAttr(f.s.data, e, "ref", to.String())
		}
	}
}

// setter sets an attribute of an element.
type setter func(data []byte, e *parts.Element, name, value string)

// sqref moves and stretches the areas of an element's sqref attribute.
func (f *fill) sqref(e *parts.Element, set setter, what string) {
	text, ok := e.Attr("sqref")
	if !ok {
		return
	}
	if to := f.areas(text, what, true); to != text {
		set(f.s.data, e, "sqref", to)
	}
}

// areas gives a list of areas after the change; where they cover the row that
// new ones are like, they cover the new ones too.
func (f *fill) areas(text, what string, stretch bool) string {
	list := strings.Fields(text)
	grew := false
	for i, one := range list {
		a, err := formula.ParseArea(one)
		if err != nil {
			continue
		}
		to := f.place.change.area(a)
		if stretch {
			var more bool
			to, more = f.place.change.stretch(a)
			grew = grew || more
		}
		if to != a {
			list[i] = to.String()
		}
	}
	to := strings.Join(list, " ")
	if grew {
		f.report.extend(f.s.name, "%s over %s covers %s", what, text, to)
	}
	if to == strings.Join(strings.Fields(text), " ") {
		return text
	}
	return to
}

// conditional changes a format or validation: its areas, in an attribute, and
// its formulas, which are those below root in the sheet's own namespace.
func (f *fill) conditional(e, root *parts.Element, what string) {
	sqref, ok := e.Attr("sqref")
	if !ok {
		return
	}
	f.sqref(e, f.edits.SetAttr, what)
	root.Each(func(k *parts.Element) {
		switch {
		case k.Is(mainSpace, "formula"), k.Is(mainSpace, "formula1"), k.Is(mainSpace, "formula2"):
			f.areaFormula(k, sqref, what)
		case k.Is(mainSpace, "cfvo"):
			if v, ok := k.Attr("val"); ok && strings.ContainsAny(v, "$:ABCDEFGHIJKLMNOPQRSTUVWXYZ") {
				f.areaAttribute(k, v, sqref, what)
			}
		}
	})
}

func (f *fill) areaFormula(k *parts.Element, sqref, what string) {
	if to, ok := f.relative(k.Text, sqref, what); ok && to != k.Text {
		f.edits.Fill(f.s.data, k, parts.Escape(to))
	}
}

func (f *fill) areaAttribute(k *parts.Element, v, sqref, what string) {
	if to, ok := f.relative(v, sqref, what); ok && to != v {
		f.edits.SetAttr(f.s.data, k, "val", to)
	}
}

// hyperlink moves the cell of a link, and the place in the workbook it leads to.
func (f *fill) hyperlink(e *parts.Element) {
	f.reref(e)
	text, ok := e.Attr("location")
	if !ok {
		return
	}
	if to, did, err := f.placed(text, f.s.name, 0); err == nil && did.has(pushed) {
		f.edits.SetAttr(f.s.data, e, "location", to)
	}
}

// autoFilter lets a filter over all lines cover the new ones.
func (f *fill) autoFilter(e *parts.Element) {
	ref, _ := e.Attr("ref")
	to, did, err := f.placed(ref, f.s.name, 0)
	if err != nil {
		return
	}
	if to != ref {
		f.edits.SetAttr(f.s.data, e, "ref", to)
	}
	if did.has(grown) {
		f.report.extend(f.s.name, "filter over %s covers %s", ref, to)
	}
	for _, k := range e.Kids {
		switch k.Local {
		case "sortState":
			if ref, ok := k.Attr("ref"); ok {
				if to, _, err := f.placed(ref, f.s.name, 0); err == nil && to != ref {
					f.edits.SetAttr(f.s.data, k, "ref", to)
				}
			}
		case "filterColumn":
			if len(k.Kids) > 0 {
				f.report.leave(f.s.name, "a filter is set; the new rows are shown until it is applied again")
			}
		}
	}
}

// breaks moves page breaks. A break stands above a row and moves with it.
func (f *fill) breaks(e *parts.Element) {
	c := &f.place.change
	for _, k := range e.Kids {
		if id := number(k, "id", 0); c.count > 0 && id+1 >= c.at {
			f.edits.SetAttr(f.s.data, k, "id", strconv.Itoa(id+c.count))
		}
	}
}

// extensions changes what later versions added: formats, validation, small
// charts in cells. All keep areas and formulas in elements of one namespace.
func (f *fill) extensions(e *parts.Element) {
	switch {
	case e.Is(x14Space, "sparkline"):
		f.sparkline(e)
	case e.Kid(xmSpace, "sqref") != nil:
		f.extension(e)
	case e.Is(xmSpace, "f"):
		f.plainFormula(e)
	default:
		if e.Local == "slicer" && f.place.change.count > 0 {
			f.report.leave(f.s.name, "slicers stay where they are while rows moved down")
		}
		for _, k := range e.Kids {
			f.extensions(k)
		}
	}
}

// sparkline moves a small chart in a cell, and lets it follow what it shows.
func (f *fill) sparkline(e *parts.Element) {
	for _, k := range e.Kids {
		switch {
		case k.Is(xmSpace, "f"):
			f.plainFormula(k)
		case k.Is(xmSpace, "sqref"):
			if to := f.areas(k.Text, "", false); to != k.Text {
				f.edits.Fill(f.s.data, k, to)
			}
			if a, err := formula.ParseArea(k.Text); err == nil && f.like > 0 && a.Meets(f.block(f.like, f.like)) {
				f.report.leave(fmt.Sprintf("%s!%s", f.s.name, k.Text), "a small chart in a line is not carried on into new rows")
			}
		}
	}
}

// extension changes an element with areas of its own and the formulas in it.
func (f *fill) extension(e *parts.Element) {
	over := e.Kid(xmSpace, "sqref")
	what := map[string]string{"conditionalFormatting": "conditional format", "dataValidation": "data validation"}[e.Local]
	if what == "" {
		what = e.Local
	}
	if to := f.areas(over.Text, what, true); to != over.Text {
		f.edits.Fill(f.s.data, over, to)
	}
	e.Each(func(k *parts.Element) {
		if k.Is(xmSpace, "f") {
			f.areaFormula(k, over.Text, what)
		}
	})
}

// plainFormula changes a formula that belongs to no line.
func (f *fill) plainFormula(e *parts.Element) {
	to, did, err := f.placed(e.Text, f.s.name, 0)
	switch {
	case err != nil:
		f.report.leave(f.s.name, fmt.Sprintf("=%.200s could not be read and was left as it is", e.Text))
	case did.has(tangled):
		f.fault("/append", "="+e.Text, "sheet %q has content that refers through several sheets to rows that would have to move or grow", f.s.name)
	case to != e.Text:
		f.edits.Fill(f.s.data, e, parts.Escape(to))
		f.report.extend(f.s.name, "=%s became =%s", e.Text, to)
	}
}

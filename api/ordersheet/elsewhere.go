package ordersheet

import (
	"bytes"
	"context"
	"fmt"
	"html"
	"path"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"coldrise/api/ordersheet/formula"
	"coldrise/api/ordersheet/parts"
	"coldrise/domain/problem"
)

// elsewhere looks at a formula that cannot be changed because of where it
// stands. One whose cells would move is refused; one that would miss the new
// rows as the map says.
func (f *fill) elsewhere(where, text, host string) {
	after, did, err := f.placed(text, host, 0)
	if f.place.change.count > 0 && refersByText(text) {
		f.report.leave(where, fmt.Sprintf("%.200s takes a reference from text, which does not follow the rows that moved", text))
	}
	switch {
	case err != nil:
		f.report.leave(where, "has a formula that could not be read")
	case did.has(pushed):
		f.fault("/append", text, "%s refers to cells that would move (%.200s), and cannot be changed", where, text)
	case did.has(tangled):
		f.fault("/append", text, "%s refers through several sheets to cells that would move or grow", where)
	case did.has(grown):
		f.short(where, text, after)
	}
	if did.has(partial) {
		f.report.leave(where, fmt.Sprintf("%.200s covers some of the lines and not the new ones", text))
	}
}

// refersByText says whether a formula makes a reference of a text.
func refersByText(text string) bool {
	parsed, err := formula.Parse(text)
	return err == nil && slices.Contains(parsed.Calls, "INDIRECT")
}

// short deals with a range that covers all lines now and would miss the new ones.
func (f *fill) short(where, text, should string) {
	if f.m.ShortRanges == RefuseShort {
		f.fault("/short_ranges", text, "%s covers all lines now and would miss the new ones: it would have to read %.200s. Let it cover more rows, or a whole column; or allow it by \"report\"", where, should)
		return
	}
	f.report.leave(where, fmt.Sprintf("%.200s misses the new rows; to cover them it would have to read %.200s", text, should))
}

// rewriteOthers goes through the other sheets: cached results go, and what
// refers to the sheet filled is looked at.
func (f *fill) rewriteOthers(ctx context.Context) error {
	for _, entry := range f.w.sheets {
		if entry.name == f.s.name || entry.kind != "worksheet" {
			continue
		}
		if ctx.Err() != nil {
			return problem.New(problem.Cancelled, "the fill was cancelled")
		}
		s, err := f.w.readSheet(ctx, entry, false)
		if err != nil {
			return err
		}
		if err := f.otherCells(s); err != nil {
			return err
		}
		for _, root := range s.rest {
			f.otherBeside(root, s.name)
		}
	}
	return nil
}

func (f *fill) otherCells(s *sheet) error {
	var edits parts.Splices
	cleared := 0
	for i := range s.rows {
		for _, c := range s.rows[i].cells {
			text, err := s.formulaOf(c)
			if err != nil {
				return err
			}
			if strings.Contains(text, "!") {
				f.elsewhere(at(s.name, c.col, c.row), text, s.name)
			}
		}
		cleared += clearRow(s, &s.rows[i], &edits)
	}
	f.clearedIn(s.name, cleared)
	if edits.Len() == 0 {
		return nil
	}
	out, err := edits.Apply(s.data)
	if err != nil {
		return problem.Wrap(err, "clearing cached results")
	}
	f.out[s.part] = out
	return nil
}

// otherBeside looks at formats, validation, small charts, controls and links
// of another sheet.
func (f *fill) otherBeside(root *parts.Element, sheet string) {
	root.Each(func(e *parts.Element) {
		switch {
		case e.Is(xmSpace, "f"), e.Is(mainSpace, "formula"), e.Is(mainSpace, "formula1"), e.Is(mainSpace, "formula2"):
			f.elsewhere(fmt.Sprintf("sheet %q, outside its cells,", sheet), e.Text, sheet)
		case e.Is(mainSpace, "controlPr"):
			f.controlCells(e, sheet)
		case e.Is(mainSpace, "hyperlink"):
			text, _ := e.Attr("location")
			if _, did, err := f.placed(text, sheet, 0); err == nil && did.has(pushed) {
				f.report.leave(fmt.Sprintf("sheet %q", sheet), fmt.Sprintf("a link leads to %s, which moved", text))
			}
		}
	})
}

// controlCells looks at the cells that a control reads or sets, as a sheet's
// own part names them.
func (f *fill) controlCells(e *parts.Element, sheet string) {
	for _, name := range []string{"linkedCell", "listFillRange"} {
		if text, ok := e.Attr(name); ok {
			f.elsewhere(fmt.Sprintf("a control on sheet %q", sheet), text, sheet)
		}
	}
}

// lookAround looks at the parts that are neither sheets nor tables: charts,
// pivot tables, drawings, controls, comments, and whatever else names the sheet.
func (f *fill) lookAround() error {
	owners := f.owners()
	for _, name := range f.w.file.Names() {
		kind := f.w.file.ContentType(name)
		owner := owners[strings.ToLower(name)]
		look := f.lookFor(name, kind, owner)
		if look == nil {
			continue
		}
		root, err := f.w.tree(name)
		if err != nil {
			return err
		}
		look(root, owner)
	}
	if f.w.macros && (f.place.change.count > 0 || len(f.report.Extended) > 0) {
		f.report.leave("macros", "were not looked into; one that names rows or ranges of the sheet does not follow them")
	}
	if f.w.macroSheets {
		f.report.leave("macro sheets", "were not looked into")
	}
	return nil
}

// lookFor gives what looks at a part of a kind; nil where nothing does.
func (f *fill) lookFor(name, kind, owner string) func(root *parts.Element, owner string) {
	switch {
	case strings.Contains(kind, "vmlDrawing"):
		f.lookAtOldControls(name, owner)
		return nil
	case !strings.HasSuffix(kind, "xml"), strings.HasSuffix(name, ".rels"):
		return nil
	case strings.Contains(kind, "chart+xml"), strings.Contains(kind, "chartex"):
		return f.lookAtChart(name)
	case strings.Contains(kind, "pivotCacheDefinition"):
		return f.lookAtPivot(name)
	case strings.Contains(kind, "drawing+xml"), strings.Contains(kind, "chartshapes"):
		return f.lookAtDrawing(name)
	case strings.Contains(kind, "controlproperties"):
		return f.lookAtControl(name)
	}
	for mark, thing := range standing {
		if strings.Contains(kind, mark) {
			return f.lookAtStanding(thing)
		}
	}
	for _, known := range settledKinds {
		if strings.Contains(kind, known) {
			return nil
		}
	}
	if f.mentioned(name) || owner == f.s.name && f.place.change.count > 0 {
		f.report.leave(name, "belongs to the sheet or names it, and was not looked into")
	}
	return nil
}

// settledKinds are parts that refer to no cells, or are looked at elsewhere.
var settledKinds = []string{"worksheet+xml", "sheet.main", "template.main", "macroEnabled.main", ".table+xml", "sharedStrings", "styles+xml",
	"theme+xml", "properties+xml", "calcChain", "chartsheet", "pivotCacheRecords", "chartstyle", "chartcolorstyle", "externalLink"}

// standing are parts that say at which cells of their sheet something stands,
// by a mark of their content type.
var standing = map[string]string{"comments+xml": "a comment", "threadedcomments": "a comment", "pivotTable+xml": "a pivot table", "tableSingleCells": "a cell bound to data"}

// mentioned says whether a part has the sheet's name as a reference would.
func (f *fill) mentioned(name string) bool {
	data, _ := f.w.file.Part(name)
	data = bytes.ToLower(data)
	for _, n := range []string{f.s.name, strings.ReplaceAll(f.s.name, "'", "''")} {
		for _, end := range []string{"!", "'!"} {
			plain := strings.ToLower(n + end)
			if bytes.Contains(data, []byte(plain)) || bytes.Contains(data, []byte(parts.Escape(plain))) {
				return true
			}
		}
	}
	return false
}

// owners says on which sheet a part is seen: what a sheet has relations to,
// and what those have.
func (f *fill) owners() map[string]string {
	owners := map[string]string{}
	for _, s := range f.w.sheets {
		todo := []string{s.part}
		for depth := 0; depth < 3 && len(todo) > 0; depth++ {
			var next []string
			for _, of := range todo {
				relations, err := f.w.file.Relations(of)
				if err != nil {
					continue // such a part is looked at without an owner
				}
				for _, r := range relations {
					if key := strings.ToLower(r.Target); !r.External && owners[key] == "" {
						owners[key] = s.name
						next = append(next, r.Target)
					}
				}
			}
			todo = next
		}
	}
	return owners
}

func onSheet(what, name, owner string) string {
	if owner == "" {
		return fmt.Sprintf("%s %s", what, path.Base(name))
	}
	return fmt.Sprintf("%s %s on sheet %q", what, path.Base(name), owner)
}

func (f *fill) lookAtChart(name string) func(*parts.Element, string) {
	return func(root *parts.Element, owner string) {
		root.Each(func(e *parts.Element) {
			if e.Local == "f" && e.Text != "" {
				f.elsewhere(onSheet("chart", name, owner), strings.Trim(e.Text, "()"), owner)
			}
		})
	}
}

// lookAtPivot looks at what a pivot table is made from. Its figures are a copy
// and stay as they are until it is refreshed, whatever it covers.
func (f *fill) lookAtPivot(name string) func(*parts.Element, string) {
	return func(root *parts.Element, _ string) {
		root.Each(func(e *parts.Element) {
			if !e.Is(mainSpace, "worksheetSource") {
				return
			}
			where := "pivot table (" + path.Base(name) + ")"
			sheet, _ := e.Attr("sheet")
			ref, hasRef := e.Attr("ref")
			named, _ := e.Attr("name")
			area, err := formula.ParseArea(ref)
			switch {
			case hasRef && strings.EqualFold(sheet, f.s.name) && err == nil:
				f.elsewhere(where, area.String(), f.s.name)
				if area.Meets(f.block(f.header, f.place.change.end)) {
					f.report.leave(where, "shows the figures of before until it is refreshed")
				}
			case named != "" && f.table != nil && strings.EqualFold(named, f.table.name), named != "" && f.nameCovers(named):
				f.report.leave(where, "shows the figures of before until it is refreshed")
			}
		})
	}
}

// nameCovers says whether a defined name refers to the lines.
func (f *fill) nameCovers(name string) bool {
	for _, k := range f.definedNames() {
		if n, _ := k.Attr("name"); !strings.EqualFold(n, name) {
			continue
		}
		parsed, err := formula.Parse(k.Text)
		if err != nil {
			return true
		}
		for _, r := range parsed.Refs() {
			if r.On("", f.s.name) && r.Right() >= f.left && r.Left() <= f.right {
				return true
			}
		}
	}
	return false
}

// lookAtDrawing looks at what shapes and pictures show of cells, and at what
// stands beside rows that move.
func (f *fill) lookAtDrawing(name string) func(*parts.Element, string) {
	return func(root *parts.Element, owner string) {
		root.Each(func(e *parts.Element) {
			for _, shows := range []string{"textlink", "cellRange"} {
				if link, ok := e.Attr(shows); ok && link != "" {
					f.elsewhere(onSheet("a shape of", name, owner), link, owner)
				}
			}
			if strings.HasSuffix(e.Local, "CellAnchor") && owner == f.s.name {
				f.lookAtAnchor(e)
			}
		})
	}
}

// lookAtAnchor says where a picture or chart reaches rows that move.
func (f *fill) lookAtAnchor(anchor *parts.Element) {
	c := &f.place.change
	lowest := 0
	for _, end := range anchor.Kids {
		for _, k := range end.Kids {
			if row, err := strconv.Atoi(strings.TrimSpace(k.Text)); err == nil && k.Local == "row" {
				lowest = max(lowest, row+1)
			}
		}
	}
	if c.count > 0 && lowest >= c.at {
		f.report.leave(fmt.Sprintf("%s!row %d", f.s.name, lowest), "a picture or chart that reaches this row stays where it is while rows moved down")
	}
}

// lookAtControl looks at the cells that a control reads or sets.
func (f *fill) lookAtControl(name string) func(*parts.Element, string) {
	return func(root *parts.Element, owner string) {
		for _, link := range []string{"fmlaLink", "fmlaRange", "fmlaTxbx", "fmlaGroup"} {
			if text, ok := root.Attr(link); ok && text != "" {
				f.elsewhere(onSheet("a control of", name, owner), text, owner)
			}
		}
	}
}

// lookAtStanding refuses to push a cell away from what stands at it by a name
// that cannot be changed.
func (f *fill) lookAtStanding(thing string) func(*parts.Element, string) {
	return func(root *parts.Element, owner string) {
		if owner != f.s.name || f.place.change.count == 0 {
			return
		}
		root.Each(func(e *parts.Element) {
			for _, attr := range []string{"ref", "r"} {
				ref, ok := e.Attr(attr)
				if a, err := formula.ParseArea(ref); ok && err == nil && a.Bottom >= f.place.change.at {
					f.fault("/append", "", "%s!%s has %s, which would stay behind when rows are inserted before row %d", f.s.name, ref, thing, f.place.change.at)
				}
			}
		})
	}
}

// oldLink finds what controls of old drawings are linked to. Those drawings
// are not always well-formed XML.
var oldLink = regexp.MustCompile(`<\w+:Fmla(?:Link|Range|Txbx|Group|Pict)>([^<]+)<`)

func (f *fill) lookAtOldControls(name, owner string) {
	data, _ := f.w.file.Part(name)
	for _, m := range oldLink.FindAllSubmatch(data, -1) {
		f.elsewhere(onSheet("a control of", name, owner), html.UnescapeString(string(m[1])), owner)
	}
}

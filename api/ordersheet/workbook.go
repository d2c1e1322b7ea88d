package ordersheet

import (
	"fmt"
	"runtime/debug"
	"strconv"
	"strings"

	"coldrise/api/ordersheet/formula"
	"coldrise/api/ordersheet/parts"
	"coldrise/domain/problem"
)

// Namespaces of workbook parts.
const (
	mainSpace     = "http://schemas.openxmlformats.org/spreadsheetml/2006/main"
	strictSpace   = "http://purl.oclc.org/ooxml/spreadsheetml/main"
	relationSpace = "http://schemas.openxmlformats.org/officeDocument/2006/relationships"
	x14Space      = "http://schemas.microsoft.com/office/spreadsheetml/2009/9/main"
	xmSpace       = "http://schemas.microsoft.com/office/excel/2006/main"
)

// Workbook is an upload that was opened and found to be a workbook. It is not
// changed by a fill, and may be filled from several goroutines.
type Workbook struct {
	file    *parts.File
	part    string // name of the workbook's part
	root    *parts.Element
	sheets  []sheetEntry
	tables  []sheetTable
	strings []string
	// macros and macroSheets say what no one looks into.
	macros, macroSheets bool
	date1904            bool
}

type sheetEntry struct{ name, part, kind string }

// Open reads an upload within the limits of package parts, and refuses what is
// no workbook of a kind that can be filled: encrypted, signed, strict, binary,
// or shared with a history of changes. The error is a *problem.Error.
func Open(data []byte) (w *Workbook, err error) {
	defer crashed(&err)
	f, err := parts.Open(data)
	if err != nil {
		return nil, err
	}
	w = &Workbook{file: f}
	for _, step := range []func() error{w.find, w.readRoot, w.readSheets, w.readTables, w.readStrings} {
		if err := step(); err != nil {
			return nil, err
		}
	}
	return w, nil
}

// forms are the kinds of workbook that are taken, by a mark of the content type
// of their main part, with the media type (IANA) and ending of the file.
var forms = []struct{ mark, media, ending string }{
	{"sheet.macroEnabled", "application/vnd.ms-excel.sheet.macroEnabled.12", ".xlsm"},
	{"template.macroEnabled", "application/vnd.ms-excel.template.macroEnabled.12", ".xltm"},
	{"spreadsheetml.template", "application/vnd.openxmlformats-officedocument.spreadsheetml.template", ".xltx"},
	{"", "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet", ".xlsx"},
}

// Media gives the media type of the workbook and of its copies, and how the
// name of such a file ends. A workbook with macros stays one.
func (w *Workbook) Media() (mediaType, ending string) {
	kind := w.file.ContentType(w.part)
	for _, f := range forms {
		if strings.Contains(kind, f.mark) {
			return f.media, f.ending
		}
	}
	return "", "" // the last form has every kind
}

// crashed turns a panic over a crafted file, in a library or here, into a
// refusal; its cause is for the log.
func crashed(err *error) {
	if r := recover(); r != nil {
		refusal := problem.New(problem.Malformed, "the workbook could not be read: something in it is not as a workbook has it")
		refusal.Cause = fmt.Errorf("panic: %v\n%s", r, debug.Stack())
		*err = refusal
	}
}

// find looks for the workbook's own part.
func (w *Workbook) find() error {
	relations, err := w.file.Relations("")
	if err != nil {
		return err
	}
	for _, r := range relations {
		switch {
		case r.Kind() == "officeDocument" && !r.External:
			w.part = r.Target
		case strings.Contains(r.Type, "digital-signature"):
			return problem.New(problem.Malformed, "the workbook is signed; a filled copy would break the signature. Upload it without one")
		}
	}
	kind := w.file.ContentType(w.part)
	switch {
	case w.part == "" || strings.Contains(kind, "wordprocessingml") || strings.Contains(kind, "presentationml"):
		return problem.New(problem.Malformed, "the file is no workbook: .xlsx and .xlsm are taken")
	case strings.Contains(kind, "sheet.binary"):
		return problem.New(problem.Malformed, "the file is a binary workbook (.xlsb); save it as .xlsx or .xlsm")
	}
	return nil
}

func (w *Workbook) readRoot() error {
	root, err := w.tree(w.part)
	if err != nil {
		return err
	}
	switch root.Space {
	case mainSpace:
	case strictSpace:
		return problem.New(problem.Malformed, "the workbook is of the strict form (ISO/IEC 29500 strict); save it as an ordinary workbook")
	default:
		return problem.New(problem.Malformed, "the file is no workbook: its main part has another root")
	}
	w.root = root
	if pr := root.Kid(mainSpace, "workbookPr"); pr != nil {
		w.date1904 = flag(pr, "date1904")
	}
	return nil
}

// tree reads a part that must be there.
func (w *Workbook) tree(name string) (*parts.Element, error) {
	data, ok := w.file.Part(name)
	if !ok {
		return nil, problem.New(problem.Malformed, "the workbook has no part %.80q", name)
	}
	return parts.ReadTree(name, data)
}

// flag reads a boolean attribute.
func flag(e *parts.Element, name string) bool {
	v, _ := e.Attr(name)
	return v == "1" || v == "true"
}

// number reads a whole attribute, or gives otherwise.
func number(e *parts.Element, name string, otherwise int) int {
	v, ok := e.Attr(name)
	if !ok {
		return otherwise
	}
	n, err := strconv.Atoi(v)
	if err != nil {
		return otherwise
	}
	return n
}

// sheetKinds are what a sheet may be.
var sheetKinds = map[string]bool{"worksheet": true, "chartsheet": true, "dialogsheet": true, "xlMacrosheet": true, "xlIntlMacrosheet": true}

func (w *Workbook) readSheets() error {
	relations, err := w.file.Relations(w.part)
	if err != nil {
		return err
	}
	byID := map[string]parts.Relation{}
	for _, r := range relations {
		byID[r.ID] = r
		switch r.Kind() {
		case "revisionHeaders":
			return problem.New(problem.Malformed, "the workbook is shared with a history of changes; end the sharing first")
		case "vbaProject":
			w.macros = true
		case "xlMacrosheet", "xlIntlMacrosheet":
			w.macroSheets = true
		}
	}
	list := w.root.Kid(mainSpace, "sheets")
	if list == nil {
		return problem.New(problem.Malformed, "the workbook lists no sheets")
	}
	seen := map[string]bool{}
	for _, s := range list.Kids {
		name, _ := s.Attr("name")
		id, _ := s.AttrIn(relationSpace, "id")
		r, ok := byID[id]
		if !ok || r.External || !sheetKinds[r.Kind()] || seen[strings.ToLower(name)] {
			return problem.New(problem.Malformed, "the workbook's sheet %.40q is listed wrongly: it has no part, or its name is used twice", name)
		}
		if _, there := w.file.Part(r.Target); !there {
			return problem.New(problem.Malformed, "the workbook has no part %.80q for its sheet %.40q", r.Target, name)
		}
		seen[strings.ToLower(name)] = true
		w.sheets = append(w.sheets, sheetEntry{name: name, part: r.Target, kind: r.Kind()})
	}
	return nil
}

// sheetTable is a named table of the workbook.
type sheetTable struct {
	name, sheet, part string
	root              *parts.Element
	area              formula.Area
	headers, totals   int // rows
}

func (w *Workbook) readTables() error {
	for _, s := range w.sheets {
		relations, err := w.file.Relations(s.part)
		if err != nil {
			return err
		}
		for _, r := range relations {
			if r.Kind() != "table" || r.External {
				continue
			}
			t := sheetTable{sheet: s.name, part: r.Target}
			if t.root, err = w.tree(r.Target); err != nil {
				return err
			}
			t.name, _ = t.root.Attr("displayName")
			t.headers, t.totals = number(t.root, "headerRowCount", 1), number(t.root, "totalsRowCount", 0)
			ref, _ := t.root.Attr("ref")
			if t.area, err = formula.ParseArea(ref); err != nil {
				return problem.New(problem.Malformed, "table %.40q has no range", t.name)
			}
			w.tables = append(w.tables, t)
		}
	}
	return nil
}

// readStrings reads the shared strings, the plain text of each.
func (w *Workbook) readStrings() error {
	relations, err := w.file.Relations(w.part)
	if err != nil {
		return err
	}
	for _, r := range relations {
		if r.Kind() != "sharedStrings" {
			continue
		}
		data, ok := w.file.Part(r.Target)
		if !ok {
			return problem.New(problem.Malformed, "the workbook has no part %.80q", r.Target)
		}
		s := parts.Scan(r.Target, data)
		for {
			more, err := s.Next()
			if err != nil {
				return err
			}
			if !more {
				return nil
			}
			if e := s.Opened; e != nil && e.Is(mainSpace, "si") {
				if err := s.Tree(e); err != nil {
					return err
				}
				w.strings = append(w.strings, plain(e))
			}
		}
	}
	return nil
}

// plain gives the text of a rich string: its runs, without phonetic hints.
func plain(e *parts.Element) string {
	var b strings.Builder
	for _, k := range e.Kids {
		switch {
		case k.Is(mainSpace, "t"):
			b.WriteString(k.Text)
		case k.Is(mainSpace, "r"):
			b.WriteString(plain(k))
		}
	}
	return unescaped(b.String())
}

// folded is a text as headers are compared: case and runs of blanks do not count.
func folded(s string) string { return strings.ToLower(strings.Join(strings.Fields(s), " ")) }

// at names a cell with its sheet, for people.
func at(sheet string, col, row int) string {
	return fmt.Sprintf("%s!%s", sheet, formula.CellName(col, row))
}

// through says whether a reference goes through several sheets, and a sheet is
// one of them.
func (w *Workbook) through(r formula.Ref, sheet string) bool {
	if r.LastSheet == "" || r.External {
		return false
	}
	from, to, here := -1, -1, -1
	for i, s := range w.sheets {
		switch {
		case strings.EqualFold(s.name, r.Sheet):
			from = i
		case strings.EqualFold(s.name, r.LastSheet):
			to = i
		}
		if strings.EqualFold(s.name, sheet) {
			here = i
		}
	}
	return here >= min(from, to) && here <= max(from, to)
}

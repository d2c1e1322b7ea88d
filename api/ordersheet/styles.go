package ordersheet

import (
	"strconv"
	"strings"

	"coldrise/api/ordersheet/parts"
	"coldrise/domain/problem"
)

// styles is the part that holds the cells' formats. Formats are only added.
type styles struct {
	part    string
	data    []byte
	list    *parts.Element // cellXfs
	formats []*parts.Element
	codes   map[int]string // number formats of the workbook's own
	added   []string
	made    map[variant]int
}

// variant is a format of the workbook with one thing more.
type variant struct {
	base int
	what string
}

// maxFormats is how many cell formats a workbook may have (common practice).
const maxFormats = 64_000

// readStyles reads the formats; nil where the workbook has none.
func (w *Workbook) readStyles() (*styles, error) {
	relations, err := w.file.Relations(w.part)
	if err != nil {
		return nil, err
	}
	for _, r := range relations {
		if r.Kind() != "styles" {
			continue
		}
		root, err := w.tree(r.Target)
		if err != nil {
			return nil, err
		}
		s := &styles{part: r.Target, codes: map[int]string{}, made: map[variant]int{}}
		s.data, _ = w.file.Part(r.Target)
		if s.list = root.Kid(mainSpace, "cellXfs"); s.list == nil {
			return nil, nil
		}
		for _, k := range s.list.Kids {
			if k.Is(mainSpace, "xf") {
				s.formats = append(s.formats, k)
			}
		}
		if list := root.Kid(mainSpace, "numFmts"); list != nil {
			for _, k := range list.Kids {
				code, _ := k.Attr("formatCode")
				s.codes[number(k, "numFmtId", -1)] = code
			}
		}
		return s, nil
	}
	return nil, nil
}

// isDate says whether a format shows a number as a date.
func (s *styles) isDate(format int) bool {
	if format < 0 || format >= len(s.formats) {
		return false
	}
	id := number(s.formats[format], "numFmtId", 0)
	if code, own := s.codes[id]; own {
		return strings.ContainsAny(bare(code), "dDyY")
	}
	// Built-in formats of ISO/IEC 29500-1, 18.8.30, those of East Asian
	// languages among them.
	return id >= 14 && id <= 17 || id == 22 || id >= 27 && id <= 36 || id >= 50 && id <= 58
}

// bare is a format code without what is quoted, escaped or in brackets.
func bare(code string) string {
	var b strings.Builder
	for i := 0; i < len(code); i++ {
		switch code[i] {
		case '"':
			if end := strings.IndexByte(code[i+1:], '"'); end >= 0 {
				i += end + 1
			}
		case '[':
			if end := strings.IndexByte(code[i:], ']'); end >= 0 {
				i += end
			}
		case '\\', '_', '*':
			i++
		default:
			b.WriteByte(code[i])
		}
	}
	return b.String()
}

// quoted gives a format like another under which a text stays a text when
// someone edits the cell.
func (s *styles) quoted(base int) (int, error) {
	return s.variant(base, "quote", map[string]string{"quotePrefix": "1"})
}

// dated gives a format like another that shows a date, in the reader's own locale.
func (s *styles) dated(base int) (int, error) {
	if s.isDate(base) {
		return base, nil
	}
	return s.variant(base, "date", map[string]string{"numFmtId": "14", "applyNumberFormat": "1"})
}

func (s *styles) variant(base int, what string, attrs map[string]string) (int, error) {
	if base < 0 || base >= len(s.formats) {
		base = 0
	}
	key := variant{base, what}
	if i, ok := s.made[key]; ok {
		return i, nil
	}
	if len(s.formats) == 0 || len(s.formats)+len(s.added) >= maxFormats {
		return 0, problem.New(problem.Invalid, "the workbook has no room for a further cell format")
	}
	e := s.formats[base]
	var change parts.Splices
	for _, name := range []string{"numFmtId", "applyNumberFormat", "quotePrefix"} {
		if v, ok := attrs[name]; ok {
			change.SetAttr(s.data, e, name, v)
		}
	}
	text, err := change.ApplyWithin(s.data, e.All)
	if err != nil {
		return 0, problem.Wrap(err, "copying a format")
	}
	s.made[key] = len(s.formats) + len(s.added)
	s.added = append(s.added, string(text))
	return s.made[key], nil
}

// bytes gives the part with what was added.
func (s *styles) bytes() ([]byte, error) {
	if len(s.added) == 0 {
		return s.data, nil
	}
	var change parts.Splices
	change.SetAttr(s.data, s.list, "count", strconv.Itoa(len(s.formats)+len(s.added)))
	change.Insert(s.list.Body.To, strings.Join(s.added, ""))
	out, err := change.Apply(s.data)
	if err != nil {
		return nil, problem.Wrap(err, "adding formats")
	}
	return out, nil
}

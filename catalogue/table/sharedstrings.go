package table

import (
	"context"
	"encoding/xml"
	"io"
	"strconv"
	"strings"
	"unicode/utf8"

	"coldrise/domain/problem"
)

// sharedStrings are the texts a workbook's cells refer to by number, one after
// the other in one string: a cell's text is a piece of it and costs nothing more.
type sharedStrings struct {
	all  string
	ends []uint32
}

// maxShared bounds the texts together, and maxTexts how many there are.
const (
	maxShared = 64 << 20
	maxTexts  = 8_000_000
)

func (s *sharedStrings) at(number string) (string, bool) {
	i, err := strconv.Atoi(number)
	if err != nil || i < 0 || i >= len(s.ends) {
		return "", false
	}
	from := uint32(0)
	if i > 0 {
		from = s.ends[i-1]
	}
	return s.all[from:s.ends[i]], true
}

// readStrings reads the shared strings; runs of one text are joined, what is
// there for reading East Asian text aloud is left out.
func (w *Workbook) readStrings(ctx context.Context) (*sharedStrings, error) {
	if w.strings == "" {
		return &sharedStrings{}, nil
	}
	t, err := w.tokens(ctx, w.strings)
	if err != nil {
		return nil, err
	}
	defer t.part.Close()
	var all strings.Builder
	var ends []uint32
	collect := textCollector{limit: w.limits.CellRunes}
	for {
		token, err := t.next()
		if err == io.EOF {
			return &sharedStrings{all: all.String(), ends: ends}, nil
		}
		if err != nil {
			return nil, err
		}
		collect.token(token)
		if e, ok := token.(xml.EndElement); ok && e.Name.Local == "si" {
			all.WriteString(collect.take())
			ends = append(ends, uint32(all.Len()))
			if all.Len() > maxShared || len(ends) > maxTexts {
				return nil, problem.New(problem.TooLarge, "the texts of the workbook's cells are more than %s or %d; save the sheet as CSV", bytesText(maxShared), maxTexts)
			}
		}
	}
}

// textCollector gathers the text of <t> elements, outside of <rPh>.
type textCollector struct {
	limit   int // runes; what is over is left out, and long says so
	text    []byte
	inText  bool
	phonics bool
	long    bool
}

func (c *textCollector) token(token xml.Token) {
	switch token := token.(type) {
	case xml.StartElement:
		c.inText = token.Name.Local == "t" && !c.phonics
		c.phonics = c.phonics || token.Name.Local == "rPh"
	case xml.EndElement:
		c.inText = false
		c.phonics = c.phonics && token.Name.Local != "rPh"
	case xml.CharData:
		if c.inText {
			c.text = append(c.text, token...)
			c.long = c.long || len(c.text) > 4*c.limit
			c.text = c.text[:min(len(c.text), 4*c.limit+utf8.UTFMax)]
		}
	}
}

// take gives what was gathered and begins again.
func (c *textCollector) take() string {
	text := unescape(string(c.text))
	c.text, c.long = c.text[:0], false
	return text
}

// unescape reads _x000D_ and the like, by which a workbook writes characters
// that XML has not. ECMA-376 part 1, 22.9.2.19 (ST_Xstring).
func unescape(s string) string {
	at := strings.Index(s, "_x")
	if at < 0 {
		return s
	}
	var b strings.Builder
	for ; at >= 0; at = strings.Index(s, "_x") {
		b.WriteString(s[:at])
		s = s[at:]
		code, ok := escaped(s)
		if !ok {
			b.WriteString(s[:2])
			s = s[2:]
			continue
		}
		b.WriteRune(code)
		s = s[7:]
	}
	b.WriteString(s)
	return b.String()
}

// escaped reads one _xHHHH_ at the start of s.
func escaped(s string) (rune, bool) {
	if len(s) < 7 || s[6] != '_' {
		return 0, false
	}
	v, err := strconv.ParseUint(s[2:6], 16, 16)
	if err != nil || v >= 0xd800 && v < 0xe000 {
		return 0, false
	}
	return rune(v), true
}

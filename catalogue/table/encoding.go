package table

import (
	"bufio"
	"bytes"
	"fmt"
	"io"
	"strings"
	"unicode/utf8"

	"golang.org/x/text/encoding/charmap"
	"golang.org/x/text/encoding/unicode"
	"golang.org/x/text/transform"

	"coldrise/domain/problem"
)

// Encoding is how a CSV file writes its characters.
type Encoding string

// The encodings. A byte-order mark decides before anything that is declared.
const (
	UTF8        Encoding = "utf-8"
	UTF16       Encoding = "utf-16" // needs a byte-order mark
	UTF16LE     Encoding = "utf-16le"
	UTF16BE     Encoding = "utf-16be"
	Windows1252 Encoding = "windows-1252"
)

var (
	utf8BOM = []byte{0xef, 0xbb, 0xbf}
	utf16LE = []byte{0xff, 0xfe}
	utf16BE = []byte{0xfe, 0xff}
)

// encodingOf tells the encoding of a file that begins with start, and how long
// its byte-order mark is. Declared is "" where nobody has declared any.
func encodingOf(start []byte, declared Encoding) (Encoding, int, error) {
	switch {
	case bytes.HasPrefix(start, utf8BOM):
		return UTF8, 3, nil
	case bytes.HasPrefix(start, utf16LE):
		return UTF16LE, 2, nil
	case bytes.HasPrefix(start, utf16BE):
		return UTF16BE, 2, nil
	case declared == UTF16:
		return "", 0, problem.New(problem.Malformed, "the file has no byte-order mark, so that its UTF-16 may be of two kinds; declare utf-16le or utf-16be")
	case declared == UTF16LE, declared == UTF16BE:
		return declared, 0, nil
	case bytes.IndexByte(start, 0) >= 0:
		return "", 0, problem.New(problem.Malformed, "every other byte of the file is 0, as in UTF-16, and it has no byte-order mark; declare utf-16le or utf-16be, or save it as UTF-8")
	case declared == Windows1252:
		return Windows1252, 0, nil
	}
	return UTF8, 0, nil
}

// decoded gives src, without its mark, as UTF-8. What is already UTF-8 is not
// checked here but cell by cell, so that a fault has its line.
func decoded(src io.Reader, e Encoding) io.Reader {
	switch e {
	case UTF16LE:
		return transform.NewReader(src, unicode.UTF16(unicode.LittleEndian, unicode.IgnoreBOM).NewDecoder())
	case UTF16BE:
		return transform.NewReader(src, unicode.UTF16(unicode.BigEndian, unicode.IgnoreBOM).NewDecoder())
	case Windows1252:
		return transform.NewReader(src, charmap.Windows1252.NewDecoder())
	}
	return src
}

// misread gives what is wrong with the encoding of a cell, "" where nothing is.
func misread(s string, e Encoding) string {
	switch {
	case !utf8.ValidString(s):
		return wrongUTF8(s)
	case e == UTF8:
		return ""
	case strings.ContainsRune(s, utf8.RuneError):
		return fmt.Sprintf("has bytes that are no character in %s", e)
	case e == Windows1252:
		return wrong1252(s)
	}
	return ""
}

func wrongUTF8(s string) string {
	bad := 0
	for i, c := range s {
		if c == utf8.RuneError && s[i] != 0xef {
			bad = i
			break
		}
	}
	text := fmt.Sprintf("has the byte %#02X, which is not UTF-8", s[bad])
	if meant, err := charmap.Windows1252.NewDecoder().String(s); err == nil && !strings.ContainsRune(meant, utf8.RuneError) {
		text += fmt.Sprintf("; by windows-1252 it reads %q: if that is right, declare that encoding", short(meant))
	}
	return text
}

// wrong1252 finds UTF-8 that was read as Windows-1252: Âµ for µ, Ã¼ for ü.
func wrong1252(s string) string {
	raw := make([]byte, 0, len(s))
	high := false
	for _, c := range s {
		b, ok := charmap.Windows1252.EncodeRune(c)
		if !ok {
			return ""
		}
		raw = append(raw, b)
		high = high || b >= utf8.RuneSelf
	}
	if !high || !utf8.Valid(raw) {
		return ""
	}
	return fmt.Sprintf("is UTF-8, and windows-1252 is declared: it is meant to read %q; declare utf-8", short(string(raw)))
}

// separatorLine reads a first line such as sep=; where there is one, as some
// spreadsheets write it. 0 where there is none.
func separatorLine(r *bufio.Reader) (rune, error) {
	start, err := r.Peek(12)
	if err != nil && err != io.EOF {
		return 0, err
	}
	line, _, found := strings.Cut(string(start), "\n")
	line = strings.ToLower(strings.Trim(line, "\"\r"))
	sign, is := strings.CutPrefix(line, "sep=")
	if !found || !is || utf8.RuneCountInString(sign) != 1 {
		return 0, nil
	}
	if _, err := r.Discard(strings.IndexByte(string(start), '\n') + 1); err != nil {
		return 0, err
	}
	c, _ := utf8.DecodeRuneInString(sign)
	return c, nil
}

// A carriage return inside a quoted cell would be lost: encoding/csv takes one
// ahead of a line feed for part of the line's end wherever it stands. It is
// carried past as a byte that no UTF-8 has.
const (
	carriedCR  = 0xff
	displaced  = 0xfe // for a byte that was carriedCR already, and is a fault either way
	carriedStr = "\xff"
)

// quotedCR carries carriage returns inside quoted cells past encoding/csv.
type quotedCR struct {
	from   io.Reader
	inside bool
}

func (q *quotedCR) Read(p []byte) (int, error) {
	n, err := q.from.Read(p)
	b := p[:n]
	for i := bytes.IndexByte(b, carriedCR); i >= 0; i = bytes.IndexByte(b, carriedCR) {
		b[i] = displaced
	}
	for len(b) > 0 {
		end := bytes.IndexByte(b, '"')
		stretch := b
		if end >= 0 {
			stretch = b[:end]
		}
		if q.inside {
			for i := bytes.IndexByte(stretch, '\r'); i >= 0; i = bytes.IndexByte(stretch, '\r') {
				stretch[i] = carriedCR
			}
		}
		if end < 0 {
			break
		}
		q.inside = !q.inside
		b = b[end+1:]
	}
	return n, err
}

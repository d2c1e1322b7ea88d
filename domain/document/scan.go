package document

import (
	"bytes"
	"encoding/json"
	"errors"
	"io"
	"unicode/utf8"

	"coldrise/domain/problem"
)

// source is a document that is known to be JSON, but for the literals NaN,
// Infinity and -Infinity: those are replaced in clean by numbers of the same
// length, so that all that is wrong with a document can be told at once.
type source struct {
	data      []byte       // as given
	clean     []byte       // as read
	nonFinite map[int]bool // where such a literal begins
}

var byteOrderMark = []byte("\xef\xbb\xbf")

// scan checks that data is JSON. Its errors are Malformed.
func scan(data []byte, what string) (*source, error) {
	if at := notUTF8(data); at >= 0 {
		return nil, malformed(data, at, what, "byte 0x%02x at offset %d is not UTF-8", data[at], at)
	}
	s := &source{data: data, clean: bytes.Clone(data), nonFinite: map[int]bool{}}
	if bytes.HasPrefix(data, byteOrderMark) {
		// RFC 8259 section 8.1 lets a reader pass over it; editors write it unasked.
		copy(s.clean, "   ")
	}
	if len(bytes.TrimSpace(s.clean)) == 0 {
		return nil, problem.New(problem.Malformed, "the %s is an empty document", what)
	}
	if at := s.literals(); at >= 0 {
		return nil, malformed(data, at, what, "nested deeper than %d levels", MaxDepth)
	}
	return s, s.syntax(what)
}

func notUTF8(data []byte) int {
	for i := 0; i < len(data); {
		r, size := utf8.DecodeRune(data[i:])
		if r == utf8.RuneError && size == 1 {
			return i
		}
		i += size
	}
	return -1
}

// Each literal that is not JSON, and a number as long as it.
var stand = []struct{ literal, number string }{
	{"NaN", "100"}, {"Infinity", "10000000"}, {"-Infinity", "-10000000"},
}

// literals replaces the non-finite literals outside strings, and gives the
// offset at which the document nests too deep, or -1.
func (s *source) literals() int {
	depth, quoted := 0, false
	for i := 0; i < len(s.clean); i++ {
		switch c := s.clean[i]; {
		case quoted && c == '\\':
			i++
		case c == '"':
			quoted = !quoted
		case quoted:
		case c == '{' || c == '[':
			if depth++; depth > MaxDepth {
				return i
			}
		case c == '}' || c == ']':
			depth--
		case c == 'N' || c == 'I' || c == '-':
			s.replace(i)
		}
	}
	return -1
}

func (s *source) replace(at int) {
	if at > 0 && wordByte(s.clean[at-1]) {
		return
	}
	for _, st := range stand {
		end := at + len(st.literal)
		if bytes.HasPrefix(s.clean[at:], []byte(st.literal)) && (end == len(s.clean) || !wordByte(s.clean[end])) {
			copy(s.clean[at:], st.number)
			s.nonFinite[at] = true
			return
		}
	}
}

func wordByte(c byte) bool {
	return c == '_' || c == '-' || c == '+' || c == '.' || c >= 0x80 ||
		'0' <= c && c <= '9' || 'A' <= c && c <= 'Z' || 'a' <= c && c <= 'z'
}

// syntax finds the first place where the document is not JSON.
func (s *source) syntax(what string) error {
	// A blank at the end tells a document that stops short, which fails past
	// its last byte, from one whose last byte is wrong.
	var whole json.RawMessage
	err := json.Unmarshal(append(bytes.Clone(s.clean), ' '), &whole)
	if err == nil {
		return nil
	}
	var first json.RawMessage
	dec := json.NewDecoder(bytes.NewReader(s.clean))
	if dec.Decode(&first) == nil {
		return malformed(s.data, s.skip(int(dec.InputOffset())), what, "something follows the end of the document")
	}
	at := len(s.clean)
	var syntax *json.SyntaxError
	if errors.As(err, &syntax) {
		at = int(syntax.Offset) - 1
	}
	if at >= len(s.clean) || errors.Is(err, io.ErrUnexpectedEOF) {
		return malformed(s.data, len(s.clean), what, "the document ends too early")
	}
	r, _ := utf8.DecodeRune(s.data[at:])
	return malformed(s.data, at, what, "%q was not expected here", r)
}

// skip gives the offset of the next token at or after at.
func (s *source) skip(at int) int {
	for at < len(s.clean) && bytes.IndexByte([]byte(" \t\r\n,:"), s.clean[at]) >= 0 {
		at++
	}
	return at
}

func malformed(data []byte, at int, what, format string, args ...any) error {
	line := 1 + bytes.Count(data[:at], []byte("\n"))
	column := 1 + utf8.RuneCount(data[bytes.LastIndexByte(data[:at], '\n')+1:at])
	return problem.New(problem.Malformed, "the %s is not JSON: line %d, column %d: "+format,
		append([]any{what, line, column}, args...)...)
}

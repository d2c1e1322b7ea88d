package document

import (
	"bytes"
	"encoding/json"
	"strconv"
	"strings"
	"unicode/utf8"
)

// kind is what a JSON value is.
type kind string

const (
	isNull   kind = "null"
	isBool   kind = "true or false"
	isNumber kind = "a number"
	isString kind = "a string"
	isArray  kind = "an array"
	isObject kind = "an object"
)

// node is one value of a document, with where it stands in it.
type node struct {
	kind       kind
	start, end int
	text       string // of a string its value, of a number its literal
	truth      bool
	nonFinite  bool
	members    []member // of an object, in the order given
	items      []*node  // of an array
}

type member struct {
	name  string
	value *node
}

// tree reads the whole document. The source has been scanned: it is JSON and
// nested within bounds.
func (s *source) tree() *node {
	dec := json.NewDecoder(bytes.NewReader(s.clean))
	dec.UseNumber()
	return s.node(dec)
}

func (s *source) node(dec *json.Decoder) *node {
	n := &node{start: s.skip(int(dec.InputOffset()))}
	switch tok := token(dec).(type) {
	case nil:
		n.kind = isNull
	case bool:
		n.kind, n.truth = isBool, tok
	case json.Number:
		n.kind, n.text, n.nonFinite = isNumber, tok.String(), s.nonFinite[n.start]
	case string:
		n.kind, n.text = isString, tok
	case json.Delim:
		if tok == '[' {
			n.kind = isArray
			for dec.More() {
				n.items = append(n.items, s.node(dec))
			}
		} else {
			n.kind = isObject
			for dec.More() {
				name, _ := token(dec).(string)
				n.members = append(n.members, member{name, s.node(dec)})
			}
		}
		token(dec)
	}
	n.end = int(dec.InputOffset())
	return n
}

func token(dec *json.Decoder) json.Token {
	tok, err := dec.Token()
	if err != nil {
		panic("document: a scanned document failed to read: " + err.Error())
	}
	return tok
}

// offset gives where the value at a pointer stands; where there is none, the
// end of the innermost value on the way to it.
func (n *node) offset(pointer string) int {
	if pointer == "" {
		return n.start
	}
	for _, step := range strings.Split(pointer[1:], "/") {
		next := n.child(unescape.Replace(step))
		if next == nil {
			return n.end
		}
		n = next
	}
	return n.start
}

func (n *node) child(step string) *node {
	if n.kind == isArray {
		if i, err := strconv.Atoi(step); err == nil && 0 <= i && i < len(n.items) {
			return n.items[i]
		}
		return nil
	}
	for _, m := range n.members {
		if m.name == step {
			return m.value
		}
	}
	return nil
}

// maxValueRunes is how much of what stood in a document a fault repeats.
const maxValueRunes = 60

// snippet gives what stood at n as JSON text on one line, shortened.
func (s *source) snippet(n *node) string {
	raw := s.data[n.start:n.end]
	if len(raw) > 8*maxValueRunes {
		raw = raw[:8*maxValueRunes]
		for !utf8.Valid(raw) {
			raw = raw[:len(raw)-1]
		}
	}
	line := []rune(strings.Join(strings.Fields(string(raw)), " "))
	if len(line) > maxValueRunes || len(raw) < n.end-n.start {
		line = append(line[:min(len(line), maxValueRunes-1)], '…')
	}
	return string(line)
}

var (
	escape   = strings.NewReplacer("~", "~0", "/", "~1")
	unescape = strings.NewReplacer("~1", "/", "~0", "~")
)

// Pointer makes an RFC 6901 pointer of member names (string) and array
// indices (int): Pointer("nodes", 0, "from") is "/nodes/0/from".
func Pointer(steps ...any) string { return Under("", steps...) }

// Under makes the pointer of what stands below another.
func Under(pointer string, steps ...any) string {
	var b strings.Builder
	b.WriteString(pointer)
	for _, step := range steps {
		b.WriteByte('/')
		switch step := step.(type) {
		case int:
			b.WriteString(strconv.Itoa(step))
		case string:
			b.WriteString(escape.Replace(step))
		default:
			panic("document: a pointer is made of names and indices")
		}
	}
	return b.String()
}

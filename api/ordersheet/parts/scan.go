package parts

import (
	"bytes"
	"encoding/xml"
	"errors"
	"io"

	"coldrise/domain/problem"
)

// Limits of one XML part.
const (
	maxDepth    = 128
	maxElements = 4_000_000
	// maxTree bounds the elements of one tree; rows and cells are never read as one.
	maxTree = 200_000
)

// Span is a stretch of a part's bytes.
type Span struct{ From, To int }

// Element is an XML element and where it stands. Tag spans its start tag;
// Body what lies between the tags (empty where it closes itself); All the
// whole. Body and All are complete once its end was read.
type Element struct {
	Space, Local   string // the namespace, resolved, and the name
	Prefix         string // as written
	Attrs          []xml.Attr
	Tag, Body, All Span
	SelfClosed     bool
	Text           string     // character data directly in it, where a tree was read
	Kids           []*Element // where a tree was read
	scope          *scope
}

// scope is the namespaces declared by an element, and those round it.
type scope struct {
	outer *scope
	names map[string]string
}

func (s *scope) of(prefix string) string {
	for ; s != nil; s = s.outer {
		if uri, ok := s.names[prefix]; ok {
			return uri
		}
	}
	return ""
}

// Attr gives an attribute without a prefix.
func (e *Element) Attr(name string) (string, bool) {
	for _, a := range e.Attrs {
		if a.Name.Space == "" && a.Name.Local == name {
			return a.Value, true
		}
	}
	return "", false
}

// AttrIn gives an attribute of a namespace.
func (e *Element) AttrIn(space, name string) (string, bool) {
	for _, a := range e.Attrs {
		if a.Name.Space != "" && a.Name.Local == name && e.scope.of(a.Name.Space) == space {
			return a.Value, true
		}
	}
	return "", false
}

// Is compares the element's name.
func (e *Element) Is(space, local string) bool { return e.Local == local && e.Space == space }

// Prefixed gives a name as elements beside this one would write it.
func (e *Element) Prefixed(local string) string {
	if e.Prefix == "" {
		return local
	}
	return e.Prefix + ":" + local
}

// Scanner reads an XML part from front to end and tells where each element
// stands, so that a change can be a splice and the rest stays as it was.
type Scanner struct {
	name     string
	data     []byte
	dec      *xml.Decoder
	stack    []*Element
	elements int
	rooted   bool
	// Opened and Closed hold the element of the last event; Text its characters.
	Opened, Closed *Element
	Text           []byte
}

// Scan begins reading a part. The name is for errors.
func Scan(name string, data []byte) *Scanner {
	return &Scanner{name: name, data: data, dec: xml.NewDecoder(bytes.NewReader(bytes.TrimPrefix(data, []byte("\xef\xbb\xbf"))))}
}

func (s *Scanner) offset() int {
	at := int(s.dec.InputOffset())
	if bytes.HasPrefix(s.data, []byte("\xef\xbb\xbf")) {
		at += 3
	}
	return at
}

// Next reads on to the next start tag, end tag or text; false at the end.
func (s *Scanner) Next() (bool, error) {
	s.Opened, s.Closed, s.Text = nil, nil, nil
	for {
		from := s.offset()
		token, err := s.dec.RawToken()
		switch {
		case errors.Is(err, io.EOF) && len(s.stack) == 0 && s.rooted:
			return false, nil
		case err != nil:
			return false, malformed(err, "part %.80q is not well-formed XML in UTF-8", s.name)
		}
		switch t := token.(type) {
		case xml.StartElement:
			return true, s.open(t, from)
		case xml.EndElement:
			return true, s.close(t, from)
		case xml.CharData:
			if len(s.stack) > 0 {
				s.Text = t
				return true, nil
			}
			if len(bytes.TrimSpace(t)) > 0 {
				return false, malformed(nil, "part %.80q has text outside its root", s.name)
			}
		case xml.Directive:
			return false, malformed(nil, "part %.80q has a document type declaration", s.name)
		}
	}
}

// inside gives the element the scanner stands in; nil outside the root.
func (s *Scanner) inside() *Element {
	if len(s.stack) == 0 {
		return nil
	}
	return s.stack[len(s.stack)-1]
}

// Depth is how many elements are open.
func (s *Scanner) Depth() int { return len(s.stack) }

func (s *Scanner) open(t xml.StartElement, from int) error {
	if s.elements++; s.elements > maxElements {
		return problem.New(problem.TooLarge, "part %.80q has more than %d elements", s.name, maxElements)
	}
	if len(s.stack) >= maxDepth {
		return problem.New(problem.TooLarge, "part %.80q is nested more than %d deep", s.name, maxDepth)
	}
	if len(s.stack) == 0 && s.rooted {
		return malformed(nil, "part %.80q has two roots", s.name)
	}
	s.rooted = true
	e := &Element{Local: t.Name.Local, Prefix: t.Name.Space, Attrs: t.Attr, Tag: Span{from, s.offset()}}
	e.SelfClosed = bytes.HasSuffix(s.data[e.Tag.From:e.Tag.To], []byte("/>"))
	if outer := s.inside(); outer != nil {
		e.scope = outer.scope
	}
	e.declare()
	e.Space = e.scope.of(e.Prefix)
	s.stack = append(s.stack, e)
	s.Opened = e
	return nil
}

// declare opens a scope of its own for an element that declares namespaces.
func (e *Element) declare() {
	names := map[string]string{}
	for _, a := range e.Attrs {
		switch {
		case a.Name.Space == "xmlns":
			names[a.Name.Local] = a.Value
		case a.Name.Space == "" && a.Name.Local == "xmlns":
			names[""] = a.Value
		}
	}
	if len(names) > 0 {
		e.scope = &scope{outer: e.scope, names: names}
	}
}

func (s *Scanner) close(t xml.EndElement, from int) error {
	e := s.inside()
	if e == nil || e.Local != t.Name.Local || e.Prefix != t.Name.Space {
		return malformed(nil, "part %.80q closes an element that is not open", s.name)
	}
	s.stack = s.stack[:len(s.stack)-1]
	e.Body = Span{e.Tag.To, from}
	e.All = Span{e.Tag.From, s.offset()}
	s.Closed = e
	return nil
}

// Tree reads the rest of the element just opened, with all it holds.
func (s *Scanner) Tree(root *Element) error {
	open := []*Element{root}
	texts := [][]byte{nil}
	for count := 0; ; {
		if more, err := s.Next(); err != nil {
			return err
		} else if !more {
			return malformed(nil, "part %.80q ends early", s.name)
		}
		top := open[len(open)-1]
		switch {
		case s.Opened != nil:
			if count++; count > maxTree {
				return problem.New(problem.TooLarge, "an element of part %.80q holds more than %d others", s.name, maxTree)
			}
			top.Kids = append(top.Kids, s.Opened)
			open = append(open, s.Opened)
			texts = append(texts, nil)
		case s.Text != nil:
			texts[len(texts)-1] = append(texts[len(texts)-1], s.Text...)
		case s.Closed != nil:
			top.Text = string(texts[len(texts)-1])
			open, texts = open[:len(open)-1], texts[:len(texts)-1]
			if len(open) == 0 {
				return nil
			}
		}
	}
}

// ReadTree reads a whole part as a tree.
func ReadTree(name string, data []byte) (*Element, error) {
	s := Scan(name, data)
	for {
		more, err := s.Next()
		if err != nil {
			return nil, err
		}
		if !more {
			return nil, malformed(nil, "part %.80q is empty", name)
		}
		if root := s.Opened; root != nil {
			if err := s.Tree(root); err != nil {
				return nil, err
			}
			for more { // what is left must be well-formed too
				if more, err = s.Next(); err != nil {
					return nil, err
				}
			}
			return root, nil
		}
	}
}

// Each visits the element and every one below it, in document order.
func (e *Element) Each(visit func(*Element)) {
	visit(e)
	for _, k := range e.Kids {
		k.Each(visit)
	}
}

// Kid gives the first element of that name directly below, or nil.
func (e *Element) Kid(space, local string) *Element {
	for _, k := range e.Kids {
		if k.Is(space, local) {
			return k
		}
	}
	return nil
}

package parts

import (
	"bytes"
	"encoding/xml"
	"fmt"
	"slices"
	"strings"
)

// Splices are changes to a part's bytes, gathered in any order and made at once.
type Splices struct {
	list []splice
}

type splice struct {
	Span
	text string
}

// Replace puts text in place of a span.
func (s *Splices) Replace(at Span, text string) {
	s.list = append(s.list, splice{at, text})
}

// Insert puts text before a byte. Several at one place keep their order.
func (s *Splices) Insert(at int, text string) { s.Replace(Span{at, at}, text) }

// Len counts the changes.
func (s *Splices) Len() int { return len(s.list) }

// Apply makes the changes. Changes that overlap are a mistake of ours.
func (s *Splices) Apply(data []byte) ([]byte, error) { return s.ApplyWithin(data, Span{0, len(data)}) }

// ApplyWithin makes the changes and gives a span of data as it reads then; all
// of them must lie within it.
func (s *Splices) ApplyWithin(data []byte, within Span) ([]byte, error) {
	list := slices.Clone(s.list)
	slices.SortStableFunc(list, func(a, b splice) int {
		if a.From != b.From {
			return a.From - b.From
		}
		return a.To - b.To
	})
	var b bytes.Buffer
	last := within.From
	for _, c := range list {
		if c.From < last || c.To < c.From || c.To > within.To {
			return nil, fmt.Errorf("parts: change of bytes %d to %d overlaps another, or lies outside", c.From, c.To)
		}
		b.Write(data[last:c.From])
		b.WriteString(c.text)
		last = c.To
	}
	b.Write(data[last:within.To])
	return b.Bytes(), nil
}

// SetAttr sets an attribute without a prefix in an element's start tag.
func (s *Splices) SetAttr(data []byte, e *Element, name, value string) {
	tag := data[e.Tag.From:e.Tag.To]
	if _, at, ok := attribute(tag, name); ok {
		s.Replace(Span{e.Tag.From + at.From, e.Tag.From + at.To}, Escape(value))
		return
	}
	s.Insert(e.Tag.From+nameEnd(tag), fmt.Sprintf(" %s=\"%s\"", name, Escape(value)))
}

// DropAttr takes an attribute without a prefix out of an element's start tag.
func (s *Splices) DropAttr(data []byte, e *Element, name string) {
	tag := data[e.Tag.From:e.Tag.To]
	if from, at, ok := attribute(tag, name); ok {
		for space(tag[from-1]) {
			from--
		}
		s.Replace(Span{e.Tag.From + from, e.Tag.From + at.To + 1}, "")
	}
}

// Fill puts content into an element that may have closed itself.
func (s *Splices) Fill(data []byte, e *Element, content string) {
	if !e.SelfClosed {
		s.Replace(e.Body, content)
		return
	}
	slash := e.Tag.To - 2
	s.Replace(Span{slash, e.Tag.To}, ">"+content+"</"+e.Prefixed(e.Local)+">")
}

// attribute gives where an attribute begins in a start tag, and its value
// without the quotes. The tag was read by the XML library, so it is well-formed.
func attribute(tag []byte, name string) (start int, value Span, ok bool) {
	for at := nameEnd(tag); at < len(tag); {
		for at < len(tag) && space(tag[at]) {
			at++
		}
		start = at
		for at < len(tag) && !space(tag[at]) && tag[at] != '=' && tag[at] != '>' && tag[at] != '/' {
			at++
		}
		found := string(tag[start:at])
		for at < len(tag) && tag[at] != '"' && tag[at] != '\'' {
			at++
		}
		if at >= len(tag) || start == at {
			break
		}
		length := bytes.IndexByte(tag[at+1:], tag[at])
		if length < 0 {
			break
		}
		if found == name {
			return start, Span{at + 1, at + 1 + length}, true
		}
		at += length + 2
	}
	return 0, Span{}, false
}

// nameEnd gives where the name of a start tag ends.
func nameEnd(tag []byte) int {
	at := 1
	for at < len(tag) && !space(tag[at]) && tag[at] != '>' && tag[at] != '/' {
		at++
	}
	return at
}

func space(c byte) bool { return c == ' ' || c == '\t' || c == '\r' || c == '\n' }

// Escape writes text as XML character data or an attribute's value.
func Escape(text string) string {
	var b strings.Builder
	if err := xml.EscapeText(&b, []byte(text)); err != nil {
		return "" // a strings.Builder takes all it is given
	}
	return b.String()
}

package formula

import (
	"errors"
	"strings"
)

// MaxLength bounds a formula's bytes. A cell may show 8192 characters of
// formula (ECMA-376 has no bound; the limit is common practice).
const MaxLength = 1 << 16

var (
	errLong         = errors.New("formula: too long")
	errUnterminated = errors.New("formula: a quote or bracket is not closed")
)

// Formula is a formula's text with its references found.
type Formula struct {
	text string
	refs []found
	// Calls are the functions it calls, in capitals, in order and with repeats.
	Calls []string
}

// found is a reference and where it stands.
type found struct {
	Ref
	start, end int
	prefix     string // the sheet as written, with its exclamation mark
}

// Parse finds the references in a formula.
func Parse(text string) (Formula, error) {
	f := Formula{text: text}
	if len(text) > MaxLength {
		return f, errLong
	}
	for at := 0; at < len(text); {
		next, err := f.token(at)
		if err != nil {
			return f, err
		}
		at = next
	}
	return f, nil
}

// Text is the formula as it was read.
func (f Formula) Text() string { return f.text }

// Refs gives the references in order.
func (f Formula) Refs() []Ref {
	refs := make([]Ref, len(f.refs))
	for i, r := range f.refs {
		refs[i] = r.Ref
	}
	return refs
}

// Map writes the formula with each reference replaced by what change makes of
// it. A reference that is not changed keeps its spelling. The sheet it names
// is not changed.
func (f Formula) Map(change func(Ref) (Ref, error)) (string, error) {
	var b strings.Builder
	last := 0
	for _, r := range f.refs {
		changed, err := change(r.Ref)
		if err != nil {
			return "", err
		}
		if changed == r.Ref {
			continue
		}
		b.WriteString(f.text[last:r.start])
		b.WriteString(r.prefix)
		switch {
		case changed.repeated && changed.Kind == Range:
			b.WriteString(changed.From.String() + ":" + r.prefix + changed.To.String())
		default:
			b.WriteString(changed.String())
		}
		last = r.end
	}
	if last == 0 {
		return f.text, nil
	}
	b.WriteString(f.text[last:])
	return b.String(), nil
}

// token reads what stands at a place and gives where the next begins.
func (f *Formula) token(at int) (int, error) {
	switch c := f.text[at]; {
	case c == '"':
		return quoted(f.text, at, '"')
	case c == '\'':
		end, err := quoted(f.text, at, '\'')
		if err != nil {
			return 0, err
		}
		if end < len(f.text) && f.text[end] == '!' {
			return f.qualified(at, end+1, strings.ReplaceAll(f.text[at+1:end-1], "''", "'"))
		}
		return end, nil
	case c == '[':
		return f.bracket(at)
	case c == '#':
		return errorLiteral(f.text, at), nil
	case c >= '0' && c <= '9' || c == '.':
		return f.number(at), nil
	case begins(f.text[at:]):
		return f.word(at)
	}
	return at + 1, nil
}

// quoted gives the place after a string in quotes, doubled ones being part of it.
func quoted(s string, at int, quote byte) (int, error) {
	for i := at + 1; i < len(s); i++ {
		if s[i] != quote {
			continue
		}
		if i+1 < len(s) && s[i+1] == quote {
			i++
			continue
		}
		return i + 1, nil
	}
	return 0, errUnterminated
}

// closed gives the place after a bracket and what it holds; an apostrophe
// takes the next character out of the count, as in structured references.
func closed(s string, at int) (int, error) {
	depth := 0
	for i := at; i < len(s); i++ {
		switch s[i] {
		case '\'':
			i++
		case '[':
			depth++
		case ']':
			if depth--; depth == 0 {
				return i + 1, nil
			}
		}
	}
	return 0, errUnterminated
}

// bracket reads a structured reference's brackets, or another workbook's
// number and the sheet after it.
func (f *Formula) bracket(at int) (int, error) {
	end, err := closed(f.text, at)
	if err != nil {
		return 0, err
	}
	sheet := run(f.text, end)
	if sheet < len(f.text) && f.text[sheet] == '!' {
		return f.qualified(at, sheet+1, f.text[at:sheet])
	}
	return end, nil
}

// errorLiteral passes #REF! and its like; a lone # is the spill operator.
func errorLiteral(s string, at int) int {
	for _, e := range []string{"#REF!", "#N/A", "#DIV/0!", "#NAME?", "#NULL!", "#NUM!", "#VALUE!", "#GETTING_DATA", "#SPILL!", "#CALC!"} {
		if strings.HasPrefix(strings.ToUpper(s[at:min(len(s), at+len(e))]), e) {
			return at + len(e)
		}
	}
	return at + 1
}

// number passes a number, or takes a reference to whole rows.
func (f *Formula) number(at int) int {
	if r, end, ok := lines(f.text, at); ok {
		f.refs = append(f.refs, found{Ref: r, start: at, end: end})
		return end
	}
	end := at
	for end < len(f.text) && (digit(f.text[end]) || f.text[end] == '.') {
		end++
	}
	if end < len(f.text) && (f.text[end] == 'e' || f.text[end] == 'E') {
		exp := end + 1
		if exp < len(f.text) && (f.text[exp] == '+' || f.text[exp] == '-') {
			exp++
		}
		if exp < len(f.text) && digit(f.text[exp]) {
			for end = exp; end < len(f.text) && digit(f.text[end]); {
				end++
			}
		}
	}
	return run(f.text, end) // a word glued to a number is neither reference nor formula
}

// word reads a name, a function, a sheet, a table or a reference.
func (f *Formula) word(at int) (int, error) {
	if r, end, ok := reference(f.text, at); ok {
		if end == len(f.text) || (f.text[end] != '!' && f.text[end] != '(' && f.text[end] != '[') {
			f.refs = append(f.refs, found{Ref: r, start: at, end: end})
			return end, nil
		}
	}
	if r, end, ok := lines(f.text, at); ok {
		f.refs = append(f.refs, found{Ref: r, start: at, end: end})
		return end, nil
	}
	end := run(f.text, at)
	name := f.text[at:end]
	switch {
	case end == len(f.text):
	case f.text[end] == '!':
		return f.qualified(at, end+1, name)
	case f.text[end] == '(':
		f.Calls = append(f.Calls, strings.ToUpper(name))
		return end + 1, nil
	case f.text[end] == '[':
		return closed(f.text, end)
	case f.text[end] == ':':
		if last := run(f.text, end+1); last > end+1 && last < len(f.text) && f.text[last] == '!' {
			return f.qualified(at, last+1, f.text[at:last])
		}
	}
	return end, nil
}

// qualified reads what stands after a sheet and its exclamation mark.
func (f *Formula) qualified(start, at int, sheet string) (int, error) {
	if at < len(f.text) && f.text[at] == '#' {
		return errorLiteral(f.text, at), nil
	}
	r, end, ok := reference(f.text, at)
	if !ok {
		r, end, ok = lines(f.text, at)
	}
	if !ok || end < len(f.text) && f.text[end] == '(' {
		return run(f.text, at), nil
	}
	prefix := f.text[start:at]
	r.External = strings.Contains(sheet, "[")
	r.Sheet, r.LastSheet, _ = strings.Cut(sheet, ":")
	if r.Kind == Cell && strings.HasPrefix(f.text[end:], ":"+prefix) {
		// Sheet!A1:Sheet!B2 is the same as Sheet!A1:B2.
		if last, n, ok := reference(f.text, end+1+len(prefix)); ok && last.Kind == Cell {
			r.Kind, r.To, r.repeated, end = Range, last.From, true, n
		}
	}
	f.refs = append(f.refs, found{Ref: r, start: start, end: end, prefix: prefix})
	return end, nil
}

package formula

import (
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// reference reads A1, A1:B2 or A:B.
func reference(s string, at int) (Ref, int, bool) {
	end := run(s, at)
	if c, ok := corner(s[at:end]); ok {
		if last, ok := colon(s, end); ok {
			if n := run(s, last); n == len(s) || s[n] != '(' && s[n] != '!' {
				if d, ok := corner(s[last:n]); ok {
					return Ref{Kind: Range, From: c, To: d}, n, true
				}
			}
		}
		return Ref{Kind: Cell, From: c, To: c}, end, true
	}
	from, ok := columnEnd(s[at:end])
	last, colon := colon(s, end)
	if !ok || !colon {
		return Ref{}, at, false
	}
	n := run(s, last)
	to, ok := columnEnd(s[last:n])
	if !ok || n < len(s) && (s[n] == '(' || s[n] == '!') {
		return Ref{}, at, false
	}
	return Ref{Kind: Columns, From: from, To: to}, n, true
}

// colon gives the place after a colon, blanks round it allowed.
func colon(s string, at int) (int, bool) {
	for at < len(s) && s[at] == ' ' {
		at++
	}
	if at >= len(s) || s[at] != ':' {
		return at, false
	}
	for at++; at < len(s) && s[at] == ' '; {
		at++
	}
	return at, true
}

// lines reads whole rows: 3:7, $3:$7.
func lines(s string, at int) (Ref, int, bool) {
	from, end, ok := rowEnd(s, at)
	if !ok {
		return Ref{}, at, false
	}
	last, ok := colon(s, end)
	if !ok {
		return Ref{}, at, false
	}
	to, n, ok := rowEnd(s, last)
	if !ok || n < len(s) && (s[n] == '.' || begins(s[n:])) {
		return Ref{}, at, false
	}
	return Ref{Kind: Rows, From: from, To: to}, n, true
}

func rowEnd(s string, at int) (Corner, int, bool) {
	c := Corner{}
	if at < len(s) && s[at] == '$' {
		c.FixRow = true
		at++
	}
	end := at
	for end < len(s) && digit(s[end]) {
		end++
	}
	c.Row = rowNumber(s[at:end])
	return c, end, c.Row > 0
}

func columnEnd(s string) (Corner, bool) {
	c := Corner{FixCol: strings.HasPrefix(s, "$")}
	c.Col = ParseColumn(strings.TrimPrefix(s, "$"))
	return c, c.Col > 0
}

// corner reads A1 with its dollar signs, the whole of s.
func corner(s string) (Corner, bool) {
	var c Corner
	rest := strings.TrimPrefix(s, "$")
	c.FixCol = rest != s
	n := 0
	for n < len(rest) && letter(rest[n]) {
		n++
	}
	c.Col = ParseColumn(rest[:n])
	digits := strings.TrimPrefix(rest[n:], "$")
	c.FixRow = digits != rest[n:]
	c.Row = rowNumber(digits)
	return c, c.Col > 0 && c.Row > 0
}

func rowNumber(s string) int {
	if s == "" || len(s) > 7 || s[0] == '0' {
		return 0
	}
	for i := range len(s) {
		if !digit(s[i]) {
			return 0
		}
	}
	n, err := strconv.Atoi(s)
	if err != nil || n > MaxRow {
		return 0
	}
	return n
}

func digit(c byte) bool  { return c >= '0' && c <= '9' }
func letter(c byte) bool { return c >= 'a' && c <= 'z' || c >= 'A' && c <= 'Z' }

// begins says whether a word may begin here.
func begins(s string) bool {
	r, _ := utf8.DecodeRuneInString(s)
	return r == '$' || r == '_' || r == '\\' || unicode.IsLetter(r)
}

// run gives the end of the characters that words, sheets and references are made of.
func run(s string, at int) int {
	for at < len(s) {
		r, n := utf8.DecodeRuneInString(s[at:])
		if r != '$' && r != '_' && r != '\\' && r != '.' && r != '?' && !unicode.IsLetter(r) && !unicode.IsDigit(r) && !unicode.IsMark(r) {
			return at
		}
		at += n
	}
	return at
}

package table

import (
	"strings"
	"unicode/utf8"
)

// A cell of a CSV file that begins with = + - @, a tab or a line break is a
// formula to a spreadsheet, and so is what stands behind a separator once the
// file is opened with the wrong one. Guard and Unguard close that way: OWASP,
// CSV Injection; ASVS 1.2.10. The wide forms are those of East Asian text,
// which some spreadsheets fold.
const (
	guard = '\''
	// formulaSigns begin a formula; startsFormula may also hide one at a cell's start.
	formulaSigns  = "=+-@＝＋－＠"
	startsFormula = formulaSigns + "\t\r\n"
	// opensCell are the characters behind which another cell may begin.
	opensCell = ",;\t\r\n\"|"
	// blanks ahead of a cell's text are let go by some spreadsheets.
	blanks = " \u00a0\u3000"
)

// Guard puts an apostrophe wherever a spreadsheet might take what follows for
// a formula. Unguard takes it away again.
func Guard(s string) string {
	if !endangered(s) {
		return s
	}
	return rewrite(s, func(b *strings.Builder, guards int) {
		for range guards + 1 {
			b.WriteByte(guard)
		}
	})
}

// endangered says whether something in s may begin a formula where a cell may begin.
func endangered(s string) bool {
	opens, leading, dangerous := true, true, startsFormula
	for _, c := range s {
		if opens {
			if c == guard {
				continue
			}
			if strings.ContainsRune(dangerous, c) {
				return true
			}
		}
		dangerous = formulaSigns
		leading = leading && strings.ContainsRune(blanks, c)
		opens = leading || c < utf8.RuneSelf && opensASCII[c]
	}
	return false
}

// opensASCII looks up opensCell, for it is asked of every character written.
var opensASCII = func() (t [utf8.RuneSelf]bool) {
	for _, c := range opensCell {
		t[c] = true
	}
	return t
}()

// Unguard takes away one apostrophe wherever Guard would have put one.
func Unguard(s string) string {
	if strings.IndexByte(s, guard) < 0 {
		return s
	}
	return rewrite(s, func(b *strings.Builder, guards int) {
		for range guards - 1 {
			b.WriteByte(guard)
		}
	})
}

// rewrite copies s and lets put write the apostrophes ahead of each character
// that may begin a formula where a cell may begin, told how many there are.
func rewrite(s string, put func(b *strings.Builder, guards int)) string {
	var b strings.Builder
	b.Grow(len(s) + 1)
	opens, guards, dangerous := true, 0, startsFormula
	leading := true // nothing but blanks so far
	for _, c := range s {
		if opens && c == guard {
			guards++
			continue
		}
		if opens && strings.ContainsRune(dangerous, c) {
			put(&b, guards)
		} else {
			for range guards {
				b.WriteByte(guard)
			}
		}
		guards, dangerous = 0, formulaSigns
		b.WriteRune(c)
		leading = leading && strings.ContainsRune(blanks, c)
		opens = leading || strings.ContainsRune(opensCell, c)
	}
	for range guards {
		b.WriteByte(guard)
	}
	return b.String()
}

package quantity

import (
	"fmt"
	"strings"
	"unicode"
	"unicode/utf8"
)

// oneSpelling brings characters that look alike to one: MICRO SIGN for GREEK
// SMALL LETTER MU, GREEK CAPITAL OMEGA for OHM SIGN, blank for those that do
// not break a line.
var oneSpelling = strings.NewReplacer("\u03bc", "µ", "\u2126", "Ω", "\u2103", "°C", "\u00a0", " ", "\u202f", " ", "\u2009", " ", "\u2019", "'")

// trim cuts blanks off both ends, after bringing s to one spelling.
func trim(s string) string {
	for i := range len(s) {
		if s[i] >= utf8.RuneSelf && !micro(s, i) {
			s = oneSpelling.Replace(s)
			break
		}
	}
	return strings.TrimSpace(s)
}

// micro says whether the byte at i is one of a MICRO SIGN, which is as it should be.
func micro(s string, i int) bool {
	return s[i] == 0xb5 && i > 0 && s[i-1] == 0xc2 || s[i] == 0xc2 && i+1 < len(s) && s[i+1] == 0xb5
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// digitsAt counts the digits of s from i on.
func digitsAt(s string, i int) int {
	n := i
	for n < len(s) && isDigit(s[n]) {
		n++
	}
	return n - i
}

// number is a decimal number as it is written.
type number struct {
	whole, fraction string
	exponent        int
}

// scanNumber reads the number s begins with, 1,234.5E-03 say, and gives what
// follows it and one blank; or the trouble with its signs.
func scanNumber(s string, o Options) (n number, rest string, trouble string) {
	at := digitsAt(s, 0)
	n.whole = s[:at]
	if o.Grouping != "" && at > 0 && strings.HasPrefix(s[at:], o.Grouping) {
		if n.whole, at, trouble = scanGroups(s, at, o.Grouping); trouble != "" {
			return n, "", trouble
		}
	}
	if at < len(s) && (s[at] == '.' || s[at] == ',') {
		sign := s[at]
		count := digitsAt(s, at+1)
		n.fraction = s[at+1 : at+1+count]
		at += 1 + count
		if n.whole == "" && n.fraction == "" {
			return n, s, ""
		}
		if trouble = decimalSign(sign, n, o); trouble != "" {
			return n, "", trouble
		}
	}
	n.exponent, at = scanExponent(s, at)
	return n, strings.TrimPrefix(s[at:], " "), ""
}

// scanGroups reads on from the first group of digits, which ends at at, and
// gives all digits without their signs.
func scanGroups(s string, at int, sign string) (whole string, end int, trouble string) {
	first := at
	whole = s[:at]
	for strings.HasPrefix(s[at:], sign) {
		count := digitsAt(s, at+len(sign))
		if count == 0 && sign == " " {
			break // the blank ahead of a unit
		}
		if count != 3 || first > 3 {
			return "", 0, fmt.Sprintf("has a %q without three digits behind it, and it is declared to part off thousands", sign)
		}
		whole += s[at+len(sign) : at+len(sign)+3]
		at += len(sign) + 3
	}
	return whole, at, ""
}

// scanExponent reads an exponent with its sign and up to three digits at at,
// and gives where it ends.
func scanExponent(s string, at int) (int, int) {
	if at+2 >= len(s) || s[at] != 'e' && s[at] != 'E' || s[at+1] != '+' && s[at+1] != '-' {
		return 0, at
	}
	count := digitsAt(s, at+2)
	if count == 0 || count > 3 {
		return 0, at
	}
	v := 0
	for _, c := range []byte(s[at+2 : at+2+count]) {
		v = 10*v + int(c-'0')
	}
	if s[at+1] == '-' {
		v = -v
	}
	return v, at + 2 + count
}

// decimalSign gives the trouble with a decimal sign, "" where there is none.
func decimalSign(sign byte, n number, o Options) string {
	switch {
	case sign == ',' && !o.DecimalComma:
		return "has a comma, which may be a decimal sign or part off thousands; write a point, or declare the decimal comma"
	case sign == '.' && o.DecimalComma:
		return "has a point, which may part off thousands where the decimal comma is declared; write a comma, or declare what parts off thousands"
	case sign == '.' && o.DoubtPoint && len(n.fraction) == 3 && n.whole != "" && len(n.whole) <= 3 && n.whole[0] != '0':
		return "has a point ahead of three digits, which may be a decimal sign or part off thousands; declare which"
	}
	return ""
}

// lettered is a value with a letter for its decimal sign: 4n7, u47, 4k7Ω, 6V3.
type lettered struct{ whole, letter, fraction, rest string }

func splitLettered(s string) (lettered, bool) {
	var l lettered
	at := digitsAt(s, 0)
	l.whole = s[:at]
	c, size := utf8.DecodeRuneInString(s[at:])
	if !asciiLetter(c) && c != 'µ' && c != 'Ω' {
		return l, false
	}
	l.letter = s[at : at+size]
	at += size
	count := digitsAt(s, at)
	l.fraction = s[at : at+count]
	l.rest = strings.TrimPrefix(s[at+count:], " ")
	others := strings.ContainsFunc(l.rest, func(c rune) bool { return !asciiLetter(c) && c != 'Ω' })
	return l, count > 0 && !others
}

func asciiLetter(c rune) bool { return c < unicode.MaxASCII && unicode.IsLetter(c) }

// unsignedExponent says whether s is a number, an E and a digit.
func unsignedExponent(s string) bool {
	at := 0
	for at < len(s) && (isDigit(s[at]) || s[at] == '.' || s[at] == ',') {
		at++
	}
	return at > 0 && at+1 < len(s) && (s[at] == 'e' || s[at] == 'E') && isDigit(s[at+1])
}

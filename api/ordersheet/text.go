package ordersheet

import (
	"strconv"
	"strings"

	"coldrise/api/ordersheet/parts"
)

// unescaped reads the escapes of a string in a workbook: _x000D_ is a carriage
// return (ISO/IEC 29500-1, 22.9.2.19).
func unescaped(s string) string {
	if !strings.Contains(s, "_x") {
		return s
	}
	var b strings.Builder
	for i := 0; i < len(s); {
		if isEscape(s[i:]) {
			n, err := strconv.ParseUint(s[i+2:i+6], 16, 16)
			if err == nil {
				b.WriteRune(rune(n))
				i += 7
				continue
			}
		}
		b.WriteByte(s[i])
		i++
	}
	return b.String()
}

// isEscape says whether s begins with _xHHHH_.
func isEscape(s string) bool {
	if len(s) < 7 || s[0] != '_' || s[1] != 'x' || s[6] != '_' {
		return false
	}
	for _, c := range []byte(s[2:6]) {
		if !strings.ContainsRune("0123456789abcdefABCDEF", rune(c)) {
			return false
		}
	}
	return true
}

// escaped writes a text so that a workbook gives it back: a carriage return is
// escaped, and so is what reads like an escape.
func escaped(s string) string {
	var b strings.Builder
	for i, r := range s {
		switch {
		case r == '_' && isEscape(s[i:]):
			b.WriteString("_x005F_")
		case r == '\r': // XML would make a line feed of it
			b.WriteString("_x000D_")
		default:
			b.WriteRune(r)
		}
	}
	return parts.Escape(b.String())
}

// mayRun says whether a spreadsheet may take a text for a formula once someone
// edits the cell or saves it as CSV: it begins with one of = + - @ or a control
// character, also after blanks or in full-width form (OWASP, CSV Injection;
// ASVS 1.2.10).
func mayRun(text string) bool {
	first := strings.TrimLeft(text, " \u00a0\u3000")
	return first != "" && strings.ContainsRune("=+-@\t\r\n＝＋－＠", []rune(first)[0])
}

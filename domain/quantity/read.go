package quantity

import (
	"fmt"
	"math"
	"slices"
	"strconv"
	"strings"
)

// plain reads what most cells of most tables hold: digits and at most one
// point, in the reader's own unit. False leaves the value to read.
func (r *Reader) plain(s string) (float64, bool) {
	if !r.known || r.bare.power != r.in || r.bare.factor != 0 || len(s) > 15 {
		return 0, false
	}
	points, digits := 0, 0
	for i := range len(s) {
		switch {
		case s[i] >= '0' && s[i] <= '9':
			digits++
		case s[i] == '.' && !r.o.DecimalComma && !r.o.DoubtPoint && r.o.Grouping != ".":
			points++
		default:
			return 0, false
		}
	}
	if digits == 0 || points > 1 {
		return 0, false
	}
	v, err := strconv.ParseFloat(s, 64)
	return v, err == nil && (v > 0 || r.kind.zero)
}

// read gives the value, or the trouble with it.
func (r *Reader) read(s string) (float64, string) {
	s, trouble := clean(s)
	if trouble != "" {
		return 0, trouble
	}
	sign := 1.0
	if rest, minus := cutMinus(s); minus {
		if !r.kind.negative {
			return 0, "must not be negative"
		}
		sign, s = -1, rest
	} else if r.kind.negative {
		s = strings.TrimPrefix(s, "+")
	}
	if unsignedExponent(s) {
		return 0, "has an E that may be an exponent or a decimal sign; write the exponent with its sign, such as 4.7E-05"
	}
	if l, ok := splitLettered(s); ok && len(r.kind.letters) > 0 {
		v, trouble := r.lettered(l)
		return sign * v, trouble
	}
	n, rest, trouble := scanNumber(s, r.o)
	switch {
	case trouble != "":
		return 0, trouble
	case n.whole == "" && n.fraction == "", rest != "" && isDigit(rest[0]):
		return 0, "must be " + r.kind.expected
	}
	v, trouble := r.numbered(n, rest)
	return sign * v, trouble
}

func cutMinus(s string) (string, bool) {
	if rest, ok := strings.CutPrefix(s, "-"); ok {
		return rest, true
	}
	return strings.CutPrefix(s, "−")
}

func (r *Reader) lettered(l lettered) (float64, string) {
	exponent, ok := r.kind.letters[l.letter]
	if !ok && r.o.Legacy {
		exponent, ok = r.kind.legacyLetters[l.letter]
	}
	switch {
	case !ok:
		return 0, r.unknown(l.letter)
	case l.rest != "" && !slices.Contains(r.kind.ends, l.rest):
		return 0, r.unknown(l.rest)
	}
	return decimal(l.whole, l.fraction, exponent-r.in)
}

func (r *Reader) numbered(n number, in string) (float64, string) {
	m, ok := r.bare, r.known
	if in = strings.TrimSpace(in); in != "" {
		m, ok = r.kind.suffix(in, r.o.Legacy)
	} else if !ok && r.unit == Farad && !r.o.AskBare {
		// Old schematics write .047 and 0.1 for µF; common practice.
		if v, trouble := decimal(n.whole, n.fraction, n.exponent); trouble != "" || v >= 1 {
			return 0, "has no unit, and from 1 up may be in pF or in µF; write the unit, or declare what the column is in"
		}
		m, ok = multiple{power: -6}, true
	}
	switch {
	case !ok && in == "":
		return 0, "has no unit; write it, or declare what the column is in"
	case !ok:
		return 0, r.unknown(in)
	}
	v, trouble := decimal(n.whole, n.fraction, n.exponent+m.power-r.in)
	if m.factor != 0 {
		v = times(v, m.factor)
	}
	if math.IsInf(v, 0) {
		return 0, tooLarge
	}
	return v, trouble
}

// times multiplies as a person would, in decimal: 3 × 25.4 is 76.2, and not
// the binary number a little below it. Twelve digits are more than anybody measures.
func times(v, factor float64) float64 {
	v, err := strconv.ParseFloat(strconv.FormatFloat(v*factor, 'g', 12, 64), 64)
	if err != nil {
		return math.Inf(1)
	}
	return v
}

const tooLarge = "is too large for a number"

// decimal gives the float64 nearest to whole.fraction × 10^exponent.
func decimal(whole, fraction string, exponent int) (float64, string) {
	text := make([]byte, 0, maxRunes+8)
	text = append(append(append(append(text, '0'), whole...), '.'), fraction...)
	text = strconv.AppendInt(append(text, 'e'), int64(exponent), 10)
	v, err := strconv.ParseFloat(string(text), 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, tooLarge
	}
	return v, ""
}

func (r *Reader) unknown(in string) string {
	if why, ok := r.kind.doubts[in]; ok {
		return why
	}
	return fmt.Sprintf("has %q where its unit should be; must be %s", in, r.kind.expected)
}

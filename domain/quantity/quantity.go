// Package quantity reads and prints component values as the trade writes them:
// 47 µF, 4n7, .047, 20 MFD, 4k7, 6V3. Values are float64 in farad, ohm or volt.
//
// Letters in place of the decimal sign follow IEC 60062 (4n7, R47, 4k7). What
// may mean two values is refused and the doubt explained, unless Options
// settle it: a comma, a point where commas are declared, mF, a bare M, a bare
// number of farads from 1 up, an exponent without a sign.
//
// Preferred numbers are those of IEC 60063, tolerance letters and date codes those
// of IEC 60062.
package quantity

import (
	"encoding/json"
	"fmt"
	"math"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"unicode/utf8"

	"coldrise/domain/problem"
)

// Unit is what a value measures.
type Unit string

// The units.
const (
	Farad Unit = "F"
	Ohm   Unit = "Ω"
	Volt  Unit = "V" // direct voltage
)

// Options settle what a spelling leaves open. The zero value settles nothing.
type Options struct {
	// DecimalComma declares the comma the decimal sign: 0,047 is 0.047, and a point is refused.
	DecimalComma bool
	// Legacy declares old markings of capacitors: mF, mf and a bare M or m are microfarads.
	Legacy bool
	// Bare is what a capacitance without a unit is in: "pF", "nF", "µF" or "F".
	// Where empty, a bare number below 1 is in µF and any other is refused.
	Bare string
}

// Parse reads a value with nothing settled: see ParseWith.
func Parse(s string, unit Unit) (float64, error) { return ParseWith(s, unit, Options{}) }

// maxRunes is how long a spelling may be; what Print writes is shorter.
const maxRunes = 64

// ParseWith reads a value: in F and more than 0, in Ω and at least 0, or in V
// and more than 0; always finite, and the float64 nearest to what is written.
// The error is a *problem.Error, Invalid, whose one fault says what was
// expected and has no pointer: the caller knows where s stood.
func ParseWith(s string, unit Unit, o Options) (float64, error) {
	n, ok := nouns[unit]
	if !ok || o.Bare != "" && !slices.Contains([]string{"pF", "nF", "µF", "F"}, o.Bare) {
		panic(fmt.Sprintf("quantity: no unit %q or bare %q", unit, o.Bare))
	}
	v, trouble := read(s, unit, o)
	switch {
	case trouble != "":
	case v == 0 && unit != Ohm:
		trouble = "must be more than 0"
	default:
		return v, nil
	}
	l := &problem.List{}
	l.Add(problem.Fault{Message: trouble, Value: shown(s), Unit: string(unit)})
	return 0, l.Err(n)
}

var nouns = map[Unit]string{Farad: "capacitance", Ohm: "resistance", Volt: "voltage"}

func shown(s string) string {
	if r := []rune(s); len(r) > maxRunes {
		s = string(r[:maxRunes-1]) + "…"
	}
	text, err := json.Marshal(s)
	if err != nil {
		return ""
	}
	return string(text)
}

// oneSpelling brings characters that look alike to one: MICRO SIGN for GREEK
// SMALL LETTER MU, GREEK CAPITAL OMEGA for OHM SIGN, blank for those that do
// not break a line.
var oneSpelling = strings.NewReplacer("\u03bc", "µ", "\u2126", "Ω", "\u00a0", " ", "\u202f", " ", "\u2009", " ")

var (
	// 4n7, u47, 4k7Ω, 6V3: a letter stands for the decimal sign.
	lettered = regexp.MustCompile(`^([0-9]*)([a-zA-ZµΩ])([0-9]+) ?([a-zA-ZΩ]*)$`)
	// 47, .047, 0,047 µF, 4.7E-05: a number, then what it is in.
	numbered = regexp.MustCompile(`^([0-9]*)(?:([.,])([0-9]*))?(?:[eE]([+-][0-9]{1,3}))? ?([^0-9].*)?$`)
	unsigned = regexp.MustCompile(`^[0-9.,]+[eE][0-9]`)
)

// read gives the value, or the trouble with it.
func read(s string, unit Unit, o Options) (float64, string) {
	if !utf8.ValidString(s) || utf8.RuneCountInString(s) > maxRunes {
		return 0, fmt.Sprintf("must be text of at most %d characters", maxRunes)
	}
	s = strings.TrimSpace(oneSpelling.Replace(s))
	switch {
	case s == "":
		return 0, "must not be empty"
	case strings.HasPrefix(s, "-"), strings.HasPrefix(s, "−"):
		return 0, "must not be negative"
	case unsigned.MatchString(s):
		return 0, "has an E that may be an exponent or a decimal sign; write the exponent with its sign, such as 4.7E-05"
	}
	if m := lettered.FindStringSubmatch(s); m != nil {
		return readLettered(m[1], m[2], m[3], m[4], unit, o)
	}
	m := numbered.FindStringSubmatch(s)
	if m == nil || m[1] == "" && m[3] == "" {
		return 0, "must be " + expected[unit]
	}
	if trouble := decimalSign(m[2], o); trouble != "" {
		return 0, trouble
	}
	exponent := 0
	if m[4] != "" {
		exponent, _ = strconv.Atoi(m[4]) // a sign and up to three digits
	}
	return readNumbered(m[1], m[3], exponent, m[5], unit, o)
}

var expected = map[Unit]string{
	Farad: "a number with its unit, such as 47 µF, 4n7 or 20 MFD",
	Ohm:   "a number with its unit, such as 4k7, 220R or 1 MΩ",
	Volt:  "a number of volts, such as 450 V, 6V3 or 1.5 kV",
}

func decimalSign(sign string, o Options) string {
	switch {
	case sign == "," && !o.DecimalComma:
		return "has a comma, which may be a decimal sign or part off thousands; write a point, or declare the decimal comma"
	case sign == "." && o.DecimalComma:
		return "has a point, which may part off thousands where the decimal comma is declared; write a comma"
	}
	return ""
}

func readLettered(whole, letter, fraction, rest string, unit Unit, o Options) (float64, string) {
	exponent, ok := letters[unit][letter]
	if !ok && o.Legacy {
		exponent, ok = legacyLetters[unit][letter]
	}
	switch {
	case !ok:
		return 0, unknown(letter, unit)
	case rest != "" && !slices.Contains(ends[unit], rest):
		return 0, unknown(rest, unit)
	}
	return decimal(whole, fraction, exponent)
}

func readNumbered(whole, fraction string, exponent int, in string, unit Unit, o Options) (float64, string) {
	in = strings.TrimSpace(in)
	if in == "" && unit == Farad {
		in = o.Bare
		if in == "" {
			v, trouble := decimal(whole, fraction, exponent)
			if trouble == "" && v >= 1 {
				return 0, "has no unit, and from 1 up may be in pF or in µF; write the unit"
			}
			in = "µF"
		}
	}
	shift, ok := suffixes[unit][in]
	if !ok && o.Legacy {
		shift, ok = legacySuffixes[unit][in]
	}
	if !ok {
		return 0, unknown(in, unit)
	}
	return decimal(whole, fraction, exponent+shift)
}

// decimal gives the float64 nearest to whole.fraction × 10^exponent.
func decimal(whole, fraction string, exponent int) (float64, string) {
	v, err := strconv.ParseFloat(fmt.Sprintf("0%s.%se%d", whole, fraction, exponent), 64)
	if err != nil || math.IsInf(v, 0) {
		return 0, "is too large for a number"
	}
	return v, ""
}

func unknown(in string, unit Unit) string {
	if why, ok := doubts[unit][in]; ok {
		return why
	}
	return fmt.Sprintf("has %q where its unit should be; must be %s", in, expected[unit])
}

package quantity

import (
	"math"
	"strconv"
	"strings"
)

// step is a prefix and the power of ten it stands for.
type step struct {
	prefix string
	letter string // in place of the decimal sign
	power  int
}

// steps of each unit, ascending. Farads stop at µ: mF is what Parse refuses,
// and the trade counts in µF however many.
var steps = map[Unit][]step{
	Farad: {{"p", "p", -12}, {"n", "n", -9}, {"µ", "µ", -6}},
	Ohm:   {{"", "R", 0}, {"k", "k", 3}, {"M", "M", 6}, {"G", "G", 9}},
	Volt:  {{"", "V", 0}, {"k", "k", 3}},
}

// Print writes v, in F, Ω or V, with the prefix that leaves one to three
// digits before the point where there is one: "4.7 nF", "47 µF", "8.2 kΩ".
// Digits is how many significant digits to round to; at 0 all that tell v from
// its neighbours are written, and Parse gives v back. What is not finite, or
// is negative, is no component value and is printed as "?".
func Print(v float64, unit Unit, digits int) string {
	s, mantissa, ok := engineering(v, unit, digits)
	if !ok {
		return "?"
	}
	return mantissa + " " + s.prefix + string(unit)
}

// RKM writes v by IEC 60062, with a letter in place of the decimal sign:
// "4n7", "47µ", "4k7", "R47", "6V3". Parse gives v back.
func RKM(v float64, unit Unit) string {
	s, mantissa, ok := engineering(v, unit, 0)
	if !ok {
		return "?"
	}
	whole, fraction, _ := strings.Cut(mantissa, ".")
	if whole == "0" && fraction != "" {
		whole = ""
	}
	return whole + s.letter + fraction
}

// engineering gives the step for v and the decimal digits before its prefix.
func engineering(v float64, unit Unit, digits int) (step, string, bool) {
	all := steps[unit]
	if len(all) == 0 || math.IsNaN(v) || math.IsInf(v, 0) || v < 0 {
		return step{}, "", false
	}
	if v == 0 {
		return all[0], "0", true
	}
	// The digits are shifted as text, so that no division spoils them.
	text := strconv.FormatFloat(v, 'e', max(digits, 0)-1, 64)
	mantissa, exponent, _ := strings.Cut(text, "e")
	power, err := strconv.Atoi(exponent)
	if err != nil {
		return step{}, "", false
	}
	chosen := all[0]
	for _, s := range all {
		if power >= s.power {
			chosen = s
		}
	}
	return chosen, shift(strings.Replace(mantissa, ".", "", 1), power-chosen.power), true
}

// shift puts the point of d.ddd × 10^power into its digits.
func shift(digits string, power int) string {
	digits = strings.TrimRight(digits, "0")
	switch point := power + 1; {
	case point <= 0:
		return "0." + strings.Repeat("0", -point) + digits
	case point >= len(digits):
		return digits + strings.Repeat("0", point-len(digits))
	default:
		return digits[:point] + "." + digits[point:]
	}
}

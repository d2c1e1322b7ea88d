// Package quantity reads and prints component values as the trade writes them:
// 47 µF, 4n7, .047, 20 MFD, 4k7, 6V3, 240 mA, ±20 %, 25 × 50 mm, -40/+105 °C.
//
// Letters in place of the decimal sign follow IEC 60062 (4n7, R47, 4k7). What
// may mean two values is refused and the doubt explained, unless Options
// settle it: a comma, a point where commas are declared, mF, a bare M, a bare
// number of farads from 1 up, a bare current, an exponent without a sign.
//
// Preferred numbers are those of IEC 60063, tolerance letters and date codes those
// of IEC 60062.
package quantity

import (
	"encoding/json"
	"fmt"
	"unicode/utf8"

	"coldrise/domain/problem"
)

// Unit is what a value measures.
type Unit string

// The units.
const (
	Farad   Unit = "F"
	Ohm     Unit = "Ω"
	Volt    Unit = "V"    // direct voltage
	VoltAC  Unit = "V AC" // alternating voltage, RMS
	Ampere  Unit = "A"
	Hertz   Unit = "Hz"
	Metre   Unit = "m"
	Hour    Unit = "h"
	Day     Unit = "d"
	Celsius Unit = "°C" // a temperature, which may be below 0
	Kelvin  Unit = "K"  // a difference of temperatures
	Percent Unit = "%"
	One     Unit = "" // a number of things, a ratio
)

// Options settle what a spelling leaves open. The zero value settles nothing.
type Options struct {
	// DecimalComma declares the comma the decimal sign: 0,047 is 0.047, and a point is refused.
	DecimalComma bool
	// Grouping is the sign declared to part off thousands: ".", ",", "'" or " ",
	// which stands for every kind of blank. It may not be the decimal sign.
	Grouping string
	// DoubtPoint refuses a lone point ahead of three digits, such as 1.234: nobody
	// has declared whether it parts off thousands.
	DoubtPoint bool
	// Legacy declares old markings of capacitors: mF, mf and a bare M or m are microfarads.
	Legacy bool
	// Bare is what a number without a unit is in, by one of the unit's spellings:
	// "pF", "µF", "mA", "in". Where empty, volts, ohms, hertz, °C, kelvin, per
	// cent, hours, days and numbers are taken as they are; a capacitance below 1
	// is in µF; a capacitance from 1 up, a current and a length are refused.
	Bare string
	// AskBare refuses a number without a unit where Bare is empty, whatever the
	// unit: for what lists give in more than one, such as ESR in Ω and mΩ.
	AskBare bool
}

// Parse reads a value with nothing settled: see ParseWith.
func Parse(s string, unit Unit) (float64, error) { return ParseWith(s, unit, Options{}) }

// ParseWith reads a value in the unit itself: in F, Ω, V, A and so on. See
// Reader for what is taken.
func ParseWith(s string, unit Unit, o Options) (float64, error) {
	r := NewReader(unit, "", o)
	return r.Read(s)
}

// Knows says whether spelling is a way to write the unit or a multiple of it,
// and so may be a Reader's or an Options.Bare.
func (u Unit) Knows(spelling string) bool {
	k, ok := kinds[u]
	if !ok {
		return false
	}
	_, ok = k.suffix(oneSpelling.Replace(spelling), false)
	return ok
}

// Reader reads values of one unit, all spelled under the same Options.
type Reader struct {
	kind  *kind
	unit  Unit
	o     Options
	in    int      // the power of ten of what values are given in
	bare  multiple // what a number without a unit is in
	known bool     // whether bare is
}

// NewReader makes a Reader whose values are given in one of the unit's
// spellings, such as "µF" for Farad; "" is the unit itself. It panics where
// the unit or a spelling is none: see Knows.
func NewReader(unit Unit, in string, o Options) *Reader {
	k, ok := kinds[unit]
	if !ok {
		panic(fmt.Sprintf("quantity: no unit %q", unit))
	}
	r := &Reader{kind: k, unit: unit, o: o}
	if in != "" {
		m, ok := k.suffix(oneSpelling.Replace(in), false)
		if !ok || m.factor != 0 {
			panic(fmt.Sprintf("quantity: %q is no power of ten of %q", in, unit))
		}
		r.in = m.power
	}
	r.bare, r.known = k.suffix(oneSpelling.Replace(o.Bare), false)
	if o.AskBare && o.Bare == "" {
		r.known = false
	}
	if o.Bare != "" && !r.known {
		panic(fmt.Sprintf("quantity: %q is no spelling of %q", o.Bare, unit))
	}
	return r
}

// Read gives the float64 nearest to what is written, in the reader's unit:
// finite; more than 0, or at least 0 for ohms, amperes, hertz, hours, days, K,
// per cent and numbers; any for °C. The error is a *problem.Error, Invalid,
// whose one fault says what was expected and has no pointer: the caller knows
// where s stood.
func (r *Reader) Read(s string) (float64, error) {
	if v, ok := r.plain(s); ok {
		return v, nil
	}
	v, trouble := r.read(s)
	switch {
	case trouble != "":
	case v == 0 && !r.kind.zero:
		trouble = "must be more than 0"
	default:
		return v, nil
	}
	return 0, fault(s, trouble, r.unit, r.kind.noun)
}

// fault makes the error of what could not be read.
func fault(s, trouble string, unit Unit, noun string) error {
	l := &problem.List{}
	l.Add(problem.Fault{Message: trouble, Value: shown(s), Unit: string(unit)})
	return l.Err(noun)
}

// maxRunes is how long a spelling may be; what Print writes is shorter.
const maxRunes = 64

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

// clean brings s to the spelling the tables know, or gives the trouble with it.
func clean(s string) (string, string) {
	if !utf8.ValidString(s) || utf8.RuneCountInString(s) > maxRunes {
		return "", fmt.Sprintf("must be text of at most %d characters", maxRunes)
	}
	if s = trim(s); s == "" {
		return "", "must not be empty"
	}
	return s, ""
}

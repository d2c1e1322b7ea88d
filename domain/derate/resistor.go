package derate

import (
	"math"

	"coldrise/domain/quantity"
)

// Resistor is one resistor, or several equal ones in series: a bleeder, a
// discharge resistor, the series resistor of reforming.
type Resistor struct {
	Ohm    float64 `json:"ohm" doc:"Of all pieces together"`
	Pieces int     `json:"pieces" doc:"Equal resistors in series"`
	// EachOhm is an E12 value (IEC 60063).
	EachOhm float64 `json:"each_ohm"`
	EachW   float64 `json:"each_w" doc:"Power rating of each"`
	EachV   float64 `json:"each_v" doc:"Voltage rating of each; the resistor's own sheet decides"`
}

// resistorSizes are the power ratings sold, the highest working voltage of each
// and the highest value. Common practice: metal film and oxide to 3 W, above it
// wire-wound, which is not made in high values. Makers differ, so the resistor's
// own sheet decides.
var resistorSizes = [...]struct{ w, v, ohm float64 }{
	{0.25, 250, 10e6}, {0.5, 350, 10e6}, {1, 350, 10e6}, {2, 500, 10e6}, {3, 500, 10e6},
	{5, 500, 33e3}, {7, 700, 33e3}, {10, 750, 33e3}, {17, 1000, 33e3}, {25, 1000, 33e3},
}

const (
	// resistorShare is the part of its power rating that a resistor in a warm
	// chassis is used to. Common practice.
	resistorShare = 0.5
	// mostPieces in series before a resistor is no longer practical.
	mostPieces = 4
	// ResistorTolPct is how far above its value a resistor may be, %: drawn ±10 %,
	// and old carbon ones drift upward. Common practice.
	ResistorTolPct = 10
)

// FitResistor gives the E12 resistor of at most maxOhm that stands workV, V,
// for good at half its power, and mostV for a moment, or for good where nothing
// better is known, at its whole power; with as few pieces in series as will do.
// False where none does.
func FitResistor(maxOhm, workV, mostV float64) (Resistor, bool) {
	return FitSeries(maxOhm, workV, mostV, 1)
}

// FitSeries is FitResistor with at least so many pieces: two across the line,
// so that one shorted piece leaves a resistor there.
func FitSeries(maxOhm, workV, mostV float64, least int) (Resistor, bool) {
	for pieces := least; pieces <= mostPieces; pieces++ {
		n := float64(pieces)
		each, ok := quantity.E12.AtMost(maxOhm / n)
		if !ok {
			return Resistor{}, false
		}
		work, most := workV*workV/(n*n*each), mostV*mostV/(n*n*each)
		for _, s := range resistorSizes {
			if work <= resistorShare*s.w && most <= s.w && mostV/n <= s.v && each <= s.ohm {
				return Resistor{Ohm: n * each, Pieces: pieces, EachOhm: each, EachW: s.w, EachV: s.v}, true
			}
		}
	}
	return Resistor{}, false
}

// The published limits of what may remain at a mains plug.
const (
	source60335 = "IEC 60335: capacitors above 0.1 µF fall below 34 V within 1 s of unplugging (secondary text)"
	source60950 = "IEC/UL 60950: to 37 % within 1 s, a time constant of 1 s at most (secondary text)"
	source62368 = "IEC 62368-1: 60 V, 2 s after unplugging, from 0.3 µF up (60 V from memory)"

	// FreeXUF is the capacitance across the line that needs no discharge, µF (IEC 60335).
	FreeXUF = 0.1
)

// PlugLimit is one published limit of discharge at the mains plug.
type PlugLimit struct {
	MaxOhm float64 `json:"max_ohm" doc:"The largest resistance across the line that keeps it"`
	// Have is the time to that voltage, or the time constant, with the resistance there is; nil where none is proven.
	HaveS      *float64 `json:"have_s,omitempty"`
	LimitS     float64  `json:"limit_s"`
	Kept       bool     `json:"kept"`
	Text       string   `json:"text"`
	Source     string   `json:"source"`
	FromMemory bool     `json:"from_memory,omitempty"`
}

// PlugLimits gives the limits for farad across a line of peakV, with ohm across
// it, both at the ends of their tolerance that discharge slowest; ohm 0 is
// nothing proven. Nothing up to FreeXUF is asked for anything.
func PlugLimits(farad, peakV, ohm float64) []PlugLimit {
	list := []PlugLimit{}
	if farad <= 0 || peakV <= 0 {
		return list
	}
	add := func(toV, seconds float64, text, source string, fromMemory bool) {
		perOhm := DischargeS(1, farad, peakV, toV)
		l := PlugLimit{MaxOhm: seconds / perOhm, LimitS: seconds, Text: text, Source: source, FromMemory: fromMemory}
		if ohm > 0 {
			have := ohm * perOhm
			l.HaveS, l.Kept = &have, have <= seconds
		}
		list = append(list, l)
	}
	if peakV > 34 {
		add(34, 1, "below 34 V within 1 s of unplugging", source60335, false)
	}
	add(peakV/math.E, 1, "time constant of 1 s at most", source60950, false)
	if farad >= 0.3e-6 && peakV > 60 {
		add(60, 2, "below 60 V within 2 s of unplugging", source62368, true)
	}
	return list
}

// The share of its voltage that a discharged wet electrolytic regains by itself.
const (
	RecoveryLow  = 0.10 // dielectric absorption of wet aluminium: 10 to 15 % (secondary text)
	RecoveryHigh = 0.15
)

package derate

import "math"

// TouchLimit is a limit of the current from line to chassis.
type TouchLimit struct {
	MA     float64 // RMS
	Source string
}

// The rules of touch current a policy may name.
const (
	ByRegion      = "by_region"
	ULHousehold   = "ul_household"
	Audio60065    = "iec_60065"
	Unearthed     = "iec_60950_unearthed"
	HandHeld      = "iec_60950_hand_held"
	EarthedOffice = "iec_60950_earthed"
)

// touchLimit gives the limit of a named rule. IEC 60065 gives a peak; for a
// sine that is 1/√2 of it, RMS.
func touchLimit(rule string) TouchLimit {
	switch rule {
	case ULHousehold:
		return TouchLimit{0.5, "UL, household, earthed: 0.5 mA; ANSI C101 the same for two-wire sets"}
	case Unearthed:
		return TouchLimit{0.25, "IEC 60950:1999, table 5A: 0.25 mA, not earthed"}
	case HandHeld:
		return TouchLimit{0.75, "IEC 60950:1999, table 5A: 0.75 mA, hand-held"}
	case EarthedOffice:
		return TouchLimit{3.5, "IEC 60950:1999, table 5A: 3.5 mA, other earthed equipment"}
	}
	return TouchLimit{0.7 / math.Sqrt2, "IEC 60065: 0.7 mA peak"}
}

// americanV is the highest nominal mains, V, of the systems where UL's limits
// rule: 100 to 127 V.
const americanV = 130

// TouchLimit gives the limit for an amplifier on a nominal mains: the policy's
// own figure where it has one, else its rule's; by region that is UL's up to
// 127 V nominal and IEC 60065's, which is for audio apparatus, above and where
// the mains is not known.
func (p Policy) TouchLimit(nominalV float64) TouchLimit {
	switch {
	case p.TouchMA > 0:
		return TouchLimit{p.TouchMA, "the policy's touch_ma"}
	case p.TouchRule != ByRegion && p.TouchRule != "":
		return touchLimit(p.TouchRule)
	case nominalV > 0 && nominalV <= americanV:
		return touchLimit(ULHousehold)
	}
	return touchLimit(Audio60065)
}

// ImpulseV gives the impulse voltage, V, that a class of IEC 60384-14 is proven
// at: X1 4 kV, X2 2.5 kV (Kyocera), Y1 8 kV, Y2 5 kV (UL 1414); above 1 µF that
// of X1, X2 and Y2 falls with the root of the capacitance (secondary text). 0
// for any other class.
func ImpulseV(class string, uf float64) float64 {
	v := map[string]float64{"X1": 4000, "X2": 2500, "Y1": 8000, "Y2": 5000}[class]
	if uf > 1 && class != "Y1" {
		v /= math.Sqrt(uf)
	}
	return v
}

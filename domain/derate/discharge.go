package derate

import "math"

// DischargeS gives the seconds a capacitor, F, takes through a resistance, Ω,
// from v0 to v: R·C·ln(v0/v). 0 where it stands at or below v already; +Inf
// never: a resistance, capacitance or voltage not above 0 gives 0. It holds
// for a path that is proven to be there. A data-sheet leakage is a maximum and
// no such path.
func DischargeS(rOhm, cF, v0, v float64) float64 {
	if rOhm <= 0 || cF <= 0 || v <= 0 || v0 <= v {
		return 0
	}
	return rOhm * cF * math.Log(v0/v)
}

// EnergyJ gives the energy a capacitor, F, holds at v volts: C·V²/2, J.
func EnergyJ(cF, v float64) float64 { return cF * v * v / 2 }

// StackSplit gives the largest share of a stack's voltage that one of n equal
// units can take while charging, where units divide it inversely to their
// capacitance: one unit at its lower tolerance, the others at their upper.
// Tolerances are positive figures in %. For two units of ±20 % it is 0.6.
// 1 for a single unit.
func StackSplit(tolMinusPct, tolPlusPct float64, n int) float64 {
	if n <= 1 {
		return 1
	}
	low, high := 1-tolMinusPct/100, 1+tolPlusPct/100
	return high / (high + float64(n-1)*low)
}

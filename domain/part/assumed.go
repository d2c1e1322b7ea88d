package part

// What is taken where neither a part nor its series gives a figure: the
// conservative end of what is published for aluminium electrolytics, so that a
// shop's plain file still gets an answer. Nothing is assumed of other
// constructions. Volts, capacitance, tolerance, temperature class, size and
// ripple current are never assumed.

// Surge factors of aluminium electrolytics against rated voltage: IEC 60384-1
// as two encyclopaedias give it, and Vishay 041/042/043 ASH (doc 28329) p.4
// for 160–250 V and 350–450 V. They are not monotonic at the boundary: a
// 315 V part may see 362.25 V, a 316 V part 347.6 V.
const (
	surgeBoundaryV  = 315.0
	surgeFactorLow  = 1.15
	surgeFactorHigh = 1.10
)

// SurgeFactor is the surge voltage of an electrolytic as a multiple of its
// rated voltage, where the maker marks none: 1.15 up to 315 V, 1.10 above.
func SurgeFactor(ratedV float64) float64 {
	if ratedV <= surgeBoundaryV {
		return surgeFactorLow
	}
	return surgeFactorHigh
}

// lowVoltageV is where small parts rated at high frequency end.
const lowVoltageV = 100

// assumedBaseHz: parts above 100 V are rated at 100 or 120 Hz, the higher being
// the harder (GE 23A/23B, table AP1). Smaller ones are often rated at 10 kHz
// and above, so that is taken of them.
func assumedBaseHz(ratedV float64) (hz float64, source string) {
	if ratedV > lowVoltageV {
		return 120, "GE 23A/23B, table AP1: 120 Hz is the base that asks more; common practice above 100 V"
	}
	return 10000, "common practice: parts up to 100 V may be rated at 10 kHz and above"
}

const sourceFrequency = "Vishay 056/057 PSM-SI, doc 28340, table 4; nothing granted above the base frequency"

// PublishedFrequency is the table that Vishay 056/057 PSM-SI (doc 28340, table
// 4) prints for a rated voltage, against 100 Hz.
func PublishedFrequency(ratedV float64) FrequencyTable {
	factors := [...]float64{0.86, 1.00, 1.13, 1.21, 1.29, 1.32, 1.35, 1.40} // above 100 V
	switch {
	case ratedV < 40:
		factors = [...]float64{0.93, 1.00, 1.04, 1.07, 1.11, 1.13, 1.15, 1.18} // 10 to 25 V
	case ratedV <= lowVoltageV:
		factors = [...]float64{0.91, 1.00, 1.05, 1.09, 1.13, 1.15, 1.18, 1.22} // 40 to 100 V
	}
	t := make(FrequencyTable, len(factors))
	for i, hz := range [...]float64{50, 100, 200, 400, 1000, 2000, 4000, 10000} {
		t[i] = FrequencyFactor{Hz: hz, Factor: factors[i]}
	}
	return t
}

// assumedFrequency gives the published table for a rated voltage against a
// base frequency; above the base no more than the rating is granted.
func assumedFrequency(ratedV, baseHz float64) FrequencyTable {
	// The base itself becomes a point, so that cutting at 1 bends the line there.
	t := withPoint(PublishedFrequency(ratedV), baseHz).Rebased(baseHz)
	for i := range t {
		t[i].Factor = min(t[i].Factor, 1)
	}
	return t
}

// withPoint gives a table with a point of its own line added at hz.
func withPoint(t FrequencyTable, hz float64) FrequencyTable {
	at := FrequencyFactor{Hz: hz, Factor: t.At(hz)}
	for i, row := range t {
		switch {
		case row.Hz == hz:
			return t
		case row.Hz > hz:
			return append(append(append(FrequencyTable{}, t[:i]...), at), t[i:]...)
		}
	}
	return append(t, at)
}

// assumedTanDelta is twice the highest loss factor in the published axial table.
const (
	assumedTanDelta = 0.20
	sourceTanDelta  = "twice the highest of the published axial table (Vishay ASH, doc 28329: 0.10); common practice"
)

// assumedLeakage is the most generous law a maker prints: Panasonic SU.
func assumedLeakage(ratedV float64) (l Leakage, source string) {
	if ratedV > lowVoltageV {
		return Leakage{PerCV: 0.06, PlusUA: 10, Minutes: 2}, "Panasonic SU, 160–450 V: 0.06·CV + 10 µA after 2 min"
	}
	return Leakage{PerCV: 0.03, FloorUA: 4, Minutes: 1}, "Panasonic SU: 0.03·CV or 4 µA after 1 min"
}

// assumedLeakageMin is after how long a bare leakage figure was read.
const (
	assumedLeakageMin = 5
	sourceLeakageMin  = "common practice; Vishay ASH prints 1 and 5 min"
)

// assumedLife is the least endurance that is offered.
const (
	assumedLifeH    = 1000
	sourceLifeH     = "common practice: the shortest endurance sold, 1000 h at max_c (Cosel's example takes it too)"
	sourceLifeC     = "common practice: life is rated at max_c"
	sourceLifeModel = "10 K rule (Rubycon technote, Cosel)"
	sourceRiseK     = "secondary text: 10 K for 85 °C series, 5 K for 105 °C, 3 K for 125 °C"
)

// assumedRiseK is the core's rise at rated ripple, by temperature class.
func assumedRiseK(maxC float64) float64 {
	switch {
	case maxC < 105:
		return 10
	case maxC < 125:
		return 5
	}
	return 3
}

// The constants of Jianghai's life model (Albertsen, 2018): a factor of 2 per
// 10 K of core rise, 4 above rated ripple on 105 °C parts; (U/U_rated)^-2.5
// down to 0.6 of the rated volts.
const (
	jianghaiRippleBase     = 2
	jianghaiRippleBaseOver = 4
	jianghaiExponent       = 2.5
	jianghaiFrom           = 0.6
	sourceJianghai         = "Jianghai, electrolytic capacitor lifetime estimation (Albertsen)"
)

// Storage: not needed within 2 years at 5 to 35 °C (a maker's text, quoted in a
// forum); CDE 1993 ends shelf life at 10 years.
const (
	assumedReformAfterYears = 2
	sourceReformAfter       = "a maker's text: no reforming needed within 2 years at 5 to 35 °C"
	assumedMaxYears         = 10
	sourceMaxYears          = "CDE 1993: 10 years is the end of shelf life"
)

package derate

import (
	"math"

	"coldrise/domain/part"
)

// The leakage that makers print of a new electrolytic at 20 °C and rated volts,
// by what was found in print.
const (
	sourceASH     = "Vishay 042/043 ASH, doc 28329 p.4: 0.009·CU + 10 µA after 1 min up to 385 V, + 200 µA at 400 and 450 V"
	sourceASH5    = "Vishay 042/043 ASH, doc 28329 p.4, column of 5 min: 0.002·CU + 100 µA, fitted to it (COMPUTED)"
	sourceRSU     = "Vishay 038 RSU, doc 28309: 0.01·CU or 3 µA after 2 min"
	sourceRSU5    = "Vishay 038 RSU, doc 28309: 0.002·CU + 3 µA after 5 min"
	sourceVintage = "a capacitor bridge's manual, quoted in a mailing list: k·C + 0.3 mA, k 0.01 to 0.04 by rated volts"
	sourceShelf   = "Vishay 056/057 PSM-SI, table 5: after storage and 30 min at rated volts, twice the limit of 5 min at most"
)

// lowVolts is up to where the small series' laws hold.
const lowVolts = 100

// NewLeakage is the law of the largest leakage a sound electrolytic shows after
// so many minutes at rated volts, and where it is printed. The law of the first
// minutes holds until five of them are over.
func NewLeakage(ratedV, minutes float64) (law part.Leakage, source string) {
	switch {
	case ratedV <= lowVolts && minutes >= 5:
		return part.Leakage{PerCV: 0.002, PlusUA: 3, Minutes: 5}, sourceRSU5
	case ratedV <= lowVolts:
		return part.Leakage{PerCV: 0.01, FloorUA: 3, Minutes: 2}, sourceRSU
	case ratedV <= 385:
		return part.Leakage{PerCV: 0.009, PlusUA: 10, Minutes: 1}, sourceASH
	case minutes >= 5:
		return part.Leakage{PerCV: 0.002, PlusUA: 100, Minutes: 5}, sourceASH5
	}
	return part.Leakage{PerCV: 0.009, PlusUA: 200, Minutes: 1}, sourceASH
}

// VintageLeakageUA is the limit that an old bench bridge's manual set for
// electrolytics in service, µA: k·C + 0.3 mA with k 0.01 mA/µF up to 100 V
// rated, 0.02 to 250 V, 0.025 to 350 V and 0.04 above.
func VintageLeakageUA(capacitanceUF, ratedV float64) float64 {
	k := 0.04
	switch {
	case ratedV <= 100:
		k = 0.01
	case ratedV <= 250:
		k = 0.02
	case ratedV <= 350:
		k = 0.025
	}
	return 1000 * (k*capacitanceUF + 0.3)
}

// leakageAt gives what a leakage at rated volts and 20 °C becomes at other
// volts and warmth: half at 70 % of rated volts, four times at 85 °C (secondary
// text), by straight line and by exponent between. Below 70 % nothing is
// published; half is kept.
func leakageAt(share, celsius float64) float64 {
	volts := math.Min(math.Max(0.5+(share-0.7)/0.6, 0.5), 1)
	return volts * math.Pow(4, (celsius-20)/65)
}

package published

import (
	"testing"
	"time"

	"coldrise/domain/derate"
	"coldrise/domain/part"
)

// reforming holds what a drawer part is told to get: the recipes as they come
// out, and the years at which the advice turns.
func reforming(t *testing.T) []value {
	policy := derate.Default()
	policy.StockYears = 60
	judge := func(years, ratedV float64, style part.Style) derate.StockAdvice {
		return derate.JudgeStock(derate.OldStock{Style: style, CapacitanceUF: 47, RatedV: ratedV, StoredYears: &years}, time.Time{}, policy)
	}
	recipe := func(years, ratedV float64, style part.Style) derate.Recipe {
		if r := judge(years, ratedV, style).Recipe; r != nil {
			return *r
		}
		t.Errorf("%g years at %g V: no recipe", years, ratedV)
		return derate.Recipe{}
	}
	quick, low := recipe(4, 450, part.Radial), recipe(4, 100, part.Radial)
	slow, slowLow, old := recipe(8, 450, part.Axial), recipe(8, 75, part.Axial), recipe(20, 450, part.Axial)
	return []value{
		within("eia815", "preconditioning up to 100 V, series Ω", low.Series.Ohm, 100, 0),
		within("eia815", "preconditioning above 100 V, series Ω", quick.Series.Ohm, 1000, 0),
		within("eia815", "preconditioning, h", quick.Minutes/60, 1, 0),
		// 1 Ω per applied volt, the E12 value at or above it.
		band("eia815", "discharge, Ω per applied volt", quick.Discharge.Ohm/450, 1, 1, 1.25),
		band("eia815", "rest, h, of 12 to 48", quick.RestHours, 12, 1, 4),
		within("cde1993", "re-ageing up to 75 V, series Ω", slowLow.Series.Ohm, 10e3, 0),
		within("cde1993", "re-ageing above 75 V, series Ω", slow.Series.Ohm, 100e3, 0),
		within("cde1993", "re-ageing, mA at most", slow.LimitMA, 1, 0),
		within("cde1993", "re-ageing, h at rated volts at least", slow.Minutes/60, 4, 0),
		within("cde1993", "years at which to test", turn(0, 9, func(y float64) bool { return judge(y, 450, part.Radial).Verdict == derate.StockReform }), 3, 1e-6),
		// 5 min and 1 min for each month of 20 years.
		within("forces", "min, less one per month stored", old.Minutes-20*12, 5, 1e-9),
		within("reformtext", "years without reforming at 35 °C", turn(0, 9, func(y float64) bool { return judge(y, 450, part.Radial).Verdict != derate.StockAsItIs }), 2, 1e-6),
		within("psmsi", "leakage after storage and 30 min, times the limit of 5 min", slow.RejectUA/slow.DoneUA, 2, 1e-12),
	}
}

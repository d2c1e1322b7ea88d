package published

import (
	"fmt"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/part"
)

// tenK is the life by the 10 K rule, h.
func tenK(ratedH, ratedC, ambientC float64) float64 {
	return derate.LifeH(part.LifeLaw{Model: part.TenKelvin, RatedH: ratedH, RatedC: ratedC}, ambientC, 1, 1)
}

func life(*testing.T) []value {
	rows := []value{
		percent("lifenote", "LX1: 2000 h at 105 °C, at 45 °C, h", tenK(2000, 105, 45), 128000, 1e-9),
		percent("german", "LX4: 2000 h at 105 °C, at 75 °C, h", tenK(2000, 105, 75), 16000, 1e-9),
		within("5ch", "LX5: 32 000 h, years", derate.Years(tenK(2000, 105, 65), 168), 3.6, 0.06),
		percent("piclist", "LX6: 1000 h at 85 °C, at 45 °C, h", tenK(1000, 85, 45), 16000, 1e-9),
		within("piclist", "LX6: a 105 °C part lasts times longer", tenK(1000, 105, 45)/tenK(1000, 85, 45), 4, 1e-12),
		within("cosel", "LX3: 8 h each at 45, 55 and 65 °C are worth a constant, °C", mixedC(), 57.2, 0.05),
		within("nichicon", "a life is cut at, years", derate.Years(1e9, 20), 15, 0),
		within("nichicon", "the formula holds from, °C", coolestC(), 40, 1e-6),
	}
	for _, x := range []struct{ c, h float64 }{{45, 64000}, {55, 32000}, {65, 16000}} {
		rows = append(rows, percent("cosel", fmt.Sprintf("LX2: 1000 h at 105 °C, at %g °C, h", x.c), tenK(1000, 105, x.c), x.h, 1e-9))
	}
	for _, x := range []struct{ c, h float64 }{{95, 4000}, {85, 8000}, {65, 32000}} {
		rows = append(rows, percent("5ch", fmt.Sprintf("LX5: 2000 h at 105 °C, at %g °C, h", x.c), tenK(2000, 105, x.c), x.h, 1e-9))
	}
	rows = append(rows, usefulLife()...)
	return append(rows, lifeConstants()...)
}

// mixedC is the constant ambient worth 45, 55 and 65 °C in turn, by LX2's part.
func mixedC() float64 {
	cold := derate.MixedH(tenK(1000, 105, 45), tenK(1000, 105, 55), 0.5)
	whole := derate.MixedH(cold, tenK(1000, 105, 65), 1.0/3)
	low, high := 45.0, 65.0
	for range 60 {
		if mid := (low + high) / 2; tenK(1000, 105, mid) > whole {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// coolestC is the ambient below which no more life is granted.
func coolestC() float64 {
	low, high := 0.0, 80.0
	for range 60 {
		if mid := (low + high) / 2; tenK(1000, 105, mid) >= tenK(1000, 105, 0) {
			low = mid
		} else {
			high = mid
		}
	}
	return low
}

// usefulLife holds one model, Jianghai's with ΔT0 = 5 K, against what sheets
// print of 40 °C with more than the rated ripple. No model gives all of them,
// so a band: it may fall short by a factor of three, and must not promise much
// more (LX7 to LX9).
func usefulLife() []value {
	at40 := func(ratedH, x float64) float64 {
		return derate.LifeH(part.LifeLaw{Model: part.TenKelvinRippleVoltage, RatedH: ratedH, RatedC: 85, CoreRiseK: 5,
			RippleBase: 2, RippleBaseOver: 2, VoltageExponent: 2.5, VoltageFrom: 0.6}, 40, x, 1)
	}
	return []value{
		band("eyd", "LX7: 12 000 h at 85 °C, at 40 °C with 1.4 × rated ripple, h", at40(12000, 1.4), 190000, 0.3, 1.1),
		band("oldash", "LX8: 15 000 h at 85 °C, at 40 °C with 1.8 × rated ripple, h", at40(15000, 1.8), 240000, 0.3, 1.1),
		band("oldash", "LX8: 10 000 h at 85 °C (450 V), at 40 °C with 1.8 × rated ripple, h", at40(10000, 1.8), 160000, 0.3, 1.1),
		band("oldash", "LX9: 5000 h at 85 °C, at 40 °C with 1.4 × rated ripple, h", at40(5000, 1.4), 120000, 0.3, 1.1),
	}
}

// lifeConstants are those of the models, as taken where a part gives none.
func lifeConstants() []value {
	law := func(maxC float64, model string) part.LifeLaw {
		p := plain(22, 450)
		p.MaxC, p.Life = &maxC, &part.Life{Model: model}
		return effective(p).Life
	}
	j := law(105, part.TenKelvinRippleVoltage)
	kv := j
	kv.RatedH = 1
	return []value{
		within("jianghai", "KV at 0.6 of the rated volts", derate.LifeH(kv, 105, 1, 0.6), 3.59, 0.002*3.59),
		within("jianghai", "KV below 0.6 is capped at", derate.LifeH(kv, 105, 1, 0.2), 3.59, 0.002*3.59),
		data("jianghai", "Ki", j.RippleBase, 2),
		data("jianghai", "Ki above rated ripple, 105 °C parts", j.RippleBaseOver, 4),
		data("jianghai", "exponent of the voltage term", j.VoltageExponent, 2.5),
		data("jianghai", "voltage term from, of the rated volts", j.VoltageFrom, 0.6),
		data("rubycon", "ΔT0 of most series, K", law(105, part.TenKelvinRipple).CoreRiseK, 5),
		data("endurance", "core rise at rated ripple, 85 °C series, K", law(85, part.TenKelvin).CoreRiseK, 10),
		data("endurance", "core rise at rated ripple, 125 °C series, K", law(125, part.TenKelvin).CoreRiseK, 3),
	}
}

// The second model keeps within the same band; it is no further value in print.
func TestTheRubyconFormKeepsBelowThePublishedUsefulLife(t *testing.T) {
	t.Parallel()
	for _, row := range []struct{ ratedH, x, printed float64 }{{12000, 1.4, 190000}, {15000, 1.8, 240000}, {10000, 1.8, 160000}, {5000, 1.4, 120000}} {
		h := derate.LifeH(part.LifeLaw{Model: part.TenKelvinRipple, RatedH: row.ratedH, RatedC: 85, CoreRiseK: 5}, 40, row.x, 1)
		if r := h / row.printed; r < 0.3 || r > 1.1 {
			t.Errorf("%g h at %g × rated ripple: %.3f of the printed %g h", row.ratedH, row.x, r, row.printed)
		}
	}
}

func derating(t *testing.T) []value {
	set := func(name string) derate.Policy {
		s, ok := derate.SetNamed(name)
		if !ok {
			t.Errorf("there is no set %s", name)
		}
		return s.Policy()
	}
	return []value{
		data("src", "share of the rated voltage, severe", set("unattended").WorkingShare, 0.70),
		data("src", "share of the rated voltage, benign", set("roadworthy").WorkingShare, 0.80),
		data("src", "below the upper category temperature, severe, K", set("unattended").TemperatureMarginK, 20),
		data("src", "below the upper category temperature, benign, K", set("roadworthy").TemperatureMarginK, 20),
	}
}

// condition holds the limits of what is fitted, by the reading at which the
// verdict turns; and what is taken of storage.
func condition(*testing.T) []value {
	judge := func(change func(*amp.Readings)) string {
		r := amp.Readings{}
		change(&r)
		return derate.JudgeCondition(derate.Examined{Role: amp.Smoothing, WorkingV: 300,
			Fitted: amp.Fitted{CapacitanceUF: 40, RatedV: 450, Readings: &r}}).Verdict
	}
	capacitance := func(share float64) string {
		return judge(func(r *amp.Readings) { r.CapacitanceUF, r.CapacitanceHz = ptr(40*share), ptr(100.0) })
	}
	sound := 0.10 / (2 * 3.141592653589793 * 100 * 40e-6)
	esr := func(times float64) string {
		return judge(func(r *amp.Readings) { r.ESROhm, r.ESRHz = ptr(sound*times), ptr(100.0) })
	}
	stored := effective(plain(22, 450))
	return []value{
		within("psmsi", "end of useful life: capacitance left", turn(0.3, 1, func(x float64) bool { return capacitance(x) != derate.CondReplace }), 0.70, 1e-6),
		within("psmsi", "end of useful life: times the ESR", turn(1, 6, func(x float64) bool { return esr(x) == derate.CondReplace }), 3, 1e-6),
		within("endurance", "end of life in design: capacitance left", turn(0.3, 1, func(x float64) bool { return capacitance(x) == derate.CondKeep }), 0.80, 1e-6),
		within("endurance", "end of life in design: times the ESR", turn(1, 6, func(x float64) bool { return esr(x) != derate.CondKeep }), 2, 1e-6),
		data("reformtext", "no reforming needed within, years", stored.ReformAfterYears.Value, 2),
		data("cde1993", "end of shelf life, years", stored.MaxYears.Value, 10),
		data("endurance", "dielectric absorption, least", derate.RecoveryLow, 0.10),
		data("endurance", "dielectric absorption, most", derate.RecoveryHigh, 0.15),
	}
}

// turn finds where a verdict turns from false to true between two readings.
func turn(low, high float64, is func(float64) bool) float64 {
	for range 60 {
		if mid := (low + high) / 2; is(mid) {
			high = mid
		} else {
			low = mid
		}
	}
	return high
}

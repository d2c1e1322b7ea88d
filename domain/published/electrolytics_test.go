package published

import (
	"fmt"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/part"
)

func ptr[T any](v T) *T { return &v }

// plain is an electrolytic of which only value and volts are known.
func plain(uf, ratedV float64) part.Part {
	return part.Part{Technology: part.Electrolytic, CapacitanceUF: uf, RatedV: ratedV}
}

func effective(p part.Part) part.Effective { return p.Effective(nil) }

func surgeAndRipple(t *testing.T) []value {
	surge := func(v float64) float64 { return effective(plain(22, v)).SurgeV.Value / v }
	rows := []value{
		within("iec60384", "surge over rated voltage up to 315 V", part.SurgeFactor(315), 1.15, 0),
		within("iec60384", "surge over rated voltage above 315 V", part.SurgeFactor(315.1), 1.10, 0),
		data("rnd", "a surge of the test, s", derate.Default().SurgeLimitS, 30),
		data("ash", "reverse voltage, V", reverseLimit(t), 1),
		// A bound: a 120 Hz rating allows 0.92 to 0.97 of itself at 100 Hz.
		band("ge", "ripple at 100 Hz on a 120 Hz base, table AP1", effective(plain(22, 450)).Frequency.At(100), 1, 0.92, 0.97),
		// Generally 30 to 40 % above the 100 Hz rating.
		band("endurance", "ripple allowed at 10 kHz over that at 100 Hz, above 100 V", part.PublishedFrequency(450).At(10000), 1, 1.30, 1.40),
	}
	for _, v := range []float64{160, 250} {
		rows = append(rows, within("ash", fmt.Sprintf("surge over rated voltage at %g V", v), surge(v), 1.15, 1e-12))
	}
	for _, v := range []float64{350, 385, 400, 450} {
		rows = append(rows, within("ash", fmt.Sprintf("surge over rated voltage at %g V", v), surge(v), 1.10, 1e-12))
	}
	// Table 4: what a part of unknown factors is granted, against 100 Hz. Its
	// rating is put at 10 kHz, so that nothing is cut off, and carried back.
	hz := []float64{50, 200, 400, 1000, 2000, 4000, 10000}
	for _, row := range []struct {
		ratedV float64
		k      []float64
	}{
		{450, []float64{0.86, 1.13, 1.21, 1.29, 1.32, 1.35, 1.40}},
		{63, []float64{0.91, 1.05, 1.09, 1.13, 1.15, 1.18, 1.22}},
		{25, []float64{0.93, 1.04, 1.07, 1.11, 1.13, 1.15, 1.18}},
	} {
		p := plain(22, row.ratedV)
		p.BaseHz = ptr(10000.0)
		table := effective(p).Frequency
		for i, k := range row.k {
			rows = append(rows, within("psmsi", fmt.Sprintf("ripple at %g Hz over that at 100 Hz, a %g V part", hz[i], row.ratedV), table.At(hz[i])/table.At(100), k, 1e-12))
		}
	}
	return rows
}

// reverseLimit is what a stack's unit is held to at switch-off.
func reverseLimit(t *testing.T) float64 {
	r := derate.Rated{Part: plain(22, 450)}
	r.Part.Tolerance = part.Within(20, 20)
	s := derate.Stress{Role: amp.Smoothing, Units: 2, ChargingShare: 1.2, RestShare: 1, DCV: 200}
	for _, c := range derate.Judge(s, r, derate.Default()).Checks {
		if c.Name == "reverse_voltage" {
			return c.Limit
		}
	}
	t.Error("a stack is not held to a reverse voltage")
	return 0
}

// ashRow is one row of the published axial table: leakage after 1 and 5 min,
// µA, maximum tan δ and typical ESR at 100 Hz.
type ashRow struct{ v, uf, uA1, uA5, tan, esr float64 }

var ash = []ashRow{
	{400, 6.8, 220, 110, 0.055, 11.5},
	{400, 10, 240, 110, 0.055, 7.5},
	{400, 15, 250, 110, 0.055, 5.0},
	{400, 22, 280, 120, 0.055, 3.5},
	{400, 33, 320, 130, 0.055, 2.3},
	{400, 47, 370, 140, 0.055, 1.7},
	{400, 68, 440, 150, 0.055, 1.2},
	{450, 6.8, 230, 110, 0.10, 22},
	{450, 10, 240, 110, 0.10, 15},
	{450, 15, 260, 110, 0.10, 10},
	{450, 22, 290, 120, 0.10, 6.8},
	{450, 33, 330, 130, 0.10, 4.5},
	{450, 47, 390, 140, 0.10, 3.2},
	{450, 68, 0, 160, 0.10, 2.2}, // its 460 µA after 1 min is a misprint: see TestMisprints
}

func axialTable(*testing.T) []value {
	var rows []value
	for _, r := range ash {
		name := fmt.Sprintf("%g µF %g V", r.uf, r.v)
		p := plain(r.uf, r.v)
		p.BaseHz, p.TanDelta = ptr(100.0), &r.tan
		// A maximum tan δ gives an ESR above the typical one: printed over computed is 0.85 to 1.
		rows = append(rows, band("ash", name+", ESR, Ω", effective(p).ESROhm.Value, r.esr, 1, 1/0.85))
		if r.uA1 > 0 {
			first, _ := derate.NewLeakage(r.v, 1)
			rows = append(rows, percent("ash", name+", leakage after 1 min, µA", first.UA(r.uf, r.v), r.uA1, 2.5))
		}
		fifth, _ := derate.NewLeakage(r.v, 5)
		rows = append(rows, within("ash", name+", leakage after 5 min, µA", fifth.UA(r.uf, r.v), r.uA5, 6))
	}
	return rows
}

func leakage(*testing.T) []value {
	rsu2, _ := derate.NewLeakage(50, 2)
	rsu5, _ := derate.NewLeakage(50, 5)
	ash1, _ := derate.NewLeakage(250, 1)
	ash450, _ := derate.NewLeakage(450, 1)
	high, low := effective(plain(10, 400)), effective(plain(100, 50))
	rows := []value{
		data("rsu", "2 min, share of CU", rsu2.PerCV, 0.01),
		data("rsu", "2 min, at least, µA", rsu2.FloorUA, 3),
		data("rsu", "5 min, share of CU", rsu5.PerCV, 0.002),
		data("rsu", "5 min, on top, µA", rsu5.PlusUA, 3),
		data("ash", "1 min up to 385 V, share of CU", ash1.PerCV, 0.009),
		data("ash", "1 min up to 385 V, on top, µA", ash1.PlusUA, 10),
		data("ash", "1 min at 400 and 450 V, on top, µA", ash450.PlusUA, 200),
		// 0.06·CV + 10 µA of 10 µF 400 V, and 0.03·CV of 100 µF 50 V: what is assumed of a part that gives no leakage.
		within("panasonic", "160 to 450 V, 0.06·CV + 10 µA", (high.LeakageUA.Value-10)/4000, 0.06, 1e-12),
		within("panasonic", "0.03·CV, 1 min", low.LeakageUA.Value/5000, 0.03, 1e-12),
		data("panasonic", "0.06·CV + 10 µA is after, min", high.LeakageMin.Value, 2),
		data("panasonic", "0.03·CV is after, min", low.LeakageMin.Value, 1),
	}
	for _, k := range []struct{ v, k float64 }{{100, 0.01}, {250, 0.02}, {350, 0.025}, {450, 0.04}} {
		slope := (derate.VintageLeakageUA(20, k.v) - derate.VintageLeakageUA(10, k.v)) / 10000
		rows = append(rows, within("bridge", fmt.Sprintf("mA per µF at %g V rated", k.v), slope, k.k, 1e-12))
	}
	return append(rows, within("bridge", "on top, mA", (2*derate.VintageLeakageUA(10, 450)-derate.VintageLeakageUA(20, 450))/1000, 0.3, 1e-12))
}

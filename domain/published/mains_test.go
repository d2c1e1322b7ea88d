package published

import (
	"context"
	"fmt"
	"math"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/quantity"
	"coldrise/domain/supply"
)

// mains holds the lines a supply is designed for where nobody states them.
func mains(t *testing.T) []value {
	lines := func(nominalV, hz float64) (high, low float64) {
		a, err := amp.Parse([]byte(fmt.Sprintf(`{"name":"t","mains":{"nominal_v":%g,"frequency_hz":%g},"supplies":[{"name":"HT",
		 "winding":{"connection":"centre_tapped","unloaded_v":300,"source_ohm":100},"rectifier":{"type":"silicon"},
		 "nodes":[{"name":"A","loads":[{"label":"stage","idle_ma":50,"at_v":380}]}]}]}`, nominalV, hz)))
		if err != nil {
			t.Fatal(err)
		}
		m, err := supply.NewModel(context.Background(), a, 0)
		if err != nil {
			t.Fatal(err)
		}
		return m.HighV, m.LowV
	}
	var rows []value
	for _, s := range []struct {
		source              string
		nominal, high, low_ float64
		hz                  float64
	}{{"ansi", 120, 127, 110, 60}, {"parrot", 230, 253, 207, 50}, {"bsi", 100, 110, 90, 50}} {
		high, low := lines(s.nominal, s.hz)
		rows = append(rows, within(s.source, fmt.Sprintf("high line on %g V", s.nominal), high, s.high, 1e-9),
			within(s.source, fmt.Sprintf("low line on %g V", s.nominal), low, s.low_, 1e-9))
	}
	return rows
}

// lineToChassis is the largest E6 value, nF, whose upper tolerance still passes.
func lineToChassis() float64 {
	most := derate.MaxLineToChassisUF(253, 50, derate.Policy{TouchRule: derate.Audio60065}.TouchLimit(230).MA)
	nF, ok := quantity.E6.AtMost(most * 1000 / 1.2)
	if !ok {
		return math.NaN()
	}
	return nF
}

func safety(*testing.T) []value {
	limit := func(rule string) float64 { return derate.Policy{TouchRule: rule}.TouchLimit(120).MA }
	const peak = 264 * math.Sqrt2
	plug := map[float64]float64{} // the largest resistance, by the voltage it must come down to
	for _, l := range derate.PlugLimits(0.22e-6, peak, 0) {
		to := 34.0
		if l.Source[:14] == "IEC/UL 60950: " {
			to = peak / math.E
		}
		plug[to] = l.MaxOhm
	}
	return []value{
		data("kyocera", "impulse, class X1, V", derate.ImpulseV("X1", 0.1), 4000),
		data("kyocera", "impulse, class X2, V", derate.ImpulseV("X2", 0.1), 2500),
		data("ul1414", "impulse, class Y1, V", derate.ImpulseV("Y1", 0.001), 8000),
		data("ul1414", "impulse, class Y2, V", derate.ImpulseV("Y2", 0.001), 5000),
		data("ulhome", "touch current at home, earthed, mA", limit(derate.ULHousehold), 0.5),
		data("iec60950", "touch current, not earthed, mA", limit(derate.Unearthed), 0.25),
		data("iec60950", "touch current, hand-held, mA", limit(derate.HandHeld), 0.75),
		data("iec60950", "touch current, other earthed, mA", limit(derate.EarthedOffice), 3.5),
		within("toshiba", "touch current of IEC 60065, mA peak", limit(derate.Audio60065)*math.Sqrt2, 0.7, 1e-12),
		within("reactance", "100 nF at 240 V, 50 Hz, mA", derate.TouchMA(240, 50, 0.1), 7.5, 0.05),
		percent("reactance", "100 nF at 50 Hz, kΩ", 240/derate.TouchMA(240, 50, 0.1), 31.8, 0.5),
		percent("diyaudio", "4.7 nF at 240 V, 50 Hz, mA", derate.TouchMA(240, 50, 0.0047), 0.354, 0.5),
		within("diyaudio", "largest E6 value of ±20 % from line to chassis under IEC 60065 on 253 V, nF", lineToChassis(), 4.7, 1e-9),
		data("plug60335", "capacitance across the line that needs no discharge, µF", derate.FreeXUF, 0.1),
		within("plug60335", "to 34 V with the largest resistance, s", derate.DischargeS(plug[34], 0.22e-6, peak, 34), 1, 1e-9),
		within("plug60950", "share left after 1 s with the largest resistance", math.Exp(-1/(plug[peak/math.E]*0.22e-6)), 0.37, 0.005),
	}
}

package catalogue_test

import (
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
)

// Positions as tube amplifiers have them, held against the whole starter
// catalogue by the default policy: each finds parts of two makers at least, so
// that a pick has an alternate. The stresses are common practice.
func TestStarterServesCommonPositionsWithASecondSource(t *testing.T) {
	t.Parallel()
	series, parts := starter(t)
	window := func(uf float64) derate.Window {
		return derate.Window{OriginalUF: uf, MinUF: 0.89 * uf, MinRule: "hum", MaxUF: 2.2 * uf, MaxRule: "2.2 × original"}
	}
	tests := []struct {
		name            string
		role            amp.Role
		uf              float64
		workingV, coldV float64
		hz, amps        float64
		ambientC        float64
	}{
		{"reservoir of a small single-ended amplifier", amp.Reservoir, 16, 310, 380, 120, 0.110, 50},
		{"reservoir of a push-pull amplifier, 495 V cold", amp.Reservoir, 47, 430, 495, 100, 0.250, 55},
		{"reservoir of 100 µF, 540 V cold", amp.Reservoir, 100, 470, 540, 120, 0.350, 55},
		{"preamplifier node floating up to the reservoir", amp.Smoothing, 22, 280, 495, 120, 0.004, 50},
		{"preamplifier node of 8 µF, 545 V cold", amp.Smoothing, 8, 300, 545, 120, 0.002, 50},
		{"unit of a stack at 60 % of 700 V", amp.Reservoir, 100, 380, 420, 120, 0.400, 55},
		{"bias, half wave", amp.Bias, 22, 55, 62, 60, 0.015, 50},
		{"bias behind a low supply", amp.Bias, 47, 44, 50, 50, 0.010, 50},
		{"cathode bypass", amp.CathodeBypass, 22, 12, 12, 200, 0.002, 50},
	}
	for _, tt := range tests {
		worst := derate.CasePeak{Title: "cold start at high line", V: tt.coldV, Mandatory: true}
		s := derate.Stress{Role: tt.role, WorkingV: tt.workingV, Peaks: []derate.CasePeak{worst}, Worst: worst,
			Ripple: []derate.Current{{Hz: tt.hz, A: tt.amps}}, RippleRMSA: tt.amps, AmbientC: tt.ambientC, Window: window(tt.uf)}
		makers := map[string]bool{}
		for _, p := range parts {
			if derate.Judge(s, derate.Rated{Part: p, Series: series[p.Series]}, derate.Default()).Pass && inStock(p) {
				makers[p.Maker] = true
			}
		}
		if len(makers) < 2 {
			t.Errorf("%s: only %v pass from stock", tt.name, makers)
		}
	}
}

// With the default touch current a 47 nF line-to-chassis position has no
// lawful part at its value, and one of 2.2 nF has.
func TestStarterHasNoPartForALargeLineToChassisValue(t *testing.T) {
	t.Parallel()
	series, parts := starter(t)
	passing := func(uf float64) int {
		s := derate.Stress{Role: amp.MainsY, MainsV: 127, MainsHz: 60, AmbientC: 50,
			Window: derate.Window{OriginalUF: uf, MinUF: 0.8 * uf, MinRule: "original", MaxUF: 1.2 * uf, MaxRule: "original"}}
		n := 0
		for _, p := range parts {
			if derate.Judge(s, derate.Rated{Part: p, Series: series[p.Series]}, derate.Default()).Pass {
				n++
			}
		}
		return n
	}
	if n := passing(0.047); n != 0 {
		t.Errorf("%d parts pass at 47 nF", n)
	}
	if n := passing(0.0022); n < 2 {
		t.Errorf("%d parts pass at 2.2 nF", n)
	}
}

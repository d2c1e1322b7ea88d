package derate

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"coldrise/domain/quantity"
)

func TestFitResistor(t *testing.T) {
	t.Parallel()
	for _, r := range []struct {
		what               string
		maxOhm, work, most float64
		want               Resistor
	}{
		// 297.8 kΩ brings 100 µF from 450 V to 60 V in 60 s (check-values.md 5.4,
		// COMPUTED); the E12 below is 270 kΩ, 0.75 W at 450 V: half of 2 W.
		{"100 µF at 450 V within 60 s", 297.8e3, 450, 450, Resistor{Ohm: 270e3, Pieces: 1, EachOhm: 270e3, EachW: 2, EachV: 500}},
		// At 560 V one 500 V piece no longer holds; two of 120 kΩ see 280 V each.
		{"above one piece's volts", 297.8e3, 450, 560, Resistor{Ohm: 240e3, Pieces: 2, EachOhm: 120e3, EachW: 1, EachV: 350}},
		{"a bias supply", 33e3, 50, 60, Resistor{Ohm: 33e3, Pieces: 1, EachOhm: 33e3, EachW: 0.25, EachV: 250}},
	} {
		if got, ok := FitResistor(r.maxOhm, r.work, r.most); !ok || got != r.want {
			t.Errorf("%s: %+v, want %+v", r.what, got, r.want)
		}
	}
	if got, ok := FitResistor(100, 500, 500); ok {
		t.Errorf("100 Ω across 500 V: %+v", got)
	}
}

// Whatever is given, each piece is an E12 value, the whole is not above what was
// asked, and no piece is over its volts or half its watts.
func TestFittedResistorsHold(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		maxOhm := math.Pow(10, rapid.Float64Range(2, 7).Draw(t, "decades"))
		work := rapid.Float64Range(10, 900).Draw(t, "work")
		most := work * rapid.Float64Range(1, 1.5).Draw(t, "cold")
		r, ok := FitResistor(maxOhm, work, most)
		if !ok {
			return
		}
		n := float64(r.Pieces)
		if near, _ := quantity.E12.Nearest(r.EachOhm); near != r.EachOhm || math.Abs(n*r.EachOhm-r.Ohm) > 1e-9*r.Ohm || r.Ohm > maxOhm*(1+1e-8) {
			t.Fatalf("%+v of at most %g Ω", r, maxOhm)
		}
		if most/n > r.EachV || work*work/r.Ohm/n > r.EachW/2*(1+1e-9) || most*most/r.Ohm/n > r.EachW*(1+1e-9) {
			t.Fatalf("%+v at %g V, %g V cold", r, work, most)
		}
	})
}

// Check-values.md 5.3 and 5.4: the limits by IEC 60335, IEC 60950 and (from
// memory) IEC 62368-1; RC for 264 V RMS is COMPUTED there, exact.
func TestPlugLimits(t *testing.T) {
	t.Parallel()
	peak := 264 * math.Sqrt2
	for _, r := range []struct {
		farad, peak float64
		want        []float64 // most R·C, s
	}{
		{0.47e-6, peak, []float64{0.41733, 1, 1.0940}},
		{0.22e-6, peak, []float64{0.41733, 1}},
		{0.22e-6, 30, []float64{1}},
	} {
		got := PlugLimits(r.farad, r.peak, 0)
		if len(got) != len(r.want) {
			t.Fatalf("%g F at %g V: %+v", r.farad, r.peak, got)
		}
		for i, l := range got {
			if rc := l.MaxOhm * r.farad; math.Abs(rc-r.want[i]) > 5e-5*r.want[i] || l.Kept || l.HaveS != nil || l.Source == "" {
				t.Errorf("%s: R·C at most %.5g s, want %g; with nothing proven kept %v", l.Text, rc, r.want[i], l.Kept)
			}
		}
	}
	// 1 MΩ across 0.47 µF: time constant 0.47 s; to 34 V from 373 V it takes 1.13 s.
	have := PlugLimits(0.47e-6, peak, 1e6)
	if have[0].Kept || math.Abs(*have[0].HaveS-1.1262) > 1e-3 || !have[1].Kept || !have[2].Kept {
		t.Errorf("1 MΩ across 0.47 µF: %+v", have)
	}
	if got := PlugLimits(0, peak, 1e6); len(got) > 0 {
		t.Errorf("nothing across the line: %+v", got)
	}
}

// Check-values.md 1.6: 10 to 15 % comes back, so a 450 V part recovers 45 to 67 V (COMPUTED).
func TestRecovery(t *testing.T) {
	t.Parallel()
	if low, high := RecoveryLow*450, RecoveryHigh*450; math.Abs(low-45) > 0.5 || math.Abs(high-67) > 0.6 {
		t.Errorf("450 V recovers %g to %g V", low, high)
	}
}

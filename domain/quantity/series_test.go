package quantity

import (
	"math"
	"testing"

	"pgregory.net/rapid"

	"coldrise/domain/problem"
)

// IEC 60063, by check-values.md 1.9.
func TestPreferredNumbers(t *testing.T) {
	t.Parallel()
	for _, r := range []struct {
		s                Series
		v, nearest, next float64
	}{
		{E3, 47e-6, 47e-6, 100e-6}, {E3, 32e-6, 22e-6, 47e-6}, {E3, 33e-6, 47e-6, 47e-6}, {E3, 80e-6, 100e-6, 100e-6},
		{E6, 16e-6, 15e-6, 22e-6}, {E6, 40e-6, 47e-6, 47e-6}, {E6, 50e-6, 47e-6, 68e-6}, {E6, 8e-6, 6.8e-6, 10e-6},
		{E12, 20e-9, 22e-9, 22e-9}, {E12, 8.2, 8.2, 10}, {E12, 9.9e3, 10e3, 10e3}, {E12, 1, 1, 1.2},
	} {
		if got, ok := r.s.Nearest(r.v); !ok || got != r.nearest {
			t.Errorf("E%d nearest to %g: %g, want %g", r.s, r.v, got, r.nearest)
		}
		if got, ok := r.s.Next(r.v); !ok || got != r.next {
			t.Errorf("E%d above %g: %g, want %g", r.s, r.v, got, r.next)
		}
	}
	for v, want := range map[float64]float64{297.8e3: 270e3, 270e3: 270e3, 9.99: 8.2, 10: 10, 12.1: 12, 1: 1} {
		if got, ok := E12.AtMost(v); !ok || got != want {
			t.Errorf("E12 at most %g: %g, want %g", v, got, want)
		}
	}
	for _, none := range []float64{0, -1, math.NaN(), math.Inf(1), 1e-310} {
		if got, ok := E6.Nearest(none); ok {
			t.Errorf("nearest to %g: %g", none, got)
		}
		if got, ok := E6.AtMost(none); ok {
			t.Errorf("at most %g: %g", none, got)
		}
		if got, ok := E6.Next(none); ok {
			t.Errorf("above %g: %g", none, got)
		}
	}
	if got, ok := Series(7).Nearest(1); ok {
		t.Errorf("E7 has %g", got)
	}
}

// Any value lies within the widest step of its series: its nearest preferred
// number is within the square root of that step, the next within the step.
func TestPreferredNumbersLieClose(t *testing.T) {
	t.Parallel()
	widest := map[Series]float64{E3: 22.0 / 10, E6: 15.0 / 10, E12: 15.0 / 12}
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.SampledFrom([]Series{E3, E6, E12}).Draw(t, "series")
		v := math.Pow(10, rapid.Float64Range(-15, 12).Draw(t, "decades"))
		near, ok := s.Nearest(v)
		if step := math.Sqrt(widest[s]) * (1 + 1e-9); !ok || near > v*step || near < v/step {
			t.Fatalf("E%d nearest to %g: %g", s, v, near)
		}
		next, ok := s.Next(v)
		if !ok || next <= v || next > v*widest[s]*(1+1e-8) {
			t.Fatalf("E%d above %g: %g", s, v, next)
		}
	})
}

// Check-values.md 1.9: M by Vishay's EYD sheet, T by its ASH and ALL-DIN
// sheets, J, K, Z by secondary text; Q and S FROM MEMORY.
func TestToleranceLetters(t *testing.T) {
	t.Parallel()
	for letter, want := range map[string]Tolerance{
		"J": {MinusPct: 5, PlusPct: 5}, "K": {MinusPct: 10, PlusPct: 10}, "M": {MinusPct: 20, PlusPct: 20}, "T": {MinusPct: 10, PlusPct: 50},
		"Z": {MinusPct: 20, PlusPct: 80}, "Q": {MinusPct: 10, PlusPct: 30, FromMemory: true}, "S": {MinusPct: 20, PlusPct: 50, FromMemory: true},
	} {
		got, ok := ToleranceOf(letter)
		if !ok || got.Source == "" {
			t.Errorf("%s: %+v, %v", letter, got, ok)
		}
		got.Source = ""
		if got != want {
			t.Errorf("%s: %+v, want %+v", letter, got, want)
		}
	}
	if _, ok := ToleranceOf("m"); ok {
		t.Error("a small m is no tolerance")
	}
}

func TestParseCode(t *testing.T) {
	t.Parallel()
	for _, r := range []struct {
		code   string
		farad  float64
		letter string
	}{
		{"473", 47e-9, ""}, {"473K", 47e-9, "K"}, {"104J", 100e-9, "J"}, {"470", 47e-12, ""}, {"100", 10e-12, ""}, {" 222M ", 2.2e-9, "M"},
		{"479", 4.7e-12, ""}, {"508", 0.5e-12, ""}, {"106", 10e-6, ""},
	} {
		farad, letter, err := ParseCode(r.code)
		if err != nil || farad != r.farad || letter != r.letter {
			t.Errorf("%q: %g F, %q, %v; want %g F, %q", r.code, farad, letter, err, r.farad, r.letter)
		}
	}
	for _, bad := range []string{"", "47", "4730", "047", "477", "473X", "47KK", "4n7", "-47", "473µ"} {
		if farad, _, err := ParseCode(bad); problem.As(err) == nil || problem.CodeOf(err) != problem.Invalid {
			t.Errorf("%q: %g F, %v", bad, farad, err)
		}
	}
}

package derate_test

import (
	"strings"
	"testing"

	"coldrise/domain/derate"
	"coldrise/domain/part"
	"pgregory.net/rapid"
)

// Two units of 0.8 and 1.2 times their value, 500 V shared alike at rest: the
// same charge leaves both, so the smaller ends at 250 − 0.6 × 500 = −50 V.
func TestASmallerUnitIsDrivenTheWrongWayAtSwitchOff(t *testing.T) {
	t.Parallel()
	near(t, "two of ±20 %, 500 V", derate.ReverseV(500, derate.StackSplit(20, 20, 2), 2), 50, 1e-9)
	near(t, "matched", derate.ReverseV(500, 0.5, 2), 0, 0)
	near(t, "a single capacitor", derate.ReverseV(500, 1, 1), 0, 0)
	near(t, "three of ±10 %, 900 V", derate.ReverseV(900, derate.StackSplit(10, 10, 3), 3), 900*(1.1/(1.1+1.8)-1.0/3), 1e-9)
}

// The same by charges: whatever units are drawn, none ends further the wrong way.
func TestNoUnitOfATolerancesEndsFurtherTheWrongWay(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n, pct := rapid.IntRange(2, 4).Draw(t, "n"), float(t, "tolerance", 0, 40)
		inverse := 0.0
		var units []float64
		for range n {
			c := float(t, "c", 1-pct/100, 1+pct/100)
			units, inverse = append(units, c), inverse+1/c
		}
		charge := 600 / inverse // that leaves every unit until the stack is empty
		for _, c := range units {
			if back := charge/c - 600/float64(n); back > derate.ReverseV(600, derate.StackSplit(pct, pct, n), n)+1e-9 {
				t.Fatalf("%g V the wrong way", back)
			}
		}
	})
}

func TestReverseVoltageOfAStackIsAdvice(t *testing.T) {
	t.Parallel()
	s, r := smoothing(), axial()
	if found := named(derate.Judge(s, r, derate.Default()), "reverse_voltage"); found != nil {
		t.Errorf("a single capacitor: %+v", found)
	}
	s.Units, s.Balanced, s.DCV = 2, true, 262.5
	s.ChargingShare, s.RestShare = 1.2, 1.05
	r.Part.Tolerance = part.Within(20, 20)
	v := derate.Judge(s, r, derate.Default())
	c := one(t, v, "reverse_voltage")
	near(t, "V the wrong way", c.Have, 50, 1e-9)
	if !c.Advisory || c.Pass || !v.Pass || !strings.Contains(c.Text, "a diode across each") || c.Limit != 1 {
		t.Errorf("%+v", c)
	}
	r.Part.Tolerance = part.Within(0, 0)
	if c := one(t, derate.Judge(s, r, derate.Default()), "reverse_voltage"); !c.Pass || c.Have != 0 {
		t.Errorf("matched units: %+v", c)
	}
	r.Part.Technology = part.Film
	if found := named(derate.Judge(s, r, derate.Default()), "reverse_voltage"); found != nil {
		t.Errorf("film has no wrong way: %+v", found)
	}
}

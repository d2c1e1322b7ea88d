package derate_test

import (
	"math"
	"strings"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/part"
	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"
)

// rule gives the balancing rule of a source.
func rule(t *testing.T, b derate.Balance, of string) derate.BalanceRule {
	t.Helper()
	for _, r := range b.Rules {
		if strings.Contains(r.Source, of) {
			return r
		}
	}
	t.Fatalf("no rule of %s: %+v", of, b.Rules)
	return derate.BalanceRule{}
}

// tall is 800 V cold and 700 V working, over any single rating.
func tall() derate.Stress {
	s := smoothing()
	s.WorkingV, s.DCV = 700, 698
	s.Worst.V = 800
	s.Peaks = []derate.CasePeak{s.Worst}
	return s
}

// Two of 450 V under 800 V with 0.5 mA of leakage: (2 · 450 − 800)/0.5 mA is
// 200 kΩ (check value, COMPUTED), 450 V/0.5 mA is 900 kΩ (Rubycon's rule,
// COMPUTED), and of 100 µF the form of CDE's guide, from memory, 833 kΩ.
func TestTheBalancingRulesGiveTheirValues(t *testing.T) {
	t.Parallel()
	r := axial()
	r.Part.CapacitanceUF, r.Part.LeakageUA = 100, ptr(500.0)
	e := r.Part.Effective(&r.Series)
	s := tall()
	s.WorkingV, s.AmbientC = 400, 20 // leaves the whole room to the published rules
	b, _ := derate.BalanceOf(s, &e, 2, 0, derate.Default())
	near(t, "reserve over leakage, Ω", rule(t, b, "allaboutcircuits").MaxOhm, 200e3, 1e-6)
	near(t, "rated volts over leakage, Ω", rule(t, b, "Rubycon").MaxOhm, 900e3, 1e-6)
	cde := rule(t, b, "CDE")
	near(t, "CDE's form, Ω", cde.MaxOhm, 833.33e3, 5)
	if !cde.FromMemory {
		t.Error("CDE's form rests on memory and does not say so")
	}
}

// The exact rule is solved for the worst unit: with the resistor it gives, that
// unit stands just at its rating. Two of 450 V under 800 V, ±5 %, 0.2 mA at 800
// V: 450·(1 + 0.95/1.05) − 800 = 57.14 V over 0.95 · 0.2 mA is 300.8 kΩ (COMPUTED).
func TestTheExactBalanceHoldsTheWorstUnitAtItsRating(t *testing.T) {
	t.Parallel()
	near(t, "standing share of 800 V at 300.75 kΩ", 400*derate.StandingShare(800, 2, 300751.88, 0.2e-3, 5), 450, 1e-3)
	near(t, "without leakage the resistors alone: 1.05 : 0.95", derate.StandingShare(800, 2, 220e3, 0, 5), 2*1.05/2, 1e-12)
	near(t, "with neither it is even", derate.StandingShare(800, 3, 220e3, 0, 0), 1, 1e-12)
	near(t, "all of it at most", derate.StandingShare(800, 2, 1e9, 1, 5), 2, 1e-12)
}

// However the units leak, up to what they may, and whatever the resistors are
// within their tolerance, no unit stands higher than StandingShare says.
func TestNoUnitStandsHigher(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		n, v := rapid.IntRange(2, 4).Draw(t, "n"), float(t, "v", 100, 1200)
		ohm, leak, tol := float(t, "ohm", 10e3, 1e6), float(t, "leak", 0, 1e-3), float(t, "tol", 0, 10)
		// V_k = (I − L_k)·R_k, and together they make v.
		sum, drop := 0.0, v
		var rs, ls []float64
		for range n {
			r, l := ohm*(1+float(t, "r", -tol, tol)/100), float(t, "l", 0, leak)
			rs, ls, sum, drop = append(rs, r), append(ls, l), sum+r, drop+l*r
		}
		worst := derate.StandingShare(v, n, ohm, leak, tol) * v / float64(n)
		for k := range rs {
			if own := (drop/sum - ls[k]) * rs[k]; own > worst*(1+1e-9) && worst < v {
				t.Fatalf("unit %d stands at %g of %g V, over %g", k, own, v, worst)
			}
		}
	})
}

func TestAStackTakesTheResistorThatEveryRuleAllows(t *testing.T) {
	t.Parallel()
	r := axial()
	r.Part.LeakageUA = ptr(290.0)
	s := tall()
	s.Window = derate.Window{OriginalUF: 10, MinUF: 9, MinRule: "hum", MaxUF: 22, MaxRule: "2.2 times"}
	v, b := derate.JudgeStack(s, r, 2, 0, derate.Default())
	if b == nil {
		t.Fatalf("%+v", v.Checks)
	}
	// Warm leakage: 800 V is 0.889 of the two ratings, so 0.5 + (0.889 − 0.7)/0.6 = 0.815;
	// at 55 °C 4^(35/65) = 2.11: 290 µA · 0.815 · 2.11 = 498 µA (COMPUTED).
	near(t, "leakage, µA", b.LeakageUA, 498.4, 1)
	// Working, 450 · 0.9 · (1 + 0.95/1.05) − 700 = 71.4 V; cold 57.14 V, which is less:
	// over 0.95 · 498.4 µA, 120.7 kΩ, so 120 kΩ (COMPUTED).
	near(t, "largest, Ω", b.MaxOhm, 120.7e3, 300)
	near(t, "fitted, Ω", b.Resistor.Ohm, 120e3, 1)
	if b.StandingV > 450 || b.StandingV < 445 {
		t.Errorf("stands at %g V", b.StandingV)
	}
	if w := b.Resistor.EachW; b.WorkingW > 0.5*w*float64(b.Resistor.Pieces) {
		t.Errorf("%g W in %d pieces of %g W", b.WorkingW, b.Resistor.Pieces, w)
	}
	// −10/+50 %: 1.5/(1.5 + 0.9) = 62.5 % of 800 V is 500 V while charging (COMPUTED, exact).
	near(t, "charging, V", b.ChargingV, 500, 1e-9)
	c := one(t, v, "cold_start")
	near(t, "the unit sees, V", c.Have, 500, 1e-9)
	if c.Pass || v.Pass {
		t.Error("a 450 V unit that may see 500 V passes")
	}
	// ±20 %: 60 %, 480 V (check value, COMPUTED, exact).
	r.Part.Tolerance, r.Part.RatedV = part.Within(20, 20), 500
	v, _ = derate.JudgeStack(s, r, 2, 0, derate.Default())
	near(t, "of ±20 % parts, V", one(t, v, "cold_start").Have, 480, 1e-9)
	if !v.Pass {
		t.Errorf("500 V units: %+v", derate.Misses(v))
	}
	// Two of 22 µF are 11 µF: each is held against twice the window.
	near(t, "value", one(t, v, "capacitance").Limit, 18, 1e-9)
}

// What stands drawn is kept where it serves, and not where it does not.
func TestTheDrawnBalancingResistorIsKeptWhereItServes(t *testing.T) {
	t.Parallel()
	r := axial()
	r.Part.LeakageUA, r.Part.RatedV, r.Part.Tolerance = ptr(100.0), 500, part.Within(20, 20)
	s := tall()
	s.Window = derate.Window{}
	for drawn, kept := range map[float64]bool{100e3: true, 150e3: true, 2.2e6: false, 0: false} {
		_, b := derate.JudgeStack(s, r, 2, drawn, derate.Default())
		if b == nil || b.AsDrawn != kept || kept && b.Resistor.Ohm != drawn {
			t.Errorf("%g Ω drawn: %+v", drawn, b)
		}
	}
}

func TestAStackThatNothingBalancesFailsWithItsReason(t *testing.T) {
	t.Parallel()
	s := tall()
	r := axial() // 2 × 450 V under 950 V
	s.Worst.V = 950
	v, b := derate.JudgeStack(s, r, 2, 0, derate.Default())
	if c := one(t, v, "balance"); b != nil || v.Pass || c.Pass || !strings.Contains(c.Text, "no balancing resistor") || c.Cure == "" {
		t.Errorf("%+v", c)
	}
	film := axial()
	film.Part.Technology = part.Film
	v, b = derate.JudgeStack(tall(), film, 2, 0, derate.Default())
	if c := one(t, v, "balance"); b != nil || c.Outcome != derate.Unknown || c.Missing[0] != "leakage_ua" {
		t.Errorf("%+v", c)
	}
}

// A unit of a drawn stack is judged as before, by the whole that its stress
// stands for.
func TestAStackDrawnAndAStackNewAreTheSameUnits(t *testing.T) {
	t.Parallel()
	r := axial()
	r.Part.RatedV, r.Part.Tolerance, r.Part.LeakageUA = 500, part.Within(20, 20), ptr(200.0)
	single := tall()
	single.Window = derate.Window{OriginalUF: 11, MinUF: 10, MinRule: "hum", MaxUF: 20, MaxRule: "2.2 times"}
	drawn := single.InStack(2, 1.25, 1.05)
	drawn.Stack = 1
	a, _ := derate.JudgeStack(single, r, 2, 0, derate.Default())
	b, _ := derate.JudgeStack(drawn, r, 2, 0, derate.Default())
	for _, name := range []string{"cold_start", "working_voltage", "balance", "capacitance", "ripple"} {
		x, y := one(t, a, name), one(t, b, name)
		near(t, name, y.Have, x.Have, 1e-6*math.Abs(x.Have))
		near(t, name+", limit", y.Limit, x.Limit, 1e-6*math.Abs(x.Limit))
	}
	if diff := cmp.Diff(smoothing(), smoothing().Whole()); diff != "" {
		t.Errorf("a single capacitor's whole is another: %s", diff)
	}
}

func TestASetMustFitTheRoomOfOne(t *testing.T) {
	t.Parallel()
	r := axial() // 15 × 30 mm
	r.Part.RatedV, r.Part.Tolerance, r.Part.LeakageUA = 600, part.Within(20, 20), ptr(100.0)
	for _, tt := range []struct {
		name     string
		room     *amp.Body
		pass     bool
		advisory bool
		says     string
	}{
		{"side by side", &amp.Body{MaxDiameterMM: ptr(30.0), MaxLengthMM: ptr(32.0)}, true, false, "side by side take 30 × 30 mm"},
		{"end to end", &amp.Body{MaxDiameterMM: ptr(16.0), MaxLengthMM: ptr(65.0)}, true, false, "end to end take 15 × 65 mm"},
		{"neither", &amp.Body{MaxDiameterMM: ptr(22.0), MaxLengthMM: ptr(45.0)}, false, false, "room for 22 × 45 mm"},
		{"one side known", &amp.Body{MaxDiameterMM: ptr(30.0)}, true, false, "its length not given"},
		{"the other side known", &amp.Body{MaxLengthMM: ptr(29.0)}, false, false, "its width not given"},
		{"a clamp", &amp.Body{ClampMM: ptr(35.0)}, false, false, "takes one body"},
		{"holes", &amp.Body{LeadPitchMM: ptr(10.0)}, false, false, "takes one body"},
		{"another style", &amp.Body{Styles: []string{"can"}, MaxDiameterMM: ptr(90.0)}, false, false, "the place takes can"},
		{"nothing known", nil, true, true, "2 balancing resistors must find theirs"},
		{"only the style known", &amp.Body{Styles: []string{"axial"}}, true, true, "the room is not described"},
	} {
		s := tall()
		s.Window, s.Body = derate.Window{}, tt.room
		v, _ := derate.JudgeStack(s, r, 2, 0, derate.Default())
		found := named(v, "body")
		last := found[len(found)-1]
		if v.Pass != tt.pass || last.Advisory != tt.advisory || !strings.Contains(last.Text, tt.says) {
			t.Errorf("%s: pass %v, %+v", tt.name, v.Pass, found)
		}
		if !last.Pass && last.Cure == "" {
			t.Errorf("%s: nothing would make it pass: %+v", tt.name, last)
		}
	}
}

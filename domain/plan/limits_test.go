package plan_test

import (
	"strings"
	"testing"

	"coldrise/domain/derate"
	"coldrise/domain/plan"
)

func limit(t *testing.T, p *plan.Plan, tube, name string) plan.Limit {
	t.Helper()
	for _, l := range p.Supplies[0].Limits {
		if l.Tube == tube && l.Name == name {
			return l
		}
	}
	t.Fatalf("no limit %s of %s", name, tube)
	return plan.Limit{}
}

// The EZ40 sheet's 350 V row stands at its own limits: 50 µF, 300 Ω per anode,
// 2 × 350 V, and an inverse voltage of 2√2 × 350 = 990 V with no load (Philips,
// by https://tubeofile.com/api/tubes/EZ40; the 990 V are COMPUTED there).
func TestTheEZ40SheetsOwnSupplyKeepsItsLimits(t *testing.T) {
	t.Parallel()
	p := makePlan(t, parse(t, ez40), derate.Default(), starter(t))
	for _, c := range []struct {
		name        string
		have, limit float64
		tolPct      float64
	}{
		{"first_capacitor", 50, 50, 0},
		{"source_resistance", 300, 300, 0},
		{"plate_volts", 350, 350, 0},
		{"peak_inverse", 989.9, 990, 0.02},
	} {
		l := limit(t, p, "EZ40", c.name)
		within(t, c.name, l.Have, c.have, c.tolPct)
		within(t, c.name+" limit", l.Limit, c.limit, c.tolPct)
		if !l.Kept {
			t.Errorf("%s: %s", c.name, l.Text)
		}
	}
}

func TestALimitPassedWarnsAndRefusesNothing(t *testing.T) {
	t.Parallel()
	text := strings.NewReplacer(`"capacitance_uf": 50`, `"capacitance_uf": 100`, `"source_ohm": 300`, `"source_ohm": 100`).Replace(ez40)
	p := makePlan(t, parse(t, text), derate.Default(), starter(t))
	for _, name := range []string{"first_capacitor", "source_resistance"} {
		l := limit(t, p, "EZ40", name)
		if l.Kept {
			t.Errorf("%s of 100 µF behind 100 Ω is kept: %s", name, l.Text)
		}
		warned := false
		for _, c := range p.Cautions {
			warned = warned || strings.Contains(c, l.Text)
		}
		if !warned {
			t.Errorf("%s is passed and no caution says so", name)
		}
	}
}

// Published plate dissipation against volts × current of the node: 300 V at
// 48 mA is 14.4 W in a 12 W tube (6V6GT, from memory of its sheet).
func TestATubeIdlingTooHotIsNamed(t *testing.T) {
	t.Parallel()
	a := demo(t, "fernhollow-6")
	if l := limit(t, makePlan(t, a, derate.Default(), starter(t)), "6V6GT", "plate_dissipation"); !l.Kept {
		t.Errorf("the demo's own tube: %s", l.Text)
	}
	hot := 48.0
	a.Supplies[0].Nodes[0].Loads[0].IdleMA, a.Supplies[0].Nodes[0].Loads[0].FullMA = &hot, &hot
	l := limit(t, makePlan(t, a, derate.Default(), starter(t)), "6V6GT", "plate_dissipation")
	if l.Kept || !l.FromMemory {
		t.Errorf("a 6V6GT at 48 mA: kept %v, from memory %v: %s", l.Kept, l.FromMemory, l.Text)
	}
}

// Cases beyond the mandatory are shown and never decide.
func TestAdvisoryCasesAreShownAndDecideNothing(t *testing.T) {
	t.Parallel()
	p := makePlan(t, parse(t, strings.Replace(ez40, `"stage": "output", `, `"stage": "small", `, 1)), derate.Default(), starter(t))
	c1 := position(t, p, "C1")
	within(t, "silicon in the tube's socket", peak(t, c1, "silicon_fitted").V, 495, 0.5)
	if c1.Stress.Worst.Case != "cold_start" {
		t.Errorf("%s decides, though only the cold start is mandatory here", c1.Stress.Worst.Case)
	}
	if c1.Fitted.Verdict != "at_risk" {
		t.Errorf("450 V parts under silicon's 495 V are %s, want at_risk", c1.Fitted.Verdict)
	}
	if c1.Action != plan.Keep {
		t.Errorf("an advisory case made C1's action %s", c1.Action)
	}
}

package plan_test

import (
	"strings"
	"testing"

	"coldrise/domain/derate"
	"coldrise/domain/plan"
)

// A positive far side (a stage that is cold too) takes nothing off a coupling
// capacitor's cold stress; a negative bias, which is there at once, adds to it.
func TestACouplingCapacitorColdSeesTheWholeNode(t *testing.T) {
	t.Parallel()
	c := starter(t)
	a := demo(t, "saltmarsh-40")
	node := makePlan(t, a, derate.Default(), c).Supplies[0].Nodes[2].ColdV
	for _, far := range []struct{ v, cold float64 }{{-44, node + 44}, {0, node}, {100, node}} {
		a.Positions[4].FarV = &far.v
		c9 := position(t, makePlan(t, a, derate.Default(), c), "C9")
		within(t, "C9 cold", c9.Stress.Worst.V, far.cold, 0.01)
		if far.v < 0 && c9.Stress.Worst.AboveRatedS < 10 {
			t.Errorf("C9 stands %.1f s above its 400 V, want the whole cold start", c9.Stress.Worst.AboveRatedS)
		}
	}
}

// What is fitted may leak so much that it holds its own node down. A sound
// replacement will not, and must be picked for what it then sees.
func TestALeakyCapacitorLowersNoStress(t *testing.T) {
	t.Parallel()
	c := starter(t)
	a := demo(t, "saltmarsh-40")
	sound := makePlan(t, a, derate.Default(), c)
	leak := 30000.0
	a.Positions[0].Fitted.LeakOhm, a.Positions[1].Fitted.LeakOhm = &leak, &leak
	leaky := makePlan(t, a, derate.Default(), c)
	for _, ref := range []string{"C20", "C21", "C22"} {
		within(t, ref+" cold with leaky parts fitted", position(t, leaky, ref).Stress.Worst.V, position(t, sound, ref).Stress.Worst.V, 0.01)
	}
	if leaky.Supplies[0].Nodes[0].LoadedV >= sound.Supplies[0].Nodes[0].LoadedV {
		t.Error("30 kΩ of leakage does not show in the volts that are held against the readings")
	}
}

// The surge margin is for the seconds of a cold start. With the output tubes
// pulled the voltage stays, and no 30 s make that a surge.
func TestSurgeIsNoCoverForAVoltageThatStays(t *testing.T) {
	t.Parallel()
	policy := derate.Default()
	policy.UseSurge = true
	p := makePlan(t, demo(t, "saltmarsh-40"), policy, starter(t))
	c20 := position(t, p, "C20")
	if s := peak(t, c20, "tubes_pulled").AboveRatedS; s < derate.Lasting {
		t.Errorf("with the tubes pulled C20 stands %.1f s above its rating, want without end", s)
	}
	if c20.Pick != nil && c20.Pick.RatedV < c20.Stress.Worst.V {
		t.Errorf("C20 gets a %g V part for %.0f V that stay", c20.Pick.RatedV, c20.Stress.Worst.V)
	}
}

// A load of unknown stage must not spare a supply the case that decides it.
func TestTheLargestLoadOfUnknownStageIsTheOutput(t *testing.T) {
	t.Parallel()
	p := makePlan(t, parse(t, strings.Replace(ez40, `"stage": "output", `, "", 1)), derate.Default(), starter(t))
	within(t, "tubes pulled", peak(t, position(t, p, "C1"), "tubes_pulled").V, 495, 0.2)
	listed := false
	for _, a := range p.Assumptions {
		listed = listed || strings.HasSuffix(a.Pointer, "/loads/0/stage")
	}
	if !listed {
		t.Error("taking the load for the output stage is not listed as an assumption")
	}
}

// The limit of a first capacitor goes by the circuit, not by the name of the
// role; behind a choke there is none. 5Y3: 20 µF, EZ81: 50 µF from memory, which warns alone.
func TestTheFirstCapacitorsLimitFollowsTheCircuit(t *testing.T) {
	t.Parallel()
	build := func(rectifier, first string) *plan.Plan {
		return makePlan(t, parse(t, `{"name": "t", "mains": {"nominal_v": 230, "frequency_hz": 50},
 "supplies": [{"name": "HT", "winding": {"connection": "centre_tapped", "unloaded_v": 280, "source_ohm": 200}, "rectifier": {"type": "`+rectifier+`"},
  "nodes": [{"name": "A", `+first+` "loads": [{"tube": "EL84", "count": 2, "idle_ma": 35, "at_v": 300}]}]}],
 "positions": [{"ref": "C1", "role": "smoothing", "node": "HT/A", "fitted": {"capacitance_uf": 16, "rated_v": 350}}]}`), derate.Default(), starter(t))
	}
	if w := position(t, build("5Y3", ""), "C1").Stress.Window; w.MaxUF != 20 {
		t.Errorf("first capacitor of a 5Y3, called smoothing: up to %g µF, want 20", w.MaxUF)
	}
	if w := position(t, build("5Y3", `"choke_h": 10, "dcr_ohm": 200,`), "C1").Stress.Window; w.MaxUF <= 20 || w.AdviceUF != 0 {
		t.Errorf("behind a choke: up to %g µF, advice %g", w.MaxUF, w.AdviceUF)
	}
	w := position(t, build("EZ81", ""), "C1").Stress.Window
	if w.AdviceUF != 50 || w.MaxRule == "" || strings.Contains(w.MaxRule, "EZ81") {
		t.Errorf("a limit from memory: advice %g µF, rule %q", w.AdviceUF, w.MaxRule)
	}
}

// 47 nF from line to chassis has no lawful part, whether fitted or only drawn.
func TestADrawnLineCapacitorIsNotAdded(t *testing.T) {
	t.Parallel()
	a := demo(t, "fernhollow-6")
	wanted := 0.047
	a.Positions[5].Fitted, a.Positions[5].WantedUF = nil, &wanted
	if c1 := position(t, makePlan(t, a, derate.Default(), starter(t)), "C1"); c1.Action != plan.Remove || c1.Pick != nil {
		t.Errorf("47 nF drawn from line to chassis is to %s", c1.Action)
	}
}

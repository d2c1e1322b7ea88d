package plan_test

import (
	"math"
	"strings"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/plan"
)

func ref[T any](v T) *T { return &v }

// Sums by hand, with the nodes taken as one capacitor: t = R·C·ln(V0/V), with
// every capacitor at its upper tolerance and the resistors 10 % up. Droppers
// delay the far nodes a little beyond that.
func TestDischargeByHand(t *testing.T) {
	t.Parallel()
	c := starter(t)
	ravensgill := makePlan(t, demo(t, "ravensgill-100"), derate.Default(), c).Discharge[0]
	whole := 0.0
	for _, n := range ravensgill.Nodes {
		whole += n.CapacitanceUF * 1e-6
	}
	// Two balancing resistors of 220 kΩ are the one path.
	want := 1.1 * 440e3 * whole * math.Log(ravensgill.FromV/60)
	for _, n := range ravensgill.Nodes {
		w := n.Ways[0]
		if len(n.Ways) != 1 || w.Standby != "either" || !w.Proven || w.OneOpen == nil || w.OneOpen.Proven {
			t.Errorf("ravensgill %s: %+v", n.Node, n.Ways)
		}
		within(t, "ravensgill "+n.Node+" to 60 V", w.To60S, want, 1.5)
		within(t, "ravensgill "+n.Node+" to 50 V", w.To50S, want+1.1*440e3*whole*math.Log(60./50), 1.5)
	}
	// Five minutes are longer than the policy's one: a bleeder is proposed beside them.
	if len(ravensgill.Bleeders) != 1 || ravensgill.Bleeders[0].Node != "A" || ravensgill.Bleeders[0].To60S > 60 {
		t.Errorf("ravensgill, proposed: %+v", ravensgill.Bleeders)
	}
	within(t, "ravensgill's energy", ravensgill.EnergyJ, whole*ravensgill.FromV*ravensgill.FromV/2, 0.1)

	// A bleeder ahead of a switch behind the reservoir empties the reservoir
	// alone while that is open: 32 µF +50 %, or what was picked.
	a := demo(t, "saltmarsh-40")
	a.Supplies[0].Nodes[0].BleederOhm = ref(150e3)
	p := makePlan(t, a, derate.Default(), c)
	d := p.Discharge[0]
	reservoir := d.Nodes[0]
	within(t, "saltmarsh A with the standby open", reservoir.Ways[1].To60S, 1.1*150e3*reservoir.CapacitanceUF*1e-6*math.Log(d.FromV/60), 0.1)
	if reservoir.Ways[0].To60S <= reservoir.Ways[1].To60S {
		t.Errorf("A takes %g s with the other nodes hanging on it and %g s alone", reservoir.Ways[0].To60S, reservoir.Ways[1].To60S)
	}
	for _, n := range d.Nodes[1:] {
		if !n.Ways[0].Proven || n.Ways[1].Proven || n.Ways[1].Standby != "open" || n.Ways[1].To60S != 0 {
			t.Errorf("saltmarsh %s: %+v", n.Node, n.Ways)
		}
	}
	if !strings.Contains(d.Text, "With it open A falls below 60 V") || !strings.Contains(d.Text, "For B, C, D no path is proven: no safe time can be given. Discharge and measure.") {
		t.Errorf("%q", d.Text)
	}
	if len(d.Bleeders) != 1 || d.Bleeders[0].Node != "B" {
		t.Errorf("proposed: %+v; want one, behind the switch", d.Bleeders)
	}
}

// The most that may stand at a node: what is fitted at its upper tolerance, +50 %
// where none is stated (Vishay ASH, code T), or as it was read where that is
// more, or the part picked at its own.
func TestDischargeTakesTheMostThatMayBeThere(t *testing.T) {
	t.Parallel()
	c := starter(t)
	at := func(change func(*amp.Fitted), name string, c plan.Catalogue) (plan.NodeDischarge, plan.Position) {
		a := demo(t, name)
		change(a.Positions[0].Fitted)
		p := makePlan(t, a, derate.Default(), c)
		return p.Discharge[0].Nodes[0], p.Positions[0]
	}
	n, _ := at(func(*amp.Fitted) {}, "fernhollow-6", c)
	within(t, "16 µF of no stated tolerance", n.CapacitanceUF, 24, 1e-9)
	n, _ = at(func(f *amp.Fitted) { f.TolPlusPct = ref(20.0) }, "fernhollow-6", c)
	within(t, "16 µF +20 %", n.CapacitanceUF, 19.2, 1e-9)
	n, _ = at(func(f *amp.Fitted) { f.Readings = &amp.Readings{CapacitanceUF: ref(60.0)} }, "fernhollow-6", c)
	within(t, "16 µF that read 60 µF", n.CapacitanceUF, 60, 1e-9)
	n, pos := at(func(f *amp.Fitted) { f.TolPlusPct, f.Readings = ref(0.0), nil }, "saltmarsh-40", c)
	within(t, "the part picked", n.CapacitanceUF, pos.Pick.CapacitanceUF*(1+pos.Pick.TolPlusPct/100), 1e-9)
	if n.CapacitanceUF < 36 {
		t.Errorf("%g µF picked at its upper tolerance", n.CapacitanceUF)
	}
}

// Where bands were worked out the discharge begins at the high end.
func TestDischargeBeginsAtTheHighEnd(t *testing.T) {
	t.Parallel()
	p := studied(t, demo(t, "fernhollow-6"), derate.Default(), 8)
	high := 0.0
	for _, pos := range p.Positions[:3] {
		high = math.Max(high, pos.Stress.ColdBand.High)
	}
	within(t, "from", p.Discharge[0].FromV, high, 0.1)
	if likely := p.Supplies[0].Nodes[0].ColdV; p.Discharge[0].FromV <= likely*1.005 {
		t.Errorf("from %g V, and the likely cold voltage is %g V", p.Discharge[0].FromV, likely)
	}
}

// Two bleeders: the worst single failure leaves the other, and its time is told.
func TestDischargeWithOneBleederOpen(t *testing.T) {
	t.Parallel()
	a := demo(t, "fernhollow-6")
	a.Supplies[0].Nodes[0].BleederOhm, a.Supplies[0].Nodes[1].BleederOhm = ref(100e3), ref(330e3)
	d := makePlan(t, a, derate.Default(), starter(t)).Discharge[0]
	w := d.Nodes[0].Ways[0]
	if len(w.Through) != 2 || w.OneOpen == nil || !w.OneOpen.Proven || w.OneOpen.Which != "the bleeder at A" {
		t.Fatalf("%+v", w)
	}
	// 76.7 kΩ with both, 330 kΩ with one: the same charge, the same ratio.
	within(t, "with one open", w.OneOpen.To60S/w.To60S, 330/76.74, 2)
	if strings.Contains(d.Text, "for ever") {
		t.Errorf("one bleeder is left, yet: %q", d.Text)
	}
}

// A leakage, measured or on a data sheet, never gives a time.
func TestNoTimeFromLeakageAlone(t *testing.T) {
	t.Parallel()
	a := demo(t, "saltmarsh-40")
	for i := range 4 {
		a.Positions[i].Fitted.LeakOhm = ref(50e3)
	}
	p := makePlan(t, a, derate.Default(), starter(t))
	for _, n := range p.Discharge[0].Nodes {
		for _, w := range n.Ways {
			if w.Proven || w.To60S != 0 || w.To50S != 0 || len(w.Through) > 0 {
				t.Errorf("node %s with the standby %s: %+v", n.Node, w.Standby, w)
			}
		}
	}
	found := false
	for _, c := range p.Cautions {
		found = found || strings.Contains(c, "no resistor is proven to discharge any node: no safe time can be given. Discharge and measure.")
	}
	if !found {
		t.Errorf("no caution says so: %q", p.Cautions)
	}
}

// A proposed bleeder is an E12 resistor within its watts and volts, does what
// it says when it is written into the amplifier, and no smaller one is taken
// than the policy's time asks for.
func TestAProposedBleederServes(t *testing.T) {
	t.Parallel()
	c := starter(t)
	a := demo(t, "fernhollow-6")
	before := makePlan(t, a, derate.Default(), c)
	b := before.Discharge[0].Bleeders[0]
	a.Supplies[0].Nodes[0].BleederOhm = &b.Resistor.Ohm
	after := makePlan(t, a, derate.Default(), c)
	if len(after.Discharge[0].Bleeders) > 0 {
		t.Errorf("with the bleeder in place another is proposed: %s", after.Discharge[0].Bleeders[0].Text)
	}
	slowest := 0.0
	for _, n := range after.Discharge[0].Nodes {
		slowest = math.Max(slowest, n.Ways[0].To60S)
	}
	// In place it also lowers the cold voltage that the discharge starts from.
	if !b.InTime || slowest > b.To60S || slowest < 0.9*b.To60S || b.To60S < 0.75*60 {
		t.Errorf("foretold %g s, in place %g s; the policy asks 60 s, and a step of E12 is 20 %%", b.To60S, slowest)
	}
	within(t, "the node with it, cold", after.Supplies[0].Nodes[0].ColdV, b.ColdAfterV, 0.1)
	within(t, "the node with it, at high line", after.Supplies[0].Nodes[0].HighV, b.HighAfterV, 0.1)
	within(t, "its current", b.MA, b.HighAfterV/b.Resistor.Ohm*1000, 0.1)
	quick := derate.Default()
	quick.DischargeS = 10
	short := makePlan(t, demo(t, "fernhollow-6"), quick, c).Discharge[0].Bleeders[0]
	if short.Resistor.Ohm >= b.Resistor.Ohm || short.To60S > 10 && short.InTime {
		t.Errorf("for 10 s %s, for 60 s %s", short.Text, b.Text)
	}
	// One second would take far more than a tenth of the full-load current.
	quick.DischargeS = 1
	if never := makePlan(t, demo(t, "fernhollow-6"), quick, c).Discharge[0].Bleeders[0]; never.InTime || never.SharePct > 10.5 || !strings.Contains(never.Text, "longer than the policy asks") {
		t.Errorf("for 1 s: %s", never.Text)
	}
}

// Check-values.md 5.3: 0.1 µF needs nothing (IEC 60335); more must fall below
// 34 V in 1 s. By hand at 253 V: ln(357.8/34) = 2.3536, so 0.47 µF +20 %
// behind 680 kΩ +10 % takes 0.993 s, and behind 820 kΩ 1.197 s.
func TestPlugDischarge(t *testing.T) {
	t.Parallel()
	across := func(ufEach, ohm float64) *plan.PlugDischarge {
		a := demo(t, "ravensgill-100")
		x := amp.Position{Ref: "C60", Role: amp.MainsX, WantedUF: &ufEach}
		if ohm > 0 {
			x.BleederOhm = &ohm
		}
		a.Positions = append(a.Positions, x)
		return makePlan(t, a, derate.Default(), plan.Catalogue{}).Plug
	}
	if d := across(0.1, 0); d.Needed || d.Proposed != nil || !strings.Contains(d.Text, "needs no discharge resistor") {
		t.Errorf("0.1 µF: %+v", d)
	}
	for _, r := range []struct {
		ohm  float64
		says string
	}{
		{0, "no safe time can be given"}, {680e3, "keeps the published limits"}, {820e3, "does not keep: below 34 V within 1 s"},
	} {
		d := across(0.47, r.ohm)
		if !d.Needed || !strings.Contains(d.Text, r.says) || (d.Proposed == nil) != (r.ohm == 680e3) {
			t.Errorf("0.47 µF with %g Ω: %s", r.ohm, d.Text)
		}
		if r.ohm > 0 {
			within(t, "to 34 V", *d.Limits[0].HaveS, 1.1*r.ohm*0.564e-6*math.Log(253*math.Sqrt2/34), 0.01)
		}
		if f := d.Proposed; f != nil {
			if f.Pieces < 2 || f.Ohm*1.1*0.564e-6*math.Log(253*math.Sqrt2/34) > 1 {
				t.Errorf("proposed %+v", f)
			}
		}
	}
	if d := makePlan(t, demo(t, "ravensgill-100"), derate.Default(), plan.Catalogue{}).Plug; d != nil {
		t.Errorf("nothing stands across the line, yet %+v", d)
	}
}

package supply

import (
	"context"
	"math"
	"testing"
)

// A model with a part in place runs as the amplifier written with that part does.
func TestWithRunsAsIfWrittenSo(t *testing.T) {
	t.Parallel()
	a, m := demoModel(t, "ravensgill-100")
	esr, leak := 0.7, 180e3
	with := m.With(func(p Place) (Capacitor, bool) {
		switch a.Positions[p.Position].Ref {
		case "C40", "C41":
			return Capacitor{CapacitanceUF: 150, LeakOhm: leak}, true
		case "C42":
			return Capacitor{CapacitanceUF: 47, ESROhm: esr}, true
		}
		return Capacitor{}, false
	})
	for i := range a.Positions {
		switch f := a.Positions[i].Fitted; a.Positions[i].Ref {
		case "C40", "C41":
			f.CapacitanceUF, f.LeakOhm = 150, &leak
		case "C42":
			f.CapacitanceUF, f.ESROhm = 47, &esr
		}
	}
	written := model(t, a, 0)
	s := m.Services()[0]
	got, err := SimulateFast(context.Background(), with.Circuit(s, nil), Settings{})
	if err != nil {
		t.Fatal(err)
	}
	want, err := SimulateFast(context.Background(), written.Circuit(s, nil), Settings{})
	if err != nil {
		t.Fatal(err)
	}
	for i := range want.Nodes {
		if math.Abs(got.Nodes[i].PeakV-want.Nodes[i].PeakV) > 1e-9*want.Nodes[i].PeakV {
			t.Errorf("node %s: %.9g V, want %.9g V", want.Nodes[i].Node, got.Nodes[i].PeakV, want.Nodes[i].PeakV)
		}
	}
	if got, was := with.CapacitanceUF(with.Places[0]), m.CapacitanceUF(m.Places[0]); got != 150 || was != 100 {
		t.Errorf("C40 is %g µF in the new model and %g in the old; want 150 and 100", got, was)
	}
}

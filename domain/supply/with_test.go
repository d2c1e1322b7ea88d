package supply

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"testing"

	"coldrise/domain/amp"
)

func amplifierOf(t *testing.T, name string) *amp.Amplifier {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "amps", name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	a, err := amp.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func modelOf(t *testing.T, name string, supply int) *Model {
	t.Helper()
	m, err := NewModel(context.Background(), amplifierOf(t, name), supply)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// A model with a part in place runs as the amplifier written with that part does.
func TestWithRunsAsIfWrittenSo(t *testing.T) {
	t.Parallel()
	a := amplifierOf(t, "ravensgill-100")
	m := modelOf(t, "ravensgill-100", 0)
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
	written, err := NewModel(context.Background(), a, 0)
	if err != nil {
		t.Fatal(err)
	}
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

package supply

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"coldrise/domain/amp"

	"github.com/google/go-cmp/cmp"
)

func demoModel(t *testing.T, name string) (*amp.Amplifier, *Model) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "amps", name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	a := parseAmp(t, string(text))
	return a, model(t, a, 0)
}

func spread(t *testing.T, a *amp.Amplifier, m *Model) *Spread {
	t.Helper()
	s, err := m.NewSpread(a, func(m *Model) error { return m.Refit(context.Background()) })
	if err != nil {
		t.Fatal(err)
	}
	return s
}

// Every knob is a figure of the amplifier or one of the assumptions listed, so
// that giving it, or a tolerance for it, is always possible.
func TestEveryKnobIsAFigureOrAnAssumption(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"fernhollow-6", "saltmarsh-40", "ravensgill-100", "bare-voltages"} {
		a, m := demoModel(t, name)
		seen := map[string]bool{}
		for _, k := range m.Knobs(a) {
			_, given := a.ValueAt(k.Pointer)
			tube := strings.HasSuffix(k.Pointer, "/drop_v") || strings.HasSuffix(k.Pointer, "warm_up")
			// Loads are a list: its currents may be stated one by one.
			if !given && !m.isAssumed(k.Pointer) && !tube && !strings.HasSuffix(k.Pointer, "/loads") && !strings.HasPrefix(k.Pointer, "/positions") {
				t.Errorf("%s: %s (%s) is neither given nor assumed", name, k.Text, k.Pointer)
			}
			if seen[k.Pointer] {
				t.Errorf("%s: two knobs at %s", name, k.Pointer)
			}
			seen[k.Pointer] = true
			if k.DownPct < 0 || k.DownPct >= 100 || k.UpPct < 0 {
				t.Errorf("%s: %s runs from -%g to +%g %%", name, k.Text, k.DownPct, k.UpPct)
			}
		}
	}
}

func TestAStatedToleranceReplacesTheUsualOne(t *testing.T) {
	t.Parallel()
	a, m := demoModel(t, "saltmarsh-40")
	tol := 0.4
	a.Figures = []amp.Figure{{Pointer: "/supplies/0/winding/unloaded_v", From: "measured", TolPct: &tol}, {Pointer: "/supplies/0/nodes/2/dropper_ohm", From: "measured"}}
	for _, k := range m.Knobs(a) {
		switch k.Pointer {
		case "/supplies/0/winding/unloaded_v":
			if k.DownPct != tol || k.UpPct != tol || k.From != "measured" {
				t.Errorf("the winding runs ±%g/%g %%, %s", k.DownPct, k.UpPct, k.From)
			}
		case "/supplies/0/nodes/2/dropper_ohm":
			if k.From != "measured" {
				t.Errorf("a dropper said to be measured is %s", k.From)
			}
		}
	}
}

// Turning knobs gives a model of its own: the base must run as before.
func TestTurningLeavesTheBaseAsItWas(t *testing.T) {
	t.Parallel()
	a, m := demoModel(t, "ravensgill-100")
	s := spread(t, a, m)
	cold := service(t, m, "cold_start")
	before := m.Circuit(cold, nil)
	x := make([]float64, len(s.Knobs))
	still := s.Turned(x, false, 0).Circuit(cold, nil)
	if d := cmp.Diff(before, still); d != "" {
		t.Errorf("no knob turned, and the circuit differs:\n%s", d)
	}
	for k := range x {
		x[k] = 1
	}
	turned := s.Turned(x, false, 0).Circuit(cold, nil)
	if cmp.Equal(before, turned) {
		t.Error("every knob turned, and the circuit is the same")
	}
	if d := cmp.Diff(before, m.Circuit(cold, nil)); d != "" {
		t.Errorf("turning a copy changed the base:\n%s", d)
	}
}

// A winding fitted to a reading follows the figures that the fit rests on: more
// source resistance or current under the same loaded volts means more volts
// unloaded. Pinned, as after measuring it, it does not follow.
func TestAFittedWindingFollowsItsFit(t *testing.T) {
	t.Parallel()
	a, m := demoModel(t, "bare-voltages")
	s := spread(t, a, m)
	for k := range s.Knobs {
		x := make([]float64, len(s.Knobs))
		x[k] = 1
		up := s.Turned(x, false, 0).UnloadedV
		pinned := s.Turned(x, true, 0).UnloadedV
		if math.Abs(pinned/m.UnloadedV-1) > 1e-12 {
			t.Errorf("%s moves a measured winding to %g V", s.Knobs[k].Text, pinned)
		}
		switch {
		case strings.HasSuffix(s.Knobs[k].Pointer, "/secondary_ohm"), strings.HasSuffix(s.Knobs[k].Pointer, "/nodes/0/loads"), strings.HasSuffix(s.Knobs[k].Pointer, "/measured_v"):
			if up <= m.UnloadedV {
				t.Errorf("%s up: the winding fits at %g V, was %g V", s.Knobs[k].Text, up, m.UnloadedV)
			}
		}
	}
}

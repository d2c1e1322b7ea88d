package plan

import (
	"testing"

	"coldrise/domain/amp"
)

func reading(v float64) *float64 { return &v }

// Each row of the table of causes, on a supply drawn 400, 300 and 250 V at
// 117 V and read at 120 V on a 120 V tap. Common practice.
func TestReconcileNamesTheUsualCause(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name string
		read [3]float64 // over the drawn volts, both at nominal mains
		want [3]string
	}{
		{"all as drawn", [3]float64{1, 1.05, 0.94}, [3]string{}},
		{"just within both tolerances", [3]float64{1.11, 1.11, 0.89}, [3]string{}},
		{"all high together", [3]float64{1.15, 1.17, 1.14}, [3]string{"line_or_tap_high", "line_or_tap_high", "line_or_tap_high"}},
		{"all low together", [3]float64{0.85, 0.84, 0.86}, [3]string{"line_low_or_rectifier_weak", "line_low_or_rectifier_weak", "line_low_or_rectifier_weak"}},
		{"last node low alone", [3]float64{1, 0.98, 0.6}, [3]string{"", "", "dropper_or_leak"}},
		{"last node high alone", [3]float64{1, 1.03, 1.4}, [3]string{"", "", "stages_not_drawing"}},
		{"middle node pulls the last down with it", [3]float64{1, 0.7, 0.7}, [3]string{"", "dropper_or_leak", "follows_its_feeder"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			a := amp.Amplifier{Mains: amp.Mains{NominalV: 120, MeasuredAtV: reading(120), SchematicV: reading(117)},
				Supplies: []amp.Supply{{Name: "HT", Nodes: []amp.Node{{Name: "A"}, {Name: "B"}, {Name: "C"}}}}}
			for i, drawn := range []float64{400, 300, 250} {
				a.Supplies[0].Nodes[i].SchematicV = reading(drawn)
				a.Supplies[0].Nodes[i].MeasuredV = reading(drawn * 120 / 117 * c.read[i])
			}
			got := map[string]string{}
			for _, f := range reconcile(&a) {
				got[f.Node] = f.Cause
			}
			for i, node := range []string{"A", "B", "C"} {
				if got[node] != c.want[i] {
					t.Errorf("node %s at %.2f of its drawn volts: cause %q, want %q", node, c.read[i], got[node], c.want[i])
				}
			}
		})
	}
}

func TestReconcileWantsBothReadings(t *testing.T) {
	t.Parallel()
	a := amp.Amplifier{Mains: amp.Mains{NominalV: 230}, Supplies: []amp.Supply{{Name: "HT", Nodes: []amp.Node{{Name: "A", MeasuredV: reading(300)}, {Name: "B", SchematicV: reading(100)}}}}}
	if got := reconcile(&a); len(got) != 0 {
		t.Errorf("one reading a node, yet %v", got)
	}
}

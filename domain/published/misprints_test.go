package published

import (
	"math"
	"testing"

	"coldrise/domain/derate"
	"coldrise/domain/supply"
	"coldrise/domain/tube"
)

// TestMisprints: figures in print that cannot be right have no row. Here is
// each with what the program gives instead, and why that is the one to keep.
func TestMisprints(t *testing.T) {
	t.Parallel()
	// Vishay ASH, 450 V 68 µF after 1 min: the formula on the same page gives
	// 475.4 µA, and every other row agrees with it.
	law, _ := derate.NewLeakage(450, 1)
	misprint(t, "Vishay ASH, 450 V 68 µF, µA", law.UA(68, 450), 475.4, 0.1, 460)

	// Fardo & Patrick p.196: 2.4/(0.5 kΩ × 100 µF) printed as 0.00048, 0.048 %;
	// the same formula gives 0.048. It counts the whole half-cycle, so a
	// simulation stays somewhat below.
	half := 500.0
	mean, pp := stiff(t, "full_wave_ct", 34, 100, supply.Node{BleedOhm: &half})
	misprint(t, "Fardo & Patrick, ripple factor of 500 Ω and 100 µF", pp/2/math.Sqrt(3)/mean, 0.048, 0.012, 0.00048)

	// petra-toroid.ro copies ATC-Frost's table (http://www.atc-frost.com/products/design/va.htm)
	// with 0.8 × Idc as the winding's current of a full wave with a capacitor, where
	// ATC-Frost has 1.2: 0.785 is that of a plain resistor.
	misprint(t, "winding's current over the direct current, full wave with a capacitor", halfWindingRMS(t), 1.2, 0.15, 0.8)

	// EZ41, 2 × 250 V, 8 µF, 150 Ω, 60 mA, printed 255 V: the law that gives its 32 µF
	// row and the whole EZ40 table gives 278 V (so does the small ODE of the check values).
	ez41, _ := tube.LookupRectifier("EZ41")
	misprint(t, "EZ41 with 8 µF, V", tubeRow(t, ez41, 250, 150, 8, 60), 278, 3, 255)
}

// misprint wants have near the figure that is right and far from the one in print.
func misprint(t *testing.T, what string, have, right, tol, printed float64) {
	t.Helper()
	if math.Abs(have-right) > tol || math.Abs(have-printed) <= tol {
		t.Errorf("%s: %.5g; %g ± %g is right, %g is in print", what, have, right, tol, printed)
	}
}

// halfWindingRMS is the RMS current of one half of a winding over the direct
// current, with an ordinary transformer's resistance, some 5 % of the load's.
func halfWindingRMS(t *testing.T) float64 {
	load := 100.0
	got, err := supply.SimulateFast(t.Context(), &supply.Circuit{TEndS: 4, Mains: supply.Source{FreqHz: 60, Factor: 1},
		Rectifier: supply.Rectifier{Topology: "full_wave_ct", SecondaryVRM: 30, RsOhm: 5, Diode: ideal},
		Nodes:     []supply.Node{{Name: "A", Caps: []supply.Unit{{CUF: 1000, LeakOhm: 1e9}}, BleedOhm: &load}}}, supply.Settings{})
	if err != nil {
		t.Fatal(err)
	}
	return got.Diodes[0].SteadyRMSA / (got.Nodes[0].SteadyMeanV / load)
}

package published

import (
	"context"
	"fmt"
	"math"
	"os"
	"path/filepath"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/plan"
	"coldrise/domain/supply"
	"coldrise/domain/tube"
)

// steady runs one node behind a rectifier and gives it settled.
func steady(t *testing.T, hz float64, r supply.Rectifier, n supply.Node) (node supply.NodeResult, ripplePP float64) {
	t.Helper()
	n.Name = "A"
	got, err := supply.SimulateFast(context.Background(), &supply.Circuit{TEndS: 4, Mains: supply.Source{FreqHz: hz, Factor: 1},
		Rectifier: r, Nodes: []supply.Node{n}}, supply.Settings{})
	if err != nil || got.Status != supply.Complete && got.Status != supply.FellBack {
		t.Fatalf("%v %v", got, err)
	}
	return got.Nodes[0], got.Caps[0].SteadyRippleVPP
}

func tubeRow(t *testing.T, r tube.Rectifier, plateV, ohm, uf, mA float64) float64 {
	n, _ := steady(t, 50, supply.Rectifier{Topology: "full_wave_ct", SecondaryVRM: plateV, RsOhm: ohm, Diode: supply.Diode{Kind: "tube", DropV: r.DropV, DropMA: r.DropMA}},
		supply.Node{Caps: []supply.Unit{{CUF: uf, ESROhm: 0.5, LeakOhm: 1e9}}, Load: &supply.Load{I0MA: mA, V0: 300}})
	return n.SteadyMeanV
}

// ideal is a junction that drops some tenths of a volt and hardly leaks.
var ideal = supply.Diode{Kind: "silicon", IsA: 1e-7, N: 0.8, SeriesCount: 1}

// stiff is a book's supply without resistance of its own: the winding is set so
// that the node peaks at peakV.
func stiff(t *testing.T, topology string, peakV, uf float64, load supply.Node) (meanV, ripplePP float64) {
	vrms := peakV / math.Sqrt2
	var n supply.NodeResult
	for range 3 {
		load.Caps = []supply.Unit{{CUF: uf, LeakOhm: 1e9}}
		n, ripplePP = steady(t, 60, supply.Rectifier{Topology: topology, SecondaryVRM: vrms, RsOhm: 0.02, Diode: ideal}, load)
		vrms *= peakV / n.SteadyMaxV
	}
	return n.SteadyMeanV, ripplePP
}

func rectifiers(t *testing.T) []value {
	ez40, _ := tube.LookupRectifier("EZ40")
	ez41, _ := tube.LookupRectifier("EZ41")
	rows := []value{
		percent("tubeofile", "EZ41, 2 × 250 V, 32 µF, 300 Ω, 60 mA, V", tubeRow(t, ez41, 250, 300, 32, 60), 260, 2),
	}
	for _, r := range []struct{ v, ohm, want float64 }{{250, 125, 260}, {275, 175, 285}, {300, 215, 310}, {350, 300, 360}} {
		rows = append(rows, percent("ez40", fmt.Sprintf("EZ40, 2 × %g V, 50 µF, %g Ω, 90 mA, V", r.v, r.ohm), tubeRow(t, ez40, r.v, r.ohm, 50, 90), r.want, 2))
	}
	rows = append(rows, books(t)...)
	rows = append(rows, windings(t)...)
	return append(rows, within("ripplewp", "alternating part of a full-wave rectified sine over its mean", audioShare(t), 0.483, 0.0005))
}

// books are worked examples. I/(fC) and its kin count the whole half-cycle as
// discharge: their ripple is a bound from above, the mean that follows from it
// one from below. How far a simulation may stay inside hangs on the ripple.
func books(t *testing.T) []value {
	fiveK := 5000.0
	bridgeV, bridgePP := stiff(t, "bridge", 34, 100, supply.Node{BleedOhm: &fiveK})
	_, halfPP := stiff(t, "half_wave", 34, 100, supply.Node{BleedOhm: &fiveK})
	_, ctPP := stiff(t, "full_wave_ct", 17, 100, supply.Node{BleedOhm: &fiveK})
	v3, _ := stiff(t, "full_wave_ct", 28.2, 500, supply.Node{Load: &supply.Load{I0MA: 300, V0: 25}})
	v8, pp8 := stiff(t, "bridge", 15.37, 1283, supply.Node{Load: &supply.Load{I0MA: 154, V0: 15}})
	return []value{
		percent("malvino", "R1: bridge, 34 V peak, 5 kΩ, mA", bridgeV/5, 6.8, 1),
		band("malvino", "R1: bridge, 34 V peak, 5 kΩ, 100 µF, V p-p", bridgePP, 0.566, 0.90, 1),
		band("malvino", "R2: half wave, the same, V p-p", halfPP, 1.13, 0.88, 1),
		band("malvino", "R2: full wave from half the winding, V p-p", ctPP, 0.288, 0.88, 1),
		band("fardo", "R3: 28.2 V peak, 500 µF, 300 mA, V", v3, 25.7, 1, 1.03),
		band("homework", "R8: 15.37 V peak, 1283 µF, 154 mA, V", v8, 14.87, 1, 1.01),
		band("homework", "R8: the same, V p-p", pp8, 1, 0.85, 1),
	}
}

// windings: what a winding gives without load, and through a choke under load.
// Hammond counts the whole secondary.
func windings(t *testing.T) []value {
	noLoad := func(connection string, unloadedV, nominalV float64) float64 {
		a, err := amp.Parse([]byte(fmt.Sprintf(`{"name":"t","mains":{"nominal_v":%g,"frequency_hz":60,"high_v":%g},"supplies":[{"name":"HT",
		 "winding":{"connection":%q,"unloaded_v":%g,"source_ohm":10},"rectifier":{"type":"silicon"},
		 "nodes":[{"name":"A","loads":[{"label":"stage","idle_ma":1,"at_v":12}]}]}]}`, nominalV, nominalV, connection, unloadedV)))
		if err != nil {
			t.Fatal(err)
		}
		m, err := supply.NewModel(context.Background(), a, 0)
		if err != nil {
			t.Fatal(err)
		}
		return m.NoLoadV()
	}
	choke, r := 20.0, 2000.0 // far above the critical inductance, R/942 on 50 Hz
	through := func(topology string, vrms float64) float64 {
		n, _ := steady(t, 50, supply.Rectifier{Topology: topology, SecondaryVRM: vrms, RsOhm: 0.1, Diode: ideal},
			supply.Node{Series: &supply.Series{LH: &choke}, Caps: []supply.Unit{{CUF: 40, LeakOhm: 1e9}}, BleedOhm: &r})
		return n.SteadyMeanV
	}
	return []value{
		within("hammond", "half wave, capacitor input: peak over the winding", noLoad("half_wave", 100, 120)/100, 1.41, 0.005),
		within("hammond", "full wave, capacitor input: peak over the winding", noLoad("centre_tapped", 50, 120)/100, 0.71, 0.005),
		within("hammond", "bridge, capacitor input: peak over the winding", noLoad("bridge", 100, 120)/100, 1.41, 0.005),
		within("hammond", "full wave, choke input: mean over the winding", through("full_wave_ct", 150)/300, 0.45, 0.005),
		within("hammond", "bridge, choke input: mean over the winding", through("bridge", 300)/300, 0.90, 0.01),
		percent("xpesta", "12 V bridge without load, V", noLoad("bridge", 12, 120), 17, 1),
	}
}

// audioShare is what a plan counts of a class-AB stage's current as ripple.
func audioShare(t *testing.T) float64 {
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "amps", "saltmarsh-40.json"))
	if err != nil {
		t.Fatal(err)
	}
	a, err := amp.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	s, err := plan.Assess(context.Background(), a, derate.Default())
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Make(context.Background(), s, plan.Catalogue{})
	if err != nil {
		t.Fatal(err)
	}
	for _, c := range p.Positions[1].Stress.Ripple {
		if c.Of == "audio" {
			return c.A / 0.156 // two tubes of 78 mA
		}
	}
	return math.NaN()
}

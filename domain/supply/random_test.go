package supply

import (
	"encoding/json"
	"fmt"
	"math"
	"reflect"
	"testing"

	"pgregory.net/rapid"

	"coldrise/domain/amp"
)

// decades draws a number evenly on a logarithmic scale.
func decades(t *rapid.T, name string, low, high float64) float64 {
	return low * math.Pow(high/low, rapid.Float64Range(0, 1).Draw(t, name))
}

func anyWarmUp(t *rapid.T) *amp.WarmUp {
	switch rapid.IntRange(0, 2).Draw(t, "law") {
	case 0:
		return nil
	case 1:
		from := rapid.Float64Range(0, 0.3).Draw(t, "ta")
		return smooth(from, from+decades(t, "span", 1e-3, 1))
	}
	return &amp.WarmUp{Law: "logistic", T0S: ptr(rapid.Float64Range(0, 0.3).Draw(t, "t0")), TauS: ptr(decades(t, "tau", 1e-3, 1))}
}

func anyUnits(t *rapid.T, count int) []Unit {
	units := make([]Unit, count)
	for k := range units {
		units[k] = Unit{CUF: decades(t, "c", 1e-4, 20000), LeakOhm: decades(t, "leak", 1000, 1e13)}
		if rapid.Bool().Draw(t, "esr") {
			units[k].ESROhm = decades(t, "esr", 1e-3, 1e4)
		}
	}
	return units
}

func anySeries(t *rapid.T) *Series {
	if rapid.Bool().Draw(t, "choke") {
		return &Series{LH: ptr(decades(t, "l", 1e-4, 1000)), DCROhm: ptr(rapid.Float64Range(0, 1e5).Draw(t, "dcr"))}
	}
	return dropper(decades(t, "r", 1e-3, 1e9))
}

func anyDiode(t *rapid.T) Diode {
	if rapid.Bool().Draw(t, "tube") {
		return Diode{Kind: "tube", DropV: decades(t, "drop", 0.1, 500), DropMA: decades(t, "at", 0.1, 5000), WarmUp: anyWarmUp(t)}
	}
	return Diode{Kind: "silicon", IsA: decades(t, "is", 1e-15, 1e-3), N: rapid.Float64Range(0.8, 4).Draw(t, "n"),
		RsOhm: rapid.Float64Range(0, 100).Draw(t, "bulk"), SeriesCount: rapid.IntRange(1, 8).Draw(t, "series")}
}

func anyNode(t *rapid.T, i, caps int, feeders []string) Node {
	n := Node{Name: fmt.Sprintf("n%d", i), Caps: anyUnits(t, caps)}
	if i > 0 {
		n.Series = anySeries(t)
		n.From = rapid.SampledFrom(feeders).Draw(t, "from")
	}
	if rapid.Bool().Draw(t, "beside") {
		n.Beside = [][]Unit{anyUnits(t, rapid.IntRange(1, 4).Draw(t, "beside units"))}
	}
	if rapid.Bool().Draw(t, "bleeder") {
		n.BleedOhm = ptr(decades(t, "bleed", 10, 1e12))
	}
	if rapid.Bool().Draw(t, "load") {
		n.Load = &Load{I0MA: decades(t, "i0", 1e-3, 5000), V0: decades(t, "v0", 0.1, 1e4), Alpha: rapid.Float64Range(0, 3).Draw(t, "alpha"), WarmUp: anyWarmUp(t)}
	}
	return n
}

// anyCircuit draws from the whole range that ParseCircuit lets through.
func anyCircuit(t *rapid.T) *Circuit {
	c := &Circuit{
		TEndS:     0.4,
		Mains:     Source{FreqHz: decades(t, "hz", 10, 1000), Factor: rapid.Float64Range(0.1, 2).Draw(t, "factor"), PhaseDeg: rapid.Float64Range(0, 360).Draw(t, "phase")},
		Rectifier: Rectifier{Topology: rapid.SampledFrom([]string{"full_wave_ct", "bridge", "half_wave", "doubler"}).Draw(t, "topology")},
	}
	r := &c.Rectifier
	r.SecondaryVRM, r.RsOhm, r.Diode = decades(t, "v", 1, 5000), decades(t, "rs", 1e-4, 20000), anyDiode(t)
	r.Polarity = rapid.SampledFrom([]string{"positive", "negative"}).Draw(t, "polarity")
	names := []string{}
	for i := range rapid.IntRange(1, 5).Draw(t, "nodes") {
		caps := rapid.IntRange(0, 4).Draw(t, "units")
		if i == 0 && r.Topology == "doubler" {
			caps = 2
		}
		c.Nodes = append(c.Nodes, anyNode(t, i, caps, names))
		names = append(names, c.Nodes[i].Name)
	}
	positions := []string{"", "in_winding"}
	if r.Topology != "doubler" {
		positions = append(positions, "after_rectifier")
		if rapid.Bool().Draw(t, "choke input") {
			c.Nodes[0].Series = anySeries(t)
		}
	}
	if len(c.Nodes) > 1 {
		positions = append(positions, "after_reservoir")
	}
	if at := rapid.SampledFrom(positions).Draw(t, "standby"); at != "" {
		c.Standby = &Switch{Position: at, CloseS: rapid.Float64Range(0, 0.5).Draw(t, "close"),
			RonOhm: rapid.Float64Range(0, 1000).Draw(t, "ron"), RoffOhm: decades(t, "roff", 1000, 1e13)}
	}
	return c
}

// TestAnyCircuitStaysFinite: whatever is within the bounds can be run, gives
// finite numbers, and without a choke nothing charges beyond the winding's
// peak by more than the crest bends within a step, (ωh)²/2.
func TestAnyCircuitStaysFinite(t *testing.T) {
	t.Parallel()
	const coarse = 60
	bend := math.Pow(2*math.Pi/coarse, 2) / 2
	rapid.Check(t, func(t *rapid.T) {
		c := anyCircuit(t)
		text, err := json.Marshal(c)
		if err != nil {
			t.Fatal(err)
		}
		if c, err = ParseCircuit(text); err != nil {
			t.Fatalf("refused: %v", err)
		}
		r, err := Simulate(t.Context(), c, Settings{StepsPerCycle: coarse})
		if err != nil {
			t.Fatal(err)
		}
		if path := notFinite(reflect.ValueOf(*r), "result"); path != "" {
			t.Fatalf("%s is not finite", path)
		}
		chokes := false
		for _, n := range c.Nodes {
			chokes = chokes || n.Series != nil && n.Series.LH != nil
		}
		top := c.Rectifier.SecondaryVRM * math.Sqrt2 * c.Mains.Factor
		if c.Rectifier.Topology == "doubler" {
			top *= 2
		}
		for _, n := range r.Nodes {
			if !chokes && n.PeakV > top*(1+bend) {
				t.Fatalf("node %s reaches %g V of a winding's %g V", n.Node, n.PeakV, top)
			}
		}
	})
}

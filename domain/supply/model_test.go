package supply

import (
	"context"
	"math"
	"os"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"coldrise/domain/amp"
)

func parseAmp(t *testing.T, text string) *amp.Amplifier {
	t.Helper()
	a, err := amp.Parse([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func model(t *testing.T, a *amp.Amplifier, i int) *Model {
	t.Helper()
	m, err := NewModel(context.Background(), a, i)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

func service(t *testing.T, m *Model, name string) Service {
	t.Helper()
	for _, s := range m.Services() {
		if s.Name == name {
			return s
		}
	}
	t.Fatalf("no case %s", name)
	return Service{}
}

func simulate(t *testing.T, c *Circuit) *Result {
	t.Helper()
	r, err := Simulate(context.Background(), c, Settings{})
	if err != nil {
		t.Fatal(err)
	}
	return r
}

// The amplifier file must be able to say all that a circuit file says: the same
// circuit written both ways is the same run.
func TestAnAmplifierCanExpressTheReferenceCircuits(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"bias_half_wave", "se_tube_rect", "voltage_doubler"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			dir := filepath.Join("..", "..", "testdata", "circuits")
			text, err := os.ReadFile(filepath.Join(dir, name+".amp.json"))
			if err != nil {
				t.Fatal(err)
			}
			circuit, err := os.ReadFile(filepath.Join(dir, name+".json"))
			if err != nil {
				t.Fatal(err)
			}
			want, err := ParseCircuit(circuit)
			if err != nil {
				t.Fatal(err)
			}
			m := model(t, parseAmp(t, string(text)), 0)
			cold := m.Services()[0].AsFitted()
			cold.EndS, want.TEndS = 20, 20
			got, ref := simulate(t, m.Circuit(cold, nil)), simulate(t, want)
			for i := range ref.Caps {
				g, r := got.Caps[i], ref.Caps[i]
				if g.Cap != r.Cap || math.Abs(g.PeakV-r.PeakV) > 1e-9*r.PeakV || math.Abs(g.SteadyMeanV-r.SteadyMeanV) > 1e-9*r.SteadyMeanV {
					t.Errorf("%s: peak %.9g V mean %.9g V, as a circuit %s %.9g V %.9g V", g.Cap, g.PeakV, g.SteadyMeanV, r.Cap, r.PeakV, r.SteadyMeanV)
				}
			}
		})
	}
}

const fitted = `{"name": "t", "mains": {"nominal_v": 230, "frequency_hz": 50, "high_v": 253},
 "supplies": [{"name": "HT", "winding": {"connection": "CONNECTION", UNLOADED "source_ohm": 80}, "rectifier": {"type": "RECTIFIER"},
  "nodes": [{"name": "A", READING "loads": [{"tube": "EL84", "count": 2, "idle_ma": 40, "at_v": 330}]},
            {"name": "B", "dropper_ohm": 4700, "loads": [{"tube": "ECC83", "idle_ma": 3, "at_v": 300}]}]}]}`

// A winding fitted to the loaded voltage it gives must come out as it was.
func TestTheWindingIsFittedToTheFirstNodesReading(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		connection, rectifier string
		unloadedV, tolPct     float64
	}{
		{"centre_tapped", "EZ81", 280, 0.05},
		{"bridge", "silicon", 255, 0.05},
		{"half_wave", "silicon", 290, 0.05},
		{"doubler", "silicon", 130, 0.05},
	} {
		t.Run(c.connection, func(t *testing.T) {
			t.Parallel()
			build := func(unloaded, reading string) *Model {
				text := strings.NewReplacer("CONNECTION", c.connection, "RECTIFIER", c.rectifier, "UNLOADED", unloaded, "READING", reading).Replace(fitted)
				return model(t, parseAmp(t, text), 0)
			}
			known := build(`"unloaded_v": `+number(c.unloadedV)+`,`, "")
			nominal := service(t, known, "idle_nominal")
			loaded := simulate(t, known.Circuit(nominal, nil)).Nodes[0].SteadyMeanV
			got := build("", `"measured_v": `+number(loaded)+`,`).UnloadedV
			if math.Abs(got/c.unloadedV-1)*100 > c.tolPct {
				t.Errorf("fitted %.3f V to %.2f V loaded, want %.3f V", got, loaded, c.unloadedV)
			}
		})
	}
}

// Ohm's law across the droppers: 30 V in 10 kΩ is 3 mA through, of which 1 mA
// goes on to the next node (20 V in 20 kΩ).
func TestCurrentsComeFromTheDroppers(t *testing.T) {
	t.Parallel()
	a := parseAmp(t, `{"name": "t", "mains": {"nominal_v": 120, "frequency_hz": 60, "schematic_at_v": 120},
 "supplies": [{"name": "HT", "winding": {"connection": "bridge", "unloaded_v": 230, "source_ohm": 40}, "rectifier": {"type": "silicon"},
  "nodes": [{"name": "A", "schematic_v": 300, "loads": [{"tube": "EL84", "idle_ma": 40}]},
            {"name": "B", "dropper_ohm": 10000, "schematic_v": 270},
            {"name": "C", "dropper_ohm": 20000, "schematic_v": 250}]}]}`)
	m := model(t, a, 0)
	for i, want := range []float64{40, 2, 1} {
		if got := m.Nodes[i].IdleMA(); math.Abs(got-want) > 1e-9 {
			t.Errorf("node %s feeds %g mA, want %g", m.Nodes[i].Name, got, want)
		}
	}
}

func TestReadingsAreCarriedToTheNominalMains(t *testing.T) {
	t.Parallel()
	a := parseAmp(t, `{"name": "t", "mains": {"nominal_v": 120, "frequency_hz": 60, "measured_at_v": 125, "schematic_at_v": 117},
 "supplies": [{"name": "HT", "winding": {"connection": "bridge", "unloaded_v": 230, "source_ohm": 40}, "rectifier": {"type": "silicon"},
  "nodes": [{"name": "A", "schematic_v": 300, "measured_v": 310}, {"name": "B", "dropper_ohm": 10000, "schematic_v": 270}]}]}`)
	m := model(t, a, 0)
	for i, want := range []float64{310 * 120 / 125.0, 270 * 120 / 117.0} {
		if got := *m.Nodes[i].ReadingV; math.Abs(got-want) > 1e-9 {
			t.Errorf("node %s reads %g V at nominal mains, want %g", m.Nodes[i].Name, got, want)
		}
	}
}

// ANSI C84.1 Range B: 127 V on a 120 V system, also for a tap marked 117 or
// 110 V. IEC 60038: 253 V on 230 V. A wall reading above either counts.
func TestHighLineFollowsThePublishedLimits(t *testing.T) {
	t.Parallel()
	reading := func(v float64) *float64 { return &v }
	for _, c := range []struct {
		nominal  float64
		measured *float64
		want     float64
	}{
		{120, nil, 127}, {117, nil, 127}, {110, nil, 127}, {230, nil, 253}, {220, nil, 253}, {240, nil, 253},
		{100, nil, 110}, {120, reading(124), 127}, {120, reading(129), 129},
	} {
		m := &Model{}
		if got := m.highLine(&amp.Mains{NominalV: c.nominal, MeasuredAtV: c.measured}); math.Abs(got-c.want) > 1e-9 {
			t.Errorf("%g V tap: designed for %g V, want %g V", c.nominal, got, c.want)
		}
		if len(m.Assumptions) != 1 {
			t.Errorf("%g V tap: the high line taken is not listed as an assumption", c.nominal)
		}
	}
}

func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

package supply

import (
	"context"
	"errors"
	"math"
	"os"
	"path/filepath"
	"reflect"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/domain/problem"
)

// plainCircuit is the least circuit there is; its marks are replaced by tests.
const plainCircuit = `{"t_end_s": 1, "mains": {"freq_hz": 50, "factor": 1},
 "rectifier": {"topology": "half_wave", "secondary_vrms": 48, "rs_ohm": 120,
  "diode": {"kind": "silicon", "is_a": 5e-9, "n": 1.8}},
 "nodes": [{"name": "n1", "series": null, "caps": [{"c_uf": 47, "esr_ohm": 1, "leak_ohm": 200000}]},
  {"name": "n2", "series": {"r_ohm": 3300}, "caps": [{"c_uf": 47, "esr_ohm": 1, "leak_ohm": 200000}]}]}`

func TestParseCircuit(t *testing.T) {
	t.Parallel()
	if _, err := ParseCircuit([]byte(plainCircuit)); err != nil {
		t.Fatal(err)
	}
	swap := func(pairs ...string) string {
		text := plainCircuit
		for k := 0; k < len(pairs); k += 2 {
			if !strings.Contains(text, pairs[k]) {
				t.Fatalf("no %q to replace", pairs[k])
			}
			text = strings.Replace(text, pairs[k], pairs[k+1], 1)
		}
		return text
	}
	standby := func(position string) string {
		return swap(`"mains"`, `"standby": {"position": "`+position+`", "close_s": 1, "ron_ohm": 0.1, "roff_ohm": 1e9}, "mains"`)
	}
	rows := []struct {
		name, text string
		want       []string // pointers at fault, in document order
	}{
		{"an unknown member", swap(`"factor": 1`, `"factor": 1, "colour": 3`), []string{"/mains/colour"}},
		{"a wrong type", swap(`48`, `"48"`), []string{"/rectifier/secondary_vrms"}},
		{"a winding of 4 MV", swap(`48`, `4e6`), []string{"/rectifier/secondary_vrms"}},
		{"a reservoir of 10 F", swap(`47`, `1e7`), []string{"/nodes/0/caps/0/c_uf"}},
		{"a negative resistance", swap(`3300`, `-3300`), []string{"/nodes/1/series/r_ohm"}},
		{"a run of 600 s at 1 kHz", swap(`"t_end_s": 1`, `"t_end_s": 600`, `50`, `1000`), []string{"/t_end_s"}},
		{"no nodes", swap(plainCircuit[strings.Index(plainCircuit, `"nodes"`):], `"nodes": []}`), []string{"/nodes"}},
		{"a node fed by nothing", swap(`"name": "n2"`, `"name": "n2", "from": "n9"`), []string{"/nodes/1/from"}},
		{"a node that feeds itself", swap(`"name": "n2"`, `"name": "n2", "from": "n2"`), []string{"/nodes/1/from"}},
		{"a node fed as from the first", swap(`"name": "n1"`, `"name": "n1", "from": "n2"`), []string{"/nodes/0/from"}},
		{"two nodes of a name", swap(`"n2"`, `"n1"`), []string{"/nodes/1/name"}},
		{"a second node without a series element", swap(`{"r_ohm": 3300}`, `null`), []string{"/nodes/1/series"}},
		{"both a resistance and a choke", swap(`"r_ohm": 3300`, `"r_ohm": 3300, "l_h": 5`), []string{"/nodes/1/series"}},
		{"neither", swap(`"r_ohm": 3300`, ``), []string{"/nodes/1/series"}},
		{"a choke's resistance on a dropper", swap(`"r_ohm": 3300`, `"r_ohm": 3300, "dcr_ohm": 5`), []string{"/nodes/1/series/dcr_ohm"}},
		{"silicon without its parameters", swap(`, "is_a": 5e-9, "n": 1.8`, ``), []string{"/rectifier/diode/is_a", "/rectifier/diode/n"}},
		{"a tube with silicon's", swap(`"silicon"`, `"tube"`), []string{"/rectifier/diode/is_a", "/rectifier/diode/n", "/rectifier/diode/drop_v", "/rectifier/diode/drop_ma"}},
		{"a smoothstep without its end", swap(`"name": "n2"`, `"name": "n2", "load": {"i0_ma": 1, "v0": 40, "alpha": 1, "warmup": {"law": "smoothstep", "ta_s": 3}}`), []string{"/nodes/1/load/warmup/tb_s"}},
		{"a smoothstep backwards", swap(`"name": "n2"`, `"name": "n2", "load": {"i0_ma": 1, "v0": 40, "alpha": 1, "warmup": {"law": "smoothstep", "ta_s": 3, "tb_s": 2}}`), []string{"/nodes/1/load/warmup/tb_s"}},
		{"a logistic with the other's", swap(`"name": "n2"`, `"name": "n2", "load": {"i0_ma": 1, "v0": 40, "alpha": 1, "warmup": {"law": "logistic", "ta_s": 3, "t0_s": 2}}`), []string{"/nodes/1/load/warmup/ta_s", "/nodes/1/load/warmup/tau_s"}},
		{"a doubler without its stack", swap(`half_wave`, `doubler`), []string{"/nodes/0/caps"}},
		{"a doubler behind a dropper", swap(`half_wave`, `doubler`, `"series": null`, `"series": {"r_ohm": 10}`), []string{"/nodes/0/series", "/nodes/0/caps"}},
		{"a switch after the reservoir and nothing behind it", strings.Replace(standby("after_reservoir"), `"name": "n2"`, `"name": "n2", "from": "n2"`, 1), []string{"/standby/position", "/nodes/1/from"}},
		{"an empty stack in parallel", swap(`"name": "n2"`, `"name": "n2", "beside": [[]]`), []string{"/nodes/1/beside/0"}},
		{"several at once", swap(`"factor": 1`, `"factor": -1`, `"n2"`, `"n1"`, `120`, `0`), []string{"/mains/factor", "/rectifier/rs_ohm", "/nodes/1/name"}},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			_, err := ParseCircuit([]byte(row.text))
			if problem.CodeOf(err) != problem.Invalid {
				t.Fatalf("got %v", err)
			}
			var got []string
			for _, f := range problem.As(err).Faults {
				got = append(got, f.Pointer)
			}
			if diff := cmp.Diff(row.want, got); diff != "" {
				t.Errorf("faults (-want +got):\n%s%v", diff, err)
			}
		})
	}
	for _, position := range []string{"in_winding", "after_rectifier", "after_reservoir"} {
		if _, err := ParseCircuit([]byte(standby(position))); err != nil {
			t.Errorf("a switch %s is refused: %v", position, err)
		}
	}
}

// TestSimulateRefuses: what did not come through ParseCircuit is checked too.
func TestSimulateRefuses(t *testing.T) {
	t.Parallel()
	for name, spoil := range map[string]func(*Circuit, *Settings){
		"nothing at all":       func(c *Circuit, _ *Settings) { *c = Circuit{} },
		"no frequency":         func(c *Circuit, _ *Settings) { c.Mains.FreqHz = math.NaN() },
		"no end":               func(c *Circuit, _ *Settings) { c.TEndS = math.Inf(1) },
		"an unknown rectifier": func(c *Circuit, _ *Settings) { c.Rectifier.Topology = "star" },
		"two steps in a cycle": func(_ *Circuit, s *Settings) { s.StepsPerCycle = 2 },
		"a window of no sense": func(_ *Circuit, s *Settings) { s.SteadyS = math.NaN() },
	} {
		c, _ := loadCircuit(t, "bias_half_wave")
		s := Settings{}
		spoil(c, &s)
		if _, err := Simulate(context.Background(), c, s); problem.CodeOf(err) != problem.Invalid {
			t.Errorf("%s: got %v", name, err)
		}
	}
}

func TestSimulateStopsWhenTold(t *testing.T) {
	t.Parallel()
	c, _ := loadCircuit(t, "bias_half_wave")
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	_, err := Simulate(ctx, c, Settings{})
	if problem.CodeOf(err) != problem.Cancelled || !errors.Is(err, context.Canceled) {
		t.Fatalf("got %v", err)
	}
}

// FuzzParseCircuit: nothing makes it panic, and what it takes can be run to
// finite numbers.
func FuzzParseCircuit(f *testing.F) {
	f.Add([]byte(plainCircuit))
	for _, name := range referenceCircuits {
		data, err := os.ReadFile(filepath.Join(circuitDir, name+".json"))
		if err != nil {
			f.Fatal(err)
		}
		f.Add(data)
	}
	f.Add([]byte(strings.Replace(plainCircuit, `"series": null`, `"series": {"l_h": 0.0001}`, 1)))
	f.Add([]byte(strings.Replace(plainCircuit, `"mains"`, `"standby": {"position": "after_rectifier", "close_s": 0.03, "ron_ohm": 0, "roff_ohm": 1e13}, "mains"`, 1)))
	f.Add([]byte(strings.Replace(plainCircuit, `"name": "n2"`, `"name": "n2", "load": {"i0_ma": 5000, "v0": 0.1, "alpha": 0}`, 1)))
	f.Fuzz(func(t *testing.T, data []byte) {
		c, err := ParseCircuit(data)
		if err != nil {
			if problem.CodeOf(err) == problem.Internal {
				t.Fatalf("a document's fault is called ours: %v", err)
			}
			return
		}
		c.TEndS = math.Min(c.TEndS, 5/c.Mains.FreqHz)
		r, err := Simulate(context.Background(), c, Settings{StepsPerCycle: 60})
		if err != nil {
			t.Fatalf("parsed but not run: %v", err)
		}
		if path := notFinite(reflect.ValueOf(*r), "result"); path != "" {
			t.Fatalf("%s is not finite", path)
		}
	})
}

// notFinite names the first number in v that is not finite.
func notFinite(v reflect.Value, path string) string {
	switch v.Kind() {
	case reflect.Float64:
		if math.IsNaN(v.Float()) || math.IsInf(v.Float(), 0) {
			return path
		}
	case reflect.Struct:
		for i := range v.NumField() {
			if bad := notFinite(v.Field(i), path+"."+v.Type().Field(i).Name); bad != "" {
				return bad
			}
		}
	case reflect.Slice, reflect.Array:
		for i := range v.Len() {
			if bad := notFinite(v.Index(i), path); bad != "" {
				return bad
			}
		}
	}
	return ""
}

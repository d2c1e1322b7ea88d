package amp

import (
	"encoding/json"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"coldrise/domain/problem"
)

// An invented push-pull amplifier with a bias supply and a doubler.
const sound = `{
 "name": "Fenwick 20",
 "mains": {"nominal_v": 120, "frequency_hz": 60, "high_v": 127, "measured_at_v": 121.5, "schematic_at_v": 117},
 "chassis_c": 50,
 "supplies": [
  {"name": "HT",
   "winding": {"connection": "centre_tapped", "unloaded_v": 268, "secondary_ohm": 68, "primary_ohm": 3.9},
   "rectifier": {"type": "GZ34", "drop_v": 17, "drop_ma": 225},
   "standby": {"switch": "after_reservoir", "closes_after_s": 15},
   "nodes": [
    {"name": "A", "measured_v": 322, "schematic_v": 315, "loads": [{"tube": "EL84", "count": 2, "idle_ma": 36, "full_ma": 55}]},
    {"name": "B", "choke_h": 4, "dcr_ohm": 110, "measured_v": 318, "loads": [{"label": "screens", "stage": "output", "idle_ma": 8, "at_v": 310}]},
    {"name": "C", "dropper_ohm": 8200, "loads": [{"tube": "12AX7", "warm_up": {"law": "logistic", "t0_s": 11, "tau_s": 1}}]},
    {"name": "D", "from": "B", "measured_v": 250, "bleeder_ohm": 220000}]},
  {"name": "bias", "polarity": "negative",
   "rectifier": {"type": "silicon", "silicon": {"is_a": 5e-9, "n": 1.8, "rs_ohm": 0.04}, "series_count": 2},
   "nodes": [{"name": "A", "schematic_v": 45, "loads": [{"label": "bias pot", "stage": "resistive"}]}]},
  {"name": "heaters", "winding": {"connection": "doubler", "loaded_v": 100, "loaded_ma": 50, "source_ohm": 20},
   "rectifier": {"type": "Silicon"}, "nodes": [{"name": "X"}]}],
 "positions": [
  {"ref": "C1", "role": "reservoir", "node": "HT/A", "fitted": {"capacitance_uf": 32, "rated_v": 450, "surge_v": 500, "style": "can"}},
  {"ref": "C2", "role": "smoothing", "node": "HT/B", "stack": 1, "wanted_uf": 47},
  {"ref": "C3", "role": "smoothing", "node": "HT/B", "stack": 2, "wanted_uf": 47},
  {"ref": "C4", "role": "bias", "node": "bias/A"},
  {"ref": "C5", "role": "cathode_bypass", "cathode_v": 8, "wanted_uf": 25},
  {"ref": "C6", "role": "coupling", "node": "HT/C", "far_v": -12, "wanted_uf": 0.022},
  {"ref": "C7", "role": "mains_x", "wanted_uf": 0.1},
  {"ref": "C8", "role": "reservoir", "node": "heaters/X", "stack": 2},
  {"ref": "C9", "role": "reservoir", "node": "heaters/X", "stack": 1},
  {"ref": "c1", "role": "smoothing", "node": "HT/D"}]
}`

// edits maps a JSON pointer in sound to the JSON to put there; "" takes the
// member out. A pointer ending in "/-" appends to an array.
type edits map[string]string

func (e edits) apply(t *testing.T) []byte {
	t.Helper()
	var doc any
	if err := json.Unmarshal([]byte(sound), &doc); err != nil {
		t.Fatal(err)
	}
	for pointer, text := range e {
		steps := strings.Split(pointer, "/")[1:]
		doc = put(t, doc, steps, text)
	}
	out, err := json.Marshal(doc)
	if err != nil {
		t.Fatal(err)
	}
	return out
}

func put(t *testing.T, in any, steps []string, text string) any {
	t.Helper()
	if len(steps) == 0 {
		var v any
		if err := json.Unmarshal([]byte(text), &v); err != nil {
			t.Fatal(text, err)
		}
		return v
	}
	switch in := in.(type) {
	case map[string]any:
		if len(steps) == 1 && text == "" {
			delete(in, steps[0])
			return in
		}
		in[steps[0]] = put(t, in[steps[0]], steps[1:], text)
		return in
	case []any:
		if steps[0] == "-" {
			return append(in, put(t, nil, nil, text))
		}
		i, err := strconv.Atoi(steps[0])
		if err != nil {
			t.Fatal(err)
		}
		in[i] = put(t, in[i], steps[1:], text)
		return in
	}
	t.Fatalf("no %v in %v", steps, in)
	return nil
}

func TestParseTakesASoundAmplifier(t *testing.T) {
	t.Parallel()
	a, err := Parse([]byte(sound))
	if err != nil {
		t.Fatal(err)
	}
	if a.Name != "Fenwick 20" || len(a.Supplies) != 3 || a.Supplies[1].Sign() != -1 || a.Supplies[0].Sign() != 1 || *a.Positions[5].FarV != -12 {
		t.Errorf("%+v", a)
	}
}

// Names, node voltages and a rectifier type are enough.
func TestParseTakesAlmostNothing(t *testing.T) {
	t.Parallel()
	if _, err := Parse([]byte(`{"name":"Kelp 5","mains":{"nominal_v":230,"frequency_hz":50},"supplies":[{"name":"HT","rectifier":{"type":"EZ80"},
		"nodes":[{"name":"A","schematic_v":260},{"name":"B","schematic_v":250},{"name":"C","schematic_v":200}]}]}`)); err != nil {
		t.Error(err)
	}
}

func TestParseNamesTheFault(t *testing.T) {
	t.Parallel()
	for _, r := range []struct {
		name    string
		edits   edits
		pointer string
		says    string // part of the message
	}{
		// the shape
		{"unknown member", edits{"/supplies/0/nodes/2/droper_ohm": "1"}, "/supplies/0/nodes/2/droper_ohm", `did you mean "dropper_ohm"`},
		{"4 MV winding", edits{"/supplies/0/winding/unloaded_v": "4e6"}, "/supplies/0/winding/unloaded_v", "at most 2000 V"},
		{"10 F reservoir", edits{"/positions/0/fitted/capacitance_uf": "1e7"}, "/positions/0/fitted/capacitance_uf", "at most 20000 µF"},
		{"negative current", edits{"/supplies/0/nodes/0/loads/0/idle_ma": "-36"}, "/supplies/0/nodes/0/loads/0/idle_ma", "at least 0.001 mA"},
		{"no supplies", edits{"/supplies": "[]", "/positions": "[]"}, "/supplies", "at least 1 item"},
		{"slash in a node name", edits{"/supplies/0/nodes/3/name": `"D/2"`, "/positions/9/node": `"HT/A"`}, "/supplies/0/nodes/3/name", "no slash"},
		{"role nobody knows", edits{"/positions/0/role": `"resevoir"`}, "/positions/0/role", `did you mean "reservoir"`},
		// names and mains
		{"blank round a name", edits{"/name": `" Fenwick"`}, "/name", "begin or end with a blank"},
		{"blank round a node's name", edits{"/supplies/0/nodes/3/name": `"D "`, "/positions/9/node": `"HT/D "`}, "/supplies/0/nodes/3/name", "begin or end with a blank"},
		{"high line below the nominal", edits{"/mains/high_v": "110", "/mains/measured_at_v": ""}, "/mains/high_v", "below nominal_v"},
		{"a coupling capacitor without a value", edits{"/positions/5/wanted_uf": ""}, "/positions/5/wanted_uf", "required for the role coupling"},
		{"kind of a fuse without its rating", edits{"/mains/fuse_kind": `"quick"`}, "/mains/fuse_a", "beside fuse_kind"},
		{"low line above the nominal", edits{"/mains/low_v": "125"}, "/mains/low_v", "above nominal_v"},
		{"high line below a wall reading", edits{"/mains/high_v": "121"}, "/mains/high_v", "below measured_at_v"},
		{"supply named twice", edits{"/supplies/2/name": `"bias"`, "/positions/7": `{"ref":"C8","role":"mains_y","wanted_uf":0.0047}`, "/positions/8": `{"ref":"C9","role":"mains_y","wanted_uf":0.0047}`},
			"/supplies/2/name", "is the name of /supplies/1 already"},
		// winding
		{"nothing to find the winding from", edits{"/supplies/1/nodes/0/schematic_v": ""}, "/supplies/1/winding", "no volts to start from"},
		{"an empty winding and no reading", edits{"/supplies/2/winding/loaded_v": "", "/supplies/2/winding/loaded_ma": ""}, "/supplies/2/winding", "no volts to start from"},
		{"loaded volts without current", edits{"/supplies/2/winding/loaded_ma": ""}, "/supplies/2/winding/loaded_ma", "beside loaded_v"},
		{"loaded current without volts", edits{"/supplies/2/winding/loaded_v": ""}, "/supplies/2/winding/loaded_v", "beside loaded_ma"},
		{"unloaded below loaded", edits{"/supplies/2/winding/unloaded_v": "90"}, "/supplies/2/winding/unloaded_v", "sags under load"},
		{"source resistance twice", edits{"/supplies/0/winding/source_ohm": "90"}, "/supplies/0/winding/source_ohm", "not beside them"},
		// rectifier and standby
		{"rectifier type mistyped", edits{"/supplies/0/rectifier/type": `"GZ43"`}, "/supplies/0/rectifier/type", `nearest is "GZ34"`},
		{"silicon mistyped", edits{"/supplies/2/rectifier/type": `"silicone"`}, "/supplies/2/rectifier/type", `nearest is "silicon"`},
		{"an output tube as rectifier", edits{"/supplies/0/rectifier/type": `"EL84"`}, "/supplies/0/rectifier/type", "EL84 is no rectifier"},
		{"drop without its current", edits{"/supplies/0/rectifier/drop_ma": ""}, "/supplies/0/rectifier/drop_ma", "beside drop_v"},
		{"current without its drop", edits{"/supplies/0/rectifier/drop_v": ""}, "/supplies/0/rectifier/drop_v", "beside drop_ma"},
		{"junction of a tube", edits{"/supplies/0/rectifier/silicon": `{"is_a":1e-9,"n":1,"rs_ohm":0}`}, "/supplies/0/rectifier/silicon", "GZ34 is a tube"},
		{"diodes of a tube", edits{"/supplies/0/rectifier/series_count": "2"}, "/supplies/0/rectifier/series_count", "GZ34 is a tube"},
		{"silicon that warms up", edits{"/supplies/2/rectifier/warm_up": `{"law":"logistic","t0_s":1,"tau_s":1}`}, "/supplies/2/rectifier/warm_up", "first instant"},
		{"silicon counted as tubes", edits{"/supplies/2/rectifier/count": "2"}, "/supplies/2/rectifier/count", "series_count"},
		{"warm-up lacks a member", edits{"/supplies/0/rectifier/warm_up": `{"law":"smoothstep","ta_s":1}`}, "/supplies/0/rectifier/warm_up/tb_s", "required by the law smoothstep"},
		{"warm-up ends before it begins", edits{"/supplies/0/rectifier/warm_up": `{"law":"smoothstep","ta_s":3,"tb_s":3}`}, "/supplies/0/rectifier/warm_up/tb_s", "after ta_s"},
		{"warm-up of two laws", edits{"/supplies/0/nodes/2/loads/0/warm_up/ta_s": "1"}, "/supplies/0/nodes/2/loads/0/warm_up/ta_s", "no part of the law logistic"},
		{"no switch to close", edits{"/supplies/0/standby/switch": `"none"`}, "/supplies/0/standby/closes_after_s", "no switch"},
		{"switch behind the only node", edits{"/supplies/2/standby": `{"switch":"after_reservoir"}`}, "/supplies/2/standby/switch", "second node"},
		// nodes
		{"node named twice", edits{"/supplies/0/nodes/3/name": `"C"`, "/positions/9/node": `"HT/C"`}, "/supplies/0/nodes/3/name", "is the name of /supplies/0/nodes/2 already"},
		{"first node fed by another", edits{"/supplies/0/nodes/0/from": `"B"`}, "/supplies/0/nodes/0/from", "rectifier feeds"},
		{"node feeds itself", edits{"/supplies/0/nodes/2/from": `"C"`}, "/supplies/0/nodes/2/from", "fed by nothing"},
		{"fed by no node", edits{"/supplies/0/nodes/3/from": `"Z"`}, "/supplies/0/nodes/3/from", "fed by nothing; there are A, B, C, D"},
		{"fed in a circle", edits{"/supplies/0/nodes/1/from": `"C"`}, "/supplies/0/nodes/1/from", "B from C from B"},
		{"dropper beside a choke", edits{"/supplies/0/nodes/1/dropper_ohm": "10"}, "/supplies/0/nodes/1/dropper_ohm", "one or the other"},
		{"resistance of no choke", edits{"/supplies/0/nodes/2/dcr_ohm": "100"}, "/supplies/0/nodes/2/dcr_ohm", "no choke_h"},
		{"nothing between two nodes", edits{"/supplies/0/nodes/2/dropper_ohm": ""}, "/supplies/0/nodes/2", "fed by nothing"},
		{"nothing between, feeder not read", edits{"/supplies/0/nodes/3/from": `"C"`}, "/supplies/0/nodes/3", "at node C, which feeds it"},
		{"measured above its feeder", edits{"/supplies/0/nodes/1/measured_v": "329"}, "/supplies/0/nodes/1/measured_v", "above node A"},
		{"drawn above its feeder", edits{"/supplies/0/nodes/1/schematic_v": "330"}, "/supplies/0/nodes/1/schematic_v", "above node A"},
		// loads
		{"load without a name", edits{"/supplies/0/nodes/1/loads/0/label": ""}, "/supplies/0/nodes/1/loads/0", "name its tube"},
		{"tube nobody knows", edits{"/supplies/0/nodes/0/loads/0/tube": `"EL85"`}, "/supplies/0/nodes/0/loads/0/tube", `nearest is "EL84"`},
		{"rectifier as a load", edits{"/supplies/0/nodes/0/loads/0/tube": `"5AR4"`}, "/supplies/0/nodes/0/loads/0/tube", "GZ34 is a rectifier"},
		{"resistive tube", edits{"/supplies/0/nodes/0/loads/0/stage": `"resistive"`}, "/supplies/0/nodes/0/loads/0/stage", "warms up"},
		{"resistor that warms up", edits{"/supplies/1/nodes/0/loads/0/warm_up": `{"law":"logistic","t0_s":1,"tau_s":1}`}, "/supplies/1/nodes/0/loads/0/warm_up", "first instant"},
		{"full drive below idle", edits{"/supplies/0/nodes/0/loads/0/full_ma": "30"}, "/supplies/0/nodes/0/loads/0/full_ma", "below idle_ma"},
		{"volts of no current", edits{"/supplies/0/nodes/1/loads/0/idle_ma": ""}, "/supplies/0/nodes/1/loads/0/at_v", "no idle_ma"},
		// positions
		{"reference given twice", edits{"/positions/4/ref": `"C1"`}, "/positions/4/ref", "reference of /positions/0 already"},
		{"blank round a reference", edits{"/positions/4/ref": `"C5 "`}, "/positions/4/ref", "begin or end with a blank"},
		{"node without its supply", edits{"/positions/0/node": `"A"`}, "/positions/0/node", `such as "HT/A"`},
		{"supply that is not there", edits{"/positions/3/node": `"biass/A"`}, "/positions/3/node", `did you mean "bias"`},
		{"node that is not there", edits{"/positions/0/node": `"HT/E"`}, "/positions/0/node", "there are A, B, C, D"},
		{"smoothing at no node", edits{"/positions/9/node": ""}, "/positions/9/node", "required for the role smoothing"},
		{"coupling at no node", edits{"/positions/5/node": ""}, "/positions/5/node", "required for the role coupling"},
		{"mains position at a node", edits{"/positions/6/node": `"HT/A"`}, "/positions/6/node", "not for the role mains_x"},
		{"cathode position at a node", edits{"/positions/4/node": `"HT/A"`}, "/positions/4/node", "not for the role cathode_bypass"},
		{"cathode bypass without volts", edits{"/positions/4/cathode_v": ""}, "/positions/4/cathode_v", "cathode's DC volts"},
		{"cathode volts elsewhere", edits{"/positions/0/cathode_v": "8"}, "/positions/0/cathode_v", "cathode_bypass alone"},
		{"far volts elsewhere", edits{"/positions/0/far_v": "8"}, "/positions/0/far_v", "coupling alone"},
		{"a node's bleeder at a position", edits{"/positions/0/bleeder_ohm": "220000"}, "/positions/0/bleeder_ohm", "mains_x alone"},
		{"surge below rated", edits{"/positions/0/fitted/surge_v": "400"}, "/positions/0/fitted/surge_v", "below rated_v"},
		{"stack in a cathode", edits{"/positions/4/stack": "1"}, "/positions/4/stack", "the role is cathode_bypass"},
		{"stack of one", edits{"/positions/9/stack": "1"}, "/positions/9/stack", "only place"},
		{"stack with a gap", edits{"/positions/2/stack": "3"}, "/positions/2/stack", "2 is missing"},
		{"two stacks on a node", edits{"/positions/9/node": `"HT/B"`, "/positions/9/stack": "2"}, "/positions/9/stack", "place of C3 already"},
		{"doubler without its stack", edits{"/positions/7/stack": "", "/positions/8": `{"ref":"C9","role":"mains_y","wanted_uf":0.0047}`}, "/positions/7/stack", "stack of two"},
		{"doubler with a stack of three", edits{"/positions/9/node": `"heaters/X"`, "/positions/9/stack": "3"}, "/positions/9/stack", "one too many"},
	} {
		t.Run(r.name, func(t *testing.T) {
			t.Parallel()
			a, err := Parse(r.edits.apply(t))
			if a != nil || problem.CodeOf(err) != problem.Invalid {
				t.Fatalf("amplifier %v, error %v; want invalid", a, err)
			}
			faults := problem.As(err).Faults
			if len(faults) != 1 || faults[0].Pointer != r.pointer || !strings.Contains(faults[0].Message, r.says) {
				t.Errorf("want %s: … %s …; got\n%v", r.pointer, r.says, err)
			}
		})
	}
}

func TestFaultsCarryValueLimitAndUnit(t *testing.T) {
	t.Parallel()
	_, err := Parse(edits{"/mains/high_v": "119.5", "/mains/measured_at_v": "", "/supplies/0/nodes/1/measured_v": "340",
		"/supplies/0/rectifier/warm_up": `{"law":"smoothstep","ta_s":3,"tb_s":2}`, "/positions/4/ref": `"C1"`}.apply(t))
	want := []problem.Fault{
		{Pointer: "/mains/high_v", Value: "119.5", Limit: "at least 120", Unit: "V"},
		{Pointer: "/positions/4/ref", Value: `"C1"`},
		{Pointer: "/supplies/0/nodes/1/measured_v", Value: "340", Limit: "at most 322, within 2 %", Unit: "V"},
		{Pointer: "/supplies/0/rectifier/warm_up/tb_s", Value: "2", Limit: "more than 3", Unit: "s"},
	}
	got := problem.As(err).Faults
	for i := range got {
		got[i].Message = ""
	}
	if d := cmp.Diff(want, got); d != "" {
		t.Error(d)
	}
}

// Ten faults of different kinds, each told once, in the order of the document.
func TestParseReportsTenFaultsAtOnce(t *testing.T) {
	t.Parallel()
	_, err := Parse([]byte(`{
 "name": "",
 "mains": {"nominal_v": "120", "frequency_hz": 60, "high_v": NaN},
 "supplies": [{"name": "HT", "rectifier": {"type": "GZ43"}, "winding": {"connection": "bridge", "unloaded_v": 4000000},
   "nodes": [{"name": "A"}, {"name": "B"}, {"name": "C", "from": "D", "dropper_ohm": 1e999}, {"name": "D", "dropper_ohm": 100}]}],
 "positions": [{"ref": "C1", "role": "smoothing", "node": "HT/Q"}, {"ref": "C1", "role": "mains_x", "wanted_uf": 0.1, "volts": 1}],
 "chasis_c": 40}`))
	var got []string
	for _, f := range problem.As(err).Faults {
		got = append(got, f.Pointer)
	}
	want := []string{"/name", "/mains/nominal_v", "/mains/high_v", "/supplies/0/rectifier/type", "/supplies/0/winding/unloaded_v",
		"/supplies/0/nodes/1", "/supplies/0/nodes/2/from", "/supplies/0/nodes/2/dropper_ohm", "/positions/0/node", "/positions/1/ref",
		"/positions/1/volts", "/chasis_c"}
	if d := cmp.Diff(want, got); d != "" {
		t.Errorf("%s\n%v", d, err)
	}
}

func TestCheckTakesAnAmplifierOfAnyShape(t *testing.T) {
	t.Parallel()
	l := &problem.List{}
	(&Amplifier{}).Check(l)
	if l.Len() != 0 {
		t.Error(l.Err("amplifier"))
	}
	(&Amplifier{Supplies: []Supply{{Nodes: []Node{{}, {From: "x"}}}}, Positions: []Position{{Node: "a"}, {}}}).Check(l)
	if l.Len() == 0 {
		t.Error("no fault in an amplifier of blanks")
	}
}

func TestLookupAndFeeder(t *testing.T) {
	t.Parallel()
	a, err := Parse([]byte(sound))
	if err != nil {
		t.Fatal(err)
	}
	for path, want := range map[string][2]int{"HT/A": {0, 0}, "bias/A": {1, 0}, "HT/D": {0, 3}} {
		if s, n, ok := a.Lookup(path); !ok || s != want[0] || n != want[1] {
			t.Errorf("%s: %d, %d, %v", path, s, n, ok)
		}
	}
	for _, path := range []string{"", "HT", "HT/", "ht/A", "HT/A/B", "X/A"} {
		if _, _, ok := a.Lookup(path); ok {
			t.Errorf("%q was found", path)
		}
	}
	for i, want := range []int{-1, 0, 1, 1} {
		if got := a.Supplies[0].Feeder(i); got != want {
			t.Errorf("node %d is fed by %d, want %d", i, got, want)
		}
	}
}

func FuzzParseAmp(f *testing.F) {
	f.Add([]byte(sound))
	f.Add([]byte(`{"name":"a","mains":{"nominal_v":NaN,"frequency_hz":50},"supplies":[{"name":"H","rectifier":{"type":"80"},"nodes":[{"name":"A","from":"A"}]}]}`))
	f.Add([]byte(`{"supplies":[{"nodes":[{"name":"A"},{"name":"B","from":"C"},{"name":"C","from":"B"},{"name":"C"}]}],"positions":[{"node":"/","stack":4}]}`))
	f.Add([]byte(`{"supplies":[null],"positions":{}}`))
	f.Add([]byte(`{"positions":[{"ref":"C1","role":"smoothing","fitted":{"capacitance_uf":32,"rated_v":450,"readings":{"capacitance_uf":28,"capacitance_hz":0,"leakage_ua":900,"seen":["bulge"],"date_code":"235-744","age_years":4}}}]}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		a, err := Parse(data)
		if err != nil {
			if code := problem.CodeOf(err); a != nil || code != problem.Invalid && code != problem.Malformed {
				t.Fatalf("%v with %s: %v", a, code, err)
			}
			return
		}
		for i := range a.Supplies {
			s := &a.Supplies[i]
			for k := range s.Nodes {
				// Every node that passes hangs on the rectifier.
				steps := 0
				for n := k; n > 0; n = s.Feeder(n) {
					if steps++; steps > len(s.Nodes) {
						t.Fatalf("node %d is fed in a circle", k)
					}
				}
				if k > 0 && s.Feeder(k) < 0 {
					t.Fatalf("node %d is fed by nothing", k)
				}
			}
		}
		again, err := json.Marshal(a)
		if err != nil {
			t.Fatal(err)
		}
		b, err := Parse(again)
		if d := cmp.Diff(a, b, cmpopts.EquateEmpty()); err != nil || d != "" {
			t.Fatalf("written and read again: %v\n%s", err, d)
		}
	})
}

package main

import (
	"encoding/json"
	"math"
	"os"
	"testing"
)

// circuitFile is the quickest of the reference circuits; its reference was
// made by ngspice-39 (testdata/circuits/README.md).
const circuitFile = "../../../testdata/circuits/bias_half_wave.json"

// The command prints the members of the reference, and its figures. How near
// they come over all circuits is for the tests of domain/supply.
func TestCircuitPrintsTheMembersOfTheReference(t *testing.T) {
	t.Parallel()
	text, err := os.ReadFile(circuitFile)
	if err != nil {
		t.Fatal(err)
	}
	var file struct{ Reference map[string]any }
	if err := json.Unmarshal(text, &file); err != nil {
		t.Fatal(err)
	}
	got := run(t, "", "circuit", circuitFile)
	if got.code != exitMade {
		t.Fatalf("exit code %d\n%s", got.code, got.stderr)
	}
	var result map[string]any
	if err := json.Unmarshal([]byte(got.stdout), &result); err != nil {
		t.Fatal(err)
	}
	compared := 0
	for _, list := range []string{"caps", "diodes"} {
		want, _ := file.Reference[list].([]any)
		have, _ := result[list].([]any)
		if len(want) == 0 || len(want) != len(have) {
			t.Fatalf("%s: %d, want %d and some", list, len(have), len(want))
		}
		for i := range want {
			compared += compare(t, list, want[i].(map[string]any), have[i].(map[string]any))
		}
	}
	if compared < 6 {
		t.Errorf("only %d figures were compared", compared)
	}
}

func compare(t *testing.T, list string, want, have map[string]any) (compared int) {
	t.Helper()
	// Tolerances of the issue: peaks and means within 0.1 %, ripple RMS within 1 %.
	tolerance := map[string]float64{"peak_v": 0.001, "steady_mean_v": 0.001, "steady_ripple_a_rms": 0.01}
	for name, v := range want {
		if _, there := have[name]; !there {
			t.Errorf("%s %v: no member %s", list, want["cap"], name)
		}
		tol, judged := tolerance[name]
		if !judged {
			continue
		}
		compared++
		w, h := v.(float64), have[name].(float64)
		if math.Abs(h-w) > tol*math.Abs(w) {
			t.Errorf("%s %v %s: %g, ngspice has %g", list, want["cap"], name, h, w)
		}
	}
	return compared
}

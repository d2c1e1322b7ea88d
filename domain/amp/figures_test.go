package amp

import (
	"strings"
	"testing"

	"coldrise/domain/problem"
)

const figured = `{"name": "t", "mains": {"nominal_v": 230, "frequency_hz": 50},
 "supplies": [{"name": "HT", "winding": {"connection": "bridge", "unloaded_v": 250, "source_ohm": 40}, "rectifier": {"type": "silicon"},
  "nodes": [{"name": "A", "measured_v": 300, "loads": [{"tube": "EL84", "idle_ma": 40}]}]}],
 "figures": [{"pointer": "FIRST", "from": "measured", "tol_pct": 0.5}, {"pointer": "SECOND", "from": "nameplate"}]}`

func TestAFigurePointsToANumberThatIsThere(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name, first, second string
		want                []string // pointers at fault
	}{
		{"both there", "/supplies/0/winding/unloaded_v", "/supplies/0/nodes/0/loads/0/idle_ma", nil},
		{"one left out", "/supplies/0/winding/secondary_ohm", "/mains/nominal_v", []string{"/figures/0/pointer"}},
		{"no such member, no such index", "/supplies/0/winding/volts", "/supplies/7/name", []string{"/figures/0/pointer", "/figures/1/pointer"}},
		{"a text, not a number", "/name", "/mains/nominal_v", []string{"/figures/0/pointer"}},
		{"twice", "/mains/nominal_v", "/mains/nominal_v", []string{"/figures/1/pointer"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			_, err := Parse([]byte(strings.NewReplacer("FIRST", c.first, "SECOND", c.second).Replace(figured)))
			var got []string
			if err != nil {
				for _, f := range problem.As(err).Faults {
					got = append(got, f.Pointer)
				}
			}
			if len(got) != len(c.want) {
				t.Fatalf("faults at %v, want %v", got, c.want)
			}
			for i := range got {
				if got[i] != c.want[i] {
					t.Errorf("faults at %v, want %v", got, c.want)
				}
			}
		})
	}
}

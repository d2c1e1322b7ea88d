package plan_test

import (
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"coldrise/domain/derate"
	"coldrise/domain/plan"
)

// The key numbers of each demo by the hand sums of testdata/README.md, each
// with its tolerance, %: sums leave out ripple, leakage and the loads' own law.
func TestDemosGiveTheNumbersWorkedByHand(t *testing.T) {
	t.Parallel()
	c := starter(t)
	type row struct {
		what              string
		got, want, tolPct float64
	}
	for name, rows := range map[string]func(*plan.Plan) []row{
		"fernhollow-6": func(p *plan.Plan) []row {
			s := p.Supplies[0]
			return []row{
				{"no load, √2 × 281 × 127/120", s.NoLoadV, 420.57, 0.01},
				{"source, 145 + (281/120)² × 6.5", s.SourceOhm, 180.64, 0.01},
				{"dropper to B, 5.5 mA × 1 kΩ", s.Nodes[0].LoadedV - s.Nodes[1].LoadedV, 5.5, 2},
				{"dropper to C, 2 mA × 22 kΩ", s.Nodes[1].LoadedV - s.Nodes[2].LoadedV, 44, 2},
				{"cold, the farthest node", s.Nodes[2].ColdV, 420.57, 0.5},
				{"line to chassis at most, 0.5 mA/(2π × 60 × 127)", position(t, p, "C1").Stress.Window.MaxUF, 0.010443, 0.1},
			}
		},
		"saltmarsh-40": func(p *plan.Plan) []row {
			s := p.Supplies[0]
			return []row{
				{"no load, √2 × 355 × 127/120", s.NoLoadV, 531.33, 0.01},
				{"source, 58 + (355/120)² × 2.4", s.SourceOhm, 79.00, 0.01},
				{"dropper to B, 90.75 mA × 100 Ω", s.Nodes[0].LoadedV - s.Nodes[1].LoadedV, 9.075, 2},
				{"dropper to C, 6.75 mA × 10 kΩ", s.Nodes[1].LoadedV - s.Nodes[2].LoadedV, 67.5, 2},
				{"dropper to D, 3.15 mA × 18 kΩ", s.Nodes[2].LoadedV - s.Nodes[3].LoadedV, 56.7, 2},
				{"preamplifier node cold", s.Nodes[3].ColdV, 531.33, 0.5},
				{"coupling C9 cold, with 44 V behind it", position(t, p, "C9").Stress.Worst.V, 575.33, 0.5},
			}
		},
		"ravensgill-100": func(p *plan.Plan) []row {
			s, bias := p.Supplies[0], p.Supplies[1]
			return []row{
				{"no load, √2 × 335 × 253/230", s.NoLoadV, 521.14, 0.01},
				{"source, 14 + (335/230)² × 3.1", s.SourceOhm, 20.58, 0.05},
				{"worst unit of the stack, 60 % of the whole", position(t, p, "C40").Stress.Worst.V, 312.7, 0.6},
				{"bias no load, √2 × 52 × 253/230", bias.NoLoadV, 80.89, 0.01},
				{"bias divider, 27/(27 + 4.7)", bias.Nodes[1].HighV / bias.Nodes[0].HighV, 0.8517, 0.1},
			}
		},
		"bare-voltages": func(p *plan.Plan) []row {
			s := p.Supplies[0]
			return []row{
				{"no load, from the closed form at 6 % and the GZ34's drop", s.NoLoadV, 497, 1.5},
				{"node A fitted to its reading", s.Nodes[0].LoadedV, 352, 0.05},
				{"node D, by Ohm's law to its reading", s.Nodes[3].LoadedV, 240, 0.5},
			}
		},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for _, r := range rows(makePlan(t, demo(t, name), derate.Default(), c)) {
				within(t, r.what, r.got, r.want, r.tolPct)
			}
		})
	}
}

// What each demo is there to show.
func TestDemosLeadToTheirActions(t *testing.T) {
	t.Parallel()
	for name, actions := range map[string]map[string]plan.Action{
		"fernhollow-6": {"C10": plan.Keep, "C11": plan.Keep, "C12": plan.Keep, "C5": plan.ReplaceValue, "C3": plan.Keep, "C1": plan.Remove},
		"saltmarsh-40": {"C20": plan.ReplaceValue, "C21": plan.ReplaceValue, "C22": plan.Replace, "C23": plan.Replace, "C9": plan.Replace, "C2": plan.Keep, "C30": plan.Add},
		"ravensgill-100": {"C40": plan.Replace, "C41": plan.Replace, "C42": plan.ReplaceValue, "C43": plan.ReplaceValue, "C44": plan.ReplaceValue,
			"C50": plan.Replace, "C51": plan.Keep},
		"bare-voltages": {"HT A": plan.Add, "HT B": plan.Add, "HT C": plan.Add, "HT D": plan.Add},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := makePlan(t, demo(t, name), derate.Default(), starter(t))
			if p.Status != plan.Made || !p.Order.Proven {
				t.Errorf("status %s, order proven %v", p.Status, p.Order.Proven)
			}
			for ref, want := range actions {
				if got := position(t, p, ref).Action; got != want {
					t.Errorf("%s is to %s, want %s (%s)", ref, got, want, position(t, p, ref).Why)
				}
			}
		})
	}
}

// A second route to the same numbers: netlists written by hand from the demos'
// files, run by ngspice. measured takes "cold_a = 4.188852e+02 at= …".
var measured = regexp.MustCompile(`(?m)^(cold|high|loaded)_([a-z])\s*=\s*(\S+)`)

// needNgspice skips where ngspice is not installed; under CI it fails.
func needNgspice(t *testing.T) string {
	t.Helper()
	path, err := exec.LookPath("ngspice")
	switch {
	case err == nil:
	case os.Getenv("CI") == "true":
		t.Fatal("ngspice is missing: apt-get install ngspice")
	default:
		t.Skip("ngspice is missing: apt-get install ngspice")
	}
	return path
}

func TestDemosAgreeWithNgspice(t *testing.T) {
	t.Parallel()
	ngspice := needNgspice(t)
	for _, name := range []string{"fernhollow-6", "saltmarsh-40", "ravensgill-100", "bare-voltages"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			out, err := exec.Command(ngspice, "-b", filepath.Join("..", "..", "testdata", "amps", name+".cir")).Output()
			if err != nil {
				t.Fatalf("ngspice: %v", err)
			}
			nodes := map[string]plan.Node{}
			p := makePlan(t, demo(t, name), derate.Default(), starter(t))
			for _, s := range p.Supplies {
				for _, n := range s.Nodes {
					nodes[strings.ToLower(n.Name)] = n
				}
			}
			compared := 0
			for _, m := range measured.FindAllStringSubmatch(string(out), -1) {
				n, ok := nodes[m[2]]
				if !ok {
					continue // the stack's midpoint
				}
				want, err := strconv.ParseFloat(m[3], 64)
				if err != nil {
					t.Fatal(err)
				}
				got := map[string]float64{"cold": n.ColdV, "high": n.HighV, "loaded": n.LoadedV}[m[1]]
				within(t, name+" "+m[1]+" "+n.Name, got, want, 0.2)
				compared++
			}
			if compared < len(nodes) {
				t.Errorf("compared %d figures of %d nodes", compared, len(nodes))
			}
		})
	}
}

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

// The key numbers of each demo, worked in testdata/README.md by hand. Cold
// volts: √2 × winding × high line less what the leakages draw; tolerance 0.6 %.
func TestDemosGiveTheNumbersWorkedByHand(t *testing.T) {
	t.Parallel()
	for _, c := range []struct {
		name    string
		noLoadV float64 // of the first supply, by hand
		status  plan.Status
		actions map[string]plan.Action
	}{
		{"fernhollow-6", 420.6, plan.Made, map[string]plan.Action{
			"C10": plan.Keep, "C11": plan.Keep, "C12": plan.Keep, "C5": plan.Keep, "C3": plan.Keep, "C1": plan.Remove}},
		{"saltmarsh-40", 531.3, plan.Made, map[string]plan.Action{
			"C20": plan.ReplaceValue, "C21": plan.ReplaceValue, "C22": plan.Replace, "C23": plan.Replace, "C9": plan.Replace, "C2": plan.Keep, "C30": plan.Add}},
		{"ravensgill-100", 521.1, plan.Made, map[string]plan.Action{
			"C40": plan.ReplaceValue, "C41": plan.ReplaceValue, "C42": plan.ReplaceValue, "C43": plan.ReplaceValue, "C44": plan.ReplaceValue, "C50": plan.Replace, "C51": plan.Keep}},
		{"bare-voltages", 503.2, plan.Made, map[string]plan.Action{
			"HT A": plan.Add, "HT B": plan.Add, "HT C": plan.Add, "HT D": plan.Add}},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			p := makePlan(t, demo(t, c.name), derate.Default(), starter(t))
			within(t, "no-load volts", p.Supplies[0].NoLoadV, c.noLoadV, 0.1)
			if p.Status != c.status {
				t.Errorf("status %s, want %s", p.Status, c.status)
			}
			for ref, want := range c.actions {
				if got := position(t, p, ref).Action; got != want {
					t.Errorf("%s is to %s, want %s (%s)", ref, got, want, position(t, p, ref).Why)
				}
			}
			if c.name == "bare-voltages" {
				// Every node but those far down its droppers floats to the same figure.
				for _, n := range p.Supplies[0].Nodes {
					within(t, "node "+n.Name+" loaded, against its reading", n.LoadedV, *n.GivenV, 0.5)
				}
				return
			}
			for _, n := range p.Supplies[0].Nodes {
				within(t, "node "+n.Name+" cold", n.ColdV, c.noLoadV, 0.7)
			}
		})
	}
}

// A second route to the same numbers: netlists written by hand from the demos'
// files, run by ngspice. measured takes "cold_a = 4.188852e+02 at= …".
var measured = regexp.MustCompile(`(?m)^(cold|high)_([a-z])\s*=\s*(\S+)`)

func TestDemosAgreeWithNgspice(t *testing.T) {
	t.Parallel()
	ngspice, err := exec.LookPath("ngspice")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("ngspice is missing: apt-get install ngspice")
		}
		t.Skip("ngspice is missing: apt-get install ngspice")
	}
	for _, name := range []string{"fernhollow-6", "saltmarsh-40", "ravensgill-100"} {
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
				got := n.ColdV
				if m[1] == "high" {
					got = n.HighV
				}
				within(t, name+" "+m[1]+" "+n.Name, got, want, 0.2)
				compared++
			}
			if compared < 2*len(nodes) {
				t.Errorf("compared %d figures of %d nodes", compared, len(nodes))
			}
		})
	}
}

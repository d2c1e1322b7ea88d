package plan_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/plan"
	model "coldrise/domain/supply"
)

func bringStep(t *testing.T, b *plan.BringUp, name string) plan.BringStep {
	t.Helper()
	for _, s := range b.Steps {
		if s.Name == name {
			return s
		}
	}
	t.Fatalf("no step %s", name)
	return plan.BringStep{}
}

func bringNode(t *testing.T, s plan.BringStep, at string) plan.BringNode {
	t.Helper()
	for _, n := range s.Nodes {
		if n.Supply+"/"+n.Node == at {
			return n
		}
	}
	t.Fatalf("step %s has no node %s", s.Name, at)
	return plan.BringNode{}
}

// By hand, without a study, so that windows are ±10 %: half of √2 × the
// winding less two silicon drops with nothing drawn; the whole of it first.
func TestBringUpByHand(t *testing.T) {
	t.Parallel()
	c := starter(t)
	b := makePlan(t, demo(t, "ravensgill-100"), derate.Default(), c).BringUp
	var names []string
	for _, s := range b.Steps {
		names = append(names, s.Name)
	}
	if got := strings.Join(names, " "); got != "rectifier_out reduced_mains output_tubes_out all_in" {
		t.Errorf("steps %s", got)
	}
	half := bringStep(t, b, "reduced_mains")
	if half.WallV != 115 {
		t.Errorf("reduced mains are %g V", half.WallV)
	}
	// √2 × 335/2 − 2 × 0.6 V
	within(t, "HT/A at half mains", bringNode(t, half, "HT/A").HighV/1.1, math.Sqrt2*335/2-1.2, 0.5)
	if n := bringNode(t, half, "HT/A"); n.LowV <= 0.85*n.HighV/1.1 {
		t.Errorf("silicon conducts at any mains, yet the window of HT/A begins at %g V", n.LowV)
	}
	full := bringStep(t, b, "all_in")
	within(t, "HT/A, all in", bringNode(t, full, "HT/A").HighV/1.1, 441, 1)
	unfed := bringStep(t, b, "rectifier_out")
	if n := bringNode(t, unfed, "HT/A"); n.HighV != 0 || n.StopV != 10 {
		t.Errorf("with its lead off HT/A reads %+v", n)
	}
	// The bias stands in every step: √2 × 52 less a drop, divided by 27/(27 + 4.7).
	within(t, "Bias/G", bringNode(t, unfed, "Bias/G").HighV/1.1, (math.Sqrt2*52-0.7)*27/31.7, 4)

	for name, r := range map[string]struct{ says, never string }{
		"ravensgill-100": {"Silicon conducts at any mains", "hardly conducts"},
		"saltmarsh-40":   {"The filament of 5U4GB falls with the mains too", "hardly conducts"},
		"bare-voltages":  {"GZ34 is indirectly heated and its heater falls with the mains: it hardly conducts", "Silicon conducts"},
	} {
		step := bringStep(t, makePlan(t, demo(t, name), derate.Default(), c).BringUp, "reduced_mains")
		if !strings.Contains(step.Text, r.says) || strings.Contains(step.Text, r.never) {
			t.Errorf("%s: %s", name, step.Text)
		}
		if tube := !strings.Contains(r.says, "Silicon"); tube != (step.Nodes[0].LowV == 0) {
			t.Errorf("%s: the window of %s begins at %g V", name, step.Nodes[0].Node, step.Nodes[0].LowV)
		}
	}
}

// No window of a step is empty, none stops below where it settles but for a
// rating, and the steps rise.
func TestBringUpWindowsAreInOrder(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"fernhollow-6", "saltmarsh-40", "ravensgill-100", "bare-voltages"} {
		b := makePlan(t, demo(t, name), derate.Default(), starter(t)).BringUp
		for _, s := range b.Steps {
			if len(s.Nodes) == 0 || s.Text == "" || s.Title == "" {
				t.Errorf("%s: step %s is bare", name, s.Name)
			}
			for _, n := range s.Nodes {
				if n.LowV > n.HighV || n.HighV > n.FirstV+1e-9 || !n.Rated && n.FirstV > 0 && n.StopV < n.FirstV {
					t.Errorf("%s, step %s: %+v", name, s.Name, n)
				}
			}
		}
	}
}

// A capacitor that holds less than what may come sets where to stop.
func TestBringUpStopsAtARating(t *testing.T) {
	t.Parallel()
	b := makePlan(t, demo(t, "saltmarsh-40"), derate.Default(), plan.Catalogue{}).BringUp // nothing to pick
	n := bringNode(t, bringStep(t, b, "all_in"), "HT/B")
	if !n.Rated || n.StopV != 450 || n.FirstV <= 450 {
		t.Errorf("%+v", n)
	}
	// A stack of two 300 V units, the worst of which takes 60 %, holds 500 V.
	b2 := makePlan(t, demo(t, "ravensgill-100"), derate.Default(), plan.Catalogue{}).BringUp
	if n := bringNode(t, bringStep(t, b2, "output_tubes_out"), "HT/A"); !n.Rated || math.Abs(n.StopV-500) > 0.01 {
		t.Errorf("%+v", n)
	}
	if notes := strings.Join(b.Notes, "\n"); !strings.Contains(notes, "a capacitor at HT/B holds less than what may come (450 V)") {
		t.Errorf("%s", notes)
	}
}

// After the picks: the bias is set anew where it must be, and the fuse sees what
// the parts draw.
func TestAfterThePicks(t *testing.T) {
	t.Parallel()
	c := starter(t)
	ravensgill := makePlan(t, demo(t, "ravensgill-100"), derate.Default(), c).BringUp
	if x := ravensgill.Idle[0]; x.Tube != "EL34" || !x.Rebias || !strings.Contains(x.Text, "the bias supply gets new capacitors") || x.W > x.LimitW {
		t.Errorf("%+v", x)
	}
	// The stack's parts have their old value, and its balancing resistors draw as before.
	within(t, "HT/A after the work", ravensgill.After[0].AfterV, ravensgill.After[0].BeforeV, 0.005)
	within(t, "EL34, 441 V × 36 mA", ravensgill.Idle[0].W, 15.9, 1)
	salt := demo(t, "saltmarsh-40")
	salt.Mains.FuseA, salt.Mains.FuseKind = ref(0.5), "quick"
	b := makePlan(t, salt, derate.Default(), c).BringUp
	if b.Idle[0].Rebias {
		t.Errorf("nothing moved, yet %s", b.Idle[0].Text)
	}
	// The picks are 33 for 32 µF: a little more to charge.
	if b.Inrush.AfterA < b.Inrush.BeforeA || b.Inrush.AfterA > 1.1*b.Inrush.BeforeA || !b.Inrush.Over || !strings.Contains(b.Inrush.Text, "Never fit a larger fuse") {
		t.Errorf("%+v", *b.Inrush)
	}
	// The rectifier's highest peak from cold × 355/120.
	within(t, "primary peak", b.Inrush.BeforeA, coldStartPeak(t, salt)*355/120, 0.5)

	hot := demo(t, "fernhollow-6")
	hot.Supplies[0].Nodes[0].Loads[0].IdleMA, hot.Supplies[0].Nodes[0].Loads[0].FullMA = ref(48.0), ref(50.0)
	if x := makePlan(t, hot, derate.Default(), c).BringUp.Idle[0]; !x.Rebias || x.W <= x.LimitW || !strings.Contains(x.Text, "it is over its 12 W") {
		t.Errorf("%+v", x)
	}
}

// coldStartPeak is the rectifier's highest peak from cold, by equal steps.
func coldStartPeak(t *testing.T, a *amp.Amplifier) float64 {
	t.Helper()
	m, err := model.NewModel(context.Background(), a, 0)
	if err != nil {
		t.Fatal(err)
	}
	r, err := model.Simulate(context.Background(), m.Circuit(m.Services()[0], nil), model.Settings{})
	if err != nil {
		t.Fatal(err)
	}
	return max(r.Diodes[0].PeakA, r.Diodes[1].PeakA)
}

// The cans of an upper unit and of a negative rail are live, at their volts.
func TestLiveCans(t *testing.T) {
	t.Parallel()
	p := makePlan(t, demo(t, "ravensgill-100"), derate.Default(), starter(t))
	got := map[string]float64{}
	for _, c := range p.BringUp.Cans {
		got[c.Ref] = c.V
	}
	// Half of √2 × 335 × 1.1; the whole of −√2 × 52 × 1.1, and its divider.
	for at, want := range map[string]float64{"C40": 260.6, "C50": -80.2, "C51": -68.3} {
		if math.Abs(got[at]-want) > 0.03*math.Abs(want) {
			t.Errorf("the can of %s stands at %.1f V, want %.1f V", at, got[at], want)
		}
	}
	if len(got) != 3 {
		t.Errorf("live cans: %v", got)
	}
	if all := strings.Join(p.Cautions, "\n"); !strings.Contains(all, "Live cans, against chassis: C40 2") || !strings.Contains(all, "Measure across each unit") {
		t.Errorf("%s", all)
	}
	if cans := makePlan(t, demo(t, "saltmarsh-40"), derate.Default(), starter(t)).BringUp.Cans; len(cans) > 0 {
		t.Errorf("saltmarsh: %+v", cans)
	}
}

var settledV = regexp.MustCompile(`(?m)^v_(\w)\s*=\s*(\S+)`)

// A second route: the supply of ravensgill-100 written by hand, run by ngspice
// at half mains with nothing drawn, and at full mains with the output tubes out.
func TestBringUpAgreesWithNgspice(t *testing.T) {
	t.Parallel()
	ngspice := needNgspice(t)
	a := demo(t, "ravensgill-100")
	for i := range a.Positions {
		a.Positions[i].Fitted.RatedV = 700 // nothing to replace: the netlist has the fitted values
	}
	b := makePlan(t, a, derate.Default(), plan.Catalogue{}).BringUp
	const netlist = `ravensgill-100 on the bench
VS s m SIN(0 %.9g 50)
RS s t 20.577
.model D D(IS=5n N=1.8 RS=0.04 CJO=20p)
D1 t a D
D2 m a D
D3 0 t D
D4 0 m D
RF m 0 100meg
C1 a y 100u IC=%[2]g
R1 a y 220k
C2 y 0 100u IC=%[2]g
R2 y 0 220k
RB a b 150
CB b 0 50u IC=%[3]g
RC b c 10k
CC c 0 32u IC=%[3]g
RD c d 15k
CD d 0 32u IC=%[3]g
%[4]s
.options reltol=1e-4 abstol=1e-9
.tran 1m 12 0 100u uic
.meas tran v_a AVG v(a) FROM=11 TO=12
.meas tran v_b AVG v(b) FROM=11 TO=12
.meas tran v_c AVG v(c) FROM=11 TO=12
.meas tran v_d AVG v(d) FROM=11 TO=12
.end
`
	worst := 0.0
	for _, r := range []struct {
		step   string
		share  float64
		loads  string
		figure func(plan.BringNode) float64
	}{
		{"reduced_mains", 0.5, "", func(n plan.BringNode) float64 { return n.HighV / 1.1 }},
		{"output_tubes_out", 1, "BLC c 0 I=0.0044*(uramp(V(c))/367)^1.4\nBLD d 0 I=0.0036*(uramp(V(d))/314)^1.4", func(n plan.BringNode) float64 { return n.LowV / 0.9 }},
	} {
		peak := math.Sqrt2 * 335 * r.share
		deck := filepath.Join(t.TempDir(), "deck.cir")
		if err := os.WriteFile(deck, []byte(fmt.Sprintf(netlist, peak, peak/2-1, peak-2, r.loads)), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(ngspice, "-b", deck).CombinedOutput()
		if err != nil {
			t.Fatalf("ngspice: %v\n%s", err, out)
		}
		found := settledV.FindAllStringSubmatch(string(out), -1)
		if len(found) != 4 {
			t.Fatalf("%d figures\n%s", len(found), out)
		}
		for _, f := range found {
			want, err := strconv.ParseFloat(f[2], 64)
			if err != nil {
				t.Fatal(err)
			}
			n := bringNode(t, bringStep(t, b, r.step), "HT/"+strings.ToUpper(f[1]))
			within(t, r.step+" HT/"+f[1], r.figure(n), want, 0.2)
			worst = math.Max(worst, math.Abs(r.figure(n)/want-1))
		}
	}
	t.Logf("worst of eight voltages: %.3f %%", 100*worst)
}

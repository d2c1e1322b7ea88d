package supply

import (
	"bytes"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"coldrise/domain/amp"
)

// netlist is a circuit as ngspice reads it, written from the model's
// definition in testdata/circuits/README.md and from nothing in the solver: a
// negative supply is really negative here, a bridge really has four diodes.
type netlist struct {
	strings.Builder
	c       *Circuit
	emit    int
	measure []string
	from    float64
}

func (n *netlist) line(format string, args ...any) { fmt.Fprintf(n, format+"\n", args...) }

// meas has ngspice take one figure of a quantity over the whole run or the
// steady window.
func (n *netlist) meas(name, what, quantity string, whole bool) {
	from := n.from
	if whole {
		from = 0
	}
	n.measure = append(n.measure, fmt.Sprintf(".meas tran %s %s %s from=%.9g to=%.9g", name, what, quantity, from, n.c.TEndS))
}

// emission writes a warm-up as a voltage and gives its expression.
func (n *netlist) emission(w *amp.WarmUp) string {
	if w == nil {
		return "1"
	}
	n.emit++
	if w.Law == "logistic" {
		n.line("Bw%d w%d 0 V = 1/(1+exp(-(time-%.9g)/%.9g))", n.emit, n.emit, *w.T0S, *w.TauS)
	} else {
		x := fmt.Sprintf("min(max((time-%.9g)/%.9g,0),1)", *w.TaS, *w.TbS-*w.TaS)
		n.line("Bw%d w%d 0 V = %s^2*(3-2*%s)", n.emit, n.emit, x, x)
	}
	return fmt.Sprintf("V(w%d)", n.emit)
}

// contact writes the standby switch between a and b, moving within 1 µs.
func (n *netlist) contact(name, a, b string) {
	s := n.c.Standby
	lo, hi := math.Log(1/s.RoffOhm), math.Log(1/max(s.RonOhm, leastBranchOhm))
	n.line("V%sc %sc 0 PWL(0 0 %.9g 0 %.9g 1)", name, name, s.CloseS, s.CloseS+1e-6)
	n.line("B%s %s %s I = V(%s,%s)*exp(%.12g+V(%sc)*%.12g)", name, a, b, a, b, lo, name, hi-lo)
}

// diode writes one diode from anode to cathode with an ammeter behind it.
func (n *netlist) diode(name, anode, cathode string, w string) {
	if n.c.Rectifier.Polarity == "negative" {
		anode, cathode = cathode, anode
	}
	d := &n.c.Rectifier.Diode
	n.line("V%s %sx %s 0", name, name, cathode)
	if d.Kind == "tube" {
		g := d.DropMA / 1000 / math.Pow(d.DropV, 1.5)
		n.line("B%s %s %sx I = %s*%.12g*uramp(V(%s,%sx))^1.5", name, anode, name, w, g, anode, name)
		return
	}
	at := anode
	for k := 1; k < d.SeriesCount; k++ {
		next := fmt.Sprintf("%ss%d", name, k)
		n.line("D%s%d %s %s DSI", name, k, at, next)
		at = next
	}
	n.line("D%s %s %sx DSI", name, at, name)
}

func (n *netlist) rectifier(out string) {
	r := &n.c.Rectifier
	w := n.emission(r.Diode.WarmUp)
	if r.Diode.Kind == "silicon" {
		cjo := ""
		if r.Topology == "bridge" || r.Diode.SeriesCount > 1 {
			cjo = " CJO=20p" // without it ngspice stops on a floating winding or joint
		}
		n.line(".model DSI D(IS=%.9g N=%.9g RS=%.9g%s)", r.Diode.IsA, r.Diode.N, r.Diode.RsOhm, cjo)
	}
	vpk := r.SecondaryVRM * math.Sqrt2 * n.c.Mains.Factor
	winding := func(name, plus, minus string, v float64) {
		n.line("V%s s%s %s SIN(0 %.12g %.9g 0 0 %.9g)", name, name, minus, v, n.c.Mains.FreqHz, n.c.Mains.PhaseDeg)
		end := "s" + name
		if n.c.switchAt("in_winding") {
			n.contact("sw"+name, end, "t"+name)
			end = "t" + name
		}
		n.line("RS%s %s %s %.9g", name, end, plus, r.RsOhm)
	}
	// Named by the half of the winding's current: a negative supply's reversed
	// diodes each conduct on the other half.
	pos, neg := "d_pos", "d_neg"
	if r.Polarity == "negative" {
		pos, neg = neg, pos
	}
	switch r.Topology {
	case "full_wave_ct":
		winding("a", "aa", "0", vpk)
		winding("b", "ab", "0", -vpk)
		n.diode("da", "aa", out, w)
		n.diode("db", "ab", out, w)
	case "half_wave":
		winding("a", "aa", "0", vpk)
		n.diode("d1", "aa", out, w)
	case "bridge":
		winding("a", "aa", "ab", vpk)
		n.line("Rflt ab 0 100meg")
		n.diode(pos, "aa", out, w)
		n.diode(neg, "ab", out, w)
		n.diode("dr_pos", "0", "ab", w)
		n.diode("dr_neg", "0", "aa", w)
	case "doubler":
		winding("a", "aa", n.c.Nodes[0].Name+"m1", vpk)
		n.diode(pos, "aa", out, w)
		n.diode(neg, "0", "aa", w)
	}
}

// stack writes capacitors from a node to ground and what is measured of them.
func (n *netlist) stack(node, name string, caps []Unit) {
	id := strings.ReplaceAll(name, ".", "_")
	mid := func(k int) string {
		switch {
		case k == 0:
			return node
		case k == len(caps):
			return "0"
		}
		return fmt.Sprintf("%sm%d", id, k)
	}
	for k, u := range caps {
		unit := id
		if len(caps) > 1 {
			unit = fmt.Sprintf("%s_c%d", id, k+1)
		}
		top, low := mid(k), mid(k+1)
		n.line("VC%s %s %sx 0", unit, top, unit)
		n.line("RE%s %sx %sy %.9g", unit, unit, unit, math.Max(u.ESROhm, 1e-6))
		n.line("C%s %sy %s %.9gu IC=0", unit, unit, low, u.CUF)
		n.line("RK%s %s %s %.9g", unit, top, low, u.LeakOhm)
		n.line("E%s q%s 0 %s %s %d", unit, unit, top, low, n.sign())
		n.voltage(unit)
		n.meas("ia_"+unit, "AVG", "i(vc"+unit+")", false)
		n.meas("ir_"+unit, "RMS", "i(vc"+unit+")", false)
	}
	if len(caps) > 1 {
		n.line("E%s q%s 0 %s 0 %d", id, id, node, n.sign())
		n.voltage(id)
	}
}

func (n *netlist) voltage(id string) {
	n.meas("vp_"+id, "MAX", "v(q"+id+")", true)
	n.meas("va_"+id, "AVG", "v(q"+id+")", false)
	n.meas("vr_"+id, "PP", "v(q"+id+")", false)
}

func (n *netlist) sign() int {
	if n.c.Rectifier.Polarity == "negative" {
		return -1
	}
	return 1
}

func (n *netlist) load(name, node string, l *Load) {
	w := n.emission(l.WarmUp)
	n.line("B%s %s 0 I = %d*%.12g*%s*(uramp(%d*V(%s))/%.12g)^%.9g", name, node, n.sign(), l.I0MA/1000, w, n.sign(), node, l.V0, l.Alpha)
}

func (n *netlist) nodes() {
	parents := feeders(n.c.Nodes)
	for i := range n.c.Nodes {
		node := &n.c.Nodes[i]
		from, feed := "raw", "after_rectifier"
		if i > 0 {
			from, feed = n.c.Nodes[parents[i]].Name, "after_reservoir"
		}
		if n.c.switchAt(feed) && (i == 0 || parents[i] == 0) {
			to := node.Name
			if node.Series != nil {
				to = "k" + node.Name
			}
			n.contact("sw"+node.Name, from, to)
			from = to
		}
		if s := node.Series; s != nil {
			if s.LH != nil {
				n.line("L%s %s l%s %.9g IC=0", node.Name, from, node.Name, *s.LH)
				n.line("RL%s l%s %s %.9g", node.Name, node.Name, node.Name, math.Max(orZero(s.DCROhm), 1e-6))
			} else {
				n.line("R%s %s %s %.9g", node.Name, from, node.Name, *s.ROhm)
			}
		}
		if node.BleedOhm != nil {
			n.line("RB%s %s 0 %.9g", node.Name, node.Name, *node.BleedOhm)
		}
		n.stack(node.Name, node.Name, node.Caps)
		for k, caps := range node.Beside {
			n.stack(node.Name, besideName(node.Name, k), caps)
		}
		if node.Load != nil {
			n.load("L"+node.Name, node.Name, node.Load)
		}
		for k := range node.Further {
			n.load(fmt.Sprintf("L%s_%d", node.Name, k), node.Name, &node.Further[k])
		}
	}
}

// writeNetlist gives the netlist of c with steps of at most stepUS.
func writeNetlist(c *Circuit, stepUS float64) string {
	n := &netlist{c: c, from: math.Max(0, c.TEndS-1)}
	n.line("coldrise check circuit")
	out := c.Nodes[0].Name
	if hasRaw(c) {
		out = "raw"
		leak := defaultRawLeakOhm
		if c.RawLeakOhm != nil {
			leak = *c.RawLeakOhm
		}
		n.line("Rraw raw 0 %.9g", leak)
	}
	n.rectifier(out)
	n.nodes()
	for _, d := range []string{"da", "db", "d1", "d_pos", "d_neg"} {
		if strings.Contains(n.String(), "\nV"+d+" ") {
			n.meas("dp_"+d, "MAX", "i(v"+d+")", true)
			n.meas("ds_"+d, "MAX", "i(v"+d+")", false)
			n.meas("dr_"+d, "RMS", "i(v"+d+")", false)
			n.meas("da_"+d, "AVG", "i(v"+d+")", false)
		}
	}
	n.line(".options reltol=1e-4 abstol=1e-9 vntol=1e-5 chgtol=1e-12 method=trap")
	n.line(".tran 1m %.9g 0 %.9gu uic", c.TEndS, stepUS)
	n.WriteString(strings.Join(n.measure, "\n"))
	n.line("\n.end")
	return n.String()
}

// needNgspice skips where ngspice is not installed; under CI it fails.
func needNgspice(t *testing.T) string {
	t.Helper()
	path, err := exec.LookPath("ngspice")
	if err == nil {
		return path
	}
	if os.Getenv("CI") == "true" {
		t.Fatal("ngspice is not installed: apt-get install ngspice")
	}
	t.Skip("ngspice is not installed: apt-get install ngspice")
	return ""
}

var measured = regexp.MustCompile(`(?m)^(\w+)\s+=\s+([-+0-9.eE]+)`)

// ngspice runs a circuit and gives its results in ours' order; what .meas
// cannot take (first time at 99.9 %, time above, worst cycle) is copied from like.
func ngspice(t *testing.T, c *Circuit, stepUS float64, like *Result) *Result {
	t.Helper()
	want, _ := timedNgspice(t, c, stepUS, like)
	return want
}

// timedNgspice gives the CPU time that ngspice took as well.
func timedNgspice(t *testing.T, c *Circuit, stepUS float64, like *Result) (*Result, time.Duration) {
	t.Helper()
	path := needNgspice(t)
	deck := filepath.Join(t.TempDir(), "deck.cir")
	text := writeNetlist(c, stepUS)
	if err := os.WriteFile(deck, []byte(text), 0o600); err != nil {
		t.Fatal(err)
	}
	var out bytes.Buffer
	cmd := exec.Command(path, "-b", deck)
	cmd.Stdout, cmd.Stderr = &out, &out
	if err := cmd.Run(); err != nil || strings.Contains(out.String(), "failed") {
		t.Fatalf("ngspice: %v\n%s\n%s", err, out.String(), text)
	}
	figures := map[string]float64{}
	for _, m := range measured.FindAllStringSubmatch(out.String(), -1) {
		v, err := strconv.ParseFloat(m[2], 64)
		if err != nil {
			t.Fatal(err)
		}
		figures[m[1]] = v
	}
	figure := func(name string) float64 {
		v, ok := figures[strings.ToLower(name)]
		if !ok {
			t.Fatalf("ngspice gave no %s\n%s", name, out.String())
		}
		return v
	}
	want := *like
	want.Caps = append([]CapResult(nil), like.Caps...)
	want.Diodes = append([]DiodeResult(nil), like.Diodes...)
	for i := range want.Caps {
		k := &want.Caps[i]
		id := strings.ReplaceAll(k.Cap, ".", "_")
		k.PeakV, k.SteadyMeanV, k.SteadyRippleVPP = figure("vp_"+id), figure("va_"+id), figure("vr_"+id)
		if k.Harmonics != nil {
			k.SteadyRippleARMS = math.Sqrt(math.Max(0, math.Pow(figure("ir_"+id), 2)-math.Pow(figure("ia_"+id), 2)))
		}
	}
	for i := range want.Diodes {
		d := &want.Diodes[i]
		d.PeakA, d.SteadyPeakA, d.SteadyRMSA, d.SteadyMeanA = figure("dp_"+d.Diode), figure("ds_"+d.Diode), figure("dr_"+d.Diode), figure("da_"+d.Diode)
	}
	return &want, cmd.ProcessState.UserTime() + cmd.ProcessState.SystemTime()
}

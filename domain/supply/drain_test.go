package supply

import (
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"
)

func only(farad, ohm float64) *Drain {
	return &Drain{nodes: []string{"A"}, farads: []float64{farad}, bleeders: []Bleeder{{Node: 0, Ohm: ohm, Name: "the bleeder at A"}}}
}

// Check-values.md 5.4, COMPUTED and exact: t = R·C·ln(V0/V), printed to four digits.
func TestDischargeOfOneCapacitor(t *testing.T) {
	t.Parallel()
	for _, r := range []struct {
		what                    string
		farad, ohm, v0, v, want float64
	}{
		{"450 V to 60 V, τ", 1, 1, 450, 60, 2.0149},
		{"450 V to 50 V, τ", 1, 1, 450, 50, 2.1972},
		{"450 V to 34 V, τ", 1, 1, 450, 34, 2.5829},
		{"500 V to 30 V, τ", 1, 1, 500, 30, 2.8134},
		{"100 µF, 220 kΩ, 450 V to 60 V", 100e-6, 220e3, 450, 60, 44.33},
		{"40 µF, 100 kΩ, 450 V to 60 V", 40e-6, 100e3, 450, 60, 8.06},
		{"47 µF, 150 kΩ, 450 V to 60 V", 47e-6, 150e3, 450, 60, 14.21},
		{"100 µF, 297.8 kΩ, 450 V to 60 V", 100e-6, 297.8e3, 450, 60, 60.00},
	} {
		got, proven := only(r.farad, r.ohm).SecondsTo(r.v0, r.v)
		exact := r.ohm * r.farad * math.Log(r.v0/r.v)
		if !proven[0] || math.Abs(got[0]-exact) > 1e-12*exact || math.Abs(got[0]-r.want) > 6e-4*r.want {
			t.Errorf("%s: %.9g s, %v; want %.9g s, printed as %g", r.what, got[0], proven[0], exact, r.want)
		}
	}
	if got, proven := only(1, 1).SecondsTo(50, 60); got[0] != 0 || !proven[0] {
		t.Errorf("from 50 V to 60 V takes %g s, %v", got[0], proven[0])
	}
}

// Two equal capacitors, the far one through a resistor: the closed form of the
// quadratic, worked by hand. C = 1 F, bleeder 1 Ω at A, dropper 1 Ω to B:
// rates (3 ∓ √5)/2; vA = a·exp(−r1·t) + b·exp(−r2·t) with a = (5+√5)/10 · … .
func TestDischargeOfTwoCapacitorsInClosedForm(t *testing.T) {
	t.Parallel()
	d := &Drain{nodes: []string{"A", "B"}, farads: []float64{1, 1}, bleeders: []Bleeder{{Node: 0, Ohm: 1}}, joins: []join{{0, 1, 1}}}
	m := d.modes([]int{0, 1}, d.bleeders)
	r1, r2 := (3-math.Sqrt(5))/2, (3+math.Sqrt(5))/2
	// A begins at 1 with slope −1, B at 1 with slope 0.
	a1, b1 := (r2-1)/(r2-r1), r2/(r2-r1)
	for _, at := range []float64{0, 0.1, 1, 3, 10} {
		for k, share := range []float64{a1, b1} {
			want := share*math.Exp(-r1*at) + (1-share)*math.Exp(-r2*at)
			if got := m.at(k, at); math.Abs(got-want) > 1e-14 {
				t.Errorf("node %d after %g s: %.15f, want %.15f", k, at, got, want)
			}
		}
	}
}

// The area under a node's fall is Elmore's delay: every resistance on the way
// to the one bleeder times all the capacitance that empties through it. It needs
// every mode, and each to the last digit.
func TestDischargeHasElmoresArea(t *testing.T) {
	t.Parallel()
	farads := []float64{50e-6, 100e-6, 32e-6, 16e-6, 8e-6, 220e-6}
	ohms := []float64{220e3, 90, 4700, 22e3, 100e3, 15}
	d := &Drain{farads: farads, bleeders: []Bleeder{{Node: 0, Ohm: ohms[0]}}}
	var group []int
	for i := range farads {
		d.nodes, group = append(d.nodes, string(rune('A'+i))), append(group, i)
		if i > 0 {
			d.joins = append(d.joins, join{i - 1, i, ohms[i]})
		}
	}
	m := d.modes(group, d.bleeders)
	want := 0.0
	for k := range farads {
		beyond := 0.0
		for _, f := range farads[k:] {
			beyond += f
		}
		want += ohms[k] * beyond
		area := 0.0
		for e, r := range m.rates {
			area += m.share[k][e] / r
		}
		if math.Abs(area-want) > 1e-9*want {
			t.Errorf("node %s: %.12g s, want %.12g s", d.nodes[k], area, want)
		}
	}
}

// A switch behind the reservoir cuts the nodes behind it off from a bleeder
// ahead of it; one ahead of the reservoir cuts nothing off.
func TestStandbyDecidesWhichNodesDischarge(t *testing.T) {
	t.Parallel()
	const ladder = `{"name":"L","mains":{"nominal_v":120,"frequency_hz":60},"supplies":[{"name":"HT","rectifier":{"type":"5U4GB"},
		"winding":{"connection":"centre_tapped","unloaded_v":355,"secondary_ohm":58},"standby":{"switch":"%s"},
		"nodes":[{"name":"A","schematic_v":400%s},{"name":"B","dropper_ohm":100,"schematic_v":391%s},{"name":"C","dropper_ohm":10000,"schematic_v":330},
			{"name":"D","from":"A","dropper_ohm":470000,"schematic_v":380}]}]}`
	for _, r := range []struct {
		place, atA, atB string
		open, closed    string // nodes with a proven path
	}{
		{"after_reservoir", `,"bleeder_ohm":220000`, "", "A", "ABCD"},
		{"after_reservoir", "", `,"bleeder_ohm":220000`, "BC", "ABCD"},
		{"after_rectifier", "", `,"bleeder_ohm":220000`, "ABCD", "ABCD"},
		{"in_winding", `,"bleeder_ohm":220000`, "", "ABCD", "ABCD"},
		{"after_reservoir", "", "", "", ""},
	} {
		m := model(t, parseAmp(t, fmt.Sprintf(ladder, r.place, r.atA, r.atB)), 0)
		for open, want := range map[bool]string{true: r.open, false: r.closed} {
			_, proven := m.Drain(open).SecondsTo(500, 60)
			got := ""
			for i, p := range proven {
				if p {
					got += m.Nodes[i].Name
				}
			}
			if got != want {
				t.Errorf("switch %s, bleeders %q and %q, open %v: %q discharge, want %q", r.place, r.atA, r.atB, open, got, want)
			}
		}
	}
}

// A stack's balancing resistors are a path, in series; a single capacitor's
// leakage never is one, whatever was measured.
func TestLeakageIsNoPath(t *testing.T) {
	t.Parallel()
	_, m := demoModel(t, "ravensgill-100")
	through := m.Drain(false).Bleeders()
	if len(through) != 1 || through[0].Ohm != 440e3 || through[0].Name != "the balancing resistors at A" {
		t.Errorf("paths of ravensgill-100: %+v; want 440 kΩ across the stack at A alone", through)
	}
	leaky, m := demoModel(t, "saltmarsh-40")
	leak := 1e5
	leaky.Positions[0].Fitted.LeakOhm = &leak
	if through := model(t, leaky, 0).Drain(false).Bleeders(); len(through) > 0 {
		t.Errorf("a leaky capacitor counts as a path: %+v", through)
	}
	if _, proven := m.Drain(false).SecondsTo(530, 60); proven[0] {
		t.Error("a time without a path")
	}
}

// More resistance to chassis never slows a node, one less never hastens it, and
// no node rises on its way down.
func TestDischargeLaws(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		d := randomDrain(t)
		v0 := rapid.Float64Range(70, 700).Draw(t, "v0")
		base, proven := d.SecondsTo(v0, 60)
		more, _ := d.And(Bleeder{Node: rapid.IntRange(0, len(d.nodes)-1).Draw(t, "at"), Ohm: 1e5}).SecondsTo(v0, 60)
		fewer, left := d.Without(rapid.IntRange(0, len(d.bleeders)-1).Draw(t, "open")).SecondsTo(v0, 60)
		later, _ := d.SecondsTo(v0, 50)
		for i := range base {
			const slack = 1 + 1e-9
			if proven[i] && more[i] > base[i]*slack || left[i] && fewer[i]*slack < base[i] || proven[i] && later[i]*slack < base[i] {
				t.Fatalf("node %d: %g s; %g s with one bleeder more, %g s with one open, %g s to 50 V", i, base[i], more[i], fewer[i], later[i])
			}
		}
		m := d.modes(d.Groups()[0], d.Through(d.Groups()[0]))
		for k := range d.Groups()[0] {
			was := m.at(k, 0)
			if math.Abs(was-1) > 1e-6 {
				t.Fatalf("node %d begins at %g of its voltage", k, was)
			}
			for at := 1e-3; at < 1e5; at *= 1.5 {
				now := m.at(k, at)
				if now > was+1e-7 {
					t.Fatalf("node %d rises from %g to %g at %g s", k, was, now, at)
				}
				was = now
			}
		}
	})
}

// randomDrain is one tree of up to eight nodes with one bleeder or more.
func randomDrain(t *rapid.T) *Drain {
	n := rapid.IntRange(1, 8).Draw(t, "nodes")
	d := &Drain{}
	for i := range n {
		d.nodes = append(d.nodes, string(rune('A'+i)))
		d.farads = append(d.farads, rapid.Float64Range(1e-6, 500e-6).Draw(t, "C"))
		if i > 0 {
			ohm := math.Pow(10, rapid.Float64Range(-3, 6).Draw(t, "dropper"))
			d.joins = append(d.joins, join{rapid.IntRange(0, i-1).Draw(t, "from"), i, ohm})
		}
		if i == 0 || rapid.IntRange(0, 3).Draw(t, "bled") == 0 {
			d.bleeders = append(d.bleeders, Bleeder{Node: i, Ohm: math.Pow(10, rapid.Float64Range(3, 7).Draw(t, "bleeder"))})
		}
	}
	return d
}

var fallTime = regexp.MustCompile(`(?m)^t_(\w)\s*=\s*(\S+)`)

// ngspice from the same initial charge: a ladder with its ESR and choke, the
// standby behind the reservoir closed and open, a bleeder on either side of it.
func TestDischargeAgreesWithNgspice(t *testing.T) {
	t.Parallel()
	path := needNgspice(t)
	const ladder = `{"name":"L","mains":{"nominal_v":230,"frequency_hz":50},"supplies":[{"name":"HT","rectifier":{"type":"GZ34"},
		"winding":{"connection":"centre_tapped","unloaded_v":350,"secondary_ohm":60},"standby":{"switch":"after_reservoir","off_ohm":1e12},
		"nodes":[{"name":"A","schematic_v":430,"bleeder_ohm":220000},{"name":"B","choke_h":8,"dcr_ohm":90,"schematic_v":420},
			{"name":"C","dropper_ohm":4700,"schematic_v":390,"bleeder_ohm":470000},{"name":"D","dropper_ohm":22000,"schematic_v":330}]}],
		"positions":[{"ref":"C1","role":"reservoir","node":"HT/A","wanted_uf":50},{"ref":"C2","role":"smoothing","node":"HT/B","wanted_uf":100},
			{"ref":"C3","role":"smoothing","node":"HT/C","wanted_uf":32},{"ref":"C4","role":"smoothing","node":"HT/D","wanted_uf":16}]}`
	m := model(t, parseAmp(t, ladder), 0)
	worst := 0.0
	for _, open := range []bool{false, true} {
		contact := "0.05"
		if open {
			contact = "1e12"
		}
		text := "discharge of a ladder\nCA a xa 50u IC=500\nREA xa 0 2\nRBA a 0 220k\nRSW a s " + contact + "\nL1 s l 8 IC=0\nRL l b 90\n" +
			"CB b xb 100u IC=500\nREB xb 0 1\nR2 b c 4.7k\nCC c xc 32u IC=500\nREC xc 0 3\nRBC c 0 470k\nR3 c d 22k\nCD d xd 16u IC=500\nRED xd 0 6\n" +
			".options reltol=1e-5\n.tran 10m 400 0 10m uic\n"
		for _, n := range "abcd" {
			text += fmt.Sprintf(".meas tran t_%c WHEN v(%c)=60 FALL=LAST\n", n, n)
		}
		deck := filepath.Join(t.TempDir(), "deck.cir")
		if err := os.WriteFile(deck, []byte(text+".end\n"), 0o600); err != nil {
			t.Fatal(err)
		}
		out, err := exec.Command(path, "-b", deck).CombinedOutput()
		if err != nil {
			t.Fatalf("ngspice: %v\n%s", err, out)
		}
		seconds, proven := m.Drain(open).SecondsTo(500, 60)
		found := fallTime.FindAllStringSubmatch(string(out), -1)
		if len(found) != 4 {
			t.Fatalf("ngspice gave %d times\n%s", len(found), out)
		}
		for _, f := range found {
			i := strings.Index("abcd", f[1])
			want, err := strconv.ParseFloat(f[2], 64)
			if err != nil {
				t.Fatal(err)
			}
			worst = math.Max(worst, math.Abs(seconds[i]/want-1))
			if !proven[i] || math.Abs(seconds[i]-want) > 1e-4*want {
				t.Errorf("standby open %v, node %s: %.5g s, %v; ngspice %.5g s", open, f[1], seconds[i], proven[i], want)
			}
		}
	}
	t.Logf("worst of eight times: %.4f %%", 100*worst)
}

package supply

import (
	"context"
	"errors"
	"math"
	"path/filepath"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"coldrise/domain/problem"
)

func mustFast(tb testing.TB, c *Circuit, s Settings) *Result {
	tb.Helper()
	r, err := SimulateFast(context.Background(), c, s)
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

// extraCircuits gives the names of circuits of our own, with a minute's run each.
func extraCircuits(tb testing.TB) []string {
	tb.Helper()
	files, err := filepath.Glob(filepath.Join(circuitDir, "extra", "*.json"))
	if err != nil || len(files) == 0 {
		tb.Fatal("no extra circuits", err)
	}
	var names []string
	for _, f := range files {
		names = append(names, "extra/"+strings.TrimSuffix(filepath.Base(f), ".json"))
	}
	return names
}

// fastBars are the for peaks, means, ripple RMS and diode peaks. A time
// at 99.9 % of a peak that is crept up to may be off by what 0.02 % of the
// voltage make of it, a fifth of the way to the peak.
var fastBars = allowed{peakPct: 0.1, meanPct: 0.1, rmsPct: 1, vppPct: 3, cyclePct: 2, diodePct: 2,
	firstS: 0.1, plateau: 0.2, aboveS: 0.1, rippleS: 0.6, smallV: 0.1, smallA: 1e-5}

func logWorst(t *testing.T, r *Result, w worst) {
	t.Helper()
	t.Logf("%s: %s %s; worst: peak %.4f %%, mean %.4f %%, ripple RMS %.3f %%, p-p %.3f %%, worst cycle %.3f %%, diodes %.3f %%, t999 %.4f s, time above %.4f s",
		t.Name(), r.Status, r.Reason, w.peak, w.mean, w.rms, w.vpp, w.cycle, w.diode, w.first, w.above)
}

func TestFastReferenceCircuits(t *testing.T) {
	t.Parallel()
	for _, name := range referenceCircuits {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c, want := loadCircuit(t, name)
			r := mustFast(t, c, Settings{})
			logWorst(t, r, compare(t, r, want, fastBars))
		})
	}
}

// TestFastExtraCircuits holds the fast solver against fixed steps on every
// topology, choke input, stacks, every standby position and both polarities.
// TestCompare holds the same circuits against ngspice.
func TestFastExtraCircuits(t *testing.T) {
	t.Parallel()
	for _, name := range extraCircuits(t) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c, _ := loadCircuit(t, name)
			r := mustFast(t, c, Settings{})
			if r.Status != Complete {
				t.Errorf("status %s: %s", r.Status, r.Reason)
			}
			logWorst(t, r, compare(t, r, mustSimulate(t, c, Settings{StepsPerCycle: 400}), fastBars))
		})
	}
}

// TestFastOracleCircuits: short runs that end while states still drift.
func TestFastOracleCircuits(t *testing.T) {
	t.Parallel()
	for name, c := range oracleCircuits(t) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			r := mustFast(t, c, Settings{})
			logWorst(t, r, compare(t, r, mustSimulate(t, c, Settings{StepsPerCycle: 1000}), fastBars))
		})
	}
}

// TestFastClosedForm: check-values 2.2, the limit of infinite capacitance,
// under the conditions of TestInfiniteCapacitanceLimit.
func TestFastClosedForm(t *testing.T) {
	t.Parallel()
	const vp, rl = 2000.0, 1000.0
	for _, topology := range []string{"full_wave_ct", "half_wave", "bridge"} {
		for _, ratio := range []float64{0.001, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2} {
			k, pulses, wcr := math.Pi*ratio/2, 2.0, 100.0
			if ratio < 0.01 {
				wcr = 300
			}
			if topology == "half_wave" {
				k, pulses, wcr = math.Pi*ratio, 1, 2*wcr
			}
			r := mustFast(t, stiff(topology, vp, ratio*rl, rl, 1e6*wcr/(2*math.Pi*50*rl)), Settings{})
			got, want := ratios(r, vp, rl), solveClosedForm(k, pulses)
			if r.Status != Complete {
				t.Errorf("%s at Rs/RL %g: %s: %s", topology, ratio, r.Status, r.Reason)
			}
			if off(got.vdc, want.vdc) > 0.3 || off(got.peak, want.peak) > 1 || off(got.rms, want.rms) > 1 || off(got.cap, want.cap) > 1 {
				t.Errorf("%s at Rs/RL %g: Vdc/Vp, Ipk, Irms, Icap over Idc %.5f %.4f %.4f %.4f, closed form %.5f %.4f %.4f %.4f",
					topology, ratio, got.vdc, got.peak, got.rms, got.cap, want.vdc, want.peak, want.rms, want.cap)
			}
		}
	}
}

// TestSolverReuse: a run does not depend on what the Solver ran before.
func TestSolverReuse(t *testing.T) {
	t.Parallel()
	var v Solver
	for range 2 {
		for _, name := range slices.Concat(referenceCircuits, extraCircuits(t)) {
			c, _ := loadCircuit(t, name)
			r, err := v.Run(t.Context(), c, Settings{})
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(mustFast(t, c, Settings{}), r); diff != "" {
				t.Errorf("%s: fresh and used memory differ:\n%s", name, diff)
			}
		}
	}
}

// TestHalvingTheFastStep changes nothing beyond the stated error: half of each bar.
func TestHalvingTheFastStep(t *testing.T) {
	t.Parallel()
	for _, name := range slices.Concat(referenceCircuits, extraCircuits(t)) {
		c, _ := loadCircuit(t, name)
		a := differ(mustFast(t, c, Settings{}), mustFast(t, c, Settings{StepsPerCycle: 192}))
		if !a.within(apart{peak: 0.05, mean: 0.05, ripple: 0.5, inrush: 1}) {
			t.Errorf("%s: %v", name, a)
		}
	}
}

// TestRaisingTheMains raises every capacitor's peak, event times fixed.
func TestRaisingTheMains(t *testing.T) {
	t.Parallel()
	for seed := range uint64(40) {
		c := randomSupply(5000 + seed)
		low := mustFast(t, c, Settings{})
		c.Mains.Factor *= 1.03
		for i, high := range mustFast(t, c, Settings{}).Caps {
			if high.PeakV <= low.Caps[i].PeakV {
				t.Errorf("seed %d: %s peaks at %g V, at 3 %% less mains at %g V", 5000+seed, high.Cap, high.PeakV, low.Caps[i].PeakV)
			}
		}
	}
}

// unload takes every load off a circuit and closes its standby.
func unload(c *Circuit) *Circuit {
	c.Standby = nil
	for i := range c.Nodes {
		c.Nodes[i].Load, c.Nodes[i].Further = nil, nil
	}
	return c
}

// TestBiggerBleeder never raises a settled no-load node.
func TestBiggerBleeder(t *testing.T) {
	t.Parallel()
	for seed := range uint64(40) {
		c := unload(randomSupply(6000 + seed))
		c.TEndS = 60
		at := int(seed) % len(c.Nodes)
		c.Nodes[at].BleedOhm = ptr(220000)
		small := mustFast(t, c, Settings{})
		c.Nodes[at].BleedOhm = ptr(100000)
		for i, n := range mustFast(t, c, Settings{}).Nodes {
			if n.SteadyMeanV > small.Nodes[i].SteadyMeanV*(1+2e-4) {
				t.Errorf("seed %d: %s settles at %g V, with the smaller bleeder at %g V", 6000+seed, n.Node, n.SteadyMeanV, small.Nodes[i].SteadyMeanV)
			}
		}
	}
}

// TestAddingANode fed by a resistance, without leakage, never raises the
// reservoir's no-load peak and leaves its settled value within 0.1 %.
func TestAddingANode(t *testing.T) {
	t.Parallel()
	for seed := range uint64(40) {
		c := unload(randomSupply(7000 + seed))
		c.TEndS = 60
		bare := mustFast(t, c, Settings{}).Nodes[0]
		c.Nodes = append(c.Nodes, Node{Name: "added", Series: dropper(10000), Caps: []Unit{{CUF: 22, ESROhm: 2, LeakOhm: 1e13}}})
		with := mustFast(t, c, Settings{}).Nodes[0]
		if with.PeakV > bare.PeakV*(1+2e-4) {
			t.Errorf("seed %d: the reservoir peaks at %g V, without the node at %g V", 7000+seed, with.PeakV, bare.PeakV)
		}
		if off(with.SteadyMeanV, bare.SteadyMeanV) > 0.1 {
			t.Errorf("seed %d: the reservoir settles at %g V, without the node at %g V", 7000+seed, with.SteadyMeanV, bare.SteadyMeanV)
		}
	}
}

// TestUnloadedChokeInput settles to √2·E, and peaks where fixed steps do.
func TestUnloadedChokeInput(t *testing.T) {
	t.Parallel()
	c, _ := loadCircuit(t, "extra/choke_input_silicon_light")
	unload(c)
	c.RawLeakOhm = ptr(1e8)
	for i := range c.Nodes {
		c.Nodes[i].Caps[0].LeakOhm = 1e9
	}
	n, fixed := mustFast(t, c, Settings{}).Nodes[0], mustSimulate(t, c, Settings{}).Nodes[0]
	want := math.Sqrt2*c.Rectifier.SecondaryVRM*c.Mains.Factor - 2*0.2 // two junctions at some nanoamperes
	if off(n.SteadyMeanV, want) > 0.5 {
		t.Errorf("settles at %.2f V, want %.2f V", n.SteadyMeanV, want)
	}
	if off(n.PeakV, fixed.PeakV) > 0.1 {
		t.Errorf("peaks at %.2f V, by fixed steps at %.2f V", n.PeakV, fixed.PeakV)
	}
}

func TestFastStatus(t *testing.T) {
	t.Parallel()
	base := func(change func(c *Circuit)) *Circuit {
		c, _ := loadCircuit(t, "extra/ct_silicon_after_rectifier")
		c.TEndS = 20
		change(c)
		return c
	}
	rows := []struct {
		name   string
		c      *Circuit
		status Status
		reason string
	}{
		{"the standby closes after the end", base(func(c *Circuit) { c.Standby.CloseS = 25 }), NotStarted, "standby"},
		{"the rectifier never warms", base(func(c *Circuit) {
			c.Rectifier.Diode = Diode{Kind: "tube", DropV: 44, DropMA: 225, WarmUp: smooth(30, 40)}
		}), NotStarted, "rectifier"},
		{"a choke rings at 16 MHz", base(func(c *Circuit) {
			c.TEndS = 0.5
			c.Nodes[1].Series.LH = ptr(1e-4)
			c.Nodes[1].Caps = []Unit{{CUF: 1e-4, LeakOhm: 1e9}}
		}), Unresolved, "rings"},
		{"twenty-one capacitors", base(func(c *Circuit) {
			for range 5 {
				c.Nodes[3].Beside = append(c.Nodes[3].Beside, slices.Repeat(one(10), 4))
			}
		}), FellBack, "too many"},
	}
	for _, row := range rows {
		t.Run(row.name, func(t *testing.T) {
			t.Parallel()
			r := mustFast(t, row.c, Settings{})
			if r.Status != row.status || !strings.Contains(r.Reason, row.reason) {
				t.Errorf("status %s (%s), want %s with %q", r.Status, r.Reason, row.status, row.reason)
			}
			if at := notFinite(reflect.ValueOf(*r), "result"); at != "" {
				t.Errorf("%s is not finite", at)
			}
		})
	}
}

// TestFastStops within 50 ms of being told to, in a fallback as well.
func TestFastStops(t *testing.T) {
	t.Parallel()
	slow, _ := loadCircuit(t, "extra/ct_silicon_after_rectifier")
	slow.TEndS = 600
	for range 5 {
		slow.Nodes[3].Beside = append(slow.Nodes[3].Beside, slices.Repeat(one(10), 4))
	}
	ctx, cancel := context.WithCancel(context.Background())
	var told time.Time
	time.AfterFunc(100*time.Millisecond, func() { told = time.Now(); cancel() })
	_, err := SimulateFast(ctx, slow, Settings{})
	if took := time.Since(told); took > 50*time.Millisecond {
		t.Errorf("stopped after %v", took)
	}
	if problem.CodeOf(err) != problem.Cancelled || !errors.Is(err, context.Canceled) {
		t.Errorf("error %v, want cancelled", err)
	}
}

// TestAnyCircuitFastStaysFinite: whatever is within the bounds gives finite numbers.
func TestAnyCircuitFastStaysFinite(t *testing.T) {
	t.Parallel()
	var v Solver
	rapid.Check(t, func(t *rapid.T) {
		c := anyCircuit(t)
		r, err := v.Run(context.Background(), c, Settings{StepsPerCycle: 96})
		if err != nil {
			t.Fatal(err)
		}
		if at := notFinite(reflect.ValueOf(*r), "result"); at != "" {
			t.Fatalf("%s is not finite (%s %s)", at, r.Status, r.Reason)
		}
		top := c.Rectifier.SecondaryVRM * math.Sqrt2 * c.Mains.Factor
		if c.Rectifier.Topology == "doubler" {
			top *= 2
		}
		for _, n := range r.Nodes {
			if r.Status == Complete && compile(c).fastestRing() == 0 && n.PeakV > 1.001*top {
				t.Fatalf("node %s reaches %g V of a winding's %g V", n.Node, n.PeakV, top)
			}
		}
	})
}

func BenchmarkFast(b *testing.B) {
	for _, name := range slices.Concat(referenceCircuits, extraCircuits(b)) {
		b.Run(filepath.Base(name), func(b *testing.B) {
			c, _ := loadCircuit(b, name)
			b.ReportAllocs()
			var v Solver
			for b.Loop() {
				if _, err := v.Run(b.Context(), c, Settings{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

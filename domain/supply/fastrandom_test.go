package supply

import (
	"context"
	"flag"
	"fmt"
	"math"
	"math/rand/v2"
	"runtime"
	"sort"
	"strings"
	"sync"
	"testing"

	"coldrise/domain/amp"
)

var (
	circuitCount = flag.Int("circuits", 60, "random circuits to hold the fast solver against fixed steps")
	firstCircuit = flag.Uint64("first", 1, "seed of the first random circuit")
	ngspiceCount = flag.Int("ngspice", 4, "of these, run by ngspice as well")
)

// dice draws the parts of a supply.
type dice struct{ *rand.Rand }

func (d dice) between(low, high float64) float64 { return low + (high-low)*d.Float64() }

// decade draws evenly on a logarithmic scale.
func (d dice) decade(low, high float64) float64 { return low * math.Pow(high/low, d.Float64()) }

func (d dice) chance(p float64) bool { return d.Float64() < p }

func (d dice) warmUp(from, to float64) *amp.WarmUp {
	start := d.between(from, to)
	if d.chance(0.2) {
		return &amp.WarmUp{Law: "logistic", T0S: ptr(start + 2), TauS: ptr(d.between(0.2, 0.8))}
	}
	return smooth(start, start+d.between(1, 4))
}

func (d dice) unit(uf float64) Unit {
	return Unit{CUF: uf, ESROhm: d.decade(15, 150) / uf, LeakOhm: d.decade(10, 3000) * 1e6 / uf}
}

func (d dice) diode() Diode {
	if d.chance(0.5) {
		return Diode{Kind: "silicon", IsA: d.decade(1e-10, 1e-7), N: d.between(1.5, 2), RsOhm: d.between(0.02, 0.2), SeriesCount: 1 + d.IntN(2)}
	}
	diode := Diode{Kind: "tube", DropV: d.between(15, 60), DropMA: d.between(75, 250)}
	if d.chance(0.85) {
		diode.WarmUp = d.warmUp(0.3, 2)
	}
	return diode
}

// supply draws a supply as they are built: what a technician might meet, at
// the edges of what is sensible too.
func (d dice) supply() *Circuit {
	c := &Circuit{TEndS: d.between(15, 25), Mains: Source{FreqHz: []float64{50, 60}[d.IntN(2)], Factor: d.between(0.9, 1.1), PhaseDeg: d.between(0, 360)}}
	r := &c.Rectifier
	r.Topology = []string{"full_wave_ct", "full_wave_ct", "bridge", "half_wave", "doubler"}[d.IntN(5)]
	r.Diode = d.diode()
	volts, amps := d.between(180, 450), d.decade(0.02, 0.25)
	switch r.Topology {
	case "half_wave":
		volts, amps = d.between(40, 250), d.decade(0.003, 0.05)
		if d.chance(0.5) {
			r.Polarity = "negative"
		}
	case "doubler":
		volts = d.between(110, 220)
	}
	r.SecondaryVRM, r.RsOhm = volts, volts/amps*d.between(0.01, 0.08)
	dc := volts * 1.2
	if r.Topology == "doubler" {
		dc *= 2
	}
	d.nodes(c, dc, amps)
	d.standby(c)
	return c
}

func (d dice) nodes(c *Circuit, dc, amps float64) {
	doubler := c.Rectifier.Topology == "doubler"
	v := dc
	uf := math.Max(4, math.Min(220, amps*d.between(200, 1000)))
	for i := range 1 + d.IntN(4) {
		n := Node{Name: fmt.Sprintf("n%d", i+1)}
		if i > 0 {
			uf = d.decade(8, 68)
			amps *= d.between(0.05, 0.5)
			if d.chance(0.25) {
				n.Series = &Series{LH: ptr(d.between(2, 15)), DCROhm: ptr(d.between(50, 400))}
			} else {
				drop := d.between(0.02, 0.25) * v
				n.Series = dropper(drop / amps)
				v -= drop
			}
		} else if !doubler && d.chance(0.2) {
			n.Series = &Series{LH: ptr(d.between(3, 15)), DCROhm: ptr(d.between(50, 300))}
			c.RawLeakOhm = ptr(d.decade(2e5, 2e6))
			v *= 0.8
		}
		n.Caps = []Unit{d.unit(uf)}
		if doubler && i == 0 || d.chance(0.2) {
			n.Caps = []Unit{d.unit(2 * uf), d.unit(2 * uf * d.between(0.8, 1.2))}
		}
		if d.chance(0.3) {
			n.BleedOhm = ptr(d.decade(5e4, 1e6))
		}
		if d.chance(0.85) {
			n.Load = &Load{I0MA: 1000 * amps * d.between(0.4, 0.8), V0: v, Alpha: d.between(1, 1.6), WarmUp: d.warmUp(4, 8)}
			if d.chance(0.1) {
				n.Load.WarmUp = nil
			}
		}
		n.Thresholds = []float64{dc * 0.9}
		c.Nodes = append(c.Nodes, n)
	}
}

func (d dice) standby(c *Circuit) {
	places := []string{"", "", "in_winding"}
	if c.Rectifier.Topology != "doubler" {
		places = append(places, "after_rectifier")
	}
	if len(c.Nodes) > 1 {
		places = append(places, "after_reservoir")
	}
	at := places[d.IntN(len(places))]
	if at == "" {
		return
	}
	c.Standby = &Switch{Position: at, CloseS: d.between(1, 12), RonOhm: 0.05, RoffOhm: d.decade(1e8, 1e10)}
	if at == "after_rectifier" {
		c.RawLeakOhm = ptr(d.decade(2e5, 2e6))
	}
}

func randomSupply(seed uint64) *Circuit {
	return dice{rand.New(rand.NewPCG(seed, 20))}.supply()
}

// apart is by how much two results differ at most, %; ripple below 0.1 mA
// counts as if it were that.
type apart struct{ peak, mean, ripple, inrush float64 }

func (a apart) within(b apart) bool {
	return a.peak <= b.peak && a.mean <= b.mean && a.ripple <= b.ripple && a.inrush <= b.inrush
}

func (a apart) String() string {
	return fmt.Sprintf("peak %.4f %%, mean %.4f %%, ripple RMS %.4f %%, diode peak %.4f %%", a.peak, a.mean, a.ripple, a.inrush)
}

func differ(got, want *Result) apart {
	var a apart
	for i := range want.Caps {
		g, w := &got.Caps[i], &want.Caps[i]
		a.peak = math.Max(a.peak, off(g.PeakV, w.PeakV))
		a.mean = math.Max(a.mean, off(g.SteadyMeanV, w.SteadyMeanV))
		if w.Harmonics != nil {
			a.ripple = math.Max(a.ripple, 100*math.Abs(g.SteadyRippleARMS-w.SteadyRippleARMS)/math.Max(w.SteadyRippleARMS, 1e-4))
		}
	}
	for i := range want.Diodes {
		a.inrush = math.Max(a.inrush, off(got.Diodes[i].PeakA, want.Diodes[i].PeakA))
	}
	return a
}

// TestRandomCircuits holds the fast solver against fixed steps of at most
// 50 µs. The whole run is
//
//	.ci/compare random
func TestRandomCircuits(t *testing.T) {
	t.Parallel()
	bar := apart{peak: 0.5, mean: 0.5, ripple: 3, inrush: 2}
	all := make([]apart, *circuitCount)
	fell := make([]string, *circuitCount)
	work := make(chan int)
	var wait sync.WaitGroup
	for range runtime.GOMAXPROCS(0) {
		wait.Go(func() {
			var v Solver
			for i := range work {
				seed := *firstCircuit + uint64(i)
				c := randomSupply(seed)
				got, err := v.Run(context.Background(), c, Settings{})
				if err != nil {
					t.Errorf("seed %d: %v", seed, err)
					continue
				}
				if got.Status != Complete {
					fell[i] = fmt.Sprintf("seed %d: %s: %s", seed, got.Status, got.Reason)
					continue
				}
				fine := int(math.Ceil(20000 / c.Mains.FreqHz)) // 50 µs
				want, err := Simulate(context.Background(), c, Settings{StepsPerCycle: fine})
				if err != nil {
					t.Errorf("seed %d: %v", seed, err)
					continue
				}
				all[i] = differ(got, want)
				if !all[i].within(bar) {
					t.Errorf("seed %d (%s): %v", seed, c.Rectifier.Topology, all[i])
				}
			}
		})
	}
	for i := range *circuitCount {
		work <- i
	}
	close(work)
	wait.Wait()
	report(t, all, fell)
}

// TestRandomCircuitsAgainstNgspice holds some of the same circuits against
// ngspice at 20 µs, cut to what a sample can afford.
func TestRandomCircuitsAgainstNgspice(t *testing.T) {
	t.Parallel()
	needNgspice(t)
	all, fell := make([]apart, *ngspiceCount), make([]string, *ngspiceCount)
	for i := range *ngspiceCount {
		seed := *firstCircuit + uint64(i)
		c := randomSupply(seed)
		if *ngspiceCount < 20 {
			c.TEndS = 10
		}
		got := mustFast(t, c, Settings{})
		if got.Status != Complete {
			fell[i] = fmt.Sprintf("seed %d: %s: %s", seed, got.Status, got.Reason)
			continue
		}
		all[i] = differ(got, ngspice(t, c, 20, got))
		if !all[i].within(apart{peak: 0.5, mean: 0.5, ripple: 3, inrush: 2}) {
			t.Errorf("seed %d (%s): %v", seed, c.Rectifier.Topology, all[i])
		}
	}
	report(t, all, fell)
}

func report(t *testing.T, all []apart, fell []string) {
	t.Helper()
	share := 0
	for _, f := range fell {
		if f != "" {
			share++
			t.Log(f)
		}
	}
	t.Logf("%d circuits, %d fell back (%.2f %%)", len(all), share, 100*float64(share)/float64(len(all)))
	for name, pick := range map[string]func(apart) float64{
		"peak": func(a apart) float64 { return a.peak }, "mean": func(a apart) float64 { return a.mean },
		"ripple RMS": func(a apart) float64 { return a.ripple }, "diode peak": func(a apart) float64 { return a.inrush }} {
		var v []float64
		for i, a := range all {
			if fell[i] == "" {
				v = append(v, pick(a))
			}
		}
		t.Logf("%-10s %s", name, histogram(v))
	}
}

// histogram counts values, %, by the bounds they stay within.
func histogram(v []float64) string {
	sort.Float64s(v)
	var s strings.Builder
	at := 0
	for _, bound := range []float64{0.01, 0.02, 0.05, 0.1, 0.2, 0.5, 1, 2, 3, math.Inf(1)} {
		n := 0
		for ; at < len(v) && v[at] <= bound; at++ {
			n++
		}
		fmt.Fprintf(&s, " ≤%g: %d", bound, n)
	}
	if len(v) > 0 {
		fmt.Fprintf(&s, "; worst %.3f", v[len(v)-1])
	}
	return s.String()
}

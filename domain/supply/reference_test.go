package supply

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"testing"
)

// The three reference circuits were run by ngspice-39 at 10 µs; halving from
// 20 µs moved peaks by at most 0.0005 % and ripple RMS by 0.008 %.
// testdata/circuits/README.md has their provenance.
var referenceCircuits = []string{"bias_half_wave", "se_tube_rect", "voltage_doubler"}

const circuitDir = "../../testdata/circuits"

// loadCircuit gives a circuit of testdata/circuits and what its reference says.
func loadCircuit(tb testing.TB, name string) (*Circuit, *Result) {
	tb.Helper()
	data, err := os.ReadFile(filepath.Join(circuitDir, name+".json"))
	if err != nil {
		tb.Fatal(err)
	}
	c, err := ParseCircuit(data)
	if err != nil {
		tb.Fatal(err)
	}
	var file struct {
		Reference Result `json:"reference"`
	}
	if err := json.Unmarshal(data, &file); err != nil {
		tb.Fatal(err)
	}
	return c, &file.Reference
}

func mustSimulate(tb testing.TB, c *Circuit, s Settings) *Result {
	tb.Helper()
	r, err := Simulate(context.Background(), c, s)
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

// off gives how far got is from want, %.
func off(got, want float64) float64 {
	if want == 0 {
		return 100 * math.Abs(got)
	}
	return 100 * math.Abs(got-want) / math.Abs(want)
}

// allowed is the tolerance for each kind of result against another simulator.
type allowed struct {
	peakPct, meanPct, rmsPct, vppPct, cyclePct, diodePct float64
	firstS, aboveS                                       float64
	plateau                                              float64 // of the time from 99.9 % to the peak, what firstS is allowed more
	rippleS                                              float64 // allowed instead of aboveS for a level within rippleBand of the steady mean or the peak
	smallV, smallA                                       float64 // below these a ripple is judged as if it were this large
}

// rippleBand is how near its steady mean or its peak a level lies within a
// voltage's ripple or the last it creeps, where hundredths of a volt are seconds.
const rippleBand = 0.005

// worst is the largest difference of each kind.
type worst struct {
	peak, mean, rms, vpp, cycle, diode, first, above float64
}

// compare fails the test where got is further from want than a allows.
func compare(t *testing.T, got, want *Result, a allowed) worst {
	t.Helper()
	if len(got.Caps) != len(want.Caps) || len(got.Diodes) != len(want.Diodes) {
		t.Fatalf("got %d capacitors and %d diodes, want %d and %d", len(got.Caps), len(got.Diodes), len(want.Caps), len(want.Diodes))
	}
	var w worst
	judge := func(into *float64, name, what string, err, limit float64) {
		*into = max(*into, err)
		if !(err <= limit) {
			t.Errorf("%s: %s is %.4g off, allowed %g", name, what, err, limit)
		}
	}
	for i, c := range want.Caps {
		g := got.Caps[i]
		if g.Cap != c.Cap {
			t.Fatalf("capacitor %d is %s, want %s", i, g.Cap, c.Cap)
		}
		judge(&w.peak, c.Cap, "peak, %", off(g.PeakV, c.PeakV), a.peakPct)
		judge(&w.mean, c.Cap, "steady mean, %", off(g.SteadyMeanV, c.SteadyMeanV), a.meanPct)
		judge(&w.rms, c.Cap, "ripple RMS, %", 100*math.Abs(g.SteadyRippleARMS-c.SteadyRippleARMS)/max(c.SteadyRippleARMS, a.smallA), a.rmsPct)
		judge(&w.vpp, c.Cap, "ripple p-p, %", 100*math.Abs(g.SteadyRippleVPP-c.SteadyRippleVPP)/max(c.SteadyRippleVPP, a.smallV), a.vppPct)
		judge(&w.cycle, c.Cap, "worst cycle's RMS, %", off(g.MaxCycleRippleARMS, c.MaxCycleRippleARMS), a.cyclePct)
		if c.TFirst999S > 0 {
			judge(&w.first, c.Cap, "first time at 99.9 %, s", math.Abs(g.TFirst999S-c.TFirst999S), a.firstS+a.plateau*(c.TPeakS-c.TFirst999S))
		}
		for k, above := range c.TimeAbove {
			limit := a.aboveS
			if v := above.ThresholdV; min(math.Abs(v-c.SteadyMeanV), math.Abs(v-c.PeakV)) < rippleBand*v {
				limit = max(limit, a.rippleS)
			}
			judge(&w.above, c.Cap, "time above, s", math.Abs(g.TimeAbove[k].TS-above.TS), limit)
		}
	}
	for i, d := range want.Diodes {
		g := got.Diodes[i]
		if g.Diode != d.Diode {
			t.Fatalf("diode %d is %s, want %s", i, g.Diode, d.Diode)
		}
		judge(&w.diode, d.Diode, "peak, %", off(g.PeakA, d.PeakA), a.diodePct)
		if d.TPeakS > 0 && d.PeakA > 1.02*d.SteadyPeakA { // else it is any of the steady peaks
			judge(&w.first, d.Diode, "time of the peak, s", math.Abs(g.TPeakS-d.TPeakS), 0.02)
		}
		judge(&w.diode, d.Diode, "steady peak, %", off(g.SteadyPeakA, d.SteadyPeakA), a.diodePct)
		judge(&w.diode, d.Diode, "steady RMS, %", off(g.SteadyRMSA, d.SteadyRMSA), a.diodePct)
		judge(&w.diode, d.Diode, "steady mean, %", off(g.SteadyMeanA, d.SteadyMeanA), a.diodePct)
	}
	return w
}

func TestReferenceCircuits(t *testing.T) {
	t.Parallel()
	// Peaks, means and ripple RMS as the issue asks; p-p and times as the
	// plateau and a threshold within the ripple band allow.
	bars := allowed{peakPct: 0.1, meanPct: 0.1, rmsPct: 1, vppPct: 3, cyclePct: 1, diodePct: 2,
		firstS: 0.03, aboveS: 0.1, smallV: 0.01, smallA: 1e-5}
	for _, name := range referenceCircuits {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c, want := loadCircuit(t, name)
			w := compare(t, mustSimulate(t, c, Settings{}), want, bars)
			t.Logf("worst: peak %.4f %%, mean %.4f %%, ripple RMS %.3f %%, p-p %.3f %%, worst cycle %.3f %%, diodes %.3f %%, t999 %.4f s, time above %.4f s",
				w.peak, w.mean, w.rms, w.vpp, w.cycle, w.diode, w.first, w.above)
		})
	}
}

func BenchmarkSimulate(b *testing.B) {
	for _, name := range referenceCircuits {
		b.Run(name, func(b *testing.B) {
			c, _ := loadCircuit(b, name)
			steps := 0
			for b.Loop() {
				steps = mustSimulate(b, c, Settings{}).Steps
			}
			b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(b.N)/float64(steps), "ns/step")
		})
	}
}

package supply

import (
	"context"
	"testing"
)

func mustFast(tb testing.TB, c *Circuit, s Settings) *Result {
	tb.Helper()
	r, err := SimulateFast(context.Background(), c, s)
	if err != nil {
		tb.Fatal(err)
	}
	return r
}

// fastBars are the for peaks, means, ripple RMS and diode peaks. Times
// at 99.9 % and above a threshold follow a plateau's last 0.01 %, so they are
// only held to what that leaves of them.
var fastBars = allowed{peakPct: 0.1, meanPct: 0.1, rmsPct: 1, vppPct: 3, cyclePct: 2, diodePct: 2,
	firstS: 0.2, aboveS: 0.6, smallV: 0.02, smallA: 1e-5}

func TestFastReferenceCircuits(t *testing.T) {
	t.Parallel()
	for _, name := range referenceCircuits {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c, want := loadCircuit(t, name)
			r := mustFast(t, c, Settings{})
			w := compare(t, r, want, fastBars)
			t.Logf("%s %s, worst: peak %.4f %%, mean %.4f %%, ripple RMS %.3f %%, p-p %.3f %%, worst cycle %.3f %%, diodes %.3f %%, t999 %.4f s, time above %.4f s",
				r.Status, r.Reason, w.peak, w.mean, w.rms, w.vpp, w.cycle, w.diode, w.first, w.above)
		})
	}
}

// TestFastOracleCircuits holds the fast solver against fixed steps.
func TestFastOracleCircuits(t *testing.T) {
	t.Parallel()
	for name, c := range oracleCircuits(t) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			r := mustFast(t, c, Settings{})
			w := compare(t, r, mustSimulate(t, c, Settings{StepsPerCycle: 1000}), fastBars)
			t.Logf("%s %s, worst: peak %.4f %%, mean %.4f %%, ripple RMS %.3f %%, p-p %.3f %%, worst cycle %.3f %%, diodes %.3f %%, t999 %.4f s, time above %.4f s",
				r.Status, r.Reason, w.peak, w.mean, w.rms, w.vpp, w.cycle, w.diode, w.first, w.above)
		})
	}
}

func BenchmarkFast(b *testing.B) {
	for _, name := range referenceCircuits {
		b.Run(name, func(b *testing.B) {
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

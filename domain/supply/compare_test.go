package supply

import (
	"flag"
	"math"
	"path/filepath"
	"slices"
	"syscall"
	"testing"
	"time"
)

var compareAll = flag.Bool("compare", false, "hold speed and accuracy against ngspice, minutes of it")

// cpuTime is what the process has taken, user and system.
func cpuTime() time.Duration {
	var u syscall.Rusage
	if err := syscall.Getrusage(syscall.RUSAGE_SELF, &u); err != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// cpuOf gives the CPU time of one call of f, of many if they are short.
func cpuOf(f func()) time.Duration {
	f()
	n, from := 0, cpuTime()
	for cpuTime()-from < 300*time.Millisecond {
		f()
		n++
	}
	return (cpuTime() - from) / time.Duration(n)
}

// TestCompare runs ngspice beside both solvers and prints CPU times and errors.
// The loose run is ngspice at the longest of 50, 100, 200 and 500 µs that is
// still within 0.5 % of peak and mean and 3 % of ripple RMS of its run at 20 µs.
func TestCompare(t *testing.T) {
	if !*compareAll {
		t.Skip("minutes of ngspice: run .ci/compare")
	}
	t.Logf("| case | ngspice 20 µs | ngspice loose | fixed | fast | ×20 µs | ×loose | error of fast | status |")
	product, loose, n := 0.0, 0.0, 0
	for _, name := range slices.Concat(referenceCircuits, extraCircuits(t)) {
		c, _ := loadCircuit(t, name)
		fast := mustFast(t, c, Settings{})
		fixed := mustSimulate(t, c, Settings{})
		want, fineCPU := timedNgspice(t, c, 20, fixed)
		looseUS, looseCPU := 20.0, fineCPU
		for _, us := range []float64{50, 100, 200, 500} {
			r, cpu := timedNgspice(t, c, us, fixed)
			if a := differ(r, want); a.peak <= 0.5 && a.mean <= 0.5 && a.ripple <= 3 {
				looseUS, looseCPU = us, cpu
			}
		}
		var v Solver
		fastCPU := cpuOf(func() {
			if _, err := v.Run(t.Context(), c, Settings{}); err != nil {
				t.Fatal(err)
			}
		})
		fixedCPU := cpuOf(func() { mustSimulate(t, c, Settings{}) })
		a := differ(fast, want)
		byFine, byLoose := fineCPU.Seconds()/fastCPU.Seconds(), looseCPU.Seconds()/fastCPU.Seconds()
		t.Logf("| %s | %.2f s | %.2f s at %g µs | %.1f ms | %.3f ms | %.0f | %.0f | %v | %s |", filepath.Base(name),
			fineCPU.Seconds(), looseCPU.Seconds(), looseUS, ms(fixedCPU), ms(fastCPU), byFine, byLoose, a, fast.Status)
		if !a.within(apart{peak: 0.1, mean: 0.1, ripple: 1, inrush: 2}) {
			t.Errorf("%s: %v", name, a)
		}
		if fast.Status != Complete {
			continue
		}
		product, loose, n = product+math.Log(byFine), loose+math.Log(byLoose), n+1
		if byFine < 5000 || byLoose < 500 {
			t.Errorf("%s: only %.0f × and %.0f ×", name, byFine, byLoose)
		}
	}
	meanFine, meanLoose := math.Exp(product/float64(n)), math.Exp(loose/float64(n))
	t.Logf("geometric mean of %d circuits: %.0f × ngspice at 20 µs, %.0f × its loosest useful run", n, meanFine, meanLoose)
	if meanFine < 10000 || meanLoose < 1000 {
		t.Errorf("below 10 000 × and 1000 ×: %.0f, %.0f", meanFine, meanLoose)
	}
}

func ms(d time.Duration) float64 { return 1000 * d.Seconds() }

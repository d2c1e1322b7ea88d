package supply

import (
	"context"
	"math"
	"reflect"
	"slices"
	"testing"

	"pgregory.net/rapid"
)

// found says that Steady looked the state up and did not run there.
func found(r *Result) bool { return r.SteadyWindowS[0] == 0 }

// steadyApart compares the steady figures alone.
func steadyApart(got, want *Result) apart {
	var a apart
	for i := range want.Caps {
		g, w := &got.Caps[i], &want.Caps[i]
		a.peak = math.Max(a.peak, off(g.SteadyMaxV, w.SteadyMaxV))
		a.mean = math.Max(a.mean, off(g.SteadyMeanV, w.SteadyMeanV))
		if w.Harmonics != nil {
			a.ripple = math.Max(a.ripple, 100*math.Abs(g.SteadyRippleARMS-w.SteadyRippleARMS)/math.Max(w.SteadyRippleARMS, 1e-4))
		}
	}
	for i := range want.Diodes {
		a.inrush = math.Max(a.inrush, off(got.Diodes[i].SteadyPeakA, want.Diodes[i].SteadyPeakA))
	}
	for i := range want.Nodes {
		a.mean = math.Max(a.mean, 100*math.Abs(got.Nodes[i].LoadMeanA-want.Nodes[i].LoadMeanA)/math.Max(want.Nodes[i].LoadMeanA, 1e-4))
	}
	return a
}

// TestSteadyAgainstFixedSteps: the state found is the one that equal steps come
// to. The circuits are of every topology; those with stacks settle within minutes.
func TestSteadyAgainstFixedSteps(t *testing.T) {
	t.Parallel()
	for _, name := range slices.Concat(referenceCircuits, extraCircuits(t)) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			c, _ := loadCircuit(t, name)
			var v Solver
			got, err := v.Steady(t.Context(), c, Settings{})
			if err != nil {
				t.Fatal(err)
			}
			if !found(got) {
				t.Error("the state was run to, not found")
			}
			warm := c.warmed()
			if len(c.Nodes[0].Caps) > 1 || name == "extra/half_wave_negative_stack" {
				warm.TEndS = 240
			}
			a := steadyApart(got, mustSimulate(t, warm, Settings{}))
			t.Log(a)
			if !a.within(apart{peak: 0.1, mean: 0.1, ripple: 1, inrush: 2}) {
				t.Error(a)
			}
		})
	}
}

// TestSteadyOfRandomCircuits: where a long run has settled, the state found is
// the one it settled to, and Steady seldom has to run.
func TestSteadyOfRandomCircuits(t *testing.T) {
	t.Parallel()
	var v Solver
	settled, ran := 0, 0
	for seed := range uint64(100) {
		c := randomSupply(8000 + seed).warmed()
		got, err := v.Steady(t.Context(), c, Settings{})
		if err != nil {
			t.Fatal(err)
		}
		if !found(got) {
			ran++
		}
		c.TEndS = 300
		half := mustFast(t, c, Settings{})
		c.TEndS = 600
		whole := mustFast(t, c, Settings{})
		if a := steadyApart(half, whole); whole.Status != Complete || a.mean > 0.005 || a.ripple > 0.05 {
			continue // it has not settled yet
		}
		settled++
		if a := steadyApart(got, whole); !a.within(apart{peak: 0.05, mean: 0.05, ripple: 1, inrush: 1}) {
			t.Errorf("seed %d (%s): %v", 8000+seed, c.Rectifier.Topology, a)
		}
	}
	if settled < 40 || ran > 5 {
		t.Errorf("%d of 100 could be judged, %d had to be run", settled, ran)
	}
}

// TestPeaksAreThoseOfTheRun: stopping early loses nothing. What still climbs at
// its end Run follows with more care, hence 0.15 %.
func TestPeaksAreThoseOfTheRun(t *testing.T) {
	t.Parallel()
	var v Solver
	short := 0
	for seed := range uint64(300) {
		c := randomSupply(9000 + seed)
		run := mustFast(t, c, Settings{})
		top, err := v.Peaks(t.Context(), c, Settings{})
		if err != nil {
			t.Fatal(err)
		}
		if top.Steps < run.Steps/2 {
			short++
		}
		for i := range run.Caps {
			if g, w := top.Caps[i].PeakV, run.Caps[i].PeakV; off(g, w) > 0.15 {
				t.Errorf("seed %d (%s): %s peaks at %g V, in the whole run at %g V", 9000+seed, c.Rectifier.Topology, run.Caps[i].Cap, g, w)
			}
		}
	}
	if short < 30 {
		t.Errorf("only %d of 300 took less than half of the run's steps", short)
	}
}

// TestAnyCircuitSteadyAndPeaksStayFinite: whatever is within the bounds gives finite numbers.
func TestAnyCircuitSteadyAndPeaksStayFinite(t *testing.T) {
	t.Parallel()
	var v Solver
	rapid.Check(t, func(t *rapid.T) {
		c := anyCircuit(t)
		for _, find := range []func(context.Context, *Circuit, Settings) (*Result, error){v.Steady, v.Peaks} {
			r, err := find(context.Background(), c, Settings{StepsPerCycle: 96})
			if err != nil {
				t.Fatal(err)
			}
			if at := notFinite(reflect.ValueOf(*r), "result"); at != "" {
				t.Fatalf("%s is not finite (%s %s)", at, r.Status, r.Reason)
			}
		}
	})
}

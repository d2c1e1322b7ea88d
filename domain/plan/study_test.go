package plan_test

import (
	"context"
	"fmt"
	"math"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/plan"

	"github.com/google/go-cmp/cmp"
)

// studied makes the plan with bands, as a caller with one worker would.
func studied(t *testing.T, a *amp.Amplifier, p derate.Policy, samples int) *plan.Plan {
	t.Helper()
	s, err := plan.Assess(context.Background(), a, p)
	if err != nil {
		t.Fatal(err)
	}
	studyOn(t, s, samples)
	made, err := plan.Make(context.Background(), s, starter(t))
	if err != nil {
		t.Fatal(err)
	}
	return made
}

// studyOn settles an assessment's bands on one worker and counts the points run.
func studyOn(t testing.TB, s *plan.Assessment, samples int) int {
	t.Helper()
	ctx := context.Background()
	study, err := s.Study(ctx)
	if err != nil {
		t.Fatal(err)
	}
	run := study.Runner()
	all := func(points []plan.Point) [][]float64 {
		out := make([][]float64, len(points))
		for i := range points {
			if out[i], err = run(ctx, points[i]); err != nil {
				t.Fatal(err)
			}
		}
		return out
	}
	ends := all(study.Ends())
	round := study.Corners(ends, samples)
	round.Settle(s, all(round.Points))
	return len(ends) + len(round.Points)
}

// A band holds its likely value, its quantiles stand in order within it, and no
// sample passes the corners by more than a thousandth.
func TestBandsHoldTheirSamples(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"fernhollow-6", "saltmarsh-40", "ravensgill-100", "bare-voltages"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p := studied(t, demo(t, name), derate.Default(), 60)
			bands := 0
			for _, pos := range p.Positions {
				for what, b := range map[string]*derate.Band{"cold": pos.Stress.ColdBand, "working": pos.Stress.WorkingBand} {
					if b == nil {
						continue
					}
					bands++
					order := []float64{b.Low, b.P05, b.P50, b.P95, b.High}
					for i := 1; i < len(order); i++ {
						if order[i] < order[i-1] {
							t.Errorf("%s %s: %v are not in order", pos.Ref, what, order)
						}
					}
					if b.Likely < b.Low || b.Likely > b.High {
						t.Errorf("%s %s: likely %g is not within %g to %g", pos.Ref, what, b.Likely, b.Low, b.High)
					}
					if b.Widened {
						t.Errorf("%s %s: a sample passed the corners", pos.Ref, what)
					}
				}
			}
			if bands == 0 {
				t.Error("no band was worked out")
			}
		})
	}
}

// With the winding stated within 0.5 % and the high line fixed, a cold voltage
// can hardly be anything else; all else a technician knows less well matters
// little once nothing draws.
func TestAWindingReadUnloadedLeavesANarrowBand(t *testing.T) {
	t.Parallel()
	a := demo(t, "fernhollow-6")
	tol := 0.5
	a.Figures = []amp.Figure{{Pointer: "/supplies/0/winding/unloaded_v", From: "measured", TolPct: &tol}}
	b := position(t, studied(t, a, derate.Default(), 40), "C10").Stress.ColdBand
	if low, high := b.Low/b.Likely-1, b.High/b.Likely-1; math.Abs(low+0.005) > 0.0015 || math.Abs(high-0.005) > 0.0015 {
		t.Errorf("C10 cold runs from %+.2f to %+.2f %%, want ±0.5 %%", 100*low, 100*high)
	}
}

// From four voltages alone the cold voltage is too uncertain to buy for, and
// the winding's unloaded volts are the reading that would settle it.
func TestTooLittleKnownMeansMeasureFirst(t *testing.T) {
	t.Parallel()
	p := studied(t, demo(t, "bare-voltages"), derate.Default(), 40)
	if p.Status != plan.Incomplete || len(p.Order.Lines) != 0 {
		t.Errorf("status %s with %d order lines", p.Status, len(p.Order.Lines))
	}
	for _, pos := range p.Positions {
		if pos.Action != plan.MeasureFirst {
			t.Errorf("%s is to %s", pos.Ref, pos.Action)
		}
	}
	if len(p.Measure) == 0 || p.Measure[0].Pointer != "/supplies/0/winding/unloaded_v" {
		t.Fatalf("measure next: %+v", p.Measure)
	}
	m := p.Measure[0]
	if m.ThenHighV-m.ThenLowV > 0.25*(m.HighV-m.LowV) {
		t.Errorf("measuring the winding leaves %.0f to %.0f V of %.0f to %.0f V", m.ThenLowV, m.ThenHighV, m.LowV, m.HighV)
	}
	for i := 1; i < len(p.Measure); i++ {
		if p.Measure[i].NarrowsV > p.Measure[i-1].NarrowsV {
			t.Errorf("ranked %d: %g V above %g V", i, p.Measure[i].NarrowsV, p.Measure[i-1].NarrowsV)
		}
	}
}

// The measurement taken must do what was foretold: state the winding as the
// fit found it, and the band closes to what was promised.
func TestTheForetoldBandComesTrue(t *testing.T) {
	t.Parallel()
	a := demo(t, "bare-voltages")
	before := studied(t, a, derate.Default(), 40)
	v, tol := before.Supplies[0].UnloadedV, 1.0
	a.Supplies[0].Winding = &amp.Winding{Connection: amp.CentreTapped, UnloadedV: &v}
	a.Figures = []amp.Figure{{Pointer: "/supplies/0/winding/unloaded_v", From: "measured", TolPct: &tol}}
	after := studied(t, a, derate.Default(), 40)
	b := position(t, after, "HT A").Stress.ColdBand
	within(t, "low end foretold", b.Low, before.Measure[0].ThenLowV, 1)
	within(t, "high end foretold", b.High, before.Measure[0].ThenHighV, 1)
	if position(t, after, "HT A").Action != plan.Add {
		t.Errorf("with the winding read, HT A is to %s: %s", position(t, after, "HT A").Action, position(t, after, "HT A").Why)
	}
}

// What is picked holds the high end by default, the likely value where the
// policy says so.
func TestPickingUsesTheHighEnd(t *testing.T) {
	t.Parallel()
	likely := derate.Default()
	likely.UseHighEnd = false
	a := demo(t, "saltmarsh-40")
	for _, c := range []struct {
		policy derate.Policy
		needs  func(derate.Stress) float64
	}{
		{derate.Default(), func(s derate.Stress) float64 { return s.ColdBand.High }},
		{likely, func(s derate.Stress) float64 { return s.ColdBand.Likely }},
	} {
		p := studied(t, a, c.policy, 20)
		for _, ref := range []string{"C20", "C21", "C22", "C23"} {
			pos := position(t, p, ref)
			if pos.Pick == nil {
				t.Errorf("%s: %s", ref, pos.Why)
				continue
			}
			for _, check := range pos.Pick.Checks {
				if check.Name == "cold_start" && !check.Advisory {
					within(t, fmt.Sprintf("%s is held against", ref), check.Have, c.needs(pos.Stress), 0.01)
				}
			}
		}
	}
}

// A sample depends on its index alone: two studies give the same bands.
func TestSamplesDependOnTheirIndexAlone(t *testing.T) {
	t.Parallel()
	a := demo(t, "fernhollow-6")
	if d := cmp.Diff(studied(t, a, derate.Default(), 15), studied(t, a, derate.Default(), 15)); d != "" {
		t.Errorf("two studies of one amplifier differ:\n%s", d)
	}
}

package supply

import (
	"context"
	"fmt"
	"math"

	"coldrise/domain/amp"
	"coldrise/domain/problem"
)

// startRatio is a first guess of unloaded RMS volts per side over the first
// node's loaded volts.
func (m *Model) startRatio() float64 {
	ratio := 0.85
	if m.Connection == amp.Doubler {
		ratio = 0.42
	}
	if len(m.Nodes) > 0 && m.Nodes[0].series != nil && m.Nodes[0].series.LH != nil {
		ratio = 1.2
	}
	return ratio
}

// fitWinding finds the unloaded volts. A nameplate's loaded volts give them by
// the drop across the source resistance; else the supply is run until its first
// node stands at its reading.
func (m *Model) fitWinding(ctx context.Context, w *amp.Winding) error {
	pointer := m.pointer + "/winding/unloaded_v"
	if w != nil && w.LoadedV != nil && w.LoadedMA != nil {
		m.UnloadedV = *w.LoadedV + *w.LoadedMA/1000*m.SourceOhm
		m.assume(pointer, m.UnloadedV, "V", "nameplate volts plus the drop of the nameplate's current in the source resistance",
			"the winding's unloaded volts per conducting side")
		return nil
	}
	m.fitted, m.fitTo = true, m.Nodes[0].LoadedV
	target := m.fitTo
	if err := m.solveUnloaded(ctx); err != nil {
		return err
	}
	m.assume(pointer, m.UnloadedV, "V",
		fmt.Sprintf("fitted: with %.3g Ω behind it and %.3g mA drawn, node %s then stands at its %.4g V", m.SourceOhm, m.totalA()*1000, m.Nodes[0].Name, target),
		"the winding's unloaded volts per conducting side")
	return nil
}

// solveUnloaded runs the warm supply at nominal mains and corrects the
// winding by the ratio of what was wanted to what came, then by the secant.
func (m *Model) solveUnloaded(ctx context.Context) error {
	const tolerance = 1e-4
	target := m.fitTo
	s := Service{Name: "fit", warm: true, fitted: true}
	s.EndS = m.endOf(&s)
	var solver Solver
	run := func(e float64) (float64, error) {
		m.UnloadedV = e
		r, err := solver.Steady(ctx, m.Circuit(s, nil), Settings{})
		if err != nil {
			return 0, err
		}
		return r.Nodes[0].SteadyMeanV, nil
	}
	e0 := target * m.startRatio()
	v0, err := run(e0)
	if err != nil {
		return err
	}
	e1 := e0 * target / v0
	for range 12 {
		v1, err := run(e1)
		if err != nil {
			return err
		}
		if math.Abs(v1-target) <= tolerance*target {
			return nil
		}
		if v1 == v0 {
			break
		}
		next := e1 + (target-v1)*(e1-e0)/(v1-v0)
		e0, v0, e1 = e1, v1, math.Min(math.Max(next, 0.5*e1), 2*e1)
	}
	return &problem.Error{Code: problem.Invalid, Message: "the winding's volts could not be fitted to the first node's reading",
		Faults: []problem.Fault{{Pointer: m.pointer + "/winding/unloaded_v", Unit: "V",
			Message: fmt.Sprintf("no winding gives node %s its %.4g V with the source resistance and currents stated; give unloaded_v, or check them", m.Nodes[0].Name, target)}}}
}

// Refit fits the winding of a turned model again to its own reading.
func (m *Model) Refit(ctx context.Context) error { return m.solveUnloaded(ctx) }

package supply

import (
	"fmt"
	"math"
)

// result puts together what the recorder gathered, nodes in the circuit's order.
func (r *run) result(c *Circuit) *Result {
	rec := r.rec
	out := &Result{
		Status:        Complete,
		StepUS:        1e6 / r.perS,
		Steps:         r.steps,
		SteadyWindowS: [2]float64{rec.from, rec.to},
		Caps:          []CapResult{},
		Diodes:        r.diodeResults(c),
		Nodes:         make([]NodeResult, len(c.Nodes)),
	}
	for i := range c.Nodes {
		n := &rec.nodes[i]
		out.Nodes[i] = NodeResult{
			Node: c.Nodes[i].Name, PeakV: n.peak, SteadyMeanV: n.vs / rec.seconds,
			SteadyMinV: n.lowV, SteadyMaxV: n.topV, LoadMeanA: n.loadS / rec.seconds,
		}
		for k := range r.net.stacks {
			if s := &r.net.stacks[k]; s.vertex == n.vertex {
				out.Caps = append(out.Caps, r.stackResults(c, k)...)
			}
		}
	}
	return out
}

// stackResults gives the units of stack k and, where there are several, the whole.
func (r *run) stackResults(c *Circuit, k int) []CapResult {
	s := &r.net.stacks[k]
	if s.count == 1 {
		return []CapResult{r.rec.capResult(&r.rec.units[s.first], s.name, c.Mains.FreqHz)}
	}
	var out []CapResult
	for u := range s.count {
		out = append(out, r.rec.capResult(&r.rec.units[s.first+u], unitName(s, u), c.Mains.FreqHz))
	}
	return append(out, r.rec.capResult(&r.rec.totals[k], s.name, c.Mains.FreqHz))
}

// unitName names one unit of a stack of several.
func unitName(s *stack, u int) string { return fmt.Sprintf("%s.c%d", s.name, u+1) }

// besideName names the k-th stack in parallel with a node's first.
func besideName(node string, k int) string { return fmt.Sprintf("%s.b%d", node, k+2) }

func (rec *recorder) capResult(ch *channel, name string, hz float64) CapResult {
	meanA := ch.as / rec.seconds
	out := CapResult{
		Cap: name, PeakV: ch.peak, TPeakS: ch.tPeak, TFirst999S: ch.highs.first(ch.peak),
		SteadyMeanV:        ch.vs / rec.seconds,
		SteadyRippleVPP:    ch.topV - ch.lowV,
		SteadyRippleARMS:   math.Sqrt(math.Max(0, ch.a2s/rec.seconds-meanA*meanA)),
		MaxCycleRippleARMS: math.Sqrt(ch.mostA2 / rec.period),
		SteadyMaxV:         ch.topV,
		TimeAbove:          make([]TimeAbove, len(ch.levels)),
	}
	for i, l := range ch.levels {
		if l.above {
			l.total += rec.now - l.since
		}
		out.TimeAbove[i] = TimeAbove{ThresholdV: l.volts, TS: l.total}
	}
	if ch.bins != nil {
		out.Harmonics = harmonics(ch.bins, rec.cycles, hz)
	}
	return out
}

// diodeOrder gives the paths in the order of the results, and their names in
// the reference circuits.
func diodeOrder(c *Circuit) (order []int, names []string) {
	order, names = []int{0}, []string{"d1"}
	switch c.Rectifier.Topology {
	case "full_wave_ct":
		order, names = []int{0, 1}, []string{"da", "db"}
	case "bridge", "doubler":
		order, names = []int{0, 1}, []string{"d_pos", "d_neg"}
		if c.Rectifier.Polarity == "negative" { // the first path then conducts on the winding's negative half
			order = []int{1, 0}
		}
	}
	return order, names
}

// diodeResults gives one result for each path.
func (r *run) diodeResults(c *Circuit) []DiodeResult {
	order, names := diodeOrder(c)
	out := make([]DiodeResult, len(order))
	for i, path := range order {
		d := &r.rec.diodes[path]
		out[i] = DiodeResult{
			Diode: names[i], PeakA: d.peak, TPeakS: d.tPeak, SteadyPeakA: d.steadyPeak,
			SteadyRMSA: math.Sqrt(d.a2s / r.rec.seconds), SteadyMeanA: d.as / r.rec.seconds,
		}
	}
	return out
}

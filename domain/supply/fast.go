package supply

import (
	"context"
	"fmt"
	"math"
)

// SimulateFast gives what Simulate gives, thousands of times faster than a
// circuit simulator. Between diode pulses the network is solved exactly, in
// a pulse all but the diode's drop is, and that is followed by a parabola;
// where nothing happens it strides over many mains cycles at once. It is held
// against Simulate and ngspice by this package's tests: peaks and steady means
// within 0.1 %, ripple RMS within 1 %.
//
// It checks itself: strides are held against the same periods walked one by
// one, and the last periods must repeat. Where a check fails, or the circuit is
// one it does not take, it runs Simulate; Status is then FellBack, and Reason
// says why. Status is NotStarted where the standby never closes or the
// rectifier never warms before the end, and Unresolved where a choke rings
// faster than the steps allowed; the figures are then those of the run as it went.
//
// Settings.StepsPerCycle is that of the plain grid, up to 1000; finer ones are
// taken where a pulse asks for them.
//
// Work is bounded: a run has at most 40 000 mains cycles of at most 27 times the
// plain grid's steps, walked twice at most, and a fallback 40 million steps in
// all. Ctx is looked at every 32 cycles.
//
// Errors: as Simulate.
func SimulateFast(ctx context.Context, c *Circuit, s Settings) (*Result, error) {
	return new(Solver).Run(ctx, c, s)
}

// Solver runs circuits one after another in the same working memory: for the
// thousand variants of one supply that a band of tolerances takes. The zero
// value is ready. A Solver is for one goroutine at a time; results are the
// caller's own.
type Solver struct{ mem room }

// Run is SimulateFast.
func (v *Solver) Run(ctx context.Context, c *Circuit, s Settings) (*Result, error) {
	if err := checkRun(c, s); err != nil {
		return nil, err
	}
	r, why, err := v.fast(ctx, c, s)
	if err != nil {
		return nil, err
	}
	if why != "" {
		if r, err = fallBack(ctx, c, s, why); err != nil {
			return nil, err
		}
	}
	c.markUnstarted(r)
	return r, nil
}

// markUnstarted says in a result what kept the supply off to the end of the run.
func (c *Circuit) markUnstarted(r *Result) {
	if never := c.neverStarts(); never != "" && r.Status != Unresolved {
		r.Status, r.Reason = NotStarted, never
	}
}

// fallbackSteps bounds the equal steps of a fallback.
const fallbackSteps = 40_000_000

// fallBack runs the equal steps, no more of them than are allowed.
func fallBack(ctx context.Context, c *Circuit, s Settings, why string) (*Result, error) {
	hz := c.Mains.FreqHz
	wanted := math.Ceil(compile(c).fastestRing() / ringShare / hz)
	allowed := min(ringSteps, max(DefaultStepsPerCycle, fallbackSteps/(c.TEndS*hz)))
	if s.StepsPerCycle == 0 && wanted > allowed {
		s.StepsPerCycle = int(allowed)
	}
	r, err := Simulate(ctx, c, s)
	if err != nil {
		return nil, err
	}
	r.Status, r.Reason = FellBack, "the fast solver does not take this circuit: "+why
	if wanted > float64(max(s.StepsPerCycle, DefaultStepsPerCycle)) && s.StepsPerCycle > 0 {
		r.Status = Unresolved
		r.Reason = fmt.Sprintf("a choke rings so fast that a mains cycle needs %.3g steps; the bound is %d in a cycle and %d in a run, and %d were taken",
			wanted, ringSteps, fallbackSteps, s.StepsPerCycle)
	}
	return r, nil
}

// neverStarts says what keeps the supply off to the end of the run, if anything does.
func (c *Circuit) neverStarts() string {
	if sw := c.Standby; sw != nil && sw.CloseS >= c.TEndS {
		return fmt.Sprintf("the standby closes at %g s, after the run's end at %g s", sw.CloseS, c.TEndS)
	}
	if w := c.Rectifier.Diode.WarmUp; w != nil {
		if e := newEmission(w); e.at(c.TEndS) < leastEmission {
			return fmt.Sprintf("the rectifier has %.2g %% of its emission at the run's end at %g s", 100*e.at(c.TEndS), c.TEndS)
		}
	}
	return ""
}

// leastEmission is the share of its emission below which a rectifier is cold.
const leastEmission = 1e-3

// mostStates is what the dense kernels are meant for.
const mostStates = 20

// fast runs a checked circuit. A reason instead of a result says why it cannot.
func (v *Solver) fast(ctx context.Context, c *Circuit, s Settings) (*Result, string, error) {
	window := s.SteadyS
	if window == 0 {
		window = 1
	}
	window = min(window, c.TEndS)
	for _, care := range []float64{1, tighter} {
		f := newFollower(c, s.StepsPerCycle, &v.mem)
		steady, err := f.toEnd(ctx, c.TEndS, window, care)
		if err != nil {
			return nil, "", err
		}
		f.judge()
		if f.doubt != "" && f.failed == "" && care > 1 {
			f.failed = f.doubt
		}
		if f.failed != "" {
			return nil, f.failed, nil
		}
		if steady == nil || f.doubt != "" {
			continue
		}
		out := &Result{Status: Complete, StepUS: 1e6 * f.grids[0].h, Steps: f.w.steps,
			SteadyWindowS: [2]float64{c.TEndS - window, c.TEndS}}
		f.collect(c, steady, out)
		return out, "", nil
	}
	return nil, "it does not settle", nil
}

// judge notes what a run shows of having gone wrong.
func (f *follower) judge() {
	if f.w.overlap {
		f.fail("both diodes of its doubler conduct at once")
	}
	if f.failed == "" && f.implausible() {
		f.fail("its voltages passed what the winding can give")
	}
}

// begin refuses a circuit or lays its network for the first time.
func (f *follower) begin() {
	f.refuse()
	if f.failed == "" && !f.lay() {
		f.fail(noSolution)
	}
}

// toEnd runs the follower; nil says that it must be run again with more care.
func (f *follower) toEnd(ctx context.Context, endS, windowS, care float64) (*settled, error) {
	if f.begin(); f.failed != "" {
		return nil, nil
	}
	ch := newChase(f, endS, windowS, care)
	from := int(math.Ceil((endS-windowS)/f.period - 1e-6))
	if from >= ch.last {
		f.fail("it is shorter than a mains cycle")
		return nil, nil
	}
	if err := ch.to(ctx, from); err != nil {
		return nil, err
	}
	return ch.settle(ctx, from)
}

// refuse notes what this way of running is not made for.
func (f *follower) refuse() {
	switch {
	case f.s.real > mostStates:
		f.fail("it has too many capacitors and chokes")
	case len(f.t.bare) > 0:
		f.fail("a node of it has no capacitor")
	case !f.net.diode.tube && f.net.diode.is > mostLeakA:
		f.fail("its diodes leak too much")
	case f.net.peak < leastPeakV:
		f.fail("its winding is within a few diode drops")
	case f.emptied():
		f.fail("a capacitor of it is emptied within a period")
	case f.hasty():
		f.fail("a cathode of it warms within some periods")
	}
}

// emptied says whether what stands across a capacitor empties it so fast that
// a stretch with constant currents is no picture of a period.
func (f *follower) emptied() bool {
	held := make([]float64, len(f.net.vertices))
	for _, st := range f.net.stacks {
		elastance := 0.0
		for _, u := range f.net.units[st.first : st.first+st.count] {
			if u.leak*f.period > mostEmptied*u.c {
				return true
			}
			elastance += 1 / u.c
		}
		held[st.vertex] += 1 / elastance
	}
	for k, v := range f.net.vertices {
		if v.node >= 0 && v.shunt*f.period > mostEmptied*held[k] {
			return true
		}
	}
	return false
}

// hasty says whether a cathode warms in too few periods for one to see it still.
func (f *follower) hasty() bool {
	for _, e := range f.net.emissions {
		span := e.b - e.a
		if e.logistic {
			span = 4 * e.b
		}
		if span < leastWarming*f.period {
			return true
		}
	}
	return false
}

const (
	leastPeakV   = 5
	leastWarming = 10 // periods
)

// mostLeakA is the reverse current of a diode that is left out of account.
const mostLeakA = 2e-6

// mostV is what the winding could take a node to: its peak without a choke,
// four times that with one.
func (f *follower) mostV() float64 {
	most := f.net.peak * (1 + 1e-3)
	if f.net.doubler {
		most *= 2
	}
	if len(f.s.chokes) > 0 {
		most *= 4
	}
	return most
}

// implausible says where a node has gone that its winding could not take it.
func (f *follower) implausible() bool {
	most := f.mostV()
	for ch := range f.t.channels {
		if v, _ := f.t.peak(ch); !(v <= most) {
			return true
		}
	}
	return false
}

const noSolution = "its equations have no solution"

// collect puts the result together, nodes in the circuit's order.
func (f *follower) collect(c *Circuit, s *settled, out *Result) {
	out.Caps, out.Nodes = make([]CapResult, 0, f.t.channels), make([]NodeResult, len(c.Nodes))
	for i := range c.Nodes {
		ch := f.t.node[i]
		peak, _ := f.t.peak(ch)
		node := NodeResult{Node: c.Nodes[i].Name, PeakV: max(peak, s.top[ch]),
			SteadyMeanV: s.vs[ch], SteadyMinV: s.low[ch], SteadyMaxV: s.top[ch]}
		for j, k := range f.s.loaded {
			if f.net.vertices[k].node == i {
				node.LoadMeanA = s.load[j]
			}
		}
		out.Nodes[i] = node
		for k := range f.net.stacks {
			if f.net.vertices[f.net.stacks[k].vertex].node == i {
				out.Caps = f.stackResults(out.Caps, s, k, c.Mains.FreqHz)
			}
		}
	}
	order, names := diodeOrder(c)
	for i, side := range order {
		peak, at := f.t.peakA(side)
		out.Diodes = append(out.Diodes, DiodeResult{Diode: names[i], PeakA: max(peak, s.topA[side]), TPeakS: at,
			SteadyPeakA: s.topA[side], SteadyRMSA: math.Sqrt(max(0, s.sideA2s[side])), SteadyMeanA: s.sideA[side]})
	}
}

func (f *follower) stackResults(out []CapResult, s *settled, k int, hz float64) []CapResult {
	st := &f.net.stacks[k]
	if st.count == 1 {
		return append(out, f.unitResult(s, st.first, st.name, hz))
	}
	for u := range st.count {
		out = append(out, f.unitResult(s, st.first+u, unitName(st, u), hz))
	}
	return append(out, f.channelResult(s, f.t.stack[k], st.name))
}

func (f *follower) unitResult(s *settled, u int, name string, hz float64) CapResult {
	r := f.channelResult(s, u, name)
	r.SteadyRippleARMS = math.Sqrt(max(0, s.a2s[u]-s.as[u]*s.as[u]))
	if s.points == 0 {
		return r
	}
	r.MaxCycleRippleARMS = math.Sqrt(max(f.t.mostA2[u]*hz, s.a2s[u]))
	r.Harmonics = f.mem.harmonicsOf(s.bins[u*s.points:(u+1)*s.points], f.half, hz)
	return r
}

func (f *follower) channelResult(s *settled, ch int, name string) CapResult {
	peak, at := f.t.peak(ch)
	r := CapResult{Cap: name, PeakV: max(peak, s.top[ch]), TPeakS: at, TFirst999S: f.t.first(ch, peak),
		SteadyMeanV: s.vs[ch], SteadyRippleVPP: s.top[ch] - s.low[ch], SteadyMaxV: s.top[ch]}
	if s.points == 0 {
		return r
	}
	r.TimeAbove = make([]TimeAbove, len(f.t.levels[ch]))
	first, levels := f.t.levelPlace(ch)
	for k, v := range f.t.levels[ch] {
		r.TimeAbove[k] = TimeAbove{ThresholdV: v, TS: f.t.timeAbove(ch, k, first+k, levels)}
	}
	return r
}

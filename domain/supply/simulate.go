package supply

import (
	"context"
	"errors"
	"math"

	"coldrise/domain/problem"
)

// Settings says how finely a run is stepped and what it calls steady. The
// zero value is what coldrise uses.
type Settings struct {
	// StepsPerCycle is the number of equal steps in a mains cycle. 0 is
	// DefaultStepsPerCycle, or more where a choke rings faster than that follows.
	StepsPerCycle int
	// SteadyS is the length of the window at the end over which the steady
	// figures are taken, s. 0 is 1 s.
	SteadyS float64
}

const (
	// DefaultStepsPerCycle is by the shortest pulse that is checked, Rs/RL of
	// 0.1 %: of the 1 % allowed its peak current, 200 steps leave 1.04 %, 240
	// 0.77 %, 300 0.53 %, of which 0.4 % is the finite capacitor's. The reference
	// circuits' ripple RMS is then within 0.02 %, of 1 % allowed.
	DefaultStepsPerCycle = 300

	leastStepsPerCycle = 20
	mostStepsPerCycle  = 20000
	// ringSteps bounds how far the default is raised for a fast choke.
	ringSteps = 4000
	// ringShare is the longest step in a ringing L–C, as a share of 1/ω.
	ringShare = 0.12
)

// Simulate runs a circuit from rest to its end by equal implicit steps and
// gives what the capacitors, diodes and nodes went through. It does not keep
// or change c.
//
// The model is that of the reference circuits, and so are the definitions of
// the results. Three things it does not fix are fixed here: a rectifier output
// without a capacitor leaks through 1 MΩ where raw_leak_ohm is not given; a
// load is ohmic below a thousandth of its v0; a contact has 0.1 mΩ at least.
//
// Errors: Invalid with every fault where the circuit makes no sense, Cancelled
// where ctx ends first, Internal where the numbers leave the finite.
func Simulate(ctx context.Context, c *Circuit, s Settings) (*Result, error) {
	if err := checkRun(c, s); err != nil {
		return nil, err
	}
	r := newRun(c, s)
	if err := r.toEnd(ctx); err != nil {
		return nil, err
	}
	return r.result(c), nil
}

// checkRun names everything that is wrong with a circuit and its settings.
func checkRun(c *Circuit, s Settings) error {
	faults := &problem.List{}
	c.check(faults)
	s.check(faults)
	return faults.Err("circuit")
}

func (s *Settings) check(faults *problem.List) {
	if n := s.StepsPerCycle; n != 0 && (n < leastStepsPerCycle || n > mostStepsPerCycle) {
		faults.Addf("/settings/steps_per_cycle", "must be from %d to %d, or 0", leastStepsPerCycle, mostStepsPerCycle)
	}
	if !(s.SteadyS >= 0 && s.SteadyS <= maxEndS) {
		faults.Addf("/settings/steady_s", "must be from 0 to %d s", maxEndS)
	}
}

// run is one simulation under way.
type run struct {
	net    *network
	m      *machine
	rec    *recorder
	perCyc int     // steps in a cycle
	perS   float64 // steps in a second
	marks  []mark  // in order of time
	whole  *coefficients
	part   *coefficients
	early  []float64 // V, of the winding at the first stage of each step of a cycle
	late   []float64
	closed bool
	fresh  bool // the next step starts on a jump and is taken in pieces
	steps  int
}

// mark is an instant a step must end on.
type mark struct {
	t    float64
	kind markKind
}

type markKind int

const (
	closes markKind = iota
	steady
	ends
)

func newRun(c *Circuit, s Settings) *run {
	n := compile(c)
	r := &run{net: n, m: newMachine(n), whole: newCoefficients(n), part: newCoefficients(n), fresh: true}
	r.perCyc = stepsPerCycle(n, c.Mains.FreqHz, s)
	r.perS = c.Mains.FreqHz * float64(r.perCyc)
	window := s.SteadyS
	if window == 0 {
		window = 1
	}
	from := math.Max(0, c.TEndS-window)
	if r.closed = n.sw == nil || n.sw.CloseS == 0; !r.closed && n.sw.CloseS < c.TEndS {
		r.marks = append(r.marks, mark{n.sw.CloseS, closes})
	}
	at := mark{from, steady}
	if len(r.marks) > 0 && r.marks[0].t > from {
		r.marks = append([]mark{at}, r.marks...)
	} else {
		r.marks = append(r.marks, at)
	}
	r.marks = append(r.marks, mark{c.TEndS, ends})
	r.rec = newRecorder(c, n, r.perCyc, from, c.TEndS)
	r.whole.set(n, 1/r.perS, gamma, r.closed)
	for k := range r.perCyc {
		r.early = append(r.early, n.emf((float64(k)+gamma)/r.perS))
		r.late = append(r.late, n.emf(float64(k+1)/r.perS))
	}
	return r
}

// stepsPerCycle gives the number asked for, or the default raised to follow
// the fastest ring of a choke.
func stepsPerCycle(n *network, hz float64, s Settings) int {
	if s.StepsPerCycle > 0 {
		return s.StepsPerCycle
	}
	ring := math.Ceil(n.fastestRing() / ringShare / hz)
	return max(DefaultStepsPerCycle, int(math.Min(ring, ringSteps)))
}

// toEnd steps until the end mark.
func (r *run) toEnd(ctx context.Context) error {
	r.part.set(r.net, r.instant(), gamma, r.closed)
	r.m.settle(r.part, 0)
	r.rec.jump(r.m, 0)
	slack := 1e-6 / r.perS
	for r.marks[0].t <= slack {
		r.pass()
	}
	r.rec.startCycle()
	for k, bin := 0, 0; len(r.marks) > 0; k++ {
		from, to := float64(k)/r.perS, float64(k+1)/r.perS
		if r.fresh || r.marks[0].t < to-slack {
			r.inPieces(from, to, slack, bin)
		} else if r.m.step(r.whole, from, r.early[bin], r.late[bin]) {
			r.steps++
			r.rec.observe(r.m, to, to-from, bin)
		} else {
			r.fresh = true
			r.cut(from, to, bin, true)
		}
		for len(r.marks) > 0 && r.marks[0].t <= to+slack {
			r.pass()
		}
		if bin++; bin == r.perCyc {
			bin = 0
			if err := r.endCycle(ctx); err != nil {
				return err
			}
		}
	}
	return r.m.finite()
}

// endCycle closes a whole mains cycle.
func (r *run) endCycle(ctx context.Context) error {
	r.rec.endCycle()
	r.rec.startCycle()
	if err := context.Cause(ctx); err != nil {
		e := problem.New(problem.Cancelled, "the simulation was stopped before its end")
		e.Cause = err
		return e
	}
	return r.m.finite()
}

// inPieces goes from one point of the grid to the next by way of the marks
// between, in small pieces that grow where a jump has just happened. It may
// end short of to, at the end mark.
func (r *run) inPieces(from, to, slack float64, bin int) {
	for t := from; t < to-slack && len(r.marks) > 0; {
		target := math.Min(to, r.marks[0].t)
		if r.marks[0].t > to-slack {
			target = to
		}
		r.cut(t, target, bin, target == to)
		t = target
		from = target
		for len(r.marks) > 0 && r.marks[0].t <= t+slack && target < to {
			r.pass()
		}
	}
}

// restart is how a step after a jump is cut, as shares of it. The first two
// pieces are taken by implicit Euler: the two-stage step carries its first
// stage's slope on, and a capacitor charged at once through a diode would keep
// the excess, since the diode cannot take it back.
var restart = [...]float64{1. / 256, 1. / 256, 1. / 128, 1. / 64, 1. / 32, 1. / 16, 1. / 8, 1. / 4, 1. / 2}

const eulerPieces = 2

// cut goes from one instant to the next in one piece, or after a jump in
// several. OnGrid says that the last ends a step of the grid, in place bin.
func (r *run) cut(from, to float64, bin int, onGrid bool) {
	if !onGrid {
		bin = -1
	}
	if !r.fresh {
		r.piece(from, to, gamma, bin)
		return
	}
	r.fresh = false
	t := from
	for i, share := range restart {
		theta := gamma
		if i < eulerPieces {
			theta = 1
		}
		if i == len(restart)-1 {
			r.piece(t, to, theta, bin)
			return
		}
		next := t + share*(to-from)
		r.piece(t, next, theta, -1)
		t = next
	}
}

// piece goes from one instant to another in one step off the grid, by Euler
// where the two stages will not do.
func (r *run) piece(from, to, theta float64, bin int) {
	dt := to - from
	r.part.set(r.net, dt, theta, r.closed)
	r.m.factored = nil
	if !r.m.step(r.part, from, r.net.emf(from+gamma*dt), r.net.emf(to)) {
		r.piece(from, to, 1, bin)
		return
	}
	r.steps++
	r.rec.observe(r.m, to, dt, bin)
}

// pass acts on the mark that has been reached.
func (r *run) pass() {
	at := r.marks[0]
	r.marks = r.marks[1:]
	switch at.kind {
	case steady:
		r.rec.beginSteady()
	case ends:
		r.marks = nil
	case closes:
		r.closed, r.fresh = true, true
		r.whole.set(r.net, 1/r.perS, gamma, true)
		r.part.set(r.net, r.instant(), gamma, true)
		r.m.factored = nil
		r.m.settle(r.part, at.t)
		r.rec.jump(r.m, at.t)
		r.m.factored = nil
	}
}

// instant is a step so short that no state moves within it.
func (r *run) instant() float64 { return 1e-6 / r.perS }

// errNotFinite says that a run left the finite numbers, which bounds on the
// input are there to prevent.
var errNotFinite = errors.New("a voltage is not finite")

// finite gives an Internal error where a voltage is infinite or no number.
func (m *machine) finite() error {
	for _, v := range m.v {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return problem.Wrap(errNotFinite, "simulate")
		}
	}
	return nil
}

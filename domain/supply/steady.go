package supply

import (
	"context"
	"math"

	"coldrise/domain/amp"
)

// Steady gives the state that a circuit repeats for ever once its cathodes are
// warm and its standby is closed. It does not run there: it looks for the
// states that one mains cycle brings back to themselves, by Newton's method,
// and so costs some thirty cycles however slow the circuit is.
//
// The result's steady figures are of one such cycle; its peaks are those of
// that cycle too, and its times are zero. Where no such state is found the
// circuit is run from rest to its end, warm from the start, as Run does it.
//
// Errors: as Simulate.
func (v *Solver) Steady(ctx context.Context, c *Circuit, s Settings) (*Result, error) {
	if err := checkRun(c, s); err != nil {
		return nil, err
	}
	if err := cancelled(ctx); err != nil {
		return nil, err
	}
	warm := c.warmed()
	f := newFollower(warm, s.StepsPerCycle, &v.mem)
	if st := f.repeating(); st != nil {
		out := &Result{Status: Complete, StepUS: 1e6 * f.grids[0].h, Steps: f.w.steps, SteadyWindowS: [2]float64{0, 1 / c.Mains.FreqHz}}
		f.collect(warm, st, out)
		return out, nil
	}
	return v.Run(ctx, warm, s)
}

// warmed is the circuit with every cathode warm and the standby closed from
// the start.
func (c *Circuit) warmed() *Circuit {
	w := *c
	w.Rectifier.Diode.WarmUp = nil
	if c.Standby != nil {
		closed := *c.Standby
		closed.CloseS = 0
		w.Standby = &closed
	}
	w.Nodes = append([]Node(nil), c.Nodes...)
	for i := range w.Nodes {
		n := &w.Nodes[i]
		if n.Load != nil {
			l := *n.Load
			l.WarmUp = nil
			n.Load = &l
		}
		n.Further = append([]Load(nil), n.Further...)
		for k := range n.Further {
			n.Further[k].WarmUp = (*amp.WarmUp)(nil)
		}
	}
	return &w
}

const (
	// balanceTries bounds the search for a first guess, which begins at a share
	// balanceFirst of the winding's peak and ends within balanced of it.
	balanceTries = 30
	balanceFirst = 0.9
	balanced     = 0.01
	// restTries are how often the loads are taken anew for a guess.
	restTries = 5
	// steadyTries bounds Newton's method; slowest is how it must at least close in
	// for its derivative to be kept.
	steadyTries = 20
	slowest     = 0.5
	// steadyClose ends it, and coarseClose takes it from the plain grid to the
	// fine one; both in units of strideTol.
	steadyClose = 0.01
	coarseClose = 2
	// steadyProbe is the displacement that finds ∂F/∂y there.
	steadyProbe = 1
	// mostCharging is the largest mean over RMS of a unit's current in a state
	// that repeats: beyond it, it still charges.
	mostCharging = 1e-3
)

// repeating finds the steady state and looks at it; nil where it cannot.
func (f *follower) repeating() *settled {
	if f.begin(); f.failed != "" || !f.balance() {
		return nil
	}
	if !f.repeat() || f.w.overlap || f.deep {
		return nil
	}
	f.observe(f.grid(1), f.x, 0, 0)
	out := newSettled(f.t, len(f.s.loaded))
	out.add(f, 1)
	if f.failed != "" || f.deep || !out.atRest(f) {
		return nil
	}
	return out
}

// atRest says whether no capacitor charges any more.
func (s *settled) atRest(f *follower) bool {
	for u, mean := range s.as {
		if !(mean*mean <= mostCharging*mostCharging*s.a2s[u]+leastRippleA*leastRippleA) {
			return false
		}
	}
	return !f.strange(s)
}

// leastRippleA is the current below which nobody asks whether it is ripple.
const leastRippleA = 1e-6

// strange says where a voltage is no number or above what the winding can give.
func (f *follower) strange(s *settled) bool {
	for _, v := range s.top {
		if !(v <= f.mostV()) {
			return true
		}
	}
	return false
}

// repeat moves x to where a period brings it back to itself.
func (f *follower) repeat() bool {
	str, finer, before := newStrider(f, 1), 0, math.Inf(1)
	for try := range steadyTries {
		copy(str.y, f.x)
		if !str.known {
			str.differentiate(0, steadyProbe)
		}
		copy(str.x1, f.x)
		f.observe(f.grid(finer), str.x1, 0, thinned)
		if try > 0 {
			str.update(str.y, str.x1)
		}
		copy(str.wasY, str.y)
		copy(str.wasX1, str.x1)
		moved := str.home()
		if math.IsNaN(moved) || f.failed != "" {
			return false
		}
		str.known = moved <= slowest*before // else find the derivative anew
		for i, d := range str.dy[:f.s.real] {
			f.x[i] += d
		}
		f.choose(f.grid(finer))
		f.refresh()
		if finer == 1 && moved < steadyClose && f.missed < coarseClose*steadyClose*strideTol*f.net.peak {
			return true
		}
		before = moved
		if finer == 0 && moved < coarseClose {
			finer, before = 1, math.Inf(1)
		}
	}
	return false
}

// home finds by how much y must move, dy, for its image x1 to be y itself, and
// gives the largest in units of what a stride may err.
func (s *strider) home() (moved float64) {
	n := s.f.s.real
	for i := range n {
		s.r[i] = s.x1[i] - s.y[i]
		for j := range n {
			s.m[i*n+j] = -s.jac[i*n+j]
		}
		s.m[i*n+i]++
	}
	if !eliminate(s.m, s.dy, s.r, n) {
		return math.NaN()
	}
	for i, d := range s.dy[:n] {
		moved = max(moved, math.Abs(d)/s.scale[i])
	}
	return moved
}

// balance sets x near the steady state: to where the network rests with so many
// volts at its ports that about as much current is driven in as is drawn. The more
// volts, the less is driven and the more is drawn.
func (f *follower) balance() bool {
	low, high := 0.0, f.net.peak*(1+1e-3)
	below, above := math.Inf(1), math.Inf(-1)
	volts := balanceFirst * high
	for try := range balanceTries {
		f.failed, f.w.overlap = "", false
		excess, ok := f.excess(volts)
		switch {
		case !ok || math.IsNaN(excess):
			return false
		case excess > 0:
			low, below = volts, excess
		default:
			high, above = volts, excess
		}
		if high-low < balanced*f.net.peak {
			return true
		}
		volts = (low + high) / 2
		if try%3 != 0 && !math.IsInf(below, 0) && !math.IsInf(above, 0) {
			volts = low + (high-low)*min(max(below/(below-above), 0.05), 0.95)
		}
	}
	return false
}

// excess says by how much the winding drives more than is drawn where volts
// stand at the root, as a power of the currents that goes about evenly with the
// volts; behind a choke, by how much the choke's current grows.
func (f *follower) excess(volts float64) (float64, bool) {
	a, ok := f.rest(volts)
	if !ok {
		return 0, false
	}
	copy(f.start, f.x)
	f.observe(f.grid(0), f.start, 0, thinned)
	if f.net.chokeInput {
		at := len(f.net.units) // the first choke is the root's
		return f.start[at] - f.x[at], true
	}
	seen := &f.t.seen
	driven := (seen.sideAs[0] + seen.sideAs[1]) / seen.seconds / float64(f.s.ports)
	return math.Pow(driven, 2./3) - math.Pow(max(a, 0), 2./3), true
}

// rest sets x to where the network comes to rest with volts at each port, and
// gives the mean current that the ports take for that.
func (f *follower) rest(volts float64) (a float64, ok bool) {
	clear(f.spread)
	clear(f.x)
	for range 2 { // first to see what the loads conduct there
		clear(f.w.u)
		for j := range f.lift {
			f.lift[j] = volts * float64(f.s.ports)
		}
		f.prepare(0, f.period, f.x)
		if ok = f.lay(); !ok {
			return 0, false
		}
	}
	clear(f.lift)
	for range restTries { // the loads draw by the volts they leave
		taken := f.portCurrents(volts)
		copy(f.x, f.w.rest)
		a = 0
		for p := range f.s.ports {
			a += taken[p] / float64(f.s.ports)
			for i, v := range f.s.charged[p*f.s.n : (p+1)*f.s.n] {
				f.x[i] += taken[p] * v
			}
		}
		f.prepare(0, f.period, f.x)
	}
	return a, true
}

// portCurrents gives the even currents that hold volts at every port.
func (f *follower) portCurrents(volts float64) [2]float64 {
	s, n := f.s, f.s.n
	var ohm [2][2]float64
	for p := range s.ports {
		for q := range s.ports {
			ohm[p][q] = dot(s.cx[p*n:p*n+n], s.charged[q*n:q*n+n]) + s.d[p*s.ports+q]
		}
	}
	first, second := volts-f.w.faced[0], volts-f.w.faced[1]
	if s.ports == 1 {
		return [2]float64{first / ohm[0][0]}
	}
	det := ohm[0][0]*ohm[1][1] - ohm[0][1]*ohm[1][0]
	return [2]float64{(ohm[1][1]*first - ohm[0][1]*second) / det, (ohm[0][0]*second - ohm[1][0]*first) / det}
}

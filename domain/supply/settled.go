package supply

import (
	"context"
	"fmt"
	"math"
)

// settled is the steady window of a fast run: one look at its end where
// nothing moves any more, three with a parabola through them where something
// still drifts, every period where something happens.
type settled struct {
	vs, low, top   []float64 // V by channel
	as, a2s        []float64 // A, A² by unit
	load           []float64 // A by loaded vertex
	bins           []float64 // A by unit and point of a period
	points         int
	topA           [2]float64
	sideA, sideA2s [2]float64
	looks          int
}

const (
	// leadPeriods are walked finely ahead of a steady look, so that what the
	// plain grid's steps left in the fast states has gone.
	leadPeriods = 1
	// driftless is the drift over the window, in units of strideTol, that one look passes over.
	driftless = 1
	// mostUnbalance is the largest mean over RMS of a unit's current that a run
	// without more care may end with.
	mostUnbalance = 0.01
	// mostUneasy is the most that the periods ahead of a steady look may change
	// the states, in units of strideTol.
	mostUneasy = 2
	// mostEase periods at most are walked until the change over one differs from
	// the envelope's by less than easeTol, in units of strideTol.
	mostEase = 60
	easeTol  = 1. / 75
	// mostStill is how little a cathode warms in a window that strides may cross.
	mostStill = 1e-4
)

func newSettled(t *tally, loads int) *settled {
	s := &settled{load: t.mem.floats(loads)}
	for _, p := range []*[]float64{&s.vs, &s.low, &s.top} {
		*p = t.mem.floats(t.channels)
	}
	u := len(t.net.units)
	s.as, s.a2s = t.mem.floats(u), t.mem.floats(u)
	return s
}

// add counts what the tally has just seen with a weight.
func (s *settled) add(f *follower, weight float64) {
	x := &f.t.seen
	scale := weight / x.seconds
	for ch := range s.vs {
		s.vs[ch] += scale * x.vs[ch]
		if s.looks == 0 {
			s.low[ch], s.top[ch] = x.low[ch], x.top[ch]
		}
		s.low[ch], s.top[ch] = min(s.low[ch], x.low[ch]), max(s.top[ch], x.top[ch])
	}
	for u := range s.as {
		s.as[u] += scale * x.as[u]
		s.a2s[u] += scale * x.a2s[u]
	}
	for j, k := range f.s.loaded {
		if node := f.net.vertices[k].node; node >= 0 {
			s.load[j] += weight * (f.w.u[j] + f.loadG[j]*x.vs[f.t.node[node]]/x.seconds)
		}
	}
	s.points = x.points - 1 // the last point is the next period's first
	if s.bins == nil {
		s.bins = f.mem.floats(len(s.as) * s.points)
	}
	for u := range s.as {
		for j, a := range x.a[u*x.points : u*x.points+s.points] {
			s.bins[u*s.points+j] += weight * a
		}
	}
	s.addSides(f, scale)
	s.looks++
}

// addSides counts the paths' currents; where a period is half a cycle each
// path has the one half now and the other then.
func (s *settled) addSides(f *follower, scale float64) {
	x := &f.t.seen
	for side := range s.topA {
		top, a, a2 := x.topA[side], x.sideAs[side], x.sideA2s[side]
		if f.half {
			top = max(x.topA[0], x.topA[1])
			a, a2 = (x.sideAs[0]+x.sideAs[1])/2, (x.sideA2s[0]+x.sideA2s[1])/2
		}
		s.topA[side] = max(s.topA[side], top)
		s.sideA[side] += scale * a
		s.sideA2s[side] += scale * a2
	}
}

// settle goes through the steady window from its first period to the end. It
// gives nil where the run must be made again with more care.
func (c *chase) settle(ctx context.Context, from int) (*settled, error) {
	out := newSettled(c.t, len(c.s.loaded))
	if c.doubt != "" || c.failed != "" {
		return nil, nil
	}
	if !c.calm(from) {
		if c.care == 1 {
			return nil, nil
		}
		return out, c.settleDirectly(ctx, out)
	}
	n := len(c.x)
	states := c.mem.floats(3 * n)
	copy(states, c.x)
	for i, k := range []int{(from + c.last) / 2, c.last} {
		if err := c.to(ctx, k); err != nil || c.doubt != "" || c.failed != "" {
			return nil, err
		}
		copy(states[(i+1)*n:], c.x)
	}
	drift := 0.0
	for i := range c.s.real {
		drift = max(drift, math.Abs(states[2*n+i]-states[i])/c.str.scale[i])
	}
	copy(c.loadG, c.trueG)
	if !c.lay() {
		c.fail(noSolution)
		return out, nil
	}
	eased := c.ease(states[2*n:], c.last, mostEase)
	if drift < driftless {
		c.look(out, states[2*n:], c.last+eased, 1)
		return out, nil
	}
	at := [3]float64{float64(from), float64((from + c.last) / 2), float64(c.last)}
	for i, weight := range parabola(at, float64(eased)+leadPeriods+0.5, at[0], at[2]) {
		x := states[i*n : (i+1)*n]
		if i < 2 {
			c.ease(x, int(at[i]), eased)
		}
		c.look(out, x, int(at[i])+eased, weight)
	}
	return out, nil
}

// ease walks on from x at period k until its change over a period is that of
// the envelope: until what the strides left in the fast states has gone. It
// gives the periods that took, most at most.
func (c *chase) ease(x []float64, k, most int) int {
	p := &c.str.knots
	span := float64(p[0].k - p[1].k)
	for i := range most {
		copy(c.start, x)
		c.image(c.grid(0), x, k+i)
		quiet := most == mostEase
		for j, scale := range c.str.scale {
			rate := (p[0].x[j] - p[1].x[j]) / span
			quiet = quiet && math.Abs(x[j]-c.start[j]-rate) < easeTol*scale*c.care
		}
		if quiet {
			return i + 1
		}
	}
	return most
}

// parabola gives the weights that turn values at three instants, each late by
// lead, into the mean from one instant to another of the parabola through them.
func parabola(at [3]float64, lead, from, to float64) [3]float64 {
	var w [3]float64
	mid, half := (from+to)/2-lead, (to-from)/2
	for i := range w {
		a, b := at[(i+1)%3], at[(i+2)%3]
		// Mean of (t−a)(t−b) about the middle: (mid−a)(mid−b) + half²/3.
		w[i] = ((mid-a)*(mid-b) + half*half/3) / ((at[i] - a) * (at[i] - b))
	}
	return w
}

// look walks finely from the states x at period k on and counts one period.
func (c *chase) look(out *settled, x []float64, k int, weight float64) {
	c.str.polish(x, k)
	copy(c.start, x)
	for i := range leadPeriods {
		c.image(c.grid(1), x, k+i)
	}
	c.repeats(x)
	c.observe(c.grid(1), x, float64(k+leadPeriods)*c.period, 0)
	if c.care == 1 && c.unbalanced() {
		c.suspect("a capacitor still charges by more than strides can tell")
	}
	if c.deep {
		c.fail("the ripple about one of its loads is too deep")
	}
	out.add(c.follower, weight)
}

// unbalanced says whether a unit's mean current is more than a sliver of its
// ripple. Where a diode's last microamperes charge against a leak the ripple
// goes with the exponential of what is left, and a stride's error shows in it.
func (c *chase) unbalanced() bool {
	x := &c.t.seen
	for _, st := range c.net.stacks {
		if st.vertex != 0 {
			continue
		}
		for u := st.first; u < st.first+st.count; u++ {
			mean, square := x.as[u]/x.seconds, x.a2s[u]/x.seconds
			if mean*mean > mostUnbalance*mostUnbalance*square {
				return true
			}
		}
	}
	return false
}

// repeats checks that the periods before a steady look have changed little:
// what is looked at must be what goes on, or drift no faster than a stride allows.
func (c *chase) repeats(x []float64) {
	for i, was := range c.start[:c.s.real] {
		if off := math.Abs(x[i] - was); !(off <= (mostUneasy*c.str.scale[i]+leadPeriods*c.str.allow[i])*c.care) {
			c.suspect(fmt.Sprintf("its last periods still change by %.2g %% of the winding's peak", 100*off/c.net.peak))
			return
		}
	}
}

// calm says whether strides may cross the window.
func (c *chase) calm(from int) bool {
	if c.close >= from || c.stride < max(leastStride, float64(c.last-from)/2) {
		return false
	}
	start, end := float64(from)*c.period, float64(c.last)*c.period
	for i := range c.net.emissions {
		if e := &c.net.emissions[i]; math.Abs(e.at(end)-e.at(start)) > mostStill {
			return false
		}
	}
	return true
}

// settleDirectly walks the whole window.
func (c *chase) settleDirectly(ctx context.Context, out *settled) error {
	weight := 1 / float64(c.last-c.k)
	for c.k < c.last {
		if c.asked++; c.asked%askEvery == 0 {
			if err := cancelled(ctx); err != nil {
				return err
			}
		}
		if c.k == c.close {
			c.fail("its switch closes within the steady window")
			return nil
		}
		from := float64(c.k) * c.period
		c.observe(c.grid(0), c.x, from, 0)
		out.add(c.follower, weight)
		c.t.note(walkedPeriod{from: from, to: from + c.period, whole: true}, c.flips(c.k))
		c.t.cycle(c.share(), !c.half || c.k%2 == 0, !c.half || c.k%2 == 1, false)
		c.k++
		c.refresh()
	}
	return nil
}

// harmonicsOf resolves a unit's current. Half says that the points are of half
// a mains cycle, so that only even multiples are there.
func (r *room) harmonicsOf(bins []float64, half bool, hz float64) []Harmonic {
	m := len(bins)
	out := make([]Harmonic, harmonicsKept)
	per := 1
	if half {
		per = 2
	}
	cos, sin := r.turn(m)
	for k := range out {
		out[k].Hz = hz * float64(k+1)
		if (k+1)%per != 0 || (k+1)/per > (m-1)/2 {
			continue
		}
		q, at := (k+1)/per, 0
		re, im := 0.0, 0.0
		for _, a := range bins {
			re += a * cos[at]
			im += a * sin[at]
			if at += q; at >= m {
				at -= m
			}
		}
		out[k].ARMS = math.Sqrt2 / float64(m) * math.Hypot(re, im)
	}
	return out
}

// turn gives the cosine and sine of m equal parts of a turn.
func (r *room) turn(m int) (cos, sin []float64) {
	if len(r.cosine) != m {
		r.cosine, r.sine = make([]float64, m), make([]float64, m)
		for j := range m {
			r.sine[j], r.cosine[j] = math.Sincos(2 * math.Pi * float64(j) / float64(m))
		}
	}
	return r.cosine, r.sine
}

package supply

import "math"

// follower runs one circuit: period by period where things happen, and in
// strides of many periods between.
type follower struct {
	net    *network
	s      *stateSpace
	w      *walker
	t      *tally
	tr     trace
	coarse *grid
	fine   *grid // finer steps over the same period; laid when needed
	odd    *grid // part of a period, beside a switch
	fresh  bool  // fine is laid for the network as it stands

	period float64 // s that repeat: half a mains cycle where both halves are alike
	half   bool
	closed bool
	slope  float64 // Ω that stand for the diode's drop
	lines  []taylorLoad
	em     []float64
	loadG  []float64 // S counted into the network, by loaded vertex
	trueG  []float64 // S at the moment
	lift   []float64 // V by which a loaded vertex's mean exceeds its start
	held   []float64 // F at each loaded vertex
	taken  []float64 // V that a loaded vertex was taken to have in the mean
	missed float64   // V by which the last look found one to differ, at most

	k      int // periods done
	x      []float64
	start  []float64 // V, A: where the running period began
	peakA  float64   // A: largest current of the last trace
	failed string
}

const (
	// coarseSteps in a half cycle; the number actually used brings the mains'
	// crest onto a point.
	coarseSteps = 48
	crestSpread = 8
	// fineFactor is how much finer the first periods after a jump and the last
	// ones are walked.
	fineFactor = 3
	// finePeriods after a jump.
	finePeriods = 4
	// thinned is how far apart points are kept where nothing conducts.
	thinned = 4
	// mostMissed is how far a loaded vertex's mean may lie from what a walk took it
	// to be, as a share of the winding's peak.
	mostMissed = 2e-3
	// slackG is the largest part of a period that a loaded vertex's conductance
	// may be off by, as g·T/C; a ripple's form is then off by an eighth of it.
	slackG = 0.03
)

// stepsFor chooses the steps in a half cycle so that the winding's crest falls
// on a point or next to one.
func stepsFor(n *network) int {
	ahead := math.Mod(0.5-math.Mod(n.phase/math.Pi, 1)+2, 1) // of a half cycle, from its start to the crest
	best, least := coarseSteps, 1.0
	for m := coarseSteps; m <= coarseSteps+crestSpread; m++ {
		off := ahead * float64(m)
		if miss := math.Abs(off - math.Round(off)); miss < least-1e-9 {
			best, least = m, miss
		}
	}
	return best
}

// newFollower makes a circuit ready. Nil says that the network is not one this
// way of stepping takes.
func newFollower(c *Circuit) *follower {
	n := compile(c)
	f := &follower{net: n, half: n.paths == 2 && !n.doubler}
	steps := stepsFor(n)
	f.period = 1 / c.Mains.FreqHz
	if f.half {
		f.period /= 2
	} else {
		steps *= 2
	}
	h := f.period / float64(steps)
	f.s = newStateSpace(n, h/fineFactor)
	f.w = newWalker(f.s)
	f.t = newTally(c, n)
	f.coarse, f.fine, f.odd = newGrid(f.s, steps), newGrid(f.s, steps*fineFactor), newGrid(f.s, steps)
	f.coarse.h, f.fine.h = h, h/fineFactor
	f.coarse.drive(n, 0)
	f.fine.drive(n, 0)
	in := len(f.s.loaded)
	f.lines, f.em = make([]taylorLoad, len(n.loads)), make([]float64, len(n.emissions))
	f.loadG, f.trueG, f.lift, f.held, f.taken = make([]float64, in), make([]float64, in), make([]float64, in), make([]float64, in), make([]float64, in)
	f.x, f.start = make([]float64, f.s.n), make([]float64, f.s.n)
	for _, st := range n.stacks {
		elastance := 0.0
		for _, u := range n.units[st.first : st.first+st.count] {
			elastance += 1 / u.c
		}
		if at := f.s.place[st.vertex]; at >= 0 {
			f.held[at] += 1 / elastance
		}
	}
	f.closed = n.sw == nil || n.sw.CloseS == 0
	f.guessSlope()
	return f
}

// guessSlope takes the diode's slope at a tenth of the winding's peak, until
// a current is known.
func (f *follower) guessSlope() {
	d := &f.net.diode
	i := f.net.peak / 20 / (f.net.rs + 1)
	if d.tube {
		i = d.g * math.Pow(f.net.peak/10, 1.5)
	}
	f.slope = f.slopeAt(i)
}

func (f *follower) slopeAt(i float64) float64 {
	_, slope := f.net.diode.drop(i, math.Max(f.w.w, 0.05))
	return slope
}

// lay forms the network and its plain grid anew.
func (f *follower) lay() bool {
	copy(f.loadG, f.trueG)
	f.w.rs = f.net.rs
	if sw := f.net.sw; sw != nil && sw.Position == "in_winding" {
		f.w.rs += sw.RoffOhm
		if f.closed {
			f.w.rs += sw.RonOhm - sw.RoffOhm
		}
	}
	f.fresh = false
	return f.s.form(f.loadG, f.closed) && f.coarse.lay(f.s, f.coarse.h, f.w.rs, f.slope)
}

// layFine lays the fine grid where the network has changed since.
func (f *follower) layFine() bool {
	if f.fresh {
		return true
	}
	f.fresh = true
	return f.fine.lay(f.s, f.fine.h, f.w.rs, f.slope)
}

// prepare sets what holds for a stretch about t seconds that starts from x.
func (f *follower) prepare(t float64, x []float64) {
	s, w := f.s, f.w
	for k := range f.em {
		f.em[k] = f.net.emissions[k].at(t)
	}
	w.w = 1
	if f.net.heater >= 0 {
		w.w = f.em[f.net.heater]
	}
	in := len(s.loaded)
	clear(f.trueG)
	for j, k := range s.loaded {
		v := dot(s.vx[k*s.n:k*s.n+s.n], x) + dot(s.vu[k*in:k*in+in], w.u) + f.lift[j]
		f.taken[j] = v
		drawn := 0.0
		for l := range f.net.loads {
			ld := &f.net.loads[l]
			if ld.vertex != k {
				continue
			}
			warmth := 1.0
			if ld.heater >= 0 {
				warmth = f.em[ld.heater]
			}
			if warmth == 0 {
				continue
			}
			a, g := f.lines[l].at(ld, v)
			drawn += warmth * a
			f.trueG[j] += warmth * g
		}
		w.u[j] = drawn - f.loadG[j]*v
	}
	w.settle()
}

// stale says whether the network as laid is too far from the moment's.
func (f *follower) stale() bool {
	for j, k := range f.s.loaded {
		off := math.Abs(f.trueG[j] - f.loadG[j])
		if f.held[j] > 0 && off*f.period/f.held[j] > slackG {
			return true
		}
		if f.held[j] == 0 && off*f.s.nodalInv[k*f.s.size()+k] > slackG/3 {
			return true
		}
	}
	if f.peakA > 0 {
		now := f.slopeAt(f.peakA / 2)
		return math.Abs(now-f.slope) > 0.7*(f.net.rs+f.slope)
	}
	return false
}

// refresh lays the network anew where it has become stale.
func (f *follower) refresh() bool {
	if !f.stale() {
		return true
	}
	if f.peakA > 0 {
		f.slope = f.slopeAt(f.peakA / 2)
	}
	return f.lay()
}

// image takes x through period k on the plain grid.
func (f *follower) image(x []float64, k int) {
	f.prepare((float64(k)+0.5)*f.period, x)
	f.w.walk(f.coarse, x, nil)
}

// imageFinely is image on the fine grid, which must be laid.
func (f *follower) imageFinely(x []float64, k int) {
	f.prepare((float64(k)+0.5)*f.period, x)
	f.w.walk(f.fine, x, nil)
}

// observe takes x through a stretch that starts at t seconds, keeping what is seen.
// Thin is how far apart points are kept where nothing conducts.
func (f *follower) observe(g *grid, x []float64, t float64, thin int) {
	f.prepare(t+0.5*float64(g.m)*g.h, x)
	f.tr.thin = thin
	f.w.walk(g, x, &f.tr)
	f.t.look(f.w, g, &f.tr)
	seen := &f.t.seen
	f.missed = 0
	for j, k := range f.s.loaded {
		if node := f.net.vertices[k].node; node >= 0 {
			off := seen.vs[f.t.node[node]]/seen.seconds - f.taken[j]
			f.lift[j] += off
			f.missed = math.Max(f.missed, math.Abs(off))
		}
	}
	f.peakA = math.Max(seen.topA[0], seen.topA[1])
}

// flips says whether period k starts with the winding's halves changed over.
func (f *follower) flips(k int) bool { return f.half && k%2 == 1 }

// direct walks one period and keeps it.
func (f *follower) direct(g *grid, jump bool) {
	from := float64(f.k) * f.period
	copy(f.start, f.x)
	f.observe(g, f.x, from, thinned)
	if f.missed > mostMissed*f.net.peak { // again, with the loads at the voltages just found
		if f.refresh() && g == f.fine {
			f.layFine()
		}
		copy(f.x, f.start)
		f.observe(g, f.x, from, thinned)
	}
	f.t.note(walkedPeriod{from: from, to: from + f.period, jump: jump, whole: true}, f.flips(f.k))
	if f.half {
		f.t.cycle(0.5, f.k%2 == 0, f.k%2 == 1, false)
	} else {
		f.t.cycle(1, true, true, false)
	}
	f.k++
}

// taylorLoad is a load's law about one voltage, to the second order.
type taylorLoad struct {
	centre, a, g, bend float64
	drawn              bool
}

// nearShare is how far from its centre the series is used: its third order
// is then below 1e-6 of the current.
const nearShare = 0.02

// at gives a fully warm load's amperes and siemens at v volts.
func (t *taylorLoad) at(l *load, v float64) (a, g float64) {
	if d := v - t.centre; t.drawn && math.Abs(d) <= nearShare*t.centre {
		return t.a + d*(t.g+d*t.bend), t.g + 2*d*t.bend
	}
	chord := chordShare * l.v0
	switch {
	case v < 0:
		return 0, 0
	case v <= chord:
		g = l.i0 * math.Pow(chordShare, l.alpha) / chord
		return g * v, g
	}
	t.drawn, t.centre = true, v
	t.a = l.i0 * math.Pow(v/l.v0, l.alpha)
	t.g = l.alpha * t.a / v
	t.bend = (l.alpha - 1) * t.g / v / 2
	return t.a, t.g
}

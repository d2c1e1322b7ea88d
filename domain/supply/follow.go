package supply

import "math"

// follower runs one circuit: period by period where things happen, and in
// strides of many periods between.
type follower struct {
	net    *network
	s      *stateSpace
	w      *walker
	t      *tally
	mem    *room
	grids  [levels]*grid // of a period, each finer than the one before
	laid   [levels]bool  // for the network as it stands
	level  int           // of these, the one whose steps follow the pulses as they are
	lowest int           // of these, the first whose steps follow the chokes' rings
	odd    *grid         // part of a period, beside a switch

	period float64 // s that repeat: half a mains cycle where both halves are alike
	half   bool
	closed bool
	slopes [2]float64 // Ω that stand for the diode's drop, by port
	lines  []taylorLoad
	em     []float64
	loadG  []float64 // S counted into the network, by loaded vertex
	trueG  []float64 // S at the moment
	lift   []float64 // V by which a loaded vertex's mean exceeds its start
	held   []float64 // F at each loaded vertex
	taken  []float64 // V that a loaded vertex was taken to have in the mean
	spread []float64 // V²: of a loaded vertex's voltage about its mean
	missed float64   // V by which the last look found one to differ, at most

	k      int // periods done
	x      []float64
	start  []float64  // V, A: where the running period began
	peakA  [2]float64 // A: largest currents of the last trace, by port
	failed string     // why this way of running does not do
	deep   bool       // the last look found a load's voltage to vary too far for its parabola
	doubt  string     // what a check found that more care may mend
}

const (
	// coarseSteps in a half cycle; the number actually used brings the mains'
	// crest onto a point.
	coarseSteps = 48
	// chokeSteps is the same behind a choke, where currents end at a corner.
	chokeSteps  = 48
	crestSpread = 8
	mostCoarse  = 500
	// levels of grids, each fineFactor times finer than the one before. The first
	// periods after a jump and the last ones of a run are walked a level finer.
	levels     = 6
	fineFactor = 2
	// ringStep is the longest step beside a ringing L–C, as a share of 1/ω: of its
	// points where nothing conducts every fourth is kept.
	ringStep = 0.3
	// leastPulse is how many points a pulse should have.
	leastPulse = 8
	// tailShare of a pulse's peak is where its tail begins, which does not count.
	tailShare = 0.1
	// finePeriods after a jump.
	finePeriods = 3
	// thinned is how far apart points are kept where nothing conducts.
	thinned = 8
	// mostMissed is how far a loaded vertex's mean may lie from what a walk took it
	// to be, as a share of the winding's peak.
	mostMissed = 2e-3
	// observations of one stretch at most, until its loads' voltages are as taken.
	observations = 3
	// mostEmptied is the largest g·T/C of a leak or bleeder, mostDrained of a load.
	mostEmptied = 0.5
	mostDrained = 1
	// deepest is the ripple about a load, RMS over mean, that a parabola for its
	// law does not stretch to.
	deepest = 0.5
	// slackG is the largest part of a period that a loaded vertex's conductance
	// may be off by, as g·T/C; a ripple's form is then off by an eighth of it.
	slackG = 0.03
)

// stepsFor chooses the steps in a half cycle, base or a few more, so that the winding's crest falls
// on a point or next to one.
func stepsFor(n *network, base int) int {
	ahead := math.Mod(0.5-math.Mod(n.phase/math.Pi, 1)+2, 1) // of a half cycle, from its start to the crest
	best, least := base, 1.0
	for m := base; m <= base+crestSpread; m++ {
		off := ahead * float64(m)
		if miss := math.Abs(off - math.Round(off)); miss < least-1e-9 {
			best, least = m, miss
		}
	}
	return best
}

// newFollower makes a circuit ready, in the memory given.
func newFollower(c *Circuit, stepsPerCycle int, mem *room) *follower {
	mem.begin()
	n := compile(c)
	f := &follower{net: n, half: n.paths == 2 && !n.doubler, mem: mem}
	base := coarseSteps
	if n.chokeInput {
		base = chokeSteps
	}
	if stepsPerCycle > 0 {
		base = min((stepsPerCycle+1)/2, mostCoarse)
	}
	steps := stepsFor(n, base)
	f.period = 1 / c.Mains.FreqHz
	if f.half {
		f.period /= 2
	} else {
		steps *= 2
	}
	h := f.period / float64(steps)
	f.s = newStateSpace(n, h, mem)
	f.w = newWalker(f.s, mem)
	f.t = newTally(c, n, mem)
	f.t.half = f.half
	scan := scanned
	f.odd = newGrid(f.s, steps, scan, mem)
	for l := range f.grids {
		f.grids[l] = newGrid(f.s, steps, scan, mem)
		f.grids[l].h = h
		steps, h, scan = steps*fineFactor, h/fineFactor, min(scan*fineFactor, mostScanned)
	}
	in := len(f.s.loaded)
	f.lines, f.em = make([]taylorLoad, len(n.loads)), mem.floats(len(n.emissions))
	f.loadG, f.trueG, f.lift, f.held, f.taken, f.spread = mem.floats(in), mem.floats(in), mem.floats(in), mem.floats(in), mem.floats(in), mem.floats(in)
	f.x, f.start = mem.floats(f.s.n), mem.floats(f.s.n)
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
	f.followRings()
	return f
}

// followRings finds the first grid that shows the crests of what rings.
func (f *follower) followRings() {
	ring := f.net.fastestRing()
	for f.lowest < levels && ring*f.grids[f.lowest].h > ringStep {
		f.lowest++
	}
	if f.lowest == levels {
		f.fail("a choke in it rings too fast")
	}
	f.level = min(f.lowest, levels-1)
}

// guessSlope takes the diode's slope at a tenth of the winding's peak, until
// a current is known.
func (f *follower) guessSlope() {
	d := &f.net.diode
	i := f.net.peak / 20 / (f.net.rs + 1)
	if d.tube {
		i = d.g * math.Pow(f.net.peak/10, 1.5)
	}
	f.slopes = [2]float64{f.slopeAt(i), f.slopeAt(i)}
}

func (f *follower) slopeAt(i float64) float64 {
	_, slope := f.net.diode.drop(i, max(f.w.warm[1], 0.05))
	return slope
}

// lay forms the network anew.
func (f *follower) lay() bool {
	copy(f.loadG, f.trueG)
	f.w.rs = f.net.rs
	if sw := f.net.sw; sw != nil && sw.Position == "in_winding" {
		f.w.rs += sw.RoffOhm
		if f.closed {
			f.w.rs += sw.RonOhm - sw.RoffOhm
		}
	}
	f.laid = [levels]bool{}
	return f.s.form(f.loadG, f.closed)
}

// grid gives the grid so much finer than the pulses need, laid for the network
// as it stands.
func (f *follower) grid(finer int) *grid {
	l := min(f.level+finer, levels-1)
	g := f.grids[l]
	if !f.laid[l] {
		f.laid[l] = true
		if g.bent == 0 {
			g.reserve(f.s, g.m, f.mem)
			g.drive(f.net, 0, g.h)
		}
		if !g.lay(f.s, g.h, f.w.rs, f.slopes) {
			f.fail(noSolution)
		}
	}
	return g
}

// choose sets the level by the pulse just seen on a grid.
func (f *follower) choose(g *grid) {
	on := [2]int{}
	tr, top := &f.mem.trace, f.t.seen.topA
	for _, a := range tr.a[:tr.points] {
		for side := range on {
			if a[side] > tailShare*top[side] {
				on[side]++
			}
		}
	}
	least := max(on[0], on[1])
	if f.net.doubler && min(on[0], on[1]) > 0 {
		least = min(on[0], on[1])
	}
	if least == 0 {
		return
	}
	width := float64(least) * g.h
	for f.level+1 < levels && width < leastPulse*f.grids[f.level].h {
		f.level++
	}
	for f.level > f.lowest && width > 1.3*leastPulse*f.grids[f.level-1].h {
		f.level--
	}
}

// prepare sets what holds for a stretch of length seconds from t that starts from x.
func (f *follower) prepare(t, length float64, x []float64) {
	s, w := f.s, f.w
	w.warm = [2]float64{1, 1}
	if h := f.net.heater; h >= 0 {
		w.warm[0], w.warm[1] = f.net.emissions[h].at(t), f.net.emissions[h].at(t+length)
	}
	t += length / 2
	for k := range f.em {
		f.em[k] = f.net.emissions[k].at(t)
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
			a, g, bend := f.lines[l].at(ld, v)
			drawn += warmth * (a + bend*f.spread[j])
			f.trueG[j] += warmth * g
		}
		w.u[j] = drawn - f.loadG[j]*v
		if f.trueG[j]*length > mostDrained*f.held[j] {
			f.fail("a load of it empties its capacitor within a period")
		}
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
	for p := range f.s.ports {
		if f.peakA[p] <= 0 {
			continue
		}
		if now := f.slopeAt(f.peakA[p] / 2); math.Abs(now-f.slopes[p]) > 0.7*(f.net.rs+f.slopes[p]) {
			return true
		}
	}
	return false
}

// refresh lays the network anew where it has become stale.
func (f *follower) refresh() {
	if !f.stale() {
		return
	}
	for p := range f.s.ports {
		if f.peakA[p] > 0 {
			f.slopes[p] = f.slopeAt(f.peakA[p] / 2)
		}
	}
	if !f.lay() {
		f.fail(noSolution)
	}
}

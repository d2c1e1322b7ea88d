package supply

import "math"

// walker takes the states across a grid. What holds for the whole stretch is
// set beforehand: emission, and the currents the loads draw beyond their
// conductances, which shift the origin of the states.
type walker struct {
	s     *stateSpace
	rs    float64    // Ω per path, the switch included where it is in the winding
	w     float64    // emission of a tube rectifier at the running point
	warm  [2]float64 // the same at the start and at the end
	u     []float64
	rest  []float64  // V, A: the states' origin under u
	faced [2]float64 // V: what each port faces there

	before   float64 // V: s at the point before the last
	x, spare []float64
	law      diodeFollower
	both     [2]float64 // A: where both paths last conducted
	steps    int
	passed   float64 // A: sum of the currents at the points of the last walk
	overlap  bool    // both of a doubler's paths would have conducted
}

func newWalker(s *stateSpace, mem *room) *walker {
	return &walker{s: s, u: mem.floats(len(s.loaded)), rest: mem.floats(s.n), x: mem.floats(s.n), spare: mem.floats(s.n)}
}

// trace is a walk point by point: states from their origin, and each path's
// current by the sign of e. Points where nothing conducts are thinned out.
type trace struct {
	thin   int // one point in so many where nothing conducts
	points int
	k      []int     // place on the grid
	x      []float64 // n to a point
	a      [][2]float64
	total  []float64 // into the root; unused in a doubler
}

func (t *trace) reserve(n, m int) {
	t.points = 0
	if len(t.k) < m+1 || len(t.x) < (m+1)*n {
		t.k, t.x, t.a, t.total = make([]int, m+1), make([]float64, (m+1)*n), make([][2]float64, m+1), make([]float64, m+1)
	}
}

// settle sets the origin of the states for the currents in u.
func (w *walker) settle() {
	s := w.s
	clear(w.rest)
	for j, a := range w.u {
		if a == 0 {
			continue
		}
		for i, v := range s.rest[j*s.n : j*s.n+s.n] {
			w.rest[i] += a * v
		}
	}
	for p := range s.ports {
		v := dot(s.cx[p*s.n:p*s.n+s.n], w.rest)
		for j, a := range w.u {
			v += s.cu[p*len(w.u)+j] * a
		}
		w.faced[p] = v
	}
}

// walk takes the states x across the grid. With a trace its points are kept.
func (w *walker) walk(g *grid, x []float64, tr *trace) {
	for i, v := range x {
		w.x[i] = v - w.rest[i]
	}
	if tr != nil {
		tr.reserve(g.n, g.m)
	}
	w.passed = 0
	k, s, fresh := 0, 0.0, true
	p := int(g.port[0])
	w.w = w.warm[0]
	i := w.atOnce(g)
	on := i.sum > 0
	if on {
		s = g.on[p].r*i.sum + dot(w.s.cx[p*g.n:p*g.n+g.n], w.x)
	}
	w.keep(g, tr, 0, i)
	for k < g.m {
		if !on {
			k, i, s = w.passOff(g, k, tr)
			p, fresh = int(g.port[k]), true
		} else {
			k++
			i, s = w.stepOn(g, k, p, i, s, fresh)
			fresh = false
		}
		on = i.sum > 0
		w.passed += i.sum
		w.keep(g, tr, k, i)
	}
	w.steps += g.m
	for i := range x {
		x[i] = w.x[i] + w.rest[i]
	}
}

// heat sets the emission at point k.
func (w *walker) heat(g *grid, k int) {
	if w.warm[0] == w.warm[1] {
		return
	}
	w.w = w.warm[0] + (w.warm[1]-w.warm[0])*float64(k)/float64(g.m)
}

// paths is the current of the active path, of the other, and both.
type paths struct{ active, other, sum float64 }

func (w *walker) keep(g *grid, tr *trace, k int, i paths) {
	if tr == nil {
		return
	}
	at := tr.points
	tr.points++
	tr.k[at] = k
	copy(tr.x[at*g.n:at*g.n+g.n], w.x)
	tr.total[at] = i.sum
	tr.a[at][g.side[k]], tr.a[at][1-g.side[k]] = i.active, i.other
}

// atOnce finds the current at the first point.
func (w *walker) atOnce(g *grid) paths {
	p := int(g.port[0])
	open := w.faced[p] + dot(w.s.cx[p*g.n:p*g.n+g.n], w.x)
	return w.solve(g.emf[0], open, g.on[p].own)
}

// solve finds the currents where e volts face open volts behind z ohms.
func (w *walker) solve(e, open, z float64) paths {
	if e <= open {
		return paths{}
	}
	n := w.s.net
	a := w.law.current(&n.diode, e-open, z+w.rs, w.w)
	if n.paths == 1 || n.doubler {
		return paths{active: a, sum: a}
	}
	mutual := z
	if n.oneWinding {
		mutual -= w.rs
	}
	if -e-open-mutual*a <= 0 {
		return paths{active: a, sum: a}
	}
	p := pair{drive: [2]float64{e - open, -e - open}, own: [2]float64{z, z}, mutual: mutual, rs: w.rs, w: w.w}
	if w.both[1] == 0 || !n.diode.closeIn(&p, &w.both) {
		w.both = n.diode.solvePair(&p)
	}
	return paths{active: w.both[0], other: w.both[1], sum: w.both[0] + w.both[1]}
}

// passOff goes from point k, where nothing conducts, to the first point where
// something does, or to the end. It gives the currents there and the voltage s.
func (w *walker) passOff(g *grid, k int, tr *trace) (int, paths, float64) {
	for k < g.m {
		far := min(g.scan, g.m-k)
		if ahead, drive := w.driven(g, k, far); ahead > 0 {
			w.coast(g, k, ahead-1, tr)
			k += ahead - 1
			if tr != nil && tr.k[tr.points-1] != k {
				w.keep(g, tr, k, paths{})
			}
			i, s := w.beginPulse(g, k+1, drive)
			return k + 1, i, s
		}
		w.coast(g, k, far, tr)
		if k += far; k < g.m {
			w.keep(g, tr, k, paths{})
		}
	}
	return g.m, paths{}, 0
}

// beginPulse takes the step to point k, at which drive volts drive a path that
// did not conduct before.
func (w *walker) beginPulse(g *grid, k int, drive float64) (paths, float64) {
	n, p := g.n, int(g.port[k])
	// The current begins within the step and ramps up over the share that is left.
	share := 1.0
	if was := w.driveAt(g, k-1, 0); was < 0 && int(g.port[k-1]) == p {
		share = drive / (drive - was)
	}
	on := &g.on[p]
	w.law.forget()
	w.heat(g, k)
	z, choke := on.own+share*on.offUp, 0.0
	if w.s.net.chokeInput {
		choke = (1/(on.own+on.offUp) - 1/on.own) * share / 2 // S: the volts across it rise evenly, its current with their square
		z = 1 / (1/on.own + choke)
	}
	i := w.solve(g.emf[k], g.emf[k]-drive, z)
	apply(w.spare, g.off.phi, w.x)
	charge := share * i.sum * w.law.ramp(drive)
	rise, bend := g.off.rise[p*n:p*n+n], g.off.bend[p*n:p*n+n]
	if choke == 0 {
		for j, v := range rise {
			w.x[j] = w.spare[j] + charge*v
		}
	} else { // the choke carries on what it has in the end, whatever the charge
		bent := 6 * (i.sum - charge*(1-choke*z/3))
		for j, v := range rise {
			w.x[j] = w.spare[j] + i.sum*v - bent*bend[j]
		}
	}
	if w.s.ports == 2 {
		w.watch(g, k, p, i.sum)
	}
	return i, on.r*i.sum + dot(w.s.cx[p*n:p*n+n], w.x)
}

// coast goes some steps on from point k with nothing conducting, and keeps
// points between.
func (w *walker) coast(g *grid, k, steps int, tr *trace) {
	for tr != nil && steps > tr.thin {
		w.coast(g, k, tr.thin, nil)
		k, steps = k+tr.thin, steps-tr.thin
		w.keep(g, tr, k, paths{})
	}
	for l := 0; steps > 0; l, steps = l+1, steps>>1 {
		if steps&1 == 1 {
			apply(w.spare, g.powers[l], w.x)
			w.x, w.spare = w.spare, w.x
		}
	}
}

// driven gives how many of the next far steps after k it is until a path is
// driven to conduct, and by how much; 0 where none is. Off, what a port faces
// bends little within so few steps: where the winding stays below both ends by
// more than their difference, nothing can conduct between them.
func (w *walker) driven(g *grid, k, far int) (ahead int, drive float64) {
	if w.warm[1] <= 0 {
		return 0, 0
	}
	if p := g.port[k]; g.port[k+1] == p && g.port[k+far] == p {
		now, then := w.facedAt(g, k, 0), w.facedAt(g, k, far)
		if g.crest[k+far] < min(now, then)-math.Abs(now-then) {
			return 0, 0
		}
	}
	for ahead := 1; ahead <= far; ahead++ {
		if drive := w.driveAt(g, k, ahead); drive > 0 {
			return ahead, drive
		}
	}
	return 0, 0
}

// facedAt gives what the port active some steps ahead of k then faces, if
// nothing conducts till then.
func (w *walker) facedAt(g *grid, k, ahead int) float64 {
	p := int(g.port[k+ahead])
	at := (p*(g.scan+1) + ahead) * g.n
	return w.faced[p] + dot(g.faces[at:at+g.n], w.x)
}

// driveAt gives what drives that path then.
func (w *walker) driveAt(g *grid, k, ahead int) float64 {
	return g.emf[k+ahead] - w.facedAt(g, k, ahead)
}

// stepOn takes the step to point k with a path conducting into port p. S is
// the voltage that stood behind the path at the point before; fresh says that
// the pulse began there.
func (w *walker) stepOn(g *grid, k, p int, from paths, s float64, fresh bool) (paths, float64) {
	n, on := g.n, &g.on[p]
	step, third := &on.curved, w.before
	x := w.spare
	corner := fresh || g.side[k] != g.side[k-1] || k > 1 && g.side[k-1] != g.side[k-2]
	if corner {
		step = &on.straight
	}
	w.before = s
	open := step.advance(x, w.x, s, third)
	if corner {
		bent := g.bent * g.emf[k]
		for i, v := range on.bend {
			x[i] += v * bent
		}
		open += step.scale * bent * dot(w.s.cx[p*n:p*n+n], on.bend)
	}
	e := g.emf[k]
	if int(g.port[k]) != p {
		e = -e
	}
	w.heat(g, k)
	i := w.solve(e, open+w.faced[p], step.z)
	if i.sum > 0 {
		s = step.inverse*i.sum + open
		for j, v := range step.rise {
			x[j] += v * s
		}
		w.x, w.spare = x, w.x
		return i, s
	}
	w.endPulse(g, k, p, from.sum, (e-open-w.faced[p])/step.inverse, e)
	return paths{}, 0
}

// endPulse takes the step to point k in which the current of a ends. Lin is
// where it would be if the path were ohmic.
func (w *walker) endPulse(g *grid, k, p int, a, lin, e float64) {
	n, on := g.n, &g.on[p]
	fall := g.off.fall[p*n : p*n+n]
	apply(w.spare, g.off.phi, w.x)
	charge := a * a / (a - lin)
	if !w.s.net.chokeInput {
		c := w.s.cx[p*n : p*n+n]
		was := a*(on.own+w.rs+w.s.net.diode.ohmic) + w.law.last
		is := e - w.faced[p] - dot(c, w.spare) - 0.5*a*dot(c, fall)
		charge = a * w.law.ramp(was)
		if is < 0 {
			charge *= was / (was - is)
		}
	}
	for j, v := range fall {
		w.x[j] = w.spare[j] + charge*v
	}
}

// watch notes where a doubler's other path would conduct as well, which a
// walk does not follow.
func (w *walker) watch(g *grid, k, p int, a float64) {
	q := 1 - p
	facing := w.faced[q] + dot(w.s.cx[q*g.n:q*g.n+g.n], w.x) + w.s.d[q*2+p]*a
	if -math.Abs(g.emf[k]) > facing+0.5 {
		w.overlap = true
	}
}

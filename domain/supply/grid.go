package supply

import "math"

// grid is a stretch of equal steps with the switch and the loads'
// conductances as they stand: what a step and a run of steps without diode
// current do to the states, and the winding's volts at each point.
type grid struct {
	m int     // steps
	h float64 // s
	n int     // states

	off    response    // without a diode's current, and to a current ramp in each port
	powers [][]float64 // off.phi to the power 2^l
	faces  []float64   // by port and point: a row that gives what the port faces after that many steps off
	on     [2]onStep
	emf    []float64 // V that drive the active path at each point; ≤ 0 where none can conduct
	bent   float64   // (ωh)²: the second difference of e is −bent·e
	crest  []float64 // the largest emf of the scan points up to each
	port   []int8    // which port that path feeds
	side   []int8    // which half of the winding it is, 0 where e ≥ 0
	room   []float64
}

// onStep is a step with a path conducting, the path taken as a voltage s
// behind R ohms: s = e less what its drop differs from r·i. S moves far less
// in a step than the current does, and a parabola through its last three values
// follows it; where it has a corner, a straight line and the bend of e do.
type onStep struct {
	response
	own      float64 // Ω: what the network shows at the port at once
	r        float64 // Ω: total, own and the path's included
	path     float64 // Ω: of winding and diode in r
	straight ahead
	curved   ahead
	aOn, bR  []float64
	offUp    float64 // Ω: c·off.rise, by which a current ramp lifts the port in a step
}

// ahead is how the end of a step follows from s there.
type ahead struct {
	fall, rise, before []float64 // weights of s at the step's start, its end, and the point before
	scale              float64   // 1/(1 − c·rise)
	inverse            float64   // Ω: r·scale
	z                  float64   // Ω: what the network shows at the end of the step
}

func newGrid(s *stateSpace, steps int, mem *room) *grid {
	g := &grid{n: s.n, off: newResponse(s.n, s.ports, mem), room: mem.floats(2 * s.n * (s.n + 1))}
	for p := range s.ports {
		g.on[p] = onStep{response: newResponse(s.n, 1, mem), aOn: mem.floats(s.n * s.n), bR: mem.floats(s.n)}
		for _, a := range []*ahead{&g.on[p].straight, &g.on[p].curved} {
			a.fall, a.rise, a.before = mem.floats(s.n), mem.floats(s.n), mem.floats(s.n)
		}
	}
	g.reserve(s, steps, mem)
	return g
}

// reserve makes room for a number of steps.
func (g *grid) reserve(s *stateSpace, steps int, mem *room) {
	g.m = steps
	if len(g.emf) < steps+1 {
		g.emf, g.crest, g.port, g.side = mem.floats(steps+1), mem.floats(steps+1), make([]int8, steps+1), make([]int8, steps+1)
		g.faces = mem.floats(s.ports * (steps + 1) * s.n)
	}
	for len(g.powers) == 0 || 1<<len(g.powers) <= steps {
		g.powers = append(g.powers, mem.floats(s.n*s.n))
	}
}

// lay works the grid out for steps of h seconds. Slope is the resistance
// that stands for the diode's drop. It says whether the network allows it.
func (g *grid) lay(s *stateSpace, h, rs, slope float64) bool {
	g.h = h
	n := g.n
	if !g.off.exponential(s.a, s.b, n, s.ports, h, g.room) {
		return false
	}
	copy(g.powers[0], g.off.phi)
	for l := 1; l < len(g.powers); l++ {
		multiply(g.powers[l], g.powers[l-1], g.powers[l-1], n)
	}
	for p := range s.ports {
		g.layFaces(s, p)
		if !g.layOn(s, p, rs, slope) {
			return false
		}
	}
	return true
}

// layFaces follows a port's row through steps without current.
func (g *grid) layFaces(s *stateSpace, p int) {
	n := g.n
	rows := g.faces[p*(g.m+1)*n : (p+1)*(g.m+1)*n]
	copy(rows, s.cx[p*n:p*n+n])
	for k := range g.m {
		row, next := rows[k*n:k*n+n], rows[(k+1)*n:(k+2)*n]
		clear(next)
		for i, v := range row {
			for j, f := range g.off.phi[i*n : i*n+n] {
				next[j] += v * f
			}
		}
	}
}

func (g *grid) layOn(s *stateSpace, p int, rs, slope float64) bool {
	n, o := g.n, &g.on[p]
	b, c := s.b[p*n:p*n+n], s.cx[p*n:p*n+n]
	o.path = rs + slope
	o.own = s.d[p*s.ports+p]
	o.r = o.path + o.own
	for i := range n {
		o.bR[i] = b[i] / o.r
		for j := range n {
			o.aOn[i*n+j] = s.a[i*n+j] - o.bR[i]*c[j]
		}
	}
	if !o.exponential(o.aOn, o.bR, n, 1, g.h, g.room) {
		return false
	}
	for i, v := range o.bend {
		o.straight.fall[i], o.straight.rise[i], o.straight.before[i] = o.fall[i], o.rise[i], 0
		o.curved.fall[i], o.curved.rise[i], o.curved.before[i] = o.fall[i]+2*v, o.rise[i]-v, -v
	}
	o.offUp = dot(c, g.off.rise[p*n:p*n+n])
	return o.straight.close(c, o) && o.curved.close(c, o)
}

func (a *ahead) close(c []float64, o *onStep) bool {
	a.scale = 1 / (1 - dot(c, a.rise))
	a.inverse = o.r * a.scale
	a.z = a.inverse - o.path
	return a.z > 0 && !math.IsInf(a.inverse, 0) && !math.IsNaN(a.inverse)
}

// drive sets the winding's volts at each point, the first at t seconds.
func (g *grid) drive(n *network, t float64) {
	g.bent = n.omega * g.h * n.omega * g.h
	for k := range g.m + 1 {
		e := n.emf(t + float64(k)*g.h)
		g.side[k], g.port[k], g.emf[k] = 0, 0, e
		if e < 0 && n.paths == 2 {
			g.side[k], g.emf[k] = 1, -e
			if n.doubler {
				g.port[k] = 1
			}
		}
	}
	for k := range g.m + 1 {
		g.crest[k] = g.emf[k]
		for j := max(0, k-scan+1); j < k; j++ {
			g.crest[k] = math.Max(g.crest[k], g.emf[j])
		}
	}
}

// skip takes x through steps without current.
func (g *grid) skip(x, spare []float64, steps int) {
	for l := 0; steps > 0; l, steps = l+1, steps>>1 {
		if steps&1 == 1 {
			apply(spare, g.powers[l], x)
			copy(x, spare)
		}
	}
}

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
	scan   int         // how many points are passed over at once while looking for the next pulse
	faces  []float64   // by port and steps up to scan: a row that gives what the port faces after so many off
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

// ahead is how the end of a step follows from its start, from s there, at its
// end, and at the point before.
type ahead struct {
	rows    []float64 // n + 1 rows of n + 2: each state, then what the port faces, by the states, s and the s before
	rise    []float64 // weights of s at the end
	scale   float64   // 1/(1 − c·rise)
	inverse float64   // Ω: r·scale
	z       float64   // Ω: what the network shows at the end of the step
}

// scanned is how many points of the plain grid are passed over at once; finer
// grids pass over the same time, up to mostScanned points.
const (
	scanned     = 8
	mostScanned = 72
)

func newGrid(s *stateSpace, steps, scan int, mem *room) *grid {
	g := &grid{n: s.n, off: newResponse(s.n, s.ports, mem), room: mem.floats(2 * s.n * (s.n + 1))}
	for p := range s.ports {
		g.on[p] = onStep{response: newResponse(s.n, 1, mem), aOn: mem.floats(s.n * s.n), bR: mem.floats(s.n)}
		for _, a := range []*ahead{&g.on[p].straight, &g.on[p].curved} {
			a.rows, a.rise = mem.floats((s.n+1)*(s.n+2)), mem.floats(s.n)
		}
	}
	g.m, g.scan = steps, scan
	g.faces = mem.floats(s.ports * (scan + 1) * s.n)
	return g
}

// reserve makes room for a number of steps.
func (g *grid) reserve(s *stateSpace, steps int, mem *room) {
	g.m = steps
	if len(g.emf) < steps+1 {
		g.emf, g.crest, g.port, g.side = mem.floats(steps+1), mem.floats(steps+1), make([]int8, steps+1), make([]int8, steps+1)
	}
	for len(g.powers) == 0 || 1<<len(g.powers) <= steps {
		g.powers = append(g.powers, mem.floats(s.n*s.n))
	}
}

// lay works the grid out for steps of h seconds. Slopes are the resistances
// that stand for the diode's drop at each port. It says whether the network
// allows it.
func (g *grid) lay(s *stateSpace, h, rs float64, slopes [2]float64) bool {
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
		if !g.layOn(s, p, rs, slopes[p]) {
			return false
		}
	}
	return true
}

// layFaces follows a port's row through steps without current.
func (g *grid) layFaces(s *stateSpace, p int) {
	n := g.n
	rows := g.faces[p*(g.scan+1)*n : (p+1)*(g.scan+1)*n]
	copy(rows, s.cx[p*n:p*n+n])
	for k := range g.scan {
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
	o.offUp = dot(c, g.off.rise[p*n:p*n+n])
	return o.straight.set(c, o, 0) && o.curved.set(c, o, 1)
}

// set weighs s by the response, with the bend's share of the parabola.
func (a *ahead) set(c []float64, o *onStep, bend float64) bool {
	n := len(c)
	last := a.rows[n*(n+2):]
	clear(last)
	for i, v := range o.bend {
		row := a.rows[i*(n+2) : (i+1)*(n+2)]
		copy(row, o.phi[i*n:i*n+n])
		row[n], row[n+1] = o.fall[i]+2*bend*v, -bend*v
		a.rise[i] = o.rise[i] - bend*v
		for j, w := range row {
			last[j] += c[i] * w
		}
	}
	a.scale = 1 / (1 - dot(c, a.rise))
	for j := range last {
		last[j] *= a.scale
	}
	a.inverse = o.r * a.scale
	a.z = a.inverse - o.path
	return a.z > 0 && !math.IsInf(a.inverse, 0) && !math.IsNaN(a.inverse)
}

// advance takes the states x and the last two s into dst, but for the s at the
// end, and gives what the port faces so far.
func (a *ahead) advance(dst, x []float64, s, before float64) float64 {
	if len(x) == 4 {
		return advance4((*[4]float64)(dst), (*[30]float64)(a.rows), (*[4]float64)(x), s, before)
	}
	if len(x) == 6 {
		return advance6((*[6]float64)(dst), (*[56]float64)(a.rows), (*[6]float64)(x), s, before)
	}
	n := len(x)
	rows := a.rows
	for i := range dst[:n] {
		row := rows[i*(n+2) : (i+1)*(n+2)]
		dst[i] = dot(row[:n], x) + (row[n]*s + row[n+1]*before)
	}
	row := rows[n*(n+2):]
	return dot(row[:n], x) + (row[n]*s + row[n+1]*before)
}

func advance6(dst *[6]float64, m *[56]float64, x *[6]float64, s, t float64) float64 {
	a, b, c, d, e, f := x[0], x[1], x[2], x[3], x[4], x[5]
	for i := range dst {
		r := (*[8]float64)(m[i*8 : i*8+8])
		dst[i] = (r[0]*a + r[1]*b) + (r[2]*c + r[3]*d) + (r[4]*e + r[5]*f) + (r[6]*s + r[7]*t)
	}
	return (m[48]*a + m[49]*b) + (m[50]*c + m[51]*d) + (m[52]*e + m[53]*f) + (m[54]*s + m[55]*t)
}

func advance4(dst *[4]float64, m *[30]float64, x *[4]float64, s, t float64) float64 {
	a, b, c, d := x[0], x[1], x[2], x[3]
	dst[0] = (m[0]*a + m[1]*b) + (m[2]*c + m[3]*d) + (m[4]*s + m[5]*t)
	dst[1] = (m[6]*a + m[7]*b) + (m[8]*c + m[9]*d) + (m[10]*s + m[11]*t)
	dst[2] = (m[12]*a + m[13]*b) + (m[14]*c + m[15]*d) + (m[16]*s + m[17]*t)
	dst[3] = (m[18]*a + m[19]*b) + (m[20]*c + m[21]*d) + (m[22]*s + m[23]*t)
	return (m[24]*a + m[25]*b) + (m[26]*c + m[27]*d) + (m[28]*s + m[29]*t)
}

// drive sets the winding's volts at each point, the first at t seconds, the
// others every h after.
func (g *grid) drive(n *network, t, h float64) {
	g.h = h
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
	top := -1 // the last point that stands above both beside it
	for k := range g.m + 1 {
		if k > 1 && g.emf[k-1] >= max(g.emf[k-2], g.emf[k]) {
			top = k - 1
		}
		from := max(0, k-g.scan+1)
		g.crest[k] = max(g.emf[from], g.emf[k])
		if top >= from {
			g.crest[k] = max(g.crest[k], g.emf[top])
		}
	}
}

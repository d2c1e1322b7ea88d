package supply

// stateSpace is a network as linear equations, the diodes' currents i and what
// the loads draw beyond the conductances counted in it, u, being inputs:
//
//	x' = a·x + b·i + e·u      x: volts on each unit's capacitance, then choke currents
//	v  = vx·x + vi·i + vu·u   v: volts at each vertex
//	f  = cx·x + d·i + cu·u    f: volts that each path faces
//
// A path's current feeds the root; in a doubler each feeds a unit of the first
// stack and faces that unit alone, so there are two ports instead of one.
type stateSpace struct {
	net             *network
	n, ports        int // n is padded; states from real on are always zero
	real            int
	chokes          []int // vertices fed through one; their states follow the units'
	loaded          []int // vertices with loads, an input each
	place           []int // vertex → index in loaded, −1 where none
	esr             []float64
	a, e            []float64 // n×n; one row of n for each input
	b               []float64 // one row of n for each port
	vx, vi, vu      []float64 // rows by vertex
	cx, d, cu       []float64 // rows by port
	rest            []float64 // −a⁻¹·e: where an ampere at an input brings the states, a row of n for each
	charged         []float64 // −a⁻¹·b: the same for an ampere into a port
	nodal, nodalInv []float64
	feed            []float64 // injection at each vertex by each state
	room            []float64
}

// stepShare bounds a unit's own time constant esr·C from below as a share of
// a step: faster than that nobody can see, and zero would be no equation.
const stepShare = 1e-3

// newStateSpace makes room for a network whose steps are h seconds.
func newStateSpace(n *network, h float64, mem *room) *stateSpace {
	s := &stateSpace{net: n, ports: 1, place: make([]int, len(n.vertices))}
	for k, v := range n.vertices {
		if v.l > 0 {
			s.chokes = append(s.chokes, k)
		}
		s.place[k] = -1
	}
	for _, l := range n.loads {
		if s.place[l.vertex] < 0 {
			s.place[l.vertex] = len(s.loaded)
			s.loaded = append(s.loaded, l.vertex)
		}
	}
	size := len(n.vertices)
	if n.doubler {
		s.ports = 2
		size++ // the first stack's midpoint
	}
	s.real = len(n.units) + len(s.chokes)
	s.n = padded(s.real)
	for _, u := range n.units {
		s.esr = append(s.esr, max(u.esr, stepShare*h/u.c))
	}
	in := len(s.loaded)
	s.a, s.e, s.b = mem.floats(s.n*s.n), mem.floats(in*s.n), mem.floats(s.ports*s.n)
	s.vx, s.vi, s.vu = mem.floats(size*s.n), mem.floats(size*s.ports), mem.floats(size*in)
	s.cx, s.d, s.cu = mem.floats(s.ports*s.n), mem.floats(s.ports*s.ports), mem.floats(s.ports*in)
	s.rest, s.charged = mem.floats(in*s.n), mem.floats(s.ports*s.n)
	s.nodal, s.nodalInv = mem.floats(size*size), mem.floats(size*size)
	s.feed = mem.floats(size * s.n)
	s.room = mem.floats(2 * s.n * (s.n + 1))
	return s
}

func (s *stateSpace) size() int { return len(s.net.vertices) + s.ports - 1 }

// form works the equations out for one position of the switch, with loadG
// siemens counted in at each loaded vertex. It says whether they have a solution.
func (s *stateSpace) form(loadG []float64, closed bool) bool {
	contact := 0.0
	if sw := s.net.sw; sw != nil {
		contact = sw.RoffOhm
		if closed {
			contact = sw.RonOhm
		}
	}
	s.stamp(loadG, contact)
	if !invert(s.nodalInv, s.nodal, s.size()) {
		return false
	}
	s.solveVertices()
	s.faces()
	s.slopes(contact)
	return s.findRest()
}

// stamp fills the nodal matrix and what each state injects.
func (s *stateSpace) stamp(loadG []float64, contact float64) {
	n, size := s.net, s.size()
	clear(s.nodal)
	clear(s.feed)
	add := func(k, to int, g float64) {
		s.nodal[k*size+k] += g
		if to >= 0 {
			s.nodal[to*size+to] += g
			s.nodal[k*size+to] -= g
			s.nodal[to*size+k] -= g
		}
	}
	choke := len(n.units)
	for k, v := range n.vertices {
		add(k, -1, v.shunt)
		if at := s.place[k]; at >= 0 {
			add(k, -1, loadG[at])
		}
		if v.parent < 0 {
			continue
		}
		if v.l > 0 {
			s.feed[k*s.n+choke]++
			s.feed[v.parent*s.n+choke]--
			choke++
			continue
		}
		r := v.r
		if v.switched {
			r += contact
		}
		add(k, v.parent, 1/max(r, leastBranchOhm))
	}
	for k, st := range n.stacks {
		if n.doubler && k == 0 {
			mid := size - 1
			s.stampUnits(st.vertex, mid, st.first, 1, add)
			s.stampUnits(mid, -1, st.first+1, 1, add)
			continue
		}
		s.stampUnits(st.vertex, -1, st.first, st.count, add)
	}
}

// terminal gives a unit's resistance seen at its terminals, and the part of its
// inner voltage seen there with no current.
func (s *stateSpace) terminal(u int) (r, share float64) {
	g := 1 / s.esr[u]
	r = 1 / (g + s.net.units[u].leak)
	return r, g * r
}

// stampUnits puts a chain of units between two vertices; −1 is ground.
func (s *stateSpace) stampUnits(top, low, first, count int, add func(k, to int, g float64)) {
	sum := 0.0
	for u := first; u < first+count; u++ {
		r, _ := s.terminal(u)
		sum += r
	}
	add(top, low, 1/sum)
	for u := first; u < first+count; u++ {
		_, share := s.terminal(u)
		s.feed[top*s.n+u] += share / sum
		if low >= 0 {
			s.feed[low*s.n+u] -= share / sum
		}
	}
}

// solveVertices expresses every vertex's voltage by states and inputs.
func (s *stateSpace) solveVertices() {
	size, in := s.size(), len(s.loaded)
	for k := range size {
		inv := s.nodalInv[k*size : k*size+size]
		row := s.vx[k*s.n : k*s.n+s.n]
		clear(row)
		for j, g := range inv {
			for i := range row {
				row[i] += g * s.feed[j*s.n+i]
			}
		}
		if s.ports == 2 {
			s.vi[2*k] = inv[0] - inv[size-1]
			s.vi[2*k+1] = inv[size-1]
		} else {
			s.vi[k] = inv[0]
		}
		for j, at := range s.loaded {
			s.vu[k*in+j] = -inv[at]
		}
	}
}

// faces expresses what each path faces: the root, or its unit of a doubler.
func (s *stateSpace) faces() {
	in := len(s.loaded)
	if s.ports == 1 {
		copy(s.cx, s.vx[:s.n])
		s.d[0] = s.vi[0]
		copy(s.cu, s.vu[:in])
		return
	}
	mid := s.size() - 1
	for i := range s.n {
		s.cx[s.n+i] = s.vx[mid*s.n+i]
		s.cx[i] = s.vx[i] - s.vx[mid*s.n+i]
	}
	for i := range in {
		s.cu[in+i] = s.vu[mid*in+i]
		s.cu[i] = s.vu[i] - s.vu[mid*in+i]
	}
	for i := range 2 {
		s.d[2+i] = s.vi[2*mid+i]
		s.d[i] = s.vi[i] - s.vi[2*mid+i]
	}
}

// slopes expresses every state's rate of change.
func (s *stateSpace) slopes(contact float64) {
	for k, st := range s.net.stacks {
		if s.net.doubler && k == 0 {
			mid := s.size() - 1
			s.slopeUnits(st.vertex, mid, st.first, 1)
			s.slopeUnits(mid, -1, st.first+1, 1)
			continue
		}
		s.slopeUnits(st.vertex, -1, st.first, st.count)
	}
	for i := s.real; i < s.n; i++ {
		s.a[i*s.n+i] = -1
	}
	for i, k := range s.chokes {
		v := s.net.vertices[k]
		r := v.r
		if v.switched {
			r += contact
		}
		at := len(s.net.units) + i
		s.combine(at, 1/v.l, v.parent, k)
		s.a[at*s.n+at] -= r / v.l
	}
}

// combine sets state at's slope to scale·(v[top] − v[low]); low −1 is ground.
func (s *stateSpace) combine(at int, scale float64, top, low int) {
	pick := func(rows []float64, width, i int) float64 {
		v := rows[top*width+i]
		if low >= 0 {
			v -= rows[low*width+i]
		}
		return scale * v
	}
	for i := range s.n {
		s.a[at*s.n+i] = pick(s.vx, s.n, i)
	}
	for p := range s.ports {
		s.b[p*s.n+at] = pick(s.vi, s.ports, p)
	}
	for j := range s.loaded {
		s.e[j*s.n+at] = pick(s.vu, len(s.loaded), j)
	}
}

// slopeUnits is combine for a chain of units: the chain's current, divided
// at each unit between its leak and its capacitance.
func (s *stateSpace) slopeUnits(top, low, first, count int) {
	sum := 0.0
	for u := first; u < first+count; u++ {
		r, _ := s.terminal(u)
		sum += r
	}
	for u := first; u < first+count; u++ {
		_, share := s.terminal(u)
		c := s.net.units[u].c
		s.combine(u, share/(sum*c), top, low) // of the chain's current, share goes to the capacitance
		for w := first; w < first+count; w++ {
			_, other := s.terminal(w)
			s.a[u*s.n+w] -= share * other / (sum * c)
		}
		s.a[u*s.n+u] -= share * s.net.units[u].leak / c
	}
}

// findRest finds where the states come to rest under one ampere at each input
// and at each port.
func (s *stateSpace) findRest() bool {
	n := s.n
	m, inv := s.room[:n*n], s.room[n*n:2*n*n]
	copy(m, s.a)
	if !invert(inv, m, n) {
		return false
	}
	for j := range s.loaded {
		apply(s.rest[j*n:j*n+n], inv, s.e[j*n:j*n+n])
		negate(s.rest[j*n : j*n+n])
	}
	for p := range s.ports {
		apply(s.charged[p*n:p*n+n], inv, s.b[p*n:p*n+n])
		negate(s.charged[p*n : p*n+n])
	}
	return true
}

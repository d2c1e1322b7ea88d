package supply

import "math"

// The step is the two-stage, second-order, L-stable diagonally implicit
// Runge–Kutta method with γ = 1 − 1/√2 (Alexander, SIAM J. Numer. Anal. 14,
// 1977, 1006–1021). L-stable, so that a point without a capacitor or a fresh
// switch contact cannot ring in the arithmetic; stiffly accurate, so that the
// second stage is the answer and algebraic points need nothing of their own.
const gamma = 1 - 1/math.Sqrt2

// coefficients are what a network's elements become for one step length and
// one position of the switch.
type coefficients struct {
	dt      float64
	theta   float64   // share of dt that a stage reaches: γ, or 1 for a step of implicit Euler
	unitG   []float64 // S: of C with ESR within a stage
	unitR   []float64 // Ω: of the unit with its leak
	share   []float64 // part of a unit's starting voltage seen at its terminals with no current
	stackG  []float64 // S
	branchG []float64 // S: of a vertex's feed
	branchK []float64 // part of a choke's starting current that is left with no voltage across it
	rise    []float64 // V/A: θ·dt/C
	between []float64 // V/A: (1−θ)·dt/C, from one stage's start to the next
	shunt   []float64 // S: all at a vertex but loads and branches
	rs      float64   // Ω per path, the switch included where it is in the winding
}

func newCoefficients(n *network) *coefficients {
	u, s, v := len(n.units), len(n.stacks), len(n.vertices)
	return &coefficients{
		unitG: make([]float64, u), unitR: make([]float64, u), share: make([]float64, u),
		rise: make([]float64, u), between: make([]float64, u),
		stackG:  make([]float64, s),
		branchG: make([]float64, v), branchK: make([]float64, v), shunt: make([]float64, v),
	}
}

// set works the coefficients out for steps of dt seconds; theta is gamma or 1.
func (p *coefficients) set(n *network, dt, theta float64, closed bool) {
	p.dt, p.theta = dt, theta
	contact := 0.0
	if n.sw != nil {
		contact = n.sw.RoffOhm
		if closed {
			contact = n.sw.RonOhm
		}
	}
	p.rs = n.rs
	if n.sw != nil && n.sw.Position == "in_winding" {
		p.rs += contact
	}
	for k, u := range n.units {
		p.rise[k] = theta * dt / u.c
		p.between[k] = (1 - theta) * dt / u.c
		p.unitG[k] = 1 / (u.esr + p.rise[k])
		p.unitR[k] = 1 / (p.unitG[k] + u.leak)
		p.share[k] = p.unitG[k] * p.unitR[k]
	}
	for k, v := range n.vertices {
		p.shunt[k] = v.shunt
		r := v.r
		if v.switched {
			r += contact
		}
		if v.l > 0 {
			p.branchK[k] = 1 / (1 + theta*dt*r/v.l)
			p.branchG[k] = theta * dt / v.l * p.branchK[k]
		} else {
			p.branchG[k] = 1 / math.Max(r, leastBranchOhm)
		}
	}
	for k, s := range n.stacks {
		r := 0.0
		for _, ohm := range p.unitR[s.first : s.first+s.count] {
			r += ohm
		}
		p.stackG[k] = 1 / r
		if k >= n.plainStacks() {
			p.shunt[s.vertex] += p.stackG[k]
		}
	}
}

// machine is the state of one network at one instant and the working room of
// a step; nothing is allocated once it is made.
type machine struct {
	net   *network
	inner []float64 // V: on each unit's capacitance, behind its ESR
	choke []float64 // A: in each vertex's feed

	// What the last stage found.
	v        []float64 // V at each vertex
	unitV    []float64 // V at each unit's terminals
	unitA    []float64 // A into each unit's capacitance, its leak not counted
	path     [2]float64
	loads    loadState
	emission []float64

	fromInner, fromChoke []float64 // where the running stage starts
	startChoke           []float64 // where the step started
	inject, keep, pivot  []float64 // A; part of a vertex's injection that reaches its feeder; Ω
	source               []float64 // V: a stack's with no current
	rootG                float64
	factored             *coefficients
}

func newMachine(n *network) *machine {
	u, v := len(n.units), len(n.vertices)
	return &machine{
		net: n, inner: make([]float64, u), choke: make([]float64, v),
		v: make([]float64, v), unitV: make([]float64, u), unitA: make([]float64, u),
		loads: newLoadState(n), emission: make([]float64, len(n.emissions)),
		fromInner: make([]float64, u), fromChoke: make([]float64, v), startChoke: make([]float64, v),
		inject: make([]float64, v), keep: make([]float64, v), pivot: make([]float64, v),
		source: make([]float64, len(n.stacks)),
	}
}

// step moves the machine from t to t + p.dt. Early and late are the winding's
// volts at t + γ·dt and t + dt. With θ = 1 it is one stage of implicit Euler.
//
// It gives false, and leaves the states as they were, where the two stages
// have charged a capacitor beyond what drove it: the caller then takes the
// interval in smaller pieces, or by Euler, which never does.
func (m *machine) step(p *coefficients, t, early, late float64) bool {
	copy(m.fromInner, m.inner)
	copy(m.fromChoke, m.choke)
	copy(m.startChoke, m.choke)
	var first [2]float64
	if p.theta < 1 {
		m.stage(p, t+gamma*p.dt, early)
		first = m.path
		for k, a := range m.unitA {
			m.fromInner[k] += p.between[k] * a
		}
		for k := range m.choke {
			if m.net.vertices[k].l > 0 {
				m.fromChoke[k] += (1 - gamma) / gamma * (m.choke[k] - m.fromChoke[k])
			}
		}
	}
	m.stage(p, t+p.dt, late)
	if m.overcharged(first, early, late) {
		copy(m.choke, m.startChoke)
		return false
	}
	for k, a := range m.unitA {
		m.inner[k] = m.fromInner[k] + p.rise[k]*a
	}
	return true
}

// overcharged says whether a path that conducted in the first stage faces, at
// the second, more than either stage had to drive it with. The first stage's
// slope then went too far, and a diode cannot take it back. Ahead of a choke
// standing above the winding is nothing unusual, and nothing there keeps it.
func (m *machine) overcharged(first [2]float64, early, late float64) bool {
	if m.net.chokeInput {
		return false
	}
	facing := [2]float64{m.v[0], m.v[0]}
	if m.net.doubler {
		top := m.net.stacks[0].first
		facing = [2]float64{m.unitV[top], m.unitV[top+1]}
	}
	return first[0] > 0 && m.path[0] <= 0 && facing[0] > math.Max(early, late) ||
		first[1] > 0 && m.path[1] <= 0 && facing[1] > math.Max(-early, -late)
}

// settle finds what the algebraic quantities are at t with the states as they
// stand: after switch-on at a peak of the mains, or a contact that closed.
// P must be of a very short step.
func (m *machine) settle(p *coefficients, t float64) {
	copy(m.fromInner, m.inner)
	copy(m.fromChoke, m.choke)
	m.stage(p, t, m.net.emf(t))
	copy(m.choke, m.fromChoke)
}

// stageLimit bounds how often a stage is solved again because a load moved
// far from where it was linearised: a cube falls by a third a round, and has
// five decades to fall where a node within the bounds collapses.
const stageLimit = 60

// stage solves the network at time t with the winding at e volts.
func (m *machine) stage(p *coefficients, t, e float64) {
	for k := range m.emission {
		m.emission[k] = m.net.emissions[k].at(t)
	}
	stale := m.loads.follow(m.net, m.v, m.emission)
	m.gather(p)
	for range stageLimit {
		if stale || m.factored != p {
			m.factor(p)
		}
		m.eliminate(p)
		m.rectify(p, e)
		m.substitute(p)
		if stale = m.loads.strayed(m.net, m.v); !stale {
			break
		}
	}
	m.recover(p)
}

// factor works out what depends on conductances alone.
func (m *machine) factor(p *coefficients) {
	m.factored = p
	for k := range m.pivot {
		m.pivot[k] = p.shunt[k] + m.loads.g[k]
	}
	for k := len(m.pivot) - 1; k > 0; k-- {
		g := p.branchG[k]
		m.pivot[k] = 1 / (m.pivot[k] + g)
		m.keep[k] = g * m.pivot[k]
		m.pivot[m.net.vertices[k].parent] += g * (1 - m.keep[k])
	}
	m.rootG = m.pivot[0]
}

// gather finds each stack's open-circuit voltage at the start of the stage.
func (m *machine) gather(p *coefficients) {
	for k := range m.net.stacks {
		s := &m.net.stacks[k]
		sum := 0.0
		for u := s.first; u < s.first+s.count; u++ {
			sum += p.share[u] * m.fromInner[u]
		}
		m.source[k] = sum
	}
}

// eliminate carries the injected currents from the leaves to the root.
func (m *machine) eliminate(p *coefficients) {
	for k, a := range m.loads.a {
		m.inject[k] = -a
	}
	for k := m.net.plainStacks(); k < len(m.net.stacks); k++ {
		m.inject[m.net.stacks[k].vertex] += p.stackG[k] * m.source[k]
	}
	for k := len(m.inject) - 1; k > 0; k-- {
		a := p.branchK[k] * m.fromChoke[k]
		sum := m.inject[k] + a
		m.inject[k] = sum
		m.inject[m.net.vertices[k].parent] += m.keep[k]*sum - a
	}
}

// substitute carries the root's voltage out to the leaves.
func (m *machine) substitute(p *coefficients) {
	for k := 1; k < len(m.v); k++ {
		m.v[k] = m.pivot[k]*m.inject[k] + m.keep[k]*m.v[m.net.vertices[k].parent]
	}
}

// recover finds what each unit and choke does within the stage.
func (m *machine) recover(p *coefficients) {
	for k := m.net.plainStacks(); k < len(m.net.stacks); k++ {
		s := &m.net.stacks[k]
		through := p.stackG[k] * (m.v[s.vertex] - m.source[k])
		for u := s.first; u < s.first+s.count; u++ {
			m.unitV[u] = through*p.unitR[u] + p.share[u]*m.fromInner[u]
		}
	}
	for u := range m.unitA {
		m.unitA[u] = p.unitG[u] * (m.unitV[u] - m.fromInner[u])
	}
	for k := 1; k < len(m.v); k++ {
		if m.net.vertices[k].l > 0 {
			drop := m.v[m.net.vertices[k].parent] - m.v[k]
			m.choke[k] = p.branchK[k]*m.fromChoke[k] + p.branchG[k]*drop
		}
	}
}

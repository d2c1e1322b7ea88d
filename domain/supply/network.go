package supply

import "math"

// network is a Circuit compiled for stepping: SI units, arrays, a tree of
// vertices with every parent ahead of its children. It does not change during
// a run, so any number of machines may step the same network.
type network struct {
	doubler    bool    // the first stack is solved together with the diodes
	oneWinding bool    // both paths draw on the same winding resistance
	chokeInput bool    // the rectifier feeds a choke
	omega      float64 // rad/s
	phase      float64 // rad, with half a turn added where the supply is negative
	peak       float64 // V, of the unloaded winding at its mains
	rs         float64 // Ω per path
	paths      int     // conducting paths: 1 or 2; the second is driven by −e
	diode      diodeLaw
	heater     int // index into emissions for the rectifier; −1 is always warm

	sw        *Switch // nil where there is none
	vertices  []vertex
	stacks    []stack
	units     []unit
	loads     []load
	emissions []emission
}

// vertex is a node, or the rectifier's output where no capacitor stands.
type vertex struct {
	node     int // index into Circuit.Nodes; −1 is the raw output
	parent   int // index into vertices; −1 is the root
	r, l     float64
	switched bool    // the standby switch is in this vertex's feed
	shunt    float64 // S, to ground: bleeder, raw leak
}

// stack is one capacitor or a series stack at a vertex.
type stack struct {
	vertex, first, count int // units first … first+count−1, from the top
	name                 string
}

// unit is one capacitor: (c in series with esr) beside leak.
type unit struct {
	c, esr, leak float64 // F, Ω, S
}

// load draws i0·w·(v/v0)^alpha.
type load struct {
	vertex        int
	i0, v0, alpha float64
	heater        int // −1 is always warm
}

// defaultRawLeakOhm stands at a rectifier output without a capacitor where
// the circuit states none; something always does, if only wiring and a meter.
const defaultRawLeakOhm = 1e6

// leastBranchOhm keeps a switch of 0 Ω from being an infinite conductance;
// it is below any contact.
const leastBranchOhm = 1e-4

// strayS is the conductance to ground of a vertex that has no capacitor, so
// that one with nothing else on it still has a voltage.
const strayS = 1e-12

// compile turns a checked circuit into a network.
func compile(c *Circuit) *network {
	n := &network{
		doubler: c.Rectifier.Topology == "doubler",
		omega:   2 * math.Pi * c.Mains.FreqHz,
		phase:   c.Mains.PhaseDeg * math.Pi / 180,
		peak:    c.Rectifier.SecondaryVRM * math.Sqrt2 * c.Mains.Factor,
		rs:      c.Rectifier.RsOhm,
		paths:   2,
		heater:  -1,
		sw:      c.Standby,
	}
	if c.Rectifier.Polarity == "negative" {
		n.phase += math.Pi
	}
	perPath := 1
	switch c.Rectifier.Topology {
	case "half_wave":
		n.paths = 1
	case "bridge":
		perPath = 2
		n.oneWinding = true
	}
	d := &c.Rectifier.Diode
	n.diode = newDiodeLaw(d, perPath)
	if d.WarmUp != nil {
		n.heater = n.emission(newEmission(d.WarmUp))
	}
	n.chokeInput = c.Nodes[0].Series != nil && c.Nodes[0].Series.LH != nil
	n.addVertices(c)
	return n
}

// emission keeps one of each warm-up and gives its index.
func (n *network) emission(e emission) int {
	for i, have := range n.emissions {
		if have == e {
			return i
		}
	}
	n.emissions = append(n.emissions, e)
	return len(n.emissions) - 1
}

// addVertices lays the tree out, parents first.
func (n *network) addVertices(c *Circuit) {
	parents := feeders(c.Nodes)
	place := make([]int, len(c.Nodes)) // node index → vertex index
	if hasRaw(c) {
		leak := defaultRawLeakOhm
		if c.RawLeakOhm != nil {
			leak = *c.RawLeakOhm
		}
		n.vertices = append(n.vertices, vertex{node: -1, parent: -1, shunt: 1 / leak})
	}
	for _, i := range feedOrder(parents) {
		v := vertex{node: i, parent: -1}
		switch {
		case i > 0:
			v.parent = place[parents[i]]
			v.switched = parents[i] == 0 && c.switchAt("after_reservoir")
		case hasRaw(c):
			v.parent = 0
			v.switched = c.switchAt("after_rectifier")
		}
		if s := c.Nodes[i].Series; s != nil {
			v.r, v.l = orZero(s.ROhm)+orZero(s.DCROhm), orZero(s.LH)
		}
		place[i] = len(n.vertices)
		n.vertices = append(n.vertices, v)
		n.addShunts(&c.Nodes[i], place[i])
	}
}

// addShunts puts what stands from a node to ground at vertex v.
func (n *network) addShunts(node *Node, v int) {
	if node.BleedOhm != nil {
		n.vertices[v].shunt += 1 / *node.BleedOhm
	}
	if len(node.Caps) == 0 && len(node.Beside) == 0 {
		n.vertices[v].shunt += strayS
	}
	n.addStack(node.Caps, v, node.Name)
	for k, caps := range node.Beside {
		n.addStack(caps, v, besideName(node.Name, k))
	}
	if node.Load != nil {
		n.addLoad(node.Load, v)
	}
	for k := range node.Further {
		n.addLoad(&node.Further[k], v)
	}
}

func (n *network) addStack(caps []Unit, v int, name string) {
	if len(caps) == 0 {
		return
	}
	n.stacks = append(n.stacks, stack{vertex: v, first: len(n.units), count: len(caps), name: name})
	for _, u := range caps {
		n.units = append(n.units, unit{c: u.CUF * 1e-6, esr: u.ESROhm, leak: 1 / u.LeakOhm})
	}
}

func (n *network) addLoad(l *Load, v int) {
	if l.I0MA == 0 {
		return
	}
	heater := -1
	if l.WarmUp != nil {
		heater = n.emission(newEmission(l.WarmUp))
	}
	n.loads = append(n.loads, load{vertex: v, i0: l.I0MA / 1000, v0: l.V0, alpha: l.Alpha, heater: heater})
}

// plainStacks gives the index of the first stack that is a shunt like any
// other: all but a doubler's own.
func (n *network) plainStacks() int {
	if n.doubler {
		return 1
	}
	return 0
}

// emf gives the volts that drive the first path at t seconds.
func (n *network) emf(t float64) float64 {
	return n.peak * math.Sin(n.omega*t+n.phase)
}

// fastestRing gives the highest angular frequency at which a choke can ring
// with the capacitors beside it, rad/s; 0 where there is no choke.
func (n *network) fastestRing() float64 {
	c := make([]float64, len(n.vertices))
	for _, s := range n.stacks {
		elastance := 0.0
		for _, u := range n.units[s.first : s.first+s.count] {
			elastance += 1 / u.c
		}
		c[s.vertex] += 1 / elastance
	}
	fastest := 0.0
	for k, v := range n.vertices {
		if v.l == 0 || c[k] == 0 {
			continue
		}
		elastance := 1 / c[k]
		if c[v.parent] > 0 {
			elastance += 1 / c[v.parent]
		}
		fastest = math.Max(fastest, math.Sqrt(elastance/v.l))
	}
	return fastest
}

// hasRaw says whether the rectifier feeds a point without a capacitor.
func hasRaw(c *Circuit) bool {
	return c.Nodes[0].Series != nil || c.switchAt("after_rectifier")
}

// switchAt says whether the standby switch is there.
func (c *Circuit) switchAt(position string) bool {
	return c.Standby != nil && c.Standby.Position == position
}

// feeders gives for each node the index of the one that feeds it: −1 for the
// first, and for one whose From names no node.
func feeders(nodes []Node) []int {
	parents := make([]int, len(nodes))
	for i := range nodes {
		parents[i] = i - 1
		if nodes[i].From == "" || i == 0 {
			continue
		}
		parents[i] = -1
		for k := range nodes {
			if nodes[k].Name == nodes[i].From {
				parents[i] = k
				break
			}
		}
	}
	return parents
}

// feedOrder gives the nodes in an order with every feeder ahead of what it feeds.
func feedOrder(parents []int) []int {
	order := make([]int, 1, len(parents))
	for at := 0; at < len(order); at++ {
		for i := 1; i < len(parents); i++ {
			if parents[i] == order[at] {
				order = append(order, i)
			}
		}
	}
	return order
}

// orZero gives what p points to, 0 where it points nowhere.
func orZero(p *float64) float64 {
	if p == nil {
		return 0
	}
	return *p
}

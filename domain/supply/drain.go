package supply

import (
	"fmt"
	"math"
)

// Drain is a supply with the mains off: its capacitors, and the resistances
// that are there for certain. Those are bleeders, balancing resistors, droppers
// and chokes (by their resistance alone: what they ring is over in a tenth of a
// second). No leakage counts, no tube, and no rectifier, which blocks.
type Drain struct {
	nodes    []string
	farads   []float64 // at each node
	bleeders []Bleeder
	joins    []join
}

// Bleeder is a resistance from a node to chassis.
type Bleeder struct {
	Node int // in the model's order
	Ohm  float64
	Name string // "the bleeder at A"
}

// join is a dropper or a choke between two nodes.
type join struct {
	a, b int
	ohm  float64
}

// joinedOhm stands where two nodes are joined by less than this, Ω.
const joinedOhm = 1e-3

// Drain gives the network that discharges the supply. Open is the standby's
// position. Behind the reservoir an open one parts what hangs on the reservoir
// from it, and its branches from each other: which side of the switch joins
// them is not known. Ahead of the reservoir it parts nothing.
func (m *Model) Drain(open bool) *Drain {
	d := &Drain{farads: make([]float64, len(m.Nodes))}
	parts := open && m.standby != nil && m.standby.Position == "after_reservoir"
	for i := range m.Nodes {
		n := &m.Nodes[i]
		d.nodes = append(d.nodes, n.Name)
		for _, s := range n.stacks {
			d.farads[i] += seriesUF(s) * 1e-6
		}
		if n.bleeder != nil {
			d.bleeders = append(d.bleeders, Bleeder{Node: i, Ohm: *n.bleeder, Name: "the bleeder at " + n.Name})
		}
		if n.from < 0 || parts && n.from == 0 {
			continue
		}
		ohm := 0.0
		if r := n.ohms(); r != nil {
			ohm = *r
		}
		d.joins = append(d.joins, join{a: n.from, b: i, ohm: math.Max(ohm, joinedOhm)})
	}
	d.balancing(m)
	return d
}

// balancing adds the resistors across the units of each stack, in series.
func (d *Drain) balancing(m *Model) {
	for _, p := range m.Places {
		if p.Stack < 2 || !p.Balanced || p.unit() != 0 {
			continue
		}
		for i := range m.Nodes {
			if m.Nodes[i].Name != p.Node {
				continue
			}
			ohm := 0.0
			for _, u := range m.Nodes[i].stacks[p.stackIndex()] {
				ohm += u.LeakOhm
			}
			d.bleeders = append(d.bleeders, Bleeder{Node: i, Ohm: ohm, Name: "the balancing resistors at " + p.Node})
		}
	}
}

// Bleeders gives the paths to chassis, in a fixed order.
func (d *Drain) Bleeders() []Bleeder { return append([]Bleeder(nil), d.bleeders...) }

// Farads gives the capacitance at a node, F.
func (d *Drain) Farads(node int) float64 { return d.farads[node] }

// Scaled gives the network with the capacitance at a node multiplied.
func (d *Drain) Scaled(node int, factor float64) *Drain {
	c := *d
	c.farads = append([]float64(nil), d.farads...)
	c.farads[node] *= factor
	return &c
}

// Without gives the network with bleeder k open.
func (d *Drain) Without(k int) *Drain {
	c := *d
	c.bleeders = append(append([]Bleeder(nil), d.bleeders[:k]...), d.bleeders[k+1:]...)
	return &c
}

// And gives the network with a further resistance to chassis.
func (d *Drain) And(b Bleeder) *Drain {
	c := *d
	c.bleeders = append(append([]Bleeder(nil), d.bleeders...), b)
	return &c
}

// Groups gives the nodes that hang together, each group from its first node on.
func (d *Drain) Groups() [][]int {
	group := make([]int, len(d.nodes))
	for i := range group {
		group[i] = i
	}
	for changed := true; changed; {
		changed = false
		for _, j := range d.joins {
			if low := min(group[j.a], group[j.b]); group[j.a] != low || group[j.b] != low {
				group[j.a], group[j.b], changed = low, low, true
			}
		}
	}
	var list [][]int
	at := map[int]int{}
	for i, g := range group {
		k, ok := at[g]
		if !ok {
			k = len(list)
			at[g], list = k, append(list, nil)
		}
		list[k] = append(list[k], i)
	}
	return list
}

// Through gives the bleeders by which a group of nodes discharges; none means
// that no path is proven.
func (d *Drain) Through(group []int) []Bleeder {
	var list []Bleeder
	for _, b := range d.bleeders {
		for _, i := range group {
			if b.Node == i {
				list = append(list, b)
			}
		}
	}
	return list
}

// SecondsTo gives how long each node takes to fall to v, V, with every node
// charged to v0 at first: exact, by the modes of the network. From one voltage
// everywhere no node ever rises on the way, so none comes back above v. False
// for a node without a proven path; 0 where v0 is not above v.
func (d *Drain) SecondsTo(v0, v float64) (seconds []float64, proven []bool) {
	seconds, proven = make([]float64, len(d.nodes)), make([]bool, len(d.nodes))
	for _, group := range d.Groups() {
		through := d.Through(group)
		if len(through) == 0 {
			continue
		}
		modes := d.modes(group, through)
		for k, i := range group {
			proven[i] = true
			if v0 > v {
				seconds[i] = modes.last(k, v/v0)
			}
		}
	}
	return seconds, proven
}

// modes gives the decay of a group: eigenvectors and rates of
// C^-½·G·C^-½, which is symmetric.
func (d *Drain) modes(group []int, through []Bleeder) decay {
	n := len(group)
	index := map[int]int{}
	for k, i := range group {
		index[i] = k
	}
	g := make([][]float64, n)
	for k := range g {
		g[k] = make([]float64, n)
	}
	for _, b := range through {
		k := index[b.Node]
		g[k][k] += 1 / b.Ohm
	}
	for _, j := range d.joins {
		a, ok := index[j.a]
		if !ok {
			continue
		}
		b := index[j.b]
		s := 1 / j.ohm
		g[a][a] += s
		g[b][b] += s
		g[a][b] -= s
		g[b][a] -= s
	}
	root := make([]float64, n)
	for k, i := range group {
		root[k] = math.Sqrt(d.farads[i])
	}
	for a := range g {
		for b := range g {
			g[a][b] /= root[a] * root[b]
		}
	}
	rates, vectors := eigen(g)
	out := decay{rates: rates, share: make([][]float64, n)}
	for k := range n {
		out.share[k] = make([]float64, n)
		for e := range n {
			for j := range n {
				out.share[k][e] += vectors[k][e] / root[k] * vectors[j][e] * root[j]
			}
		}
	}
	return out
}

// decay is how the nodes of a group fall from 1 V: node k as
// Σ share[k][e]·exp(−rates[e]·t).
type decay struct {
	rates []float64
	share [][]float64
}

func (d *decay) at(k int, t float64) float64 {
	v := 0.0
	for e, r := range d.rates {
		v += d.share[k][e] * math.Exp(-r*t)
	}
	return v
}

// last is when node k falls to the share v of where it began: it never rises,
// so by halving.
func (d *decay) last(k int, v float64) float64 {
	slowest := math.Inf(1)
	for _, r := range d.rates {
		slowest = math.Min(slowest, r)
	}
	low, high := 0.0, 1/slowest
	for range 200 {
		if d.at(k, high) <= v {
			break
		}
		low, high = high, 2*high
	}
	for range 100 {
		if mid := (low + high) / 2; d.at(k, mid) > v {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}

// eigen gives the eigenvalues of a symmetric matrix and its eigenvectors as
// columns, by Jacobi's rotations: sixteen nodes at most, and exact to rounding.
// m is used up.
func eigen(m [][]float64) (values []float64, vectors [][]float64) {
	n := len(m)
	vectors = make([][]float64, n)
	for i := range vectors {
		vectors[i] = make([]float64, n)
		vectors[i][i] = 1
	}
	for range 100 {
		off := 0.0
		for p := range n {
			for q := p + 1; q < n; q++ {
				// Against its own diagonals: rates of one supply span nine decades.
				off = math.Max(off, math.Abs(m[p][q])/math.Sqrt(math.Abs(m[p][p]*m[q][q])))
				rotate(m, vectors, p, q)
			}
		}
		if off < 1e-15 {
			break
		}
	}
	for i := range m {
		values = append(values, m[i][i])
	}
	return values, vectors
}

// rotate makes m[p][q] zero.
func rotate(m, vectors [][]float64, p, q int) {
	if m[p][q] == 0 {
		return
	}
	theta := (m[q][q] - m[p][p]) / (2 * m[p][q])
	t := math.Copysign(1, theta) / (math.Abs(theta) + math.Sqrt(theta*theta+1))
	c := 1 / math.Sqrt(t*t+1)
	s := t * c
	for k := range m {
		m[k][p], m[k][q] = c*m[k][p]-s*m[k][q], s*m[k][p]+c*m[k][q]
	}
	for k := range m {
		m[p][k], m[q][k] = c*m[p][k]-s*m[q][k], s*m[p][k]+c*m[q][k]
	}
	for k := range vectors {
		v := vectors[k]
		v[p], v[q] = c*v[p]-s*v[q], s*v[p]+c*v[q]
	}
}

// WithBleeder gives the model with a resistance from a node to chassis beside
// what is there. m is left as it was.
func (m *Model) WithBleeder(node int, ohm float64) *Model {
	c := m.clone()
	if b := c.Nodes[node].bleeder; b != nil {
		ohm = 1 / (1/ohm + 1 / *b)
	}
	c.Nodes[node].bleeder = &ohm
	return c
}

// CapacitorAt gives what the model runs with at a place.
func (m *Model) CapacitorAt(p Place) Capacitor {
	for i := range m.Nodes {
		if m.Nodes[i].Name == p.Node {
			u := m.Nodes[i].stacks[p.stackIndex()][p.unit()]
			return Capacitor{CapacitanceUF: u.CUF, ESROhm: u.ESROhm, LeakOhm: u.LeakOhm}
		}
	}
	panic(fmt.Sprintf("supply: no place %s at node %s", p.Cap, p.Node))
}

package supply

import (
	"fmt"
	"math"
	"sort"

	"coldrise/domain/amp"
)

const (
	// assumedTanDelta gives the ESR of a capacitor that states none: the printed
	// limit of a 450 V axial series is 0.10 at 100 Hz (Vishay 042/043 ASH, doc 28329).
	assumedTanDelta = 0.10
	// assumedLeakMOhmUF × 1/C is the leakage resistance of a capacitor that states
	// none: a hundredth of the 0.01·C·U µA that Vishay 038 RSU allows after
	// 2 minutes, which is typical after an hour (secondary text). A larger leakage
	// would pull the cold nodes down, so the small one is the safe side.
	assumedLeakMOhmUF = 10000
	// assumedReservoirUF and assumedSmoothingUF stand where no value is known. Common practice.
	assumedReservoirUF = 32
	assumedSmoothingUF = 22
)

// takeCapacitors puts the fitted capacitors, at their original values, at the
// nodes, and keeps which stands for which position.
func (m *Model) takeCapacitors(a *amp.Amplifier, supply int) {
	for i := range m.Nodes {
		n := &m.Nodes[i]
		at := positionsAt(a, supply, n.Name)
		if len(at) == 0 {
			m.assumeCapacitor(n, i)
			continue
		}
		stack, single := split(a, at)
		if len(stack) > 0 {
			m.place(a, n, stack, len(stack))
		}
		for _, p := range single {
			m.place(a, n, []int{p}, 1)
		}
	}
	m.shareAmongParallel()
}

// positionsAt gives the filter positions of a node, by their index.
func positionsAt(a *amp.Amplifier, supply int, node string) []int {
	var at []int
	for p := range a.Positions {
		pos := &a.Positions[p]
		switch pos.Role {
		case amp.Reservoir, amp.Smoothing, amp.Bias:
			if pos.Node == a.Supplies[supply].Name+"/"+node {
				at = append(at, p)
			}
		}
	}
	return at
}

func split(a *amp.Amplifier, at []int) (stack, single []int) {
	for _, p := range at {
		if a.Positions[p].Stack > 0 {
			stack = append(stack, p)
		} else {
			single = append(single, p)
		}
	}
	sort.SliceStable(stack, func(x, y int) bool { return a.Positions[stack[x]].Stack < a.Positions[stack[y]].Stack })
	return stack, single
}

// place adds one capacitor or one stack to a node.
func (m *Model) place(a *amp.Amplifier, n *ModelNode, positions []int, units int) {
	var stack []Unit
	balanced := units > 1
	for _, p := range positions {
		pos := &a.Positions[p]
		uf := originalUF(pos)
		if uf == 0 {
			uf = assumedSmoothingUF
			if pos.Role == amp.Reservoir {
				uf = assumedReservoirUF
			}
			m.assume(fmt.Sprintf("/positions/%d/wanted_uf", p), uf, "µF", "common practice", "value at %s, where none is given", pos.Ref)
		}
		unit := m.unit(pos.Fitted, uf)
		if units == 1 {
			unit.LeakOhm = readLeakOhm(pos.Fitted, unit.LeakOhm)
		}
		stack = append(stack, unit)
		balanced = balanced && pos.Fitted != nil && pos.Fitted.LeakOhm != nil
	}
	base := n.Name
	if len(n.stacks) > 0 {
		base = fmt.Sprintf("%s.b%d", n.Name, len(n.stacks)+1)
	}
	for k, p := range positions {
		name := base
		if units > 1 {
			name = fmt.Sprintf("%s.c%d", base, k+1)
		}
		m.Places = append(m.Places, Place{Position: p, Node: n.Name, Cap: name, Stack: units, Balanced: balanced})
	}
	n.stacks = append(n.stacks, stack)
}

// originalUF is the value a position was drawn with: what is wanted where that
// is said, else what is fitted; 0 where neither is known.
func originalUF(p *amp.Position) float64 {
	switch {
	case p.WantedUF != nil:
		return *p.WantedUF
	case p.Fitted != nil:
		return p.Fitted.CapacitanceUF
	}
	return 0
}

func (m *Model) unit(f *amp.Fitted, uf float64) Unit {
	u := Unit{CUF: uf, ESROhm: assumedTanDelta / (2 * math.Pi * 100 * uf * 1e-6), LeakOhm: soundLeakOhm(uf)}
	if f != nil && f.ESROhm != nil {
		u.ESROhm = *f.ESROhm
	}
	if f != nil && f.LeakOhm != nil {
		u.LeakOhm = *f.LeakOhm
	}
	return u
}

// readLeakOhm is the leakage that was measured of a single capacitor where
// leak_ohm does not state it. Across the unit of a stack it would hide the
// balancing resistor, so there it does not count.
func readLeakOhm(f *amp.Fitted, otherwise float64) float64 {
	if f == nil || f.LeakOhm != nil || f.Readings == nil {
		return otherwise
	}
	r := f.Readings
	if r.LeakageUA == nil || r.LeakageV == nil || *r.LeakageUA <= 0 {
		return otherwise
	}
	return math.Max(*r.LeakageV / *r.LeakageUA * 1e6, 1000)
}

func soundLeakOhm(uf float64) float64 { return math.Min(assumedLeakMOhmUF*1e6/uf, 1e11) }

func (m *Model) assumeCapacitor(n *ModelNode, i int) {
	uf := float64(assumedSmoothingUF)
	if i == 0 {
		uf = assumedReservoirUF
		if m.MaxFirstUF > 0 {
			uf = math.Min(uf, m.MaxFirstUF)
		}
	}
	units := 1
	if i == 0 && m.Connection == amp.Doubler {
		units = 2
	}
	var stack []Unit
	for range units {
		stack = append(stack, m.unit(nil, uf))
	}
	n.stacks = [][]Unit{stack}
	m.assume("/positions", uf, "µF", "common practice; no position is given at this node", "capacitor at node %s", n.Name)
}

// shareAmongParallel says what part of its node's capacitance each place has.
func (m *Model) shareAmongParallel() {
	for i := range m.Places {
		p := &m.Places[i]
		whole, own := 0.0, 0.0
		for _, n := range m.Nodes {
			if n.Name != p.Node {
				continue
			}
			for k, s := range n.stacks {
				c := seriesUF(s)
				whole += c
				if k == p.stackIndex() {
					own = c
				}
			}
		}
		p.Share = own / whole
	}
}

// stackIndex is the place's stack among the node's, from its name: node, node.b2, …
func (p *Place) stackIndex() int {
	k := 1
	if _, err := fmt.Sscanf(p.Cap[len(p.Node):], ".b%d", &k); err != nil {
		return 0
	}
	return k - 1
}

func seriesUF(stack []Unit) float64 {
	inverse := 0.0
	for _, u := range stack {
		inverse += 1 / u.CUF
	}
	return 1 / inverse
}

// unit is the place in its own stack, from the top, from its name: node.c2.
func (p *Place) unit() int {
	if p.Stack < 2 {
		return 0
	}
	return int(p.Cap[len(p.Cap)-1] - '1')
}

// CapacitanceUF is the value the model runs with at a place.
func (m *Model) CapacitanceUF(p Place) float64 {
	for i := range m.Nodes {
		n := &m.Nodes[i]
		if n.Name != p.Node {
			continue
		}
		return n.stacks[p.stackIndex()][p.unit()].CUF
	}
	return 0
}

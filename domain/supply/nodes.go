package supply

import (
	"fmt"
	"math"

	"coldrise/domain/amp"
	"coldrise/domain/tube"
)

// Where nothing is known of a current, these are taken. Common practice: a
// preamplifier node feeds one or two stages of about 1 mA, a screen node some
// 5 mA, and an output stage half of what its rectifier is rated for.
const (
	assumedSmallMA  = 2
	assumedScreenMA = 5
	assumedOutputMA = 60
	// tubeExponent: a tube stage's current against its supply voltage, between
	// 1.3 and 1.5 (three-halves law, held back by its cathode resistor). Common practice.
	tubeExponent = 1.4
	// pushPullFull: current at full drive over idle of a class-AB pair. Common practice.
	pushPullFull = 1.6
)

// takeNodes normalises the readings and joins the nodes.
func (m *Model) takeNodes(a *amp.Amplifier, s *amp.Supply) {
	index := map[string]int{}
	for i := range s.Nodes {
		index[s.Nodes[i].Name] = i
	}
	m.noteReadingMains(a, s)
	for i := range s.Nodes {
		n := &s.Nodes[i]
		node := ModelNode{Name: n.Name, from: i - 1, bleeder: n.BleederOhm, ReadingV: reading(n, &a.Mains)}
		if n.From != "" {
			node.from = index[n.From]
		}
		node.series = m.seriesOf(n, i)
		m.Nodes = append(m.Nodes, node)
	}
}

// reading is a node's volts carried to the nominal mains: measured before drawn.
func reading(n *amp.Node, w *amp.Mains) *float64 {
	v, at := n.MeasuredV, w.MeasuredAtV
	if v == nil {
		v, at = n.SchematicV, w.SchematicV
	}
	if v == nil {
		return nil
	}
	x := *v
	if at != nil {
		x *= w.NominalV / *at
	}
	return &x
}

func (m *Model) noteReadingMains(a *amp.Amplifier, s *amp.Supply) {
	measured, drawn := false, false
	for i := range s.Nodes {
		n := &s.Nodes[i]
		measured = measured || n.MeasuredV != nil
		drawn = drawn || n.MeasuredV == nil && n.SchematicV != nil
	}
	if measured && a.Mains.MeasuredAtV == nil {
		m.assume("/mains/measured_at_v", m.NominalV, "V", "nothing better is known", "wall volts while the nodes were measured")
	}
	if drawn && a.Mains.SchematicV == nil {
		m.assume("/mains/schematic_at_v", m.NominalV, "V", "nothing better is known; old drawings assume 110, 115 or 117 V on a 120 V tap",
			"wall volts the schematic's figures hold at")
	}
}

func (m *Model) seriesOf(n *amp.Node, i int) *Series {
	switch {
	case n.ChokeH != nil:
		dcr := n.DCROhm
		if dcr == nil {
			r := 100.0
			dcr = &r
			m.assume(fmt.Sprintf("%s/nodes/%d/dcr_ohm", m.pointer, i), r, "Ω", "common practice for a smoothing choke", "DC resistance of the choke to node %s", n.Name)
		}
		return &Series{LH: n.ChokeH, DCROhm: dcr}
	case n.DropperOhm != nil:
		return &Series{ROhm: n.DropperOhm}
	}
	return nil
}

// ohms is the DC resistance that joins the node to its feeder; nil where unknown.
func (n *ModelNode) ohms() *float64 {
	switch {
	case n.series == nil:
		return nil
	case n.series.LH != nil:
		return n.series.DCROhm
	}
	return n.series.ROhm
}

// takeCurrents finds what each node feeds: as stated, else by Ohm's law across
// its dropper, else a nominal figure; then the voltages and droppers not given.
func (m *Model) takeCurrents(s *amp.Supply) {
	m.fillFirstVoltage(s)
	through := make([]float64, len(m.Nodes)) // mA into each node, from its feeder
	order := m.fromTheRoot()
	for k := len(order) - 1; k >= 0; k-- {
		i := order[k]
		n := &m.Nodes[i]
		beyond := 0.0
		for j := range m.Nodes {
			if m.Nodes[j].from == i {
				beyond += through[j]
			}
		}
		if n.bleeder != nil && n.ReadingV != nil {
			beyond += *n.ReadingV / *n.bleeder * 1000
		}
		own := m.ownCurrent(s, i, beyond)
		through[i] = own + beyond
	}
	for _, i := range order {
		m.fillVoltage(i, through[i])
	}
	m.makeLoads(s)
}

// fromTheRoot gives the nodes so that each stands after its feeder.
func (m *Model) fromTheRoot() []int {
	order := []int{0}
	for k := 0; k < len(order); k++ {
		for j := range m.Nodes {
			if m.Nodes[j].from == order[k] {
				order = append(order, j)
			}
		}
	}
	return order
}

// fillFirstVoltage gives the first node a voltage where it has no reading: of
// its winding, some 15 % under the peak (common practice for capacitor input).
func (m *Model) fillFirstVoltage(s *amp.Supply) {
	n := &m.Nodes[0]
	if n.ReadingV != nil {
		n.LoadedV = *n.ReadingV
		return
	}
	e := 0.0
	if s.Winding != nil && s.Winding.UnloadedV != nil {
		e = *s.Winding.UnloadedV
	} else if s.Winding != nil && s.Winding.LoadedV != nil {
		e = *s.Winding.LoadedV
	}
	n.LoadedV = e / m.startRatio()
}

// ownCurrent is what node i itself feeds, mA, beyond being what it passes on.
func (m *Model) ownCurrent(s *amp.Supply, i int, beyond float64) float64 {
	n := &m.Nodes[i]
	stated, open := statedCurrent(&s.Nodes[i])
	if len(s.Nodes[i].Loads) > 0 && open == 0 {
		n.ownMA = stated
		return stated
	}
	pointer := fmt.Sprintf("%s/nodes/%d/loads", m.pointer, i)
	if own, ok := m.byOhm(i, beyond); ok && own >= stated {
		m.assume(pointer, own, "mA", "Ohm's law across the dropper, less what the node passes on", "node %s feeds", n.Name)
		n.ownMA = own
		return own
	}
	if len(s.Nodes[i].Loads) == 0 && m.feedsNothing(s, i) {
		m.assume(pointer, 0, "mA", "its currents are stated elsewhere in this supply", "node %s feeds only the nodes behind it", n.Name)
		return 0
	}
	own, basis := m.nominalCurrent(&s.Nodes[i], i)
	own = math.Max(own, stated)
	m.assume(pointer, own, "mA", basis, "node %s feeds", n.Name)
	n.ownMA = own
	return own
}

// feedsNothing says whether a node without loads is best taken as a mere
// joint: a bleeder's node, the first node of a supply whose output stage stands
// elsewhere, or any node of a bias supply, which feeds resistors that are stated.
func (m *Model) feedsNothing(s *amp.Supply, i int) bool {
	if s.Nodes[i].BleederOhm != nil {
		return true
	}
	for k := range s.Nodes {
		if m.Negative && s.Nodes[k].BleederOhm != nil {
			return true
		}
		for l := range s.Nodes[k].Loads {
			if i == 0 && isOutput(&s.Nodes[k].Loads[l]) {
				return true
			}
		}
	}
	return false
}

func statedCurrent(n *amp.Node) (mA float64, open int) {
	for i := range n.Loads {
		l := &n.Loads[i]
		if l.IdleMA == nil {
			open++
			continue
		}
		mA += *l.IdleMA * float64(max(l.Count, 1))
	}
	return mA, open
}

func (m *Model) byOhm(i int, beyond float64) (float64, bool) {
	n := &m.Nodes[i]
	if n.from < 0 || n.ReadingV == nil || m.Nodes[n.from].ReadingV == nil || n.ohms() == nil || *n.ohms() <= 0 {
		return 0, false
	}
	own := (*m.Nodes[n.from].ReadingV-*n.ReadingV) / *n.ohms() * 1000 - beyond
	return math.Max(own, 0), own > -0.5
}

func (m *Model) nominalCurrent(n *amp.Node, i int) (float64, string) {
	sum := 0.0
	for k := range n.Loads {
		l := &n.Loads[k]
		t, ok := tube.LookupReceiving(l.Tube)
		if l.IdleMA == nil && (!ok || t.TypicalIdleMA == 0) {
			sum = 0
			break
		}
		mA := t.TypicalIdleMA
		if l.IdleMA != nil {
			mA = *l.IdleMA
		}
		sum += mA * float64(max(l.Count, 1))
	}
	if sum > 0 {
		return sum, "a typical idle current of the tubes named"
	}
	if i == 0 && !m.Negative {
		if t, ok := tube.LookupRectifier(m.Rectifier); ok && t.MaxDCMA > 0 {
			return t.MaxDCMA / 2, "common practice: an output stage at half of its rectifier's rated current"
		}
		return assumedOutputMA, "common practice: an output stage"
	}
	feeder := m.Nodes[max(m.Nodes[i].from, 0)].ReadingV
	if v := m.Nodes[i].ReadingV; v != nil && feeder != nil && *v > 0.95**feeder {
		return assumedScreenMA, "common practice: screens and what follows, a node close under its feeder"
	}
	return assumedSmallMA, "common practice: one or two small stages"
}

// fillVoltage gives node i its loaded voltage and, where that is open, its dropper.
func (m *Model) fillVoltage(i int, throughMA float64) {
	n := &m.Nodes[i]
	if n.from < 0 {
		return
	}
	feeder := m.Nodes[n.from].LoadedV
	if n.ReadingV != nil {
		n.LoadedV = *n.ReadingV
	} else if r := n.ohms(); r != nil {
		n.LoadedV = math.Max(feeder-*r*throughMA/1000, 0.05*feeder)
	}
	if n.series != nil {
		return
	}
	r := math.Max((feeder-n.LoadedV)/math.Max(throughMA, 0.01)*1000, 1)
	n.series = &Series{ROhm: &r}
	m.assume(fmt.Sprintf("%s/nodes/%d/dropper_ohm", m.pointer, i), r, "Ω", "Ohm's law from the two nodes' volts and the currents taken",
		"dropper to node %s", n.Name)
}

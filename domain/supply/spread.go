package supply

import (
	"fmt"
	"math"

	"coldrise/domain/amp"
)

// Knob is one figure that may be off: what it is, where it comes from, and how
// far it may lie below and above the value taken.
type Knob struct {
	// Pointer is the JSON pointer of the figure in the amplifier.
	Pointer string
	Text    string
	From    string // measured, schematic, nameplate, published, assumed
	Value   float64
	Unit    string
	DownPct float64 // the least is Value × (1 − DownPct/100)
	UpPct   float64 // the most is Value × (1 + UpPct/100)
	turn    func(m *Model, factor float64)
	refits  bool // turning it moves a winding that was fitted to a reading
}

// Tolerances by where a figure comes from, ± %. Common practice, but for the
// capacitors: Vishay 042/043 ASH, doc 28329, still sells −10/+50 % (code T).
const (
	measuredVoltsPct = 2
	drawnVoltsPct    = 10
	measuredOhmsPct  = 3
	markedOhmsPct    = 10
	windingVoltsPct  = 1.5
	nameplatePct     = 5
	statedMAPct      = 10
	takenMAPct       = 35
	tubeDropPct      = 15
	warmUpPct        = 15
	takenSourceDown  = 40
	takenSourceUp    = 60
	oldCanDown       = 10
	oldCanUp         = 50
	plainCanPct      = 20
	takenFaradPct    = 30
)

// factor is what a knob multiplies by when turned to x, from −1 to 1.
func (k *Knob) factor(x float64) float64 {
	if x < 0 {
		return 1 + x*k.DownPct/100
	}
	return 1 + x*k.UpPct/100
}

// Knobs lists the figures of a model that may be off, in a fixed order.
func (m *Model) Knobs(a *amp.Amplifier) []Knob {
	var list []Knob
	list = append(list, m.windingKnobs(a)...)
	list = append(list, m.diodeKnobs()...)
	for i := range m.Nodes {
		list = append(list, m.nodeKnobs(a, i)...)
	}
	for i := range list {
		list[i].override(a)
	}
	return list
}

// override takes the tolerance that the amplifier itself states for a figure.
func (k *Knob) override(a *amp.Amplifier) {
	f, ok := a.FigureAt(k.Pointer)
	if !ok {
		return
	}
	k.From = f.From
	if f.TolPct != nil {
		k.DownPct, k.UpPct = *f.TolPct, *f.TolPct
	}
}

func (m *Model) windingKnobs(a *amp.Amplifier) []Knob {
	at := m.pointer + "/winding"
	source := Knob{Pointer: at + "/secondary_ohm", Text: "source resistance of " + m.Name, From: "measured", Value: m.SourceOhm, Unit: "Ω",
		DownPct: measuredOhmsPct, UpPct: measuredOhmsPct, refits: true, turn: func(m *Model, f float64) { m.SourceOhm *= f }}
	if m.isAssumed(source.Pointer) {
		source.From, source.DownPct, source.UpPct = "assumed", takenSourceDown, takenSourceUp
	}
	volts := Knob{Pointer: at + "/unloaded_v", Text: "unloaded volts of the " + m.Name + " winding", From: "measured", Value: m.UnloadedV, Unit: "V",
		DownPct: windingVoltsPct, UpPct: windingVoltsPct, turn: func(m *Model, f float64) { m.UnloadedV *= f }}
	if !m.fitted {
		if m.isAssumed(volts.Pointer) {
			volts.From, volts.DownPct, volts.UpPct = "nameplate", nameplatePct, nameplatePct
		}
		return []Knob{source, volts}
	}
	n := &a.Supplies[m.supply].Nodes[0]
	reading := Knob{Pointer: fmt.Sprintf("%s/nodes/0/measured_v", m.pointer), Text: "loaded volts of node " + n.Name, From: "measured", Value: m.Nodes[0].LoadedV, Unit: "V",
		DownPct: measuredVoltsPct, UpPct: measuredVoltsPct, refits: true, turn: func(m *Model, f float64) { m.fitTo *= f }}
	if n.MeasuredV == nil {
		reading.Pointer, reading.From, reading.DownPct, reading.UpPct = fmt.Sprintf("%s/nodes/0/schematic_v", m.pointer), "schematic", drawnVoltsPct, drawnVoltsPct
	}
	return []Knob{source, reading}
}

func (m *Model) diodeKnobs() []Knob {
	if m.diode.Kind != "tube" {
		return nil
	}
	drop := Knob{Pointer: m.pointer + "/rectifier/drop_v", Text: "drop of the " + m.Rectifier, From: "published", Value: m.diode.DropV, Unit: "V",
		DownPct: tubeDropPct, UpPct: tubeDropPct, refits: true, turn: func(m *Model, f float64) { m.diode.DropV *= f }}
	warm := Knob{Pointer: m.pointer + "/rectifier/warm_up", Text: "warm-up of the " + m.Rectifier, From: "published", Value: warmAt(m.earliest), Unit: "s",
		DownPct: warmUpPct, UpPct: warmUpPct, turn: func(m *Model, f float64) { m.earliest = m.earliest.Scaled(f) }}
	return []Knob{drop, warm}
}

func (m *Model) nodeKnobs(a *amp.Amplifier, i int) []Knob {
	n := &m.Nodes[i]
	at := fmt.Sprintf("%s/nodes/%d", m.pointer, i)
	var list []Knob
	if n.series != nil {
		list = append(list, m.seriesKnob(n, i, at))
	}
	if n.bleeder != nil {
		list = append(list, Knob{Pointer: at + "/bleeder_ohm", Text: "bleeder of node " + n.Name, From: "schematic", Value: *n.bleeder, Unit: "Ω",
			DownPct: markedOhmsPct, UpPct: markedOhmsPct, turn: func(m *Model, f float64) { m.Nodes[i].bleeder = scaled(m.Nodes[i].bleeder, f) }})
	}
	if mA := n.IdleMA(); mA > 0 {
		k := Knob{Pointer: at + "/loads", Text: "current that node " + n.Name + " feeds", From: "measured", Value: mA, Unit: "mA",
			DownPct: statedMAPct, UpPct: statedMAPct, refits: true, turn: func(m *Model, f float64) { m.Nodes[i].scaleLoads(f) }}
		if m.isAssumed(k.Pointer) {
			k.From, k.DownPct, k.UpPct = "assumed", takenMAPct, takenMAPct
		}
		list = append(list, k)
	}
	if len(n.loads) > 0 && n.loads[0].latest != nil {
		list = append(list, Knob{Pointer: at + "/loads/0/warm_up", Text: "warm-up of node " + n.Name + "'s tubes", From: "published", Value: warmAt(n.loads[0].latest), Unit: "s",
			DownPct: warmUpPct, UpPct: warmUpPct, turn: func(m *Model, f float64) { m.Nodes[i].delayLoads(f) }})
	}
	return append(list, m.capacitorKnobs(a, i)...)
}

func (m *Model) seriesKnob(n *ModelNode, i int, at string) Knob {
	k := Knob{Pointer: at + "/dropper_ohm", Text: "dropper to node " + n.Name, From: "schematic", Unit: "Ω", DownPct: markedOhmsPct, UpPct: markedOhmsPct,
		turn: func(m *Model, f float64) { m.Nodes[i].scaleSeries(f) }}
	if r := n.ohms(); r != nil {
		k.Value = *r
	}
	if n.series.LH != nil {
		k.Pointer, k.Text = at+"/dcr_ohm", "resistance of the choke to node "+n.Name
	}
	if m.isAssumed(k.Pointer) {
		k.From, k.DownPct, k.UpPct = "assumed", takenMAPct, takenMAPct
	}
	return k
}

// capacitorKnobs gives one knob for each capacitor of a node: units of a stack
// differ, which is what splits their voltage.
func (m *Model) capacitorKnobs(a *amp.Amplifier, i int) []Knob {
	var list []Knob
	for _, p := range m.Places {
		if p.Node != m.Nodes[i].Name || p.Stack > 1 {
			continue // a stack's split is judged by its worst unit already
		}
		pos := &a.Positions[p.Position]
		s := p.stackIndex()
		k := Knob{Pointer: fmt.Sprintf("/positions/%d/fitted/capacitance_uf", p.Position), Text: "capacitance of " + pos.Ref, From: "nameplate",
			Value: m.CapacitanceUF(p), Unit: "µF", DownPct: plainCanPct, UpPct: plainCanPct,
			turn: func(m *Model, f float64) { m.Nodes[i].stacks[s][0].CUF *= f }}
		switch f := pos.Fitted; {
		case f == nil:
			k.Pointer, k.From, k.DownPct, k.UpPct = fmt.Sprintf("/positions/%d/wanted_uf", p.Position), "assumed", takenFaradPct, takenFaradPct
		case f.TolMinusPct != nil && f.TolPlusPct != nil:
			k.DownPct, k.UpPct = *f.TolMinusPct, *f.TolPlusPct
		case f.Style == "can":
			k.DownPct, k.UpPct = oldCanDown, oldCanUp
		}
		list = append(list, k)
	}
	return list
}

func (m *Model) isAssumed(pointer string) bool {
	for _, a := range m.Assumptions {
		if a.Pointer == pointer {
			return true
		}
	}
	return false
}

func scaled(p *float64, f float64) *float64 {
	v := *p * f
	return &v
}

// scaleSeries scales a dropper, or the resistance of a choke.
func (n *ModelNode) scaleSeries(f float64) {
	s := *n.series
	if s.LH != nil {
		s.DCROhm = scaled(s.DCROhm, f)
	} else {
		s.ROhm = scaled(s.ROhm, f)
	}
	n.series = &s
}

func (n *ModelNode) scaleLoads(f float64) {
	for k := range n.loads {
		n.loads[k].idleMA *= f
		n.loads[k].fullMA *= f
	}
}

func (n *ModelNode) delayLoads(f float64) {
	for k := range n.loads {
		if n.loads[k].latest != nil {
			n.loads[k].latest = n.loads[k].latest.Scaled(f)
		}
	}
}

// clone gives a model whose figures can be turned without touching m's.
func (m *Model) clone() *Model {
	c := *m
	c.Nodes = append([]ModelNode(nil), m.Nodes...)
	for i := range c.Nodes {
		n := &c.Nodes[i]
		n.loads = append([]modelLoad(nil), n.loads...)
		n.stacks = append([][]Unit(nil), n.stacks...)
		for s := range n.stacks {
			n.stacks[s] = append([]Unit(nil), n.stacks[s]...)
		}
	}
	return &c
}

// Spread is a model with its knobs, ready to be turned. A winding fitted to a
// reading follows each knob by the two refits made for it here.
type Spread struct {
	Knobs []Knob
	base  *Model
	down  []float64 // what knob k at −1 multiplies a fitted winding by
	up    []float64
}

// NewSpread lists the knobs of m and, for a fitted winding, refits it with each
// at its ends.
func (m *Model) NewSpread(a *amp.Amplifier, fit func(*Model) error) (*Spread, error) {
	s := &Spread{base: m, Knobs: m.Knobs(a)}
	for k := range s.Knobs {
		down, up := 1.0, 1.0
		if m.fitted && s.Knobs[k].refits {
			for _, end := range []struct {
				x  float64
				to *float64
			}{{-1, &down}, {1, &up}} {
				c := m.clone()
				s.Knobs[k].turn(c, s.Knobs[k].factor(end.x))
				if err := fit(c); err != nil {
					return nil, err
				}
				*end.to = c.UnloadedV / m.UnloadedV
			}
		}
		s.down, s.up = append(s.down, down), append(s.up, up)
	}
	return s, nil
}

// Turned gives the model with knob k at x[k], from −1 to 1. Pinned holds the
// winding where it is, at windingX of a reading's tolerance, instead of letting
// it follow the fit.
func (s *Spread) Turned(x []float64, pinned bool, windingX float64) *Model {
	m := s.base.clone()
	for k := range s.Knobs {
		if x[k] == 0 {
			continue
		}
		s.Knobs[k].turn(m, s.Knobs[k].factor(x[k]))
		switch {
		case pinned:
		case x[k] < 0:
			m.UnloadedV *= math.Pow(s.down[k], -x[k])
		default:
			m.UnloadedV *= math.Pow(s.up[k], x[k])
		}
	}
	if pinned {
		m.UnloadedV *= 1 + windingX*MeasuredWindingPct/100
	}
	return m
}

// MeasuredWindingPct is how closely a winding's unloaded volts are read at a
// bench, wall volts beside them. Common practice.
const MeasuredWindingPct = 1

// Fitted says that the winding was fitted to a reading, not stated.
func (s *Spread) Fitted() bool { return s.base.fitted }

// WindingPointer is the member that would state the winding's unloaded volts.
func (s *Spread) WindingPointer() string { return s.base.pointer + "/winding/unloaded_v" }

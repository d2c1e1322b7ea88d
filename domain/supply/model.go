package supply

import (
	"context"
	"fmt"
	"math"

	"coldrise/domain/amp"
	"coldrise/domain/tube"
)

// Assumption is a figure that was not given and what was taken for it.
type Assumption struct {
	// Pointer is the JSON pointer in the amplifier of the member that would replace it.
	Pointer string  `json:"pointer"`
	Text    string  `json:"text"`
	Value   float64 `json:"value"`
	Unit    string  `json:"unit"`
	Basis   string  `json:"basis" doc:"Why this value: a source, or common practice"`
}

// Model is one supply of an amplifier made ready to run: readings normalised
// to the nominal mains, gaps filled, and each filling noted in Assumptions.
// Circuit makes a run of it for one service case.
type Model struct {
	Name        string
	Connection  amp.Connection
	Negative    bool
	Rectifier   string
	UnloadedV   float64 // RMS per conducting side at nominal mains
	SourceOhm   float64
	NominalV    float64
	HighV       float64
	LowV        float64
	FrequencyHz float64
	// MaxFirstUF is the largest first capacitor printed for the rectifier; 0 where
	// none is known or nobody held the page.
	MaxFirstUF float64
	// Tube is the rectifier's published figures, of Tubes of them in parallel; nil for silicon.
	Tube   *tube.Rectifier
	Tubes  int
	Places []Place
	Nodes  []ModelNode

	Assumptions []Assumption

	supply   int    // index in the amplifier
	pointer  string // of the supply in the amplifier
	fitted   bool   // UnloadedV was fitted to the first node's reading
	fitTo    float64
	phaseDeg float64
	diode    Diode
	earliest *amp.WarmUp // of a tube rectifier
	standby  *Switch
	rawLeak  *float64
}

// Place says which capacitor of the circuit stands for a position.
type Place struct {
	Position int    // index in the amplifier's positions
	Node     string // name in this supply
	Cap      string // name in a Result
	Stack    int    // units in its series stack; 1 for a single capacitor
	// Share is this capacitor's part of the node's capacitance among parallel ones.
	Share float64
	// Balanced says that resistors across the units set how a stack shares at rest.
	Balanced bool
}

// ModelNode is one node of a Model.
type ModelNode struct {
	Name     string
	ReadingV *float64 // normalised to nominal mains; nil where none was given
	LoadedV  float64  // reading, or what Ohm's law gives from the node before
	from     int      // feeding node, -1 for the first
	series   *Series
	stacks   [][]Unit
	bleeder  *float64
	ownMA    float64 // what its loads draw together at idle
	loads    []modelLoad
}

type modelLoad struct {
	idleMA, fullMA   float64
	v0, alpha        float64
	output           bool
	stageUnknown     bool // neither tube nor stage is stated
	pushPull         bool // two tubes or more, so that full drive is class AB
	nominal, latest  *amp.WarmUp
	fromTheFirstTick bool
}

// IdleMA is the current the node itself feeds, at idle and nominal mains.
func (n *ModelNode) IdleMA() float64 {
	sum := 0.0
	for _, l := range n.loads {
		sum += l.idleMA
	}
	return sum
}

// AudioMeanA is the mean current that the node's class-AB output stage draws
// above nothing at full drive; 0 where full drive draws what idle does.
func (n *ModelNode) AudioMeanA() float64 {
	sum := 0.0
	for _, l := range n.loads {
		if l.output && l.pushPull && l.fullMA > l.idleMA*1.05 {
			sum += l.fullMA / 1000
		}
	}
	return sum
}

// NoLoadV is what every node without a bleeder floats up to at high line with
// nothing drawn: the winding's unloaded peak, twice that for a doubler.
func (m *Model) NoLoadV() float64 {
	v := math.Sqrt2 * m.UnloadedV * m.HighV / m.NominalV
	if m.Connection == amp.Doubler {
		v *= 2
	}
	return v
}

// NewModel makes supply i of a ready. The amplifier must have passed
// amp.Parse or Check. Where the winding's volts are not given it runs the
// supply to fit them, so it takes a context.
func NewModel(ctx context.Context, a *amp.Amplifier, i int) (*Model, error) {
	s := &a.Supplies[i]
	m := &Model{
		Name:        s.Name,
		Negative:    s.Polarity == "negative",
		Rectifier:   s.Rectifier.Type,
		NominalV:    a.Mains.NominalV,
		FrequencyHz: a.Mains.FrequencyHz,
		phaseDeg:    a.Mains.PhaseDeg,
		supply:      i,
		pointer:     fmt.Sprintf("/supplies/%d", i),
		rawLeak:     s.RawLeakOhm,
	}
	m.HighV, m.LowV = m.highLine(&a.Mains), m.lowLine(&a.Mains)
	m.takeRectifier(&s.Rectifier)
	m.takeStandby(s.Standby)
	m.takeConnection(s)
	m.takeNodes(a, s)
	m.takeCapacitors(a, i)
	m.takeCurrents(s)
	m.takeSource(s.Winding)
	if s.Winding != nil && s.Winding.UnloadedV != nil {
		m.UnloadedV = *s.Winding.UnloadedV
		return m, nil
	}
	return m, m.fitWinding(ctx, s.Winding)
}

func (m *Model) assume(pointer string, value float64, unit, basis, format string, args ...any) {
	m.Assumptions = append(m.Assumptions, Assumption{
		Pointer: pointer, Text: fmt.Sprintf(format, args...), Value: value, Unit: unit, Basis: basis,
	})
}

func (m *Model) takeStandby(s *amp.Standby) {
	if s == nil || s.Switch == "none" || s.Switch == "" {
		return
	}
	sw := &Switch{Position: s.Switch, RonOhm: 0.05, RoffOhm: 1e9, CloseS: 15}
	if s.OnOhm != nil {
		sw.RonOhm = *s.OnOhm
	}
	if s.OffOhm != nil {
		sw.RoffOhm = *s.OffOhm
	}
	if s.ClosesAfterS != nil {
		sw.CloseS = *s.ClosesAfterS
	} else {
		m.assume(m.pointer+"/standby/closes_after_s", 15, "s", "common practice: a wait of 10 to 15 s",
			"the standby is closed 15 s after mains on")
	}
	m.standby = sw
}

func (m *Model) takeConnection(s *amp.Supply) {
	if s.Winding != nil && s.Winding.Connection != "" {
		m.Connection = s.Winding.Connection
		return
	}
	m.Connection = amp.Bridge
	if m.diode.Kind == "tube" {
		m.Connection = amp.CentreTapped
	}
	m.assume(m.pointer+"/winding/connection", 0, "", "common practice for this rectifier",
		"the winding is taken as %s", map[amp.Connection]string{amp.Bridge: "bridge-connected", amp.CentreTapped: "centre-tapped"}[m.Connection])
}

// takeRectifier takes the published drop and warm-up of a tube, or an
// ordinary 1 A silicon junction.
func (m *Model) takeRectifier(r *amp.Rectifier) {
	t, isTube := tube.LookupRectifier(r.Type)
	if !isTube {
		m.takeSilicon(r)
		return
	}
	m.diode = Diode{Kind: "tube", DropV: t.DropV, DropMA: t.DropMA}
	if r.DropV != nil && r.DropMA != nil {
		m.diode.DropV, m.diode.DropMA = *r.DropV, *r.DropMA
	}
	count := max(r.Count, 1)
	m.diode.DropMA *= float64(count)
	m.Tube, m.Tubes = &t, count
	if !t.FirstFromMemory {
		m.MaxFirstUF = t.MaxFirstUF * float64(count)
	}
	m.diode.WarmUp = smoothstep(t.WarmFromS, t.WarmToS)
	m.earliest = smoothstep(t.EarliestFromS, t.EarliestToS)
	if r.WarmUp != nil {
		m.diode.WarmUp, m.earliest = r.WarmUp, r.WarmUp
		return
	}
	m.assume(m.pointer+"/rectifier/warm_up", t.EarliestFromS, "s", t.Source+"; warm-up: common practice where no figure is published",
		"%s begins to conduct %.3g s after mains on as a rule; at the earliest", t.Type, t.WarmFromS)
}

func (m *Model) takeSilicon(r *amp.Rectifier) {
	m.diode = Diode{Kind: "silicon", IsA: 5e-9, N: 1.8, RsOhm: 0.04, SeriesCount: max(r.SeriesCount, 1)}
	if r.Silicon != nil {
		m.diode.IsA, m.diode.N, m.diode.RsOhm = r.Silicon.IsA, r.Silicon.N, r.Silicon.RsOhm
	}
}

// takeSource finds the source resistance per conducting path.
func (m *Model) takeSource(w *amp.Winding) {
	if w != nil && w.SourceOhm != nil {
		m.SourceOhm = math.Max(*w.SourceOhm, 1e-3)
		return
	}
	if w != nil && w.SecondaryOhm != nil {
		m.SourceOhm = math.Max(*w.SecondaryOhm+m.reflectedPrimary(w), 1e-3)
		return
	}
	// 6 % of the load resistance is a regulation of some 15 % on a capacitor-input
	// supply by the closed form of infinite capacitance (Vdc/Vp 0.82 at 6 %). With
	// the winding fitted to a loaded reading, more resistance means more volts
	// unloaded: where the maker's least is higher it is taken, never a lower one.
	ohm := math.Max(0.06*m.Nodes[0].LoadedV/m.totalA(), 1)
	basis := "common practice: 6 % of the load resistance"
	if t, ok := tube.LookupRectifier(m.Rectifier); ok {
		if least := t.MinSourceAt(m.Nodes[0].LoadedV * m.startRatio()); least > ohm {
			ohm, basis = least, t.Source+": the least resistance per plate the maker asks for"
		}
	}
	m.SourceOhm = ohm
	m.assume(m.pointer+"/winding/secondary_ohm", ohm, "Ω", basis, "source resistance per conducting path")
}

func (m *Model) reflectedPrimary(w *amp.Winding) float64 {
	if w.PrimaryOhm == nil {
		m.assume(m.pointer+"/winding/primary_ohm", 0, "Ω", "the no-load voltage does not depend on it when the winding's unloaded volts are given",
			"resistance of the primary left out")
		return 0
	}
	e := 0.0
	switch {
	case w.UnloadedV != nil:
		e = *w.UnloadedV
	case w.LoadedV != nil:
		e = *w.LoadedV
	default:
		e = m.Nodes[0].LoadedV * m.startRatio()
	}
	ratio := e / m.NominalV
	return ratio * ratio * *w.PrimaryOhm
}

// totalA is the whole direct current at idle and nominal mains.
func (m *Model) totalA() float64 {
	sum := 0.0
	for i := range m.Nodes {
		n := &m.Nodes[i]
		sum += n.IdleMA() / 1000
		if n.bleeder != nil {
			sum += n.LoadedV / *n.bleeder
		}
	}
	return math.Max(sum, 1e-4)
}

func smoothstep(from, to float64) *amp.WarmUp {
	return &amp.WarmUp{Law: "smoothstep", TaS: &from, TbS: &to}
}

// Standby gives the switch's position and when it is closed, s after mains on;
// "" where there is none.
func (m *Model) Standby() (position string, closesS float64) {
	if m.standby == nil {
		return "", 0
	}
	return m.standby.Position, m.standby.CloseS
}

// WarmS is when the last of the loads draws in full, s after mains on, as late as it comes.
func (m *Model) WarmS() float64 {
	t := 0.0
	for i := range m.Nodes {
		for _, l := range m.Nodes[i].loads {
			if !l.fromTheFirstTick {
				t = math.Max(t, warmAt(l.latest))
			}
		}
	}
	return t
}

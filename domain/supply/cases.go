package supply

import (
	"math"

	"coldrise/domain/amp"
)

// Service is one way an amplifier is put to use, or misused.
type Service struct {
	Name      string
	Title     string
	Text      string
	Mandatory bool // decides what a part must withstand; others are shown
	EndS      float64

	line    line
	wallV   float64 // wall volts on the bench, where above 0; else by line
	loads   drawn
	warm    bool // everything warm from the start, standby closed
	standby standbyUse
	silicon bool // a silicon rectifier in the tube's socket
	fitted  bool // capacitors leak as what is fitted does, not as sound ones do
}

// AsFitted gives the case with the capacitors leaking as what is fitted does.
func (s Service) AsFitted() Service {
	s.fitted = true
	return s
}

// FromCold says that the case begins with mains on and cold tubes, and is not
// merely a steady state.
func (s Service) FromCold() bool { return !s.warm }

type line int

const (
	nominalLine line = iota
	highLine
	lowLine
)

// drawn is which loads draw, and how much.
type drawn int

const (
	idle      drawn = iota
	fullDrive       // output stages at full drive
	pulled          // output tubes out of their sockets
	unloaded        // no load at all; bleeders stay
)

type standbyUse int

const (
	asIntended standbyUse = iota
	leftClosed
	onHotTubes
)

// settleS is run after the last event before the steady second is read: a tube
// rectifier comes to its peak ever more slowly.
const settleS = 20

// Services gives the cases of this supply: the mandatory ones first.
func (m *Model) Services() []Service {
	list := append(m.mandatory(), m.advisory()...)
	list = append(list,
		Service{Name: "full_drive", Title: "full drive at high line", line: highLine, loads: fullDrive, warm: true,
			Text: "Everything warm and driven in full: the ripple current and the working voltage."},
		Service{Name: "idle_high", Title: "idle at high line", line: highLine, warm: true,
			Text: "Everything warm and idling at high line: the working voltage."},
		Service{Name: "idle_nominal", Title: "idle at nominal mains", warm: true, fitted: true,
			Text: "Everything warm and idling: to hold against the readings."},
		Service{Name: "idle_low", Title: "idle at low line", line: lowLine, warm: true,
			Text: "Everything warm and idling on the lowest mains to expect."})
	for i := range list {
		list[i].EndS = m.endOf(&list[i])
	}
	return list
}

// mandatory are the cases that decide what a capacitor must withstand.
func (m *Model) mandatory() []Service {
	list := []Service{{Name: "cold_start", Title: "cold start at high line", Mandatory: true, line: highLine,
		Text: "Mains on with every tube cold; the rectifier as early and the loads as late as they come."}}
	if m.standby != nil {
		list[0].Text += " The standby is used as intended."
		list = append(list, Service{Name: "standby_misused", Title: "cold start with the standby left closed", Mandatory: true, line: highLine, standby: leftClosed,
			Text: "The standby is already closed when the mains comes on, or is closed before the tubes are warm."})
	}
	if m.hasOutput() {
		list = append(list, Service{Name: "tubes_pulled", Title: "output tubes pulled", Mandatory: true, line: highLine, loads: pulled,
			Text: "Mains on with the output tubes out of their sockets; the other stages draw once warm."})
	}
	if m.Negative && m.draws() {
		list = append(list, Service{Name: "bias_unloaded", Title: "bias supply unloaded", Mandatory: true, line: highLine, loads: unloaded,
			Text: "The grids' feed open or unplugged; bleeders stay."})
	}
	return list
}

// advisory are the cases that are shown and never decide.
func (m *Model) advisory() []Service {
	var list []Service
	if m.standby != nil {
		list = append(list, Service{Name: "standby_hot", Title: "standby closed on hot tubes", line: highLine, standby: onHotTubes,
			Text: "The standby is closed at a mains peak with every tube hot: the largest current through the rectifier."})
	}
	if m.diode.Kind == "tube" {
		list = append(list, Service{Name: "silicon_fitted", Title: "tube rectifier replaced by silicon", line: highLine, silicon: true, standby: leftClosed,
			Text: "Silicon conducts at once and drops little: what a plug-in replacement would do."})
	}
	if m.chokeInput() {
		list = append(list, Service{Name: "choke_unloaded", Title: "choke input unloaded", line: highLine, loads: unloaded, standby: leftClosed,
			Text: "Below its critical current a choke-input supply settles towards the peak of the winding."})
	}
	return list
}

func (m *Model) chokeInput() bool { return m.Nodes[0].series != nil && m.Nodes[0].series.LH != nil }

func (m *Model) draws() bool {
	for i := range m.Nodes {
		if len(m.Nodes[i].loads) > 0 {
			return true
		}
	}
	return false
}

func (m *Model) hasOutput() bool {
	for i := range m.Nodes {
		for _, l := range m.Nodes[i].loads {
			if l.output {
				return true
			}
		}
	}
	return false
}

func (m *Model) endOf(s *Service) float64 {
	if s.warm {
		return math.Max(4, 2+6*m.slowestS())
	}
	end := warmAt(m.earliest)
	for i := range m.Nodes {
		for _, l := range m.Nodes[i].loads {
			end = math.Max(end, warmAt(l.latest))
		}
	}
	if m.standby != nil {
		end = math.Max(end, m.closesS(s))
	}
	return math.Ceil(end) + math.Max(settleS, 2+6*m.slowestS())
}

// slowestS is what the last node needs to follow the first: each dropper by
// all the capacitance behind it (Elmore's delay), 30 s at most.
func (m *Model) slowestS() float64 { return math.Min(m.elmoreS(), slowestKeptS) }

// elmoreS is the same without a bound.
func (m *Model) elmoreS() float64 {
	behind := make([]float64, len(m.Nodes)) // F at and behind each node
	order := m.fromTheRoot()
	delay := 0.0
	for k := len(order) - 1; k >= 0; k-- {
		n := &m.Nodes[order[k]]
		for _, s := range n.stacks {
			behind[order[k]] += seriesUF(s) * 1e-6
		}
		if n.from >= 0 {
			behind[n.from] += behind[order[k]]
		}
		if n.series != nil && n.series.ROhm != nil {
			delay += *n.series.ROhm * behind[order[k]]
		}
	}
	return delay
}

// slowestKeptS bounds a run's length; a supply slower than that is raised to
// where it comes to rest.
const slowestKeptS = 30

func warmAt(w *amp.WarmUp) float64 {
	switch {
	case w == nil:
		return 0
	case w.Law == "logistic":
		return *w.T0S + 8**w.TauS
	}
	return *w.TbS
}

// Circuit gives the run of one service. Thresholds are asked at each node in
// the order of thresholds[node], which may be nil.
func (m *Model) Circuit(s Service, thresholds map[string][]float64) *Circuit {
	c := &Circuit{
		ID: s.Name, Title: m.Name + ": " + s.Title, TEndS: s.EndS,
		Mains:      Source{FreqHz: m.FrequencyHz, Factor: 1, PhaseDeg: m.phaseDeg},
		RawLeakOhm: m.rawLeak,
		Rectifier: Rectifier{Topology: topology(m.Connection), SecondaryVRM: m.UnloadedV, RsOhm: m.SourceOhm,
			Polarity: "positive", Diode: m.diode},
	}
	if m.Negative {
		c.Rectifier.Polarity = "negative"
	}
	switch s.line {
	case highLine:
		c.Mains.Factor = m.HighV / m.NominalV
	case lowLine:
		c.Mains.Factor = m.LowV / m.NominalV
	}
	if s.wallV > 0 {
		c.Mains.Factor = s.wallV / m.NominalV
	}
	c.Rectifier.Diode.WarmUp = m.earliest
	if s.warm {
		c.Rectifier.Diode.WarmUp = nil
	}
	if s.silicon {
		c.Rectifier.Diode = siliconDiode
	}
	if at := m.closesS(&s); at > 0 {
		sw := *m.standby
		sw.CloseS = m.atPeak(at)
		c.Standby = &sw
	}
	for i := range m.Nodes {
		c.Nodes = append(c.Nodes, m.circuitNode(i, s, thresholds))
	}
	return c
}

// closesS is when the standby closes in a service, s after mains on; 0 where
// it stands closed or is not there. Hot tubes have been warm for a while.
func (m *Model) closesS(s *Service) float64 {
	switch {
	case m.standby == nil || s.warm || s.standby == leftClosed:
		return 0
	case s.standby == onHotTubes:
		return math.Max(m.standby.CloseS, math.Max(m.WarmS(), warmAt(m.earliest))+1)
	}
	return m.standby.CloseS
}

// siliconDiode is an ordinary 1 A, 1000 V junction of two in series (common
// practice for a plug-in replacement).
var siliconDiode = Diode{Kind: "silicon", IsA: 5e-9, N: 1.8, RsOhm: 0.04, SeriesCount: 2}

// atPeak moves a switch's closing to the mains peak after it: the worst instant.
func (m *Model) atPeak(t float64) float64 {
	half := 0.5 / m.FrequencyHz
	offset := (0.25 - m.phaseDeg/360) / m.FrequencyHz
	return math.Ceil((t-offset)/half)*half + offset
}

// sound gives the stacks with the leakage of sound capacitors where a single
// one leaks more: a replacement is picked for what it will itself let the node
// float up to. A stack keeps its balancing resistors.
func sound(stacks [][]Unit) [][]Unit {
	out := make([][]Unit, len(stacks))
	for i, s := range stacks {
		out[i] = append([]Unit(nil), s...)
		if len(s) == 1 {
			out[i][0].LeakOhm = math.Max(s[0].LeakOhm, soundLeakOhm(s[0].CUF))
		}
	}
	return out
}

func topology(c amp.Connection) string {
	if c == amp.CentreTapped {
		return "full_wave_ct"
	}
	return string(c)
}

func (m *Model) circuitNode(i int, s Service, thresholds map[string][]float64) Node {
	n := &m.Nodes[i]
	out := Node{Name: n.Name, Series: n.series, BleedOhm: n.bleeder, Thresholds: thresholds[n.Name]}
	if n.from >= 0 {
		out.From = m.Nodes[n.from].Name
	}
	stacks := n.stacks
	if !s.fitted {
		stacks = sound(stacks)
	}
	if len(stacks) > 0 {
		out.Caps, out.Beside = stacks[0], stacks[1:]
	}
	var loads []Load
	for _, l := range n.loads {
		if s.loads == unloaded || s.loads == pulled && l.output {
			continue
		}
		load := Load{I0MA: l.idleMA, V0: l.v0, Alpha: l.alpha, WarmUp: l.latest}
		if s.loads == fullDrive {
			load.I0MA = l.fullMA
		}
		if s.warm || l.fromTheFirstTick {
			load.WarmUp = nil
		}
		loads = append(loads, load)
	}
	if len(loads) > 0 {
		out.Load, out.Further = &loads[0], loads[1:]
	}
	return out
}

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
	high      bool // at high line, else at nominal
	pulled    bool // output tubes out
	full      bool // full drive
	warm      bool // everything warm from the start, standby closed
	misused   bool // standby closed from the start
	EndS      float64
}

// settleS is run after the last event before the steady second is read.
const settleS = 8

// Services gives the cases of this supply: the mandatory ones first.
func (m *Model) Services() []Service {
	cold := Service{Name: "cold_start", Title: "cold start at high line", Mandatory: true, high: true,
		Text: "Mains on with every tube cold; the rectifier as early and the loads as late as they come."}
	list := []Service{cold}
	if m.standby != nil {
		list[0].Text += " The standby is used as intended."
		list = append(list, Service{Name: "standby_misused", Title: "cold start with the standby left closed", Mandatory: true, high: true, misused: true,
			Text: "The standby is already closed when the mains comes on, or is closed before the tubes are warm."})
	}
	if m.hasOutput() {
		list = append(list, Service{Name: "tubes_pulled", Title: "output tubes pulled", Mandatory: true, high: true, pulled: true,
			Text: "Mains on with the output tubes out of their sockets; the other stages draw once warm."})
	}
	list = append(list,
		Service{Name: "full_drive", Title: "full drive at high line", high: true, full: true, warm: true,
			Text: "Everything warm and driven in full: the ripple current and the working voltage."},
		Service{Name: "idle_nominal", Title: "idle at nominal mains", warm: true,
			Text: "Everything warm and idling: to hold against the readings."})
	for i := range list {
		list[i].EndS = m.endOf(&list[i])
	}
	return list
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
	if m.standby != nil && !s.misused {
		end = math.Max(end, m.standby.CloseS)
	}
	return math.Ceil(end) + math.Max(settleS, 2+6*m.slowestS())
}

// slowestS is the longest of the droppers' own time constants: what a node
// needs to follow the one before it.
func (m *Model) slowestS() float64 {
	slowest := 0.0
	for i := range m.Nodes {
		n := &m.Nodes[i]
		if n.series == nil || n.series.ROhm == nil {
			continue
		}
		c := 0.0
		for _, s := range n.stacks {
			c += seriesUF(s)
		}
		slowest = math.Max(slowest, *n.series.ROhm*c*1e-6)
	}
	return math.Min(slowest, 20)
}

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
	if s.high {
		c.Mains.Factor = m.HighV / m.NominalV
	}
	c.Rectifier.Diode.WarmUp = m.earliest
	if s.warm {
		c.Rectifier.Diode.WarmUp = nil
	}
	if m.standby != nil && !s.warm && !s.misused {
		sw := *m.standby
		sw.CloseS = m.atPeak(sw.CloseS)
		c.Standby = &sw
	}
	for i := range m.Nodes {
		c.Nodes = append(c.Nodes, m.circuitNode(i, s, thresholds))
	}
	return c
}

// atPeak moves a switch's closing to the mains peak after it: the worst instant.
func (m *Model) atPeak(t float64) float64 {
	half := 0.5 / m.FrequencyHz
	offset := (0.25 - m.phaseDeg/360) / m.FrequencyHz
	return math.Ceil((t-offset)/half)*half + offset
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
	if len(n.stacks) > 0 {
		out.Caps, out.Beside = n.stacks[0], n.stacks[1:]
	}
	var loads []Load
	for _, l := range n.loads {
		if s.pulled && l.output {
			continue
		}
		load := Load{I0MA: l.idleMA, V0: l.v0, Alpha: l.alpha, WarmUp: l.latest}
		if s.full {
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

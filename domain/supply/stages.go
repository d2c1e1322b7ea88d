package supply

import (
	"fmt"
	"math"

	"coldrise/domain/amp"
	"coldrise/domain/tube"
)

// makeLoads turns each node's current into loads with the warm-up of their tubes.
func (m *Model) makeLoads(s *amp.Supply) {
	for i := range s.Nodes {
		n := &m.Nodes[i]
		if len(s.Nodes[i].Loads) == 0 {
			if n.ownMA > 0 {
				n.loads = []modelLoad{m.unnamedLoad(n)}
			}
			continue
		}
		stated, open := statedCurrent(&s.Nodes[i])
		rest := 0.0
		if open > 0 {
			rest = math.Max(n.ownMA-stated, 0) / float64(open)
		}
		for k := range s.Nodes[i].Loads {
			if l := m.namedLoad(&s.Nodes[i].Loads[k], n, rest, fmt.Sprintf("%s/nodes/%d/loads/%d", m.pointer, i, k)); l.idleMA > 0 {
				n.loads = append(n.loads, l)
			}
		}
	}
	m.findOutput()
}

// findOutput takes the largest load of unknown stage for the output stage where
// none is known: a supply whose output tubes can be pulled must be judged so.
func (m *Model) findOutput() {
	if m.Negative || m.hasOutput() {
		return
	}
	var most *modelLoad
	at := 0
	for i := range m.Nodes {
		for k := range m.Nodes[i].loads {
			l := &m.Nodes[i].loads[k]
			if l.stageUnknown && (most == nil || l.idleMA > most.idleMA) {
				most, at = l, i
			}
		}
	}
	if most == nil {
		return
	}
	most.output = true
	m.assume(fmt.Sprintf("%s/nodes/%d/loads/0/stage", m.pointer, at), most.idleMA, "mA", "common practice: the largest load is the output stage",
		"the load on node %s goes when the output tubes are pulled", m.Nodes[at].Name)
}

func isOutput(l *amp.Load) bool {
	if l.Stage != "" {
		return l.Stage == "output"
	}
	t, ok := tube.LookupReceiving(l.Tube)
	return ok && t.Kind == tube.Output
}

// unnamedLoad is a node's load of which only the current is known. A bias
// supply feeds resistors.
func (m *Model) unnamedLoad(n *ModelNode) modelLoad {
	l := modelLoad{idleMA: n.ownMA, fullMA: n.ownMA, v0: n.LoadedV}
	if m.Negative {
		l.alpha, l.fromTheFirstTick = 1, true
		return l
	}
	l.alpha, l.stageUnknown = tubeExponent, true
	l.nominal, l.latest = smoothstep(tube.SmallFromS, tube.SmallToS), smoothstep(tube.SmallLatestFromS, tube.SmallLatestToS)
	return l
}

func (m *Model) namedLoad(l *amp.Load, n *ModelNode, restMA float64, pointer string) modelLoad {
	count := float64(max(l.Count, 1))
	out := modelLoad{v0: n.LoadedV, alpha: tubeExponent, output: isOutput(l), stageUnknown: l.Tube == "" && l.Stage == "", idleMA: restMA}
	if l.IdleMA != nil {
		out.idleMA = *l.IdleMA * count
	}
	if l.AtV != nil {
		out.v0 = *l.AtV
	}
	out.fullMA, out.pushPull = m.fullDrive(l, out, count, pointer), count >= 2
	t, ok := tube.LookupReceiving(l.Tube)
	out.nominal, out.latest = smoothstep(tube.SmallFromS, tube.SmallToS), smoothstep(tube.SmallLatestFromS, tube.SmallLatestToS)
	if ok {
		out.nominal, out.latest = smoothstep(t.WarmFromS, t.WarmToS), smoothstep(t.LatestFromS, t.LatestToS)
	}
	if l.Stage == "resistive" {
		out.alpha, out.fromTheFirstTick = 1, true
	}
	if l.WarmUp != nil {
		out.nominal, out.latest, out.fromTheFirstTick = l.WarmUp, l.WarmUp, false
	}
	if l.Exponent != nil {
		out.alpha = *l.Exponent
	}
	return out
}

func (m *Model) fullDrive(l *amp.Load, out modelLoad, count float64, pointer string) float64 {
	if l.FullMA != nil {
		return *l.FullMA * count
	}
	if !out.output || count < 2 {
		return out.idleMA
	}
	full := out.idleMA * pushPullFull
	m.assume(pointer+"/full_ma", full/count, "mA", "common practice: a class-AB stage draws 1.6 times its idle current",
		"current per tube at full drive")
	return full
}

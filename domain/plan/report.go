package plan

import (
	"fmt"
	"strings"

	"coldrise/domain/amp"
	"coldrise/domain/supply"
)

// report is what the plan says of a supply.
func (r *run) report(a *amp.Amplifier) Supply {
	m := r.model
	out := Supply{
		Name: m.Name, Connection: string(m.Connection), Polarity: "positive", Rectifier: m.Rectifier,
		UnloadedV: m.UnloadedV, SourceOhm: m.SourceOhm, NoLoadV: m.NoLoadV(), Standby: r.standbyAdvice(),
	}
	if m.Negative {
		out.Polarity = "negative"
	}
	for _, s := range r.services {
		out.Cases = append(out.Cases, Case{Name: s.Name, Title: s.Title, Mandatory: s.Mandatory, Text: s.Text})
	}
	_, out.InrushA, out.InrushOf = r.rectifierPeaks()
	for i := range m.Nodes {
		out.Nodes = append(out.Nodes, r.node(i))
	}
	out.Limits = append(r.rectifierLimits(), r.tubeLimits(a)...)
	return out
}

func (r *run) node(i int) Node {
	n := &r.model.Nodes[i]
	out := Node{Name: n.Name, GivenV: n.ReadingV, LoadMA: n.IdleMA()}
	for k, s := range r.services {
		res := r.results[k].Nodes[i]
		switch s.Name {
		case "idle_nominal":
			out.LoadedV = res.SteadyMeanV
		case "idle_high":
			out.HighV = res.SteadyMeanV
		}
		if s.Mandatory && res.PeakV > out.ColdV {
			out.ColdV, out.ColdCase = res.PeakV, s.Title
		}
	}
	return out
}

// result gives a case's result, or nil.
func (r *run) result(name string) *supply.Result {
	for k, s := range r.services {
		if s.Name == name {
			return r.results[k]
		}
	}
	return nil
}

// overshootKept is how far above its working voltage a node may come and the
// switch still counts as having removed the overshoot.
const overshootKept = 1.03

// standbyAdvice says what the switch does and does not protect: its place in
// the supply and the moment it is closed decide, and the two cold starts show it.
func (r *run) standbyAdvice() string {
	position, closesS := r.model.Standby()
	intended, misused, high := r.result("cold_start"), r.result("standby_misused"), r.result("idle_high")
	if position == "" || misused == nil {
		return "no standby switch: every node takes the cold start as it comes"
	}
	wait := fmt.Sprintf("closed %.3g s after mains on", closesS)
	first := 0
	place := "ahead of the reservoir"
	if position == "after_reservoir" {
		first, place = 1, "behind the reservoir"
	}
	worst := r.worstRise(intended, high, first)
	text := fmt.Sprintf("the switch is %s. %s it ", place, sentence(wait))
	at := intended.Nodes[worst]
	if at.PeakV <= overshootKept*high.Nodes[worst].SteadyMaxV {
		protects := "protects every node"
		if first > 0 {
			protects = "protects only the nodes behind it"
		}
		text += fmt.Sprintf("%s: none rises over its working voltage (%s to %.0f V, against %.0f V with the switch left closed).", protects, at.Node, at.PeakV, misused.Nodes[worst].PeakV)
	} else {
		text += fmt.Sprintf("does not keep the nodes to their working voltages: the last tubes may not be warm, which can take %.0f s, and %s still peaks at %.0f V, %.0f V over its own. A wait of 10 to 15 s is common practice for small tubes; large ones take longer.",
			r.model.WarmS(), at.Node, at.PeakV, at.PeakV-high.Nodes[worst].SteadyMaxV)
	}
	if position == "after_reservoir" {
		text += fmt.Sprintf(" The reservoir itself stands at the full no-load voltage, %.0f V, for the whole wait: its rating must carry that.", intended.Nodes[0].PeakV)
	}
	return text + fmt.Sprintf(" Left closed it protects nothing, so ratings must carry %.0f V. Closing it on hot tubes drives %.3g A through it and the rectifier for a moment.",
		misused.Nodes[worst].PeakV, r.hotCloseA())
}

// standbyNeed says whether the switch is needed for the capacitors' sake, at
// the ratings kept and picked: each of those holds the cold start with the
// switch left closed, so only a position without one can need it.
func (r *run) standbyNeed(positions []Position) string {
	if position, _ := r.model.Standby(); position == "" {
		return ""
	}
	var open []string
	for _, place := range r.model.Places {
		if p := &positions[place.Position]; p.Action == NoPart || p.Action == MeasureFirst {
			open = append(open, p.Ref)
		}
	}
	if len(open) > 0 {
		return " It is needed until a part is settled for " + strings.Join(open, ", ") + "."
	}
	return " At the ratings kept and picked it is not needed for the capacitors' sake."
}

// worstRise is the node, from the given one on, that rises most over its working voltage.
func (r *run) worstRise(cold, high *supply.Result, from int) int {
	worst := from
	for i := from; i < len(cold.Nodes); i++ {
		if cold.Nodes[i].PeakV*high.Nodes[worst].SteadyMaxV > cold.Nodes[worst].PeakV*high.Nodes[i].SteadyMaxV {
			worst = i
		}
	}
	return worst
}

// hotCloseA is the rectifier's highest peak when the standby is closed on hot tubes.
func (r *run) hotCloseA() float64 {
	most := 0.0
	if res := r.result("standby_hot"); res != nil {
		for _, d := range res.Diodes {
			most = max(most, d.PeakA)
		}
	}
	return most
}

func sentence(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

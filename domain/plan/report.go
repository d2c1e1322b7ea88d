package plan

import (
	"fmt"

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
		case "cold_start":
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

// standbyAdvice says what the switch does and does not protect: its place in
// the supply decides, and the two cold starts show it.
func (r *run) standbyAdvice() string {
	position, closesS := r.model.Standby()
	intended, misused := r.result("cold_start"), r.result("standby_misused")
	if position == "" {
		return "no standby switch: every node takes the cold start as it comes"
	}
	if misused == nil {
		return ""
	}
	first := intended.Nodes[0]
	rise := func(n supply.NodeResult) float64 { return n.PeakV - n.SteadyMaxV }
	last := intended.Nodes[len(intended.Nodes)-1]
	lastMisused := misused.Nodes[len(misused.Nodes)-1]
	wait := fmt.Sprintf("closed %.3g s after mains on", closesS)
	if position == "after_reservoir" {
		return fmt.Sprintf("the switch is behind the reservoir: %s it protects only the nodes behind it (%s peaks at %.0f V, against %.0f V with the switch left closed). "+
			"The reservoir stands at the full no-load voltage, %.0f V, for the whole wait; its rating must carry that.",
			wait, last.Node, last.PeakV, lastMisused.PeakV, first.PeakV)
	}
	if warm := r.model.WarmS(); closesS < warm {
		return fmt.Sprintf("the switch is ahead of the reservoir but, %s, the last tubes may not be warm, which can take %.0f s: %s peaks at %.0f V, %.0f V over its working voltage. "+
			"Closed before the tubes are warm it protects nothing; a wait of 10 to 15 s is common practice for small tubes.",
			wait, warm, first.Node, first.PeakV, rise(first))
	}
	return fmt.Sprintf("the switch is ahead of the reservoir: %s, on warm tubes, it keeps %s to %.0f V, against %.0f V with the switch left closed. "+
		"Left closed it protects nothing, so ratings must still carry the higher figure.",
		wait, first.Node, first.PeakV, misused.Nodes[0].PeakV)
}

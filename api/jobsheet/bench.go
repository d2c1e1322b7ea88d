package jobsheet

import (
	"fmt"
	"math"
	"strings"

	"coldrise/domain/derate"
	"coldrise/domain/plan"
)

// discharge prints how each supply empties, node by node.
func (s *sheet) discharge(list []plan.Discharge, plug *plan.PlugDischarge) {
	s.title("DISCHARGE (mains off and unplugged; then measure, whatever stands here)")
	for i := range list {
		d := &list[i]
		s.linef("  supply %s: %.3g J at %.0f V", d.Supply, d.EnergyJ, d.FromV)
		s.linef("  %-8s %9s %9s  %-8s %10s %10s   %s", "node", "most", "energy", "standby", "to 60 V", "to 50 V", "with the worst bleeder open")
		for _, n := range d.Nodes {
			for k, w := range n.Ways {
				name, uf, j := n.Node, farads(n.CapacitanceUF), fmt.Sprintf("%.3g J", n.EnergyJ)
				if k > 0 {
					name, uf, j = "", "", ""
				}
				s.linef("  %-8s %9s %9s  %-8s %10s %10s   %s", name, uf, j, w.Standby, falls(w.Proven, w.To60S), falls(w.Proven, w.To50S), worstOpen(&w))
			}
		}
		s.item("  ", d.Text)
		for _, b := range d.Bleeders {
			s.item("  proposed: ", b.Text+".")
			s.item("            rule: ", b.Rule+".")
		}
		s.item("  basis: ", d.Basis+".")
	}
	if plug != nil {
		s.item("  plug: ", plug.Text+".")
		for _, l := range plug.Limits {
			s.item("        ", fmt.Sprintf("%s: at most %s, with the tolerances (%s)", l.Text, resistance(l.MaxOhm), l.Source))
		}
	}
}

// falls prints a time, or that none can be given.
func falls(proven bool, s float64) string {
	if !proven {
		return "no path"
	}
	return seconds(s)
}

// seconds rounds up: a time to wait is never told short.
func seconds(s float64) string {
	switch {
	case s <= 0:
		return "below"
	case s < 10:
		return fmt.Sprintf("%.1f s", math.Ceil(s*10)/10)
	case s < 600:
		return fmt.Sprintf("%.0f s", math.Ceil(s))
	}
	return fmt.Sprintf("%.0f min", math.Ceil(s/60))
}

func worstOpen(w *plan.Way) string {
	switch {
	case !w.Proven:
		return "no safe time can be given"
	case w.OneOpen == nil:
		return ""
	case !w.OneOpen.Proven:
		return "no path: " + strings.TrimPrefix(w.OneOpen.Which, "the ")
	}
	return fmt.Sprintf("%s, %s", seconds(w.OneOpen.To60S), seconds(w.OneOpen.To50S))
}

// condition prints the state of what is fitted, reading by reading.
func (s *sheet) condition(c *derate.Condition) {
	if len(c.Signs) == 0 {
		return
	}
	s.item("      condition  ", strings.ToUpper(c.Verdict))
	for _, x := range c.Signs {
		text := x.Text
		if x.Verdict == derate.CondSuspect || x.Verdict == derate.CondReplace {
			text += " [" + x.Source + "]"
		}
		s.item(fmt.Sprintf("                 %-8s ", x.Verdict), text)
	}
	for _, n := range c.Next {
		s.item("                 to decide: ", n)
	}
}

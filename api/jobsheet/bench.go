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
			s.item("        ", fmt.Sprintf("%s: at most %s, the resistor at its upper tolerance (%s)", l.Text, resistance(l.MaxOhm), l.Source))
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

// bringUp prints the first power-up, step by step.
func (s *sheet) bringUp(b *plan.BringUp) {
	s.title("BRING-UP (after the work; what each node should read, and where to stop)")
	for i, step := range b.Steps {
		s.item(fmt.Sprintf("  %d. ", i+1), sentence(step.Title)+".")
		s.item("     ", step.Text)
		s.linef("     %-14s %16s %12s %12s", "node", "settles to", "first up to", "STOP above")
		for _, n := range step.Nodes {
			window := fmt.Sprintf("%.0f to %.0f V", n.LowV, n.HighV)
			if n.HighV == 0 {
				window = "nothing"
			}
			mark := ""
			if n.Rated {
				mark = " (a capacitor's rating)"
			}
			s.linef("     %-14s %16s %10.0f V %10.0f V%s", n.Supply+"/"+n.Node, window, n.FirstV, n.StopV, mark)
		}
		s.item("     ", fmt.Sprintf("at %.4g V on the wall: scale by its reading.", step.WallV))
	}
	s.afterPicks(b)
	for _, n := range b.Notes {
		s.item("  - ", n)
	}
	s.item("  basis: ", b.Basis+".")
}

// afterPicks prints what the parts picked have changed.
func (s *sheet) afterPicks(b *plan.BringUp) {
	var moves []string
	for _, n := range b.After {
		moves = append(moves, fmt.Sprintf("%s/%s %.0f V (was %.0f V)", n.Supply, n.Node, n.AfterV, n.BeforeV))
	}
	s.item("  idle after the work, nominal mains: ", strings.Join(moves, ", ")+".")
	for _, x := range b.Idle {
		memory := ""
		if x.FromMemory {
			memory = " (limit from memory)"
		}
		s.item("  output tubes: ", x.Text+memory+".")
	}
	if b.Inrush != nil {
		s.item("  fuse: ", sentence(b.Inrush.Text)+".")
		s.item("        ", "("+b.Inrush.Basis+".)")
	}
	for _, c := range b.Cans {
		s.item("  live can: ", c.Text+".")
	}
}

func sentence(text string) string { return strings.ToUpper(text[:1]) + text[1:] }

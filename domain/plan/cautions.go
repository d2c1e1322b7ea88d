package plan

import (
	"fmt"
	"strings"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
)

// cautions are what must stand with every plan, then what this amplifier adds.
func cautions(a *amp.Amplifier, runs []*run, p *Plan) []string {
	list := []string{
		"These voltages kill, plugged in or not. This work is for people trained to do it; local codes and licensed practice come first, before anything said here.",
		"Mains off and unplugged before hands go in. Discharge every capacitor through a resistor and then measure it: a standby switch, an open dropper or a failed bleeder can leave one charged.",
		"A discharged electrolytic recovers part of its voltage by itself (dielectric absorption, 10 to 15 %): leave a discharge resistor across it while you work.",
		"For live readings keep one hand clear of the chassis, use probes rated for the no-load voltage, and stand on something dry.",
		"Mind polarity: the negative of a bias capacitor goes to the bias side. A reversed electrolytic vents; wear eye protection and keep clear of the vent at first power-up.",
		"First power-up through an isolating supply with current limiting; watch the nodes against the plan's cold voltages and stop above them.",
	}
	for i, r := range runs {
		list = append(list, p.Discharge[i].Text)
		for _, l := range append(r.rectifierLimits(), r.tubeLimits(a)...) {
			if !l.Kept {
				list = append(list, "Supply "+r.model.Name+": "+l.Text+".")
			}
		}
		list = append(list, readingCautions(r)...)
	}
	if p.Plug != nil {
		list = append(list, p.Plug.Text+".")
	}
	if cans := p.BringUp.Cans; len(cans) > 0 {
		var at []string
		for _, c := range cans {
			at = append(at, fmt.Sprintf("%s %.0f V", c.Ref, c.V))
		}
		list = append(list, "Live cans, against chassis: "+strings.Join(at, ", ")+". Insulate their mounting, sleeve them, and mark them.")
	}
	return append(list, placeCautions(a, p.Positions)...)
}

// readingCautions names nodes whose reading the model cannot reproduce.
func readingCautions(r *run) []string {
	var list []string
	for i := range r.model.Nodes {
		n := r.node(i)
		if n.GivenV == nil || n.LoadedV == 0 {
			continue
		}
		if off := n.LoadedV / *n.GivenV - 1; off > 0.06 || off < -0.06 {
			list = append(list, fmt.Sprintf("Supply %s, node %s: its reading is %.0f V but the figures given make it %.0f V. Check the dropper, the currents and the wall volts before trusting either.",
				r.model.Name, n.Name, *n.GivenV, n.LoadedV))
		}
	}
	return list
}

func placeCautions(a *amp.Amplifier, positions []Position) []string {
	var list []string
	stack, mains := false, false
	for i := range a.Positions {
		stack = stack || a.Positions[i].Stack > 0
		mains = mains || a.Positions[i].Role == amp.MainsX || a.Positions[i].Role == amp.MainsY
	}
	if stack {
		list = append(list, "The upper unit of a series stack has its can at half the supply: insulate its mounting, and renew the balancing resistors with the capacitors. Measure across each unit: one may stay charged while the node reads nothing.")
	}
	for i := range a.Supplies {
		if a.Supplies[i].Polarity == "negative" {
			list = append(list, "Capacitors of the "+a.Supplies[i].Name+" supply have their positive at chassis and their can at the negative rail. Check the bias before the output tubes go in: without it they draw until something burns.")
		}
	}
	if mains {
		list = append(list, "Positions on the mains take class X or Y parts only; their work, and any earthed cord, belongs to licensed practice.")
	}
	if anySuspect(positions, "leakage") {
		list = append(list, derate.ReformCaution)
	}
	for i := range positions {
		if positions[i].Action == Remove {
			list = append(list, "Until "+positions[i].Ref+" is out, the chassis can be live at mains voltage.")
		}
	}
	return list
}

// anySuspect says whether a reading of that name leaves a kept part in doubt.
func anySuspect(positions []Position, name string) bool {
	for i := range positions {
		if positions[i].Fitted == nil {
			continue
		}
		for _, s := range positions[i].Fitted.Condition.Signs {
			if s.Name == name && s.Verdict == derate.CondSuspect {
				return true
			}
		}
	}
	return false
}

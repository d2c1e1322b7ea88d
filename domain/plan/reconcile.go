package plan

import (
	"math"

	"coldrise/domain/amp"
)

// Tolerances of a node's two readings, %. Common practice: drawings promise
// their voltages within 10 %, a bench meter and a steady wall give 2 %.
const (
	drawnTolPct = 10
	readTolPct  = 2
)

// Finding is a node whose measured and drawn voltages disagree beyond their
// tolerances, both carried to the nominal mains.
type Finding struct {
	Supply       string  `json:"supply"`
	Node         string  `json:"node"`
	SchematicV   float64 `json:"schematic_v"`
	MeasuredV    float64 `json:"measured_v"`
	OffPct       float64 `json:"off_pct" doc:"Measured over schematic, less one"`
	TolerancePct float64 `json:"tolerance_pct"`
	// Cause is one of a fixed table; Tell is the reading that would tell it from the others.
	Cause string `json:"cause" enum:"line_or_tap_high,line_low_or_rectifier_weak,dropper_or_leak,stages_not_drawing,follows_its_feeder"`
	Text  string `json:"text"`
	Tell  string `json:"tell"`
}

// cause is one row of the table of usual causes. Common practice.
type cause struct{ name, text, tell string }

var (
	lineHigh = cause{"line_or_tap_high", "every node is high in about the same ratio: the wrong mains tap, or a line above the drawing's",
		"read the wall and a heater winding: heaters high in the same ratio mean line or tap"}
	lineLow = cause{"line_low_or_rectifier_weak", "every node is low in about the same ratio: a low line, the wrong tap, or a weak rectifier",
		"read a heater winding: right, and the rectifier drops too much (try a known good one); low in the same ratio, and it is line or tap"}
	leak = cause{"dropper_or_leak", "low while its feeder is right: its dropper has drifted high, or it feeds too much (a leaky capacitor, a leaky coupling capacitor pulling a stage on)",
		"with mains off and the node discharged, measure the dropper; if it is right, the drop across it over its ohms is the current: compare with the stages' cathode volts"}
	idleStages = cause{"stages_not_drawing", "high while its feeder is right: the stages behind it draw too little (a worn or missing tube, an open cathode resistor), or its dropper has drifted low",
		"read the stages' cathode volts: none across a cathode resistor means no current"}
)

// follows is the row for a node that is off only because its feeder is.
var follows = cause{"follows_its_feeder", "off with the node that feeds it, in about the same ratio: look there first",
	"settle the feeder, then read this node again"}

// alike is how far the ratios of a supply's nodes may spread, %, and still
// count as one ratio.
const alike = 6

// reconcile holds measured against drawn voltages, supply by supply.
func reconcile(a *amp.Amplifier) []Finding {
	list := []Finding{}
	for i := range a.Supplies {
		list = append(list, reconcileSupply(a, &a.Supplies[i])...)
	}
	return list
}

func reconcileSupply(a *amp.Amplifier, s *amp.Supply) []Finding {
	ratios := make([]float64, len(s.Nodes)) // 0 where a node lacks either reading
	low, high, both := math.Inf(1), 0.0, 0
	for i := range s.Nodes {
		if drawn, read, ok := readings(&a.Mains, &s.Nodes[i]); ok {
			ratios[i] = read / drawn
			low, high, both = math.Min(low, ratios[i]), math.Max(high, ratios[i]), both+1
		}
	}
	together := both > 1 && (high/low-1)*100 <= alike
	var list []Finding
	for i := range s.Nodes {
		off := (ratios[i] - 1) * 100
		if ratios[i] == 0 || math.Abs(off) <= drawnTolPct+readTolPct {
			continue
		}
		c := likely(ratios, i, s.Feeder(i), together)
		drawn, read, _ := readings(&a.Mains, &s.Nodes[i])
		list = append(list, Finding{Supply: s.Name, Node: s.Nodes[i].Name, SchematicV: drawn, MeasuredV: read, OffPct: off,
			TolerancePct: drawnTolPct + readTolPct, Cause: c.name, Text: c.text,
			Tell: c.tell + ". Live readings are for people trained to take them, with probes rated for the no-load voltage"})
	}
	return list
}

// likely picks the cause: of the whole supply where its nodes are off
// together or the node has no feeder to compare with, else of the node alone.
func likely(ratios []float64, i, feeder int, together bool) cause {
	up := ratios[i] > 1
	alone := !together && feeder >= 0 && ratios[feeder] != 0
	switch {
	case alone && math.Abs(ratios[i]/ratios[feeder]-1)*100 <= alike && (ratios[feeder] > 1) == up:
		return follows
	case alone && up && ratios[i] > ratios[feeder]:
		return idleStages
	case alone && !up && ratios[i] < ratios[feeder]:
		return leak
	case up:
		return lineHigh
	}
	return lineLow
}

// readings gives a node's drawn and measured volts at nominal mains.
func readings(w *amp.Mains, n *amp.Node) (drawn, read float64, ok bool) {
	if n.SchematicV == nil || n.MeasuredV == nil {
		return 0, 0, false
	}
	drawn, read = *n.SchematicV, *n.MeasuredV
	if w.SchematicV != nil {
		drawn *= w.NominalV / *w.SchematicV
	}
	if w.MeasuredAtV != nil {
		read *= w.NominalV / *w.MeasuredAtV
	}
	return drawn, read, true
}

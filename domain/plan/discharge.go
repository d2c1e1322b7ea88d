package plan

import (
	"context"
	"fmt"
	"math"
	"strings"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/quantity"
	"coldrise/domain/supply"
)

// safeV is where common practice begins to call a discharged supply safe to
// touch; the ES1 direct-voltage limit of IEC 62368-1 is 60 V (from memory).
// lowerV is asked for beside it.
const (
	safeV  = 60
	lowerV = 50
)

// Discharge is how a supply empties once the mains is off: through resistors
// that are stated to be there, never through a leakage.
type Discharge struct {
	Supply string `json:"supply"`
	// FromV is where every node starts: the highest cold voltage of any of them, at the high end of its band.
	FromV        float64         `json:"from_v"`
	EnergyJ      float64         `json:"energy_j" doc:"Of all capacitors at from_v"`
	RecoverLowV  float64         `json:"recover_low_v" doc:"What may come back by itself after a short discharge, dielectric absorption of 10 %"`
	RecoverHighV float64         `json:"recover_high_v" doc:"The same for 15 %"`
	Nodes        []NodeDischarge `json:"nodes"`
	Bleeders     []BleederAdvice `json:"bleeders" doc:"What would discharge what has no proven path, or a slow one"`
	Basis        string          `json:"basis"`
	Text         string          `json:"text"`
}

// NodeDischarge is one node's way down, for each position of the standby.
type NodeDischarge struct {
	Node string `json:"node"`
	// CapacitanceUF is the most that may stand here: fitted or picked, whichever is more, at its upper tolerance.
	CapacitanceUF float64 `json:"capacitance_uf"`
	EnergyJ       float64 `json:"energy_j"`
	Ways          []Way   `json:"ways"`
}

// Way is a node's path to chassis in one position of the standby.
type Way struct {
	Standby string   `json:"standby" enum:"none,either,closed,open"`
	Proven  bool     `json:"proven" doc:"False: no safe time can be given; discharge and measure"`
	Through []string `json:"through" doc:"Every resistor to chassis that takes part"`
	To60S   float64  `json:"to_60_s,omitempty" doc:"Seconds to 60 V; left out where it starts below, or no path is proven"`
	To50S   float64  `json:"to_50_s,omitempty"`
	// OneOpen is the same with the one bleeder open that matters most.
	OneOpen *OneOpen `json:"one_open,omitempty"`
}

// OneOpen is a way with its worst single failure.
type OneOpen struct {
	Which  string  `json:"which"`
	Proven bool    `json:"proven"`
	To60S  float64 `json:"to_60_s,omitempty"`
	To50S  float64 `json:"to_50_s,omitempty"`
}

// standbys are the positions of the switch that differ in what they discharge.
func standbys(m *supply.Model) []string {
	switch position, _ := m.Standby(); position {
	case "":
		return []string{"none"}
	case "after_reservoir":
		return []string{"closed", "open"}
	}
	return []string{"either"}
}

const dischargeBasis = "every node from the highest cold voltage at high line; capacitors fitted or picked, whichever is more, at their upper tolerance " +
	"(+50 % where an old one states none), every resistor 10 % above its value; only bleeders, balancing resistors, droppers and chokes count, no leakage and no tube"

// discharge works out how one supply empties, with what the positions hold by now.
func (r *run) discharge(ctx context.Context, described *amp.Amplifier, positions []Position, p derate.Policy) (Discharge, error) {
	drain := func(open bool) *supply.Drain { return r.drain(open, described, positions) }
	m := r.model
	d := Discharge{Supply: m.Name, FromV: r.highestColdV(positions), Basis: dischargeBasis, Bleeders: []BleederAdvice{}}
	d.RecoverLowV, d.RecoverHighV = derate.RecoveryLow*d.FromV, derate.RecoveryHigh*d.FromV
	closed := drain(false)
	for i := range m.Nodes {
		n := NodeDischarge{Node: m.Nodes[i].Name, CapacitanceUF: closed.Farads(i) * 1e6, EnergyJ: derate.EnergyJ(closed.Farads(i), d.FromV)}
		for _, standby := range standbys(m) {
			n.Ways = append(n.Ways, wayOf(drain(standby == "open"), i, standby, d.FromV))
		}
		d.EnergyJ += n.EnergyJ
		d.Nodes = append(d.Nodes, n)
	}
	if d.FromV > safeV {
		var err error
		if d.Bleeders, err = r.bleeders(ctx, drain(true), d.FromV, p); err != nil {
			return d, err
		}
	}
	d.Text = d.text()
	return d, nil
}

// oldTolPct is the upper tolerance of a capacitor that states none: old cans
// were sold to +50 % (Vishay 042/043 ASH, code T, still is).
const oldTolPct = 50

// drain is the supply with the mains off and the most capacitance that may
// stand at each node.
func (r *run) drain(open bool, described *amp.Amplifier, positions []Position) *supply.Drain {
	d := r.model.With(func(place supply.Place) (supply.Capacitor, bool) {
		c := r.model.CapacitorAt(place)
		c.CapacitanceUF = mostUF(c.CapacitanceUF, &described.Positions[place.Position], &positions[place.Position])
		return c, true
	}).Drain(open)
	for i := range r.model.Nodes {
		known := false
		for _, place := range r.model.Places {
			known = known || place.Node == r.model.Nodes[i].Name
		}
		if !known {
			d = d.Scaled(i, 1+oldTolPct/100.)
		}
	}
	return d
}

// mostUF is the most that may stand at a position where the model has nominal
// µF: what is fitted at its upper tolerance, or as it was read where that is
// more, or the part picked at its own.
func mostUF(nominal float64, described *amp.Position, p *Position) float64 {
	plus := float64(oldTolPct)
	if f := described.Fitted; f != nil && f.TolPlusPct != nil {
		plus = *f.TolPlusPct
	}
	most := nominal * (1 + plus/100)
	if f := described.Fitted; f != nil && f.Readings != nil && f.Readings.CapacitanceUF != nil {
		most = math.Max(most, *f.Readings.CapacitanceUF)
	}
	if p.Pick != nil {
		most = math.Max(most, p.Pick.CapacitanceUF*(1+p.Pick.TolPlusPct/100))
	}
	return most
}

// highestColdV is the highest mandatory voltage of any node, raised to the high
// end of the band where one was worked out.
func (r *run) highestColdV(positions []Position) float64 {
	most := 0.0
	for i := range r.model.Nodes {
		v, raise := r.node(i).ColdV, 1.0
		for _, place := range r.model.Places {
			if b := positions[place.Position].Stress.ColdBand; place.Node == r.model.Nodes[i].Name && b != nil && b.Likely > 0 {
				raise = math.Max(raise, b.High/b.Likely)
			}
		}
		most = math.Max(most, v*raise)
	}
	return most
}

// slow is how much slower the resistors' tolerance makes a discharge: all times
// go as the resistances.
const slow = 1 + derate.ResistorTolPct/100.

func wayOf(d *supply.Drain, node int, standby string, fromV float64) Way {
	w := Way{Standby: standby, Through: []string{}}
	w.Proven, w.To60S, w.To50S = times(d, node, fromV)
	for k, b := range d.Bleeders() {
		if !sameGroup(d, node, b.Node) {
			continue
		}
		w.Through = append(w.Through, b.Name)
		open := OneOpen{Which: b.Name}
		open.Proven, open.To60S, open.To50S = times(d.Without(k), node, fromV)
		if w.OneOpen == nil || open.To50S > w.OneOpen.To50S {
			w.OneOpen = &open
		}
	}
	return w
}

func times(d *supply.Drain, node int, fromV float64) (proven bool, to60, to50 float64) {
	a, ok := d.SecondsTo(fromV, safeV)
	b, _ := d.SecondsTo(fromV, lowerV)
	return ok[node], a[node] * slow, b[node] * slow
}

func sameGroup(d *supply.Drain, a, b int) bool {
	for _, group := range d.Groups() {
		hasA, hasB := false, false
		for _, i := range group {
			hasA, hasB = hasA || i == a, hasB || i == b
		}
		if hasA && hasB {
			return true
		}
	}
	return false
}

// text says of a supply what must be known before hands go in.
func (d *Discharge) text() string {
	head := fmt.Sprintf("Supply %s holds up to %.3g J at %.0f V.", d.Supply, d.EnergyJ, d.FromV)
	if d.FromV <= safeV {
		return head + " It stays below 60 V, but may sit under nodes that do not."
	}
	var texts []string
	for k := range d.Nodes[0].Ways {
		texts = append(texts, d.wayText(k))
	}
	switch {
	case d.Nodes[0].Ways[0].Standby == "none":
		head += " " + sentence(texts[0])
	case len(texts) == 1 || texts[0] == texts[1]:
		head += " Whichever way the standby stands " + texts[0]
	default:
		head += " With the standby closed " + texts[0] + " With it open " + texts[1]
	}
	return head + fmt.Sprintf(" After a short discharge %.0f to %.0f V may come back by itself.", d.RecoverLowV, d.RecoverHighV)
}

// wayText says of one position of the standby how the nodes fall; it begins small.
func (d *Discharge) wayText(k int) string {
	var without []string
	slowestNode, to60, alone := "", 0.0, false
	for _, n := range d.Nodes {
		w := n.Ways[k]
		switch {
		case !w.Proven:
			without = append(without, n.Node)
		case w.To60S >= to60:
			slowestNode, to60 = n.Node, w.To60S
		}
		alone = alone || w.OneOpen != nil && !w.OneOpen.Proven
	}
	text := ""
	if slowestNode != "" {
		text = fmt.Sprintf("%s falls below 60 V in %.0f s at most", slowestNode, math.Ceil(to60))
		if len(d.Nodes)-len(without) > 1 {
			text = fmt.Sprintf("the last node (%s) falls below 60 V in %.0f s at most", slowestNode, math.Ceil(to60))
		}
		if alone {
			text += ", and for ever if one bleeder is open"
		}
		text += "."
	}
	if len(without) == len(d.Nodes) {
		text = "no resistor is proven to discharge any node: no safe time can be given. Discharge and measure."
	} else if len(without) > 0 {
		text = strings.TrimSpace(text + fmt.Sprintf(" For %s no path is proven: no safe time can be given. Discharge and measure.", strings.Join(without, ", ")))
	}
	return text
}

// ohms prints a resistance as the trade writes it.
func ohms(v float64) string { return quantity.Print(v, quantity.Ohm, 3) }

// bench adds to a plan what the work at the bench needs: how everything empties,
// and how it is brought up again.
func (a *Assessment) bench(ctx context.Context, p *Plan) error {
	p.Discharge = []Discharge{}
	for _, r := range a.runs {
		d, err := r.discharge(ctx, a.described, p.Positions, p.Policy)
		if err != nil {
			return err
		}
		p.Discharge = append(p.Discharge, d)
	}
	p.Plug = plugDischarge(a.described, p.Positions, p.Mains)
	var err error
	p.BringUp, err = a.bringUp(ctx, p, picked(p.Positions))
	return err
}

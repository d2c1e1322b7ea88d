package plan

import (
	"context"
	"fmt"
	"math"
	"strings"

	"coldrise/domain/supply"
)

// BringUp is the first power-up after the work: what each node should read at
// each step, when to stop, and what the parts picked have changed.
type BringUp struct {
	Steps  []BringStep  `json:"steps"`
	After  []AfterPicks `json:"after" doc:"Each node before and after the picks, at nominal mains, idle"`
	Idle   []IdleAfter  `json:"idle" doc:"Output tubes: what they idle at after the picks"`
	Inrush *PrimaryRush `json:"inrush,omitempty"`
	Cans   []LiveCan    `json:"cans" doc:"Capacitors whose can is live"`
	Notes  []string     `json:"notes"`
	Basis  string       `json:"basis"`
}

// BringStep is one step of the first power-up.
type BringStep struct {
	Name  string      `json:"name" enum:"rectifier_out,reduced_mains,output_tubes_out,all_in"`
	Title string      `json:"title"`
	WallV float64     `json:"wall_v" doc:"Wall volts that the windows hold at; scale both ends by the reading of the wall"`
	Text  string      `json:"text"`
	Nodes []BringNode `json:"nodes"`
}

// BringNode is what one node should read.
type BringNode struct {
	Supply string  `json:"supply"`
	Node   string  `json:"node"`
	LowV   float64 `json:"low_v" doc:"Settled, at the least"`
	HighV  float64 `json:"high_v" doc:"Settled, at the most"`
	// FirstV is how far it may rise at switch-on, before the tubes draw.
	FirstV float64 `json:"first_v"`
	// StopV: above it the mains goes off at once.
	StopV float64 `json:"stop_v"`
	// Rated says that a capacitor's rating sets StopV, below what may be expected.
	Rated bool `json:"rated,omitempty"`
}

const (
	// benchShare is the share of the nominal mains at the reduced step. Common practice.
	benchShare = 0.5
	// unfedStopV is what a node that nothing feeds may show on a meter. Common practice.
	unfedStopV = 10
	// unstudiedPct is the window where no band was worked out: what drawn voltages
	// are trusted to. Common practice.
	unstudiedPct = 10
)

const bringUpBasis = "simulated at the wall volts stated with the capacitors picked, else those fitted; windows by the bands of the figures given, " +
	"±10 % where none were worked out (common practice); the supply's first rise with the rectifier at its earliest and the tubes at their latest"

// values says what stands at a place after the work: nil changes nothing.
type values func(supply.Place) (supply.Capacitor, bool)

// picked gives the parts picked, by value; leakage and ESR as of sound ones.
func picked(positions []Position) values {
	return func(place supply.Place) (supply.Capacitor, bool) {
		p := positions[place.Position].Pick
		if p == nil {
			return supply.Capacitor{}, false
		}
		c := supply.Capacitor{CapacitanceUF: p.CapacitanceUF}
		return c, true
	}
}

// bringUp works the steps out over the models with the given values in place.
func (a *Assessment) bringUp(ctx context.Context, p *Plan, v values) (*BringUp, error) {
	b := &BringUp{Steps: []BringStep{}, After: []AfterPicks{}, Idle: []IdleAfter{}, Cans: liveCans(a.runs, p.Positions), Notes: []string{}, Basis: bringUpBasis}
	w := bringing{runs: a.runs, positions: p.Positions, wallV: p.Mains.NominalV}
	for _, r := range a.runs {
		m := r.model.With(func(place supply.Place) (supply.Capacitor, bool) {
			c, changed := v(place)
			if changed && place.Stack > 1 && place.Balanced {
				c.LeakOhm = r.model.CapacitorAt(place).LeakOhm // its balancing resistor stays, or is renewed alike
			}
			return c, changed
		})
		w.models = append(w.models, m)
	}
	for _, step := range w.steps() {
		if err := w.fill(ctx, &step); err != nil {
			return nil, err
		}
		b.Steps = append(b.Steps, step)
	}
	b.notes(a.runs)
	return b, a.afterPicks(ctx, &w, p, b)
}

// bringing carries one bring-up: the models with what was picked.
type bringing struct {
	runs      []*run
	models    []*supply.Model
	positions []Position
	wallV     float64
	solver    supply.Solver
}

// steps are those that this amplifier has.
func (w *bringing) steps() []BringStep {
	tubes, outputs := false, false
	for _, m := range w.models {
		tubes, outputs = tubes || m.Tube != nil, outputs || m.HasOutput()
	}
	first := BringStep{Name: "rectifier_out", Title: "the winding's lead to the silicon rectifier off, mains on", WallV: w.wallV,
		Text: "Heaters and bias alone. Heaters must read within 10 % of theirs (6.3 V ± 0.6 V; Svetlana's specification by audioXpress 9/2004), the bias its window; every other node nothing."}
	if tubes {
		first.Title = "rectifier tube out, mains on"
	}
	list := []BringStep{first, {Name: "reduced_mains", Title: fmt.Sprintf("all rectifiers in, output tubes out, %.0f V at the wall", benchShare*w.wallV), WallV: benchShare * w.wallV,
		Text: w.reducedText()}}
	if outputs {
		list = append(list, BringStep{Name: "output_tubes_out", Title: "full mains, output tubes out", WallV: w.wallV,
			Text: "Watch the first rise: with cold tubes nothing draws. Then the bias at every output socket's grid, before a tube goes in. Settled, a node outside its window is a fault to find before the next step."})
	}
	return append(list, BringStep{Name: "all_in", Title: "all tubes in, idle", WallV: w.wallV,
		Text: "Set the bias before anything is played. Settled, a node outside its window is a fault. After ten minutes feel every new capacitor for warmth, mains off and discharged first."})
}

// reducedText is what is particular about reduced mains.
func (w *bringing) reducedText() string {
	text := "Raise the mains slowly and watch the current. A lamp in series may stand in its place: behind one no volts can be foretold, and one that stays bright means a fault: stop."
	var indirect, direct []string
	silicon := false
	for _, m := range w.models {
		switch {
		case m.Tube == nil:
			silicon = true
		case m.Tube.Heating == "indirect":
			indirect = append(indirect, m.Tube.Type)
		default:
			direct = append(direct, m.Tube.Type)
		}
	}
	if len(indirect) > 0 {
		text += fmt.Sprintf(" %s is indirectly heated and its heater falls with the mains: it hardly conducts, so a low reading, or none, proves nothing.", strings.Join(indirect, ", "))
	}
	if len(direct) > 0 {
		text += fmt.Sprintf(" The filament of %s falls with the mains too: it may conduct less than foretold.", strings.Join(direct, ", "))
	}
	if silicon {
		text += " Silicon conducts at any mains: its nodes must show their volts."
	}
	return text + " Heaters at half volts hardly emit, so nothing draws and nothing regulates."
}

// fill runs a step on every supply.
func (w *bringing) fill(ctx context.Context, step *BringStep) error {
	for i, r := range w.runs {
		m := w.models[i]
		nodes, err := w.read(ctx, m, step)
		if err != nil {
			return err
		}
		for k := range nodes {
			n := &nodes[k]
			n.Supply, n.Node = m.Name, m.Nodes[k].Name
			w.window(r, k, n)
			if fed(m, step.Name) {
				continue
			}
			n.StopV = unfedStopV
		}
		step.Nodes = append(step.Nodes, nodes...)
	}
	return nil
}

// fed says whether a supply has volts in a step: without its rectifier none has,
// and a silicon one that feeds tubes is taken off by its lead.
func fed(m *supply.Model, step string) bool {
	return step != "rectifier_out" || m.Tube == nil && m.Negative
}

// read gives what the nodes come to, likely: LowV and HighV settled, FirstV at
// switch-on.
func (w *bringing) read(ctx context.Context, m *supply.Model, step *BringStep) ([]BringNode, error) {
	nodes := make([]BringNode, len(m.Nodes))
	if !fed(m, step.Name) {
		return nodes, nil
	}
	draws := map[string]supply.Fed{"rectifier_out": supply.OutputsOut, "reduced_mains": supply.OutputsOut, "output_tubes_out": supply.OutputsOut, "all_in": supply.Everything}[step.Name]
	settled, err := m.Find(ctx, &w.solver, m.OnBench(step.WallV, draws, false), nil)
	if err != nil {
		return nil, err
	}
	for k := range nodes {
		nodes[k].LowV, nodes[k].HighV = settled.Nodes[k].SteadyMeanV, settled.Nodes[k].SteadyMeanV
	}
	if step.Name == "reduced_mains" {
		// Nothing may draw at all, and a tube rectifier may pass nothing.
		if settled, err = m.Find(ctx, &w.solver, m.OnBench(step.WallV, supply.Nothing, false), nil); err != nil {
			return nil, err
		}
		for k := range nodes {
			nodes[k].FirstV = math.Max(nodes[k].HighV, settled.Nodes[k].SteadyMaxV)
			nodes[k].HighV = nodes[k].FirstV
			if m.Tube != nil {
				nodes[k].LowV = 0
			}
		}
		return nodes, nil
	}
	first, err := m.Find(ctx, &w.solver, m.OnBench(step.WallV, draws, true), nil)
	if err != nil {
		return nil, err
	}
	for k := range nodes {
		nodes[k].FirstV = math.Max(nodes[k].HighV, first.Nodes[k].PeakV)
	}
	return nodes, nil
}

// window opens a node's likely volts to the bands, and sets where to stop.
func (w *bringing) window(r *run, node int, n *BringNode) {
	cold, low, high := w.ratios(r, node)
	n.FirstV *= cold
	n.LowV, n.HighV = n.LowV*low, math.Min(n.HighV*high, n.FirstV)
	n.StopV = n.FirstV
	if rated := w.ratedV(r, node); rated > 0 && rated < n.StopV {
		n.StopV, n.Rated = rated, true
	}
}

// ratios are how far a node's volts may lie from the likely ones: above with
// nothing drawn, and below and above when settled. The widest of its positions'
// bands, else of any of its supply's, else 10 %.
func (w *bringing) ratios(r *run, node int) (cold, low, high float64) {
	cold, low, high = 1, 1, 1
	for _, here := range []bool{true, false} {
		for _, place := range r.model.Places {
			if here && place.Node != r.model.Nodes[node].Name {
				continue
			}
			st := &w.positions[place.Position].Stress
			if b := st.ColdBand; b != nil && b.Likely > 0 {
				cold = math.Max(cold, b.High/b.Likely)
			}
			if b := st.WorkingBand; b != nil && b.Likely > 0 {
				low, high = math.Min(low, b.Low/b.Likely), math.Max(high, b.High/b.Likely)
			}
		}
		if cold > 1 {
			return cold, low, high
		}
	}
	const off = unstudiedPct / 100.
	return 1 + off, 1 - off, 1 + off
}

// ratedV is the least voltage that the capacitors at a node hold, kept or
// picked; 0 where none is known.
func (w *bringing) ratedV(r *run, node int) float64 {
	least := 0.0
	for _, place := range r.model.Places {
		if place.Node != r.model.Nodes[node].Name {
			continue
		}
		p := &w.positions[place.Position]
		v := 0.0
		switch {
		case p.Pick != nil:
			v = p.Pick.RatedV
		case p.Fitted != nil && p.Action != Remove:
			v = p.Fitted.RatedV
		}
		if p.Stress.Units > 1 && p.Stress.ChargingShare > 0 {
			v *= float64(p.Stress.Units) / p.Stress.ChargingShare
		}
		if v > 0 && (least == 0 || v < least) {
			least = v
		}
	}
	return least
}

func (b *BringUp) notes(runs []*run) {
	b.Notes = append(b.Notes,
		"Before step one: mains off, every node measured empty; with a meter from each node to chassis the ohms rise as its capacitor charges, and a reading that stays low is a short to find first.",
		"One hand, clips put on with the mains off, everyone else away from the bench; stand clear of new capacitors for the first minutes.")
	for _, s := range b.Steps {
		for _, n := range s.Nodes {
			if n.Rated {
				b.Notes = append(b.Notes, fmt.Sprintf("Step %s: a capacitor at %s/%s holds less than what may come (%.0f V): do not go on to it before that is settled.",
					strings.ReplaceAll(s.Name, "_", " "), n.Supply, n.Node, n.StopV))
			}
		}
	}
	for _, r := range runs {
		if position, closes := r.model.Standby(); position != "" {
			b.Notes = append(b.Notes, fmt.Sprintf("Supply %s: the first rises hold with the standby closed %.3g s after mains on.", r.model.Name, closes))
		}
	}
}

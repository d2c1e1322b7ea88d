package plan

import (
	"context"
	"fmt"
	"math"
	"strings"

	"coldrise/domain/amp"
	"coldrise/domain/supply"
	"coldrise/domain/tube"
)

// AfterPicks is one node before and after the work.
type AfterPicks struct {
	Supply  string  `json:"supply"`
	Node    string  `json:"node"`
	BeforeV float64 `json:"before_v"`
	AfterV  float64 `json:"after_v"`
}

// IdleAfter is what one kind of output tube idles at after the work, the whole
// of its node's voltage taken as the plate's.
type IdleAfter struct {
	Supply string  `json:"supply"`
	Node   string  `json:"node"`
	Tube   string  `json:"tube"`
	V      float64 `json:"v"`
	MA     float64 `json:"ma" doc:"Per tube: the stated current, carried along the node's change"`
	W      float64 `json:"w"`
	LimitW float64 `json:"limit_w"`
	// Rebias asks for the bias to be set anew.
	Rebias     bool   `json:"rebias"`
	Text       string `json:"text"`
	FromMemory bool   `json:"from_memory"`
	Source     string `json:"source"`
}

// PrimaryRush is the rush at switch-on as the mains fuse sees it.
type PrimaryRush struct {
	BeforeA float64 `json:"before_a" doc:"Highest peak in the primary by the capacitors' charging, before the work"`
	AfterA  float64 `json:"after_a"`
	// RunningA is the primary's RMS at full drive, by these supplies alone.
	RunningA float64 `json:"running_a"`
	FuseA    float64 `json:"fuse_a,omitempty"`
	Over     bool    `json:"over,omitempty" doc:"The supplies alone draw more than the fuse is marked for"`
	Text     string  `json:"text"`
	Basis    string  `json:"basis"`
}

// LiveCan is a capacitor whose can stands at a voltage.
type LiveCan struct {
	Ref  string  `json:"ref"`
	V    float64 `json:"v" doc:"Of the can against chassis, at most; negative on a negative rail"`
	Text string  `json:"text"`
}

const rushBasis = "the first and highest pulse of each rectifier at high line, times the winding's volts over the mains', all supplies at once; " +
	"the iron's own rush and cold heaters (2.7 to 7.2 times their running current, audioXpress 9/2004) come on top; no I²t of a fuse is published here, so none is judged"

// rebiasShare is how far a node may move before the bias is set anew. Common practice.
const rebiasShare = 0.02

// afterPicks holds the supply with the parts picked against the one before.
func (a *Assessment) afterPicks(ctx context.Context, w *bringing, p *Plan, b *BringUp) error {
	rush := PrimaryRush{Basis: rushBasis}
	biasRenewed := renewed(a.runs, p.Positions)
	for i, r := range a.runs {
		m := w.models[i]
		idle, err := m.Find(ctx, &w.solver, m.OnBench(p.Mains.NominalV, supply.Everything, false), nil)
		if err != nil {
			return err
		}
		before, err := r.model.Find(ctx, &w.solver, r.model.OnBench(p.Mains.NominalV, supply.Everything, false), nil)
		if err != nil {
			return err
		}
		for k := range m.Nodes {
			n := AfterPicks{Supply: m.Name, Node: m.Nodes[k].Name, BeforeV: before.Nodes[k].SteadyMeanV, AfterV: idle.Nodes[k].SteadyMeanV}
			b.After = append(b.After, n)
			b.Idle = append(b.Idle, idleAfter(&a.described.Supplies[r.index].Nodes[k], n, biasRenewed)...)
		}
		if err := w.rush(ctx, r, m, &rush); err != nil {
			return err
		}
	}
	b.Inrush = rush.judge(a.described)
	return nil
}

// renewed says whether a bias supply gets a part.
func renewed(runs []*run, positions []Position) bool {
	for _, r := range runs {
		for _, place := range r.model.Places {
			if r.model.Negative && positions[place.Position].Pick != nil {
				return true
			}
		}
	}
	return false
}

// idleAfter gives the output tubes at a node: the current goes with the node's
// voltage as the load's exponent says, 1.4 where none is given.
func idleAfter(n *amp.Node, at AfterPicks, biasRenewed bool) []IdleAfter {
	var list []IdleAfter
	for _, l := range n.Loads {
		t, ok := tube.LookupReceiving(l.Tube)
		if !ok || t.Kind != tube.Output || l.IdleMA == nil || at.BeforeV <= 0 {
			continue
		}
		exponent := supply.TubeExponent
		if l.Exponent != nil {
			exponent = *l.Exponent
		}
		moved := at.AfterV/at.BeforeV - 1
		x := IdleAfter{Supply: at.Supply, Node: at.Node, Tube: t.Type, V: at.AfterV, MA: *l.IdleMA * math.Pow(at.AfterV/at.BeforeV, exponent),
			LimitW: t.MaxPlateW, FromMemory: t.FromMemory, Source: t.Source}
		x.W = x.V * x.MA / 1000
		var why []string
		if x.LimitW > 0 && x.W > x.LimitW {
			why = append(why, fmt.Sprintf("it is over its %.3g W", x.LimitW))
		}
		if math.Abs(moved) > rebiasShare {
			why = append(why, fmt.Sprintf("its node moves by %+.1f %%", 100*moved))
		}
		if biasRenewed {
			why = append(why, "the bias supply gets new capacitors")
		}
		x.Rebias = len(why) > 0
		x.Text = fmt.Sprintf("%s at %s idles at %.0f V × %.3g mA = %.3g W, less its cathode's share", x.Tube, x.Node, x.V, x.MA, x.W)
		if x.LimitW > 0 {
			x.Text += fmt.Sprintf("; its limit is %.3g W", x.LimitW)
		}
		if x.Rebias {
			x.Text += ". Set the bias anew: " + strings.Join(why, ", ")
		}
		list = append(list, x)
	}
	return list
}

// rush adds a supply's share: its highest pulse from cold at high line, before
// and after, and its running current.
func (w *bringing) rush(ctx context.Context, r *run, m *supply.Model, rush *PrimaryRush) error {
	rush.BeforeA += coldPulse(r.result("cold_start")) * m.TurnsRatio()
	for _, s := range r.services {
		if s.Name != "cold_start" {
			continue
		}
		after, err := m.Find(ctx, &w.solver, s, nil)
		if err != nil {
			return err
		}
		rush.AfterA += coldPulse(after) * m.TurnsRatio()
	}
	if full := r.result("full_drive"); full != nil {
		squares := 0.0
		for _, d := range full.Diodes {
			squares += d.SteadyRMSA * d.SteadyRMSA
		}
		rush.RunningA += math.Sqrt(squares) * m.TurnsRatio()
	}
	return nil
}

func coldPulse(res *supply.Result) float64 {
	most := 0.0
	if res != nil {
		for _, d := range res.Diodes {
			most = math.Max(most, d.PeakA)
		}
	}
	return most
}

// judge words the rush, against the fuse where its rating is known.
func (x *PrimaryRush) judge(a *amp.Amplifier) *PrimaryRush {
	x.Text = fmt.Sprintf("charging the capacitors draws a peak of up to %.3g A from the mains at switch-on, or where a standby closes later (%.3g A before the work), and the supplies %.3g A RMS at full drive", x.AfterA, x.BeforeA, x.RunningA)
	if a.Mains.FuseA == nil {
		x.Text += ". The fuse's rating is not given: replace it only by its marked kind"
		return x
	}
	x.FuseA = *a.Mains.FuseA
	x.Over = x.RunningA > x.FuseA
	x.Text += fmt.Sprintf(". The peak is %.1f times the fuse's %.3g A", x.AfterA/x.FuseA, x.FuseA)
	switch {
	case x.Over:
		x.Text += ", and the supplies alone run above it: the rating, or what is told of the currents, is wrong. Never fit a larger fuse than is marked"
	case a.Mains.FuseKind == "quick":
		x.Text += ", which is quick: such peaks may open it. Only the kind and rating that are marked may stand there"
	default:
		x.Text += "; a time-lag fuse stands short peaks of that kind (common practice). If it opens, look for a fault and not for a larger fuse"
	}
	return x
}

// liveCans lists the capacitors whose can, their negative, is not at chassis:
// the upper units of a stack, and what stands on a negative rail.
func liveCans(runs []*run, positions []Position) []LiveCan {
	list := []LiveCan{}
	for _, r := range runs {
		for _, place := range r.model.Places {
			p := &positions[place.Position]
			if p.Action == Remove {
				continue
			}
			cold := 0.0
			for i := range r.model.Nodes {
				if r.model.Nodes[i].Name == place.Node {
					cold = r.node(i).ColdV
				}
			}
			units := float64(place.Stack)
			c := LiveCan{Ref: p.Ref, V: cold * (units - float64(max(p.Stress.Stack, 1))) / units}
			what := "an upper unit of a stack"
			if r.model.Negative {
				c.V, what = c.V-cold, "on a negative rail"
			}
			if c.V == 0 {
				continue
			}
			c.Text = fmt.Sprintf("%s is %s: its can stands at some %.0f V against chassis. Insulate its mounting, sleeve it, and mark it", c.Ref, what, c.V)
			list = append(list, c)
		}
	}
	return list
}

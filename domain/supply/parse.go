package supply

import (
	"fmt"

	"coldrise/domain/amp"
	"coldrise/domain/document"
	"coldrise/domain/problem"
)

// Bounds of a circuit that no single member states.
const (
	maxEndS   = 600   // s, as the tag of Circuit.TEndS
	maxCycles = 40000 // mains cycles in a run: 600 s at 60 Hz and a little more
)

// ParseCircuit reads one circuit in the JSON of the reference circuits.
// Members that stand for something absent may be null or left out.
//
// Errors: Malformed where data is not JSON; Invalid, with every fault, where
// a member is unknown, missing, of the wrong type or out of bounds, or where
// the whole makes no circuit.
func ParseCircuit(data []byte) (*Circuit, error) {
	c := &Circuit{}
	if err := document.Decode(data, c, "circuit", c.check); err != nil {
		return nil, err
	}
	return c, nil
}

// check adds every fault that the bounds of single members do not show.
func (c *Circuit) check(faults *problem.List) {
	if cycles := c.TEndS * c.Mains.FreqHz; cycles > maxCycles {
		faults.Add(problem.Fault{
			Pointer: "/t_end_s", Message: "the run has too many mains cycles",
			Value: fmt.Sprintf("%.6g", cycles), Limit: fmt.Sprint(maxCycles), Unit: "cycles",
		})
	}
	if !(c.Mains.FreqHz > 0) {
		faults.Addf("/mains/freq_hz", "must be above zero")
	}
	if !(c.TEndS > 0) {
		faults.Addf("/t_end_s", "must be above zero")
	}
	c.Rectifier.check(faults)
	if len(c.Nodes) == 0 {
		faults.Addf("/nodes", "a supply has at least one node")
		return
	}
	c.checkFirst(faults)
	c.checkTree(faults)
	c.checkStandby(faults)
	for i := range c.Nodes {
		c.Nodes[i].check(faults, fmt.Sprintf("/nodes/%d", i), i == 0)
	}
}

func (r *Rectifier) check(faults *problem.List) {
	const at = "/rectifier/diode"
	d := &r.Diode
	silicon := []member{{"is_a", d.IsA != 0, true}, {"n", d.N != 0, true}, {"rs_ohm", d.RsOhm != 0, false}, {"series_count", d.SeriesCount != 0, false}}
	tube := []member{{"drop_v", d.DropV != 0, true}, {"drop_ma", d.DropMA != 0, true}, {"warmup", d.WarmUp != nil, false}}
	switch d.Kind {
	case "silicon":
		checkMembers(faults, at, "silicon", silicon, tube)
	case "tube":
		checkMembers(faults, at, "a tube", tube, silicon)
	default:
		faults.Addf(at+"/kind", "must be silicon or tube")
	}
	switch r.Topology {
	case "full_wave_ct", "bridge", "half_wave", "doubler":
	default:
		faults.Addf("/rectifier/topology", "must be full_wave_ct, bridge, half_wave or doubler")
	}
	checkWarmUp(faults, at+"/warmup", d.WarmUp)
}

// member is one that belongs to one of two kinds.
type member struct {
	name        string
	given, must bool
}

// checkMembers wants the needed members of one kind and none of the other's.
func checkMembers(faults *problem.List, at, kind string, own, others []member) {
	for _, m := range own {
		if m.must && !m.given {
			faults.Addf(at+"/"+m.name, "%s needs this member", kind)
		}
	}
	for _, m := range others {
		if m.given {
			faults.Addf(at+"/"+m.name, "%s has no such member", kind)
		}
	}
}

// checkWarmUp wants the two times of the law, in order, and no others.
func checkWarmUp(faults *problem.List, at string, w *amp.WarmUp) {
	if w == nil {
		return
	}
	smooth := []member{{"ta_s", w.TaS != nil, true}, {"tb_s", w.TbS != nil, true}}
	logistic := []member{{"t0_s", w.T0S != nil, true}, {"tau_s", w.TauS != nil, true}}
	switch w.Law {
	case "smoothstep":
		checkMembers(faults, at, "smoothstep", smooth, logistic)
		if w.TaS != nil && w.TbS != nil && *w.TbS <= *w.TaS {
			faults.Addf(at+"/tb_s", "emission must be full after it begins")
		}
	case "logistic":
		checkMembers(faults, at, "logistic", logistic, smooth)
	default:
		faults.Addf(at+"/law", "must be smoothstep or logistic")
	}
}

// checkFirst wants what the rectifier can feed.
func (c *Circuit) checkFirst(faults *problem.List) {
	first := &c.Nodes[0]
	if first.From != "" {
		faults.Addf("/nodes/0/from", "the first node is fed by the rectifier")
	}
	if c.Rectifier.Topology != "doubler" {
		return
	}
	if first.Series != nil {
		faults.Addf("/nodes/0/series", "a doubler feeds its reservoir directly")
	}
	if len(first.Caps) != 2 {
		faults.Add(problem.Fault{
			Pointer: "/nodes/0/caps", Message: "a doubler's reservoir is a stack of two units",
			Value: fmt.Sprint(len(first.Caps)), Limit: "2", Unit: "units",
		})
	}
}

// checkTree wants every node named once and fed from the first.
func (c *Circuit) checkTree(faults *problem.List) {
	seen := map[string]int{}
	for i := range c.Nodes {
		name := c.Nodes[i].Name
		if k, have := seen[name]; have && name != "" {
			faults.Addf(fmt.Sprintf("/nodes/%d/name", i), "node %d has this name already", k)
			continue
		}
		seen[name] = i
	}
	parents := feeders(c.Nodes)
	for i := 1; i < len(parents); i++ {
		at := fmt.Sprintf("/nodes/%d/from", i)
		if parents[i] < 0 {
			faults.Addf(at, "no node of this name feeds it")
			continue
		}
		k := i
		for steps := 0; k > 0 && steps <= len(parents); steps++ {
			k = parents[k]
		}
		if k > 0 {
			faults.Addf(at, "the nodes feed each other in a ring, and the rectifier none of them")
		}
	}
}

// checkStandby wants something on both sides of the switch.
func (c *Circuit) checkStandby(faults *problem.List) {
	const at = "/standby/position"
	switch {
	case c.switchAt("after_rectifier") && c.Rectifier.Topology == "doubler":
		faults.Addf(at, "a doubler's reservoir is part of its rectifier: the switch may be in_winding or after_reservoir")
	case c.switchAt("after_reservoir"):
		for _, p := range feeders(c.Nodes)[1:] {
			if p == 0 {
				return
			}
		}
		faults.Addf(at, "after_reservoir needs a second node, fed by the first")
	}
}

// check adds the faults of one node.
func (n *Node) check(faults *problem.List, at string, first bool) {
	if s := n.Series; s != nil {
		switch {
		case s.ROhm == nil && s.LH == nil:
			faults.Addf(at+"/series", "must be a resistance (r_ohm) or a choke (l_h)")
		case s.ROhm != nil && s.LH != nil:
			faults.Addf(at+"/series", "must be a resistance (r_ohm) or a choke (l_h), not both")
		case s.ROhm != nil && s.DCROhm != nil:
			faults.Addf(at+"/series/dcr_ohm", "belongs to a choke (l_h)")
		}
	} else if !first {
		faults.Addf(at+"/series", "only the first node may be fed without a resistance or a choke")
	}
	for k := range n.Beside {
		if size := len(n.Beside[k]); size < 1 || size > 4 {
			faults.Addf(fmt.Sprintf("%s/beside/%d", at, k), "must have from 1 to 4 units")
		}
	}
	if n.Load != nil {
		checkWarmUp(faults, at+"/load/warmup", n.Load.WarmUp)
	}
	for k := range n.Further {
		checkWarmUp(faults, fmt.Sprintf("%s/further_loads/%d/warmup", at, k), n.Further[k].WarmUp)
	}
}

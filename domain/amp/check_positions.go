package amp

import (
	"slices"
	"strings"

	"coldrise/domain/document"
)

func (c checker) position(i int) {
	p := &c.a.Positions[i]
	at := document.Pointer("positions", i)
	c.tidy(p.Ref, "positions", i, "ref")
	for k := range i {
		if c.a.Positions[k].Ref == p.Ref && p.Ref != "" {
			c.fault(document.Under(at, "ref"), p.Ref, "is the reference of %s already", document.Pointer("positions", k))
			break
		}
	}
	c.place(p, at)
	if p.Role == CathodeBypass && p.CathodeV == nil {
		c.fault(document.Under(at, "cathode_v"), nil, "is required for a cathode_bypass: the cathode's DC volts at idle")
	}
	if (p.Role == Coupling || p.Role.standsAlone()) && p.WantedUF == nil && p.Fitted == nil {
		c.fault(document.Under(at, "wanted_uf"), nil, "is required for the role %s where nothing is fitted: no value can be inferred", p.Role)
	}
	if p.Role.filters() || p.Role == Coupling || p.Role.standsAlone() {
		c.notWith(at, "cathode_v", p.CathodeV != nil && p.Role != CathodeBypass, "is for cathode_bypass alone, and the role is %s", p.Role)
		c.notWith(at, "cathode_fault_v", p.CathodeFaultV != nil && p.Role != CathodeBypass, "is for cathode_bypass alone, and the role is %s", p.Role)
		c.notWith(at, "far_v", p.FarV != nil && p.Role != Coupling, "is for coupling alone, and the role is %s", p.Role)
		c.notWith(at, "bleeder_ohm", p.BleederOhm != nil && p.Role != MainsX, "is for mains_x alone, and the role is %s; a node's bleeder stands at the node", p.Role)
		c.notWith(at, "stack", p.Stack != 0 && !p.Role.filters(), "is for capacitors from a node to chassis, and the role is %s", p.Role)
	}
	if p.CathodeFaultV != nil && p.CathodeV != nil {
		c.atLeast(document.Under(at, "cathode_fault_v"), *p.CathodeFaultV, *p.CathodeV, "V", "must not be below cathode_v")
	}
	if f := p.Fitted; f != nil && f.SurgeV != nil {
		c.atLeast(document.Under(at, "fitted", "surge_v"), *f.SurgeV, f.RatedV, "V", "must not be below rated_v")
	}
	c.condition(p, at)
}

// filters says whether the role is a capacitor from a node to chassis.
func (r Role) filters() bool { return r == Reservoir || r == Smoothing || r == Bias }

// standsAlone says whether the role belongs to no node of a supply.
func (r Role) standsAlone() bool { return r == CathodeBypass || r == MainsX || r == MainsY }

// place wants a node that is there for the roles that have one.
func (c checker) place(p *Position, at string) {
	needs := p.Role.filters() || p.Role == Coupling
	at = document.Under(at, "node")
	switch {
	case p.Node == "" && needs:
		c.fault(at, nil, "is required for the role %s, as supply/node", p.Role)
	case p.Node == "":
	case p.Role.standsAlone():
		c.fault(at, p.Node, "is not for the role %s, which stands at no node of a supply", p.Role)
	default:
		c.whichNode(p.Node, at)
	}
}

func (c checker) whichNode(path, at string) {
	supply, node, slash := strings.Cut(path, "/")
	if !slash {
		c.fault(at, path, "must be supply/node, such as %q", c.examplePath())
		return
	}
	i := slices.IndexFunc(c.a.Supplies, func(s Supply) bool { return s.Name == supply })
	if i < 0 {
		c.fault(at, path, "there is no supply %q%s", supply, nearestOf(supply, c.supplyNames()))
		return
	}
	if names := nodeNames(&c.a.Supplies[i]); !slices.Contains(names, node) {
		c.fault(at, path, "supply %q has no node %q%s", supply, node, nearestOf(node, names))
	}
}

func (c checker) examplePath() string {
	for i := range c.a.Supplies {
		if s := &c.a.Supplies[i]; len(s.Nodes) > 0 && s.Name != "" && s.Nodes[0].Name != "" {
			return s.Name + "/" + s.Nodes[0].Name
		}
	}
	return "HT/A"
}

func (c checker) supplyNames() []string {
	names := make([]string, len(c.a.Supplies))
	for i := range c.a.Supplies {
		names[i] = c.a.Supplies[i].Name
	}
	return names
}

// stacks wants the places of each node's stack to run from 1 without a gap or
// a place taken twice, so one stack per node; and of a doubler, whose winding
// meets the middle of its reservoir, a first node with a stack of two.
func (c checker) stacks(supply int) {
	s := &c.a.Supplies[supply]
	for node := range s.Nodes {
		var places, others []int // indices into Positions
		for i := range c.a.Positions {
			p := &c.a.Positions[i]
			si, ni, ok := c.a.Lookup(p.Node)
			switch {
			case !ok || si != supply || ni != node || !p.Role.filters():
			case p.Stack > 0:
				places = append(places, i)
			default:
				others = append(others, i)
			}
		}
		c.stack(s.Name+"/"+s.Nodes[node].Name, places)
		if node == 0 && s.Winding != nil && s.Winding.Connection == Doubler {
			c.doubler(places, others)
		}
	}
}

func (c checker) stack(path string, places []int) {
	slices.SortStableFunc(places, func(a, b int) int { return c.a.Positions[a].Stack - c.a.Positions[b].Stack })
	for k, i := range places {
		p, at := &c.a.Positions[i], document.Pointer("positions", i, "stack")
		switch want := k + 1; {
		case k > 0 && p.Stack == c.a.Positions[places[k-1]].Stack:
			c.fault(at, p.Stack, "is the place of %s already: node %s takes one stack, and not two in parallel", c.a.Positions[places[k-1]].Ref, path)
			return
		case p.Stack != want:
			c.fault(at, p.Stack, "leaves a gap: the places of the stack on node %s run from 1 at the top, and %d is missing", path, want)
			return
		case len(places) == 1:
			c.fault(at, p.Stack, "is the only place on node %s: a stack has two or more", path)
		}
	}
}

func (c checker) doubler(places, others []int) {
	for _, i := range others {
		c.fault(document.Pointer("positions", i, "stack"), nil, "is required on a doubler's first node, which is a stack of two: 1 on top or 2")
	}
	if len(places) > 2 {
		i := places[2]
		c.fault(document.Pointer("positions", i, "stack"), c.a.Positions[i].Stack, "is one too many: a doubler's first node is a stack of two")
	}
}

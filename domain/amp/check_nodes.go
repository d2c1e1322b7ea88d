package amp

import (
	"fmt"
	"slices"
	"strings"

	"coldrise/domain/document"
	"coldrise/domain/problem"
	"coldrise/domain/tube"
)

// impossibleRise is how far a node may read above the one that feeds it before
// the readings contradict each other: no current flows uphill, and two good
// meters or one that drifts agree within 2 % (common practice).
const impossibleRise = 0.02

func (c checker) ladder(s *Supply, at string) {
	for i := range s.Nodes {
		n, here := &s.Nodes[i], document.Under(at, i)
		if n.Name != strings.TrimSpace(n.Name) {
			c.fault(document.Under(here, "name"), n.Name, "must not begin or end with a blank")
		}
		if first := slices.IndexFunc(s.Nodes, func(o Node) bool { return o.Name == n.Name }); first < i && n.Name != "" {
			c.fault(document.Under(here, "name"), n.Name, "is the name of %s already", document.Under(at, first))
		}
		c.from(s, i, here)
		c.series(s, i, here)
		c.readings(s, i, here)
		for k := range n.Loads {
			c.load(&n.Loads[k], document.Under(here, "loads", k))
		}
	}
	c.circles(s, at)
}

func (c checker) from(s *Supply, i int, here string) {
	from, at := s.Nodes[i].From, document.Under(here, "from")
	switch {
	case from == "":
	case i == 0:
		c.fault(at, from, "is not for the first node, which the rectifier feeds")
	case from == s.Nodes[i].Name:
		c.fault(at, from, "names the node itself, which is then fed by nothing")
	case s.Feeder(i) < 0:
		c.fault(at, from, "names no node of this supply, so the node is fed by nothing%s", nearestOf(from, nodeNames(s)))
	}
}

// series wants one way to each node: a choke or a dropper, or volts at both
// its ends from which a dropper follows.
func (c checker) series(s *Supply, i int, here string) {
	n := &s.Nodes[i]
	if n.ChokeH != nil && n.DropperOhm != nil {
		c.fault(document.Under(here, "dropper_ohm"), *n.DropperOhm, "stands beside choke_h: a node is fed through one or the other, and the choke's own resistance is dcr_ohm")
	}
	if n.DCROhm != nil && n.ChokeH == nil {
		c.fault(document.Under(here, "dcr_ohm"), *n.DCROhm, "is the resistance of a choke, and there is no choke_h; a resistor is dropper_ohm")
	}
	feeder := s.Feeder(i)
	if i == 0 || feeder < 0 || n.ChokeH != nil || n.DropperOhm != nil || n.DCROhm != nil {
		return
	}
	if !n.hasReading() || !s.Nodes[feeder].hasReading() {
		c.fault(here, nil, "is fed by nothing: give dropper_ohm or choke_h, or measured_v or schematic_v both here and at node %s, which feeds it", s.Nodes[feeder].Name)
	}
}

func (c checker) readings(s *Supply, i int, here string) {
	feeder := s.Feeder(i)
	if feeder < 0 {
		return
	}
	n, f := &s.Nodes[i], &s.Nodes[feeder]
	for _, r := range []struct {
		name   string
		v, top *float64
	}{{"measured_v", n.MeasuredV, f.MeasuredV}, {"schematic_v", n.SchematicV, f.SchematicV}} {
		if r.v == nil || r.top == nil || *r.top <= 0 || *r.v <= *r.top*(1+impossibleRise) {
			continue
		}
		fault := faultOf(document.Under(here, r.name), fmt.Sprintf("is above node %s, which feeds it: no current flows that way", f.Name), *r.v)
		fault.Limit, fault.Unit = fmt.Sprintf("at most %g, within 2 %%", *r.top), "V"
		c.faults.Add(fault)
	}
}

// circles finds nodes that feed each other in a circle, and names it once.
func (c checker) circles(s *Supply, at string) {
	done := make([]bool, len(s.Nodes))
	for start := range s.Nodes {
		var path []int
		i := start
		for i >= 0 && !done[i] && !slices.Contains(path, i) {
			path = append(path, i)
			i = s.Feeder(i)
		}
		if i >= 0 && !done[i] && s.Feeder(i) != i {
			circle := path[slices.Index(path, i):]
			words := make([]string, 0, len(circle)+1)
			for _, k := range append(circle, i) {
				words = append(words, s.Nodes[k].Name)
			}
			// The first node of the circle in the file, so that the fault stands still.
			first := slices.Min(circle)
			c.fault(document.Under(at, first, "from"), s.Nodes[first].From, "closes a circle, which the rectifier does not feed: %s", strings.Join(words, " from "))
		}
		for _, k := range path {
			done[k] = true
		}
	}
}

func (c checker) load(l *Load, at string) {
	c.warmUp(l.WarmUp, document.Under(at, "warm_up"))
	if l.Tube == "" && l.Label == "" {
		c.fault(at, nil, "must name its tube, or say in label what it is")
	}
	if l.Tube != "" {
		c.loadTube(l.Tube, document.Under(at, "tube"))
	}
	if l.Stage == "resistive" {
		c.notWith(at, "stage", l.Tube != "", "is resistive, and the load is a tube, which warms up")
		c.notWith(at, "warm_up", l.WarmUp != nil, "is a tube's: a resistive load draws from the first instant")
	}
	if l.IdleMA != nil && l.FullMA != nil {
		c.atLeast(document.Under(at, "full_ma"), *l.FullMA, *l.IdleMA, "mA", "must not be below idle_ma")
	}
	if l.AtV != nil && l.IdleMA == nil {
		c.fault(document.Under(at, "at_v"), *l.AtV, "is the voltage at which idle_ma flows, and there is no idle_ma")
	}
}

func (c checker) loadTube(name, at string) {
	if _, ok := tube.LookupReceiving(name); ok {
		return
	}
	if r, ok := tube.LookupRectifier(name); ok {
		c.fault(at, name, "%s is a rectifier, which is no load", r.Type)
		return
	}
	hint := ""
	if near := tube.NearestReceiving(name); near != "" {
		hint = fmt.Sprintf("; the nearest is %q", near)
	}
	c.fault(at, name, "is not a tube that is known%s. For any other, leave tube out and give label, stage and idle_ma", hint)
}

func nodeNames(s *Supply) []string {
	names := make([]string, len(s.Nodes))
	for i := range s.Nodes {
		names[i] = s.Nodes[i].Name
	}
	return names
}

// nearestOf is a question to append to a fault, or nothing.
func nearestOf(word string, known []string) string {
	near, close := document.Nearest(word, known)
	switch {
	case close:
		return fmt.Sprintf("; did you mean %q?", near)
	case near != "":
		return "; there are " + strings.Join(known, ", ")
	}
	return ""
}

func faultOf(pointer, message string, value any) problem.Fault {
	return problem.Fault{Pointer: pointer, Message: message, Value: jsonText(value)}
}

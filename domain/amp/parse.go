package amp

import (
	"encoding/json"
	"fmt"
	"strings"
	"time"

	"coldrise/domain/document"
	"coldrise/domain/problem"
)

// Parse reads an amplifier's JSON and checks it. The error is nil or a
// *problem.Error, Malformed or Invalid with every fault at once; with an error
// there is no Amplifier.
func Parse(data []byte) (*Amplifier, error) { return ParseOn(data, time.Time{}) }

// ParseOn is Parse on a day: dates that contradict it are faults too. A zero
// day leaves them out.
func ParseOn(data []byte, today time.Time) (*Amplifier, error) {
	a := &Amplifier{}
	err := document.Decode(data, a, "amplifier", func(l *problem.List) {
		a.Check(l)
		a.CheckAges(today, l)
	})
	if err != nil {
		return nil, err
	}
	return a, nil
}

// Check adds to l what is wrong with a beyond the shape of its JSON: names
// that meet nothing or each other, nodes fed by nothing or in a circle,
// figures that contradict each other, tubes nobody knows. It takes an
// amplifier of any shape, also one with members missing; what those leave
// open it passes over, for the shape's own faults say so.
func (a *Amplifier) Check(l *problem.List) {
	c := checker{a: a, faults: l}
	c.tidy(a.Name, "name")
	c.mains()
	c.figures()
	for i := range a.Supplies {
		c.supply(i)
	}
	for i := range a.Positions {
		c.position(i)
	}
	for i := range a.Supplies {
		c.stacks(i)
	}
}

// checker carries one checking of an amplifier.
type checker struct {
	a      *Amplifier
	faults *problem.List
}

func (c checker) fault(pointer string, value any, format string, args ...any) {
	c.faults.Add(problem.Fault{Pointer: pointer, Message: fmt.Sprintf(format, args...), Value: jsonText(value)})
}

// atLeast wants a figure not below another: both are there, both are plausible.
func (c checker) atLeast(pointer string, value, least float64, unit, message string) {
	if value >= least || value <= 0 {
		return
	}
	c.faults.Add(problem.Fault{Pointer: pointer, Message: message, Value: jsonText(value),
		Limit: fmt.Sprintf("at least %g", least), Unit: unit})
}

// jsonText is a value as JSON, nothing for nil. The values are strings and
// finite numbers, which cannot fail.
func jsonText(value any) string {
	if value == nil {
		return ""
	}
	text, err := json.Marshal(value)
	if err != nil {
		return ""
	}
	return string(text)
}

// tidy wants a name without blanks round it, which would make two names of one.
func (c checker) tidy(name string, steps ...any) {
	if name != strings.TrimSpace(name) {
		c.fault(document.Pointer(steps...), name, "must not begin or end with a blank")
	}
}

func (c checker) mains() {
	m := &c.a.Mains
	if m.LowV != nil && *m.LowV > m.NominalV {
		c.faults.Add(problem.Fault{Pointer: document.Pointer("mains", "low_v"), Value: jsonText(*m.LowV), Limit: fmt.Sprintf("at most %g", m.NominalV), Unit: "V",
			Message: "must not be above nominal_v: it is the lowest wall voltage to expect"})
	}
	if m.FuseKind != "" && m.FuseA == nil {
		c.fault(document.Pointer("mains", "fuse_a"), nil, "is required beside fuse_kind: the kind of a fuse without its rating tells nothing")
	}
	if m.HighV == nil {
		return
	}
	at := document.Pointer("mains", "high_v")
	c.atLeast(at, *m.HighV, m.NominalV, "V", "must not be below nominal_v: it is the highest wall voltage to design for")
	if m.MeasuredAtV != nil {
		c.atLeast(at, *m.HighV, *m.MeasuredAtV, "V", "must not be below measured_at_v: the wall has been that high already")
	}
}

// Lookup finds a node by "supply/node": the indices of the supply and of the
// node in it. It gives false where there is none.
func (a *Amplifier) Lookup(path string) (supply, node int, ok bool) {
	supplyName, nodeName, _ := strings.Cut(path, "/")
	for i := range a.Supplies {
		if a.Supplies[i].Name != supplyName {
			continue
		}
		for k := range a.Supplies[i].Nodes {
			if a.Supplies[i].Nodes[k].Name == nodeName {
				return i, k, true
			}
		}
	}
	return 0, 0, false
}

// Feeder gives the index of the node that feeds node i: -1 for the first,
// which the rectifier feeds, and where From names no node.
func (s *Supply) Feeder(i int) int {
	from := s.Nodes[i].From
	if i == 0 {
		return -1
	}
	if from == "" {
		return i - 1
	}
	for k := range s.Nodes {
		if s.Nodes[k].Name == from {
			return k
		}
	}
	return -1
}

// hasReading says whether any voltage of the node is known.
func (n *Node) hasReading() bool { return n.MeasuredV != nil || n.SchematicV != nil }

package supply

import (
	"math"

	"coldrise/domain/amp"
)

// PeakInverseV is what a rectifier path holds off at high line with no load:
// the winding's peak and as much again from the reservoir, but in a bridge,
// where two diodes share it.
func (m *Model) PeakInverseV() float64 {
	peak := math.Sqrt2 * m.UnloadedV * m.HighV / m.NominalV
	if m.Connection == amp.Bridge {
		return peak
	}
	return 2 * peak
}

// MostUF is the whole capacitance of the supply with each place at the value
// that of gives, its own where the node has no place.
func (m *Model) MostUF(of func(Place) float64) float64 {
	c := m.clone()
	for _, p := range m.Places {
		for i := range c.Nodes {
			if c.Nodes[i].Name == p.Node {
				c.Nodes[i].stacks[p.stackIndex()][p.unit()].CUF = of(p)
			}
		}
	}
	sum := 0.0
	for i := range c.Nodes {
		for _, s := range c.Nodes[i].stacks {
			sum += seriesUF(s)
		}
	}
	return sum
}

// FirstUF is the capacitance the rectifier feeds directly; 0 behind a choke.
func (m *Model) FirstUF() float64 {
	if m.chokeInput() {
		return 0
	}
	sum := 0.0
	for _, s := range m.Nodes[0].stacks {
		sum += seriesUF(s)
	}
	return sum
}

// BleederOhm bounds the resistance by which the whole supply discharges: the
// smallest bleeder that stands ahead of any standby, plus every dropper, since
// the far nodes discharge through them. ok is false where there is no such bleeder.
func (m *Model) BleederOhm() (ohm float64, ok bool) {
	droppers := 0.0
	for i := range m.Nodes {
		if r := m.Nodes[i].ohms(); r != nil {
			droppers += *r
		}
	}
	for i := range m.Nodes {
		b := m.Nodes[i].bleeder
		if b == nil || m.standby != nil && m.standby.Position == "after_reservoir" {
			continue
		}
		if !ok || *b < ohm {
			ohm, ok = *b, true
		}
	}
	return ohm + droppers, ok
}

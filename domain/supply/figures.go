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

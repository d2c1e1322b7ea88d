package supply

import "math"

// taylorLoad is a load's law about one voltage, to the second order.
type taylorLoad struct {
	centre, a, g, bend float64
	drawn              bool
}

// nearShare is how far from its centre the series is used: its third order
// is then below 1e-6 of the current.
const nearShare = 0.02

// at gives a fully warm load's amperes and siemens at v volts, and what it
// draws more in the mean for each square volt that v varies by.
func (t *taylorLoad) at(l *load, v float64) (a, g, bend float64) {
	if d := v - t.centre; t.drawn && math.Abs(d) <= nearShare*t.centre {
		return t.a + d*(t.g+d*t.bend), t.g + 2*d*t.bend, t.bend
	}
	chord := chordShare * l.v0
	switch {
	case v < 0:
		return 0, 0, 0
	case v <= chord:
		g = l.i0 * math.Pow(chordShare, l.alpha) / chord
		return g * v, g, 0
	}
	t.drawn, t.centre = true, v
	t.a = l.i0 * math.Pow(v/l.v0, l.alpha)
	t.g = l.alpha * t.a / v
	t.bend = (l.alpha - 1) * t.g / v / 2
	return t.a, t.g, t.bend
}

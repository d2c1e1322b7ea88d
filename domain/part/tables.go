package part

import "math"

// FrequencyTable is ripple current against frequency, as factors of the rated
// current; ascending in Hz.
type FrequencyTable []FrequencyFactor

// TemperatureTable is ripple current against ambient, as factors of the rated
// current; ascending in °C.
type TemperatureTable []TemperatureFactor

// At is what the rated ripple current is multiplied by at hz: linear in log f
// between the points, flat beyond the ends, 1 where there is no point. Flat is
// on the unsafe side below the lowest point; see Covers.
func (t FrequencyTable) At(hz float64) float64 {
	if len(t) == 0 {
		return 1
	}
	if hz <= t[0].Hz {
		return t[0].Factor
	}
	for i := 1; i < len(t); i++ {
		a, b := t[i-1], t[i]
		if hz <= b.Hz {
			return between(math.Log(hz), math.Log(a.Hz), a.Factor, math.Log(b.Hz), b.Factor)
		}
	}
	return t[len(t)-1].Factor
}

// Covers says whether hz is at or above the lowest frequency of the table.
func (t FrequencyTable) Covers(hz float64) bool { return len(t) > 0 && hz >= t[0].Hz }

// Rebased gives the table for a rating at another frequency: 1 at hz. A table
// for 100 Hz so serves a part rated at 120 Hz, and neither is counted twice.
func (t FrequencyTable) Rebased(hz float64) FrequencyTable {
	k := t.At(hz)
	if k == 1 || k <= 0 {
		return t
	}
	out := make(FrequencyTable, len(t))
	for i, row := range t {
		out[i] = FrequencyFactor{Hz: row.Hz, Factor: row.Factor / k}
	}
	return out
}

// At is what the rated ripple current is multiplied by at an ambient, °C:
// linear between the points, flat beyond the ends, 1 where there is no point.
func (t TemperatureTable) At(ambientC float64) float64 {
	if len(t) == 0 {
		return 1
	}
	if ambientC <= t[0].AmbientC {
		return t[0].Factor
	}
	for i := 1; i < len(t); i++ {
		a, b := t[i-1], t[i]
		if ambientC <= b.AmbientC {
			return between(ambientC, a.AmbientC, a.Factor, b.AmbientC, b.Factor)
		}
	}
	return t[len(t)-1].Factor
}

// between is the straight line through (x0, y0) and (x1, y1), exact at both.
func between(x, x0, y0, x1, y1 float64) float64 {
	if x >= x1 {
		return y1
	}
	return y0 + (y1-y0)*(x-x0)/(x1-x0)
}

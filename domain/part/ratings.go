package part

import "math"

// Surge factors of aluminium electrolytics against rated voltage: IEC 60384-1
// as two encyclopaedias give it, and Vishay 041/042/043 ASH (doc 28329) p.4
// for 160–250 V and 350–450 V. They are not monotonic at the boundary: a
// 315 V part may see 362.25 V, a 316 V part 347.6 V.
const (
	surgeBoundaryV  = 315.0
	surgeFactorLow  = 1.15
	surgeFactorHigh = 1.10
)

// SurgeFactor is the surge voltage of an electrolytic as a multiple of its
// rated voltage, where the maker marks none: 1.15 up to 315 V, 1.10 above.
func SurgeFactor(ratedV float64) float64 {
	if ratedV <= surgeBoundaryV {
		return surgeFactorLow
	}
	return surgeFactorHigh
}

// Surge gives the surge voltage, V, and where it comes from: the maker's mark,
// else the factors of IEC 60384-1 for an electrolytic. Other technologies have
// no surge rating unless one is marked; theirs is the rated voltage.
func (p *Part) Surge() (v float64, source string) {
	switch {
	case p.SurgeV != nil:
		return *p.SurgeV, "maker's surge voltage"
	case p.Technology != Electrolytic:
		return p.RatedV, "rated voltage; no surge rating is given"
	case p.RatedV <= surgeBoundaryV:
		return p.RatedV * surgeFactorLow, "IEC 60384-1: 1.15 × rated up to 315 V"
	}
	return p.RatedV * surgeFactorHigh, "IEC 60384-1: 1.10 × rated above 315 V"
}

// ESR gives the equivalent series resistance, Ω, at the series' base frequency
// and where it comes from: the part's own figure, else tan δ/(2πfC) of the
// series (Vishay 038 RSU, doc 28309 p.100). From a maximum tan δ it stands
// 6–17 % above the typical figure (Vishay ASH). 0 and "" where neither is known.
func (p *Part) ESR(s *Series) (ohm float64, source string) {
	if p.ESROhm != nil {
		return *p.ESROhm, "maker's ESR"
	}
	if s == nil || s.TanDelta == nil || s.BaseHz <= 0 || p.CapacitanceUF <= 0 {
		return 0, ""
	}
	return *s.TanDelta / (2 * math.Pi * s.BaseHz * p.CapacitanceUF * 1e-6), "maximum tan δ of the series, tan δ/(2πfC)"
}

// FrequencyFactor is what the rated ripple current is multiplied by at hz:
// linear in log f between the points of the series, flat beyond its ends, 1
// where the series has no table. Flat is on the unsafe side below the lowest
// point; see CoversHz.
func (s *Series) FrequencyFactor(hz float64) float64 {
	t := s.FrequencyFactors
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

// CoversHz says whether hz is at or above the lowest frequency for which the
// series gives a ripple current.
func (s *Series) CoversHz(hz float64) bool {
	if len(s.FrequencyFactors) == 0 {
		return hz >= s.BaseHz
	}
	return hz >= s.FrequencyFactors[0].Hz
}

// TemperatureFactor is what the rated ripple current is multiplied by at an
// ambient, °C: linear between the points of the series, flat beyond its ends,
// 1 where the series has no table.
func (s *Series) TemperatureFactor(ambientC float64) float64 {
	t := s.TemperatureFactors
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

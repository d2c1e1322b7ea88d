package supply

import "coldrise/domain/amp"

// highLine is the wall volts to design for: a published limit for the tap, and
// never below a reading somebody took at this wall.
func (m *Model) highLine(w *amp.Mains) float64 {
	if w.HighV != nil {
		return *w.HighV
	}
	v, basis := 1.1*w.NominalV, "+10 %, the tolerance of IEC 60038 carried to this tap"
	switch n := w.NominalV; {
	case n >= 105 && n <= 127:
		v, basis = 127, "ANSI C84.1 Range B, 120 V system"
	case n >= 210 && n <= 240:
		v, basis = 253, "IEC 60038, 230 V +10 %"
	}
	if w.MeasuredAtV != nil && *w.MeasuredAtV > v {
		v, basis = *w.MeasuredAtV, "a wall reading above the published limit"
	}
	m.assume("/mains/high_v", v, "V", basis, "high line")
	return v
}

// lowLine is the least wall volts to expect of the tap.
func (m *Model) lowLine(w *amp.Mains) float64 {
	if w.LowV != nil {
		return *w.LowV
	}
	v, basis := 0.9*w.NominalV, "-10 %, the tolerance of IEC 60038 carried to this tap"
	switch n := w.NominalV; {
	case n >= 115 && n <= 127:
		v, basis = 110, "ANSI C84.1 Range B, 120 V system"
	case n >= 220 && n <= 240:
		v, basis = 207, "IEC 60038, 230 V -10 %"
	}
	m.assume("/mains/low_v", v, "V", basis, "low line")
	return v
}

package plan

import (
	"math"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
)

// cathodeStress is a cathode bypass: its cathode's volts at high line and, where
// the policy asks for it, with its tube in fault. A cathode rises with its
// supply, so the ratio of the lines carries over.
func cathodeStress(st *derate.Stress, pos *amp.Position, p derate.Policy, m Mains, read *float64) {
	v := 0.0
	if pos.CathodeV != nil {
		v = *pos.CathodeV
	}
	if read != nil {
		v *= m.NominalV / *read // a cathode is measured, not drawn
	}
	high := v * m.HighV / m.NominalV
	st.NominalDCV, st.DCV, st.WorkingV = v, high, high
	st.Peaks = []derate.CasePeak{{Case: "high_line", Title: "idle at high line", V: high, Mandatory: true}}
	if fault := faultV(pos, high, p); fault > 0 {
		st.Peaks = append(st.Peaks, derate.CasePeak{Case: "tube_fault", Title: "its tube in fault", V: fault, Mandatory: true,
			Above: []derate.Above{{S: derate.Lasting}}})
	}
	st.Worst = worst(st.Peaks)
	original := wanted(pos)
	st.Window = derate.Window{
		OriginalUF: original,
		// 22 µF stand for the 25 µF of old drawings on every bench.
		MinUF: original * 0.8, MinRule: "the stage's bass corner goes as 1/C, within 25 % of the original's (common practice)",
		MaxUF: original * p.MaxRatio, MaxRule: "the policy's largest multiple of the original",
	}
}

// faultV is what a cathode may rise to with its tube in fault: as described,
// else the policy's multiple of what it idles at; 0 where the policy asks for
// no fault. A fault lasts, so no surge rating serves for it.
func faultV(pos *amp.Position, highV float64, p derate.Policy) float64 {
	switch {
	case p.CathodeFaultRatio <= 1:
		return 0
	case pos.CathodeFaultV != nil:
		return *pos.CathodeFaultV
	}
	return highV * p.CathodeFaultRatio
}

// couplingStress is a coupling capacitor: its plate stands at the supply node's
// voltage while nothing draws, and a negative bias behind it, which comes up at
// once, adds to that. A positive far side belongs to a stage that is cold too,
// so it takes nothing off before the tubes draw.
func couplingStress(st *derate.Stress, pos *amp.Position, runs []*run) {
	far := 0.0
	if pos.FarV != nil {
		far = *pos.FarV
	}
	for _, r := range runs {
		for i := range r.model.Nodes {
			if r.model.Name+"/"+r.model.Nodes[i].Name != pos.Node {
				continue
			}
			for k, s := range r.services {
				n := r.results[k].Nodes[i]
				switch s.Name {
				case "idle_high":
					st.DCV = math.Abs(n.SteadyMeanV - far)
					st.WorkingV = math.Abs(n.SteadyMaxV - far)
				case "idle_nominal":
					st.NominalDCV = math.Abs(n.SteadyMeanV - far)
				}
				if s.FromCold() {
					st.Peaks = append(st.Peaks, derate.CasePeak{Case: s.Name, Title: s.Title, V: n.PeakV - math.Min(far, 0), Mandatory: s.Mandatory,
						AboveRatedS: r.nodeSecondsAbove(k, i, pos, far)})
				}
			}
		}
	}
	st.Worst = worst(st.Peaks)
	original := wanted(pos)
	// The value sets a corner of the stage's response; a quarter of it is within what drawings mean.
	st.Window = derate.Window{OriginalUF: original, MinUF: original * 0.8, MinRule: "the stage's bass corner, within 25 % of the original's (common practice)",
		MaxUF: original * 1.25, MaxRule: "the stage's bass corner and grid blocking, within 25 % of the original's (common practice)"}
}

// nodeSecondsAbove is how long a coupling capacitor stands above its fitted
// rating in a case, by the node's own capacitor.
func (r *run) nodeSecondsAbove(k, node int, pos *amp.Position, far float64) float64 {
	if pos.Fitted == nil {
		return 0
	}
	at := pos.Fitted.RatedV + math.Min(far, 0)
	for _, p := range r.model.Places {
		if p.Node != r.model.Nodes[node].Name || p.Stack > 1 {
			continue
		}
		c := capOf(r.results[k], p.Cap)
		for _, t := range c.TimeAbove {
			if near(t.ThresholdV, at) {
				return secondsOf(t, c)
			}
		}
	}
	return 0
}

// mainsStress is a position on the mains: the highest line, and from line to
// chassis the touch current it may pass.
func mainsStress(st *derate.Stress, pos *amp.Position, p derate.Policy, m Mains) {
	st.MainsV, st.MainsNominalV, st.MainsHz = m.HighV, m.NominalV, m.FrequencyHz
	peak := math.Sqrt2 * m.HighV
	st.NominalDCV, st.DCV, st.WorkingV = 0, 0, peak
	st.Worst = derate.CasePeak{Case: "high_line", Title: "mains peak at high line", V: peak, Mandatory: true}
	st.Peaks = []derate.CasePeak{st.Worst}
	original := wanted(pos)
	if pos.Role == amp.MainsY {
		touch := p.TouchLimit(m.NominalV)
		limit := derate.MaxLineToChassisUF(m.HighV, m.FrequencyHz, touch.MA)
		st.Window = derate.Window{OriginalUF: original, MinUF: math.Min(original, limit) * 0.4, MinRule: "some of the original's filtering is to remain",
			MaxUF: limit, MaxRule: "touch current from line to chassis at high line: " + touch.Source}
		return
	}
	st.Window = derate.Window{OriginalUF: original, MinUF: original * 0.8, MinRule: "the original's filtering, within 20 %",
		MaxUF: original * p.MaxRatio, MaxRule: "the policy's largest multiple of the original"}
}

func wanted(pos *amp.Position) float64 {
	if pos.WantedUF != nil {
		return *pos.WantedUF
	}
	if pos.Fitted != nil {
		return pos.Fitted.CapacitanceUF
	}
	return 0
}

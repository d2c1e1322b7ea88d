package plan

import (
	"math"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
)

// cathodeStress is a cathode bypass: its cathode's volts at high line. A
// cathode rises with its supply, so the ratio of the lines carries over.
func cathodeStress(st *derate.Stress, pos *amp.Position, p derate.Policy, m Mains) {
	v := 0.0
	if pos.CathodeV != nil {
		v = *pos.CathodeV
	}
	high := v * m.HighV / m.NominalV
	st.NominalDCV, st.DCV, st.WorkingV = v, high, high
	st.Worst = derate.CasePeak{Case: "high_line", Title: "idle at high line", V: high, Mandatory: true}
	st.Peaks = []derate.CasePeak{st.Worst}
	original := wanted(pos)
	st.Window = derate.Window{
		OriginalUF: original,
		MinUF:      humMin(original, p), MinRule: "the stage's bass corner goes as 1/C, within the policy's hum allowance of the original's",
		MaxUF: original * p.MaxRatio, MaxRule: "the policy's largest multiple of the original",
	}
}

// couplingStress is a coupling capacitor: its plate stands at the supply node's
// cold voltage while nothing draws, and the bias behind it adds to that.
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
				case "cold_start":
					st.DCV = math.Abs(n.SteadyMeanV - far)
					st.WorkingV = math.Abs(n.SteadyMaxV - far)
				case "idle_nominal":
					st.NominalDCV = math.Abs(n.SteadyMeanV - far)
				}
				if s.FromCold() {
					st.Peaks = append(st.Peaks, derate.CasePeak{Case: s.Name, Title: s.Title, V: math.Abs(n.PeakV - far), Mandatory: s.Mandatory})
				}
			}
		}
	}
	st.Worst = worst(st.Peaks)
	original := wanted(pos)
	// The value sets a corner of the stage's response: one E6 step is the furthest a drawing means to go.
	st.Window = derate.Window{OriginalUF: original, MinUF: original * 0.8, MinRule: "the stage's bass corner, within 25 % of the original's (common practice)",
		MaxUF: original * 1.25, MaxRule: "the stage's bass corner and grid blocking, within 25 % of the original's (common practice)"}
}

// mainsStress is a position on the mains: the highest line, and from line to
// chassis the touch current it may pass.
func mainsStress(st *derate.Stress, pos *amp.Position, p derate.Policy, m Mains) {
	st.MainsV, st.MainsHz = m.HighV, m.FrequencyHz
	peak := math.Sqrt2 * m.HighV
	st.NominalDCV, st.DCV, st.WorkingV = 0, 0, peak
	st.Worst = derate.CasePeak{Case: "high_line", Title: "mains peak at high line", V: peak, Mandatory: true}
	st.Peaks = []derate.CasePeak{st.Worst}
	original := wanted(pos)
	if pos.Role == amp.MainsY {
		limit := derate.MaxLineToChassisUF(m.HighV, m.FrequencyHz, p.TouchMA)
		st.Window = derate.Window{OriginalUF: original, MinUF: math.Min(original, limit) * 0.4, MinRule: "some of the original's filtering is to remain",
			MaxUF: limit, MaxRule: "touch current from line to chassis at high line"}
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

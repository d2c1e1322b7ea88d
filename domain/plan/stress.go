package plan

import (
	"math"
	"sort"
	"strings"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/supply"
)

// ratingLadder holds the rated voltages parts are offered at (KEMET ELH,
// A4018, and Vishay ASH, doc 28329; 550 and 600 V from memory), so that a
// cold start's seconds above any of them are known before parts are looked at.
var ratingLadder = [...]float64{16, 25, 35, 50, 63, 80, 100, 160, 200, 250, 315, 350, 385, 400, 420, 450, 500, 550, 600, 630, 700}

// thresholds gives, for each node, the voltages whose seconds above are asked:
// the fitted ratings and surges, and the ladder's ratings near the no-load
// voltage. A stack's node counts its units together.
func (r *run) thresholds(a *amp.Amplifier) map[string][]float64 {
	out := map[string][]float64{}
	top := r.model.NoLoadV()
	for _, p := range r.model.Places {
		f := a.Positions[p.Position].Fitted
		units := float64(p.Stack) / chargingShare(p, f)
		if f != nil {
			out[p.Node] = append(out[p.Node], f.RatedV*units, derate.FittedSurge(a.Positions[p.Position].Role, *f)*units)
		}
		for _, v := range ratingLadder {
			if v*units >= 0.75*top && v*units <= 1.3*top {
				out[p.Node] = append(out[p.Node], v*units)
			}
		}
	}
	r.couplingThresholds(a, out)
	for node, list := range out {
		out[node] = sortedOnce(list)
	}
	return out
}

// couplingThresholds asks of a coupling capacitor's node when it passes the
// fitted rating, less the bias that stands behind it.
func (r *run) couplingThresholds(a *amp.Amplifier, out map[string][]float64) {
	for i := range a.Positions {
		pos := &a.Positions[i]
		supplyName, node, _ := strings.Cut(pos.Node, "/")
		if pos.Role != amp.Coupling || pos.Fitted == nil || supplyName != r.model.Name {
			continue
		}
		far := 0.0
		if pos.FarV != nil {
			far = *pos.FarV
		}
		if at := pos.Fitted.RatedV + math.Min(far, 0); at > 1 {
			out[node] = append(out[node], at)
		}
	}
}

func sortedOnce(list []float64) []float64 {
	sort.Float64s(list)
	kept := list[:0]
	for _, v := range list {
		if len(kept) == 0 || v > kept[len(kept)-1] {
			kept = append(kept, v)
		}
	}
	return kept
}

// stresses fills in those of the positions that stand at this supply's nodes.
func (r *run) stresses(a *amp.Amplifier, p derate.Policy, stresses []derate.Stress) {
	for _, place := range r.model.Places {
		pos := &a.Positions[place.Position]
		st := &stresses[place.Position]
		for k, s := range r.services {
			res := r.results[k]
			c := capOf(res, place.Cap)
			switch s.Name {
			case "idle_high":
				st.DCV = c.SteadyMeanV
				st.WorkingV = math.Max(st.WorkingV, c.SteadyMaxV)
				st.IdleRipple = mainsRipple(c)
			case "full_drive":
				st.WorkingV = math.Max(st.WorkingV, c.SteadyMaxV)
				st.Ripple = append(mainsRipple(c), audioRipple(r.model, place, p)...)
			case "idle_nominal":
				st.NominalDCV = c.SteadyMeanV
			}
			if s.FromCold() {
				st.Peaks = append(st.Peaks, r.casePeak(s, res, place, pos.Fitted, pos.Role))
			}
		}
		rest := restShare(place, pos.Fitted)
		st.WorkingV, st.DCV, st.NominalDCV = st.WorkingV*rest, st.DCV*rest, st.NominalDCV*rest
		st.Units, st.ChargingShare, st.RestShare, st.Balanced = place.Stack, chargingShare(place, pos.Fitted), rest, place.Balanced
		st.Worst = worst(st.Peaks)
		st.RippleRMSA = rootSumSquare(st.Ripple)
		st.Window = r.window(pos, place, p)
	}
}

func capOf(r *supply.Result, name string) supply.CapResult {
	for i := range r.Caps {
		if r.Caps[i].Cap == name {
			return r.Caps[i]
		}
	}
	return supply.CapResult{}
}

func (r *run) casePeak(s supply.Service, res *supply.Result, place supply.Place, f *amp.Fitted, role amp.Role) derate.CasePeak {
	c := capOf(res, place.Cap)
	share := chargingShare(place, f)
	out := derate.CasePeak{Case: s.Name, Title: s.Title, V: c.PeakV * share, FirstAtS: c.TFirst999S, Mandatory: s.Mandatory}
	for _, t := range c.TimeAbove {
		seconds := secondsOf(t, c)
		out.Above = append(out.Above, derate.Above{V: t.ThresholdV * share, S: seconds})
		if f != nil && near(t.ThresholdV*share, f.RatedV) {
			out.AboveRatedS = seconds
		}
		if f != nil && near(t.ThresholdV*share, derate.FittedSurge(role, *f)) {
			out.AboveSurgeS = seconds
		}
	}
	return out
}

// secondsOf is the time above a threshold, without end where the steady state is above it.
func secondsOf(t supply.TimeAbove, c supply.CapResult) float64 {
	if c.SteadyMaxV > t.ThresholdV {
		return derate.Lasting
	}
	return t.TS
}

func near(a, b float64) bool { return math.Abs(a-b) <= 1e-9*math.Abs(b) }

// chargingShare is what the worst unit of a stack takes while it charges, by
// capacitance within its tolerance, over an even share; 1 where there is no stack.
func chargingShare(place supply.Place, f *amp.Fitted) float64 {
	if place.Stack < 2 {
		return 1
	}
	minus, plus := 20.0, 20.0
	if f != nil && f.TolMinusPct != nil && f.TolPlusPct != nil {
		minus, plus = *f.TolMinusPct, *f.TolPlusPct
	}
	return derate.StackSplit(minus, plus, place.Stack) * float64(place.Stack)
}

// restShare is the same at rest: by balancing resistors of 5 % where there are
// any; else no better than while charging.
func restShare(place supply.Place, f *amp.Fitted) float64 {
	if place.Stack > 1 && place.Balanced {
		return derate.StackSplit(5, 5, place.Stack) * float64(place.Stack)
	}
	return chargingShare(place, f)
}

func worst(peaks []derate.CasePeak) derate.CasePeak {
	var w derate.CasePeak
	for _, p := range peaks {
		if p.Mandatory && p.V > w.V {
			w = p
		}
	}
	return w
}

// mainsRipple is a capacitor's current at the mains' harmonics.
func mainsRipple(c supply.CapResult) []derate.Current {
	var list []derate.Current
	for _, h := range c.Harmonics {
		if h.ARMS > 1e-7 {
			list = append(list, derate.Current{Hz: h.Hz, A: h.ARMS, Of: "mains"})
		}
	}
	return list
}

// audioRipple is the audio-rate current of a class-AB stage at full drive. The
// alternating part of a full-wave rectified sine is 0.483 of its mean, at twice
// the signal's frequency (ripple factor of a full-wave rectifier: √(π²/8 − 1)).
func audioRipple(m *supply.Model, place supply.Place, p derate.Policy) []derate.Current {
	for i := range m.Nodes {
		if m.Nodes[i].Name != place.Node {
			continue
		}
		if mean := m.Nodes[i].AudioMeanA(); mean > 0 {
			return []derate.Current{{Hz: 2 * p.SignalHz, A: fullWaveRipple * mean * place.Share, Of: "audio"}}
		}
	}
	return nil
}

var fullWaveRipple = math.Sqrt(math.Pi*math.Pi/8 - 1)

func rootSumSquare(list []derate.Current) float64 {
	sum := 0.0
	for _, c := range list {
		sum += c.A * c.A
	}
	return math.Sqrt(sum)
}

// window is the capacitance that serves at a filter position.
func (r *run) window(pos *amp.Position, place supply.Place, p derate.Policy) derate.Window {
	w := derate.Window{OriginalUF: originalUF(r.model, pos, place)}
	w.MinUF, w.MinRule = humMin(w.OriginalUF, p), "hum at the node goes as 1/C, within the policy's allowance of the original's"
	w.MaxUF, w.MaxRule = w.OriginalUF*p.MaxRatio, "the policy's largest multiple of the original: the start-up of the rail and the fuse were drawn for it"
	if limit := r.firstLimitUF(place); limit > 0 {
		rule := "the largest first capacitor for " + r.model.Rectifier
		switch {
		case r.model.Tube.FirstFromMemory:
			w.AdviceUF, w.AdviceRule = limit, rule+" (from memory)"
		case limit < w.MaxUF:
			w.MaxUF, w.MaxRule = limit, rule+", published"
		}
	}
	return w
}

// firstLimitUF is what the rectifier's largest first capacitor leaves for one
// place: its share of parallel ones, and each unit of a stack in series as many
// times more. 0 behind a choke, at any other node, and where no limit is known.
func (r *run) firstLimitUF(place supply.Place) float64 {
	m := r.model
	if m.Tube == nil || m.FirstUF() == 0 || place.Node != m.Nodes[0].Name {
		return 0
	}
	return m.Tube.MaxFirstUF * float64(m.Tubes) * place.Share * float64(place.Stack)
}

func humMin(original float64, p derate.Policy) float64 {
	return original * math.Pow(10, -p.HumAllowDB/20)
}

// originalUF is the value the model ran with at this place.
func originalUF(m *supply.Model, pos *amp.Position, place supply.Place) float64 {
	if pos.WantedUF != nil {
		return *pos.WantedUF
	}
	if pos.Fitted != nil {
		return pos.Fitted.CapacitanceUF
	}
	return m.CapacitanceUF(place)
}

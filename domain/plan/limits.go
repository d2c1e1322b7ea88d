package plan

import (
	"fmt"

	"coldrise/domain/amp"
	"coldrise/domain/tube"
)

// rectifierLimits holds the rectifier tube's published limits against the runs.
func (r *run) rectifierLimits() []Limit {
	m := r.model
	list := []Limit{}
	if m.Tube == nil {
		return list
	}
	t, count := m.Tube, float64(m.Tubes)
	add := func(name string, kept bool, have, limit float64, unit, text string) {
		if limit <= 0 {
			return // nothing published
		}
		list = append(list, Limit{Tube: t.Type, Name: name, Kept: kept, Have: have, Limit: limit, Unit: unit, Text: text,
			FromMemory: t.FromMemory, Source: t.Source})
	}
	if first := m.FirstUF(); first > 0 {
		add("first_capacitor", first <= t.MaxFirstUF*count, first, t.MaxFirstUF*count, "µF",
			fmt.Sprintf("the first capacitor of %s; the most for %s is %s", uf(first), t.Type, uf(t.MaxFirstUF*count)))
	}
	least := t.MinSourceAt(m.UnloadedV)
	add("source_resistance", m.SourceOhm*count >= least, m.SourceOhm*count, least, "Ω",
		fmt.Sprintf("%.3g Ω ahead of each plate of %s; the least at %.0f V RMS is %.3g Ω", m.SourceOhm*count, t.Type, m.UnloadedV, least))
	steady, switchOn, of := r.rectifierPeaks()
	limit := t.MaxPeakMA / 1000 * count
	add("peak_current", steady <= limit, steady, limit, "A",
		fmt.Sprintf("%s passes peaks of %.3g A at full drive; its recurrent peak is %.3g A", t.Type, steady, limit))
	add("switch_on_current", switchOn <= limit, switchOn, limit, "A",
		fmt.Sprintf("%s passes %.3g A for a moment at %s; its recurrent peak is %.3g A. A larger first capacitor or less resistance would make it worse", t.Type, switchOn, of, limit))
	inverse := m.PeakInverseV()
	add("peak_inverse", inverse <= t.PIV, inverse, t.PIV, "V",
		fmt.Sprintf("a plate of %s holds off %.0f V with nothing drawn at high line; the most is %.0f V", t.Type, inverse, t.PIV))
	mean := r.rectifierMeanA()
	add("direct_current", mean <= t.MaxDCMA/1000*count, mean, t.MaxDCMA/1000*count, "A",
		fmt.Sprintf("%s carries %.3g A of direct current at full drive; the most is %.3g A", t.Type, mean, t.MaxDCMA/1000*count))
	if m.FirstUF() == 0 {
		return list // the plate volts published here are those of capacitor input
	}
	add("plate_volts", m.UnloadedV <= t.MaxPlateV, m.UnloadedV, t.MaxPlateV, "V",
		fmt.Sprintf("%.0f V RMS unloaded at each plate of %s; the most with capacitor input is %.0f V", m.UnloadedV, t.Type, t.MaxPlateV))
	return list
}

// rectifierMeanA is the direct current of all paths at full drive.
func (r *run) rectifierMeanA() float64 {
	sum := 0.0
	if res := r.result("full_drive"); res != nil {
		for _, d := range res.Diodes {
			sum += d.SteadyMeanA
		}
	}
	return sum
}

// rectifierPeaks gives the recurrent peak at full drive, and the highest of
// the cases with the tube in its socket.
func (r *run) rectifierPeaks() (steady, switchOn float64, of string) {
	for k, s := range r.services {
		for _, d := range r.results[k].Diodes {
			if s.Name == "full_drive" {
				steady = max(steady, d.SteadyPeakA)
				continue
			}
			if s.FromCold() && s.Name != "silicon_fitted" && d.PeakA > switchOn {
				switchOn, of = d.PeakA, s.Title
			}
		}
	}
	return steady, switchOn, of
}

// tubeLimits holds the plate volts and dissipation of the tubes that state
// their idle current. The node's whole voltage is taken, the cathode's included,
// so both figures are on the safe side.
func (r *run) tubeLimits(a *amp.Amplifier) []Limit {
	var list []Limit
	s := &a.Supplies[r.index]
	for i := range s.Nodes {
		v := r.node(i).LoadedV
		for _, l := range s.Nodes[i].Loads {
			t, ok := tube.LookupReceiving(l.Tube)
			if !ok || t.Kind != tube.Output {
				continue // a small stage's plate stands behind its own load resistor
			}
			if t.MaxPlateV > 0 {
				list = append(list, Limit{Tube: t.Type, Name: "plate_volts", Kept: v <= t.MaxPlateV, Have: v, Limit: t.MaxPlateV, Unit: "V",
					Text:       fmt.Sprintf("%s has %.0f V on node %s, less its cathode's; its limit is %.0f V", t.Type, v, s.Nodes[i].Name, t.MaxPlateV),
					FromMemory: t.FromMemory, Source: t.Source})
			}
			if l.IdleMA == nil || t.MaxPlateW <= 0 {
				continue
			}
			w := v * *l.IdleMA / 1000
			list = append(list, Limit{Tube: t.Type, Name: "plate_dissipation", Kept: w <= t.MaxPlateW, Have: w, Limit: t.MaxPlateW, Unit: "W",
				Text:       fmt.Sprintf("%s idles at %.0f V × %.3g mA = %.3g W on node %s, less its cathode's share; its limit is %.3g W", t.Type, v, *l.IdleMA, w, s.Nodes[i].Name, t.MaxPlateW),
				FromMemory: t.FromMemory, Source: t.Source})
		}
	}
	return list
}

package plan

import (
	"fmt"
	"math"
	"sort"

	"coldrise/domain/derate"
	"coldrise/domain/supply"
)

// Round is the second round of a study: what to run, and how to read it.
type Round struct {
	study   *Study
	Points  []Point
	ends    [][]float64
	corners [][]corner // by supply
	samples int
	starts  []int // by supply, of its samples in Points
}

// corner is the pair of points that push a set of outputs furthest either way.
type corner struct {
	outputs   []int
	high, low int    // indices into Points
	pinned    [2]int // the same with the winding measured; −1 where it is not fitted
}

// Corners gives the points of the second round from what the first found: for
// each pattern of signs the two corners, then samples of all figures at once.
func (t *Study) Corners(ends [][]float64, samples int) *Round {
	r := &Round{study: t, ends: ends, samples: samples}
	at := 0
	for s, u := range t.supplies {
		knobs := len(u.spread.Knobs)
		own := ends[at : at+2*knobs]
		held := own
		if at += 2 * knobs; u.spread.Fitted() {
			held = ends[at : at+2*knobs]
			at += 2 * knobs
		}
		patterns := map[string]int{}
		var list []corner
		for o := range u.outputs {
			x := u.worst(own, o)
			key := fmt.Sprint(x)
			if i, ok := patterns[key]; ok {
				list[i].outputs = append(list[i].outputs, o)
				continue
			}
			patterns[key] = len(list)
			list = append(list, r.corner(s, o, x, u.worst(held, o)))
		}
		r.corners = append(r.corners, list)
		r.starts = append(r.starts, len(r.Points))
		for i := range samples {
			r.Points = append(r.Points, sampleOf(s, i, knobs))
		}
	}
	return r
}

// worst gives the setting that raises output o most, by each figure's own effect.
func (u *supplyStudy) worst(ends [][]float64, o int) []float64 {
	x := make([]float64, len(u.spread.Knobs))
	for k := range x {
		down, up := ends[2*k][o], ends[2*k+1][o]
		switch {
		case up > down:
			x[k] = 1
		case down > up:
			x[k] = -1
		}
	}
	return x
}

func (r *Round) corner(s, o int, x, held []float64) corner {
	c := corner{outputs: []int{o}, high: r.add(Point{Supply: s, X: x}), low: r.add(Point{Supply: s, X: opposite(x)}), pinned: [2]int{-1, -1}}
	if r.study.supplies[s].spread.Fitted() {
		c.pinned[0] = r.add(Point{Supply: s, X: opposite(held), Pinned: true, WindingX: -1})
		c.pinned[1] = r.add(Point{Supply: s, X: held, Pinned: true, WindingX: 1})
	}
	return c
}

func opposite(x []float64) []float64 {
	out := make([]float64, len(x))
	for k := range x {
		out[k] = -x[k]
	}
	return out
}

func (r *Round) add(p Point) int {
	r.Points = append(r.Points, p)
	return len(r.Points) - 1
}

// Settle writes the bands into an assessment, judges what is fitted by their
// high ends where the policy says so, and ranks what to measure next. Results
// are those of Points, in their order.
func (r *Round) Settle(a *Assessment, results [][]float64) {
	at := 0
	for s, u := range r.study.supplies {
		knobs := len(u.spread.Knobs)
		ends := r.ends[at : at+2*knobs]
		at += 2 * knobs * len(u.pinnings())
		bands := make([]derate.Band, len(u.outputs))
		for _, c := range r.corners[s] {
			for _, o := range c.outputs {
				sample := make([]float64, r.samples)
				for i := range sample {
					sample[i] = results[r.starts[s]+i][o]
				}
				bands[o] = bandOf(u.base[o], results[c.low][o], results[c.high][o], sample)
			}
		}
		for o, b := range bands {
			a.setBand(u.outputs[o], b)
		}
		a.plan.Measure = append(a.plan.Measure, u.measureNext(a, bands, ends, r.corners[s], results)...)
	}
	a.plan.Samples = r.samples
	a.rejudge()
}

func (a *Assessment) setBand(o output, b derate.Band) {
	st := &a.plan.Positions[o.position].Stress
	switch o.kind {
	case coldV:
		st.ColdBand = &b
	case workingV:
		st.WorkingBand = &b
	case rippleA:
		st.RippleBand = &b
	}
}

// measureNext ranks, for the position whose cold voltage may be highest, the
// figures by how much measuring each would narrow its band.
func (u *supplyStudy) measureNext(a *Assessment, bands []derate.Band, ends [][]float64, corners []corner, results [][]float64) []Measurement {
	o := u.highest(bands)
	if o < 0 {
		return nil
	}
	b := bands[o]
	effect := make([]float64, len(u.spread.Knobs))
	whole := 0.0
	for k := range effect {
		effect[k] = math.Abs(ends[2*k+1][o] - ends[2*k][o])
		whole += effect[k]
	}
	if whole == 0 {
		return nil
	}
	ref := a.plan.Positions[u.outputs[o].position].Ref
	var list []Measurement
	for k := range u.spread.Knobs {
		knob := &u.spread.Knobs[k]
		how, accuracy, ok := instruction(knob)
		range_ := (knob.DownPct + knob.UpPct) / 2
		if !ok || range_ <= accuracy {
			continue
		}
		// What the figure adds to the band goes down with its range; the rest stays.
		kept := 1 - effect[k]/whole*(1-accuracy/range_)
		list = append(list, measurement(knob, how, accuracy, ref, b, b.Likely-(b.Likely-b.Low)*kept, b.Likely+(b.High-b.Likely)*kept))
	}
	if m, ok := u.windingMeasurement(o, ref, b, corners, results); ok {
		list = append(list, m)
	}
	sort.SliceStable(list, func(i, j int) bool { return list[i].NarrowsV > list[j].NarrowsV })
	for len(list) > 0 && list[len(list)-1].NarrowsV < 0.005*b.Likely {
		list = list[:len(list)-1] // half a per cent is no reason to open an amplifier
	}
	return list
}

// highest is the cold output of a node's capacitor with the highest end, −1
// where there is none: it is what the ratings to buy hang on.
func (u *supplyStudy) highest(bands []derate.Band) int {
	best := -1
	for o := range u.outputs {
		if u.outputs[o].kind == coldV && u.outputs[o].cap != "" && (best < 0 || bands[o].High > bands[best].High) {
			best = o
		}
	}
	return best
}

func (u *supplyStudy) windingMeasurement(o int, ref string, b derate.Band, corners []corner, results [][]float64) (Measurement, bool) {
	for _, c := range corners {
		for _, has := range c.outputs {
			if has != o || c.pinned[0] < 0 {
				continue
			}
			low, high := results[c.pinned[0]][o], results[c.pinned[1]][o]
			knob := supply.Knob{Pointer: u.spread.WindingPointer(), Text: "unloaded volts of the " + u.run.model.Name + " winding", Value: u.run.model.UnloadedV, Unit: "V"}
			return measurement(&knob, windingHow, supply.MeasuredWindingPct, ref, b, math.Min(low, high), math.Max(low, high)), true
		}
	}
	return Measurement{}, false
}

func measurement(k *supply.Knob, how string, accuracy float64, ref string, b derate.Band, low, high float64) Measurement {
	return Measurement{
		Pointer: k.Pointer, Text: k.Text, AccuracyPct: accuracy, Position: ref, How: how,
		LowV: b.Low, HighV: b.High, ThenLowV: low, ThenHighV: high, NarrowsV: (b.High - b.Low) - (high - low),
	}
}

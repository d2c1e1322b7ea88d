package plan

import (
	"context"
	"math"
	"sort"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/supply"
)

// DefaultSamples is how many times a study draws all figures at once.
const DefaultSamples = 1000

// runnerUpShare: a mandatory case whose peak comes within 2 % of the deciding
// one may decide in another sample, so both are run in every one.
const runnerUpShare = 0.98

// Study finds how far each stress may lie from its likely value, given how far
// the figures behind it may be off. It is a list of points to run, in two
// rounds, since the corners of the second depend on what the first found:
//
//	first := study.Ends()              // each figure alone at its ends
//	second := study.Corners(atFirst)   // all figures at their worst, then samples
//
// Running a point is pure and depends on nothing but the point, so a caller
// may run points on any number of workers in any order.
type Study struct {
	supplies []*supplyStudy
}

// supplyStudy is the study of one supply; what moves one does not move another.
type supplyStudy struct {
	run     *run
	spread  *supply.Spread
	cases   []supply.Service // that some output needs
	outputs []output
	base    []float64
}

// output is one stress of one position.
type output struct {
	position int
	kind     outputKind
	cap      string // name of the capacitor in a result; "" for a node's voltage
	node     int
	scale    float64 // what the worst unit of a stack takes more
	far      float64 // V behind a coupling capacitor
}

type outputKind int

const (
	coldV outputKind = iota
	workingV
	rippleA
)

// Point is one way to set every figure of one supply.
type Point struct {
	Supply int
	X      []float64 // −1 to 1 for each knob
	// Pinned holds the winding at its volts instead of refitting it: what
	// measuring it unloaded would do. WindingX then sets it within that reading's tolerance.
	Pinned   bool
	WindingX float64
}

// Study readies the study of an assessed amplifier. For a winding fitted to a
// reading it refits it with each figure at its ends.
func (s *Assessment) Study(ctx context.Context) (*Study, error) {
	t := &Study{}
	for _, r := range s.runs {
		spread, err := r.model.NewSpread(s.described, func(m *supply.Model) error { return m.Refit(ctx) })
		if err != nil {
			return nil, err
		}
		u := &supplyStudy{run: r, spread: spread}
		u.outputs = s.outputsOf(r)
		u.cases = u.neededCases(s.plan.Positions)
		u.base = u.measure(r.resultsOf(u.cases))
		t.supplies = append(t.supplies, u)
	}
	return t, nil
}

// outputsOf lists the stresses of the positions at a supply's nodes.
func (s *Assessment) outputsOf(r *run) []output {
	var list []output
	for _, p := range r.model.Places {
		f := s.positions[p.Position].Fitted
		o := output{position: p.Position, cap: p.Cap, scale: chargingShare(p, f)}
		list = append(list, o)
		o.kind, o.scale = workingV, restShare(p, f)
		list = append(list, o)
		o.kind, o.scale = rippleA, 1
		list = append(list, o)
	}
	for i := range s.positions {
		pos := &s.positions[i]
		if pos.Role != amp.Coupling {
			continue
		}
		for k := range r.model.Nodes {
			if r.model.Name+"/"+r.model.Nodes[k].Name == pos.Node {
				far := 0.0
				if pos.FarV != nil {
					far = *pos.FarV
				}
				list = append(list, output{position: i, node: k, scale: 1, far: far}, output{position: i, kind: workingV, node: k, scale: 1, far: far})
			}
		}
	}
	return list
}

// neededCases are the deciding cases of the outputs, what comes close to them,
// and the two steady states.
func (u *supplyStudy) neededCases(positions []Position) []supply.Service {
	wanted := map[string]bool{"full_drive": true, "idle_high": true}
	for _, o := range u.outputs {
		st := &positions[o.position].Stress
		for _, c := range st.Peaks {
			if c.Mandatory && c.V >= runnerUpShare*st.Worst.V {
				wanted[c.Case] = true
			}
		}
	}
	var list []supply.Service
	for _, s := range u.run.services {
		if wanted[s.Name] {
			list = append(list, s)
		}
	}
	return list
}

// resultsOf gives a run's results of some cases, in their order.
func (r *run) resultsOf(cases []supply.Service) []*supply.Result {
	list := make([]*supply.Result, len(cases))
	for i, c := range cases {
		list[i] = r.result(c.Name)
	}
	return list
}

// measure reads every output from the results of the needed cases.
func (u *supplyStudy) measure(results []*supply.Result) []float64 {
	out := make([]float64, len(u.outputs))
	for k, s := range u.cases {
		for i, o := range u.outputs {
			v := o.of(s, results[k])
			out[i] = math.Max(out[i], v)
		}
	}
	return out
}

// of gives an output's value in one case; 0 where the case does not bear on it.
func (o *output) of(s supply.Service, r *supply.Result) float64 {
	fromCold := s.FromCold()
	if o.cap == "" {
		n := r.Nodes[o.node]
		switch {
		case o.kind == coldV && fromCold:
			return n.PeakV - math.Min(o.far, 0)
		case o.kind == workingV && !fromCold:
			return math.Abs(n.SteadyMaxV - o.far)
		}
		return 0
	}
	c := capOf(r, o.cap)
	switch {
	case o.kind == coldV && fromCold:
		return c.PeakV * o.scale
	case o.kind == workingV && !fromCold:
		return c.SteadyMaxV * o.scale
	case o.kind == rippleA && s.Name == "full_drive":
		return c.SteadyRippleARMS
	}
	return 0
}

// Runner gives a function that runs one point and gives its outputs, in the
// study's own order. One runner serves one goroutine at a time; it keeps its
// working room from point to point.
func (t *Study) Runner() func(ctx context.Context, p Point) ([]float64, error) {
	var solver supply.Solver
	return func(ctx context.Context, p Point) ([]float64, error) {
		u := t.supplies[p.Supply]
		m := u.spread.Turned(p.X, p.Pinned, p.WindingX)
		results := make([]*supply.Result, len(u.cases))
		for k, s := range u.cases {
			r, err := m.FindHighest(ctx, &solver, s)
			if err != nil {
				return nil, err
			}
			results[k] = r
		}
		return u.measure(results), nil
	}
}

// Ends gives the points of the first round: each figure alone at either end,
// and where the winding was fitted the same with the winding held.
func (t *Study) Ends() []Point {
	var list []Point
	for s, u := range t.supplies {
		for _, pinned := range u.pinnings() {
			for k := range u.spread.Knobs {
				for _, end := range []float64{-1, 1} {
					x := make([]float64, len(u.spread.Knobs))
					x[k] = end
					list = append(list, Point{Supply: s, X: x, Pinned: pinned})
				}
			}
		}
	}
	return list
}

// pinnings are the ways a supply's figures are turned: with the winding
// following its fit, and held where there is one.
func (u *supplyStudy) pinnings() []bool {
	if u.spread.Fitted() {
		return []bool{false, true}
	}
	return []bool{false}
}

// drawOf gives figure k of sample i: the sum of two even draws, so that the
// middle is likelier than the ends, from nothing but the two indices
// (SplitMix64: Steele, Lea, Flood, OOPSLA 2014).
func drawOf(i, k int) float64 {
	seed := uint64(i)<<20 | uint64(k)<<1
	return even(seed) + even(seed|1) - 1
}

func even(seed uint64) float64 {
	z := seed*0x9e3779b97f4a7c15 + 0x9e3779b97f4a7c15
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return float64((z^z>>31)>>11) / (1 << 53)
}

func sampleOf(supply, i, knobs int) Point {
	x := make([]float64, knobs)
	for k := range x {
		x[k] = drawOf(i, k)
	}
	return Point{Supply: supply, X: x}
}

// quantile gives the share q of a sorted sample, between its points.
func quantile(sorted []float64, q float64) float64 {
	at := q * float64(len(sorted)-1)
	i := int(at)
	if i+1 >= len(sorted) {
		return sorted[len(sorted)-1]
	}
	return sorted[i] + (at-float64(i))*(sorted[i+1]-sorted[i])
}

func bandOf(likely, low, high float64, sample []float64) derate.Band {
	sort.Float64s(sample)
	b := derate.Band{Likely: likely, Low: math.Min(low, likely), High: math.Max(high, likely)}
	if len(sample) == 0 {
		return b
	}
	b.P05, b.P50, b.P95 = quantile(sample, 0.05), quantile(sample, 0.5), quantile(sample, 0.95)
	// The extremes hold by the sign of each figure's effect. Where figures work
	// against each other a sample may pass them: then it is the extreme.
	if sample[0] < b.Low || sample[len(sample)-1] > b.High {
		b.Widened = sample[0] < b.Low*(1-1e-3) || sample[len(sample)-1] > b.High*(1+1e-3)
		b.Low, b.High = math.Min(b.Low, sample[0]), math.Max(b.High, sample[len(sample)-1])
	}
	return b
}

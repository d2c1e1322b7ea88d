package supply

import "math"

// recorder gathers the results of a run from the machine after each step. It
// holds no part of the model: a run without one goes the same way.
type recorder struct {
	units  []channel // by unit
	totals []channel // by stack; used where a stack has several units
	nodes  []nodeTally
	diodes [2]diodeTally

	from, to float64 // s, the steady window
	inSteady bool
	seconds  float64 // s gathered of the window
	binning  bool    // the running cycle lies whole within the window
	cycles   int     // such cycles gathered
	period   float64 // s, of the mains
	now      float64 // s
}

// channel is what is kept of one capacitor, or of a stack as a whole.
type channel struct {
	v, a        float64 // at the last step
	peak, tPeak float64
	highs       highs
	levels      []level
	cycleA2     float64 // A²s of the running cycle
	mostA2      float64 // A²s of the worst whole cycle
	lowV, topV  float64 // steady
	vs          float64 // V·s, A·s and A²s over the steady window
	as, a2s     float64
	bins        []float64 // A, summed over the whole steady cycles, by place in the cycle
}

// level is one threshold.
type level struct {
	volts, total, since float64
	above               bool
}

// highs is the way a voltage came to its record, thinned to a millionth and
// kept from 99.9 % of the record on: at most ln(1/0.999)/1e-6 ≈ 1001 points.
type highs struct {
	t, v       []float64
	head, tail int // both only grow; an index is taken modulo the length
}

const (
	highsKept  = 1024
	highsThin  = 1e-6
	firstShare = 0.999
)

type nodeTally struct {
	v, load          float64
	peak, lowV, topV float64
	vs, loadS        float64
	vertex           int
}

type diodeTally struct {
	a, peak, tPeak, steadyPeak float64
	as, a2s                    float64
}

func newRecorder(c *Circuit, n *network, perCyc int, from, to float64) *recorder {
	rec := &recorder{
		units: make([]channel, len(n.units)), totals: make([]channel, len(n.stacks)),
		nodes: make([]nodeTally, len(c.Nodes)), from: from, to: to, period: 1 / c.Mains.FreqHz,
	}
	for k, v := range n.vertices {
		if v.node >= 0 {
			rec.nodes[v.node].vertex = k
		}
	}
	for k := range n.stacks {
		s := &n.stacks[k]
		levels := c.Nodes[n.vertices[s.vertex].node].Thresholds
		for u := s.first; u < s.first+s.count; u++ {
			rec.units[u].open(levels, float64(s.count))
			rec.units[u].bins = make([]float64, perCyc)
		}
		if s.count > 1 {
			rec.totals[k].open(levels, 1)
		}
	}
	return rec
}

// open makes a channel ready; its thresholds are the node's shared among units.
func (ch *channel) open(levels []float64, units float64) {
	ch.highs = highs{t: make([]float64, highsKept), v: make([]float64, highsKept)}
	for _, v := range levels {
		ch.levels = append(ch.levels, level{volts: v / units})
	}
}

// observe takes the machine's state at t, dt seconds after the last. Bin is
// the place in the mains cycle of the step that ended, −1 where it ended
// between two.
func (rec *recorder) observe(m *machine, t, dt float64, bin int) {
	rec.now = t
	rec.seconds += dt
	for k := range rec.units {
		ch := &rec.units[k]
		v, a := m.unitV[k], m.unitA[k]
		ch.rise(v, t, dt)
		half := 0.5 * dt * (ch.a*ch.a + a*a)
		ch.cycleA2 += half
		if rec.inSteady {
			ch.a2s += half
			ch.as += 0.5 * dt * (ch.a + a)
			ch.settleV(v, dt)
			if bin >= 0 && rec.binning {
				ch.bins[bin] += a
			}
		}
		ch.v, ch.a = v, a
	}
	for k := range rec.totals {
		if ch := &rec.totals[k]; ch.highs.t != nil {
			v := m.v[m.net.stacks[k].vertex]
			ch.rise(v, t, dt)
			if rec.inSteady {
				ch.settleV(v, dt)
			}
			ch.v = v
		}
	}
	rec.observeNodes(m, dt)
	rec.observeDiodes(m, t, dt)
}

func (rec *recorder) observeNodes(m *machine, dt float64) {
	for k := range rec.nodes {
		n := &rec.nodes[k]
		v := m.v[n.vertex]
		load := m.loads.a[n.vertex] + m.loads.g[n.vertex]*v
		if v > n.peak {
			n.peak = v
		}
		if rec.inSteady {
			n.vs += 0.5 * dt * (n.v + v)
			n.loadS += 0.5 * dt * (n.load + load)
			n.lowV, n.topV = math.Min(n.lowV, v), math.Max(n.topV, v)
		}
		n.v, n.load = v, load
	}
}

func (rec *recorder) observeDiodes(m *machine, t, dt float64) {
	for k := range rec.diodes {
		d := &rec.diodes[k]
		a := m.path[k]
		if a > d.peak {
			d.peak, d.tPeak = a, t
		}
		if rec.inSteady {
			d.steadyPeak = math.Max(d.steadyPeak, a)
			d.as += 0.5 * dt * (d.a + a)
			d.a2s += 0.5 * dt * (d.a*d.a + a*a)
		}
		d.a = a
	}
}

// rise follows the peak, the records and the thresholds.
func (ch *channel) rise(v, t, dt float64) {
	if v > ch.peak {
		ch.peak, ch.tPeak = v, t
		ch.highs.add(t, v)
	}
	for k := range ch.levels {
		l := &ch.levels[k]
		if (v > l.volts) == l.above {
			continue
		}
		at := t
		if v != ch.v {
			at -= dt * (v - l.volts) / (v - ch.v)
		}
		if l.above = !l.above; l.above {
			l.since = at
		} else {
			l.total += at - l.since
		}
	}
}

func (ch *channel) settleV(v, dt float64) {
	ch.vs += 0.5 * dt * (ch.v + v)
	ch.lowV, ch.topV = math.Min(ch.lowV, v), math.Max(ch.topV, v)
}

// add takes a new record and lets go of what it leaves below 99.9 %.
func (h *highs) add(t, v float64) {
	if h.tail > h.head && v <= h.v[(h.tail-1)%highsKept]*(1+highsThin) {
		return
	}
	for h.head < h.tail && h.v[h.head%highsKept] < firstShare*v {
		h.head++
	}
	h.t[h.tail%highsKept], h.v[h.tail%highsKept] = t, v
	h.tail++
}

// first gives the first time at 99.9 % of the peak.
func (h *highs) first(peak float64) float64 {
	for k := h.head; k < h.tail; k++ {
		if h.v[k%highsKept] >= firstShare*peak {
			return h.t[k%highsKept]
		}
	}
	return 0
}

// jump takes values that changed at t without time passing.
func (rec *recorder) jump(m *machine, t float64) {
	inSteady := rec.inSteady
	rec.inSteady = false // a jump adds nothing to any integral
	rec.observe(m, t, 0, -1)
	rec.inSteady = inSteady
}

// beginSteady starts the steady window at the last step.
func (rec *recorder) beginSteady() {
	rec.inSteady, rec.seconds, rec.cycles = true, 0, 0
	for k := range rec.units {
		rec.units[k].lowV, rec.units[k].topV = rec.units[k].v, rec.units[k].v
	}
	for k := range rec.totals {
		rec.totals[k].lowV, rec.totals[k].topV = rec.totals[k].v, rec.totals[k].v
	}
	for k := range rec.nodes {
		rec.nodes[k].lowV, rec.nodes[k].topV = rec.nodes[k].v, rec.nodes[k].v
	}
	for k := range rec.diodes {
		rec.diodes[k].steadyPeak = rec.diodes[k].a
	}
}

// startCycle begins a mains cycle.
func (rec *recorder) startCycle() {
	rec.binning = rec.inSteady && rec.now+rec.period <= rec.to+1e-6*rec.period
}

// endCycle closes a whole mains cycle.
func (rec *recorder) endCycle() {
	if rec.binning {
		rec.cycles++
	}
	for k := range rec.units {
		ch := &rec.units[k]
		ch.mostA2 = math.Max(ch.mostA2, ch.cycleA2)
		ch.cycleA2 = 0
	}
}

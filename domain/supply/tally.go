package supply

// samples is at how many places in a period a voltage with thresholds is kept,
// to follow it through periods that are not walked.
const samples = 16

// tally gathers what a fast run's walked periods show. Channels are the units,
// then the stacks of several, then the nodes without a capacitor.
type tally struct {
	net      *network
	channels int
	stack    []int       // channel of each stack
	node     []int       // channel of each node
	several  []int       // stacks of several units, in the channels' order
	bare     []int       // vertices of nodes without a capacitor, likewise
	levels   [][]float64 // V: thresholds by channel
	above    [][]float64 // s: within walked periods that were noted
	anyLevel bool

	seen sight
	mem  *room // of walked periods: when, and by channel peaks, their times, samples and shares above levels

	mostA2 []float64 // A²s of the worst mains cycle, by unit
	halfA2 []float64 // A²s of the first half of the running cycle
	diodes [2]diodeTally
	half   bool // periods are half a mains cycle
}

// walkedPeriod is when one stretch was walked.
type walkedPeriod struct {
	from, to float64 // s
	jump     bool    // something was switched just before: no line leads here
	whole    bool    // a whole period on the plain grid
}

// sight is what one trace shows.
type sight struct {
	top, at, low, vs []float64   // V, s from the start, V, V·s by channel
	as, a2s          []float64   // A·s, A²s by unit
	above            [][]float64 // s by channel and level
	spread           []float64   // V²: mean square about the mean, by channel
	t, v, a          []float64   // s by point; V by channel and point; A by unit and point
	rate, lean       []float64   // 1/s from the point before; share of the step before in both beside it
	points           int
	wave             []float64
	place            [samples]int // the point after each sample
	part             [samples]float64
	topA, topAt      [2]float64
	sideAs           [2]float64
	sideA2s          [2]float64
	seconds          float64
}

func newTally(c *Circuit, n *network, mem *room) *tally {
	t := &tally{net: n, node: make([]int, len(c.Nodes)), mem: mem}
	mem.walked, mem.peakV, mem.peakAt, mem.peakA, mem.waves, mem.share = mem.walked[:0], mem.peakV[:0], mem.peakAt[:0], mem.peakA[:0], mem.waves[:0], mem.share[:0]
	t.channels = len(n.units)
	held := make([]int, len(n.vertices)) // channel and one, by vertex
	for k, st := range n.stacks {
		ch := st.first
		if st.count > 1 {
			ch = t.channels
			t.several = append(t.several, k)
			t.channels++
		}
		t.stack = append(t.stack, ch)
		if held[st.vertex] == 0 {
			held[st.vertex] = ch + 1
		}
	}
	for k, v := range n.vertices {
		if v.node < 0 {
			continue
		}
		if held[k] == 0 {
			t.bare = append(t.bare, k)
			t.channels++
			held[k] = t.channels
		}
		t.node[v.node] = held[k] - 1
	}
	t.takeLevels(c)
	u := len(n.units)
	t.mostA2, t.halfA2 = mem.floats(u), mem.floats(u)
	x := &t.seen
	for _, p := range []*[]float64{&x.top, &x.at, &x.low, &x.vs, &x.spread} {
		*p = mem.floats(t.channels)
	}
	x.as, x.a2s = mem.floats(u), mem.floats(u)
	x.wave = mem.floats(t.channels * samples)
	return t
}

func (t *tally) takeLevels(c *Circuit) {
	n := t.net
	t.levels, t.above = make([][]float64, t.channels), make([][]float64, t.channels)
	for k, st := range n.stacks {
		for _, v := range c.Nodes[n.vertices[st.vertex].node].Thresholds {
			t.anyLevel = true
			if st.count > 1 {
				t.levels[t.stack[k]] = append(t.levels[t.stack[k]], v)
			}
			for j := st.first; j < st.first+st.count; j++ {
				t.levels[j] = append(t.levels[j], v/float64(st.count))
			}
		}
	}
	t.seen.above = make([][]float64, t.channels)
	for k := range t.levels {
		t.above[k], t.seen.above[k] = make([]float64, len(t.levels[k])), make([]float64, len(t.levels[k]))
	}
}

// levelPlace gives where a channel's levels begin among all, and how many
// there are.
func (t *tally) levelPlace(ch int) (first, all int) {
	for k, levels := range t.levels {
		if k < ch {
			first += len(levels)
		}
		all += len(levels)
	}
	return first, all
}

// note keeps what the last look showed of the stretch p. Flip says that the
// sides of the winding had changed places.
func (t *tally) note(p walkedPeriod, flip bool) {
	x := &t.seen
	t.mem.walked = append(t.mem.walked, p)
	for ch := range t.channels {
		t.mem.peakV = append(t.mem.peakV, x.top[ch])
		t.mem.peakAt = append(t.mem.peakAt, p.from+x.at[ch])
	}
	if t.anyLevel {
		t.mem.waves = append(t.mem.waves, x.wave...)
		for ch := range t.above {
			for k, seconds := range x.above[ch] {
				t.above[ch][k] += seconds
				t.mem.share = append(t.mem.share, seconds/x.seconds)
			}
		}
	}
	for side, a := range x.topA {
		series := a
		if t.half {
			series = max(x.topA[0], x.topA[1]) // each path has the one half now and the other then
		}
		t.mem.peakA = append(t.mem.peakA, series)
		at := p.from + x.topAt[side]
		if flip {
			side = 1 - side
		}
		if d := &t.diodes[side]; a > d.peak {
			d.peak, d.tPeak = a, at
		}
	}
}

// cycle counts the last look's currents into the worst mains cycle. Share is
// what part of a mains cycle it was; alone says that its neighbours were not
// walked, so that it stands for the whole cycle.
func (t *tally) cycle(share float64, begins, ends, alone bool) {
	for u, a2 := range t.seen.a2s {
		if alone {
			t.mostA2[u] = max(t.mostA2[u], a2/share)
			continue
		}
		if begins {
			t.halfA2[u] = 0
		}
		t.halfA2[u] += a2
		if ends {
			t.mostA2[u] = max(t.mostA2[u], t.halfA2[u])
		}
	}
}

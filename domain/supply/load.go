package supply

import "math"

// A load is carried as a straight line through its last value. Both bounds
// are a share of the voltage the line touches at: beyond refreshShare a new
// line is drawn for the next stage (the old one is then at most
// α(α−1)/2·0.005² ≈ 1e-5 off), beyond strayShare the stage itself is solved again.
const (
	refreshShare = 0.005
	strayShare   = 0.03
)

// chordShare is the share of v0 below which a load is taken as the ohms it
// has there: laws with α < 1 have no slope at zero volts.
const chordShare = 1e-3

// loadState is every load as a line: i = w·(i0 + g·v) of its own, and the sums
// at each vertex.
type loadState struct {
	touch  []float64 // V where the line touches
	lineA  []float64 // A at 0 V, fully warm
	lineG  []float64 // S, fully warm
	warmth []float64 // the w in the sums
	a, g   []float64 // sums at each vertex
}

func newLoadState(n *network) loadState {
	k, v := len(n.loads), len(n.vertices)
	return loadState{
		touch: make([]float64, k), lineA: make([]float64, k), lineG: make([]float64, k),
		warmth: make([]float64, k), a: make([]float64, v), g: make([]float64, v),
	}
}

// follow brings the lines to the voltages and emissions of the moment and
// says whether a sum changed.
func (s *loadState) follow(n *network, v, emission []float64) bool {
	changed := false
	for k := range n.loads {
		l := &n.loads[k]
		w := 1.0
		if l.heater >= 0 {
			w = emission[l.heater]
		}
		if w == 0 {
			continue // cold: no line is needed yet
		}
		if s.off(k, l, v[l.vertex], refreshShare) || s.warmth[k] == 0 {
			s.draw(k, l, v[l.vertex])
			changed = true
		}
		if w != s.warmth[k] {
			s.warmth[k] = w
			changed = true
		}
	}
	if changed {
		s.sum(n)
	}
	return changed
}

// strayed redraws the lines that a stage's answer has left far behind and
// says whether there were any.
func (s *loadState) strayed(n *network, v []float64) bool {
	changed := false
	for k := range n.loads {
		l := &n.loads[k]
		if s.warmth[k] > 0 && s.off(k, l, v[l.vertex], strayShare) {
			s.draw(k, l, v[l.vertex])
			changed = true
		}
	}
	if changed {
		s.sum(n)
	}
	return changed
}

// off says whether v is further than share from where load k's line touches,
// on another part of its law.
func (s *loadState) off(k int, l *load, v, share float64) bool {
	was, chord := s.touch[k], chordShare*l.v0
	if l.alpha == 1 || was <= chord || v <= chord {
		return (was < 0) != (v < 0) || (l.alpha != 1 && (was <= chord) != (v <= chord))
	}
	return math.Abs(v-was) > share*was
}

// draw makes load k's line touch its law at v.
func (s *loadState) draw(k int, l *load, v float64) {
	s.touch[k] = v
	chord := chordShare * l.v0
	switch {
	case v < 0:
		s.lineA[k], s.lineG[k] = 0, 0
	case v <= chord || l.alpha == 1:
		s.lineA[k], s.lineG[k] = 0, l.i0*math.Pow(chordShare, l.alpha)/chord
	default:
		i := l.i0 * math.Pow(v/l.v0, l.alpha)
		s.lineA[k], s.lineG[k] = (1-l.alpha)*i, l.alpha*i/v
	}
}

func (s *loadState) sum(n *network) {
	clear(s.a)
	clear(s.g)
	for k := range n.loads {
		at := n.loads[k].vertex
		s.a[at] += s.warmth[k] * s.lineA[k]
		s.g[at] += s.warmth[k] * s.lineG[k]
	}
}

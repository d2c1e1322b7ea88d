package supply

import "math"

// track gives value q of one series over the walked periods.
type track struct {
	t      *tally
	values []float64
	width  int
	offset int
}

func (l track) at(q int) float64 { return l.values[q*l.width+l.offset] }

// slope gives the series' slope at q, by the parabola through its neighbours
// where nothing jumped between, V/s.
func (l track) slope(q int) float64 {
	w := l.t.mem.walked
	before := q > 0 && !w[q].jump && w[q-1].whole && w[q].whole
	after := q+1 < len(w) && !w[q+1].jump && w[q+1].whole && w[q].whole
	secant := func(a, b int) float64 { return (l.at(b) - l.at(a)) / (w[b].from - w[a].from) }
	switch {
	case before && after:
		h0, h1 := w[q].from-w[q-1].from, w[q+1].from-w[q].from
		return (secant(q-1, q)*h1 + secant(q, q+1)*h0) / (h0 + h1)
	case before:
		return secant(q-1, q)
	case after:
		return secant(q, q+1)
	}
	return 0
}

// cubic is Hermite's polynomial over a gap of h seconds.
type cubic struct{ h, v0, v1, s0, s1 float64 }

// over gives the cubic from walked period q to the next.
func (l track) over(q int) cubic {
	return cubic{h: l.t.mem.walked[q+1].from - l.t.mem.walked[q].from, v0: l.at(q), v1: l.at(q + 1), s0: l.slope(q), s1: l.slope(q + 1)}
}

// at gives the value at a share z of the gap.
func (c *cubic) at(z float64) float64 {
	y := 1 - z
	return y*y*(1+2*z)*c.v0 + z*z*(1+2*y)*c.v1 + c.h*z*y*(y*c.s0-z*c.s1)
}

// cross gives the share of the gap at which the cubic passes level, which
// must lie between its ends.
func (c *cubic) cross(level float64) float64 {
	low, high := 0.0, 1.0
	for range 30 {
		mid := (low + high) / 2
		if (c.at(mid) > level) == (c.v1 > c.v0) {
			high = mid
		} else {
			low = mid
		}
	}
	return (low + high) / 2
}

// top gives the largest value within the gap and where, as a share of it.
func (c *cubic) top() (v, z float64) {
	if !(c.s0 > 0 && c.s1 < 0) {
		return math.Inf(-1), 0
	}
	low, high := 0.0, 1.0
	for range 40 { // one maximum, since the slope falls from + to −
		a, b := low+(high-low)/3, high-(high-low)/3
		if c.at(a) < c.at(b) {
			low = a
		} else {
			high = b
		}
	}
	return c.at(low), low
}

// peak gives a channel's largest voltage and its time.
func (t *tally) peak(ch int) (v, at float64) {
	best := 0
	l := track{t: t, values: t.mem.peakV, width: t.channels, offset: ch}
	for q := range t.mem.walked {
		if l.at(q) > l.at(best) {
			best = q
		}
	}
	if len(t.mem.walked) == 0 {
		return 0, 0
	}
	v, at = l.at(best), t.mem.peakAt[best*t.channels+ch]
	for _, q := range []int{best - 1, best} {
		if q < 0 || q+1 >= len(t.mem.walked) || !t.gap(q) || !t.even(q) {
			continue
		}
		c := l.over(q)
		if top, z := c.top(); top > v {
			v, at = top, t.mem.walked[q].from+z*c.h
		}
	}
	return math.Max(v, 0), at
}

// even says whether the gaps beside the one from q are not so much shorter that
// a slope across them says nothing about this one.
func (t *tally) even(q int) bool {
	w := t.mem.walked
	if q == 0 || q+2 >= len(w) {
		return false
	}
	h := w[q+1].from - w[q].from
	return w[q].from-w[q-1].from > h/evenness && w[q+2].from-w[q+1].from > h/evenness
}

// evenness is by how much gaps may differ.
const evenness = 4

// gap says whether periods lie between walked period q and the next.
func (t *tally) gap(q int) bool {
	a, b := &t.mem.walked[q], &t.mem.walked[q+1]
	return a.whole && b.whole && b.from > a.to+0.5*(a.to-a.from)
}

// first gives when a channel first stood at 99.9 % of its peak.
func (t *tally) first(ch int, peak float64) float64 {
	l := track{t: t, values: t.mem.peakV, width: t.channels, offset: ch}
	for q := range t.mem.walked {
		if l.at(q) < firstShare*peak {
			continue
		}
		at := t.mem.peakAt[q*t.channels+ch]
		if q > 0 && t.gap(q-1) && l.at(q-1) < firstShare*peak {
			c := l.over(q - 1)
			at += (c.cross(firstShare*peak) - 1) * c.h
		}
		return at
	}
	return 0
}

// timeAbove gives how long a channel stood above its k-th level, which is the
// at-th of all levels. Where a level lies within the ripple at both ends of
// what no walk saw, the share of time above it is taken to change evenly; where
// it is passed, the crossing is found place by place in the period.
func (t *tally) timeAbove(ch, k, at, levels int) float64 {
	level := t.levels[ch][k]
	sum := t.above[ch][k]
	l := track{t: t, values: t.mem.waves, width: t.channels * samples}
	for q := 0; q+1 < len(t.mem.walked); q++ {
		if !t.gap(q) {
			continue
		}
		unseen := t.mem.walked[q+1].from - t.mem.walked[q].to
		a, b := t.mem.share[q*levels+at], t.mem.share[(q+1)*levels+at]
		if a == b || a > 0 && b > 0 && a < 1 && b < 1 {
			sum += unseen * (a + b) / 2
			continue
		}
		for s := range samples {
			l.offset = ch*samples + s
			switch a, b := l.at(q) > level, l.at(q+1) > level; {
			case a && b:
				sum += unseen / samples
			case a != b:
				c := l.over(q)
				z := c.cross(level)
				if b {
					z = 1 - z
				}
				sum += z * unseen / samples
			}
		}
	}
	return sum
}

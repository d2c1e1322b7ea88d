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

// cross gives the share of the gap at which the cubic passes level on its way
// from its start to the share end, between whose values level must lie.
func (c *cubic) cross(level, end float64) float64 {
	low, high, below, above := 0.0, end, c.v0-level, c.at(end)-level
	up, tol, z := above > below, crossTol*math.Abs(above-below), 0.0
	for range 30 { // Illinois: regula falsi with the end that stays halved
		z = low - below*(high-low)/(above-below)
		v := c.at(z) - level
		switch {
		case math.Abs(v) <= tol:
			return z
		case (v > 0) == up:
			high, above, below = z, v, below/2
		default:
			low, below, above = z, v, above/2
		}
	}
	return z
}

// crossTol is how close a crossing is found, as a share of what the gap rises.
const crossTol = 1e-6

// top gives the largest value within the gap and where, as a share of it.
func (c *cubic) top() (v, z float64) {
	if !(c.s0 > 0 && c.s1 < 0) {
		return math.Inf(-1), 0
	}
	// The slope goes from + to − as a parabola: a·z² + b·z + s0, one root within.
	rise := 6 * (c.v1 - c.v0) / c.h
	a, b := 3*(c.s0+c.s1)-rise, rise-4*c.s0-2*c.s1
	z = 2 * c.s0 / (-b + math.Sqrt(b*b-4*a*c.s0))
	return c.at(z), z
}

// peak gives a channel's largest voltage and its time.
func (t *tally) peak(ch int) (v, at float64) {
	l := track{t: t, values: t.mem.peakV, width: t.channels, offset: ch}
	best, v, at := t.highest(l)
	if best < 0 {
		return 0, 0
	}
	if at < 0 {
		at = t.mem.peakAt[best*t.channels+ch]
	}
	return max(v, 0), at
}

// peakA gives a path's largest current and its time.
func (t *tally) peakA(side int) (a, at float64) {
	d := &t.diodes[side]
	best, a, at := t.highest(track{t: t, values: t.mem.peakA, width: 2, offset: side})
	if best < 0 || at < 0 || a <= d.peak {
		return d.peak, d.tPeak
	}
	return a, at
}

// highest gives the walked period at which a track is highest, −1 where there
// is none, the most it comes to there or beside it, and when that is, −1 where
// it is in that period.
func (t *tally) highest(l track) (best int, v, at float64) {
	w := t.mem.walked
	if len(w) == 0 {
		return -1, 0, 0
	}
	for q := range w {
		if l.at(q) > l.at(best) {
			best = q
		}
	}
	v, at = l.at(best), -1
	for q := max(best-1, 0); q <= best && q+1 < len(w); q++ {
		if !t.gap(q) || !t.even(q) {
			continue
		}
		c := l.over(q)
		if top, z := c.top(); top > v {
			v, at = top, w[q].from+z*c.h
		}
	}
	return best, v, at
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
	level := firstShare * peak
	for q := range t.mem.walked {
		at := t.mem.peakAt[q*t.channels+ch]
		if q > 0 && t.gap(q-1) && l.at(q-1) < level {
			c := l.over(q - 1)
			end := 1.0
			if top, z := c.top(); l.at(q) < level && top >= level {
				end = z
			}
			if c.at(end) >= level {
				return at + (c.cross(level, end)-1)*c.h
			}
		}
		if l.at(q) >= level {
			return at
		}
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
				z := c.cross(level, 1)
				if b {
					z = 1 - z
				}
				sum += z * unseen / samples
			}
		}
	}
	return sum
}

package supply

import "math"

// look goes through a trace.
func (t *tally) look(w *walker, g *grid, tr *trace) {
	x := &t.seen
	n := tr.points
	x.points, x.seconds = n, float64(g.m)*g.h
	mem := t.mem
	if len(mem.t) < n || len(mem.v) < t.channels*n {
		mem.t, mem.v, mem.a = make([]float64, n), make([]float64, t.channels*n), make([]float64, t.channels*n)
	}
	x.t, x.v, x.a = mem.t, mem.v, mem.a
	for j, k := range tr.k[:n] {
		x.t[j] = float64(k) * g.h
	}
	t.lookUnits(w, tr)
	ch := len(x.as)
	for _, k := range t.several {
		st := &t.net.stacks[k]
		into := x.v[ch*n : ch*n+n]
		clear(into)
		for u := st.first; u < st.first+st.count; u++ {
			for j, v := range x.v[u*n : u*n+n] {
				into[j] += v
			}
		}
		ch++
	}
	for _, k := range t.bare {
		t.lookBare(w, tr, k, x.v[ch*n:ch*n+n])
		ch++
	}
	if t.anyLevel {
		t.place()
	}
	for ch := range t.channels {
		t.lookChannel(ch)
	}
	t.lookPaths(tr)
}

// lookUnits finds each unit's current and voltage at each point.
func (t *tally) lookUnits(w *walker, tr *trace) {
	s, x := w.s, &t.seen
	n, m, units := s.n, x.points, t.net.units
	slopes := t.slopes
	clear(x.as)
	clear(x.a2s)
	wasT := 0.0
	for j, at := range x.t[:m] {
		xi := tr.x[j*n : j*n+n]
		apply(slopes, s.a, xi)
		half := 0.5 * (at - wasT)
		wasT = at
		first, second := tr.total[j], 0.0
		if s.ports == 2 {
			first, second = tr.a[j][0], tr.a[j][1]
		}
		for u := range units {
			slope := slopes[u] + s.b[u]*first
			if s.ports == 2 {
				slope += s.b[n+u] * second
			}
			a, was := units[u].c*slope, t.amps[u]
			if j == 0 {
				was = a
			}
			x.a[u*m+j], x.v[u*m+j] = a, xi[u]+w.rest[u]+s.esr[u]*a
			x.as[u] += half * (was + a)
			x.a2s[u] += half * (was*was + a*a)
			t.amps[u] = a
		}
	}
}

// lookBare finds the voltage at a node without a capacitor.
func (t *tally) lookBare(w *walker, tr *trace, k int, into []float64) {
	s, n, in := w.s, w.s.n, len(w.u)
	row := s.vx[k*n : k*n+n]
	rest := dot(row, w.rest)
	for j, a := range w.u {
		rest += s.vu[k*in+j] * a
	}
	for j := range into {
		v := rest + dot(row, tr.x[j*n:j*n+n])
		if s.ports == 2 {
			v += s.vi[2*k]*tr.a[j][0] + s.vi[2*k+1]*tr.a[j][1]
		} else {
			v += s.vi[k] * tr.total[j]
		}
		into[j] = v
	}
}

// lookChannel finds a channel's extremes, mean and time above its levels.
func (t *tally) lookChannel(ch int) {
	x := &t.seen
	m := x.points
	v := x.v[ch*m : ch*m+m]
	top, low, at, vs := v[0], v[0], 0, 0.0
	for j := 1; j < len(v); j++ {
		vs += (x.t[j] - x.t[j-1]) * (v[j-1] + v[j])
		if v[j] > top {
			top, at = v[j], j
		} else if v[j] < low {
			low = v[j]
		}
	}
	x.top[ch], x.at[ch], x.low[ch], x.vs[ch] = top, x.t[at], low, vs/2
	x.drift[ch] = v[m-1] - v[0]
	if at > 0 && at < m-1 {
		x.top[ch] += bulge(x.t[at-1:at+2], v[at-1:at+2])
	}
	for k, level := range t.levels[ch] {
		switch {
		case level < low:
			x.above[ch][k] = x.seconds
		case level >= top:
			x.above[ch][k] = 0
		default:
			x.above[ch][k] = above(x.t[:m], v, level)
		}
	}
	if t.anyLevel && len(t.levels[ch]) > 0 {
		t.sample(v, x.wave[ch*samples:(ch+1)*samples])
	}
}

// spread gives the mean square of a channel's voltage about its mean.
func (t *tally) spread(ch int) float64 {
	x := &t.seen
	v, mean := x.v[ch*x.points:(ch+1)*x.points], x.vs[ch]/x.seconds
	sum, was := 0.0, (v[0]-mean)*(v[0]-mean)
	for j := 1; j < len(v); j++ {
		is := (v[j] - mean) * (v[j] - mean)
		sum += (x.t[j] - x.t[j-1]) * (was + is)
		was = is
	}
	return sum / 2 / x.seconds
}

// bulge gives how far the parabola through three points rises above the middle one.
func bulge(t, v []float64) float64 {
	h0, h1 := t[1]-t[0], t[2]-t[1]
	s0, s1 := (v[1]-v[0])/h0, (v[2]-v[1])/h1
	bend := (s1 - s0) / (h0 + h1)
	if bend >= 0 || s0 <= 0 || s1 >= 0 {
		return 0
	}
	slope := (s0*h1 + s1*h0) / (h0 + h1)
	return -slope * slope / (4 * bend)
}

// above gives how long a voltage stands above a level.
func above(t, v []float64, level float64) float64 {
	sum := 0.0
	for j := 1; j < len(v); j++ {
		h, was, is := t[j]-t[j-1], v[j-1], v[j]
		switch up, wasUp := is > level, was > level; {
		case up && wasUp:
			sum += h
		case up:
			sum += h * (is - level) / (is - was)
		case wasUp:
			sum += h * (was - level) / (was - is)
		}
	}
	return sum
}

// place finds where equal distances over a period lie among the points.
func (t *tally) place() {
	x, j := &t.seen, 1
	for s := range samples {
		at := x.seconds * float64(s) / samples
		for j < x.points-1 && x.t[j] < at {
			j++
		}
		x.place[s], x.part[s] = j, (at-x.t[j-1])/(x.t[j]-x.t[j-1])
	}
}

// sample reads a voltage at those distances.
func (t *tally) sample(v, into []float64) {
	for s, j := range t.seen.place {
		into[s] = v[j-1] + (v[j]-v[j-1])*t.seen.part[s]
	}
}

// lookPaths finds each path's largest current and integrals.
func (t *tally) lookPaths(tr *trace) {
	x := &t.seen
	x.topA, x.sideAs, x.sideA2s = [2]float64{}, [2]float64{}, [2]float64{}
	for j := 1; j < x.points; j++ {
		half := 0.5 * (x.t[j] - x.t[j-1])
		for side := range x.topA {
			was, a := tr.a[j-1][side], tr.a[j][side]
			if was == 0 && a == 0 {
				continue
			}
			x.topA[side] = math.Max(x.topA[side], math.Max(was, a))
			x.sideAs[side] += half * (was + a)
			x.sideA2s[side] += half * (was*was + a*a)
		}
	}
}

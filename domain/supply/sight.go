package supply

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
	t.placePoints(g, tr)
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

// placePoints finds when each point is, and what weighs the slopes beside it.
func (t *tally) placePoints(g *grid, tr *trace) {
	x, n := &t.seen, tr.points
	if len(t.mem.rate) < n {
		t.mem.rate, t.mem.lean = make([]float64, n), make([]float64, n)
	}
	x.rate, x.lean = t.mem.rate, t.mem.lean
	was := 0.0
	for j, k := range tr.k[:n] {
		x.t[j] = float64(k) * g.h
		if j == 0 {
			continue
		}
		h := x.t[j] - x.t[j-1]
		x.rate[j], x.lean[j] = 1/h, was/(was+h)
		was = h
	}
}

// lookUnits finds each unit's current and voltage at each point. Between two
// points the mean current is what the charge says; at a point it is the slope
// of the parabola through the charges there and beside it.
func (t *tally) lookUnits(w *walker, tr *trace) {
	s, x := w.s, &t.seen
	n, last := s.n, x.points-1
	rate, lean, at := x.rate[:last+1], x.lean[:last+1], x.t[:last+1]
	for u := range t.net.units {
		c, esr, rest := t.net.units[u].c, s.esr[u], w.rest[u]
		v, amps := x.v[u*(last+1):][:last+1], x.a[u*(last+1):][:last+1]
		is, a2s := tr.x[n+u], 0.0
		mean := c * (is - tr.x[u]) * rate[1]
		a := mean
		if last > 1 {
			a -= (c*(tr.x[2*n+u]-is)*rate[2] - mean) * lean[2]
		}
		v[0], amps[0] = tr.x[u]+rest+esr*a, a
		for j := 1; j < last; j++ {
			then := tr.x[(j+1)*n+u]
			next := c * (then - is) * rate[j+1]
			now := mean + (next-mean)*lean[j+1]
			a2s += (at[j] - at[j-1]) * (mean*mean + (now-a)*(now-a)/12)
			v[j], amps[j] = is+rest+esr*now, now
			is, mean, a = then, next, now
		}
		now := 2*mean - a
		a2s += (at[last] - at[last-1]) * (mean*mean + (now-a)*(now-a)/12)
		v[last], amps[last] = is+rest+esr*now, now
		x.as[u], x.a2s[u] = c*(is-tr.x[u]), a2s
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

// lookChannel finds a channel's extremes, mean, spread and time above its levels.
func (t *tally) lookChannel(ch int) {
	x := &t.seen
	m := x.points
	v, at := x.v[ch*m:ch*m+m], x.t[:m]
	first := v[0]
	top, low, peak := first, first, 0
	was, sum, squares := 0.0, 0.0, 0.0
	for j := 1; j < m; j++ {
		h, is := at[j]-at[j-1], v[j]-first // from the first, so that squares keep their digits
		sum += h * (was + is)
		squares += h * (was*was + is*is)
		was = is
		if v[j] > top {
			top, peak = v[j], j
		} else if v[j] < low {
			low = v[j]
		}
	}
	sum, squares = sum/2, squares/2
	x.top[ch], x.at[ch], x.low[ch], x.vs[ch] = top, at[peak], low, sum+first*x.seconds
	x.spread[ch] = (squares - sum*sum/x.seconds) / x.seconds
	if peak > 0 && peak < m-1 {
		x.top[ch] += bulge(at[peak-1:peak+2], v[peak-1:peak+2])
	}
	if len(t.levels[ch]) > 0 {
		t.lookLevels(ch, v, low, top)
	}
}

// lookLevels finds how long a channel stands above each of its levels.
func (t *tally) lookLevels(ch int, v []float64, low, top float64) {
	x := &t.seen
	for k, level := range t.levels[ch] {
		switch {
		case level < low:
			x.above[ch][k] = x.seconds
		case level >= top:
			x.above[ch][k] = 0
		default:
			x.above[ch][k] = above(x.t[:len(v)], v, level)
		}
	}
	t.sample(v, x.wave[ch*samples:(ch+1)*samples])
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
	for side := range x.topA {
		was := tr.a[0][side]
		top, peak, as, a2s := was, 0, 0.0, 0.0
		for j := 1; j < x.points; j++ {
			a := tr.a[j][side]
			if was == 0 && a == 0 {
				continue
			}
			if a > top {
				top, peak = a, j
			}
			h := x.t[j] - x.t[j-1]
			as += h * (was + a)
			a2s += h * (was*was + a*a)
			was = a
		}
		x.topA[side], x.topAt[side], x.sideAs[side], x.sideA2s[side] = top, x.t[peak], as/2, a2s/2
		if peak > 1 && peak < x.points-2 {
			x.topA[side] += crown(tr.a[peak-2:peak+3], side)
		}
	}
}

// crown gives how far a current rises above the middle one of five equally
// spaced points. At a corner, where the points beside bend far less than the
// middle one, it rises by no more than they do.
func crown(a [][2]float64, side int) float64 {
	bend := func(j int) float64 { return 2*a[j][side] - a[j-1][side] - a[j+1][side] }
	slope, most := (a[3][side]-a[1][side])/2, max(bend(1), bend(3), 0)/8
	if b := bend(2); b > 0 {
		return min(slope*slope/(2*b), most)
	}
	return 0
}

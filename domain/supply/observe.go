package supply

import "math"

// image takes x through period k on a grid of the period.
func (f *follower) image(g *grid, x []float64, k int) {
	f.prepare(float64(k)*f.period, f.period, x)
	f.w.walk(g, x, nil)
}

// observe takes x through a stretch that starts at t seconds, keeping what is seen.
// Thin is how far apart points are kept where nothing conducts, in steps of the
// first grid; 0 keeps every point.
func (f *follower) observe(g *grid, x []float64, t float64, thin int) {
	f.trace(g, x, t, thin)
	f.see(g, t)
}

// trace takes x through a stretch and keeps its points.
func (f *follower) trace(g *grid, x []float64, t float64, thin int) {
	if len(f.s.chokes) > 0 {
		thin /= 2 // what rings between the pulses is to show its crests
	}
	f.prepare(t, float64(g.m)*g.h, x)
	f.mem.trace.thin = max(1, thin*g.m/f.grids[0].m)
	f.w.walk(g, x, &f.mem.trace)
}

// see looks at the trace of a stretch that started at t seconds.
func (f *follower) see(g *grid, t float64) {
	f.t.look(f.w, g, &f.mem.trace)
	seen := &f.t.seen
	f.missed, f.deep = 0, false
	for j, k := range f.s.loaded {
		if node := f.net.vertices[k].node; node >= 0 {
			off := seen.vs[f.t.node[node]]/seen.seconds - f.taken[j]
			f.lift[j] += off
			f.spread[j] = seen.spread[f.t.node[node]]
			if f.spread[j] > deepest*deepest*f.taken[j]*f.taken[j] && f.trueG[j] > 0 && t > f.period {
				f.deep = true
			}
			f.missed = max(f.missed, math.Abs(off))
		}
	}
	f.peakA = seen.topA
	if f.s.ports == 1 {
		f.peakA[0] = max(seen.topA[0], seen.topA[1])
	}
}

// shift moves the last trace, and the loads' voltages it was walked with, by
// states that go evenly from one move at its start to another at its end.
func (f *follower) shift(g *grid, start, end []float64) {
	tr, n := &f.mem.trace, f.s.n
	for p, k := range tr.k[:tr.points] {
		z := float64(k) / float64(g.m)
		x := tr.x[p*n : p*n+n]
		for i := range x {
			x[i] += start[i] + z*(end[i]-start[i])
		}
	}
	for j, k := range f.s.loaded {
		f.taken[j] += dot(f.s.vx[k*n:k*n+n], start)
	}
}

// flips says whether period k starts with the winding's halves changed over.
func (f *follower) flips(k int) bool { return f.half && k%2 == 1 }

// direct walks one period, so much finer than the pulses need, and keeps it.
func (f *follower) direct(finer int, jump bool) {
	from := float64(f.k) * f.period

	copy(f.start, f.x)
	for range observations { // again with the loads at the voltages just found
		copy(f.x, f.start)
		f.observe(f.grid(finer), f.x, from, thinned)
		if f.missed <= mostMissed*f.net.peak {
			break
		}
		f.refresh()
	}
	f.t.note(walkedPeriod{from: from, to: from + f.period, jump: jump, whole: true}, f.flips(f.k))
	if f.half {
		f.t.cycle(0.5, f.k%2 == 0, f.k%2 == 1, false)
	} else {
		f.t.cycle(1, true, true, false)
	}
	f.k++
	f.choose(f.grid(finer))
}

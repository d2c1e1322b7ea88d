package supply

import "math"

// A stride goes over many periods at once. With F the image of the states
// after one period, the change per period F(y) − y is close to the slope of
// the states' envelope half a period before its end. A stride looks for y one
// period before its end such that this slope is that of the parabola through
// the end and the two points before: the second-order backward difference
// method on the map of one period (envelope following). Newton's method
// solves it, with ∂F/∂y found by differences once and kept up by Broyden's
// updates.
const (
	// leastStride is where walking the periods one by one costs no more.
	leastStride = 4
	// mostGrowth keeps the method stable: below 1 + √2.
	mostGrowth = 2.2
	// newtonTries before the derivative is found anew or the stride shortened.
	newtonTries = 5
	// mostErr is the largest error, in units of what is allowed, that a stride is
	// not taken back for.
	mostErr = 1.5
	// strideTol is the error allowed in a stride, as a share of the winding's
	// peak, or of the current scale for a choke.
	strideTol = 1.5e-4
	// tighter is how many times less a run may err that ends while states still
	// drift: what a stride left would show beside their ripple.
	tighter = 50
	// lateTol is what a stride may be late by, in periods: where a state moves
	// fast an error of it is no more than a shift in time.
	lateTol = 0.2
	// closeEnough ends Newton's method, in units of strideTol.
	closeEnough = 0.05
	// mostPolish bounds a polish, in units of strideTol: 0.3 % of the peak.
	mostPolish = 20
	polishes   = 2
	// mostLeft is how far from its solution y may be found when it is walked.
	mostLeft = 0.5
	// probe is the displacement that finds ∂F/∂y, in units of strideTol.
	probe = 20
)

// knot is a point the envelope has passed.
type knot struct {
	k int
	x []float64
}

// strider holds the envelope's last points and the working room of a stride.
type strider struct {
	f     *follower
	knots [4]knot // the last one first
	have  int
	scale []float64 // V or A: the error always allowed in a stride
	allow []float64 // V or A: the error allowed in the next one
	care  float64
	late  float64   // periods a stride may be late by
	known bool      // jac is of this network
	jac   []float64 // ∂F/∂y, by rows
	m     []float64
	y, x1 []float64
	r, dy []float64
	wasY  []float64
	wasX1 []float64
	from  []float64 // the states a stride began at
	shift []float64 // what correct took off y
	c     [3]float64
	rate  float64 // by which Newton's method last closed in
	first float64 // its first move, in units of what is allowed

	pending bool // y is a first move off, and finish is to follow
}

func newStrider(f *follower, care float64) *strider {
	n := f.s.real
	s := &strider{f: f, scale: f.mem.floats(n), allow: f.mem.floats(n), jac: f.mem.floats(n * n), m: f.mem.floats(n * n)}
	for _, p := range []*[]float64{&s.y, &s.x1, &s.r, &s.dy, &s.wasY, &s.wasX1, &s.from, &s.shift} {
		*p = f.mem.floats(f.s.n)
	}
	for i := range s.knots {
		s.knots[i].x = f.mem.floats(f.s.n)
	}
	s.late, s.care, s.rate = lateTol/care, care, 1
	amps := 0.01
	for _, l := range f.net.loads {
		amps += l.i0
	}
	for i := range n {
		s.scale[i] = strideTol * f.net.peak / care
		if i >= len(f.net.units) {
			s.scale[i] = 10 * strideTol * amps / care
		}
	}
	return s
}

// forget drops the points: no smooth line leads on from them.
func (s *strider) forget() { s.have = 0 }

// push takes the follower's place as the newest point.
func (s *strider) push() {
	last := s.knots[len(s.knots)-1]
	copy(s.knots[1:], s.knots[:len(s.knots)-1])
	last.k = s.f.k
	copy(last.x, s.f.x)
	s.knots[0] = last
	s.have = min(s.have+1, len(s.knots))
}

// reach gives how many periods a stride may take by the third differences of
// the last four points, and 0 where there are too few.
func (s *strider) reach() float64 {
	if s.have < 4 {
		return 0
	}
	s.permit()
	worst := 0.0
	p := &s.knots
	for i, scale := range s.allow {
		d := func(a, b int) float64 { return (p[a].x[i] - p[b].x[i]) / float64(p[a].k-p[b].k) }
		first, second := (d(0, 1)-d(1, 2))/float64(p[0].k-p[2].k), (d(1, 2)-d(2, 3))/float64(p[1].k-p[3].k)
		third := (first - second) / float64(p[0].k-p[3].k)
		worst = math.Max(worst, math.Abs(third)/scale)
	}
	return math.Cbrt(0.75 / (worst + 1e-20)) // the error of equal strides is 4/3·h³ times the divided difference
}

// permit sets what error the next stride may have.
func (s *strider) permit() {
	p := &s.knots
	span := float64(p[0].k - p[1].k)
	for i, scale := range s.scale {
		s.allow[i] = scale + s.late*math.Abs(p[0].x[i]-p[1].x[i])/span
	}
}

// take tries one stride of h periods. It gives the length the next should
// have, and whether this one was taken: then y holds the states one period
// before its end, and the follower has not moved.
func (s *strider) take(h int) (next float64, taken bool) {
	f := s.f
	k1 := f.k + h
	h0, h1 := float64(h), float64(s.knots[0].k-s.knots[1].k)
	s.permit()
	s.slopeAt(h0, h1)
	s.extrapolate(s.y, h0-1)
	if !s.known {
		s.differentiate(k1 - 1)
	}
	if !s.solve(k1) {
		s.known = false
		s.extrapolate(s.y, h0-1)
		s.differentiate(k1 - 1)
		if !s.solve(k1) {
			s.known = false
			return h0 / 3, false
		}
	}
	err := s.err(h0, h1)
	factor := 0.9 / math.Cbrt(err+1e-6)
	if err > mostErr {
		return h0 * math.Max(0.25, math.Min(factor, 0.7)), false
	}
	s.correct(h0, h1)
	return h0 * math.Min(factor, mostGrowth), true
}

// extrapolate follows the parabola through the last three points.
func (s *strider) extrapolate(into []float64, ahead float64) {
	p := &s.knots
	t1, t2 := float64(p[1].k-p[0].k), float64(p[2].k-p[0].k)
	a0 := (ahead - t1) * (ahead - t2) / (t1 * t2)
	a1 := ahead * (ahead - t2) / (t1 * (t1 - t2))
	a2 := ahead * (ahead - t1) / (t2 * (t2 - t1))
	for i := range into {
		into[i] = a0*p[0].x[i] + a1*p[1].x[i] + a2*p[2].x[i]
	}
}

// share is what part of the distance between a stride's end and the
// extrapolation to it is the stride's own error: the ratio of both methods'
// coefficients of the third derivative.
func (s *strider) share(h, h1 float64) float64 {
	h2 := float64(s.knots[1].k - s.knots[2].k)
	method := h * (h + h1) / (2*h + h1)
	return method / (method + h + h1 + h2)
}

// correct takes the error so found out of y. Without it a state that only
// charges would fall behind a little with every stride, always to the same side.
func (s *strider) correct(h, h1 float64) {
	share := s.share(h, h1)
	for i := range s.f.s.real {
		s.shift[i] = share * (s.x1[i] - s.r[i])
		s.y[i] -= s.shift[i]
	}
}

// err gives the error of the stride just solved, in units of what is allowed.
// It leaves the extrapolation to the stride's end in r.
func (s *strider) err(h, h1 float64) float64 {
	share := s.share(h, h1)
	s.extrapolate(s.r, h)
	worst := 0.0
	for i, scale := range s.allow {
		worst = math.Max(worst, math.Abs(s.x1[i]-s.r[i])*share/scale)
	}
	return worst
}

// differentiate finds ∂F/∂y at y by differences.
func (s *strider) differentiate(k int) {
	f, n := s.f, s.f.s.real
	copy(s.x1, s.y)
	f.image(f.grid(0), s.x1, k)
	for j := range n {
		d := probe * s.scale[j]
		copy(s.r, s.y)
		s.r[j] -= d // below: nearer to what loads the rectifier
		f.image(f.grid(0), s.r, k)
		for i := range n {
			s.jac[i*n+j] = (s.x1[i] - s.r[i]) / d
		}
	}
	s.known = true
}

// polish moves x, where the run has come to drift by no more than its slow
// states do, by what the plain grid's steps have left in it: x is to change over
// a period of the fine grid as it did over one of the plain grid. Newton's
// method, with the plain grid's ∂F/∂y.
func (s *strider) polish(x []float64, k int) {
	f, n := s.f, s.f.s.real
	copy(s.y, x)
	s.differentiate(k)
	s.known = false
	for i := range n {
		s.wasX1[i] = s.x1[i] - x[i] // the drift
	}
	copy(s.y, x)
	for range polishes {
		copy(s.r, s.y)
		f.image(f.grid(1), s.r, k)
		for i := range n {
			s.r[i] -= s.y[i] + s.wasX1[i]
			for j := range n {
				s.m[i*n+j] = -s.jac[i*n+j]
			}
			s.m[i*n+i]++
		}
		if !eliminate(s.m, s.dy, s.r, n) {
			return
		}
		for i, d := range s.dy[:n] {
			if s.y[i] += d; !(math.Abs(s.y[i]-x[i]) <= mostPolish*s.scale[i]*s.care) {
				return
			}
		}
	}
	copy(x[:n], s.y[:n])
}

// slopeAt sets the weights of the end (0), the last point and the one before
// in the slope, half a period before the end, of the parabola through them.
func (s *strider) slopeAt(h, h1 float64) {
	t1, t2 := -h, -h-h1
	s.c = [3]float64{
		(-1 - t1 - t2) / (t1 * t2),
		(-1 - t2) / (t1 * (t1 - t2)),
		(-1 - t1) / (t2 * (t2 - t1)),
	}
}

// newton finds how y must move, dy, where its image is x1, and by how much at
// most in units of what is allowed; no number where it cannot be told.
func (s *strider) newton(y, x1 []float64) (moved float64) {
	n, p := s.f.s.real, &s.knots
	for i := range n {
		s.r[i] = x1[i]*(1-s.c[0]) - y[i] - s.c[1]*p[0].x[i] - s.c[2]*p[1].x[i]
		for j := range n {
			s.m[i*n+j] = -(1 - s.c[0]) * s.jac[i*n+j]
		}
		s.m[i*n+i]++
	}
	if !eliminate(s.m, s.dy, s.r, n) {
		return math.NaN()
	}
	for i, d := range s.dy[:n] {
		moved = math.Max(moved, math.Abs(d)/s.allow[i])
	}
	return moved
}

// solve finds y by Newton's method from where it stands, and its image x1.
// Where the method has closed in fast of late and the first move is short, it
// leaves the rest to finish.
func (s *strider) solve(k1 int) bool {
	n := s.f.s.real
	before := math.Inf(1)
	s.pending = false
	for try := range newtonTries {
		copy(s.x1, s.y)
		s.f.image(s.f.grid(0), s.x1, k1-1)
		if try > 0 {
			s.update(s.y, s.x1)
		}
		copy(s.wasY, s.y)
		copy(s.wasX1, s.x1)
		moved := s.newton(s.y, s.x1)
		if !(moved <= before) {
			return false
		}
		if try > 0 {
			s.rate = moved / before
		}
		for i, d := range s.dy[:n] {
			s.y[i] += d
			s.x1[i] += plainDot(s.jac[i*n:i*n+n], s.dy)
		}
		s.pending = try == 0 && moved*s.rate < closeEnough
		s.first = moved
		if moved < closeEnough || s.pending || try > 0 && moved*moved < closeEnough*(before-moved) {
			return true
		}
		before = moved
	}
	return false
}

// finish ends a stride whose y was left pending, with x the image of y as it
// is walked in the end: x becomes what the image of the solution is. It says
// whether y was close enough to it.
func (s *strider) finish(x []float64) bool {
	if !s.pending {
		return true
	}
	s.pending = false
	n := s.f.s.real
	s.update(s.y, x)
	copy(s.wasX1, x)
	for i := range n { // back to the solution that the stride's error was taken out of
		s.wasY[i] = s.y[i] + s.shift[i]
		s.wasX1[i] += plainDot(s.jac[i*n:i*n+n], s.shift)
	}
	moved := s.newton(s.wasY, s.wasX1)
	s.rate = math.Min(1, moved/s.first)
	if !(moved < mostLeft) {
		s.rate = 1
		return false
	}
	for i := range n {
		x[i] += plainDot(s.jac[i*n:i*n+n], s.dy)
	}
	return true
}

// update corrects ∂F/∂y by the last move (Broyden), each state measured by its scale.
func (s *strider) update(y, x1 []float64) {
	n := s.f.s.real
	square := 0.0
	for i := range n {
		s.dy[i] = (y[i] - s.wasY[i]) / s.scale[i]
		square += s.dy[i] * s.dy[i]
	}
	if square < 1 {
		return
	}
	for i := range n {
		missed := x1[i] - s.wasX1[i]
		for j := range n {
			missed -= s.jac[i*n+j] * s.dy[j] * s.scale[j]
		}
		missed /= square
		for j := range n {
			s.jac[i*n+j] += missed * s.dy[j] / s.scale[j]
		}
	}
}

func plainDot(a, b []float64) float64 {
	sum := 0.0
	for i, v := range a {
		sum += v * b[i]
	}
	return sum
}

// eliminate solves m·x = r, destroying m and r, by Gauss's method with partial pivoting.
func eliminate(m, x, r []float64, n int) bool {
	for k := range n {
		p := k
		for i := k + 1; i < n; i++ {
			if math.Abs(m[i*n+k]) > math.Abs(m[p*n+k]) {
				p = i
			}
		}
		if m[p*n+k] == 0 || math.IsNaN(m[p*n+k]) {
			return false
		}
		if p != k {
			swap(m[p*n:p*n+n], m[k*n:k*n+n])
			r[p], r[k] = r[k], r[p]
		}
		for i := k + 1; i < n; i++ {
			f := m[i*n+k] / m[k*n+k]
			if f == 0 {
				continue
			}
			for j := k; j < n; j++ {
				m[i*n+j] -= f * m[k*n+j]
			}
			r[i] -= f * r[k]
		}
	}
	for i := n - 1; i >= 0; i-- {
		sum := r[i]
		for j := i + 1; j < n; j++ {
			sum -= m[i*n+j] * x[j]
		}
		x[i] = sum / m[i*n+i]
	}
	return true
}

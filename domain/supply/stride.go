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
	// strideProbe is the displacement that finds ∂F/∂y, in units of strideTol.
	strideProbe = 20
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
		s.differentiate(k1-1, strideProbe)
	}
	if !s.solve(k1) {
		s.known = false
		s.extrapolate(s.y, h0-1)
		s.differentiate(k1-1, strideProbe)
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

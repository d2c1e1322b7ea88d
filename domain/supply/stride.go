package supply

import "math"

// A stride goes over many periods at once (envelope following). With F the
// image of the states after one period, it looks for states y, one period before
// its end, such that the polynomial through its end F(y) and the points before
// also passes through y: the backward difference method on the map of one
// period. Newton's method solves it, with ∂F/∂y found by differences once and
// kept up by Broyden's updates. Where the method has closed in fast of late, one
// walked period is enough for a stride: what is left is taken from the derivative.
const (
	// leastStride is where walking the periods one by one costs no more.
	leastStride = 2
	// leastOrder and mostOrder bound the polynomial's degree: beyond the fourth
	// the method is stable for little that rings.
	leastOrder, mostOrder = 2, 4
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
	lateTol = 0.1
	// ringTol is the same beside a choke, where a shift in time tells in the crests.
	ringTol = 0.04
	// closeEnough ends Newton's method, in units of what is allowed. It is taken to
	// close in by bestRate at best, and twice as ill with each stride that did not
	// measure it; likePassed is how near the rectifier's current must be to what it was.
	closeEnough = 0.1
	bestRate    = 0.01
	likePassed  = 0.7
	// mostPolish bounds a polish, in units of strideTol: 0.3 % of the peak.
	mostPolish = 20
	polishes   = 2
	// strideProbe is the displacement that finds ∂F/∂y, in units of strideTol.
	strideProbe = 20
)

// growth bounds how much longer than the last one a stride of each order may
// be: backward differences of uneven steps are stable below.
var growth = [mostOrder + 1]float64{2: 2.2, 3: 1.5, 4: 1.3}

// knot is a point the envelope has passed.
type knot struct {
	k int
	x []float64
}

// strider holds the envelope's last points and the working room of a stride.
type strider struct {
	f     *follower
	knots [mostOrder + 1]knot // the last one first
	have  int
	order int
	scale []float64 // V or A: the error always allowed in a stride
	allow []float64 // V or A: the error allowed in the next one
	care  float64
	late  float64   // periods a stride may be late by
	known bool      // jac is of this network
	jac   []float64 // ∂F/∂y, by rows
	m     []float64
	y, x1 []float64 // what was walked, and its image
	r, dy []float64
	wasY  []float64
	wasX1 []float64
	ends  []float64 // where the points before lead to at the stride's end
	from  []float64 // the states a stride began at
	moveY []float64 // from what was walked to what is taken, at the period's start
	moveX []float64 // and at its end
	rate  float64   // by which Newton's method last closed in
	blind int       // strides since that was measured
	drive float64   // A: what was passed when it was

	nodes   [mostOrder + 2]float64 // periods from the stride's end to its points, itself first
	weights [mostOrder + 1]float64 // of them in the polynomial one period before its end
	table   [mostOrder + 2]float64 // of divided differences
}

func newStrider(f *follower, care float64) *strider {
	n := f.s.real
	s := &strider{f: f, scale: f.mem.floats(n), allow: f.mem.floats(n), jac: f.mem.floats(n * n), m: f.mem.floats(n * n)}
	for _, p := range []*[]float64{&s.y, &s.x1, &s.r, &s.dy, &s.wasY, &s.wasX1, &s.ends, &s.from, &s.moveY, &s.moveX} {
		*p = f.mem.floats(f.s.n)
	}
	for i := range s.knots {
		s.knots[i].x = f.mem.floats(f.s.n)
	}
	s.late, s.care, s.rate, s.order = lateTol/care, care, 1, leastOrder
	if len(f.s.chokes) > 0 {
		s.late = ringTol / care
	}
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
func (s *strider) forget() { s.have, s.order = 0, leastOrder }

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
		worst = max(worst, math.Abs(third)/scale)
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
// have, and whether this one was taken: then the last walk's trace is that of
// the stride's last period, moveY and moveX are what it is to be moved by, and the
// follower has not moved.
func (s *strider) take(h int) (next float64, taken bool) {
	f := s.f
	k1 := f.k + h
	s.order = min(s.order, s.have-1)
	s.place(k1)
	s.permit()
	s.extrapolate(s.ends, 0)
	s.extrapolate(s.y, -1)
	solved := s.known && s.solve(k1-1)
	if !solved {
		s.extrapolate(s.y, -1)
		s.differentiate(k1-1, strideProbe)
		solved = s.solve(k1 - 1)
	}
	if !solved {
		s.known = false
		return float64(h) / 3, false
	}
	if err := s.err(); err > mostErr {
		factor := 0.9 / math.Pow(err, 1/float64(s.order+1))
		s.order = leastOrder
		return float64(h) * max(0.25, min(factor, 0.7)), false
	}
	return s.plan(h), true
}

// place sets the points' distances from the stride's end, and their weights in
// the polynomial one period before it.
func (s *strider) place(k1 int) {
	for i := range s.have {
		s.nodes[i+1] = float64(s.knots[i].k - k1)
	}
	for i := range s.order + 1 {
		s.weights[i] = lagrange(s.nodes[:s.order+1], i, -1)
	}
}

// lagrange gives the value at t of the polynomial that is 1 at node i and 0 at the others.
func lagrange(nodes []float64, i int, t float64) float64 {
	w := 1.0
	for j, at := range nodes {
		if j != i {
			w *= (t - at) / (nodes[i] - at)
		}
	}
	return w
}

// extrapolate follows the polynomial through the last points to t periods from
// the stride's end.
func (s *strider) extrapolate(into []float64, t float64) {
	clear(into)
	past := s.nodes[1 : s.order+2]
	for j := range past {
		w := lagrange(past, j, t)
		for i, x := range s.knots[j].x {
			into[i] += w * x
		}
	}
}

// method gives the error of a stride of some order, as a multiple of the
// divided difference of the next, and the same for an extrapolation to its end.
func (s *strider) method(order int) (stride, ahead float64) {
	stride, ahead, own := 1, 1, 1.0
	for _, t := range s.nodes[1 : order+1] {
		stride *= -1 - t
		own *= (-1 - t) / -t
		ahead *= -t
	}
	return math.Abs(stride / (1 - own)), ahead * -s.nodes[order+1]
}

// err gives the error of the stride just solved, in units of what is allowed.
func (s *strider) err() float64 {
	stride, ahead := s.method(s.order)
	share := stride / (stride + ahead)
	worst := 0.0
	for i, allow := range s.allow {
		worst = max(worst, math.Abs(s.x1[i]+s.moveX[i]-s.ends[i])*share/allow)
	}
	return worst
}

// plan chooses the order of the next stride by the divided differences of what
// has been passed, and gives its length after one of h periods.
func (s *strider) plan(h int) float64 {
	top := min(mostOrder, s.have-1)
	var worst [mostOrder + 1]float64
	for i, allow := range s.allow {
		s.table[0] = s.x1[i] + s.moveX[i]
		for j := range top + 1 {
			s.table[j+1] = s.knots[j].x[i]
		}
		for d := 1; d <= top+1; d++ {
			for j := top + 1; j >= d; j-- {
				s.table[j] = (s.table[j-1] - s.table[j]) / (s.nodes[j-d] - s.nodes[j])
			}
			if d > leastOrder {
				worst[d-1] = max(worst[d-1], math.Abs(s.table[d])/allow)
			}
		}
	}
	best := 0.0
	for order := leastOrder; order <= top; order++ {
		stride, _ := s.method(order)
		factor := min(0.9*math.Exp(-math.Log(stride*worst[order]+1e-6)/float64(order+1)), growth[order])
		if factor > best {
			best, s.order = factor, order
		}
	}
	return float64(h) * best
}

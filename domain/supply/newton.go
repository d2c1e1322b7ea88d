package supply

import "math"

// differentiate finds ∂F/∂y at y by differences, over probe units of strideTol.
func (s *strider) differentiate(k int, probe float64) {
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
	s.differentiate(k, strideProbe)
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

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
	if s.known {
		copy(s.x1, x)
		f.image(f.grid(0), s.x1, k)
	} else {
		s.differentiate(k, strideProbe)
	}
	for i := range n {
		s.wasX1[i] = s.x1[i] - x[i] // the drift
	}
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

// newton finds how y must move, dy, for the polynomial to pass through it and
// its image x1, and by how much at most in units of what is allowed; no number
// where it cannot be told.
func (s *strider) newton() (moved float64) {
	n := s.f.s.real
	own := s.weights[0]
	for i := range n {
		s.r[i] = own*s.x1[i] - s.y[i]
		for j, w := range s.weights[1 : s.order+1] {
			s.r[i] += w * s.knots[j].x[i]
		}
		for j := range n {
			s.m[i*n+j] = -own * s.jac[i*n+j]
		}
		s.m[i*n+i]++
	}
	if !eliminate(s.m, s.dy, s.r, n) {
		return math.NaN()
	}
	for i, d := range s.dy[:n] {
		moved = max(moved, math.Abs(d)/s.allow[i])
	}
	return moved
}

// solve finds y in period k by Newton's method from where it stands. It ends
// with a walk, and with what that is to be moved by in moveY and moveX.
func (s *strider) solve(k int) bool {
	n, f := s.f.s.real, s.f
	before := math.Inf(1)
	for try := range newtonTries {
		copy(s.x1, s.y)
		f.trace(f.grid(0), s.x1, float64(k)*f.period, thinned)
		if try > 0 {
			s.update(s.y, s.x1)
		}
		moved := s.newton()

		if !(moved <= before) {
			return false
		}
		if try > 0 {
			s.rate, s.blind = min(1, moved/before), 0
		}
		if try > 0 {
			s.drive = f.w.passed
		}
		if moved*s.closing(f.w.passed) < closeEnough {
			s.blind++
			copy(s.moveY[:n], s.dy)
			for i := range n {
				s.moveX[i] = plainDot(s.jac[i*n:i*n+n], s.moveY)
			}
			return true
		}
		copy(s.wasY, s.y)
		copy(s.wasX1, s.x1)
		for i, d := range s.dy[:n] {
			s.y[i] += d
		}
		before = moved
	}
	return false
}

// closing gives by how much Newton's method may be taken to close in where so
// much current has passed in the last walk: not at all where that is far from
// what it was when the derivative was kept up.
func (s *strider) closing(passed float64) float64 {
	if min(passed, s.drive) < likePassed*max(passed, s.drive) {
		return 1
	}
	return max(s.rate, bestRate) * float64(int(1)<<min(s.blind, 20))
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

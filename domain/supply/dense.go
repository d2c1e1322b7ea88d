package supply

import "math"

// The dense kernels below work on n × n matrices kept row by row in one slice.
// A supply has a handful of states; padded brings their number to a size the
// compiler can unroll, with states that are always zero.
func padded(n int) int {
	if n <= 4 {
		return 4
	}
	return n + n%2
}

// multiply gives x·y; dst must be neither.
func multiply(dst, x, y []float64, n int) {
	switch n {
	case 4:
		multiply4((*[16]float64)(dst), (*[16]float64)(x), (*[16]float64)(y))
		return
	case 6:
		multiply6((*[36]float64)(dst), (*[36]float64)(x), (*[36]float64)(y))
		return
	}
	for i := range n {
		row := dst[i*n : i*n+n]
		clear(row)
		for k, a := range x[i*n : i*n+n] {
			if a == 0 {
				continue
			}
			for j, b := range y[k*n : k*n+n] {
				row[j] += a * b
			}
		}
	}
}

func multiply4(dst, x, y *[16]float64) {
	for i := 0; i < 16; i += 4 {
		a, b, c, d := x[i], x[i+1], x[i+2], x[i+3]
		dst[i] = (a*y[0] + b*y[4]) + (c*y[8] + d*y[12])
		dst[i+1] = (a*y[1] + b*y[5]) + (c*y[9] + d*y[13])
		dst[i+2] = (a*y[2] + b*y[6]) + (c*y[10] + d*y[14])
		dst[i+3] = (a*y[3] + b*y[7]) + (c*y[11] + d*y[15])
	}
}

func multiply6(dst, x, y *[36]float64) {
	for i := 0; i < 36; i += 6 {
		a, b, c, d, e, f := x[i], x[i+1], x[i+2], x[i+3], x[i+4], x[i+5]
		for j := range 6 {
			dst[i+j] = (a*y[j] + b*y[6+j]) + (c*y[12+j] + d*y[18+j]) + (e*y[24+j] + f*y[30+j])
		}
	}
}

// apply gives m·x; dst must not be x.
func apply(dst, m, x []float64) {
	switch len(x) {
	case 4:
		apply4((*[4]float64)(dst), (*[16]float64)(m), (*[4]float64)(x))
	case 6:
		apply6((*[6]float64)(dst), (*[36]float64)(m), (*[6]float64)(x))
	default:
		n := len(x)
		for i := range dst[:n] {
			dst[i] = dot(m[i*n:i*n+n], x)
		}
	}
}

func apply4(dst *[4]float64, m *[16]float64, x *[4]float64) {
	a, b, c, d := x[0], x[1], x[2], x[3]
	dst[0] = (m[0]*a + m[1]*b) + (m[2]*c + m[3]*d)
	dst[1] = (m[4]*a + m[5]*b) + (m[6]*c + m[7]*d)
	dst[2] = (m[8]*a + m[9]*b) + (m[10]*c + m[11]*d)
	dst[3] = (m[12]*a + m[13]*b) + (m[14]*c + m[15]*d)
}

func apply6(dst *[6]float64, m *[36]float64, x *[6]float64) {
	a, b, c, d, e, f := x[0], x[1], x[2], x[3], x[4], x[5]
	for i := range dst {
		r := (*[6]float64)(m[i*6 : i*6+6])
		dst[i] = (r[0]*a + r[1]*b) + (r[2]*c + r[3]*d) + (r[4]*e + r[5]*f)
	}
}

// dot is the scalar product of vectors of even length.
func dot(a, b []float64) float64 {
	if len(a) == 4 {
		x, y := (*[4]float64)(a), (*[4]float64)(b)
		return (x[0]*y[0] + x[1]*y[1]) + (x[2]*y[2] + x[3]*y[3])
	}
	return dotLong(a, b)
}

func dotLong(a, b []float64) float64 {
	even, odd := 0.0, 0.0
	b = b[:len(a)]
	for i := 1; i < len(a); i += 2 {
		even += a[i-1] * b[i-1]
		odd += a[i] * b[i]
	}
	return even + odd
}

// invert gives the inverse of an n × n matrix, which it destroys, and says
// whether there is one: Gauss–Jordan with partial pivoting.
func invert(dst, m []float64, n int) bool {
	clear(dst[:n*n])
	for i := range n {
		dst[i*n+i] = 1
	}
	for k := range n {
		p := k
		for i := k + 1; i < n; i++ {
			if math.Abs(m[i*n+k]) > math.Abs(m[p*n+k]) {
				p = i
			}
		}
		pivot := m[p*n+k]
		if pivot == 0 || math.IsNaN(pivot) {
			return false
		}
		if p != k {
			swap(m[p*n:p*n+n], m[k*n:k*n+n])
			swap(dst[p*n:p*n+n], dst[k*n:k*n+n])
		}
		scale := 1 / pivot
		for j := range n {
			m[k*n+j] *= scale
			dst[k*n+j] *= scale
		}
		for i := range n {
			f := m[i*n+k]
			if i == k || f == 0 {
				continue
			}
			for j := range n {
				m[i*n+j] -= f * m[k*n+j]
				dst[i*n+j] -= f * dst[k*n+j]
			}
		}
	}
	return true
}

func negate(a []float64) {
	for i := range a {
		a[i] = -a[i]
	}
}

func swap(a, b []float64) {
	for i := range a {
		a[i], b[i] = b[i], a[i]
	}
}

// response is what a linear network x' = A·x + b·s(t) does in h seconds:
// x(h) = phi·x(0) + fall·s(0) + rise·s(h) − bend·(second difference of s over
// steps of h), with s a parabola. It is exact, however fast the network's own
// modes are.
type response struct {
	phi              []float64
	fall, rise, bend []float64 // a row of n for each input
}

func newResponse(n, inputs int, mem *room) response {
	return response{phi: mem.floats(n * n), fall: mem.floats(n * inputs), rise: mem.floats(n * inputs), bend: mem.floats(n * inputs)}
}

const (
	// taylorNorm is the largest argument of Taylor's series, taylorRest what it
	// may leave out.
	taylorNorm = 0.25
	taylorRest = 1e-11
	// mostDoublings is where a network's fastest mode is 2⁴⁰ times faster than
	// the step: beyond it rounding would show.
	mostDoublings = 40
)

// exponential finds the response of x' = a·x + b·s over h seconds by Taylor's
// series over h/2^k, then by doubling. B has one row of n for each input. Room
// must hold 2·n·(n+1). It says whether the network is one that can be so treated.
func (r *response) exponential(a, b []float64, n, inputs int, h float64, room []float64) bool {
	norm := 0.0
	for i := range n {
		sum := 0.0
		for _, v := range a[i*n : i*n+n] {
			sum += math.Abs(v)
		}
		norm = max(norm, sum*h)
	}
	doublings := 0
	for norm > taylorNorm {
		norm /= 2
		doublings++
		if doublings > mostDoublings {
			return false
		}
	}
	dt := math.Ldexp(h, -doublings)
	ha, next := room[:n*n], room[n*n:]
	for i, v := range a[:n*n] {
		ha[i] = dt * v
	}
	r.series(ha, b, n, inputs, dt, next, taylorDegree(norm))
	for range doublings {
		r.double(n, inputs, dt, next)
		dt *= 2
	}
	for i := range r.fall {
		// So far fall holds the response to 1, rise that to t, bend that to t².
		r.rise[i] /= h
		r.fall[i] -= r.rise[i]
		r.bend[i] = (r.rise[i] - r.bend[i]/(h*h)) / 2
	}
	return true
}

// taylorDegree is how many terms an argument of this norm needs.
func taylorDegree(norm float64) int {
	degree, term := 1, norm*norm/2
	for term > taylorRest {
		degree++
		term *= norm / float64(degree+1)
	}
	return degree
}

// series sums Taylor's series; fall and rise become the responses to a
// constant 1 and to t, bend to t².
func (r *response) series(ha, b []float64, n, inputs int, dt float64, next []float64, degree int) {
	for i := range n * n {
		r.phi[i] = ha[i] / float64(degree)
	}
	for i := range n {
		r.phi[i*n+i]++
	}
	for k := degree - 1; k > 0; k-- {
		multiply(next, ha, r.phi, n)
		for i := range n * n {
			r.phi[i] = next[i] / float64(k)
		}
		for i := range n {
			r.phi[i*n+i]++
		}
	}
	for in := range inputs {
		fall, rise, bend := r.fall[in*n:in*n+n], r.rise[in*n:in*n+n], r.bend[in*n:in*n+n]
		term, after := next[:n], next[n:2*n]
		copy(term, b[in*n:in*n+n])
		clear(fall)
		clear(rise)
		clear(bend)
		c := dt
		for k := 1; k <= degree; k++ {
			for i, v := range term {
				fall[i] += c * v
				rise[i] += c * dt / float64(k+1) * v
				bend[i] += c * dt * dt * 2 / float64((k+1)*(k+2)) * v
			}
			apply(after, ha, term)
			copy(term, after)
			c /= float64(k + 1)
		}
	}
}

// double goes from dt to 2·dt.
func (r *response) double(n, inputs int, dt float64, next []float64) {
	for in := range inputs {
		fall, rise, bend := r.fall[in*n:in*n+n], r.rise[in*n:in*n+n], r.bend[in*n:in*n+n]
		for i := range n {
			next[i] = dot(r.phi[i*n:i*n+n], bend) + bend[i] + dt*(2*rise[i]+dt*fall[i])
		}
		copy(bend, next[:n])
		for i := range n {
			next[i] = dot(r.phi[i*n:i*n+n], rise) + rise[i] + dt*fall[i]
		}
		copy(rise, next[:n])
		for i := range n {
			next[i] = dot(r.phi[i*n:i*n+n], fall) + fall[i]
		}
		copy(fall, next[:n])
	}
	multiply(next, r.phi, r.phi, n)
	copy(r.phi, next[:n*n])
}

package supply

import (
	"fmt"
	"math"
	"testing"
)

// TestExponential holds the response of x' = −x/τ + s, alone in a state of a
// padded network, against what the integral of it gives by hand, from slow to
// a hundred thousand times faster than the step.
func TestExponential(t *testing.T) {
	t.Parallel()
	const h = 1e-4
	for _, states := range []int{1, 4, 5, 8, 11} {
		for _, tau := range []float64{10, 1e-2, 1e-4, 1e-6, 1e-9} {
			t.Run(fmt.Sprintf("%d states, τ %g s", states, tau), func(t *testing.T) {
				t.Parallel()
				n := padded(states)
				a, b := make([]float64, n*n), make([]float64, n)
				for i := range n {
					a[i*n+i] = -1
				}
				at := states - 1
				a[at*n+at], b[at] = -1/tau, 1
				r := newResponse(n, 1, &room{})
				if !r.exponential(a, b, n, 1, h, make([]float64, 2*n*(n+1))) {
					t.Fatal("no response")
				}
				x := h / tau
				phi := math.Exp(-x)
				whole := tau * -math.Expm1(-x) // to s = 1
				ramp := tau * (1 - whole/h)    // to s from 0 to 1
				square := tau * (1 - 2*ramp/h) // to s = (t/h)²
				if x < 1e-3 {                  // the closed forms cancel there
					whole, ramp, square = h*(1-x/2), h*(0.5-x/6), h*(1./3-x/12)
				}
				for name, pair := range map[string][2]float64{
					"phi": {r.phi[at*n+at], phi}, "fall": {r.fall[at], whole - ramp},
					"rise": {r.rise[at], ramp}, "bend": {r.bend[at], (ramp - square) / 2},
				} {
					if math.Abs(pair[0]-pair[1]) > 1e-6*math.Max(math.Abs(pair[1]), 1e-9*h) {
						t.Errorf("%s is %.9g, by hand %.9g", name, pair[0], pair[1])
					}
				}
			})
		}
	}
}

// TestInvert by the product with what was inverted.
func TestInvert(t *testing.T) {
	t.Parallel()
	const n = 5
	m, copied, inverse, product := make([]float64, n*n), make([]float64, n*n), make([]float64, n*n), make([]float64, n*n)
	for i := range m {
		m[i] = math.Mod(float64(i*i*37+11*i), 17) - 8
	}
	m[0] = 0 // asks for a pivot from below
	copy(copied, m)
	if !invert(inverse, m, n) {
		t.Fatal("not inverted")
	}
	multiply(product, copied, inverse, n)
	for i, v := range product {
		want := 0.0
		if i%(n+1) == 0 {
			want = 1
		}
		if math.Abs(v-want) > 1e-12 {
			t.Errorf("product at %d, %d is %g", i/n, i%n, v)
		}
	}
	if invert(inverse, make([]float64, n*n), n) {
		t.Error("zero was inverted")
	}
}

// TestDiodeFollower gives what diodeLaw gives, along a pulse and from any start.
func TestDiodeFollower(t *testing.T) {
	t.Parallel()
	for name, law := range map[string]diodeLaw{
		"silicon": newDiodeLaw(&Diode{Kind: "silicon", IsA: 5e-9, N: 1.8, RsOhm: 0.04, SeriesCount: 2}, 1),
		"tube":    newDiodeLaw(&Diode{Kind: "tube", DropV: 44, DropMA: 225}, 1),
	} {
		for _, r := range []float64{5, 200, 3000} {
			var d diodeFollower
			for round := range 2 {
				for k := range 40 {
					e := 300 * math.Sin(math.Pi*float64(k+1)/41) * math.Pow(10, -2*float64(round))
					got, want := d.current(&law, e, r, 0.8), law.current(e, r, 0.8)
					if math.Abs(got-want) > 2e-4*want {
						t.Errorf("%s, %g V through %g Ω: %.9g A, want %.9g A", name, e, r, got, want)
					}
				}
				d.forget()
			}
		}
	}
}

// TestTaylorLoad stays within a millionth of the law.
func TestTaylorLoad(t *testing.T) {
	t.Parallel()
	for _, alpha := range []float64{0, 0.5, 1, 1.4, 3} {
		l := load{i0: 0.1, v0: 300, alpha: alpha}
		var s taylorLoad
		for _, v := range []float64{400, 405, 396, 407.9, 392.1, 200, 203.9, 1, 0.3, 0.1} {
			a, _, _ := s.at(&l, v)
			want := l.i0 * math.Pow(v/l.v0, alpha)
			if v < chordShare*l.v0 {
				want = l.i0 * math.Pow(chordShare, alpha) * v / (chordShare * l.v0)
			}
			if math.Abs(a-want) > 1e-5*want {
				t.Errorf("α %g at %g V: %.9g A, want %.9g A", alpha, v, a, want)
			}
		}
		if a, _, _ := s.at(&l, -5); a != 0 {
			t.Errorf("α %g below ground draws %g A", alpha, a)
		}
	}
}

package supply

import (
	"math"

	"coldrise/domain/amp"
)

// emission is a cathode's warm-up as the kernel wants it: w(t) between 0 and
// 1, and the time after which w is 1 for good.
type emission struct {
	logistic bool
	a, b     float64 // smoothstep: begins, full; logistic: half, τ. Seconds.
	full     float64 // s
}

// logisticFull is how many τ past its half a logistic stands within 1e-17 of
// one, which is nothing in a float64.
const logisticFull = 40

// newEmission compiles a warm-up that has been checked.
func newEmission(w *amp.WarmUp) emission {
	if w.Law == "logistic" {
		return emission{logistic: true, a: *w.T0S, b: *w.TauS, full: *w.T0S + logisticFull**w.TauS}
	}
	return emission{a: *w.TaS, b: *w.TbS, full: *w.TbS}
}

// at gives w at t seconds.
func (e *emission) at(t float64) float64 {
	if t >= e.full {
		return 1
	}
	if e.logistic {
		return 1 / (1 + math.Exp((e.a-t)/e.b))
	}
	if t <= e.a {
		return 0
	}
	x := (t - e.a) / (e.b - e.a)
	return x * x * (3 - 2*x)
}

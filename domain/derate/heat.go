package derate

import (
	"fmt"
	"math"

	"coldrise/domain/amp"
	"coldrise/domain/part"
)

// trivialRippleA is what an electrolytic without a ripple rating may carry.
// The least rating in the published axial table (Vishay ASH, 6.8 µF) is 110 mA;
// a twentieth of it warms nothing. Common practice.
const trivialRippleA = 0.005

// Sources of the heat and life checks.
const (
	sourceRipple  = "√Σ(I_n/k(f_n))² at the base frequency ≤ rated ripple × temperature factor × policy's share"
	sourceAmbient = "upper category temperature"
	sourceCore    = "ambient + rise at rated ripple × (I/I_rated)² ≤ upper category temperature + rise at rated ripple"
	sourceTrivial = "common practice: a twentieth of the least rating in the published axial table"
)

// EquivalentA gives the current at the base frequency of a table that heats as
// much as the currents given do together, A: the root of the sum of squares
// of each divided by the factor at its frequency.
func EquivalentA(currents []Current, t part.FrequencyTable) float64 {
	sum := 0.0
	for _, c := range currents {
		a := c.A / t.At(c.Hz)
		sum += a * a
	}
	return math.Sqrt(sum)
}

// load is what heats an electrolytic in its position.
type load struct {
	eqA float64
	// ratedA is the rated ripple at base and upper category temperature; 0 where not given.
	ratedA float64
	// share of the rating that the policy lets be used.
	share      float64
	tempFactor float64
	ambientC   float64
	// voltShare is the working voltage as a share of the rated.
	voltShare float64
}

// x is the current as a multiple of the rating, which must be given.
func (h load) x() float64 { return h.eqA / h.ratedA }

// needsTemperature says that the current passes only thanks to the
// temperature factor, which then has spent the life that a cool ambient gives.
func (h load) needsTemperature() bool { return h.eqA > h.ratedA*h.share }

// heatAndLife gives the checks of ripple, temperature and life, and the life
// in years. Only electrolytics age so; any other part is checked for its ambient.
func heatAndLife(s Stress, e *part.Effective, p Policy) ([]Check, float64) {
	if e.Technology != part.Electrolytic || s.Role == amp.Coupling {
		return []Check{ambient(s, e, p)}, 0
	}
	full := load{eqA: EquivalentA(s.Ripple, e.Frequency), share: p.RippleShare, ambientC: s.AmbientC,
		tempFactor: e.Temperature.At(s.AmbientC), ratedA: e.RippleMA.Value / 1000}
	if len(s.Ripple) == 0 {
		full.eqA = s.RippleRMSA
	}
	if e.RatedV.Known() {
		full.voltShare = s.WorkingV / e.RatedV.Value
	}
	idle := full
	if len(s.IdleRipple) > 0 {
		idle.eqA = EquivalentA(s.IdleRipple, e.Frequency)
	}
	checks := []Check{ripple(s, e, full), ambient(s, e, p)}
	if core, ok := coreCheck(e, full); ok {
		checks = append(checks, core)
	}
	life, years := lifeCheck(e, idle, full, p)
	return append(checks, life), years
}

func ripple(s Stress, e *part.Effective, h load) Check {
	if h.ratedA == 0 {
		return unratedRipple(s, h)
	}
	limit := h.ratedA * h.tempFactor * h.share
	c := atMost("ripple", h.eqA*1000, limit*1000, "mA", sourceRipple)
	c.Text = fmt.Sprintf("carries %.3g mA, as %g Hz current; allowed %.3g mA (rated %.4g mA × %.2f at %.0f °C × share %.2f)",
		c.Have, e.BaseHz.Value, c.Limit, h.ratedA*1000, h.tempFactor, h.ambientC, h.share)
	if !c.Pass {
		c.Text += fmt.Sprintf(": %.3g mA over", c.Have-c.Limit)
		c.Cure = fmt.Sprintf("a ripple rating of at least %.3g mA at %g Hz", h.ratedA*1000*c.Have/c.Limit, e.BaseHz.Value)
	}
	if c.Assumed = onAssumption(e.BaseHz, e.FrequencyFrom); c.Assumed != nil {
		c.Text += "; what is not given of its frequencies is assumed"
	}
	for _, i := range s.Ripple {
		if i.A > 0 && !e.Frequency.Covers(i.Hz) {
			c.Text += fmt.Sprintf("; no factor is given as low as %g Hz, the lowest is used", i.Hz)
			break
		}
	}
	return c
}

// unratedRipple refuses a part without a ripple rating wherever more than a
// trivial current flows: what it would bear is not known.
func unratedRipple(s Stress, h load) Check {
	c := atMost("ripple", h.eqA*1000, trivialRippleA*1000, "mA", sourceTrivial)
	if !c.Pass {
		return unknown("ripple", fmt.Sprintf("no ripple rating is given, and this %s position carries %.3g mA: whether the part bears it is not known", words(string(s.Role)), c.Have),
			sourceRipple, "ripple_ma")
	}
	c.Text = fmt.Sprintf("no ripple rating is given; %.1f mA is trivial", c.Have)
	return c
}

// ambient holds the air against the temperature class, less the policy's margin.
func ambient(s Stress, e *part.Effective, p Policy) Check {
	if !e.MaxC.Known() {
		return unknown("temperature", fmt.Sprintf("its temperature class is not given; the air here is at %.0f °C", s.AmbientC), sourceAmbient, "max_c")
	}
	limit := e.MaxC.Value - p.TemperatureMarginK
	c := atMost("temperature", s.AmbientC, limit, "°C", sourceAmbient)
	c.Text = fmt.Sprintf("air at %.0f °C; made for %.0f °C at most", s.AmbientC, e.MaxC.Value)
	if p.TemperatureMarginK > 0 {
		c.Text += fmt.Sprintf(", less the policy's %g K", p.TemperatureMarginK)
	}
	if !c.Pass {
		c.Text += fmt.Sprintf(": %.0f K over", s.AmbientC-limit)
		c.Cure = fmt.Sprintf("a temperature class of at least %.0f °C, or cooler air", s.AmbientC+p.TemperatureMarginK)
	}
	return c
}

// coreCheck holds the core's temperature against the one the rating itself
// implies: upper category temperature with the rated ripple flowing.
func coreCheck(e *part.Effective, h load) (Check, bool) {
	if h.ratedA == 0 || !e.MaxC.Known() {
		return Check{}, false // the checks of ripple and ambient say so
	}
	x := h.x()
	rise := e.Life.CoreRiseK
	c := atMost("temperature", h.ambientC+rise*x*x, e.MaxC.Value+rise, "°C", sourceCore)
	c.Text = fmt.Sprintf("core at %.0f °C, %.1f K above the air; its rating implies %.0f °C at most", c.Have, rise*x*x, c.Limit)
	if !c.Pass {
		c.Cure = "more ripple current rated, or a higher temperature class"
	}
	if e.Life.RiseAssumed {
		c.Assumed = []string{"life/core_rise_k"}
	}
	return c, true
}

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
	sourceRipple  = "√Σ(I_n/k(f_n))² at the series' base frequency ≤ rated ripple × temperature factor × policy's share"
	sourceAmbient = "upper category temperature of the series"
	sourceCore    = "ambient + rise at rated ripple × (I/I_rated)² ≤ upper category temperature + rise at rated ripple"
	sourceTrivial = "common practice: a twentieth of the least rating in the published axial table"
)

// EquivalentA gives the current at the series' base frequency that heats as
// much as the currents given do together, A: the root of the sum of squares
// of each divided by the series' factor at its frequency.
func EquivalentA(currents []Current, s *part.Series) float64 {
	sum := 0.0
	for _, c := range currents {
		a := c.A / s.FrequencyFactor(c.Hz)
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
}

// x is the current as a multiple of the rating, which must be given.
func (h load) x() float64 { return h.eqA / h.ratedA }

// needsTemperature says that the current passes only thanks to the
// temperature factor, which then has spent the life that a cool ambient gives.
func (h load) needsTemperature() bool { return h.eqA > h.ratedA*h.share }

// heatAndLife gives the checks of ripple, temperature and life, and the life
// in years. Only electrolytics age so; any other part is checked for its ambient.
func heatAndLife(s Stress, r *Rated, p Policy) ([]Check, float64) {
	if r.Part.Technology != part.Electrolytic || s.Role == amp.Coupling {
		return []Check{ambient(s, &r.Series)}, 0
	}
	h := load{eqA: EquivalentA(s.Ripple, &r.Series), share: p.RippleShare, ambientC: s.AmbientC,
		tempFactor: r.Series.TemperatureFactor(s.AmbientC)}
	if len(s.Ripple) == 0 {
		h.eqA = s.RippleRMSA
	}
	if r.Part.RippleMA != nil {
		h.ratedA = *r.Part.RippleMA / 1000
	}
	checks := []Check{ripple(s, r, h), ambient(s, &r.Series)}
	if core, ok := coreCheck(&r.Series, h); ok {
		checks = append(checks, core)
	}
	life, years := lifeCheck(&r.Series, h, p)
	return append(checks, life), years
}

func ripple(s Stress, r *Rated, h load) Check {
	if h.ratedA == 0 {
		return unratedRipple(s, h)
	}
	limit := h.ratedA * h.tempFactor * h.share
	c := atMost("ripple", h.eqA*1000, limit*1000, "mA", sourceRipple)
	c.Text = fmt.Sprintf("carries %.3g mA, as %g Hz current; allowed %.3g mA (rated %.4g mA × %.2f at %.0f °C × share %.2f)",
		c.Have, r.Series.BaseHz, c.Limit, h.ratedA*1000, h.tempFactor, h.ambientC, h.share)
	if !c.Pass {
		c.Text += fmt.Sprintf(": %.3g mA over", c.Have-c.Limit)
	}
	for _, i := range s.Ripple {
		if i.A > 0 && !r.Series.CoversHz(i.Hz) {
			c.Text += fmt.Sprintf("; the series gives no factor as low as %g Hz, its lowest is used", i.Hz)
			break
		}
	}
	return c
}

// unratedRipple refuses a part without a ripple rating wherever more than a
// trivial current flows: what it would bear is not known.
func unratedRipple(s Stress, h load) Check {
	c := atMost("data", h.eqA*1000, trivialRippleA*1000, "mA", sourceTrivial)
	c.Text = fmt.Sprintf("no ripple rating is given; %.1f mA is trivial", c.Have)
	if !c.Pass {
		c.Text = fmt.Sprintf("no ripple rating is given, and this %s position carries %.3g mA: whether the part bears it is not known", words(string(s.Role)), c.Have)
	}
	return c
}

func ambient(s Stress, series *part.Series) Check {
	c := atMost("temperature", s.AmbientC, series.MaxC, "°C", sourceAmbient)
	c.Text = fmt.Sprintf("air at %.0f °C; made for %.0f °C at most", s.AmbientC, series.MaxC)
	if !c.Pass {
		c.Text += fmt.Sprintf(": %.0f K over", s.AmbientC-series.MaxC)
	}
	return c
}

// coreCheck holds the core's temperature against the one the rating itself
// implies: upper category temperature with the rated ripple flowing.
func coreCheck(series *part.Series, h load) (Check, bool) {
	if series.Life == nil || series.Life.CoreRiseK <= 0 || h.ratedA == 0 {
		return Check{}, false
	}
	x := h.x()
	rise := series.Life.CoreRiseK
	c := atMost("temperature", h.ambientC+rise*x*x, series.MaxC+rise, "°C", sourceCore)
	c.Text = fmt.Sprintf("core at %.0f °C, %.1f K above the air; its rating implies %.0f °C at most", c.Have, rise*x*x, c.Limit)
	return c, true
}

package derate

import (
	"fmt"
	"math"

	"coldrise/domain/part"
)

const (
	// lifeCapYears is where every life estimate stops: seals and electrolyte age
	// with the calendar too (Nichicon: a calculated life is cut at 15 years).
	lifeCapYears = 15
	// weeksPerYear is 365.2425/7.
	weeksPerYear = 52.1775
	// coolestC is the lowest ambient for which life is extended: Nichicon gives
	// its formula for 40 °C and above.
	coolestC = 40
	// poleK is the rise at which the ripple term of the Rubycon form has its pole.
	poleK = 40
)

// LifeH gives the hours an electrolytic lasts at an ambient, °C, with x times its rated
// ripple current, by its own model:
//
//	ten_kelvin         L = L0 · 2^((T0−Ta)/10)
//	ten_kelvin_ripple  the same × 2^(ΔT0/(10−ΔT0/4) − ΔT/(10−ΔT/4)), ΔT = ΔT0·x²
//
// The first is the rule of thumb Rubycon, TDK-Lambda and Cosel print; the
// second is Rubycon's "Lifetime calculation formula" sheet. Below 40 °C no
// more is granted than at 40 °C (Nichicon). The result is not capped; Years caps.
func LifeH(l part.LifeLaw, ambientC, x float64) float64 {
	h := l.RatedH * math.Exp2((l.RatedC-math.Max(ambientC, coolestC))/10)
	if l.Model == part.TenKelvinRipple {
		rise := math.Min(l.CoreRiseK, part.MaxCoreRiseK)
		h *= math.Exp2(rippleTerm(rise) - rippleTerm(rise*x*x))
	}
	return h
}

// rippleTerm is ΔT/(10 − ΔT/4), without bound at 40 K, where life is nil.
func rippleTerm(riseK float64) float64 {
	if riseK >= poleK {
		return math.Inf(1)
	}
	return riseK / (10 - riseK/4)
}

// lifeAt gives the hours and whether the cool ambient's extension was
// withheld. Where the ripple current passes only by the temperature factor,
// that factor has spent the extension (Rubycon's sheet says so beside its
// table): then no more than the rated life is claimed.
func lifeAt(l part.LifeLaw, h load) (hours float64, withheld bool) {
	x := 1.0 // not known: as if at its rating
	if h.ratedA > 0 {
		x = h.x()
	}
	hours = LifeH(l, h.ambientC, x)
	if h.ratedA > 0 && h.needsTemperature() && hours > l.RatedH {
		return l.RatedH, true
	}
	return hours, false
}

// Years turns hours of life into years at so many hours a week, 15 at most.
func Years(hours, hoursPerWeek float64) float64 {
	if hoursPerWeek <= 0 {
		return lifeCapYears
	}
	return math.Min(lifeCapYears, hours/(hoursPerWeek*weeksPerYear))
}

func lifeCheck(e *part.Effective, h load, p Policy) (Check, float64) {
	l := e.Life
	if l.RatedC <= 0 {
		return unknown("life", "neither its temperature class nor that of its life is given: how long it lasts here is not known", lifeSource(l.Model), "max_c"), 0
	}
	hours, withheld := lifeAt(l, h)
	years := Years(hours, p.HoursPerWeek)
	c := atLeast("life", years, p.LifeYears, "a", lifeSource(l.Model))
	c.Text = fmt.Sprintf("lasts %.0f h, %.1f years at %g h a week", hours, years, p.HoursPerWeek)
	if years == lifeCapYears {
		c.Text = fmt.Sprintf("lasts %.0f h, cut at %d years", hours, lifeCapYears)
	}
	if withheld {
		c.Text += "; no extension for the cool ambient, since the ripple current already uses it"
	}
	if !c.Pass {
		c.Text += fmt.Sprintf(": %.1f years short of %g", p.LifeYears-years, p.LifeYears)
	}
	c.Assumed = onAssumption(e.LifeFrom...)
	return c, years
}

func lifeSource(model string) string {
	if model == part.TenKelvinRipple {
		return "Rubycon life formula: 10 K rule with the core's rise; cut at 15 years (Nichicon)"
	}
	return "10 K rule (Rubycon technote, Cosel); cut at 15 years (Nichicon)"
}

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

// LifeH gives the hours an electrolytic lasts at an ambient, °C, with x times
// its rated ripple current and u times its rated volts, by its own model:
//
//	ten_kelvin                 L = L0 · 2^((T0−Ta)/10)
//	ten_kelvin_ripple          the same × 2^(ΔT0/(10−ΔT0/4) − ΔT/(10−ΔT/4)), ΔT = ΔT0·x²
//	ten_kelvin_ripple_voltage  the same × Ki^((1−x²)·ΔT0/10) × (U/U_rated)^−n, u no lower than the model's least
//
// The first is the rule of thumb Rubycon, TDK-Lambda and Cosel print; the
// second Rubycon's "Lifetime calculation formula" sheet; the third Jianghai's
// (Albertsen, 2018). Below 40 °C no more is granted than at 40 °C (Nichicon).
// A core rise that was assumed may shorten the life and never lengthens it.
// The result is not capped; Years caps.
func LifeH(l part.LifeLaw, ambientC, x, u float64) float64 {
	h := l.RatedH * math.Exp2((l.RatedC-math.Max(ambientC, coolestC))/10)
	switch l.Model {
	case part.TenKelvinRipple:
		rise := math.Min(l.CoreRiseK, part.MaxCoreRiseK)
		h *= granted(l, math.Exp2(rippleTerm(rise)-rippleTerm(rise*x*x)))
	case part.TenKelvinRippleVoltage:
		base := l.RippleBase
		if x > 1 {
			base = l.RippleBaseOver
		}
		h *= granted(l, math.Pow(base, (1-x*x)*l.CoreRiseK/10))
		h *= math.Pow(math.Max(u, l.VoltageFrom), -l.VoltageExponent)
	}
	return h
}

// granted holds a ripple term to no gain where its core rise was assumed.
func granted(l part.LifeLaw, term float64) float64 {
	if l.RiseAssumed {
		return math.Min(term, 1)
	}
	return term
}

// rippleTerm is ΔT/(10 − ΔT/4), without bound at 40 K, where life is nil.
func rippleTerm(riseK float64) float64 {
	if riseK >= poleK {
		return math.Inf(1)
	}
	return riseK / (10 - riseK/4)
}

// MixedH gives the life under two loads that take turns: full for so large a
// share of the hours, idle for the rest. Each hour spends its share of the life
// it would have alone, so lives mix by their harmonic mean (Cosel Q&A a0057).
func MixedH(idleH, fullH, fullShare float64) float64 {
	switch {
	case fullShare <= 0:
		return idleH
	case fullShare >= 1:
		return fullH
	case idleH <= 0 || fullH <= 0:
		return 0
	}
	return 1 / ((1-fullShare)/idleH + fullShare/fullH)
}

// hoursUnder gives the hours under one load and whether the cool ambient's
// extension was withheld. Where the ripple current passes only by the
// temperature factor, that factor has spent the extension (Rubycon's sheet says
// so beside its table): then no more than the rated life is claimed.
func hoursUnder(l part.LifeLaw, h load) (hours float64, withheld bool) {
	x := 1.0 // not known: as if at its rating
	if h.ratedA > 0 {
		x = h.x()
	}
	hours = LifeH(l, h.ambientC, x, h.voltShare)
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

// lifeCheck holds the years at the shop's hours, some of them at full drive,
// against the policy's.
func lifeCheck(e *part.Effective, idle, full load, p Policy) (Check, float64) {
	l := e.Life
	if l.RatedC <= 0 {
		return unknown("life", "neither its temperature class nor that of its life is given: how long it lasts here is not known", lifeSource(l.Model), "max_c"), 0
	}
	idleH, idleWithheld := hoursUnder(l, idle)
	fullH, fullWithheld := hoursUnder(l, full)
	hours := MixedH(idleH, fullH, p.FullDriveShare)
	years := Years(hours, p.HoursPerWeek)
	c := atLeast("life", years, p.LifeYears, "a", lifeSource(l.Model))
	c.Text = fmt.Sprintf("lasts %.0f h (%.0f h idling, %.0f h driven in full, which is %.0f %% of its hours), %.1f years at %g h a week",
		hours, idleH, fullH, p.FullDriveShare*100, years, p.HoursPerWeek)
	if years == lifeCapYears {
		c.Text = fmt.Sprintf("lasts %.0f h, cut at %d years", hours, lifeCapYears)
	}
	if idleWithheld || fullWithheld {
		c.Text += "; no extension for the cool ambient where the ripple current already uses it"
	}
	if !c.Pass {
		c.Text += fmt.Sprintf(": %.1f years short of %g", p.LifeYears-years, p.LifeYears)
		c.Cure = lifeCure(l, idleWithheld || fullWithheld, years, p)
	}
	if c.Assumed = onAssumption(e.LifeFrom...); c.Assumed != nil {
		c.Text += "; what is not given of its life is assumed"
	}
	return c, years
}

// lifeCure is what would make a life last: hours, which it goes as, or more
// ripple rating where that holds it short.
func lifeCure(l part.LifeLaw, withheld bool, years float64, p Policy) string {
	cure := "far more ripple current rated"
	if years > 0.05*p.LifeYears {
		cure = fmt.Sprintf("a life of at least %.0f h at %.0f °C", math.Ceil(l.RatedH*p.LifeYears/years/100)*100, l.RatedC)
	}
	if withheld {
		cure += ", or ripple current rated so that the cool air need not help"
	}
	return cure
}

func lifeSource(model string) string {
	const capped = "; cut at 15 years (Nichicon)"
	switch model {
	case part.TenKelvinRipple:
		return "Rubycon life formula: 10 K rule with the core's rise" + capped
	case part.TenKelvinRippleVoltage:
		return "Jianghai life formula (Albertsen): 10 K rule with the core's rise and the working voltage" + capped
	}
	return "10 K rule (Rubycon technote, Cosel)" + capped
}

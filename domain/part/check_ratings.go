package part

import (
	"fmt"
	"math"
	"strconv"

	"coldrise/domain/problem"
)

// baseTolerance is how far a table may be from 1 at its base, from makers'
// rounding to two decimals.
const baseTolerance = 0.005

// MaxCoreRiseK is the largest rise at rated ripple that a life model with a
// ripple term takes, K. Published ones are 3 to 10 K.
const MaxCoreRiseK = 20

// Check adds what is wrong with a series beyond the ranges of its members:
// tables out of order, or not 1 at their base, and figures that contradict
// each other. Pointers are those of a series document.
func (s *Series) Check(l *problem.List) { checkRatings(l, &s.Ratings, &Ratings{}, true) }

// checkRatings adds what contradicts within own, and between own and the
// ratings of the series behind it. What contradicts within the series alone is
// the series' fault and was found there. Whole is false where there is a series
// that is not at hand: then what it may still give is not missed.
func checkRatings(l *problem.List, own, shared *Ratings, whole bool) {
	checkFrequency(l, own.FrequencyFactors, either(own.BaseHz, shared.BaseHz), whole)
	checkTemperature(l, own, shared)
	minC, maxC := either(own.MinC, shared.MinC), either(own.MaxC, shared.MaxC)
	if minC != nil && maxC != nil && *minC >= *maxC && (own.MinC != nil || own.MaxC != nil) {
		l.Add(problem.Fault{Pointer: pointerOf(own.MinC != nil, "/min_c", "/max_c"), Value: number(*minC), Limit: number(*maxC), Unit: "°C", Message: "min_c is below max_c"})
	}
	checkLife(l, own, shared)
	checkLifeConstants(l, orEmpty(own.Life), orEmpty(shared.Life), whole)
	if law := own.Leakage; law != nil && law.PerCV+law.PerRootCV+law.PlusUA+law.FloorUA <= 0 {
		l.Addf("/leakage", "a leakage law has a term above 0: per_cv, per_root_cv, plus_ua or floor_ua")
	}
	if s := own.Storage; s != nil && s.ReformAfterYears != nil && s.MaxYears != nil && *s.MaxYears < *s.ReformAfterYears {
		l.Add(problem.Fault{Pointer: "/storage/max_years", Value: number(*s.MaxYears), Limit: number(*s.ReformAfterYears), Unit: "a",
			Message: "max_years is not below reform_after_years"})
	}
}

// either gives the part's own figure where there is one, else its series'.
func either(own, shared *float64) *float64 {
	if own != nil {
		return own
	}
	return shared
}

func pointerOf(own bool, a, b string) string {
	if own {
		return a
	}
	return b
}

func checkFrequency(l *problem.List, t FrequencyTable, base *float64, whole bool) {
	for i := 1; i < len(t); i++ {
		at := "/frequency_factors/" + strconv.Itoa(i)
		if t[i].Hz <= t[i-1].Hz {
			l.Add(problem.Fault{Pointer: at + "/hz", Value: number(t[i].Hz), Limit: number(t[i-1].Hz), Unit: "Hz", Message: "the table ascends in hz"})
		}
		if t[i].Factor < t[i-1].Factor {
			l.Add(problem.Fault{Pointer: at + "/factor", Value: number(t[i].Factor), Limit: number(t[i-1].Factor),
				Message: "the ripple current a part bears does not fall as frequency rises"})
		}
	}
	switch {
	case len(t) == 0 || base == nil && !whole:
	case base == nil || *base <= 0:
		l.Addf("/frequency_factors", "factors hold against a frequency; no base_hz is given")
	case math.Abs(t.At(*base)-1) > baseTolerance:
		l.Add(problem.Fault{Pointer: "/frequency_factors", Value: number(t.At(*base)), Limit: "1", Message: fmt.Sprintf("the factor is 1 at base_hz, %g Hz", *base)})
	}
}

func checkTemperature(l *problem.List, own, shared *Ratings) {
	t := own.TemperatureFactors
	for i := 1; i < len(t); i++ {
		at := "/temperature_factors/" + strconv.Itoa(i)
		if t[i].AmbientC <= t[i-1].AmbientC {
			l.Add(problem.Fault{Pointer: at + "/ambient_c", Value: number(t[i].AmbientC), Limit: number(t[i-1].AmbientC), Unit: "°C",
				Message: "the table ascends in ambient_c"})
		}
		if t[i].Factor > t[i-1].Factor {
			l.Add(problem.Fault{Pointer: at + "/factor", Value: number(t[i].Factor), Limit: number(t[i-1].Factor),
				Message: "the ripple current a part bears does not rise as the ambient rises"})
		}
	}
	where := "/temperature_factors"
	if len(t) == 0 {
		// A part of a lower class than its series' would be granted at its limit
		// what the series is granted in cooler air.
		t, where = shared.TemperatureFactors, "/max_c"
		if own.MaxC == nil {
			return
		}
	}
	maxC := either(own.MaxC, shared.MaxC)
	if len(t) == 0 || maxC == nil {
		return
	}
	// The rating itself holds at the hottest ambient allowed; a factor above 1
	// there would grant ripple current the maker does not.
	if k := t.At(*maxC); k > 1+baseTolerance {
		l.Add(problem.Fault{Pointer: where, Value: number(k), Limit: "1",
			Message: fmt.Sprintf("the temperature factor is 1 at most at max_c, %g °C", *maxC)})
	}
}

func checkLife(l *problem.List, own, shared *Ratings) {
	mine, theirs := orEmpty(own.Life), orEmpty(shared.Life)
	ratedC, maxC := either(mine.RatedC, theirs.RatedC), either(own.MaxC, shared.MaxC)
	if ratedC != nil && maxC != nil && *ratedC > *maxC && (mine.RatedC != nil || own.MaxC != nil) {
		l.Add(problem.Fault{Pointer: pointerOf(mine.RatedC != nil, "/life/rated_c", "/max_c"), Value: number(*ratedC), Limit: number(*maxC), Unit: "°C",
			Message: "life is rated at or below max_c"})
	}
	rise := either(mine.CoreRiseK, theirs.CoreRiseK)
	if model := modelOf(mine, theirs); model != "" && model != TenKelvin && rise != nil && *rise > MaxCoreRiseK && own.Life != nil {
		l.Add(problem.Fault{Pointer: "/life/core_rise_k", Value: number(*rise), Limit: number(MaxCoreRiseK), Unit: "K",
			Message: "a life model with a ripple term takes a rise of 20 K at most"})
	}
}

func modelOf(own, shared Life) string {
	if own.Model != "" {
		return own.Model
	}
	return shared.Model
}

// checkLifeConstants refuses constants that the model given has no place for.
func checkLifeConstants(l *problem.List, own, shared Life, whole bool) {
	model := modelOf(own, shared)
	if model == TenKelvinRippleVoltage || model == "" && !whole {
		return
	}
	for _, c := range []struct {
		name string
		v    *float64
	}{{"ripple_base", own.RippleBase}, {"ripple_base_over", own.RippleBaseOver}, {"voltage_exponent", own.VoltageExponent}, {"voltage_from", own.VoltageFrom}} {
		if c.v != nil {
			l.Add(problem.Fault{Pointer: "/life/" + c.name, Value: number(*c.v), Limit: TenKelvinRippleVoltage,
				Message: "a constant of the model ten_kelvin_ripple_voltage, and that is not the model here"})
		}
	}
}

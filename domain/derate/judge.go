package derate

import (
	"math"
	"slices"

	"coldrise/domain/amp"
	"coldrise/domain/part"
)

// Judge holds one part against what a position must withstand. The checks come
// in a fixed order, every one that applies, passed or not. For a part and a
// series that passed their Check and a finite stress all figures are finite,
// and equal input gives an equal verdict.
func Judge(s Stress, r Rated, p Policy) Verdict {
	v := Verdict{Maker: r.Part.Maker, PartNumber: r.Part.PartNumber}
	s = s.ForTolerance(r.Part.TolMinusPct, r.Part.TolPlusPct)
	v.Checks = append(v.Checks, technology(s.Role, r.Part.Technology), sections(&r.Part))
	v.Checks = append(v.Checks, capacitance(r.Part.CapacitanceUF, s.Window)...)
	if onMains(s.Role) {
		v.Checks = append(v.Checks, mainsChecks(s, mainsPartOf(&r.Part), p)...)
		v.Checks = append(v.Checks, ambient(s, &r.Series))
	} else {
		v.Checks = append(v.Checks, voltages(s, holdOf(&r.Part), p)...)
		heat, years := heatAndLife(s, &r, p)
		v.Checks = append(v.Checks, heat...)
		v.LifeYears = years
	}
	v.Checks = append(v.Checks, body(s.Body, &r.Part)...)
	v.Pass = decides(v.Checks)
	return v
}

// JudgeFitted holds what is in place against the position, as far as its
// marking tells: capacitance, rated and surge voltage, and on the mains its
// safety class, volts and touch current. Ripple, life and body are not judged,
// for a marking does not give them. Where a safety class is marked the rated
// voltage counts as AC volts.
func JudgeFitted(s Stress, f amp.Fitted, p Policy) Verdict {
	v := Verdict{Checks: capacitance(f.CapacitanceUF, s.Window)}
	if onMains(s.Role) {
		v.Checks = append(v.Checks, mainsChecks(s, mainsPartOfFitted(f), p)...)
	} else {
		v.Checks = append(v.Checks, voltages(s, holdOfFitted(s.Role, f), p)...)
	}
	v.Pass = decides(v.Checks)
	return v
}

// Misses gives the checks that decided against a part, the nearest miss first.
func Misses(v Verdict) []Check {
	failed := []Check{}
	for _, c := range v.Checks {
		if !c.Pass && !c.Advisory {
			failed = append(failed, c)
		}
	}
	slices.SortStableFunc(failed, func(a, b Check) int {
		switch {
		case a.MarginPct > b.MarginPct:
			return -1
		case a.MarginPct < b.MarginPct:
			return 1
		}
		return 0
	})
	return failed
}

// Technologies gives what may serve in a role. An electrolytic is never a
// coupling capacitor, for its leakage would shift the grid behind it; film may
// smooth; on the mains only a part with a safety class serves (IEC 60384-14).
func Technologies(role amp.Role) []part.Technology {
	switch role {
	case amp.Smoothing:
		return []part.Technology{part.Electrolytic, part.Film}
	case amp.Coupling:
		return []part.Technology{part.Film}
	case amp.MainsX:
		return []part.Technology{part.SafetyX}
	case amp.MainsY:
		return []part.Technology{part.SafetyY}
	}
	return []part.Technology{part.Electrolytic}
}

func onMains(role amp.Role) bool { return role == amp.MainsX || role == amp.MainsY }

// decides says whether every check that is not advisory passed.
func decides(checks []Check) bool {
	for _, c := range checks {
		if !c.Pass && !c.Advisory {
			return false
		}
	}
	return true
}

// maxMarginPct bounds a margin, so that a limit near zero cannot make one infinite.
const maxMarginPct = 1e6

// atMost is a check that passes where have ≤ limit.
func atMost(name string, have, limit float64, unit, source string) Check {
	return Check{Name: name, Pass: have <= limit, Have: have, Limit: limit, Unit: unit,
		MarginPct: margin(limit-have, limit), Source: source}
}

// atLeast is a check that passes where have ≥ limit.
func atLeast(name string, have, limit float64, unit, source string) Check {
	return Check{Name: name, Pass: have >= limit, Have: have, Limit: limit, Unit: unit,
		MarginPct: margin(have-limit, limit), Source: source}
}

// is a check of a yes or a no: 1 of 1, or 0 of 1.
func is(name string, pass bool, text, source string) Check {
	c := Check{Name: name, Pass: pass, Limit: 1, MarginPct: -100, Text: text, Source: source}
	if pass {
		c.Have, c.MarginPct = 1, 0
	}
	return c
}

// margin is room as a share of limit, %, held within ±maxMarginPct. Its sign is that of room.
func margin(room, limit float64) float64 {
	if room == 0 {
		return 0
	}
	scale := math.Abs(limit)
	if math.Abs(room) >= scale*maxMarginPct/100 {
		return math.Copysign(maxMarginPct, room)
	}
	return room / scale * 100
}

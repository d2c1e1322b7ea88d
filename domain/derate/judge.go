package derate

import (
	"math"
	"slices"
	"strings"

	"coldrise/domain/amp"
	"coldrise/domain/part"
)

// Judge holds one part against what a position must withstand. The checks come
// in a fixed order, every one that applies, passed or not. For a part and a
// series that passed their Check and a finite stress all figures are finite,
// and equal input gives an equal verdict.
func Judge(s Stress, r Rated, p Policy) Verdict {
	v := Verdict{Maker: r.Part.Maker, PartNumber: r.Part.PartNumber}
	e := r.Part.Effective(&r.Series)
	v.Checks = append(v.Checks, technology(s.Role, r.Part.Technology), sections(&r.Part))
	if c, lacking := tolerance(&e); lacking {
		v.Checks = append(v.Checks, c)
	} else {
		s = s.ForTolerance(e.TolMinusPct.Value, e.TolPlusPct.Value)
	}
	v.Checks = append(v.Checks, capacitance(r.Part.CapacitanceUF, s.Window)...)
	v.Checks = append(v.Checks, inrush(r.Part.CapacitanceUF, e.TolPlusPct.Value, s.Window)...)
	if onMains(s.Role) {
		v.Checks = append(v.Checks, mainsChecks(s, mainsPartOf(&r.Part, &e), p)...)
		v.Checks = append(v.Checks, ambient(s, &e, p))
	} else {
		v.Checks = append(v.Checks, voltages(s, holdOf(&e), p)...)
		heat, years := heatAndLife(s, &e, p)
		v.Checks = append(v.Checks, heat...)
		v.LifeYears = years
		v.Checks = append(v.Checks, reverse(s, &e)...)
	}
	v.Checks = append(v.Checks, body(s.Body, &r.Part)...)
	v.Pass = decides(v.Checks)
	v.Assumed = assumed(v.Checks, &e)
	return v
}

// tolerance is a check of its own only where it is not known: what it leads to
// is judged by the stack, the window and the touch current.
func tolerance(e *part.Effective) (Check, bool) {
	var missing []string
	for _, f := range []part.Figure{e.TolMinusPct, e.TolPlusPct} {
		if !f.Known() {
			missing = append(missing, f.Name)
		}
	}
	if missing == nil {
		return Check{}, false
	}
	return unknown("tolerance", "its tolerance is not given: how much capacitance it really has is not known", "the part's own figures", missing...), true
}

// assumed gives the figures the checks took on assumption, each once.
func assumed(checks []Check, e *part.Effective) []part.Figure {
	var list []part.Figure
	for _, c := range checks {
		for _, name := range c.Assumed {
			f, ok := figureOf(e, name)
			if ok && !slices.Contains(list, f) {
				list = append(list, f)
			}
		}
	}
	return list
}

func figureOf(e *part.Effective, name string) (part.Figure, bool) {
	for _, f := range append([]part.Figure{e.SurgeV, e.BaseHz, e.FrequencyFrom, e.TemperatureFrom}, e.LifeFrom...) {
		if f.Name == name {
			return f, true
		}
	}
	return part.Figure{}, false
}

// onAssumption gives the names of those figures that are assumed.
func onAssumption(figures ...part.Figure) []string {
	var names []string
	for _, f := range figures {
		if f.From == part.OfDefault {
			names = append(names, f.Name)
		}
	}
	return names
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

// Misses gives the checks that decided against a part: the nearest miss first,
// and last what is not known.
func Misses(v Verdict) []Check {
	failed := []Check{}
	unknowns := []Check{}
	for _, c := range v.Checks {
		if c.Outcome == Unknown && !c.Advisory {
			unknowns = append(unknowns, c)
			continue
		}
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
	return append(failed, unknowns...)
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
	return Check{Name: name, Pass: have <= limit, Outcome: outcome(have <= limit), Have: have, Limit: limit, Unit: unit,
		MarginPct: margin(limit-have, limit), Source: source}
}

// atLeast is a check that passes where have ≥ limit.
func atLeast(name string, have, limit float64, unit, source string) Check {
	return Check{Name: name, Pass: have >= limit, Outcome: outcome(have >= limit), Have: have, Limit: limit, Unit: unit,
		MarginPct: margin(have-limit, limit), Source: source}
}

func outcome(pass bool) Outcome {
	if pass {
		return Passed
	}
	return Failed
}

// unknown is a check that cannot be made, for the part does not give what is
// missing. Its margin counts as none at all.
func unknown(name, text, source string, missing ...string) Check {
	return Check{Name: name, Outcome: Unknown, MarginPct: -100, Missing: missing, Text: text, Source: source,
		Cure: "its " + strings.Join(missing, " and ") + ", were it given"}
}

// is a check of a yes or a no: 1 of 1, or 0 of 1.
func is(name string, pass bool, text, source string) Check {
	c := Check{Name: name, Pass: pass, Outcome: outcome(pass), Limit: 1, MarginPct: -100, Text: text, Source: source}
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

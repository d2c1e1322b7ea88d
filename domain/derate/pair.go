package derate

import (
	"fmt"
	"math"
	"math/cmplx"

	"coldrise/domain/part"
)

// Sharing is how two capacitors in parallel share the ripple current.
type Sharing struct {
	// FirstPct and SecondPct are what either takes at worst, by the tolerance of
	// both, at the frequency where it takes most; FirstEvenPct with both as marked.
	FirstEvenPct float64 `json:"first_even_pct"`
	FirstPct     float64 `json:"first_pct"`
	SecondPct    float64 `json:"second_pct"`
	Text         string  `json:"text"`
	Basis        string  `json:"basis"`
}

// leastESRShare: printed ESR lies from 0.857 to 0.945 of what the maximum loss
// factor gives (Vishay 042/043 ASH, doc 28329 p.4), so that of one part may be
// this much below another's.
const leastESRShare = 0.85

const sharingBasis = "each current divides by admittance, 1/(ESR + 1/jωC): the one judged at its upper capacitance and 0.85 of its ESR, the other at its lower and its whole ESR"

// ShareOf gives what a capacitor of uf µF and esr Ω takes of a current that
// another shares with it in parallel, at hz: |Y1|/|Y1 + Y2|.
func ShareOf(hz, uf, esr, otherUF, otherESR float64) float64 {
	y := func(uf, esr float64) complex128 {
		if uf <= 0 || hz <= 0 {
			return 0
		}
		return 1 / complex(esr, -1/(2*math.Pi*hz*uf*1e-6))
	}
	one, other := y(uf, esr), y(otherUF, otherESR)
	if one+other == 0 {
		return 0
	}
	return cmplx.Abs(one) / cmplx.Abs(one+other)
}

// worstShare is ShareOf with both at the ends of their tolerance that give the
// first most.
func worstShare(hz float64, one, other *part.Effective) float64 {
	return ShareOf(hz, one.CapacitanceUF.Value*(1+one.TolPlusPct.Value/100), leastESRShare*one.ESROhm.Value,
		other.CapacitanceUF.Value*(1-other.TolMinusPct.Value/100), other.ESROhm.Value)
}

// JudgePair holds two parts in parallel against what a single capacitor has to
// withstand. Each is judged by itself, with its worst share of the current; the
// value and the body are those of both. LifeYears is the shorter.
func JudgePair(s Stress, one, two Rated, p Policy) (Verdict, Sharing) {
	e, f := one.Part.Effective(&one.Series), two.Part.Effective(&two.Series)
	share := sharing(s, &e, &f)
	v := judgeMember(s, one, &e, &f, p)
	if one.Part.Key() != two.Part.Key() {
		w := judgeMember(s, two, &f, &e, p)
		v.Checks = append(named(one, v.Checks), named(two, w.Checks)...)
		v.LifeYears = math.Min(v.LifeYears, w.LifeYears)
		v.Assumed = append(v.Assumed, w.Assumed...)
	}
	total := one.Part.CapacitanceUF + two.Part.CapacitanceUF
	v.Checks = append(v.Checks, capacitance(total, s.Window)...)
	plus := (one.Part.CapacitanceUF*e.TolPlusPct.Value + two.Part.CapacitanceUF*f.TolPlusPct.Value) / total
	v.Checks = append(v.Checks, inrush(total, plus, s.Window)...)
	v.Checks = append(v.Checks, setBody(s.Body, "", one, two)...)
	v.Pass = decides(v.Checks)
	return v, share
}

// judgeMember judges one of a pair with its share of each current.
func judgeMember(s Stress, r Rated, own, other *part.Effective, p Policy) Verdict {
	member := s
	member.Window, member.Body = Window{}, nil
	share := func(list []Current) []Current {
		out := append([]Current(nil), list...)
		for i := range out {
			out[i].A *= worstShare(out[i].Hz, own, other)
		}
		return out
	}
	member.Ripple, member.IdleRipple = share(s.Ripple), share(s.IdleRipple)
	member.RippleRMSA = s.RippleRMSA * mostOf(s.Ripple, own, other)
	return Judge(member, r, p)
}

// mostOf is the largest worst share at any of the frequencies, or at 100 Hz
// where there are none.
func mostOf(list []Current, one, other *part.Effective) float64 {
	most := 0.0
	for _, c := range list {
		most = math.Max(most, worstShare(c.Hz, one, other))
	}
	if most == 0 {
		most = worstShare(100, one, other)
	}
	return most
}

func sharing(s Stress, e, f *part.Effective) Sharing {
	hz := 100.0
	if len(s.Ripple) > 0 {
		hz = s.Ripple[0].Hz
	}
	out := Sharing{FirstEvenPct: 100 * ShareOf(hz, e.CapacitanceUF.Value, e.ESROhm.Value, f.CapacitanceUF.Value, f.ESROhm.Value),
		FirstPct: 100 * mostOf(s.Ripple, e, f), SecondPct: 100 * mostOf(s.Ripple, f, e), Basis: sharingBasis}
	out.Text = fmt.Sprintf("either may take %.0f %% of the ripple current, by tolerance", out.FirstPct)
	if e.CapacitanceUF.Value != f.CapacitanceUF.Value {
		out.Text = fmt.Sprintf("the %s takes up to %.0f %% of the ripple current, the %s up to %.0f %%, by tolerance",
			microfarad(e.CapacitanceUF.Value), out.FirstPct, microfarad(f.CapacitanceUF.Value), out.SecondPct)
	}
	return out
}

// named puts the part's value before each of its checks' sentences.
func named(r Rated, checks []Check) []Check {
	out := append([]Check(nil), checks...)
	for i := range out {
		out[i].Text = microfarad(r.Part.CapacitanceUF) + ": " + out[i].Text
	}
	return out
}

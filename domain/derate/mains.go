package derate

import (
	"fmt"
	"math"

	"coldrise/domain/amp"
	"coldrise/domain/part"
)

// plainPlusPct is the upper tolerance taken where a marking gives none: ±20 %,
// the letter M of IEC 60062.
const plainPlusPct = 20

// mainsPart is what the mains checks need of a capacitor.
type mainsPart struct {
	class         string
	ratedVAC      float64 // 0 where not given
	capacitanceUF float64
	tolPlusPct    float64
	tolUnknown    bool
	// rated says that it is of a safety technology: a class or AC volts it lacks
	// are not known, rather than not there.
	rated bool
}

func mainsPartOf(p *part.Part, e *part.Effective) mainsPart {
	m := mainsPart{class: p.SafetyClass, capacitanceUF: p.CapacitanceUF, tolPlusPct: e.TolPlusPct.Value, tolUnknown: !e.TolPlusPct.Known(),
		rated: p.Technology == part.SafetyX || p.Technology == part.SafetyY}
	if p.RatedVAC != nil {
		m.ratedVAC = *p.RatedVAC
	}
	return m
}

func mainsPartOfFitted(f amp.Fitted) mainsPart {
	m := mainsPart{class: f.SafetyClass, capacitanceUF: f.CapacitanceUF, tolPlusPct: plainPlusPct}
	if f.SafetyClass != "" {
		m.ratedVAC = f.RatedV
	}
	if f.TolPlusPct != nil {
		m.tolPlusPct = *f.TolPlusPct
	}
	return m
}

func mainsChecks(s Stress, m mainsPart, p Policy) []Check {
	checks := []Check{safetyClass(s.Role, m)}
	if s.MainsV <= 0 || s.MainsHz <= 0 {
		return append(checks, is("data", false, "the highest mains volts and the frequency are not known here", "the amplifier's description"))
	}
	checks = append(checks, mainsVoltage(s, m))
	if s.Role == amp.MainsY {
		checks = append(checks, touchCurrent(s, m, p))
	}
	return checks
}

func safetyClass(role amp.Role, m mainsPart) Check {
	class := m.class
	want, classes := byte('X'), "X1 or X2"
	if role == amp.MainsY {
		want, classes = 'Y', "Y1 or Y2"
	}
	const source = "IEC 60384-14"
	switch {
	case class == "" && m.rated:
		return unknown("safety_class", fmt.Sprintf("its safety class is not given; the mains takes class %s here", classes), source, "safety_class")
	case class == "":
		c := is("safety_class", false, fmt.Sprintf("no safety class is marked; the mains takes class %s here and nothing else", classes), source)
		c.Cure = "a part of class " + classes
		return c
	case class[0] != want:
		c := is("safety_class", false, fmt.Sprintf("class %s; this place takes class %s", class, classes), source)
		c.Cure = "a part of class " + classes
		return c
	}
	return is("safety_class", true, fmt.Sprintf("class %s: proven at %.3g kV of impulse", class, ImpulseV(class, m.capacitanceUF)/1000), source)
}

func mainsVoltage(s Stress, m mainsPart) Check {
	if m.ratedVAC == 0 && m.rated {
		return unknown("mains_voltage", fmt.Sprintf("its rated AC volts are not given; the mains reaches %.0f V", s.MainsV), "rated AC volts ≥ highest mains", "rated_v_ac")
	}
	c := atLeast("mains_voltage", m.ratedVAC, s.MainsV, "V", "rated AC volts ≥ highest mains")
	c.Text = fmt.Sprintf("rated %.0f V AC; the mains reaches %.0f V", m.ratedVAC, s.MainsV)
	if !c.Pass {
		c.Cure = fmt.Sprintf("a rating of at least %.0f V AC", math.Ceil(s.MainsV))
	}
	if m.ratedVAC == 0 {
		c.Text = fmt.Sprintf("no AC rating for the mains, which reaches %.0f V", s.MainsV)
	}
	return c
}

// touchCurrent holds the current that reaches the chassis through a capacitor
// at its upper tolerance and the highest mains against the policy's limit.
func touchCurrent(s Stress, m mainsPart, p Policy) Check {
	limit := p.TouchLimit(s.MainsNominalV)
	if m.tolUnknown {
		return unknown("touch_current", "its upper tolerance is not given: the current it may pass to the chassis is not known", sourceTouch+limit.Source, "tol_plus_pct")
	}
	worstUF := m.capacitanceUF * (1 + m.tolPlusPct/100)
	c := atMost("touch_current", TouchMA(s.MainsV, s.MainsHz, worstUF), limit.MA, "mA", sourceTouch+limit.Source)
	c.Text = fmt.Sprintf("%.2f mA to chassis at %.0f V, %g Hz with %s +%g %%; %.3g mA allowed (%s), which is %s",
		c.Have, s.MainsV, s.MainsHz, microfarad(m.capacitanceUF), m.tolPlusPct, limit.MA, limit.Source,
		microfarad(MaxLineToChassisUF(s.MainsV, s.MainsHz, limit.MA)))
	if !c.Pass {
		c.Cure = "at most " + microfarad(MaxLineToChassisUF(s.MainsV, s.MainsHz, limit.MA)/(1+m.tolPlusPct/100)) + " at this tolerance"
	}
	return c
}

const sourceTouch = "I = 2πfCV at high line, against "

// TouchMA gives the current, mA RMS, that a capacitor of uf µF passes from the
// line to the chassis at v RMS and hz: 2πfCV.
func TouchMA(v, hz, uf float64) float64 { return 2 * math.Pi * hz * uf * 1e-6 * v * 1e3 }

// MaxLineToChassisUF gives the largest capacitance, µF, from line to chassis
// that passes no more than mA at v RMS and hz: I/(2πfV). It is the actual
// value, so a part's upper tolerance counts against it. 0 where v or hz is not
// above 0.
func MaxLineToChassisUF(v, hz, mA float64) float64 {
	if v <= 0 || hz <= 0 {
		return 0
	}
	return mA / TouchMA(v, hz, 1)
}

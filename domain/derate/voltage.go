package derate

import (
	"fmt"
	"math"

	"coldrise/domain/amp"
	"coldrise/domain/part"
)

// Sources of the voltage checks.
const (
	sourceWorking = "Nippon Chemi-Con precautions; GE capacitor application data p.68: DC plus ripple peak ≤ rated; the share is the shop's policy"
	sourceCold    = "rated voltage; the surge margin is not used"
	sourceSurge   = "IEC 60384-1 surge test: 30 s per 6 min, 1000 cycles (secondary text)"
)

// surgeStarts says what using the surge margin costs: the surge test is 1000
// times 30 s, so at one cold start a day it is used up in 1000/365 years.
const surgeStarts = "the surge test is 1000 times 30 s: at one start a day under three years"

// hold is what a capacitor holds by its marking or its catalogue entry.
type hold struct {
	ratedV      float64
	surgeV      float64
	surgeSource string
	// polarised parts alone have a surge rating.
	polarised bool
	// above gives the seconds a case stands above the rated voltage, and whether that is known.
	above func(CasePeak) (float64, bool)
}

func holdOf(e *part.Effective) hold {
	ratedV := e.RatedV.Value
	return hold{ratedV: ratedV, surgeV: e.SurgeV.Value, surgeSource: e.SurgeV.Source, polarised: e.Technology == part.Electrolytic,
		above: func(c CasePeak) (float64, bool) { return secondsAbove(c, ratedV) }}
}

func holdOfFitted(role amp.Role, f amp.Fitted) hold {
	p := part.Part{RatedV: f.RatedV, SurgeV: f.SurgeV, Technology: part.Electrolytic}
	if role == amp.Coupling {
		p.Technology = part.Film
	}
	e := p.Effective(nil)
	h := holdOf(&e)
	ladder := h.above
	h.above = func(c CasePeak) (float64, bool) {
		if len(c.Above) > 0 {
			return ladder(c)
		}
		return c.AboveRatedS, true // counted against the fitted rating itself
	}
	return h
}

// voltages gives the working voltage, the cold start that decides, and every
// other case above the rating as advice.
func voltages(s Stress, h hold, p Policy) []Check {
	if h.ratedV <= 0 {
		const text = "its rated voltage is not given"
		return []Check{unknown("working_voltage", text, sourceWorking, "rated_v"), unknown("cold_start", text, sourceCold, "rated_v")}
	}
	checks := []Check{workingVoltage(s, h, p), coldStart(s, h, p)}
	for _, c := range s.Peaks {
		if c.Mandatory || c.V <= h.ratedV {
			continue
		}
		advice := atMost("cold_start", c.V, h.ratedV, "V", sourceCold)
		advice.Advisory = true
		advice.Text = "advice only: " + sees(c, h.ratedV)
		checks = append(checks, advice)
	}
	return checks
}

func workingVoltage(s Stress, h hold, p Policy) Check {
	share := math.Min(p.WorkingShare, 1)
	c := atMost("working_voltage", s.WorkingV, share*h.ratedV, "V", sourceWorking)
	if c.Pass {
		c.Text = fmt.Sprintf("works at %.0f V; %.0f %% of %.0f V rated is %.0f V", s.WorkingV, share*100, h.ratedV, c.Limit)
		return c
	}
	c.Text = fmt.Sprintf("works at %.0f V; %.0f %% of %.0f V rated is %.0f V: %s over", s.WorkingV, share*100, h.ratedV, c.Limit, volts(s.WorkingV-c.Limit))
	c.Cure = rating(s.WorkingV / share)
	if used := math.Ceil(100*s.WorkingV/h.ratedV) / 100; used <= 1 {
		c.Cure += fmt.Sprintf(" (or working_share of %.2f in the policy)", used)
	}
	return c
}

// coldStart holds the highest voltage of the mandatory cases against the
// rating; between rated and surge it passes only where the policy says so and
// no mandatory case stays there longer than the surge test's time.
func coldStart(s Stress, h hold, p Policy) Check {
	c := atMost("cold_start", s.Worst.V, h.ratedV, "V", sourceCold)
	c.Text = sees(s.Worst, h.ratedV)
	if !c.Pass {
		c.Cure = rating(s.Worst.V)
	}
	if c.Pass || !p.UseSurge || !h.polarised {
		return c
	}
	surge := atMost("cold_start", s.Worst.V, h.surgeV, "V", h.surgeSource+"; "+sourceSurge)
	if !surge.Pass {
		surge.Text = fmt.Sprintf("%s, and %s over its surge voltage of %.1f V", c.Text, volts(s.Worst.V-h.surgeV), h.surgeV)
		surge.Cure = c.Cure
		return surge
	}
	seconds, title, known := longestAbove(s, h)
	if !known {
		c.Text += "; the time above the rating is not known, so its surge voltage cannot be used"
		return c
	}
	if seconds > p.SurgeLimitS {
		long := atMost("cold_start", seconds, p.SurgeLimitS, "s", surge.Source)
		long.Cure = c.Cure
		long.Text = fmt.Sprintf("%s: within surge (%.1f V), yet %.1f s above rated (%s) where %.0f s are allowed", c.Text, h.surgeV, seconds, title, p.SurgeLimitS)
		return long
	}
	surge.Text = fmt.Sprintf("%s; within its surge voltage of %.1f V for %.1f s, which the policy allows; %s", c.Text, h.surgeV, seconds, surgeStarts)
	return surge
}

// longestAbove gives the longest stay above the rating among the mandatory
// cases: the highest case need not be the longest.
func longestAbove(s Stress, h hold) (seconds float64, title string, known bool) {
	cases := []CasePeak{s.Worst}
	for _, c := range s.Peaks {
		if c.Mandatory {
			cases = append(cases, c)
		}
	}
	for _, c := range cases {
		if c.V <= h.ratedV {
			continue
		}
		t, ok := h.above(c)
		if !ok {
			return 0, "", false
		}
		if t >= seconds {
			seconds, title = t, c.Title
		}
	}
	return seconds, title, true
}

// secondsAbove reads the case's ladder at v: the step at or next below v. Time
// above a voltage never grows with the voltage, so that is an upper bound,
// exact on a step; a straight line between steps could understate a plateau.
// Not known where the ladder begins above v.
func secondsAbove(c CasePeak, v float64) (float64, bool) {
	if v >= c.V {
		return 0, true
	}
	seconds, known := 0.0, false
	for _, a := range c.Above {
		if a.V > v {
			break
		}
		seconds, known = a.S, true
	}
	return seconds, known
}

// sees writes a case against a rating.
func sees(c CasePeak, ratedV float64) string {
	title := c.Title
	if title == "" {
		title = words(c.Case)
	}
	text := fmt.Sprintf("sees %.0f V", c.V)
	if title != "" {
		text += " (" + title + ")"
	}
	if c.V > ratedV {
		return fmt.Sprintf("%s; rated %.0f V: %s over", text, ratedV, volts(c.V-ratedV))
	}
	return fmt.Sprintf("%s; rated %.0f V: %s in hand", text, ratedV, volts(ratedV-c.V))
}

// rating is what would make a voltage check pass, rounded up to a whole volt.
func rating(v float64) string { return fmt.Sprintf("a rating of at least %.0f V", math.Ceil(v)) }

// volts writes a difference so that a miss under a volt is not shown as none.
func volts(v float64) string {
	if v < 1 {
		return fmt.Sprintf("%.2g V", v)
	}
	return fmt.Sprintf("%.0f V", v)
}

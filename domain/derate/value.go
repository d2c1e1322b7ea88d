package derate

import (
	"fmt"
	"strings"

	"coldrise/domain/amp"
	"coldrise/domain/part"
)

// windowSlack lets a nominal stand on the edge of a window that was computed.
const windowSlack = 1e-9

func technology(role amp.Role, have part.Technology) Check {
	var names []string
	fits := false
	for _, t := range Technologies(role) {
		names = append(names, kind(t))
		fits = fits || t == have
	}
	text := fmt.Sprintf("%s serves %s", kind(have), place(role))
	if !fits {
		text = fmt.Sprintf("%s does not serve %s; that takes %s", kind(have), place(role), strings.Join(names, " or "))
	}
	source := "common practice"
	if onMains(role) {
		source = "IEC 60384-14: only a safety class stands on the mains"
	}
	return is("technology", fits, text, source)
}

// kind is a technology in the trade's words.
func kind(t part.Technology) string {
	switch t {
	case part.SafetyX:
		return "a class X part"
	case part.SafetyY:
		return "a class Y part"
	case part.Film:
		return "film"
	}
	return "an electrolytic"
}

// place is a role in the trade's words.
func place(role amp.Role) string {
	switch role {
	case amp.MainsX:
		return "across the line"
	case amp.MainsY:
		return "from line to chassis"
	}
	return "as " + words(string(role))
}

// sections refuses a can of several sections for one position: each of its
// sections is a part of the job, and the others would stand idle.
func sections(p *part.Part) Check {
	c := atMost("sections", float64(p.Sections()), 1, "sections", "one position takes one section")
	c.Text = "one section"
	if !c.Pass {
		c.Text = fmt.Sprintf("a can of %d sections sharing one negative: a single position takes one section, the others would stand idle", p.Sections())
		c.Cure = "a part of one section, or positions that share a can"
	}
	return c
}

// capacitance holds the nominal value against both ends of the window. A
// window whose MaxUF is 0 sets no upper end, and one with neither end says nothing.
func capacitance(nominalUF float64, w Window) []Check {
	if nominalUF <= 0 {
		return []Check{unknown("capacitance", "its capacitance is not given", "the part's own figures", "capacitance_uf")}
	}
	if w.MinUF <= 0 && w.MaxUF <= 0 {
		return nil
	}
	low := atLeast("capacitance", nominalUF, w.MinUF*(1-windowSlack), "µF", w.MinRule)
	low.Limit = w.MinUF
	high := atMost("capacitance", nominalUF, w.MaxUF*(1+windowSlack), "µF", w.MaxRule)
	high.Limit = w.MaxUF
	if w.MaxUF > 0 && w.MinUF > w.MaxUF && !(low.Pass && high.Pass) {
		return []Check{emptyWindow(low, high, w)}
	}
	if !low.Pass {
		low.Text = fmt.Sprintf("%s: at least %s is wanted (%s)", microfarad(nominalUF), microfarad(w.MinUF), w.MinRule)
		low.Cure = "a value of " + w.span()
		return []Check{low}
	}
	if w.MaxUF > 0 && !high.Pass {
		high.Text = fmt.Sprintf("%s: %s at most (%s)", microfarad(nominalUF), microfarad(w.MaxUF), w.MaxRule)
		high.Cure = "a value of " + w.span()
		return []Check{high}
	}
	nearer := low
	if w.MaxUF > 0 && (w.MinUF <= 0 || high.MarginPct < low.MarginPct) {
		nearer = high
	}
	nearer.Text = fmt.Sprintf("%s is within %s", microfarad(nominalUF), w.span())
	return append([]Check{nearer}, adviceAbove(nominalUF, w)...)
}

// adviceAbove warns of a value over a limit that may not refuse.
func adviceAbove(nominalUF float64, w Window) []Check {
	if w.AdviceUF <= 0 || nominalUF <= w.AdviceUF*(1+windowSlack) {
		return nil
	}
	c := atMost("capacitance", nominalUF, w.AdviceUF, "µF", w.AdviceRule)
	c.Advisory = true
	c.Text = fmt.Sprintf("advice only: %s: %s at most is %s", microfarad(nominalUF), microfarad(w.AdviceUF), w.AdviceRule)
	return []Check{c}
}

// emptyWindow names both rules, since no value can satisfy them; at least one
// of the two has failed.
func emptyWindow(low, high Check, w Window) Check {
	c := low
	if low.Pass {
		c = high
	}
	c.Source = w.MinRule + "; " + w.MaxRule
	c.Text = fmt.Sprintf("no value serves: at least %s is wanted (%s), yet %s is the most (%s)",
		microfarad(w.MinUF), w.MinRule, microfarad(w.MaxUF), w.MaxRule)
	c.Cure = "no value would: one of the two rules has to give way"
	return c
}

// inrush holds the upper tolerance end of a value against the most that the
// rectifier's peak current allows.
func inrush(nominalUF, tolPlusPct float64, w Window) []Check {
	if w.UpperUF <= 0 || nominalUF <= 0 {
		return nil
	}
	c := atMost("inrush", nominalUF*(1+tolPlusPct/100), w.UpperUF*(1+windowSlack), "µF", w.UpperRule)
	c.Limit, c.Advisory = w.UpperUF, w.UpperAdvice
	c.Text = fmt.Sprintf("up to %s at its upper tolerance; %s at most (%s)", microfarad(c.Have), microfarad(w.UpperUF), w.UpperRule)
	if !c.Pass {
		c.Cure = fmt.Sprintf("a nominal value of at most %s at this tolerance", microfarad(w.UpperUF/(1+tolPlusPct/100)))
		if c.Advisory {
			c.Text = "advice only: " + c.Text
		}
	}
	return []Check{c}
}

// span writes the window for people.
func (w Window) span() string {
	switch {
	case w.MaxUF <= 0:
		return microfarad(w.MinUF) + " and more"
	case w.MinUF <= 0:
		return "what is allowed, " + microfarad(w.MaxUF) + " at most"
	}
	return microfarad(w.MinUF) + " to " + microfarad(w.MaxUF)
}

// microfarad writes a value as the trade does: below 0.1 µF in nF.
func microfarad(uf float64) string {
	if uf != 0 && uf < 0.1 {
		return fmt.Sprintf("%.4g nF", uf*1000)
	}
	return fmt.Sprintf("%.4g µF", uf)
}

// words turns a wire name into words.
func words(s string) string { return strings.ReplaceAll(s, "_", " ") }

// Package jobsheet prints a plan for the bench: what each position must
// withstand, what to do there, what to order, what was assumed, and the
// cautions. It computes nothing.
package jobsheet

import (
	"fmt"
	"math"
	"strings"
	"unicode/utf8"

	"coldrise/domain/derate"
	"coldrise/domain/part"
	"coldrise/domain/plan"
	"coldrise/domain/quantity"
)

// width is the column at which prose is broken.
const width = 100

// Text gives the plan as plain UTF-8 text, lines of some 100 columns.
func Text(p *plan.Plan) string {
	var s sheet
	s.head(p)
	for i := range p.Supplies {
		s.supply(&p.Supplies[i])
	}
	s.findings(p.Findings)
	s.measure(p.Measure)
	s.title("POSITIONS")
	for i := range p.Positions {
		s.position(&p.Positions[i])
	}
	s.order(&p.Order)
	s.discharge(p.Discharge, p.Plug)
	if p.BringUp != nil {
		s.bringUp(p.BringUp)
	}
	s.assumptions(p.Assumptions)
	s.title("CAUTIONS")
	for _, c := range p.Cautions {
		s.item("  ! ", c)
	}
	return s.b.String()
}

type sheet struct{ b strings.Builder }

func (s *sheet) linef(format string, args ...any) { fmt.Fprintf(&s.b, format+"\n", args...) }

func (s *sheet) title(t string) { s.linef("\n%s", t) }

// item writes a text behind a label, its further lines set in under the first.
func (s *sheet) item(label, text string) {
	indent := strings.Repeat(" ", utf8.RuneCountInString(label))
	line := label
	for _, word := range words(text) {
		if utf8.RuneCountInString(line)+1+utf8.RuneCountInString(word) > width && strings.TrimSpace(line) != strings.TrimSpace(label) {
			s.linef("%s", strings.TrimRight(line, " "))
			line = indent
		}
		if !strings.HasSuffix(line, " ") {
			line += " "
		}
		line += word
	}
	s.linef("%s", line)
}

// words splits a text where a line may be broken: not between a figure and its unit.
func words(text string) []string {
	var list []string
	for _, w := range strings.Fields(text) {
		if n := len(list); n > 0 && units[strings.TrimRight(w, ".,;:)")] && endsInDigit(list[n-1]) {
			list[n-1] += " " + w
			continue
		}
		list = append(list, w)
	}
	return list
}

var units = map[string]bool{"V": true, "A": true, "mA": true, "µF": true, "nF": true, "pF": true, "Ω": true, "°C": true, "%": true,
	"s": true, "h": true, "min": true, "mV": true, "µA": true, "kΩ": true, "MΩ": true, "W": true, "J": true, "Hz": true, "mm": true, "years": true, "days": true}

func endsInDigit(s string) bool { return s != "" && s[len(s)-1] >= '0' && s[len(s)-1] <= '9' }

func (s *sheet) head(p *plan.Plan) {
	s.linef("%s: recap plan", p.Amplifier)
	s.linef("mains %.4g V, %.3g Hz; designed for %.4g V. Policy: %s (working voltage up to %.0f %% of rated%s).",
		p.Mains.NominalV, p.Mains.FrequencyHz, p.Mains.HighV, p.Policy.Name, 100*p.Policy.WorkingShare, surgeUse(p.Policy))
	counts := map[plan.Action]int{}
	for i := range p.Positions {
		counts[p.Positions[i].Action]++
	}
	var parts []string
	for _, a := range []plan.Action{plan.Replace, plan.ReplaceValue, plan.Add, plan.Remove, plan.Keep, plan.MeasureFirst, plan.NoPart} {
		if counts[a] > 0 {
			parts = append(parts, fmt.Sprintf("%d to %s", counts[a], actionWords[a]))
		}
	}
	s.linef("%d positions: %s. Order: %s %s.", len(p.Positions), strings.Join(parts, ", "), p.Order.Total, p.Order.Currency)
	s.linef("Read the cautions at the end before anything is opened.")
}

func surgeUse(p derate.Policy) string {
	if p.UseSurge {
		return fmt.Sprintf("; cold start up to surge for %.0f s", p.SurgeLimitS)
	}
	return "; surge margin not used"
}

var actionWords = map[plan.Action]string{
	plan.Keep: "keep", plan.Replace: "replace", plan.ReplaceValue: "replace with another value",
	plan.Remove: "remove", plan.Add: "add", plan.NoPart: "settle by hand: no part fits", plan.MeasureFirst: "measure first",
}

func (s *sheet) supply(v *plan.Supply) {
	s.title("SUPPLY " + v.Name)
	s.linef("  %s, %s, %s; %.4g V RMS unloaded per conducting side, %.3g Ω behind it", v.Rectifier, strings.ReplaceAll(v.Connection, "_", " "), v.Polarity, v.UnloadedV, v.SourceOhm)
	s.item("  ", fmt.Sprintf("With nothing drawn, every node without a bleeder floats up to %.0f V at high line.", v.NoLoadV))
	s.linef("  %-8s %9s %9s %9s %9s   %s", "node", "reading", "loaded", "high", "cold", "highest in")
	for _, n := range v.Nodes {
		given := "-"
		if n.GivenV != nil {
			given = fmt.Sprintf("%.0f V", *n.GivenV)
		}
		s.linef("  %-8s %9s %7.0f V %7.0f V %7.0f V   %s", n.Name, given, n.LoadedV, n.HighV, n.ColdV, n.ColdCase)
	}
	s.item("  rectifier peak: ", fmt.Sprintf("%.3g A at %s", v.InrushA, v.InrushOf))
	for _, l := range v.Limits {
		mark := "kept"
		if !l.Kept {
			mark = "EXCEEDED"
		}
		if l.FromMemory {
			mark += ", from memory"
		}
		s.item("  limit ", fmt.Sprintf("%s (%s)", l.Text, mark))
	}
	s.item("  standby: ", v.Standby)
}

func (s *sheet) findings(list []plan.Finding) {
	if len(list) == 0 {
		return
	}
	s.title("READINGS THAT DISAGREE (both carried to nominal mains)")
	for _, f := range list {
		s.item("  ", fmt.Sprintf("%s/%s: measured %.0f V, drawn %.0f V (%+.0f %%, beyond %.0f %%): %s.", f.Supply, f.Node, f.MeasuredV, f.SchematicV, f.OffPct, f.TolerancePct, f.Text))
		s.item("      to tell: ", f.Tell+".")
	}
}

// shownMeasurements is how many readings are worth a line at the bench.
const shownMeasurements = 4

func (s *sheet) measure(list []plan.Measurement) {
	if len(list) == 0 {
		return
	}
	s.title("WHAT TO MEASURE NEXT")
	for i, m := range list {
		if i == shownMeasurements {
			break
		}
		s.item(fmt.Sprintf("  %d. ", i+1), fmt.Sprintf("%s, within %.3g %%: the cold band of %s, %.0f to %.0f V, becomes %.0f to %.0f V. %s (%s)",
			m.Text, m.AccuracyPct, m.Position, m.LowV, m.HighV, m.ThenLowV, m.ThenHighV, m.How, m.Pointer))
	}
}

func (s *sheet) position(p *plan.Position) {
	where := string(p.Role)
	if p.Node != "" {
		where += " at " + p.Node
	}
	s.linef("\n  %s  %s   %s", p.Ref, strings.ReplaceAll(where, "_", " "), strings.ToUpper(actionWords[p.Action]))
	s.item("      why        ", p.Why)
	s.stress(&p.Stress, p.Fitted != nil)
	if f := p.Fitted; f != nil {
		surge := ""
		if f.SurgeV > 0 {
			surge = fmt.Sprintf(", surge %.0f V", f.SurgeV)
		}
		s.item("      fitted     ", fmt.Sprintf("%s %.4g V%s: %s", farads(f.CapacitanceUF), f.RatedV, surge, strings.ReplaceAll(f.Verdict, "_", " ")))
		s.condition(&f.Condition)
	}
	if p.Pick != nil {
		s.pick("      pick       ", p.Pick)
	}
	switch {
	case p.Alternate != nil:
		s.pick("      alternate  ", p.Alternate)
	case p.Pick != nil:
		s.linef("      alternate  none: no other maker's part passes here")
	}
	if p.Pick != nil && p.Action == plan.ReplaceValue {
		s.item("                 note: ", "the voltages and currents were worked out with the original "+farads(p.Stress.Window.OriginalUF)+"; a larger value takes more current at switch-on and holds its charge longer")
	}
	for i, r := range p.Refused {
		label := "                 "
		if i == 0 {
			label = "      refused    "
		}
		s.refusal(label, &r)
	}
	if p.Considered > 0 {
		s.linef("                 (%d parts judged, %d pass)", p.Considered, p.Passed)
	}
}

func (s *sheet) stress(st *derate.Stress, fitted bool) {
	text := fmt.Sprintf("working %.0f V (nominal %.0f V)", st.WorkingV, st.NominalDCV)
	if st.MainsV > 0 {
		text = fmt.Sprintf("%.0f V RMS at %.0f Hz", st.MainsV, st.MainsHz)
	}
	if st.Worst.V > 0 {
		text += fmt.Sprintf("; peak %.0f V: %s", st.Worst.V, st.Worst.Title)
	}
	if fitted && st.Worst.AboveRatedS > 0 {
		text += "; above the fitted rating " + lasting(st.Worst.AboveRatedS) + ", above its surge " + lasting(st.Worst.AboveSurgeS)
	}
	if st.RippleRMSA > 0 {
		text += fmt.Sprintf("; ripple %.0f mA", 1000*st.RippleRMSA)
	}
	text += fmt.Sprintf("; air %.0f °C", st.AmbientC)
	s.item("      stress     ", text)
	for _, c := range st.Peaks {
		if len(st.Peaks) < 2 {
			continue
		}
		over := ""
		if fitted && c.AboveRatedS > 0 {
			over = " (above the fitted rating " + lasting(c.AboveRatedS) + ")"
		}
		if !c.Mandatory {
			over += " [shown, does not decide]"
		}
		s.item(fmt.Sprintf("                 %7.0f V  ", c.V), c.Title+over)
	}
	s.bands(st)
	w := st.Window
	s.item("      value      ", fmt.Sprintf("%s to %s serves, original %s", farads(w.MinUF), farads(w.MaxUF), farads(w.OriginalUF)))
}

// lasting prints seconds, or that they do not end.
func lasting(s float64) string {
	if s >= derate.Lasting {
		return "for as long as it lasts"
	}
	return fmt.Sprintf("%.1f s", s)
}

func (s *sheet) bands(st *derate.Stress) {
	var texts []string
	if b := st.ColdBand; b != nil {
		texts = append(texts, fmt.Sprintf("cold %.0f to %.0f V (nine in ten: %.0f to %.0f V)", b.Low, b.High, b.P05, b.P95))
	}
	if b := st.WorkingBand; b != nil {
		texts = append(texts, fmt.Sprintf("working %.0f to %.0f V", b.Low, b.High))
	}
	if b := st.RippleBand; b != nil && b.High >= 0.001 {
		texts = append(texts, fmt.Sprintf("ripple %.0f to %.0f mA", 1000*b.Low, 1000*b.High))
	}
	if len(texts) > 0 {
		s.item("      band       ", strings.Join(texts, "; "))
	}
}

func (s *sheet) pick(label string, k *plan.Pick) {
	life := ""
	if k.LifeYears > 0 {
		life = fmt.Sprintf(", %.1f years", k.LifeYears)
	}
	s.item(label, fmt.Sprintf("%s %s, %s %.4g V %s, %.3g × %.3g mm%s; from %s %s each",
		k.Maker, k.PartNumber, farads(k.CapacitanceUF), k.RatedV, strings.ReplaceAll(string(k.Style), "_", " "), k.DiameterMM, k.LengthMM, life, k.UnitPrice, k.Currency))
	var margins []string
	seen := map[string]bool{}
	for _, c := range k.Checks {
		if c.Pass && !c.Advisory && c.Unit != "" && c.Name != "sections" && !seen[c.Name] {
			seen[c.Name] = true
			margins = append(margins, fmt.Sprintf("%s %.0f %%", strings.ReplaceAll(c.Name, "_", " "), least(k.Checks, c.Name)))
		}
	}
	if len(margins) > 0 {
		s.item("                 margins: ", strings.Join(margins, ", "))
	}
	if len(k.Assumed) > 0 {
		s.item("                 assumed: ", figures(k.Assumed))
	}
	for _, c := range k.Checks {
		if !c.Pass && c.Advisory {
			s.item("                 note: ", c.Text)
		}
	}
}

// figures writes what was assumed of a part and what that rests on.
func figures(list []part.Figure) string {
	texts := make([]string, len(list))
	for i, f := range list {
		name := strings.ReplaceAll(strings.TrimPrefix(f.Name, "life/"), "_", " ")
		if f.Value != 0 {
			name += fmt.Sprintf(" %.4g %s", f.Value, f.Unit)
		}
		texts[i] = strings.TrimSpace(name) + " (" + f.Source + ")"
	}
	return strings.Join(texts, "; ")
}

// least is the smallest margin among the checks of one name: two are made of
// the temperature, of the air and of the core.
func least(checks []derate.Check, name string) float64 {
	m := math.Inf(1)
	for _, c := range checks {
		if c.Name == name && c.Pass && !c.Advisory {
			m = math.Min(m, c.MarginPct)
		}
	}
	return m
}

func (s *sheet) refusal(label string, r *plan.Refusal) {
	price := "no offer"
	if r.UnitPrice != nil {
		price = r.UnitPrice.String()
	}
	var texts []string
	for _, c := range r.Failed {
		texts = append(texts, c.Text)
	}
	s.item(label, fmt.Sprintf("%s %s, %s %.4g V (%s): %s", r.Maker, r.PartNumber, farads(r.CapacitanceUF), r.RatedV, price, strings.Join(texts, "; ")))
}

func (s *sheet) order(o *plan.Order) {
	s.title("ORDER")
	if len(o.Lines) == 0 {
		s.linef("  nothing to order")
	}
	for _, l := range o.Lines {
		s.linef("  %3d × %-22s %-34s %10s %10s %s", l.Quantity, l.SKU, l.Maker+" "+l.PartNumber, l.UnitPrice, l.Total, o.Currency)
		s.item("        ", fmt.Sprintf("%s; %s; for %s; %d days", l.Supplier, l.Text, strings.Join(l.Refs, ", "), l.LeadDays))
	}
	for _, x := range o.Short {
		s.item("  short: ", x.Ref+": "+x.Reason)
	}
	if len(o.Lines) > 0 {
		s.linef("  parts %s, handling of %s %s, together %s %s", o.LinesTotal, counted(len(o.Lines), "line"), o.LineCosts, o.Total, o.Currency)
		s.linef("  %s", proof(o))
	}
}

func proof(o *plan.Order) string {
	if o.Proven {
		return "proven: no cheaper order of parts that pass exists in this catalogue"
	}
	return fmt.Sprintf("not proven: the search was stopped; no order can be below %s", o.LowerBound)
}

func (s *sheet) assumptions(list []plan.Assumption) {
	s.title("ASSUMPTIONS (give the member named to replace one)")
	if len(list) == 0 {
		s.linef("  none")
	}
	for _, a := range list {
		value := ""
		if a.Unit != "" {
			value = ": " + figure(a.Value, a.Unit)
		}
		s.item("  - ", fmt.Sprintf("%s%s [%s]. %s", a.Text, value, a.Basis, a.Pointer))
	}
}

// figure prints a value with its unit; resistances as the trade writes them.
func figure(v float64, unit string) string {
	if unit == "Ω" {
		return resistance(v)
	}
	return fmt.Sprintf("%.4g %s", v, unit)
}

// resistance prints ohms as the trade writes them.
func resistance(v float64) string { return quantity.Print(v, quantity.Ohm, 4) }

func counted(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}

// farads prints a capacitance given in µF as a technician reads it.
func farads(uf float64) string { return quantity.Print(uf*1e-6, quantity.Farad, 3) }

package jobsheet

import (
	"fmt"
	"strings"

	"coldrise/domain/derate"
	"coldrise/domain/quantity"
)

var stockWords = map[string]string{
	derate.StockAsItIs: "FIT AS IT IS", derate.StockTest: "TEST FIRST", derate.StockReform: "REFORM FIRST", derate.StockRefuse: "REFUSE",
}

// OldStock gives what a part from a drawer needs, as plain UTF-8 text.
func OldStock(o *derate.OldStock, a *derate.StockAdvice) string {
	var s sheet
	s.linef("%s %.4g V: %s", farads(o.CapacitanceUF), o.RatedV, stockWords[a.Verdict])
	s.item("  why     ", a.Text+".")
	if a.How != "" && a.How != "as stated" {
		s.item("  age     ", a.How+".")
	}
	if a.LeakageUA > 0 {
		s.item("  leakage ", fmt.Sprintf("a formed one: %.3g µA at most after 5 min at rated volts (%s).", a.LeakageUA, a.LeakageSource))
		expected := "after storage: " + a.ExpectedSource + "."
		if a.ExpectedUA != nil {
			expected = fmt.Sprintf("after storage: up to %.3g µA (%s).", *a.ExpectedUA, a.ExpectedSource)
		}
		s.item("          ", expected)
	}
	if a.Recipe != nil {
		s.recipe(a.Recipe)
	}
	for _, c := range a.Cautions {
		s.item("  ! ", c)
	}
	return s.b.String()
}

func (s *sheet) recipe(r *derate.Recipe) {
	s.title(strings.ToUpper(r.Name))
	s.item("  source  ", r.Source+".")
	s.item("  series  ", resistor(r.Series))
	s.linef("  supply  limited to %.3g mA; %.0f min at rated volts", r.LimitMA, r.Minutes)
	for i, step := range r.Steps {
		at := fmt.Sprintf("%.4g V", step.V)
		if step.Minutes > 0 {
			at += fmt.Sprintf(", %.0f min", step.Minutes)
		}
		s.item(fmt.Sprintf("  %d. %-15s ", i+1, at), step.Text+".")
	}
	s.item("  done    ", fmt.Sprintf("at %.3g µA and less: %s across the series resistor.", r.DoneUA, smallVolts(r.DoneV)))
	s.item("  scrap   ", fmt.Sprintf("at %.3g µA and more after that: %s across it (%s).", r.RejectUA, smallVolts(r.RejectV), r.RejectSource))
	s.item("  empty   ", "through "+resistor(r.Discharge)+", wire-wound")
	for _, o := range r.Others {
		s.item("  other   ", o+".")
	}
}

func resistor(r derate.Resistor) string {
	text := fmt.Sprintf("%s, %.3g W, rated %.0f V", quantity.Print(r.EachOhm, quantity.Ohm, 3), r.EachW, r.EachV)
	if r.Pieces > 1 {
		text = fmt.Sprintf("%d in series of %s each", r.Pieces, text)
	}
	return text
}

// smallVolts prints what a meter across a resistor shows.
func smallVolts(v float64) string {
	if v < 1 {
		return fmt.Sprintf("%.3g mV", 1000*v)
	}
	return fmt.Sprintf("%.3g V", v)
}

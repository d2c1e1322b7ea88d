package jobsheet

import (
	"fmt"
	"strings"

	"coldrise/domain/derate"
	"coldrise/domain/plan"
)

// Comparison gives one amplifier under two policies as plain UTF-8 text: the
// rules that differ, then each position that changes and why.
func Comparison(c *plan.Comparison) string {
	var s sheet
	first, second := c.First.Policy.Name, c.Second.Policy.Name
	s.linef("%s: %s against %s", c.Amplifier, first, second)
	s.linef("order %s against %s; %d of %d positions change.", total(&c.First), total(&c.Second), c.Changed, len(c.Positions))
	s.linef("This chooses between policies; it is no job sheet. Make the plan, and read its cautions, before anything is opened.")
	s.title("RULES THAT DIFFER")
	if len(c.Rules) == 0 {
		s.linef("  none")
	}
	for _, r := range c.Rules {
		s.linef("  %-22s %s against %s", strings.ReplaceAll(r.Member, "_", " "), r.First, r.Second)
	}
	s.title("POSITIONS")
	for i := range c.Positions {
		s.change(&c.Positions[i], first, second)
	}
	return s.b.String()
}

// total is what a side's order costs, and whether that serves every position.
func total(side *plan.ComparedSide) string {
	text := fmt.Sprintf("%s %s", side.Total, side.Currency)
	if side.Status == plan.Incomplete {
		text += " (some position left without a part)"
	}
	return text
}

func (s *sheet) change(p *plan.PositionChange, first, second string) {
	s.linef("  %s %s: %s", p.Ref, strings.ReplaceAll(string(p.Role), "_", " "), sameOrNot(p))
	if !p.Changed {
		return
	}
	s.item("      "+first+": ", choice(p.First))
	s.item("      "+second+": ", choice(p.Second))
	s.item("      why: ", p.Why)
	back := p.Back
	if len(p.Against) == 0 {
		back = rest(back)
	}
	s.checks("      also fails under "+second+": ", rest(p.Against))
	s.checks("      fails under "+first+": ", back)
}

func sameOrNot(p *plan.PositionChange) string {
	if p.Changed {
		return "changes"
	}
	return "the same, " + choice(p.First)
}

// rest leaves out the first check, which the reason has told.
func rest(checks []derate.Check) []derate.Check {
	if len(checks) == 0 {
		return nil
	}
	return checks[1:]
}

func (s *sheet) checks(label string, list []derate.Check) {
	for _, c := range list {
		s.item(label, c.Text)
	}
}

func choice(c plan.Choice) string {
	if c.PartNumber == "" {
		return actionWords[c.Action]
	}
	price := ""
	if c.UnitPrice != nil {
		price = fmt.Sprintf(", from %s each", *c.UnitPrice)
	}
	return fmt.Sprintf("%s: %s %s, %s%s", actionWords[c.Action], c.Maker, c.PartNumber, c.Text, price)
}

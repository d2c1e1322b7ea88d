package derate

import "fmt"

const sourceBalance = "what the worst unit stands at for good at the highest cold voltage, by leakage and resistors, ≤ rated"

// JudgeStack holds n alike parts in series against what a single capacitor has
// to withstand, or against a unit of a stack that was drawn. The checks are
// those of the worst unit; of a new stack the body is that of the set. The
// balance is nil where no resistor can be given, which fails the stack.
// drawnOhm is the balancing resistor as described; 0 where none is.
func JudgeStack(s Stress, r Rated, n int, drawnOhm float64, p Policy) (Verdict, *Balance) {
	e := r.Part.Effective(&r.Series)
	whole := s.Whole()
	b, ok := BalanceOf(whole, &e, n, drawnOhm, p)
	charging := b.ChargingPct / 100 * float64(n)
	rest := charging // no better than while charging, where nothing balances
	if ok {
		rest = b.workingPct / 100 * float64(n)
	}
	unit := whole.InStack(n, charging, rest)
	isNew := s.Units < 2
	if isNew {
		unit.Body = nil
	}
	v := Judge(unit, r, p)
	if isNew {
		v.Checks = append(v.Checks, setBody(s.Body, fmt.Sprintf("%d balancing resistors", n), repeated(r, n)...)...)
	}
	v.Checks = append(v.Checks, balance(&b, ok, e.RatedV.Value, e.LeakageUA.Known()))
	v.Pass = decides(v.Checks)
	if !ok {
		return v, nil
	}
	return v, &b
}

func repeated(r Rated, n int) []Rated {
	list := make([]Rated, n)
	for i := range list {
		list[i] = r
	}
	return list
}

func balance(b *Balance, ok bool, ratedV float64, leakKnown bool) Check {
	switch {
	case !leakKnown:
		return unknown("balance", b.Text, sourceBalance, "leakage_ua")
	case !ok:
		c := is("balance", false, b.Text, sourceBalance)
		c.Cure = "units of a higher rating, or that leak less"
		return c
	}
	c := atMost("balance", b.StandingV, ratedV, "V", sourceBalance)
	c.Text = b.Text
	return c
}

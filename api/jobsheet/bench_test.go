package jobsheet_test

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"coldrise/api/jobsheet"
	"coldrise/domain/derate"
	"coldrise/domain/part"
)

// Everything that the plan says for the bench is on its sheet: how each node
// empties, how it is brought up, and the state of what is fitted.
func TestTheSheetServesTheBench(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"fernhollow-6", "saltmarsh-40", "ravensgill-100", "bare-voltages"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p, text := sheet(t, name)
			whole := flat(text)
			var want []string
			for _, d := range p.Discharge {
				want = append(want, d.Text, d.Basis)
				for _, b := range d.Bleeders {
					want = append(want, b.Text, b.Rule)
				}
				for _, n := range d.Nodes {
					for _, w := range n.Ways {
						if !w.Proven {
							want = append(want, "no path no path no safe time can be given")
						}
					}
				}
			}
			if p.Plug != nil {
				want = append(want, p.Plug.Text)
			}
			for _, s := range p.BringUp.Steps {
				want = append(want, s.Text)
				for _, n := range s.Nodes {
					want = append(want, n.Supply+"/"+n.Node, fmt.Sprintf("%.0f V", n.StopV))
				}
			}
			for _, x := range p.BringUp.Idle {
				want = append(want, x.Text)
			}
			for _, c := range p.BringUp.Cans {
				want = append(want, c.Text)
			}
			want = append(want, p.BringUp.Notes...)
			want = append(want, p.BringUp.Inrush.Text[1:], p.BringUp.Basis)
			for i := range p.Positions {
				if f := p.Positions[i].Fitted; f != nil {
					want = append(want, f.Condition.Next...)
					for _, s := range f.Condition.Signs {
						want = append(want, s.Text)
						if s.Verdict == derate.CondSuspect || s.Verdict == derate.CondReplace {
							want = append(want, s.Source)
						}
					}
				}
			}
			for _, w := range want {
				if !strings.Contains(whole, flat(w)) {
					t.Errorf("not on the sheet: %q", w)
				}
			}
		})
	}
}

func TestOldStockSheet(t *testing.T) {
	t.Parallel()
	years := 8.0
	o := derate.OldStock{Style: part.Can, CapacitanceUF: 32, RatedV: 450, StoredYears: &years}
	a := derate.JudgeStock(o, time.Time{}, derate.Default())
	whole := flat(jobsheet.OldStock(&o, &a))
	want := append([]string{"32 µF 450 V: REFORM FIRST", a.Text, a.LeakageSource, a.ExpectedSource, a.Recipe.Source, a.Recipe.RejectSource, "100 kΩ, 3 W, rated 500 V", "12.9 V across the series resistor"}, a.Cautions...)
	for _, s := range a.Recipe.Steps {
		want = append(want, s.Text)
	}
	want = append(want, a.Recipe.Others...)
	for _, w := range want {
		if !strings.Contains(whole, flat(w)) {
			t.Errorf("not on the sheet: %q\n%s", w, whole)
		}
	}
}

package plan_test

import (
	"context"
	"encoding/json"
	"math"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"coldrise/catalogue"
	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/plan"
	"coldrise/domain/problem"

	"github.com/google/go-cmp/cmp"
)

func starter(t *testing.T) plan.Catalogue {
	t.Helper()
	series, parts, err := catalogue.Starter()
	if err != nil {
		t.Fatal(err)
	}
	return plan.Catalogue{Series: series, Parts: parts}
}

func demo(t testing.TB, name string) *amp.Amplifier {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "amps", name+".json"))
	if err != nil {
		t.Fatal(err)
	}
	return parse(t, string(text))
}

func parse(t testing.TB, text string) *amp.Amplifier {
	t.Helper()
	a, err := amp.Parse([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return a
}

func makePlan(t *testing.T, a *amp.Amplifier, p derate.Policy, c plan.Catalogue) *plan.Plan {
	t.Helper()
	s, err := plan.Assess(context.Background(), a, p)
	if err != nil {
		t.Fatal(err)
	}
	made, err := plan.Make(context.Background(), s, c)
	if err != nil {
		t.Fatal(err)
	}
	return made
}

func position(t *testing.T, p *plan.Plan, ref string) plan.Position {
	t.Helper()
	for _, pos := range p.Positions {
		if pos.Ref == ref {
			return pos
		}
	}
	t.Fatalf("no position %s", ref)
	return plan.Position{}
}

func within(t *testing.T, what string, got, want, tolPct float64) {
	t.Helper()
	if math.Abs(got-want) > tolPct/100*math.Abs(want) {
		t.Errorf("%s: %.5g, want %.5g within %g %%", what, got, want, tolPct)
	}
}

func peak(t *testing.T, pos plan.Position, name string) derate.CasePeak {
	t.Helper()
	for _, c := range pos.Stress.Peaks {
		if c.Case == name {
			return c
		}
	}
	t.Fatalf("%s has no case %s", pos.Ref, name)
	return derate.CasePeak{}
}

func TestAPlanIsTheSameEveryTimeAndAllFinite(t *testing.T) {
	t.Parallel()
	c := starter(t)
	a := demo(t, "saltmarsh-40")
	first, second := makePlan(t, a, derate.Default(), c), makePlan(t, a, derate.Default(), c)
	if d := cmp.Diff(first, second); d != "" {
		t.Errorf("two plans of one amplifier differ:\n%s", d)
	}
	text, err := json.Marshal(first) // an infinity or NaN anywhere fails here
	if err != nil {
		t.Fatal(err)
	}
	if strings.Contains(string(text), "null") {
		t.Error("the plan's JSON has a null where a list or nothing should stand")
	}
}

// One assessment serves several catalogues, and is left as it was.
func TestMakeLeavesTheAssessmentAsItWas(t *testing.T) {
	t.Parallel()
	s, err := plan.Assess(context.Background(), demo(t, "bare-voltages"), derate.Default())
	if err != nil {
		t.Fatal(err)
	}
	full, err := plan.Make(context.Background(), s, starter(t))
	if err != nil {
		t.Fatal(err)
	}
	empty, err := plan.Make(context.Background(), s, plan.Catalogue{})
	if err != nil {
		t.Fatal(err)
	}
	again, err := plan.Make(context.Background(), s, starter(t))
	if err != nil {
		t.Fatal(err)
	}
	if empty.Status != plan.Incomplete || full.Status != plan.Made {
		t.Errorf("with the starter %q, with no parts %q", full.Status, empty.Status)
	}
	if d := cmp.Diff(full, again); d != "" {
		t.Errorf("the assessment was changed by a plan made from it:\n%s", d)
	}
}

// The store is asked for windows; what it then gives must hold every part that
// judging the whole catalogue would have picked or refused.
func TestWindowsHoldEveryPartThatCounts(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"saltmarsh-40", "ravensgill-100", "bare-voltages"} {
		s, err := plan.Assess(context.Background(), demo(t, name), derate.Default())
		if err != nil {
			t.Fatal(err)
		}
		all := starter(t)
		some := plan.Catalogue{Series: all.Series}
		for _, p := range all.Parts {
			for _, w := range s.Windows() {
				if w.Holds(&p) {
					some.Parts = append(some.Parts, p)
					break
				}
			}
		}
		if len(some.Parts) == 0 || len(some.Parts) == len(all.Parts) {
			t.Errorf("%s: the windows hold %d of %d parts", name, len(some.Parts), len(all.Parts))
		}
		whole, err := plan.Make(context.Background(), s, all)
		if err != nil {
			t.Fatal(err)
		}
		part, err := plan.Make(context.Background(), s, some)
		if err != nil {
			t.Fatal(err)
		}
		if d := cmp.Diff(whole, part); d != "" {
			t.Errorf("%s: asking for windows changes the plan:\n%s", name, d)
		}
	}
}

func TestACancelledPlanSaysSo(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithCancel(context.Background())
	cancel()
	if _, err := plan.Assess(ctx, demo(t, "bare-voltages"), derate.Default()); problem.CodeOf(err) != problem.Cancelled {
		t.Errorf("got %v, want a cancelled problem", err)
	}
}

func TestThePolicyDecides(t *testing.T) {
	t.Parallel()
	c := starter(t)
	all := derate.Default()
	all.ReplaceAll = true
	p := makePlan(t, demo(t, "fernhollow-6"), all, c)
	for _, ref := range []string{"C10", "C11", "C12", "C5"} {
		if a := position(t, p, ref).Action; a != plan.Replace && a != plan.ReplaceValue {
			t.Errorf("a policy that replaces every electrolytic leaves %s: %s", ref, a)
		}
	}
	if a := position(t, p, "C3").Action; a != plan.Keep {
		t.Errorf("a film capacitor is no electrolytic, yet C3 is to %s", a)
	}
	// With the surge margin in use 500 V parts (surge 550 V) may stand a cold
	// start of 13 to 17 s at 530 V, so the order gets cheaper.
	surge := derate.Default()
	surge.UseSurge = true
	strict, loose := makePlan(t, demo(t, "saltmarsh-40"), derate.Default(), c), makePlan(t, demo(t, "saltmarsh-40"), surge, c)
	if loose.Order.Total >= strict.Order.Total {
		t.Errorf("using the surge margin costs %s, not using it %s", loose.Order.Total, strict.Order.Total)
	}
	if v := position(t, strict, "C22").Pick.RatedV; v < 530 {
		t.Errorf("without the surge margin C22 gets a %g V part for a 529 V cold start", v)
	}
	if v := position(t, loose, "C22").Pick.RatedV; v != 500 {
		t.Errorf("with the surge margin C22 gets a %g V part, want 500", v)
	}
}

// A position that no part can fill is a result with its reason, not an error.
func TestAnEmptyWindowNamesTheRulesThatEmptyIt(t *testing.T) {
	t.Parallel()
	a := demo(t, "fernhollow-6")
	a.Positions[0].Fitted.CapacitanceUF = 47 // over the 20 µF published for a 5Y3
	a.Positions[0].Fitted.RatedV = 350
	p := makePlan(t, a, derate.Default(), starter(t))
	pos := position(t, p, "C10")
	if pos.Action != plan.NoPart || p.Status != plan.Incomplete {
		t.Fatalf("C10 is to %s, plan %s", pos.Action, p.Status)
	}
	for _, rule := range []string{"hum", "largest first capacitor for 5Y3GT, published"} {
		if !strings.Contains(pos.Why, rule) {
			t.Errorf("%q does not name the rule %q", pos.Why, rule)
		}
	}
}

package plan_test

import (
	"context"
	"slices"
	"strings"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/plan"
	"github.com/google/go-cmp/cmp"
)

func set(t *testing.T, name string) derate.Policy {
	t.Helper()
	s, ok := derate.SetNamed(name)
	if !ok {
		t.Fatalf("there is no set %s", name)
	}
	return s.Policy()
}

// The supplies are run once for both policies: what comes out must be what a
// plan made under the second alone is.
func TestAnAssessmentUnderAnotherPolicyIsAsIfMadeUnderIt(t *testing.T) {
	t.Parallel()
	c := starter(t)
	for _, name := range []string{"saltmarsh-40", "fernhollow-6", "bare-voltages"} {
		first, err := plan.Assess(context.Background(), demo(t, name), derate.Default())
		if err != nil {
			t.Fatal(err)
		}
		before, err := plan.Make(context.Background(), first, c)
		if err != nil {
			t.Fatal(err)
		}
		for _, other := range []string{"roadworthy", "thrifty", "unattended", "keepsake"} {
			got, err := plan.Make(context.Background(), first.Under(set(t, other)), c)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(makePlan(t, demo(t, name), set(t, other), c), got); diff != "" {
				t.Errorf("%s under %s: %s", name, other, diff)
			}
		}
		after, err := plan.Make(context.Background(), first, c)
		if err != nil {
			t.Fatal(err)
		}
		if diff := cmp.Diff(before, after); diff != "" {
			t.Errorf("%s: the assessment was changed: %s", name, diff)
		}
	}
}

func change(t *testing.T, c *plan.Comparison, ref string) plan.PositionChange {
	t.Helper()
	for _, p := range c.Positions {
		if p.Ref == ref {
			return p
		}
	}
	t.Fatalf("no position %s", ref)
	return plan.PositionChange{}
}

func compare(t *testing.T, a *amp.Amplifier, first, second derate.Policy) *plan.Comparison {
	t.Helper()
	c := starter(t)
	return plan.Compare(makePlan(t, a, first, c), makePlan(t, a, second, c), c)
}

// The surge rating lets 500 V parts stand 530 V; the stricter share asks for
// more than the catalogue has; the cathode bypass goes because all electrolytics do.
func TestAComparisonNamesTheRuleBehindEachChange(t *testing.T) {
	t.Parallel()
	a := demo(t, "saltmarsh-40")
	c := compare(t, a, set(t, "everyday"), set(t, "thrifty"))
	c22 := change(t, c, "C22")
	if !c22.Changed || len(c22.Against) != 0 || len(c22.Back) == 0 || c22.Back[0].Name != "cold_start" ||
		!strings.Contains(c22.Why, "serves under thrifty, and not under everyday") {
		t.Errorf("%+v", c22)
	}
	if c.Second.Total >= c.First.Total || c.Changed != 2 {
		t.Errorf("%d change; %s against %s", c.Changed, c.First.Total, c.Second.Total)
	}
	back := compare(t, a, set(t, "thrifty"), set(t, "everyday"))
	if p := change(t, back, "C22"); len(p.Against) == 0 || p.Against[0].Name != "cold_start" || !strings.Contains(p.Why, "does not pass under everyday") {
		t.Errorf("%+v", p)
	}

	c = compare(t, a, set(t, "everyday"), set(t, "roadworthy"))
	if p := change(t, c, "C2"); p.First.Action != plan.Keep || !strings.Contains(p.Why, "replaces every electrolytic") {
		t.Errorf("%+v", p)
	}
	if p := change(t, c, "C9"); p.Changed || p.Why != "" || p.Against == nil || p.Back == nil {
		t.Errorf("%+v", p)
	}
	var rules []string
	for _, r := range c.Rules {
		rules = append(rules, r.Member+" "+r.First+" "+r.Second)
	}
	want := []string{"working_share 0.9 0.8", "ripple_share 1 0.8", "hours_per_week 20 40", "full_drive_share 0.25 0.5",
		"temperature_margin_k 0 20", "cathode_fault_ratio 1 2", "replace_all false true", "spare 0 1"}
	if !slices.Equal(rules, want) {
		t.Errorf("%q", rules)
	}
}

// Where both parts pass under either policy the order decides, and it is said.
func TestAComparisonSaysWhereTheOrderAloneDecides(t *testing.T) {
	t.Parallel()
	dear := derate.Default()
	dear.Name, dear.LineCost = "dear lines", 100_000_000
	c := compare(t, demo(t, "saltmarsh-40"), derate.Default(), dear)
	told := false
	for _, p := range c.Positions {
		if p.Changed && len(p.Against)+len(p.Back) == 0 {
			told = told || strings.Contains(p.Why, "the whole order costs less under dear lines")
		}
	}
	if !told {
		t.Errorf("%+v", c.Positions)
	}
}

func TestTheSamePolicyChangesNothing(t *testing.T) {
	t.Parallel()
	c := compare(t, demo(t, "fernhollow-6"), derate.Default(), derate.Default())
	if c.Changed != 0 || len(c.Rules) != 0 || c.First.Total != c.Second.Total || len(c.Positions) == 0 {
		t.Errorf("%+v", c)
	}
}

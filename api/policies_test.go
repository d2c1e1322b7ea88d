package api_test

import (
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/api"
	"coldrise/domain/plan"
)

func TestTheNamedSetsAreListedWithTheirReasons(t *testing.T) {
	t.Parallel()
	var list api.PolicyList
	start(t, nil).want(200, "GET", "/v1/policies", "").decode(t, &list)
	if len(list.Items) < 4 || list.Items[0].Name != "everyday" {
		t.Fatalf("%+v", list)
	}
	for _, s := range list.Items {
		if s.For == "" || s.Policy.Name != s.Name || len(s.Reasons) == 0 {
			t.Errorf("%+v", s)
		}
	}
}

func TestPoliciesAreComparedOnAnAmplifier(t *testing.T) {
	t.Parallel()
	b := start(t, nil).withStarter()
	amp, _ := b.withAmp()
	var sent, stored plan.Comparison
	b.want(200, "POST", "/v1/comparisons", `{"amplifier": `+ampJSON+`, "second": {"from": "roadworthy", "spare": 0}}`).decode(t, &sent)
	b.want(200, "POST", amp+"/comparisons", `{"second": {"from": "roadworthy", "spare": 0}}`).decode(t, &stored)
	if diff := cmp.Diff(sent, stored); diff != "" {
		t.Error(diff)
	}
	if sent.First.Policy.Name != "everyday" || sent.Second.Policy.Name != "roadworthy, changed" || len(sent.Positions) == 0 ||
		!slices.ContainsFunc(sent.Rules, func(r plan.RuleChange) bool { return r.Member == "working_share" && r.Second == "0.8" }) {
		t.Errorf("%+v", sent)
	}
	var none api.PlanList
	b.want(200, "GET", amp+"/plans", "").decode(t, &none)
	if len(none.Items) != 0 {
		t.Error("a comparison stored a plan")
	}
	p := b.want(422, "POST", "/v1/comparisons", `{"amplifier": `+ampJSON+`, "first": {"from": "gold"}, "second": {"spare": -1}}`).problem(t)
	var at []string
	for _, f := range p.Errors {
		at = append(at, f.Pointer)
	}
	if diff := cmp.Diff([]string{"/first/from", "/second/spare"}, at); diff != "" {
		t.Error(diff)
	}
	if p := b.want(422, "POST", amp+"/comparisons", `{}`).problem(t); len(p.Errors) != 1 || p.Errors[0].Pointer != "/second" {
		t.Errorf("%+v", p)
	}
	b.want(404, "POST", "/v1/amps/nothing/comparisons", `{"second": {}}`)
}

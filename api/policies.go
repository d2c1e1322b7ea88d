package api

import (
	"context"
	"net/http"
	"reflect"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/document"
	"coldrise/domain/plan"
	"coldrise/domain/problem"
)

// PolicySet is a named set of rules a policy may start from.
type PolicySet struct {
	Name string `json:"name"`
	For  string `json:"for" doc:"Whom it suits"`
	// Policy is the whole of its rules.
	Policy derate.Policy `json:"policy"`
	// Reasons are whose figures its own rules are: all of them for everyday,
	// what differs from everyday for any other.
	Reasons []derate.Reason `json:"reasons"`
}

// PolicyList is every named set.
type PolicyList struct {
	Items []PolicySet `json:"items"`
}

// ComparisonRequest asks what changes for an amplifier between two policies.
type ComparisonRequest struct {
	Amplifier amp.Amplifier     `json:"amplifier"`
	First     *derate.Overrides `json:"first,omitempty" doc:"The one policy; everyday where left out"`
	Second    *derate.Overrides `json:"second" doc:"The other"`
}

// AmpComparisonRequest asks the same of a stored amplifier.
type AmpComparisonRequest struct {
	First  *derate.Overrides `json:"first,omitempty" doc:"The one policy; everyday where left out"`
	Second *derate.Overrides `json:"second" doc:"The other"`
}

const (
	policiesPath    = "/v1/policies"
	comparisonsPath = "/v1/comparisons"
	ampComparisons  = oneAmp + "/comparisons"
)

func (s *service) registerPolicies() {
	compared := reflect.TypeFor[plan.Comparison]()
	const text = "Takes seconds, as a plan does. Nothing is stored. Each position says which choice changes and the checks that bring it."
	register(s, operation{id: "list-policies", method: http.MethodGet, path: policiesPath, tag: "policies",
		summary: "List the named sets of rules", text: "A policy document starts from one of these by its member from.",
		gives: reflect.TypeFor[PolicyList]()}, s.listPolicies)
	register(s, operation{id: "compare-unstored", method: http.MethodPost, path: comparisonsPath, tag: "policies",
		summary: "Compare two policies on an amplifier sent along", text: text,
		takes: reflect.TypeFor[ComparisonRequest](), gives: compared, errors: []int{http.StatusServiceUnavailable}}, s.compareUnstored)
	register(s, operation{id: "compare-amp", method: http.MethodPost, path: ampComparisons, tag: "policies",
		summary: "Compare two policies on a stored amplifier", text: text,
		takes: reflect.TypeFor[AmpComparisonRequest](), gives: compared,
		errors: []int{http.StatusNotFound, http.StatusServiceUnavailable}}, s.compareAmp)
}

func (s *service) listPolicies(context.Context, *struct{}) (*reply, error) {
	list := PolicyList{}
	for _, set := range derate.Sets() {
		list.Items = append(list.Items, PolicySet{Name: set.Name, For: set.For, Policy: set.Policy(), Reasons: set.Reasons})
	}
	return answer(http.StatusOK, list)
}

func (s *service) compareUnstored(ctx context.Context, in *createIn) (*reply, error) {
	var request ComparisonRequest
	err := document.Decode(in.Document.raw, &request, "request", func(faults *problem.List) {
		checkWithin(faults, "/amplifier", request.Amplifier.Check)
		checkWithin(faults, "/amplifier", func(l *problem.List) { request.Amplifier.CheckAges(s.now(), l) })
	})
	if err != nil {
		return nil, err
	}
	return s.compare(ctx, &request.Amplifier, request.First, request.Second)
}

func (s *service) compareAmp(ctx context.Context, in *ampPlanIn) (*reply, error) {
	var request AmpComparisonRequest
	if err := document.Decode(in.Document.raw, &request, "request", nil); err != nil {
		return nil, err
	}
	row, err := s.store.Amp(ctx, s.shop, in.ID)
	if err != nil {
		return nil, err
	}
	return s.compare(ctx, &row.Amplifier, request.First, request.Second)
}

func (s *service) compare(ctx context.Context, a *amp.Amplifier, first, second *derate.Overrides) (*reply, error) {
	c, err := timed(s, ctx, func(limited context.Context) (*plan.Comparison, error) {
		return ComparePolicies(limited, s.store, s.shop, a, policyOf(first), policyOf(second), s.now(), s.limits.PlanSamples)
	})
	if err != nil {
		return nil, err
	}
	return answer(http.StatusOK, c)
}

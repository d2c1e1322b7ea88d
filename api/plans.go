package api

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"net/url"
	"reflect"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/document"
	"coldrise/domain/plan"
	"coldrise/domain/problem"
	"coldrise/repo"
)

// AmpPlanRequest asks for the plan of a stored amplifier.
type AmpPlanRequest struct {
	Policy *derate.Overrides `json:"policy,omitempty" doc:"What is to differ from the shop's policy this time"`
}

// PlanRequest asks for the plan of an amplifier that is not stored.
type PlanRequest struct {
	Amplifier amp.Amplifier     `json:"amplifier"`
	Policy    *derate.Overrides `json:"policy,omitempty" doc:"What is to differ from the shop's policy this time"`
}

// ListedPlan is a plan in a list.
type ListedPlan struct {
	ID        string `json:"id"`
	AmpID     string `json:"amp_id"`
	Amplifier string `json:"amplifier"`
	CreatedAt string `json:"created_at" format:"date-time"`
}

// PlanList is one page of plans.
type PlanList struct {
	Items []ListedPlan `json:"items"`
}

// ampPlanIn names an amplifier and carries what its plan is to heed.
type ampPlanIn struct {
	ID       string `path:"id" doc:"Id of the amplifier"`
	Document body
}

// ampPlansIn asks for a page of an amplifier's plans.
type ampPlansIn struct {
	ID string `path:"id" doc:"Id of the amplifier"`
	Paging
}

const (
	plansPath = "/v1/plans"
	onePlan   = plansPath + "/{id}"
	ampPlans  = oneAmp + "/plans"
)

func (s *service) registerPlans() {
	made := reflect.TypeFor[plan.Plan]()
	text := "Takes seconds. A position no part fits at is a result, with status incomplete and reasons, and not an error. The plan is stored for good."
	register(s, operation{id: "plan-amp", method: http.MethodPost, path: ampPlans, tag: "plans", status: http.StatusCreated,
		summary: "Make the plan of a stored amplifier", text: text,
		takes: reflect.TypeFor[AmpPlanRequest](), optional: true, gives: made, headers: []string{"ETag", "Location"},
		errors: []int{http.StatusNotFound, http.StatusServiceUnavailable}}, s.planAmp)
	register(s, operation{id: "plan-unstored", method: http.MethodPost, path: plansPath, tag: "plans", status: http.StatusCreated,
		summary: "Make the plan of an amplifier sent along", text: text,
		takes: reflect.TypeFor[PlanRequest](), gives: made, headers: []string{"ETag", "Location"},
		errors: []int{http.StatusServiceUnavailable}}, s.planUnstored)
	register(s, operation{id: "list-plans", method: http.MethodGet, path: ampPlans, tag: "plans",
		summary: "List the plans of an amplifier", text: "Newest first. The Link field leads to the next page until the end.",
		gives: reflect.TypeFor[PlanList](), headers: []string{"Link"},
		errors: []int{http.StatusNotFound, http.StatusServiceUnavailable}}, s.listPlans)
	register(s, operation{id: "get-plan", method: http.MethodGet, path: onePlan, tag: "plans",
		summary: "Read a plan", text: "The same bytes for ever.", gives: made, headers: []string{"ETag"}, conditional: true,
		errors: []int{http.StatusNotFound, http.StatusServiceUnavailable}}, s.getPlan)
	register(s, operation{id: "get-order", method: http.MethodGet, path: onePlan + "/order.csv", tag: "plans",
		summary: "Read a plan's order as a sheet", text: "RFC 4180. A cell that a spreadsheet would take for a formula begins with an apostrophe.",
		gives: reflect.TypeFor[string](), media: csvMedia, headers: []string{"ETag", "Content-Disposition"}, conditional: true,
		errors: []int{http.StatusNotFound, http.StatusServiceUnavailable}}, s.getOrder)
}

func (s *service) planAmp(ctx context.Context, in *ampPlanIn) (*reply, error) {
	var request AmpPlanRequest
	if len(in.Document.raw) > 0 {
		if err := document.Decode(in.Document.raw, &request, "request", nil); err != nil {
			return nil, err
		}
	}
	row, err := s.store.Amp(ctx, s.shop, in.ID)
	if err != nil {
		return nil, err
	}
	return s.plan(ctx, &row.Amplifier, request.Policy, row.ID)
}

func (s *service) planUnstored(ctx context.Context, in *createIn) (*reply, error) {
	var request PlanRequest
	err := document.Decode(in.Document.raw, &request, "request", func(faults *problem.List) {
		checkWithin(faults, "/amplifier", request.Amplifier.Check)
		checkWithin(faults, "/amplifier", func(l *problem.List) { request.Amplifier.CheckAges(s.now(), l) })
	})
	if err != nil {
		return nil, err
	}
	return s.plan(ctx, &request.Amplifier, request.Policy, "")
}

// checkWithin runs the check of a document that stands at a pointer of another.
func checkWithin(faults *problem.List, pointer string, check func(*problem.List)) {
	var own problem.List
	check(&own)
	if own.Len() == 0 {
		return
	}
	for _, f := range problem.As(own.Err("document")).Faults {
		f.Pointer = pointer + f.Pointer
		faults.Add(f)
	}
}

// plan makes a plan in its turn and within its time, stores it, and answers
// with what will be read back.
func (s *service) plan(ctx context.Context, a *amp.Amplifier, changes *derate.Overrides, ampID string) (*reply, error) {
	p, err := timed(s, ctx, func(limited context.Context) (*plan.Plan, error) {
		return MakePlan(limited, s.store, s.shop, a, policyOf(changes), s.now(), s.limits.PlanSamples)
	})
	if err != nil {
		return nil, err
	}
	text, err := KeepPlan(ctx, s.store, s.shop, p, s.newID(), ampID, s.now())
	if err != nil {
		return nil, err
	}
	return &reply{Status: http.StatusCreated, ContentType: jsonMedia, Body: text,
		ETag: etagOfBytes(text), Location: plansPath + "/" + p.ID}, nil
}

// policyOf is what a request asks for: the set it names with its changes.
func policyOf(changes *derate.Overrides) derate.Policy {
	if changes == nil {
		return derate.Default()
	}
	return changes.Policy()
}

// timed lets a plan be made in its turn and within its time.
func timed[T any](s *service, ctx context.Context, work func(context.Context) (*T, error)) (*T, error) {
	limited, cancel := context.WithTimeout(ctx, s.limits.PlanTime)
	defer cancel()
	leave, err := s.gate.enter(limited)
	if err != nil {
		return nil, err
	}
	defer leave()
	out, err := work(limited)
	if err != nil && ctx.Err() == nil && errors.Is(limited.Err(), context.DeadlineExceeded) {
		return nil, &problem.Error{Code: problem.Cancelled, Cause: err,
			Message: "the plan was not ready within " + s.limits.PlanTime.String() + ", which is the limit"}
	}
	return out, err
}

func (s *service) listPlans(ctx context.Context, in *ampPlansIn) (*reply, error) {
	rows, next, err := s.store.Plans(ctx, s.shop, in.ID, in.page())
	if err != nil {
		return nil, ofQuery(err)
	}
	if len(rows) == 0 {
		// Plans outlive their amplifier; without either there is nothing here.
		if _, err := s.store.Amp(ctx, s.shop, in.ID); err != nil {
			return nil, err
		}
	}
	list := PlanList{Items: []ListedPlan{}}
	for _, row := range rows {
		list.Items = append(list.Items, ListedPlan{ID: row.ID, AmpID: row.AmpID, Amplifier: row.AmpName, CreatedAt: timeText(row.Created)})
	}
	return listed(list, nextLink(ampsPath+"/"+url.PathEscape(in.ID)+"/plans", in.query(), next))
}

func (s *service) getPlan(ctx context.Context, in *readIn) (*reply, error) {
	row, err := s.store.Plan(ctx, s.shop, in.ID)
	if err != nil {
		return nil, err
	}
	return forEver(row.Document, jsonMedia, in.IfNoneMatch), nil
}

func (s *service) getOrder(ctx context.Context, in *readIn) (*reply, error) {
	row, err := s.store.Plan(ctx, s.shop, in.ID)
	if err != nil {
		return nil, err
	}
	sheet, err := sheetOf(row)
	if err != nil {
		return nil, err
	}
	out := forEver(sheet, csvMedia, in.IfNoneMatch)
	out.Disposition = `attachment; filename="order-` + row.ID + `.csv"`
	return out, nil
}

func sheetOf(row repo.Plan) ([]byte, error) {
	var p plan.Plan
	if err := json.Unmarshal(row.Document, &p); err != nil {
		return nil, problem.Wrap(err, "reading a stored plan")
	}
	return orderSheet(&p.Order)
}

// forEver answers with what never changes.
func forEver(text []byte, media, ifNoneMatch string) *reply {
	etag := etagOfBytes(text)
	if unchanged(ifNoneMatch, etag) {
		return notModified(etag)
	}
	return &reply{Status: http.StatusOK, ContentType: media, ETag: etag, Body: text}
}

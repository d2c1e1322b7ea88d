package api

import (
	"context"
	"net/http"
	"reflect"

	"coldrise/domain/derate"
	"coldrise/domain/document"
	"coldrise/domain/problem"
)

// OldStockRequest asks what a part from a drawer needs before it may be fitted.
type OldStockRequest struct {
	Part   derate.OldStock   `json:"part"`
	Policy *derate.Overrides `json:"policy,omitempty" doc:"What is to differ from the shop's policy this time; stock_years counts"`
}

const oldStockPath = "/v1/old-stock"

func (s *service) registerOldStock() {
	register(s, operation{id: "judge-old-stock", method: http.MethodPost, path: oldStockPath, tag: "bench",
		summary: "Say what a part from a drawer needs",
		text:    "By its date code or years without voltage: fit it, test it, reform it by a published recipe, or refuse it. Stores nothing. A refusal is a result and not an error.",
		takes:   reflect.TypeFor[OldStockRequest](), gives: reflect.TypeFor[derate.StockAdvice]()}, s.judgeOldStock)
}

// oldStockIn carries the document alone.
type oldStockIn struct {
	Document body
}

func (s *service) judgeOldStock(_ context.Context, in *oldStockIn) (*reply, error) {
	var request OldStockRequest
	today := s.now()
	err := document.Decode(in.Document.raw, &request, "request", func(faults *problem.List) {
		checkWithin(faults, "/part", func(l *problem.List) { request.Part.Check(today, l) })
	})
	if err != nil {
		return nil, err
	}
	policy := derate.Default()
	if request.Policy != nil {
		policy = request.Policy.Policy()
	}
	return answer(http.StatusOK, derate.JudgeStock(request.Part, today, policy))
}

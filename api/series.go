package api

import (
	"context"
	"net/http"
	"reflect"

	"coldrise/domain/part"
	"coldrise/domain/problem"
)

// SeriesList is all series of a shop.
type SeriesList struct {
	Items []part.Series `json:"items"`
}

// putSeriesIn names a series and carries its document.
type putSeriesIn struct {
	Name     string `path:"name" doc:"Name of the series, as in the document; encode a slash as %2F"`
	Document body
}

const seriesPath = "/v1/series"

func (s *service) registerSeries() {
	register(s, operation{id: "list-series", method: http.MethodGet, path: seriesPath, tag: "parts",
		summary: "List all series", text: "By name. A shop has tens of them, so there are no pages.",
		gives: reflect.TypeFor[SeriesList](), errors: []int{http.StatusServiceUnavailable}}, s.listSeries)
	register(s, operation{id: "put-series", method: http.MethodPut, path: seriesPath + "/{name}", tag: "parts",
		summary: "Store or replace a series", text: "A series is set whole and has no version; the last writer wins.",
		takes: reflect.TypeFor[part.Series](), gives: reflect.TypeFor[part.Series](),
		errors: []int{http.StatusServiceUnavailable}}, s.putSeries)
}

func (s *service) listSeries(ctx context.Context, _ *struct{}) (*reply, error) {
	all, err := s.store.Series(ctx, s.shop)
	if err != nil {
		return nil, err
	}
	return answer(http.StatusOK, SeriesList{Items: append([]part.Series{}, all...)})
}

func (s *service) putSeries(ctx context.Context, in *putSeriesIn) (*reply, error) {
	series, err := part.ParseSeries(in.Document.raw)
	if err != nil {
		return nil, err
	}
	if series.Name != in.Name {
		return nil, &problem.Error{Code: problem.Invalid, Message: "the series has 1 fault", Faults: []problem.Fault{{
			Pointer: "/name", Message: "is the name in the path", Value: shortJSON(series.Name), Limit: shortJSON(in.Name)}}}
	}
	if err := s.store.PutSeries(ctx, s.shop, series, s.stamp()); err != nil {
		return nil, err
	}
	return answer(http.StatusOK, series)
}

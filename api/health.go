package api

import (
	"context"
	"net/http"
	"reflect"
	"time"

	"coldrise/domain/problem"
)

// Health is the answer of a server that is well.
type Health struct {
	Status string `json:"status" enum:"ok"`
}

// ProblemType explains a type of problem.
type ProblemType struct {
	Type   string `json:"type"`
	Title  string `json:"title"`
	Status int    `json:"status"`
	Text   string `json:"text"`
}

// ProblemTypes lists them.
type ProblemTypes struct {
	Items []ProblemType `json:"items"`
}

// readyTime is how long the store may take to say that it is there.
const readyTime = 2 * time.Second

func (s *service) registerHealth() {
	register(s, operation{id: "livez", method: http.MethodGet, path: "/livez", tag: "health",
		summary: "Whether the process answers", text: "Asks nothing of the database.", gives: reflect.TypeFor[Health]()},
		func(context.Context, *struct{}) (*reply, error) { return answer(http.StatusOK, Health{"ok"}) })

	register(s, operation{id: "readyz", method: http.MethodGet, path: "/readyz", tag: "health",
		summary: "Whether requests can be served", text: "Reads from the database, and now and then writes. 503 while it can't, and while the server stops.",
		gives: reflect.TypeFor[Health](), errors: []int{http.StatusServiceUnavailable}}, s.readyz)

	register(s, operation{id: "list-problems", method: http.MethodGet, path: "/problems", tag: "health",
		summary: "The types of problem", gives: reflect.TypeFor[ProblemTypes]()},
		func(context.Context, *struct{}) (*reply, error) {
			var all ProblemTypes
			for _, k := range kinds {
				all.Items = append(all.Items, k.explained())
			}
			return answer(http.StatusOK, all)
		})

	register(s, operation{id: "get-problem", method: http.MethodGet, path: "/problems/{code}", tag: "health",
		summary: "One type of problem", gives: reflect.TypeFor[ProblemType](), errors: []int{http.StatusNotFound}},
		func(_ context.Context, in *struct {
			Code string `path:"code"`
		}) (*reply, error) {
			for _, k := range kinds {
				if string(k.code) == in.Code {
					return answer(http.StatusOK, k.explained())
				}
			}
			return nil, problem.New(problem.NotFound, "there is no such type of problem")
		})
}

func (k kind) explained() ProblemType {
	return ProblemType{Type: typeURI(k.code), Title: k.title, Status: k.status, Text: k.text}
}

func (s *service) readyz(ctx context.Context, _ *struct{}) (*reply, error) {
	if !s.serving() {
		return nil, problem.New(problem.Busy, "the server is stopping")
	}
	ctx, cancel := context.WithTimeout(ctx, readyTime)
	defer cancel()
	if err := s.store.Ready(ctx); err != nil {
		return nil, &problem.Error{Code: problem.Busy, Message: "the database does not answer", Cause: err}
	}
	return answer(http.StatusOK, Health{"ok"})
}

package api_test

import (
	"context"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"

	"coldrise/api"
	"coldrise/domain/amp"
	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/repo"
)

// operations gives every operation of the description with its statuses.
func operations(t *testing.T) map[string][]int {
	t.Helper()
	spec, err := api.OpenAPI()
	if err != nil {
		t.Fatal(err)
	}
	doc, err := openapi3.NewLoader().LoadFromData(spec)
	if err != nil {
		t.Fatal(err)
	}
	all := map[string][]int{}
	for path, item := range doc.Paths.Map() {
		for method, op := range item.Operations() {
			for status := range op.Responses.Map() {
				all[method+" "+path] = append(all[method+" "+path], atoi(t, status))
			}
		}
	}
	return all
}

func atoi(t *testing.T, s string) int {
	t.Helper()
	n := 0
	for _, r := range s {
		if r < '0' || r > '9' {
			t.Fatalf("the description has the status %q", s)
		}
		n = 10*n + int(r-'0')
	}
	return n
}

// fill gives a template's path with a row that is there, or one that is not.
func fill(template string, rows map[string]string) string {
	kind := strings.Split(template, "/")
	path := template
	for name, id := range rows {
		if slices.Contains(kind, name) {
			path = strings.Replace(path, "{id}", id, 1)
		}
	}
	return strings.NewReplacer("{id}", "nothing", "{name}", "HV%2F1+", "{code}", "invalid").Replace(path)
}

// goodBody is a body the operation takes, or nothing.
func goodBody(op string) string {
	switch op {
	case "POST /v1/parts", "PUT /v1/parts/{id}":
		return partJSON("N-1")
	case "PUT /v1/series/{name}":
		return seriesJSON
	case "POST /v1/amps", "PUT /v1/amps/{id}":
		return ampJSON
	case "POST /v1/amps/{id}/plans":
		return `{"policy": {}}`
	case "POST /v1/old-stock":
		return `{"part": {"capacitance_uf": 47, "rated_v": 450, "stored_years": 3}}`
	case "POST /v1/plans":
		return `{"amplifier": ` + ampJSON + `}`
	case "POST /v1/comparisons":
		return `{"amplifier": ` + ampJSON + `, "second": {}}`
	case "POST /v1/amps/{id}/comparisons":
		return `{"second": {}}`
	}
	return ""
}

// Every error that an operation declares is provoked, and is a problem with
// the status in its body. Answers are held against the description by do.
func TestEveryDeclaredErrorIsAProblem(t *testing.T) {
	t.Parallel()
	whole, rows := start(t, nil).withSeries(), map[string]string{}
	whole.withPart("N-2")
	rows["parts"], _ = whole.withPart("N-1")
	rows["amps"], _ = whole.withAmp()
	for kind, location := range rows {
		rows[kind] = strings.TrimPrefix(location, "/v1/"+kind+"/")
	}
	benches := map[int]*bench{
		http.StatusInternalServerError: start(t, breaking(errors.New(canary))),
		http.StatusServiceUnavailable:  start(t, breaking(problem.New(problem.Busy, "the database is busy"))),
	}
	tested := 0
	for op, statuses := range operations(t) {
		for _, status := range statuses {
			if status < 400 || (status == http.StatusInternalServerError && neverInternal(op)) {
				continue
			}
			tested++
			t.Run(fmt.Sprint(strings.ReplaceAll(op, "/", "_"), "_", status), func(t *testing.T) {
				b := benches[status]
				if b == nil {
					b = whole
				}
				provoke(t, b.in(t), op, status, rows)
			})
		}
	}
	if tested < 130 {
		t.Errorf("only %d declared errors found in the description", tested)
	}
}

func provoke(t *testing.T, b *bench, op string, status int, rows map[string]string) {
	t.Helper()
	method, template, _ := strings.Cut(op, " ")
	path, body, header := request(op, status, fill(template, rows))
	a := b.want(status, method, path, body, header...)
	a.problem(t)
	if strings.Contains(string(a.body), "canary") {
		t.Errorf("the text of a foreign error reached the client: %s", a.body)
	}
	if status == http.StatusServiceUnavailable && a.header.Get("Retry-After") == "" {
		t.Error("503 without Retry-After")
	}
}

// canary is the text of an error from outside; it is for the log alone.
const canary = "canary: no such table: secrets"

// neverInternal are the operations that ask nothing of the store, and the one
// that answers 503 whatever the store's error is.
func neverInternal(op string) bool {
	return op == "GET /livez" || op == "GET /readyz" || op == "GET /v1/policies" || op == "POST /v1/old-stock" || strings.HasPrefix(op, "GET /problems")
}

// breaking makes a store that gives the errors which cannot be provoked from outside.
func breaking(err error) func(*api.Config) {
	return func(c *api.Config) { c.Store = broken{Store: c.Store, err: err} }
}

// request gives what provokes a status from an operation.
func request(op string, status int, path string) (string, string, []string) {
	body := goodBody(op)
	header := []string{"If-Match", `"v1"`}
	switch status {
	case http.StatusBadRequest:
		path += "?limit=%zz"
	case http.StatusForbidden:
		header = append(header, "Sec-Fetch-Site", "cross-site")
	case http.StatusNotFound:
		path = fill(strings.SplitN(op, " ", 2)[1], nil)
		path = strings.Replace(path, "/problems/invalid", "/problems/nothing", 1)
	case http.StatusNotAcceptable:
		header = append(header, "Accept", "image/png")
	case http.StatusPreconditionFailed:
		header = []string{"If-Match", `"v77"`}
	case http.StatusPreconditionRequired:
		header = nil
	case http.StatusRequestEntityTooLarge:
		body = strings.Repeat(" ", api.DefaultBodyBytes+1)
	case http.StatusUnsupportedMediaType:
		header = append(header, "Content-Type", "")
	case http.StatusMisdirectedRequest:
		header = append(header, "Host", "evil.example")
	case http.StatusUnprocessableEntity:
		path += "?colour=red"
	}
	if status == http.StatusConflict && strings.HasPrefix(op, "PUT /v1/parts") {
		body = partJSON("N-2")
	}
	return path, body, header
}

// broken is a store whose every row operation fails.
type broken struct {
	repo.Store
	err error
}

func (s broken) Part(context.Context, repo.Shop, string) (repo.Part, error) {
	return repo.Part{}, s.err
}
func (s broken) Amp(context.Context, repo.Shop, string) (repo.Amp, error) { return repo.Amp{}, s.err }
func (s broken) Plan(context.Context, repo.Shop, string) (repo.Plan, error) {
	return repo.Plan{}, s.err
}
func (s broken) Series(context.Context, repo.Shop) ([]part.Series, error) { return nil, s.err }
func (s broken) Ready(context.Context) error                              { return s.err }
func (s broken) PutSeries(context.Context, repo.Shop, part.Series, repo.Stamp) error {
	return s.err
}
func (s broken) Parts(context.Context, repo.Shop, repo.PartFilter, repo.Page) ([]repo.Part, string, error) {
	return nil, "", s.err
}
func (s broken) Amps(context.Context, repo.Shop, repo.Page) ([]repo.Amp, string, error) {
	return nil, "", s.err
}
func (s broken) CreateAmp(context.Context, repo.Shop, string, amp.Amplifier, repo.Stamp) (repo.Amp, error) {
	return repo.Amp{}, s.err
}
func (s broken) Plans(context.Context, repo.Shop, string, repo.Page) ([]repo.Plan, string, error) {
	return nil, "", s.err
}
func (s broken) Candidates(context.Context, repo.Shop, repo.CandidateWindow) ([]repo.Part, error) {
	return nil, s.err
}

func TestWhatIsOutsideTheRoutesIsAProblem(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	tests := []struct {
		name, method, path string
		status             int
		allow              string
	}{
		{"unknown route", "GET", "/nothing", 404, ""},
		{"the root", "GET", "/", 404, ""},
		{"trailing slash", "GET", "/v1/parts/", 404, ""},
		{"unknown route, changing", "POST", "/v1/nothing", 404, ""},
		{"wrong method on a list", "DELETE", "/v1/parts", 405, "POST, GET, HEAD"},
		{"wrong method on a row", "POST", "/v1/parts/1", 405, "GET, PUT, DELETE, HEAD"},
		{"method nobody knows", "BREW", "/v1/amps", 405, "POST, GET, HEAD"},
		{"patch", "PATCH", "/v1/amps/1", 405, "GET, PUT, DELETE, HEAD"},
		{"options", "OPTIONS", "/v1/plans", 405, "POST"},
		{"wrong method on the description", "POST", "/openapi.json", 405, "GET, HEAD"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			a := b.in(t).want(tt.status, tt.method, tt.path, "")
			a.problem(t)
			got := strings.Split(a.header.Get("Allow"), ", ")
			slices.Sort(got)
			want := strings.Split(tt.allow, ", ")
			slices.Sort(want)
			if !slices.Equal(got, want) {
				t.Errorf("Allow is %q, want %q", got, want)
			}
		})
	}
}

package api_test

import (
	"bytes"
	"context"
	"encoding/json"
	"io"
	"log/slog"
	"net/http"
	"net/http/httptest"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/getkin/kin-openapi/routers/legacy"

	"coldrise/api"
	"coldrise/catalogue"
	"coldrise/domain/part"
	"coldrise/repo"
	"coldrise/repo/sqlite"
)

// bench is one server on a database file of its own, and a client that holds
// every answer against the OpenAPI description.
type bench struct {
	t     *testing.T
	store repo.Store
	url   string
	logs  *lockedBuffer
}

func openStore(t *testing.T) repo.Store {
	t.Helper()
	store, err := sqlite.Open(t.Context(), filepath.Join(t.TempDir(), "test.db"))
	if err != nil {
		t.Fatal(err)
	}
	t.Cleanup(func() { _ = store.Close() }) // some tests close it themselves
	return store
}

// start serves a store; change may alter the configuration.
func start(t *testing.T, change func(*api.Config)) *bench {
	t.Helper()
	logs := &lockedBuffer{}
	c := api.Config{Store: openStore(t), Logger: slog.New(slog.NewJSONHandler(logs, nil)),
		Limits: api.Limits{PlanSamples: 8}, // the bands themselves are tested with the plan
		Clock:  func() time.Time { return time.Date(2026, 3, 4, 5, 6, 7, 891234999, time.UTC) }}
	if change != nil {
		change(&c)
	}
	h, err := api.New(c)
	if err != nil {
		t.Fatal(err)
	}
	server := httptest.NewServer(h)
	t.Cleanup(server.Close)
	return &bench{t: t, store: c.Store, url: server.URL, logs: logs}
}

// in gives the same bench to a subtest.
func (b *bench) in(t *testing.T) *bench {
	c := *b
	c.t = t
	return &c
}

type lockedBuffer struct {
	mu sync.Mutex
	b  bytes.Buffer
}

func (l *lockedBuffer) Write(p []byte) (int, error) {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.Write(p)
}

func (l *lockedBuffer) String() string {
	l.mu.Lock()
	defer l.mu.Unlock()
	return l.b.String()
}

// answered is an answer, read whole.
type answered struct {
	status int
	header http.Header
	body   []byte
}

// problem reads the body as a problem and checks what holds for every one.
func (a answered) problem(t *testing.T) api.Problem {
	t.Helper()
	var p api.Problem
	dec := json.NewDecoder(bytes.NewReader(a.body))
	dec.DisallowUnknownFields()
	if err := dec.Decode(&p); err != nil {
		t.Fatalf("status %d: the body is no problem: %v\n%s", a.status, err, a.body)
	}
	if got := a.header.Get("Content-Type"); got != "application/problem+json" {
		t.Errorf("status %d: Content-Type is %q", a.status, got)
	}
	if p.Status != a.status {
		t.Errorf("the body says status %d, HTTP says %d", p.Status, a.status)
	}
	if !strings.HasPrefix(p.Type, "/problems/") || p.Title == "" || p.Detail == "" {
		t.Errorf("type %q, title %q, detail %q: none may be empty", p.Type, p.Title, p.Detail)
	}
	if p.Instance == "" || p.Instance != a.header.Get("X-Request-Id") {
		t.Errorf("instance is %q, X-Request-Id is %q", p.Instance, a.header.Get("X-Request-Id"))
	}
	return p
}

func (a answered) decode(t *testing.T, into any) {
	t.Helper()
	if err := json.Unmarshal(a.body, into); err != nil {
		t.Fatalf("status %d: %v\n%s", a.status, err, a.body)
	}
}

// do sends a request. Header is name, value, name, value; a body is sent as
// JSON unless the header says otherwise.
func (b *bench) do(method, path, body string, header ...string) answered {
	b.t.Helper()
	r, err := http.NewRequestWithContext(b.t.Context(), method, b.url+path, strings.NewReader(body))
	if err != nil {
		b.t.Fatal(err)
	}
	if body != "" {
		r.Header.Set("Content-Type", "application/json")
	}
	for i := 0; i < len(header); i += 2 {
		switch {
		case header[i] == "Host":
			r.Host = header[i+1]
		case header[i+1] == "":
			r.Header.Del(header[i])
		default:
			r.Header.Add(header[i], header[i+1])
		}
	}
	return b.send(r)
}

func (b *bench) send(r *http.Request) answered {
	b.t.Helper()
	client := http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}
	res, err := client.Do(r)
	if err != nil {
		b.t.Fatal(err)
	}
	defer func() { _ = res.Body.Close() }()
	text, err := io.ReadAll(res.Body)
	if err != nil {
		b.t.Fatal(err)
	}
	a := answered{status: res.StatusCode, header: res.Header, body: text}
	holdAgainstDescription(b.t, r, a)
	return a
}

// want sends a request and fails unless it is answered with the status.
func (b *bench) want(status int, method, path, body string, header ...string) answered {
	b.t.Helper()
	a := b.do(method, path, body, header...)
	if a.status != status {
		b.t.Fatalf("%s %s: status %d, want %d\n%s", method, path, a.status, status, a.body)
	}
	return a
}

var description = sync.OnceValues(func() (routers.Router, error) {
	spec, err := api.OpenAPI()
	if err != nil {
		return nil, err
	}
	doc, err := openapi3.NewLoader().LoadFromData(spec)
	if err != nil {
		return nil, err
	}
	return legacy.NewRouter(doc)
})

// holdAgainstDescription fails where an answer of a described route has a
// status, a media type or a body that is not in the description.
func holdAgainstDescription(t *testing.T, r *http.Request, a answered) {
	t.Helper()
	router, err := description()
	if err != nil {
		t.Fatal(err)
	}
	relative := r.Clone(context.Background())
	relative.URL.Scheme, relative.URL.Host = "", ""
	route, params, err := router.FindRoute(relative)
	// The validator's router takes /v1/parts/ for /v1/parts; this server does not.
	if err != nil || a.status == http.StatusMethodNotAllowed || strings.HasSuffix(r.URL.Path, "/") {
		return // not a described route
	}
	in := &openapi3filter.ResponseValidationInput{
		RequestValidationInput: &openapi3filter.RequestValidationInput{Request: relative, PathParams: params, Route: route},
		Status:                 a.status, Header: a.header,
		Options: &openapi3filter.Options{IncludeResponseStatus: true, MultiError: true},
	}
	in.SetBodyBytes(a.body)
	if err := openapi3filter.ValidateResponse(context.Background(), in); err != nil {
		t.Errorf("%s %s answers %d against the description: %v\n%.2000s", r.Method, r.URL.Path, a.status, err, a.body)
	}
}

// seriesJSON and partJSON are a series and a part of an invented maker.
const seriesJSON = `{"name": "HV/1+", "maker": "Ossington", "technology": "electrolytic", "base_hz": 120, "max_c": 85,
 "frequency_factors": [{"hz": 120, "factor": 1}, {"hz": 1000, "factor": 1.3}],
 "life": {"model": "ten_kelvin", "rated_h": 5000, "rated_c": 85, "core_rise_k": 5}}`

func partJSON(number string) string {
	return `{"maker": "Ossington", "part_number": "` + number + `", "series": "HV/1+", "technology": "electrolytic", "style": "axial",
 "capacitance_uf": 47, "tol_minus_pct": 20, "tol_plus_pct": 20, "rated_v": 450, "ripple_ma": 220, "diameter_mm": 18, "length_mm": 40,
 "offers": [{"supplier": "Quill & Sons", "sku": "Q-1", "currency": "GBP", "breaks": [{"min_qty": 1, "unit_price": "3.10"}],
  "pack": 1, "min_qty": 1, "stock": 25, "lead_days": 2}]}`
}

// withSeries puts the series of partJSON.
func (b *bench) withSeries() *bench {
	b.t.Helper()
	b.want(http.StatusOK, "PUT", "/v1/series/HV%2F1+", seriesJSON)
	return b
}

// withPart stores one part and gives its path and ETag.
func (b *bench) withPart(number string) (path, etag string) {
	b.t.Helper()
	a := b.want(http.StatusCreated, "POST", "/v1/parts", partJSON(number))
	return a.header.Get("Location"), a.header.Get("ETag")
}

// ampJSON is a small amplifier of our own: one tube rectifier, two nodes.
const ampJSON = `{"name": "Bench test 5", "mains": {"nominal_v": 230, "frequency_hz": 50}, "supplies": [{"name": "HT",
 "winding": {"connection": "centre_tapped", "unloaded_v": 270, "secondary_ohm": 150, "primary_ohm": 20},
 "rectifier": {"type": "EZ81"},
 "nodes": [{"name": "A", "schematic_v": 285, "loads": [{"tube": "EL84", "idle_ma": 48}]},
  {"name": "B", "dropper_ohm": 4700, "schematic_v": 240, "loads": [{"tube": "ECC83", "idle_ma": 2}]}]}],
 "positions": [{"ref": "C1", "role": "reservoir", "node": "HT/A", "fitted": {"capacitance_uf": 47, "rated_v": 350}}]}`

func (b *bench) withAmp() (path, etag string) {
	b.t.Helper()
	a := b.want(http.StatusCreated, "POST", "/v1/amps", ampJSON)
	return a.header.Get("Location"), a.header.Get("ETag")
}

// withStarter loads the starter catalogue.
func (b *bench) withStarter() *bench {
	b.t.Helper()
	series, parts, err := catalogue.Starter()
	if err != nil {
		b.t.Fatal(err)
	}
	loadParts(b.t, b.store, series, parts)
	return b
}

func loadParts(t *testing.T, store repo.Store, series []part.Series, parts []part.Part) {
	t.Helper()
	ids := make([]string, len(parts))
	for i := range ids {
		ids[i] = api.NewID()
	}
	loaded, err := store.LoadCatalogue(t.Context(), repo.Bench, series, ids, parts, repo.Stamp{At: time.Unix(0, 0)})
	if err != nil || !loaded {
		t.Fatalf("loading parts: %v, %v", loaded, err)
	}
}

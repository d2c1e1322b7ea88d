package api_test

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"

	"coldrise/api"
	"coldrise/domain/amp"
	"coldrise/repo"
)

var client http.Client

func newRequest(ctx context.Context, url, body string) *http.Request {
	r, err := http.NewRequestWithContext(ctx, "POST", url, strings.NewReader(body))
	if err != nil {
		panic(err)
	}
	r.Header.Set("Content-Type", "application/json")
	return r
}

func TestHost(t *testing.T) {
	t.Parallel()
	b := start(t, func(c *api.Config) { c.Hosts = []string{"Bench.example"} })
	tests := []struct {
		host   string
		status int
	}{
		{"localhost", 200}, {"localhost:8173", 200}, {"LOCALHOST", 200}, {"127.0.0.1:1", 200}, {"[::1]:8173", 200}, {"[::1]", 200},
		{"bench.example", 200}, {"bench.example:443", 200},
		{"evil.example", 421}, {"localhost.evil.example", 421}, {"127.0.0.1.evil.example:8173", 421}, {"127.0.0.2", 421}, {"other", 421},
	}
	for _, tt := range tests {
		t.Run(tt.host, func(t *testing.T) {
			t.Parallel()
			a := b.in(t).want(tt.status, "GET", "/livez", "", "Host", tt.host)
			if tt.status != 200 {
				a.problem(t)
			}
		})
	}
}

func TestCrossOrigin(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	tests := []struct {
		name, method string
		header       []string
		status       int
	}{
		{"no browser", "POST", nil, 201},
		{"same origin", "POST", []string{"Sec-Fetch-Site", "same-origin"}, 201},
		{"typed in", "POST", []string{"Sec-Fetch-Site", "none"}, 201},
		{"another site", "POST", []string{"Sec-Fetch-Site", "cross-site"}, 403},
		{"another port", "POST", []string{"Sec-Fetch-Site", "same-site"}, 403},
		{"old browser, another origin", "POST", []string{"Origin", "http://evil.example"}, 403},
		{"old browser, no origin to tell", "POST", []string{"Origin", "null"}, 403},
		{"reading", "GET", []string{"Sec-Fetch-Site", "cross-site"}, 200},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			body := ""
			if tt.method == "POST" {
				body = ampJSON
			}
			a := b.in(t).want(tt.status, tt.method, "/v1/amps", body, tt.header...)
			if tt.status == 403 {
				a.problem(t)
			}
		})
	}
}

func TestEveryAnswerCarriesTheSafeHeaders(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	for _, a := range []answered{
		b.do("GET", "/livez", ""), b.do("GET", "/v1/parts", ""), b.do("GET", "/nothing", ""), b.do("POST", "/v1/amps", "{"),
		b.do("DELETE", "/v1/parts", ""), b.do("GET", "/openapi.json", ""), b.do("GET", "/livez", "", "Host", "evil.example"),
	} {
		for name, want := range map[string]string{
			"X-Content-Type-Options": "nosniff", "Cache-Control": "no-store", "Referrer-Policy": "no-referrer",
			"Content-Security-Policy": "default-src 'none'; frame-ancestors 'none'", "Cross-Origin-Resource-Policy": "same-origin",
		} {
			if got := a.header.Get(name); got != want {
				t.Errorf("status %d: %s is %q", a.status, name, got)
			}
		}
		for _, name := range []string{"Access-Control-Allow-Origin", "Server", "X-Powered-By"} {
			if got := a.header.Get(name); got != "" {
				t.Errorf("status %d: %s is %q", a.status, name, got)
			}
		}
	}
}

func TestHeadAnswersLikeGetWithoutBody(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	path, etag := b.withAmp()
	head, get := b.want(200, "HEAD", path, ""), b.want(200, "GET", path, "")
	if len(head.body) != 0 || head.header.Get("ETag") != etag || head.header.Get("Content-Type") != get.header.Get("Content-Type") {
		t.Errorf("HEAD: body %q, header %v", head.body, head.header)
	}
	b.want(404, "HEAD", "/v1/amps/nothing", "")
}

func TestRequestID(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	if got := b.do("GET", "/livez", "", "X-Request-Id", "from-outside_1.2").header.Get("X-Request-Id"); got != "from-outside_1.2" {
		t.Errorf("a good id came back as %q", got)
	}
	for _, bad := range []string{"short", strings.Repeat("x", 65), "has blank in it", "<script>alert</script>"} {
		if got := b.do("GET", "/livez", "", "X-Request-Id", bad).header.Get("X-Request-Id"); got == bad || len(got) != 36 {
			t.Errorf("%q came back as %q", bad, got)
		}
	}
}

// logged gives the log's lines as objects.
func logged(t *testing.T, b *bench) []map[string]any {
	t.Helper()
	var all []map[string]any
	for _, line := range strings.Split(strings.TrimSpace(b.logs.String()), "\n") {
		var v map[string]any
		if err := json.Unmarshal([]byte(line), &v); err != nil {
			t.Fatalf("a line of the log is no JSON: %v\n%s", err, line)
		}
		all = append(all, v)
	}
	return all
}

func TestOneLinePerRequest(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	b.do("GET", "/v1/parts/secret-id?colour=secret", "")
	b.do("GET", "/nothing/secret%0Aforged", "")
	lines := logged(t, b)
	if len(lines) != 2 {
		t.Fatalf("%d lines for 2 requests:\n%s", len(lines), b.logs)
	}
	if lines[0]["route"] != "/v1/parts/{id}" || lines[0]["status"] != 422.0 || lines[0]["method"] != "GET" || lines[0]["code"] != "invalid" {
		t.Errorf("line: %v", lines[0])
	}
	if lines[1]["route"] != "" || lines[1]["status"] != 404.0 {
		t.Errorf("line: %v", lines[1])
	}
	if strings.Contains(b.logs.String(), "secret") {
		t.Errorf("the log repeats what the path held:\n%s", b.logs)
	}
}

// panicking is a store with a fault of ours in it.
type panicking struct{ repo.Store }

func (panicking) Amp(context.Context, repo.Shop, string) (repo.Amp, error) { panic("canary: a fault") }

func TestPanicIsAProblem(t *testing.T) {
	t.Parallel()
	b := start(t, func(c *api.Config) { c.Store = panicking{c.Store} })
	a := b.want(500, "GET", "/v1/amps/1", "")
	p := a.problem(t)
	if strings.Contains(string(a.body), "canary") || strings.Contains(string(a.body), "goroutine") {
		t.Errorf("the panic reached the client: %s", a.body)
	}
	line := logged(t, b)[0]
	if cause, _ := line["cause"].(string); !strings.Contains(cause, "canary: a fault") || line["id"] != p.Instance || line["level"] != "ERROR" {
		t.Errorf("the log does not tell the cause: %v", line)
	}
	b.want(200, "GET", "/livez", "")
}

func TestForeignErrorStaysInTheLog(t *testing.T) {
	t.Parallel()
	b := start(t, breaking(errors.New(canary)))
	a := b.want(500, "GET", "/v1/amps/1", "")
	if strings.Contains(string(a.body), "canary") || a.problem(t).Detail != "internal error" {
		t.Errorf("the client was told: %s", a.body)
	}
	if !strings.Contains(b.logs.String(), canary) {
		t.Errorf("the log was not:\n%s", b.logs)
	}
}

// unending is a store that gives an amplifier no JSON can hold.
type unending struct{ repo.Store }

func (unending) Amp(context.Context, repo.Shop, string) (repo.Amp, error) {
	var a repo.Amp
	inf := 1e308
	inf *= 10
	a.Amplifier = amp.Amplifier{Name: "x", Mains: amp.Mains{NominalV: inf}}
	return a, nil
}

func TestAnswerThatHasNoJSONIsAnError(t *testing.T) {
	t.Parallel()
	b := start(t, func(c *api.Config) { c.Store = unending{c.Store} })
	b.want(500, "GET", "/v1/amps/1", "").problem(t)
}

func TestReadiness(t *testing.T) {
	t.Parallel()
	stopping := make(chan struct{})
	b := start(t, func(c *api.Config) { c.Stopping = stopping })
	b.want(200, "GET", "/readyz", "")
	close(stopping)
	b.want(503, "GET", "/readyz", "").problem(t)
	b.want(200, "GET", "/livez", "")

	gone := start(t, nil)
	if err := gone.store.Close(); err != nil {
		t.Fatal(err)
	}
	gone.want(503, "GET", "/readyz", "").problem(t)
	gone.want(200, "GET", "/livez", "")
}

func TestNewWantsAStore(t *testing.T) {
	t.Parallel()
	if _, err := api.New(api.Config{}); err == nil {
		t.Error("New took a configuration without a store")
	}
}

// The handler itself, without net/http in between, leaves the same marks.
func TestHandlerWithoutAServer(t *testing.T) {
	t.Parallel()
	h, err := api.New(api.Config{Store: openStore(t)})
	if err != nil {
		t.Fatal(err)
	}
	w := httptest.NewRecorder()
	h.ServeHTTP(w, httptest.NewRequestWithContext(t.Context(), "GET", "http://localhost/v1/parts", nil))
	if w.Code != 200 || w.Body.String() != "{\"items\":[]}\n" {
		t.Errorf("status %d, body %q", w.Code, w.Body)
	}
}

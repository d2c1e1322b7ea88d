package api_test

import (
	"fmt"
	"net/http"
	"strings"
	"sync"
	"testing"

	"coldrise/api"
)

// RFC 9110 sections 13.1.1 and 8.8.3.2: the strong comparison.
func TestIfMatch(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, field string
		status      int
	}{
		{"exact", `"v1"`, 200},
		{"any", `*`, 200},
		{"list with it", `"v9", "v1"`, 200},
		{"list without blanks", `"v9","v1","v2"`, 200},
		{"list with a weak one beside", `W/"v1", "v1"`, 200},
		{"stale", `"v2"`, 412},
		{"weak", `W/"v1"`, 412},
		{"list without it", `"v2", "v3"`, 412},
		{"other case", `"V1"`, 412},
		{"missing", "", 428},
		{"no quotes", `v1`, 400},
		{"open quote", `"v1`, 400},
		{"no comma", `"v1" "v2"`, 400},
		{"any in a list", `*, "v1"`, 400},
		{"only commas", `,`, 400},
	}
	for _, kind := range []string{"parts", "amps"} {
		for _, method := range []string{"PUT", "DELETE"} {
			for _, tt := range tests {
				t.Run(kind+" "+method+" "+tt.name, func(t *testing.T) {
					t.Parallel()
					b := start(t, nil).withSeries()
					path, changed := pathAndChange(b, kind)
					var header []string
					if tt.field != "" {
						header = []string{"If-Match", tt.field}
					}
					want := tt.status
					if method == "DELETE" {
						changed = ""
						if want == 200 {
							want = 204
						}
					}
					a := b.want(want, method, path, changed, header...)
					if want == 412 && a.header.Get("ETag") != `"v1"` {
						t.Errorf("412 carries the ETag %q, want the current one", a.header.Get("ETag"))
					}
					if want == 200 && a.header.Get("ETag") != `"v2"` {
						t.Errorf("ETag after the change is %q", a.header.Get("ETag"))
					}
					if want >= 400 {
						a.problem(t)
						b.want(200, "GET", path, "", "If-Match", `"v7"`) // still there, and reading heeds no If-Match
					}
				})
			}
		}
	}
}

// pathAndChange stores a row and gives its path and another document for it.
func pathAndChange(b *bench, kind string) (path, changed string) {
	if kind == "parts" {
		path, _ = b.withPart("N-1")
		return path, strings.Replace(partJSON("N-1"), `"stock": 25`, `"stock": 24`, 1)
	}
	path, _ = b.withAmp()
	return path, strings.Replace(ampJSON, "Bench test 5", "Bench test 6", 1)
}

// A field over several lines is one list (RFC 9110 section 5.3).
func TestIfMatchOnSeveralLines(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	path, _ := b.withAmp()
	b.want(204, "DELETE", path, "", "If-Match", `"v8"`, "If-Match", `"v1"`)
}

// RFC 9110 section 13.1.2: the weak comparison.
func TestIfNoneMatch(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	path, etag := b.withAmp()
	tests := []struct {
		name, field string
		status      int
	}{
		{"exact", etag, 304}, {"weak", "W/" + etag, 304}, {"any", "*", 304}, {"in a list", `"x", ` + etag, 304},
		{"other", `"v2"`, 200}, {"cannot be read", `v1`, 200}, {"empty list", `,`, 200},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			a := b.in(t).want(tt.status, "GET", path, "", "If-None-Match", tt.field)
			if a.header.Get("ETag") != etag {
				t.Errorf("ETag is %q, want %q", a.header.Get("ETag"), etag)
			}
			if tt.status == 304 && len(a.body) > 0 {
				t.Errorf("304 with a body: %s", a.body)
			}
		})
	}
}

func TestAnEqualDocumentChangesNothing(t *testing.T) {
	t.Parallel()
	b := start(t, nil).withSeries()
	path, etag := b.withPart("N-1")
	var stored api.StoredPart
	b.want(200, "GET", path, "").decode(t, &stored)
	a := b.want(200, "PUT", path, partJSON("N-1"), "If-Match", etag)
	if a.header.Get("ETag") != etag {
		t.Errorf("ETag is %q after an equal PUT, was %q", a.header.Get("ETag"), etag)
	}
}

func TestChangedRowTellsItsNewVersion(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	path, etag := b.withAmp()
	renamed := strings.Replace(ampJSON, "Bench test 5", "Bench test 6", 1)
	a := b.want(200, "PUT", path, renamed, "If-Match", etag)
	var stored api.StoredAmp
	a.decode(t, &stored)
	if stored.Version != 2 || stored.Amplifier.Name != "Bench test 6" || a.header.Get("ETag") != `"v2"` {
		t.Errorf("version %d, name %q, ETag %q", stored.Version, stored.Amplifier.Name, a.header.Get("ETag"))
	}
	if want := "2026-03-04T05:06:07.891234Z"; stored.ChangedAt != want {
		t.Errorf("changed_at is %q, want %q: whole microseconds, UTC", stored.ChangedAt, want)
	}
	b.want(412, "PUT", path, ampJSON, "If-Match", etag)
	b.want(204, "DELETE", path, "", "If-Match", `"v2"`)
	b.want(404, "GET", path, "")
	b.want(404, "PUT", path, ampJSON, "If-Match", `*`)
	b.want(404, "DELETE", path, "", "If-Match", `"v2"`)
}

// No update may be lost: as many changes succeed as the version grows by.
func TestReadersThatWriteLoseNothing(t *testing.T) {
	t.Parallel()
	const clients, rounds = 8, 6
	b := start(t, nil)
	path, _ := b.withAmp()
	var wg sync.WaitGroup
	done := make([]int, clients)
	for c := range clients {
		wg.Go(func() {
			for n := range rounds {
				etag := b.do("GET", path, "").header.Get("ETag")
				name := fmt.Sprintf("client %d round %d", c, n)
				a := b.do("PUT", path, strings.Replace(ampJSON, "Bench test 5", name, 1), "If-Match", etag)
				switch a.status {
				case http.StatusOK:
					done[c]++
				case http.StatusPreconditionFailed:
				default:
					t.Errorf("status %d: %s", a.status, a.body)
				}
			}
		})
	}
	wg.Wait()
	total := 0
	for _, n := range done {
		total += n
	}
	var stored api.StoredAmp
	b.want(200, "GET", path, "").decode(t, &stored)
	if total == 0 || stored.Version != int64(1+total) {
		t.Errorf("%d changes were answered 200, and the version went from 1 to %d", total, stored.Version)
	}
}

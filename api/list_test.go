package api_test

import (
	"fmt"
	"net/url"
	"regexp"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/api"
)

var next = regexp.MustCompile(`^<(/[^>]*)>; rel="next"$`)

// walk follows the Link fields of a list of parts and gives the part numbers.
func walk(t *testing.T, b *bench, path string, longest int) []string {
	t.Helper()
	var all []string
	for pages := 0; path != ""; pages++ {
		if pages > 100 {
			t.Fatal("the list does not end")
		}
		a := b.want(200, "GET", path, "")
		var list api.PartList
		a.decode(t, &list)
		if len(list.Items) > longest {
			t.Errorf("%s: %d items, want %d at most", path, len(list.Items), longest)
		}
		for _, item := range list.Items {
			all = append(all, item.Part.PartNumber)
		}
		path = ""
		if link := a.header.Get("Link"); link != "" {
			m := next.FindStringSubmatch(link)
			if m == nil {
				t.Fatalf("Link is %q", link)
			}
			path = m[1]
		}
	}
	return all
}

func TestLinksAloneLeadThroughTheList(t *testing.T) {
	t.Parallel()
	b := start(t, nil).withSeries()
	var want []string
	for i := range 23 {
		number := fmt.Sprintf("N-%02d", i)
		b.withPart(number)
		want = append(want, number)
	}
	for _, limit := range []int{1, 7, 22, 23, 200} {
		got := walk(t, b, fmt.Sprint("/v1/parts?limit=", limit), limit)
		if diff := cmp.Diff(want, got); diff != "" {
			t.Errorf("limit %d (-want +got):\n%s", limit, diff)
		}
	}
	if got := walk(t, b, "/v1/parts", 50); len(got) != 23 {
		t.Errorf("without a limit: %d parts", len(got))
	}
}

// Rows that are there all the time appear once each, whatever else comes and goes.
func TestWalkWhileTheListChanges(t *testing.T) {
	t.Parallel()
	b := start(t, nil).withSeries()
	for i := range 12 {
		b.withPart(fmt.Sprintf("N-%02d", i))
	}
	seen := map[string]int{}
	path := "/v1/parts?limit=2"
	for n := 0; path != ""; n++ {
		a := b.want(200, "GET", path, "")
		var list api.PartList
		a.decode(t, &list)
		for _, item := range list.Items {
			seen[item.Part.PartNumber]++
		}
		added, _ := b.withPart(fmt.Sprintf("N-%02d-new", 2*n))
		b.want(204, "DELETE", added, "", "If-Match", "*")
		b.withPart(fmt.Sprintf("A-%02d", n))
		path = ""
		if m := next.FindStringSubmatch(a.header.Get("Link")); m != nil {
			path = m[1]
		}
	}
	for i := range 12 {
		if number := fmt.Sprintf("N-%02d", i); seen[number] != 1 {
			t.Errorf("%s appeared %d times", number, seen[number])
		}
	}
}

func TestPartFilters(t *testing.T) {
	t.Parallel()
	b := start(t, nil).withSeries()
	b.withPart("N-1")
	for i, change := range []string{`"capacitance_uf": 100`, `"rated_v": 350`, `"style": "radial"`, `"stock": 0`} {
		member, _, _ := strings.Cut(change, ":")
		re := regexp.MustCompile(member + `: [^,}]*`)
		b.want(201, "POST", "/v1/parts", re.ReplaceAllString(partJSON(fmt.Sprint("N-", i+2)), change))
	}
	tests := []struct{ query, want string }{
		{"", "N-1 N-2 N-3 N-4 N-5"},
		{"maker=Ossington", "N-1 N-2 N-3 N-4 N-5"},
		{"maker=ossington", ""},
		{"series=HV%2F1%2B", "N-1 N-2 N-3 N-4 N-5"},
		{"technology=electrolytic", "N-1 N-2 N-3 N-4 N-5"},
		{"technology=film", ""},
		{"style=radial", "N-4"},
		{"min_uf=48", "N-2"},
		{"max_uf=47", "N-1 N-3 N-4 N-5"},
		{"min_uf=47&max_uf=47&min_rated_v=400&in_stock=true&style=axial", "N-1"},
		{"min_rated_v=450", "N-1 N-2 N-4 N-5"},
		{"in_stock=true", "N-1 N-2 N-3 N-4"},
		{"in_stock=false", "N-1 N-2 N-3 N-4 N-5"},
	}
	for _, tt := range tests {
		t.Run(tt.query, func(t *testing.T) {
			t.Parallel()
			// By pages of one, so that each Link must carry the whole filter on.
			got := strings.Join(walk(t, b.in(t), "/v1/parts?limit=1&"+tt.query, 1), " ")
			if got != tt.want {
				t.Errorf("got %q, want %q", got, tt.want)
			}
		})
	}
}

func TestListParametersThatAreWrong(t *testing.T) {
	t.Parallel()
	b := start(t, nil).withSeries()
	b.withPart("N-1")
	b.withPart("N-2")
	link := next.FindStringSubmatch(b.want(200, "GET", "/v1/parts?limit=1", "").header.Get("Link"))
	cursor := regexp.MustCompile(`cursor=([^&]*)`).FindStringSubmatch(link[1])[1]
	tests := []struct {
		name, query string
		status      int
		pointers    string
	}{
		{"limit 0", "limit=0", 422, "query/limit"},
		{"limit below 0", "limit=-1", 422, "query/limit"},
		{"limit one above", "limit=201", 422, "query/limit"},
		{"limit far above", "limit=1000000000", 422, "query/limit"},
		{"limit beyond an integer", "limit=99999999999999999999", 422, "query/limit"},
		{"limit no number", "limit=many", 422, "query/limit"},
		{"limit a fraction", "limit=1.5", 422, "query/limit"},
		{"unknown name", "colour=red", 422, "query/colour"},
		{"forged cursor", "cursor=QUJDREVGR0hJSktMTU5PUA", 422, "query/cursor"},
		{"cursor of another filter", "maker=Ossington&cursor=" + cursor, 422, "query/cursor"},
		{"cursor cut", "cursor=" + cursor[:len(cursor)-2], 422, "query/cursor"},
		{"NaN", "min_uf=NaN", 422, "query/min_uf"},
		{"infinite", "max_uf=Inf&min_rated_v=-Inf", 422, "query/max_uf query/min_rated_v"},
		{"band upside down", "min_uf=10&max_uf=1", 422, "query/min_uf"},
		{"several at once", "limit=0&technology=wet&style=square&in_stock=perhaps", 422, "query/in_stock query/limit query/style query/technology"},
		{"unknown and wrong at once", "limit=abc&colour=red&style=square&shape=round", 422, "query/limit query/colour query/style query/shape"},
		{"twice", "limit=1&limit=2", 422, "query/limit"},
		{"NUL", "maker=%00", 422, "query/maker"},
		{"not UTF-8", "maker=%ff", 422, "query/maker"},
		{"not encoded properly", "maker=%zz", 400, ""},
		{"semicolon", "maker=a;b", 400, ""},
		{"name too long", "maker=" + strings.Repeat("x", 81), 422, "query/maker"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			p := b.in(t).want(tt.status, "GET", "/v1/parts?"+tt.query, "").problem(t)
			got := map[string]bool{}
			for _, f := range p.Errors {
				got[f.Pointer] = true
			}
			want := map[string]bool{}
			for _, at := range strings.Fields(tt.pointers) {
				want[at] = true
			}
			if diff := cmp.Diff(want, got); diff != "" {
				t.Errorf("pointers (-want +got):\n%s\n%v", diff, p.Errors)
			}
		})
	}
	if _, err := url.QueryUnescape(cursor); err != nil {
		t.Error(err)
	}
}

func TestAmpsList(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	for i := range 3 {
		b.want(201, "POST", "/v1/amps", strings.Replace(ampJSON, "Bench test 5", fmt.Sprint("Amp ", i), 1))
	}
	a := b.want(200, "GET", "/v1/amps?limit=2", "")
	var list api.AmpList
	a.decode(t, &list)
	if len(list.Items) != 2 || list.Items[0].Name != "Amp 0" {
		t.Fatalf("first page: %+v", list.Items)
	}
	m := next.FindStringSubmatch(a.header.Get("Link"))
	if m == nil {
		t.Fatalf("Link is %q", a.header.Get("Link"))
	}
	a = b.want(200, "GET", m[1], "")
	list = api.AmpList{}
	a.decode(t, &list)
	if len(list.Items) != 1 || list.Items[0].Name != "Amp 2" || a.header.Get("Link") != "" {
		t.Errorf("second page: %+v, Link %q", list.Items, a.header.Get("Link"))
	}
}

// Huma's sentences are foreign text: what a client reads is ours, with the
// bound in a member of its own.
func TestParametersAreRefusedInOurWords(t *testing.T) {
	t.Parallel()
	b := start(t, nil).withSeries()
	for _, tt := range []struct{ query, message, limit string }{
		{"limit=0", "must be at least 1", "at least 1"},
		{"limit=201", "must be at most 200", "at most 200"},
		{"limit=many", "must be a whole number", ""},
		{"in_stock=perhaps", "must be true or false", ""},
		{"technology=wet", "must be one of electrolytic, film, safety_x, safety_y", ""},
		{"maker=" + strings.Repeat("x", 81), "may have 80 characters at most", "at most 80"},
		{"colour=red", "is no parameter of this operation", ""},
	} {
		t.Run(tt.query[:min(len(tt.query), 20)], func(t *testing.T) {
			t.Parallel()
			p := b.in(t).want(422, "GET", "/v1/parts?"+tt.query, "").problem(t)
			if len(p.Errors) != 1 || p.Errors[0].Message != tt.message || p.Errors[0].Limit != tt.limit {
				t.Errorf("refused with %+v, want %q, limit %q", p.Errors, tt.message, tt.limit)
			}
		})
	}
}

// A shop's own article has no series, and what it does not know is left out:
// it comes back as it was sent, and is listed without a series.
func TestAPartWithoutASeriesIsTaken(t *testing.T) {
	t.Parallel()
	b := start(t, nil).withSeries()
	const own = `{"maker":"Oxbow","part_number":"33/550","technology":"electrolytic","style":"axial","capacitance_uf":33,"rated_v":550,"max_c":105,"life":{"rated_h":3000}}`
	made := b.want(201, "POST", "/v1/parts", own)
	if text := string(made.body); !strings.Contains(text, own[1:len(own)-1]) || strings.Contains(text, `"series"`) {
		t.Errorf("%s", text)
	}
	var list api.PartList
	b.want(200, "GET", "/v1/parts?series=HV%2F1%2B", "").decode(t, &list)
	if len(list.Items) != 0 {
		t.Errorf("%+v", list.Items)
	}
	p := b.want(422, "POST", "/v1/parts", strings.Replace(own, `"max_c":105,"life":{"rated_h":3000}`, `"max_c":85,"min_c":50,"surge_v":500,"life":{"rated_c":105},"leakage":{"minutes":2}`, 1)).problem(t)
	var at []string
	for _, f := range p.Errors {
		at = append(at, f.Pointer)
	}
	if diff := cmp.Diff([]string{"/surge_v", "/life/rated_c", "/leakage"}, at); diff != "" {
		t.Errorf("contradictions, all at once: %s", diff)
	}
}

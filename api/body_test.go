package api_test

import (
	"io"
	"net/http"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/api"
)

func TestBodyLimit(t *testing.T) {
	t.Parallel()
	const limit = 4096
	tests := []struct {
		name   string
		size   int
		status int
	}{
		{"one below", limit - 1, 201}, {"exactly", limit, 201}, {"one above", limit + 1, 413}, {"far above", 40 * limit, 413},
	}
	b := start(t, func(c *api.Config) { c.Limits.BodyBytes = limit })
	for _, tt := range tests {
		for _, chunked := range []bool{false, true} {
			t.Run(tt.name+" chunked "+strconv.FormatBool(chunked), func(t *testing.T) {
				t.Parallel()
				text := ampJSON + strings.Repeat(" ", tt.size-len(ampJSON))
				var from io.Reader = strings.NewReader(text)
				if chunked {
					from = io.MultiReader(from) // hides the length
				}
				r, err := http.NewRequestWithContext(t.Context(), "POST", b.url+"/v1/amps", from)
				if err != nil {
					t.Fatal(err)
				}
				r.Header.Set("Content-Type", "application/json")
				a := b.in(t).send(r)
				if a.status != tt.status {
					t.Fatalf("%d bytes: status %d, want %d", tt.size, a.status, tt.status)
				}
				if tt.status == 413 && !strings.Contains(a.problem(t).Detail, "4096") {
					t.Errorf("the detail does not name the limit: %s", a.body)
				}
			})
		}
	}
}

func TestBodyMediaType(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	tests := []struct {
		name   string
		header []string
		status int
	}{
		{"JSON", []string{"Content-Type", "application/json"}, 201},
		{"JSON in UTF-8", []string{"Content-Type", "Application/JSON; charset=UTF-8"}, 201},
		{"none", []string{"Content-Type", ""}, 415},
		{"form", []string{"Content-Type", "", "Content-Type", "application/x-www-form-urlencoded"}, 415},
		{"text", []string{"Content-Type", "", "Content-Type", "text/plain"}, 415},
		{"problem", []string{"Content-Type", "", "Content-Type", "application/problem+json"}, 415},
		{"not a type", []string{"Content-Type", "", "Content-Type", ";;"}, 415},
		{"JSON in another charset", []string{"Content-Type", "", "Content-Type", "application/json; charset=latin1"}, 415},
		{"compressed", []string{"Content-Encoding", "gzip"}, 415},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			a := b.in(t).want(tt.status, "POST", "/v1/amps", ampJSON, tt.header...)
			if tt.status != 201 {
				a.problem(t)
			}
		})
	}
}

func TestAccept(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	tests := []struct {
		field  string
		status int
	}{
		{"application/json", 200}, {"*/*", 200}, {"application/*", 200}, {"text/html, application/json;q=0.1", 200},
		{"APPLICATION/JSON", 200}, {"application/json;charset=utf-8", 200}, {"text/html, */*;q=0.5", 200},
		{"text/html", 406}, {"application/json;q=0", 406}, {"*/*, application/json;q=0", 406}, {"application/json;q=0.000, */*", 406},
		{"text/csv", 406}, {"json", 406}, {"application/problem+json", 406},
	}
	for _, tt := range tests {
		t.Run(tt.field, func(t *testing.T) {
			t.Parallel()
			a := b.in(t).want(tt.status, "GET", "/v1/amps", "", "Accept", tt.field)
			if tt.status == 406 {
				a.problem(t)
			}
		})
	}
}

func TestUnreadableBodyIsMalformed(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	for _, body := range []string{`{`, `{"name": }`, `nul`, "\xff\xfe", `{"name":"x"} {}`, " "} {
		for _, path := range []string{"/v1/amps", "/v1/parts", "/v1/plans"} {
			p := b.want(400, "POST", path, body).problem(t)
			if p.Type != "/problems/malformed" {
				t.Errorf("%q at %s: type %q", body, path, p.Type)
			}
		}
	}
	b.want(400, "POST", "/v1/plans", "", "Content-Type", "application/json")
	b.want(400, "PUT", "/v1/series/x", "[", "If-Match", "*")
}

// Five faults of a body, and one of the query, at once.
func TestAllFaultsComeAtOnce(t *testing.T) {
	t.Parallel()
	b := start(t, nil).withSeries()
	bad := strings.NewReplacer(`"rated_v": 450`, `"rated_v": -450`, `"style": "axial"`, `"style": "square"`,
		`"capacitance_uf": 47`, `"capacitance_uf": 1e300`, `"stock": 25`, `"stock": 2.5`, `"pack": 1`, `"pack": 1, "colour": "red"`).Replace(partJSON("N-1"))
	p := b.want(422, "POST", "/v1/parts", bad).problem(t)
	var at []string
	for _, f := range p.Errors {
		at = append(at, f.Pointer)
		if f.Message == "" || f.Value == "" {
			t.Errorf("%s: message %q, value %q", f.Pointer, f.Message, f.Value)
		}
	}
	want := []string{"/style", "/capacitance_uf", "/rated_v", "/offers/0/colour", "/offers/0/stock"}
	if diff := cmp.Diff(want, at, cmp.Transformer("set", func(s []string) map[string]bool {
		set := map[string]bool{}
		for _, v := range s {
			set[v] = true
		}
		return set
	})); diff != "" {
		t.Errorf("pointers (-want +got):\n%s\n%s", diff, p.Errors)
	}
	var list api.PartList
	b.want(200, "GET", "/v1/parts", "").decode(t, &list)
	if len(list.Items) != 0 {
		t.Error("something was stored although the part was refused")
	}
}

func TestServerOwnedMembersAreRefused(t *testing.T) {
	t.Parallel()
	b := start(t, nil).withSeries()
	for _, member := range []string{"id", "version", "created_at", "changed_at", "shop"} {
		with := strings.Replace(partJSON("N-1"), "{", `{"`+member+`": "x", `, 1)
		p := b.want(422, "POST", "/v1/parts", with).problem(t)
		if len(p.Errors) != 1 || p.Errors[0].Pointer != "/"+member {
			t.Errorf("%s: %v", member, p.Errors)
		}
	}
}

func TestPartIsHeldAgainstItsSeries(t *testing.T) {
	t.Parallel()
	b := start(t, nil).withSeries()
	p := b.want(422, "POST", "/v1/parts", strings.Replace(partJSON("N-1"), "Ossington", "Somebody", 1)).problem(t)
	if len(p.Errors) != 1 || p.Errors[0].Pointer != "/maker" {
		t.Errorf("errors: %v", p.Errors)
	}
	p = b.want(422, "POST", "/v1/parts", strings.Replace(partJSON("N-1"), "HV/1+", "other", 1)).problem(t)
	if len(p.Errors) != 1 || p.Errors[0].Pointer != "/series" {
		t.Errorf("errors: %v", p.Errors)
	}
}

func TestSeries(t *testing.T) {
	t.Parallel()
	b := start(t, nil).withSeries()
	b.want(200, "PUT", "/v1/series/HV%2F1+", strings.Replace(seriesJSON, `"max_c": 85`, `"max_c": 105`, 1))
	var list api.SeriesList
	b.want(200, "GET", "/v1/series", "").decode(t, &list)
	if len(list.Items) != 1 || list.Items[0].Name != "HV/1+" || *list.Items[0].MaxC != 105 {
		t.Errorf("series: %+v", list.Items)
	}
	p := b.want(422, "PUT", "/v1/series/other", seriesJSON).problem(t)
	if len(p.Errors) != 1 || p.Errors[0].Pointer != "/name" || p.Errors[0].Limit != `"other"` {
		t.Errorf("errors: %v", p.Errors)
	}
}

// NaN is no JSON, and yet a fault of a member rather than of the whole.
func TestNumbersThatAreNotFinite(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	for _, number := range []string{"NaN", "Infinity", "-Infinity", "1e999"} {
		p := b.want(422, "POST", "/v1/amps", strings.Replace(ampJSON, `"nominal_v": 230`, `"nominal_v": `+number, 1)).problem(t)
		if p.Errors[0].Pointer != "/mains/nominal_v" {
			t.Errorf("%s: %v", number, p.Errors)
		}
	}
}

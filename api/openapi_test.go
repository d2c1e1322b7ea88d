package api_test

import (
	"bytes"
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/getkin/kin-openapi/openapi3"

	"coldrise/api"
)

func TestDescriptionIsOpenAPI31(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	served := b.want(200, "GET", "/openapi.json", "")
	own, err := api.OpenAPI()
	if err != nil {
		t.Fatal(err)
	}
	if !bytes.Equal(served.body, own) {
		t.Error("the description served is not the one of the command")
	}
	doc, err := openapi3.NewLoader().LoadFromData(own)
	if err != nil {
		t.Fatal(err)
	}
	if doc.OpenAPI != "3.1.0" {
		t.Errorf("version %q", doc.OpenAPI)
	}
	if err := doc.Validate(t.Context(), openapi3.EnableExamplesValidation(), openapi3.EnableSchemaPatternValidation()); err != nil {
		t.Error(err)
	}
}

func TestDescriptionIsTheSameTwice(t *testing.T) {
	t.Parallel()
	first, err := api.OpenAPI()
	if err != nil {
		t.Fatal(err)
	}
	for range 3 {
		if again, _ := api.OpenAPI(); !bytes.Equal(first, again) {
			t.Fatal("two renderings differ")
		}
	}
}

// schema reaches into the description.
func schema(t *testing.T, path ...string) map[string]any {
	t.Helper()
	text, err := api.OpenAPI()
	if err != nil {
		t.Fatal(err)
	}
	var v map[string]any
	if err := json.Unmarshal(text, &v); err != nil {
		t.Fatal(err)
	}
	for _, step := range append([]string{"components", "schemas"}, path...) {
		next, ok := v[step].(map[string]any)
		if !ok {
			t.Fatalf("no %s in %v", step, path)
		}
		v = next
	}
	return v
}

func TestSchemasComeFromTheTypes(t *testing.T) {
	t.Parallel()
	rated := schema(t, "Part", "properties", "rated_v")
	if rated["x-unit"] != "V" || rated["minimum"] != 1.0 || rated["maximum"] != 10000.0 || rated["type"] != "number" {
		t.Errorf("rated_v of a part: %v", rated)
	}
	if surge := schema(t, "Part", "properties", "surge_v"); surge["type"] != "number" {
		t.Errorf("a member that is left out where not known takes null: %v", surge)
	}
	price := schema(t, "PartBreak", "properties", "unit_price")
	if price["type"] != "string" {
		t.Errorf("a price: %v", price)
	}
	if required, _ := schema(t, "DerateOverrides")["required"].([]any); len(required) > 0 {
		t.Errorf("changes to a policy require %v", required)
	}
	for _, name := range []string{"AmpNode", "PlanNode", "PlanPosition", "AmpPosition", "Problem", "StoredPart", "AmpPlanRequest"} {
		schema(t, name)
	}
}

func TestDescriptionHasNoNullsNoSchemaMembersNoForeignLinks(t *testing.T) {
	t.Parallel()
	text, err := api.OpenAPI()
	if err != nil {
		t.Fatal(err)
	}
	for _, bad := range []string{`"null"`, `"$schema"`, "http://", "https://", "patternDescription", "octet-stream"} {
		if strings.Contains(string(text), bad) {
			t.Errorf("the description contains %s", bad)
		}
	}
}

// Every document an operation takes is described, with the limit that is
// enforced; every change names the precondition it needs.
func TestOperationsAreDescribedWhole(t *testing.T) {
	t.Parallel()
	text, err := api.OpenAPI()
	if err != nil {
		t.Fatal(err)
	}
	doc, err := openapi3.NewLoader().LoadFromData(text)
	if err != nil {
		t.Fatal(err)
	}
	count := 0
	for path, item := range doc.Paths.Map() {
		for method, op := range item.Operations() {
			count++
			name := method + " " + path
			takes := method == "POST" || method == "PUT"
			if takes != (op.RequestBody != nil) {
				t.Errorf("%s: has a body described: %v", name, op.RequestBody != nil)
			}
			if takes && !strings.Contains(op.RequestBody.Value.Description, "1048576") {
				t.Errorf("%s: the limit is not in %q", name, op.RequestBody.Value.Description)
			}
			var header []string
			for _, p := range op.Parameters {
				if p.Value.In == "header" && p.Value.Required {
					header = append(header, p.Value.Name)
				}
			}
			if conditional := strings.HasSuffix(path, "{id}") && (method == "PUT" || method == "DELETE"); conditional != slices.Contains(header, "If-Match") {
				t.Errorf("%s: required header fields %v", name, header)
			}
			if op.Summary == "" || op.OperationID == "" {
				t.Errorf("%s: summary %q, id %q", name, op.Summary, op.OperationID)
			}
		}
	}
	if count != 25 {
		t.Errorf("%d operations", count)
	}
}

// The types of problem that /problems lists are the ones answers refer to.
func TestProblemTypesAreListed(t *testing.T) {
	t.Parallel()
	b := start(t, nil)
	var all api.ProblemTypes
	b.want(200, "GET", "/problems", "").decode(t, &all)
	if len(all.Items) != 15 {
		t.Errorf("%d types of problem, want one per code", len(all.Items))
	}
	for _, p := range all.Items {
		var one api.ProblemType
		b.want(200, "GET", p.Type, "").decode(t, &one)
		if one != p || one.Text == "" {
			t.Errorf("%s: %+v", p.Type, one)
		}
	}
	b.want(404, "GET", "/problems/nothing", "")
}

package api

import (
	"encoding/json"
	"fmt"
	"reflect"
	"strings"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"
)

// humaConfig is huma without what it would add of its own: no $schema
// members, no page that loads scripts from elsewhere, no fallback.
func humaConfig() huma.Config {
	c := huma.DefaultConfig("coldrise", Version)
	c.Info.Description = "Plans the recap of valve amplifiers: what each capacitor must withstand, what to fit, and what to order. " +
		"These supplies kill, plugged in or not; a plan carries its cautions, and they are part of it."
	c.OpenAPIPath, c.DocsPath, c.SchemasPath = "", "", ""
	c.CreateHooks = nil
	// "json" is how huma looks up the format of application/problem+json.
	c.Formats = map[string]huma.Format{jsonMedia: huma.DefaultJSONFormat, "json": huma.DefaultJSONFormat}
	c.Components = &huma.Components{Schemas: huma.NewMapRegistry("#/components/schemas/", schemaName)}
	c.OnAddOperation = []huma.AddOpFunc{describe}
	return c
}

// schemaName keeps apart the types of the domain that share a name, such as
// the node of an amplifier and the node of a plan: AmpNode, PlanNode.
func schemaName(t reflect.Type, hint string) string {
	name := huma.DefaultSchemaNamer(t, hint)
	for t.Kind() == reflect.Pointer || t.Kind() == reflect.Slice || t.Kind() == reflect.Array {
		t = t.Elem()
	}
	path, inDomain := strings.CutPrefix(t.PkgPath(), "coldrise/domain/")
	if !inDomain || path == "" {
		return name
	}
	prefix := strings.ToUpper(path[:1]) + path[1:]
	if strings.HasPrefix(name, prefix) {
		return name
	}
	return prefix + name
}

// describeAll renders the description once all operations are there.
func describeAll(oapi *huma.OpenAPI) ([]byte, error) {
	polish(oapi.Components.Schemas)
	text, err := json.MarshalIndent(oapi, "", " ")
	if err != nil {
		return nil, fmt.Errorf("rendering the OpenAPI description: %w", err)
	}
	return append(text, '\n'), nil
}

// unitKey is the extension that names the unit of a member.
const unitKey = "x-unit"

// polish copies the unit tags of the types into their schemas, and what huma
// says of a pattern in words into the description: its keyword is none of
// JSON Schema's.
func polish(schemas huma.Registry) {
	for name, schema := range schemas.Map() {
		t := schemas.TypeFromRef("#/components/schemas/" + name)
		if t == nil || t.Kind() != reflect.Struct {
			continue
		}
		// Members of embedded structs are the document's own.
		for _, f := range reflect.VisibleFields(t) {
			member, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			p := schema.Properties[member]
			if p == nil {
				continue
			}
			if unit := f.Tag.Get("unit"); unit != "" {
				p.Extensions = map[string]any{unitKey: unit}
			}
			if p.PatternDescription != "" {
				p.Description = strings.TrimPrefix(p.Description+"; "+p.PatternDescription, "; ")
				p.PatternDescription = ""
			}
		}
	}
}

func (s *service) answerSpec(c *gin.Context) {
	c.Data(200, jsonMedia, s.spec)
}

package api

import (
	"bytes"
	"context"
	"encoding/json"
	"net/http"
	"reflect"
	"strconv"

	"github.com/danielgtaylor/huma/v2"

	"coldrise/domain/problem"
)

// operation is one operation as /openapi.json describes it. Bodies pass
// through parsers of our own, which huma can't see; so their types stand here.
type operation struct {
	id, method, path string
	summary, text    string
	tag              string
	status           int          // of success; 200 where 0
	takes            reflect.Type // request document; nil takes none
	optional         bool         // the request document may be left out
	gives            reflect.Type // answer; nil gives none
	media            string       // of the answer; default application/json
	headers          []string     // of success
	conditional      bool         // answers 304
	errors           []int        // beside those every operation may give
}

// reply is a successful answer. Body is encoded before the status is sent, so
// that what cannot be encoded becomes an error and not half an answer.
type reply struct {
	Status      int
	ContentType string `header:"Content-Type"`
	ETag        string `header:"ETag"`
	Location    string `header:"Location"`
	Link        string `header:"Link"`
	Disposition string `header:"Content-Disposition"`
	Body        []byte
}

// describedKey is where the hook on the description finds its operation.
const describedKey = "described"

// register adds an operation. I is its parameters, and a document field where
// it takes a body.
func register[I any](s *service, o operation, handle func(context.Context, *I) (*reply, error)) {
	op := huma.Operation{
		OperationID: o.id, Method: o.method, Path: o.path,
		Summary: o.summary, Description: o.text, Tags: []string{o.tag},
		DefaultStatus: o.success(), Errors: o.failures(),
		MaxBodyBytes: s.limits.BodyBytes,
		Metadata:     map[string]any{describedKey: &o},
	}
	huma.Register(s.api, op, func(ctx context.Context, in *I) (*reply, error) {
		if err := queryFaults(ctx).Err("request"); err != nil {
			return nil, problemOf(ctx, err)
		}
		out, err := handle(ctx, in)
		if err != nil {
			return nil, problemOf(ctx, err)
		}
		return out, nil
	})
}

func (o *operation) success() int {
	if o.status == 0 {
		return http.StatusOK
	}
	return o.status
}

func (o *operation) answerMedia() string {
	switch {
	case o.gives == nil:
		return ""
	case o.media == "":
		return jsonMedia
	}
	return o.media
}

const jsonMedia = "application/json"

// failures lists the statuses an operation may fail with.
func (o *operation) failures() []int {
	all := append([]int{http.StatusBadRequest, http.StatusMisdirectedRequest}, o.errors...)
	if o.gives != nil {
		all = append(all, http.StatusNotAcceptable)
	}
	if o.method != http.MethodGet {
		all = append(all, http.StatusForbidden)
	}
	if o.takes != nil {
		all = append(all, http.StatusRequestEntityTooLarge, http.StatusUnsupportedMediaType)
	}
	return append(all, http.StatusUnprocessableEntity, http.StatusInternalServerError)
}

// encode gives v as JSON. What has no JSON form, such as a number that is not
// finite, is a fault of ours.
func encode(v any) ([]byte, error) {
	var b bytes.Buffer
	enc := json.NewEncoder(&b)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(v); err != nil {
		return nil, problem.Wrap(err, "encoding an answer")
	}
	return b.Bytes(), nil
}

// answer makes a reply of v as JSON.
func answer(status int, v any) (*reply, error) {
	body, err := encode(v)
	if err != nil {
		return nil, err
	}
	return &reply{Status: status, ContentType: jsonMedia, Body: body}, nil
}

// describe completes huma's description of an operation with the bodies.
func describe(oapi *huma.OpenAPI, op *huma.Operation) {
	o, ok := op.Metadata[describedKey].(*operation)
	if !ok {
		return
	}
	schemas := oapi.Components.Schemas
	done := &huma.Response{Description: http.StatusText(o.success())}
	if o.gives != nil {
		done.Content = map[string]*huma.MediaType{o.answerMedia(): {Schema: schemas.Schema(o.gives, true, "")}}
	}
	for _, name := range o.headers {
		if done.Headers == nil {
			done.Headers = map[string]*huma.Param{}
		}
		done.Headers[name] = &huma.Param{Schema: &huma.Schema{Type: huma.TypeString}}
	}
	op.Responses[strconv.Itoa(o.success())] = done
	if o.conditional {
		op.Responses["304"] = &huma.Response{Description: "The representation is the one If-None-Match names"}
	}
	if o.takes != nil {
		op.RequestBody = &huma.RequestBody{
			Required:    !o.optional,
			Description: "At most " + strconv.FormatInt(op.MaxBodyBytes, 10) + " bytes",
			Content:     map[string]*huma.MediaType{jsonMedia: {Schema: schemas.Schema(o.takes, true, "")}},
		}
	}
	for _, p := range op.Parameters {
		if p.In == "header" && p.Name == "If-Match" {
			p.Required = true
		}
	}
}

package api

import (
	"io"
	"mime"
	"strings"

	"github.com/danielgtaylor/huma/v2"

	"coldrise/domain/problem"
)

// body is the body of a request, read whole and not yet parsed. As a
// field of an operation's input it is read after the parameters, and what is
// wrong with it is reported together with them.
type body struct {
	raw []byte
}

// Resolve reads the body within the operation's limit.
func (d *body) Resolve(ctx huma.Context) []error {
	raw, err := readBody(ctx)
	if err != nil {
		return []error{err}
	}
	d.raw = raw
	return nil
}

func readBody(ctx huma.Context) ([]byte, error) {
	limit := ctx.Operation().MaxBodyBytes
	raw, err := io.ReadAll(io.LimitReader(ctx.BodyReader(), limit+1))
	switch {
	case int64(len(raw)) > limit:
		return nil, problem.New(problem.TooLarge, "the body is larger than %d bytes, which is the limit", limit)
	case err != nil:
		return nil, &problem.Error{Code: problem.Malformed, Message: "the body could not be read to its end", Cause: err}
	case len(raw) == 0 && ctx.Header("Content-Type") == "":
		return raw, nil // the operation decides whether it can do without
	}
	return raw, checkMedia(ctx.Header("Content-Type"), ctx.Header("Content-Encoding"))
}

// checkMedia takes JSON in UTF-8, said so.
func checkMedia(contentType, encoding string) error {
	if encoding != "" && !strings.EqualFold(encoding, "identity") {
		return problem.New(problem.Unsupported, "a body with a content encoding is not taken")
	}
	media, params, err := mime.ParseMediaType(contentType)
	if err != nil || media != jsonMedia {
		return problem.New(problem.Unsupported, "the body must be application/json, and Content-Type must say so")
	}
	if charset, ok := params["charset"]; ok && !strings.EqualFold(charset, "utf-8") {
		return problem.New(problem.Unsupported, "JSON is in UTF-8; another charset is not taken")
	}
	return nil
}

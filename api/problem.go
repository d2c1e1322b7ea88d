package api

import (
	"context"
	"encoding/json"
	"errors"
	"fmt"
	"net/http"
	"regexp"
	"strings"
	"sync"

	"github.com/danielgtaylor/huma/v2"
	"github.com/gin-gonic/gin"

	"coldrise/domain/problem"
)

// Problem is the body of every error: RFC 9457, application/problem+json.
type Problem struct {
	Type     string  `json:"type" doc:"A relative URI under /problems/; GET it to read what the code means" example:"/problems/invalid"`
	Title    string  `json:"title" doc:"The same for every problem of the type"`
	Status   int     `json:"status" doc:"The HTTP status"`
	Detail   string  `json:"detail" doc:"What happened this time"`
	Instance string  `json:"instance" doc:"The id of the request, as in the header X-Request-Id and in the log"`
	Errors   []Fault `json:"errors,omitempty" doc:"Every fault found, not only the first"`

	header http.Header
}

// Fault is one thing wrong with a request.
type Fault struct {
	Pointer string `json:"pointer" doc:"JSON pointer (RFC 6901) of the member at fault; of a parameter its place: query/limit, path/id, header/If-Match"`
	Message string `json:"message"`
	Value   string `json:"value,omitempty" doc:"What stood there, as JSON text, shortened"`
	Limit   string `json:"limit,omitempty" doc:"The bound that was passed"`
	Unit    string `json:"unit,omitempty" doc:"Unit of value and limit"`
}

// kind is what HTTP makes of a code.
type kind struct {
	code   problem.Code
	status int
	title  string
	text   string
}

// clientGone is what the log says where nobody is left to read an answer.
const clientGone = 499

// kinds is the one mapping from code to status, in the order /problems lists it.
var kinds = [...]kind{
	{problem.Malformed, http.StatusBadRequest, "The request cannot be read", "Not JSON at all, a query that is not encoded properly, or a field that breaks its grammar."},
	{problem.Forbidden, http.StatusForbidden, "The request comes from another site", "A browser sent it on behalf of a page of another origin. Only reading is open to those."},
	{problem.NotFound, http.StatusNotFound, "Not found", "There is no such thing in this shop, or no such route."},
	{problem.Method, http.StatusMethodNotAllowed, "The method is not allowed here", "The header Allow lists the methods that are."},
	{problem.Unacceptable, http.StatusNotAcceptable, "No acceptable form", "The Accept field leaves out every form this operation answers in."},
	{problem.Conflict, http.StatusConflict, "Already there or in use", "Another row has the same key."},
	{problem.Stale, http.StatusPreconditionFailed, "Changed since it was read", "Read it again, apply the change, and send the ETag of that reading. The answer's ETag is the current one."},
	{problem.TooLarge, http.StatusRequestEntityTooLarge, "Too large", "The detail names the limit that was enforced."},
	{problem.Unsupported, http.StatusUnsupportedMediaType, "The content type is not taken", "Send application/json in UTF-8, without a content encoding."},
	{problem.Misdirected, http.StatusMisdirectedRequest, "Not a host of this server", "The Host field names a server this one does not answer for."},
	{problem.Invalid, http.StatusUnprocessableEntity, "The request is wrong", "It was read, and has the faults in errors; nothing was stored."},
	{problem.Precondition, http.StatusPreconditionRequired, "The version must be named", "Send If-Match with the ETag of the reading the change is based on, or * for any."},
	{problem.Internal, http.StatusInternalServerError, "Internal error", "A fault of coldrise. The log has the cause under the id in instance."},
	{problem.Busy, http.StatusServiceUnavailable, "Busy", "Try again after the seconds in Retry-After."},
	{problem.Cancelled, http.StatusServiceUnavailable, "Stopped before it was done", "The deadline passed or the server is stopping."},
}

func kindOf(code problem.Code) kind {
	for _, k := range kinds {
		if k.code == code {
			return k
		}
	}
	return kindOf(problem.Internal)
}

// codeOfStatus gives the code huma means by a status of its own.
func codeOfStatus(status int) problem.Code {
	for _, k := range kinds {
		if k.status == status {
			return k.code
		}
	}
	return problem.Internal
}

// retryAfterS is how many seconds a busy server asks for.
const retryAfterS = "2"

// headed is an error whose answer carries a header.
type headed struct {
	error
	name, value string
}

func (h headed) Unwrap() error { return h.error }

// problemOf makes the answer to an error, and leaves the cause with the log.
// Nothing of a foreign error reaches the answer.
func problemOf(ctx context.Context, err error) *Problem {
	e := problem.As(err)
	if e.Code == problem.Internal && (errors.Is(err, context.Canceled) || errors.Is(err, context.DeadlineExceeded)) {
		e = &problem.Error{Code: problem.Cancelled, Message: "stopped before it was done", Cause: err}
	}
	k := kindOf(e.Code)
	sc := scopeOf(ctx)
	sc.code = e.Code
	if k.status >= http.StatusInternalServerError {
		sc.cause = err
	}
	p := &Problem{
		Type: typeURI(k.code), Title: k.title, Status: k.status,
		Detail: e.Message, Instance: sc.id, header: http.Header{},
	}
	if e.Code == problem.Internal {
		p.Detail = "internal error"
		return p
	}
	for _, f := range e.Faults {
		p.Errors = append(p.Errors, Fault(f))
	}
	if k.status == http.StatusServiceUnavailable {
		p.header.Set("Retry-After", retryAfterS)
	}
	var h headed
	if errors.As(err, &h) {
		p.header.Set(h.name, h.value)
	}
	return p
}

func typeURI(code problem.Code) string { return "/problems/" + string(code) }

// Error gives the detail.
func (p *Problem) Error() string { return p.Detail }

// GetStatus, GetHeaders and ContentType tell huma how to answer with it.
func (p *Problem) GetStatus() int            { return p.Status }
func (p *Problem) GetHeaders() http.Header   { return p.header }
func (p *Problem) ContentType(string) string { return problemMedia }

const problemMedia = "application/problem+json"

// writeProblem answers with err outside huma. What a handler had set for
// another answer is taken back.
func writeProblem(w http.ResponseWriter, r *http.Request, err error) {
	p := problemOf(r.Context(), err)
	body, marshalErr := json.Marshal(p)
	if marshalErr != nil { // strings and a number; cannot happen
		body = []byte("{}")
	}
	h := w.Header()
	for _, name := range []string{"ETag", "Location", "Link", "Content-Disposition", "Content-Length"} {
		h.Del(name)
	}
	for name, values := range p.header {
		h[name] = values
	}
	h.Set("Content-Type", problemMedia)
	w.WriteHeader(p.Status)
	_, _ = w.Write(append(body, '\n'))
}

var hookOnce sync.Once

// hook sets the globals of huma and gin that this package depends on, once:
// the error type, arrays that are never null, and no debug output.
func hook() {
	hookOnce.Do(func() {
		gin.SetMode(gin.ReleaseMode)
		huma.DefaultArrayNullable = false
		huma.NewErrorWithContext = func(ctx huma.Context, status int, _ string, errs ...error) huma.StatusError {
			return problemOf(ctx.Context(), fromHuma(ctx.Context(), status, errs))
		}
		huma.NewError = func(status int, _ string, errs ...error) huma.StatusError {
			return problemOf(context.Background(), fromHuma(context.Background(), status, errs))
		}
	})
}

// fromHuma gathers what huma found wrong with a request into one error of
// ours. An error that is more than a fault, such as a body too large, decides
// the code; a foreign one makes it internal.
func fromHuma(ctx context.Context, status int, errs []error) error {
	faults := queryFaults(ctx)
	for _, err := range errs {
		var detail *huma.ErrorDetail
		var ours *problem.Error
		switch {
		case errors.As(err, &ours) && ours.Code != problem.Invalid:
			return err
		case errors.As(err, &ours):
			for _, f := range ours.Faults {
				faults.Add(f)
			}
		case errors.As(err, &detail):
			faults.Add(inOurWords(detail))
		case err != nil:
			return problem.Wrap(err, "answering a request")
		}
	}
	if faults.Len() > 0 {
		return faults.Err("request")
	}
	code := codeOfStatus(status)
	return problem.New(code, "%s", strings.ToLower(kindOf(code).title))
}

// queryFaults are the faults of parameters that were found ahead of huma.
func queryFaults(ctx context.Context) *problem.List {
	var faults problem.List
	for _, f := range scopeOf(ctx).query {
		faults.Add(f)
	}
	return &faults
}

// wordings are huma's sentences about a parameter, and ours. A bound that
// stands in one goes into the fault's limit.
var wordings = []struct {
	theirs       *regexp.Regexp
	ours, limits string
}{
	{regexp.MustCompile(`^expected number >= (\S+)$`), "must be at least %s", "at least %s"},
	{regexp.MustCompile(`^expected number <= (\S+)$`), "must be at most %s", "at most %s"},
	{regexp.MustCompile(`^expected number > (\S+)$`), "must be above %s", "above %s"},
	{regexp.MustCompile(`^expected number < (\S+)$`), "must be below %s", "below %s"},
	{regexp.MustCompile(`^expected length >= (\d+)$`), "must have %s characters at least", "at least %s"},
	{regexp.MustCompile(`^expected length <= (\d+)$`), "may have %s characters at most", "at most %s"},
	{regexp.MustCompile(`^expected value to be one of "(.*)"$`), "must be one of %s", ""},
	{regexp.MustCompile(`^(?:invalid|expected) integer$`), "must be a whole number", ""},
	{regexp.MustCompile(`^invalid float|^expected number$`), "must be a number", ""},
	{regexp.MustCompile(`^(?:invalid|expected) boolean$`), "must be true or false", ""},
	{regexp.MustCompile(`^required \w+ parameter is missing$`), "is required", ""},
}

// inOurWords gives what huma found as a fault of ours. A sentence that is not
// known is foreign, and is not repeated.
func inOurWords(d *huma.ErrorDetail) problem.Fault {
	f := problem.Fault{Pointer: place(d.Location), Message: "is not what this operation takes", Value: shortJSON(d.Value)}
	for _, w := range wordings {
		m := w.theirs.FindStringSubmatch(d.Message)
		if m == nil {
			continue
		}
		f.Message = w.ours
		if len(m) > 1 {
			f.Message = fmt.Sprintf(w.ours, m[1])
		}
		if w.limits != "" {
			f.Limit = fmt.Sprintf(w.limits, m[1])
		}
		return f
	}
	return f
}

// place writes huma's query.limit as query/limit.
func place(location string) string { return strings.Replace(location, ".", "/", 1) }

const maxEcho = 80 // bytes of a value that an answer repeats

func shortJSON(v any) string {
	if v == nil || v == "" {
		return ""
	}
	text, err := json.Marshal(v)
	if err != nil {
		return ""
	}
	if len(text) > maxEcho {
		return strings.ToValidUTF8(string(text[:maxEcho]), "") + "…"
	}
	return string(text)
}

package api

import (
	"fmt"
	"net/http"
	"net/url"
	"sort"
	"strconv"
	"strings"
	"unicode/utf8"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humagin"

	"coldrise/domain/problem"
)

// checkAccept refuses a request whose Accept leaves out the one form its
// operation answers in.
func checkAccept(ctx huma.Context, next func(huma.Context)) {
	o, ok := ctx.Operation().Metadata[describedKey].(*operation)
	if offer := ""; ok {
		offer = o.answerMedia()
		if accept := ctx.Header("Accept"); offer != "" && !accepts(accept, offer) {
			refuse(ctx, problem.New(problem.Unacceptable, "this operation answers in %s only", offer))
			return
		}
	}
	next(ctx)
}

// accepts says whether an Accept field (RFC 9110 section 12.5.1) takes a media
// type. The most specific range decides; without a field everything is taken.
func accepts(field, offer string) bool {
	if strings.TrimSpace(field) == "" {
		return true
	}
	offer, _, _ = strings.Cut(offer, ";")
	group, _, _ := strings.Cut(offer, "/")
	best, taken := 0, false
	for _, item := range strings.Split(field, ",") {
		params := strings.Split(item, ";")
		specific := 0
		switch strings.ToLower(strings.TrimSpace(params[0])) {
		case offer:
			specific = 3
		case group + "/*":
			specific = 2
		case "*/*":
			specific = 1
		}
		if specific > best {
			best, taken = specific, quality(params[1:]) > 0
		}
	}
	return taken
}

// quality gives the weight among the parameters of a range; 1 where there is none.
func quality(params []string) float64 {
	for _, p := range params {
		name, value, _ := strings.Cut(p, "=")
		if strings.EqualFold(strings.TrimSpace(name), "q") {
			q, err := strconv.ParseFloat(strings.TrimSpace(value), 64)
			if err != nil {
				return 0
			}
			return q
		}
	}
	return 1
}

// checkQuery refuses a query that is not encoded properly, and finds parameters
// that stand twice (the second would be dropped silently) or that the operation
// does not have. These wait in the scope, so that they are told with whatever
// huma finds wrong with the others.
func checkQuery(ctx huma.Context, next func(huma.Context)) {
	u := ctx.URL()
	query, err := url.ParseQuery(u.RawQuery)
	if err != nil || !readable(u.Path) {
		refuse(ctx, problem.New(problem.Malformed, "the path or the query is not encoded properly"))
		return
	}
	known := map[string]bool{}
	for _, p := range ctx.Operation().Parameters {
		known[p.Name] = known[p.Name] || p.In == "query"
	}
	var faults []problem.Fault
	add := func(at, message string) { faults = append(faults, problem.Fault{Pointer: at, Message: message}) }
	for _, name := range sortedNames(query) {
		at := "query/" + name
		switch values := query[name]; {
		case len(values) > 1:
			add(at, fmt.Sprintf("is given %d times; once is taken", len(values)))
		case !readable(values[0]) || !readable(name):
			add(strings.ToValidUTF8(at, "�"), "is not text in UTF-8 without NUL")
		case !known[name]:
			add(at, "is no parameter of this operation")
		}
	}
	scopeOf(ctx.Context()).query = faults
	next(ctx)
}

func sortedNames(query url.Values) []string {
	names := make([]string, 0, len(query))
	for name := range query {
		names = append(names, name)
	}
	sort.Strings(names)
	return names
}

func readable(s string) bool { return utf8.ValidString(s) && !strings.ContainsRune(s, 0) }

func refuse(ctx huma.Context, err error) {
	c := humagin.Unwrap(ctx)
	writeProblem(c.Writer, c.Request, err)
}

// nextLink gives the Link field of a page: the same request with the next
// cursor, relative to this server; "" at the end of the list.
func nextLink(path string, query url.Values, next string) string {
	if next == "" {
		return ""
	}
	query.Set("cursor", next)
	return fmt.Sprintf("<%s?%s>; rel=\"next\"", path, query.Encode())
}

// notModified is the answer where the client has this representation already.
func notModified(etag string) *reply {
	return &reply{Status: http.StatusNotModified, ETag: etag}
}

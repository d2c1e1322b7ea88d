package api

import (
	"net"
	"net/http"
	"net/url"
	"strings"

	"github.com/gin-gonic/gin"

	"coldrise/domain/problem"
)

// protect keeps out what a page in somebody's browser could send to a server
// on the loopback interface, and makes plain what the routes rely on.
func (s *service) protect(next http.Handler) http.Handler {
	crossOrigin := http.NewCrossOriginProtection()
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Cache-Control", "no-store")
		h.Set("Content-Security-Policy", "default-src 'none'; frame-ancestors 'none'")
		h.Set("Referrer-Policy", "no-referrer")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		if !s.hosts[hostName(r.Host)] {
			writeProblem(w, r, problem.New(problem.Misdirected, "this server does not answer for the host named in the request"))
			return
		}
		if err := crossOrigin.Check(r); err != nil {
			writeProblem(w, r, &problem.Error{Code: problem.Forbidden, Cause: err,
				Message: "a page of another site may not change anything here"})
			return
		}
		next.ServeHTTP(w, plain(r))
	})
}

// hostName gives a Host without its port, lower case. A name that resolves to
// this machine only for the attacker's page (DNS rebinding) is not in the list.
func hostName(host string) string {
	if name, _, err := net.SplitHostPort(host); err == nil {
		host = name
	}
	return strings.ToLower(strings.Trim(host, "[]"))
}

// plain joins list fields that came on several lines into one, as RFC 9110
// section 5.3 has it, and turns HEAD into GET: net/http leaves out the body.
func plain(r *http.Request) *http.Request {
	r2 := *r
	r2.Header = r.Header.Clone()
	for _, name := range []string{"Accept", "If-Match", "If-None-Match"} {
		if lines := r2.Header.Values(name); len(lines) > 1 {
			r2.Header.Set(name, strings.Join(lines, ", "))
		}
	}
	if r2.Method == http.MethodHead {
		r2.Method = http.MethodGet
	}
	return &r2
}

// newEngine gives a router that answers problems for what it does not know
// and believes no proxy about addresses.
func newEngine() (*gin.Engine, error) {
	engine := gin.New()
	engine.HandleMethodNotAllowed = true
	engine.RedirectTrailingSlash = false
	// Routes are matched before %2F is decoded, so that a name may hold a slash.
	engine.UseRawPath = true
	engine.UnescapePathValues = false
	if err := engine.SetTrustedProxies(nil); err != nil {
		return nil, err
	}
	engine.Use(noteRoute, unescapeParams)
	engine.NoRoute(func(c *gin.Context) {
		writeProblem(c.Writer, c.Request, problem.New(problem.NotFound, "there is no such route; /openapi.json lists them"))
	})
	engine.NoMethod(func(c *gin.Context) {
		allow := c.Writer.Header().Get("Allow")
		if strings.Contains(allow, http.MethodGet) {
			c.Header("Allow", allow+", "+http.MethodHead)
		}
		writeProblem(c.Writer, c.Request, problem.New(problem.Method, "the route is there, and takes %s", c.Writer.Header().Get("Allow")))
	})
	return engine, nil
}

// unescapeParams decodes path parameters where the router saw them encoded.
// Gin's own decoding takes + for a space, which is right in a query only.
func unescapeParams(c *gin.Context) {
	if c.Request.URL.RawPath == "" {
		return
	}
	for i := range c.Params {
		value, err := url.PathUnescape(c.Params[i].Value)
		if err != nil {
			writeProblem(c.Writer, c.Request, problem.New(problem.Malformed, "the path is not encoded properly"))
			c.Abort()
			return
		}
		c.Params[i].Value = value
	}
}

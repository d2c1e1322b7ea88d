package api

import (
	"context"
	"fmt"
	"log/slog"
	"net/http"
	"regexp"
	"runtime/debug"
	"strings"
	"time"

	"github.com/gin-gonic/gin"

	"coldrise/domain/problem"
)

// scope is what one request leaves for its line in the log.
type scope struct {
	id    string
	route string          // template, never the path itself
	code  problem.Code    // of the answer; "" where it was no error
	query []problem.Fault // of parameters, found before huma looks at them
	cause error           // of an answer from 500 up
}

type scopeKey struct{}

// scopeOf gives the scope of a request; one nobody reads outside a request.
func scopeOf(ctx context.Context) *scope {
	if sc, ok := ctx.Value(scopeKey{}).(*scope); ok {
		return sc
	}
	return &scope{}
}

var requestID = regexp.MustCompile(`^[A-Za-z0-9._-]{8,64}$`)

// observe gives each request an id, a line in the log, and an answer where
// its handler panics.
func (s *service) observe(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		start := time.Now()
		sc := &scope{id: r.Header.Get("X-Request-Id")}
		if !requestID.MatchString(sc.id) {
			sc.id = s.newID()
		}
		w.Header().Set("X-Request-Id", sc.id)
		rec := &recorder{ResponseWriter: w}
		r = r.WithContext(context.WithValue(r.Context(), scopeKey{}, sc))
		abort := serveRecovering(next, rec, r, sc)
		s.logRequest(r, sc, rec, time.Since(start))
		if abort {
			panic(http.ErrAbortHandler)
		}
	})
}

// serveRecovering answers a panic with a problem. Where an answer had begun,
// nothing right can follow it: it says that the connection must be cut.
func serveRecovering(next http.Handler, rec *recorder, r *http.Request, sc *scope) (abort bool) {
	defer func() {
		v := recover()
		if v == nil {
			return
		}
		if err, ok := v.(error); ok && err == http.ErrAbortHandler { //nolint:errorlint // the value itself is the signal
			abort = true
			return
		}
		cause := fmt.Errorf("panic: %v\n%s", v, debug.Stack())
		if rec.status != 0 {
			sc.cause, abort = cause, true
			return
		}
		writeProblem(rec, r, problem.Wrap(cause, "answering"))
	}()
	next.ServeHTTP(rec, r)
	return false
}

func (s *service) logRequest(r *http.Request, sc *scope, rec *recorder, took time.Duration) {
	status := rec.status
	if sc.code == problem.Cancelled && r.Context().Err() != nil {
		status = clientGone
	}
	level := slog.LevelInfo
	attrs := []slog.Attr{
		slog.String("id", sc.id), slog.String("method", r.Method), slog.String("route", sc.route),
		slog.Int("status", status), slog.Int64("bytes", rec.bytes), slog.Float64("took_ms", float64(took.Microseconds())/1000),
	}
	if sc.code != "" {
		attrs = append(attrs, slog.String("code", string(sc.code)))
	}
	if sc.cause != nil {
		attrs = append(attrs, slog.String("cause", causeText(sc.cause)))
		level = slog.LevelError
	}
	s.log.LogAttrs(context.WithoutCancel(r.Context()), level, "request", attrs...)
}

// causeText gives the whole chain: a problem's own text leaves its cause out.
func causeText(err error) string {
	text := err.Error()
	if e := problem.As(err); e.Cause != nil && e.Cause.Error() != text {
		text += ": " + e.Cause.Error()
	}
	return text
}

// noteRoute tells the scope which route template answered.
func noteRoute(c *gin.Context) {
	parts := strings.Split(c.FullPath(), "/")
	for i, part := range parts {
		if name, ok := strings.CutPrefix(part, ":"); ok {
			parts[i] = "{" + name + "}"
		}
	}
	scopeOf(c.Request.Context()).route = strings.Join(parts, "/")
}

// recorder counts what is sent.
type recorder struct {
	http.ResponseWriter
	status int
	bytes  int64
}

func (rec *recorder) WriteHeader(status int) {
	if rec.status == 0 {
		rec.status = status
	}
	rec.ResponseWriter.WriteHeader(status)
}

func (rec *recorder) Write(b []byte) (int, error) {
	if rec.status == 0 {
		rec.status = http.StatusOK
	}
	n, err := rec.ResponseWriter.Write(b)
	rec.bytes += int64(n)
	return n, err
}

// Unwrap lets http.ResponseController reach the connection.
func (rec *recorder) Unwrap() http.ResponseWriter { return rec.ResponseWriter }

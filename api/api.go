// Package api answers coldrise's REST operations: parts, series, amplifiers,
// and the plans made for them. Every operation is described in /openapi.json
// from the same Go types; every error is an RFC 9457 problem document.
//
// New gives one http.Handler. It has no listener, no clock and no database of
// its own; cmd/coldrise brings those. It answers one shop, asks for no
// password, and is therefore meant for the loopback interface or for a proxy
// that authenticates.
package api

import (
	"errors"
	"io"
	"log/slog"
	"net/http"
	"runtime"
	"strings"
	"time"

	"github.com/danielgtaylor/huma/v2"
	"github.com/danielgtaylor/huma/v2/adapters/humagin"
	"github.com/gin-gonic/gin"
	"github.com/google/uuid"

	"coldrise/domain/plan"
	"coldrise/repo"
)

// Version is the version of the REST interface, as /openapi.json states it.
const Version = "0.1.0"

// Config is what New needs. Store must be set; every other zero member has
// the default its comment names.
type Config struct {
	Store  repo.Store
	Shop   repo.Shop        // whose rows are served; default repo.Bench
	Logger *slog.Logger     // one line per request; default none
	Clock  func() time.Time // default time.Now
	NewID  func() string    // ids of rows and requests, time-ordered; default UUIDv7
	// Hosts are the names this server answers for beside localhost, 127.0.0.1
	// and ::1, without a port. Any other Host is refused with 421.
	Hosts []string
	// Stopping, once closed, makes /readyz answer 503, so that a balancer
	// stops sending before the listener closes. nil never does.
	Stopping <-chan struct{}
	Limits   Limits
}

// Limits bound what one request may cost. Zero members take the default.
type Limits struct {
	BodyBytes   int64         // largest request body, in bytes; default DefaultBodyBytes
	PlanWorkers int           // plans computed at once; default the number of cores
	PlanQueue   int           // plans that may wait beside those, -1 for none; default DefaultPlanQueue
	PlanTime    time.Duration // longest time for one plan, waiting included; default DefaultPlanTime
	PlanSamples int           // draws that the bands of a plan rest on; default plan.DefaultSamples
}

// The default limits.
const (
	DefaultBodyBytes = 1 << 20
	DefaultPlanQueue = 16
	DefaultPlanTime  = 60 * time.Second
)

// service is what the operations share.
type service struct {
	store    repo.Store
	shop     repo.Shop
	log      *slog.Logger
	clock    func() time.Time
	newID    func() string
	hosts    map[string]bool
	stopping <-chan struct{}
	limits   Limits
	gate     *gate
	api      huma.API
	spec     []byte
}

// New gives the handler of the whole interface, or an error where the
// configuration has no store or the description cannot be made.
func New(c Config) (http.Handler, error) {
	if c.Store == nil {
		return nil, errors.New("api: no store is configured")
	}
	s, engine, err := build(c)
	if err != nil {
		return nil, err
	}
	return s.observe(s.protect(engine)), nil
}

// OpenAPI gives the OpenAPI 3.1 document of the interface, as /openapi.json
// answers it.
func OpenAPI() ([]byte, error) {
	s, _, err := build(Config{})
	if err != nil {
		return nil, err
	}
	return s.spec, nil
}

func build(c Config) (*service, *gin.Engine, error) {
	hook()
	s := newService(c)
	engine, err := newEngine()
	if err != nil {
		return nil, nil, err
	}
	s.api = humagin.New(engine, humaConfig())
	s.api.UseMiddleware(checkAccept, checkQuery)
	s.registerHealth()
	s.registerParts()
	s.registerSeries()
	s.registerAmps()
	s.registerPlans()
	s.registerPolicies()
	s.registerOldStock()
	if s.spec, err = describeAll(s.api.OpenAPI()); err != nil {
		return nil, nil, err
	}
	engine.GET("/openapi.json", s.answerSpec)
	return s, engine, nil
}

func newService(c Config) *service {
	s := &service{
		store: c.Store, shop: c.Shop, log: c.Logger, clock: c.Clock, newID: c.NewID,
		hosts: map[string]bool{}, stopping: c.Stopping, limits: c.Limits.withDefaults(),
	}
	if s.shop == "" {
		s.shop = repo.Bench
	}
	if s.log == nil {
		s.log = slog.New(slog.NewTextHandler(io.Discard, nil))
	}
	if s.clock == nil {
		s.clock = time.Now
	}
	if s.newID == nil {
		s.newID = NewID
	}
	for _, name := range append([]string{"localhost", "127.0.0.1", "::1"}, c.Hosts...) {
		s.hosts[strings.ToLower(name)] = true
	}
	s.gate = newGate(s.limits.PlanWorkers, s.limits.PlanQueue)
	return s
}

// NewID gives a UUIDv7: ids made later sort later.
func NewID() string { return uuid.Must(uuid.NewV7()).String() }

func (l Limits) withDefaults() Limits {
	if l.BodyBytes <= 0 {
		l.BodyBytes = DefaultBodyBytes
	}
	if l.PlanWorkers <= 0 {
		l.PlanWorkers = runtime.NumCPU()
	}
	if l.PlanQueue == 0 {
		l.PlanQueue = DefaultPlanQueue
	}
	l.PlanQueue = max(l.PlanQueue, 0)
	if l.PlanSamples <= 0 {
		l.PlanSamples = plan.DefaultSamples
	}
	if l.PlanTime <= 0 {
		l.PlanTime = DefaultPlanTime
	}
	return l
}

func (s *service) stamp() repo.Stamp { return repo.Stamp{At: s.now()} }

// now is the time in UTC and whole microseconds, which is what a store keeps.
func (s *service) now() time.Time { return s.clock().UTC().Truncate(time.Microsecond) }

// timeFormat is RFC 3339 with microseconds; times are always UTC.
const timeFormat = "2006-01-02T15:04:05.000000Z07:00"

func timeText(t time.Time) string { return t.UTC().Format(timeFormat) }

// serving says whether the service is not about to stop.
func (s *service) serving() bool {
	select {
	case <-s.stopping:
		return false
	default:
		return true
	}
}

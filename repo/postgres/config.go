package postgres

import (
	"context"
	"net/url"
	"runtime"
	"strings"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgtype"
	"github.com/jackc/pgx/v5/pgxpool"

	"coldrise/domain/problem"
)

// The pool's limits. A connection is a process of the server, which takes a
// hundred of them as it comes: so a replica has few, and several replicas fit.
const (
	connsPerCore = 4
	leastConns   = 8
	connLife     = time.Hour
	connJitter   = 10 * time.Minute // so that connections do not all end at once
	connIdle     = 5 * time.Minute
	dialTime     = 5 * time.Second
)

// settings are what every connection asks of the server, unless the URL says
// otherwise. The times are milliseconds.
var settings = map[string]string{
	"application_name":                    "coldrise",
	"timezone":                            "UTC",
	"statement_timeout":                   "30000",
	"lock_timeout":                        "5000",
	"idle_in_transaction_session_timeout": "60000",
}

// IsURL says whether a database is named as this engine's are.
func IsURL(name string) bool {
	return strings.HasPrefix(name, "postgres://") || strings.HasPrefix(name, "postgresql://")
}

// configure reads a connection URL. invalid: it is none. The URL may hold a
// password, so no part of it is told.
func configure(name string) (*pgxpool.Config, error) {
	u, err := url.Parse(name)
	if err != nil || !IsURL(name) {
		return nil, problem.New(problem.Invalid, "the database needs a URL such as postgres://user@host/database")
	}
	c, err := pgxpool.ParseConfig(name)
	if err != nil {
		return nil, &problem.Error{Code: problem.Invalid, Cause: err,
			Message: "the database's URL holds a parameter that cannot be read; it is postgres://user@host:port/database?parameter=value"}
	}
	given := u.Query()
	if !given.Has("pool_max_conns") {
		c.MaxConns = int32(max(leastConns, connsPerCore*runtime.GOMAXPROCS(0)))
	}
	if !given.Has("pool_max_conn_lifetime") {
		c.MaxConnLifetime = connLife
	}
	if !given.Has("pool_max_conn_lifetime_jitter") {
		c.MaxConnLifetimeJitter = connJitter
	}
	if !given.Has("pool_max_conn_idle_time") {
		c.MaxConnIdleTime = connIdle
	}
	if c.ConnConfig.ConnectTimeout == 0 {
		c.ConnConfig.ConnectTimeout = dialTime
	}
	for key, value := range settings {
		if _, ok := c.ConnConfig.RuntimeParams[key]; !ok {
			c.ConnConfig.RuntimeParams[key] = value
		}
	}
	c.AfterConnect = readInstantsInUTC
	return c, nil
}

// readInstantsInUTC keeps pgx from giving instants in the machine's own zone.
func readInstantsInUTC(_ context.Context, conn *pgx.Conn) error {
	conn.TypeMap().RegisterType(&pgtype.Type{Name: "timestamptz", OID: pgtype.TimestamptzOID, Codec: &pgtype.TimestamptzCodec{ScanLocation: time.UTC}})
	return nil
}

// Where names the database of a URL for people: never the user or the
// password; "" where the URL is none.
func Where(url string) string {
	c, err := configure(url)
	if err != nil {
		return ""
	}
	return whereIs(c.ConnConfig)
}

// whereIs names a database for people: never the user or the password.
func whereIs(c *pgx.ConnConfig) string { return c.Database + " on " + c.Host }

package postgres

import (
	"context"
	"fmt"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/jackc/pgx/v5"

	"coldrise/domain/problem"
	"coldrise/repo"
	"coldrise/repo/postgres/pgtest"
)

func TestEveryConnectionHasTheSettings(t *testing.T) {
	t.Parallel()
	s := fresh(t, "pool_max_conns=5&lock_timeout=1234")
	want := map[string]string{"application_name": "coldrise", "TimeZone": "UTC", "statement_timeout": "30s", "lock_timeout": "1234ms",
		"idle_in_transaction_session_timeout": "1min"}
	if s.pool.Config().MaxConns != 5 {
		t.Errorf("%d connections at most, want the URL's 5", s.pool.Config().MaxConns)
	}
	// All at once, so that the pool has to open each.
	for i := range 5 {
		conn, err := s.pool.Acquire(context.Background())
		if err != nil {
			t.Fatal(err)
		}
		defer conn.Release()
		for name, value := range want {
			var got string
			if err := conn.QueryRow(context.Background(), "SELECT current_setting($1)", name).Scan(&got); err != nil || got != value {
				t.Errorf("connection %d: %s is %q, want %q (%v)", i, name, got, value, err)
			}
		}
		var at time.Time
		if err := conn.QueryRow(context.Background(), "SELECT '2026-03-01 12:00:00+02'::timestamptz").Scan(&at); err != nil || at.Location() != time.UTC {
			t.Errorf("connection %d gives instants as %v (%v)", i, at, err)
		}
	}
}

func TestPoolIsLimitedWhereTheURLIsSilent(t *testing.T) {
	t.Parallel()
	c, err := configure("postgres://u@h/d")
	if err != nil {
		t.Fatal(err)
	}
	if c.MaxConns < leastConns || c.MaxConns > 1000 || c.MaxConnLifetime != connLife || c.MaxConnLifetimeJitter != connJitter || c.MaxConnIdleTime != connIdle {
		t.Errorf("%d connections of %v ± %v, idle %v", c.MaxConns, c.MaxConnLifetime, c.MaxConnLifetimeJitter, c.MaxConnIdleTime)
	}
}

func TestURLsThatOpenNothing(t *testing.T) {
	t.Parallel()
	const secret = "sesame-17"
	there := pgtest.Empty(t)
	for _, tt := range []struct {
		name, url string
		code      problem.Code
		words     string
	}{
		{"no URL", "bench.db", problem.Invalid, "needs a URL"},
		{"another scheme", "mysql://u:" + secret + "@h/d", problem.Invalid, "needs a URL"},
		{"a broken one", "postgres://u:" + secret + "@h:port/d", problem.Invalid, "URL"},
		{"a parameter that is no number", "postgres://u:" + secret + "@h/d?pool_max_conns=many", problem.Invalid, "parameter"},
		{"no database of the name", strings.Replace(there, "///test", "///none", 1), problem.Invalid, "there is no database none"},
		{"no user of the name", strings.Replace(there, "user=postgres", "user=nobody&password="+secret, 1), problem.Invalid, "does not let this user in"},
		{"nobody there", "postgres://u:" + secret + "@127.0.0.1:1/d", problem.Busy, "d on 127.0.0.1 cannot be reached"},
		{"no socket there", "postgres:///d?host=/nowhere&user=u&password=" + secret, problem.Busy, "cannot be reached"},
	} {
		_, err := Open(context.Background(), tt.url)
		if problem.CodeOf(err) != tt.code || err == nil || !strings.Contains(err.Error(), tt.words) {
			t.Errorf("%s: %v (%s), want %s with %q", tt.name, err, problem.CodeOf(err), tt.code, tt.words)
		}
		if cause := problem.As(err).Cause; strings.Contains(fmt.Sprint(err, cause), secret) {
			t.Errorf("%s: the password is told: %v (%v)", tt.name, err, cause)
		}
	}
	if shown := Where("postgres://u:" + secret + "@h:5433/d"); shown != "d on h" {
		t.Errorf("the database is shown as %q", shown)
	}
}

// failing makes the next n inserts of plans fail with a SQLSTATE. A sequence
// counts on where a transaction is undone.
func failing(t *testing.T, s *Store, n int, code string) {
	t.Helper()
	_, err := s.pool.Exec(context.Background(), fmt.Sprintf(`CREATE SEQUENCE fails;
		CREATE FUNCTION fail() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
			IF nextval('fails') <= %d THEN RAISE EXCEPTION 'as told' USING ERRCODE = '%s'; END IF;
			RETURN NEW; END $$;
		CREATE TRIGGER fail BEFORE INSERT ON plans FOR EACH ROW EXECUTE FUNCTION fail()`, n, code))
	if err != nil {
		t.Fatal(err)
	}
}

func TestTransactionsThatLoseAreDoneAgain(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		code  string
		fails int
		want  problem.Code // "": it succeeds in the end
	}{
		{serializationFailure, 1, ""}, {serializationFailure, tries - 1, ""}, {serializationFailure, tries, problem.Busy},
		{deadlock, 1, ""}, {featureNotSupported, 1, ""},
		{lockNotAvailable, 1, problem.Busy}, {queryCancelled, 1, problem.Busy}, {adminShutdown, 1, problem.Busy}, {"XX000", 1, problem.Internal},
	} {
		s := opened(t, pgtest.Empty(t))
		failing(t, s, tt.fails, tt.code)
		err := s.SavePlan(context.Background(), repo.Bench, repo.Plan{ID: "p", Document: []byte("{}")})
		if (err == nil) != (tt.want == "") || err != nil && problem.CodeOf(err) != tt.want {
			t.Errorf("%s, %d times: %v, want %q", tt.code, tt.fails, err, tt.want)
		}
		if err != nil && strings.Contains(err.Error(), "as told") {
			t.Errorf("foreign words: %v", err)
		}
	}
}

// A row that another transaction holds is waited for, up to the limit, and no
// longer than the context allows.
func TestLockPastTheWaitIsBusyAndAContextEndsIt(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	s := fresh(t, "lock_timeout=200")
	if _, err := s.CreateAmp(ctx, repo.Bench, "a", sampleAmp(), repo.Stamp{}); err != nil {
		t.Fatal(err)
	}
	hold := func() pgx.Tx {
		t.Helper()
		tx, err := s.pool.Begin(ctx)
		if err != nil {
			t.Fatal(err)
		}
		if _, err := tx.Exec(ctx, "SELECT version FROM amps FOR UPDATE"); err != nil {
			t.Fatal(err)
		}
		return tx
	}
	tx := hold()
	replace := func(ctx context.Context) error {
		_, err := s.ReplaceAmp(ctx, repo.Bench, "a", 1, sampleAmp(), repo.Stamp{})
		return err
	}
	if err := replace(ctx); problem.CodeOf(err) != problem.Busy {
		t.Errorf("%v, want busy", err)
	}
	short, cancel := context.WithTimeout(ctx, 50*time.Millisecond)
	defer cancel()
	if err := replace(short); problem.CodeOf(err) != problem.Cancelled {
		t.Errorf("%v, want cancelled", err)
	}
	done := make(chan error, 1)
	go func() { done <- replace(ctx) }()
	time.Sleep(20 * time.Millisecond)
	if err := tx.Commit(ctx); err != nil {
		t.Fatal(err)
	}
	if err := <-done; err != nil {
		t.Errorf("after the wait: %v", err)
	}
}

// A server that goes away and comes back is met as busy, and then as before.
func TestConnectionsThatAreCutAreMadeAgain(t *testing.T) {
	t.Parallel()
	ctx := context.Background()
	s := fresh(t, "")
	for range 3 {
		var cut int
		err := s.pool.QueryRow(ctx, `SELECT count(pg_terminate_backend(pid)) FROM pg_stat_activity WHERE datname = current_database() AND pid <> pg_backend_pid()`).Scan(&cut)
		if err != nil {
			t.Fatal(err)
		}
		for range 20 {
			if _, err := s.Series(ctx, repo.Bench); err != nil && problem.CodeOf(err) != problem.Busy {
				t.Fatalf("%v (cause: %v)", err, problem.As(err).Cause)
			}
		}
		if _, err := s.Series(ctx, repo.Bench); err != nil {
			t.Errorf("afterwards: %v (cause: %v)", err, problem.As(err).Cause)
		}
	}
}

// A pooler's parameters in the URL reach the pool, whatever their order.
func TestURLParametersAreKept(t *testing.T) {
	t.Parallel()
	for _, mode := range []string{"exec", "simple_protocol", "describe_exec", "cache_describe"} {
		c, err := configure("postgres://h/d?" + url.Values{"default_query_exec_mode": {mode}, "application_name": {"shop"}}.Encode())
		if err != nil {
			t.Fatal(err)
		}
		if got := c.ConnConfig.DefaultQueryExecMode.String(); strings.ReplaceAll(got, " ", "_") != mode || c.ConnConfig.RuntimeParams["application_name"] != "shop" {
			t.Errorf("mode %s, application %s", got, c.ConnConfig.RuntimeParams["application_name"])
		}
	}
}

package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"coldrise/domain/problem"
	"coldrise/repo"
)

// wantPragmas are read back from connections: 1 is NORMAL of synchronous, 2
// MEMORY of temp_store.
var wantPragmas = map[string]string{
	"busy_timeout": "5000", "foreign_keys": "1", "journal_mode": "wal", "synchronous": "1", "temp_store": "2", "trusted_schema": "0",
}

func TestEveryConnectionHasThePragmas(t *testing.T) {
	t.Parallel()
	s := fresh(t)
	for _, h := range []struct {
		name      string
		db        *sql.DB
		conns     int
		queryOnly string
	}{{"writer", s.writer, 1, "0"}, {"reader", s.reader, s.reader.Stats().MaxOpenConnections, "1"}} {
		if h.name == "reader" && h.conns < 4 {
			t.Errorf("%d readers at most; want 4 or more", h.conns)
		}
		// All at once, so that the pool has to open each.
		for i := range h.conns {
			conn, err := h.db.Conn(context.Background())
			if err != nil {
				t.Fatal(err)
			}
			defer conn.Close()
			want := map[string]string{"query_only": h.queryOnly}
			for name, value := range wantPragmas {
				want[name] = value
			}
			for name, value := range want {
				var got string
				if err := conn.QueryRowContext(context.Background(), "PRAGMA "+name).Scan(&got); err != nil || got != value {
					t.Errorf("%s %d: %s is %q, want %q (%v)", h.name, i, name, got, value, err)
				}
			}
		}
		if open := h.db.Stats().OpenConnections; open != h.conns {
			t.Errorf("%s: %d connections were open, want %d", h.name, open, h.conns)
		}
	}
}

func TestReadersCannotWrite(t *testing.T) {
	t.Parallel()
	s := fresh(t)
	if _, err := s.reader.ExecContext(context.Background(), "UPDATE probe SET writes = 99"); err == nil {
		t.Error("a reader wrote")
	}
}

func TestWriterHasOneConnectionAndStartsImmediately(t *testing.T) {
	t.Parallel()
	if s := fresh(t); s.writer.Stats().MaxOpenConnections != 1 {
		t.Errorf("%d connections may write", s.writer.Stats().MaxOpenConnections)
	}
	name := writerDSN("/x/a b?#%&.db")
	for _, want := range []string{"file:/x/a%20b%3F%23%25&.db?", "_txlock=immediate", "_dqs=0"} {
		if !strings.Contains(name, want) {
			t.Errorf("%s lacks %s", name, want)
		}
	}
	if strings.Contains(name+readerDSN("/x"), "cache=") {
		t.Error("a shared cache moves the lock, and does not take it away")
	}
}

// Two processes on one file: a transaction that reads before it writes waits
// for the other's, where a deferred one would be refused at once.
func TestWriterOfAnotherHandleIsWaitedFor(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "bench.db")
	a, b := opened(t, path), opened(t, path)
	ctx := context.Background()
	tx, err := a.writer.BeginTx(ctx, nil)
	if err != nil {
		t.Fatal(err)
	}
	done := make(chan error, 1)
	go func() { done <- b.SavePlan(ctx, repo.Bench, repo.Plan{ID: "p", Document: []byte("{}")}) }()
	select {
	case err := <-done:
		t.Fatalf("the other did not wait: %v", err)
	case <-time.After(200 * time.Millisecond):
	}
	if err := tx.Commit(); err != nil {
		t.Fatal(err)
	}
	if err := <-done; err != nil {
		t.Errorf("after the wait: %v", err)
	}
}

func TestLockPastTheWaitIsBusyAndAContextEndsIt(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "bench.db")
	s, holder := opened(t, path), opened(t, path)
	tx, err := holder.writer.BeginTx(context.Background(), nil)
	if err != nil {
		t.Fatal(err)
	}
	defer tx.Rollback() //nolint:errcheck // The test's own.

	short, cancel := context.WithTimeout(context.Background(), 100*time.Millisecond)
	defer cancel()
	begun := time.Now()
	err = s.SavePlan(short, repo.Bench, repo.Plan{ID: "p", Document: []byte("{}")})
	if problem.CodeOf(err) != problem.Cancelled || time.Since(begun) > 3*time.Second {
		t.Errorf("%v after %v, want cancelled well within the busy time", err, time.Since(begun))
	}
	if _, err := s.writer.ExecContext(context.Background(), "PRAGMA busy_timeout = 50"); err != nil {
		t.Fatal(err)
	}
	err = s.SavePlan(context.Background(), repo.Bench, repo.Plan{ID: "p", Document: []byte("{}")})
	if problem.CodeOf(err) != problem.Busy {
		t.Errorf("%v, want busy", err)
	}
	if text := err.Error(); strings.Contains(text, "SQLITE") || strings.Contains(text, "locked") {
		t.Errorf("foreign text came through: %s", text)
	}
}

func TestReadyWritesAtMostEveryFiveSeconds(t *testing.T) {
	t.Parallel()
	s := fresh(t)
	clock := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	s.probe = repo.NewProbe(func() time.Time { return clock })
	writes := func() (n int) {
		if err := s.reader.QueryRowContext(context.Background(), "SELECT writes FROM probe").Scan(&n); err != nil {
			t.Fatal(err)
		}
		return n
	}
	before := writes()
	for _, step := range []struct {
		after time.Duration
		want  int
	}{{0, 1}, {time.Second, 1}, {3999 * time.Millisecond, 1}, {time.Millisecond, 2}, {0, 2}, {time.Hour, 3}} {
		clock = clock.Add(step.after)
		if err := s.Ready(context.Background()); err != nil {
			t.Fatal(err)
		}
		if got := writes() - before; got != step.want {
			t.Errorf("at %v: %d writes, want %d", clock, got, step.want)
		}
	}
}

func TestReadyFailsWhereWritesDo(t *testing.T) {
	t.Parallel()
	s := fresh(t)
	s.probe = repo.NewProbe(time.Now)
	if _, err := s.writer.ExecContext(context.Background(), "PRAGMA query_only = 1"); err != nil {
		t.Fatal(err)
	}
	for range 2 { // The failed write does not count as one.
		if err := s.Ready(context.Background()); problem.CodeOf(err) != problem.Internal {
			t.Errorf("%v, want internal", err)
		}
	}
	if _, err := s.writer.ExecContext(context.Background(), "PRAGMA query_only = 0; DROP TABLE probe"); err != nil {
		t.Fatal(err)
	}
	if err := s.Ready(context.Background()); problem.CodeOf(err) != problem.Internal {
		t.Errorf("without the row to read: %v, want internal", err)
	}
}

func TestLibraryVersion(t *testing.T) {
	t.Parallel()
	for version, ok := range map[string]bool{
		"3.7.0": false, "3.40.1": false, "3.44.6": false, "3.51.2": false, "3.51.3": true, "3.51.99": true,
		"3.52.0": false, "3.52.1": false, "3.53.0": true, "3.54.1": true, "4.0.0": true, "": false, "new": false,
	} {
		if err := checkLibrary(version); (err == nil) != ok {
			t.Errorf("%q: %v", version, err)
		}
	}
}

// The queries of a large shop go by an index: none reads a table from end to
// end, and the page of a list is not sorted.
func TestQueriesUseAnIndex(t *testing.T) {
	t.Parallel()
	s := fresh(t)
	plan := func(query string, args ...any) string {
		rows, err := s.reader.QueryContext(context.Background(), "EXPLAIN QUERY PLAN "+query, args...)
		if err != nil {
			t.Fatal(err)
		}
		defer rows.Close()
		var steps []string
		for rows.Next() {
			var id, parent, unused int
			var step string
			if err := rows.Scan(&id, &parent, &unused, &step); err != nil {
				t.Fatal(err)
			}
			steps = append(steps, step)
		}
		return strings.Join(steps, "\n")
	}
	page := func(f repo.PartFilter, after ...any) string {
		query, args := partsPage(repo.Bench, f, after, 50)
		return plan(query, args...)
	}
	for _, tt := range []struct{ name, plan, want string }{
		{"first page", page(repo.PartFilter{}), "SEARCH p USING INDEX sqlite_autoindex_parts_2 (shop=?)"},
		{"later page", page(repo.PartFilter{}, "M", "1"), "SEARCH p USING INDEX sqlite_autoindex_parts_2 (shop=? AND (maker,part_number)>(?,?))"},
		{"first page by capacitance", page(repo.PartFilter{Order: repo.ByCapacitance}), "SEARCH p USING INDEX parts_by_capacitance (shop=?)"},
		{"later page by capacitance", page(repo.PartFilter{Order: repo.ByCapacitance}, 1.0, 2.0, "x"), "SEARCH p USING INDEX parts_by_capacitance (shop=? AND (capacitance_uf,rated_v,id)>(?,?,?))"},
		{"later page by rating", page(repo.PartFilter{Order: repo.ByRating}, 1.0, 2.0, "x"), "SEARCH p USING INDEX parts_by_rating (shop=? AND (rated_v,capacitance_uf,id)>(?,?,?))"},
		{"first page by change", page(repo.PartFilter{Order: repo.ByChange}), "SEARCH p USING INDEX parts_by_change (shop=?)"},
		{"later page by change", page(repo.PartFilter{Order: repo.ByChange}, int64(1), "x"), "SEARCH p USING INDEX parts_by_change (shop=? AND (changed_us,id)<(?,?))"},
		{"first page by price", page(repo.PartFilter{Order: repo.ByPrice, Currency: "GBP"}), "SEARCH c USING COVERING INDEX part_offers_by_price (shop=? AND currency=?)"},
		{"later page by price", page(repo.PartFilter{Order: repo.ByPrice, Currency: "GBP"}, int64(1), "x"), "SEARCH c USING COVERING INDEX part_offers_by_price (shop=? AND currency=? AND (price_micro,part_id)>(?,?))"},
		{"page of a maker", page(repo.PartFilter{Maker: "M"}), "SEARCH p USING INDEX sqlite_autoindex_parts_2 (shop=? AND maker=?)"},
		{"page by value", page(repo.PartFilter{MinUF: 10, MaxUF: 20, MinRatedV: 450, InStock: true}), "SEARCH p USING INDEX"},
		{"candidates, first sections", plan(candidateRows, "bench", `["film"]`, 1.0, 2.0, 450.0), "USING COVERING INDEX parts_by_value (shop=? AND technology=? AND capacitance_uf>? AND capacitance_uf<?)"},
		{"candidates, further sections", plan(candidateRows, "bench", `["film"]`, 1.0, 2.0, 450.0), "USING COVERING INDEX part_sections_by_value (shop=? AND capacitance_uf>? AND capacitance_uf<?)"},
	} {
		if !strings.Contains(tt.plan, tt.want) {
			t.Errorf("%s: %s\nis not in the plan:\n%s", tt.name, tt.want, tt.plan)
		}
		for line := range strings.Lines(tt.plan) {
			if strings.Contains(line, "SCAN p") || strings.Contains(line, "SCAN c") || (strings.HasPrefix(tt.name, "first") || strings.HasPrefix(tt.name, "later")) && strings.Contains(line, "TEMP B-TREE") {
				t.Errorf("%s: reads or sorts a whole table: %s", tt.name, line)
			}
		}
	}
}

// Instants are integers and no column has a type SQLite would guess at.
func TestSchemaRules(t *testing.T) {
	t.Parallel()
	s := fresh(t)
	rows, err := s.reader.QueryContext(context.Background(), `SELECT t.name, t.strict, c.name, c.type, c.pk FROM pragma_table_list AS t
		JOIN pragma_table_xinfo(t.name) AS c WHERE t.schema = 'main' AND t.type = 'table' AND t.name NOT IN ('schema_migrations', 'sqlite_schema')`)
	if err != nil {
		t.Fatal(err)
	}
	defer rows.Close()
	first := map[string]string{}
	for rows.Next() {
		var table, column, kind string
		var strict bool
		var key int
		if err := rows.Scan(&table, &strict, &column, &kind, &key); err != nil {
			t.Fatal(err)
		}
		if !strict {
			t.Errorf("%s is not STRICT", table)
		}
		if strings.HasSuffix(column, "_us") && kind != "INTEGER" {
			t.Errorf("%s.%s is %s", table, column, kind)
		}
		if key == 1 {
			first[table] = column
		}
	}
	if len(first) < 8 {
		t.Errorf("only %d tables have a key: %v", len(first), first)
	}
	for table, column := range first {
		if column != "shop" && table != "probe" {
			t.Errorf("the key of %s begins with %s, not with the shop", table, column)
		}
	}
}

func TestManyWorkersMeetNoError(t *testing.T) {
	t.Parallel()
	path := filepath.Join(t.TempDir(), "bench.db")
	stores := []*Store{opened(t, path), opened(t, path)}
	const workers, each = 20, 10
	errs := make(chan error, workers)
	for w := range workers {
		go func() {
			s := stores[w%len(stores)]
			for i := range each {
				if err := s.SavePlan(context.Background(), repo.Bench, repo.Plan{ID: fmt.Sprint(w, " ", i), Document: []byte("{}")}); err != nil {
					errs <- err
					return
				}
				if _, _, err := s.Plans(context.Background(), repo.Bench, "", repo.Page{Limit: 20}); err != nil {
					errs <- err
					return
				}
			}
			errs <- nil
		}()
	}
	for range workers {
		if err := <-errs; err != nil {
			t.Errorf("%v (cause: %v)", err, problem.As(err).Cause)
		}
	}
}

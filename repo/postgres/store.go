// Package postgres is repo.Store on PostgreSQL, for where one machine is
// outgrown: any number of processes share one database.
//
// Reads of several tables run in a snapshot of their own; changes lock the row
// they are about, so none is lost. Transactions that the server ends in favour
// of another are done again. Behind a pooler that shares connections between
// transactions, add default_query_exec_mode=exec to the URL.
package postgres

import (
	"context"
	"io/fs"
	"sync"
	"time"

	"github.com/jackc/pgx/v5/pgxpool"

	"coldrise/migrations"
	"coldrise/repo"
)

// Store is a repo.Store on a database.
type Store struct {
	calls
	pool   *pgxpool.Pool
	probe  *repo.Probe
	closed sync.Once
}

var _ repo.Store = (*Store)(nil)

// Open opens the database at a URL, postgres://user@host/database, and brings
// its schema up to this binary's. Processes that open one at once take turns.
// Parameters of the URL are those of PostgreSQL's own library, and pgx's
// pool_max_conns and its like. Besides cancelled, busy and internal it returns
//   - invalid: the URL is none, or the server refuses the user or has no such database;
//   - conflict: the schema is newer than this binary, and is then left
//     untouched, or it is not coldrise's.
func Open(ctx context.Context, url string) (*Store, error) {
	return open(ctx, url, migrations.Files)
}

func open(ctx context.Context, url string, files fs.FS) (*Store, error) {
	c, err := configure(url)
	if err != nil {
		return nil, err
	}
	where := whereIs(c.ConnConfig)
	if err := migrate(ctx, c.ConnConfig, files); err != nil {
		return nil, fault(ctx, opening(ctx, where, err), "migrate "+where)
	}
	s, err := connect(ctx, c)
	if err != nil {
		return nil, fault(ctx, opening(ctx, where, err), "open "+where)
	}
	return s, nil
}

// connect opens the pool and makes sure that it answers.
func connect(ctx context.Context, c *pgxpool.Config) (*Store, error) {
	pool, err := pgxpool.NewWithConfig(ctx, c)
	if err != nil {
		return nil, err
	}
	s := &Store{pool: pool, probe: repo.NewProbe(time.Now)}
	s.calls = calls{s}
	if err := s.Ready(ctx); err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

// Close lets go of the database, once what runs is done.
func (s *Store) Close() error {
	s.closed.Do(s.pool.Close)
	return nil
}

// Ready reads a row and, at most every five seconds, writes it.
func (s *Store) Ready(ctx context.Context) error {
	err := s.probe.Ask(ctx, func(ctx context.Context) error {
		var writes int64
		return s.pool.QueryRow(ctx, "SELECT writes FROM probe WHERE one = 1").Scan(&writes)
	}, func(ctx context.Context) error {
		_, err := s.pool.Exec(ctx, "UPDATE probe SET writes = writes + 1 WHERE one = 1")
		return err
	})
	return fault(ctx, err, "probe the database")
}

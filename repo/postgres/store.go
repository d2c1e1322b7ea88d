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
	"errors"
	"io/fs"
	"sync"
	"time"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"
	"github.com/jackc/pgx/v5/pgxpool"

	"coldrise/migrations"
	"coldrise/repo"
)

// tries is how often a transaction is done that the server ends in favour of another.
const tries = 4

// Store is a repo.Store on a database.
type Store struct {
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

// querier is what a transaction and a pool both do.
type querier interface {
	Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error)
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
	SendBatch(ctx context.Context, b *pgx.Batch) pgx.BatchResults
}

// changer is a querier that may write.
type changer interface {
	querier
	Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error)
}

// write runs fn in one transaction, which is committed where fn returns nil,
// and again where the server ends it in favour of another.
func (s *Store) write(ctx context.Context, shop repo.Shop, doing string, fn func(tx changer) error) error {
	return s.inside(ctx, shop, doing, pgx.TxOptions{}, fn)
}

// read runs fn on one snapshot, so that the several queries of fn agree.
func (s *Store) read(ctx context.Context, shop repo.Shop, doing string, fn func(q querier) error) error {
	snapshot := pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}
	return s.inside(ctx, shop, doing, snapshot, func(tx changer) error { return fn(tx) })
}

// ask runs fn, which makes one query, and so needs no transaction.
func (s *Store) ask(ctx context.Context, shop repo.Shop, doing string, fn func(q querier) error) error {
	if err := repo.CheckShop(shop); err != nil {
		return err
	}
	return fault(ctx, fn(s.pool), doing)
}

func (s *Store) inside(ctx context.Context, shop repo.Shop, doing string, options pgx.TxOptions, fn func(tx changer) error) error {
	if err := repo.CheckShop(shop); err != nil {
		return err
	}
	for try := 1; ; try++ {
		err := s.once(ctx, options, fn)
		if err == nil || !repeats(err) || try == tries || ctx.Err() != nil {
			return fault(ctx, err, doing)
		}
	}
}

func (s *Store) once(ctx context.Context, options pgx.TxOptions, fn func(tx changer) error) error {
	tx, err := s.pool.BeginTx(ctx, options)
	if err != nil {
		return err
	}
	// After Commit it does nothing. Without ctx's end, for the connection is good for others.
	defer tx.Rollback(context.WithoutCancel(ctx)) //nolint:errcheck // The connection goes where it fails.
	if err := fn(tx); err != nil {
		return err
	}
	return tx.Commit(ctx)
}

// atVersion refuses where the row of a table is not there, or is at another
// version, and locks it to the end of the transaction.
func atVersion(ctx context.Context, tx changer, table, what string, shop repo.Shop, id string, version int64) error {
	if !repo.IsText(id) {
		return repo.NotThere(what, id)
	}
	var have int64
	err := tx.QueryRow(ctx, "SELECT version FROM "+table+" WHERE shop = $1 AND id = $2 FOR UPDATE", shop, id).Scan(&have)
	switch {
	case errors.Is(err, pgx.ErrNoRows):
		return repo.NotThere(what, id)
	case err == nil && have != version:
		return repo.Changed(what, id, have, version)
	}
	return err
}

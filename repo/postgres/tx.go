package postgres

import (
	"context"
	"errors"

	"github.com/jackc/pgx/v5"
	"github.com/jackc/pgx/v5/pgconn"

	"coldrise/repo"
)

// calls are the methods of a store. in gives each its transaction: the store
// one of its own, a tx the one that all share.
type calls struct{ in transactions }

// transactions run what a method does.
type transactions interface {
	// write runs fn in a transaction that may change rows.
	write(ctx context.Context, shop repo.Shop, doing string, fn func(tx changer) error) error
	// read runs fn on one snapshot, so that the several queries of fn agree.
	read(ctx context.Context, shop repo.Shop, doing string, fn func(q querier) error) error
	// ask runs fn, which makes one query, and so needs no snapshot.
	ask(ctx context.Context, shop repo.Shop, doing string, fn func(q querier) error) error
}

// querier is what a transaction and a pool both do.
type querier interface {
	Query(ctx context.Context, sql string, args ...any) (pgx.Rows, error)
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
}

// changer is a querier that may write; Begin sets a mark to go back to.
type changer interface {
	querier
	Begin(ctx context.Context) (pgx.Tx, error)
	Exec(ctx context.Context, sql string, args ...any) (pgconn.CommandTag, error)
	SendBatch(ctx context.Context, b *pgx.Batch) pgx.BatchResults
	CopyFrom(ctx context.Context, table pgx.Identifier, columns []string, rows pgx.CopyFromSource) (int64, error)
}

// tries is how often a transaction is done that the server ends in favour of another.
const tries = 4

// write runs fn in one transaction, which is committed where fn returns nil,
// and again where the server ends it in favour of another.
func (s *Store) write(ctx context.Context, shop repo.Shop, doing string, fn func(tx changer) error) error {
	if err := repo.CheckShop(shop); err != nil {
		return err
	}
	return s.inside(ctx, doing, pgx.TxOptions{}, fn)
}

// snapshot is one that all queries of a transaction see.
var snapshot = pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}

func (s *Store) read(ctx context.Context, shop repo.Shop, doing string, fn func(q querier) error) error {
	if err := repo.CheckShop(shop); err != nil {
		return err
	}
	return s.inside(ctx, doing, snapshot, func(tx changer) error { return fn(tx) })
}

func (s *Store) ask(ctx context.Context, shop repo.Shop, doing string, fn func(q querier) error) error {
	if err := repo.CheckShop(shop); err != nil {
		return err
	}
	return fault(ctx, fn(s.pool), doing)
}

func (s *Store) inside(ctx context.Context, doing string, options pgx.TxOptions, fn func(tx changer) error) error {
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

// Update runs fn in one transaction.
func (s *Store) Update(ctx context.Context, fn func(t repo.Tx) error) error {
	return s.inside(ctx, "update", pgx.TxOptions{}, func(tx changer) error {
		t := &shared{tx: tx}
		t.calls = calls{t}
		err := fn(t)
		if t.spoilt != nil {
			return t.spoilt
		}
		return err
	})
}

// shared is a store within a transaction.
type shared struct {
	calls
	tx     changer
	spoilt error // the first refusal of a change: the server takes nothing more
}

var _ repo.Tx = (*shared)(nil)

func (t *shared) write(ctx context.Context, shop repo.Shop, doing string, fn func(tx changer) error) error {
	if t.spoilt != nil {
		return t.spoilt
	}
	err := repo.CheckShop(shop)
	if err == nil {
		err = fault(ctx, fn(t.tx), doing)
	}
	t.spoilt = err
	return err
}

func (t *shared) read(ctx context.Context, shop repo.Shop, doing string, fn func(q querier) error) error {
	if err := repo.CheckShop(shop); err != nil {
		return err
	}
	return fault(ctx, fn(t.tx), doing)
}

func (t *shared) ask(ctx context.Context, shop repo.Shop, doing string, fn func(q querier) error) error {
	return t.read(ctx, shop, doing, fn)
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

package sqlite

import (
	"context"
	"database/sql"

	"coldrise/repo"
)

// calls are the methods of a store. in gives each its transaction: the store
// one of its own, a tx the one that all share.
type calls struct{ in transactions }

// transactions run what a method does.
type transactions interface {
	// write runs fn in a transaction that may change rows.
	write(ctx context.Context, shop repo.Shop, doing string, fn func(tx *sql.Tx) error) error
	// read runs fn on one snapshot, so that the several queries of fn agree.
	read(ctx context.Context, shop repo.Shop, doing string, fn func(q querier) error) error
}

// querier is what a transaction and a handle both do.
type querier interface {
	QueryContext(ctx context.Context, query string, args ...any) (*sql.Rows, error)
	QueryRowContext(ctx context.Context, query string, args ...any) *sql.Row
}

// scanner is a row of a query for one or for many.
type scanner interface{ Scan(dest ...any) error }

// write runs fn in one transaction of the writer, which is committed where fn
// returns nil.
func (s *Store) write(ctx context.Context, shop repo.Shop, doing string, fn func(tx *sql.Tx) error) error {
	if err := repo.CheckShop(shop); err != nil {
		return err
	}
	return s.change(ctx, doing, fn)
}

// busyTries is how often a transaction is begun that other processes keep from
// the file; each try waits for busyMS.
const busyTries = 3

func (s *Store) change(ctx context.Context, doing string, fn func(tx *sql.Tx) error) error {
	tx, err := s.writer.BeginTx(ctx, nil)
	for try := 1; isBusy(err) && try < busyTries && ctx.Err() == nil; try++ {
		tx, err = s.writer.BeginTx(ctx, nil)
	}
	if err != nil {
		return fault(ctx, err, doing)
	}
	defer tx.Rollback() //nolint:errcheck // After Commit it does nothing.
	if err := fn(tx); err != nil {
		return fault(ctx, err, doing)
	}
	return fault(ctx, tx.Commit(), doing)
}

func (s *Store) read(ctx context.Context, shop repo.Shop, doing string, fn func(q querier) error) error {
	if err := repo.CheckShop(shop); err != nil {
		return err
	}
	tx, err := s.reader.BeginTx(ctx, &sql.TxOptions{ReadOnly: true})
	if err != nil {
		return fault(ctx, err, doing)
	}
	defer tx.Rollback() //nolint:errcheck // Nothing was written.
	return fault(ctx, fn(tx), doing)
}

// Update runs fn in one transaction.
func (s *Store) Update(ctx context.Context, fn func(t repo.Tx) error) error {
	return s.change(ctx, "update", func(tx *sql.Tx) error {
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
	tx     *sql.Tx
	spoilt error // the first refusal of a change: half of it may be done
}

var _ repo.Tx = (*shared)(nil)

func (t *shared) write(ctx context.Context, shop repo.Shop, doing string, fn func(tx *sql.Tx) error) error {
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

package postgres

import (
	"context"
	"errors"
	"io"
	"io/fs"

	"github.com/golang-migrate/migrate/v4/database"
	"github.com/jackc/pgx/v5"

	"coldrise/migrations"
)

// migrationLock orders processes that open one database at once. It is the
// letters "coldrise", and a lock of the database, not of the cluster.
const migrationLock = 0x636f6c6472697365

// migrate brings a database's schema up to the newest in files. All of it, the
// decision included, happens on one connection that holds the lock: a process
// that is killed leaves a server behind that may still be at a step, and the
// lock is free once that is over, not before.
func migrate(ctx context.Context, c *pgx.ConnConfig, files fs.FS) error {
	steps, err := migrations.Steps(files, migrations.Postgres)
	if err != nil {
		return err
	}
	conn, err := pgx.ConnectConfig(ctx, unhurried(c))
	if err != nil {
		return err
	}
	defer conn.Close(context.WithoutCancel(ctx)) //nolint:errcheck // It lets go of the lock either way.
	if _, err := conn.Exec(ctx, "SELECT pg_advisory_lock($1)", int64(migrationLock)); err != nil {
		return err
	}
	found, err := look(ctx, conn)
	if err != nil {
		return err
	}
	where := whereIs(c)
	// An older coldrise changes nothing, not even for a moment.
	if err := found.Newer(where, uint(len(steps))); err != nil {
		return err
	}
	prints, err := fingerprints(ctx, conn, steps)
	if err != nil {
		return err
	}
	from, err := found.From(where, prints)
	if err != nil || from == uint(len(steps)) && !found.Dirty {
		return err
	}
	// The driver has no context: a step that has begun is not disturbed.
	return migrations.Climb(ctx, files, migrations.Postgres, &driver{conn: conn, ctx: context.WithoutCancel(ctx)}, from, found.Dirty)
}

// unhurried is a connection for a migration, which may take its time; waiting
// for the lock ends with the caller's context.
func unhurried(c *pgx.ConnConfig) *pgx.ConnConfig {
	c = c.Copy()
	for _, limit := range []string{"statement_timeout", "lock_timeout", "idle_in_transaction_session_timeout"} {
		c.RuntimeParams[limit] = "0"
	}
	return c
}

// driver is golang-migrate's view of one connection. Its own driver for
// PostgreSQL takes a connection besides ours, waits for its lock whatever the
// context says, and runs on database/sql.
type driver struct {
	conn *pgx.Conn
	ctx  context.Context
}

var _ database.Driver = (*driver)(nil)

// Open is not used: the driver is made round a connection.
func (d *driver) Open(string) (database.Driver, error) { return nil, errors.ErrUnsupported }

// Drop is not used: nothing here takes a schema away.
func (d *driver) Drop() error { return errors.ErrUnsupported }

// Close leaves the connection to its owner.
func (d *driver) Close() error { return nil }

// Lock does nothing: the connection holds the lock.
func (d *driver) Lock() error { return nil }

// Unlock does nothing, as Lock.
func (d *driver) Unlock() error { return nil }

// Run runs the statements of a step in one transaction.
func (d *driver) Run(step io.Reader) error {
	text, err := io.ReadAll(step)
	if err != nil {
		return err
	}
	return pgx.BeginFunc(d.ctx, d.conn, func(tx pgx.Tx) error {
		if _, err := tx.Exec(d.ctx, versionTable); err != nil {
			return err
		}
		_, err := tx.Exec(d.ctx, string(text))
		return err
	})
}

const versionTable = "CREATE TABLE IF NOT EXISTS schema_migrations (version bigint NOT NULL PRIMARY KEY, dirty boolean NOT NULL)"

// SetVersion records a version; −1 is none.
func (d *driver) SetVersion(version int, dirty bool) error {
	return pgx.BeginFunc(d.ctx, d.conn, func(tx pgx.Tx) error {
		if _, err := tx.Exec(d.ctx, versionTable+"; DELETE FROM schema_migrations"); err != nil || version < 0 {
			return err
		}
		_, err := tx.Exec(d.ctx, "INSERT INTO schema_migrations (version, dirty) VALUES ($1, $2)", version, dirty)
		return err
	})
}

// Version gives the version recorded; −1 is none.
func (d *driver) Version() (int, bool, error) {
	s, err := recorded(d.ctx, d.conn)
	if s.Version == 0 {
		return database.NilVersion, s.Dirty, err
	}
	return int(s.Version), s.Dirty, err
}

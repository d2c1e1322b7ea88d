package postgres

import (
	"context"
	"fmt"
	"strings"

	"github.com/jackc/pgx/v5"

	"coldrise/migrations"
)

// look reads the state of a database without changing it.
func look(ctx context.Context, conn *pgx.Conn) (migrations.State, error) {
	var s migrations.State
	err := pgx.BeginTxFunc(ctx, conn, pgx.TxOptions{IsoLevel: pgx.RepeatableRead, AccessMode: pgx.ReadOnly}, func(tx pgx.Tx) (err error) {
		if s, err = recorded(ctx, tx); err != nil {
			return err
		}
		s.Print, err = fingerprint(ctx, tx)
		return err
	})
	return s, err
}

// rowQuerier is a connection or a transaction.
type rowQuerier interface {
	QueryRow(ctx context.Context, sql string, args ...any) pgx.Row
}

// recorded reads the version a database says it has; 0 is none.
func recorded(ctx context.Context, q rowQuerier) (migrations.State, error) {
	var s migrations.State
	var versioned bool
	err := q.QueryRow(ctx, `SELECT EXISTS (SELECT 1 FROM pg_class AS c JOIN pg_namespace AS n ON n.oid = c.relnamespace
		WHERE n.nspname = current_schema() AND c.relname = 'schema_migrations')`).Scan(&versioned)
	if err != nil || !versioned {
		return s, err
	}
	var version int64
	err = q.QueryRow(ctx, `SELECT coalesce(max(version), 0), coalesce(bool_or(dirty), false) FROM schema_migrations`).Scan(&version, &s.Dirty)
	s.Version = uint(max(version, 0))
	return s, err
}

// schemaText lists the tables of the current schema: their columns,
// constraints, indexes and triggers, a line each. Left out are the version's
// own table, the job queue's, what belongs to an extension, and views: those
// are the operator's. Since PostgreSQL 18 a NOT NULL is a constraint with a
// name as well; the column says it already.
const schemaText = `
WITH tables AS (
	SELECT c.oid, c.relname, c.relkind FROM pg_class AS c JOIN pg_namespace AS n ON n.oid = c.relnamespace
	WHERE n.nspname = current_schema() AND c.relkind IN ('r', 'p', 'f') AND c.relname <> 'schema_migrations' AND NOT starts_with(c.relname, $1)
		AND NOT EXISTS (SELECT 1 FROM pg_depend AS d WHERE d.classid = 'pg_class'::regclass AND d.objid = c.oid AND d.deptype = 'e')
)
SELECT line FROM (
	SELECT format('table %s %s', relname, relkind) AS line FROM tables
	UNION ALL
	SELECT format('column %s %s %s %s not null %s collate %s default %s generated %s', t.relname, row_number() OVER (PARTITION BY t.oid ORDER BY a.attnum),
			a.attname, format_type(a.atttypid, a.atttypmod), a.attnotnull, coalesce(l.collname, '-'), coalesce(pg_get_expr(d.adbin, d.adrelid), '-'),
			a.attgenerated::text || a.attidentity::text)
		FROM tables AS t JOIN pg_attribute AS a ON a.attrelid = t.oid AND a.attnum > 0 AND NOT a.attisdropped
		LEFT JOIN pg_collation AS l ON l.oid = a.attcollation LEFT JOIN pg_attrdef AS d ON d.adrelid = t.oid AND d.adnum = a.attnum
	UNION ALL
	SELECT format('constraint %s %s %s', t.relname, c.conname, pg_get_constraintdef(c.oid, true))
		FROM tables AS t JOIN pg_constraint AS c ON c.conrelid = t.oid AND c.contype <> 'n'
	UNION ALL
	SELECT format('index %s %s', t.relname, pg_get_indexdef(i.indexrelid, 0, true)) FROM tables AS t JOIN pg_index AS i ON i.indrelid = t.oid
	UNION ALL
	SELECT format('trigger %s %s', t.relname, g.tgname) FROM tables AS t JOIN pg_trigger AS g ON g.tgrelid = t.oid AND NOT g.tgisinternal
) AS lines ORDER BY line COLLATE "C"`

// fingerprint gives the text of the current schema's tables, which is the same
// in whatever schema they stand.
func fingerprint(ctx context.Context, tx pgx.Tx) (string, error) {
	var schema *string
	if err := tx.QueryRow(ctx, "SELECT current_schema()").Scan(&schema); err != nil {
		return "", err
	}
	if schema == nil {
		return "", fmt.Errorf("no schema of the search path is there")
	}
	rows, err := tx.Query(ctx, schemaText, migrations.QueueTables)
	if err != nil {
		return "", err
	}
	lines, err := pgx.CollectRows(rows, pgx.RowTo[string])
	if err != nil || len(lines) == 0 {
		return "", err
	}
	return strings.ReplaceAll(strings.Join(lines, "\n"), *schema+".", "") + "\n", nil
}

// fingerprints gives the fingerprint of every version from 0 on, by making
// each of temporary tables that are gone with the transaction. So there is no
// second list of them to keep, and it is this server's own wording.
func fingerprints(ctx context.Context, conn *pgx.Conn, steps []migrations.Step) ([]string, error) {
	tx, err := conn.Begin(ctx)
	if err != nil {
		return nil, err
	}
	defer tx.Rollback(context.WithoutCancel(ctx)) //nolint:errcheck // The connection goes where it fails.
	if _, err := tx.Exec(ctx, "SET LOCAL search_path = pg_temp"); err != nil {
		return nil, err
	}
	prints := []string{""}
	for _, s := range steps {
		if _, err := tx.Exec(ctx, s.Up); err != nil {
			return nil, fmt.Errorf("schema version %d: %w", s.Version, err)
		}
		p, err := fingerprint(ctx, tx)
		if err != nil {
			return nil, err
		}
		prints = append(prints, p)
	}
	return prints, nil
}

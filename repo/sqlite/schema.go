package sqlite

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"strings"
	"unicode"

	codes "modernc.org/sqlite/lib"

	"coldrise/domain/problem"
	"coldrise/migrations"
)

// leastPage is the smallest page of an SQLite file, in bytes (sqlite.org/fileformat2.html).
const leastPage = 512

// look reads the state of a file without changing it. A file that is not
// there, or is empty, is at version 0.
func look(ctx context.Context, file string) (migrations.State, error) {
	info, err := os.Stat(file)
	if err != nil || info.Size() == 0 {
		return migrations.State{}, nil
	}
	if info.Size() < leastPage {
		// SQLite itself would take it for an empty database, and write over it.
		return migrations.State{}, noDatabase(file, nil)
	}
	s, err := lookThrough(ctx, dsn(file, []string{writerPragmas[0]}, "mode=ro"))
	// A journal that a killed process left must be rolled back, and one of a
	// file not yet in WAL mode only a connection that may write can.
	if unopened(err) {
		s, err = lookThrough(ctx, dsn(file, []string{writerPragmas[0], "query_only(1)"}, "mode=rw"))
	}
	return s, opening(file, err)
}

func lookThrough(ctx context.Context, name string) (migrations.State, error) {
	db, err := sql.Open(driverName, name)
	if err != nil {
		return migrations.State{}, err
	}
	defer db.Close()
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return migrations.State{}, err
	}
	defer tx.Rollback() //nolint:errcheck // Nothing was written.
	var s migrations.State
	if s.Print, err = fingerprint(ctx, tx); err != nil {
		return migrations.State{}, err
	}
	var versioned bool
	err = tx.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = 'schema_migrations'`).Scan(&versioned)
	if err != nil || !versioned {
		return s, err
	}
	var version int64
	err = tx.QueryRowContext(ctx, `SELECT coalesce(max(version), 0), coalesce(max(dirty), 0) FROM schema_migrations`).Scan(&version, &s.Dirty)
	s.Version = uint(max(version, 0))
	return s, err
}

// fingerprint gives the text of all tables, indexes, triggers and views,
// without white space and quotes: those are what SQLite itself may change
// where an ALTER TABLE rewrites the text. The job queue's tables are left out.
func fingerprint(ctx context.Context, q querier) (string, error) {
	rows, err := q.QueryContext(ctx, `SELECT type || ' ' || name || ' ' || tbl_name || ' ' || coalesce(sql, '') FROM sqlite_schema
		WHERE tbl_name <> 'schema_migrations' AND name NOT LIKE 'sqlite\_%' ESCAPE '\' AND substr(tbl_name, 1, ?) <> ? ORDER BY type, name`,
		len(migrations.QueueTables), migrations.QueueTables)
	if err != nil {
		return "", err
	}
	defer rows.Close()
	var all strings.Builder
	for rows.Next() {
		var text string
		if err := rows.Scan(&text); err != nil {
			return "", err
		}
		all.WriteString(text + "\n")
	}
	return strings.Map(func(r rune) rune {
		if unicode.IsSpace(r) || r == '"' {
			return -1
		}
		return r
	}, all.String()), rows.Err()
}

// fingerprints gives the fingerprint of every version from 0 on, by making
// each in memory: so there is no second list of them to keep.
func fingerprints(ctx context.Context, steps []migrations.Step) ([]string, error) {
	db, err := sql.Open(driverName, "file::memory:?_dqs=0")
	if err != nil {
		return nil, err
	}
	defer db.Close()
	db.SetMaxOpenConns(1)
	var version string
	if err := db.QueryRowContext(ctx, "SELECT sqlite_version()").Scan(&version); err != nil {
		return nil, err
	}
	if err := checkLibrary(version); err != nil {
		return nil, err
	}
	prints := []string{""}
	for _, s := range steps {
		if _, err := db.ExecContext(ctx, s.Up); err != nil {
			return nil, fmt.Errorf("schema version %d: %w", s.Version, err)
		}
		p, err := fingerprint(ctx, db)
		if err != nil {
			return nil, err
		}
		prints = append(prints, p)
	}
	return prints, nil
}

// checkLibrary refuses an SQLite that can damage a file. Up to 3.51.2 a
// restart of the log could lose commits (sqlite.org/wal.html, "the WAL-reset
// bug"); 3.52 was withdrawn (sqlite.org/changes.html).
func checkLibrary(version string) error {
	var major, minor, patch int
	if _, err := fmt.Sscanf(version, "%d.%d.%d", &major, &minor, &patch); err != nil {
		return fmt.Errorf("SQLite calls itself version %q", version)
	}
	number := major*1_000_000 + minor*1000 + patch
	if number < 3_051_003 || number/1000 == 3_052 {
		return fmt.Errorf("built with SQLite %s; 3.51.3 or later is needed, and not 3.52", version)
	}
	return nil
}

// opening says in our words why a file could not be opened; other errors, and
// nil, pass.
func opening(file string, err error) error {
	switch code := codeOf(err) & 0xff; {
	case unopened(err):
		return unreachable(file, err)
	case code == codes.SQLITE_NOTADB:
		return noDatabase(file, err)
	case code == codes.SQLITE_CORRUPT:
		return &problem.Error{Code: problem.Invalid, Message: "the database " + file + " is damaged; put a copy in its place", Cause: err}
	}
	return err
}

func noDatabase(file string, cause error) error {
	return &problem.Error{Code: problem.Invalid, Message: file + " is not an SQLite database", Cause: cause}
}

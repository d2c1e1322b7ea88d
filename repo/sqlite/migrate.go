package sqlite

import (
	"context"
	"database/sql"
	"io/fs"

	engine "github.com/golang-migrate/migrate/v4/database/sqlite"

	"coldrise/migrations"
)

// migrate brings the schema of a file up to the newest in files. All of it,
// the decision included, happens under the lock between processes.
func migrate(ctx context.Context, file string, files fs.FS) error {
	steps, err := migrations.Steps(files, migrations.SQLite)
	if err != nil {
		return err
	}
	prints, err := fingerprints(ctx, steps)
	if err != nil {
		return err
	}
	unlock, err := lockFile(ctx, file)
	if err != nil {
		return err
	}
	defer unlock()
	found, err := look(ctx, file)
	if err != nil {
		return err
	}
	from, err := found.From(file, prints)
	if err != nil {
		return err
	}
	if from == uint(len(steps)) && !found.Dirty {
		return nil
	}
	return opening(file, climb(ctx, file, files, from, found.Dirty))
}

// climb applies what is missing after version from, on a handle of its own:
// golang-migrate closes the handle it is given.
func climb(ctx context.Context, file string, files fs.FS, from uint, force bool) error {
	db, err := sql.Open(driverName, writerDSN(file))
	if err != nil {
		return err
	}
	db.SetMaxOpenConns(1)
	inner, err := engine.WithInstance(db, &engine.Config{})
	if err != nil {
		db.Close()
		return err
	}
	return migrations.Climb(ctx, files, migrations.SQLite, inner, from, force)
}

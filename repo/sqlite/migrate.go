package sqlite

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"

	migrator "github.com/golang-migrate/migrate/v4"
	"github.com/golang-migrate/migrate/v4/database"
	engine "github.com/golang-migrate/migrate/v4/database/sqlite"
	"github.com/golang-migrate/migrate/v4/source/iofs"

	"coldrise/domain/problem"
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
	from, err := startingVersion(file, found, prints)
	if err != nil {
		return err
	}
	if from == uint(len(steps)) && !found.dirty {
		return nil
	}
	return opening(file, climb(ctx, file, files, from, found.dirty))
}

// startingVersion gives the version a file is at. The recorded version counts
// only where the tables are really those; a dirty one is settled by the
// tables alone, for it may mean "undone" as well as "done, and the flag left".
func startingVersion(file string, found state, prints []string) (uint, error) {
	newest := uint(len(prints) - 1)
	switch {
	case found.version > newest:
		return 0, problem.New(problem.Conflict,
			"the database %s is at schema version %d, and this coldrise knows %d at most: use the coldrise that wrote it, or a newer one; the file was left as it is",
			file, found.version, newest)
	case !found.dirty && found.print == prints[found.version]:
		return found.version, nil
	case !found.dirty && found.version == 0:
		return 0, problem.New(problem.Conflict, "the database %s holds tables that are not coldrise's", file)
	case !found.dirty:
		return 0, problem.New(problem.Conflict,
			"the tables of the database %s are not those of its schema version %d: something else has changed them", file, found.version)
	}
	match := -1
	for v, p := range prints {
		if p != found.print {
			continue
		}
		if match >= 0 {
			return 0, undecided(file, found.version)
		}
		match = v
	}
	if match < 0 {
		return 0, undecided(file, found.version)
	}
	return uint(match), nil
}

func undecided(file string, version uint) error {
	return problem.New(problem.Conflict,
		"a migration of the database %s to schema version %d was broken off, and its tables do not tell how far it came: put a copy in its place", file, version)
}

// climb applies what is missing after version from, on a handle of its own:
// golang-migrate closes the handle it is given.
func climb(ctx context.Context, file string, files fs.FS, from uint, force bool) error {
	source, err := iofs.New(files, migrations.SQLite)
	if err != nil {
		return err
	}
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
	m, err := migrator.NewWithInstance("iofs", source, driverName, &wholeSteps{Driver: inner})
	if err != nil {
		db.Close()
		return err
	}
	if err := errors.Join(up(ctx, m, from, force), closeMigrator(m)); err != nil {
		return fmt.Errorf("from schema version %d: %w", from, err)
	}
	// Up ends without an error where it was told to stop.
	return ctx.Err()
}

func up(ctx context.Context, m *migrator.Migrate, from uint, force bool) error {
	if force {
		version := int(from)
		if from == 0 {
			version = -1 // golang-migrate's word for "none".
		}
		if err := m.Force(version); err != nil {
			return err
		}
	}
	stop := context.AfterFunc(ctx, func() {
		select {
		case m.GracefulStop <- true:
		default:
		}
	})
	defer stop()
	if err := m.Up(); !errors.Is(err, migrator.ErrNoChange) {
		return err
	}
	return nil
}

func closeMigrator(m *migrator.Migrate) error {
	source, db := m.Close()
	return errors.Join(source, db)
}

// wholeSteps records the version in the transaction that makes it.
// golang-migrate by itself writes the new version first, marked dirty, and
// takes the mark away in a third transaction: killed in between, or refused,
// the file would stay dirty although the step was undone, and no start would
// touch it again.
type wholeSteps struct {
	database.Driver
	target int
}

// SetVersion records a version; one marked dirty is kept until Run.
func (w *wholeSteps) SetVersion(version int, dirty bool) error {
	if dirty {
		w.target = version
		return nil
	}
	return w.Driver.SetVersion(version, false)
}

// Run applies one step and its version, which the driver does in one transaction.
func (w *wholeSteps) Run(step io.Reader) error {
	record := "\n;DELETE FROM schema_migrations;"
	if w.target >= 0 {
		record += fmt.Sprintf("INSERT INTO schema_migrations (version, dirty) VALUES (%d, 0);", w.target)
	}
	return w.Driver.Run(io.MultiReader(step, strings.NewReader(record)))
}

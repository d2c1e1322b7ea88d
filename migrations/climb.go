package migrations

import (
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"strings"

	migrator "github.com/golang-migrate/migrate/v4"
	"github.com/golang-migrate/migrate/v4/database"
	"github.com/golang-migrate/migrate/v4/source/iofs"

	"coldrise/domain/problem"
)

// State is what is found in a database ahead of a migration.
type State struct {
	Version uint
	Dirty   bool   // another tool was stopped, or failed, in the middle
	Print   string // the tables and indexes there are, whatever the version says
}

// QueueTables is how the names of the job queue's tables begin. They are in
// no fingerprint: the queue brings migrations of its own.
const QueueTables = "river_"

// From gives the version a database is at. prints are the fingerprints of the
// versions from 0 on, and where names the database in errors. The recorded
// version counts only where the tables are really those; a dirty one is
// settled by the tables alone, for it may mean "undone" as well as "done, and
// the flag left". conflict: it is newer than prints, not coldrise's, or
// nothing settles it.
func (s State) From(where string, prints []string) (uint, error) {
	if err := s.Newer(where, uint(len(prints)-1)); err != nil {
		return 0, err
	}
	switch {
	case !s.Dirty && s.Print == prints[s.Version]:
		return s.Version, nil
	case !s.Dirty && s.Version == 0:
		return 0, problem.New(problem.Conflict, "the database %s holds tables that are not coldrise's", where)
	case !s.Dirty:
		return 0, problem.New(problem.Conflict,
			"the tables of the database %s are not those of its schema version %d: something else has changed them", where, s.Version)
	}
	match := -1
	for v, p := range prints {
		if p != s.Print {
			continue
		}
		if match >= 0 {
			return 0, s.undecided(where)
		}
		match = v
	}
	if match < 0 {
		return 0, s.undecided(where)
	}
	return uint(match), nil
}

// Newer is conflict where a database is past the newest version known.
func (s State) Newer(where string, newest uint) error {
	if s.Version <= newest {
		return nil
	}
	return problem.New(problem.Conflict,
		"the database %s is at schema version %d, and this coldrise knows %d at most: use the coldrise that wrote it, or a newer one; the database was left as it is",
		where, s.Version, newest)
}

func (s State) undecided(where string) error {
	return problem.New(problem.Conflict,
		"a migration of the database %s to schema version %d was broken off, and its tables do not tell how far it came: put a copy in its place", where, s.Version)
}

// Climb applies to a database what a folder has after version from, and
// closes the driver. force says that the version recorded is not from, and is
// to be set. It stops between two steps where ctx ends.
func Climb(ctx context.Context, files fs.FS, folder string, driver database.Driver, from uint, force bool) error {
	source, err := iofs.New(files, folder)
	if err != nil {
		return errors.Join(err, driver.Close())
	}
	m, err := migrator.NewWithInstance("iofs", source, folder, WholeSteps(driver))
	if err != nil {
		return errors.Join(err, driver.Close())
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
			version = database.NilVersion
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

// WholeSteps is inner with the version recorded in the transaction that makes
// it; inner runs each step in one transaction.
// golang-migrate by itself writes the new version first, marked dirty, and
// takes the mark away in a third transaction: killed in between, or refused,
// the database would stay dirty although the step was undone, and no start
// would touch it again.
func WholeSteps(inner database.Driver) database.Driver { return &wholeSteps{Driver: inner} }

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
		record += fmt.Sprintf("INSERT INTO schema_migrations (version, dirty) VALUES (%d, FALSE);", w.target)
	}
	return w.Driver.Run(io.MultiReader(step, strings.NewReader(record)))
}

package main

import (
	"context"
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"coldrise/api"
	"coldrise/catalogue"
	"coldrise/domain/problem"
	"coldrise/repo"
	"coldrise/repo/postgres"
	"coldrise/repo/sqlite"
)

// defaultDB is the catalogue's file where none is named, in the working directory.
const defaultDB = "coldrise.db"

// dbVar names the database where no flag does. A URL with a password is better
// there: other users of the machine can see a command line.
const dbVar = "COLDRISE_DB"

const dbUsage = "the catalogue: a `FILE`, made where it is not there, or a postgres:// URL; default $" + dbVar + ", else " + defaultDB

// dbFlag adds the flag that names the database.
func (a *app) dbFlag(set *flag.FlagSet, db *string) {
	*db = defaultDB
	if named := a.getenv(dbVar); named != "" {
		*db = named
	}
	set.Func("db", dbUsage, func(name string) error { *db = name; return nil })
}

// engine opens a database with the engine its name asks for, and gives the
// words that may be printed of that name.
func engine(ctx context.Context, db string) (store repo.Store, shown string, err error) {
	if postgres.IsURL(db) {
		store, err = postgres.Open(ctx, db)
		return store, postgres.Where(db), err
	}
	store, err = sqlite.Open(ctx, db)
	return store, db, err
}

// open opens a database, brings it up to date, and gives an empty one the
// starter catalogue. What it did it says on standard error.
func (a *app) open(ctx context.Context, db string) (repo.Store, error) {
	store, shown, err := engine(ctx, db)
	if err != nil {
		return nil, err
	}
	loaded, err := loadStarter(ctx, store)
	if err != nil {
		_ = store.Close() // the first error is the one to report
		return nil, err
	}
	fmt.Fprintf(a.stderr, "catalogue: %s\n", shown)
	if loaded > 0 {
		fmt.Fprintf(a.stderr, "  it was empty; loaded the starter catalogue, %d parts of invented makers\n", loaded)
	}
	return store, nil
}

// loadStarter loads the starter catalogue where there are no parts yet, and
// says how many it loaded.
func loadStarter(ctx context.Context, store repo.Store) (int, error) {
	some, _, err := store.Parts(ctx, repo.Bench, repo.PartFilter{}, repo.Page{Limit: 1})
	if err != nil || len(some) > 0 {
		return 0, err
	}
	series, parts, err := catalogue.Starter()
	if err != nil {
		return 0, problem.Wrap(err, "reading the starter catalogue")
	}
	ids := make([]string, len(parts))
	for i := range ids {
		ids[i] = api.NewID()
	}
	loaded, err := store.LoadCatalogue(ctx, repo.Bench, series, ids, parts, repo.Stamp{At: time.Now()})
	if err != nil || !loaded {
		return 0, err
	}
	return len(parts), nil
}

// temporary gives the path of a database in a directory of its own, and what
// removes both.
func temporary() (path string, remove func(), err error) {
	dir, err := os.MkdirTemp("", "coldrise-")
	if err != nil {
		return "", nil, problem.Wrap(err, "making a temporary directory")
	}
	return filepath.Join(dir, defaultDB), func() { _ = os.RemoveAll(dir) }, nil
}

package main

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"time"

	"coldrise/api"
	"coldrise/catalogue"
	"coldrise/domain/problem"
	"coldrise/repo"
	"coldrise/repo/sqlite"
)

// defaultDB is the catalogue's file where none is named, in the working directory.
const defaultDB = "coldrise.db"

// open opens the database in a file, brings it up to date, and gives an empty
// one the starter catalogue. What it did it says on standard error.
func (a *app) open(ctx context.Context, path string) (repo.Store, error) {
	store, err := sqlite.Open(ctx, path)
	if err != nil {
		return nil, err
	}
	loaded, err := loadStarter(ctx, store)
	if err != nil {
		_ = store.Close() // the first error is the one to report
		return nil, err
	}
	fmt.Fprintf(a.stderr, "catalogue: %s\n", path)
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

// Package sqlite is repo.Store on one SQLite file, the embedded default.
//
// The file is opened twice: a writer of one connection whose transactions are
// immediate, so that a change never starts on a snapshot it cannot write to,
// and a pool of readers that cannot write. Any number of processes on one
// machine may share the file; one on a network share may not, for its locks
// and its shared memory do not reach across machines.
//
// Beside the file stand FILE-wal and FILE-shm while it is open, and
// FILE.lock, an empty file that orders processes starting at once.
package sqlite

import (
	"context"
	"database/sql"
	"io/fs"
	"runtime"
	"sync"
	"time"

	"coldrise/domain/problem"
	"coldrise/migrations"
	"coldrise/repo"
)

// Store is a repo.Store on a file.
type Store struct {
	calls
	writer *sql.DB
	reader *sql.DB
	probe  *repo.Probe
	closed sync.Once
}

var _ repo.Store = (*Store)(nil)

// Open opens the file at path, makes it where there is none, and brings its
// schema up to this binary's. Processes that open one file at once take
// turns. Besides cancelled, busy and internal it returns
//   - invalid: path is no file that can be opened and written, or it is no SQLite database;
//   - conflict: the schema is newer than this binary, whose file is then left
//     untouched, or it is not coldrise's.
func Open(ctx context.Context, path string) (*Store, error) {
	return open(ctx, path, migrations.Files)
}

func open(ctx context.Context, path string, files fs.FS) (*Store, error) {
	file, err := checkPath(path)
	if err != nil {
		return nil, err
	}
	if err := migrate(ctx, file, files); err != nil {
		return nil, fault(ctx, err, "migrate "+file)
	}
	s, err := connect(ctx, file)
	if err != nil {
		return nil, fault(ctx, opening(file, err), "open "+file)
	}
	return s, nil
}

// connect opens the two handles and makes sure that each answers.
func connect(ctx context.Context, file string) (*Store, error) {
	writer, err := sql.Open(driverName, writerDSN(file))
	if err != nil {
		return nil, err
	}
	writer.SetMaxOpenConns(1)
	reader, err := sql.Open(driverName, readerDSN(file))
	if err != nil {
		writer.Close()
		return nil, err
	}
	// A connection costs a megabyte of page cache and several pragmas to open;
	// more of them than cores, with some to spare, only wait for one another.
	n := max(4, 2*runtime.NumCPU())
	reader.SetMaxOpenConns(n)
	reader.SetMaxIdleConns(n)
	s := &Store{writer: writer, reader: reader, probe: repo.NewProbe(time.Now)}
	s.calls = calls{s}
	if err := s.Ready(ctx); err != nil {
		s.Close()
		return nil, err
	}
	return s, nil
}

// Close lets go of the file.
func (s *Store) Close() error {
	var err error
	s.closed.Do(func() {
		// The writer goes last: it can fold the log into the file.
		err = s.reader.Close()
		if e := s.writer.Close(); err == nil {
			err = e
		}
	})
	if err != nil {
		return problem.Wrap(err, "close the database")
	}
	return nil
}

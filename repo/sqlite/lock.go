package sqlite

import (
	"context"
	"database/sql"
	"strconv"

	codes "modernc.org/sqlite/lib"

	"coldrise/domain/problem"
)

// lockMS is how long a process waits for another that is migrating the same
// file; the caller's context ends the wait earlier.
const lockMS = 600_000

// lockFile takes the lock that orders processes starting on one file, and
// gives the function that lets go of it. golang-migrate's lock for SQLite is
// a flag inside the process and orders nothing here.
//
// The lock is an exclusive transaction on an empty database beside the file.
// So it is there wherever SQLite is, with no second kind of lock per
// operating system; it waits without polling of ours; and the kernel drops it
// when the process dies. It is not taken on the file itself, where it would
// have to wait for every process that is serving. The lock file stays: taking
// it away could give two processes a lock each.
func lockFile(ctx context.Context, file string) (unlock func(), err error) {
	db, err := sql.Open(driverName, dsn(file+".lock", []string{"busy_timeout(" + strconv.Itoa(lockMS) + ")"}))
	if err != nil {
		return nil, err
	}
	// A connection and plain SQL, not a sql.Tx, which would roll back when ctx
	// ends: in the middle of a migration the lock would be gone.
	conn, err := db.Conn(ctx)
	if err == nil {
		_, err = conn.ExecContext(ctx, "BEGIN EXCLUSIVE")
	}
	if err != nil {
		db.Close()
		if code := codeOf(err) & 0xff; code == codes.SQLITE_NOTADB || code == codes.SQLITE_CORRUPT {
			return nil, &problem.Error{Code: problem.Invalid, Cause: err,
				Message: file + ".lock is not coldrise's lock file, which is empty; move it away"}
		}
		return nil, opening(file, err)
	}
	return func() {
		// Without the COMMIT database/sql would close the connection all the
		// same; an error changes nothing, for closing drops the lock.
		_, _ = conn.ExecContext(context.WithoutCancel(ctx), "COMMIT")
		conn.Close()
		db.Close()
	}, nil
}

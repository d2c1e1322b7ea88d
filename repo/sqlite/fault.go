package sqlite

import (
	"context"
	"errors"

	driver "modernc.org/sqlite"
	codes "modernc.org/sqlite/lib"

	"coldrise/domain/problem"
)

// fault turns an error into one of ours. A *problem.Error passes as it is;
// doing names what was being done, for the log.
func fault(ctx context.Context, err error, doing string) error {
	if err == nil {
		return nil
	}
	var ours *problem.Error
	if errors.As(err, &ours) {
		return ours
	}
	switch {
	case ctx.Err() != nil, errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded), codeOf(err)&0xff == codes.SQLITE_INTERRUPT:
		return &problem.Error{Code: problem.Cancelled, Message: "the request was given up before the database answered", Cause: err}
	case isBusy(err):
		return &problem.Error{Code: problem.Busy, Message: "the database is busy; try again", Cause: err}
	}
	return problem.Wrap(err, doing)
}

// codeOf gives SQLite's extended result code; 0 for an error that is not SQLite's.
func codeOf(err error) int {
	var e *driver.Error
	if errors.As(err, &e) {
		return e.Code()
	}
	return 0
}

// isBusy says whether another process or connection holds what was wanted.
func isBusy(err error) bool {
	code := codeOf(err) & 0xff
	return code == codes.SQLITE_BUSY || code == codes.SQLITE_LOCKED
}

// outOfRange says whether a CHECK, a NOT NULL or a type of the schema refused a value.
func outOfRange(err error) bool {
	switch codeOf(err) {
	case codes.SQLITE_CONSTRAINT_CHECK, codes.SQLITE_CONSTRAINT_NOTNULL, codes.SQLITE_CONSTRAINT_DATATYPE:
		return true
	}
	return false
}

// unopened says whether the file could not be opened, or not be written.
func unopened(err error) bool {
	switch codeOf(err) & 0xff {
	case codes.SQLITE_CANTOPEN, codes.SQLITE_READONLY, codes.SQLITE_PERM, codes.SQLITE_AUTH:
		return true
	}
	return false
}

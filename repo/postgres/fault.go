package postgres

import (
	"context"
	"errors"
	"net"

	"github.com/jackc/pgx/v5/pgconn"

	"coldrise/domain/problem"
)

// The codes of SQLSTATE that are told apart (postgresql.org/docs, appendix A).
const (
	uniqueViolation      = "23505"
	foreignKeyViolation  = "23503"
	checkViolation       = "23514"
	notNullViolation     = "23502"
	outOfNumericRange    = "22003"
	programLimit         = "54000" // such as a text too long for an index
	serializationFailure = "40001"
	deadlock             = "40P01"
	featureNotSupported  = "0A000" // pgx: a cached statement whose result type has changed
	lockNotAvailable     = "55P03"
	queryCancelled       = "57014"
	tooManyConnections   = "53300"
	adminShutdown        = "57P01"
	crashShutdown        = "57P02"
	cannotConnectNow     = "57P03"
	idleInTransaction    = "25P03"
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
	case ctx.Err() != nil, errors.Is(err, context.Canceled), errors.Is(err, context.DeadlineExceeded):
		return &problem.Error{Code: problem.Cancelled, Message: "the request was given up before the database answered", Cause: err}
	case unreached(err):
		return &problem.Error{Code: problem.Busy, Message: "the database cannot be reached; try again", Cause: err}
	}
	switch codeOf(err) {
	case serializationFailure, deadlock, lockNotAvailable, queryCancelled, idleInTransaction:
		return &problem.Error{Code: problem.Busy, Message: "the database is busy; try again", Cause: err}
	}
	return problem.Wrap(err, doing)
}

// codeOf gives the SQLSTATE of an error; "" for one that is not the server's.
func codeOf(err error) string {
	var e *pgconn.PgError
	if errors.As(err, &e) {
		return e.Code
	}
	return ""
}

// constraintOf gives the name of the constraint that refused.
func constraintOf(err error) string {
	var e *pgconn.PgError
	if errors.As(err, &e) {
		return e.ConstraintName
	}
	return ""
}

// unreached says whether the server was not there, went away, or takes no more connections.
func unreached(err error) bool {
	var connect *pgconn.ConnectError
	var network net.Error
	switch code := codeOf(err); {
	case code == tooManyConnections, code == adminShutdown, code == crashShutdown, code == cannotConnectNow:
		return true
	case code != "":
		return code[:2] == "08"
	}
	return errors.As(err, &connect) || errors.As(err, &network) || pgconn.SafeToRetry(err)
}

// outOfRange says whether a CHECK, a NOT NULL or a type of the schema refused a value.
func outOfRange(err error) bool {
	switch codeOf(err) {
	case checkViolation, notNullViolation, outOfNumericRange, programLimit:
		return true
	}
	return false
}

// repeats says whether a transaction that failed so is worth doing again.
func repeats(err error) bool {
	switch codeOf(err) {
	case serializationFailure, deadlock, featureNotSupported:
		return true
	}
	return false
}

// opening says in our words why a database could not be opened; other errors,
// and nil, pass.
func opening(ctx context.Context, where string, err error) error {
	switch code := codeOf(err); {
	case ctx.Err() != nil:
		return err
	case code == "28P01" || code == "28000":
		return &problem.Error{Code: problem.Invalid, Message: "the database " + where + " does not let this user in: look at the URL's user and password", Cause: err}
	case code == "3D000":
		return &problem.Error{Code: problem.Invalid, Message: "there is no database " + where + ": make it first", Cause: err}
	case code == "42501":
		return &problem.Error{Code: problem.Invalid, Cause: err,
			Message: "this user may not make tables in the database " + where + ": it must own them, and may make temporary tables too"}
	case code == "" && unreached(err):
		return &problem.Error{Code: problem.Busy, Message: "the database " + where + " cannot be reached", Cause: err}
	}
	return err
}

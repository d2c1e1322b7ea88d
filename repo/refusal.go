package repo

import (
	"errors"

	"coldrise/domain/problem"
)

// The refusals all engines give, in the same words. What is "part",
// "amplifier" or "plan".

// NotThere is not_found. Nothing tells a row of another shop from none.
func NotThere(what, id string) error {
	return problem.New(problem.NotFound, "there is no %s with the id %s", what, quote(id))
}

// Changed is stale: the row is at version have, the caller meant version meant.
func Changed(what, id string, have, meant int64) error {
	return problem.New(problem.Stale, "the %s %s is at version %d now, not %d: read it again", what, quote(id), have, meant)
}

// IDTaken is conflict on the id.
func IDTaken(what, id string) error {
	return problem.New(problem.Conflict, "there is a %s with the id %s already", what, quote(id))
}

// KeyTaken is conflict on maker and part number.
func KeyTaken(maker, partNumber string) error {
	return problem.New(problem.Conflict, "there is another part %s of the maker %s already", quote(partNumber), quote(maker))
}

// NoSeries is invalid: a part names a series the shop does not have.
func NoSeries(name string) error {
	return fault("part", problem.Fault{Pointer: "/series", Value: quote(name), Message: "there is no series of this name in the shop"})
}

// OutOfRange is invalid: a value the schema's own limits refuse. The domain's
// checks are narrower, so a document that passed them never meets this.
func OutOfRange(what string, cause error) error {
	return &problem.Error{Code: problem.Invalid, Message: "the " + what + " has a value beyond what can be stored", Cause: cause}
}

// CheckShop refuses a call that names no shop: a slip of the caller's code, so internal.
func CheckShop(shop Shop) error {
	if shop == "" || !IsText(string(shop)) {
		return problem.Wrap(errors.New("no shop was named"), "use the store")
	}
	return nil
}

// SeriesInUse is conflict: parts are of the series.
func SeriesInUse(name string) error {
	return problem.New(problem.Conflict, "parts are of the series %s: change or delete them first", quote(name))
}

// IsNotThere says whether an error is not_found.
func IsNotThere(err error) bool { return err != nil && problem.CodeOf(err) == problem.NotFound }

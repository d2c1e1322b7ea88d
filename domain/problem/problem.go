// Package problem is the one error type of coldrise: a closed set of codes,
// a sentence for people, and the faults of a document one by one.
//
// Everything that can go wrong and is somebody's to mend crosses package
// borders as an *Error. An error of any other type is foreign: CodeOf calls
// it Internal, and its text stays inside the process.
package problem

import (
	"errors"
	"fmt"
	"strings"
)

// Code says what kind of trouble an Error is. The set is closed; api maps
// each to one HTTP status and cmd to one exit code.
type Code string

// The codes.
const (
	Malformed    Code = "malformed"             // cannot be read at all, such as broken JSON
	Invalid      Code = "invalid"               // read, and wrong: see Faults
	NotFound     Code = "not_found"             // no such thing in this shop, or no such route
	Method       Code = "method_not_allowed"    // the route is there, the method is not
	Conflict     Code = "conflict"              // there already, or still in use
	Stale        Code = "stale"                 // changed since it was read
	Precondition Code = "precondition_required" // the request must say which version it means
	TooLarge     Code = "too_large"             // over a stated limit of size
	Unsupported  Code = "unsupported_media"     // a content type that is not taken
	Unacceptable Code = "not_acceptable"        // no answer in a form the client takes
	Misdirected  Code = "misdirected"           // a Host this server does not answer for
	Forbidden    Code = "forbidden"             // refused for where it comes from
	Busy         Code = "busy"                  // try again later
	Cancelled    Code = "cancelled"             // the caller went away or the deadline passed
	Internal     Code = "internal"              // ours; the cause is for the log alone
)

// Fault is one thing wrong with a document.
type Fault struct {
	// Pointer is the RFC 6901 JSON pointer of the member at fault; "" is the whole document.
	Pointer string `json:"pointer" doc:"JSON pointer (RFC 6901) of the member at fault"`
	// Message is a sentence that says what was expected.
	Message string `json:"message" doc:"What is wrong and what was expected"`
	// Value is what stood there, shortened, as JSON text.
	Value string `json:"value,omitempty" doc:"What stood there, as JSON text, shortened"`
	// Limit is the bound that was passed, if there is one.
	Limit string `json:"limit,omitempty" doc:"The bound that was passed"`
	// Unit is the unit of Value and Limit, if they have one.
	Unit string `json:"unit,omitempty" doc:"Unit of value and limit"`
}

// Error is the error of every package here.
type Error struct {
	Code    Code
	Message string  // a sentence for people; never foreign text
	Faults  []Fault // all of them at once, in document order
	Cause   error   // for the log; never sent to a client
}

// Error gives the message, and the faults one to a line.
func (e *Error) Error() string {
	text := e.Message
	for _, f := range e.Faults {
		text += "\n  " + f.String()
	}
	return text
}

// Unwrap gives the cause.
func (e *Error) Unwrap() error { return e.Cause }

// String gives a fault on one line.
func (f Fault) String() string {
	where := f.Pointer
	if where == "" {
		where = "(document)"
	}
	text := where + ": " + f.Message
	if f.Value != "" {
		text += "; got " + f.Value
		if f.Unit != "" {
			text += " " + f.Unit
		}
	}
	if f.Limit != "" && !strings.Contains(f.Message, strings.TrimLeft(f.Limit, "abcdefghijklmnopqrstuvwxyz ")) {
		text += "; limit " + f.Limit
		if f.Unit != "" {
			text += " " + f.Unit
		}
	}
	return text
}

// New makes an error of a code other than Internal.
func New(code Code, format string, args ...any) *Error {
	return &Error{Code: code, Message: fmt.Sprintf(format, args...)}
}

// Wrap makes an Internal error that keeps its cause for the log. Doing names
// what was being done, in our words.
func Wrap(cause error, doing string) *Error {
	return &Error{Code: Internal, Message: "internal error", Cause: fmt.Errorf("%s: %w", doing, cause)}
}

// As gives err as an *Error: itself if it is one, Internal round it if not,
// nil for nil.
func As(err error) *Error {
	if err == nil {
		return nil
	}
	var e *Error
	if errors.As(err, &e) {
		return e
	}
	return &Error{Code: Internal, Message: "internal error", Cause: err}
}

// CodeOf gives the code of err; Internal for any foreign error.
func CodeOf(err error) Code { return As(err).Code }

// List gathers the faults of one document, so that all are reported at once.
// The zero List is ready to use.
type List struct {
	faults []Fault
	seen   map[string]bool
}

// Add takes a fault. A second fault at a pointer that has one already is
// dropped: it is most often the echo of the first.
func (l *List) Add(f Fault) {
	if l.Has(f.Pointer) {
		return
	}
	if l.seen == nil {
		l.seen = map[string]bool{}
	}
	l.seen[f.Pointer] = true
	l.faults = append(l.faults, f)
}

// Addf takes a fault that is a pointer and a sentence.
func (l *List) Addf(pointer, format string, args ...any) {
	l.Add(Fault{Pointer: pointer, Message: fmt.Sprintf(format, args...)})
}

// Has says whether the pointer has a fault already.
func (l *List) Has(pointer string) bool { return l.seen[pointer] }

// Len counts the faults.
func (l *List) Len() int { return len(l.faults) }

// Err gives the faults as one Invalid error, or nil where there are none.
// What names the document: "amplifier", "circuit", "part".
func (l *List) Err(what string) error {
	if len(l.faults) == 0 {
		return nil
	}
	noun := "faults"
	if len(l.faults) == 1 {
		noun = "fault"
	}
	return &Error{
		Code:    Invalid,
		Message: fmt.Sprintf("the %s has %d %s", what, len(l.faults), noun),
		Faults:  append([]Fault(nil), l.faults...),
	}
}

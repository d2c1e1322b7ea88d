package repo

import (
	"math"
	"reflect"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"coldrise/domain/problem"
)

// Storable refuses a value that not every engine can keep: a number that is
// not finite (one engine turns NaN to NULL, one keeps it), text that is not
// UTF-8 or holds a NUL (one engine keeps it, one refuses). What names the
// document in the error, whose pointers are those of the value's JSON. Every
// engine calls it ahead of a write.
func Storable(v any, what string) error {
	var l problem.List
	walk(&l, reflect.ValueOf(v), "")
	return l.Err(what)
}

// StorableRow is Storable of a row to be made under id.
func StorableRow(id string, row any, what string) error {
	if id == "" {
		return problem.New(problem.Invalid, "the %s has no id", what)
	}
	if !IsText(id) {
		return problem.New(problem.Invalid, "the id of the %s is not UTF-8 text without NUL", what)
	}
	return Storable(row, what)
}

// IsText says whether every engine can keep s: an id that is no text is
// nobody's, and one engine would refuse to look for it.
func IsText(s string) bool { return utf8.ValidString(s) && !strings.ContainsRune(s, 0) }

// Instant cuts an instant to what every engine keeps: whole microseconds, in
// UTC, towards the past.
func Instant(t time.Time) time.Time { return time.UnixMicro(t.UnixMicro()).UTC() }

// Bounds gives the ends of a window of values: no upper one is the largest
// number there is.
func Bounds(least, most float64) (float64, float64) {
	if most == 0 {
		most = math.MaxFloat64
	}
	return least, most
}

func walk(l *problem.List, v reflect.Value, at string) {
	switch v.Kind() {
	case reflect.Pointer, reflect.Interface:
		if !v.IsNil() {
			walk(l, v.Elem(), at)
		}
	case reflect.Slice:
		for i := range v.Len() {
			walk(l, v.Index(i), at+"/"+strconv.Itoa(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			walk(l, v.Field(i), at+member(v.Type().Field(i)))
		}
	case reflect.Float64:
		if f := v.Float(); math.IsNaN(f) || math.IsInf(f, 0) {
			l.Add(problem.Fault{Pointer: at, Value: strconv.FormatFloat(f, 'g', -1, 64), Message: "a number is finite"})
		}
	case reflect.String:
		if s := v.String(); !IsText(s) {
			l.Add(problem.Fault{Pointer: at, Value: quote(s), Message: "text is UTF-8 without the character NUL"})
		}
	}
}

// member gives the step a struct's field adds to a pointer; none where the
// field is embedded, as encoding/json has it.
func member(f reflect.StructField) string {
	name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
	switch {
	case name != "":
		return "/" + name
	case f.Anonymous:
		return ""
	default:
		return "/" + f.Name
	}
}

// DropEmpty makes nil of every empty list that v, a pointer, leads to.
// Engines that keep JSON call it on what they read; those that keep rows have
// no empty list to tell from none.
func DropEmpty(v any) { drop(reflect.ValueOf(v)) }

func drop(v reflect.Value) {
	switch v.Kind() {
	case reflect.Pointer:
		if !v.IsNil() {
			drop(v.Elem())
		}
	case reflect.Slice:
		if v.Len() == 0 {
			v.SetZero()
		}
		for i := range v.Len() {
			drop(v.Index(i))
		}
	case reflect.Struct:
		for i := range v.NumField() {
			drop(v.Field(i))
		}
	}
}

// CheckStamp refuses the name of a person that is no text. invalid.
func CheckStamp(at Stamp) error {
	if IsText(at.By) {
		return nil
	}
	return problem.New(problem.Invalid, "the name of who makes the change is not UTF-8 text without NUL")
}

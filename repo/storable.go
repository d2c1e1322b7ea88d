package repo

import (
	"math"
	"reflect"
	"strconv"
	"strings"
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
		if s := v.String(); !utf8.ValidString(s) || strings.ContainsRune(s, 0) {
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

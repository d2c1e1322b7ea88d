package document

import (
	"encoding"
	"fmt"
	"math"
	"reflect"
	"strconv"
	"strings"
	"unicode/utf8"

	"coldrise/domain/problem"
)

// reader carries one reading of a document into Go values.
type reader struct {
	text   *source
	faults *problem.List
	shapes shapes
}

// fault takes a fault at n, adding what stood there.
func (r *reader) fault(n *node, at string, f problem.Fault) {
	f.Pointer, f.Value = at, r.text.snippet(n)
	r.faults.Add(f)
}

func (r *reader) wrong(n *node, at string, want kind, ru rules) bool {
	if n.kind == want {
		return false
	}
	f := problem.Fault{Message: "must be " + string(want), Unit: ru.units}
	switch {
	case n.kind == isNull && ru.required:
		f.Message += ", not null"
	case n.kind == isNull:
		f.Message += ", not null; leave it out where there is none"
	case want == isNumber && n.kind == isString && isPlainNumber(n.text):
		f.Message += ", written without quotes"
	}
	r.fault(n, at, f)
	return true
}

func isPlainNumber(s string) bool {
	v, err := strconv.ParseFloat(s, 64)
	return err == nil && !math.IsNaN(v) && !math.IsInf(v, 0)
}

var textUnmarshaler = reflect.TypeFor[encoding.TextUnmarshaler]()

// value reads n into v, which keeps its zero value where n is of a wrong kind.
func (r *reader) value(n *node, v reflect.Value, ru rules, at string) {
	if v.Kind() != reflect.Pointer && v.Addr().Type().Implements(textUnmarshaler) {
		r.own(n, v, ru, at)
		return
	}
	switch v.Kind() {
	case reflect.Pointer:
		if n.kind != isNull {
			v.Set(reflect.New(v.Type().Elem()))
			r.value(n, v.Elem(), ru, at)
		}
	case reflect.Struct:
		r.object(n, v, ru, at)
	case reflect.Map:
		r.table(n, v, ru, at)
	case reflect.Slice:
		r.slice(n, v, ru, at)
	case reflect.Float64, reflect.Int, reflect.Int64:
		r.number(n, v, ru, at)
	case reflect.Bool:
		if !r.wrong(n, at, isBool, ru) {
			v.SetBool(n.truth)
		}
	case reflect.String:
		r.string(n, v, ru, at)
	case reflect.Interface:
		if plain := r.plain(n, at); plain != nil {
			v.Set(reflect.ValueOf(plain))
		}
	default:
		panic(fmt.Sprintf("document: cannot read a %s", v.Type()))
	}
}

// own lets a type of ours read its own text; its error is a sentence of ours.
func (r *reader) own(n *node, v reflect.Value, ru rules, at string) {
	if r.wrong(n, at, isString, ru) {
		return
	}
	if err := v.Addr().Interface().(encoding.TextUnmarshaler).UnmarshalText([]byte(n.text)); err != nil {
		r.fault(n, at, problem.Fault{Message: err.Error(), Unit: ru.units})
	}
}

func (r *reader) object(n *node, v reflect.Value, ru rules, at string) {
	if r.wrong(n, at, isObject, ru) {
		return
	}
	fields := r.shapes.of(v.Type())
	given := make(map[string]bool, len(n.members))
	for _, m := range n.members {
		here := Under(at, m.name)
		f, ok := find(fields, m.name)
		switch {
		case !ok:
			r.fault(m.value, here, problem.Fault{Message: "is not a member that is known here" + meant(m.name, names(fields))})
		case given[m.name]:
			r.fault(m.value, here, problem.Fault{Message: "is given more than once"})
		default:
			r.value(m.value, v.FieldByIndex(f.index), f.rules, here)
		}
		given[m.name] = true
	}
	for _, f := range fields {
		if f.rules.required && !given[f.name] {
			r.faults.Add(problem.Fault{Pointer: Under(at, f.name), Message: "is required", Unit: f.rules.units})
		}
	}
}

func find(fields []field, name string) (field, bool) {
	for _, f := range fields {
		if f.name == name {
			return f, true
		}
	}
	return field{}, false
}

func names(fields []field) []string {
	all := make([]string, len(fields))
	for i, f := range fields {
		all[i] = f.name
	}
	return all
}

// table reads an object whose names are the document's own.
func (r *reader) table(n *node, v reflect.Value, ru rules, at string) {
	if r.wrong(n, at, isObject, ru) {
		return
	}
	v.Set(reflect.MakeMap(v.Type()))
	for _, m := range n.members {
		here, key := Under(at, m.name), reflect.ValueOf(m.name).Convert(v.Type().Key())
		if v.MapIndex(key).IsValid() {
			r.fault(m.value, here, problem.Fault{Message: "is given more than once"})
			continue
		}
		item := reflect.New(v.Type().Elem()).Elem()
		r.value(m.value, item, ru, here)
		v.SetMapIndex(key, item)
	}
}

func (r *reader) slice(n *node, v reflect.Value, ru rules, at string) {
	if r.wrong(n, at, isArray, ru) {
		return
	}
	if f, bad := ru.array(len(n.items)); bad {
		r.fault(n, at, f)
	}
	// The limits on a slice's numbers and words are those of its elements;
	// the limits on its length are not an inner slice's.
	each := ru
	each.minItems, each.maxItems = bound{}, bound{}
	v.Set(reflect.MakeSlice(v.Type(), len(n.items), len(n.items)))
	for i, item := range n.items {
		r.value(item, v.Index(i), each, Under(at, i))
	}
}

func (r *reader) number(n *node, v reflect.Value, ru rules, at string) {
	if r.wrong(n, at, isNumber, ru) {
		return
	}
	x, ok := r.finite(n, at, ru)
	if !ok {
		return
	}
	if f, bad := ru.number(x); bad {
		f.Unit = ru.units
		r.fault(n, at, f)
	}
	if v.Kind() == reflect.Float64 {
		v.SetFloat(x)
		return
	}
	// Beyond 2^53 a float64 no longer tells whole numbers apart.
	if x != math.Trunc(x) || math.Abs(x) > 1<<53 {
		r.fault(n, at, problem.Fault{Message: "must be a whole number", Unit: ru.units})
		return
	}
	v.SetInt(int64(x))
}

func (r *reader) finite(n *node, at string, ru rules) (float64, bool) {
	x, err := strconv.ParseFloat(n.text, 64)
	switch {
	case n.nonFinite:
		r.fault(n, at, problem.Fault{Message: "must be a finite number", Unit: ru.units})
	case err != nil:
		r.fault(n, at, problem.Fault{Message: "is too large for a number: it would be infinite", Unit: ru.units})
	default:
		return x, true
	}
	return 0, false
}

func (r *reader) string(n *node, v reflect.Value, ru rules, at string) {
	if r.wrong(n, at, isString, ru) {
		return
	}
	v.SetString(n.text)
	f, bad := ru.string(n.text)
	switch {
	case strings.ContainsFunc(n.text, control):
		r.fault(n, at, problem.Fault{Message: "must not contain control characters other than tab and line end"})
	case r.halfEscape(n):
		r.fault(n, at, problem.Fault{Message: "has half of a surrogate pair, which is no character"})
	case bad:
		r.fault(n, at, f)
	}
}

func control(c rune) bool { return c < ' ' && c != '\t' && c != '\n' && c != '\r' || c == 0x7f }

// halfEscape says whether an escape such as \ud800 was replaced in reading:
// the value has the replacement character and its text does not.
func (r *reader) halfEscape(n *node) bool {
	if !strings.ContainsRune(n.text, utf8.RuneError) {
		return false
	}
	raw := strings.ToLower(string(r.text.data[n.start:n.end]))
	return !strings.ContainsRune(raw, utf8.RuneError) && !strings.Contains(raw, `\ufffd`)
}

// plain reads what has no type of its own: nil, bool, float64, string, []any
// or map[string]any.
func (r *reader) plain(n *node, at string) any {
	switch n.kind {
	case isBool:
		return n.truth
	case isNumber:
		x, _ := r.finite(n, at, rules{})
		return x
	case isString:
		return n.text
	case isArray:
		items := make([]any, len(n.items))
		for i, item := range n.items {
			items[i] = r.plain(item, Under(at, i))
		}
		return items
	case isObject:
		members := make(map[string]any, len(n.members))
		for _, m := range n.members {
			here := Under(at, m.name)
			if _, twice := members[m.name]; twice {
				r.fault(m.value, here, problem.Fault{Message: "is given more than once"})
				continue
			}
			members[m.name] = r.plain(m.value, here)
		}
		return members
	}
	return nil
}

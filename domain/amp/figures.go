package amp

import (
	"reflect"
	"strconv"
	"strings"

	"coldrise/domain/document"
)

// Figure says where one figure of the description comes from, where that is
// not what its member's name says already.
type Figure struct {
	// Pointer is the RFC 6901 JSON pointer of the figure in the amplifier.
	Pointer string `json:"pointer" minLength:"2" maxLength:"200" doc:"JSON pointer of the figure" example:"/supplies/0/winding/unloaded_v"`
	From    string `json:"from" enum:"measured,schematic,nameplate,published,assumed"`
	// TolPct is the figure's tolerance either way; default by where it comes from.
	TolPct *float64 `json:"tol_pct,omitempty" unit:"%" minimum:"0" maximum:"90"`
}

// FigureAt gives what is said of the figure at a pointer.
func (a *Amplifier) FigureAt(pointer string) (Figure, bool) {
	for _, f := range a.Figures {
		if f.Pointer == pointer {
			return f, true
		}
	}
	return Figure{}, false
}

// ValueAt gives the number a pointer names in the description; false where
// there is none.
func (a *Amplifier) ValueAt(pointer string) (float64, bool) {
	v := reflect.ValueOf(a).Elem()
	for _, step := range strings.Split(strings.TrimPrefix(pointer, "/"), "/") {
		if v.Kind() == reflect.Pointer {
			if v.IsNil() {
				return 0, false
			}
			v = v.Elem()
		}
		switch v.Kind() {
		case reflect.Struct:
			if v = member(v, step); !v.IsValid() {
				return 0, false
			}
		case reflect.Slice:
			i, err := strconv.Atoi(step)
			if err != nil || i < 0 || i >= v.Len() {
				return 0, false
			}
			v = v.Index(i)
		default:
			return 0, false
		}
	}
	if v.Kind() == reflect.Pointer && !v.IsNil() {
		v = v.Elem()
	}
	if v.Kind() != reflect.Float64 {
		return 0, false
	}
	return v.Float(), true
}

func member(v reflect.Value, name string) reflect.Value {
	for i := range v.NumField() {
		tag, _, _ := strings.Cut(v.Type().Field(i).Tag.Get("json"), ",")
		if tag == name {
			return v.Field(i)
		}
	}
	return reflect.Value{}
}

// figures wants each figure spoken of to be there, and once.
func (c checker) figures() {
	seen := map[string]bool{}
	for i, f := range c.a.Figures {
		at := document.Pointer("figures", i, "pointer")
		if _, ok := c.a.ValueAt(f.Pointer); !ok {
			c.fault(at, f.Pointer, "must point to a number that this amplifier gives")
		}
		if seen[f.Pointer] {
			c.fault(at, f.Pointer, "speaks of a figure that an earlier entry speaks of")
		}
		seen[f.Pointer] = true
	}
}

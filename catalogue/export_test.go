package catalogue

import (
	"reflect"
	"strings"

	"coldrise/domain/document"
)

// Uncovered lists the members of a part or a series that no column holds.
func Uncovered(t reflect.Type) []string {
	all := members
	if t == seriesTypes[ofPart] {
		all = seriesMembers
	}
	held := map[string]bool{}
	for i := range all {
		held[all[i].pointer()] = true
	}
	var missing []string
	var walk func(t reflect.Type, at string)
	walk = func(t reflect.Type, at string) {
		switch t.Kind() {
		case reflect.Pointer:
			walk(t.Elem(), at)
		case reflect.Struct:
			for _, m := range document.Members(t) {
				walk(m.Type, at+"/"+m.Name)
			}
		case reflect.Slice:
			item := "/*"
			if strings.HasSuffix(at, "_uf") {
				item = "/0" // sections have a column each
			}
			walk(t.Elem(), at+item)
		default:
			if !held[at] {
				missing = append(missing, at)
			}
		}
	}
	walk(t, "")
	return missing
}

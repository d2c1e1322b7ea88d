// Package document reads JSON documents strictly and reports every fault at
// once: where it stands, what stood there, the bound it passed, and its unit.
//
// The shape comes from the struct that is read into and from its tags, which
// are the same the OpenAPI description is made from: json, minimum, maximum,
// exclusiveMinimum, exclusiveMaximum, minLength, maxLength, minItems,
// maxItems, enum, pattern with patternDescription, and unit of our own. A
// member without omitempty is required; only pointers and any take null.
//
// JSON here is RFC 8259, read narrowly: names are matched exactly and may not
// be repeated, nothing unknown is skipped, numbers must be finite. How large
// a document may be is the caller's to say.
package document

import (
	"fmt"
	"reflect"
	"sort"

	"coldrise/domain/problem"
)

const (
	// MaxDepth is how deep arrays and objects may be nested.
	MaxDepth = 64
	// MaxFaults is how many faults an error lists; one more says how many were left out.
	MaxFaults = 200
)

// Decode reads data, a JSON document, into the value into points to. What
// names the document in the error: "amplifier", "circuit". Check, if not nil,
// is called once the shape has been read, also where that found faults, and
// adds the document's own. A member at fault is left at its zero value where
// it had the wrong type and is kept where it was out of range; a pointer
// member that was given is never nil.
//
// The error is nil or a *problem.Error: Malformed, with line and column, where
// data is not JSON at all; Invalid, with all faults in document order, else.
//
// Decode panics where into is no pointer, or its struct has a type or a tag it
// does not know: such a struct is a mistake of ours, not the document's.
func Decode(data []byte, into any, what string, check func(*problem.List)) error {
	target := reflect.ValueOf(into)
	if target.Kind() != reflect.Pointer || target.IsNil() {
		panic(fmt.Sprintf("document: Decode into %T, which is no pointer to a value", into))
	}
	text, err := scan(data, what)
	if err != nil {
		return err
	}
	root := text.tree()
	faults := &problem.List{}
	r := reader{text: text, faults: faults, shapes: shapes{}}
	r.value(root, target.Elem(), rules{}, "")
	if check != nil {
		check(faults)
	}
	return inOrder(faults.Err(what), root)
}

// inOrder sorts the faults of err by where they stand in the document and
// cuts them off at MaxFaults. A missing member counts as standing at the end
// of the object it is missing from.
func inOrder(err error, root *node) error {
	if err == nil {
		return nil
	}
	p := problem.As(err)
	at := make(map[string]int, len(p.Faults))
	for _, f := range p.Faults {
		at[f.Pointer] = root.offset(f.Pointer)
	}
	sort.SliceStable(p.Faults, func(i, j int) bool {
		return at[p.Faults[i].Pointer] < at[p.Faults[j].Pointer]
	})
	if more := len(p.Faults) - MaxFaults; more > 0 {
		p.Faults = append(p.Faults[:MaxFaults:MaxFaults], problem.Fault{
			Message: fmt.Sprintf("%d further faults are not listed", more),
		})
	}
	return p
}

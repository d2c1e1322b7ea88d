package document

import (
	"reflect"

	"coldrise/domain/problem"
)

// Member is what a struct's tags ask of one member: for those who read the
// struct from something other than JSON, and must hold it to the same rules.
type Member struct {
	Name     string // as in JSON
	Index    []int  // for reflect.Value.FieldByIndex
	Type     reflect.Type
	Required bool
	Unit     string   // "" where it has none
	Enum     []string // nil where any text will do
	rules    rules
}

// Members lists the members of a struct type in its order. It panics where t
// is no struct, or has a tag that Decode would not take.
func Members(t reflect.Type) []Member {
	fields := shapes{}.of(t)
	all := make([]Member, len(fields))
	for i, f := range fields {
		all[i] = Member{Name: f.name, Index: f.index, Type: t.FieldByIndex(f.index).Type,
			Required: f.rules.required, Unit: f.rules.units, Enum: f.rules.enum, rules: f.rules}
	}
	return all
}

// Number gives the fault of a number, without pointer and value, and whether
// it has one.
func (m *Member) Number(v float64) (problem.Fault, bool) {
	f, bad := m.rules.number(v)
	if bad {
		f.Unit = m.Unit
	}
	return f, bad
}

// Text gives the fault of a text, without pointer and value, and whether it has one.
func (m *Member) Text(s string) (problem.Fault, bool) { return m.rules.string(s) }

// Length gives the fault of a list's length, without pointer and value, and
// whether it has one.
func (m *Member) Length(n int) (problem.Fault, bool) { return m.rules.array(n) }

package document

import (
	"reflect"
	"testing"

	"github.com/google/go-cmp/cmp"
)

type base struct {
	Maker string `json:"maker" minLength:"1" maxLength:"3"`
}

type rated struct {
	base
	RatedV *float64  `json:"rated_v,omitempty" unit:"V" minimum:"1" maximum:"10"`
	Style  string    `json:"style" enum:"axial,can"`
	Uses   []float64 `json:"uses,omitempty" maxItems:"1"`
	hidden int
	Own    int `json:"-"`
}

// Members holds a value to the rules by which Decode reads a document.
func TestMembers(t *testing.T) {
	t.Parallel()
	all := Members(reflect.TypeFor[rated]())
	names := map[string]Member{}
	for _, m := range all {
		names[m.Name] = m
	}
	maker, v, style, uses := names["maker"], names["rated_v"], names["style"], names["uses"]
	if len(all) != 4 || !maker.Required || v.Required || v.Unit != "V" || v.Type != reflect.TypeFor[*float64]() {
		t.Errorf("%+v", all)
	}
	if diff := cmp.Diff([]string{"axial", "can"}, style.Enum); diff != "" {
		t.Error(diff)
	}
	r := rated{base: base{"abc"}}
	if got := reflect.ValueOf(r).FieldByIndex(maker.Index).String(); got != "abc" {
		t.Errorf("maker at its index is %q", got)
	}
	for _, tt := range []struct {
		what string
		bad  bool
		want bool
	}{
		{"text in range", second(maker.Text("abc")), false}, {"text too long", second(maker.Text("abcd")), true}, {"empty text", second(maker.Text("")), true},
		{"number in range", second(v.Number(10)), false}, {"number out of range", second(v.Number(10.5)), true},
		{"known word", second(style.Text("can")), false}, {"unknown word", second(style.Text("box")), true},
		{"list in range", second(uses.Length(1)), false}, {"list too long", second(uses.Length(2)), true},
	} {
		if tt.bad != tt.want {
			t.Errorf("%s: at fault is %v", tt.what, tt.bad)
		}
	}
	if f, _ := v.Number(0); f.Unit != "V" || f.Message != "must be at least 1 V" {
		t.Errorf("%+v", f)
	}
	_ = r.hidden
}

func second[A any](_ A, bad bool) bool { return bad }

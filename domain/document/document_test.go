package document

import (
	"errors"
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/domain/problem"
)

type colour string

// hundredths reads its own text, as an amount of money does.
type hundredths int

func (h *hundredths) UnmarshalText(text []byte) error {
	v, err := strconv.ParseFloat(string(text), 64)
	if err != nil {
		return errors.New("an amount is a decimal string")
	}
	*h = hundredths(math.Round(v * 100))
	return nil
}

type stamp struct {
	Maker string `json:"maker,omitempty" maxLength:"5"`
}

type tray struct {
	Name    string             `json:"name" minLength:"1" maxLength:"8" pattern:"^[^/]+$" patternDescription:"no slash"`
	Volts   float64            `json:"rated_v" unit:"V" minimum:"1" maximum:"2000"`
	Loss    *float64           `json:"tan_delta,omitempty" exclusiveMinimum:"0" exclusiveMaximum:"2"`
	Count   int                `json:"count,omitempty" minimum:"1" maximum:"8"`
	Fit     bool               `json:"fit,omitempty"`
	Colour  colour             `json:"colour,omitempty" enum:"red,green"`
	Colours []colour           `json:"colours,omitempty" enum:"red,green" maxItems:"2"`
	Further []float64          `json:"further_uf,omitempty" unit:"µF" minimum:"0.5" maximum:"100"`
	Inner   *tray              `json:"inner,omitempty"`
	Trays   []tray             `json:"trays,omitempty" minItems:"1"`
	Price   hundredths         `json:"price,omitempty"`
	Map     map[string]float64 `json:"map,omitempty" maximum:"9"`
	Any     any                `json:"any,omitempty"`
	stamp
	Skip string `json:"-"`
}

const good = `"name":"a","rated_v":450`

func faultsOf(t *testing.T, err error) []problem.Fault {
	t.Helper()
	if err == nil {
		return nil
	}
	if got := problem.CodeOf(err); got != problem.Invalid {
		t.Fatalf("code %s, want invalid: %v", got, err)
	}
	return problem.As(err).Faults
}

func TestDecodeReadsAWholeDocument(t *testing.T) {
	t.Parallel()
	var got tray
	err := Decode([]byte("\xef\xbb\xbf"+`{"name":"µ\u00e9","rated_v":4.5e2,"tan_delta":0.1,"count":3.0,"fit":true,"colour":"red",
		"colours":["green"],"further_uf":[1,2.5],"inner":{`+good+`,"tan_delta":null},"trays":[{`+good+`}],"price":"12.5",
		"map":{"x":1},"any":{"a":[1,null,"b",false]},"maker":"M"}`), &got, "tray", nil)
	if err != nil {
		t.Fatal(err)
	}
	loss := 0.1
	want := tray{Name: "µé", Volts: 450, Loss: &loss, Count: 3, Fit: true, Colour: "red", Colours: []colour{"green"},
		Further: []float64{1, 2.5}, Inner: &tray{Name: "a", Volts: 450}, Trays: []tray{{Name: "a", Volts: 450}},
		Price: 1250, Map: map[string]float64{"x": 1},
		Any: map[string]any{"a": []any{1.0, nil, "b", false}}, stamp: stamp{Maker: "M"}}
	if d := cmp.Diff(want, got, cmp.AllowUnexported(tray{})); d != "" {
		t.Error(d)
	}
}

func TestDecodeNamesOneFault(t *testing.T) {
	t.Parallel()
	type row struct {
		name, doc string
		want      problem.Fault
	}
	one := func(name, member, pointer, message, value, limit, unit string) row {
		return row{name, "{" + good + "," + member + "}", problem.Fault{Pointer: pointer, Message: message, Value: value, Limit: limit, Unit: unit}}
	}
	rows := []row{
		one("unknown member with a near one", `"colur":"red"`, "/colur", `is not a member that is known here; did you mean "colour"?`, `"red"`, "", ""),
		one("unknown member like none", `"zzzzzz":{"a":1}`, "/zzzzzz", "is not a member that is known here", `{"a":1}`, "", ""),
		one("names differ by case", `"Fit":true`, "/Fit", `is not a member that is known here; did you mean "fit"?`, `true`, "", ""),
		one("pointer is escaped", `"a/b~c":1`, "/a~1b~0c", "is not a member that is known here", `1`, "", ""),
		one("member of a json:\"-\" field", `"Skip":1`, "/Skip", "is not a member that is known here", `1`, "", ""),
		one("member given twice", `"name":"b"`, "/name", "is given more than once", `"b"`, "", ""),
		one("twice in a map", `"map":{"x":1,"x":2}`, "/map/x", "is given more than once", `2`, "", ""),
		one("twice under any", `"any":{"x":1,"x":2}`, "/any/x", "is given more than once", `2`, "", ""),
		one("string for a number", `"tan_delta":"low"`, "/tan_delta", "must be a number", `"low"`, "", ""),
		one("number in quotes", `"tan_delta":"0.1"`, "/tan_delta", "must be a number, written without quotes", `"0.1"`, "", ""),
		one("number for a string", `"colour":7`, "/colour", "must be a string", `7`, "", ""),
		one("number for a bool", `"fit":1`, "/fit", "must be true or false", `1`, "", ""),
		one("array for an object", `"inner":[ 1,\n 2]`, "/inner", "must be an object", `[ 1, 2]`, "", ""),
		one("object for an array", `"further_uf":{}`, "/further_uf", "must be an array", `{}`, "", "µF"),
		one("null for an optional member", `"count":null`, "/count", "must be a number, not null; leave it out where there is none", `null`, "", ""),
		one("null in an array", `"trays":[null]`, "/trays/0", "must be an object, not null; leave it out where there is none", `null`, "", ""),
		one("below an exclusive minimum", `"tan_delta":0`, "/tan_delta", "must be more than 0", `0`, "more than 0", ""),
		one("at an exclusive maximum", `"tan_delta":2.0`, "/tan_delta", "must be less than 2", `2.0`, "less than 2", ""),
		one("below the minimum", `"count":0`, "/count", "must be at least 1", `0`, "at least 1", ""),
		one("not whole", `"count":2.5`, "/count", "must be a whole number", `2.5`, "", ""),
		one("element over its maximum", `"further_uf":[1,1e4]`, "/further_uf/1", "must be at most 100 µF", `1e4`, "at most 100", "µF"),
		one("value of a map over its maximum", `"map":{"x":10}`, "/map/x", "must be at most 9", `10`, "at most 9", ""),
		one("number overflows", `"tan_delta":1e999`, "/tan_delta", "is too large for a number: it would be infinite", `1e999`, "", ""),
		one("NaN", `"tan_delta":NaN`, "/tan_delta", "must be a finite number", `NaN`, "", ""),
		one("Infinity", `"further_uf":[Infinity]`, "/further_uf/0", "must be a finite number", `Infinity`, "", "µF"),
		one("-Infinity under any", `"any":[-Infinity]`, "/any/0", "must be a finite number", `-Infinity`, "", ""),
		one("not in the enum", `"colour":"gren"`, "/colour", `must be one of red, green; did you mean "green"?`, `"gren"`, "one of red, green", ""),
		one("element not in the enum", `"colours":["red","x"]`, "/colours/1", "must be one of red, green", `"x"`, "one of red, green", ""),
		one("too many items", `"colours":["red","red","red"]`, "/colours", "must have at most 2 items", `["red","red","red"]`, "at most 2 items", ""),
		one("too few items", `"trays":[]`, "/trays", "must have at least 1 item", `[]`, "at least 1 item", ""),
		one("too long, in an embedded struct", `"maker":"ÄÖÜäöü"`, "/maker", "must have at most 5 characters", `"ÄÖÜäöü"`, "at most 5 characters", ""),
		one("text of a type of ours", `"price":"1,50"`, "/price", "an amount is a decimal string", `"1,50"`, "", ""),
		one("number for a type of ours", `"price":1.5`, "/price", "must be a string", `1.5`, "", ""),
		one("control character", `"maker":"a\u0000b"`, "/maker", "must not contain control characters other than tab and line end", `"a\u0000b"`, "", ""),
		one("half a surrogate pair", `"maker":"\ud800"`, "/maker", "has half of a surrogate pair, which is no character", `"\ud800"`, "", ""),
		{"missing member", `{"name":"a"}`, problem.Fault{Pointer: "/rated_v", Message: "is required", Unit: "V"}},
		{"null for a required member", `{"name":null,"rated_v":1}`, problem.Fault{Pointer: "/name", Message: "must be a string, not null", Value: "null"}},
		{"over the maximum", `{"name":"a","rated_v":4000000}`, problem.Fault{Pointer: "/rated_v", Message: "must be at most 2000 V", Value: "4000000", Limit: "at most 2000", Unit: "V"}},
		{"empty string", `{"name":"","rated_v":1}`, problem.Fault{Pointer: "/name", Message: "must not be empty", Value: `""`, Limit: "at least 1 character"}},
		{"pattern", `{"name":"a/b","rated_v":1}`, problem.Fault{Pointer: "/name", Message: "does not keep to its form: no slash", Value: `"a/b"`, Limit: "no slash"}},
		{"not an object", `[1]`, problem.Fault{Message: "must be an object", Value: "[1]"}},
		{"null document", `null`, problem.Fault{Message: "must be an object, not null; leave it out where there is none", Value: "null"}},
	}
	for _, r := range rows {
		t.Run(r.name, func(t *testing.T) {
			t.Parallel()
			var v tray
			got := faultsOf(t, Decode([]byte(strings.ReplaceAll(r.doc, `\n`, "\n")), &v, "tray", nil))
			if d := cmp.Diff([]problem.Fault{r.want}, got); d != "" {
				t.Error(d)
			}
		})
	}
}

func TestDecodeTakesWordsLikeNaNInsideStrings(t *testing.T) {
	t.Parallel()
	var v tray
	if err := Decode([]byte(`{"name":"a\"NaN","rated_v":1,"any":["-Infinity",["NaN"]]}`), &v, "tray", nil); err != nil {
		t.Fatal(err)
	}
	if v.Name != `a"NaN` {
		t.Errorf("name %q", v.Name)
	}
}

func TestDecodeReportsAllFaultsInDocumentOrder(t *testing.T) {
	t.Parallel()
	var v tray
	doc := `{"colour":"blue","trays":[{"rated_v":NaN,"name":""},{"rated_v":-1}],"wat":1,"name":7}`
	got := faultsOf(t, Decode([]byte(doc), &v, "tray", func(l *problem.List) {
		l.Addf("/name", "is an echo and is dropped")
		l.Addf("/trays/1/rated_v", "is an echo too")
		l.Addf("/trays", "comes from the document's own check")
		l.Addf("", "is of the whole document")
	}))
	var at []string
	for _, f := range got {
		at = append(at, f.Pointer)
	}
	want := []string{"", "/colour", "/trays", "/trays/0/rated_v", "/trays/0/name", "/trays/1/rated_v", "/trays/1/name", "/wat", "/name", "/rated_v"}
	if d := cmp.Diff(want, at); d != "" {
		t.Error(d)
	}
}

func TestDecodeCapsTheFaults(t *testing.T) {
	t.Parallel()
	var v tray
	doc := `{` + good + `,"further_uf":[` + strings.TrimSuffix(strings.Repeat("0,", 1234), ",") + `]}`
	err := Decode([]byte(doc), &v, "tray", nil)
	got := faultsOf(t, err)
	if len(got) != MaxFaults+1 || got[MaxFaults].Message != "1034 further faults are not listed" {
		t.Errorf("%d faults, the last %q", len(got), got[len(got)-1].Message)
	}
	if problem.As(err).Message != "the tray has 1234 faults" {
		t.Error(problem.As(err).Message)
	}
}

func TestDecodeShortensWhatStoodThere(t *testing.T) {
	t.Parallel()
	for _, n := range []int{58, 59, 500, 5000} {
		var v tray
		got := faultsOf(t, Decode([]byte(`{`+good+`,"x":"`+strings.Repeat("µ", n)+`"}`), &v, "tray", nil))
		runes := []rune(got[0].Value)
		if want := min(n+2, maxValueRunes); len(runes) != want || (n+2 > want) != (runes[len(runes)-1] == '…') {
			t.Errorf("%d runes became %d: %s", n+2, len(runes), got[0].Value)
		}
	}
}

func TestDecodeKeepsWhatItCouldRead(t *testing.T) {
	t.Parallel()
	var v tray
	err := Decode([]byte(`{"name":"a","rated_v":5000,"tan_delta":"x","inner":null}`), &v, "tray", nil)
	if len(faultsOf(t, err)) != 2 || v.Volts != 5000 || v.Loss == nil || *v.Loss != 0 || v.Inner != nil {
		t.Errorf("%v: %+v", err, v)
	}
}

func TestDecodeSaysWhereItIsNotJSON(t *testing.T) {
	t.Parallel()
	for _, r := range []struct{ name, doc, want string }{
		{"empty", "", "the tray is an empty document"},
		{"blank", " \n", "the tray is an empty document"},
		{"byte order mark alone", "\xef\xbb\xbf", "the tray is an empty document"},
		{"bare word", "{\n \"name\": abc}", "the tray is not JSON: line 2, column 10: 'a' was not expected here"},
		{"columns count characters", `{"µµ": x}`, "the tray is not JSON: line 1, column 8: 'x' was not expected here"},
		{"comma at the end", `{"a":1,}`, "the tray is not JSON: line 1, column 8: '}' was not expected here"},
		{"single quotes", `{'a':1}`, "the tray is not JSON: line 1, column 2: '\\'' was not expected here"},
		{"comment", `{"a":1} // one`, "the tray is not JSON: line 1, column 9: something follows the end of the document"},
		{"two documents", "{}\n{}", "the tray is not JSON: line 2, column 1: something follows the end of the document"},
		{"stops short", "{\"a\":\n[1", "the tray is not JSON: line 2, column 3: the document ends too early"},
		{"string stops short", `{"a`, "the tray is not JSON: line 1, column 4: the document ends too early"},
		{"last byte wrong", `{"a":1x`, "the tray is not JSON: line 1, column 7: 'x' was not expected here"},
		{"NaN as a name", `{NaN:1}`, "the tray is not JSON: line 1, column 2: 'N' was not expected here"},
		{"+Infinity", `[+Infinity]`, "the tray is not JSON: line 1, column 2: '+' was not expected here"},
		{"NaNs", `[NaNs]`, "the tray is not JSON: line 1, column 2: 'N' was not expected here"},
		{"hexadecimal", `[0x10]`, "the tray is not JSON: line 1, column 3: 'x' was not expected here"},
		{"not UTF-8", "{\"a\":\n\"\xff\"}", "the tray is not JSON: line 2, column 2: byte 0xff at offset 7 is not UTF-8"},
		{"too deep", strings.Repeat("[", 65) + strings.Repeat("]", 65), "the tray is not JSON: line 1, column 65: nested deeper than 64 levels"},
	} {
		t.Run(r.name, func(t *testing.T) {
			t.Parallel()
			var v any
			err := Decode([]byte(r.doc), &v, "tray", func(*problem.List) { t.Error("the check ran") })
			if got := problem.CodeOf(err); got != problem.Malformed {
				t.Fatalf("code %s: %v", got, err)
			}
			if d := cmp.Diff(r.want, problem.As(err).Message); d != "" {
				t.Error(d)
			}
		})
	}
}

func TestDecodeTakesSixtyFourLevels(t *testing.T) {
	t.Parallel()
	var v any
	if err := Decode([]byte(strings.Repeat("[", MaxDepth)+strings.Repeat("]", MaxDepth)), &v, "tray", nil); err != nil {
		t.Error(err)
	}
}

func TestDecodePanicsOnAStructOfOurMaking(t *testing.T) {
	t.Parallel()
	for name, into := range map[string]any{
		"no pointer": tray{},
		"bad bound": &struct {
			A float64 `json:"a" minimum:"x"`
		}{},
		"wordless form": &struct {
			A string `json:"a" pattern:"x"`
		}{},
		"untaken member": &struct {
			A chan int `json:"a"`
		}{},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			defer func() {
				if recover() == nil {
					t.Error("no panic")
				}
			}()
			_ = Decode([]byte(`{"a":1}`), into, "tray", nil)
		})
	}
}

func TestNearest(t *testing.T) {
	t.Parallel()
	known := []string{"dropper_ohm", "choke_h", "GZ34", "GZ37", "5U4GB", ""}
	for _, r := range []struct {
		word, near string
		close      bool
	}{
		{"droper_ohm", "dropper_ohm", true},
		{"GZ43", "GZ34", true}, // neighbours swapped
		{"gz34", "GZ34", true},
		{"5U4G", "5U4GB", true},
		{"hcoke_h", "choke_h", true},
		{"bleeder", "", false},
		{strings.Repeat("x", 100), "", false},
	} {
		near, ok := Nearest(r.word, known)
		if ok != r.close || ok && near != r.near {
			t.Errorf("%q: %q, %v; want %q, %v", r.word, near, ok, r.near, r.close)
		}
	}
}

func TestPointer(t *testing.T) {
	t.Parallel()
	if got, want := Pointer("nodes", 0, "a/b~"), "/nodes/0/a~1b~0"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
	if got, want := Under("/x", 2), "/x/2"; got != want {
		t.Errorf("%s, want %s", got, want)
	}
}

func FuzzDecode(f *testing.F) {
	for _, s := range []string{"{" + good + "}", `{"name":NaN,"trays":[{"map":{"a":-Infinity}}]}`, `[`, `{"a":"\ud800"}`,
		"\xef\xbb\xbf{}", `{"price":"1.0","any":{"a":[1e999]}} x`, "nul", `{"a":1,"a":2}`, `"\`, "\xff"} {
		f.Add([]byte(s))
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		var v tray
		err := Decode(data, &v, "tray", nil)
		if err != nil {
			p := problem.As(err)
			if p.Code != problem.Malformed && p.Code != problem.Invalid || p.Message == "" || (p.Code == problem.Invalid) != (len(p.Faults) > 0) {
				t.Fatalf("%+v", p)
			}
			return
		}
		// What passes keeps to the limits it was read under.
		if v.Name == "" || !(v.Volts >= 1 && v.Volts <= 2000) || len(v.Colours) > 2 {
			t.Fatalf("%+v", v)
		}
		for _, x := range v.Further {
			if math.IsNaN(x) || x < 0.5 || x > 100 {
				t.Fatal(fmt.Sprint(v.Further))
			}
		}
	})
}

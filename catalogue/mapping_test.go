package catalogue_test

import (
	"encoding/json"
	"slices"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/catalogue"
	"coldrise/catalogue/table"
	"coldrise/domain/problem"
)

func pointers(err error) []string {
	var all []string
	for _, f := range problem.As(err).Faults {
		all = append(all, f.Pointer)
	}
	slices.Sort(all)
	return all
}

func TestParseMapNamesEveryFault(t *testing.T) {
	t.Parallel()
	const sound = `{"name":"m","columns":[{"header":"Maker","to":"maker"},{"header":"No","to":"part_number"},{"header":"C","to":"capacitance_uf","unit":"µF"},{"header":"V","to":"rated_v"}],"fixed":{"technology":"film","style":"box"}}`
	if _, err := catalogue.ParseMap([]byte(sound)); err != nil {
		t.Fatal(err)
	}
	column := func(c string) string { return strings.Replace(sound, `{"header":"V","to":"rated_v"}`, c, 1) }
	tests := []struct {
		name, doc string
		want      []string
	}{
		{"a decimal sign that groups", strings.Replace(sound, `"m",`, `"m","decimal":"comma","grouping":"comma",`, 1), []string{"/grouping"}},
		{"a header that is none", strings.Replace(sound, `"m",`, `"m","no_header":true,"header_row":2,`, 1), []string{"/columns/0/header", "/columns/1/header", "/columns/2/header", "/columns/3/header", "/header_row"}},
		{"a column without a place", column(`{"to":"rated_v"}`), []string{"/columns/3/header"}},
		{"a column with two", column(`{"header":"V","letter":"D","to":"rated_v"}`), []string{"/columns/3/letter"}},
		{"a letter that is none", column(`{"letter":"7","to":"rated_v"}`), []string{"/columns/3/letter"}},
		{"a target that is none", column(`{"header":"V","to":"rated_volts"}`), []string{"/columns", "/columns/3/to"}},
		{"a unit of something else", column(`{"header":"V","to":"rated_v","unit":"mA"}`), []string{"/columns/3/unit"}},
		{"a unit where there is none", column(`{"header":"V","to":"rated_v"},{"header":"N","to":"note","unit":"V"}`), []string{"/columns/4/unit"}},
		{"one member fed twice", column(`{"header":"V","to":"rated_v"},{"header":"S","to":"sections_uf"}`), []string{"/columns/4/to"}},
		{"fixed and fed", strings.Replace(sound, `"film"`, `"film","rated_v":"450"`, 1), []string{"/fixed/rated_v"}},
		{"fixed to what it cannot be", strings.Replace(sound, `"film"`, `"paper"`, 1), []string{"/fixed/technology"}},
		{"fixed, and no member", strings.Replace(sound, `"film"`, `"film","colour":"blue"`, 1), []string{"/fixed/colour"}},
		{"nothing feeds what parts need", `{"name":"m","columns":[{"header":"Maker","to":"maker"}]}`, []string{"/columns"}},
		{"nothing feeds what offers need", column(`{"header":"V","to":"rated_v"},{"header":"P","to":"unit_price"}`), []string{"/fixed"}},
		{"a break of what has none", column(`{"header":"V","to":"rated_v","break":2,"from_qty":5,"per":100,"order":["length_mm"]}`), []string{"/columns/3/break", "/columns/3/from_qty", "/columns/3/order", "/columns/3/per"}},
		{"breaks in columns where rows are details", strings.Replace(column(`{"header":"V","to":"rated_v"},{"header":"P","to":"unit_price","from_qty":10}`), `"m",`, `"m","rows":"detail",`, 1), []string{"/columns/4/to", "/fixed"}},
		{"a skip without a column", strings.Replace(sound, `"m",`, `"m","skip":[{"is":["x"]}],`, 1), []string{"/skip/0/header"}},
		{"members nobody knows", strings.Replace(sound, `"m",`, `"m","delimiter":";","encoding":"latin",`, 1), []string{"/delimiter", "/encoding"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			_, err := catalogue.ParseMap([]byte(tt.doc))
			if diff := cmp.Diff(tt.want, pointers(err)); diff != "" {
				t.Errorf("%v\n%s", err, diff)
			}
		})
	}
}

// A map is kept as JSON and comes back the same; the map of our own exports is
// a sound one.
func TestMapsRoundTrip(t *testing.T) {
	t.Parallel()
	own := catalogue.OwnMap(table.Flavour{Separator: ';', DecimalComma: true})
	for _, m := range []catalogue.Map{own, mapOf(t, listMap, nil), mapOf(t, priceListMap, nil), mapOf(t, localeMap, nil)} {
		data, err := json.Marshal(m)
		if err != nil {
			t.Fatal(err)
		}
		back, err := catalogue.ParseMap(data)
		if diff := cmp.Diff(m, back); err != nil || diff != "" {
			t.Errorf("%v\n%s", err, diff)
		}
	}
}

// Whatever a map says that is taken, no file makes the reading fail in a way
// nobody foresaw, and what it calls sound comes back from an export.
func FuzzMap(f *testing.F) {
	f.Add([]byte(listMap), []byte(list))
	f.Add([]byte(priceListMap), priceList(3))
	f.Add([]byte(localeMap), []byte("Maker;Part No;Capacitance (µF);Voltage;Ripple (mA);Order Code;Stock;Price\nSedgemere;HA-1;0,047;630;1.234,50;PG-1;12.345;4,63\n"))
	own, err := json.Marshal(catalogue.OwnMap(table.Flavour{}))
	if err != nil {
		f.Fatal(err)
	}
	_, parts, err := catalogue.Starter()
	if err != nil {
		f.Fatal(err)
	}
	f.Add(own, exported(f, parts[:2], catalogue.Export{}))
	f.Add([]byte(`{"name":"m","no_header":true,"rows":"detail","columns":[{"letter":"A","to":"maker"},{"letter":"B","to":"part_number"},{"letter":"C","to":"sections_uf"},{"letter":"D","to":"rated_v"}],"fixed":{"technology":"film","style":"can"}}`), []byte("a,b,32+32 µF,450\na,b,,\n"))
	f.Fuzz(func(t *testing.T, doc, data []byte) {
		m, err := catalogue.ParseMap(doc)
		if err != nil {
			if c := problem.CodeOf(err); c != problem.Malformed && c != problem.Invalid {
				t.Fatal(err)
			}
			return
		}
		file, err := catalogue.Open(t.Context(), strings.NewReader(string(data)), int64(len(data)), m, catalogue.Options{Limits: table.Limits{CSVRows: 1000}})
		if err != nil {
			if problem.CodeOf(err) == problem.Internal {
				t.Fatal(problem.As(err).Cause)
			}
			return
		}
		report, err := file.Check(t.Context())
		if err != nil || !report.Sound() || report.Parts == 0 {
			if err != nil && problem.CodeOf(err) == problem.Internal {
				t.Fatal(problem.As(err).Cause)
			}
			return
		}
		fuzzBack(t, file)
	})
}

// fuzzBack exports what a sound file gave and reads it again.
func fuzzBack(t *testing.T, file *catalogue.File) {
	t.Helper()
	got := collect(t, file)
	again := read(t, exported(t, got, catalogue.Export{}), catalogue.OwnMap(table.Flavour{}), catalogue.Options{})
	if diff := cmp.Diff(got, again); diff != "" {
		t.Fatal(diff)
	}
}

package catalogue_test

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"iter"
	"reflect"
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"
	"pgregory.net/rapid"

	"coldrise/catalogue"
	"coldrise/catalogue/table"
	"coldrise/domain/part"
	"coldrise/domain/problem"
)

// each gives parts as a store streams them.
func each(parts []part.Part) iter.Seq2[part.Part, error] {
	return func(yield func(part.Part, error) bool) {
		for _, p := range parts {
			if !yield(p, nil) {
				return
			}
		}
	}
}

// among finds series by name.
func among(series []part.Series) func(string) (*part.Series, bool) {
	return func(name string) (*part.Series, bool) {
		for i := range series {
			if series[i].Name == name {
				return &series[i], true
			}
		}
		return nil, false
	}
}

// opened opens a file that is in memory.
func opened(t testing.TB, data []byte, m catalogue.Map, o catalogue.Options) *catalogue.File {
	t.Helper()
	f, err := catalogue.Open(t.Context(), bytes.NewReader(data), int64(len(data)), m, o)
	if err != nil {
		t.Fatalf("open: %v", err)
	}
	return f
}

// read gives the parts of a file that must be sound.
func read(t testing.TB, data []byte, m catalogue.Map, o catalogue.Options) []part.Part {
	t.Helper()
	f := opened(t, data, m, o)
	report, err := f.Check(t.Context())
	if err != nil {
		t.Fatalf("check: %v", err)
	}
	if !report.Sound() {
		t.Fatalf("%d errors: %v", report.Errors, report.Findings)
	}
	return collect(t, f)
}

// collect gives all parts of a file that was checked.
func collect(t testing.TB, f *catalogue.File) []part.Part {
	t.Helper()
	var parts []part.Part
	for row, err := range f.Parts(t.Context(), false) {
		if err != nil {
			t.Fatalf("parts: %v", err)
		}
		parts = append(parts, row.Part)
	}
	return parts
}

// ways are the forms and flavours of an export.
var ways = []struct {
	name string
	e    catalogue.Export
}{
	{"CSV by RFC 4180", catalogue.Export{}},
	{"CSV for a spreadsheet in English", catalogue.Export{Flavour: table.Flavour{Mark: true}}},
	{"CSV for a spreadsheet in German", catalogue.Export{Flavour: table.Flavour{Mark: true, Separator: ';', DecimalComma: true}}},
	{"CSV with tabs", catalogue.Export{Flavour: table.Flavour{Separator: '\t'}}},
	{"XLSX", catalogue.Export{Form: table.XLSX}},
}

func exported(t testing.TB, parts []part.Part, e catalogue.Export) []byte {
	t.Helper()
	var b bytes.Buffer
	if err := catalogue.WriteParts(&b, each(parts), e); err != nil {
		t.Fatalf("export: %v", err)
	}
	return b.Bytes()
}

// The whole starter catalogue comes back as it went out, in every form, with
// its series.
func TestStarterCatalogueSurvivesExportAndImport(t *testing.T) {
	t.Parallel()
	series, parts, err := catalogue.Starter()
	if err != nil {
		t.Fatal(err)
	}
	for _, way := range ways {
		t.Run(way.name, func(t *testing.T) {
			t.Parallel()
			way.e.Series = series
			data := exported(t, parts, way.e)
			got := read(t, data, catalogue.OwnMap(way.e.Flavour), catalogue.Options{Series: among(series)})
			if diff := cmp.Diff(parts, got, cmpopts.EquateEmpty()); diff != "" {
				t.Error(diff)
			}
			if way.e.Form != table.XLSX {
				var b bytes.Buffer
				if err := catalogue.WriteSeries(&b, series, way.e.Flavour); err != nil {
					t.Fatal(err)
				}
				data = b.Bytes()
			}
			decimal := map[bool]string{true: "comma", false: "point"}[way.e.Flavour.DecimalComma]
			back, report, err := catalogue.ReadSeries(t.Context(), bytes.NewReader(data), int64(len(data)), decimal, catalogue.Options{})
			if err != nil || !report.Sound() {
				t.Fatal(err, report.Findings)
			}
			if diff := cmp.Diff(series, back, cmpopts.EquateEmpty()); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// odd is text that tables are known to bend: what begins a formula, what parts
// cells, what ends lines, what workbooks escape, what lies beyond 16 bits.
var odd = []string{"=1+2", "+44", "-40 °C", "@here", "\tx", "\rx", "'", "''=x", "'plain", "a;=1+1", "x,\"=2", `"`, `""`, "a,b;c\td|e", "line\r\nend", "line\nend", "\r", "\n",
	"0042", "1E10", "10/50", "TRUE", " blank ", "_x000D_", "_x005F_", "_x_", "µΩ", "😀", "\u2028", "<a&b>", "]]>", "#N/A", "sep=;", "\ufeff", "a\u0301", "=\u200b"}

// Ten thousand rows of every pair of odd texts survive, in every form.
func TestTenThousandRowsSurvive(t *testing.T) {
	t.Parallel()
	var parts []part.Part
	for i := range 5000 {
		a, b := odd[i%len(odd)], odd[i/len(odd)%len(odd)]
		offer := part.Offer{Supplier: b + "s", SKU: a + b + "k", Currency: "EUR", Pack: 1, MinQty: 1, Stock: i, LeadDays: i % 90,
			Breaks: []part.Break{{MinQty: 1, UnitPrice: part.Money(i)*1e5 + 2}, {MinQty: 10, UnitPrice: part.Money(i) * 1e5}}}
		parts = append(parts, part.Part{Maker: a + "m", PartNumber: fmt.Sprint(b, a, i), Technology: part.Film, Style: part.Box, CapacitanceUF: 1 / float64(i+1), RatedV: 630,
			Ratings: part.Ratings{MinC: ptr(-float64(i%100) / 3)}, Note: a + "\r\n" + b, Offers: []part.Offer{offer}})
	}
	for _, way := range ways {
		t.Run(way.name, func(t *testing.T) {
			t.Parallel()
			got := read(t, exported(t, parts, way.e), catalogue.OwnMap(way.e.Flavour), catalogue.Options{})
			if diff := cmp.Diff(parts, got); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func oddText(most int) *rapid.Generator[string] {
	return rapid.Custom(func(t *rapid.T) string {
		s := rapid.SampledFrom(odd).Draw(t, "odd") + rapid.StringN(0, 12, -1).Draw(t, "any") + rapid.SampledFrom(odd).Draw(t, "end")
		s = strings.Map(func(r rune) rune {
			if r < ' ' && r != '\t' && r != '\n' && r != '\r' || r == 0x7f || r == 0xfffe || r == 0xffff {
				return '·'
			}
			return r
		}, strings.ToValidUTF8(s, "?"))
		for utf8.RuneCountInString(s) > most {
			_, size := utf8.DecodeLastRuneInString(s)
			s = s[:len(s)-size]
		}
		return s
	})
}

// anyPart draws a part that part.ParsePart would take, with every member now
// and then.
func anyPart() *rapid.Generator[part.Part] {
	return rapid.Custom(func(t *rapid.T) part.Part {
		v := func(name string, least, most float64) *float64 {
			return rapid.Ptr(rapid.OneOf(rapid.Float64Range(least, most), rapid.SampledFrom([]float64{least, most, least + (most-least)/3})), true).Draw(t, name)
		}
		p := part.Part{
			Maker: oddText(80).Draw(t, "maker"), PartNumber: oddText(80).Draw(t, "part_number"), Technology: part.Electrolytic,
			Style: rapid.SampledFrom([]part.Style{part.Axial, part.SnapIn, part.Can}).Draw(t, "style"), CapacitanceUF: rapid.Float64Range(1e-6, 1e5).Draw(t, "uf"),
			Tolerance: part.Tolerance{TolMinusPct: v("minus", 0, 90), TolPlusPct: v("plus", 0, 200)}, RatedV: rapid.Float64Range(1, 1e4).Draw(t, "v"),
			RippleMA: v("ripple", 0.1, 1e5), ESROhm: v("esr", 1e-9, 1e-6), LeakageUA: v("leakage", 0, 1e6), DiameterMM: v("d", 1e-6, 200), LengthMM: v("l", 1e-6, 300),
			LeadPitchMM: v("pitch", 1e-6, 200), Note: rapid.OneOf(rapid.Just(""), oddText(400)).Draw(t, "note"),
		}
		p.MinC, p.MaxC, p.BaseHz = v("min_c", -100, 30), v("max_c", 41, 200), v("base_hz", 1, 9e5)
		if p.Style == part.Can {
			p.FurtherSectionsUF = rapid.SliceOfN(rapid.Float64Range(1e-6, 1e5), 0, 5).Draw(t, "sections")
		}
		if p.BaseHz != nil && rapid.Bool().Draw(t, "table") {
			p.FrequencyFactors = part.FrequencyTable{{Hz: *p.BaseHz, Factor: 1}, {Hz: *p.BaseHz + 100, Factor: 1.0 + 1.0/3}}[:rapid.IntRange(1, 2).Draw(t, "points")]
		}
		if h := v("life_h", 100, 1e6); h != nil {
			p.Life = &part.Life{RatedH: h, Model: part.TenKelvin}
		}
		if rapid.Bool().Draw(t, "law") {
			p.Leakage = &part.Leakage{PerCV: 0.01, Minutes: 5}
		}
		for i := range rapid.IntRange(0, 3).Draw(t, "offers") {
			p.Offers = append(p.Offers, anyOffer(t, i))
		}
		return p
	})
}

func anyOffer(t *rapid.T, i int) part.Offer {
	o := part.Offer{Supplier: oddText(78).Draw(t, "supplier") + string(rune('a'+i)), SKU: oddText(80).Draw(t, "sku"), Currency: "GBP", Pack: rapid.IntRange(1, 1e5).Draw(t, "pack"),
		Stock: rapid.IntRange(0, 1e8).Draw(t, "stock"), LeadDays: rapid.IntRange(0, 1000).Draw(t, "lead"), Preferred: rapid.Bool().Draw(t, "preferred")}
	qty, price := 0, int64(part.MaxMoney)
	for range rapid.IntRange(1, 4).Draw(t, "breaks") {
		qty += rapid.IntRange(1, 100_000).Draw(t, "qty")
		price = rapid.Int64Range(0, price).Draw(t, "price")
		o.Breaks = append(o.Breaks, part.Break{MinQty: qty, UnitPrice: part.Money(price)})
	}
	o.MinQty = o.Breaks[0].MinQty
	return o
}

// Import of an export is identity, in every form, whatever the texts hold.
func TestImportOfAnExportIsIdentity(t *testing.T) {
	t.Parallel()
	for _, way := range ways {
		t.Run(way.name, func(t *testing.T) {
			t.Parallel()
			rapid.Check(t, func(rt *rapid.T) {
				parts := rapid.SliceOfNDistinct(anyPart(), 1, 4, func(p part.Part) string { return p.Maker + "\x00" + p.PartNumber }).Draw(rt, "parts")
				for i := range parts {
					var l problem.List
					if parts[i].Check(&l, nil); l.Len() > 0 {
						rt.Fatalf("the part drawn is at fault: %v", l.Err("part"))
					}
				}
				var b bytes.Buffer
				if err := catalogue.WriteParts(&b, each(parts), way.e); err != nil {
					rt.Fatal(err)
				}
				got := readAll(rt, b.Bytes(), catalogue.OwnMap(way.e.Flavour))
				if diff := cmp.Diff(parts, got, cmpopts.EquateEmpty()); diff != "" {
					rt.Fatal(diff)
				}
			})
		})
	}
}

func readAll(t *rapid.T, data []byte, m catalogue.Map) []part.Part {
	f, err := catalogue.Open(context.Background(), bytes.NewReader(data), int64(len(data)), m, catalogue.Options{})
	if err != nil {
		t.Fatal(err)
	}
	report, err := f.Check(context.Background())
	if err != nil || !report.Sound() {
		t.Fatalf("%v %v", err, report.Findings)
	}
	var parts []part.Part
	for row, err := range f.Parts(context.Background(), false) {
		if err != nil {
			t.Fatal(err)
		}
		parts = append(parts, row.Part)
	}
	return parts
}

// An export that fails says so, and a text no table can hold is refused with
// the part it belongs to.
func TestExportRefuses(t *testing.T) {
	t.Parallel()
	bad := part.Part{Maker: "Sedgemere", PartNumber: "HA\x00450", RatedV: 450}
	for _, way := range ways {
		err := catalogue.WriteParts(&bytes.Buffer{}, each([]part.Part{bad}), way.e)
		if problem.CodeOf(err) != problem.Invalid || !strings.Contains(err.Error(), "Sedgemere") || !strings.Contains(err.Error(), "U+0000") {
			t.Errorf("%s: a NUL: %v", way.name, err)
		}
		failing := func(yield func(part.Part, error) bool) { yield(part.Part{}, problem.New(problem.Busy, "later")) }
		if err := catalogue.WriteParts(&bytes.Buffer{}, failing, way.e); problem.CodeOf(err) != problem.Busy {
			t.Errorf("%s: parts that fail: %v", way.name, err)
		}
		if err := catalogue.WriteParts(full{}, each(make([]part.Part, 1)), way.e); problem.CodeOf(err) != problem.Internal {
			t.Errorf("%s: a writer that fails: %v", way.name, err)
		}
	}
	long := part.Part{Maker: "Sedgemere", PartNumber: "HA", Note: strings.Repeat("😀", 17_000)}
	if err := catalogue.WriteParts(&bytes.Buffer{}, each([]part.Part{long}), catalogue.Export{Form: table.XLSX}); problem.CodeOf(err) != problem.Invalid {
		t.Errorf("34 000 UTF-16 units in a workbook's cell: %v", err)
	}
}

type full struct{}

func (full) Write([]byte) (int, error) { return 0, errors.New("no room") }

// Every member of a part has a column, and every column a member.
func TestEveryMemberHasAColumn(t *testing.T) {
	t.Parallel()
	targets := map[string]bool{}
	for _, name := range catalogue.Targets() {
		targets[name] = true
	}
	if len(targets) != len(catalogue.Targets()) {
		t.Error("a target is listed twice")
	}
	for _, missing := range catalogue.Uncovered(reflect.TypeFor[part.Part]()) {
		t.Errorf("no column holds %s: add a row to members.go", missing)
	}
	for _, missing := range catalogue.Uncovered(reflect.TypeFor[part.Series]()) {
		t.Errorf("no column of a series holds %s: add a row to members.go", missing)
	}
}

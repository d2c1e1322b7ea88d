package catalogue_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
	"maps"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"coldrise/catalogue"
	"coldrise/catalogue/table"
	"coldrise/domain/part"
	"coldrise/domain/problem"
)

// A shop's price list and the map it keeps for it. Maker, supplier and parts
// are invented.
const list = `Maker,Part No,Type,Style,Capacitance,Voltage,Tolerance,Size,Ripple,Order Code,Stock,Price
Sedgemere,HA450-22,electrolytic,axial,22 µF,450 V,-10/+50 %,15 x 30,240 mA,PG-1,40,3.20
Sedgemere,HA450-47,electrolytic,axial,47µ,450VDC,T,18x38mm,0.41 A,PG-2,0,4.63
`

const listMap = `{"name":"Peatgate list","columns":[
 {"header":"Maker","to":"maker"},{"header":"Part No","to":"part_number"},{"header":"Type","to":"technology"},{"header":"Style","to":"style"},
 {"header":"Capacitance","to":"capacitance_uf"},{"header":"Voltage","to":"rated_v"},{"header":"Tolerance","to":"tolerance_pct"},{"header":"Size","to":"size_mm"},
 {"header":"Ripple","to":"ripple_ma"},{"header":"Order Code","to":"sku"},{"header":"Stock","to":"stock"},{"header":"Price","to":"unit_price"}],
 "fixed":{"supplier":"Peatgate Components","currency":"GBP","pack":"1","min_qty":"1","lead_days":"2","base_hz":"100","max_c":"85"}}`

// mapOf reads a map and changes members of it.
func mapOf(t testing.TB, doc string, changes map[string]any) catalogue.Map {
	t.Helper()
	var m map[string]any
	if err := json.Unmarshal([]byte(doc), &m); err != nil {
		t.Fatal(err)
	}
	for k, v := range changes {
		m[k] = v
	}
	data, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	parsed, err := catalogue.ParseMap(data)
	if err != nil {
		t.Fatal(err)
	}
	return parsed
}

func check(t testing.TB, data string, m catalogue.Map, o catalogue.Options) catalogue.Report {
	t.Helper()
	report, err := opened(t, []byte(data), m, o).Check(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	return report
}

// where tells a report's findings by place and code.
func where(r catalogue.Report) []string {
	var all []string
	for _, f := range r.Findings {
		all = append(all, fmt.Sprintf("%d %s %s", f.Line, f.Column, f.Code))
	}
	return all
}

func ptr[T any](v T) *T { return &v }

func TestAPriceListBecomesParts(t *testing.T) {
	t.Parallel()
	got := read(t, []byte(list), mapOf(t, listMap, nil), catalogue.Options{})
	made := func(number string, uf, d, l, ripple float64, sku string, stock int, price part.Money) part.Part {
		return part.Part{Maker: "Sedgemere", PartNumber: number, Technology: part.Electrolytic, Style: part.Axial, CapacitanceUF: uf, Tolerance: part.Within(10, 50), RatedV: 450,
			RippleMA: &ripple, DiameterMM: &d, LengthMM: &l, Ratings: part.Ratings{BaseHz: ptr(100.0), MaxC: ptr(85.0)},
			Offers: []part.Offer{{Supplier: "Peatgate Components", SKU: sku, Currency: "GBP", Pack: 1, MinQty: 1, Stock: stock, LeadDays: 2, Breaks: []part.Break{{MinQty: 1, UnitPrice: price}}}}}
	}
	want := []part.Part{made("HA450-22", 22, 15, 30, 240, "PG-1", 40, 3_200_000), made("HA450-47", 47, 18, 38, 410, "PG-2", 0, 4_630_000)}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// One column replaced at a time: what each cell gives, or what is said of it.
func TestCells(t *testing.T) {
	t.Parallel()
	tests := []struct {
		header, cell string
		column       map[string]any // of the map, over the default
		changes      map[string]any // of the map
		want         func(*part.Part) any
		is           any
		code         catalogue.Code
		says         string
	}{
		{header: "Capacitance", cell: "4n7", want: uf, is: 0.0047}, {header: "Capacitance", cell: "4\u03bc7", want: uf, is: 4.7}, {header: "Capacitance", cell: "47uF", want: uf, is: 47.0},
		{header: "Capacitance", cell: ".047", want: uf, is: 0.047}, {header: "Capacitance", cell: "20 MFD", want: uf, is: 20.0}, {header: "Capacitance", cell: "250 MMFD", want: uf, is: 0.00025},
		{header: "Capacitance", cell: `"0,047 µF"`, changes: changes("decimal", "comma"), want: uf, is: 0.047},
		{header: "Capacitance", cell: "47", column: changes("unit", "nF"), want: uf, is: 0.047},
		{header: "Capacitance", cell: "47M", changes: changes("legacy_units", true), want: uf, is: 47.0},
		{header: "Capacitance", cell: "47", code: catalogue.CodeValue, says: "in pF or in µF"},
		{header: "Capacitance", cell: "473", code: catalogue.CodeValue, says: "in pF or in µF"},
		{header: "Capacitance", cell: "473K", column: changes("to", "code"), want: uf, is: 0.047, changes: changes("columns", "no tolerance")},
		{header: "Capacitance", cell: "47 mF", code: catalogue.CodeValue, says: "declare legacy units"}, {header: "Capacitance", cell: "47M", code: catalogue.CodeValue, says: "declare legacy units"},
		{header: "Capacitance", cell: `"1,234 µF"`, code: catalogue.CodeValue, says: "declare the decimal comma"},
		{header: "Capacitance", cell: "1.234 µF", code: catalogue.CodeValue, says: "declare which"},
		{header: "Capacitance", cell: "1.234 µF", changes: changes("decimal", "point"), want: uf, is: 1.234},
		{header: "Capacitance", cell: "1.234 µF", changes: changes("decimal", "comma", "grouping", "point"), want: uf, is: 1234.0},
		{header: "Capacitance", cell: "0 µF", code: catalogue.CodeValue, says: "more than 0"}, {header: "Capacitance", cell: "2 F", code: catalogue.CodeRange, says: "at most 100000"},
		{header: "Capacitance", cell: "", code: catalogue.CodeRequired, says: "must not be blank"},
		{header: "Voltage", cell: "450 WV", want: volts, is: 450.0}, {header: "Voltage", cell: "275 V~", code: catalogue.CodeValue, says: "alternating"},
		{header: "Voltage", cell: "0.4 kV", want: volts, is: 400.0}, {header: "Voltage", cell: "450 mV", code: catalogue.CodeRange, says: "at least 1 V"},
		{header: "Tolerance", cell: "±20 %", want: plus, is: 20.0}, {header: "Tolerance", cell: "+/-10%", want: plus, is: 10.0}, {header: "Tolerance", cell: "-10/+50", want: plus, is: 50.0},
		{header: "Tolerance", cell: "10/50", code: catalogue.CodeValue, says: "must be a tolerance"}, {header: "Tolerance", cell: "-99/+50", code: catalogue.CodeRange, says: "tol_minus_pct must be at most 90 %"},
		{header: "Size", cell: "25x50", want: length, is: 50.0}, {header: "Size", cell: "Ø25 × 50 mm", want: length, is: 50.0}, {header: "Size", cell: "1 x 3", column: changes("unit", "in"), want: length, is: 76.2},
		{header: "Size", cell: "10x20x30", code: catalogue.CodeValue, says: "three lengths; say in the column's order"},
		{header: "Size", cell: "30x20", column: changes("order", []string{"length_mm", "diameter_mm"}), want: length, is: 30.0},
		{header: "Size", cell: "30", code: catalogue.CodeValue, says: "diameter_mm × length_mm"},
		{header: "Ripple", cell: "1.2 A", want: ripple, is: 1200.0}, {header: "Ripple", cell: "850mA", want: ripple, is: 850.0}, {header: "Ripple", cell: "850", code: catalogue.CodeValue, says: "declare what the column is in"},
		{header: "Ripple", cell: "0.85", column: changes("unit", "A"), want: ripple, is: 850.0},
		{header: "Ripple", cell: "850 mA @ 120 Hz", column: changes("to", "ripple_at"), changes: changes("fixed", "no base_hz"), want: hertz, is: 120.0},
		{header: "Ripple", cell: "n/a", column: changes("values", map[string]string{"N/A": ""}), want: func(p *part.Part) any { return p.RippleMA == nil }, is: true},
		{header: "Type", cell: "Elko", code: catalogue.CodeChoice, says: "say in the column's values"},
		{header: "Type", cell: "Elko", column: changes("values", map[string]string{"elko": "electrolytic"}), want: func(p *part.Part) any { return p.Technology }, is: part.Electrolytic},
		{header: "Style", cell: "Snap-In", want: func(p *part.Part) any { return p.Style }, is: part.SnapIn},
		{header: "Style", cell: "box", code: catalogue.CodeContradiction, says: "an electrolytic is no box"},
		{header: "Part No", cell: strings.Repeat("x", 81), code: catalogue.CodeRange, says: "at most 80 characters"},
		{header: "Part No", cell: "  'HA'  ", want: func(p *part.Part) any { return p.PartNumber }, is: "'HA'"}, {header: "Part No", cell: "'=HA", want: func(p *part.Part) any { return p.PartNumber }, is: "=HA"},
		{header: "Part No", cell: "HA\x01", code: catalogue.CodeValue, says: "control characters"}, {header: "Part No", cell: "HA\xb5", code: catalogue.CodeEncoding, says: "not UTF-8"},
		{header: "Stock", cell: "40 pcs", want: stock, is: 40}, {header: "Stock", cell: "12.5", code: catalogue.CodeValue, says: "whole number"}, {header: "Stock", cell: ">100", code: catalogue.CodeValue, says: "such as 25"},
		{header: "Stock", cell: "-1", code: catalogue.CodeValue, says: "negative"}, {header: "Stock", cell: "yes", column: changes("values", map[string]string{"yes": "10"}), want: stock, is: 10},
		{header: "Stock", cell: `"1,234"`, code: catalogue.CodeValue, says: "declare the decimal comma"}, {header: "Stock", cell: `"1,234"`, changes: changes("decimal", "point", "grouping", "comma"), want: stock, is: 1234},
		{header: "Price", cell: "£4.63", want: price, is: part.Money(4_630_000)}, {header: "Price", cell: "4.63 GBP", want: price, is: part.Money(4_630_000)},
		{header: "Price", cell: "€4.63", code: catalogue.CodeContradiction, says: `beside "€", which is not GBP`},
		{header: "Price", cell: "46.30", column: changes("per", 100), want: price, is: part.Money(463_000)}, {header: "Price", cell: "0.000001", column: changes("per", 100), code: catalogue.CodeValue, says: "six decimals once it is divided"},
		{header: "Price", cell: `"4,63"`, code: catalogue.CodeValue, says: "declare the decimal comma"}, {header: "Price", cell: `"1.234,56"`, changes: changes("decimal", "comma", "grouping", "point"), want: price, is: part.Money(1_234_560_000)},
		{header: "Price", cell: "4.1234567", code: catalogue.CodeValue, says: "six decimals"}, {header: "Price", cell: "POA", code: catalogue.CodeValue, says: ""}, {header: "Price", cell: "", code: catalogue.CodeRequired, says: "must have a price"},
		{header: "Price", cell: ".5", want: price, is: part.Money(500_000)}, {header: "Price", cell: "5.", changes: changes("decimal", "point"), want: price, is: part.Money(5_000_000)},
		{header: "Price", cell: "1.234", code: catalogue.CodeValue, says: "declare which"}, {header: "Price", cell: "0", want: price, is: part.Money(0)},
	}
	for _, tt := range tests {
		t.Run(tt.header+" "+tt.cell, func(t *testing.T) {
			t.Parallel()
			data, m := oneCell(t, tt.header, tt.cell, tt.column, tt.changes)
			report := check(t, data, m, catalogue.Options{})
			if tt.code != "" {
				if report.Errors == 0 || report.Parts != 1 || report.BadRows != 1 {
					t.Fatalf("%d errors, %d parts, %d bad rows", report.Errors, report.Parts, report.BadRows)
				}
				f := report.Findings[0]
				if f.Code != tt.code || f.Line != 2 || f.Header != tt.header || !strings.Contains(f.Message, tt.says) {
					t.Errorf("%s: %s", f.Code, f)
				}
				return
			}
			got := read(t, []byte(data), m, catalogue.Options{})
			if v := tt.want(&got[0]); v != tt.is {
				t.Errorf("%v, want %v", v, tt.is)
			}
		})
	}
}

func uf(p *part.Part) any     { return p.CapacitanceUF }
func volts(p *part.Part) any  { return p.RatedV }
func plus(p *part.Part) any   { return *p.TolPlusPct }
func length(p *part.Part) any { return *p.LengthMM }
func ripple(p *part.Part) any { return *p.RippleMA }
func hertz(p *part.Part) any  { return *p.BaseHz }
func stock(p *part.Part) any  { return p.Offers[0].Stock }
func price(p *part.Part) any  { return p.Offers[0].Breaks[0].UnitPrice }

func changes(pairs ...any) map[string]any {
	m := map[string]any{}
	for i := 0; i < len(pairs); i += 2 {
		m[pairs[i].(string)] = pairs[i+1]
	}
	return m
}

// oneCell puts a cell into the first row of the list, and changes the map.
func oneCell(t *testing.T, header, cell string, column, changed map[string]any) (string, catalogue.Map) {
	t.Helper()
	lines := strings.Split(list, "\n")
	cells := strings.Split(lines[1], ",")
	for i, h := range strings.Split(lines[0], ",") {
		if h == header {
			cells[i] = cell
		}
	}
	lines[1] = strings.Join(cells, ",")
	var m map[string]any
	if err := json.Unmarshal([]byte(listMap), &m); err != nil {
		t.Fatal(err)
	}
	var columns []any
	for _, c := range m["columns"].([]any) {
		c := c.(map[string]any)
		for k, v := range column {
			if c["header"] == header {
				c[k] = v
			}
		}
		if changed["columns"] == "no tolerance" && c["to"] == "tolerance_pct" {
			continue
		}
		columns = append(columns, c)
	}
	changed = maps.Clone(changed)
	if changed["columns"] != nil {
		delete(changed, "columns")
		lines[2] = strings.Replace(lines[2], "47µ", "470", 1) // in a code column a code
	}
	if changed["fixed"] != nil {
		delete(changed, "fixed")
		delete(m["fixed"].(map[string]any), "base_hz")
	}
	m["columns"] = columns
	data, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Join(lines, "\n")
	if changed["decimal"] == "comma" {
		text = strings.NewReplacer("3.20", "3", "4.63", "4", "0.41 A", "410 mA").Replace(text)
	}
	return text, mapOf(t, string(data), changed)
}

// Ten thousand rows with faults in lines 2, 9 000 and 9 999: three findings,
// each with line, column, raw value and code, and no part given.
func TestThreeFaultsInTenThousandRows(t *testing.T) {
	t.Parallel()
	lines := strings.Split(string(priceList(10_000)), "\r\n")
	spoil := func(line int, old, bad string) {
		if !strings.Contains(lines[line-1], old) {
			t.Fatalf("line %d is %q", line, lines[line-1])
		}
		lines[line-1] = strings.Replace(lines[line-1], old, bad, 1)
	}
	spoil(2, ",8,350,", ",8 mF,350,")
	spoil(9000, "axial", "sideways")
	spoil(9999, "Sedgemere,HA500-9997", "Sedgemere,")
	data := []byte(strings.Join(lines, "\r\n"))
	m := mapOf(t, priceListMap, nil)
	f := opened(t, data, m, catalogue.Options{})
	report, err := f.Check(t.Context())
	if err != nil {
		t.Fatal(err)
	}
	want := []catalogue.Finding{
		{Severity: catalogue.IsError, Code: catalogue.CodeValue, Line: 2, Column: "E", Header: "Capacitance", Member: "capacitance_uf", Raw: "8 mF",
			Message: "may be microfarads, as old markings have it, or millifarads; write µF, or declare legacy units"},
		{Severity: catalogue.IsError, Code: catalogue.CodeChoice, Line: 9000, Column: "D", Header: "Style", Member: "style", Raw: "sideways",
			Message: "must be one of axial, radial, snap_in, can, box, disc; say in the column's values what the file's words stand for"},
		{Severity: catalogue.IsError, Code: catalogue.CodeRequired, Line: 9999, Column: "B", Header: "Part No", Member: "part_number", Message: "part_number must not be blank"},
	}
	if diff := cmp.Diff(want, report.Findings); diff != "" {
		t.Error(diff)
	}
	if report.Rows != 10_000 || report.Parts != 9997 || report.BadParts != 3 || report.Errors != 3 {
		t.Errorf("%+v", report)
	}
	// All or nothing: the parts end with the first error, which says why.
	n := 0
	for _, err := range f.Parts(t.Context(), false) {
		if err != nil {
			if problem.CodeOf(err) != problem.Invalid || !strings.Contains(err.Error(), "line 2") {
				t.Error(err)
			}
			break
		}
		n++
	}
	if n != 0 {
		t.Errorf("%d parts were given", n)
	}
	// On request the good ones, and the bad rows handed back.
	for _, err := range f.Parts(t.Context(), true) {
		if err != nil {
			t.Fatal(err)
		}
		n++
	}
	var bad bytes.Buffer
	if err := f.WriteBad(t.Context(), &bad); err != nil || n != 9997 {
		t.Fatal(err, n)
	}
	back := strings.Split(strings.TrimSpace(bad.String()), "\r\n")
	if len(back) != 4 || !strings.HasSuffix(back[0], ",coldrise: line,coldrise: reason") || !strings.Contains(back[1], ",2,\"column E: may be microfarads") || !strings.Contains(back[3], "part_number must not be blank") {
		t.Errorf("%q", back)
	}
	// Mended, they are a file of their own under the same map, without a warning.
	mended := strings.NewReplacer("8 mF", "8", "sideways", "axial", "Sedgemere,,", "Sedgemere,HA500-9997,").Replace(bad.String())
	if again := check(t, mended, m, catalogue.Options{}); again.Parts != 3 || again.Errors+again.Warnings != 0 {
		t.Errorf("%v", again.Findings)
	}
}

// A hundred faults, of which ten are asked for: the list is cut, the count is not.
func TestFindingsAreCappedAndCounted(t *testing.T) {
	t.Parallel()
	data := strings.ReplaceAll(string(priceList(100)), ",axial,", ",sideways,")
	report := check(t, data, mapOf(t, priceListMap, nil), catalogue.Options{Errors: 10})
	if report.Errors != 100 || len(report.Findings) != 10 || report.Unlisted != 90 || report.BadRows != 100 {
		t.Errorf("%d errors, %d listed, %d not", report.Errors, len(report.Findings), report.Unlisted)
	}
}

// A column the map needs and the file lacks is refused before any row is
// read, all at once; what is left over is a warning.
func TestColumnsMissingAndUnknown(t *testing.T) {
	t.Parallel()
	data := strings.Replace(strings.Replace(list, "Ripple", "Irms", 1), "Voltage", "Volts dc", 1)
	_, err := catalogue.Open(t.Context(), strings.NewReader(data), int64(len(data)), mapOf(t, listMap, nil), catalogue.Options{})
	p := problem.As(err)
	if p.Code != problem.Invalid || len(p.Faults) != 2 || p.Faults[0].Pointer != "/columns/5/header" || p.Faults[1].Pointer != "/columns/8/header" ||
		!strings.Contains(p.Faults[0].Message, `"Voltage"; its header reads: "Maker", "Part No"`) {
		t.Errorf("%v", err)
	}
	twice := strings.Replace(list, "Tolerance", "voltage", 1)
	_, err = catalogue.Open(t.Context(), strings.NewReader(twice), int64(len(twice)), mapOf(t, listMap, nil), catalogue.Options{})
	if !strings.Contains(problem.As(err).Error(), "two columns headed \"Voltage\", F and G") {
		t.Errorf("%v", err)
	}
	more := strings.NewReplacer("Price\n", "Price,Lebensdauer,Colour\n", "3.20\n", "3.20,5000,blue\n", "4.63\n", "4.63,,\n").Replace(list)
	report := check(t, more, mapOf(t, listMap, changes("ignore", []string{"colour"})), catalogue.Options{})
	if report.Errors != 0 || len(report.Findings) != 1 || report.Findings[0].Code != catalogue.CodeUnknownColumn || report.Findings[0].Column != "M" ||
		!strings.Contains(report.Findings[0].Message, "it may be life_at") {
		t.Errorf("%v", report.Findings)
	}
	wide := strings.Replace(list, "3.20\n", "3.20,shifted\n", 1)
	if diff := cmp.Diff([]string{"2 M columns"}, where(check(t, wide, mapOf(t, listMap, nil), catalogue.Options{}))); diff != "" {
		t.Error(diff)
	}
}

// The separator is the one by which the columns are found.
func TestSeparatorsAreTried(t *testing.T) {
	t.Parallel()
	for word, sign := range map[string]string{"semicolon": ";", "tab": "\t", "bar": "|", "comma": ","} {
		data := strings.ReplaceAll(list, ",", sign)
		report := check(t, data, mapOf(t, listMap, nil), catalogue.Options{})
		if report.Parts != 2 || report.Separator != word {
			t.Errorf("%s: %d parts by %s", word, report.Parts, report.Separator)
		}
		report = check(t, "sep="+sign+"\n"+data, mapOf(t, listMap, nil), catalogue.Options{})
		if report.Parts != 2 || report.Separator != word {
			t.Errorf("sep=%s: %d parts by %s", sign, report.Parts, report.Separator)
		}
		if word != "comma" {
			if _, err := catalogue.Open(t.Context(), strings.NewReader(data), int64(len(data)), mapOf(t, listMap, changes("separator", "comma")), catalogue.Options{}); problem.CodeOf(err) != problem.Invalid {
				t.Errorf("%s where a comma is declared: %v", word, err)
			}
		}
	}
}

func TestDuplicatesAreFound(t *testing.T) {
	t.Parallel()
	lines := strings.SplitAfter(list, "\n")
	data := list + lines[1]
	report := check(t, data, mapOf(t, listMap, nil), catalogue.Options{})
	if diff := cmp.Diff([]string{"4 B duplicate"}, where(report)); diff != "" || !strings.Contains(report.Findings[0].Message, "line 2") || report.Parts != 2 {
		t.Errorf("%v\n%s", report.Findings, diff)
	}
	// Where rows are details, those of one part stand together.
	report = check(t, data, mapOf(t, listMap, changes("rows", "detail")), catalogue.Options{})
	if diff := cmp.Diff([]string{"4 B duplicate"}, where(report)); diff != "" || !strings.Contains(report.Findings[0].Message, "sort the file") {
		t.Errorf("%v\n%s", report.Findings, diff)
	}
}

// Rows of one part merge only where the map says so: further offers, further
// price breaks; what they repeat must agree.
func TestDetailRowsMerge(t *testing.T) {
	t.Parallel()
	const data = `Maker;No;V;Supplier;Code;From;Price
Sedgemere;A;450;Oxbow;1;1;3.20
Sedgemere;A;450;Oxbow;1;10;2.88
Sedgemere;A;;Fenwick;9;5;2.50
Sedgemere;B;350;Oxbow;2;1;1.00
`
	doc := `{"name":"detail","rows":"detail","decimal":"point","columns":[{"header":"Maker","to":"maker"},{"header":"No","to":"part_number"},{"header":"V","to":"rated_v"},
 {"header":"Supplier","to":"supplier"},{"header":"Code","to":"sku"},{"header":"From","to":"break_min_qty"},{"header":"Price","to":"unit_price"}],
 "fixed":{"technology":"electrolytic","style":"axial","capacitance_uf":"22","currency":"GBP","pack":"1","min_qty":"5","stock":"0","lead_days":"1"}}`
	got := read(t, []byte(data), mapOf(t, doc, nil), catalogue.Options{})
	if len(got) != 2 || len(got[0].Offers) != 2 || len(got[0].Offers[0].Breaks) != 2 || got[0].Offers[1].Supplier != "Fenwick" || got[0].Offers[1].Breaks[0].UnitPrice != 2_500_000 {
		t.Errorf("%+v", got)
	}
	for name, r := range map[string]struct{ old, bad, want string }{
		"a rating that differs":   {"A;450;Oxbow;1;10", "A;400;Oxbow;1;10", "3 C contradiction"},
		"breaks that descend":     {"Oxbow;1;10;2.88", "Oxbow;1;1;2.88", "3 F contradiction"},
		"a price that rises":      {"2.88", "3.30", "3 G contradiction"},
		"a break without a price": {"10;2.88", "10;", "3 G required"},
		"a price without a break": {"10;2.88", ";2.88", "3 F required"},
		"half an offer":           {"Fenwick;9;5;2.50", ";9;5;2.50", "4 D required"},
	} {
		report := check(t, strings.Replace(data, r.old, r.bad, 1), mapOf(t, doc, nil), catalogue.Options{})
		if all := where(report); len(all) == 0 || all[0] != r.want || report.Parts != 1 {
			t.Errorf("%s: %v", name, report.Findings)
		}
	}
	// Without the map's word each row is a part, and the second is a duplicate.
	report := check(t, data, mapOf(t, doc, changes("rows", "part")), catalogue.Options{})
	if report.BadParts != 2 {
		t.Errorf("%v", report.Findings)
	}
}

// Price breaks over several columns: by quantity in the map, or in pairs.
func TestPriceBreaksOverColumns(t *testing.T) {
	t.Parallel()
	const head = `"name":"breaks","decimal":"point","fixed":{"maker":"Sedgemere","technology":"electrolytic","style":"axial","capacitance_uf":"22","rated_v":"450","supplier":"Oxbow","currency":"GBP","pack":"1","min_qty":"1","stock":"0","lead_days":"1"}`
	byQuantity := `{` + head + `,"columns":[{"header":"No","to":"part_number"},{"header":"Code","to":"sku"},{"header":"1+","to":"unit_price"},{"header":"10+","to":"unit_price","from_qty":10},{"header":"100+","to":"unit_price","from_qty":100}]}`
	got := read(t, []byte("No,Code,1+,10+,100+\nA,1,3.20,2.88,2.50\nB,2,3.20,,2.50\n"), mapOf(t, byQuantity, nil), catalogue.Options{})
	want := [][]part.Break{{{MinQty: 1, UnitPrice: 3_200_000}, {MinQty: 10, UnitPrice: 2_880_000}, {MinQty: 100, UnitPrice: 2_500_000}}, {{MinQty: 1, UnitPrice: 3_200_000}, {MinQty: 100, UnitPrice: 2_500_000}}}
	for i := range want {
		if diff := cmp.Diff(want[i], got[i].Offers[0].Breaks); diff != "" {
			t.Error(diff)
		}
	}
	report := check(t, "No,Code,1+,10+,100+\nA,1,3.20,2.88,2.90\nB,2,3.20,,3.30\n", mapOf(t, byQuantity, nil), catalogue.Options{})
	if diff := cmp.Diff([]string{"2 E contradiction", "3 E contradiction"}, where(report)); diff != "" {
		t.Errorf("%v\n%s", report.Findings, diff)
	}
	pairs := `{` + head + `,"columns":[{"header":"No","to":"part_number"},{"header":"Code","to":"sku"},{"header":"Q1","to":"break_min_qty","break":1},{"header":"P1","to":"unit_price","break":1},{"header":"Q2","to":"break_min_qty","break":2},{"header":"P2","to":"unit_price","break":2}]}`
	got = read(t, []byte("No,Code,Q1,P1,Q2,P2\nA,1,1,3.20,10,2.88\nB,2,1,3.20,,\n"), mapOf(t, pairs, nil), catalogue.Options{})
	if len(got[0].Offers[0].Breaks) != 2 || len(got[1].Offers[0].Breaks) != 1 {
		t.Errorf("%+v", got)
	}
	report = check(t, "No,Code,Q1,P1,Q2,P2\nA,1,1,3.20,10,\nB,2,1,3.20,,2.88\n", mapOf(t, pairs, nil), catalogue.Options{})
	if diff := cmp.Diff([]string{"2 F required", "3 E required"}, where(report)); diff != "" {
		t.Errorf("%v\n%s", report.Findings, diff)
	}
}

// A part is held against its series where the shop has it, and takes maker and
// technology from it.
func TestSeriesOfTheShop(t *testing.T) {
	t.Parallel()
	doc := `{"name":"series","decimal":"point","columns":[{"header":"Series","to":"series"},{"header":"No","to":"part_number"},{"header":"Max","to":"max_c"},{"header":"Life","to":"life_at"},{"header":"Temp","to":"temperature_c","optional":true}],
 "fixed":{"style":"axial","capacitance_uf":"22","rated_v":"450"}}`
	o := catalogue.Options{Series: among([]part.Series{{Name: "HA", Maker: "Sedgemere", Technology: part.Electrolytic, Ratings: part.Ratings{MaxC: ptr(85.0)}}})}
	m := mapOf(t, strings.Replace(doc, `{"header":"Max","to":"max_c"},`, "", 1), nil)
	got := read(t, []byte("Series,No,Life,Temp\nHA,1,5000h @ 85°C,-40/+85\n"), m, o)
	if p := got[0]; p.Maker != "Sedgemere" || p.Technology != part.Electrolytic || *p.Life.RatedH != 5000 || *p.Life.RatedC != 85 || *p.MinC != -40 || *p.MaxC != 85 {
		t.Errorf("%+v", p)
	}
	report := check(t, "Series,No,Life,Temp\nHB,1,,\nHA,2,5000h/105 °C,\n", m, o)
	if diff := cmp.Diff([]string{"2 A unknown_series", "3 C contradiction"}, withoutRequired(where(report))); diff != "" {
		t.Errorf("%v\n%s", report.Findings, diff)
	}
}

// withoutRequired leaves out what follows from a series that is not there.
func withoutRequired(all []string) []string {
	var rest []string
	for _, s := range all {
		if !strings.HasSuffix(s, "required") {
			rest = append(rest, s)
		}
	}
	return rest
}

func TestRowsAreSkippedAndHeadersFound(t *testing.T) {
	t.Parallel()
	data := "Peatgate Components price list\n\nvalid from January\n" + strings.Replace(strings.Replace(list, "Order Code", "Order\u00a0 code", 1), "0,4.63", "EOL,4.63", 1) + "\n,,,,,,,,,,,\nTotal,,,,,,,,,,,7.83\n"
	m := mapOf(t, listMap, changes("header_row", 4, "skip", []any{changes("header", "Stock", "is", []string{"eol"}), changes("letter", "A", "is", []string{"total"})}))
	report := check(t, data, m, catalogue.Options{})
	if report.Parts != 1 || report.Skipped != 2 || report.Errors != 0 {
		t.Errorf("%+v", report)
	}
	if _, err := catalogue.Open(t.Context(), strings.NewReader("a\n"), 2, m, catalogue.Options{}); problem.CodeOf(err) != problem.Invalid || !strings.Contains(err.Error(), "no line 4") {
		t.Errorf("a file that ends before its header: %v", err)
	}
	letters := strings.NewReplacer(`"header":"Maker"`, `"letter":"A"`, `"header":"Part No"`, `"letter":"B"`).Replace(`{"name":"letters","no_header":true,"columns":[{"header":"Maker","to":"maker"},{"header":"Part No","to":"part_number"}],
 "fixed":{"technology":"electrolytic","style":"axial","capacitance_uf":"22","rated_v":"450"}}`)
	if got := read(t, []byte("Sedgemere,A,more\nSedgemere,B\n"), mapOf(t, letters, nil), catalogue.Options{}); len(got) != 2 {
		t.Errorf("%+v", got)
	}
}

// A file that is changed between its check and its import is found out.
func TestAChangedFileIsFoundOut(t *testing.T) {
	t.Parallel()
	data := []byte(list)
	f := opened(t, data, mapOf(t, listMap, nil), catalogue.Options{})
	if report, err := f.Check(t.Context()); err != nil || !report.Sound() {
		t.Fatal(err)
	}
	copy(data[bytes.Index(data, []byte("4.63")):], "1.63")
	var last error
	n := 0
	for _, err := range f.Parts(t.Context(), false) {
		if last = err; err == nil {
			n++
		}
	}
	if problem.CodeOf(last) != problem.Conflict || n != 2 {
		t.Errorf("%d parts, %v", n, last)
	}
}

func TestReadingTellsItsProgressAndStops(t *testing.T) {
	t.Parallel()
	data := priceList(5000)
	var seen []catalogue.Progress
	ctx, stop := context.WithCancel(t.Context())
	defer stop()
	o := catalogue.Options{Progress: func(p catalogue.Progress) { seen = append(seen, p) }}
	f := opened(t, data, mapOf(t, priceListMap, nil), o)
	if _, err := f.Check(ctx); err != nil {
		t.Fatal(err)
	}
	last := seen[len(seen)-1]
	if len(seen) < 8 || last.Taken != last.Size || last.Size != int64(len(data)) || last.Rows != 5000 {
		t.Errorf("%d times, at last %+v", len(seen), last)
	}
	for i := 1; i < len(seen); i++ {
		if seen[i].Taken < seen[i-1].Taken || seen[i].Rows < seen[i-1].Rows {
			t.Errorf("%+v after %+v", seen[i], seen[i-1])
		}
	}
	stop()
	if _, err := f.Check(ctx); problem.CodeOf(err) != problem.Cancelled {
		t.Errorf("a check that is stopped: %v", err)
	}
}

// A caller that has enough is not called again.
func TestPartsCanBeLeft(t *testing.T) {
	t.Parallel()
	f := opened(t, priceList(100), mapOf(t, priceListMap, nil), catalogue.Options{})
	n := 0
	for row, err := range f.Parts(t.Context(), false) {
		if err != nil || row.Line != n+2 {
			t.Fatal(row.Line, err)
		}
		if n++; n == 10 {
			break
		}
	}
	if n != 10 {
		t.Errorf("%d parts", n)
	}
}

// A workbook says what its cells are: numbers stand whatever the locale, days
// are refused, what formulas gave is marked.
func TestWorkbookCells(t *testing.T) {
	t.Parallel()
	data := workbook(t, []any{"Sedgemere", 42.0, "electrolytic", "axial", "22 µF", 450.0, 0.2, "15 x 30", "240 mA", "PG-1", 40.0, 3.2})
	m := mapOf(t, listMap, changes("decimal", "comma"))
	f := opened(t, data, m, catalogue.Options{Name: "list.xlsx"})
	report, err := f.Check(t.Context())
	if err != nil || !report.Sound() {
		t.Fatal(err, report.Findings)
	}
	if diff := cmp.Diff([]string{"2 B number_as_text"}, where(report)); diff != "" || report.Sheet != "Sheet1" || report.Form != "xlsx" {
		t.Errorf("%+v\n%s", report, diff)
	}
	for row, err := range f.Parts(t.Context(), false) {
		if p := row.Part; err != nil || p.PartNumber != "42" || p.RatedV != 450 || p.Offers[0].Breaks[0].UnitPrice != 3_200_000 || row.Sheet != "Sheet1" {
			t.Errorf("%+v, %v", row, err)
		}
	}
	for name, r := range map[string]struct {
		row  []any
		want string
	}{
		"a day for a part number": {[]any{"Sedgemere", day(45935), "electrolytic", "axial", "22 µF", 450.0, "M", "15 x 30", "240 mA", "PG-1", 40.0, 3.2}, "2 B date"},
		"a fraction for a text":   {[]any{"Sedgemere", 4.5, "electrolytic", "axial", "22 µF", 450.0, "M", "15 x 30", "240 mA", "PG-1", 40.0, 3.2}, "2 B value"},
		"a bare current":          {[]any{"Sedgemere", "A", "electrolytic", "axial", "22 µF", 450.0, "M", "15 x 30", 240.0, "PG-1", 40.0, 3.2}, "2 I value"},
		"too exact a price":       {[]any{"Sedgemere", "A", "electrolytic", "axial", "22 µF", 450.0, "M", "15 x 30", "240 mA", "PG-1", 40.0, 3.12345678}, "2 L value"},
	} {
		report, err := opened(t, workbook(t, r.row), m, catalogue.Options{}).Check(t.Context())
		all := where(report)
		if err != nil || report.Errors != 1 || all[len(all)-1] != r.want {
			t.Errorf("%s: %v, %v", name, report.Findings, err)
		}
	}
}

func TestSpoolLeavesNothingBehind(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	s, err := catalogue.Spool(t.Context(), strings.NewReader(list), dir, 1<<20)
	if err != nil {
		t.Fatal(err)
	}
	f, err := catalogue.Open(t.Context(), s, s.Size(), mapOf(t, listMap, nil), catalogue.Options{})
	if err != nil {
		t.Fatal(err)
	}
	if report, err := f.Check(t.Context()); err != nil || report.Parts != 2 {
		t.Errorf("%+v, %v", report, err)
	}
	if err := s.Close(); err != nil {
		t.Error(err)
	}
	if _, err := catalogue.Spool(t.Context(), strings.NewReader(list), dir, 100); problem.CodeOf(err) != problem.TooLarge {
		t.Errorf("a file too large: %v", err)
	}
	stopped, stop := context.WithCancel(t.Context())
	stop()
	if _, err := catalogue.Spool(stopped, strings.NewReader(list), dir, 1<<20); problem.CodeOf(err) != problem.Cancelled {
		t.Errorf("one that is stopped: %v", err)
	}
	if left := entries(t, dir); len(left) > 0 {
		t.Errorf("left behind: %v", left)
	}
}

// Parts of many rows and many parts come out whole and in order, wherever the
// stretches are cut that are read at once; one part without end is stopped.
func TestPartsOfManyRows(t *testing.T) {
	t.Parallel()
	doc := `{"name":"many","rows":"detail","columns":[{"header":"No","to":"part_number"},{"header":"Hz","to":"factor_hz"},{"header":"k","to":"frequency_factor"}],
 "fixed":{"maker":"Sedgemere","technology":"electrolytic","style":"axial","capacitance_uf":"22","rated_v":"450","base_hz":"100"}}`
	var b strings.Builder
	b.WriteString("No,Hz,k\n")
	want := 0
	for i := range 500 {
		for j := range 1 + i%7 {
			fmt.Fprintf(&b, "P%d,%d,%d\n", i, 100+j, 1+j/4)
			want++
		}
	}
	got := read(t, []byte(b.String()), mapOf(t, doc, nil), catalogue.Options{})
	for i, p := range got {
		if p.PartNumber != fmt.Sprintf("P%d", i) || len(p.FrequencyFactors) != 1+i%7 {
			t.Fatalf("part %d is %s with %d points", i, p.PartNumber, len(p.FrequencyFactors))
		}
	}
	if report := check(t, b.String(), mapOf(t, doc, nil), catalogue.Options{}); report.Rows != want || report.Parts != 500 {
		t.Errorf("%d rows of %d, %d parts", report.Rows, want, report.Parts)
	}
	endless := "No,Hz,k\n" + strings.Repeat("P,100,1\n", 5000)
	report := check(t, endless, mapOf(t, doc, nil), catalogue.Options{Errors: 5000})
	if report.Parts != 0 || report.Rows != 5000 || !strings.Contains(fmt.Sprint(report.Findings), "more than 1000 rows") {
		t.Errorf("%d parts, %d rows, %d errors", report.Parts, report.Rows, report.Errors)
	}
}

// What a formula gave, a row nobody sees and a column without a header are
// warnings, each told once with its count.
func TestWarningsAreToldOnce(t *testing.T) {
	t.Parallel()
	row := func(line int, attributes, voltage string) string {
		return fmt.Sprintf(`<row r="%d"%s><c r="A%d" t="inlineStr"><is><t>P%d</t></is></c><c r="B%d">%s</c><c r="D%d" t="inlineStr"><is><t>aside</t></is></c></row>`, line, attributes, line, line, line, voltage, line)
	}
	data := handBook(t, `<row r="1"><c r="A1" t="inlineStr"><is><t>No</t></is></c><c r="B1" t="inlineStr"><is><t>V</t></is></c></row>`+
		row(2, "", "<f>225*2</f><v>450</v>")+row(3, ` hidden="1"`, "<f>B2</f><v>450</v>")+row(4, ` hidden="1"`, "<v>450</v>"), "")
	m := mapOf(t, `{"name":"m","columns":[{"header":"No","to":"part_number"},{"header":"V","to":"rated_v"}],"fixed":{"maker":"Sedgemere","technology":"film","style":"box","capacitance_uf":"0.1"}}`, nil)
	report := check(t, string(data), m, catalogue.Options{})
	var got []string
	for _, f := range report.Findings {
		got = append(got, fmt.Sprintf("%d %s %s %d", f.Line, f.Column, f.Code, f.Count))
	}
	if diff := cmp.Diff([]string{"2 B formula 2", "2 D unknown_column 3", "3  hidden_row 2"}, got); diff != "" || report.Parts != 3 || report.Warnings != 7 {
		t.Errorf("%d warnings\n%s", report.Warnings, diff)
	}
}

// The flat view has a row for each part and offer, and figures of the series.
func TestFlatView(t *testing.T) {
	t.Parallel()
	series, parts, err := catalogue.Starter()
	if err != nil {
		t.Fatal(err)
	}
	flat := catalogue.Flat{Quantities: []int{1, 25}, Series: among(series)}
	var b bytes.Buffer
	if err := catalogue.WriteFlat(&b, each(parts), flat, catalogue.Export{}); err != nil {
		t.Fatal(err)
	}
	offers := 0
	for _, p := range parts {
		offers += max(1, len(p.Offers))
	}
	lines := strings.Split(strings.TrimSpace(b.String()), "\r\n")
	if len(lines) != offers+1 || !strings.HasSuffix(lines[0], ",unit_price_at_1,unit_price_at_25") {
		t.Errorf("%d lines for %d offers: %s", len(lines), offers, lines[0])
	}
	row := map[string]string{}
	for cells, err := range flat.Rows(each(parts[:1])) {
		for i, h := range flat.Header() {
			row[h] = cells[i].Text
		}
		if err != nil {
			t.Fatal(err)
		}
		break
	}
	p := parts[0]
	want := map[string]string{"maker": p.Maker, "part_number": p.PartNumber, "supplier": p.Offers[0].Supplier, "unit_price_at_1": p.Offers[0].Breaks[0].UnitPrice.String(),
		"max_c": table.FormatNumber(p.Effective(must(among(series)(p.Series))).MaxC.Value)}
	if diff := cmp.Diff(want, row, cmpopts.IgnoreMapEntries(func(k, _ string) bool { return want[k] == "" })); diff != "" {
		t.Error(diff)
	}
}

func must[T any](v T, ok bool) T {
	if !ok {
		panic("not there")
	}
	return v
}

package catalogue_test

import (
	"bytes"
	"context"
	"encoding/json"
	"fmt"
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

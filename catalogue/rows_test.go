package catalogue_test

import (
	"errors"
	"fmt"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/catalogue"
	"coldrise/domain/part"
	"coldrise/domain/problem"
)

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

// Zeros that a file keeps as ="0042" are kept, and told; our own guard is no formula.
func TestTextsWrittenAsFormulas(t *testing.T) {
	t.Parallel()
	m := mapOf(t, `{"name":"m","columns":[{"header":"No","to":"part_number"},{"header":"Note","to":"note"}],"fixed":{"maker":"Sedgemere","technology":"film","style":"box","capacitance_uf":"0.1","rated_v":"450"}}`, nil)
	const data = "No,Note\n\"=\"\"0042\"\"\",'=SUM\nB,=A1\n"
	got := read(t, []byte(data), m, catalogue.Options{})
	if got[0].PartNumber != "0042" || got[0].Note != "=SUM" || got[1].Note != "=A1" {
		t.Errorf("%q, %q, %q", got[0].PartNumber, got[0].Note, got[1].Note)
	}
	if diff := cmp.Diff([]string{"2 A formula", "3 B formula"}, where(check(t, data, m, catalogue.Options{}))); diff != "" {
		t.Error(diff)
	}
}

// failing is a file on a disk that stops giving it.
type failing struct {
	data []byte
	from int64
}

func (f *failing) ReadAt(p []byte, at int64) (int, error) {
	if at+int64(len(p)) > f.from {
		return 0, errors.New("the disk is gone")
	}
	return copy(p, f.data[at:]), nil
}

// A disk that fails in the middle is our trouble and not the file's; its text
// stays inside.
func TestADiskThatFails(t *testing.T) {
	t.Parallel()
	src := &failing{data: priceList(20_000), from: 1 << 40}
	f, err := catalogue.Open(t.Context(), src, int64(len(src.data)), mapOf(t, priceListMap, nil), catalogue.Options{})
	if err != nil {
		t.Fatal(err)
	}
	src.from = int64(len(src.data)) / 2
	if _, err := f.Check(t.Context()); problem.CodeOf(err) != problem.Internal || strings.Contains(err.Error(), "disk") {
		t.Errorf("%v", err)
	}
	n, last := 0, error(nil)
	for _, err := range f.Parts(t.Context(), false) {
		if last = err; err == nil {
			n++
		}
	}
	if problem.CodeOf(last) != problem.Internal || n == 0 || n == 20_000 {
		t.Errorf("%d parts, %v", n, last)
	}
}

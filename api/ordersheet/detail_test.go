package ordersheet_test

import (
	"bytes"
	"context"
	"fmt"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"

	"coldrise/api/ordersheet"
	"coldrise/domain/problem"
)

const (
	mainSpace = `xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"`
	relSpace  = `xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships"`
)

// tiny is a workbook of one sheet, "Order", without formats or shared strings.
// The sheet is what stands in the root; more are parts of its own, or replace.
func tiny(t testing.TB, sheet string, more ...edit) []byte {
	t.Helper()
	all := map[string]string{
		"[Content_Types].xml":        `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/><Default Extension="xml" ContentType="application/xml"/><Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/><Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/></Types>`,
		"_rels/.rels":                `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="a" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>`,
		"xl/workbook.xml":            `<workbook ` + mainSpace + " " + relSpace + `><sheets><sheet name="Order" sheetId="1" r:id="b"/></sheets></workbook>`,
		"xl/_rels/workbook.xml.rels": `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="b" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/></Relationships>`,
		sheet1:                       `<worksheet ` + mainSpace + " " + relSpace + ">" + sheet + "</worksheet>",
	}
	names := []string{"[Content_Types].xml", "_rels/.rels", "xl/workbook.xml", "xl/_rels/workbook.xml.rels", sheet1}
	for _, e := range more {
		if _, ok := all[e.part]; !ok {
			names = append(names, e.part)
		}
		all[e.part] = e.new
	}
	return zipped(t, names, func(n string) []byte { return []byte(all[n]) })
}

// tinyMap puts quantities into column B and texts into A; the header is row 1.
func tinyMap(t testing.TB, more string) ordersheet.Map {
	t.Helper()
	m, err := ordersheet.ParseMap([]byte(`{"sheet":"Order","columns":[{"field":"text","column":"A"},{"field":"quantity","column":"B"}],` + more + `}`))
	if err != nil {
		t.Fatal(err)
	}
	return m
}

const (
	afterLast  = `"header_row":1,"append":{"where":"after_last_row"}`
	beforeSum  = `"header_row":1,"append":{"where":"before_totals","totals":{"text":"Sum","column":"A"}}`
	headerRow  = `<row r="1"><c r="A1" t="inlineStr"><is><t>What</t></is></c><c r="B1" t="inlineStr"><is><t>Pieces</t></is></c></row>`
	oneLine    = `<row r="2"><c r="A2" t="inlineStr"><is><t>a</t></is></c><c r="B2"><v>1</v></c></row>`
	totalsRow3 = `<row r="3"><c r="A3" t="inlineStr"><is><t>Sum</t></is></c><c r="B3"><f>SUM(B2:B2)</f><v>1</v></c></row>`
)

func twoLines() ordersheet.Order {
	return ordersheet.Order{Lines: []ordersheet.Line{{Text: "b", Quantity: 2}, {Text: "c", Quantity: 3}}}
}

// What a fill does to a sheet, told by the sheet's text after it.
func TestTheSheetAfterAFill(t *testing.T) {
	t.Parallel()
	const newRows = `<row r="3"><c r="A3" t="inlineStr"><is><t>b</t></is></c><c r="B3"><v>2</v></c></row><row r="4"><c r="A4" t="inlineStr"><is><t>c</t></is></c><c r="B4"><v>3</v></c></row>`
	tests := []struct{ name, sheet, how, want string }{
		{"after the last row", "<sheetData>" + headerRow + oneLine + "</sheetData>", afterLast,
			"<sheetData>" + headerRow + oneLine + newRows + "</sheetData>"},
		{"rows and cells without names", `<sheetData><row><c t="inlineStr"><is><t>What</t></is></c></row><row><c><v>1</v></c><c><v>1</v></c></row><row ht="9"/></sheetData>`, afterLast,
			`<sheetData><row><c t="inlineStr"><is><t>What</t></is></c></row><row><c><v>1</v></c><c><v>1</v></c></row><row ht="9"><c r="A3" t="inlineStr"><is><t>b</t></is></c><c r="B3"><v>2</v></c></row>` +
				`<row r="4"><c r="A4" t="inlineStr"><is><t>c</t></is></c><c r="B4"><v>3</v></c></row></sheetData>`},
		{"no rows at all", "<sheetData/>", afterLast,
			`<sheetData><row r="2"><c r="A2" t="inlineStr"><is><t>b</t></is></c><c r="B2"><v>2</v></c></row><row r="3"><c r="A3" t="inlineStr"><is><t>c</t></is></c><c r="B3"><v>3</v></c></row></sheetData>`},
		{"formats of row and column", `<cols><col min="1" max="1" style="7"/></cols><sheetData>` + headerRow + `<row r="2" s="5" customFormat="1"/></sheetData>`, afterLast,
			`<cols><col min="1" max="1" style="7"/></cols><sheetData>` + headerRow + `<row r="2" s="5" customFormat="1"><c r="A2" s="5" t="inlineStr"><is><t>b</t></is></c><c r="B2" s="5"><v>2</v></c></row>` +
				`<row r="3"><c r="A3" s="7" t="inlineStr"><is><t>c</t></is></c><c r="B3"><v>3</v></c></row></sheetData>`},
		{"one line before totals", "<sheetData>" + headerRow + oneLine + totalsRow3 + "</sheetData>", beforeSum,
			"<sheetData>" + headerRow + oneLine + newRows + `<row r="5"><c r="A5" t="inlineStr"><is><t>Sum</t></is></c><c r="B5"><f>SUM(B2:B4)</f></c></row></sheetData>`},
		{"no line before totals", "<sheetData>" + headerRow + `<row r="4"><c r="A4" t="inlineStr"><is><t>sum </t></is></c><c r="B4"><f>SUM(B2:B3)</f><v>0</v></c></row></sheetData>`, beforeSum,
			"<sheetData>" + headerRow + `<row r="2"><c r="A2" t="inlineStr"><is><t>b</t></is></c><c r="B2"><v>2</v></c></row><row r="3"><c r="A3" t="inlineStr"><is><t>c</t></is></c><c r="B3"><v>3</v></c></row>` +
				`<row r="4"><c r="A4" t="inlineStr"><is><t>sum </t></is></c><c r="B4"><f>SUM(B2:B3)</f></c></row></sheetData>`},
		{"a sum of the header and the one row there is", "<sheetData>" + headerRow + `<row r="3"><c r="A3" t="inlineStr"><is><t>Sum</t></is></c><c r="B3"><f>SUM(B1:B2)</f><v>0</v></c></row></sheetData>`, beforeSum,
			"<sheetData>" + headerRow + `<row r="2"><c r="A2" t="inlineStr"><is><t>b</t></is></c><c r="B2"><v>2</v></c></row><row r="3"><c r="A3" t="inlineStr"><is><t>c</t></is></c><c r="B3"><v>3</v></c></row>` +
				`<row r="4"><c r="A4" t="inlineStr"><is><t>Sum</t></is></c><c r="B4"><f>SUM(B1:B3)</f></c></row></sheetData>`},
		{"blanks and what looks like an escape", "<sheetData>" + headerRow + "</sheetData>", `"fixed":[{"column":"C","text":" _x000D_ & \r"},{"column":"D","number":0.5}],` + afterLast,
			"<sheetData>" + headerRow + `<row r="2"><c r="A2" t="inlineStr"><is><t>b</t></is></c><c r="B2"><v>2</v></c><c r="C2" t="inlineStr"><is><t xml:space="preserve"> _x005F_x000D_ &amp; _x000D_</t></is></c><c r="D2"><v>0.5</v></c></row>` +
				`<row r="3"><c r="A3" t="inlineStr"><is><t>c</t></is></c><c r="B3"><v>3</v></c><c r="C3" t="inlineStr"><is><t xml:space="preserve"> _x005F_x000D_ &amp; _x000D_</t></is></c><c r="D3"><v>0.5</v></c></row></sheetData>`},
		{"results of arrays go, plain values stay", `<sheetData>` + headerRow + `<row r="2"><c r="A2" t="inlineStr"><is><t>a</t></is></c><c r="B2"><v>1</v></c><c r="D2" t="str" vm="1"><f t="array" ref="D2:E2">B2:B2&amp;""</f><v>1</v></c><c r="E2" t="str"><v>1</v></c><c r="F2"><v>9</v></c></row></sheetData>`, afterLast,
			`<sheetData>` + headerRow + `<row r="2"><c r="A2" t="inlineStr"><is><t>a</t></is></c><c r="B2"><v>1</v></c><c r="D2"><f t="array" ref="D2:E2">B2:B4&amp;&#34;&#34;</f></c><c r="E2"></c><c r="F2"><v>9</v></c></row>` + newRows + `</sheetData>`},
		{"a running range in a line stays its own", `<sheetData>` + headerRow + `<row r="2"><c r="A2" t="inlineStr"><is><t>a</t></is></c><c r="B2"><v>1</v></c><c r="C2"><f>B2/SUM(B$2:B$2)+SUM(B$2:B2)</f><v>2</v></c></row></sheetData>`, `"formulas":[{"column":"C"}],` + afterLast,
			`<sheetData>` + headerRow + `<row r="2"><c r="A2" t="inlineStr"><is><t>a</t></is></c><c r="B2"><v>1</v></c><c r="C2"><f>B2/SUM(B$2:B$4)+SUM(B$2:B2)</f></c></row>` +
				`<row r="3"><c r="A3" t="inlineStr"><is><t>b</t></is></c><c r="B3"><v>2</v></c><c r="C3"><f>B3/SUM(B$2:B$4)+SUM(B$2:B3)</f></c></row>` +
				`<row r="4"><c r="A4" t="inlineStr"><is><t>c</t></is></c><c r="B4"><v>3</v></c><c r="C4"><f>B4/SUM(B$2:B$4)+SUM(B$2:B4)</f></c></row></sheetData>`},
		{"small charts, formats and validation of later versions",
			"<sheetData>" + headerRow + oneLine + totalsRow3 + `</sheetData><extLst><ext xmlns:x14="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main" xmlns:xm="http://schemas.microsoft.com/office/excel/2006/main"><x14:conditionalFormattings><x14:conditionalFormatting><x14:cfRule type="expression"><xm:f>$B2&gt;$B$3</xm:f></x14:cfRule><xm:sqref>A2:B2</xm:sqref></x14:conditionalFormatting></x14:conditionalFormattings>` +
				`<x14:dataValidations><x14:dataValidation><x14:formula1><xm:f>$Z$1:$Z$3</xm:f></x14:formula1><xm:sqref>A2 B3</xm:sqref></x14:dataValidation></x14:dataValidations><x14:sparklineGroups><x14:sparklineGroup><x14:sparklines><x14:sparkline><xm:f>Order!B2:B2</xm:f><xm:sqref>D3</xm:sqref></x14:sparkline></x14:sparklines></x14:sparklineGroup></x14:sparklineGroups></ext></extLst>`, beforeSum,
			"<sheetData>" + headerRow + oneLine + newRows + `<row r="5"><c r="A5" t="inlineStr"><is><t>Sum</t></is></c><c r="B5"><f>SUM(B2:B4)</f></c></row></sheetData><extLst><ext xmlns:x14="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main" xmlns:xm="http://schemas.microsoft.com/office/excel/2006/main"><x14:conditionalFormattings><x14:conditionalFormatting><x14:cfRule type="expression"><xm:f>$B2&gt;$B$5</xm:f></x14:cfRule><xm:sqref>A2:B4</xm:sqref></x14:conditionalFormatting></x14:conditionalFormattings>` +
				`<x14:dataValidations><x14:dataValidation><x14:formula1><xm:f>$Z$1:$Z$5</xm:f></x14:formula1><xm:sqref>A2:A4 B5</xm:sqref></x14:dataValidation></x14:dataValidations><x14:sparklineGroups><x14:sparklineGroup><x14:sparklines><x14:sparkline><xm:f>Order!B2:B4</xm:f><xm:sqref>D5</xm:sqref></x14:sparkline></x14:sparklines></x14:sparklineGroup></x14:sparklineGroups></ext></extLst>`},
		{"formats above, below and over the new rows",
			"<sheetData>" + headerRow + oneLine + totalsRow3 + `<row r="4"><c r="B4"><f>B3*2</f><v>2</v></c></row></sheetData><protectedRanges><protectedRange sqref="A2:B2" name="lines"/></protectedRanges><conditionalFormatting sqref="A3:B4"><cfRule type="expression" priority="1"><formula>$B3&gt;B2</formula></cfRule></conditionalFormatting>` +
				`<conditionalFormatting sqref="B4"><cfRule type="cellIs" priority="2"><formula>B$1</formula></cfRule></conditionalFormatting><ignoredErrors><ignoredError sqref="B1:B3 D4"/></ignoredErrors>`, beforeSum,
			"<sheetData>" + headerRow + oneLine + newRows + `<row r="5"><c r="A5" t="inlineStr"><is><t>Sum</t></is></c><c r="B5"><f>SUM(B2:B4)</f></c></row><row r="6"><c r="B6"><f>B5*2</f></c></row></sheetData><protectedRanges><protectedRange sqref="A2:B4" name="lines"/></protectedRanges><conditionalFormatting sqref="A5:B6"><cfRule type="expression" priority="1"><formula>$B5&gt;B4</formula></cfRule></conditionalFormatting>` +
				`<conditionalFormatting sqref="B6"><cfRule type="cellIs" priority="2"><formula>B$1</formula></cfRule></conditionalFormatting><ignoredErrors><ignoredError sqref="B1:B5 D6"/></ignoredErrors>`},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			filled := fill(t, tiny(t, tt.sheet), tinyMap(t, tt.how), twoLines())
			all, _ := unzip(t, filled.Data)
			got := strings.TrimSuffix(strings.SplitN(string(all[sheet1].data), ">", 2)[1], "</worksheet>")
			if diff := cmp.Diff(split(tt.want), split(got)); diff != "" {
				t.Error(diff)
			}
		})
	}
}

// split puts each tag on a line, so that a difference can be seen.
func split(text string) []string { return strings.Split(strings.ReplaceAll(text, "><", ">\n<"), "\n") }

// What a fill says in its report of things it did not change.
func TestTheReportSaysWhatWasLeft(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, file string
		edits      []edit
		want       []string
	}{
		{"charts", "chart.xlsx", nil, []string{`chart chart1.xml on sheet "Order": Order!$H$5:$H$7 misses the new rows; to cover them it would have to read Order!$H$5:$H$22`, `on sheet "Shares"`}},
		{"pivot table", "pivot.xlsx", nil, []string{"pivot table (pivotCacheDefinition1.xml): shows the figures of before until it is refreshed"}},
		{"macros", "macros.xlsm", nil, []string{"macros: were not looked into"}},
		{"protection", "protected.xlsx", nil, []string{"Order: the sheet is protected and stays so"}},
		{"a hidden line", "hidden.xlsx", []edit{{sheet1, `<row r="9" customFormat="false" ht="12.8" hidden="false"`, `<row r="9" customFormat="false" ht="12.8" hidden="true"`}}, []string{"Order!row 9: is hidden; the new rows like it are not"}},
		{"a filter", "table.xlsx", []edit{{"xl/tables/table1.xml", `<autoFilter ref="A5:I8"/>`, `<autoFilter ref="A5:I8"><filterColumn colId="0"><filters><filter val="x"/></filters></filterColumn></autoFilter>`}}, []string{"Lines: a filter is set"}},
		{"a picture below", "pictures.xlsx", []edit{{"xl/drawings/drawing1.xml", "<xdr:row>0</xdr:row>", "<xdr:row>12</xdr:row>"}}, []string{"Parts & order!row 13: a picture or chart"}},
		{"calculation by hand", "formulas.xlsx", []edit{{"xl/workbook.xml", "<calcPr ", `<calcPr calcMode="manual" `}}, []string{"workbook: is set to work out formulas only when told to"}},
		{"a sum of some lines", "formulas.xlsx", []edit{{sheet1, "<f>H11+H12</f>", "<f>SUM(H8:H9)</f>"}}, []string{"Order!H28: =SUM(H8:H9) covers some of the lines and not the new ones"}},
		{"a formula unlike the one above", "formulas.xlsx", []edit{{sheet1, "<f>H9*Rates!$B$2</f>", "<f>H9*Rates!$B$2*1.01</f>"}}, []string{"Order!K9: new rows carry on =H9*Rates!$B$2*1.01, which is not the formula of the row above"}},
		{"a reference in words", "formulas.xlsx", []edit{{sheet1, "<f>H11+H12</f>", `<f>INDIRECT("H11")</f>`}}, []string{`Order!H28: =INDIRECT("H11") takes a reference from text`}},
		{"a name that floats", "names.xlsx", []edit{{"xl/workbook.xml", "Order!H1<", "Order!H8<"}}, []string{"name LineAbove: Order!H8 names rows without $"}},
		{"a link from elsewhere", "formulas.xlsx", []edit{{sheet3, "<pageMargins", `<hyperlinks><hyperlink ref="A1" location="Order!H13"/></hyperlinks><pageMargins`}}, []string{`sheet "Summary": a link leads to Order!H13, which moved`}},
		{"a part nobody knows", "formulas.xlsx", []edit{{"xl/odd.xml", "", "<odd>Order!$H$11</odd>"}}, []string{"xl/odd.xml: belongs to the sheet or names it, and was not looked into"}},
		{"a reference in words elsewhere", "formulas.xlsx", []edit{{sheet3, "<f>SUMIF(Order!A:A,A1,Order!H:H)</f>", `<f>INDIRECT("Order!H11")</f>`}}, []string{`Summary!B1: INDIRECT("Order!H11") takes a reference from text`}},
		{"figures as shown", "formulas.xlsx", []edit{{"xl/workbook.xml", "<calcPr ", `<calcPr fullPrecision="0" `}}, []string{"workbook: counts with figures as their formats show them"}},
		{"a small chart in a line", "formulas.xlsx", []edit{{sheet1, "</worksheet>", `<extLst><ext xmlns:x14="http://schemas.microsoft.com/office/spreadsheetml/2009/9/main" xmlns:xm="http://schemas.microsoft.com/office/excel/2006/main"><x14:sparkline><xm:f>Order!F9:H9</xm:f><xm:sqref>L9</xm:sqref></x14:sparkline></ext></extLst></worksheet>`}}, []string{"Order!L9: a small chart in a line is not carried on"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			data, m := workbook(t, tt.file)
			filled := fill(t, edited(t, data, tt.edits...), m, payloadOrder())
			var left []string
			for _, n := range filled.Report.Left {
				left = append(left, n.Where+": "+n.Text)
			}
			all := strings.Join(left, "\n")
			for _, want := range tt.want {
				if !strings.Contains(all, want) {
					t.Errorf("nothing says %q:\n%s", want, all)
				}
			}
		})
	}
}

// With no line yet and the totals right below the header, a range from there on
// is pushed past the lines that come in: no telling what it was for.
func TestARangePushedPastTheLinesIsReported(t *testing.T) {
	t.Parallel()
	header := strings.Replace(headerRow, "</row>", `<c r="D1"><f>SUM(B2:B9)</f></c></row>`, 1)
	data := tiny(t, "<sheetData>"+header+`<row r="2"><c r="A2" t="inlineStr"><is><t>Sum</t></is></c><c r="B2"><f>SUM(B1:B1)</f></c></row></sheetData>`)
	filled := fill(t, data, tinyMap(t, beforeSum), twoLines())
	want := []ordersheet.Note{{Where: "Order!D1", Text: "=SUM(B4:B11) covers some of the lines and not the new ones"}}
	if diff := cmp.Diff(want, filled.Report.Left); diff != "" {
		t.Error(diff)
	}
	all, _ := unzip(t, filled.Data)
	if !strings.Contains(string(all[sheet1].data), "<f>SUM(B1:B3)</f>") {
		t.Errorf("the sum over the header did not grow: %s", all[sheet1].data)
	}
}

func TestTheReportOfAFill(t *testing.T) {
	t.Parallel()
	data, m := workbook(t, "table.xlsx")
	got := fill(t, data, m, smallOrder()).Report
	want := ordersheet.Report{Sheet: "Order", Range: "A9:I10", Lines: []ordersheet.LineCells{{Line: 1, Cells: "A9:I9"}, {Line: 2, Cells: "A10:I10"}},
		Inserted: &ordersheet.Inserted{BeforeRow: 9, Rows: 2}, Carried: []string{"H"},
		Extended: []ordersheet.Note{{Where: "Order", Text: "rows from 9 on moved down by 2"}, {Where: "Order", Text: "table Lines over A5:I9 covers A5:I11"}},
		Cleared:  []ordersheet.Cleared{{Sheet: "Order", Cells: 5}, {Sheet: "Summary", Cells: 3}}}
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

// A map that fits is pinned to letters, and the pinned map fits and fills alike.
func TestFitPinsTheMap(t *testing.T) {
	t.Parallel()
	for _, tt := range workbooks {
		data, m := workbook(t, tt.file)
		w, err := ordersheet.Open(data)
		if err != nil {
			t.Fatal(err)
		}
		pinned, err := w.Fit(t.Context(), m)
		if err != nil {
			t.Fatal(err)
		}
		for _, c := range pinned.Columns {
			if c.Column == "" {
				t.Errorf("%s: %s is not pinned", tt.file, c.Field)
			}
		}
		if m.Columns[0].Column != "" {
			t.Errorf("%s: the map given was changed", tt.file)
		}
		if a, b := fill(t, data, m, smallOrder()), fill(t, data, pinned, smallOrder()); !bytes.Equal(a.Data, b.Data) {
			t.Errorf("%s: the pinned map fills otherwise", tt.file)
		}
	}
}

// A filled copy is a workbook like the upload: the next order goes below.
func TestAFilledCopyCanBeFilledAgain(t *testing.T) {
	t.Parallel()
	for _, tt := range workbooks {
		data, m := workbook(t, tt.file)
		once := fill(t, data, m, smallOrder())
		again := fill(t, once.Data, m, smallOrder())
		if want := tt.first + 2; again.Report.Lines[0].Cells != strings.ReplaceAll(once.Report.Lines[0].Cells, fmt.Sprint(tt.first), fmt.Sprint(want)) {
			t.Errorf("%s: the second order stands in %s, the first in %s", tt.file, again.Report.Range, once.Report.Range)
		}
	}
}

func TestAWorkbookKeepsItsKind(t *testing.T) {
	t.Parallel()
	for _, tt := range workbooks {
		data, m := workbook(t, tt.file)
		w, err := ordersheet.Open(fill(t, data, m, smallOrder()).Data)
		if err != nil {
			t.Fatal(err)
		}
		if _, ending := w.Media(); ending != filepath.Ext(tt.file) {
			t.Errorf("%s ends in %s once filled", tt.file, ending)
		}
	}
}

// A date goes into a column that shows plain numbers: it gets a format of its own.
func TestADateIsShownAsOne(t *testing.T) {
	t.Parallel()
	data, m := workbook(t, "validation.xlsx")
	m.Columns = append(m.Columns, ordersheet.MapColumn{Field: ordersheet.OrderDate, Place: ordersheet.Place{Column: "N"}})
	all, _ := unzip(t, fill(t, data, m, smallOrder()).Data)
	formats := parse(t, all["xl/styles.xml"].data).kid("cellXfs").Kids
	for _, r := range parse(t, all[sheet1].data).kid("sheetData").Kids {
		for _, c := range r.Kids {
			if c.attr("r") != "N8" {
				continue
			}
			style, err := strconv.Atoi(c.attr("s"))
			if err != nil || style >= len(formats) || formats[style].attr("numFmtId") != "14" || c.kid("v").Text != "46351" {
				t.Errorf("N8 has format %s and shows %s", c.attr("s"), c.kid("v").Text)
			}
			return
		}
	}
	t.Error("N8 is not there")
}

// One workbook, filled from several goroutines: each copy is the same.
func TestAWorkbookMayBeFilledAtOnce(t *testing.T) {
	t.Parallel()
	data, m := workbook(t, "formulas.xlsx")
	w, err := ordersheet.Open(data)
	if err != nil {
		t.Fatal(err)
	}
	copies := make(chan []byte, 8)
	for range cap(copies) {
		go func() {
			filled, err := w.Fill(context.Background(), m, payloadOrder())
			if err != nil {
				t.Error(err)
			}
			copies <- filled.Data
		}()
	}
	first := <-copies
	for range cap(copies) - 1 {
		if !bytes.Equal(first, <-copies) {
			t.Error("two copies differ")
		}
	}
}

func TestTheCalculationChainGoes(t *testing.T) {
	t.Parallel()
	data, m := workbook(t, "pivot.xlsx")
	all, _ := unzip(t, fill(t, data, m, smallOrder()).Data)
	if _, there := all["xl/calcChain.xml"]; there {
		t.Error("the part is still there")
	}
	before, _ := unzip(t, data)
	for name, gone := range map[string]string{
		"xl/_rels/workbook.xml.rels": `<Relationship Id="rId5" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/calcChain" Target="calcChain.xml"/>`,
		"[Content_Types].xml":        `<Override PartName="/xl/calcChain.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.calcChain+xml"/>`,
	} {
		if want := strings.Replace(string(before[name].data), gone, "", 1); string(all[name].data) != want || want == string(before[name].data) {
			t.Errorf("%s is %s", name, all[name].data)
		}
	}
}

// An empty table has a row marked for typing; filled, it is a row like others.
func TestATableWithoutALineIsFilled(t *testing.T) {
	t.Parallel()
	data := tiny(t, "<sheetData>"+headerRow+"</sheetData>",
		edit{part: "xl/worksheets/_rels/sheet1.xml.rels", new: `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="t" Type="x/table" Target="../tables/t.xml"/></Relationships>`},
		edit{part: "xl/tables/t.xml", new: `<table ` + mainSpace + ` id="1" displayName="T" ref="A1:B2" insertRow="1" insertRowShift="1"><autoFilter ref="A1:B2"/><tableColumns count="2"><tableColumn id="1" name="What"/><tableColumn id="2" name="Pieces"/></tableColumns></table>`})
	filled := fill(t, data, tinyMap(t, `"append":{"where":"table","table":"t"}`), twoLines())
	all, _ := unzip(t, filled.Data)
	if got := string(all["xl/tables/t.xml"].data); !strings.Contains(got, `ref="A1:B3"><autoFilter ref="A1:B3"/>`) || strings.Contains(got, "insertRow") {
		t.Errorf("the table is %s", got)
	}
	if filled.Report.Range != "A2:B3" {
		t.Errorf("the lines stand in %s", filled.Report.Range)
	}
}

func TestWorkbooksThatAreNotTaken(t *testing.T) {
	t.Parallel()
	plain := "<sheetData>" + headerRow + "</sheetData>"
	types := func(main string) edit {
		return edit{part: "[Content_Types].xml", new: `<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Override PartName="/xl/workbook.xml" ContentType="` + main + `"/></Types>`}
	}
	rels := func(name, list string) edit {
		return edit{part: name, new: `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">` + list + `</Relationships>`}
	}
	long := `<c r="C2"><f t="shared" ref="C2:C20000" si="0">` + strings.Repeat("A1+", 10_000) + `1</f></c>`
	var shared strings.Builder
	for i := 3; i < 5000; i++ {
		fmt.Fprintf(&shared, `<row r="%d"><c r="C%d"><f t="shared" si="0"/></c></row>`, i, i)
	}
	tests := []struct {
		name string
		data []byte
		code problem.Code
		says string
	}{
		{"a text document", tiny(t, plain, types("application/vnd.openxmlformats-officedocument.wordprocessingml.document.main+xml")), problem.Malformed, "no workbook"},
		{"binary", tiny(t, plain, types("application/vnd.ms-excel.sheet.binary.macroEnabled.main")), problem.Malformed, ".xlsb"},
		{"strict", tiny(t, plain, edit{part: "xl/workbook.xml", new: `<workbook xmlns="http://purl.oclc.org/ooxml/spreadsheetml/main"/>`}), problem.Malformed, "strict"},
		{"no sheets", tiny(t, plain, edit{part: "xl/workbook.xml", new: `<workbook ` + mainSpace + `/>`}), problem.Malformed, "no sheets"},
		{"no main part", tiny(t, plain, rels("_rels/.rels", "")), problem.Malformed, "no workbook"},
		{"signed", tiny(t, plain, rels("_rels/.rels", `<Relationship Id="s" Type="http://schemas.openxmlformats.org/package/2006/relationships/digital-signature/origin" Target="s"/>`)), problem.Malformed, "signed"},
		{"shared with a history", tiny(t, plain, rels("xl/_rels/workbook.xml.rels", `<Relationship Id="b" Type="x/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="h" Type="x/revisionHeaders" Target="h.xml"/>`)), problem.Malformed, "history"},
		{"a sheet without a part", tiny(t, plain, rels("xl/_rels/workbook.xml.rels", `<Relationship Id="b" Type="x/worksheet" Target="gone.xml"/>`)), problem.Malformed, `"Order"`},
		{"rows out of order", tiny(t, `<sheetData><row r="3"/><row r="2"/></sheetData>`), problem.Malformed, "row 2 after row 3"},
		{"cells out of order", tiny(t, `<sheetData><row r="1"><c r="B1"/><c r="A1"/></row></sheetData>`), problem.Malformed, `cell "A1"`},
		{"a cell of another row", tiny(t, `<sheetData><row r="1"><c r="B2"/></row></sheetData>`), problem.Malformed, `cell "B2"`},
		{"a formula shared by nobody", tiny(t, "<sheetData>"+headerRow+`<row r="2"><c r="D2"><f t="shared" si="9"/></c></row></sheetData>`), problem.Malformed, "Order!D2"},
		{"a formula not closed", tiny(t, "<sheetData>"+headerRow+`<row r="2"><c r="D2"><f>"a</f></c></row></sheetData>`), problem.Malformed, "Order!D2"},
		{"formulas that grow past bounds", tiny(t, "<sheetData>"+headerRow+`<row r="2">`+long+"</row>"+shared.String()+"</sheetData>"), problem.TooLarge, "formulas of more than"},
		{"too many cells", tiny(t, "<sheetData>"+headerRow+strings.Repeat("<row>"+strings.Repeat("<c/>", 10_000)+"</row>", 21)+"</sheetData>"), problem.TooLarge, "more than 200000 cells"},
		{"no cells' part", tiny(t, ""), problem.Malformed, "holds no cells' part"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			_, err := tryFill(t, tt.data, tinyMap(t, afterLast), twoLines())
			if err == nil || problem.CodeOf(err) != tt.code || !strings.Contains(err.Error(), tt.says) {
				t.Errorf("%v; want %s that says %q", err, tt.code, tt.says)
			}
		})
	}
}

func TestOrdersAndContextsThatAreNotTaken(t *testing.T) {
	t.Parallel()
	data := tiny(t, "<sheetData>"+headerRow+"</sheetData>")
	m := tinyMap(t, afterLast)
	if _, err := tryFill(t, data, m, ordersheet.Order{}); !strings.Contains(fmt.Sprint(err), "/lines") {
		t.Errorf("no lines: %v", err)
	}
	m.Columns[0].Field = ordersheet.OrderDate
	if _, err := tryFill(t, data, m, twoLines()); !strings.Contains(fmt.Sprint(err), "/date") {
		t.Errorf("no date: %v", err)
	}
	dated := twoLines()
	dated.Date = time.Date(2026, 11, 25, 0, 0, 0, 0, time.UTC)
	if _, err := tryFill(t, data, m, dated); !strings.Contains(fmt.Sprint(err), "write it as text") {
		t.Errorf("a date without formats: %v", err)
	}
	m.Columns[0].As = "text"
	all, _ := unzip(t, fill(t, data, m, dated).Data)
	if !strings.Contains(string(all[sheet1].data), "<t>2026-11-25</t>") {
		t.Errorf("a date as text: %s", all[sheet1].data)
	}
	w, err := ordersheet.Open(data)
	if err != nil {
		t.Fatal(err)
	}
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	if _, err := w.Fill(ctx, tinyMap(t, afterLast), twoLines()); problem.CodeOf(err) != problem.Cancelled {
		t.Errorf("cancelled: %v", err)
	}
	end := tiny(t, `<sheetData><row r="1048574"><c r="A1048574"><v>1</v></c></row></sheetData>`)
	if _, err := tryFill(t, end, tinyMap(t, `"header_row":1048574,"append":{"where":"after_last_row"}`), ordersheet.Order{Lines: make([]ordersheet.Line, 3)}); !strings.Contains(fmt.Sprint(err), "no room for 3 further rows") {
		t.Errorf("no room: %v", err)
	}
}

func TestMapsNameEveryFault(t *testing.T) {
	t.Parallel()
	tests := []struct {
		text string
		want []string
	}{
		{`{"sheet":"","columns":[],"append":{"where":"here"}}`, []string{"/sheet", "/columns", "/append/where", "/header_row"}},
		{`{"sheet":"S","header_row":1,"columns":[{"field":"sku"},{"field":"text","column":"XFE","as":"number"},{"field":"refs","header":"For"},{"field":"maker","header":" for"}],"fixed":[{"column":"A"}],"append":{"where":"table","blank_rows":1}}`,
			[]string{"/header_row", "/columns/0", "/columns/1/column", "/columns/1/as", "/columns/3/header", "/fixed/0", "/append/blank_rows", "/append/table"}},
		{`{"sheet":"S","columns":[{"field":"sku","column":"A"},{"field":"price","column":"A"}],"append":{"where":"after_last_row","totals":{"text":"x"},"table":"T"}}`,
			[]string{"/columns/1/field", "/columns/1/column", "/append/totals", "/append/table", "/header_row"}},
	}
	for _, tt := range tests {
		_, err := ordersheet.ParseMap([]byte(tt.text))
		got := pointers(err)
		if diff := cmp.Diff(tt.want, got); diff != "" {
			t.Errorf("%s: %v\n%s", tt.text, err, diff)
		}
	}
}

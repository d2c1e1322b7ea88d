package ordersheet_test

import (
	"archive/zip"
	"bytes"
	"strings"
	"testing"

	"coldrise/api/ordersheet"
	"coldrise/domain/problem"
)

// edit is a change made to a part of a workbook before a test: the text old,
// which must be there, becomes new.
type edit struct{ part, old, new string }

const (
	sheet1 = "xl/worksheets/sheet1.xml"
	sheet2 = "xl/worksheets/sheet2.xml"
	sheet3 = "xl/worksheets/sheet3.xml"
)

// edited repacks a workbook with parts changed.
func edited(t testing.TB, data []byte, edits ...edit) []byte {
	t.Helper()
	all, names := unzip(t, data)
	for _, e := range edits {
		p, ok := all[e.part]
		if !ok {
			names = append(names, e.part)
		} else if !strings.Contains(string(p.data), e.old) {
			t.Fatalf("%s has no %q", e.part, e.old)
		}
		all[e.part] = zipPart{data: []byte(strings.Replace(string(p.data), e.old, e.new, 1))}
		if !ok {
			all[e.part] = zipPart{data: []byte(e.new)}
		}
	}
	return zipped(t, names, func(n string) []byte { return all[n].data })
}

// zipped packs parts, each as the function gives it.
func zipped(t testing.TB, names []string, data func(string) []byte) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, n := range names {
		f, err := w.CreateHeader(&zip.FileHeader{Name: n, Method: zip.Store})
		if err != nil {
			t.Fatal(err)
		}
		if _, err := f.Write(data(n)); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func tryFill(t testing.TB, data []byte, m ordersheet.Map, o ordersheet.Order) (ordersheet.Filled, error) {
	t.Helper()
	w, err := ordersheet.Open(data)
	if err != nil {
		return ordersheet.Filled{}, err
	}
	return w.Fill(t.Context(), m, o)
}

// Each workbook has one thing that a fill cannot do safely, or a map that does
// not fit it. The refusal names the cell, and the map's member it is about.
func TestWhatCannotBeDoneSafelyIsRefusedWithTheCell(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, file string
		edits      []edit
		change     func(m *ordersheet.Map)
		pointer    string
		says       []string
	}{
		// The map no longer fits.
		{"no such sheet", "formulas.xlsx", nil, func(m *ordersheet.Map) { m.Sheet = "Orders" }, "/sheet", []string{`no sheet "Orders"`, `"Order", "Rates", "Summary"`}},
		{"a chart sheet", "chart.xlsx", nil, func(m *ordersheet.Map) { m.Sheet = "shares" }, "/sheet", []string{"is a chartsheet"}},
		{"a header renamed", "formulas.xlsx", []edit{{"xl/sharedStrings.xml", ">Qty<", ">Pieces<"}}, nil, "/columns/5", []string{`row 6 of sheet "Order"`, `"Qty"`, `"Pieces" in F6`}},
		{"a header renamed, pinned", "formulas.xlsx", []edit{{"xl/sharedStrings.xml", ">Qty<", ">Pieces<"}}, func(m *ordersheet.Map) { m.Columns[5].Column = "F" }, "/columns/5", []string{`Order!F6 reads "Pieces"; expected the header "Qty"`}},
		{"a header empty", "formulas.xlsx", nil, func(m *ordersheet.Map) { m.Columns[5].Column = "Q" }, "/columns/5", []string{`Order!Q6 reads nothing; expected the header "Qty"`}},
		{"a header twice", "formulas.xlsx", []edit{{"xl/sharedStrings.xml", ">Share<", ">QTY <"}}, nil, "/columns/5", []string{"Order!F6 and Order!J6 both read"}},
		{"two places in a column", "formulas.xlsx", nil, func(m *ordersheet.Map) {
			m.Columns[5] = ordersheet.MapColumn{Field: ordersheet.Quantity, Place: ordersheet.Place{Column: "A"}}
		}, "/columns/5", []string{"is column A, as /columns/0 is already"}},
		{"no such table", "table.xlsx", nil, func(m *ordersheet.Map) { m.Append.Table = "Orders" }, "/append/table", []string{`no table "Orders"`, `"Lines" on sheet "Order"`}},
		{"a table from elsewhere", "table.xlsx", []edit{{"xl/tables/table1.xml", ` totalsRowCount="1"`, ` totalsRowCount="1" tableType="queryTable"`}}, nil, "/append/table", []string{"filled from elsewhere"}},
		{"a table without a header", "table.xlsx", []edit{{"xl/tables/table1.xml", ` totalsRowCount="1"`, ` totalsRowCount="1" headerRowCount="0"`}}, nil, "/append/table", []string{"Order!A5:I9 has no header row"}},
		{"a column beside the table", "table.xlsx", nil, func(m *ordersheet.Map) { m.Columns[0].Place = ordersheet.Place{Column: "K"} }, "/columns/0", []string{"column K lies outside table Lines at Order!A5:I9"}},
		{"lines in a table, not mapped as one", "table.xlsx", nil, func(m *ordersheet.Map) {
			m.HeaderRow, m.Append = 5, ordersheet.Append{Where: ordersheet.AfterLastRow}
		}, "/append/where", []string{"in table Lines at Order!A5:I9"}},
		{"no totals row", "formulas.xlsx", nil, func(m *ordersheet.Map) { m.Append.Totals.Text = "Sum" }, "/append/totals", []string{`column A below row 6 of sheet "Order" reads "Sum"`}},
		{"two totals rows", "formulas.xlsx", []edit{{"xl/sharedStrings.xml", ">To pay<", ">total<"}}, nil, "/append/totals", []string{"Order!A11 and Order!A13 both read"}},
		{"a value where a formula was", "formulas.xlsx", []edit{{sheet1, `<f>F9*G9</f><v>3.9</v>`, `<v>3.9</v>`}}, nil, "/formulas/0", []string{`Order!H9 reads "3.9"; expected a formula`}},
		{"a formula where values go", "formulas.xlsx", []edit{{sheet1, `<c r="F9" s="4"><v>10</v>`, `<c r="F9" s="4"><f>2*5</f><v>10</v>`}}, nil, "/columns/5", []string{"Order!F9 holds a formula; expected a value"}},
		{"lines that end nobody knows where", "chart.xlsx", []edit{{sheet1, `</sheetData>`, `<row r="20"><c r="A20" t="inlineStr"><is><t>Deliver to</t></is></c></row></sheetData>`}}, nil, "/append", []string{`Order!A20 reads "Deliver to" below 12 empty rows`}},
		{"no formula to carry", "names.xlsx", nil, func(m *ordersheet.Map) { m.Formulas[0] = ordersheet.Place{Column: "N"} }, "/formulas/0", []string{"Order!N7 reads nothing; expected a formula"}},

		// Something is in the way.
		{"text beside a free row", "conditional.xlsx", []edit{{sheet1, `<c r="A8" s="3"/>`, `<c r="A8" s="3" t="str"><v> </v></c>`}, {sheet1, `<c r="D8" s="3"/>`, `<c r="D8" s="3" t="inlineStr"><is><t>kept for later</t></is></c>`}},
			func(m *ordersheet.Map) { m.Columns = m.Columns[:3] }, "/append", []string{`Order!D8 reads "kept for later" beside a free row`}},
		{"a totals row that looks free", "chart.xlsx", []edit{{sheet1, `</sheetData>`, `<row r="8"><c r="H8"><f>SUM(H5:H7)</f><v>34.86</v></c></row></sheetData>`}}, nil, "/append", []string{"Order!H8 holds a formula that is not the one of the lines above", "=SUM(H5:H7)"}},
		{"a hidden free row", "conditional.xlsx", []edit{{sheet1, `<row r="9" `, `<row r="9" hidden="1" `}}, nil, "/append", []string{"row 9 of sheet \"Order\" is free and hidden"}},
		{"cells merged over lines", "chart.xlsx", []edit{{sheet1, `<pageMargins`, `<mergeCells count="1"><mergeCell ref="A7:A8"/></mergeCells><pageMargins`}}, nil, "/append", []string{"Order!A7:A8 is merged over several rows"}},
		{"a column merged away", "merged.xlsx", nil, func(m *ordersheet.Map) { m.Columns[3].Place = ordersheet.Place{Column: "E"} }, "/columns/3", []string{"Order!E8 is merged into D8:E8", "map column D"}},
		{"an array over lines", "arrays.xlsx", []edit{{sheet1, `<f t="array" ref="H7">SUM(F7*G7)</f>`, `<f t="array" ref="H7:H8">F7:F8*G7:G8</f>`}}, nil, "/formulas/0", []string{"Order!H7 holds part of an array or of a data table over H7:H8"}},

		// Rows must come in, and what refers to those below cannot follow.
		{"another sheet's formula", "formulas.xlsx", []edit{{sheet3, `<f>SUMIF(Order!A:A,A1,Order!H:H)</f>`, `<f>Order!H11</f>`}}, nil, "/append", []string{"Summary!B1 refers to cells that would move", "Order!H11"}},
		{"another sheet's formula, in part short", "formulas.xlsx", []edit{{sheet3, `<f>SUMIF(Order!A:A,A1,Order!H:H)</f>`, `<f>SUM(Order!H7:H9)+SUM(Order!H8:H9)+Order!H11</f>`}}, func(m *ordersheet.Map) { m.ShortRanges = ordersheet.ReportShort }, "/append", []string{"Summary!B1 refers to cells that would move"}},
		{"another sheet's shared formula", "formulas.xlsx", []edit{{sheet3, `<f>SUMIF(Order!A:A,A1,Order!H:H)</f>`, `<f t="shared" ref="B1:B2" si="0">Order!H9</f>`}, {sheet3, `<f>IF(COUNT(Order!L:L)&gt;0,MAX(Order!J:J),"none")</f>`, `<f t="shared" si="0"/>`}}, nil, "/append", []string{"Summary!B2 refers to cells that would move (Order!H10)"}},
		{"a formula through several sheets", "formulas.xlsx", []edit{{sheet3, `<f>SUMIF(Order!A:A,A1,Order!H:H)</f>`, `<f>SUM(Order:Rates!H12)</f>`}}, nil, "/append", []string{"Summary!B1 refers through several sheets"}},
		{"its own formula through several sheets", "formulas.xlsx", []edit{{sheet1, `<f>H11+H12</f>`, `<f>SUM(Order:Rates!H7:H9)</f>`}}, nil, "/append", []string{"Order!H13 refers through several sheets"}},
		{"a line that looks below without $", "formulas.xlsx", []edit{{sheet1, `<f>H9/H$11</f>`, `<f>H9/H11</f>`}}, nil, "/formulas/1", []string{"Order!J9 refers to H11, below the lines", "fix the row with $"}},
		{"cells merged across the new rows", "formulas.xlsx", []edit{{sheet1, `<pageMargins`, `<mergeCells count="1"><mergeCell ref="N8:N12"/></mergeCells><pageMargins`}}, nil, "/append", []string{"Order!N8:N12 is merged, and rows must be inserted within it"}},
		{"an array across the new rows", "formulas.xlsx", []edit{{sheet1, `</row><row r="11"`, `<c r="N9"><f t="array" ref="N9:N12">H9:H12</f><v>3.9</v></c></row><row r="11"`}}, nil, "/append", []string{"Order!N9 holds an array over N9:N12"}},
		{"a data table", "formulas.xlsx", []edit{{sheet1, `</row><row r="11"`, `<c r="N9"><f t="dataTable" ref="N9:N9" dt2D="0" dtr="0" r1="B1"/><v>3.9</v></c></row><row r="11"`}}, nil, "/append", []string{"Order!N9 holds a data table"}},
		{"a comment below", "pictures.xlsx", []edit{{"xl/comments1.xml", `ref="C7"`, `ref="C10"`}}, nil, "/append", []string{"Parts & order!C10 has a comment"}},
		{"a pivot table below", "pivot.xlsx", []edit{{"xl/worksheets/_rels/sheet1.xml.rels", `</Relationships>`, `<Relationship Id="p" Type="x/pivotTable" Target="../pivotTables/pivotTable1.xml"/></Relationships>`}, {"xl/pivotTables/pivotTable1.xml", `ref="A3:B6"`, `ref="A13:B16"`}}, nil, "/append", []string{"Order!A13:B16 has a pivot table"}},
		{"a control of old", "formulas.xlsx", []edit{{"[Content_Types].xml", "</Types>", `<Override PartName="/xl/drawings/vmlDrawing1.vml" ContentType="application/vnd.openxmlformats-officedocument.vmlDrawing"/></Types>`},
			{"xl/drawings/vmlDrawing1.vml", "", `<xml><br><x:FmlaLink>&apos;Order&apos;!$H$13</x:FmlaLink></xml>`}}, nil, "/append", []string{"a control of vmlDrawing1.vml", "'Order'!$H$13", "would move"}},
		{"a control's cell in the sheet", "formulas.xlsx", []edit{{sheet1, "</worksheet>", `<controls><control><controlPr linkedCell="$H$13"/></control></controls></worksheet>`}}, nil, "/append", []string{`a control on sheet "Order" refers to cells that would move ($H$13)`}},
		{"a picture of cells", "formulas.xlsx", []edit{{"[Content_Types].xml", "</Types>", `<Override PartName="/xl/drawings/drawing1.xml" ContentType="application/vnd.openxmlformats-officedocument.drawing+xml"/></Types>`},
			{"xl/drawings/drawing1.xml", "", `<d xmlns="u"><cameraTool cellRange="Order!$A$11:$H$13"/></d>`}}, nil, "/append", []string{"a shape of drawing1.xml", "would move"}},
		{"a table below", "formulas.xlsx", []edit{
			{"xl/worksheets/_rels/sheet1.xml.rels", "", `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/table" Target="../tables/table1.xml"/></Relationships>`},
			{"xl/tables/table1.xml", "", `<table xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main" id="1" name="Other" displayName="Other" ref="A20:B22"><tableColumns count="2"><tableColumn id="1" name="a"/><tableColumn id="2" name="b"/></tableColumns></table>`}},
			nil, "/append", []string{"table Other at Order!A20:B22 would have to move"}},
		{"a calculated column", "table.xlsx", []edit{{"xl/tables/table1.xml", `[[#This Row],Qty]*[[#This Row],Price]`, `[[#This Row],Qty]*$B$11`}}, nil, "/append", []string{"table Lines of sheet \"Order\" refers to cells that would move", "$B$11"}},
		{"a shape's text", "formulas.xlsx", []edit{{"[Content_Types].xml", "</Types>", `<Override PartName="/xl/drawings/drawing1.xml" ContentType="application/vnd.openxmlformats-officedocument.drawing+xml"/></Types>`},
			{"xl/drawings/drawing1.xml", "", `<d xmlns="u"><sp textlink="Order!$H$13"/></d>`}}, nil, "/append", []string{"a shape", "Order!$H$13", "would move"}},
		{"a control's cell", "formulas.xlsx", []edit{{"[Content_Types].xml", "</Types>", `<Override PartName="/xl/ctrlProps/ctrlProp1.xml" ContentType="application/vnd.ms-excel.controlproperties+xml"/></Types>`},
			{"xl/ctrlProps/ctrlProp1.xml", "", `<formControlPr xmlns="u" fmlaLink="Order!$H$13"/>`}}, nil, "/append", []string{"a control", "would move"}},
		{"a pivot table's source below", "formulas.xlsx", []edit{{"[Content_Types].xml", "</Types>", `<Override PartName="/xl/pivotCache/p.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.pivotCacheDefinition+xml"/></Types>`},
			{"xl/pivotCache/p.xml", "", `<pivotCacheDefinition xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><cacheSource type="worksheet"><worksheetSource ref="A11:H13" sheet="Order"/></cacheSource></pivotCacheDefinition>`}}, nil, "/append", []string{"pivot table (p.xml) refers to cells that would move"}},
		{"a format that looks across", "formulas.xlsx", []edit{{sheet1, `<pageMargins`, `<conditionalFormatting sqref="H7:H11"><cfRule type="expression" priority="1"><formula>H9&gt;1</formula></cfRule></conditionalFormatting><pageMargins`}}, nil, "/append", []string{"conditional format over Order!H7:H11", "not fixed with $"}},
		{"scenarios", "formulas.xlsx", []edit{{sheet1, `<pageMargins`, `<scenarios><scenario name="a"><inputCells r="H12" val="1"/></scenario></scenarios><pageMargins`}}, nil, "/append", []string{"has scenarios, which may refer to rows"}},

		// Ranges elsewhere would miss the new rows.
		{"a chart", "chart.xlsx", nil, func(m *ordersheet.Map) { m.ShortRanges = ordersheet.RefuseShort }, "/short_ranges", []string{`chart chart1.xml on sheet "Order" covers all lines now`, "Order!$H$5:$H$22", `"report"`}},
		{"another sheet's sum", "chart.xlsx", []edit{{sheet2, `<sheetData/>`, `<sheetData><row r="1"><c r="A1"><f>SUM(Order!H5:H7)</f><v>34.86</v></c></row></sheetData>`}}, func(m *ordersheet.Map) { m.ShortRanges = "" }, "/short_ranges", []string{"Charts!A1 covers all lines now", "SUM(Order!H5:H22)"}},
		{"a pivot table", "macros.xlsm", []edit{{"[Content_Types].xml", "</Types>", `<Override PartName="/xl/pivotCache/p.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.pivotCacheDefinition+xml"/></Types>`},
			{"xl/pivotCache/p.xml", "", `<pivotCacheDefinition xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><cacheSource type="worksheet"><worksheetSource ref="A4:I7" sheet="Order"/></cacheSource></pivotCacheDefinition>`}}, nil, "/short_ranges", []string{"pivot table (p.xml) covers all lines now", "A4:I22"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			data, m := workbook(t, tt.file)
			data = edited(t, data, tt.edits...)
			if tt.change != nil {
				tt.change(&m)
			}
			o := payloadOrder()
			if tt.name == "a calculated column" {
				o = smallOrder()
			}
			before := bytes.Clone(data)
			_, err := tryFill(t, data, m, o)
			if !bytes.Equal(before, data) {
				t.Error("the upload was changed")
			}
			if code := problem.CodeOf(err); err == nil || code != problem.Invalid {
				t.Fatalf("got %v, code %s", err, code)
			}
			for _, f := range problem.As(err).Faults {
				text := f.String()
				all := f.Pointer == tt.pointer
				for _, s := range tt.says {
					all = all && strings.Contains(text, s)
				}
				if all {
					return
				}
			}
			t.Errorf("no fault at %s that says %q:\n%v", tt.pointer, tt.says, err)
		})
	}
}

package table

import (
	"archive/zip"
	"bytes"
	"compress/flate"
	"context"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"io"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"
	"pgregory.net/rapid"

	"coldrise/domain/problem"
)

// A workbook written by hand: the parts it needs, and what a test puts in.
const (
	contentTypes = `<?xml version="1.0" encoding="UTF-8"?><Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types"><Default Extension="xml" ContentType="application/xml"/></Types>`
	topRelations = `<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships"><Relationship Id="rId1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/></Relationships>`
	book         = `<workbook xmlns:r="x"><sheets><sheet name="Hidden" sheetId="1" state="hidden" r:id="rId1"/><sheet name="List" sheetId="2" r:id="rId2"/></sheets></workbook>`
	relations    = `<Relationships><Relationship Id="rId1" Type="http://x/worksheet" Target="worksheets/sheet1.xml"/><Relationship Id="rId2" Type="http://x/worksheet" Target="/xl/worksheets/sheet2.xml"/>
<Relationship Id="rId3" Type="http://x/sharedStrings" Target="sharedStrings.xml"/><Relationship Id="rId4" Type="http://x/styles" Target="styles.xml"/>
<Relationship Id="rId9" Type="http://x/externalLink" TargetMode="External" Target="http://example.invalid/x.xlsx"/></Relationships>`
	stylesPart = `<styleSheet><numFmts><numFmt numFmtId="164" formatCode="0.0\ &quot;days&quot;"/><numFmt numFmtId="165" formatCode="[$-407]d/m/yyyy"/><numFmt numFmtId="166" formatCode="0.00%"/></numFmts>
<cellStyleXfs><xf numFmtId="14"/></cellStyleXfs><cellXfs><xf numFmtId="0"/><xf numFmtId="9"/><xf numFmtId="14"/><xf numFmtId="164"/><xf numFmtId="165"/><xf numFmtId="166"/></cellXfs></styleSheet>`
	emptySheet = `<worksheet><sheetData/></worksheet>`
)

func parts(sheet, shared string) map[string]string {
	return map[string]string{"[Content_Types].xml": contentTypes, "_rels/.rels": topRelations, "xl/workbook.xml": book, "xl/_rels/workbook.xml.rels": relations,
		"xl/worksheets/sheet1.xml": emptySheet, "xl/worksheets/sheet2.xml": sheet, "xl/sharedStrings.xml": shared, "xl/styles.xml": stylesPart}
}

func zipped(t testing.TB, parts map[string]string) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	w.RegisterCompressor(zip.Deflate, fast)
	for name, text := range parts {
		p, err := w.Create(name)
		if err == nil {
			_, err = io.WriteString(p, text)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func fast(out io.Writer) (io.WriteCloser, error) { return flate.NewWriter(out, flate.BestSpeed) }

func sheetOf(data []byte, name string, l Limits) (Reader, error) {
	w, err := OpenWorkbook(context.Background(), bytes.NewReader(data), int64(len(data)), l)
	if err != nil {
		return nil, err
	}
	r, _, err := w.Sheet(context.Background(), name)
	return r, err
}

const everyCell = `<worksheet><dimension ref="A1:Z9"/><cols><col min="1" max="2"/></cols><sheetData>
<row r="1" spans="1:9"><c r="A1" t="s"><v>0</v></c><c r="B1" t="inlineStr"><is><t xml:space="preserve"> inline </t></is></c><c t="str"><f>A1&amp;"x"</f><v>cached</v></c></row>
<row r="3" hidden="1"><c r="A3"><v>4.7E-05</v></c><c r="B3"><v>0.10000000000000001</v></c><c r="C3" s="1"><v>7.0000000000000007E-2</v></c><c r="D3" s="2"><v>45935</v></c>
<c r="E3" s="3"><v>3</v></c><c r="F3" s="4"><v>45935</v></c><c r="G3" s="5"><v>0.2</v></c><c r="H3" t="b"><v>1</v></c><c r="I3" t="e"><v>#N/A</v></c><c r="J3" t="d"><v>2026-11-25</v></c></row>
<row><c r="B4"><f>B3*2</f><v>0.2</v></c><c r="D4" t="s"><v>1</v></c><c r="XFD4" s="2"/></row>
<row r="9"><c r="A9"><f>[1]Sheet1!A1</f></c><c r="B9" t="s"><v>7</v></c><c r="C9"><v>x</v></c></row>
</sheetData><mergeCells count="1"><mergeCell ref="A1:B1"/></mergeCells></worksheet>`

const everyString = `<sst count="2" uniqueCount="2"><si><t>plain &amp; µ</t></si><si><r><t>rich</t></r><r><rPr><b/></rPr><t xml:space="preserve"> text_x000D_
</t></r><rPh sb="0" eb="1"><t>aloud</t></rPh></si></sst>`

// Every kind of cell keeps what it is: a number is no text, a percentage is
// counted in hundredths, what a formula gave is marked.
func TestSheetKeepsWhatCellsAre(t *testing.T) {
	t.Parallel()
	r, err := sheetOf(zipped(t, parts(everyCell, everyString)), "", Limits{})
	if err != nil {
		t.Fatal(err)
	}
	want := []Row{
		{Line: 1, Cells: []Cell{{Text: "plain & µ"}, {Text: " inline "}, {Text: "cached", Formula: true}}},
		{Line: 3, Hidden: true, Cells: []Cell{{"0.000047", Number, false}, {"0.1", Number, false}, {"7", Percent, false}, {"45935", Date, false},
			{"3", Number, false}, {"45935", Date, false}, {"20", Percent, false}, {"TRUE", Bool, false}, {"#N/A", Error, false}, {"2026-11-25", Date, false}}},
		{Line: 4, Cells: []Cell{{}, {"0.2", Number, true}, {}, {Text: "rich text\r\n"}}},
		{Line: 9, Cells: []Cell{{Formula: true}, {}, {Text: "x"}}, Faults: []Fault{
			{0, BadCell, "is a formula without a stored value; open the workbook in a spreadsheet, let it calculate, and save it", ""},
			{1, BadCell, "refers to a text that the workbook does not hold", ""}, {2, BadCell, "is marked as a number and is none", "x"}}},
	}
	for i, row := range want {
		got, err := r.Next()
		if diff := cmp.Diff(row, got); err != nil || diff != "" {
			t.Errorf("row %d: %v\n%s", i, err, diff)
		}
	}
	if _, err := r.Next(); err != io.EOF {
		t.Errorf("after the last row: %v", err)
	}
	if taken, size := r.Read(); taken != size || r.Rows() != 3 { // one row's tag has no attribute
		t.Errorf("%d of %d bytes, %d rows", taken, size, r.Rows())
	}
}

func TestWorkbookFindsItsSheets(t *testing.T) {
	t.Parallel()
	data := zipped(t, parts(everyCell, everyString))
	w, err := OpenWorkbook(t.Context(), bytes.NewReader(data), int64(len(data)), Limits{})
	if err != nil {
		t.Fatal(err)
	}
	if diff := cmp.Diff([]string{"Hidden", "List"}, w.Sheets()); diff != "" {
		t.Error(diff)
	}
	if _, name, err := w.Sheet(t.Context(), ""); err != nil || name != "List" {
		t.Errorf("the first sheet in sight is %q, %v", name, err)
	}
	if _, name, err := w.Sheet(t.Context(), "Hidden"); err != nil || name != "Hidden" {
		t.Errorf("a sheet by name is %q, %v", name, err)
	}
	if _, _, err := w.Sheet(t.Context(), "Other"); problem.CodeOf(err) != problem.Invalid || !strings.Contains(err.Error(), `"Hidden", "List"`) {
		t.Errorf("a sheet that is not there: %v", err)
	}
}

// bomb is an archive whose directory says what size it likes of a part packed
// by deflate.
func bomb(t *testing.T, unpacked int, says uint64) []byte {
	t.Helper()
	var packed bytes.Buffer
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for name, text := range parts("", everyString) {
		if name == "xl/worksheets/sheet2.xml" {
			continue
		}
		p, err := w.Create(name)
		if err == nil {
			_, err = io.WriteString(p, text)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	inner := zip.NewWriter(&packed)
	inner.RegisterCompressor(zip.Deflate, fast)
	p, err := inner.Create("x")
	if err != nil {
		t.Fatal(err)
	}
	row := []byte(`<row r="1"><c r="A1"><v>1</v></c></row>`)
	sum := crc32.NewIEEE()
	out := io.MultiWriter(p, sum)
	fmt.Fprint(out, "<worksheet><sheetData>")
	for n := 0; n < unpacked; n += len(row) {
		if _, err := out.Write(row); err != nil {
			t.Fatal(err)
		}
	}
	if err := inner.Close(); err != nil {
		t.Fatal(err)
	}
	r, err := zip.NewReader(bytes.NewReader(packed.Bytes()), int64(packed.Len()))
	if err != nil {
		t.Fatal(err)
	}
	raw, err := r.File[0].OpenRaw()
	if err != nil {
		t.Fatal(err)
	}
	header := &zip.FileHeader{Name: "xl/worksheets/sheet2.xml", Method: zip.Deflate, CRC32: sum.Sum32(), CompressedSize64: r.File[0].CompressedSize64, UncompressedSize64: r.File[0].UncompressedSize64}
	if says != 0 {
		header.UncompressedSize64 = says
	}
	to, err := w.CreateRaw(header)
	if err == nil {
		_, err = io.Copy(to, raw)
	}
	if err == nil {
		err = w.Close()
	}
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func sheetWith(rows string) string {
	return "<worksheet><sheetData>" + rows + "</sheetData></worksheet>"
}

// What is crafted to hurt is refused by name, at once.
func TestHostileWorkbooksAreRefused(t *testing.T) {
	t.Parallel()
	var manyRows, wide strings.Builder
	for i := range 1_048_576 {
		fmt.Fprintf(&manyRows, `<row r="%d"><c r="A%d"><v>%d</v></c></row>`, i+1, i+1, i*7919)
	}
	for i := range 2000 {
		fmt.Fprintf(&wide, `<row r="%d"><c r="XFD%d"><v>1</v></c></row>`, i+1, i+1)
	}
	entities := `<?xml version="1.0"?><!DOCTYPE w [<!ENTITY a "aaaaaaaaaa"><!ENTITY b "&a;&a;&a;&a;&a;&a;">]><worksheet><sheetData><row r="1"><c t="inlineStr"><is><t>&b;</t></is></c></row></sheetData></worksheet>`
	broken := zipped(t, parts(everyCell, everyString))
	replaced := func(name, text string) []byte {
		p := parts(everyCell, everyString)
		if p[name] = text; text == "" {
			delete(p, name)
		}
		return zipped(t, p)
	}
	tests := []struct {
		name string
		data []byte
		code problem.Code
		says string
	}{
		{"a zip bomb of 300 MiB", bomb(t, 300<<20, 0), problem.TooLarge, "would unpack to more than 256 MiB"},
		{"a zip bomb under the limit", bomb(t, 64<<20, 0), problem.TooLarge, "100 times its size"},
		{"a header that lies: 1000 bytes", bomb(t, 64<<20, 1000), problem.Malformed, "lies about the size"},
		{"a header that lies: more than there is", bomb(t, 1000, 2000), problem.Malformed, "lies about the size"},
		{"a million rows", zipped(t, parts(sheetWith(manyRows.String()), everyString)), problem.TooLarge, "more than 250000 rows"},
		{"2000 rows with a cell in XFD", zipped(t, parts(sheetWith(wide.String()), everyString)), problem.TooLarge, "column XFD, row 1"},
		{"entities within entities", zipped(t, parts(entities, everyString)), problem.Malformed, "document type"},
		{"entities in the shared strings", zipped(t, parts(emptySheet, strings.Replace(entities, "worksheet", "sst", 2))), problem.Malformed, "document type"},
		{"an entity nobody defines", zipped(t, parts(sheetWith(`<row r="1"><c t="inlineStr"><is><t>&x;</t></is></c></row>`), everyString)), problem.Malformed, "no sound XML"},
		{"an attribute without end", zipped(t, parts(`<worksheet a="`+strings.Repeat("x", 3<<20), everyString)), problem.TooLarge, "element of more than 1 MiB"},
		{"rows out of order", zipped(t, parts(sheetWith(`<row r="5"/><row r="4"/>`), everyString)), problem.Malformed, "rows out of order"},
		{"cells out of order", zipped(t, parts(sheetWith(`<row r="1"><c r="B1"/><c r="A1"/></row>`), everyString)), problem.Malformed, "cells of row 1 out of order"},
		{"a row number that overflows", zipped(t, parts(sheetWith(`<row r="99999999999999999999"/>`), everyString)), problem.Malformed, "out of order"},
		{"a sheet that breaks off", zipped(t, parts(`<worksheet><sheetData><row r="1"><c r="A1"><v>1</v></c>`, everyString)), problem.Malformed, ""},
		{"no XML at all", zipped(t, parts("\x00\x01", everyString)), problem.Malformed, "no sound XML"},
		{"an archive cut short", broken[:len(broken)/2], problem.Malformed, "cut short"},
		{"a directory of a million files", crowded(t), problem.TooLarge, "more files"},
		{"a part twice", twice(t), problem.Malformed, "twice"},
		{"no sheets", replaced("xl/workbook.xml", "<workbook/>"), problem.Malformed, "no sheet"},
		{"a sheet's part missing", replaced("xl/worksheets/sheet2.xml", ""), problem.Malformed, "does not hold it"},
		{"no workbook in it", replaced("[Content_Types].xml", ""), problem.Unsupported, "ZIP archive"},
		{"an OpenDocument file", replaced("mimetype", "application/vnd.oasis.opendocument.spreadsheet"), problem.Unsupported, "OpenDocument"},
		{"a binary workbook", replaced("xl/workbook.bin", "x"), problem.Unsupported, "xlsb"},
		{"a text document", replaced("word/document.xml", "x"), problem.Unsupported, "text or a presentation"},
		{"another encoding", zipped(t, parts(`<?xml version="1.0" encoding="ebcdic"?><worksheet/>`, everyString)), problem.Malformed, "no sound XML"},
	}
	before := leftovers(t)
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			start := time.Now()
			r, err := sheetOf(tt.data, "", Limits{})
			if err == nil {
				_, _, err = drain(r)
			}
			if problem.CodeOf(err) != tt.code || !strings.Contains(err.Error(), tt.says) {
				t.Errorf("%v", err)
			}
			t.Logf("refused in %v: %v", time.Since(start).Round(time.Millisecond), err)
		})
	}
	if after := leftovers(t); after != before {
		t.Errorf("%d temporary files before, %d after", before, after)
	}
}

// leftovers counts what the libraries here would leave in the folder of
// temporary files.
func leftovers(t *testing.T) int {
	t.Helper()
	found, err := filepath.Glob(filepath.Join(os.TempDir(), "excelize-*"))
	if err != nil {
		t.Fatal(err)
	}
	return len(found)
}

// crowded is an archive with a directory of a hundred thousand empty files.
func crowded(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for i := range 100_000 {
		if _, err := w.CreateRaw(&zip.FileHeader{Name: fmt.Sprint(i)}); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func twice(t *testing.T) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for _, name := range []string{"xl/a.xml", "XL/A.xml"} {
		if _, err := w.Create(name); err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// A damaged byte is found by its part's checksum.
func TestDamageIsFound(t *testing.T) {
	t.Parallel()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	for name, text := range parts(everyCell, everyString) {
		p, err := w.CreateHeader(&zip.FileHeader{Name: name, Method: zip.Store})
		if err == nil {
			_, err = io.WriteString(p, text)
		}
		if err != nil {
			t.Fatal(err)
		}
	}
	if err := w.Close(); err != nil {
		t.Fatal(err)
	}
	data := bytes.Replace(b.Bytes(), []byte("4.7E-05"), []byte("4.8E-05"), 1)
	r, err := sheetOf(data, "", Limits{})
	if err == nil {
		_, _, err = drain(r)
	}
	if problem.CodeOf(err) != problem.Malformed || !strings.Contains(err.Error(), "checksum") {
		t.Errorf("%v", err)
	}
}

// The library that writes is asked, as one who knows workbooks of other hands,
// what it reads: the same texts, with shared strings and with inline ones.
func TestSheetAgreesWithTheLibrary(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := excelize.NewFile()
		defer f.Close()
		rows := rapid.SliceOfN(rapid.SliceOfN(anyText(), 1, 4), 1, 4).Draw(t, "rows")
		inline := rapid.Bool().Draw(t, "inline")
		if err := fillSheet(f, rows, inline); err != nil {
			t.Fatal(err)
		}
		var b bytes.Buffer
		if err := f.Write(&b); err != nil {
			t.Fatal(err)
		}
		r, err := sheetOf(b.Bytes(), "", Limits{})
		if err != nil {
			t.Fatal(err)
		}
		other, err := excelize.OpenReader(bytes.NewReader(b.Bytes()))
		if err != nil {
			t.Fatal(err)
		}
		defer other.Close()
		for {
			row, err := r.Next()
			if err == io.EOF {
				return
			}
			if err != nil {
				t.Fatal(err)
			}
			for i, c := range row.Cells {
				want, err := other.GetCellValue("Sheet1", fmt.Sprintf("%s%d", Letter(i), row.Line), excelize.Options{RawCellValue: true})
				if err != nil || c.Text != Unguard(want) {
					t.Fatalf("%s%d is %q, and %q to the library (%v)", Letter(i), row.Line, c.Text, want, err)
				}
			}
		}
	})
}

func fillSheet(f *excelize.File, rows [][]string, inline bool) error {
	stream, err := f.NewStreamWriter("Sheet1")
	for i, row := range rows {
		var values []any
		for j, text := range row {
			values = append(values, text)
			if !inline && err == nil {
				err = f.SetCellStr("Sheet1", fmt.Sprintf("%s%d", Letter(j), i+1), text)
			}
		}
		if inline && err == nil {
			err = stream.SetRow(fmt.Sprintf("A%d", i+1), values)
		}
	}
	if inline && err == nil {
		err = stream.Flush()
	}
	return err
}

// FuzzXLSX gives the reader what begins as an archive does: a workbook whose
// sheet and strings are the fuzzer's, and now and then bytes of its own.
func FuzzXLSX(f *testing.F) {
	whole := zipped(f, parts(everyCell, everyString))
	f.Add(everyCell, everyString, []byte(nil))
	f.Add(sheetWith(`<row r="1"><c r="A1" t="s"><v>0</v></c></row>`), "<sst><si><t>a</t></si></sst>", []byte(nil))
	f.Add(sheetWith(`<row><c t="str"><v>_x0041_</v></c><c/></row>`), "<sst/>", []byte(nil))
	f.Add(`<!DOCTYPE x [<!ENTITY a "b">]><worksheet/>`, "", []byte(nil))
	f.Add("", "", whole)
	f.Add("", "", whole[:len(whole)/2])
	f.Add("", "", binary.LittleEndian.AppendUint64([]byte("PK\x05\x06"), 1<<40))
	f.Fuzz(func(t *testing.T, sheet, shared string, raw []byte) {
		data := raw
		if len(raw) == 0 {
			data = zipped(t, parts(sheet, shared))
		}
		r, err := sheetOf(data, "", Limits{SheetRows: 1000, Columns: 50, Unpacked: 1 << 22})
		if err == nil {
			var rows [][]string
			rows, _, err = drain(r)
			if len(rows) > 1000 {
				t.Fatalf("%d rows", len(rows))
			}
		}
		if err != nil && problem.CodeOf(err) == problem.Internal {
			t.Fatalf("%v", problem.As(err).Cause)
		}
	})
}

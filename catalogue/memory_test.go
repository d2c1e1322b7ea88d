package catalogue_test

import (
	"archive/zip"
	"bufio"
	"bytes"
	"compress/flate"
	"fmt"
	"io"
	"iter"
	"os"
	"os/exec"
	"path/filepath"
	"runtime/debug"
	"strconv"
	"strings"
	"testing"

	"coldrise/catalogue"
	"coldrise/catalogue/table"
	"coldrise/domain/part"
)

// Memory is measured in a process of its own, which this binary is run as: the
// resident set's peak, less what it was before the work began.
const (
	childWork = "COLDRISE_CATALOGUE_CHILD"
	childFile = "COLDRISE_CATALOGUE_FILE"
)

// grown runs one piece of work on a file in a process of its own and gives by
// how many MiB that grew.
func grown(t *testing.T, work, file string) float64 {
	t.Helper()
	if _, err := os.Stat("/proc/self/clear_refs"); err != nil {
		t.Skip("needs /proc to measure memory")
	}
	cmd := exec.CommandContext(t.Context(), os.Args[0], "-test.run=^TestChild$", "-test.v")
	cmd.Env = append(os.Environ(), childWork+"="+work, childFile+"="+file)
	out, err := cmd.CombinedOutput()
	if err != nil {
		t.Fatalf("%s: %v\n%s", work, err, out)
	}
	_, text, found := strings.Cut(string(out), "grew by ")
	text, _, _ = strings.Cut(text, " ")
	mib, err := strconv.ParseFloat(text, 64)
	if !found || err != nil {
		t.Fatalf("%s: %v\n%s", work, err, out)
	}
	t.Logf("%s: grew by %.1f MiB", work, mib)
	return mib
}

// TestChild is the work of a process whose memory is measured, and nothing else.
func TestChild(t *testing.T) {
	work := os.Getenv(childWork)
	if work == "" {
		return
	}
	do := map[string]func(*testing.T, string){"check": childCheck, "refuse": childRefuse, "csv": childExport, "xlsx": childExport}[work]
	debug.FreeOSMemory()
	if err := os.WriteFile("/proc/self/clear_refs", []byte("5"), 0); err != nil {
		t.Fatal(err)
	}
	idle := resident(t, "VmRSS")
	do(t, os.Getenv(childFile))
	fmt.Printf("grew by %.1f MiB\n", float64(resident(t, "VmHWM")-idle)/1024)
}

// resident reads a line of the process's status, in KiB.
func resident(t *testing.T, line string) int {
	data, err := os.ReadFile("/proc/self/status")
	if err != nil {
		t.Fatal(err)
	}
	_, text, _ := strings.Cut(string(data), line+":")
	kib, err := strconv.Atoi(strings.Fields(text)[0])
	if err != nil {
		t.Fatal(err)
	}
	return kib
}

func openFile(t *testing.T, path string) (*os.File, int64) {
	f, err := os.Open(path)
	if err != nil {
		t.Fatal(err)
	}
	info, err := f.Stat()
	if err != nil {
		t.Fatal(err)
	}
	return f, info.Size()
}

// childCheck checks a list and streams its parts.
func childCheck(t *testing.T, path string) {
	src, size := openFile(t, path)
	defer src.Close()
	m, err := catalogue.ParseMap([]byte(priceListMap))
	if err != nil {
		t.Fatal(err)
	}
	f, err := catalogue.Open(t.Context(), src, size, m, catalogue.Options{})
	if err != nil {
		t.Fatal(err)
	}
	report, err := f.Check(t.Context())
	if err != nil || !report.Sound() {
		t.Fatal(err, report.Findings[:min(3, len(report.Findings))])
	}
	n := 0
	for _, err := range f.Parts(t.Context(), false) {
		if err != nil {
			t.Fatal(err)
		}
		n++
	}
	if want, _ := strconv.Atoi(strings.TrimRight(strings.TrimSuffix(filepath.Base(path), filepath.Ext(path)), "abcdefghijklmnopqrstuvwxyz")); n != want {
		t.Fatalf("%d parts of %s", n, path)
	}
}

func childRefuse(t *testing.T, path string) {
	src, size := openFile(t, path)
	defer src.Close()
	m, err := catalogue.ParseMap([]byte(priceListMap))
	if err != nil {
		t.Fatal(err)
	}
	f, err := catalogue.Open(t.Context(), src, size, m, catalogue.Options{})
	if err == nil {
		_, err = f.Check(t.Context())
	}
	if err == nil {
		t.Fatal("the file was taken")
	}
}

// childExport writes as many parts as its file's name says.
func childExport(t *testing.T, path string) {
	rows, err := strconv.Atoi(filepath.Base(path))
	if err != nil {
		t.Fatal(err)
	}
	if err := catalogue.WriteParts(io.Discard, listed(rows), catalogue.Export{Form: table.Form(os.Getenv(childWork))}); err != nil {
		t.Fatal(err)
	}
}

// listed gives parts as the price list has them.
func listed(rows int) iter.Seq2[part.Part, error] {
	return func(yield func(part.Part, error) bool) {
		for i := range rows {
			p := part.Part{Maker: "Sedgemere", PartNumber: fmt.Sprintf("HA-%d", i), Technology: part.Electrolytic, Style: part.Axial, CapacitanceUF: float64(8 + i%93), RatedV: 450,
				RippleMA: ptr(float64(120 + i%700)), DiameterMM: ptr(12.5), LengthMM: ptr(30.0),
				Offers: []part.Offer{{Supplier: "Peatgate Components", SKU: fmt.Sprintf("PG-%06d", i), Currency: "GBP", Pack: 1, MinQty: 1, Stock: i % 400, LeadDays: 2, Breaks: []part.Break{{MinQty: 1, UnitPrice: part.Money(i) * 1000}}}}}
			if !yield(p, nil) {
				return
			}
		}
	}
}

// listBook writes the price list as a workbook, by hand: with its texts shared
// or in the cells.
func listBook(t testing.TB, path string, rows int, shared bool) {
	t.Helper()
	var sheet, texts bytes.Buffer
	count := 0
	lines := bufio.NewScanner(bytes.NewReader(priceList(rows)))
	for line := 1; lines.Scan(); line++ {
		fmt.Fprintf(&sheet, `<row r="%d">`, line)
		for i, text := range strings.Split(lines.Text(), ",") {
			at := table.Letter(i) + strconv.Itoa(line)
			switch _, err := strconv.ParseFloat(text, 64); {
			case err == nil:
				fmt.Fprintf(&sheet, `<c r="%s"><v>%s</v></c>`, at, text)
			case shared:
				fmt.Fprintf(&sheet, `<c r="%s" t="s"><v>%d</v></c>`, at, count)
				fmt.Fprintf(&texts, "<si><t>%s</t></si>", text)
				count++
			default:
				fmt.Fprintf(&sheet, `<c r="%s" t="inlineStr"><is><t>%s</t></is></c>`, at, text)
			}
		}
		fmt.Fprint(&sheet, "</row>")
	}
	write(t, path, handBook(t, sheet.String(), texts.String()))
}

// A workbook of 100 000 rows of 12 columns, in and out, under 150 MB.
func TestWorkbooksKeepMemorySmall(t *testing.T) {
	t.Parallel()
	const rows, most = 100_000, 150e6 / (1 << 20)
	dir := t.TempDir()
	for name, shared := range map[string]bool{"100000shared.xlsx": true, "100000inline.xlsx": false} {
		path := filepath.Join(dir, name)
		listBook(t, path, rows, shared)
		if mib := grown(t, "check", path); mib > most {
			t.Errorf("%s: grew by %.0f MiB", name, mib)
		}
	}
	if mib := grown(t, "xlsx", "/100000"); mib > most {
		t.Errorf("export: grew by %.0f MiB", mib)
	}
}

// Twenty times the rows take no more memory than what tells parts apart.
func TestMemoryIsFlatInTheNumberOfRows(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	grew := map[int]float64{}
	for _, rows := range []int{10_000, 200_000} {
		path := filepath.Join(dir, fmt.Sprintf("%d.csv", rows))
		if err := os.WriteFile(path, priceList(rows), 0o644); err != nil {
			t.Fatal(err)
		}
		grew[rows] = grown(t, "check", path)
	}
	if grew[200_000] > grew[10_000]+24 {
		t.Errorf("10 000 rows grew it by %.1f MiB, 200 000 by %.1f", grew[10_000], grew[200_000])
	}
	if few, many := grown(t, "csv", "/10000"), grown(t, "csv", "/200000"); many > few+8 {
		t.Errorf("export of 10 000 rows grew it by %.1f MiB, of 200 000 by %.1f", few, many)
	}
}

// What is crafted to hurt takes no memory on its way to being refused, and
// leaves no file behind.
func TestHostileFilesTakeNoMemory(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	put := func(name string, data []byte) string {
		path := filepath.Join(dir, name)
		write(t, path, data)
		return path
	}
	var rows, bomb, wide strings.Builder
	for i := range 1_048_576 {
		fmt.Fprintf(&rows, `<row r="%d"><c r="A%d"><v>%d</v></c></row>`, i+1, i+1, i*7919)
	}
	for i := range 2000 {
		fmt.Fprintf(&wide, `<row r="%d"><c r="XFD%d"><v>1</v></c></row>`, i+1, i+1)
	}
	bomb.WriteString(`<row r="1"><c t="inlineStr"><is><t>` + strings.Repeat("0", 300<<20))
	files := map[string][]byte{"rows.xlsx": handBook(t, rows.String(), ""), "bomb.xlsx": handBook(t, bomb.String(), ""), "wide.xlsx": handBook(t, wide.String(), ""),
		"quote.csv": append([]byte("Maker,Part No,Type,Style,Capacitance,Voltage,Ripple,Diameter,Length,Order Code,Stock,Price\n\""), bytes.Repeat([]byte("x\n"), 50<<20)...)}
	for name, data := range files {
		if mib := grown(t, "refuse", put(name, data)); mib > 100 {
			t.Errorf("%s: grew by %.0f MiB", name, mib)
		}
	}
}

// handBook is a workbook of one sheet with these rows and shared texts.
func handBook(t testing.TB, rows, texts string) []byte {
	t.Helper()
	var b bytes.Buffer
	w := zip.NewWriter(&b)
	w.RegisterCompressor(zip.Deflate, func(out io.Writer) (io.WriteCloser, error) { return flate.NewWriter(out, flate.BestSpeed) })
	for _, part := range []struct{ name, text string }{
		{"[Content_Types].xml", "<Types/>"},
		{"_rels/.rels", `<Relationships><Relationship Id="rId1" Type="x/officeDocument" Target="xl/workbook.xml"/></Relationships>`},
		{"xl/workbook.xml", `<workbook><sheets><sheet name="List" sheetId="1" r:id="rId1"/></sheets></workbook>`},
		{"xl/_rels/workbook.xml.rels", `<Relationships><Relationship Id="rId1" Type="x/worksheet" Target="sheet.xml"/><Relationship Id="rId2" Type="x/sharedStrings" Target="strings.xml"/></Relationships>`},
		{"xl/sheet.xml", "<worksheet><sheetData>" + rows + "</sheetData></worksheet>"}, {"xl/strings.xml", "<sst>" + texts + "</sst>"},
	} {
		p, err := w.Create(part.name)
		if err == nil {
			_, err = io.WriteString(p, part.text)
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

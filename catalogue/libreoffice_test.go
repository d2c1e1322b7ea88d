package catalogue_test

import (
	"context"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/go-cmp/cmp"
	"github.com/xuri/excelize/v2"

	"coldrise/catalogue"
	"coldrise/catalogue/table"
	"coldrise/domain/part"
)

// libreOffice converts files, all in one run, and gives what it made of each.
// Locale is that of its user, "de-DE" say; in and to are its filters.
func libreOffice(t *testing.T, files map[string][]byte, locale, in, to string) map[string][]byte {
	t.Helper()
	program, err := exec.LookPath("soffice")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("LibreOffice is missing: apt-get install --no-install-recommends libreoffice-calc-nogui")
		}
		t.Skip("LibreOffice is missing: apt-get install --no-install-recommends libreoffice-calc-nogui")
	}
	dir := t.TempDir()
	settings := `<?xml version="1.0" encoding="UTF-8"?><oor:items xmlns:oor="http://openoffice.org/2001/registry"><item oor:path="/org.openoffice.Setup/L10N"><prop oor:name="ooSetupSystemLocale" oor:op="fuse"><value>` +
		locale + `</value></prop></item></oor:items>`
	write(t, filepath.Join(dir, "profile", "user", "registrymodifications.xcu"), []byte(settings))
	args := []string{"--headless", "--norestore", "-env:UserInstallation=file://" + filepath.Join(dir, "profile"), "--convert-to", to, "--outdir", filepath.Join(dir, "out")}
	if in != "" {
		args = append(args, "--infilter="+in)
	}
	for name, data := range files {
		write(t, filepath.Join(dir, name), data)
		args = append(args, filepath.Join(dir, name))
	}
	ctx, stop := context.WithTimeout(t.Context(), 3*time.Minute)
	defer stop()
	if out, err := exec.CommandContext(ctx, program, args...).CombinedOutput(); err != nil {
		t.Fatalf("soffice: %v\n%s", err, out)
	}
	ending, _, _ := strings.Cut(to, ":")
	made := map[string][]byte{}
	for name := range files {
		data, err := os.ReadFile(filepath.Join(dir, "out", strings.TrimSuffix(name, filepath.Ext(name))+"."+ending))
		if err != nil {
			t.Fatalf("LibreOffice made nothing of %s: %v", name, err)
		}
		made[name] = data
	}
	return made
}

func write(t testing.TB, path string, data []byte) {
	t.Helper()
	err := os.MkdirAll(filepath.Dir(path), 0o755)
	if err == nil {
		err = os.WriteFile(path, data, 0o644)
	}
	if err != nil {
		t.Fatal(err)
	}
}

// asShown saves CSV as the cells are shown: separator, quotation mark, UTF-8.
func asShown(separator rune) string {
	return fmt.Sprintf("csv:Text - txt - csv (StarCalc):%d,34,76,1,,0,false,true", separator)
}

// locales are how the list of localeList is saved by LibreOffice under each.
var locales = []struct {
	name, decimal, grouping string
	separator               rune
}{
	{"en-US", "point", "comma", ','}, {"de-DE", "comma", "point", ';'}, {"fr-FR", "comma", "blank", ';'}, {"de-CH", "point", "apostrophe", ';'},
}

const localeMap = `{"name":"locales","columns":[{"header":"Maker","to":"maker"},{"header":"Part No","to":"part_number"},{"header":"Capacitance (µF)","to":"capacitance_uf","unit":"µF"},
 {"header":"Voltage","to":"rated_v"},{"header":"Ripple (mA)","to":"ripple_ma","unit":"mA"},{"header":"Order Code","to":"sku"},{"header":"Stock","to":"stock"},{"header":"Price","to":"unit_price"}],
 "fixed":{"technology":"electrolytic","style":"axial","supplier":"Peatgate Components","currency":"GBP","pack":"1","min_qty":"1","lead_days":"2"}}`

// localeList is a workbook whose numbers are shown with their thousands parted
// off and a fixed number of decimals, as shops' lists are.
func localeList(t *testing.T) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	style := func(number int) int {
		id, err := f.NewStyle(&excelize.Style{NumFmt: number})
		if err != nil {
			t.Fatal(err)
		}
		return id
	}
	parted, cents := style(3), style(4) // #,##0 and #,##0.00
	rows := [][]any{{"Maker", "Part No", "Capacitance (µF)", "Voltage", "Ripple (mA)", "Order Code", "Stock", "Price"},
		{"Sedgemere", "HA-1", 0.047, 630, 1234.5, "PG-1", 12345, 4.63}, {"Sedgemere", "HA;2", 22.5, 450, 240, "PG,2", 0, 1234.56}, {"Sedgemere", `HA "3"`, 1500, 63, 2500, "007", 1234567, 0.5}}
	for i, row := range rows {
		if err := f.SetSheetRow("Sheet1", fmt.Sprintf("A%d", i+1), &row); err != nil {
			t.Fatal(err)
		}
	}
	for _, s := range []struct {
		from, to string
		id       int
	}{{"G2", "G4", parted}, {"E2", "E4", cents}, {"H2", "H4", cents}} {
		if err := f.SetCellStyle("Sheet1", s.from, s.to, s.id); err != nil {
			t.Fatal(err)
		}
	}
	b, err := f.WriteToBuffer()
	if err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

// One catalogue, saved by LibreOffice as CSV under four locales and as its own
// workbook, gives the same parts: decimal signs, thousands parted off by a
// comma, a point, a no-break space and an apostrophe.
func TestLibreOfficeSavesOneCatalogueInFourLocales(t *testing.T) {
	t.Parallel()
	source := localeList(t)
	want := read(t, source, mapOf(t, localeMap, nil), catalogue.Options{})
	if len(want) != 3 || want[2].Offers[0].Stock != 1234567 || want[1].Offers[0].Breaks[0].UnitPrice != 1_234_560_000 {
		t.Fatalf("the source reads %+v", want)
	}
	for _, l := range locales {
		t.Run(l.name, func(t *testing.T) {
			t.Parallel()
			data := libreOffice(t, map[string][]byte{"list.xlsx": source}, l.name, "", asShown(l.separator))["list.xlsx"]
			m := mapOf(t, localeMap, changes("decimal", l.decimal, "grouping", l.grouping))
			if diff := cmp.Diff(want, read(t, data, m, catalogue.Options{})); diff != "" {
				t.Errorf("%s\n%s", data, diff)
			}
			// Undeclared, nothing is guessed: the rows whose numbers leave a doubt are errors.
			if report := check(t, string(data), mapOf(t, localeMap, nil), catalogue.Options{}); report.Sound() {
				t.Errorf("%s: an undeclared locale was taken:\n%s", l.name, data)
			}
		})
	}
	t.Run("its own workbook", func(t *testing.T) {
		t.Parallel()
		data := libreOffice(t, map[string][]byte{"list.xlsx": source}, "de-DE", "", "xlsx:Calc MS Excel 2007 XML")["list.xlsx"]
		if diff := cmp.Diff(want, read(t, data, mapOf(t, localeMap, nil), catalogue.Options{})); diff != "" {
			t.Error(diff)
		}
	})
}

// payloads are texts that open a formula, or another cell with one. OWASP, CSV
// Injection, and ASVS 1.2.10.
var payloads = []string{"=1+2", "+1+2", "-1+2", "@SUM(1+2)", "\t=1+2", "\r=1+2", "\n=1+2", "=cmd|' /C calc'!A0", "=HYPERLINK(\"http://example.invalid\")", "a,=1+2", "a;=1+2", "\"=1+2", "a\",\"=1+2",
	"a\r\n=1+2", "＝1+2", "'=1+2", "x\t=1+2"}

var formula = regexp.MustCompile(`table:formula="([^"]*)"`)

// No text of the catalogue becomes a formula in LibreOffice, by whatever
// separator it opens the file; and what it saves again reads as before.
func TestNoTextBecomesAFormula(t *testing.T) {
	t.Parallel()
	var parts []part.Part
	for i, p := range payloads {
		parts = append(parts, part.Part{Maker: "Sedgemere", PartNumber: fmt.Sprintf("%s %d", p, i), Technology: part.Electrolytic, Style: part.Axial, CapacitanceUF: 22, RatedV: 450, Note: p,
			Ratings: part.Ratings{MinC: ptr(-40.0)}})
	}
	csvs, books := map[string][]byte{"bare.csv": []byte("a\r\n=1+2\r\n\"=1+2\"\r\n")}, map[string][]byte{}
	for i, way := range ways {
		if way.e.Form == table.XLSX {
			books["parts.xlsx"] = exported(t, parts, way.e)
		} else {
			csvs[fmt.Sprintf("parts%d.csv", i)] = exported(t, parts, way.e)
		}
	}
	opened := func(name string, files map[string][]byte, in string) {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			for file, seen := range libreOffice(t, files, "en-US", in, "fods:OpenDocument Spreadsheet Flat XML") {
				found := formula.FindAllSubmatch(seen, -1)
				switch {
				case file == "bare.csv" && len(found) != 2:
					t.Error("LibreOffice found no formula in a file that has two: it is no oracle")
				case file != "bare.csv" && len(found) > 0:
					t.Errorf("%s: %d formulas, the first %s", file, len(found), found[0][1])
				}
			}
		})
	}
	opened("a workbook", books, "")
	for name, separator := range map[string]rune{"comma": ',', "semicolon": ';', "tab": '\t'} {
		opened("CSV opened by "+name, csvs, fmt.Sprintf("Text - txt - csv (StarCalc):%d,34,76,1", separator))
	}
}

// An export that LibreOffice opened and saved as a workbook of its own, with
// shared strings, is still the same catalogue.
func TestLibreOfficeSavesAnExportAgain(t *testing.T) {
	t.Parallel()
	series, parts, err := catalogue.Starter()
	if err != nil {
		t.Fatal(err)
	}
	book := map[string][]byte{"parts.xlsx": exported(t, parts, catalogue.Export{Form: table.XLSX, Series: series})}
	saved := libreOffice(t, book, "de-DE", "", "xlsx:Calc MS Excel 2007 XML")["parts.xlsx"]
	if diff := cmp.Diff(parts, read(t, saved, catalogue.OwnMap(table.Flavour{}), catalogue.Options{Series: among(series)})); diff != "" {
		t.Error(diff)
	}
}

// The same as LibreOffice 7.4 saved it once, for machines without it: see
// testdata/README.md.
func TestSavedFixturesGiveOneCatalogue(t *testing.T) {
	t.Parallel()
	fixture := func(name string) []byte {
		data, err := os.ReadFile(filepath.Join("..", "testdata", "imports", name))
		if err != nil {
			t.Fatal(err)
		}
		return data
	}
	want := read(t, localeList(t), mapOf(t, localeMap, nil), catalogue.Options{})
	for _, name := range []string{"list.xlsx", "list.libreoffice.xlsx"} {
		if diff := cmp.Diff(want, read(t, fixture(name), mapOf(t, localeMap, nil), catalogue.Options{Name: name})); diff != "" {
			t.Errorf("%s\n%s", name, diff)
		}
	}
	for _, l := range locales {
		name := "list." + l.name + ".csv"
		m := mapOf(t, localeMap, changes("decimal", l.decimal, "grouping", l.grouping))
		if diff := cmp.Diff(want, read(t, fixture(name), m, catalogue.Options{Name: name})); diff != "" {
			t.Errorf("%s\n%s", name, diff)
		}
	}
}

package ordersheet_test

import (
	"context"
	"fmt"
	"math"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"
	"time"

	"coldrise/api/ordersheet"
)

// opened is a workbook as LibreOffice has it after opening and recalculating:
// by "Sheet!A1" the value, whether it is text, and whether it is a formula.
type opened map[string]seen

type seen struct {
	text      string
	isText    bool
	isFormula bool
}

func (o opened) number(t *testing.T, at string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(o[at].text, 64)
	if err != nil || o[at].isText {
		t.Errorf("%s shows %q, no number", at, o[at].text)
	}
	return v
}

func soffice(t *testing.T) string {
	t.Helper()
	program, err := exec.LookPath("soffice")
	if err != nil {
		if os.Getenv("CI") == "true" {
			t.Fatal("CI must have LibreOffice: apt-get install libreoffice-calc-nogui")
		}
		t.Skip("needs LibreOffice: apt-get install --no-install-recommends libreoffice-calc-nogui")
	}
	return program
}

// libreOffice opens workbooks, all in one run, and gives what it shows once it
// has worked out what had no result. It is left at its own settings, under
// which it trusts the results it finds: a stale one would be seen.
func libreOffice(t *testing.T, files map[string][]byte) map[string]opened {
	t.Helper()
	program := soffice(t)
	dir := t.TempDir()
	args := []string{"--headless", "--norestore", "-env:UserInstallation=file://" + filepath.Join(dir, "profile"), "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", filepath.Join(dir, "out")}
	for name, data := range files {
		in := filepath.Join(dir, name)
		if err := os.WriteFile(in, data, 0o644); err != nil {
			t.Fatal(err)
		}
		args = append(args, in)
	}
	ctx, cancel := context.WithTimeout(t.Context(), 3*time.Minute)
	defer cancel()
	if out, err := exec.CommandContext(ctx, program, args...).CombinedOutput(); err != nil {
		t.Fatalf("soffice: %v\n%s", err, out)
	}
	all := map[string]opened{}
	for name := range files {
		data, err := os.ReadFile(filepath.Join(dir, "out", strings.TrimSuffix(name, filepath.Ext(name))+".xlsx"))
		if err != nil {
			t.Fatalf("LibreOffice did not open %s: %v", name, err)
		}
		all[name] = read(t, data)
	}
	return all
}

// read reads every cell of a workbook.
func read(t *testing.T, data []byte) opened {
	t.Helper()
	all, _ := unzip(t, data)
	var words []string
	if p, ok := all["xl/sharedStrings.xml"]; ok {
		for _, si := range parse(t, p.data).Kids {
			words = append(words, wordsOf(si))
		}
	}
	cells := opened{}
	for _, s := range parse(t, all["xl/workbook.xml"].data).kid("sheets").Kids {
		name := s.attr("name")
		for _, r := range parse(t, all[sheetPart(t, all, name)].data).kid("sheetData").Kids {
			for _, c := range r.Kids {
				v := seen{isFormula: c.kid("f") != nil}
				if k := c.kid("v"); k != nil {
					v.text = k.Text
				}
				switch c.attr("t") {
				case "s":
					i, err := strconv.Atoi(v.text)
					if err != nil || i >= len(words) {
						t.Fatalf("%s!%s names string %s of %d", name, c.attr("r"), v.text, len(words))
					}
					v.text, v.isText = words[i], true
				case "inlineStr":
					v.text, v.isText = wordsOf(c.kid("is")), true
				case "str", "e":
					v.isText = true
				}
				cells[name+"!"+c.attr("r")] = v
			}
		}
	}
	return cells
}

func wordsOf(n *node) string {
	text := ""
	for _, k := range n.Kids {
		switch k.XMLName.Local {
		case "t":
			text += k.Text
		case "r":
			text += wordsOf(k)
		}
	}
	return text
}

// Every workbook, filled with fifteen lines whose words a spreadsheet might
// run, is opened by LibreOffice: sums are right, each new line's own formula
// gives its total, and the words are words. So are the sums of forty sheets
// laid out at random.
func TestLibreOfficeFindsTheSumsRightAndNoPayloadRun(t *testing.T) {
	t.Parallel()
	o := payloadOrder()
	files := map[string][]byte{}
	for _, w := range workbooks {
		data, m := workbook(t, w.file)
		files[w.file] = fill(t, data, m, o).Data
	}
	layouts, reports := make([]layout, 40), make([]ordersheet.Report, 40)
	for i := range layouts {
		layouts[i] = newLayout(t, uint64(i))
		filled := layouts[i].fill(t)
		files[fmt.Sprintf("layout-%d.xlsx", i)], reports[i] = filled.Data, filled.Report
	}
	all := libreOffice(t, files)
	for i, l := range layouts {
		l.check(t, uint64(i), reports[i], all[fmt.Sprintf("layout-%d.xlsx", i)])
	}
	total, pieces := sums(o)
	for _, w := range workbooks {
		t.Run(w.file, func(t *testing.T) {
			cells := all[w.file]
			for at, want := range w.want(o, total, pieces) {
				if got := cells.number(t, at); math.Abs(got-want) > 1e-6 {
					t.Errorf("%s shows %v, want %v", at, got, want)
				}
			}
			for i, l := range o.Lines {
				row := w.first + i
				want := lineTotal(o, i)
				if w.file == "bestellung-de.xlsx" {
					want = cents(want) // its lines round
				}
				if got := cells.number(t, fmt.Sprintf("%s!%s%d", w.sheet, w.total, row)); math.Abs(got-want) > 1e-6 {
					t.Errorf("line %d totals %v, want %v", i+1, got, want)
				}
				for col, want := range map[string]string{w.text: l.Text, w.sku: l.SKU} {
					got := cells[fmt.Sprintf("%s!%s%d", w.sheet, col, row)]
					if got.isFormula || !got.isText || tidy(got.text) != tidy(want) {
						t.Errorf("line %d, column %s shows %+v, want the text %q", i+1, col, got, want)
					}
				}
			}
			for at, c := range cells {
				if c.isText && strings.HasPrefix(c.text, "#") {
					t.Errorf("%s shows %s", at, c.text)
				}
			}
		})
	}
}

// tidy lets LibreOffice have its way with line breaks.
func tidy(s string) string {
	return strings.TrimSpace(strings.NewReplacer("\r", "\n", "_x000D_", "\n", "_x000d_", "\n").Replace(s))
}

package catalogue_test

import (
	"bytes"
	"os"
	"strings"
	"testing"

	"github.com/xuri/excelize/v2"
	"golang.org/x/text/encoding/charmap"
)

// day is a number that a cell shows as a day.
type day float64

// workbook makes a workbook of the list's header and rows, by the library.
func workbook(t testing.TB, rows ...[]any) []byte {
	t.Helper()
	f := excelize.NewFile()
	defer f.Close()
	date, err := f.NewStyle(&excelize.Style{NumFmt: 14})
	if err != nil {
		t.Fatal(err)
	}
	percent, err := f.NewStyle(&excelize.Style{NumFmt: 9})
	if err != nil {
		t.Fatal(err)
	}
	var header []any
	for _, h := range strings.Split(strings.Split(list, "\n")[0], ",") {
		header = append(header, h)
	}
	for i, row := range append([][]any{header}, rows...) {
		for j, v := range row {
			cell, err := excelize.CoordinatesToCellName(j+1, i+1)
			if err != nil {
				t.Fatal(err)
			}
			style := 0
			switch n := v.(type) {
			case day:
				v, style = float64(n), date
			case float64:
				if n == 0.2 {
					style = percent
				}
			}
			if err := f.SetCellValue("Sheet1", cell, v); err != nil {
				t.Fatal(err)
			}
			if style > 0 {
				err = f.SetCellStyle("Sheet1", cell, cell, style)
			}
			if err != nil {
				t.Fatal(err)
			}
		}
	}
	var b bytes.Buffer
	if err := f.Write(&b); err != nil {
		t.Fatal(err)
	}
	return b.Bytes()
}

func windows1252(t testing.TB, s string) []byte {
	t.Helper()
	b, err := charmap.Windows1252.NewEncoder().Bytes([]byte(s))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

func entries(t testing.TB, dir string) []string {
	t.Helper()
	all, err := os.ReadDir(dir)
	if err != nil {
		t.Fatal(err)
	}
	var names []string
	for _, e := range all {
		names = append(names, e.Name())
	}
	return names
}

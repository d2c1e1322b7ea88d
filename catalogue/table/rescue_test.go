package table

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"coldrise/domain/problem"
)

// A parser that panics over a crafted file refuses it, and no more.
func TestAPanicIsARefusal(t *testing.T) {
	t.Parallel()
	read := func() (err error) {
		defer rescue(&err)
		var cells []Cell
		_ = cells[len(os.Args)+7]
		return nil
	}
	if err := read(); problem.CodeOf(err) != problem.Malformed || strings.Contains(err.Error(), "index") {
		t.Errorf("%v", err)
	}
}

// Nothing that is written to a workbook can be a formula: no code here makes one.
func TestNoCodeWritesFormulas(t *testing.T) {
	t.Parallel()
	files, err := filepath.Glob("../*.go")
	here, err2 := filepath.Glob("*.go")
	if err != nil || err2 != nil || len(here) < 5 || len(files) < 5 {
		t.Fatal(err, err2, len(files), len(here))
	}
	writers := 0
	for _, name := range append(files, here...) {
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		if strings.HasSuffix(name, "_test.go") || !strings.Contains(string(text), "xuri/excelize") {
			continue
		}
		writers++
		if strings.Contains(string(text), "Formula") || strings.Contains(string(text), "RichText") {
			t.Errorf("%s uses the library's formulas or its runs of text", name)
		}
	}
	if writers != 1 {
		t.Errorf("%d files use the library, and one is to", writers)
	}
}

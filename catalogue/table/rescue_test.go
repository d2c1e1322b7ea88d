package table

import (
	"go/parser"
	"go/token"
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
	for _, name := range append(files, here...) {
		if strings.HasSuffix(name, "_test.go") {
			continue
		}
		file, err := parser.ParseFile(token.NewFileSet(), name, nil, 0)
		if err != nil {
			t.Fatal(err)
		}
		text, err := os.ReadFile(name)
		if err != nil {
			t.Fatal(err)
		}
		for _, makes := range []string{"SetCellFormula", "excelize.Cell{Formula", ", Formula:", "SetCellRichText"} {
			if strings.Contains(string(text), makes) {
				t.Errorf("%s, package %s: %s", name, file.Name, makes)
			}
		}
	}
}

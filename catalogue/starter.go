// Package catalogue brings parts into a shop, and takes them out.
//
// A supplier's file, CSV or XLSX, is read under a Map: which column holds what,
// in what unit, how numbers are written. Propose drafts one for a file nobody
// has seen. Open binds a map to a file; Check reads it through and reports
// every finding; Parts then streams the parts that are sound, for a store to
// take all of or none; WriteBad hands the bad rows back. Nothing is guessed,
// nothing of a file is calculated or followed, and memory does not grow with
// its rows but for what tells parts apart (some 40 bytes each).
//
// WriteParts and WriteSeries write the catalogue so that OwnMap and ReadSeries
// read it back the same; WriteFlat is for spreadsheets to reckon with.
//
// Limits, unless Options say otherwise: CSV 256 MiB and 2 000 000 rows, a
// workbook 64 MiB, 256 MiB unpacked and 250 000 rows, 200 columns, 32 767
// characters a cell, 1 MiB a row, 1000 rows a part. Errors are *problem.Error;
// what is wrong with rows is a Finding.
//
// The starter catalogue is here too: invented makers, suppliers, part numbers
// and prices, for a shop that has none of its own yet. Its ratings are modelled
// on published tables, so that plans made from it look like plans; nothing in
// it can be bought.
package catalogue

import (
	"embed"
	"path"
	"strconv"

	"coldrise/domain/document"
	"coldrise/domain/part"
	"coldrise/domain/problem"
)

//go:embed starter/*.json
var starterFiles embed.FS

// book is one file of the starter catalogue: a series and its parts.
type book struct {
	Series part.Series `json:"series"`
	Parts  []part.Part `json:"parts" minItems:"1" maxItems:"500"`
}

// Starter gives the starter catalogue, series in order of their files' names
// and parts in order within. The caller owns what it gets. An error means that
// the data built into this program is at fault; it names the file and every fault.
func Starter() ([]part.Series, []part.Part, error) {
	files, err := starterFiles.ReadDir("starter")
	if err != nil {
		return nil, nil, problem.Wrap(err, "list the starter catalogue")
	}
	var series []part.Series
	var parts []part.Part
	for _, f := range files {
		data, err := starterFiles.ReadFile(path.Join("starter", f.Name()))
		if err != nil {
			return nil, nil, problem.Wrap(err, "read the starter catalogue's "+f.Name())
		}
		b, err := parseBook(data, "starter file "+f.Name())
		if err != nil {
			return nil, nil, err
		}
		series = append(series, b.Series)
		parts = append(parts, b.Parts...)
	}
	return series, parts, nil
}

// parseBook reads one file strictly: its members, the series, and each part
// against the series. What names it in the error, which is a *problem.Error
// with all faults.
func parseBook(data []byte, what string) (book, error) {
	var b book
	err := document.Decode(data, &b, what, func(l *problem.List) {
		under(l, "/series", b.Series.Check)
		for i := range b.Parts {
			under(l, "/parts/"+strconv.Itoa(i), func(l *problem.List) { b.Parts[i].Check(l, &b.Series) })
		}
	})
	return b, err
}

// under runs a check of an inner document and takes its faults at a pointer of
// the outer one.
func under(l *problem.List, at string, check func(*problem.List)) {
	var inner problem.List
	check(&inner)
	if inner.Len() == 0 {
		return
	}
	for _, f := range problem.As(inner.Err("")).Faults {
		f.Pointer = at + f.Pointer
		l.Add(f)
	}
}

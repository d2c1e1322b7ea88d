package ordersheet

import (
	"fmt"

	"coldrise/api/ordersheet/formula"
)

// Report says what a fill did, and what it left that may matter.
type Report struct {
	Sheet    string      `json:"sheet" doc:"Sheet that took the lines"`
	Range    string      `json:"range" doc:"Cells the lines stand in"`
	Lines    []LineCells `json:"lines" doc:"Where each line stands"`
	Inserted *Inserted   `json:"inserted,omitempty" doc:"Rows that came in and pushed others down"`
	Carried  []string    `json:"carried,omitempty" doc:"Columns whose formula was carried on"`
	Extended []Note      `json:"extended,omitempty" doc:"What grew to cover the new rows, or moved with what it belongs to"`
	Cleared  []Cleared   `json:"cleared,omitempty" doc:"Cached results taken out, to be worked out when the workbook is opened"`
	Left     []Note      `json:"left,omitempty" doc:"What was left as it was and may matter"`
}

// LineCells is where one line of the order stands.
type LineCells struct {
	Line  int    `json:"line"`
	Cells string `json:"cells"`
}

// Inserted is rows that came in.
type Inserted struct {
	BeforeRow int `json:"before_row" doc:"Row that stood there and was pushed down, by its number of before"`
	Rows      int `json:"rows"`
}

// Note is something said of a place in the workbook.
type Note struct {
	Where string `json:"where"`
	Text  string `json:"text"`
}

// Cleared counts the cached results taken out of a sheet.
type Cleared struct {
	Sheet string `json:"sheet"`
	Cells int    `json:"cells"`
}

// maxNotes bounds each list of a report.
const maxNotes = 200

func (r *Report) extend(where, format string, args ...any) {
	add(&r.Extended, where, fmt.Sprintf(format, args...))
}

func (r *Report) leave(where, text string) { add(&r.Left, where, text) }

func add(list *[]Note, where, text string) {
	switch n := len(*list); {
	case n < maxNotes:
		*list = append(*list, Note{where, text})
	case n == maxNotes:
		*list = append(*list, Note{Text: "further notes are not listed"})
	}
}

// newReport says where the lines of a fill stand.
func (f *fill) newReport() *Report {
	rows := f.place.rows
	r := &Report{Sheet: f.s.name, Range: f.block(rows[0], rows[len(rows)-1]).String(), Lines: make([]LineCells, len(rows))}
	for i, n := range rows {
		r.Lines[i] = LineCells{i + 1, f.block(n, n).String()}
	}
	if c := f.place.change; c.count > 0 {
		r.Inserted = &Inserted{c.at, c.count}
		r.extend(f.s.name, "rows from %d on moved down by %d", c.at, c.count)
	}
	return r
}

// columnsCarried lists the columns of formulas carried on.
func (f *fill) columnsCarried() []string {
	var list []string
	for col := f.left; col <= f.right; col++ {
		if _, ok := f.carry[col]; ok {
			list = append(list, formula.ColumnName(col))
		}
	}
	return list
}

package catalogue

import (
	"fmt"
	"strings"
	"unicode/utf8"
)

// Code is a kind of Finding. The set is closed.
type Code string

// The codes of errors: a part with one of these is not imported.
const (
	CodeEncoding      Code = "encoding"       // bytes that are no text in the file's encoding
	CodeQuoting       Code = "quoting"        // quotation marks that do not pair
	CodeColumns       Code = "columns"        // more cells than the header has
	CodeRequired      Code = "required"       // nothing where something must be
	CodeValue         Code = "value"          // cannot be read, or may mean two things
	CodeRange         Code = "range"          // read, and beyond what is believed
	CodeChoice        Code = "choice"         // a word of no closed set
	CodeDate          Code = "date"           // a spreadsheet took a text for a date
	CodeContradiction Code = "contradiction"  // figures that contradict each other, or the series
	CodeSeries        Code = "unknown_series" // a series the shop does not have
	CodeDuplicate     Code = "duplicate"      // a part the file has already
)

// The codes of warnings: what the shop should know, and what stops nothing.
const (
	CodeUnknownColumn Code = "unknown_column" // a column that no part of the map takes
	CodeAbsentColumn  Code = "absent_column"  // an optional column the file lacks
	CodeFormula       Code = "formula"        // the value a formula gave when the file was saved
	CodeNumberAsText  Code = "number_as_text" // a text that the spreadsheet holds as a number
	CodeHiddenRow     Code = "hidden_row"     // a row that is hidden, and was read
)

// Severity says whether a finding stops a row.
type Severity string

// The severities.
const (
	IsError   Severity = "error"
	IsWarning Severity = "warning"
)

// Finding is one thing to know about a file, and where it stands in it.
type Finding struct {
	Severity Severity `json:"severity" enum:"error,warning"`
	Code     Code     `json:"code" doc:"Kind of finding, one of a closed set"`
	Sheet    string   `json:"sheet,omitempty" doc:"Sheet of a workbook"`
	Line     int      `json:"line,omitempty" doc:"Line of the file or row of the sheet, from 1; 0 where it is the whole file's"`
	Column   string   `json:"column,omitempty" doc:"Letter of the column"`
	Header   string   `json:"header,omitempty" doc:"Header of the column"`
	Member   string   `json:"member,omitempty" doc:"Member of a part it was meant for"`
	Raw      string   `json:"raw,omitempty" doc:"What stood there, shortened"`
	Message  string   `json:"message" doc:"What is wrong and what was expected"`
	// Count is how often a warning holds in its column; Line is the first.
	Count int `json:"count,omitempty" doc:"How often a warning holds; line is the first"`
}

// String gives a finding on one line: where, what, what stood there.
func (f Finding) String() string {
	var b strings.Builder
	if f.Sheet != "" {
		fmt.Fprintf(&b, "%s, ", f.Sheet)
	}
	if f.Line > 0 {
		fmt.Fprintf(&b, "line %d", f.Line)
	} else {
		b.WriteString("file")
	}
	if f.Column != "" {
		fmt.Fprintf(&b, ", column %s", f.Column)
	}
	if f.Header != "" {
		fmt.Fprintf(&b, " (%s)", f.Header)
	}
	fmt.Fprintf(&b, ": %s", f.Message)
	if f.Raw != "" {
		fmt.Fprintf(&b, "; got %q", f.Raw)
	}
	if f.Count > 1 {
		fmt.Fprintf(&b, " (%d times)", f.Count)
	}
	return b.String()
}

// maxRaw is how much of a cell a finding shows, in characters.
const maxRaw = 80

func shortRaw(s string) string {
	s = strings.ToValidUTF8(s, "\ufffd")
	if utf8.RuneCountInString(s) <= maxRaw {
		return s
	}
	return string([]rune(s)[:maxRaw-1]) + "…"
}

// Report is what a reading of a whole file found.
type Report struct {
	Form      string `json:"form" enum:"csv,xlsx"`
	Encoding  string `json:"encoding,omitempty"`
	Separator string `json:"separator,omitempty" doc:"comma, semicolon, tab or bar"`
	Sheet     string `json:"sheet,omitempty"`
	SHA256    string `json:"sha256" doc:"Of the file, hexadecimal"`
	Bytes     int64  `json:"bytes"`

	Rows     int `json:"rows" doc:"Rows with data that were read"`
	Skipped  int `json:"skipped" doc:"Rows the map leaves out"`
	Parts    int `json:"parts" doc:"Parts without an error"`
	BadParts int `json:"bad_parts" doc:"Parts with an error"`
	BadRows  int `json:"bad_rows" doc:"Rows of parts with an error, and rows that are no part's"`

	Errors   int       `json:"errors" doc:"All errors, listed or not"`
	Warnings int       `json:"warnings" doc:"All warnings, listed or not"`
	Findings []Finding `json:"findings" doc:"In the order of the file; at most as many errors as were asked for"`
	// Unlisted is how many errors are not in Findings.
	Unlisted int `json:"unlisted,omitempty"`
	// Tallies count all errors by column and code: one cause is often a whole
	// column's, such as a decimal sign that nobody declared.
	Tallies []Tally `json:"tallies" doc:"All errors by column and code, in the order of their first"`
}

// Tally counts the errors of one code in one column.
type Tally struct {
	Code   Code   `json:"code"`
	Column string `json:"column,omitempty" doc:"Letter of the column"`
	Header string `json:"header,omitempty"`
	Line   int    `json:"line" doc:"Line of the first"`
	Count  int    `json:"count"`
}

// Sound says whether the file has no error.
func (r *Report) Sound() bool { return r.Errors == 0 }

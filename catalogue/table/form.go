package table

import (
	"bytes"
	"errors"
	"fmt"
	"io"
	"path"
	"strings"
	"unicode/utf16"
	"unicode/utf8"

	"coldrise/domain/problem"
)

// Form is what a file is.
type Form string

// The forms that can be read.
const (
	CSV  Form = "csv"
	XLSX Form = "xlsx"
)

// head is how much of a file tells its form.
const head = 4096

// Detect tells a file's form by its content, and refuses one whose name says
// another. Name may be "" or without an ending. The error is a *problem.Error:
// unsupported for what is neither form, malformed for an empty file or a name
// that is wrong, too_large.
func Detect(src io.ReaderAt, size int64, name string, l Limits) (Form, error) {
	l = l.WithDefaults()
	if size == 0 {
		return "", problem.New(problem.Malformed, "the file is empty")
	}
	start := make([]byte, min(head, size))
	if n, err := src.ReadAt(start, 0); err != nil && !errors.Is(err, io.EOF) || n < len(start) {
		return "", problem.Wrap(err, "read the start of a file")
	}
	form, err := formOf(start)
	if err != nil {
		return "", err
	}
	if err := named(name, form); err != nil {
		return "", err
	}
	most := l.CSVBytes
	if form == XLSX {
		most = l.WorkbookBytes
	}
	if size > most {
		return "", problem.New(problem.TooLarge, "the file has %d bytes; a file of the form %s may have %s", size, form, bytesText(most))
	}
	return form, nil
}

// signatures are how files begin that people take for a table.
var signatures = []struct{ begins, what string }{
	{"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1", "a workbook of the old form .xls, or one with a password; save it as .xlsx without a password, or as CSV"},
	{"%PDF-", "a PDF; ask the supplier for a workbook or a CSV file"},
	{"\x1f\x8b", "packed with gzip; unpack it first"},
	{"7z\xbc\xaf\x27\x1c", "packed with 7z; unpack it first"},
	{"Rar!", "packed with RAR; unpack it first"},
	{"\x89PNG", "a picture"},
	{"\xff\xd8\xff", "a picture"},
	{"{\\rtf", "a text document (RTF); save the table in it as CSV"},
}

// marked are texts that begin as other documents do, in small letters.
var marked = []struct{ begins, what string }{
	{"<!doctype html", "a web page"}, {"<html", "a web page"}, {"<table", "a web page"}, {"<?xml", "an XML document"}, {"<?mso", "an XML document"},
}

func formOf(start []byte) (Form, error) {
	for _, s := range signatures {
		if bytes.HasPrefix(start, []byte(s.begins)) {
			return "", problem.New(problem.Unsupported, "the file is no CSV and no XLSX: it is %s", s.what)
		}
	}
	if bytes.HasPrefix(start, []byte("PK\x03\x04")) || bytes.HasPrefix(start, []byte("PK\x05\x06")) {
		return XLSX, nil
	}
	text := strings.ToLower(strings.TrimSpace(string(bytes.TrimPrefix(start, utf8BOM))))
	for _, s := range marked {
		if strings.HasPrefix(text, s.begins) {
			return "", problem.New(problem.Unsupported, "the file is no CSV and no XLSX: it is %s, whatever it is called; open it in a spreadsheet and save it as .xlsx or CSV", s.what)
		}
	}
	if notText(start) {
		return "", problem.New(problem.Unsupported, "the file is no CSV and no XLSX: it holds bytes that no text has")
	}
	return CSV, nil
}

// notText says whether start can be no text: it has NULs that UTF-16 does not explain.
func notText(start []byte) bool {
	if bytes.IndexByte(start, 0) < 0 || bytes.HasPrefix(start, utf16LE) || bytes.HasPrefix(start, utf16BE) {
		return false
	}
	for _, order := range []int{0, 1} {
		units := make([]uint16, len(start)/2)
		for i := range units {
			units[i] = uint16(start[2*i+order]) | uint16(start[2*i+1-order])<<8
		}
		if plain(string(utf16.Decode(units))) {
			return false
		}
	}
	return true
}

// plain says whether nearly all of s is what tables are written with.
func plain(s string) bool {
	odd := 0
	for _, c := range s {
		if c == utf8.RuneError || c < ' ' && !strings.ContainsRune("\t\r\n", c) || c >= 0x2000 && c < 0xfb00 && c != '€' && c != '™' && c != '−' {
			odd++
		}
	}
	return 20*odd < utf8.RuneCountInString(s)
}

// named refuses a name whose ending says another form than the content is.
func named(name string, form Form) error {
	ending := strings.ToLower(path.Ext(strings.ReplaceAll(name, "\\", "/")))
	says := map[string]Form{".csv": CSV, ".tsv": CSV, ".txt": CSV, ".xlsx": XLSX, ".xlsm": XLSX}[ending]
	switch {
	case says == "" || says == form:
		return nil
	case form == XLSX:
		return problem.New(problem.Malformed, "the file is called %s, but begins as a ZIP archive does, which a workbook is; if it is one, call it .xlsx, else unpack it", fmt.Sprintf("%q", short(path.Base(name))))
	}
	return problem.New(problem.Malformed, "the file is called %s, but is no workbook: it holds plain text; if that is a table, call it .csv", fmt.Sprintf("%q", short(path.Base(name))))
}

// short cuts a text for a message.
func short(s string) string {
	if r := []rune(s); len(r) > 60 {
		return string(r[:59]) + "…"
	}
	return s
}

func cancelled(err error) error {
	return &problem.Error{Code: problem.Cancelled, Message: "reading the file was stopped", Cause: err}
}

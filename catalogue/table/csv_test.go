package table

import (
	"bytes"
	"context"
	"io"
	"strings"
	"testing"
	"unicode/utf16"

	"github.com/google/go-cmp/cmp"
	"golang.org/x/text/encoding/charmap"
	"pgregory.net/rapid"

	"coldrise/domain/problem"
)

// texts of all rows, and "line: column trouble" of all faults.
func readCSV(t testing.TB, data []byte, o CSVOptions) (rows [][]string, faults []string, err error) {
	t.Helper()
	r, err := NewCSV(t.Context(), bytes.NewReader(data), int64(len(data)), o)
	if err != nil {
		return nil, nil, err
	}
	return drain(r)
}

func drain(r Reader) (rows [][]string, faults []string, err error) {
	for {
		row, err := r.Next()
		if err == io.EOF {
			return rows, faults, r.Close()
		}
		if err != nil {
			return rows, faults, err
		}
		texts := []string{}
		for _, c := range row.Cells {
			texts = append(texts, c.Text)
		}
		rows = append(rows, texts)
		for _, f := range row.Faults {
			faults = append(faults, strings.Join([]string{FormatNumber(float64(row.Line)), Letter(f.Column), string(f.Trouble)}, " "))
		}
	}
}

func utf16Text(s string, mark []byte, high, low int) []byte {
	out := bytes.Clone(mark)
	for _, u := range utf16.Encode([]rune(s)) {
		b := [2]byte{}
		b[high], b[low] = byte(u>>8), byte(u)
		out = append(out, b[:]...)
	}
	return out
}

func windows1252(t *testing.T, s string) []byte {
	t.Helper()
	b, err := charmap.Windows1252.NewEncoder().Bytes([]byte(s))
	if err != nil {
		t.Fatal(err)
	}
	return b
}

// One table in every way it may be written reads the same.
func TestCSVReadsOneTableInEveryWay(t *testing.T) {
	t.Parallel()
	const text = "Kapazität,Preis\r\n47 µF,\"4,63 €\"\r\n"
	want := [][]string{{"Kapazität", "Preis"}, {"47 µF", "4,63 €"}}
	semicolons := "Kapazität;Preis\n47 µF;4,63 €\n"
	tests := []struct {
		name string
		data []byte
		o    CSVOptions
	}{
		{"UTF-8", []byte(text), CSVOptions{}},
		{"UTF-8 with a mark", append([]byte("\ufeff"), text...), CSVOptions{}},
		{"a mark outweighs what is declared", append([]byte("\ufeff"), text...), CSVOptions{Encoding: Windows1252}},
		{"UTF-16 little end first, with a mark", utf16Text(text, utf16LE, 1, 0), CSVOptions{}},
		{"UTF-16 big end first, with a mark", utf16Text(text, utf16BE, 0, 1), CSVOptions{Encoding: UTF16}},
		{"UTF-16 declared, without a mark", utf16Text(text, nil, 1, 0), CSVOptions{Encoding: UTF16LE}},
		{"Windows-1252", windows1252(t, text), CSVOptions{Encoding: Windows1252}},
		{"line feeds alone", []byte(strings.ReplaceAll(text, "\r\n", "\n")), CSVOptions{}},
		{"no line end at the end", []byte(strings.TrimSpace(text)), CSVOptions{}},
		{"semicolons", []byte(semicolons), CSVOptions{Separator: ';'}},
		{"tabs", []byte(strings.ReplaceAll(semicolons, ";", "\t")), CSVOptions{Separator: '\t'}},
		{"its own sep= line", []byte("sep=;\r\n" + semicolons), CSVOptions{}},
		{"its own sep= line, quoted, behind a mark", []byte("\ufeff\"SEP=;\"\n" + semicolons), CSVOptions{Separator: ';'}},
		{"blank lines between", []byte("\n\nKapazität;Preis\n\n\n47 µF;4,63 €\n\n"), CSVOptions{Separator: ';'}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			rows, faults, err := readCSV(t, tt.data, tt.o)
			if err != nil || len(faults) > 0 {
				t.Fatal(err, faults)
			}
			if diff := cmp.Diff(want, rows); diff != "" {
				t.Error(diff)
			}
		})
	}
}

func TestCSVNamesWhatIsWrong(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name   string
		data   string
		o      CSVOptions
		faults []string
		rows   int
	}{
		{"Windows-1252 read as UTF-8", "a,b\n1,2\n\xb5,\xfc\nok,ok\n", CSVOptions{}, []string{"3 A encoding", "3 B encoding"}, 4},
		{"UTF-8 read as Windows-1252", "a,b\n1,2\n47 µF,ok\n", CSVOptions{Encoding: Windows1252}, []string{"3 A encoding"}, 3},
		{"a byte Windows-1252 has not", "a\n\x81\n", CSVOptions{Encoding: Windows1252}, []string{"2 A encoding"}, 2},
		{"a bare quotation mark", "a,b\n1\" x 3\",2\nok,ok\n", CSVOptions{}, []string{"2  quoting"}, 3},
		{"a bare quotation mark that is allowed", "a,b\n1\" x 3\",2\nok,ok\n", CSVOptions{LooseQuotes: true}, nil, 3},
		{"text behind a quoted cell", "a,b\n\"1\"x,2\nok,ok\n", CSVOptions{}, []string{"2  quoting"}, 3},
		{"a quotation mark nobody closes", "a,b\n1,\"2\nok,ok\n", CSVOptions{}, []string{"2  quoting"}, 2},
		{"lines inside a cell count", "a\n\"x\ny\nz\"\n\xff\n", CSVOptions{}, []string{"5 A encoding"}, 3},
		{"the sep= line counts", "sep=;\na;b\n\xff;2\n", CSVOptions{}, []string{"3 A encoding"}, 2},
		{"a cell too long", "a,b\n1," + strings.Repeat("x", 20) + "\n", CSVOptions{Limits: Limits{CellRunes: 10}}, []string{"2 B cell"}, 2},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			rows, faults, err := readCSV(t, []byte(tt.data), tt.o)
			if err != nil || len(rows) != tt.rows {
				t.Errorf("%d rows, %v", len(rows), err)
			}
			if diff := cmp.Diff(tt.faults, faults); diff != "" {
				t.Error(diff)
			}
		})
	}
	// What the bytes are meant to be is said, where another encoding explains them.
	r, err := NewCSV(t.Context(), strings.NewReader("47 \xb5F\n"), 6, CSVOptions{})
	if err != nil {
		t.Fatal(err)
	}
	if row, err := r.Next(); err != nil || len(row.Faults) != 1 || !strings.Contains(row.Faults[0].Message, `windows-1252 it reads "47 µF"`) {
		t.Errorf("%+v, %v", row, err)
	}
}

func TestCSVRefuses(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name string
		data string
		o    CSVOptions
		code problem.Code
		says string
	}{
		{"UTF-16 without a mark", string(utf16Text("a,b\n1,2\n", nil, 1, 0)), CSVOptions{}, problem.Malformed, "utf-16le"},
		{"UTF-16 declared, and no mark", "a,b\n", CSVOptions{Encoding: UTF16}, problem.Malformed, "byte-order mark"},
		{"a sep= line against what is declared", "sep=;\na;b\n", CSVOptions{Separator: ','}, problem.Invalid, "declared"},
		{"a separator none uses", "sep=x\naxb\n", CSVOptions{}, problem.Invalid, "separator"},
		{"too many rows", strings.Repeat("a\n", 11), CSVOptions{Limits: Limits{CSVRows: 10}}, problem.TooLarge, "10 rows"},
		{"too many columns", "a,b,c\n1,2,3\n", CSVOptions{Limits: Limits{Columns: 2}}, problem.TooLarge, "column C"},
		{"a row without end", "a,b\n1,\"" + strings.Repeat("x\n", 200_000), CSVOptions{Limits: Limits{RecordBytes: 1000}}, problem.TooLarge, "never closed"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			_, _, err := readCSV(t, []byte(tt.data), tt.o)
			if problem.CodeOf(err) != tt.code || !strings.Contains(err.Error(), tt.says) {
				t.Errorf("%v", err)
			}
		})
	}
	ctx, stop := context.WithCancel(t.Context())
	data := strings.Repeat("a,b\n", 100_000)
	r, err := NewCSV(ctx, strings.NewReader(data), int64(len(data)), CSVOptions{})
	if err != nil {
		t.Fatal(err)
	}
	stop()
	if _, _, err := drain(r); problem.CodeOf(err) != problem.Cancelled {
		t.Errorf("a reading that is stopped: %v", err)
	}
	// Blanks beyond the last column there may be are what spreadsheets leave.
	if rows, _, err := readCSV(t, []byte("a,b,,\n1,2, ,\n"), CSVOptions{Limits: Limits{Columns: 2}}); err != nil || len(rows[1]) != 2 {
		t.Errorf("%q, %v", rows, err)
	}
}

// What is written is read back as it was, in every flavour, whatever it holds.
func TestCSVReadsWhatItWrites(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := Flavour{Mark: rapid.Bool().Draw(t, "mark"), Separator: rapid.SampledFrom([]rune{0, ';', '\t', '|'}).Draw(t, "separator")}
		want := [][]string{{"a", "b", "c"}}
		var b bytes.Buffer
		w, err := NewCSVWriter(&b, want[0], f)
		if err != nil {
			t.Fatal(err)
		}
		for range rapid.IntRange(0, 5).Draw(t, "rows") {
			row := []string{"x" + anyText().Draw(t, "a"), anyText().Draw(t, "b"), anyText().Draw(t, "c")}
			want = append(want, row)
			if err := w.Row(texts(row)); err != nil {
				t.Fatal(err)
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		r, err := NewCSV(context.Background(), bytes.NewReader(b.Bytes()), int64(b.Len()), CSVOptions{Separator: f.Separator})
		if err != nil {
			t.Fatal(err)
		}
		rows, faults, err := drain(r)
		if err != nil || len(faults) > 0 {
			t.Fatalf("%v %v\n%q", err, faults, b.String())
		}
		if diff := cmp.Diff(want, rows); diff != "" {
			t.Fatalf("%s\n%q", diff, b.String())
		}
	})
}

// anyText draws text any table can hold, with much that tables bend.
func anyText() *rapid.Generator[string] {
	return rapid.Map(rapid.SliceOfN(rapid.OneOf(rapid.SampledFrom([]string{"=", "'", "\"", ",", ";", "\t", "\r", "\n", "\r\n", "+", "@", "|", " ", "_x000D_", "＝"}), rapid.StringN(1, 3, -1)), 0, 6),
		func(pieces []string) string {
			return strings.Map(func(r rune) rune {
				if r < ' ' && !strings.ContainsRune("\t\r\n", r) || r == 0x7f || r == 0xfffe || r == 0xffff {
					return '·'
				}
				return r
			}, strings.ToValidUTF8(strings.Join(pieces, ""), "?"))
		})
}

// OWASP's dangerous starts, alone, behind separators and quotation marks, and
// already guarded.
func TestGuard(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		"=1+2": "'=1+2", "+44": "'+44", "-40 °C": "'-40 °C", "@x": "'@x", "\tx": "'\tx", "\rx": "'\rx", "\nx": "'\nx", "＝1": "'＝1",
		"'=1": "''=1", "''=1": "'''=1", "a;=1": "a;'=1", "a,+1": "a,'+1", "a\"=1": "a\"'=1", "a\n=1": "a\n'=1", "a\t-1": "a\t'-1", "=1;=2": "'=1;'=2",
		" =1": " '=1", "\u00a0\u3000@x": "\u00a0\u3000'@x", " '=1": " ''=1", " a =1": " a =1", " ": " ",
		"plain": "plain", "": "", "'": "'", "'quoted'": "'quoted'", "a-b": "a-b", "a = b": "a = b", "1+1": "1+1", "a;b": "a;b", "line\r\nend": "line\r\nend", "85, -40": "85, -40",
	} {
		if got := Guard(text); got != want {
			t.Errorf("%q is guarded as %q, want %q", text, got, want)
		}
	}
	rapid.Check(t, func(t *rapid.T) {
		s := anyText().Draw(t, "text")
		if got := Unguard(Guard(s)); got != s {
			t.Fatalf("%q is guarded as %q, which reads %q", s, Guard(s), got)
		}
	})
}

func TestLetters(t *testing.T) {
	t.Parallel()
	for letters, column := range map[string]int{"A": 0, "Z": 25, "AA": 26, "AZ": 51, "BA": 52, "ZZ": 701, "AAA": 702, "XFD": 16383} {
		got, ok := LetterColumn(letters)
		if !ok || got != column || Letter(column) != letters {
			t.Errorf("%s is %d, and %d is %s", letters, got, column, Letter(column))
		}
	}
	for _, bad := range []string{"", "a", "XFE", "AAAA", "A1", "Ä"} {
		if n, ok := LetterColumn(bad); ok {
			t.Errorf("%q is column %d", bad, n)
		}
	}
}

func TestDetect(t *testing.T) {
	t.Parallel()
	zip := "PK\x03\x04" + strings.Repeat("\x00", 30)
	tests := []struct {
		name, data string
		form       Form
		code       problem.Code
		says       string
	}{
		{"list.csv", "a,b\n", CSV, "", ""}, {"list.CSV", "a,b\n", CSV, "", ""}, {"list.xlsx", zip, XLSX, "", ""}, {"", zip, XLSX, "", ""}, {"", "a", CSV, "", ""},
		{"list.csv", string(utf16Text("Maker,Value\nSedgemere,47 µF\n", nil, 1, 0)), CSV, "", ""},
		{"list.txt", string(utf16Text("Maker,Value\n", utf16LE, 1, 0)), CSV, "", ""},
		{"list.csv", zip, "", problem.Malformed, "ZIP archive"}, {"list.xlsx", "a,b\n", "", problem.Malformed, "plain text"}, {`C:\lists\list.xlsx`, "a;b\n", "", problem.Malformed, "plain text"},
		{"list.xls", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1....", "", problem.Unsupported, "old form .xls"}, {"list.xlsx", "\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1....", "", problem.Unsupported, "password"},
		{"list.pdf", "%PDF-1.7", "", problem.Unsupported, "PDF"}, {"list.xls", "<html><table>", "", problem.Unsupported, "web page"}, {"list.csv", "  <!DOCTYPE html>", "", problem.Unsupported, "web page"},
		{"list.xls", "<?xml version=\"1.0\"?>", "", problem.Unsupported, "XML"}, {"list.csv.gz", "\x1f\x8b\x08", "", problem.Unsupported, "gzip"},
		{"list.csv", "a\x00\x01\x02b,\x00\x03\x05\x06\x07\x08", "", problem.Unsupported, "no text"}, {"list.csv", "", "", problem.Malformed, "empty"},
	}
	for _, tt := range tests {
		got, err := Detect(strings.NewReader(tt.data), int64(len(tt.data)), tt.name, Limits{})
		if got != tt.form || err != nil && (problem.CodeOf(err) != tt.code || !strings.Contains(err.Error(), tt.says)) || err == nil && tt.code != "" {
			t.Errorf("%s %.10q: %q, %v", tt.name, tt.data, got, err)
		}
	}
	if _, err := Detect(strings.NewReader("a,b\n1,2\n"), 8, "", Limits{CSVBytes: 4}); problem.CodeOf(err) != problem.TooLarge {
		t.Errorf("a file too large: %v", err)
	}
}

func FuzzCSV(f *testing.F) {
	for _, s := range []string{"a,b\r\n1,2\r\n", "\ufeffa;b\n\"1\r\n2\";'=3\n", "sep=;\na;b\n", "a\tb\n\xff\t\"", "\xff\xfea\x00,\x00b\x00\n\x00", "\xb5,\x81\n", "'''=1,\"\"\"\"\n", "a\n\"sep=\",\n"} {
		for mode := range uint8(4) {
			f.Add([]byte(s), mode)
		}
	}
	f.Fuzz(func(t *testing.T, data []byte, mode uint8) {
		o := CSVOptions{Encoding: []Encoding{"", Windows1252, UTF16LE, UTF16}[mode%4], Separator: []rune{0, ';', '\t', '|'}[mode/4%4], LooseQuotes: mode&128 != 0,
			Limits: Limits{CSVRows: 1000, Columns: 50, RecordBytes: 1 << 12}}
		rows, faults, err := readCSV(t, data, o)
		if err != nil {
			if problem.CodeOf(err) == problem.Internal {
				t.Fatal(problem.As(err).Cause)
			}
			return
		}
		if len(faults) > 0 || len(rows) == 0 || o.LooseQuotes {
			return
		}
		// What is sound is read again as it was once it is written.
		var b bytes.Buffer
		w, err := NewCSVWriter(&b, []string{"header"}, Flavour{Mark: true})
		if err != nil {
			t.Fatal(err)
		}
		for _, row := range rows {
			if len(row) == 1 && row[0] == "" || w.Row(texts(row)) != nil {
				return // a blank row is passed over; control characters are not written
			}
		}
		if err := w.Close(); err != nil {
			t.Fatal(err)
		}
		again, faults, err := readCSV(t, b.Bytes(), CSVOptions{Separator: ','})
		if err != nil && problem.CodeOf(err) != problem.Invalid || len(faults) > 0 {
			t.Fatalf("%v %v", err, faults)
		}
		if diff := cmp.Diff(append([][]string{{"header"}}, rows...), again); err == nil && diff != "" {
			t.Fatalf("%s\n%q", diff, b.String())
		}
	})
}

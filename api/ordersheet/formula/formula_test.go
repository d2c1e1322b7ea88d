package formula_test

import (
	"os"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"coldrise/api/ordersheet/formula"
)

// What counts as a reference, by ECMA-376 Part 1, 18.17.
func TestReferencesAreFound(t *testing.T) {
	t.Parallel()
	tests := []struct{ text, want string }{
		{"B2*C2", "B2 C2"},
		{"SUM(F2:F9)*1.2", "F2:F9"},
		{"sum(f2:F$9)", "F2:F$9"},
		{"SUM(F:F)+SUM($A:$C)", "F:F $A:$C"},
		{"SUM(3:7)-SUM($3:$3)", "3:7 $3:$3"},
		{"Order!F9+'My order'!$B$2", "Order|F9 My order|$B$2"},
		{"'Bob''s sheet'!A1", "Bob's sheet|A1"},
		{"SUM(Jan:Mar!B4)+SUM('1:3'!B5)", "Jan:Mar|B4 1:3|B5"},
		{"Order!F2:Order!F9", "Order|F2:F9"},
		{"Order!F2:F9", "Order|F2:F9"},
		{"SUM(F2 : F9)", "F2:F9"},
		{"[1]Prices!B2+'[2]Old prices'!C3", "ext [1]Prices|B2 ext [2]Old prices|C3"},
		{"F2:INDEX(F:F,ROW()-1)", "F2 F:F"},
		{"LOG10(E5)+ATAN2(1,2)", "E5"},
		{"1E5+2.5e-3+E5", "E5"},
		{`"A1"&"say ""B2"""&C3`, "C3"},
		{"Lines[[#This Row],[Qty]]*Lines[[#Headers],[A1]]+D2", "D2"},
		{"Lines[Col'[A1']]+D2", "D2"},
		{"IF(ISERROR(#REF!),#N/A,A1)", "A1"},
		{"Order!#REF!+A1", "A1"},
		{"TAXRATE*TAX2024", "TAX2024"},
		{"XFD1048576+XFE1+A1048577+A0", "XFD1048576"},
		{"{1,2;3,4}*A1", "A1"},
		{"_xlfn.ANCHORARRAY(A1)+_xlfn.SINGLE(B1)", "A1 B1"},
		{"Menge!B2", "Menge|B2"},
		{"Übersicht!$A$1", "Übersicht|$A$1"},
		{"Order!Total", ""},
		{"A1:B2:C3", "A1:B2 C3"},
		{"INDIRECT(\"A\"&B1)", "B1"},
		{"Q1!A1+Q1", "Q1|A1 Q1"},
		{"5*B3%", "B3"},
		{"SUM(A1,B1 C1:D1)", "A1 B1 C1:D1"},
	}
	for _, tt := range tests {
		f, err := formula.Parse(tt.text)
		if err != nil {
			t.Errorf("%s: %v", tt.text, err)
			continue
		}
		var got []string
		for _, r := range f.Refs() {
			name := ""
			if r.External {
				name = "ext "
			}
			name += r.Sheet
			if r.LastSheet != "" {
				name += ":" + r.LastSheet
			}
			if name != "" {
				name += "|"
			}
			got = append(got, name+r.String())
		}
		if g := strings.Join(got, " "); g != tt.want {
			t.Errorf("%s: found %q, want %q", tt.text, g, tt.want)
		}
	}
}

func TestBrokenFormulasAreRefused(t *testing.T) {
	t.Parallel()
	for _, text := range []string{`"open`, "'open", "Lines[[Qty]", "'a'!B1+'", strings.Repeat("A1+", formula.MaxLength)} {
		if f, err := formula.Parse(text); err == nil {
			t.Errorf("%.20s: taken, with references %v", text, f.Refs())
		}
	}
}

func TestCarry(t *testing.T) {
	t.Parallel()
	tests := []struct {
		text       string
		cols, rows int
		want       string
	}{
		{"B9*C9", 0, 1, "B10*C10"},
		{"B9*$C$2*'Prices and so on'!A9", 0, 2, "B11*$C$2*'Prices and so on'!A11"},
		{"SUM(F$2:F9)", 0, 1, "SUM(F$2:F10)"},
		{"SUM(F:F)*SUM(3:3)", 1, 1, "SUM(G:G)*SUM(4:4)"},
		{"Order!F2:Order!F9", 0, 1, "Order!F3:Order!F10"},
		{"Lines[[#This Row],[Qty]]*\"B9\"", 0, 5, "Lines[[#This Row],[Qty]]*\"B9\""},
		{"A1", 0, -1, "off"},
		{"XFD1", 1, 0, "off"},
	}
	for _, tt := range tests {
		f, err := formula.Parse(tt.text)
		if err != nil {
			t.Fatal(err)
		}
		got, err := f.Carry(tt.cols, tt.rows)
		if err != nil {
			got = "off"
		}
		if got != tt.want {
			t.Errorf("%s by %d columns, %d rows: %s, want %s", tt.text, tt.cols, tt.rows, got, tt.want)
		}
	}
}

// Three rows inserted before row 10.
func TestPushed(t *testing.T) {
	t.Parallel()
	tests := []struct{ text, want string }{
		{"F9+F10+F$12", "F9+F13+F$15"},
		{"SUM(F2:F9)", "SUM(F2:F9)"},
		{"SUM(F2:F10)", "SUM(F2:F13)"},
		{"SUM(F12:F2)", "SUM(F15:F2)"},
		{"SUM(10:12)+SUM(F:F)", "SUM(13:15)+SUM(F:F)"},
		{"SUM(A1:A1048576)", "SUM(A1:A1048576)"},
		{"A1048576", "off"},
	}
	for _, tt := range tests {
		f, err := formula.Parse(tt.text)
		if err != nil {
			t.Fatal(err)
		}
		got, err := f.Map(func(r formula.Ref) (formula.Ref, error) { return r.Pushed(10, 3) })
		if err != nil {
			got = "off"
		}
		if got != tt.want {
			t.Errorf("%s: %s, want %s", tt.text, got, tt.want)
		}
	}
}

func TestOn(t *testing.T) {
	t.Parallel()
	f, err := formula.Parse("A1+order!A1+Other!A1+[1]Order!A1+'Order:Other'!A1")
	if err != nil {
		t.Fatal(err)
	}
	var got []bool
	for _, r := range f.Refs() {
		got = append(got, r.On("Order", "Order"))
	}
	if diff := cmp.Diff([]bool{true, true, false, false, false}, got); diff != "" {
		t.Error(diff)
	}
}

func TestColumnNames(t *testing.T) {
	t.Parallel()
	for col, want := range map[int]string{1: "A", 26: "Z", 27: "AA", 52: "AZ", 702: "ZZ", 703: "AAA", formula.MaxCol: "XFD"} {
		if got := formula.ColumnName(col); got != want {
			t.Errorf("column %d is %s, want %s", col, got, want)
		}
		if got := formula.ParseColumn(want); got != col {
			t.Errorf("column %s is %d, want %d", want, got, col)
		}
	}
	for _, none := range []string{"", "XFE", "AAAA", "1", "Ä"} {
		if got := formula.ParseColumn(none); got != 0 {
			t.Errorf("%q is column %d", none, got)
		}
	}
}

func TestAreas(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{"B7": "B7", "D9:B7": "B7:D9", "$A$1:$B$2": "A1:B2", "A:B": "A1:B1048576", "3:4": "A3:XFD4", "": "", "A1:": "", "Sheet!A1": "", "A1+B1": ""} {
		a, err := formula.ParseArea(text)
		got := ""
		if err == nil {
			got = a.String()
		}
		if got != want {
			t.Errorf("%q is %q, want %q", text, got, want)
		}
	}
}

// Carrying there and back again gives the formula that was there, and carrying
// by two steps is carrying by their sum.
func TestCarryIsASum(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		f := parsed(t, rapid.StringMatching(`[A-C]\$?[5-9][0-9]\*SUM\(\$?[D-F][5-9][0-9]:[D-F][5-9][0-9]\)\+'a b'![G-I][6-8]0`).Draw(t, "formula"))
		a, b := rapid.IntRange(-20, 20).Draw(t, "a"), rapid.IntRange(-20, 20).Draw(t, "b")
		once := carried(t, carried(t, f, a), b)
		if diff := cmp.Diff(carried(t, f, a+b).Text(), once.Text()); diff != "" {
			t.Fatalf("%s by %d and %d:\n%s", f.Text(), a, b, diff)
		}
	})
}

func parsed(t *rapid.T, text string) formula.Formula {
	f, err := formula.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	return f
}

func carried(t *rapid.T, f formula.Formula, rows int) formula.Formula {
	text, err := f.Carry(0, rows)
	if err != nil {
		t.Fatal(err)
	}
	return parsed(t, text)
}

// What is no reference comes through as it was, and what is written is read
// again as the same references.
func FuzzParse(f *testing.F) {
	for _, s := range []string{"B2*C2", "'a''b'!A1:B2", "[1]S!A1", "T[[#This Row],[a]]", "A:A 3:4", "1E5", "\"", "'x'!", "Order!F2:Order!F9", "$$A1", "A1:B2:C3", "Ⅷ!A1", "a\u0301!B2"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		p, err := formula.Parse(s)
		if err != nil {
			return
		}
		same, err := p.Map(func(r formula.Ref) (formula.Ref, error) { return r, nil })
		if err != nil || same != s {
			t.Fatalf("%q became %q, %v", s, same, err)
		}
		moved, err := p.Carry(1, 1)
		if err != nil {
			return
		}
		q, err := formula.Parse(moved)
		if err != nil {
			t.Fatalf("%q carried is %q: %v", s, moved, err)
		}
		if len(q.Refs()) != len(p.Refs()) {
			t.Fatalf("%q carried is %q: %v became %v", s, moved, p.Refs(), q.Refs())
		}
	})
}

// A formula of the longest kind, carried one row down.
func BenchmarkCarry(b *testing.B) {
	text := strings.Repeat("SUM($A1:B2)*'Some sheet'!C$3+", formula.MaxLength/32) + "1"
	b.SetBytes(int64(len(text)))
	for b.Loop() {
		f, err := formula.Parse(text)
		if err != nil {
			b.Fatal(err)
		}
		if _, err := f.Carry(0, 1); err != nil {
			b.Fatal(err)
		}
	}
}

// rows reads a table kept in testdata/formulas: what LibreOffice made of
// formulas when it inserted rows and filled down (make.py there).
func rows(t *testing.T, name string) [][]string {
	t.Helper()
	data, err := os.ReadFile("../../../testdata/formulas/" + name)
	if err != nil {
		t.Fatal(err)
	}
	var list [][]string
	for _, line := range strings.Split(strings.TrimSpace(string(data)), "\n") {
		list = append(list, strings.Split(line, "\t"))
	}
	return list
}

// Three rows come in before row 10 of sheet Order; formulas stand on it and on
// another sheet. What leaves the sheet is an error here and #REF! there.
func TestPushedAgreesWithLibreOffice(t *testing.T) {
	t.Parallel()
	off := 0
	for _, r := range rows(t, "pushed.tsv") {
		f, err := formula.Parse(r[1])
		if err != nil {
			t.Fatal(err)
		}
		got, err := f.Map(func(ref formula.Ref) (formula.Ref, error) {
			if !ref.On(r[0], "Order") {
				return ref, nil
			}
			return ref.Pushed(10, 3)
		})
		if lost := strings.Contains(r[2], "#REF!"); lost != (err != nil) || !lost && got != r[2] {
			t.Errorf("%s on %s became %s (%v), LibreOffice has %s", r[1], r[0], got, err, r[2])
		} else if lost {
			off++
		}
	}
	if off == 0 || off > 60 {
		t.Errorf("%d formulas left the sheet; a few should", off)
	}
}

// A formula of row 9 is carried into the two rows below. Now and then
// LibreOffice 7.4 makes a range of rows of whole columns there (A:B becomes
// A2:B$1048576), which have no rows to move; those are passed over and counted.
func TestCarryAgreesWithLibreOffice(t *testing.T) {
	t.Parallel()
	passed := 0
	for _, r := range rows(t, "carried.tsv") {
		f, err := formula.Parse(r[0])
		if err != nil {
			t.Fatal(err)
		}
		for down, want := range r[1:] {
			if columns(t, want) < columns(t, r[0]) {
				passed++
				continue
			}
			got, err := f.Carry(0, down+1)
			if lost := strings.Contains(want, "#REF!"); lost != (err != nil) || !lost && got != want {
				t.Errorf("%s carried %d down is %s (%v), LibreOffice has %s", r[0], down+1, got, err, want)
			}
		}
	}
	if passed != 10 {
		t.Errorf("%d of 500 were passed over; 10 should be", passed)
	}
}

// columns counts the whole columns of a formula.
func columns(t *testing.T, text string) int {
	t.Helper()
	f, err := formula.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	n := 0
	for _, r := range f.Refs() {
		if r.Kind == formula.Columns {
			n++
		}
	}
	return n
}

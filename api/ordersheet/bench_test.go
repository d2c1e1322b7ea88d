package ordersheet_test

import (
	"fmt"
	"strings"
	"testing"

	"coldrise/api/ordersheet"
)

// The demo workbooks, fifteen lines each, from upload to copy.
func BenchmarkFill(b *testing.B) {
	o := payloadOrder()
	for _, w := range workbooks {
		data, m := workbook(b, w.file)
		b.Run(w.file, func(b *testing.B) {
			for b.Loop() {
				fill(b, data, m, o)
			}
		})
	}
}

// A log of twenty thousand lines of nine cells, each with a formula, and a
// hundred lines more.
func BenchmarkFillALongLog(b *testing.B) {
	var s strings.Builder
	s.WriteString("<sheetData>" + headerRow)
	for r := 2; r <= 20_001; r++ {
		fmt.Fprintf(&s, `<row r="%d"><c r="A%d" t="inlineStr"><is><t>part</t></is></c><c r="B%d"><v>3</v></c><c r="C%d"><f>B%d*2</f><v>6</v></c>`, r, r, r, r, r)
		for _, c := range "DEFGHI" {
			fmt.Fprintf(&s, `<c r="%c%d"><v>1</v></c>`, c, r)
		}
		s.WriteString("</row>")
	}
	s.WriteString("</sheetData>")
	data, m := tiny(b, s.String()), tinyMap(b, `"formulas":[{"column":"C"}],`+afterLast)
	o := ordersheet.Order{Lines: make([]ordersheet.Line, 100)}
	for i := range o.Lines {
		o.Lines[i] = ordersheet.Line{Text: "part", Quantity: 2}
	}
	b.SetBytes(int64(s.Len()))
	for b.Loop() {
		fill(b, data, m, o)
	}
}

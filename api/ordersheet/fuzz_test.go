package ordersheet_test

import (
	"bytes"
	"strings"
	"testing"

	"coldrise/api/ordersheet"
	"coldrise/domain/problem"
)

// Both documents are read from whatever comes. A map that is taken fills or is
// refused; a profile that is taken writes.
func FuzzParseMapAndProfile(f *testing.F) {
	f.Add([]byte(`{"flavour":"excel","decimal_mark":"comma","columns":[{"field":"sku","header":"Code"},{"fixed":"x"}]}`))
	f.Add([]byte(`{"sheet":"Order","header_row":4,"columns":[{"field":"sku","header":"Code"}],"fixed":[{"column":"J","text":"=1"}],"formulas":[{"header":"Line total"}],"append":{"where":"after_last_row","blank_rows":2}}`))
	f.Add([]byte(`{"sheet":"Order","header_row":4,"columns":[{"field":"order_date","column":"B"}],"preprinted":[{"column":"A"}],"short_ranges":"report","append":{"where":"before_totals","totals":{"text":"Total"}}}`))
	data, _ := workbook(f, "conditional.xlsx")
	w, err := ordersheet.Open(data)
	if err != nil {
		f.Fatal(err)
	}
	f.Fuzz(func(t *testing.T, data []byte) {
		m, err := ordersheet.ParseMap(data)
		if err == nil {
			_, err = w.Fill(t.Context(), m, smallOrder())
		}
		if err != nil {
			notOurs(t, err)
		}
		p, err := ordersheet.ParseProfile(data)
		if err != nil {
			notOurs(t, err)
			return
		}
		if _, err := ordersheet.CSV(payloadOrder(), p); err != nil {
			t.Fatalf("%s is taken and cannot be used: %v", data, err)
		}
	})
}

// notOurs fails for an error that is a mistake of ours: an internal one, or a
// panic that was caught.
func notOurs(t *testing.T, err error) {
	t.Helper()
	p := problem.As(err)
	if p.Code == problem.Internal || p.Cause != nil && strings.HasPrefix(p.Cause.Error(), "panic:") {
		t.Fatalf("%v: %v", err, p.Cause)
	}
}

// A part of a demo workbook is replaced by whatever comes. Either the fill is
// refused as the file's or the map's fault, or the copy opens again and only
// what may change did.
func FuzzFill(f *testing.F) {
	type demo struct {
		m     ordersheet.Map
		all   map[string]zipPart
		names []string
	}
	var demos []demo
	for i, w := range workbooks {
		data, m := workbook(f, w.file)
		all, names := unzip(f, data)
		demos = append(demos, demo{m, all, names})
		for k, n := range names {
			if strings.HasPrefix(n, "xl/worksheets/sheet") || strings.HasPrefix(n, "xl/tables/") || n == "xl/workbook.xml" || n == "xl/styles.xml" {
				f.Add(uint8(i), uint8(k), all[n].data)
			}
		}
	}
	f.Fuzz(func(t *testing.T, which, part uint8, data []byte) {
		w := demos[int(which)%len(demos)]
		changed := w.names[int(part)%len(w.names)]
		mutated := zipped(t, w.names, func(n string) []byte {
			if n == changed {
				return data
			}
			return w.all[n].data
		})
		filled, err := tryFill(t, mutated, w.m, smallOrder())
		if err != nil {
			notOurs(t, err)
			return
		}
		if _, err := ordersheet.Open(filled.Data); err != nil {
			t.Fatalf("the copy is refused: %v", err)
		}
		now, _ := unzip(t, filled.Data)
		for n, p := range now {
			free := strings.HasPrefix(n, "xl/worksheets/") || strings.HasPrefix(n, "xl/tables/") || mayDiffer[n] != nil
			if !free && n != changed && !bytes.Equal(p.data, w.all[n].data) {
				t.Fatalf("%s changed", n)
			}
		}
	})
}

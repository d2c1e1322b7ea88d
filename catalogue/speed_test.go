package catalogue_test

import (
	"bytes"
	"context"
	"encoding/csv"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strconv"
	"syscall"
	"testing"
	"time"

	"coldrise/catalogue"
	"coldrise/catalogue/table"
)

// priceList is a file of twelve columns, as suppliers send them.
func priceList(rows int) []byte {
	var b bytes.Buffer
	b.WriteString("Maker,Part No,Type,Style,Capacitance,Voltage,Ripple,Diameter,Length,Order Code,Stock,Price\r\n")
	for i := range rows {
		fmt.Fprintf(&b, "Sedgemere,HA%d-%d,electrolytic,axial,%d,%d,%d,%.1f,%d,PG-%06d,%d,%d.%02d\r\n",
			450+i%5*25, i, 8+i%93, 350+i%5*50, 120+i%700, 12.5+float64(i%8)/2, 30+i%20, i, i%400, 2+i%9, i%100)
	}
	return b.Bytes()
}

const priceListMap = `{"name":"price list","decimal":"point","columns":[
 {"header":"Maker","to":"maker"},{"header":"Part No","to":"part_number"},{"header":"Type","to":"technology"},{"header":"Style","to":"style"},
 {"header":"Capacitance","to":"capacitance_uf","unit":"µF"},{"header":"Voltage","to":"rated_v"},{"header":"Ripple","to":"ripple_ma","unit":"mA"},
 {"header":"Diameter","to":"diameter_mm","unit":"mm"},{"header":"Length","to":"length_mm","unit":"mm"},
 {"header":"Order Code","to":"sku"},{"header":"Stock","to":"stock"},{"header":"Price","to":"unit_price"}],
 "fixed":{"supplier":"Peatgate Components","currency":"GBP","pack":"1","min_qty":"1","lead_days":"2","max_c":"85"}}`

func BenchmarkCSV(b *testing.B) {
	const rows = 20_000
	data := priceList(rows)
	m, err := catalogue.ParseMap([]byte(priceListMap))
	if err != nil {
		b.Fatal(err)
	}
	var before time.Duration
	perRow := func(b *testing.B) {
		b.ReportMetric(float64(b.N)*rows/(spent()-before).Seconds(), "rows/cpu-s")
		b.ReportMetric(float64(b.N)*rows/b.Elapsed().Seconds(), "rows/s")
		b.SetBytes(int64(len(data)))
	}
	b.Run("bare", func(b *testing.B) {
		before = spent()
		for b.Loop() {
			r := csv.NewReader(bytes.NewReader(data))
			r.ReuseRecord = true
			for {
				record, err := r.Read()
				if err == io.EOF {
					break
				}
				for _, i := range []int{4, 5, 6, 7, 8, 10, 11} {
					_, _ = strconv.ParseFloat(record[i], 64)
				}
			}
		}
		perRow(b)
	})
	b.Run("check", func(b *testing.B) {
		before = spent()
		for b.Loop() {
			f, err := catalogue.Open(context.Background(), bytes.NewReader(data), int64(len(data)), m, catalogue.Options{})
			if err != nil {
				b.Fatal(err)
			}
			report, err := f.Check(context.Background())
			if err != nil || report.Parts != rows || report.Errors > 0 {
				b.Fatal(err, report.Parts, report.Findings[:min(3, len(report.Findings))])
			}
		}
		perRow(b)
	})
	b.Run("parts", func(b *testing.B) {
		f, err := catalogue.Open(context.Background(), bytes.NewReader(data), int64(len(data)), m, catalogue.Options{})
		if err != nil {
			b.Fatal(err)
		}
		before = spent()
		for b.Loop() {
			n := 0
			for _, err := range f.Parts(context.Background(), false) {
				if err != nil {
					b.Fatal(err)
				}
				n++
			}
			if n != rows {
				b.Fatal(n)
			}
		}
		perRow(b)
	})
}

// spent is the processor time the process has used: on a machine that is
// shared it says more than the clock.
func spent() time.Duration {
	var u syscall.Rusage
	if syscall.Getrusage(syscall.RUSAGE_SELF, &u) != nil {
		return 0
	}
	return time.Duration(u.Utime.Nano() + u.Stime.Nano())
}

// A workbook is bounded by its XML: this says what an import of one costs.
func BenchmarkXLSX(b *testing.B) {
	const rows = 20_000
	m, err := catalogue.ParseMap([]byte(priceListMap))
	if err != nil {
		b.Fatal(err)
	}
	for _, shared := range []bool{true, false} {
		path := filepath.Join(b.TempDir(), "list.xlsx")
		listBook(b, path, rows, shared)
		data, err := os.ReadFile(path)
		if err != nil {
			b.Fatal(err)
		}
		b.Run(map[bool]string{true: "shared", false: "inline"}[shared], func(b *testing.B) {
			before := spent()
			for b.Loop() {
				f, err := catalogue.Open(b.Context(), bytes.NewReader(data), int64(len(data)), m, catalogue.Options{})
				if err != nil {
					b.Fatal(err)
				}
				if report, err := f.Check(b.Context()); err != nil || report.Parts != rows {
					b.Fatal(err, report.Parts)
				}
			}
			b.ReportMetric(float64(b.N)*rows/(spent()-before).Seconds(), "rows/cpu-s")
		})
	}
}

// An export, by form, of parts that cost nothing to get.
func BenchmarkExport(b *testing.B) {
	const rows = 20_000
	for _, form := range []table.Form{table.CSV, table.XLSX} {
		b.Run(string(form), func(b *testing.B) {
			before := spent()
			for b.Loop() {
				if err := catalogue.WriteParts(io.Discard, listed(rows), catalogue.Export{Form: form}); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(b.N)*rows/(spent()-before).Seconds(), "rows/cpu-s")
		})
	}
}

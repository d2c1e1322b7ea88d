// Workbook written by excelize 2.11.1. Run in a module of its own that requires
// github.com/xuri/excelize/v2 v2.11.1: go run with_excelize.go ../shared.xlsx
package main

import (
	"log"
	"os"

	"github.com/xuri/excelize/v2"
)

func main() {
	f := excelize.NewFile()
	must(f.SetSheetName("Sheet1", "Order"))
	money, err := f.NewStyle(&excelize.Style{NumFmt: 4})
	must(err)
	bold, err := f.NewStyle(&excelize.Style{Font: &excelize.Font{Bold: true}})
	must(err)
	header := []any{"Supplier", "Code", "Part", "Description", "For", "Qty", "Price", "Line total", "Currency"}
	must(f.SetSheetRow("Order", "A4", &header))
	must(f.SetCellStyle("Order", "A4", "I4", bold))
	lines := [][]any{
		{"Peatgate Components", "PG-10482", "HA550-16", "16 µF 550 V axial", "C22 C23", 2, 4.12},
		{"Peatgate Components", "PG-10496", "HA550-33", "33 µF 550 V axial", "C20 C21", 4, 5.68},
		{"Brackwater Supply", "BW-2210", "FB100N-630", "100 nF 630 V box", "C9", 10, 0.39},
	}
	for i, line := range lines {
		cell, err := excelize.CoordinatesToCellName(1, 5+i)
		must(err)
		must(f.SetSheetRow("Order", cell, &line))
		end, err := excelize.CoordinatesToCellName(9, 5+i)
		must(err)
		must(f.SetCellStr("Order", end, "GBP"))
	}
	kind := excelize.STCellFormulaTypeShared
	total, carry := "H5:H7", "K5:K7"
	must(f.SetCellFormula("Order", "H5", "F5*G5", excelize.FormulaOpts{Type: &kind, Ref: &total}))
	must(f.SetCellFormula("Order", "K5", "H5*$B$1", excelize.FormulaOpts{Type: &kind, Ref: &carry}))
	must(f.SetCellStyle("Order", "G5", "H7", money))
	must(f.SetCellValue("Order", "A1", "Rate"))
	must(f.SetCellValue("Order", "B1", 1.25))
	must(f.SetCellValue("Order", "A2", "Total"))
	must(f.SetCellFormula("Order", "B2", "SUM(H5:H7)"))
	must(f.SetCellFormula("Order", "C2", "SUM(K5:K7)"))
	_, err = f.NewSheet("Sums")
	must(err)
	must(f.SetCellFormula("Sums", "A1", "Order!B2*2"))
	must(f.SetCellFormula("Sums", "A2", "SUM(Order!K:K)"))
	must(f.SaveAs(os.Args[1]))
	must(f.Close())
}

func must(err error) {
	if err != nil {
		log.Fatal(err)
	}
}

package catalogue_test

import (
	"context"
	"fmt"
	"strings"

	"coldrise/catalogue"
)

// A supplier's file under its map: what is wrong with it, and what can be
// taken. The rows with faults could be handed back by WriteBad.
func Example() {
	const file = "Hersteller;Nummer;Kapazität;Spannung;Preis\n" +
		"Brackenholme;YD-22/450;22 µF;450 V;4,63\n" +
		"Brackenholme;YD-47/450;47;450 V;5,90\n"
	m, err := catalogue.ParseMap([]byte(`{"name": "Waldmoor price list", "decimal": "comma", "columns": [
		{"header": "Hersteller", "to": "maker"}, {"header": "Nummer", "to": "part_number"},
		{"header": "Kapazität", "to": "capacitance_uf"}, {"header": "Spannung", "to": "rated_v"}, {"header": "Preis", "to": "unit_price"}],
		"fixed": {"technology": "electrolytic", "style": "axial", "supplier": "Waldmoor Teile", "sku": "by part number",
			"currency": "EUR", "pack": "1", "min_qty": "1", "stock": "0", "lead_days": "6"}}`))
	if err != nil {
		fmt.Println(err)
		return
	}
	ctx := context.Background()
	f, err := catalogue.Open(ctx, strings.NewReader(file), int64(len(file)), m, catalogue.Options{Name: "preise.csv"})
	if err != nil {
		fmt.Println(err)
		return
	}
	report, err := f.Check(ctx)
	if err != nil {
		fmt.Println(err)
		return
	}
	for _, finding := range report.Findings {
		fmt.Println(finding)
	}
	partial := true // all or nothing where false
	for row, err := range f.Parts(ctx, partial) {
		if err != nil {
			fmt.Println(err)
			return
		}
		fmt.Printf("line %d: %s, %g µF, %g V, %s %s\n", row.Line, row.Part.PartNumber, row.Part.CapacitanceUF, row.Part.RatedV, row.Part.Offers[0].Breaks[0].UnitPrice, row.Part.Offers[0].Currency)
	}
	// Output:
	// line 3, column C (Kapazität): has no unit, and from 1 up may be in pF or in µF; write the unit, or declare what the column is in; got "47"
	// line 2: YD-22/450, 22 µF, 450 V, 4.63 EUR
}

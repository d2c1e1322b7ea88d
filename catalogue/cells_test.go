package catalogue_test

import (
	"encoding/json"
	"maps"
	"strings"
	"testing"

	"coldrise/catalogue"
	"coldrise/domain/part"
)

// One column replaced at a time: what each cell gives, or what is said of it.
func TestCells(t *testing.T) {
	t.Parallel()
	tests := []struct {
		header, cell string
		column       map[string]any // of the map, over the default
		changes      map[string]any // of the map
		want         func(*part.Part) any
		is           any
		code         catalogue.Code
		says         string
	}{
		{header: "Capacitance", cell: "4n7", want: uf, is: 0.0047}, {header: "Capacitance", cell: "4\u03bc7", want: uf, is: 4.7}, {header: "Capacitance", cell: "47uF", want: uf, is: 47.0},
		{header: "Capacitance", cell: ".047", want: uf, is: 0.047}, {header: "Capacitance", cell: "20 MFD", want: uf, is: 20.0}, {header: "Capacitance", cell: "250 MMFD", want: uf, is: 0.00025},
		{header: "Capacitance", cell: `"0,047 µF"`, changes: changes("decimal", "comma"), want: uf, is: 0.047},
		{header: "Capacitance", cell: "47", column: changes("unit", "nF"), want: uf, is: 0.047},
		{header: "Capacitance", cell: "47M", changes: changes("legacy_units", true), want: uf, is: 47.0},
		{header: "Capacitance", cell: "47", code: catalogue.CodeValue, says: "in pF or in µF"},
		{header: "Capacitance", cell: "473", code: catalogue.CodeValue, says: "in pF or in µF"},
		{header: "Capacitance", cell: "473K", column: changes("to", "code"), want: uf, is: 0.047, changes: changes("columns", "no tolerance")},
		{header: "Capacitance", cell: "47 mF", code: catalogue.CodeValue, says: "declare legacy units"}, {header: "Capacitance", cell: "47M", code: catalogue.CodeValue, says: "declare legacy units"},
		{header: "Capacitance", cell: `"1,234 µF"`, code: catalogue.CodeValue, says: "declare the decimal comma"},
		{header: "Capacitance", cell: "1.234 µF", code: catalogue.CodeValue, says: "declare which"},
		{header: "Capacitance", cell: "1.234 µF", changes: changes("decimal", "point"), want: uf, is: 1.234},
		{header: "Capacitance", cell: "1.234 µF", changes: changes("decimal", "comma", "grouping", "point"), want: uf, is: 1234.0},
		{header: "Capacitance", cell: "0 µF", code: catalogue.CodeValue, says: "more than 0"}, {header: "Capacitance", cell: "2 F", code: catalogue.CodeRange, says: "at most 100000"},
		{header: "Capacitance", cell: "", code: catalogue.CodeRequired, says: "must not be blank"},
		{header: "Voltage", cell: "450 WV", want: volts, is: 450.0}, {header: "Voltage", cell: "275 V~", code: catalogue.CodeValue, says: "alternating"},
		{header: "Voltage", cell: "0.4 kV", want: volts, is: 400.0}, {header: "Voltage", cell: "450 mV", code: catalogue.CodeRange, says: "at least 1 V"},
		{header: "Tolerance", cell: "±20 %", want: plus, is: 20.0}, {header: "Tolerance", cell: "+/-10%", want: plus, is: 10.0}, {header: "Tolerance", cell: "-10/+50", want: plus, is: 50.0},
		{header: "Tolerance", cell: "10/50", code: catalogue.CodeValue, says: "must be a tolerance"}, {header: "Tolerance", cell: "-99/+50", code: catalogue.CodeRange, says: "tol_minus_pct must be at most 90 %"},
		{header: "Size", cell: "25x50", want: length, is: 50.0}, {header: "Size", cell: "Ø25 × 50 mm", want: length, is: 50.0}, {header: "Size", cell: "1 x 3", column: changes("unit", "in"), want: length, is: 76.2},
		{header: "Size", cell: "10x20x30", code: catalogue.CodeValue, says: "three lengths; say in the column's order"},
		{header: "Size", cell: "30x20", column: changes("order", []string{"length_mm", "diameter_mm"}), want: length, is: 30.0},
		{header: "Size", cell: "30", code: catalogue.CodeValue, says: "diameter_mm × length_mm"},
		{header: "Ripple", cell: "1.2 A", want: ripple, is: 1200.0}, {header: "Ripple", cell: "850mA", want: ripple, is: 850.0}, {header: "Ripple", cell: "850", code: catalogue.CodeValue, says: "declare what the column is in"},
		{header: "Ripple", cell: "0.85", column: changes("unit", "A"), want: ripple, is: 850.0},
		{header: "Ripple", cell: "850 mA @ 120 Hz", column: changes("to", "ripple_at"), changes: changes("fixed", "no base_hz"), want: hertz, is: 120.0},
		{header: "Ripple", cell: "n/a", column: changes("values", map[string]string{"N/A": ""}), want: func(p *part.Part) any { return p.RippleMA == nil }, is: true},
		{header: "Type", cell: "Elko", code: catalogue.CodeChoice, says: "say in the column's values"},
		{header: "Type", cell: "Elko", column: changes("values", map[string]string{"elko": "electrolytic"}), want: func(p *part.Part) any { return p.Technology }, is: part.Electrolytic},
		{header: "Style", cell: "Snap-In", want: func(p *part.Part) any { return p.Style }, is: part.SnapIn},
		{header: "Style", cell: "box", code: catalogue.CodeContradiction, says: "an electrolytic is no box"},
		{header: "Part No", cell: strings.Repeat("x", 81), code: catalogue.CodeRange, says: "at most 80 characters"},
		{header: "Part No", cell: "  'HA'  ", want: func(p *part.Part) any { return p.PartNumber }, is: "'HA'"}, {header: "Part No", cell: "'=HA", want: func(p *part.Part) any { return p.PartNumber }, is: "=HA"},
		{header: "Part No", cell: "HA\x01", code: catalogue.CodeValue, says: "control characters"}, {header: "Part No", cell: "HA\xb5", code: catalogue.CodeEncoding, says: "not UTF-8"},
		{header: "Stock", cell: "40 pcs", want: stock, is: 40}, {header: "Stock", cell: "12.5", code: catalogue.CodeValue, says: "whole number"}, {header: "Stock", cell: ">100", code: catalogue.CodeValue, says: "such as 25"},
		{header: "Stock", cell: "-1", code: catalogue.CodeValue, says: "negative"}, {header: "Stock", cell: "yes", column: changes("values", map[string]string{"yes": "10"}), want: stock, is: 10},
		{header: "Stock", cell: `"1,234"`, code: catalogue.CodeValue, says: "declare the decimal comma"}, {header: "Stock", cell: `"1,234"`, changes: changes("decimal", "point", "grouping", "comma"), want: stock, is: 1234},
		{header: "Price", cell: "£4.63", want: price, is: part.Money(4_630_000)}, {header: "Price", cell: "4.63 GBP", want: price, is: part.Money(4_630_000)},
		{header: "Price", cell: "€4.63", code: catalogue.CodeContradiction, says: `beside "€", which is not GBP`},
		{header: "Price", cell: "46.30", column: changes("per", 100), want: price, is: part.Money(463_000)}, {header: "Price", cell: "0.000001", column: changes("per", 100), code: catalogue.CodeValue, says: "six decimals once it is divided"},
		{header: "Price", cell: `"4,63"`, code: catalogue.CodeValue, says: "declare the decimal comma"}, {header: "Price", cell: `"1.234,56"`, changes: changes("decimal", "comma", "grouping", "point"), want: price, is: part.Money(1_234_560_000)},
		{header: "Price", cell: "4.1234567", code: catalogue.CodeValue, says: "six decimals"}, {header: "Price", cell: "POA", code: catalogue.CodeValue, says: ""}, {header: "Price", cell: "", code: catalogue.CodeRequired, says: "must have a price"},
		{header: "Price", cell: ".5", want: price, is: part.Money(500_000)}, {header: "Price", cell: "5.", changes: changes("decimal", "point"), want: price, is: part.Money(5_000_000)},
		{header: "Price", cell: "1.234", code: catalogue.CodeValue, says: "declare which"}, {header: "Price", cell: "0", want: price, is: part.Money(0)},
	}
	for _, tt := range tests {
		t.Run(tt.header+" "+tt.cell, func(t *testing.T) {
			t.Parallel()
			data, m := oneCell(t, tt.header, tt.cell, tt.column, tt.changes)
			report := check(t, data, m, catalogue.Options{})
			if tt.code != "" {
				if report.Errors == 0 || report.Parts != 1 || report.BadRows != 1 {
					t.Fatalf("%d errors, %d parts, %d bad rows", report.Errors, report.Parts, report.BadRows)
				}
				f := report.Findings[0]
				if f.Code != tt.code || f.Line != 2 || f.Header != tt.header || !strings.Contains(f.Message, tt.says) {
					t.Errorf("%s: %s", f.Code, f)
				}
				return
			}
			got := read(t, []byte(data), m, catalogue.Options{})
			if v := tt.want(&got[0]); v != tt.is {
				t.Errorf("%v, want %v", v, tt.is)
			}
		})
	}
}

func uf(p *part.Part) any     { return p.CapacitanceUF }
func volts(p *part.Part) any  { return p.RatedV }
func plus(p *part.Part) any   { return *p.TolPlusPct }
func length(p *part.Part) any { return *p.LengthMM }
func ripple(p *part.Part) any { return *p.RippleMA }
func hertz(p *part.Part) any  { return *p.BaseHz }
func stock(p *part.Part) any  { return p.Offers[0].Stock }
func price(p *part.Part) any  { return p.Offers[0].Breaks[0].UnitPrice }

func changes(pairs ...any) map[string]any {
	m := map[string]any{}
	for i := 0; i < len(pairs); i += 2 {
		m[pairs[i].(string)] = pairs[i+1]
	}
	return m
}

// oneCell puts a cell into the first row of the list, and changes the map.
func oneCell(t *testing.T, header, cell string, column, changed map[string]any) (string, catalogue.Map) {
	t.Helper()
	lines := strings.Split(list, "\n")
	cells := strings.Split(lines[1], ",")
	for i, h := range strings.Split(lines[0], ",") {
		if h == header {
			cells[i] = cell
		}
	}
	lines[1] = strings.Join(cells, ",")
	var m map[string]any
	if err := json.Unmarshal([]byte(listMap), &m); err != nil {
		t.Fatal(err)
	}
	var columns []any
	for _, c := range m["columns"].([]any) {
		c := c.(map[string]any)
		for k, v := range column {
			if c["header"] == header {
				c[k] = v
			}
		}
		if changed["columns"] == "no tolerance" && c["to"] == "tolerance_pct" {
			continue
		}
		columns = append(columns, c)
	}
	changed = maps.Clone(changed)
	if changed["columns"] != nil {
		delete(changed, "columns")
		lines[2] = strings.Replace(lines[2], "47µ", "470", 1) // in a code column a code
	}
	if changed["fixed"] != nil {
		delete(changed, "fixed")
		delete(m["fixed"].(map[string]any), "base_hz")
	}
	m["columns"] = columns
	data, err := json.Marshal(m)
	if err != nil {
		t.Fatal(err)
	}
	text := strings.Join(lines, "\n")
	if changed["decimal"] == "comma" {
		text = strings.NewReplacer("3.20", "3", "4.63", "4", "0.41 A", "410 mA").Replace(text)
	}
	return text, mapOf(t, string(data), changed)
}

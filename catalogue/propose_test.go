package catalogue_test

import (
	"bytes"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/catalogue"
)

func propose(t *testing.T, data []byte) catalogue.Proposal {
	t.Helper()
	p, err := catalogue.Propose(t.Context(), bytes.NewReader(data), int64(len(data)), catalogue.Options{})
	if err != nil {
		t.Fatal(err)
	}
	return p
}

// A German supplier's list: names, units in brackets, prices by quantity, its
// semicolons, commas and encoding are proposed; what is missing is said.
func TestProposeDraftsAMap(t *testing.T) {
	t.Parallel()
	const text = "Preisliste Waldmoor Teile, gültig ab Januar\n\nArt.-Nr.;Hersteller;Hersteller-Nr.;Kapazität (µF);Spannung [V];Toleranz;Abmessungen;Rippelstrom (mA);Temperaturbereich;Lebensdauer;Preis (EUR);ab 10;ab 100;Bestand;Farbe\n" +
		"WM-1;Brackenholme;YD-22;22;450;±20 %;18x31,5;240;-40/+105 °C;5000 h;4,63;4,20;3,85;1.250;blau\n"
	p := propose(t, windows1252(t, text))
	want := []catalogue.Column{{Header: "Art.-Nr.", To: "sku"}, {Header: "Hersteller", To: "maker"}, {Header: "Hersteller-Nr.", To: "part_number"}, {Header: "Kapazität (µF)", To: "capacitance_uf", Unit: "µF"},
		{Header: "Spannung [V]", To: "rated_v", Unit: "V"}, {Header: "Toleranz", To: "tolerance_pct"}, {Header: "Abmessungen", To: "size_mm"}, {Header: "Rippelstrom (mA)", To: "ripple_ma", Unit: "mA"},
		{Header: "Temperaturbereich", To: "temperature_c"}, {Header: "Lebensdauer", To: "life_at"}, {Header: "Preis (EUR)", To: "unit_price"}, {Header: "ab 10", To: "unit_price", FromQty: 10},
		{Header: "ab 100", To: "unit_price", FromQty: 100}, {Header: "Bestand", To: "stock"}}
	if diff := cmp.Diff(want, p.Map.Columns); diff != "" {
		t.Error(diff)
	}
	m := p.Map
	if m.Separator != "semicolon" || m.HeaderRow != 3 || m.Decimal != "comma" || m.Grouping != "point" || m.Encoding != "windows-1252" || m.Fixed["currency"] != "EUR" || m.Fixed["pack"] != "1" {
		t.Errorf("%+v", m)
	}
	if diff := cmp.Diff([]string{"Farbe"}, p.Unmatched); diff != "" {
		t.Error(diff)
	}
	if len(p.Faults) != 2 || !strings.Contains(p.Faults[0].Message, "nothing feeds technology, style,") || !strings.Contains(p.Faults[1].Message, "nothing feeds supplier, lead_days,") {
		t.Errorf("%+v", p.Faults)
	}
	// With what it asks for, the draft imports the file.
	for member, value := range map[string]string{"technology": "electrolytic", "style": "radial", "supplier": "Waldmoor Teile", "lead_days": "6"} {
		m.Fixed[member] = value
	}
	got := read(t, windows1252(t, text), m, catalogue.Options{})
	if o := got[0].Offers[0]; len(got) != 1 || *got[0].LengthMM != 31.5 || *got[0].Life.RatedH != 5000 || o.Stock != 1250 || len(o.Breaks) != 3 || o.Breaks[2].UnitPrice != 3_850_000 {
		t.Errorf("%+v", got)
	}
}

// An export of our own needs no map from anybody.
func TestProposeKnowsItsOwnExports(t *testing.T) {
	t.Parallel()
	series, parts, err := catalogue.Starter()
	if err != nil {
		t.Fatal(err)
	}
	for _, way := range ways {
		data := exported(t, parts, way.e)
		p := propose(t, data)
		if len(p.Faults) > 0 || p.Map.Rows != "detail" {
			t.Errorf("%s: %+v", way.name, p)
			continue
		}
		if diff := cmp.Diff(parts, read(t, data, p.Map, catalogue.Options{Series: among(series)})); diff != "" {
			t.Errorf("%s\n%s", way.name, diff)
		}
	}
}

func TestProposeReadsWorkbooksAndRefusesTheRest(t *testing.T) {
	t.Parallel()
	data, err := os.ReadFile(filepath.Join("..", "testdata", "imports", "list.libreoffice.xlsx"))
	if err != nil {
		t.Fatal(err)
	}
	if p := propose(t, data); len(p.Map.Columns) != 8 || p.Map.Sheet != "Sheet1" {
		t.Errorf("%+v", p)
	}
	if _, err := catalogue.Propose(t.Context(), strings.NewReader("%PDF-1.7"), 8, catalogue.Options{}); err == nil {
		t.Error("a PDF was taken")
	}
	if _, err := catalogue.Propose(t.Context(), strings.NewReader("\n\n"), 2, catalogue.Options{}); err == nil {
		t.Error("a file without rows was taken")
	}
	doubtful := propose(t, []byte("Maker,Part No,Stock\nSedgemere,A,\"1,234\"\n"))
	if doubtful.Map.Decimal != "" || !strings.Contains(strings.Join(doubtful.Doubts, " "), "do not tell which sign") {
		t.Errorf("a locale was guessed: %+v", doubtful)
	}
}

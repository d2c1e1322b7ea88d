package catalogue_test

import (
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/catalogue"
)

// A list as a German supplier sends it, with what such lists have wrong in
// them. Supplier, makers and parts are invented.
const ownersList = `Waldmoor Teile GmbH - Preisliste 3/2026;;;;;;;;;;;;
;;;;;;;;;;;;
Artikelnummer;Hersteller;Hersteller-Nr.;Bauform;Kapazität;Spannung;Toleranz;Abmessungen;Temperatur;Lebensdauer;Rippelstrom;Preis (EUR);ab 10;Bestand;Farbe
WM-1001;Brackenholme;YD-22/450;axial;22 µF;450 V;-10/+50%;18x38;-40/+85;5.000 h;240 mA;4,63;4,20;1.250;blau
WM-1002;Brackenholme;YD-47/450;axial;47µ;450V;±20%;21x38;85;5000h;350;6,10;5,50;80;
WM-1003;Brackenholme;YD-100/450;Snap In;100;450 VDC;M;25 x 50;-40..+105;10000h@105;780mA;12,40;13,00;auf Anfrage;
WM-1004;Brackenholme;YD-47/450;axial;47µF;450V;±20%;21x38;85;5000h;350 mA;6,10;5,50;80;
WM-1005;Tarnside;TX2-100N;radial;0,1 µF;275 VAC;10%;18x11x7,5;100;;;0,49;0,41;2.000;
WM-1006;Tarnside;FB-47N;;47nF;630V;K;18x6;105;;;1.23;;500;
WM-1007;;FB-100N;radial;104;630V;K;18;105;;;0,55;0,49;12,5;
;;;;;;;;;;;;;;
Summe;;;;;;;;;;;;;3.910;
`

// From a file nobody has seen before: the draft of a map, what it lacks, and
// findings that say what to do.
func TestWhatAShopOwnerIsTold(t *testing.T) {
	t.Parallel()
	p := propose(t, []byte(ownersList))
	doubts := []string{
		"line 3 was taken for the header",
		"of the first rows' numbers 15 have a comma for their decimal sign and 1 a point: look at the fewer",
		"by the first rows the decimal sign is a comma; see whether that is right",
		"by the first rows a point parts off thousands; see whether that is right",
		"no column gives pack; 1 was taken for every offer",
		"no column gives min_qty; 1 was taken for every offer",
	}
	if diff := cmp.Diff(doubts, p.Doubts); diff != "" {
		t.Error(diff)
	}
	lacking := "/columns: nothing feeds technology, which every part needs: map a column to each, or put it in fixed\n" +
		"/fixed: nothing feeds supplier, lead_days, which every offer needs: map a column to each, or put it in fixed\n"
	var faults strings.Builder
	for _, f := range p.Faults {
		faults.WriteString(f.String() + "\n")
	}
	if diff := cmp.Diff(lacking, faults.String()); diff != "" {
		t.Error(diff)
	}
	for member, value := range map[string]string{"technology": "electrolytic", "supplier": "Waldmoor Teile", "lead_days": "6"} {
		p.Map.Fixed[member] = value
	}
	want := `file, column O (Farbe): nothing of the map takes this column; what it holds is not imported
line 5, column K (Rippelstrom): has no unit; write it, or declare what the column is in; got "350"
line 6, column E (Kapazität): has no unit, and from 1 up may be in pF or in µF; write the unit, or declare what the column is in; got "100"
line 6, column M (ab 10): the unit price does not rise with the quantity; got "13,00"
line 6, column N (Bestand): must be a whole number, such as 25; a word can be given a meaning in the column's values; got "auf Anfrage"
line 7, column C (Hersteller-Nr.): the part is in line 5 already; if its further rows are further offers or price breaks, say so in the map's rows; got "YD-47/450"
line 8, column F (Spannung): is an alternating voltage, and a direct one is expected: the two are not rated alike; got "275 VAC"
line 8, column H (Abmessungen): has three lengths; say in the column's order which is which; got "18x11x7,5"
line 9, column D (Bauform): style must not be blank
line 9, column L (Preis (EUR)): has a "." without three digits behind it, and it is declared to part off thousands; got "1.23"
line 10, column B (Hersteller): maker must not be blank
line 10, column E (Kapazität): has no unit, and from 1 up may be in pF or in µF; write the unit, or declare what the column is in; got "104"
line 10, column H (Abmessungen): must have as many lengths as the column's order names: diameter_mm × length_mm; got "18"
line 10, column N (Bestand): must be a whole number; got "12,5"
line 12, column C (Hersteller-Nr.): part_number must not be blank, and more is missing beside it; if the row is no part, but a total or a heading, leave it out by the map's skip
`
	report := check(t, ownersList, p.Map, catalogue.Options{})
	var told strings.Builder
	for _, f := range report.Findings {
		told.WriteString(f.String() + "\n")
	}
	if diff := cmp.Diff(want, told.String()); diff != "" {
		t.Error(diff)
	}
	if report.Rows != 8 || report.Parts != 1 || report.BadParts != 7 {
		t.Errorf("%+v", report)
	}
	first := catalogue.Tally{Code: catalogue.CodeValue, Column: "K", Header: "Rippelstrom", Line: 5, Count: 1}
	second := catalogue.Tally{Code: catalogue.CodeValue, Column: "E", Header: "Kapazität", Line: 6, Count: 2}
	if diff := cmp.Diff([]catalogue.Tally{first, second}, report.Tallies[:2]); diff != "" {
		t.Error(diff)
	}
}

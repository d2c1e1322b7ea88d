package jobsheet_test

import (
	"context"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"unicode/utf8"

	"coldrise/api/jobsheet"
	"coldrise/catalogue"
	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/part"
	"coldrise/domain/plan"
)

func sheet(t *testing.T, demo string) (*plan.Plan, string) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join("..", "..", "testdata", "amps", demo+".json"))
	if err != nil {
		t.Fatal(err)
	}
	a, err := amp.Parse(text)
	if err != nil {
		t.Fatal(err)
	}
	series, parts, err := catalogue.Starter()
	if err != nil {
		t.Fatal(err)
	}
	s, err := plan.Assess(context.Background(), a, derate.Default())
	if err != nil {
		t.Fatal(err)
	}
	p, err := plan.Make(context.Background(), s, plan.Catalogue{Series: series, Parts: parts})
	if err != nil {
		t.Fatal(err)
	}
	return p, jobsheet.Text(p)
}

// flat is a sheet with its line breaks taken out, to look for sentences in.
func flat(s string) string { return strings.Join(strings.Fields(s), " ") }

// What a technician works from must be on the sheet: each position with its
// action, each order line, each assumption and each caution.
func TestTheSheetLeavesNothingOut(t *testing.T) {
	t.Parallel()
	for _, demo := range []string{"fernhollow-6", "saltmarsh-40", "ravensgill-100", "bare-voltages"} {
		t.Run(demo, func(t *testing.T) {
			t.Parallel()
			p, text := sheet(t, demo)
			whole := flat(text)
			want := []string{p.Amplifier, p.Order.Total.String()}
			for _, x := range p.Positions {
				want = append(want, x.Ref, x.Why)
				if x.Pick != nil {
					want = append(want, x.Pick.PartNumber)
				}
				for _, r := range x.Refused {
					for _, c := range r.Failed {
						want = append(want, c.Text)
					}
				}
			}
			for _, l := range p.Order.Lines {
				want = append(want, l.SKU, l.Total.String(), strings.Join(l.Refs, ", "))
			}
			for _, a := range p.Assumptions {
				want = append(want, a.Text, a.Pointer)
			}
			want = append(want, p.Cautions...)
			for _, w := range want {
				if !strings.Contains(whole, flat(w)) {
					t.Errorf("not on the sheet: %q", w)
				}
			}
		})
	}
}

// A sheet is read on a bench: lines that fit, and no figure parted from its unit.
func TestLinesFitAndFiguresKeepTheirUnits(t *testing.T) {
	t.Parallel()
	_, text := sheet(t, "saltmarsh-40")
	lines := strings.Split(text, "\n")
	for i, l := range lines {
		if n := utf8.RuneCountInString(l); n > 130 {
			t.Errorf("line %d has %d columns: %s", i+1, n, l)
		}
		next := ""
		if i+1 < len(lines) {
			next = strings.TrimSpace(lines[i+1])
		}
		for _, unit := range []string{"V", "mA", "µF", "Ω", "°C"} {
			if l != "" && l[len(l)-1] >= '0' && l[len(l)-1] <= '9' && (next == unit || strings.HasPrefix(next, unit+" ") || strings.HasPrefix(next, unit+";")) {
				t.Errorf("line %d ends in a figure whose unit %q begins the next", i+1, unit)
			}
		}
	}
}

func TestAVoltageThatStaysIsNotGivenSeconds(t *testing.T) {
	t.Parallel()
	_, text := sheet(t, "saltmarsh-40")
	if !strings.Contains(flat(text), "output tubes pulled (above the fitted rating for as long as it lasts)") {
		t.Error("with the tubes pulled the voltage stays, and the sheet does not say so")
	}
}

// What is assumed of a picked part stands under it, with what that rests on.
func TestWhatIsAssumedOfAPartIsPrinted(t *testing.T) {
	t.Parallel()
	p, _ := sheet(t, "saltmarsh-40")
	p.Positions[0].Pick.Assumed = []part.Figure{
		{Name: "life/rated_h", Value: 1000, Unit: "h", From: part.OfDefault, Source: "common practice"},
		{Name: "frequency_factors", From: part.OfDefault, Source: "a maker's table"}}
	const want = "assumed: rated h 1000 h (common practice); frequency factors (a maker's table)"
	if text := flat(jobsheet.Text(p)); !strings.Contains(text, want) {
		t.Errorf("no %q", want)
	}
}

func TestAComparisonTellsEachChangeOnce(t *testing.T) {
	t.Parallel()
	price := part.Money(1_260_000)
	fails := derate.Check{Name: "cold_start", Text: "sees 539 V; rated 500 V: 39 V over"}
	also := derate.Check{Name: "body", Text: "2 mm too much"}
	c := &plan.Comparison{Amplifier: "Saltmarsh 40", Changed: 2,
		First:  plan.ComparedSide{Policy: derate.Policy{Name: "everyday"}, Status: plan.Made, Total: 5_000_000, Currency: "GBP"},
		Second: plan.ComparedSide{Policy: derate.Policy{Name: "thrifty"}, Status: plan.Incomplete, Total: 4_000_000, Currency: "GBP"},
		Rules:  []plan.RuleChange{{Member: "use_surge", First: "false", Second: "true"}},
		Positions: []plan.PositionChange{
			{Ref: "C20", Role: amp.Reservoir, First: plan.Choice{Action: plan.Keep}, Second: plan.Choice{Action: plan.Keep}},
			{Ref: "C22", Role: amp.Smoothing, Changed: true, First: plan.Choice{Action: plan.Replace, Maker: "M", PartNumber: "A", Text: "16 µF 550 V axial", UnitPrice: &price},
				Second: plan.Choice{Action: plan.NoPart}, Why: "M A does not pass under thrifty: " + fails.Text, Against: []derate.Check{fails, also}},
			{Ref: "C23", Role: amp.Smoothing, Changed: true, First: plan.Choice{Action: plan.NoPart}, Second: plan.Choice{Action: plan.Replace, Maker: "M", PartNumber: "B"},
				Why: "M B serves under thrifty, and not under everyday: " + fails.Text, Back: []derate.Check{fails, also}},
		}}
	text := flat(jobsheet.Comparison(c))
	for _, want := range []string{"Saltmarsh 40: everyday against thrifty", "order 5.00 GBP against 4.00 GBP (some position left without a part); 2 of 3 positions change",
		"use surge false against true", "C20 reservoir: the same, keep", "everyday: replace: M A, 16 µF 550 V axial, from 1.26 each", "also fails under thrifty: 2 mm too much",
		"fails under everyday: 2 mm too much", "it is no job sheet"} {
		if !strings.Contains(text, want) {
			t.Errorf("no %q in %s", want, text)
		}
	}
	if n := strings.Count(text, fails.Text); n != 2 {
		t.Errorf("each reason once: %d in %s", n, text)
	}
}

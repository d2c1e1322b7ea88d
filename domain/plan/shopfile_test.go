package plan_test

import (
	"slices"
	"testing"

	"coldrise/domain/derate"
	"coldrise/domain/part"
	"coldrise/domain/plan"
)

func ptr[T any](v T) *T { return &v }

// ordinary is an article as a shop's own file has it: no series, a temperature
// class, hours and a ripple current.
func ordinary(number string, uf, ratedV float64, price part.Money) part.Part {
	return part.Part{Maker: "Oxbow", PartNumber: number, Technology: part.Electrolytic, Style: part.Radial, CapacitanceUF: uf, RatedV: ratedV,
		Tolerance: part.Within(20, 20), RippleMA: ptr(900.0), DiameterMM: ptr(22.0), LengthMM: ptr(41.0),
		Ratings: part.Ratings{MaxC: ptr(105.0), Life: &part.Life{RatedH: ptr(3000.0)}},
		Offers: []part.Offer{{Supplier: "Oxbow Spares", SKU: number, Currency: "GBP", Pack: 1, MinQty: 1, Stock: 50, LeadDays: 1,
			Breaks: []part.Break{{MinQty: 1, UnitPrice: price}}}}}
}

// A shop's file without series is planned from, and says what was assumed; a
// cheaper article that lacks a required figure is never picked, and the refusal
// names the figure.
func TestAShopsOwnFileIsPlannedFrom(t *testing.T) {
	t.Parallel()
	good := ordinary("GOOD-33", 33, 550, 5_000_000)
	lacking := map[string]func(p *part.Part){
		"tol_plus_pct": func(p *part.Part) { p.TolPlusPct = nil },
		"length_mm":    func(p *part.Part) { p.LengthMM = nil },
		"ripple_ma":    func(p *part.Part) { p.RippleMA = nil },
		"max_c":        func(p *part.Part) { p.MaxC = nil; p.Life.RatedC = ptr(105.0) },
	}
	for missing, forget := range lacking {
		cheap := ordinary("CHEAP-33", 33, 550, 1_000_000)
		forget(&cheap)
		p := makePlan(t, demo(t, "saltmarsh-40"), derate.Default(), plan.Catalogue{Parts: []part.Part{good, cheap}})
		c20 := position(t, p, "C20")
		if c20.Pick == nil || c20.Pick.PartNumber != "GOOD-33" {
			t.Errorf("without %s: %+v", missing, c20.Pick)
			continue
		}
		var assumed []string
		for _, f := range c20.Pick.Assumed {
			assumed = append(assumed, f.Name)
			if f.From != part.OfDefault || f.Source == "" {
				t.Errorf("%+v", f)
			}
		}
		if want := []string{"base_hz", "frequency_factors", "life/core_rise_k", "life/model", "life/rated_c"}; !slices.Equal(assumed, want) {
			t.Errorf("assumed %v, want %v", assumed, want)
		}
		named := false
		for _, r := range c20.Refused {
			for _, c := range r.Failed {
				named = named || r.PartNumber == "CHEAP-33" && c.Outcome == derate.Unknown && slices.Contains(c.Missing, missing)
			}
		}
		if !named {
			t.Errorf("no refusal names %s: %+v", missing, c20.Refused)
		}
	}
}

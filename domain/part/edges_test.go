package part_test

import (
	"math"
	"testing"

	"coldrise/domain/part"
	"coldrise/domain/problem"
	"github.com/google/go-cmp/cmp"
)

// faultsOf gives where a part is at fault, beside a series or none.
func faultsOf(p part.Part, s *part.Series) []string {
	var l problem.List
	p.Check(&l, s)
	return pointers(l.Err("part"))
}

func table(rows ...float64) (t part.FrequencyTable) {
	for i := 0; i < len(rows); i += 2 {
		t = append(t, part.FrequencyFactor{Hz: rows[i], Factor: rows[i+1]})
	}
	return t
}

func temperatures(rows ...float64) (t part.TemperatureTable) {
	for i := 0; i < len(rows); i += 2 {
		t = append(t, part.TemperatureFactor{AmbientC: rows[i], Factor: rows[i+1]})
	}
	return t
}

// Each check at its limit and just beyond: the faults of a sound part with one change.
func TestChecksTurnAtTheirLimits(t *testing.T) {
	t.Parallel()
	box := func(p *part.Part) { p.Technology, p.Style = part.Film, part.Box }
	offer := func(p *part.Part, breaks ...part.Break) {
		p.Offers = []part.Offer{{Supplier: "Oxbow Spares", SKU: "A", Currency: "AZA", Pack: 1, MinQty: breaks[0].MinQty, Breaks: breaks}}
	}
	tests := []struct {
		name   string
		change func(p *part.Part)
		want   []string
	}{
		{"nothing changed", func(*part.Part) {}, nil},
		{"surge at rated", func(p *part.Part) { p.SurgeV = ptr(450.0) }, nil},
		{"surge below rated", func(p *part.Part) { p.SurgeV = ptr(449.9) }, []string{"/surge_v"}},
		{"surge at 1.5 × rated", func(p *part.Part) { p.SurgeV = ptr(675.0) }, nil},
		{"surge beyond", func(p *part.Part) { p.SurgeV = ptr(675.1) }, []string{"/surge_v"}},
		{"AC at the direct volts", func(p *part.Part) { p.Technology, p.RatedVAC = part.SafetyX, ptr(450.0) }, nil},
		{"AC above them", func(p *part.Part) { p.Technology, p.RatedVAC = part.SafetyX, ptr(450.1) }, []string{"/rated_v_ac"}},
		{"volts that could not be read have their fault already", func(p *part.Part) { p.RatedV, p.SurgeV = 0, ptr(450.0) }, nil},
		{"a thickness of a box", func(p *part.Part) { box(p); p.ThicknessMM = ptr(5.0) }, nil},
		{"of a disc", func(p *part.Part) { box(p); p.Style, p.ThicknessMM = part.Disc, ptr(5.0) }, nil},
		{"of an axial", func(p *part.Part) { p.ThicknessMM = ptr(5.0) }, []string{"/thickness_mm"}},
		{"an ESR 2.49 times what tan δ gives", func(p *part.Part) { p.BaseHz, p.TanDelta, p.ESROhm = ptr(100.0), ptr(0.1), ptr(18.0) }, nil},
		{"an ESR 2.52 times", func(p *part.Part) { p.BaseHz, p.TanDelta, p.ESROhm = ptr(100.0), ptr(0.1), ptr(18.2) }, []string{"/esr_ohm"}},
		{"an ESR far below it", func(p *part.Part) { p.BaseHz, p.TanDelta, p.ESROhm = ptr(100.0), ptr(0.1), ptr(0.5) }, nil},
		{"free", func(p *part.Part) { offer(p, part.Break{MinQty: 1}) }, nil},
		{"a negative price", func(p *part.Part) { offer(p, part.Break{MinQty: 1, UnitPrice: -1}) }, []string{"/offers/0/breaks/0/unit_price"}},
		{"the dearest", func(p *part.Part) { offer(p, part.Break{MinQty: 1, UnitPrice: part.MaxMoney}) }, nil},
		{"dearer", func(p *part.Part) { offer(p, part.Break{MinQty: 1, UnitPrice: part.MaxMoney + 1}) }, []string{"/offers/0/breaks/0/unit_price"}},
		{"a break at the same price", func(p *part.Part) {
			offer(p, part.Break{MinQty: 5, UnitPrice: 3}, part.Break{MinQty: 10, UnitPrice: 3})
		}, nil},
		{"a letter beyond Z", func(p *part.Part) { offer(p, part.Break{MinQty: 1}); p.Offers[0].Currency = "AZ[" }, []string{"/offers/0/currency"}},
		{"a sign before A", func(p *part.Part) { offer(p, part.Break{MinQty: 1}); p.Offers[0].Currency = "AZ@" }, []string{"/offers/0/currency"}},
		{"no breaks", func(p *part.Part) { p.Offers = []part.Offer{{Supplier: "O", SKU: "A", Currency: "GBP", MinQty: 5}} }, nil},
		{"as cold as hot", func(p *part.Part) { p.MinC, p.MaxC = ptr(40.0), ptr(40.0) }, []string{"/min_c"}},
		{"a degree between", func(p *part.Part) { p.MinC, p.MaxC = ptr(39.0), ptr(40.0) }, nil},
		{"a law of its root alone", func(p *part.Part) { p.Leakage = &part.Leakage{PerRootCV: 0.1, Minutes: 1} }, nil},
		{"a law that only adds", func(p *part.Part) { p.Leakage = &part.Leakage{PlusUA: 5, Minutes: 1} }, nil},
		{"a law of a floor", func(p *part.Part) { p.Leakage = &part.Leakage{FloorUA: 3, Minutes: 1} }, nil},
		{"stood for until it wants reforming", func(p *part.Part) { p.Storage = &part.Storage{ReformAfterYears: ptr(2.0), MaxYears: ptr(2.0)} }, nil},
		{"a frequency twice", func(p *part.Part) { p.BaseHz, p.FrequencyFactors = ptr(100.0), table(100, 1, 100, 1) }, []string{"/frequency_factors/1/hz"}},
		{"a flat table", func(p *part.Part) { p.BaseHz, p.FrequencyFactors = ptr(100.0), table(100, 1, 200, 1) }, nil},
		{"1 but for rounding at its base", func(p *part.Part) { p.BaseHz, p.FrequencyFactors = ptr(100.0), table(100, 1.0049) }, nil},
		{"not 1 at its base", func(p *part.Part) { p.BaseHz, p.FrequencyFactors = ptr(100.0), table(100, 1.0051) }, []string{"/frequency_factors"}},
		{"an ambient twice", func(p *part.Part) { p.MaxC, p.TemperatureFactors = ptr(85.0), temperatures(85, 1, 85, 1) }, []string{"/temperature_factors/1/ambient_c"}},
		{"a flat table of ambients", func(p *part.Part) { p.MaxC, p.TemperatureFactors = ptr(85.0), temperatures(60, 1, 85, 1) }, nil},
		{"1 but for rounding at its hottest", func(p *part.Part) { p.MaxC, p.TemperatureFactors = ptr(85.0), temperatures(85, 1.0049) }, nil},
		{"more than 1 at its hottest", func(p *part.Part) { p.MaxC, p.TemperatureFactors = ptr(85.0), temperatures(85, 1.0051) }, []string{"/temperature_factors"}},
		{"a table and no class", func(p *part.Part) { p.TemperatureFactors = temperatures(60, 2) }, nil},
		{"the largest rise of a model", func(p *part.Part) { p.Life = &part.Life{Model: part.TenKelvinRipple, CoreRiseK: ptr(20.0)} }, nil},
		{"beyond it", func(p *part.Part) { p.Life = &part.Life{Model: part.TenKelvinRipple, CoreRiseK: ptr(20.1)} }, []string{"/life/core_rise_k"}},
		{"beyond it by the plain rule, which has none", func(p *part.Part) { p.Life = &part.Life{Model: part.TenKelvin, CoreRiseK: ptr(20.1)} }, nil},
		{"beyond it of no model", func(p *part.Part) { p.Life = &part.Life{CoreRiseK: ptr(20.1)} }, nil},
		{"a constant of no model at all", func(p *part.Part) { p.Life = &part.Life{VoltageFrom: ptr(0.6)} }, []string{"/life/voltage_from"}},
		{"a constant of the model a series may give", func(p *part.Part) { p.Series, p.Life = "HA", &part.Life{VoltageFrom: ptr(0.6)} }, nil},
		{"a table on the base a series may give", func(p *part.Part) { p.Series, p.FrequencyFactors = "HA", table(120, 1) }, nil},
		{"rated at its class", func(p *part.Part) { p.MaxC, p.Life = ptr(85.0), &part.Life{RatedC: ptr(85.0)} }, nil},
	}
	for _, tt := range tests {
		p := part.Part{Maker: "Sedgemere", PartNumber: "1", Technology: part.Electrolytic, Style: part.Axial, CapacitanceUF: 22, RatedV: 450}
		tt.change(&p)
		if diff := cmp.Diff(tt.want, faultsOf(p, nil)); diff != "" {
			t.Errorf("%s: %s", tt.name, diff)
		}
	}
}

// Beside a series: its own class below what the series' table grants in cooler
// air, and its own coldest above the series' hottest.
func TestAPartsClassIsHeldAgainstItsSeries(t *testing.T) {
	t.Parallel()
	s := part.Series{Name: "HA", Maker: "M", Technology: part.Electrolytic, Ratings: part.Ratings{MaxC: ptr(45.0), TemperatureFactors: temperatures(30, 2, 45, 1)}}
	for _, tt := range []struct {
		name string
		own  part.Ratings
		want []string
	}{
		{"below, where the table grants 1.33", part.Ratings{MaxC: ptr(40.0)}, []string{"/max_c"}},
		{"above", part.Ratings{MaxC: ptr(50.0)}, nil},
		{"below, with a table of its own", part.Ratings{MaxC: ptr(40.0), TemperatureFactors: temperatures(40, 1)}, nil},
		{"its coldest at the series' hottest", part.Ratings{MinC: ptr(45.0)}, []string{"/min_c"}},
		{"nothing of its own", part.Ratings{}, nil},
	} {
		p := part.Part{Maker: "M", Series: "HA", Technology: part.Electrolytic, RatedV: 450, Ratings: tt.own}
		if diff := cmp.Diff(tt.want, faultsOf(p, &s)); diff != "" {
			t.Errorf("%s: %s", tt.name, diff)
		}
	}
	// A series at fault by itself is not the part's fault.
	s.MinC = ptr(60.0)
	p := part.Part{Maker: "M", Series: "HA", Technology: part.Electrolytic, RatedV: 450}
	if got := faultsOf(p, &s); got != nil {
		t.Errorf("%v", got)
	}
}

// What the part states itself, and the ends of what is assumed.
func TestEffectiveFiguresAtTheirEnds(t *testing.T) {
	t.Parallel()
	p := part.Part{Technology: part.Electrolytic, CapacitanceUF: 1, RatedV: 16, DiameterMM: ptr(5.0), LengthMM: ptr(11.0),
		Ratings: part.Ratings{FrequencyFactors: table(120, 1), TemperatureFactors: temperatures(85, 1)}}
	e := p.Effective(nil)
	for _, tt := range []struct {
		f    part.Figure
		want part.Figure
	}{
		{e.CapacitanceUF, part.Figure{Name: "capacitance_uf", Value: 1, Unit: "µF", From: part.OfPart, Source: "the part's own"}},
		{e.RatedV, part.Figure{Name: "rated_v", Value: 16, Unit: "V", From: part.OfPart, Source: "the part's own"}},
		{e.DiameterMM, part.Figure{Name: "diameter_mm", Value: 5, Unit: "mm", From: part.OfPart, Source: "the part's own"}},
		{e.LengthMM, part.Figure{Name: "length_mm", Value: 11, Unit: "mm", From: part.OfPart, Source: "the part's own"}},
		{e.FrequencyFrom, part.Figure{Name: "frequency_factors", From: part.OfPart, Source: "the part's own"}},
		{e.TemperatureFrom, part.Figure{Name: "temperature_factors", From: part.OfPart, Source: "the part's own"}},
	} {
		if diff := cmp.Diff(tt.want, tt.f); diff != "" {
			t.Error(diff)
		}
	}
	if e.BaseHz.Value != 10000 || e.LeakageUA.Value != 4 || e.LeakageMin.Value != 1 {
		t.Errorf("assumed up to 100 V: %+v %+v %+v", e.BaseHz, e.LeakageUA, e.LeakageMin)
	}
	s := part.Series{Name: "S", Ratings: part.Ratings{FrequencyFactors: table(100, 1), TemperatureFactors: temperatures(85, 1)}}
	bare := part.Part{Technology: part.Electrolytic, CapacitanceUF: 1, RatedV: 450}
	if e := bare.Effective(&s); e.FrequencyFrom.From != part.OfSeries || e.TemperatureFrom.From != part.OfSeries || len(e.Frequency) != 1 || len(e.Temperature) != 1 {
		t.Errorf("%+v", e)
	}
	for ratedV, k := range map[float64]float64{39.9: 1.18, 40: 1.22, 100: 1.22, 100.1: 1.40} {
		if got := part.PublishedFrequency(ratedV).At(10000); got != k {
			t.Errorf("%g V: %g at 10 kHz, want %g", ratedV, got, k)
		}
	}
	for ratedV, minutes := range map[float64]float64{100: 1, 100.1: 2} {
		p := part.Part{Technology: part.Electrolytic, CapacitanceUF: 10, RatedV: ratedV}
		if e := p.Effective(nil); e.LeakageMin.Value != minutes {
			t.Errorf("%g V: %+v", ratedV, e.LeakageMin)
		}
	}
	// Without a value or without volts neither ESR nor leakage follows.
	for _, p := range []part.Part{{Technology: part.Electrolytic, RatedV: 450}, {Technology: part.Electrolytic, CapacitanceUF: 10}} {
		e := p.Effective(nil)
		if e.LeakageUA.Known() || e.SurgeV.Known() != (p.RatedV > 0) || e.ESROhm.Known() != (p.CapacitanceUF > 0) || math.IsInf(e.ESROhm.Value, 0) {
			t.Errorf("%+v", e)
		}
	}
}

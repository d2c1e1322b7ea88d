package part_test

import (
	"math"
	"strings"
	"testing"

	"coldrise/domain/part"
)

// shopPart is what an ordinary shop file knows of an electrolytic.
func shopPart() part.Part {
	return part.Part{Maker: "M", PartNumber: "1", Technology: part.Electrolytic, Style: part.Radial, CapacitanceUF: 47, RatedV: 450,
		Tolerance: part.Within(20, 20), RippleMA: ptr(300.0), DiameterMM: ptr(18.0), LengthMM: ptr(32.0), Ratings: part.Ratings{MaxC: ptr(105.0)}}
}

func fullSeries() part.Series {
	return part.Series{Name: "S", Maker: "M", Technology: part.Electrolytic, Tolerance: part.Within(10, 50), SurgeRatio: ptr(1.12),
		Ratings: part.Ratings{MinC: ptr(-25.0), MaxC: ptr(85.0), BaseHz: ptr(100.0), FrequencyFactors: psmSI(),
			TemperatureFactors: part.TemperatureTable{{AmbientC: 50, Factor: 2}, {AmbientC: 85, Factor: 1}},
			Life:               &part.Life{Model: part.TenKelvinRipple, RatedH: ptr(8000.0), RatedC: ptr(85.0), CoreRiseK: ptr(6.0)},
			TanDelta:           ptr(0.10), Leakage: &part.Leakage{PerCV: 0.002, PlusUA: 100, Minutes: 5},
			Storage: &part.Storage{ReformAfterYears: ptr(3.0), MaxYears: ptr(6.0)}}}
}

// Each figure: the part's own before its series', its series' before an assumption.
func TestAPartOverridesItsSeriesAndTheRestIsAssumed(t *testing.T) {
	t.Parallel()
	p, s := shopPart(), fullSeries()
	own := part.Part{Technology: part.Electrolytic, CapacitanceUF: 47, RatedV: 450, Tolerance: part.Within(5, 6), SurgeV: ptr(520.0), RippleMA: ptr(300.0),
		ESROhm: ptr(2.0), LeakageUA: ptr(77.0), LeakageMin: ptr(3.0), DiameterMM: ptr(18.0), LengthMM: ptr(32.0),
		Ratings: part.Ratings{MinC: ptr(-55.0), MaxC: ptr(105.0), BaseHz: ptr(120.0), TanDelta: ptr(0.15),
			Life:    &part.Life{Model: part.TenKelvin, RatedH: ptr(2000.0), RatedC: ptr(105.0), CoreRiseK: ptr(5.0)},
			Storage: &part.Storage{ReformAfterYears: ptr(1.0), MaxYears: ptr(4.0)}}}
	bare := part.Part{Technology: part.Electrolytic, CapacitanceUF: 47, RatedV: 450}
	alone, with, over := p.Effective(nil), bare.Effective(&s), own.Effective(&s)
	type figures struct{ own, series, assumed float64 }
	tests := []struct {
		name string
		of   func(*part.Effective) part.Figure
		want figures
		tol  float64
	}{
		{"tol_minus_pct", func(e *part.Effective) part.Figure { return e.TolMinusPct }, figures{5, 10, 20}, 0},
		{"tol_plus_pct", func(e *part.Effective) part.Figure { return e.TolPlusPct }, figures{6, 50, 20}, 0},
		{"min_c", func(e *part.Effective) part.Figure { return e.MinC }, figures{-55, -25, 0}, 0},
		{"max_c", func(e *part.Effective) part.Figure { return e.MaxC }, figures{105, 85, 105}, 0},
		{"surge_v", func(e *part.Effective) part.Figure { return e.SurgeV }, figures{520, 504, 495}, 1e-9},
		{"base_hz", func(e *part.Effective) part.Figure { return e.BaseHz }, figures{120, 100, 120}, 0},
		{"tan_delta", func(e *part.Effective) part.Figure { return e.TanDelta }, figures{0.15, 0.10, 0.20}, 0},
		{"esr_ohm", func(e *part.Effective) part.Figure { return e.ESROhm }, figures{2, 3.386, 5.644}, 0.001},
		{"leakage_ua", func(e *part.Effective) part.Figure { return e.LeakageUA }, figures{77, 142.3, 1279}, 0.001},
		{"leakage_min", func(e *part.Effective) part.Figure { return e.LeakageMin }, figures{3, 5, 2}, 0},
		{"storage/reform_after_years", func(e *part.Effective) part.Figure { return e.ReformAfterYears }, figures{1, 3, 2}, 0},
		{"storage/max_years", func(e *part.Effective) part.Figure { return e.MaxYears }, figures{4, 6, 10}, 0},
	}
	for _, tt := range tests {
		for _, c := range []struct {
			e    *part.Effective
			want float64
			from part.Origin
		}{{&over, tt.want.own, part.OfPart}, {&with, tt.want.series, part.OfSeries}, {&alone, tt.want.assumed, part.OfDefault}} {
			f := tt.of(c.e)
			if f.Name != tt.name || math.Abs(f.Value-c.want) > tt.tol {
				t.Errorf("%s %s: %+v, want %g", tt.name, c.from, f, c.want)
			}
			// What the shop's part states itself, or nobody does, is not assumed.
			given := tt.name == "max_c" || strings.HasPrefix(tt.name, "tol_")
			if c.from == part.OfDefault && given {
				c.from = part.OfPart
			}
			if c.from == part.OfDefault && tt.name == "min_c" {
				c.from = part.Unknown
			}
			if f.From != c.from || f.Known() != (f.Source != "") {
				t.Errorf("%s: from %q (%s), want %q", tt.name, f.From, f.Source, c.from)
			}
		}
	}
	if over.Life.Model != part.TenKelvin || over.Life.RatedH != 2000 || over.Life.CoreRiseK != 5 || over.Life.RiseAssumed {
		t.Errorf("own life: %+v", over.Life)
	}
	if with.Life.Model != part.TenKelvinRipple || with.Life.RatedH != 8000 || with.Life.RatedC != 85 || with.Life.CoreRiseK != 6 {
		t.Errorf("series' life: %+v", with.Life)
	}
	if alone.Life.Model != part.TenKelvin || alone.Life.RatedH != 1000 || alone.Life.RatedC != 105 || alone.Life.CoreRiseK != 5 || !alone.Life.RiseAssumed {
		t.Errorf("assumed life: %+v", alone.Life)
	}
}

// Surge by the factors of IEC 60384-1, computed: not monotonic, for a 315 V part
// may see 362.25 V and a 316 V part 347.6 V.
func TestSurgeFactorsAndTheirBoundary(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct{ ratedV, surgeV float64 }{
		{160, 184}, {250, 287.5}, {315, 362.25}, {316, 347.6}, {350, 385}, {400, 440}, {450, 495}, {500, 550},
	} {
		p := part.Part{Technology: part.Electrolytic, RatedV: tt.ratedV}
		got := p.Effective(nil).SurgeV
		if math.Abs(got.Value-tt.surgeV) > 1e-9 || got.From != part.OfDefault || !strings.Contains(got.Source, "IEC 60384-1") {
			t.Errorf("surge of %g V: %+v, want %g", tt.ratedV, got, tt.surgeV)
		}
		if f := part.SurgeFactor(tt.ratedV); math.Abs(f*tt.ratedV-tt.surgeV) > 1e-9 {
			t.Errorf("factor at %g V = %g", tt.ratedV, f)
		}
	}
}

// What is required is never assumed.
func TestRequiredFiguresAreNeverAssumed(t *testing.T) {
	t.Parallel()
	for _, technology := range []part.Technology{part.Electrolytic, part.Film, part.SafetyX, part.SafetyY} {
		p := part.Part{Technology: technology}
		e := p.Effective(nil)
		for _, f := range []part.Figure{e.CapacitanceUF, e.RatedV, e.TolMinusPct, e.TolPlusPct, e.MaxC, e.DiameterMM, e.LengthMM, e.RippleMA, e.MinC} {
			if f.Known() || f.Value != 0 {
				t.Errorf("%s: %+v", technology, f)
			}
		}
	}
}

func TestNothingIsAssumedOfOtherConstructions(t *testing.T) {
	t.Parallel()
	p := part.Part{Technology: part.Film, CapacitanceUF: 0.1, RatedV: 630}
	e := p.Effective(nil)
	for _, f := range []part.Figure{e.BaseHz, e.TanDelta, e.ESROhm, e.LeakageUA, e.LeakageMin, e.ReformAfterYears, e.MaxYears, e.FrequencyFrom, e.TemperatureFrom} {
		if f.Known() {
			t.Errorf("%+v", f)
		}
	}
	if e.Life.RatedH != 0 || e.LifeFrom != nil || e.SurgeV.Value != 630 || e.Frequency != nil {
		t.Errorf("%+v", e)
	}
}

// A part states its hours and leaves model and rise to its series; another its
// model, and takes the published constants.
func TestLifeIsPutTogetherFigureByFigure(t *testing.T) {
	t.Parallel()
	s := fullSeries()
	hours := part.Part{Technology: part.Electrolytic, RatedV: 450, CapacitanceUF: 22, Ratings: part.Ratings{Life: &part.Life{RatedH: ptr(5000.0)}}}
	if l := hours.Effective(&s).Life; l.RatedH != 5000 || l.Model != part.TenKelvinRipple || l.RatedC != 85 || l.CoreRiseK != 6 {
		t.Errorf("%+v", l)
	}
	model := part.Part{Technology: part.Electrolytic, RatedV: 450, CapacitanceUF: 22,
		Ratings: part.Ratings{MaxC: ptr(105.0), Life: &part.Life{Model: part.TenKelvinRippleVoltage, RatedH: ptr(3000.0)}}}
	want := part.LifeLaw{Model: part.TenKelvinRippleVoltage, RatedH: 3000, RatedC: 105, CoreRiseK: 5, RiseAssumed: true,
		RippleBase: 2, RippleBaseOver: 4, VoltageExponent: 2.5, VoltageFrom: 0.6}
	if l := model.Effective(nil).Life; l != want {
		t.Errorf("%+v", l)
	}
	model.MaxC = ptr(85.0)
	want.RatedC, want.CoreRiseK, want.RippleBaseOver = 85, 10, 2
	if l := model.Effective(nil).Life; l != want {
		t.Errorf("an 85 °C part has no steeper base over its rating: %+v", l)
	}
	model.MaxC = ptr(125.0)
	if l := model.Effective(nil).Life; l.CoreRiseK != 3 {
		t.Errorf("%+v", l)
	}
	names := ""
	for _, f := range model.Effective(nil).LifeFrom {
		names += f.Name + " " + string(f.From) + "; "
	}
	const wantNames = "life/model part; life/rated_h part; life/rated_c assumed; life/core_rise_k assumed; " +
		"life/ripple_base assumed; life/ripple_base_over assumed; life/voltage_exponent assumed; life/voltage_from assumed; "
	if names != wantNames {
		t.Error(names)
	}
}

// The assumed base and table: 120 Hz above 100 V, 10 kHz below; nothing is
// granted above the base, and below it the published row (Vishay PSM-SI,
// doc 28340, table 4) is divided by itself at the base.
func TestAssumedFrequencyFactorsGrantNothingAboveTheBase(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name           string
		ratedV, baseHz float64 // 0: not given
		hz, want, tol  float64
	}{
		{"450 V, base assumed, 60 Hz", 450, 0, 60, (0.86 + 0.14*math.Log2(1.2)) / (1 + 0.13*math.Log2(1.2)), 1e-12},
		{"450 V, base assumed, at it", 450, 0, 120, 1, 1e-12},
		{"450 V, base assumed, 100 Hz: GE AP1 gives 0.92 to 0.97", 450, 0, 100, 0.945, 0.025},
		{"450 V, base assumed, 10 kHz", 450, 0, 10000, 1, 1e-12},
		{"450 V on 100 Hz, 50 Hz: the row itself", 450, 100, 50, 0.86, 1e-12},
		{"450 V on 100 Hz, 200 Hz", 450, 100, 200, 1, 1e-12},
		{"63 V, base assumed, 100 Hz", 63, 0, 100, 1 / 1.22, 1e-12},
		{"63 V, base assumed, 50 Hz", 63, 0, 50, 0.91 / 1.22, 1e-12},
		{"25 V, base assumed, 100 Hz", 25, 0, 100, 1 / 1.18, 1e-12},
		{"25 V on 100 kHz, 10 kHz: beyond the table nothing is lost", 25, 100000, 10000, 1, 1e-12},
		{"100 V counts as low", 100, 0, 100, 1 / 1.22, 1e-12},
	}
	for _, tt := range tests {
		p := part.Part{Technology: part.Electrolytic, RatedV: tt.ratedV, CapacitanceUF: 10}
		if tt.baseHz > 0 {
			p.BaseHz = &tt.baseHz
		}
		e := p.Effective(nil)
		if got := e.Frequency.At(tt.hz); math.Abs(got-tt.want) > tt.tol || e.FrequencyFrom.From != part.OfDefault {
			t.Errorf("%s: %.4f (%s), want %.4f", tt.name, got, e.FrequencyFrom.From, tt.want)
		}
		for i, row := range e.Frequency {
			if row.Factor > 1 || i > 0 && row.Factor < e.Frequency[i-1].Factor {
				t.Errorf("%s: %+v", tt.name, e.Frequency)
			}
		}
	}
}

// A part rated at 120 Hz in a series with a 100 Hz table.
func TestASeriesTableServesAPartOfAnotherBase(t *testing.T) {
	t.Parallel()
	s := fullSeries()
	p := part.Part{Technology: part.Electrolytic, CapacitanceUF: 22, RatedV: 450, Ratings: part.Ratings{BaseHz: ptr(120.0)}}
	e := p.Effective(&s)
	if k := e.Frequency.At(120); math.Abs(k-1) > 1e-12 || e.FrequencyFrom.From != part.OfSeries {
		t.Errorf("%g at its own base, from %s", k, e.FrequencyFrom.From)
	}
	if got, want := e.Frequency.At(100), 1/psmSI().At(120); math.Abs(got-want) > 1e-12 {
		t.Errorf("%g at 100 Hz, want %g", got, want)
	}
}

// A bare leakage figure of a part is read after its series' minutes, else
// after the assumed ones.
func TestABareLeakageFigureTakesItsMinutesFromTheSeries(t *testing.T) {
	t.Parallel()
	s := fullSeries()
	s.Leakage.Minutes = 2
	p := part.Part{Technology: part.Electrolytic, CapacitanceUF: 22, RatedV: 450, LeakageUA: ptr(50.0)}
	if e := p.Effective(&s); e.LeakageMin.Value != 2 || e.LeakageMin.From != part.OfSeries {
		t.Errorf("%+v", e.LeakageMin)
	}
	if e := p.Effective(nil); e.LeakageMin.Value != 5 || e.LeakageMin.From != part.OfDefault || e.LeakageUA.Value != 50 {
		t.Errorf("%+v", e.LeakageMin)
	}
}

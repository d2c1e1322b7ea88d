package part_test

import (
	"math"
	"testing"

	"coldrise/domain/part"
)

// Surge voltages: IEC 60384-1 factors as two encyclopaedias give them, 1.15 up
// to 315 V and 1.10 above; Vishay ASH (doc 28329 p.4) prints the same for its
// 160–250 V and 350–450 V parts. 315 V stands above 316 V: not monotonic.
func TestSurgeFactorsAndTheirBoundary(t *testing.T) {
	t.Parallel()
	tests := []struct{ ratedV, surgeV, tol float64 }{
		{160, 184, 1e-9},
		{250, 287.5, 1e-9},
		{315, 362.25, 1e-9},
		{316, 347.6, 1e-9},
		{350, 385, 1e-9},
		{400, 440, 1e-9},
		{450, 495, 1e-9},
		{500, 550, 1e-9},
	}
	for _, tt := range tests {
		p := part.Part{Technology: part.Electrolytic, RatedV: tt.ratedV}
		got, source := p.Surge()
		if math.Abs(got-tt.surgeV) > tt.tol || source == "" {
			t.Errorf("surge of %g V = %g (%s), want %g", tt.ratedV, got, source, tt.surgeV)
		}
		if f := part.SurgeFactor(tt.ratedV); math.Abs(f*tt.ratedV-tt.surgeV) > tt.tol {
			t.Errorf("factor at %g V = %g", tt.ratedV, f)
		}
	}
}

func TestSurgeTakesTheMarkAndGrantsFilmNone(t *testing.T) {
	t.Parallel()
	marked := 525.0
	p := part.Part{Technology: part.Electrolytic, RatedV: 450, SurgeV: &marked}
	if got, source := p.Surge(); got != 525 || source != "maker's surge voltage" {
		t.Errorf("marked: %g, %s", got, source)
	}
	film := part.Part{Technology: part.Film, RatedV: 630}
	if got, _ := film.Surge(); got != 630 {
		t.Errorf("film: surge %g V, want its rated 630", got)
	}
}

// psmSI is the ripple-frequency table of Vishay 056/057 PSM-SI snap-ins above
// 100 V, doc 28340 rev 07-Nov-05 p.64, table 4.
func psmSI() part.Series {
	return part.Series{BaseHz: 100, MaxC: 105, FrequencyFactors: []part.FrequencyFactor{
		{Hz: 50, Factor: 0.86}, {Hz: 100, Factor: 1}, {Hz: 200, Factor: 1.13}, {Hz: 400, Factor: 1.21},
		{Hz: 1000, Factor: 1.29}, {Hz: 2000, Factor: 1.32}, {Hz: 4000, Factor: 1.35}, {Hz: 10000, Factor: 1.40},
	}}
}

func TestFrequencyFactorPassesThroughThePublishedTable(t *testing.T) {
	t.Parallel()
	s := psmSI()
	for _, row := range s.FrequencyFactors {
		if got := s.FrequencyFactor(row.Hz); got != row.Factor {
			t.Errorf("%g Hz: %g, want %g", row.Hz, got, row.Factor)
		}
	}
	tests := []struct{ hz, want, tol float64 }{
		{25, 0.86, 0},                        // flat below
		{100000, 1.40, 0},                    // flat above
		{math.Sqrt(100 * 200), 1.065, 1e-12}, // half way in log f
		{120, 1 + 0.13*math.Log2(1.2), 1e-12},
	}
	for _, tt := range tests {
		if got := s.FrequencyFactor(tt.hz); math.Abs(got-tt.want) > tt.tol {
			t.Errorf("%g Hz: %g, want %g", tt.hz, got, tt.want)
		}
	}
	bare := part.Series{BaseHz: 100}
	if got := bare.FrequencyFactor(400); got != 1 {
		t.Errorf("a series without a table: %g, want 1", got)
	}
	if s.CoversHz(49) || !s.CoversHz(50) || bare.CoversHz(50) || !bare.CoversHz(100) {
		t.Error("CoversHz does not tell what the table covers")
	}
}

// Rubycon "Lifetime calculation formula" sheet, ripple multipliers by ambient:
// 105 °C types 1.0 / 1.7 / 2.1 at 105 / 85 / 65 °C and below, 85 °C types 1.0 /
// 1.6 / 2.0 at 85 / 70 / 50. GE 23A/23B Table AP2 for the second row set.
func TestTemperatureFactorPassesThroughPublishedTables(t *testing.T) {
	t.Parallel()
	hot := []part.TemperatureFactor{{AmbientC: 65, Factor: 2.1}, {AmbientC: 85, Factor: 1.7}, {AmbientC: 105, Factor: 1}}
	warm := []part.TemperatureFactor{{AmbientC: 50, Factor: 2}, {AmbientC: 70, Factor: 1.6}, {AmbientC: 85, Factor: 1}}
	ge := []part.TemperatureFactor{{AmbientC: 35, Factor: 2.5}, {AmbientC: 45, Factor: 2.3}, {AmbientC: 55, Factor: 2}, {AmbientC: 65, Factor: 1.7}, {AmbientC: 75, Factor: 1.4}, {AmbientC: 85, Factor: 1}}
	tests := []struct {
		name  string
		table []part.TemperatureFactor
		c     float64
		want  float64
		tol   float64
	}{
		{"105 °C type at its limit", hot, 105, 1, 0},
		{"105 °C type at 85 °C", hot, 85, 1.7, 0},
		{"105 °C type at 65 °C", hot, 65, 2.1, 0},
		{"105 °C type colder still", hot, 20, 2.1, 0},
		{"105 °C type half way", hot, 95, 1.35, 1e-12},
		{"105 °C type beyond its limit", hot, 120, 1, 0},
		{"85 °C type at 70 °C", warm, 70, 1.6, 0},
		{"85 °C type at 50 °C", warm, 50, 2, 0},
		{"GE at 55 °C", ge, 55, 2, 0},
		{"GE at 60 °C", ge, 60, 1.85, 1e-12},
		{"no table", nil, 60, 1, 0},
	}
	for _, tt := range tests {
		s := part.Series{TemperatureFactors: tt.table}
		if got := s.TemperatureFactor(tt.c); math.Abs(got-tt.want) > tt.tol {
			t.Errorf("%s: %g, want %g", tt.name, got, tt.want)
		}
	}
}

// Vishay 042/043 ASH, 450 V rows (doc 28329 p.4): the printed ESR is 0.85 to
// 1.0 of what its tan δ of 0.10 gives, never equal; a maximum stands above the
// typical. Formula: Vishay 038 RSU (doc 28309 p.100).
func TestESRFromTanDeltaStandsAboveThePrintedTypical(t *testing.T) {
	t.Parallel()
	tan := 0.10
	s := part.Series{BaseHz: 100, TanDelta: &tan}
	rows := []struct{ uf, esr float64 }{{6.8, 22}, {10, 15}, {15, 10}, {22, 6.8}, {33, 4.5}, {47, 3.2}, {68, 2.2}}
	for _, row := range rows {
		p := part.Part{CapacitanceUF: row.uf}
		got, source := p.ESR(&s)
		if ratio := row.esr / got; ratio < 0.85 || ratio > 1 || source == "" {
			t.Errorf("%g µF: computed %.2f Ω, printed %g, ratio %.3f", row.uf, got, row.esr, ratio)
		}
		p.ESROhm = &row.esr
		if got, _ := p.ESR(&s); got != row.esr {
			t.Errorf("%g µF: own figure %g not taken, got %g", row.uf, row.esr, got)
		}
	}
	unknown := part.Part{CapacitanceUF: 10}
	if got, source := unknown.ESR(nil); got != 0 || source != "" {
		t.Errorf("nothing known: %g, %q", got, source)
	}
}

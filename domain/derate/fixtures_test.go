package derate_test

import (
	"math"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/part"
)

func ptr[T any](v T) *T { return &v }

// axial is a 22 µF 450 V axial as the published table has it: Vishay 042/043
// ASH, doc 28329 p.4, 240 mA at 100 Hz and 85 °C; factors of doc 28340 p.64.
func axial() derate.Rated {
	return derate.Rated{
		Part: part.Part{
			Maker: "Sedgemere", PartNumber: "T22", Series: "T", Technology: part.Electrolytic, Style: part.Axial,
			CapacitanceUF: 22, Tolerance: part.Within(10, 50), RatedV: 450, RippleMA: ptr(240.0), ESROhm: ptr(6.8), DiameterMM: ptr(15.0), LengthMM: ptr(30.0),
		},
		Series: part.Series{
			Name: "T", Maker: "Sedgemere", Technology: part.Electrolytic,
			Ratings: part.Ratings{BaseHz: ptr(100.0), MaxC: ptr(85.0),
				FrequencyFactors: part.FrequencyTable{
					{Hz: 50, Factor: 0.86}, {Hz: 100, Factor: 1}, {Hz: 200, Factor: 1.13}, {Hz: 400, Factor: 1.21},
					{Hz: 1000, Factor: 1.29}, {Hz: 2000, Factor: 1.32}, {Hz: 4000, Factor: 1.35}, {Hz: 10000, Factor: 1.40}},
				TemperatureFactors: part.TemperatureTable{{AmbientC: 50, Factor: 2}, {AmbientC: 70, Factor: 1.6}, {AmbientC: 85, Factor: 1}},
				Life:               life(part.TenKelvin, 10000, 85, 5)},
		},
	}
}

func life(model string, ratedH, ratedC, riseK float64) *part.Life {
	return &part.Life{Model: model, RatedH: &ratedH, RatedC: &ratedC, CoreRiseK: &riseK}
}

// smoothing is a position that axial fits with room everywhere.
func smoothing() derate.Stress {
	cold := derate.CasePeak{Case: "cold_start", Title: "cold start at high line", V: 420, FirstAtS: 3, Mandatory: true}
	return derate.Stress{
		Ref: "C21", Role: amp.Smoothing, Node: "HT/B", WorkingV: 340, DCV: 338, NominalDCV: 320,
		Peaks: []derate.CasePeak{cold}, Worst: cold,
		Ripple: []derate.Current{{Hz: 120, A: 0.060, Of: "mains"}}, RippleRMSA: 0.060,
		AmbientC: 55, Window: derate.Window{OriginalUF: 20, MinUF: 18, MinRule: "hum at the node", MaxUF: 44, MaxRule: "2.2 times the original"},
	}
}

func named(v derate.Verdict, name string) []derate.Check {
	var found []derate.Check
	for _, c := range v.Checks {
		if c.Name == name {
			found = append(found, c)
		}
	}
	return found
}

// one gives the only check of a name.
func one(t *testing.T, v derate.Verdict, name string) derate.Check {
	t.Helper()
	found := named(v, name)
	if len(found) != 1 {
		t.Fatalf("%d checks named %s, want 1: %+v", len(found), name, v.Checks)
	}
	return found[0]
}

func near(t *testing.T, what string, got, want, tol float64) {
	t.Helper()
	if math.Abs(got-want) > tol {
		t.Errorf("%s: %g, want %g ± %g", what, got, want, tol)
	}
}

package derate_test

import (
	"slices"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/part"
)

// Each figure that is required of a part: without it the check is unknown, it
// names the figure, and the part is not picked.
func TestARequiredFigureThatIsMissingIsNeverPassed(t *testing.T) {
	t.Parallel()
	tests := []struct {
		missing string
		checks  []string // that are unknown for it
		forget  func(*derate.Rated)
	}{
		{"rated_v", []string{"working_voltage", "cold_start"}, func(r *derate.Rated) { r.Part.RatedV = 0 }},
		{"capacitance_uf", []string{"capacitance"}, func(r *derate.Rated) { r.Part.CapacitanceUF = 0 }},
		{"tol_minus_pct", []string{"tolerance"}, func(r *derate.Rated) { r.Part.TolMinusPct = nil }},
		{"tol_plus_pct", []string{"tolerance"}, func(r *derate.Rated) { r.Part.TolPlusPct = nil }},
		{"max_c", []string{"temperature"}, func(r *derate.Rated) { r.Series.MaxC = nil }},
		{"diameter_mm", []string{"body"}, func(r *derate.Rated) { r.Part.DiameterMM = nil }},
		{"length_mm", []string{"body"}, func(r *derate.Rated) { r.Part.LengthMM = nil }},
		{"ripple_ma", []string{"ripple"}, func(r *derate.Rated) { r.Part.RippleMA = nil }},
	}
	for _, tt := range tests {
		r := axial()
		if v := derate.Judge(smoothing(), r, derate.Default()); !v.Pass {
			t.Fatalf("the part is no sound one: %+v", derate.Misses(v))
		}
		tt.forget(&r)
		v := derate.Judge(smoothing(), r, derate.Default())
		if v.Pass {
			t.Errorf("passed without %s", tt.missing)
		}
		var unknown []string
		for _, c := range derate.Misses(v) {
			if c.Outcome == derate.Unknown && slices.Contains(c.Missing, tt.missing) && c.Text != "" && !c.Pass {
				unknown = append(unknown, c.Name)
			}
		}
		if !slices.Equal(unknown, tt.checks) {
			t.Errorf("without %s: unknown %v, want %v", tt.missing, unknown, tt.checks)
		}
	}
}

// On the mains a safety part may lack its class or its AC volts: unknown. A
// plain part has none, and fails.
func TestASafetyPartWithoutItsClassIsUnknownAPlainOneFails(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name, check string
		change      func(*derate.Rated)
		want        derate.Outcome
		missing     string
	}{
		{"no class given", "safety_class", func(r *derate.Rated) { r.Part.SafetyClass = "" }, derate.Unknown, "safety_class"},
		{"no AC volts given", "mains_voltage", func(r *derate.Rated) { r.Part.RatedVAC = nil }, derate.Unknown, "rated_v_ac"},
		{"no tolerance given", "touch_current", func(r *derate.Rated) { r.Part.TolPlusPct = nil }, derate.Unknown, "tol_plus_pct"},
		{"plain film", "safety_class", func(r *derate.Rated) { r.Part.Technology, r.Part.SafetyClass = part.Film, "" }, derate.Failed, ""},
		{"class X from line to chassis", "safety_class", func(r *derate.Rated) { r.Part.SafetyClass = "X2" }, derate.Failed, ""},
	}
	for _, tt := range tests {
		r := yPart(0.0022, 20)
		tt.change(&r)
		v := derate.Judge(lineToChassis(127, 60), r, derate.Default())
		c := one(t, v, tt.check)
		if c.Outcome != tt.want || v.Pass || (tt.missing != "") != slices.Contains(c.Missing, tt.missing) {
			t.Errorf("%s: %+v", tt.name, c)
		}
	}
}

// What is unknown comes after every miss that has a figure.
func TestMissesPutTheUnknownLast(t *testing.T) {
	t.Parallel()
	s, r := smoothing(), axial()
	s.WorkingV, s.Worst.V = 500, 600
	r.Part.TolPlusPct, r.Part.LengthMM = nil, nil
	r.Part.CapacitanceUF = 15
	var names []string
	for _, c := range derate.Misses(derate.Judge(s, r, derate.Default())) {
		names = append(names, c.Name)
	}
	want := []string{"capacitance", "working_voltage", "cold_start", "tolerance", "body"}
	if !slices.Equal(names, want) {
		t.Errorf("%v, want %v", names, want)
	}
}

// Without its series' tables a shop's plain part still gets an answer.
func TestAnOrdinaryShopPartIsJudgedOnAssumptions(t *testing.T) {
	t.Parallel()
	s := smoothing()
	s.Role, s.AmbientC = amp.Reservoir, 50
	r := derate.Rated{Part: part.Part{Maker: "M", PartNumber: "1", Technology: part.Electrolytic, Style: part.Radial, CapacitanceUF: 22, RatedV: 450,
		Tolerance: part.Within(20, 20), RippleMA: ptr(150.0), DiameterMM: ptr(16.0), LengthMM: ptr(25.0),
		Ratings: part.Ratings{MaxC: ptr(105.0), Life: &part.Life{RatedH: ptr(2000.0)}}}}
	v := derate.Judge(s, r, derate.Default())
	if !v.Pass {
		t.Errorf("%+v", derate.Misses(v))
	}
	var names []string
	for _, f := range v.Assumed {
		names = append(names, f.Name)
	}
	want := []string{"base_hz", "frequency_factors", "life/core_rise_k", "life/model", "life/rated_c"}
	if !slices.Equal(names, want) {
		t.Errorf("%v, want %v", names, want)
	}
}

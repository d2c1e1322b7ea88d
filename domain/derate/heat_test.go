package derate_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/part"
)

// Computed from Vishay PSM-SI table 4 (doc 28340 p.64), > 100 V row: 100 mA at
// 100 Hz, 50 mA at 200 Hz and 30 mA at 400 Hz heat like 112.128 mA at 100 Hz.
func TestCurrentsOfSeveralFrequenciesAddByTheirHeat(t *testing.T) {
	t.Parallel()
	r := axial()
	got := derate.EquivalentA([]derate.Current{{Hz: 100, A: 0.100}, {Hz: 200, A: 0.050}, {Hz: 400, A: 0.030}}, r.Series.FrequencyFactors)
	want := math.Sqrt(100*100 + 50/1.13*50/1.13 + 30/1.21*30/1.21)
	near(t, "computed, mA", want, 112.128, 0.0005)
	near(t, "equivalent, mA", got*1000, want, 1e-9)
}

// A half-wave bias supply on 50 Hz uses the 50 Hz column (0.86), a full-wave
// one 100 Hz (1.00): same PSM-SI table.
func TestAHalfWaveSupplyCountsAtItsOwnFrequency(t *testing.T) {
	t.Parallel()
	r := axial()
	near(t, "50 Hz", derate.EquivalentA([]derate.Current{{Hz: 50, A: 0.086}}, r.Series.FrequencyFactors), 0.100, 1e-12)
	near(t, "100 Hz", derate.EquivalentA([]derate.Current{{Hz: 100, A: 0.086}}, r.Series.FrequencyFactors), 0.086, 1e-12)
}

func TestRippleIsHeldToRatingTimesTemperatureTimesShare(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name     string
		amps     float64
		ambientC float64
		share    float64
		limitMA  float64
		pass     bool
	}{
		{"at the hottest the rating itself", 0.240, 85, 1, 240, true},
		{"a little over it", 0.241, 85, 1, 240, false},
		{"at 70 °C 1.6 times it (Rubycon, 85 °C types)", 0.384, 70, 1, 384, true},
		{"below 50 °C twice it and no more", 0.481, 20, 1, 480, false},
		{"half of it by policy", 0.121, 85, 0.5, 120, false},
	}
	for _, tt := range tests {
		s, p := smoothing(), derate.Default()
		s.Ripple, s.AmbientC, p.RippleShare = []derate.Current{{Hz: 100, A: tt.amps}}, tt.ambientC, tt.share
		c := one(t, derate.Judge(s, axial(), p), "ripple")
		if c.Pass != tt.pass || math.Abs(c.Limit-tt.limitMA) > 1e-9 || c.Unit != "mA" {
			t.Errorf("%s: pass %v, %g of %g: %s", tt.name, c.Pass, c.Have, c.Limit, c.Text)
		}
	}
}

func TestRippleWithoutSpectrumFallsBackOnItsRMS(t *testing.T) {
	t.Parallel()
	s := smoothing()
	s.Ripple, s.RippleRMSA = nil, 0.5
	if c := one(t, derate.Judge(s, axial(), derate.Default()), "ripple"); c.Pass || c.Have != 500 {
		t.Errorf("%+v", c)
	}
}

func TestAFrequencyBelowTheTableIsSaid(t *testing.T) {
	t.Parallel()
	s, r := smoothing(), axial()
	r.Series.FrequencyFactors = r.Series.FrequencyFactors[1:]
	s.Ripple = []derate.Current{{Hz: 60, A: 0.02}}
	if c := one(t, derate.Judge(s, r, derate.Default()), "ripple"); !strings.Contains(c.Text, "no factor is given as low as 60 Hz") {
		t.Error(c.Text)
	}
}

func TestAPartWithoutRippleRatingServesOnlyWhereNextToNoneFlows(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		role amp.Role
		amps float64
		pass bool
	}{
		{amp.Reservoir, 0.150, false},
		{amp.Bias, 0.012, false},
		{amp.Bias, 0.001, true},
		{amp.Smoothing, 0.004, true},
	} {
		s, r := smoothing(), axial()
		s.Role, s.Ripple = tt.role, []derate.Current{{Hz: 100, A: tt.amps}}
		r.Part.RippleMA = nil
		v := derate.Judge(s, r, derate.Default())
		c := one(t, v, "ripple")
		if c.Pass != tt.pass || v.Pass != tt.pass || !strings.Contains(c.Text, "no ripple rating") {
			t.Errorf("%s, %g A: %+v", tt.role, tt.amps, c)
		}
		if unknown := c.Outcome == derate.Unknown && slices.Equal(c.Missing, []string{"ripple_ma"}); unknown == tt.pass {
			t.Errorf("%s, %g A: %+v", tt.role, tt.amps, c)
		}
	}
}

// System Reliability Center: 20 K below the upper category temperature.
func TestThePolicysMarginComesOffTheTemperatureClass(t *testing.T) {
	t.Parallel()
	s, p := smoothing(), derate.Default()
	p.TemperatureMarginK, s.AmbientC = 20, 65
	if c := named(derate.Judge(s, axial(), p), "temperature")[0]; !c.Pass || c.Limit != 65 || !strings.Contains(c.Text, "less the policy's 20 K") {
		t.Errorf("%+v", c)
	}
	s.AmbientC = 66
	if c := named(derate.Judge(s, axial(), p), "temperature")[0]; c.Pass || !strings.Contains(c.Text, "1 K over") {
		t.Errorf("%+v", c)
	}
	m := lineToChassis(127, 60)
	m.AmbientC = 91
	if c := one(t, derate.Judge(m, yPart(0.0022, 20), p), "temperature"); c.Pass || c.Limit != 90 {
		t.Errorf("on the mains too: %+v", c)
	}
}

func TestAmbientAndCoreAreHeldToTheCategory(t *testing.T) {
	t.Parallel()
	s := smoothing()
	s.AmbientC, s.Ripple = 86, []derate.Current{{Hz: 100, A: 0.240}}
	found := named(derate.Judge(s, axial(), derate.Default()), "temperature")
	if len(found) != 2 || found[0].Pass || found[1].Pass {
		t.Fatalf("%+v", found)
	}
	near(t, "core at rated ripple, °C", found[1].Have, 91, 1e-9)
	near(t, "what the rating implies, °C", found[1].Limit, 90, 1e-9)
	s.AmbientC, s.Ripple[0].A = 60, 0.480
	found = named(derate.Judge(s, axial(), derate.Default()), "temperature")
	near(t, "core at twice the rated ripple, °C", found[1].Have, 60+5*4, 1e-9)
}

// 1000 h at 85 °C by the 10 K rule: 8000 h at 55 °C, 7.67 years at 20 h a week.
func TestALifeThatIsNotGivenIsAssumedAndSaidToBe(t *testing.T) {
	t.Parallel()
	r := axial()
	r.Series.Life = nil
	v := derate.Judge(smoothing(), r, derate.Default())
	near(t, "years", v.LifeYears, 8000/(20*52.1775), 1e-9)
	if c := one(t, v, "life"); c.Pass || !slices.Equal(c.Assumed, []string{"life/model", "life/rated_h", "life/rated_c", "life/core_rise_k"}) {
		t.Errorf("%+v", c)
	}
	var told []string
	for _, f := range v.Assumed {
		told = append(told, f.Name)
		if f.From != part.OfDefault || f.Source == "" {
			t.Errorf("%+v", f)
		}
	}
	if !slices.Equal(told, []string{"life/core_rise_k", "life/model", "life/rated_h", "life/rated_c"}) {
		t.Error(told)
	}
}

func TestFilmIsJudgedForNoLife(t *testing.T) {
	t.Parallel()
	r := axial()
	r.Part.Technology, r.Series.Technology = part.Film, part.Film
	v := derate.Judge(smoothing(), r, derate.Default())
	if !v.Pass || len(named(v, "life")) != 0 || len(named(v, "ripple")) != 0 {
		t.Errorf("%+v", v)
	}
}

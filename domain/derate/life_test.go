package derate_test

import (
	"math"
	"strings"
	"testing"

	"coldrise/domain/derate"
	"coldrise/domain/part"
)

// The examples in print are held in domain/published; here is what they leave out.
func TestTenKelvinRuleAtItsEnds(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name              string
		ratedH, ratedC, c float64
		want              float64
	}{
		{"half for 10 K more", 1000, 85, 75, 2000},
		{"no more below 40 °C than at 40: Nichicon's range", 1000, 80, 20, 16000},
		{"shorter above the rating", 2000, 85, 95, 1000},
	}
	for _, tt := range tests {
		l := part.LifeLaw{Model: part.TenKelvin, RatedH: tt.ratedH, RatedC: tt.ratedC, CoreRiseK: 5}
		near(t, tt.name, derate.LifeH(l, tt.c, 0.7, 0.5), tt.want, 1e-9*tt.want)
	}
}

// Rubycon "Lifetime calculation formula" with ΔT0 = 5 K: relative life at 0,
// half, rated and 1.5 × rated ripple, and one whole case (computed self-checks).
func TestRippleTermGivesTheRelativeLives(t *testing.T) {
	t.Parallel()
	l := part.LifeLaw{Model: part.TenKelvinRipple, RatedH: 2000, RatedC: 105, CoreRiseK: 5}
	for _, row := range []struct{ x, want, tol float64 }{
		{0, 1.48599, 5e-6}, {0.5, 1.35886, 5e-6}, {1, 1, 0}, {1.5, 0.50216, 5e-6},
	} {
		near(t, "relative life", derate.LifeH(l, 105, row.x, 1)/2000, row.want, row.tol)
	}
	near(t, "2000 h at 105 °C, at 65 °C and 0.7 × rated, h", derate.LifeH(l, 65, 0.7, 1), 39683, 0.5)
}

// Jianghai's form, computed: 3000 h at 105 °C, at 60 °C, half the rated ripple,
// ΔT0 5 K, 0.8 of the rated volts: KT 22.627, KR 1.29684, KV 1.74693, 153 786 h.
func TestVoltageModelGivesItsFactors(t *testing.T) {
	t.Parallel()
	l := part.LifeLaw{Model: part.TenKelvinRippleVoltage, RatedH: 3000, RatedC: 105, CoreRiseK: 5,
		RippleBase: 2, RippleBaseOver: 4, VoltageExponent: 2.5, VoltageFrom: 0.6}
	near(t, "L, h", derate.LifeH(l, 60, 0.5, 0.8), 153786, 0.5)
	near(t, "KT", derate.LifeH(l, 60, 1, 1)/3000, 22.627, 0.0005)
	near(t, "KR", derate.LifeH(l, 105, 0.5, 1)/3000, 1.29684, 5e-6)
	near(t, "KV", derate.LifeH(l, 105, 1, 0.8)/3000, 1.74693, 5e-6)
	near(t, "KV at 0.6", derate.LifeH(l, 105, 1, 0.6)/3000, 3.5861, 5e-5)
	near(t, "KV below 0.6 is that at 0.6", derate.LifeH(l, 105, 1, 0.1), derate.LifeH(l, 105, 1, 0.6), 0)
	near(t, "over its rated volts it lasts less", derate.LifeH(l, 105, 1, 1.1)/3000, math.Pow(1.1, -2.5), 1e-12)
	near(t, "over rated ripple the base is 4", derate.LifeH(l, 105, 1.2, 1)/3000, math.Pow(4, (1-1.44)*0.5), 1e-12)
	l.RippleBaseOver = 2
	near(t, "or 2, on an 85 °C part", derate.LifeH(l, 105, 1.2, 1)/3000, math.Pow(2, (1-1.44)*0.5), 1e-12)
}

// A core rise nobody gave must not lengthen a life, and may shorten it.
func TestAnAssumedCoreRiseNeverLengthensLife(t *testing.T) {
	t.Parallel()
	for _, model := range []string{part.TenKelvinRipple, part.TenKelvinRippleVoltage} {
		l := part.LifeLaw{Model: model, RatedH: 2000, RatedC: 105, CoreRiseK: 5, RippleBase: 2, RippleBaseOver: 4, VoltageFrom: 1}
		given := l
		l.RiseAssumed = true
		if derate.LifeH(given, 105, 0.5, 1) <= 2000 {
			t.Errorf("%s: a given rise does not lengthen", model)
		}
		near(t, model+" below rated ripple", derate.LifeH(l, 105, 0.5, 1), 2000, 0)
		near(t, model+" above it", derate.LifeH(l, 105, 1.5, 1), derate.LifeH(given, 105, 1.5, 1), 0)
	}
}

// Lives mix by their harmonic mean (Cosel Q&A a0057): an hour spends its share
// of the life it would have alone.
func TestIdleAndFullDriveMixHarmonically(t *testing.T) {
	t.Parallel()
	near(t, "half and half of 10 000 and 30 000 h", derate.MixedH(30000, 10000, 0.5), 15000, 1e-9)
	near(t, "a quarter at full drive", derate.MixedH(40000, 10000, 0.25), 1/(0.75/40000+0.25/10000), 1e-9)
	near(t, "idle alone", derate.MixedH(30000, 10000, 0), 30000, 0)
	near(t, "full drive alone", derate.MixedH(30000, 10000, 1), 10000, 0)
	near(t, "full drive alone where idling kills", derate.MixedH(0, 10000, 1), 10000, 0)
	near(t, "one of them is nil", derate.MixedH(30000, 0, 0.01), 0, 0)
}

// The check mixes the policy's hours at full drive with the idle ones, and says both.
func TestLifeCountsTheHoursAtFullDriveAndTheIdleOnes(t *testing.T) {
	t.Parallel()
	s, r, p := smoothing(), axial(), derate.Default()
	r.Series.Life = life(part.TenKelvinRipple, 5000, 85, 5)
	s.AmbientC, p.HoursPerWeek = 65, 168
	s.IdleRipple, s.Ripple = []derate.Current{{Hz: 100, A: 0.060}}, []derate.Current{{Hz: 100, A: 0.240}}
	law := r.Part.Effective(&r.Series).Life
	idle, full := derate.LifeH(law, 65, 0.25, 1), derate.LifeH(law, 65, 1, 1)
	for share, want := range map[float64]float64{0: idle, 0.25: derate.MixedH(idle, full, 0.25), 1: full} {
		p.FullDriveShare = share
		v := derate.Judge(s, r, p)
		near(t, "years", v.LifeYears, derate.Years(want, 168), 1e-9)
		if c := one(t, v, "life"); share == 0.25 && !strings.Contains(c.Text, "25 % of its hours") {
			t.Error(c.Text)
		}
	}
	p.FullDriveShare = 0.5
	s.IdleRipple = nil // not known: as if driven in full
	near(t, "years", derate.Judge(s, r, p).LifeYears, derate.Years(full, 168), 1e-9)
}

// Hours whose current needs the temperature factor claim the rated life; those
// that do not, the extension. Neither hour has both.
func TestOnlyTheHoursThatUseTheTemperatureFactorLoseTheExtension(t *testing.T) {
	t.Parallel()
	s, r, p := smoothing(), axial(), derate.Default() // 55 °C: 10 K rule ×8 on 10 000 h
	p.HoursPerWeek, p.FullDriveShare = 168, 0.5
	s.IdleRipple, s.Ripple = []derate.Current{{Hz: 100, A: 0.100}}, []derate.Current{{Hz: 100, A: 0.300}}
	v := derate.Judge(s, r, p)
	near(t, "years", v.LifeYears, derate.Years(derate.MixedH(80000, 10000, 0.5), 168), 1e-9)
	if c := one(t, v, "life"); !strings.Contains(c.Text, "no extension") {
		t.Error(c.Text)
	}
}

// The working voltage reaches the voltage term.
func TestLifeCountsTheWorkingVoltage(t *testing.T) {
	t.Parallel()
	s, r, p := smoothing(), axial(), derate.Default()
	r.Series.Life = life(part.TenKelvinRippleVoltage, 3000, 85, 5)
	s.AmbientC, p.HoursPerWeek, s.WorkingV = 75, 168, 360
	s.Ripple = []derate.Current{{Hz: 100, A: 0.240}}
	near(t, "years", derate.Judge(s, r, p).LifeYears, derate.Years(3000*2*math.Pow(0.8, -2.5), 168), 1e-9)
}

func TestLifeIsNilWhereTheRiseReachesThePole(t *testing.T) {
	t.Parallel()
	l := part.LifeLaw{Model: part.TenKelvinRipple, RatedH: 2000, RatedC: 105, CoreRiseK: 10}
	if h := derate.LifeH(l, 65, 2, 1); h != 0 {
		t.Errorf("%g h at four times the rated rise of 10 K", h)
	}
	l.CoreRiseK = 40
	if h := derate.LifeH(l, 65, 0, 1); math.IsInf(h, 0) || math.IsNaN(h) {
		t.Errorf("%g h", h)
	}
}

func TestYearsAreOfTheShopsHoursAndEndAtFifteen(t *testing.T) {
	t.Parallel()
	near(t, "10 000 h at 20 h a week, years", derate.Years(10000, 20), 10000/(20*52.1775), 1e-9)
	near(t, "8766 h day and night, years", derate.Years(8766, 168), 1, 0.001)
	near(t, "cut", derate.Years(1e6, 20), 15, 0)
}

// The trap: Rubycon prints beside its temperature multipliers that who uses
// them may claim no further extension of life.
func TestTemperatureFactorAndLifeExtensionAreNeverBothClaimed(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name     string
		model    string
		amps     float64
		share    float64
		hours    float64
		withheld bool
	}{
		// 55 °C: 10 K rule ×8 on 10 000 h.
		{"within the rating: the extension is claimed", part.TenKelvin, 0.240, 1, 80000, false},
		{"over it: passes by the factor, rated life only", part.TenKelvin, 0.250, 1, 10000, true},
		{"within the rating yet over the policy's share of it", part.TenKelvin, 0.200, 0.8, 10000, true},
		{"ripple model, within the rating", part.TenKelvinRipple, 0.240, 1, 80000, false},
		{"ripple model, over it", part.TenKelvinRipple, 0.300, 1, 10000, true},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			s, r, p := smoothing(), axial(), derate.Default()
			s.Ripple, p.RippleShare, p.HoursPerWeek = []derate.Current{{Hz: 100, A: tt.amps}}, tt.share, 168
			r.Series.Life = life(tt.model, 10000, 85, 5)
			v := derate.Judge(s, r, p)
			if !one(t, v, "ripple").Pass {
				t.Fatal("the ripple current was to pass")
			}
			c := one(t, v, "life")
			near(t, "years", v.LifeYears, derate.Years(tt.hours, 168), 1e-9)
			if said := strings.Contains(c.Text, "no extension for the cool ambient"); said != tt.withheld {
				t.Errorf("withheld %v: %s", said, c.Text)
			}
		})
	}
}

// Far over its rating the ripple term may leave less than the rated life even
// in cool air: then that is what is claimed.
func TestRatedLifeIsNotClaimedWhereTheRippleTermLeavesLess(t *testing.T) {
	t.Parallel()
	s, r, p := smoothing(), axial(), derate.Default()
	s.AmbientC, p.HoursPerWeek = 45, 168
	s.Ripple = []derate.Current{{Hz: 100, A: 0.475}}
	r.Series.Life = life(part.TenKelvinRipple, 10000, 85, 8)
	want := derate.LifeH(r.Part.Effective(&r.Series).Life, 45, 0.475/0.240, 1)
	if want >= 10000 {
		t.Fatalf("the case is no case: %g h", want)
	}
	near(t, "years", derate.Judge(s, r, p).LifeYears, derate.Years(want, 168), 1e-9)
}

func TestLifeIsHeldToThePolicysYears(t *testing.T) {
	t.Parallel()
	s, p := smoothing(), derate.Default()
	s.AmbientC = 85
	p.HoursPerWeek = 40
	c := one(t, derate.Judge(s, axial(), p), "life")
	if c.Pass || !strings.Contains(c.Text, "short of 8") {
		t.Errorf("10 000 h at 40 h a week are 4.8 years: %+v", c)
	}
	near(t, "years", c.Have, 10000/(40*52.1775), 1e-9)
}

package derate_test

import (
	"strings"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/part"
	"github.com/google/go-cmp/cmp"
)

// Computed from I = 2πfCV: the largest line-to-chassis capacitance in nF.
func TestMaxLineToChassisGivesTheTable(t *testing.T) {
	t.Parallel()
	tests := []struct{ v, hz, mA, wantNF, tol float64 }{
		{120, 60, 0.25, 5.53, 0.005}, {120, 60, 0.5, 11.05, 0.005}, {120, 60, 0.75, 16.58, 0.005}, {120, 60, 3.5, 77.4, 0.05},
		{127, 60, 0.25, 5.22, 0.005}, {127, 60, 0.5, 10.44, 0.005}, {127, 60, 0.75, 15.66, 0.005}, {127, 60, 3.5, 73.1, 0.05},
		{230, 50, 0.25, 3.46, 0.005}, {230, 50, 0.5, 6.92, 0.005}, {230, 50, 0.75, 10.38, 0.005}, {230, 50, 3.5, 48.4, 0.05},
		{253, 50, 0.25, 3.15, 0.005}, {253, 50, 0.5, 6.29, 0.005}, {253, 50, 0.75, 9.44, 0.005}, {253, 50, 3.5, 44.0, 0.05},
		{100, 50, 0.5, 15.92, 0.005}, {100, 60, 0.5, 13.26, 0.005}, {100, 50, 3.5, 111, 0.5}, {100, 60, 3.5, 92.8, 0.05},
	}
	for _, tt := range tests {
		near(t, "nF", derate.MaxLineToChassisUF(tt.v, tt.hz, tt.mA)*1000, tt.wantNF, tt.tol)
	}
	if derate.MaxLineToChassisUF(0, 60, 0.5) != 0 || derate.MaxLineToChassisUF(120, 0, 0.5) != 0 {
		t.Error("without volts or frequency nothing can be allowed")
	}
}

func yPart(uf, tolPct float64) derate.Rated {
	return derate.Rated{
		Part: part.Part{Maker: "Tarnside", PartNumber: "Y", Technology: part.SafetyY, Style: part.Box, CapacitanceUF: uf,
			Tolerance: part.Within(tolPct, tolPct), RatedV: 1500, RatedVAC: ptr(300.0), SafetyClass: "Y2", DiameterMM: ptr(13.0), LengthMM: ptr(9.0)},
		Series: part.Series{Name: "Y", Technology: part.SafetyY, Ratings: part.Ratings{MaxC: ptr(110.0)}},
	}
}

func lineToChassis(v, hz float64) derate.Stress {
	return derate.Stress{Ref: "C1", Role: amp.MainsY, MainsV: v, MainsNominalV: v, MainsHz: hz, AmbientC: 50}
}

func TestTouchCurrentCountsTheUpperTolerance(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name              string
		uf, tolPct, v, hz float64
		limitMA           float64
		wantMA, tol       float64
		pass              bool
	}{
		{"47 nF at 120 V, 60 Hz: 2.13 mA (computed)", 0.047, 0, 120, 60, 0.5, 2.13, 0.005, false},
		{"10 nF +20 % at 127 V, 60 Hz: 0.575 mA (computed)", 0.010, 20, 127, 60, 0.5, 0.575, 0.0005, false},
		{"10 nF, no tolerance, at 120 V, 60 Hz", 0.010, 0, 120, 60, 0.5, 0.452, 0.0005, true},
		{"4.7 nF at 240 V, 50 Hz: 0.354 mA (forum figure)", 0.0047, 0, 240, 50, 0.5, 0.354, 0.354 * 0.005, true},
		{"100 nF at 240 V, 50 Hz: 7.5 mA (textbook, holooly)", 0.1, 0, 240, 50, 0.5, 7.5, 0.04, false},
	}
	for _, tt := range tests {
		p := derate.Default()
		p.TouchMA = tt.limitMA
		c := one(t, derate.Judge(lineToChassis(tt.v, tt.hz), yPart(tt.uf, tt.tolPct), p), "touch_current")
		if c.Pass != tt.pass {
			t.Errorf("%s: pass %v: %s", tt.name, c.Pass, c.Text)
		}
		near(t, tt.name, c.Have, tt.wantMA, tt.tol)
	}
}

func TestMainsPositionsTakeTheirSafetyClassAndNothingElse(t *testing.T) {
	t.Parallel()
	x := yPart(0.1, 10)
	x.Part.Technology, x.Part.SafetyClass = part.SafetyX, "X2"
	film := yPart(0.1, 10)
	film.Part.Technology, film.Part.SafetyClass, film.Part.RatedVAC, film.Part.RatedV = part.Film, "", nil, 630
	weak := yPart(0.001, 20)
	weak.Part.RatedVAC = ptr(250.0)
	tests := []struct {
		name   string
		role   amp.Role
		part   derate.Rated
		failed []string
	}{
		{"Y2 to chassis", amp.MainsY, yPart(0.001, 20), nil},
		{"X2 across the line", amp.MainsX, x, nil},
		{"X2 to chassis", amp.MainsY, x, []string{"safety_class", "technology", "touch_current"}},
		{"Y2 across the line", amp.MainsX, yPart(0.001, 20), []string{"safety_class", "technology"}},
		{"plain film across the line", amp.MainsX, film, []string{"mains_voltage", "safety_class", "technology"}},
		{"Y2 of too few volts", amp.MainsY, weak, []string{"mains_voltage"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			s := lineToChassis(253, 50)
			s.Role = tt.role
			v := derate.Judge(s, tt.part, derate.Default())
			failed := map[string]bool{}
			for _, c := range derate.Misses(v) {
				failed[c.Name] = true
			}
			want := map[string]bool{}
			for _, n := range tt.failed {
				want[n] = true
			}
			if diff := cmp.Diff(want, failed); diff != "" || v.Pass != (len(want) == 0) {
				t.Error(diff)
			}
		})
	}
}

func TestMainsWithoutKnownVoltsIsRefused(t *testing.T) {
	t.Parallel()
	v := derate.Judge(lineToChassis(0, 0), yPart(0.001, 20), derate.Default())
	if c := one(t, v, "data"); v.Pass || c.Pass {
		t.Errorf("%+v", v)
	}
}

func TestAnUnmarkedLineToChassisCapacitorIsUnfit(t *testing.T) {
	t.Parallel()
	v := derate.JudgeFitted(lineToChassis(127, 60), amp.Fitted{CapacitanceUF: 0.047, RatedV: 600}, derate.Default())
	if v.Pass || one(t, v, "safety_class").Pass || one(t, v, "touch_current").Pass || one(t, v, "mains_voltage").Pass {
		t.Errorf("%+v", v)
	}
	if c := one(t, v, "touch_current"); !strings.Contains(c.Text, "10.44 nF") {
		t.Errorf("the largest lawful value is not named: %s", c.Text)
	}
	marked := derate.JudgeFitted(lineToChassis(127, 60), amp.Fitted{CapacitanceUF: 0.0047, RatedV: 300, SafetyClass: "Y2"}, derate.Default())
	if !marked.Pass {
		t.Errorf("%+v", marked)
	}
}

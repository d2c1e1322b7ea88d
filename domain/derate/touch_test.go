package derate_test

import (
	"math"
	"strings"
	"testing"

	"coldrise/domain/derate"
)

func TestTheTouchLimitGoesByRegionRuleOrTheShopsOwnFigure(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name     string
		rule     string
		own      float64
		nominalV float64
		wantMA   float64
		says     string
	}{
		{"120 V mains", derate.ByRegion, 0, 120, 0.5, "UL"},
		{"100 V mains", derate.ByRegion, 0, 100, 0.5, "UL"},
		{"127 V mains", derate.ByRegion, 0, 127, 0.5, "UL"},
		{"130 V, the most that counts as American", derate.ByRegion, 0, 130, 0.5, "UL"},
		{"131 V", derate.ByRegion, 0, 131, 0.7 / math.Sqrt2, "60065"},
		{"230 V mains", derate.ByRegion, 0, 230, 0.7 / math.Sqrt2, "60065"},
		{"no mains known: the stricter", derate.ByRegion, 0, 0, 0.7 / math.Sqrt2, "60065"},
		{"no rule is by region", "", 0, 120, 0.5, "UL"},
		{"a named rule, whatever the mains", derate.Unearthed, 0, 120, 0.25, "60950"},
		{"hand-held", derate.HandHeld, 0, 230, 0.75, "60950"},
		{"earthed", derate.EarthedOffice, 0, 230, 3.5, "60950"},
		{"UL on 230 V", derate.ULHousehold, 0, 230, 0.5, "UL"},
		{"60065 on 120 V", derate.Audio60065, 0, 120, 0.7 / math.Sqrt2, "60065"},
		{"the shop's own figure before any rule", derate.Unearthed, 0.3, 120, 0.3, "touch_ma"},
	}
	for _, tt := range tests {
		p := derate.Default()
		p.TouchRule, p.TouchMA = tt.rule, tt.own
		got := p.TouchLimit(tt.nominalV)
		if math.Abs(got.MA-tt.wantMA) > 1e-12 || !strings.Contains(got.Source, tt.says) {
			t.Errorf("%s: %+v", tt.name, got)
		}
	}
	// The check holds the part against that limit, at the position's own mains.
	s, p := lineToChassis(127, 60), derate.Default()
	s.MainsNominalV = 120
	near(t, "limit at 120 V", one(t, derate.Judge(s, yPart(0.0047, 20), p), "touch_current").Limit, 0.5, 0)
	s.MainsNominalV, s.MainsV, s.MainsHz = 230, 253, 50
	near(t, "limit at 230 V", one(t, derate.Judge(s, yPart(0.0047, 20), p), "touch_current").Limit, 0.7/math.Sqrt2, 1e-12)
}

func TestImpulseFallsWithTheRootAboveAMicrofarad(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		class string
		uf    float64
		want  float64
		tol   float64
	}{
		{"X2", 2.2, 1685, 0.5}, {"X2", 1.05, 2440, 0.5}, {"X1", 4, 2000, 1e-9}, {"Y2", 4, 2500, 1e-9}, {"Y1", 4, 8000, 0}, {"X2", 1, 2500, 0}, {"", 0.1, 0, 0}, {"Z9", 0.1, 0, 0},
	} {
		near(t, tt.class, derate.ImpulseV(tt.class, tt.uf), tt.want, tt.tol)
	}
}

package part_test

import (
	"math"
	"testing"

	"coldrise/domain/part"
	"coldrise/domain/problem"
)

// psmSI is the ripple-frequency table of Vishay 056/057 PSM-SI snap-ins above
// 100 V, doc 28340 rev 07-Nov-05 p.64, table 4.
func psmSI() part.FrequencyTable {
	return part.FrequencyTable{
		{Hz: 50, Factor: 0.86}, {Hz: 100, Factor: 1}, {Hz: 200, Factor: 1.13}, {Hz: 400, Factor: 1.21},
		{Hz: 1000, Factor: 1.29}, {Hz: 2000, Factor: 1.32}, {Hz: 4000, Factor: 1.35}, {Hz: 10000, Factor: 1.40},
	}
}

func TestFrequencyTablePassesThroughItsPoints(t *testing.T) {
	t.Parallel()
	table := psmSI()
	for _, row := range table {
		if got := table.At(row.Hz); got != row.Factor {
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
		if got := table.At(tt.hz); math.Abs(got-tt.want) > tt.tol {
			t.Errorf("%g Hz: %g, want %g", tt.hz, got, tt.want)
		}
	}
	var none part.FrequencyTable
	if got := none.At(400); got != 1 {
		t.Errorf("no table: %g, want 1", got)
	}
	if table.Covers(49) || !table.Covers(50) || none.Covers(50) {
		t.Error("Covers does not tell what the table covers")
	}
}

// A 100 Hz table behind a part rated at 120 Hz: the rating is divided once, by
// the factor from 100 to 120 Hz, and never again.
func TestRebasedTableIsOneAtItsNewBaseAndKeepsItsRatios(t *testing.T) {
	t.Parallel()
	old := psmSI()
	at120 := old.Rebased(120)
	if k := at120.At(120); math.Abs(k-1) > 1e-12 {
		t.Errorf("%g at the new base", k)
	}
	for _, hz := range []float64{50, 100, 1000, 10000} {
		if was, is := old.At(hz)/old.At(100), at120.At(hz)/at120.At(100); math.Abs(was-is) > 1e-12 {
			t.Errorf("%g Hz: %g became %g", hz, was, is)
		}
	}
	if again := at120.Rebased(120); again.At(50) != at120.At(50) {
		t.Error("rebasing twice divides twice")
	}
	if got := part.FrequencyTable(nil).Rebased(120); got != nil {
		t.Errorf("no table became %v", got)
	}
}

// Rubycon "Lifetime calculation formula" sheet, ripple multipliers by ambient:
// 105 °C types 1.0 / 1.7 / 2.1 at 105 / 85 / 65 °C and below, 85 °C types 1.0 /
// 1.6 / 2.0 at 85 / 70 / 50, its USR, USC and USG 1.0 / 1.3 at 85 / 65; GE
// 23A/23B, table AP2. A part allows its rating times these, and no more beyond.
func TestPublishedTemperatureTablesAreKept(t *testing.T) {
	t.Parallel()
	for name, table := range map[string]part.TemperatureTable{
		"Rubycon, 105 °C":        {{AmbientC: 65, Factor: 2.1}, {AmbientC: 85, Factor: 1.7}, {AmbientC: 105, Factor: 1}},
		"Rubycon, 85 °C":         {{AmbientC: 50, Factor: 2}, {AmbientC: 70, Factor: 1.6}, {AmbientC: 85, Factor: 1}},
		"Rubycon, USR, USC, USG": {{AmbientC: 65, Factor: 1.3}, {AmbientC: 85, Factor: 1}},
		"GE 23A/23B": {{AmbientC: 35, Factor: 2.5}, {AmbientC: 45, Factor: 2.3}, {AmbientC: 55, Factor: 2}, {AmbientC: 65, Factor: 1.7},
			{AmbientC: 75, Factor: 1.4}, {AmbientC: 85, Factor: 1}},
	} {
		last := table[len(table)-1]
		s := part.Series{Name: "S", Maker: "M", Technology: part.Electrolytic, Ratings: part.Ratings{MaxC: &last.AmbientC, TemperatureFactors: table}}
		var l problem.List
		if s.Check(&l); l.Len() != 0 {
			t.Errorf("%s is refused: %v", name, l.Err("series"))
		}
		for _, row := range table {
			if got := table.At(row.AmbientC); got != row.Factor {
				t.Errorf("%s at %g °C: %g, want %g", name, row.AmbientC, got, row.Factor)
			}
		}
		if table.At(-20) != table[0].Factor || table.At(last.AmbientC+20) != 1 {
			t.Errorf("%s beyond its ends: %g, %g", name, table.At(-20), table.At(last.AmbientC+20))
		}
	}
}

// Between the points of Rubycon's table, and beyond its ends.
func TestTemperatureTableIsLinearAndFlatBeyondItsEnds(t *testing.T) {
	t.Parallel()
	table := part.TemperatureTable{{AmbientC: 65, Factor: 2.1}, {AmbientC: 85, Factor: 1.7}, {AmbientC: 105, Factor: 1}}
	for _, tt := range []struct{ c, want, tol float64 }{
		{20, 2.1, 0}, {65, 2.1, 0}, {85, 1.7, 0}, {95, 1.35, 1e-12}, {105, 1, 0}, {120, 1, 0},
	} {
		if got := table.At(tt.c); math.Abs(got-tt.want) > tt.tol {
			t.Errorf("%g °C: %g, want %g", tt.c, got, tt.want)
		}
	}
	if got := part.TemperatureTable(nil).At(60); got != 1 {
		t.Errorf("no table: %g", got)
	}
}

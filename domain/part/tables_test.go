package part_test

import (
	"math"
	"testing"

	"coldrise/domain/part"
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

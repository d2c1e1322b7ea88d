package derate_test

import (
	"encoding/json"
	"math"
	"strings"
	"testing"
	"time"

	"pgregory.net/rapid"

	"coldrise/domain/derate"
	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/domain/quantity"
)

var stockDay = time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC)

// Check-values.md 1.6, source beside each row.
func TestWhatStoredPartsNeed(t *testing.T) {
	t.Parallel()
	for _, r := range []struct {
		source  string
		years   float64
		celsius float64
		verdict string
	}{
		{"CDE 1993: 1 year in specification", 1, 25, derate.StockAsItIs},
		{"a maker's text: not needed within 2 years at 5 to 35 °C", 2, 35, derate.StockAsItIs},
		{"CDE 1993: 3 years test", 3, 25, derate.StockTest},
		{"CDE 1993: 4 years usually re-age", 4, 25, derate.StockReform},
		{"CDE 1993: 5 years ok after re-age", 5, 25, derate.StockReform},
		{"CDE 1993: 10 years is the end of shelf life", 10, 35, derate.StockReform},
		{"CDE 1993: beyond 10 years", 10.1, 25, derate.StockRefuse},
		// Twice for every 10 K above the 35 °C the figures hold at (common practice).
		{"2 years at 45 °C count as 4", 2, 45, derate.StockReform},
		{"1.4 years at 45 °C count as 2.8", 1.4, 45, derate.StockTest},
		{"6 years at 45 °C count as 12", 6, 45, derate.StockRefuse},
		{"a cool store gains nothing", 10.1, 5, derate.StockRefuse},
	} {
		a := derate.JudgeStock(derate.OldStock{CapacitanceUF: 47, RatedV: 450, StoredYears: &r.years, StorageC: &r.celsius}, stockDay, derate.Default())
		if a.Verdict != r.verdict || !strings.Contains(a.Text, "without voltage") {
			t.Errorf("%s: %s, %s; want %s", r.source, a.Verdict, a.Text, r.verdict)
		}
		if needs := a.Verdict == derate.StockTest || a.Verdict == derate.StockReform; needs != (a.Recipe != nil) || needs != (len(a.Cautions) > 0) {
			t.Errorf("%s: %s with recipe %v and %d cautions", r.source, a.Verdict, a.Recipe != nil, len(a.Cautions))
		}
	}
}

// The recipes by construction, volts and years, each figure by its source in
// check-values.md 1.6.
func TestRecipes(t *testing.T) {
	t.Parallel()
	old := derate.Default()
	old.StockYears = 30
	for _, r := range []struct {
		what          string
		style         part.Style
		uf, v, years  float64
		name, source  string
		ohm, minutes  float64
		limitMA       float64
		doneUA        float64 // Vishay ASH and RSU, 5 min
		discharge     float64 // E12, at least 1 Ω per applied volt
		firstRaise    float64
		pieces        int
		each          float64 // W
		others, steps int
	}{
		{"EIA-815 above 100 V: 1000 Ω, 1 h", part.Radial, 47, 450, 4, "preconditioning", "EIA-815", 1000, 60, 10, 142.3, 470, 450, 1, 2, 3, 5},
		{"EIA-815 up to 100 V: 100 Ω", part.Axial, 100, 50, 4, "preconditioning", "EIA-815", 100, 60, 10, 13, 56, 50, 1, 0.25, 3, 5},
		{"CDE 1993 above 75 V: 100 kΩ, 1 mA, 4 h", part.Axial, 47, 450, 8, "re-ageing", "CDE 1993", 100e3, 240, 1, 142.3, 470, 113, 1, 3, 3, 8},
		{"CDE 1993 up to 75 V: 10 kΩ", part.Axial, 100, 50, 8, "re-ageing", "CDE 1993", 10e3, 240, 1, 13, 56, 13, 1, 0.25, 3, 8},
		{"a can of 4 years takes the slow one", part.Can, 32, 450, 4, "re-ageing", "CDE 1993", 100e3, 240, 1, 128.8, 470, 113, 1, 3, 3, 8},
		{"550 V is too much for one resistor", part.Axial, 33, 550, 8, "re-ageing", "CDE 1993", 94e3, 240, 1, 136.3, 560, 138, 2, 2, 3, 8},
		// 5 min and 1 min per month: 20 years give 245 min (COMPUTED).
		{"20 years, where the policy allows them", part.Axial, 47, 450, 20, "re-ageing", "CDE 1993", 100e3, 245, 1, 142.3, 470, 113, 1, 3, 3, 8},
	} {
		a := derate.JudgeStock(derate.OldStock{Style: r.style, CapacitanceUF: r.uf, RatedV: r.v, StoredYears: &r.years}, stockDay, old)
		p := a.Recipe
		if p == nil {
			t.Errorf("%s: no recipe: %s", r.what, a.Text)
			continue
		}
		if p.Name != r.name || !strings.Contains(p.Source, r.source) || math.Abs(p.Series.Ohm-r.ohm) > 1e-6 || p.Series.Pieces != r.pieces || p.Series.EachW != r.each ||
			p.Minutes != r.minutes || p.LimitMA != r.limitMA || math.Abs(p.DoneUA-r.doneUA) > 0.05 || p.Discharge.Ohm != r.discharge || len(p.Others) != r.others || len(p.Steps) != r.steps || p.Steps[1].V != r.firstRaise {
			t.Errorf("%s: %+v", r.what, *p)
		}
		// Vishay PSM-SI, table 5: twice the limit of 5 min after 30 min at rated volts.
		if p.RejectUA != 2*p.DoneUA || math.Abs(p.DoneV-p.DoneUA*1e-6*p.Series.Ohm) > 1e-12 {
			t.Errorf("%s: done at %g µA (%g V), scrap at %g µA", r.what, p.DoneUA, p.DoneV, p.RejectUA)
		}
	}
}

// The series resistor of the slow recipe stands a shorted part, in watts and volts.
func TestASeriesResistorStandsAShort(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		years := rapid.Float64Range(5.01, 10).Draw(t, "years")
		o := derate.OldStock{Style: part.Axial, CapacitanceUF: rapid.Float64Range(1, 500).Draw(t, "uf"), RatedV: rapid.Float64Range(6.3, 600).Draw(t, "v"), StoredYears: &years}
		r := derate.JudgeStock(o, stockDay, derate.Default()).Recipe
		n := float64(r.Series.Pieces)
		if w := o.RatedV * o.RatedV / r.Series.Ohm / n; w > r.Series.EachW || o.RatedV/n > r.Series.EachV {
			t.Fatalf("%g V on %+v: %g W each", o.RatedV, r.Series, w)
		}
		if near, _ := quantity.E12.Nearest(r.Series.EachOhm); near != r.Series.EachOhm || r.Discharge.Ohm < o.RatedV*(1-1e-9) {
			t.Fatalf("%+v; discharge %+v", r.Series, r.Discharge)
		}
	})
}

func TestOldStockByDateCode(t *testing.T) {
	t.Parallel()
	judge := func(text string) derate.StockAdvice {
		o, err := derate.ParseOldStock([]byte(text), stockDay)
		if err != nil {
			t.Fatal(err)
		}
		a := derate.JudgeStock(*o, stockDay, derate.Default())
		if _, err := json.Marshal(a); err != nil {
			t.Fatal(err)
		}
		return a
	}
	// Check-values.md 1.9: "1208" is week 8 of 2012, 14.3 years before 1 June 2026.
	if a := judge(`{"capacitance_uf":47,"rated_v":450,"date_code":"1208"}`); a.Verdict != derate.StockRefuse || math.Abs(a.Years-14.28) > 0.01 || a.How != "date code 1208 reads as week 8 of 2012" {
		t.Errorf("%+v", a)
	}
	// Ambiguous: week 22 of 2022 or no other; 2022 may be the year or week 22 of 2020.
	if a := judge(`{"capacitance_uf":47,"rated_v":450,"date_code":"2022"}`); !strings.Contains(a.How, "it may also be the year 2022") || math.Abs(a.Years-6) > 0.05 {
		t.Errorf("%+v", a)
	}
	if a := judge(`{"technology":"film","capacitance_uf":0.1,"rated_v":630,"date_code":"6744"}`); a.Verdict != derate.StockAsItIs || a.Recipe != nil || !strings.Contains(a.Text, "no electrolytic") {
		t.Errorf("%+v", a)
	}
	// The maker's own figures come before the assumed ones, and never lengthen the policy's limit.
	if a := judge(`{"capacitance_uf":47,"rated_v":450,"stored_years":5,"storage":{"max_years":4}}`); a.Verdict != derate.StockRefuse || a.LimitYears != 4 {
		t.Errorf("%+v", a)
	}
	if a := judge(`{"capacitance_uf":47,"rated_v":450,"stored_years":3,"storage":{"reform_after_years":4,"max_years":40}}`); a.Verdict != derate.StockAsItIs || a.LimitYears != 10 {
		t.Errorf("%+v", a)
	}
	// After 500 h at 85 °C without voltage the leakage is at most double (Vishay PSM-SI, table 5).
	if a := judge(`{"capacitance_uf":47,"rated_v":450,"stored_years":2.2}`); a.ExpectedUA == nil || math.Abs(*a.ExpectedUA-284.6) > 0.1 {
		t.Errorf("%+v", a)
	}
}

func TestOldStockFaults(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]string{
		`{"capacitance_uf":47,"rated_v":450}`:                                                     "/date_code: is required where stored_years",
		`{"capacitance_uf":47,"rated_v":450,"date_code":"2640"}`:                                  "/date_code: is in the future",
		`{"capacitance_uf":47,"rated_v":450,"date_code":"1208","stored_years":20}`:                "/stored_years: is longer than the part has existed",
		`{"capacitance_uf":-47,"rated_v":5000,"date_code":"??","storage_c":300,"style":"snapin"}`: "/capacitance_uf",
	} {
		_, err := derate.ParseOldStock([]byte(text), stockDay)
		e := problem.As(err)
		if e == nil || e.Code != problem.Invalid || !strings.Contains(e.Error(), want) {
			t.Errorf("%s: %v; want %s", text, err, want)
		}
		if strings.Contains(text, "snapin") && len(e.Faults) != 5 {
			t.Errorf("%s: %d faults, want 5 at once", text, len(e.Faults))
		}
	}
}

func FuzzParseOldStock(f *testing.F) {
	f.Add([]byte(`{"capacitance_uf":47,"rated_v":450,"date_code":"1208"}`))
	f.Add([]byte(`{"capacitance_uf":1e-6,"rated_v":1000,"stored_years":120,"storage_c":85,"style":"can","storage":{"max_years":0.1}}`))
	f.Add([]byte(`{"technology":"film"}`))
	f.Fuzz(func(t *testing.T, data []byte) {
		o, err := derate.ParseOldStock(data, stockDay)
		if err != nil {
			if code := problem.CodeOf(err); o != nil || code != problem.Invalid && code != problem.Malformed {
				t.Fatalf("%v: %v", code, err)
			}
			return
		}
		p := derate.Default()
		p.StockYears = 60
		a := derate.JudgeStock(*o, stockDay, p)
		if _, err := json.Marshal(a); err != nil || a.Verdict == "" || a.Text == "" {
			t.Fatalf("%s: %+v, %v", data, a, err)
		}
	})
}

package derate_test

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/part"
	"github.com/google/go-cmp/cmp"
)

// turns finds the reading between low and high at which a verdict changes from
// what it is at low.
func turns(low, high float64, verdict func(float64) string) float64 {
	was := verdict(low)
	for range 200 {
		if mid := low + (high-low)/2; verdict(mid) == was {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}

// Where each reading of a 40 µF 450 V electrolytic at 300 V turns its verdict,
// and into what. The sources stand beside the limits in the package.
func TestReadingsTurnWhereTheirLimitsAre(t *testing.T) {
	t.Parallel()
	sound := 0.10 / (2 * math.Pi * 100 * 40e-6) // Ω at 100 Hz
	high := part.PublishedFrequency(450).At(1e5)
	law5, _ := derate.NewLeakage(450, 5)
	law1, _ := derate.NewLeakage(450, 1)
	capacitance := func(hz *float64) func(float64, *amp.Fitted) {
		return func(x float64, f *amp.Fitted) { f.Readings.CapacitanceUF, f.Readings.CapacitanceHz = ptr(40*x), hz }
	}
	esr := func(hz *float64) func(float64, *amp.Fitted) {
		return func(x float64, f *amp.Fitted) { f.Readings.ESROhm, f.Readings.ESRHz = &x, hz }
	}
	leaks := func(v, minutes, celsius float64) func(float64, *amp.Fitted) {
		return func(x float64, f *amp.Fitted) {
			f.Readings.LeakageUA, f.Readings.LeakageV, f.Readings.LeakageMin, f.Readings.LeakageC = &x, &v, &minutes, &celsius
		}
	}
	tests := []struct {
		name      string
		role      amp.Role
		read      func(float64, *amp.Fitted)
		low, high float64
		want      float64
		from, to  string
	}{
		{"C at 120 Hz, replace", amp.Smoothing, capacitance(ptr(120.0)), 0.5, 0.75, 0.70, derate.CondReplace, derate.CondSuspect},
		{"C at 120 Hz, suspect", amp.Smoothing, capacitance(ptr(120.0)), 0.71, 1, 0.80, derate.CondSuspect, derate.CondKeep},
		{"C at 120 Hz, reads high", amp.Smoothing, capacitance(ptr(120.0)), 1, 2, 1.5, derate.CondKeep, derate.CondSuspect},
		{"C at 100 Hz is exact too", amp.Smoothing, capacitance(ptr(100.0)), 0.5, 0.75, 0.70, derate.CondReplace, derate.CondSuspect},
		{"C at 1 kHz, replace", amp.Smoothing, capacitance(ptr(1000.0)), 0.5, 0.7, 0.63, derate.CondReplace, derate.CondSuspect},
		{"C at 1 kHz, keep", amp.Smoothing, capacitance(ptr(1000.0)), 0.65, 1, 0.72, derate.CondSuspect, derate.CondKeep},
		{"C at 346 Hz, half way in log f", amp.Smoothing, capacitance(ptr(math.Sqrt(120 * 1000))), 0.5, 0.7, 0.70 * 0.95, derate.CondReplace, derate.CondSuspect},
		{"C at no known frequency", amp.Smoothing, capacitance(nil), 0.5, 0.7, 0.63, derate.CondReplace, derate.CondSuspect},
		{"C at 50 Hz, replace", amp.Smoothing, capacitance(ptr(50.0)), 0.5, 0.75, 0.70, derate.CondReplace, derate.CondSuspect},
		{"C at 50 Hz, keep", amp.Smoothing, capacitance(ptr(50.0)), 0.71, 1, 0.80, derate.CondSuspect, derate.CondKeep},
		{"C of film, low", amp.Coupling, capacitance(nil), 0.5, 1, 0.8, derate.CondSuspect, derate.CondKeep},
		{"C of film, high", amp.Coupling, capacitance(nil), 1, 2, 1.2, derate.CondKeep, derate.CondSuspect},
		{"ESR at 100 Hz, suspect", amp.Smoothing, esr(ptr(100.0)), sound, 2.5 * sound, 2 * sound, derate.CondKeep, derate.CondSuspect},
		{"ESR at 100 Hz, replace", amp.Smoothing, esr(ptr(100.0)), 2.5 * sound, 4 * sound, 3 * sound, derate.CondSuspect, derate.CondReplace},
		{"ESR at 100 kHz, replace", amp.Smoothing, esr(ptr(1e5)), 2.5 * sound / high / high, 4 * sound / high / high, 3 * sound / high / high, derate.CondSuspect, derate.CondReplace},
		{"ESR at no known frequency, suspect", amp.Smoothing, esr(nil), sound / high / high, 2.5 * sound, 2 * sound / high / high, derate.CondKeep, derate.CondSuspect},
		{"ESR at no known frequency, replace", amp.Smoothing, esr(nil), 2.5 * sound, 4 * sound, 3 * sound, derate.CondSuspect, derate.CondReplace},
		{"leakage after 5 min, suspect", amp.Smoothing, leaks(450, 5, 20), 1, 1000, law5.UA(40, 450), derate.CondKeep, derate.CondSuspect},
		{"leakage after 4 min, suspect", amp.Smoothing, leaks(450, 4, 20), 1, 1000, law1.UA(40, 450), derate.CondKeep, derate.CondSuspect},
		{"leakage after 5 min, replace", amp.Smoothing, leaks(450, 5, 20), 1000, 3000, derate.VintageLeakageUA(40, 450), derate.CondSuspect, derate.CondReplace},
		{"leakage after 30 min, replace", amp.Smoothing, leaks(450, 30, 20), 1, 1000, 2 * law5.UA(40, 450), derate.CondKeep, derate.CondReplace},
		{"leakage at 85 °C", amp.Smoothing, leaks(450, 5, 85), 1, 1000, 4 * law5.UA(40, 450), derate.CondKeep, derate.CondSuspect},
		{"leakage at 52.5 °C", amp.Smoothing, leaks(450, 5, 52.5), 1, 1000, 2 * law5.UA(40, 450), derate.CondKeep, derate.CondSuspect},
		{"leakage at 70 % of rated volts", amp.Smoothing, leaks(315, 5, 20), 1, 500, law5.UA(40, 450) / 2, derate.CondKeep, derate.CondSuspect},
		{"leakage at 85 % of rated volts", amp.Smoothing, leaks(382.5, 5, 20), 1, 1000, 0.75 * law5.UA(40, 450), derate.CondKeep, derate.CondSuspect},
		{"insulation of film, replace", amp.Coupling, leaks(300, 1, 20), 2, 10, 3, derate.CondSuspect, derate.CondReplace},     // 100 MΩ
		{"insulation of film, suspect", amp.Coupling, leaks(300, 1, 20), 0.01, 2, 0.3, derate.CondKeep, derate.CondSuspect},    // 1000 MΩ
		{"insulation read too low says nothing", amp.Coupling, leaks(209, 1, 20), 0.01, 5, 2.09, "unread", derate.CondReplace}, // 70 % of 300 V is 210 V
	}
	for _, tt := range tests {
		verdict := func(x float64) string {
			f := amp.Fitted{CapacitanceUF: 40, RatedV: 450, Readings: &amp.Readings{}}
			tt.read(x, &f)
			return derate.JudgeCondition(derate.Examined{Role: tt.role, Fitted: f, WorkingV: 300}).Verdict
		}
		at := turns(tt.low, tt.high, verdict)
		if math.Abs(at-tt.want) > 1e-9*tt.want || verdict(tt.low) != tt.from || verdict(tt.high) != tt.to {
			t.Errorf("%s: turns at %.9g from %s to %s, want %.9g", tt.name, at, verdict(tt.low), verdict(tt.high), tt.want)
		}
	}
}

// The limit that a sign shows is the one it turned at.
func TestASignShowsTheLimitItWasHeldTo(t *testing.T) {
	t.Parallel()
	sound := 0.10 / (2 * math.Pi * 100 * 40e-6)
	law5, _ := derate.NewLeakage(450, 5)
	for _, tt := range []struct {
		name string
		role amp.Role
		read amp.Readings
		want float64
	}{
		{"C down 30 %", amp.Smoothing, amp.Readings{CapacitanceUF: ptr(20.0), CapacitanceHz: ptr(100.0)}, 28},
		{"C down 20 %", amp.Smoothing, amp.Readings{CapacitanceUF: ptr(30.0), CapacitanceHz: ptr(100.0)}, 32},
		{"C sound", amp.Smoothing, amp.Readings{CapacitanceUF: ptr(40.0), CapacitanceHz: ptr(100.0)}, 28},
		{"C reads high", amp.Smoothing, amp.Readings{CapacitanceUF: ptr(70.0), CapacitanceHz: ptr(100.0)}, 60},
		{"C of film", amp.Coupling, amp.Readings{CapacitanceUF: ptr(20.0)}, 32},
		{"ESR three times", amp.Smoothing, amp.Readings{ESROhm: ptr(99.0), ESRHz: ptr(100.0)}, 3 * sound},
		{"ESR twice", amp.Smoothing, amp.Readings{ESROhm: ptr(2.5 * sound), ESRHz: ptr(100.0)}, 2 * sound},
		{"leakage of a new one", amp.Smoothing, amp.Readings{LeakageUA: ptr(5.0), LeakageV: ptr(450.0), LeakageMin: ptr(5.0)}, law5.UA(40, 450)},
		{"leakage that condemns", amp.Smoothing, amp.Readings{LeakageUA: ptr(5000.0), LeakageV: ptr(450.0), LeakageMin: ptr(5.0)}, derate.VintageLeakageUA(40, 450)},
		{"insulation", amp.Coupling, amp.Readings{LeakageUA: ptr(6.0), LeakageV: ptr(300.0)}, 100},
		{"insulation of a sound one", amp.Coupling, amp.Readings{LeakageUA: ptr(1.0), LeakageV: ptr(300.0)}, 1000},
	} {
		c := derate.JudgeCondition(derate.Examined{Role: tt.role, WorkingV: 300, Fitted: amp.Fitted{CapacitanceUF: 40, RatedV: 450, Readings: &tt.read}})
		if len(c.Signs) != 1 || math.Abs(c.Signs[0].Limit-tt.want) > 1e-9*tt.want {
			t.Errorf("%s: %+v, want a limit of %g", tt.name, c.Signs, tt.want)
		}
	}
}

// A marked upper tolerance stands in place of an old can's +50 %.
func TestAMarkedToleranceSaysWhatReadsHigh(t *testing.T) {
	t.Parallel()
	at := turns(1, 2, func(x float64) string {
		f := amp.Fitted{CapacitanceUF: 40, RatedV: 450, TolPlusPct: ptr(20.0), Readings: &amp.Readings{CapacitanceUF: ptr(40 * x), CapacitanceHz: ptr(100.0)}}
		return derate.JudgeCondition(derate.Examined{Role: amp.Smoothing, Fitted: f}).Verdict
	})
	near(t, "turns at", at, 1.2, 1e-9)
}

// Small series lose more: twice the loss factor up to 100 V, and their own
// leakage law.
func TestLowVoltagePartsHaveTheirOwnLimits(t *testing.T) {
	t.Parallel()
	for ratedV, tan := range map[float64]float64{63: 0.20, 100: 0.20, 101: 0.10} {
		at := turns(0.1, 20, func(x float64) string {
			f := amp.Fitted{CapacitanceUF: 40, RatedV: ratedV, Readings: &amp.Readings{ESROhm: &x, ESRHz: ptr(100.0)}}
			return derate.JudgeCondition(derate.Examined{Role: amp.Bias, Fitted: f}).Verdict
		})
		near(t, fmt.Sprintf("%g V, Ω", ratedV), at, 2*tan/(2*math.Pi*100*40e-6), 1e-6)
	}
	for _, tt := range []struct {
		ratedV, minutes float64
		want            part.Leakage
	}{
		{100, 4.9, part.Leakage{PerCV: 0.01, FloorUA: 3, Minutes: 2}}, {100, 5, part.Leakage{PerCV: 0.002, PlusUA: 3, Minutes: 5}},
		{101, 5, part.Leakage{PerCV: 0.009, PlusUA: 10, Minutes: 1}}, {385, 5, part.Leakage{PerCV: 0.009, PlusUA: 10, Minutes: 1}},
		{386, 4.9, part.Leakage{PerCV: 0.009, PlusUA: 200, Minutes: 1}}, {386, 5, part.Leakage{PerCV: 0.002, PlusUA: 100, Minutes: 5}},
	} {
		if got, _ := derate.NewLeakage(tt.ratedV, tt.minutes); got != tt.want {
			t.Errorf("%g V, %g min: %+v", tt.ratedV, tt.minutes, got)
		}
	}
}

// The words of a condition: what was not read is said, and the age decides only beyond 15 years.
func TestTheWordsOfACondition(t *testing.T) {
	t.Parallel()
	read := amp.Readings{ESROhm: ptr(4.0), ESRHz: ptr(100.0)}
	c := derate.JudgeCondition(derate.Examined{Role: amp.Smoothing, Fitted: amp.Fitted{CapacitanceUF: 32, RatedV: 450, Readings: &read}, WorkingV: 300})
	if diff := cmp.Diff([]string{"capacitance", "leakage"}, c.Unread); diff != "" || c.Text != "ESR reads 4 Ω; up to 4.97 Ω is sound; capacitance and leakage not read" {
		t.Errorf("%s%q", diff, c.Text)
	}
	// A leakage without its volts is none.
	read.LeakageUA = ptr(5.0)
	c = derate.JudgeCondition(derate.Examined{Role: amp.Smoothing, Fitted: amp.Fitted{CapacitanceUF: 32, RatedV: 450, Readings: &read}, WorkingV: 300})
	if len(c.Unread) != 2 {
		t.Errorf("%q", c.Unread)
	}
	// What cannot tell counts as not read, beside what can.
	read.LeakageV = ptr(9.0)
	c = derate.JudgeCondition(derate.Examined{Role: amp.Smoothing, Fitted: amp.Fitted{CapacitanceUF: 32, RatedV: 450, Readings: &read}, WorkingV: 300})
	if c.Verdict != derate.CondKeep || len(c.Unread) != 2 || !strings.Contains(c.Text, "it leaks 5 µA at 9 V, far below") || !strings.Contains(c.Text, "ESR reads 4 Ω") {
		t.Errorf("%s %q %q", c.Verdict, c.Unread, c.Text)
	}
	far := amp.Readings{LeakageUA: ptr(1.0), LeakageV: ptr(100.0)}
	c = derate.JudgeCondition(derate.Examined{Role: amp.Coupling, Fitted: amp.Fitted{CapacitanceUF: 0.1, RatedV: 250, Readings: &far}, WorkingV: 300})
	if len(c.Next) != 1 || c.Next[0] != "read its leakage at 250 V or more" {
		t.Errorf("%q", c.Next)
	}
	for years, want := range map[float64]string{15: derate.CondKeep, 15.1: derate.CondSuspect} {
		c := derate.JudgeCondition(derate.Examined{Role: amp.Smoothing, AgeYears: years, AgeHow: "as stated", Fitted: amp.Fitted{CapacitanceUF: 32, RatedV: 450}})
		if c.Verdict != want {
			t.Errorf("%g years: %s", years, c.Verdict)
		}
	}
	ten := amp.Readings{LeakageUA: ptr(1000.0), LeakageV: ptr(450.0), LeakageMin: ptr(5.0)}
	c = derate.JudgeCondition(derate.Examined{Role: amp.Smoothing, Fitted: amp.Fitted{CapacitanceUF: 32, RatedV: 450, Readings: &ten}, WorkingV: 450})
	if !strings.Contains(c.Text, "it leaks 1 mA at 450 V") {
		t.Error(c.Text)
	}
}

func stock(uf, ratedV, stored float64) derate.OldStock {
	return derate.OldStock{CapacitanceUF: uf, RatedV: ratedV, StoredYears: &stored}
}

// Where a stored part's verdict turns: two years as it is, three test, beyond
// that reform, ten the policy's limit.
func TestStorageTurnsAtItsYears(t *testing.T) {
	t.Parallel()
	judge := func(change func(*derate.OldStock)) func(float64) string {
		return func(years float64) string {
			o := stock(47, 450, years)
			change(&o)
			return derate.JudgeStock(o, time.Time{}, derate.Default()).Verdict
		}
	}
	plain := judge(func(*derate.OldStock) {})
	warm := judge(func(o *derate.OldStock) { o.StorageC = ptr(45.0) })
	maker := judge(func(o *derate.OldStock) {
		o.Storage = &part.Storage{ReformAfterYears: ptr(1.0), MaxYears: ptr(4.0)}
	})
	for _, tt := range []struct {
		name            string
		verdict         func(float64) string
		low, high, want float64
		to              string
	}{
		{"as it is to test", plain, 1, 2.9, 2, derate.StockTest},
		{"test to reform", plain, 2.1, 9, 3, derate.StockReform},
		{"reform to refuse", plain, 4, 20, 10, derate.StockRefuse},
		{"at 45 °C in half the time", warm, 0.5, 1.4, 1, derate.StockTest},
		{"at 45 °C refused at five years", warm, 2, 9, 5, derate.StockRefuse},
		{"its maker's year", maker, 0.1, 2.9, 1, derate.StockTest},
		{"its maker's four years", maker, 3.1, 9, 4, derate.StockRefuse},
	} {
		at := turns(tt.low, tt.high, tt.verdict)
		if math.Abs(at-tt.want) > 1e-9 || tt.verdict(tt.high) != tt.to {
			t.Errorf("%s: turns at %g to %s", tt.name, at, tt.verdict(tt.high))
		}
	}
	// A limit of the maker's that equals the policy's changes nothing.
	o := stock(47, 450, 20)
	o.Storage = &part.Storage{MaxYears: ptr(10.0)}
	if a := derate.JudgeStock(o, time.Time{}, derate.Default()); !strings.HasPrefix(a.LimitSource, "policy everyday") {
		t.Error(a.LimitSource)
	}
	for years, expected := range map[float64]bool{2.5: true, 2.6: false} {
		a := derate.JudgeStock(stock(47, 450, years), time.Time{}, derate.Default())
		if (a.ExpectedUA != nil) != expected || a.ExpectedSource == "" {
			t.Errorf("%g years: %+v", years, a)
		}
		if expected {
			near(t, "expected, µA", *a.ExpectedUA, 2*142.3, 1e-9)
		}
	}
	cool, hot := derate.JudgeStock(stock(47, 450, 4), time.Time{}, derate.Default()), stock(47, 450, 4)
	hot.StorageC = ptr(40.0)
	if strings.Contains(cool.Text, "warm store") || !strings.Contains(derate.JudgeStock(hot, time.Time{}, derate.Default()).Text, "in a warm store, which counts as 5.66 years at 35 °C") {
		t.Errorf("%q", derate.JudgeStock(hot, time.Time{}, derate.Default()).Text)
	}
	// Without a day no age follows from a date code.
	if a := derate.JudgeStock(derate.OldStock{CapacitanceUF: 47, RatedV: 450, DateCode: "1208"}, time.Time{}, derate.Default()); a.Verdict != derate.StockRefuse || a.Years != 0 {
		t.Errorf("%+v", a)
	}
}

// The two recipes to the last figure: ECIA/EIA-815 for a part of 4 years, CDE's
// re-ageing for one of 6.
func TestRecipesToTheLastFigure(t *testing.T) {
	t.Parallel()
	recipe := func(o derate.OldStock) *derate.Recipe {
		p := derate.Default()
		p.StockYears = 60
		a := derate.JudgeStock(o, time.Time{}, p)
		if a.Recipe == nil {
			t.Fatalf("%+v", a)
		}
		return a.Recipe
	}
	quick := recipe(stock(47, 450, 4))
	if quick.Name != "preconditioning" || quick.LimitMA != 10 || quick.Minutes != 60 || quick.RestHours != 12 || len(quick.Steps) != 5 || len(quick.Others) != 3 {
		t.Errorf("%+v", quick)
	}
	if diff := cmp.Diff(derate.Resistor{Ohm: 1000, Pieces: 1, EachOhm: 1000, EachW: 2, EachV: 500}, quick.Series); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff(derate.Resistor{Ohm: 470, Pieces: 1, EachOhm: 470, EachW: 5, EachV: 450}, quick.Discharge); diff != "" {
		t.Error(diff)
	}
	near(t, "done, µA", quick.DoneUA, 142.3, 1e-9)
	near(t, "done, V", quick.DoneV, 0.1423, 1e-12)
	near(t, "reject, µA", quick.RejectUA, 284.6, 1e-9)
	near(t, "reject, V", quick.RejectV, 0.2846, 1e-12)
	for i, says := range []string{"1000 Ω in series; bench supply limited to 10 mA, for a shorted part would draw 0.45 A", "raise to 450 V, no faster than the limit lets it charge (2.1 s and more)",
		"leave it there", "discharge it through 470 Ω (it holds 4.8 J)", "after 5 min it may leak 142 µA. At 285 µA or more it is scrap"} {
		if !strings.Contains(quick.Steps[i].Text, says) {
			t.Errorf("step %d: %q does not say %q", i, quick.Steps[i].Text, says)
		}
	}
	if quick.Steps[4].Minutes != 5 || quick.Steps[2].Minutes != 60 || quick.Steps[1].V != 450 || quick.Steps[3].V != 0 {
		t.Errorf("%+v", quick.Steps)
	}
	slow := recipe(stock(47, 450, 6))
	if slow.Name != "re-ageing" || slow.LimitMA != 1 || slow.Minutes != 240 || len(slow.Steps) != 8 {
		t.Errorf("%+v", slow)
	}
	if diff := cmp.Diff(derate.Resistor{Ohm: 100e3, Pieces: 1, EachOhm: 100e3, EachW: 3, EachV: 500}, slow.Series); diff != "" {
		t.Error(diff)
	}
	for i, says := range []string{"100 kΩ 3 W in series, and a meter across that: 100 V there are 1 mA", "to 113 V and wait until less than 50 V", "to 225 V", "to 338 V",
		"raise to rated volts", "with more than 45 V across the resistor"} {
		if !strings.Contains(slow.Steps[i].Text, says) {
			t.Errorf("step %d: %q does not say %q", i, slow.Steps[i].Text, says)
		}
	}
	near(t, "forces' rule where it is longer, min", recipe(stock(47, 450, 25)).Minutes, 305, 1e-9)
}

// What decides between the recipes, and their resistors.
func TestRecipesGoByYearsVoltsAndBuild(t *testing.T) {
	t.Parallel()
	can := stock(40, 450, 3.5)
	can.Style = part.Can
	for _, tt := range []struct {
		name   string
		o      derate.OldStock
		recipe string
		ohm    float64
		each   derate.Resistor
	}{
		{"5 years is quick", stock(47, 450, 5), "preconditioning", 1000, derate.Resistor{EachW: 2, EachV: 500}},
		{"a little more is slow", stock(47, 450, 5.01), "re-ageing", 100e3, derate.Resistor{EachW: 3, EachV: 500}},
		{"a can is slow", can, "re-ageing", 100e3, derate.Resistor{EachW: 3, EachV: 500}},
		{"100 V is 100 Ω", stock(47, 100, 4), "preconditioning", 100, derate.Resistor{EachW: 0.25, EachV: 250}},
		{"101 V is 1 kΩ", stock(47, 101, 4), "preconditioning", 1000, derate.Resistor{EachW: 0.25, EachV: 250}},
		{"350 V rated is a 350 V resistor", stock(47, 350, 4), "preconditioning", 1000, derate.Resistor{EachW: 0.5, EachV: 350}},
		{"75 V is 10 kΩ", stock(47, 75, 6), "re-ageing", 10e3, derate.Resistor{EachW: 1, EachV: 350}},
		{"76 V is 100 kΩ", stock(47, 76, 6), "re-ageing", 100e3, derate.Resistor{EachW: 0.25, EachV: 250}},
		{"1000 V wants three pieces", stock(1, 1000, 6), "re-ageing", 99e3, derate.Resistor{EachW: 5, EachV: 500}},
	} {
		p := derate.Default()
		p.StockYears = 60
		r := derate.JudgeStock(tt.o, time.Time{}, p).Recipe
		if r == nil || r.Name != tt.recipe || r.Series.Ohm != tt.ohm || r.Series.EachW != tt.each.EachW || r.Series.EachV != tt.each.EachV {
			t.Errorf("%s: %+v", tt.name, r)
		}
		if bySection := strings.Contains(r.Steps[4].Text, "Each section by itself"); bySection != (tt.o.Style == part.Can) {
			t.Errorf("%s: %q", tt.name, r.Steps[4].Text)
		}
		if pieces := strings.Contains(r.Steps[0].Text, "3 × 33 kΩ 5 W"); pieces != (tt.ohm == 99e3) {
			t.Errorf("%s: %q", tt.name, r.Steps[0].Text)
		}
	}
	// 1 Ω per volt, never less; a joule to the watt, 3 W at least.
	for _, tt := range []struct{ uf, ratedV, ohm, watts float64 }{
		{10, 450, 470, 3}, {47, 450, 470, 5}, {47, 470, 470, 7}, {60, 316.2277660168379, 330, 3}, {500, 450, 470, 25}, {2000, 450, 470, 25},
	} {
		d := derate.JudgeStock(stock(tt.uf, tt.ratedV, 4), time.Time{}, derate.Default()).Recipe.Discharge
		if d.Ohm != tt.ohm || d.EachW != tt.watts || d.EachV != tt.ratedV {
			t.Errorf("%g µF %g V: %+v", tt.uf, tt.ratedV, d)
		}
	}
}

// How old a part can be at most, by its date code, with a year's grace.
func TestNoPartIsStoredLongerThanItExists(t *testing.T) {
	t.Parallel()
	today := time.Date(2026, 2, 20, 0, 0, 0, 0, time.UTC) // week 8 of 2012 began on 20 February
	for stored, sound := range map[float64]bool{14.9: true, 15.1: false, 13: true} {
		_, err := derate.ParseOldStock([]byte(fmt.Sprintf(`{"capacitance_uf":47,"rated_v":450,"date_code":"1208","stored_years":%g}`, stored)), today)
		if (err == nil) != sound {
			t.Errorf("%g years of a part of 14: %v", stored, err)
		}
	}
}

// Limits at a mains plug, and a discharge at its ends.
func TestPlugLimitsAtTheirEdges(t *testing.T) {
	t.Parallel()
	count := func(farad, peakV float64) int { return len(derate.PlugLimits(farad, peakV, 0)) }
	for _, tt := range []struct {
		farad, peakV float64
		want         int
	}{{1e-6, 373, 3}, {0.3e-6, 373, 3}, {0.29e-6, 373, 2}, {1e-6, 60, 2}, {1e-6, 60.1, 3}, {1e-6, 34, 1}, {1e-6, 34.1, 2}, {1e-6, 0, 0}, {0, 373, 0}} {
		if got := count(tt.farad, tt.peakV); got != tt.want {
			t.Errorf("%g F at %g V: %d limits, want %d", tt.farad, tt.peakV, got, tt.want)
		}
	}
	most := derate.PlugLimits(1e-6, 373, 0)[0].MaxOhm
	for ohm, kept := range map[float64]bool{most * (1 - 1e-12): true, most * 1.001: false} {
		if l := derate.PlugLimits(1e-6, 373, ohm)[0]; l.Kept != kept || l.HaveS == nil {
			t.Errorf("%g Ω: %+v", ohm, l)
		}
	}
	for _, tt := range []struct{ ohm, farad, from, to float64 }{{0, 1, 450, 60}, {1, 0, 450, 60}, {1, 1, 450, 0}, {1, 1, 60, 60}, {-1, 1, 450, 60}} {
		if s := derate.DischargeS(tt.ohm, tt.farad, tt.from, tt.to); s != 0 {
			t.Errorf("%+v: %g s", tt, s)
		}
	}
}

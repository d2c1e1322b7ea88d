package derate_test

import (
	"math"
	"strings"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/part"

	"pgregory.net/rapid"
)

// The printed leakage of every row of Vishay 042/043 ASH (doc 28329 rev
// 19-Sep-16 p.4), 1 and 5 min, but the misprint of 450 V 68 µF at 1 min: the
// formula on the same page gives 475 µA and the table 460.
func TestLeakageLawsGiveThePrintedTable(t *testing.T) {
	t.Parallel()
	for _, r := range []struct{ ratedV, uf, oneMin, fiveMin float64 }{
		{400, 6.8, 220, 110}, {400, 10, 240, 110}, {400, 15, 250, 110}, {400, 22, 280, 120}, {400, 33, 320, 130}, {400, 47, 370, 140}, {400, 68, 440, 150},
		{450, 6.8, 230, 110}, {450, 10, 240, 110}, {450, 15, 260, 110}, {450, 22, 290, 120}, {450, 33, 330, 130}, {450, 47, 390, 140}, {450, 68, 0, 160},
	} {
		one, _ := derate.NewLeakage(r.ratedV, 1)
		five, _ := derate.NewLeakage(r.ratedV, 5)
		if got := one.UA(r.uf, r.ratedV); r.oneMin > 0 && math.Abs(got-r.oneMin) > 0.025*r.oneMin {
			t.Errorf("%g V %g µF, 1 min: %.4g µA, printed %g", r.ratedV, r.uf, got, r.oneMin)
		}
		// 0.002·CU + 100 is fitted to the column (COMPUTED): all rows within 6 µA.
		if got := five.UA(r.uf, r.ratedV); math.Abs(got-r.fiveMin) > 6 {
			t.Errorf("%g V %g µF, 5 min: %.4g µA, printed %g", r.ratedV, r.uf, got, r.fiveMin)
		}
	}
}

// Check-values.md 1.4, source beside each row.
func TestLeakageLaws(t *testing.T) {
	t.Parallel()
	law := func(ratedV, minutes float64) part.Leakage { l, _ := derate.NewLeakage(ratedV, minutes); return l }
	for _, r := range []struct {
		source             string
		law                part.Leakage
		uf, ratedV, wantUA float64
		tolPct             float64
	}{
		{"L1, Vishay 038 RSU, 2 min: 0.01·CU (COMPUTED example)", law(50, 2), 100, 50, 50, 0},
		{"L1, Vishay 038 RSU, 5 min: 0.002·CU + 3 (COMPUTED example)", law(50, 5), 100, 50, 13, 0},
		{"L1, Vishay 038 RSU, 2 min: 3 µA at least", law(16, 2), 1, 16, 3, 0},
		{"L2, secondary text: 0.01·CU + 3 (COMPUTED example)", part.Leakage{PerCV: 0.01, PlusUA: 3, Minutes: 2}, 100, 50, 53, 0},
		{"L3, Panasonic SU, 2 min: 0.01·CU or 3", part.Leakage{PerCV: 0.01, FloorUA: 3, Minutes: 2}, 10, 16, 3, 0},
		{"L3, Panasonic SU, 160 to 450 V, 2 min: 0.06·CU + 10", part.Leakage{PerCV: 0.06, PlusUA: 10, Minutes: 2}, 47, 450, 1279, 1e-9},
		{"L4, from memory, 5 min: 3·√CU (COMPUTED example)", part.Leakage{PerRootCV: 3, Minutes: 5}, 47, 450, 436, 0.1},
		{"Vishay ASH, 160 to 385 V, 1 min: 0.009·CU + 10", law(250, 1), 47, 250, 115.75, 1e-9},
	} {
		if got := r.law.UA(r.uf, r.ratedV); math.Abs(got-r.wantUA) > r.tolPct/100*r.wantUA {
			t.Errorf("%s: %.5g µA, want %g", r.source, got, r.wantUA)
		}
	}
	// L5, a capacitor bridge's manual quoted in a mailing list (puck.nether.net
	// boatanchors, May 1999): k·C + 0.3 mA; examples COMPUTED.
	for _, r := range []struct{ uf, ratedV, wantUA float64 }{
		{20, 450, 1100}, {40, 350, 1300}, {16, 250, 620}, {25, 25, 550}, {10, 100, 400}, {10, 101, 500}, {10, 251, 550}, {10, 351, 700},
	} {
		if got := derate.VintageLeakageUA(r.uf, r.ratedV); math.Abs(got-r.wantUA) > 1e-9 {
			t.Errorf("L5, %g µF %g V: %g µA, want %g", r.uf, r.ratedV, got, r.wantUA)
		}
	}
}

func ptr64(v float64) *float64 { return &v }

// The rules, each with the source its figure comes from. A fitted 32 µF 450 V
// electrolytic at a node of 400 V unless the row says otherwise.
func TestCondition(t *testing.T) {
	t.Parallel()
	type readings = amp.Readings
	all := func(uf, esr, ua float64) readings {
		return readings{CapacitanceUF: &uf, CapacitanceHz: ptr64(120), ESROhm: &esr, ESRHz: ptr64(100), LeakageUA: &ua, LeakageV: ptr64(450), LeakageMin: ptr64(5)}
	}
	for _, r := range []struct {
		what     string
		role     amp.Role
		read     readings
		years    float64
		want     string
		says     string // in the text
		next     string // in what to read next
		wantNext int
	}{
		{what: "nothing read", want: derate.CondUnread, says: "measure capacitance, ESR and leakage"},
		{what: "all sound", read: all(30, 4, 120), want: derate.CondKeep, says: "capacitance reads 30 µF of 32 µF (94 %)"},

		// IEC 60384-4-1 (secondary text), Vishay PSM-SI table 5: C down 30 % ends life.
		{what: "22.3 µF of 32, 70 %, at 120 Hz", read: readings{CapacitanceUF: ptr64(22.3), CapacitanceHz: ptr64(120)}, want: derate.CondReplace, says: "down by more than 30 %"},
		{what: "22.5 µF is not 30 % down", read: readings{CapacitanceUF: ptr64(22.5), CapacitanceHz: ptr64(120)}, want: derate.CondSuspect, says: "down by more than 20 %", next: "below 22.4 µF it goes", wantNext: 1},
		// Often quoted for design (secondary text): C down 20 %.
		{what: "25.7 µF is not 20 % down", read: readings{CapacitanceUF: ptr64(25.7), CapacitanceHz: ptr64(120)}, want: derate.CondKeep},
		// Check-values.md 1.9: some 10 % low at 1 kHz. 21 µF is 23.3 µF then.
		{what: "21 µF at 1 kHz may be 23.3 µF", read: readings{CapacitanceUF: ptr64(21), CapacitanceHz: ptr64(1000)}, want: derate.CondSuspect, says: "may or may not be 30 % down", next: "at 100 or 120 Hz: below 22.4 µF it goes", wantNext: 1},
		{what: "20 µF at 1 kHz is 22.2 µF at most", read: readings{CapacitanceUF: ptr64(20), CapacitanceHz: ptr64(1000)}, want: derate.CondReplace},
		{what: "20 µF at nobody knows what frequency", read: readings{CapacitanceUF: ptr64(20)}, want: derate.CondReplace},
		{what: "21 µF at nobody knows what frequency may be 23.3 µF", read: readings{CapacitanceUF: ptr64(21)}, want: derate.CondSuspect, says: "may or may not be 30 % down", wantNext: 1},
		// The same text: some 10 % high at DC. 23 µF at 50 Hz may be 20.9 µF.
		{what: "23 µF at 50 Hz may be 20.9 µF", read: readings{CapacitanceUF: ptr64(23), CapacitanceHz: ptr64(50)}, want: derate.CondSuspect, says: "may or may not be 30 % down", wantNext: 1},
		{what: "above 1 kHz nothing is published", read: readings{CapacitanceUF: ptr64(10), CapacitanceHz: ptr64(10000)}, want: derate.CondSuspect, next: "at 100 or 120 Hz", wantNext: 1},
		// Common practice: a leaky one reads high. Old cans go to +50 % (Vishay ASH, code T).
		{what: "52 µF of 32", read: readings{CapacitanceUF: ptr64(52), CapacitanceHz: ptr64(120)}, want: derate.CondSuspect, says: "above its upper tolerance of 50 %", next: "leakage", wantNext: 1},
		{what: "47 µF of 32", read: readings{CapacitanceUF: ptr64(47), CapacitanceHz: ptr64(120)}, want: derate.CondKeep},

		// tan δ 0.10 (Vishay ASH, 450 V) is 4.97 Ω at 100 Hz; three times that ends
		// life, twice is often quoted. At 10 kHz and above 1/1.40² of it (Vishay PSM-SI table 4).
		{what: "ESR of 9.9 Ω at 100 Hz", read: readings{ESROhm: ptr64(9.9), ESRHz: ptr64(100)}, want: derate.CondKeep, says: "up to 4.97 Ω is sound"},
		{what: "ESR of 10 Ω at 100 Hz", read: readings{ESROhm: ptr64(10), ESRHz: ptr64(100)}, want: derate.CondSuspect, next: "a new part of 32 µF and 450 V on the same meter", wantNext: 1},
		{what: "ESR of 15 Ω at 100 Hz", read: readings{ESROhm: ptr64(15), ESRHz: ptr64(100)}, want: derate.CondReplace, says: "more than three times"},
		{what: "ESR of 7.5 Ω at 100 kHz", read: readings{ESROhm: ptr64(7.7), ESRHz: ptr64(100e3)}, want: derate.CondReplace},
		{what: "ESR of 7.5 Ω at nobody knows what frequency", read: readings{ESROhm: ptr64(7.7)}, want: derate.CondSuspect, wantNext: 1},

		// Leakage: Vishay ASH allows a new one 128.8 µA after 5 min and 329.6 µA after
		// 1 min; the old bridge's manual (L5) 1.58 mA.
		{what: "120 µA after 5 min", read: readings{LeakageUA: ptr64(120), LeakageV: ptr64(450), LeakageMin: ptr64(5)}, want: derate.CondKeep},
		{what: "320 µA after 1 min", read: readings{LeakageUA: ptr64(320), LeakageV: ptr64(450), LeakageMin: ptr64(1)}, want: derate.CondKeep},
		{what: "400 µA after 5 min", read: readings{LeakageUA: ptr64(400), LeakageV: ptr64(450), LeakageMin: ptr64(5)}, want: derate.CondSuspect, says: "a new one leaks 129 µA at most", next: "reform it for 30 min", wantNext: 1},
		{what: "1.6 mA", read: readings{LeakageUA: ptr64(1600), LeakageV: ptr64(450), LeakageMin: ptr64(5)}, want: derate.CondReplace, says: "1.58 mA is the most"},
		// Vishay PSM-SI table 5, shelf life: after 30 min at rated volts twice the limit at most.
		{what: "250 µA after 30 min", read: readings{LeakageUA: ptr64(250), LeakageV: ptr64(450), LeakageMin: ptr64(30)}, want: derate.CondKeep},
		{what: "260 µA after 30 min", read: readings{LeakageUA: ptr64(260), LeakageV: ptr64(450), LeakageMin: ptr64(30)}, want: derate.CondReplace, says: "after 30 min; 258 µA is the most"},
		// Secondary text (L6): half at 70 % of rated volts, four times at 85 °C.
		{what: "70 µA at 315 V of 450", read: readings{LeakageUA: ptr64(70), LeakageV: ptr64(315), LeakageMin: ptr64(5)}, want: derate.CondSuspect, wantNext: 1},
		{what: "60 µA at 315 V of 450", read: readings{LeakageUA: ptr64(60), LeakageV: ptr64(315), LeakageMin: ptr64(5)}, want: derate.CondKeep},
		{what: "500 µA at 85 °C", read: readings{LeakageUA: ptr64(500), LeakageV: ptr64(450), LeakageMin: ptr64(5), LeakageC: ptr64(85)}, want: derate.CondKeep},
		{what: "9 V says nothing of 400 V", read: readings{LeakageUA: ptr64(1), LeakageV: ptr64(9)}, want: derate.CondUnread, says: "says nothing yet", next: "at 400 V or more", wantNext: 1},
		{what: "yet what leaks at 100 V is gone", read: readings{LeakageUA: ptr64(5000), LeakageV: ptr64(100)}, want: derate.CondReplace},

		// What is seen: common practice.
		{what: "bulge", read: readings{Seen: []string{"bulge"}}, want: derate.CondReplace, says: "it bulges"},
		{what: "sound by its readings, its vent open", read: func() readings { x := all(30, 4, 120); x.Seen = []string{"vent_open"}; return x }(), want: derate.CondReplace, says: "its vent has opened"},

		// Nichicon caps a calculated life at 15 years.
		{what: "14 years", years: 14, read: readings{}, want: derate.CondKeep, says: "14 years old"},
		{what: "16 years, nothing read", years: 16, read: readings{}, want: derate.CondSuspect, says: "beyond the 15 years", next: "capacitance, ESR and leakage", wantNext: 1},
		{what: "40 years, all read and sound", years: 40, read: all(30, 4, 120), want: derate.CondKeep},
		{what: "40 years, ESR alone", years: 40, read: readings{ESROhm: ptr64(4), ESRHz: ptr64(100)}, want: derate.CondSuspect, next: "capacitance and leakage", wantNext: 1},

		// Film: common practice. 100 MΩ is the least.
		{what: "coupling, 6 µA at 400 V is 67 MΩ", role: amp.Coupling, read: readings{LeakageUA: ptr64(6), LeakageV: ptr64(400)}, want: derate.CondReplace, says: "66.7 MΩ at 400 V; 100 MΩ is the least"},
		{what: "coupling, 2 µA", role: amp.Coupling, read: readings{LeakageUA: ptr64(2), LeakageV: ptr64(400)}, want: derate.CondSuspect, next: "the volts behind it", wantNext: 1},
		{what: "coupling, none", role: amp.Coupling, read: readings{LeakageUA: ptr64(0), LeakageV: ptr64(400)}, want: derate.CondKeep, says: "no leakage at 400 V"},
		{what: "coupling, old and film", role: amp.Coupling, years: 40, read: readings{}, want: derate.CondUnread},
		{what: "coupling, reads high", role: amp.Coupling, read: readings{CapacitanceUF: ptr64(40)}, want: derate.CondSuspect, says: "more than 20 % off", wantNext: 1},
		{what: "coupling, cracked", role: amp.Coupling, read: readings{Seen: []string{"cracked"}}, want: derate.CondReplace},
	} {
		t.Run(r.what, func(t *testing.T) {
			t.Parallel()
			e := derate.Examined{Role: amp.Smoothing, Fitted: amp.Fitted{CapacitanceUF: 32, RatedV: 450, Readings: &r.read}, WorkingV: 400}
			if r.role != "" {
				e.Role = r.role
			}
			if r.years > 0 {
				e.AgeYears, e.AgeHow = r.years, "as stated"
			}
			c := derate.JudgeCondition(e)
			if c.Verdict != r.want || !strings.Contains(c.Text, r.says) || len(c.Next) != r.wantNext || r.wantNext > 0 && !strings.Contains(c.Next[0], r.next) {
				t.Errorf("%s: %s; next %q", c.Verdict, c.Text, c.Next)
			}
			for _, s := range c.Signs {
				if s.Source == "" || s.Text == "" || s.Verdict == derate.CondSuspect && s.Next == "" {
					t.Errorf("%+v lacks its source, its words or the reading that would decide", s)
				}
			}
		})
	}
}

// A worse reading never gives a better verdict, and no reading at all is
// never better than a bad one.
func TestAWorseReadingIsNeverBetter(t *testing.T) {
	t.Parallel()
	rank := map[string]int{derate.CondKeep: 0, derate.CondUnread: 0, derate.CondSuspect: 1, derate.CondReplace: 2}
	rapid.Check(t, func(t *rapid.T) {
		draw := func(name string, low, high float64) float64 {
			return math.Exp(rapid.Float64Range(math.Log(low), math.Log(high)).Draw(t, name))
		}
		f := amp.Fitted{CapacitanceUF: draw("marked", 1, 500), RatedV: draw("rated", 10, 500)}
		hz, at, minutes := draw("hz", 10, 2e5), f.RatedV*draw("at", 0.1, 1.15), draw("min", 0.1, 100)
		worse := draw("worse", 1, 20)
		judge := func(k float64, of string) int {
			r := amp.Readings{}
			switch of {
			case "capacitance":
				r.CapacitanceUF, r.CapacitanceHz = ptr64(f.CapacitanceUF/k), &hz
			case "esr":
				r.ESROhm, r.ESRHz = ptr64(k*0.1), &hz
			case "leakage":
				r.LeakageUA, r.LeakageV, r.LeakageMin = ptr64(10*k), &at, &minutes
			}
			g := f
			g.Readings = &r
			return rank[derate.JudgeCondition(derate.Examined{Role: amp.Smoothing, Fitted: g, WorkingV: f.RatedV * 0.9}).Verdict]
		}
		for _, of := range []string{"capacitance", "esr", "leakage"} {
			k := draw("k", 1, 1000)
			if a, b := judge(k, of), judge(k*worse, of); b < a {
				t.Fatalf("%s at %g gives rank %d, at %g rank %d", of, k, a, k*worse, b)
			}
		}
	})
}

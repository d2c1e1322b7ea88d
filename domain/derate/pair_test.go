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

// Hand sums. At 100 Hz 22 µF has 72.3 Ω and 33 µF 48.2 Ω; without ESR they
// share as 22 : 33. Where ESR is all there is, 1 Ω and 3 Ω share as 3 : 1. With
// 40 Ω in series with the 22 µF its admittance is 1/√(40² + 72.3²) = 12.10 mS,
// the other's 20.73 mS, at 28.9° to each other: together 31.9 mS, so 37.9 %.
func TestParallelCapacitorsShareByAdmittance(t *testing.T) {
	t.Parallel()
	near(t, "alike", derate.ShareOf(100, 22, 5, 22, 5), 0.5, 1e-12)
	near(t, "by capacitance", derate.ShareOf(100, 22, 0, 33, 0), 0.4, 1e-12)
	near(t, "by ESR", derate.ShareOf(1e9, 22, 1, 33, 3), 0.75, 1e-6)
	near(t, "by both", derate.ShareOf(100, 22, 40, 33, 0), 0.379, 0.001)
	near(t, "nothing there", derate.ShareOf(100, 0, 0, 0, 0), 0, 0)
}

// Each of a pair is judged with its worst share: −10/+50 % parts share 1.5 to
// 0.9 at 100 Hz, but for their ESR: 62.5 % of 400 mA is 250 mA. By hand with
// ESR: the one 33 µF and 5.78 Ω, the other 19.8 µF and 6.8 Ω.
func TestAPairIsJudgedByItsWorstShare(t *testing.T) {
	t.Parallel()
	r := axial() // 22 µF, 240 mA, factor 1.9 at 55 °C
	s := smoothing()
	s.Ripple = []derate.Current{{Hz: 100, A: 0.4}}
	s.Window = derate.Window{OriginalUF: 40, MinUF: 36, MinRule: "hum", MaxUF: 88, MaxRule: "2.2 times"}
	v, share := derate.JudgePair(s, r, r, derate.Default())
	x1, x2 := 1/(2*math.Pi*100*33e-6), 1/(2*math.Pi*100*19.8e-6)
	y1, y2 := 1/complex(5.78, -x1), 1/complex(6.8, -x2)
	want := math.Hypot(real(y1), imag(y1)) / math.Hypot(real(y1+y2), imag(y1+y2))
	near(t, "worst share", share.FirstPct/100, want, 1e-9)
	near(t, "about", want, 0.625, 0.002)
	near(t, "even share", share.FirstEvenPct, 50, 1e-9)
	near(t, "ripple of one, mA", one(t, v, "ripple").Have, 400*want, 1e-6)
	near(t, "value of both", one(t, v, "capacitance").Have, 44, 1e-9)
	if !v.Pass {
		t.Errorf("%+v", derate.Misses(v))
	}
}

// A construction never passes where a unit of it fails, whatever is drawn.
func TestNoConstructionPassesWhereAUnitFails(t *testing.T) {
	t.Parallel()
	passed := map[string]int{}
	rapid.Check(t, func(t *rapid.T) {
		s, r, p := anyStress(t), anyPart(t), anyPolicy(t)
		if rapid.Bool().Draw(t, "likely") {
			s, r = tall(), axial()
			s.WorkingV, s.Worst.V = float(t, "working v", 100, 600), float(t, "worst v", 100, 700)
			s.Peaks, s.Window = []derate.CasePeak{s.Worst}, derate.Window{}
			r.Part.LeakageUA = ptr(float(t, "leak", 0, 500))
		}
		two := r
		two.Part.PartNumber, two.Part.CapacitanceUF = "other", r.Part.CapacitanceUF*float(t, "ratio", 0.3, 1)
		v, _ := derate.JudgePair(s, r, two, p)
		for _, unit := range []derate.Rated{r, two} {
			alone := s
			alone.Window, alone.Body, alone.Ripple, alone.IdleRipple, alone.RippleRMSA = derate.Window{}, nil, nil, nil, 0
			if v.Pass && !derate.Judge(alone, unit, p).Pass {
				t.Fatalf("a pair passes whose %s fails without any current", unit.Part.PartNumber)
			}
		}
		n := rapid.IntRange(2, 3).Draw(t, "units")
		w, b := derate.JudgeStack(s, r, n, 0, p)
		if w.Pass && (b == nil || r.Part.RatedV < s.Worst.V/float64(n) && !p.UseSurge || b.StandingV > r.Part.RatedV) {
			t.Fatalf("%d units of %g V pass under %g V: %+v", n, r.Part.RatedV, s.Worst.V, b)
		}
		if v.Pass {
			passed["pair"]++
		}
		if w.Pass {
			passed["stack"]++
		}
	})
	if passed["pair"] == 0 || passed["stack"] == 0 {
		t.Errorf("nothing ever passed: %v", passed)
	}
}

// can is 40 + 20 µF 500 V in one can of 35 × 65 mm: 390 mA, which is its first
// section's.
func can() derate.Rated {
	r := axial()
	r.Part.PartNumber, r.Part.Style = "CAN", part.Can
	r.Part.CapacitanceUF, r.Part.FurtherSectionsUF, r.Part.RatedV = 40, []float64{20}, 500
	r.Part.RippleMA, r.Part.ESROhm, r.Part.DiameterMM, r.Part.LengthMM = ptr(390.0), ptr(4.5), ptr(35.0), ptr(65.0)
	return r
}

func sectionsOf(first, second float64) []derate.CanSection {
	a, b := smoothing(), smoothing()
	a.Ripple, b.Ripple = []derate.Current{{Hz: 100, A: first}}, []derate.Current{{Hz: 100, A: second}}
	b.AmbientC = 65
	return []derate.CanSection{{Section: 0, Stress: a}, {Section: 1, Stress: b}}
}

// A section of half the capacitance is granted √½ of the current: 390 · 0.7071
// = 275.8 mA, and has twice the ESR, so both then heat alike.
func TestASectionIsGrantedRippleByItsCapacitance(t *testing.T) {
	t.Parallel()
	r := can()
	small := r.Section(1)
	near(t, "ripple, mA", *small.Part.RippleMA, 275.77, 0.01)
	near(t, "ESR, Ω", *small.Part.ESROhm, 9, 1e-9)
	near(t, "heat, W", *small.Part.RippleMA**small.Part.RippleMA**small.Part.ESROhm, *r.Part.RippleMA**r.Part.RippleMA**r.Part.ESROhm, 1e-6)
	v := derate.JudgeSection(smoothing(), r, 1, derate.Default())
	near(t, "its value", one(t, v, "capacitance").Have, 20, 1e-9)
	for _, name := range []string{"body", "life", "temperature", "sections"} {
		if len(named(v, name)) > 0 {
			t.Errorf("%s is judged of a section: it is the can's", name)
		}
	}
}

// The sections heat one can: 300 mA in the first and 200 mA in the second are
// √(300² + 2·200²) = 412.3 mA of the first, at 65 °C, the hottest place: 390 mA
// × 1.7 (straight line from 2.0 at 50 °C by 1.6 at 70 °C) = 663 mA.
func TestACanIsHeatedByAllItsSections(t *testing.T) {
	t.Parallel()
	v := derate.JudgeCan(sectionsOf(0.3, 0.2), can(), nil, derate.Default())
	c := one(t, v, "ripple")
	near(t, "together, mA", c.Have, 412.31, 0.01)
	near(t, "allowed, mA", c.Limit, 663, 0.1)
	if !strings.Contains(c.Source, "our rule") || v.LifeYears == 0 {
		t.Errorf("%+v", v)
	}
	// Neither section passes its own limit at 500 mA and 350 mA; together they pass the can's.
	both := sectionsOf(0.5, 0.35)
	for _, u := range both {
		if s := derate.JudgeSection(u.Stress, can(), u.Section, derate.Default()); !one(t, s, "ripple").Pass {
			t.Errorf("section %d by itself: %+v", u.Section, one(t, s, "ripple"))
		}
	}
	if c := one(t, derate.JudgeCan(both, can(), nil, derate.Default()), "ripple"); c.Pass || c.Cure == "" {
		t.Errorf("√(500² + 2·350²) = 704 mA of 663 mA: %+v", c)
	}
}

func TestACanIsHeldToItsClampAndItsSpareSections(t *testing.T) {
	t.Parallel()
	p := derate.Default()
	used := sectionsOf(0.1, 0.1)
	for _, tt := range []struct {
		name  string
		used  int
		spare int
		room  *amp.Body
		fails string
	}{
		{"all in use, in its clamp", 2, 0, &amp.Body{ClampMM: ptr(35.0)}, ""},
		{"one left over", 1, 1, nil, ""},
		{"one left over, none allowed", 1, 0, nil, "sections"},
		{"a clamp too wide", 2, 0, &amp.Body{ClampMM: ptr(38.0)}, "body"},
		{"too little height", 2, 0, &amp.Body{MaxLengthMM: ptr(60.0)}, "body"},
	} {
		p.SpareSections = tt.spare
		v := derate.JudgeCan(used[:tt.used], can(), tt.room, p)
		misses := derate.Misses(v)
		if v.Pass != (tt.fails == "") || !v.Pass && (len(misses) != 1 || misses[0].Name != tt.fails || misses[0].Cure == "") {
			t.Errorf("%s: %+v", tt.name, misses)
		}
	}
	bare := can()
	bare.Part.DiameterMM = nil
	if v := derate.JudgeCan(used, bare, nil, p); v.Pass || one(t, v, "body").Outcome != derate.Unknown {
		t.Errorf("a can of unknown size: %+v", v.Checks)
	}
}

// The rectifier's peak judges the upper tolerance end; where it rests on memory it warns.
func TestTheUpperToleranceEndIsHeldToThePeakCurrent(t *testing.T) {
	t.Parallel()
	s, r := smoothing(), axial() // 22 µF +50 %: 33 µF
	for _, tt := range []struct {
		upper       float64
		advice      bool
		pass, fails bool
	}{{0, false, true, false}, {33, false, true, false}, {32, false, false, true}, {32, true, true, true}} {
		s.Window.UpperUF, s.Window.UpperRule, s.Window.UpperAdvice = tt.upper, "the peak of a rectifier", tt.advice
		v := derate.Judge(s, r, derate.Default())
		found := named(v, "inrush")
		if v.Pass != tt.pass || tt.upper > 0 && found[0].Pass == tt.fails || tt.upper == 0 && found != nil {
			t.Errorf("%+v: pass %v, %+v", tt, v.Pass, found)
		}
	}
}

// What would make it pass, with the figure.
func TestAFailedCheckSaysWhatWouldMakeItPass(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name, want string
		change     func(*derate.Stress, *derate.Rated)
	}{
		{"cold_start", "a rating of at least 461 V", func(s *derate.Stress, r *derate.Rated) { s.Worst.V = 460.2 }},
		{"working_voltage", "a rating of at least 478 V (or working_share of 0.96 in the policy)", func(s *derate.Stress, r *derate.Rated) { s.WorkingV = 430 }},
		{"capacitance", "a value of 25 µF to 44 µF", func(s *derate.Stress, r *derate.Rated) { s.Window.MinUF = 25 }},
		{"ripple", "a ripple rating of at least 500 mA at 100 Hz", func(s *derate.Stress, r *derate.Rated) {
			s.AmbientC, s.Ripple = 85, []derate.Current{{Hz: 100, A: 0.5}}
		}},
		{"temperature", "a temperature class of at least 90 °C, or cooler air", func(s *derate.Stress, r *derate.Rated) { s.AmbientC = 90 }},
		{"life", "a life of at least", func(s *derate.Stress, r *derate.Rated) { r.Series.Life = life(part.TenKelvin, 1000, 85, 5) }},
		{"body", "a diameter of at most 12 mm", func(s *derate.Stress, r *derate.Rated) { s.Body = &amp.Body{MaxDiameterMM: ptr(12.0)} }},
		{"ripple", "its ripple_ma, were it given", func(s *derate.Stress, r *derate.Rated) { r.Part.RippleMA = nil }},
	} {
		s, r := smoothing(), axial()
		tt.change(&s, &r)
		found := named(derate.Judge(s, r, derate.Default()), tt.name)
		if c := found[0]; c.Pass || !strings.Contains(c.Cure, tt.want) {
			t.Errorf("%s: %q, want %q (%s)", tt.name, c.Cure, tt.want, c.Text)
		}
	}
}

package derate_test

import (
	"strings"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/part"
	"github.com/google/go-cmp/cmp"
)

func banded() derate.Stress {
	s := smoothing()
	s.Worst.Above = []derate.Above{{V: 400, S: 10}}
	s.Peaks = []derate.CasePeak{s.Worst, {Case: "silicon_fitted", V: 500, Above: []derate.Above{{V: 450, S: 3}}}}
	s.Ripple = []derate.Current{{Hz: 120, A: 0.06}, {Hz: 240, A: 0.02}}
	s.IdleRipple = []derate.Current{{Hz: 120, A: 0.04}}
	return s
}

// At the high end each figure stands as far above its likely value as its band
// says; a figure without a band stays.
func TestTheHighEndRaisesEachFigureByItsOwnBand(t *testing.T) {
	t.Parallel()
	if diff := cmp.Diff(banded(), banded().AtHighEnd()); diff != "" {
		t.Errorf("without bands: %s", diff)
	}
	s := banded()
	s.ColdBand = &derate.Band{Low: 400, Likely: 420, High: 462}        // × 1.1
	s.WorkingBand = &derate.Band{Low: 330, Likely: 340, High: 408}     // × 1.2
	s.RippleBand = &derate.Band{Low: 0.05, Likely: 0.06, High: 0.0750} // × 1.25
	before := cmp.Diff(s, s)
	high := s.AtHighEnd()
	near(t, "cold, V", high.Worst.V, 462, 1e-9)
	near(t, "its ladder, V", high.Worst.Above[0].V, 440, 1e-9)
	near(t, "its seconds", high.Worst.Above[0].S, 10, 0)
	near(t, "a case, V", high.Peaks[1].V, 550, 1e-9)
	near(t, "the case's ladder, V", high.Peaks[1].Above[0].V, 495, 1e-9)
	near(t, "working, V", high.WorkingV, 408, 1e-9)
	near(t, "ripple, A", high.Ripple[1].A, 0.025, 1e-12)
	near(t, "ripple idling, A", high.IdleRipple[0].A, 0.05, 1e-12)
	near(t, "ripple RMS, A", high.RippleRMSA, 0.075, 1e-12)
	near(t, "DC, V", high.DCV, s.DCV, 0)
	if fresh := banded(); before != "" || s.Peaks[1].V != fresh.Peaks[1].V || s.Ripple[0].A != fresh.Ripple[0].A || s.Peaks[1].Above[0].V != fresh.Peaks[1].Above[0].V {
		t.Error("the stress itself was changed")
	}
	// A band round nothing says nothing.
	s.ColdBand, s.WorkingBand, s.RippleBand = &derate.Band{High: 9}, &derate.Band{High: 9}, &derate.Band{High: 9}
	if got := s.AtHighEnd(); got.Worst.V != 420 || got.WorkingV != 340 || got.RippleRMSA != 0.06 {
		t.Errorf("%+v", got)
	}
}

// A stack's stress was worked out for units of ±20 %, 1.2 of an even share; of
// −10/+50 % the worst takes 1.25 of it.
func TestAnotherToleranceTakesAnotherShareOfTheStack(t *testing.T) {
	t.Parallel()
	stack := func(balanced bool) derate.Stress {
		s := banded()
		s.Units, s.ChargingShare, s.RestShare, s.Balanced = 2, 1.2, 1.2, balanced
		if balanced {
			s.RestShare = 1.05
		}
		return s
	}
	k := 1.25 / 1.2
	loose := stack(false).ForTolerance(10, 50)
	near(t, "cold", loose.Worst.V, 420*k, 1e-9)
	near(t, "its ladder", loose.Worst.Above[0].V, 400*k, 1e-9)
	near(t, "a case", loose.Peaks[1].V, 500*k, 1e-9)
	near(t, "the case's ladder", loose.Peaks[1].Above[0].V, 450*k, 1e-9)
	near(t, "working", loose.WorkingV, 340*k, 1e-9)
	near(t, "DC", loose.DCV, 338*k, 1e-9)
	near(t, "nominal DC", loose.NominalDCV, 320*k, 1e-9)
	near(t, "share charging", loose.ChargingShare, 1.25, 1e-12)
	near(t, "share at rest", loose.RestShare, 1.25, 1e-12)
	held := stack(true).ForTolerance(10, 50)
	near(t, "resistors hold the working volts", held.WorkingV, 340, 0)
	near(t, "and the share at rest", held.RestShare, 1.05, 0)
	near(t, "yet not the cold ones", held.Worst.V, 420*k, 1e-9)
	fresh := stack(false)
	if fresh.ForTolerance(10, 50); fresh.Peaks[1].V != 500 || fresh.Peaks[1].Above[0].V != 450 {
		t.Error("the stress itself was changed")
	}
	for name, s := range map[string]derate.Stress{
		"a single capacitor": func() derate.Stress { s := stack(false); s.Units = 1; return s }(),
		"no charging share":  func() derate.Stress { s := stack(false); s.ChargingShare = 0; return s }(),
		"no share at rest":   func() derate.Stress { s := stack(false); s.RestShare = 0; return s }(),
	} {
		if diff := cmp.Diff(s, s.ForTolerance(10, 50)); diff != "" {
			t.Errorf("%s: %s", name, diff)
		}
	}
}

// A fitted film coupling capacitor has no surge rating to lean on.
func TestAFittedFilmCapacitorHasNoSurge(t *testing.T) {
	t.Parallel()
	s, p := smoothing(), derate.Default()
	s.Role, s.Window, p.UseSurge = amp.Coupling, derate.Window{}, true
	s.Worst = derate.CasePeak{Title: "cold start", V: 440, Mandatory: true, AboveRatedS: 5}
	s.Peaks = []derate.CasePeak{s.Worst}
	f := amp.Fitted{CapacitanceUF: 0.1, RatedV: 400}
	if derate.JudgeFitted(s, f, p).Pass {
		t.Error("440 V on a 400 V film part")
	}
	s.Role, s.WorkingV = amp.Smoothing, 300
	if v := derate.JudgeFitted(s, f, p); !v.Pass {
		t.Errorf("an electrolytic of 400 V stands 440 V for 5 s by its surge: %+v", v.Checks)
	}
	if a, b := derate.FittedSurge(amp.Coupling, f), derate.FittedSurge(amp.Smoothing, f); a != 400 || b != 440.00000000000006 && b != 440 {
		t.Errorf("surge of film %g, of an electrolytic %g", a, b)
	}
}

// A fitted capacitor's time above its rating is read from a ladder of one step
// as well as of many; exactly the surge test's time is allowed.
func TestTheSurgeTestsTimeIsAllowedToTheSecond(t *testing.T) {
	t.Parallel()
	s, p := smoothing(), derate.Default()
	p.UseSurge, p.SurgeLimitS, s.WorkingV = true, 20, 300
	f := amp.Fitted{CapacitanceUF: 22, RatedV: 400}
	for _, tt := range []struct {
		above []derate.Above
		pass  bool
	}{{[]derate.Above{{V: 400, S: 20}}, true}, {[]derate.Above{{V: 400, S: 20.1}}, false}, {[]derate.Above{{V: 390, S: 19}, {V: 410, S: 9}}, true}} {
		s.Worst = derate.CasePeak{V: 430, Mandatory: true, Above: tt.above, AboveRatedS: 99}
		s.Peaks = []derate.CasePeak{s.Worst}
		if v := derate.JudgeFitted(s, f, p); v.Pass != tt.pass {
			t.Errorf("%v: %+v", tt.above, v.Checks)
		}
	}
}

// Fitted on the mains: the marked upper tolerance counts, ±20 % where there is
// none; volts without a class are no AC rating.
func TestFittedMainsCapacitorsCountAsMarked(t *testing.T) {
	t.Parallel()
	s, f := lineToChassis(120, 60), amp.Fitted{CapacitanceUF: 0.0047, RatedV: 300, SafetyClass: "Y2"}
	near(t, "unmarked, mA", one(t, derate.JudgeFitted(s, f, derate.Default()), "touch_current").Have, derate.TouchMA(120, 60, 0.0047*1.2), 1e-12)
	f.TolPlusPct = ptr(80.0)
	near(t, "marked Z, mA", one(t, derate.JudgeFitted(s, f, derate.Default()), "touch_current").Have, derate.TouchMA(120, 60, 0.0047*1.8), 1e-12)
	f.SafetyClass = ""
	if c := one(t, derate.JudgeFitted(s, f, derate.Default()), "mains_voltage"); c.Outcome != derate.Failed || c.Text != "no AC rating for the mains, which reaches 120 V" {
		t.Errorf("%+v", c)
	}
	for _, unknown := range []derate.Stress{lineToChassis(120, 0), lineToChassis(0, 60)} {
		v := derate.Judge(unknown, yPart(0.001, 20), derate.Default())
		if c := named(v, "data"); len(c) != 1 || v.Pass {
			t.Errorf("%g V, %g Hz: %+v", unknown.MainsV, unknown.MainsHz, v.Checks)
		}
	}
}

// Where a part has no ripple rating and next to no current flows, its life is
// that at rated ripple.
func TestWithoutARatingLifeIsThatAtRatedRipple(t *testing.T) {
	t.Parallel()
	s, r, p := smoothing(), axial(), derate.Default()
	s.Ripple, r.Part.RippleMA = []derate.Current{{Hz: 100, A: 0.001}}, nil
	r.Series.Life = life(part.TenKelvinRipple, 2000, 85, 5)
	p.HoursPerWeek = 168
	near(t, "years", derate.Judge(s, r, p).LifeYears, derate.Years(16000, 168), 1e-9)
	if c := one(t, derate.Judge(s, r, p), "ripple"); c.Text != "no ripple rating is given; 1.0 mA is trivial" || c.Limit != 5 {
		t.Errorf("%+v", c)
	}
	r.Series.MaxC, r.Series.Life = nil, nil
	v := derate.Judge(s, r, p)
	if c := one(t, v, "life"); c.Outcome != derate.Unknown || v.LifeYears != 0 || c.Missing[0] != "max_c" {
		t.Errorf("%+v", c)
	}
	near(t, "hours nobody counts, years", derate.Years(1, 0), 15, 0)
	near(t, "driven in full never, though that would kill", derate.MixedH(30000, 0, 0), 30000, 0)
}

// A series without a table bears a current at its base frequency and above; the
// sentence says where it reaches lower.
func TestAFrequencyBelowTheBaseOfABareRatingIsSaid(t *testing.T) {
	t.Parallel()
	const says = "no factor is given as low as"
	for hz, said := range map[float64]bool{99: true, 100: false, 101: false} {
		s, r := smoothing(), axial()
		s.Ripple = []derate.Current{{Hz: hz, A: 0.02}, {Hz: 20, A: 0}} // nothing flows at 20 Hz
		r.Series.FrequencyFactors = part.FrequencyTable{{Hz: 100, Factor: 1}}
		c := one(t, derate.Judge(s, r, derate.Default()), "ripple")
		if got := strings.Contains(c.Text, says); got != said {
			t.Errorf("%g Hz: %s", hz, c.Text)
		}
	}
}

package derate_test

import (
	"math"
	"strings"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/part"
	"github.com/google/go-cmp/cmp"
)

func TestAPartWithRoomEverywherePasses(t *testing.T) {
	t.Parallel()
	v := derate.Judge(smoothing(), axial(), derate.Default())
	if !v.Pass || len(derate.Misses(v)) != 0 {
		t.Errorf("refused: %+v", derate.Misses(v))
	}
	var names []string
	for _, c := range v.Checks {
		names = append(names, c.Name)
		if c.Text == "" || c.Source == "" {
			t.Errorf("%s has no sentence or no source: %+v", c.Name, c)
		}
	}
	want := []string{"technology", "sections", "capacitance", "working_voltage", "cold_start", "ripple", "temperature", "temperature", "life"}
	if diff := cmp.Diff(want, names); diff != "" {
		t.Error(diff)
	}
}

// Operating rule: DC plus ripple peak ≤ rated (Nippon Chemi-Con precautions;
// GE capacitor application data p.68); the share of it is the shop's policy.
func TestWorkingVoltageIsHeldToThePolicysShare(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name     string
		workingV float64
		share    float64
		pass     bool
		limit    float64
	}{
		{"well below", 340, 0.9, true, 405},
		{"exactly at the share", 405, 0.9, true, 405},
		{"a volt above the share", 406, 0.9, false, 405},
		{"all of the rating allowed", 449, 1, true, 450},
		{"never above rated", 451, 1, false, 450},
		{"a share beyond 1 grants nothing", 451, 1.2, false, 450},
	}
	for _, tt := range tests {
		s, p := smoothing(), derate.Default()
		s.WorkingV, p.WorkingShare = tt.workingV, tt.share
		c := one(t, derate.Judge(s, axial(), p), "working_voltage")
		if c.Pass != tt.pass || c.Limit != tt.limit {
			t.Errorf("%s: pass %v at limit %g (%s)", tt.name, c.Pass, c.Limit, c.Text)
		}
	}
}

// EZ40 supply, 2 × 350 V: it runs at 360 V loaded, yet no-load is √2 × 350 =
// 495 V at line factor 1.00 (tubeofile.com EZ40, from Philips sheets; computed).
func TestARatingRightLoadedAndWrongColdIsRefused(t *testing.T) {
	t.Parallel()
	s := smoothing()
	s.WorkingV = 360
	s.Worst = derate.CasePeak{Case: "pulled", Title: "output tubes pulled", V: 495, Mandatory: true}
	v := derate.Judge(s, axial(), derate.Default())
	c := one(t, v, "cold_start")
	if v.Pass || c.Pass || c.Have != 495 || c.Limit != 450 || c.Unit != "V" {
		t.Errorf("%+v", c)
	}
	if want := "sees 495 V (output tubes pulled); rated 450 V: 45 V over"; c.Text != want {
		t.Errorf("text %q, want %q", c.Text, want)
	}
	near(t, "margin, %", c.MarginPct, -10, 1e-9)
	if !one(t, v, "working_voltage").Pass {
		t.Error("the working voltage alone is within the rating")
	}
}

func TestTheSurgeMarginIsUsedOnlyWhereThePolicySaysSo(t *testing.T) {
	t.Parallel()
	ladder := []derate.Above{{V: 440, S: 25}, {V: 450, S: 20}, {V: 480, S: 12}, {V: 490, S: 0}}
	tests := []struct {
		name     string
		useSurge bool
		limitS   float64
		peakV    float64
		above    []derate.Above
		ratedV   float64
		pass     bool
		unit     string
		says     string
	}{
		{"off by default", false, 30, 484, ladder, 450, false, "V", "34 V over"},
		{"on, within surge and time", true, 30, 484, ladder, 450, true, "V", "1000 times 30 s: at one start a day under three years"},
		{"on, yet too long", true, 15, 484, ladder, 450, false, "s", "20.0 s above rated"},
		{"on, yet over surge (1.10 × 450 = 495 V)", true, 30, 496, ladder, 450, false, "V", "over its surge voltage of 495.0 V"},
		{"on, exactly at surge", true, 30, 495, ladder, 450, true, "V", "for 20.0 s"},
		{"between steps the longer time counts", true, 15, 484, ladder, 470, false, "s", "20.0 s above rated"},
		{"below the ladder the time is not known", true, 30, 455, ladder, 430, false, "V", "not known"},
		{"no ladder at all", true, 30, 484, nil, 450, false, "V", "not known"},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			s, r, p := smoothing(), axial(), derate.Default()
			s.Worst = derate.CasePeak{Title: "cold start at high line", V: tt.peakV, Mandatory: true, Above: tt.above}
			s.Peaks = []derate.CasePeak{s.Worst}
			r.Part.RatedV, p.UseSurge, p.SurgeLimitS = tt.ratedV, tt.useSurge, tt.limitS
			c := one(t, derate.Judge(s, r, p), "cold_start")
			if c.Pass != tt.pass || c.Unit != tt.unit || !strings.Contains(c.Text, tt.says) {
				t.Errorf("pass %v, unit %s: %s", c.Pass, c.Unit, c.Text)
			}
		})
	}
}

// A case that stands lower and longer than the highest one decides the time.
func TestTheLongestMandatoryStayAboveTheRatingDecides(t *testing.T) {
	t.Parallel()
	s, p := smoothing(), derate.Default()
	p.UseSurge = true
	s.Worst = derate.CasePeak{Title: "cold start", V: 480, Mandatory: true, Above: []derate.Above{{V: 450, S: 4}}}
	long := derate.CasePeak{Title: "output tubes pulled", V: 470, Mandatory: true, Above: []derate.Above{{V: 450, S: 55}}}
	s.Peaks = []derate.CasePeak{s.Worst, long}
	c := one(t, derate.Judge(s, axial(), p), "cold_start")
	if c.Pass || c.Have != 55 || c.Limit != 30 || !strings.Contains(c.Text, "output tubes pulled") {
		t.Errorf("%+v", c)
	}
}

// A surge voltage is a matter of electrolytics and of their surge test, even
// where a film part's sheet prints a figure of that name.
func TestFilmHasNoSurgeMargin(t *testing.T) {
	t.Parallel()
	s, r, p := smoothing(), axial(), derate.Default()
	p.UseSurge = true
	r.Part.Technology, r.Part.Style, r.Part.SurgeV = part.Film, part.Box, ptr(500.0)
	s.Worst = derate.CasePeak{V: 460, Mandatory: true, Above: []derate.Above{{V: 450, S: 1}}}
	if c := one(t, derate.Judge(s, r, p), "cold_start"); c.Pass {
		t.Errorf("%+v", c)
	}
}

func TestCasesThatAreNotMandatoryAreShownAndNeverDecide(t *testing.T) {
	t.Parallel()
	s := smoothing()
	s.Peaks = append(s.Peaks,
		derate.CasePeak{Case: "silicon", Title: "rectifier replaced by silicon", V: 505},
		derate.CasePeak{Case: "low", Title: "low line", V: 380})
	v := derate.Judge(s, axial(), derate.Default())
	found := named(v, "cold_start")
	if !v.Pass || len(found) != 2 {
		t.Fatalf("pass %v, %+v", v.Pass, found)
	}
	if c := found[1]; c.Pass || !c.Advisory || c.Text != "advice only: sees 505 V (rectifier replaced by silicon); rated 450 V: 55 V over" {
		t.Errorf("%+v", c)
	}
	if m := derate.Misses(v); len(m) != 0 {
		t.Errorf("advice counted as a miss: %+v", m)
	}
}

func TestMissesBeginWithTheNearest(t *testing.T) {
	t.Parallel()
	s := smoothing()
	s.WorkingV, s.Worst.V, s.AmbientC = 450, 900, 86
	v := derate.Judge(s, axial(), derate.Default())
	var names []string
	for _, c := range derate.Misses(v) {
		names = append(names, c.Name)
	}
	if diff := cmp.Diff([]string{"temperature", "working_voltage", "cold_start"}, names); diff != "" {
		t.Error(diff)
	}
}

func TestWhatIsFittedIsJudgedByItsMarking(t *testing.T) {
	t.Parallel()
	cold := func(v, aboveS float64) derate.CasePeak {
		return derate.CasePeak{Title: "cold start", V: v, AboveRatedS: aboveS, Mandatory: true}
	}
	surging := derate.Default()
	surging.UseSurge = true
	tests := []struct {
		name   string
		fitted amp.Fitted
		worst  derate.CasePeak
		policy derate.Policy
		failed []string
	}{
		{"sound", amp.Fitted{CapacitanceUF: 20, RatedV: 450}, cold(420, 0), derate.Default(), nil},
		{"right loaded, wrong cold", amp.Fitted{CapacitanceUF: 20, RatedV: 450}, cold(495, 9), derate.Default(), []string{"cold_start"}},
		{"its marked surge allowed by policy", amp.Fitted{CapacitanceUF: 20, RatedV: 450, SurgeV: ptr(525.0)}, cold(520, 9), surging, nil},
		{"over the standard's surge", amp.Fitted{CapacitanceUF: 20, RatedV: 450}, cold(520, 9), surging, []string{"cold_start"}},
		{"longer than the surge test", amp.Fitted{CapacitanceUF: 20, RatedV: 450}, cold(480, 31), surging, []string{"cold_start"}},
		{"rated too low and too small", amp.Fitted{CapacitanceUF: 8, RatedV: 350}, cold(340, 0), derate.Default(), []string{"working_voltage", "capacitance"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			s := smoothing()
			s.Worst, s.Peaks = tt.worst, []derate.CasePeak{tt.worst}
			v := derate.JudgeFitted(s, tt.fitted, tt.policy)
			var names []string
			for _, c := range derate.Misses(v) {
				names = append(names, c.Name)
			}
			if diff := cmp.Diff(tt.failed, names); diff != "" || v.Pass != (tt.failed == nil) {
				t.Errorf("%s\n%+v", diff, v)
			}
		})
	}
}

// A stack's worst unit follows the tolerance of the parts judged, not of those
// fitted: ±20 % gives 60 % of the whole to one of two, ±5 % gives 52.5 %.
func TestAStackIsJudgedByThePartsOwnTolerance(t *testing.T) {
	t.Parallel()
	s := derate.Stress{Units: 2, Stack: 1, ChargingShare: 1.05, RestShare: 1.05, WorkingV: 210, DCV: 205, NominalDCV: 190,
		Worst: derate.CasePeak{V: 262.5}, Peaks: []derate.CasePeak{{V: 262.5}}}
	got := s.ForTolerance(20, 20)
	if math.Abs(got.Worst.V-300) > 1e-9 || math.Abs(got.Peaks[0].V-300) > 1e-9 || math.Abs(got.WorkingV-240) > 1e-9 {
		t.Errorf("±20 %% parts in place of ±5 %% ones: cold %g V, working %g V, want 300 and 240", got.Worst.V, got.WorkingV)
	}
	if s.Peaks[0].V != 262.5 {
		t.Error("the stress asked was changed")
	}
	s.Balanced = true
	if got := s.ForTolerance(20, 20); math.Abs(got.WorkingV-210) > 1e-9 || math.Abs(got.Worst.V-300) > 1e-9 {
		t.Errorf("balanced: working %g V, cold %g V, want 210 at rest and 300", got.WorkingV, got.Worst.V)
	}
}

package derate_test

import (
	"math"
	"slices"
	"strings"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/part"
	"github.com/google/go-cmp/cmp"
)

// Every rule lets pass what stands exactly at its limit, and nothing beyond:
// each row sets a figure to the limit times at, and names the check.
func TestEachRuleTurnsAtItsLimit(t *testing.T) {
	t.Parallel()
	tests := []struct {
		check string
		unit  string
		set   func(at float64, s *derate.Stress, r *derate.Rated, p *derate.Policy)
		// least rules are broken from below.
		least bool
	}{
		{"working_voltage", "V", func(at float64, s *derate.Stress, _ *derate.Rated, _ *derate.Policy) { s.WorkingV = 405 * at }, false},
		{"cold_start", "V", func(at float64, s *derate.Stress, _ *derate.Rated, _ *derate.Policy) { s.Worst.V = 450 * at }, false},
		{"ripple", "mA", func(at float64, s *derate.Stress, _ *derate.Rated, p *derate.Policy) {
			s.AmbientC, p.RippleShare = 70, 0.5
			s.Ripple = []derate.Current{{Hz: 100, A: 0.240 * 1.6 * 0.5 * at}}
		}, false},
		{"temperature", "°C", func(at float64, s *derate.Stress, _ *derate.Rated, p *derate.Policy) {
			p.TemperatureMarginK, s.AmbientC = 5, 80*at
		}, false},
		{"capacitance", "µF", func(at float64, s *derate.Stress, r *derate.Rated, _ *derate.Policy) { r.Part.CapacitanceUF = 44 * at }, false},
		{"capacitance", "µF", func(at float64, s *derate.Stress, r *derate.Rated, _ *derate.Policy) { r.Part.CapacitanceUF = 18 * at }, true},
		{"body", "mm", func(at float64, s *derate.Stress, r *derate.Rated, _ *derate.Policy) {
			s.Body, r.Part.LengthMM = &amp.Body{MaxLengthMM: ptr(30.0)}, ptr(30*at)
		}, false},
		{"body", "mm", func(at float64, s *derate.Stress, r *derate.Rated, _ *derate.Policy) {
			s.Body, r.Part.DiameterMM = &amp.Body{MaxDiameterMM: ptr(16.0)}, ptr(16*at)
		}, false},
		{"life", "a", func(at float64, s *derate.Stress, _ *derate.Rated, p *derate.Policy) {
			s.AmbientC, p.HoursPerWeek = 85, 40
			p.LifeYears = derate.Years(10000, 40) / at
		}, true},
	}
	for _, tt := range tests {
		beyond := 1 + 1e-6
		if tt.least {
			beyond = 1 - 1e-6
		}
		for _, at := range []float64{1, beyond} {
			s, r, p := smoothing(), axial(), derate.Default()
			tt.set(at, &s, &r, &p)
			if tt.check == "cold_start" {
				s.Peaks = []derate.CasePeak{s.Worst}
			}
			c := named(derate.Judge(s, r, p), tt.check)[0]
			if c.Pass != (at == 1) || c.Unit != tt.unit || (c.Outcome == derate.Passed) != (at == 1) || math.Abs(c.MarginPct) > 0.001 {
				t.Errorf("%s at %g of its limit: %+v", tt.check, at, c)
			}
		}
	}
}

func TestMainsRulesTurnAtTheirLimits(t *testing.T) {
	t.Parallel()
	for _, at := range []float64{1, 1 + 1e-6} {
		s, r := lineToChassis(240, 50), yPart(0.0047, 0)
		s.MainsV = 300 * at
		if c := one(t, derate.Judge(s, r, derate.Default()), "mains_voltage"); c.Pass != (at == 1) {
			t.Errorf("%g V on 300 V: %+v", s.MainsV, c)
		}
		p := derate.Default()
		p.TouchMA = derate.TouchMA(240, 50, 0.0047)
		if c := one(t, derate.Judge(lineToChassis(240, 50), yPart(0.0047*at, 0), p), "touch_current"); c.Pass != (at == 1) {
			t.Errorf("at %g of the touch current: %+v", at, c)
		}
	}
}

// What a technician reads of a part that passes, and of one that fails all it can.
func TestTheSentencesOfAVerdict(t *testing.T) {
	t.Parallel()
	texts := func(v derate.Verdict) (list []string) {
		for _, c := range v.Checks {
			list = append(list, c.Text)
		}
		return list
	}
	want := []string{
		"an electrolytic serves as smoothing",
		"one section",
		"22 µF is within 18 µF to 44 µF",
		"works at 340 V; 90 % of 450 V rated is 405 V",
		"sees 420 V (cold start at high line); rated 450 V: 30 V in hand",
		"carries 58 mA, as 100 Hz current; allowed 456 mA (rated 240 mA × 1.90 at 55 °C × share 1.00)",
		"air at 55 °C; made for 85 °C at most",
		"core at 55 °C, 0.3 K above the air; its rating implies 90 °C at most",
		"lasts 80000 h, cut at 15 years",
	}
	if diff := cmp.Diff(want, texts(derate.Judge(smoothing(), axial(), derate.Default()))); diff != "" {
		t.Error(diff)
	}
	s, r := smoothing(), axial()
	s.WorkingV, s.AmbientC, s.Ripple = 525, 90, []derate.Current{{Hz: 100, A: 0.3}}
	s.Worst = derate.CasePeak{Case: "cold_start", V: 570, Mandatory: true}
	s.Peaks = []derate.CasePeak{s.Worst, {Case: "silicon_fitted", Title: "silicon", V: 450}, {Case: "silicon_fitted", Title: "silicon", V: 600}}
	r.Part.CapacitanceUF, r.Part.Style, r.Part.FurtherSectionsUF = 50, part.Can, []float64{20}
	want = []string{
		"an electrolytic serves as smoothing",
		"a can of 2 sections sharing one negative: a single position takes one section, the others would stand idle",
		"50 µF: 44 µF at most (2.2 times the original)",
		"works at 525 V; 90 % of 450 V rated is 405 V: 120 V over",
		"sees 570 V (cold start); rated 450 V: 120 V over",
		"advice only: sees 600 V (silicon); rated 450 V: 150 V over",
		"carries 300 mA, as 100 Hz current; allowed 240 mA (rated 240 mA × 1.00 at 90 °C × share 1.00): 60 mA over",
		"air at 90 °C; made for 85 °C at most: 5 K over",
		"core at 98 °C, 7.8 K above the air; its rating implies 90 °C at most",
		"lasts 7071 h (7071 h idling, 7071 h driven in full, which is 25 % of its hours), 6.8 years at 20 h a week: 1.2 years short of 8",
	}
	if diff := cmp.Diff(want, texts(derate.Judge(s, r, derate.Default()))); diff != "" {
		t.Error(diff)
	}
}

func TestWordsOfTechnologiesAndTheirSources(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		role       amp.Role
		technology part.Technology
		text       string
		source     string
	}{
		{amp.MainsX, part.Film, "film does not serve across the line; that takes a class X part", "IEC 60384-14: only a safety class stands on the mains"},
		{amp.MainsY, part.SafetyX, "a class X part does not serve from line to chassis; that takes a class Y part", "IEC 60384-14: only a safety class stands on the mains"},
		{amp.Smoothing, part.SafetyY, "a class Y part does not serve as smoothing; that takes an electrolytic or film", "common practice"},
		{amp.Coupling, part.Film, "film serves as coupling", "common practice"},
	} {
		s, r := smoothing(), axial()
		s.Role, r.Part.Technology = tt.role, tt.technology
		if c := one(t, derate.Judge(s, r, derate.Default()), "technology"); c.Text != tt.text || c.Source != tt.source {
			t.Errorf("%s as %s: %q (%s)", tt.technology, tt.role, c.Text, c.Source)
		}
	}
}

// Of a body that fits the measure with the least room is shown; of one that
// does not, the misses alone.
func TestTheTightestMeasureOfABodyIsShown(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name string
		room amp.Body
		want []string
	}{
		{"length is tighter", amp.Body{Styles: []string{"axial"}, MaxDiameterMM: ptr(20.0), MaxLengthMM: ptr(31.0)}, []string{"length 30 mm; room for 31 mm"}},
		{"diameter is tighter", amp.Body{Styles: []string{"axial"}, MaxDiameterMM: ptr(15.1), MaxLengthMM: ptr(40.0)}, []string{"diameter 15 mm; room for 15.1 mm"}},
		{"style alone", amp.Body{Styles: []string{"axial"}}, []string{"axial fits"}},
		{"one style that does not fit", amp.Body{Styles: []string{"radial"}, MaxLengthMM: ptr(40.0)}, []string{"axial; the place takes radial"}},
		{"one miss of several measures", amp.Body{Styles: []string{"axial"}, MaxDiameterMM: ptr(20.0), MaxLengthMM: ptr(29.0)}, []string{"length 30 mm; room for 29 mm: 1 mm too much"}},
	}
	for _, tt := range tests {
		s := smoothing()
		s.Body = &tt.room
		var texts []string
		for _, c := range named(derate.Judge(s, axial(), derate.Default()), "body") {
			texts = append(texts, c.Text)
		}
		if diff := cmp.Diff(tt.want, texts); diff != "" {
			t.Errorf("%s: %s", tt.name, diff)
		}
	}
}

// Of a window the nearer end is shown, with its own limit.
func TestTheNearerEndOfAWindowIsShown(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		uf    float64
		w     derate.Window
		limit float64
	}{
		{22, derate.Window{MinUF: 18, MaxUF: 23, MinRule: "low", MaxRule: "high"}, 23},
		{19, derate.Window{MinUF: 18, MaxUF: 40, MinRule: "low", MaxRule: "high"}, 18},
		{30, derate.Window{MaxUF: 40, MaxRule: "high"}, 40},
		{30, derate.Window{MinUF: 18, MinRule: "low"}, 18},
		{44 * (1 + 1e-12), derate.Window{MinUF: 18, MaxUF: 44, MinRule: "low", MaxRule: "high"}, 44},
		{20, derate.Window{MinUF: 20, MaxUF: 20, MinRule: "low", MaxRule: "high"}, 20},
	} {
		s, r := smoothing(), axial()
		s.Window, r.Part.CapacitanceUF = tt.w, tt.uf
		if c := one(t, derate.Judge(s, r, derate.Default()), "capacitance"); !c.Pass || c.Limit != tt.limit || c.Have != tt.uf {
			t.Errorf("%g µF: %+v", tt.uf, c)
		}
	}
}

// A limit from memory warns of a larger value and refuses none.
func TestAnAdvisedLimitWarnsAlone(t *testing.T) {
	t.Parallel()
	s, r := smoothing(), axial()
	s.Window.AdviceUF, s.Window.AdviceRule = 20, "the largest first capacitor, from memory"
	v := derate.Judge(s, r, derate.Default())
	found := named(v, "capacitance")
	if !v.Pass || len(found) != 2 || !found[1].Advisory || found[1].Pass || found[1].Limit != 20 ||
		found[1].Text != "advice only: 22 µF: 20 µF at most is the largest first capacitor, from memory" {
		t.Errorf("%+v", found)
	}
	for _, uf := range []float64{20, 20 * (1 + 1e-12), 19} {
		r.Part.CapacitanceUF = uf
		if found := named(derate.Judge(s, r, derate.Default()), "capacitance"); len(found) != 1 {
			t.Errorf("%g µF: %+v", uf, found)
		}
	}
}

// What is written of small values: nF below 0.1 µF.
func TestSmallValuesAreWrittenInNanofarads(t *testing.T) {
	t.Parallel()
	for uf, text := range map[float64]string{0.1: "0.1 µF is within 0.05 µF", 0.099: "99 nF is within", 0.01: "10 nF is within"} {
		s, r := smoothing(), axial()
		s.Window, r.Part.CapacitanceUF = derate.Window{MinUF: 0.005, MinRule: "low"}, uf
		if uf == 0.1 {
			s.Window.MinUF, text = 0.1, "0.1 µF is within 0.1 µF and more"
		}
		if c := one(t, derate.Judge(s, r, derate.Default()), "capacitance"); !strings.Contains(c.Text, text) {
			t.Errorf("%g: %s", uf, c.Text)
		}
	}
}

// A margin is bounded, so that a limit near nothing makes none infinite.
func TestMarginsAreBounded(t *testing.T) {
	t.Parallel()
	s, r, p := smoothing(), axial(), derate.Default()
	r.Part.RippleMA, r.Series.TemperatureFactors, p.RippleShare = ptr(0.1), nil, 0.1
	for amps, want := range map[float64]float64{0.150: -1e6, 0.095: (0.01 - 95) / 0.01 * 100} {
		s.Ripple = []derate.Current{{Hz: 100, A: amps}}
		near(t, "margin", one(t, derate.Judge(s, r, p), "ripple").MarginPct, want, 1e-3)
	}
	p = derate.Default()
	p.TemperatureMarginK, s.AmbientC, r.Series.MaxC = 60, 50, ptr(60.0)
	if c := named(derate.Judge(s, r, p), "temperature")[0]; c.Limit != 0 || c.MarginPct != -1e6 {
		t.Errorf("%+v", c)
	}
	s.AmbientC = 0
	if c := named(derate.Judge(s, r, p), "temperature")[0]; !c.Pass || c.MarginPct != 0 {
		t.Errorf("%+v", c)
	}
	yes := one(t, derate.Judge(smoothing(), axial(), derate.Default()), "technology")
	if yes.Have != 1 || yes.Limit != 1 || yes.MarginPct != 0 || yes.Outcome != derate.Passed {
		t.Errorf("a yes: %+v", yes)
	}
	s = smoothing()
	s.Role = amp.Coupling
	no := one(t, derate.Judge(s, axial(), derate.Default()), "technology")
	if no.Have != 0 || no.Limit != 1 || no.MarginPct != -100 || no.Outcome != derate.Failed {
		t.Errorf("a no: %+v", no)
	}
}

// Misses: by how little, the nearest first; what only advises is not among them.
func TestMissesComeNearestFirst(t *testing.T) {
	t.Parallel()
	v := derate.Verdict{Checks: []derate.Check{
		{Name: "far", Outcome: derate.Failed, MarginPct: -50},
		{Name: "unknown", Outcome: derate.Unknown, MarginPct: -100},
		{Name: "advice", Outcome: derate.Failed, MarginPct: -1, Advisory: true},
		{Name: "unknown advice", Outcome: derate.Unknown, Advisory: true},
		{Name: "near", Outcome: derate.Failed, MarginPct: -2},
		{Name: "passed", Outcome: derate.Passed, Pass: true},
		{Name: "twin", Outcome: derate.Failed, MarginPct: -50},
		{Name: "nearest", Outcome: derate.Failed, MarginPct: -0.5},
	}}
	var names []string
	for _, c := range derate.Misses(v) {
		names = append(names, c.Name)
	}
	if want := []string{"nearest", "near", "far", "twin", "unknown"}; !slices.Equal(names, want) {
		t.Errorf("%v, want %v", names, want)
	}
}

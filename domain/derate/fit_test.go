package derate_test

import (
	"strings"
	"testing"

	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/part"
	"github.com/google/go-cmp/cmp"
)

func TestEachRoleTakesItsTechnologies(t *testing.T) {
	t.Parallel()
	want := map[amp.Role][]part.Technology{
		amp.Reservoir:     {part.Electrolytic},
		amp.Smoothing:     {part.Electrolytic, part.Film},
		amp.Bias:          {part.Electrolytic},
		amp.CathodeBypass: {part.Electrolytic},
		amp.Coupling:      {part.Film},
		amp.MainsX:        {part.SafetyX},
		amp.MainsY:        {part.SafetyY},
	}
	for role, fits := range want {
		if diff := cmp.Diff(fits, derate.Technologies(role)); diff != "" {
			t.Errorf("%s: %s", role, diff)
		}
		for _, tech := range []part.Technology{part.Electrolytic, part.Film, part.SafetyX, part.SafetyY} {
			s, r := smoothing(), axial()
			s.Role, r.Part.Technology = role, tech
			allowed := false
			for _, f := range fits {
				allowed = allowed || f == tech
			}
			if c := one(t, derate.Judge(s, r, derate.Default()), "technology"); c.Pass != allowed {
				t.Errorf("%s as %s: %+v", tech, role, c)
			}
		}
	}
}

func TestACanOfSectionsIsRefusedForASinglePosition(t *testing.T) {
	t.Parallel()
	r := axial()
	r.Part.Style, r.Part.FurtherSectionsUF = part.Can, []float64{20, 20, 20}
	v := derate.Judge(smoothing(), r, derate.Default())
	c := one(t, v, "sections")
	if v.Pass || c.Pass || c.Have != 4 || c.Limit != 1 || !strings.Contains(c.Text, "a single position takes one section") {
		t.Errorf("%+v", c)
	}
}

func TestCapacitanceNamesTheRuleItBreaks(t *testing.T) {
	t.Parallel()
	w := derate.Window{OriginalUF: 20, MinUF: 18, MinRule: "hum at the node", MaxUF: 44, MaxRule: "first-capacitor limit of the rectifier"}
	empty := derate.Window{MinUF: 50, MinRule: "hum at the node", MaxUF: 40, MaxRule: "first-capacitor limit of the rectifier"}
	tests := []struct {
		name   string
		uf     float64
		window derate.Window
		pass   bool
		says   string
	}{
		{"inside", 22, w, true, "22 µF is within 18 µF to 44 µF"},
		{"on the lower edge as computed", 18 * (1 - 1e-12), w, true, "within"},
		{"too small", 16, w, false, "at least 18 µF is wanted (hum at the node)"},
		{"too large", 47, w, false, "44 µF at most (first-capacitor limit of the rectifier)"},
		{"no value serves", 45, empty, false, "no value serves: at least 50 µF is wanted (hum at the node), yet 40 µF is the most"},
		{"no value serves, above", 60, empty, false, "no value serves"},
		{"no upper end", 1000, derate.Window{MinUF: 18, MinRule: "hum"}, true, "18 µF and more"},
		{"no lower end", 0.01, derate.Window{MaxUF: 0.022, MaxRule: "original"}, true, "10 nF is within what is allowed, 22 nF at most"},
	}
	for _, tt := range tests {
		s, r := smoothing(), axial()
		s.Window, r.Part.CapacitanceUF = tt.window, tt.uf
		c := one(t, derate.Judge(s, r, derate.Default()), "capacitance")
		if c.Pass != tt.pass || (c.MarginPct >= 0) != tt.pass || !strings.Contains(c.Text, tt.says) {
			t.Errorf("%s: %+v", tt.name, c)
		}
	}
	s := smoothing()
	s.Window = derate.Window{}
	if found := named(derate.Judge(s, axial(), derate.Default()), "capacitance"); len(found) != 0 {
		t.Errorf("a window without ends is judged: %+v", found)
	}
}

func TestBodyNamesEveryMiss(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name string
		room *amp.Body
		edit func(*part.Part)
		want []string // texts of misses; none is a pass
	}{
		{"no room given refuses nothing", nil, nil, nil},
		{"fits", &amp.Body{Styles: []string{"axial", "radial"}, MaxDiameterMM: ptr(15.0), MaxLengthMM: ptr(31.0)}, nil, nil},
		{"wrong in three ways", &amp.Body{Styles: []string{"radial", "snap_in"}, MaxDiameterMM: ptr(12.5), MaxLengthMM: ptr(25.0)}, nil,
			[]string{"axial; the place takes radial or snap in", "diameter 15 mm; room for 12.5 mm: 2.5 mm too much", "length 30 mm; room for 25 mm: 5 mm too much"}},
		{"clamp within 1 mm", &amp.Body{ClampMM: ptr(16.0)}, nil, nil},
		{"clamp more than 1 mm off", &amp.Body{ClampMM: ptr(16.5)}, nil, []string{"diameter 15 mm; the clamp holds 16.5 mm, within 1 mm"}},
		{"too small for the clamp counts as well", &amp.Body{ClampMM: ptr(13.5)}, nil, []string{"diameter 15 mm; the clamp holds 13.5 mm, within 1 mm"}},
		{"pitch within 0.5 mm", &amp.Body{LeadPitchMM: ptr(7.5)}, func(p *part.Part) { p.Style, p.LeadPitchMM = part.Radial, ptr(7.0) }, nil},
		{"pitch more than 0.5 mm off", &amp.Body{LeadPitchMM: ptr(7.5)}, func(p *part.Part) { p.Style, p.LeadPitchMM = part.Radial, ptr(5.0) },
			[]string{"lead pitch 5 mm; holes at 7.5 mm, within 0.5 mm"}},
		{"axial leads bend to holes beyond the body", &amp.Body{LeadPitchMM: ptr(35.0)}, nil, nil},
		{"axial too long for the holes", &amp.Body{LeadPitchMM: ptr(32.0)}, nil, []string{"axial, 30 mm long: its leads bend to 34 mm at least; holes at 32 mm"}},
		{"pitch not given", &amp.Body{LeadPitchMM: ptr(10.0)}, func(p *part.Part) { p.Style = part.SnapIn }, []string{"its lead pitch is not given; holes at 10 mm"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			s, r := smoothing(), axial()
			s.Body = tt.room
			if tt.edit != nil {
				tt.edit(&r.Part)
			}
			v := derate.Judge(s, r, derate.Default())
			var texts []string
			for _, c := range derate.Misses(v) {
				texts = append(texts, c.Text)
			}
			if diff := cmp.Diff(tt.want, misses(named(v, "body"))); diff != "" || len(texts) != len(tt.want) {
				t.Error(diff, texts)
			}
			if tt.room != nil && tt.want == nil && len(named(v, "body")) != 1 {
				t.Errorf("a body that fits is shown once: %+v", named(v, "body"))
			}
		})
	}
}

func misses(checks []derate.Check) []string {
	var texts []string
	for _, c := range checks {
		if !c.Pass {
			texts = append(texts, c.Text)
		}
	}
	return texts
}

// t = R·C·ln(V0/V), computed: the discharge rows and energies for B+ supplies.
func TestDischargeAndEnergyGiveTheTable(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name               string
		rOhm, cF, v0, v, s float64
		tol                float64
	}{
		{"450 V to 60 V in time constants: ln 7.5", 1, 1, 450, 60, 2.0149, 5e-5},
		{"450 V to 50 V in time constants", 1, 1, 450, 50, 2.1972, 5e-5},
		{"450 V to 34 V in time constants", 1, 1, 450, 34, 2.5829, 5e-5},
		{"500 V to 30 V in time constants", 1, 1, 500, 30, 2.8134, 5e-5},
		{"100 µF, 220 kΩ, 450 V to 60 V", 220e3, 100e-6, 450, 60, 44.33, 0.005},
		{"40 µF, 100 kΩ, 450 V to 60 V", 100e3, 40e-6, 450, 60, 8.06, 0.005},
		{"47 µF, 150 kΩ, 450 V to 60 V", 150e3, 47e-6, 450, 60, 14.21, 0.006},
		{"297.8 kΩ brings 100 µF from 450 V to 60 V in a minute", 297.8e3, 100e-6, 450, 60, 60, 0.01},
		{"already below", 220e3, 100e-6, 50, 60, 0, 0},
		{"no path is no time", 0, 100e-6, 450, 60, 0, 0},
	}
	for _, tt := range tests {
		near(t, tt.name, derate.DischargeS(tt.rOhm, tt.cF, tt.v0, tt.v), tt.s, tt.tol)
	}
	near(t, "100 µF at 450 V, J", derate.EnergyJ(100e-6, 450), 10.125, 1e-9)
	near(t, "40 µF at 500 V, J", derate.EnergyJ(40e-6, 500), 5, 1e-9)
}

// Computed: ±20 % units split 60/40; 800 V puts 480 V on one 450 V part.
func TestAStackSplitsByItsTolerances(t *testing.T) {
	t.Parallel()
	tests := []struct {
		name        string
		minus, plus float64
		n           int
		want        float64
	}{
		{"two of ±20 %", 20, 20, 2, 0.6},
		{"two alike", 0, 0, 2, 0.5},
		{"three alike", 0, 0, 3, 1.0 / 3},
		{"two of −10/+50 %", 10, 50, 2, 1.5 / 2.4},
		{"one stands alone", 20, 20, 1, 1},
	}
	for _, tt := range tests {
		near(t, tt.name, derate.StackSplit(tt.minus, tt.plus, tt.n), tt.want, 1e-12)
	}
	near(t, "of 800 V", 800*derate.StackSplit(20, 20, 2), 480, 1e-9)
}

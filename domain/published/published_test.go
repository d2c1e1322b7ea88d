// Package published holds no code. Its test holds what the domain computes
// against figures found in print, each with its source beside it, and counts
// them. Figures that were worked out for the tests, or that rest on memory, are
// not here: they stand in the packages' own tests, marked so.
package published

import (
	"fmt"
	"maps"
	"math"
	"slices"
	"testing"
)

// grade is how far a source is from the maker's own page.
type grade string

const (
	sheet     grade = "A" // maker's data sheet or application note, or the text of a standard
	book      grade = "B" // textbook or handbook
	secondary grade = "C" // compilation that cites the maker or the standard
	forum     grade = "D" // mailing list or forum
)

// source is a publication.
type source struct {
	grade grade
	title string
	url   string // "" where only the secondary text was seen
}

// value is one figure in print and what the program gives for it.
type value struct {
	source  string // key of sources
	what    string
	printed float64
	have    float64
	// tol is how far have may lie from printed, either way, in printed's unit.
	// Where it is 0 and least and most are given, have/printed lies between those.
	tol, least, most float64
	// held says that the program holds the figure as data: the row guards a
	// transcription, and proves no law.
	held bool
}

// within is a row with a tolerance in the unit of the figure.
func within(source, what string, have, printed, tol float64) value {
	return value{source: source, what: what, have: have, printed: printed, tol: tol}
}

// percent is a row with a tolerance in per cent of the figure.
func percent(source, what string, have, printed, pct float64) value {
	return within(source, what, have, printed, pct/100*math.Abs(printed))
}

// band is a row where have must lie between shares of the figure: sources that
// print a bound, a typical value beside a maximum, or "about".
func band(source, what string, have, printed, least, most float64) value {
	return value{source: source, what: what, have: have, printed: printed, least: least, most: most}
}

// data is a row the program holds as it stands.
func data(source, what string, have, printed float64) value {
	v := percent(source, what, have, printed, 1e-7)
	v.held = true
	return v
}

// fault says how a row fails; "" where it does not.
func (v value) fault() string {
	switch {
	case math.IsNaN(v.have) || math.IsInf(v.have, 0):
		return fmt.Sprintf("%g is no figure", v.have)
	case v.least != 0 || v.most != 0:
		if r := v.have / v.printed; !(r >= v.least && r <= v.most) {
			return fmt.Sprintf("have %.6g, printed %.6g: %.4f of it, want %g to %g", v.have, v.printed, r, v.least, v.most)
		}
	case !(math.Abs(v.have-v.printed) <= v.tol):
		return fmt.Sprintf("have %.6g, printed %.6g ± %.3g", v.have, v.printed, v.tol)
	}
	return ""
}

// tables are the rows by subject. A table is a function so that what it
// computes is computed within the test.
func tables() map[string]func(t *testing.T) []value {
	return map[string]func(t *testing.T) []value{
		"surge and ripple":       surgeAndRipple,
		"the axial table":        axialTable,
		"leakage":                leakage,
		"life":                   life,
		"derating":               derating,
		"condition":              condition,
		"storage and reforming":  reforming,
		"codes and series":       codes,
		"mains":                  mains,
		"safety capacitors":      safety,
		"rectifiers, simulated":  rectifiers,
		"ratings of tubes, held": tubes,
	}
}

// TestPublishedValues holds every row and counts those that were held in this
// run: distinct sources, and how many figures are mere data of the program.
func TestPublishedValues(t *testing.T) {
	t.Parallel()
	compared, held := 0, 0
	bySource := map[string]int{}
	all := tables()
	for _, name := range slices.Sorted(maps.Keys(all)) {
		rows := all[name](t)
		seen := map[string]bool{}
		for _, v := range rows {
			if _, known := sources[v.source]; !known || v.what == "" || seen[v.source+v.what] {
				t.Errorf("%s: the row %q of %q has no source, no name or a twin", name, v.what, v.source)
				continue
			}
			seen[v.source+v.what] = true
			compared++
			bySource[v.source]++
			if v.held {
				held++
			}
			if f := v.fault(); f != "" {
				t.Errorf("%s: %s: %s (%s)", name, v.what, f, sources[v.source].title)
			}
		}
	}
	grades := map[grade]int{}
	for _, key := range slices.Sorted(maps.Keys(bySource)) {
		s := sources[key]
		grades[s.grade] += bySource[key]
		t.Logf("%4d of grade %s: %s %s", bySource[key], s.grade, s.title, s.url)
	}
	t.Logf("grades: A %d, B %d, C %d, D %d", grades[sheet], grades[book], grades[secondary], grades[forum])
	t.Logf("%d published values from %d sources; %d of them the program computes, %d it holds as data", compared, len(bySource), compared-held, held)
	if computed := compared - held; computed < 150 || len(bySource) < 20 {
		t.Errorf("%d figures computed from %d sources; 150 from 20 are wanted", computed, len(bySource))
	}
	for key := range sources {
		if bySource[key] == 0 {
			t.Errorf("the source %q backs no row", key)
		}
	}
}

// The comparison itself must find what it is for.
func TestARowThatIsOffIsFound(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name string
		row  value
		off  bool
	}{
		{"equal", within("", "", 5, 5, 0), false},
		{"within", within("", "", 5.1, 5, 0.2), false},
		{"off", within("", "", 5.3, 5, 0.2), true},
		{"off the other way", within("", "", 4.7, 5, 0.2), true},
		{"per cent", percent("", "", 101, 100, 1), false},
		{"per cent off", percent("", "", 102, 100, 1), true},
		{"in the band", band("", "", 90, 100, 0.85, 1), false},
		{"above the band", band("", "", 101, 100, 0.85, 1), true},
		{"below the band", band("", "", 84, 100, 0.85, 1), true},
		{"no figure", within("", "", math.NaN(), 5, 1), true},
		{"no figure in a band", band("", "", math.Inf(1), 5, 0, 1), true},
	} {
		if got := tt.row.fault(); (got != "") != tt.off {
			t.Errorf("%s: %q", tt.name, got)
		}
	}
}

package catalogue

import "slices"

// count takes what one part's rows came to.
func (r *Report) count(g *group, sheet string, most int) {
	r.Rows += len(g.lines)
	if len(g.findings) == 0 {
		r.Parts++
		return
	}
	r.BadParts++
	r.BadRows += len(g.lines)
	for _, f := range g.findings {
		f.Sheet = sheet
		r.Errors++
		r.tally(&f)
		if r.Errors-r.Unlisted > most {
			r.Unlisted++
			continue
		}
		r.Findings = append(r.Findings, f)
	}
}

// tally counts an error in its column. There are few: columns times codes.
func (r *Report) tally(f *Finding) {
	for i := range r.Tallies {
		if t := &r.Tallies[i]; t.Code == f.Code && t.Column == f.Column {
			t.Count++
			return
		}
	}
	r.Tallies = append(r.Tallies, Tally{Code: f.Code, Column: f.Column, Header: f.Header, Line: f.Line, Count: 1})
}

// warnings gathers warnings, one for each kind and column.
type warnings struct {
	sheet string
	all   []Finding
	of    map[warningKey]int
	count int
}

type warningKey struct {
	code   Code
	column string
	header string
}

func newWarnings(sheet string) *warnings {
	return &warnings{sheet: sheet, of: map[warningKey]int{}}
}

func (w *warnings) add(f Finding) {
	w.count++
	key := warningKey{f.Code, f.Column, f.Header}
	if i, ok := w.of[key]; ok {
		w.all[i].Count++
		return
	}
	w.of[key] = len(w.all)
	f.Sheet, f.Count = w.sheet, 1
	w.all = append(w.all, f)
}

// into puts the warnings ahead of a report's errors.
func (w *warnings) into(r *Report) {
	r.Warnings = w.count
	slices.SortStableFunc(w.all, inFileOrder)
	r.Findings = append(w.all, r.Findings...)
	if r.Findings == nil {
		r.Findings = []Finding{}
	}
	if r.Tallies == nil {
		r.Tallies = []Tally{}
	}
}

package repotest

import (
	"fmt"
	"slices"
	"testing"

	"pgregory.net/rapid"

	"coldrise/domain/part"
	"coldrise/repo"
)

// candidateCases: the window.
func candidateCases() []testCase {
	return []testCase{
		{"the ends of a window belong to it", windowEnds},
		{"a can counts by each of its sections, and once", canSections},
		{"random windows find what a plain loop finds", randomWindows},
		{"more than a page", manyCandidates},
	}
}

func windowEnds(t *testing.T, s repo.Store) {
	ctx := background()
	must(t, s.PutSeries(ctx, shop, sampleSeries("HA"), stamp()))
	for _, uf := range []float64{21.999999999999996, 22, 22.000000000000004} {
		sure(s.CreatePart(ctx, shop, fmt.Sprint(uf), plainPart("M", fmt.Sprint(uf), uf, 450), stamp()))(t)
	}
	for _, tt := range []struct {
		name string
		w    repo.CandidateWindow
		want []string
	}{
		{"no bounds", repo.CandidateWindow{}, []string{"21.999999999999996", "22", "22.000000000000004"}},
		{"one value", repo.CandidateWindow{MinUF: 22, MaxUF: 22}, []string{"22"}},
		{"from", repo.CandidateWindow{MinUF: 22}, []string{"22", "22.000000000000004"}},
		{"up to", repo.CandidateWindow{MaxUF: 22}, []string{"21.999999999999996", "22"}},
		{"the rated volts themselves", repo.CandidateWindow{MinUF: 22, MaxUF: 22, MinRatedV: 450}, []string{"22"}},
		{"a volt more", repo.CandidateWindow{MinUF: 22, MaxUF: 22, MinRatedV: 450.00000000000006}, nil},
		{"another technology", repo.CandidateWindow{Technologies: []part.Technology{part.Film}}, nil},
		{"one of two technologies", repo.CandidateWindow{Technologies: []part.Technology{part.Film, part.Electrolytic}, MinUF: 22, MaxUF: 22}, []string{"22"}},
		{"one technology twice", repo.CandidateWindow{Technologies: []part.Technology{part.Electrolytic, part.Electrolytic}, MinUF: 22, MaxUF: 22}, []string{"22"}},
		{"a window turned round", repo.CandidateWindow{MinUF: 23, MaxUF: 21}, nil},
	} {
		if got := partNumbers(sure(s.Candidates(ctx, shop, tt.w))(t)); !slices.Equal(got, tt.want) {
			t.Errorf("%s: %q, want %q", tt.name, got, tt.want)
		}
	}
}

func canSections(t *testing.T, s repo.Store) {
	ctx := background()
	must(t, s.PutSeries(ctx, shop, sampleSeries("HA"), stamp()))
	can := plainPart("M", "can", 40, 450)
	can.Style, can.FurtherSectionsUF = part.Can, []float64{20, 20, 10}
	sure(s.CreatePart(ctx, shop, "can", can, stamp()))(t)
	for _, tt := range []struct {
		least, most float64
		want        []string
	}{
		{40, 40, []string{"can"}}, {20, 20, []string{"can"}}, {10, 10, []string{"can"}}, {1, 100, []string{"can"}},
		{21, 39, nil}, {11, 19, nil}, {90, 90, nil}, // 40 + 20 + 20 + 10
	} {
		got := sure(s.Candidates(ctx, shop, repo.CandidateWindow{MinUF: tt.least, MaxUF: tt.most}))(t)
		if !slices.Equal(partNumbers(got), tt.want) {
			t.Errorf("%g to %g µF: %q, want %q", tt.least, tt.most, partNumbers(got), tt.want)
		}
	}
	got := sure(s.Candidates(ctx, shop, repo.CandidateWindow{MinUF: 10, MaxUF: 10}))(t)
	same(t, can, got[0].Part)
	same(t, []string(nil), partNumbers(sure(s.Candidates(ctx, shop, repo.CandidateWindow{MinUF: 10, MaxUF: 10, MinRatedV: 451}))(t)))
}

func randomWindows(t *testing.T, s repo.Store) {
	all := crowd(t, s, 2)
	edge := rapid.SampledFrom([]float64{0, 0.1, 15.999, 16, 22, 32, 47, 1e9})
	rapid.Check(t, func(rt *rapid.T) {
		w := repo.CandidateWindow{
			Technologies: rapid.SliceOfN(rapid.SampledFrom([]part.Technology{part.Electrolytic, part.Film, part.SafetyX, part.SafetyY}), 0, 3).Draw(rt, "technologies"),
			MinUF:        edge.Draw(rt, "min_uf"), MaxUF: edge.Draw(rt, "max_uf"), MinRatedV: rapid.SampledFrom([]float64{0, 63, 400, 450, 451}).Draw(rt, "min_rated_v"),
		}
		var want []part.Part
		for i := range all {
			p := &all[i]
			if (len(w.Technologies) == 0 || slices.Contains(w.Technologies, p.Technology)) && holds(p, w.MinUF, w.MaxUF) && p.RatedV >= w.MinRatedV {
				want = append(want, *p)
			}
		}
		var got []part.Part
		for _, p := range sure(s.Candidates(background(), shop, w))(rt) {
			got = append(got, p.Part)
		}
		same(rt, want, got)
	})
}

func manyCandidates(t *testing.T, s repo.Store) {
	n := repo.MaxPage + 50
	ids, parts := make([]string, n), make([]part.Part, n)
	for i := range n {
		ids[i], parts[i] = fmt.Sprint("part ", i), samplePart(fmt.Sprintf("HA-%03d", i))
	}
	sure(s.LoadCatalogue(background(), shop, []part.Series{sampleSeries("HA")}, ids, parts, stamp()))(t)
	var got []part.Part
	for _, p := range sure(s.Candidates(background(), shop, repo.CandidateWindow{MinUF: 16, MaxUF: 16}))(t) {
		got = append(got, p.Part)
	}
	same(t, parts, got)
}

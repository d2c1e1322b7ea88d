package repo_test

import (
	"math"
	"slices"
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/domain/amp"
	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/repo"
)

func TestStorableNamesWhatNoEngineKeeps(t *testing.T) {
	t.Parallel()
	nan, fine := math.NaN(), 1.0
	tests := []struct {
		name  string
		value any
		want  []string
	}{
		{"a sound part", part.Part{Maker: "µΩ😀\n\t\u007f", SurgeV: &fine, RatedV: -5}, nil},
		{"numbers that are not finite", part.Part{CapacitanceUF: math.Inf(1), SurgeV: &nan, FurtherSectionsUF: []float64{1, math.Inf(-1)}},
			[]string{"/capacitance_uf", "/further_sections_uf/1", "/surge_v"}},
		{"text with NUL, and no UTF-8", part.Part{Maker: "a\x00", Offers: []part.Offer{{}, {SKU: "\xff"}}}, []string{"/maker", "/offers/1/sku"}},
		{"text of a named type", part.Part{Style: "\x00"}, []string{"/style"}},
		{"deep in an amplifier", amp.Amplifier{Supplies: []amp.Supply{{Nodes: []amp.Node{{ChokeH: &nan}}}}}, []string{"/supplies/0/nodes/0/choke_h"}},
		{"embedded, as in a stored part", repo.Part{Part: part.Part{Note: "\x00"}}, []string{"/note"}},
	}
	for _, tt := range tests {
		var got []string
		if err := repo.Storable(tt.value, "value"); err != nil {
			for _, f := range problem.As(err).Faults {
				got = append(got, f.Pointer)
			}
		}
		slices.Sort(got)
		if diff := cmp.Diff(tt.want, got); diff != "" {
			t.Errorf("%s: %s", tt.name, diff)
		}
	}
}

func TestDropEmptyMakesEmptyListsNil(t *testing.T) {
	t.Parallel()
	got := amp.Amplifier{Positions: []amp.Position{}, Supplies: []amp.Supply{{Nodes: []amp.Node{{Name: "A", Loads: []amp.Load{}}}}, {Nodes: []amp.Node{}}}}
	want := amp.Amplifier{Supplies: []amp.Supply{{Nodes: []amp.Node{{Name: "A"}}}, {}}}
	repo.DropEmpty(&got)
	if diff := cmp.Diff(want, got); diff != "" {
		t.Error(diff)
	}
}

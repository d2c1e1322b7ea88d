package pick_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/domain/part"
	"coldrise/domain/pick"
)

// TestAlternates has a first part that is always the cheapest, and what else passes.
func TestAlternates(t *testing.T) {
	t.Parallel()
	out := func(o part.Offer) part.Offer { o.Stock = 0; return o }
	abroad := func(o part.Offer) part.Offer { o.Currency = "GBP"; return o }
	parts := []pick.Part{
		0: made("A", offer("S", at(1, unit/2))),
		1: made("A", offer("T", at(1, 2*unit))),
		2: made("B", offer("S", at(1, 2*unit))),
		3: made("B", offer("T", at(1, 4*unit))),
		4: made("C", offer("T", at(1, 3*unit))),
		5: made("D", out(offer("T", at(1, unit)))),
		6: made("E", abroad(offer("T", at(1, unit)))),
		7: made("F", offer("S", at(1, unit)), offer("T", at(1, 9*unit))),
		8: made("G", offer("T", at(1, 3*unit))),
	}
	for _, tt := range []struct {
		name    string
		options []int
		want    int // index into options
	}{
		{"another maker, though its own is cheaper", []int{0, 1, 4}, 2},
		{"none by another maker", []int{0, 1}, -1},
		{"another supplier before a cheaper part of the same", []int{0, 2, 3}, 2},
		{"the same supplier where there is no other", []int{0, 2}, 1},
		{"in stock before another supplier", []int{0, 2, 5}, 1},
		{"out of stock where there is nothing else", []int{0, 5}, 1},
		{"not one without a price in the currency", []int{0, 6}, -1},
		{"the cheapest of those in stock elsewhere", []int{0, 3, 4}, 2},
		{"a part of several suppliers by its price at the other", []int{0, 4, 7}, 1},
		{"of equal ones the first part", []int{0, 8, 4}, 2},
		{"only itself", []int{0}, -1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			in := instance{job: job(parts, tt.options), settings: pick.Settings{Currency: "EUR", HomeOnly: true}}
			got := in.solve(t)
			if diff := cmp.Diff([]int{tt.want}, got.Alternates); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

// TestSecondSource has a line that serves two places: what stands in for it
// has to pass at both.
func TestSecondSource(t *testing.T) {
	t.Parallel()
	parts := []pick.Part{
		0: made("A", offer("S", at(1, unit)), offer("T", at(1, 5*unit))),
		1: made("B", offer("S", at(1, 3*unit))),
		2: made("C", offer("S", at(1, 2*unit))),
	}
	for _, tt := range []struct {
		name string
		job  pick.Job
		want *pick.Second
	}{
		{"another maker's that passes at both", job(parts, []int{0, 1, 2}, []int{0, 1}), &pick.Second{Part: 1, OtherMaker: true, InStock: true}},
		{"else the part itself elsewhere", job(parts, []int{0, 1}, []int{0, 2}), &pick.Second{Part: 0, Offer: 1, InStock: true}},
		{"none", job([]pick.Part{made("A", offer("S", at(1, unit)))}, []int{0}), nil},
	} {
		in := instance{job: tt.job, settings: pick.Settings{Currency: "EUR", LineCost: 10 * unit}}
		got := in.solve(t)
		if diff := cmp.Diff(tt.want, got.Lines[0].Second); diff != "" || len(got.Lines) != 1 {
			t.Errorf("%s: %d lines (-want +got):\n%s", tt.name, len(got.Lines), diff)
		}
	}
}

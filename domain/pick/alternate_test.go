package pick_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/domain/part"
	"coldrise/domain/pick"
)

func TestSecondSource(t *testing.T) {
	t.Parallel()
	out := func(o part.Offer) part.Offer { o.Stock = 0; return o }
	abroad := func(o part.Offer) part.Offer { o.Currency = "GBP"; return o }
	parts := []part.Part{
		0: made("A", offer("S", at(1, unit))),
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
		want    int
	}{
		{"another maker, though its own is cheaper", []int{0, 1, 4}, 4},
		{"none by another maker", []int{0, 1}, -1},
		{"another supplier before a cheaper part of the same", []int{0, 2, 3}, 3},
		{"the same supplier where there is no other", []int{0, 2}, 2},
		{"in stock before another supplier", []int{0, 2, 5}, 2},
		{"out of stock where there is nothing else", []int{0, 5}, 5},
		{"not one without a price in the currency", []int{0, 6}, -1},
		{"the cheapest of those in stock elsewhere", []int{0, 3, 4}, 4},
		{"a part of several suppliers by its price at the other", []int{0, 4, 7}, 4},
		{"of equal ones the first", []int{0, 8, 4}, 4},
		{"only itself", []int{0}, -1},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			order := pick.Order{Choice: []int{0}, Lines: []pick.Line{{Part: 0, Offer: 0, Quantity: 1}}}
			got := pick.Alternates(order, needs(tt.options), parts, pick.Settings{Currency: "EUR"})
			if diff := cmp.Diff([]int{tt.want}, got); diff != "" {
				t.Errorf("(-want +got):\n%s", diff)
			}
		})
	}
}

func TestNoSecondSourceWhereNothingWasChosen(t *testing.T) {
	t.Parallel()
	got := pick.Alternates(pick.Order{Choice: []int{-1}}, needs([]int{0}), []part.Part{made("A", offer("S", at(1, unit)))}, pick.Settings{Currency: "EUR"})
	if diff := cmp.Diff([]int{-1}, got); diff != "" {
		t.Errorf("(-want +got):\n%s", diff)
	}
}

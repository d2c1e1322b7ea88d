package repo_test

import (
	"testing"

	"github.com/google/go-cmp/cmp"

	"coldrise/domain/part"
	"coldrise/repo"
)

// offers are named by supplier and order code, such as A1.
func offers(names ...string) []part.Offer {
	var all []part.Offer
	for _, n := range names {
		all = append(all, part.Offer{Supplier: n[:1], SKU: n[1:]})
	}
	return all
}

func TestMergeKeepsPlacesAndOtherSuppliers(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct{ have, row, want []string }{
		{nil, nil, nil},
		{nil, []string{"B1", "A1", "B2"}, []string{"B1", "A1", "B2"}},
		{[]string{"A1"}, nil, []string{"A1"}},
		{[]string{"B1", "A1", "B2"}, []string{"B1", "A1", "B2"}, []string{"B1", "A1", "B2"}},
		{[]string{"B1", "A1", "B2"}, []string{"B1", "B2"}, []string{"B1", "A1", "B2"}},
		{[]string{"B1", "A1", "B2"}, []string{"B3"}, []string{"B3", "A1"}},
		{[]string{"B1", "A1"}, []string{"C1", "B2", "B3"}, []string{"B2", "A1", "C1", "B3"}},
	} {
		got := repo.Merge(part.Part{Note: "old", Offers: offers(tt.have...)}, part.Part{Note: "new", Offers: offers(tt.row...)})
		if diff := cmp.Diff(part.Part{Note: "new", Offers: offers(tt.want...)}, got); diff != "" {
			t.Errorf("%v and %v: %s", tt.have, tt.row, diff)
		}
	}
}

func TestCheapestOfferOfEachCurrency(t *testing.T) {
	t.Parallel()
	at := func(currency string, prices ...part.Money) part.Offer {
		o := part.Offer{Currency: currency, MinQty: 10}
		for i, p := range prices {
			o.Breaks = append(o.Breaks, part.Break{MinQty: 1 + 9*i, UnitPrice: p})
		}
		return o
	}
	columns, err := repo.ColumnsOf([]part.Offer{at("GBP", 5, 4, 1), at("EUR", 9), at("GBP", 3, 3), at("GBP", 3), at("EUR"), at("USD", 0)})
	if err != nil {
		t.Fatal(err)
	}
	var prices []any
	var cheapest []int
	for i, c := range columns {
		if c.Price == nil {
			prices = append(prices, nil)
		} else {
			prices = append(prices, *c.Price)
		}
		if c.Cheapest {
			cheapest = append(cheapest, i)
		}
	}
	if diff := cmp.Diff([]any{int64(4), int64(9), int64(3), int64(3), nil, int64(0)}, prices); diff != "" {
		t.Error(diff)
	}
	if diff := cmp.Diff([]int{1, 2, 5}, cheapest); diff != "" {
		t.Error(diff)
	}
}

package pick_test

import (
	"context"
	"fmt"
	"math/rand/v2"

	"coldrise/domain/part"
	"coldrise/domain/pick"
)

// instance is one question to Cheapest.
type instance struct {
	job      pick.Job
	settings pick.Settings
}

// solve gives the order, or ends the test.
func (in *instance) solve(t fataler) pick.Order {
	t.Helper()
	o, err := pick.Cheapest(context.Background(), &in.job, in.settings)
	if err != nil {
		t.Fatal(err)
	}
	return o
}

// fataler is what *testing.T, *testing.B and *rapid.T share.
type fataler interface {
	Helper()
	Fatal(...any)
	Errorf(string, ...any)
}

// one is a way of one part at one place.
func one(place, p int) pick.Way {
	return pick.Way{Places: []int{place}, Pieces: []pick.Pieces{{Part: p, Count: 1}}}
}

// smallInstance is one that every way to fill and buy can be tried on: to four
// places, four parts, three suppliers, three offers each, stock to 9, packs,
// breaks, spares, a shelf, a foreign currency, constructions of several pieces
// and over several places, and prices coarse enough for ties in every second one.
func smallInstance(seed uint64) instance {
	r := rand.New(rand.NewPCG(seed, 17))
	in := instance{settings: pick.Settings{Currency: "EUR", Rates: []pick.Rate{{Currency: "GBP", Num: 7, Den: 6}},
		LineCost: part.Money(r.IntN(4)) * 350_001, Spare: max(0, r.IntN(4)-2), SpareBasisPoints: max(0, r.IntN(4)-2) * 1_500}}
	grain := 1 + (seed%2)*499_999
	suppliers := 1 + r.IntN(3)
	for s := range suppliers {
		x := pick.Supplier{Name: fmt.Sprintf("Supplier %d", s), Currency: "EUR", LeadDays: r.IntN(2)}
		if r.IntN(4) == 0 {
			x.Currency = "GBP"
		}
		if r.IntN(5) > 0 {
			x.Carriage = part.Money(r.IntN(6)) * 1_000_000
		}
		if r.IntN(3) > 0 {
			free := part.Money(5+r.IntN(25)) * 1_000_000
			x.FreeFrom = &free
		}
		if r.IntN(5) == 0 {
			x.Minimum = part.Money(r.IntN(15)) * 1_000_000
		}
		in.job.Suppliers = append(in.job.Suppliers, x)
	}
	parts := 1 + r.IntN(4)
	for p := range parts {
		made := pick.Part{Maker: fmt.Sprintf("Maker %d", p%3), PartNumber: fmt.Sprint(p)}
		for range r.IntN(4) {
			made.Offers = append(made.Offers, smallOffer(r, in.job.Suppliers, grain))
		}
		if r.IntN(4) == 0 {
			made.Shelf = r.IntN(4)
			made.Book = part.Money(r.IntN(2)*r.IntN(3)) * 1_000_000
		}
		in.job.Parts = append(in.job.Parts, made)
	}
	places := 1 + r.IntN(4)
	count := 1 + r.IntN(2)*r.IntN(3)
	for i := range places {
		in.job.Places = append(in.job.Places, pick.Place{Ref: fmt.Sprintf("C%d", i+1), Count: count})
		for p := range parts {
			if r.IntN(3) > 0 {
				in.job.Ways = append(in.job.Ways, one(i, p))
			}
		}
	}
	for range r.IntN(4) {
		w := pick.Way{Places: r.Perm(places), Extra: part.Money(r.IntN(3)) * 500_000}
		w.Places = w.Places[:1+r.IntN(min(3, places))]
		for range 1 + r.IntN(2) {
			w.Pieces = append(w.Pieces, pick.Pieces{Part: r.IntN(parts), Count: 1 + r.IntN(2)})
		}
		in.job.Ways = append(in.job.Ways, w)
	}
	if r.IntN(3) == 0 {
		in.settings.MaxParts = 1 + r.IntN(3)
	}
	if r.IntN(4) == 0 {
		days := r.IntN(5)
		in.settings.DueDays = &days
	}
	return in
}

func smallOffer(r *rand.Rand, suppliers []pick.Supplier, grain uint64) part.Offer {
	packs := []int{1, 1, 1, 2, 3, 5}
	s := suppliers[r.IntN(len(suppliers))]
	o := part.Offer{Supplier: s.Name, SKU: fmt.Sprint(r.IntN(1000)), Currency: s.Currency,
		Pack: packs[r.IntN(len(packs))], MinQty: 1 + r.IntN(3)*r.IntN(2), Stock: r.IntN(10), LeadDays: r.IntN(4)}
	price := grain * (1 + r.Uint64N(5_000_000/grain))
	for q := 1; len(o.Breaks) < 1+r.IntN(3); q += 1 + r.IntN(5) {
		o.Breaks = append(o.Breaks, part.Break{MinQty: q, UnitPrice: part.Money(price)})
		price = price * (40 + r.Uint64N(61)) / 100
	}
	return o
}

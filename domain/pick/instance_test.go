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
	needs    []pick.Need
	parts    []part.Part
	settings pick.Settings
}

// smallInstance is one that every way to fill and buy can be tried on: to five
// needs, six parts, three offers each, stock to 14, packs, breaks, spares, a
// foreign currency, and prices coarse enough for ties in every second one.
func smallInstance(seed uint64) instance {
	r := rand.New(rand.NewPCG(seed, 17))
	in := instance{settings: pick.Settings{Currency: "EUR", LineCost: part.Money(r.IntN(4)) * 350_001, Spare: max(0, r.IntN(4)-1)}}
	grain := 1 + (seed%2)*499_999
	for p := range 1 + r.IntN(6) {
		made := part.Part{Maker: fmt.Sprintf("Maker %d", p%3), PartNumber: fmt.Sprint(p)}
		for k := range r.IntN(4) {
			made.Offers = append(made.Offers, smallOffer(r, k, grain))
		}
		in.parts = append(in.parts, made)
	}
	for i := range 1 + r.IntN(5) {
		n := pick.Need{Ref: fmt.Sprintf("C%d", i+1), Quantity: 1}
		if r.IntN(3) == 0 {
			n.Quantity = 1 + r.IntN(3)
		}
		for p := range in.parts {
			if r.IntN(3) > 0 {
				n.Options = append(n.Options, p)
			}
		}
		in.needs = append(in.needs, n)
	}
	return in
}

func smallOffer(r *rand.Rand, k int, grain uint64) part.Offer {
	packs := []int{1, 1, 1, 2, 3, 5}
	o := part.Offer{Supplier: fmt.Sprintf("Supplier %d", k), SKU: fmt.Sprint(k), Currency: "EUR",
		Pack: packs[r.IntN(len(packs))], MinQty: 1 + r.IntN(3)*r.IntN(2), Stock: r.IntN(15)}
	if r.IntN(10) == 0 {
		o.Currency = "GBP"
	}
	price := grain * (1 + r.Uint64N(5_000_000/grain))
	for q := 1; len(o.Breaks) < 1+r.IntN(3); q += 1 + r.IntN(5) {
		o.Breaks = append(o.Breaks, part.Break{MinQty: q, UnitPrice: part.Money(price)})
		price = price * (40 + r.Uint64N(61)) / 100
	}
	return o
}

// shopInstance is like one amplifier against a shop's catalogue: positions in
// families (the same value and use), each family with its own parts and some
// of its neighbours', one to three offers with breaks at 1, 10, 25 and some in
// packs, and stock that is now and then short. Options counts parts per position.
func shopInstance(seed uint64, needs, options int) instance {
	r := rand.New(rand.NewPCG(seed, 23))
	in := instance{settings: pick.Settings{Currency: "EUR", LineCost: part.Money(r.IntN(5)) * 500_000, Spare: r.IntN(2)}}
	families := 1 + needs/4
	for p := range families * options * 2 / 3 {
		in.parts = append(in.parts, shopPart(r, p))
	}
	for i := range needs {
		n := pick.Need{Ref: fmt.Sprintf("C%d", i+1), Quantity: 1}
		if r.IntN(12) == 0 {
			n.Quantity = 2
		}
		family := r.IntN(families)
		own := options * 2 / 3
		for k := range options {
			at := family*own + k
			if r.IntN(8) > 0 {
				n.Options = append(n.Options, at%len(in.parts))
			}
		}
		in.needs = append(in.needs, n)
	}
	return in
}

func shopPart(r *rand.Rand, p int) part.Part {
	made := part.Part{Maker: fmt.Sprintf("Maker %d", r.IntN(8)), PartNumber: fmt.Sprint(p)}
	base := 150_000 + r.IntN(9_000_000)
	for k := range 1 + r.IntN(3) {
		price := base * (90 + r.IntN(30)) / 100
		o := part.Offer{Supplier: fmt.Sprintf("Supplier %d", r.IntN(5)), SKU: fmt.Sprint(k), Currency: "EUR", Pack: 1, MinQty: 1, Stock: 400}
		switch r.IntN(6) {
		case 0:
			o.Pack = 5
		case 1:
			o.Pack, o.MinQty = 2, 4
		case 2:
			o.Stock = r.IntN(12)
		}
		for _, q := range []int{1, 10, 25}[:1+r.IntN(3)] {
			o.Breaks = append(o.Breaks, part.Break{MinQty: q, UnitPrice: part.Money(price / 10_000 * 10_000)})
			price = price * (70 + r.IntN(25)) / 100
		}
		made.Offers = append(made.Offers, o)
	}
	return made
}

// solve gives the order, or ends the test.
func (in instance) solve(t fataler) pick.Order {
	t.Helper()
	o, err := pick.Cheapest(context.Background(), in.needs, in.parts, in.settings)
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

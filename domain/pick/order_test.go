package pick_test

import (
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"github.com/google/go-cmp/cmp/cmpopts"

	"coldrise/domain/part"
	"coldrise/domain/pick"
	"coldrise/domain/problem"
)

const unit = 1_000_000 // of part.Money

// offer is one in EUR: sold singly from stock, unless changed.
func offer(supplier string, breaks ...part.Break) part.Offer {
	return part.Offer{Supplier: supplier, SKU: "1", Currency: "EUR", Breaks: breaks, Pack: 1, MinQty: 1, Stock: 1000}
}

func at(quantity int, price part.Money) part.Break {
	return part.Break{MinQty: quantity, UnitPrice: price}
}

func made(maker string, offers ...part.Offer) pick.Part {
	return pick.Part{Maker: maker, PartNumber: maker, Offers: offers}
}

// job has for each list of options a place, wanted once, that one of those
// parts fills.
func job(parts []pick.Part, options ...[]int) pick.Job {
	j := pick.Job{Parts: parts}
	for i, list := range options {
		j.Places = append(j.Places, pick.Place{Ref: "C" + string(rune('1'+i)), Count: 1})
		for _, p := range list {
			j.Ways = append(j.Ways, one(i, p))
		}
	}
	return j
}

// piece is a job of so many pieces of one part at one place.
func piece(p pick.Part, pieces int) pick.Job {
	j := job([]pick.Part{p}, []int{0})
	j.Ways[0].Pieces[0].Count = pieces
	return j
}

// chosenParts gives for each place the first part of its way, or −1.
func chosenParts(j *pick.Job, o *pick.Order) []int {
	var parts []int
	for _, w := range o.Chosen {
		p := -1
		if w >= 0 {
			p = j.Ways[w].Pieces[0].Part
		}
		parts = append(parts, p)
	}
	return parts
}

var withoutSeconds = cmpopts.IgnoreFields(pick.Line{}, "Second", "OwnTotal")

// TestWhyTheWholeOrder has orders where picking each position by itself goes wrong.
func TestWhyTheWholeOrder(t *testing.T) {
	t.Parallel()
	pack := offer("S", at(1, unit))
	pack.Pack, pack.MinQty = 5, 10
	few := offer("S", at(1, unit))
	few.Stock = 1
	two := []pick.Part{made("A", offer("S", at(1, unit))), made("B", offer("S", at(1, 2*unit)))}
	three := []pick.Part{made("A", offer("S", at(1, unit))), made("B", offer("S", at(1, unit))), made("C", offer("S", at(1, unit)))}
	for _, tt := range []struct {
		name     string
		job      pick.Job
		settings pick.Settings
		parts    []int
		lines    []pick.Line
		total    part.Money
	}{
		{"one line for two positions beats a cheaper part and a second line",
			job(two, []int{0, 1}, []int{1}), pick.Settings{LineCost: 3 * unit}, []int{1, 1},
			[]pick.Line{{Part: 1, Quantity: 2, ForUse: 2, UnitPrice: 2 * unit, Total: 4 * unit}}, 7 * unit},
		{"without line costs each takes its cheapest",
			job(two, []int{0, 1}, []int{1}), pick.Settings{}, []int{0, 1},
			[]pick.Line{{Part: 0, Quantity: 1, ForUse: 1, UnitPrice: unit, Total: unit}, {Part: 1, Quantity: 1, ForUse: 1, UnitPrice: 2 * unit, Total: 2 * unit}}, 3 * unit},
		{"one part alone, where only one is allowed",
			job(two, []int{0, 1}, []int{1}), pick.Settings{MaxParts: 1}, []int{1, 1},
			[]pick.Line{{Part: 1, Quantity: 2, ForUse: 2, UnitPrice: 2 * unit, Total: 4 * unit}}, 4 * unit},
		{"ten at the break are cheaper than the nine wanted",
			piece(made("A", offer("S", at(1, unit), at(10, unit/2))), 9), pick.Settings{}, []int{0},
			[]pick.Line{{Quantity: 10, ForUse: 9, UnitPrice: unit / 2, Total: 5 * unit}}, 5 * unit},
		{"packs of five, ten at least, for nine and two spare",
			piece(made("A", pack), 9), pick.Settings{Spare: 2}, []int{0},
			[]pick.Line{{Quantity: 15, ForUse: 9, ForSpare: 2, UnitPrice: unit, Total: 15 * unit}}, 15 * unit},
		{"five per cent of forty-one, rounded up",
			piece(made("A", offer("S", at(1, unit))), 41), pick.Settings{SpareBasisPoints: 500}, []int{0},
			[]pick.Line{{Quantity: 44, ForUse: 41, ForSpare: 3, UnitPrice: unit, Total: 44 * unit}}, 44 * unit},
		{"the cheap supplier's last piece, and the rest elsewhere",
			job([]pick.Part{made("A", offer("D", at(1, 3*unit)), few)}, []int{0}, []int{0}), pick.Settings{LineCost: unit}, []int{0, 0},
			[]pick.Line{{Offer: 0, Quantity: 1, ForUse: 1, UnitPrice: 3 * unit, Total: 3 * unit}, {Offer: 1, Quantity: 1, ForUse: 1, UnitPrice: unit, Total: unit}}, 6 * unit},
		{"of equal totals the fewer lines",
			job(three, []int{0, 2}, []int{1, 2}), pick.Settings{}, []int{2, 2},
			[]pick.Line{{Part: 2, Quantity: 2, ForUse: 2, UnitPrice: unit, Total: 2 * unit}}, 2 * unit},
		{"of equal parts the first",
			job(two[:1:1], []int{0}), pick.Settings{}, []int{0},
			[]pick.Line{{Quantity: 1, ForUse: 1, UnitPrice: unit, Total: unit}}, unit},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			tt.settings.Currency = "EUR"
			in := instance{job: tt.job, settings: tt.settings}
			got := in.solve(t)
			audit(t, &in, got)
			if diff := cmp.Diff(tt.parts, chosenParts(&tt.job, &got)); diff != "" {
				t.Errorf("parts (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(tt.lines, got.Lines, withoutSeconds); diff != "" {
				t.Errorf("lines (-want +got):\n%s", diff)
			}
			if got.Total != tt.total || got.Status != pick.Proven || got.Bound != tt.total {
				t.Errorf("total %v, bound %v, %s; want %v, proven", got.Total, got.Bound, got.Status, tt.total)
			}
		})
	}
}

// TestConstructions has a can against two single parts, and a stack with its
// resistors against one part of higher voltage.
func TestConstructions(t *testing.T) {
	t.Parallel()
	for _, tt := range []struct {
		name        string
		can, single part.Money
		want        []int
	}{
		{"the can", 4 * unit, 3 * unit, []int{0, 0}},
		{"its discrete set", 7 * unit, 3 * unit, []int{1, 2}},
		{"the can and the clamp it takes", 5*unit + 1, 3 * unit, []int{1, 2}},
	} {
		j := pick.Job{Parts: []pick.Part{made("Can", offer("S", at(1, tt.can))), made("Single", offer("S", at(1, tt.single)))},
			Places: []pick.Place{{Ref: "C1a", Count: 4}, {Ref: "C1b", Count: 4}},
			Ways:   []pick.Way{{Places: []int{0, 1}, Pieces: []pick.Pieces{{Part: 0, Count: 1}}, Extra: unit}, one(0, 1), one(1, 1)}}
		in := instance{job: j, settings: pick.Settings{Currency: "EUR"}}
		got := in.solve(t)
		audit(t, &in, got)
		if diff := cmp.Diff(tt.want, got.Chosen); diff != "" {
			t.Errorf("%s (-want +got):\n%s", tt.name, diff)
		}
	}
	stack := pick.Way{Places: []int{0}, Pieces: []pick.Pieces{{Part: 1, Count: 2}, {Part: 2, Count: 2}}}
	j := job([]pick.Part{made("HV", offer("S", at(1, 9*unit))), made("LV", offer("S", at(1, 4*unit))), made("R", offer("S", at(1, unit/5)))}, []int{0})
	j.Ways = append(j.Ways, stack)
	in := instance{job: j, settings: pick.Settings{Currency: "EUR"}}
	got := in.solve(t)
	audit(t, &in, got)
	if got.Chosen[0] != 1 || got.Total != 8*unit+2*unit/5 {
		t.Errorf("way %d at %v, want the stack at 8.40", got.Chosen[0], got.Total)
	}
}

func TestShortageSaysWhy(t *testing.T) {
	t.Parallel()
	one, none := offer("S", at(1, unit)), offer("S", at(1, unit))
	one.Stock, none.Stock = 1, 0
	abroad := offer("S", at(1, unit))
	abroad.Currency = "GBP"
	parts := []pick.Part{made("A", one), made("B", none), made("C", abroad), made("D", offer("S"))}
	for _, tt := range []struct {
		name    string
		job     pick.Job
		parts   []int
		reasons []string
	}{
		{"nothing passes", job(parts, nil), []int{-1}, []string{"no part passes here"}},
		{"no stock", job(parts, []int{1}), []int{-1}, []string{"takes 1 from stock; the most to be had of any part that passes here is 0"}},
		{"another currency", job(parts, []int{2}), []int{-1}, []string{"no part that passes here has an offer in EUR"}},
		{"no price", job(parts, []int{3}), []int{-1}, []string{"takes 1 from stock; the most to be had of any part that passes here is 0"}},
		{"the last piece goes to one of two", job(parts, []int{0}, []int{0, 2}), []int{0, -1}, []string{"the stock of its parts does not reach for this position beside the others"}},
		{"no needs", job(parts), nil, nil},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			in := instance{job: tt.job, settings: pick.Settings{Currency: "EUR", HomeOnly: true}}
			got := in.solve(t)
			var reasons []string
			for _, s := range got.Short {
				reasons = append(reasons, s.Reason)
			}
			if diff := cmp.Diff(tt.parts, chosenParts(&tt.job, &got)) + cmp.Diff(tt.reasons, reasons); diff != "" || got.Status != pick.Proven {
				t.Errorf("%s (-want +got):\n%s", got.Status, diff)
			}
		})
	}
}

func TestRefusesWhatItCannotReckonWith(t *testing.T) {
	t.Parallel()
	bad := offer("S", at(1, -1))
	bad.Pack, bad.Stock = 0, math.MaxInt
	j := pick.Job{
		Places:    []pick.Place{{Ref: "C1", Count: 0}, {Ref: "C2", Count: 2}, {Ref: "C3", Count: math.MaxInt}},
		Parts:     []pick.Part{made("A", bad), {Shelf: -1, Book: -1}},
		Suppliers: []pick.Supplier{{Name: "S", Currency: "GBP", Carriage: -1, Minimum: -1, LeadDays: -1}, {Name: "S", Currency: "EUR"}},
		Ways: []pick.Way{
			{Places: []int{0}, Pieces: []pick.Pieces{{Part: 0, Count: 0}, {Part: 7, Count: 1}, {Part: -1, Count: 1}}, Extra: -1},
			{Places: []int{1, 1, 2, 3}, Pieces: []pick.Pieces{{Part: 1, Count: math.MaxInt}}},
			{},
		},
	}
	days := -1
	_, err := pick.Cheapest(t.Context(), &j, pick.Settings{Currency: "EUR", LineCost: -1, Spare: -1, SpareBasisPoints: -1, MaxParts: -1, DueDays: &days,
		Rates: []pick.Rate{{Currency: "EUR", Num: 1, Den: 1}, {Currency: "USD", Num: 0, Den: 1}}})
	var e *problem.Error
	if !errors.As(err, &e) || e.Code != problem.Invalid {
		t.Fatalf("got %v, want invalid", err)
	}
	var pointers []string
	for _, f := range e.Faults {
		pointers = append(pointers, f.Pointer)
	}
	want := []string{"/settings/line_cost", "/settings/spare", "/settings/spare_basis_points", "/settings/max_parts", "/settings/due_days",
		"/settings/rates/0/currency", "/settings/rates/1",
		"/suppliers/0/carriage", "/suppliers/0/minimum", "/suppliers/0/lead_days", "/suppliers/0/currency", "/suppliers/1/name",
		"/places/0/count", "/places/2/count",
		"/ways/0/extra", "/ways/0/pieces/0/count", "/ways/0/pieces/1/part", "/ways/0/pieces/2/part",
		"/ways/1/pieces/0/count", "/ways/1/places/1", "/ways/1/places/2", "/ways/1/places/3", "/ways/2/places",
		"/parts/0/offers/0/currency", "/parts/0/offers/0/pack", "/parts/0/offers/0/stock", "/parts/0/offers/0/breaks/0/unit_price",
		"/parts/1/shelf", "/parts/1/book"}
	if diff := cmp.Diff(want, pointers); diff != "" {
		t.Errorf("faults (-want +got):\n%s", diff)
	}
}

// TestAmountsBeyondTheLimit has totals past part.MaxMoney refused, not wrapped.
func TestAmountsBeyondTheLimit(t *testing.T) {
	t.Parallel()
	for _, pieces := range []int{1, 2, 500, pick.MaxPieces} {
		p := made("A", offer("S", at(1, part.MaxMoney)))
		p.Offers[0].Stock = 2 * pick.MaxPieces
		j := piece(p, pieces)
		o, err := pick.Cheapest(t.Context(), &j, pick.Settings{Currency: "EUR"})
		if pieces == 1 {
			if err != nil || o.Total != part.MaxMoney {
				t.Errorf("one piece: %v, %v", o.Total, err)
			}
			continue
		}
		if err == nil || problem.CodeOf(err) != problem.Invalid || !strings.Contains(err.Error(), "amount") {
			t.Errorf("%d pieces: total %v in %d lines, %d short, error %v; want invalid", pieces, o.Total, len(o.Lines), len(o.Short), err)
		}
	}
}

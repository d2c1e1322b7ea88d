package pick_test

import (
	"context"
	"errors"
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"

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

func made(maker string, offers ...part.Offer) part.Part {
	return part.Part{Maker: maker, PartNumber: maker, Offers: offers}
}

func needs(options ...[]int) []pick.Need {
	var all []pick.Need
	for i, list := range options {
		all = append(all, pick.Need{Ref: "C" + string(rune('1'+i)), Options: list, Quantity: 1})
	}
	return all
}

// TestWhyTheWholeOrder has orders where picking each position by itself goes wrong.
func TestWhyTheWholeOrder(t *testing.T) {
	t.Parallel()
	pack := offer("S", at(1, unit))
	pack.Pack, pack.MinQty = 5, 10
	few := offer("S", at(1, unit))
	few.Stock = 1
	for _, tt := range []struct {
		name     string
		needs    []pick.Need
		parts    []part.Part
		settings pick.Settings
		choice   []int
		lines    []pick.Line
		total    part.Money
	}{
		{"one line for two positions beats a cheaper part and a second line",
			needs([]int{0, 1}, []int{1}), []part.Part{made("A", offer("S", at(1, unit))), made("B", offer("S", at(1, 2*unit)))},
			pick.Settings{LineCost: 3 * unit}, []int{1, 1},
			[]pick.Line{{Part: 1, Quantity: 2, ForUse: 2, UnitPrice: 2 * unit, Total: 4 * unit}}, 7 * unit},
		{"without line costs each takes its cheapest",
			needs([]int{0, 1}, []int{1}), []part.Part{made("A", offer("S", at(1, unit))), made("B", offer("S", at(1, 2*unit)))},
			pick.Settings{}, []int{0, 1},
			[]pick.Line{{Part: 0, Quantity: 1, ForUse: 1, UnitPrice: unit, Total: unit}, {Part: 1, Quantity: 1, ForUse: 1, UnitPrice: 2 * unit, Total: 2 * unit}}, 3 * unit},
		{"ten at the break are cheaper than the nine wanted",
			[]pick.Need{{Ref: "C1", Options: []int{0}, Quantity: 9}}, []part.Part{made("A", offer("S", at(1, unit), at(10, unit/2)))},
			pick.Settings{}, []int{0},
			[]pick.Line{{Quantity: 10, ForUse: 9, UnitPrice: unit / 2, Total: 5 * unit}}, 5 * unit},
		{"packs of five, ten at least, for six and two spare",
			[]pick.Need{{Ref: "C1", Options: []int{0}, Quantity: 9}}, []part.Part{made("A", pack)},
			pick.Settings{Spare: 2}, []int{0},
			[]pick.Line{{Quantity: 15, ForUse: 9, UnitPrice: unit, Total: 15 * unit}}, 15 * unit},
		{"the cheap supplier's last piece, and the rest elsewhere",
			needs([]int{0}, []int{0}), []part.Part{made("A", offer("D", at(1, 3*unit)), few)},
			pick.Settings{LineCost: unit}, []int{0, 0},
			[]pick.Line{{Offer: 0, Quantity: 1, ForUse: 1, UnitPrice: 3 * unit, Total: 3 * unit}, {Offer: 1, Quantity: 1, ForUse: 1, UnitPrice: unit, Total: unit}}, 6 * unit},
		{"of equal totals the fewer lines",
			needs([]int{0, 2}, []int{1, 2}), []part.Part{made("A", offer("S", at(1, unit))), made("B", offer("S", at(1, unit))), made("C", offer("S", at(1, unit)))},
			pick.Settings{}, []int{2, 2},
			[]pick.Line{{Part: 2, Quantity: 2, ForUse: 2, UnitPrice: unit, Total: 2 * unit}}, 2 * unit},
		{"of equal parts the first",
			needs([]int{1, 0}), []part.Part{made("A", offer("S", at(1, unit))), made("B", offer("S", at(1, unit)))},
			pick.Settings{}, []int{0},
			[]pick.Line{{Quantity: 1, ForUse: 1, UnitPrice: unit, Total: unit}}, unit},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			tt.settings.Currency = "EUR"
			in := instance{needs: tt.needs, parts: tt.parts, settings: tt.settings}
			got := in.solve(t)
			in.audit(t, got)
			if diff := cmp.Diff(tt.choice, got.Choice); diff != "" {
				t.Errorf("choice (-want +got):\n%s", diff)
			}
			if diff := cmp.Diff(tt.lines, got.Lines); diff != "" {
				t.Errorf("lines (-want +got):\n%s", diff)
			}
			if got.Total != tt.total || !got.Proven || got.Bound != tt.total {
				t.Errorf("total %v, bound %v, proven %v; want %v, proven", got.Total, got.Bound, got.Proven, tt.total)
			}
		})
	}
}

func TestShortageSaysWhy(t *testing.T) {
	t.Parallel()
	one, none := offer("S", at(1, unit)), offer("S", at(1, unit))
	one.Stock, none.Stock = 1, 0
	abroad := offer("S", at(1, unit))
	abroad.Currency = "GBP"
	parts := []part.Part{made("A", one), made("B", none), made("C", abroad), made("D", offer("S"))}
	for _, tt := range []struct {
		name    string
		needs   []pick.Need
		choice  []int
		reasons []string
	}{
		{"nothing passes", needs(nil), []int{-1}, []string{"no part passes here"}},
		{"no stock", needs([]int{1}), []int{-1}, []string{"takes 1 from stock; the most to be had of any part that passes here is 0"}},
		{"another currency", needs([]int{2}), []int{-1}, []string{"no part that passes here has an offer in EUR"}},
		{"no price", needs([]int{3}), []int{-1}, []string{"takes 1 from stock; the most to be had of any part that passes here is 0"}},
		{"the last piece goes to the first", needs([]int{0, 1}, []int{0, 2}), []int{0, -1}, []string{"the stock of its parts does not reach for this position beside the others"}},
		{"no needs", nil, []int{}, nil},
	} {
		t.Run(tt.name, func(t *testing.T) {
			t.Parallel()
			got := instance{needs: tt.needs, parts: parts, settings: pick.Settings{Currency: "EUR"}}.solve(t)
			var reasons []string
			for _, s := range got.Short {
				reasons = append(reasons, s.Reason)
			}
			if diff := cmp.Diff(tt.choice, got.Choice) + cmp.Diff(tt.reasons, reasons); diff != "" || !got.Proven {
				t.Errorf("proven %v (-want +got):\n%s", got.Proven, diff)
			}
		})
	}
}

// TestStoppedEarly holds a stopped search's bound against the proven total.
func TestStoppedEarly(t *testing.T) {
	t.Parallel()
	stopped := 0
	for seed := range uint64(60) {
		in := midInstance(seed)
		best := in.solve(t)
		in.settings.MaxNodes = 2
		got := in.solve(t)
		in.audit(t, got)
		if got.Proven {
			if got.Total != best.Total {
				t.Errorf("seed %d: says proven %v, best is %v", seed, got.Total, best.Total)
			}
			continue
		}
		stopped++
		if len(got.Short) == len(best.Short) && (got.Bound > best.Total || got.Total < best.Total) {
			t.Errorf("seed %d: bound %v, total %v; best is %v", seed, got.Bound, got.Total, best.Total)
		}
		if got.Nodes > 3 {
			t.Errorf("seed %d: %d nodes with a limit of 2", seed, got.Nodes)
		}
	}
	if stopped < 5 {
		t.Errorf("only %d searches were stopped", stopped)
	}
}

func TestCancelled(t *testing.T) {
	t.Parallel()
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	in := shopInstance(1, 10, 10)
	_, err := pick.Cheapest(ctx, in.needs, in.parts, in.settings)
	if err == nil || problem.CodeOf(err) != problem.Cancelled {
		t.Errorf("got %v, want cancelled", err)
	}
}

func TestRefusesWhatItCannotReckonWith(t *testing.T) {
	t.Parallel()
	bad := offer("S", at(1, -1))
	bad.Pack, bad.Stock = 0, math.MaxInt
	in := []pick.Need{{Ref: "C1", Options: []int{0, 7, -1}, Quantity: 0}, {Ref: "C2", Options: []int{0}, Quantity: math.MaxInt}}
	_, err := pick.Cheapest(t.Context(), in, []part.Part{made("A", bad)}, pick.Settings{Currency: "EUR", LineCost: -1, Spare: -1})
	var e *problem.Error
	if !errors.As(err, &e) || e.Code != problem.Invalid {
		t.Fatalf("got %v, want invalid", err)
	}
	var pointers []string
	for _, f := range e.Faults {
		pointers = append(pointers, f.Pointer)
	}
	want := []string{"/settings/line_cost", "/settings/spare", "/needs/0/quantity", "/needs/0/options/1", "/needs/0/options/2",
		"/needs/1/quantity", "/parts/0/offers/0/pack", "/parts/0/offers/0/stock", "/parts/0/offers/0/breaks/0/unit_price"}
	if diff := cmp.Diff(want, pointers); diff != "" {
		t.Errorf("faults (-want +got):\n%s", diff)
	}
}

// TestAmountsBeyondTheLimit has totals past part.MaxMoney refused, not wrapped.
func TestAmountsBeyondTheLimit(t *testing.T) {
	t.Parallel()
	for _, pieces := range []int{1, 2, 500, pick.MaxPieces} {
		parts := []part.Part{made("A", offer("S", at(1, part.MaxMoney)))}
		parts[0].Offers[0].Stock = 2 * pick.MaxPieces
		o, err := pick.Cheapest(t.Context(), []pick.Need{{Ref: "C1", Options: []int{0}, Quantity: pieces}}, parts, pick.Settings{Currency: "EUR"})
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

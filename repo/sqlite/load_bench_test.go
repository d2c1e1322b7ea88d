package sqlite

import (
	"context"
	"fmt"
	"testing"

	"coldrise/domain/part"
	"coldrise/repo"
)

// shelf is a catalogue of n parts with two offers of three breaks each.
func shelf(n int) (ids []string, parts []part.Part) {
	for i := range n {
		p := part.Part{Maker: fmt.Sprint("Maker ", i%10), PartNumber: fmt.Sprintf("HA-%06d", i), Series: "HA", Technology: part.Electrolytic,
			Style: part.Axial, CapacitanceUF: 1 + float64(i*7919%100_000)/100, RatedV: float64(50 * (1 + i%12))}
		for _, supplier := range []string{"Oxbow Spares", "Fenwick"} {
			p.Offers = append(p.Offers, part.Offer{Supplier: supplier, SKU: fmt.Sprint(i), Currency: "GBP", Pack: 1, MinQty: 1, Stock: i % 50,
				Breaks: []part.Break{{MinQty: 1, UnitPrice: 3_200_000}, {MinQty: 10, UnitPrice: 2_880_000}, {MinQty: 100, UnitPrice: 2_500_000}}})
		}
		ids, parts = append(ids, fmt.Sprintf("part-%06d", i)), append(parts, p)
	}
	return ids, parts
}

func BenchmarkLoadCatalogue(b *testing.B) {
	for _, n := range []int{150, 100_000} {
		b.Run(fmt.Sprint(n, " parts"), func(b *testing.B) {
			s := fresh(b)
			ids, parts := shelf(n)
			shops := 0
			for b.Loop() {
				shops++
				if _, err := s.LoadCatalogue(context.Background(), repo.Shop(fmt.Sprint(shops)), []part.Series{{Name: "HA"}}, ids, parts, repo.Stamp{}); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

// Reads in a shop of 100 000 parts.
func BenchmarkReads(b *testing.B) {
	s, ctx := fresh(b), context.Background()
	ids, parts := shelf(100_000)
	if _, err := s.LoadCatalogue(ctx, repo.Bench, []part.Series{{Name: "HA"}}, ids, parts, repo.Stamp{}); err != nil {
		b.Fatal(err)
	}
	list := func(f repo.PartFilter) func() (int, error) {
		return func() (int, error) {
			parts, _, err := s.Parts(ctx, repo.Bench, f, repo.Page{Limit: 50})
			return len(parts), err
		}
	}
	window := func(least, most, volts float64) func() (int, error) {
		return func() (int, error) {
			parts, err := s.Candidates(ctx, repo.Bench, repo.CandidateWindow{MinUF: least, MaxUF: most, MinRatedV: volts})
			return len(parts), err
		}
	}
	for _, read := range []struct {
		name string
		call func() (int, error)
	}{
		{"one part", func() (int, error) { _, err := s.Part(ctx, repo.Bench, "part-050000"); return 1, err }},
		{"a page", list(repo.PartFilter{})},
		{"a page by value", list(repo.PartFilter{MinUF: 20, MaxUF: 21, MinRatedV: 450, InStock: true})},
		{"a page of nothing", list(repo.PartFilter{MinUF: 5000})},
		{"a window", window(30, 31, 450)},
	} {
		b.Run(read.name, func(b *testing.B) {
			n := 0
			for b.Loop() {
				var err error
				if n, err = read.call(); err != nil {
					b.Fatal(err)
				}
			}
			b.ReportMetric(float64(n), "parts")
		})
	}
}

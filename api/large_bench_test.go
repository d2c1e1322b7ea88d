package api_test

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"testing"
	"time"

	"coldrise/api"
	"coldrise/catalogue"
	"coldrise/domain/amp"
	"coldrise/domain/derate"
	"coldrise/domain/part"
	"coldrise/domain/plan"
	"coldrise/repo"
	"coldrise/repo/sqlite"
)

// largeCatalogue is the starter's parts over and over, n in all: every copy is
// another maker's article at another price, and each third one steps down in
// ripple current, so that there is something to choose.
func largeCatalogue(b *testing.B, n int) (series []part.Series, ids []string, parts []part.Part) {
	b.Helper()
	series, sound, err := catalogue.Starter()
	if err != nil {
		b.Fatal(err)
	}
	for i := range n {
		p := sound[i%len(sound)]
		round := i / len(sound)
		p.PartNumber = fmt.Sprintf("%s-%d", p.PartNumber, round)
		if p.RippleMA != nil {
			ripple := *p.RippleMA * (1 - 0.05*float64(round%3))
			p.RippleMA = &ripple
		}
		p.Offers = append([]part.Offer(nil), p.Offers...)
		for k := range p.Offers {
			o := &p.Offers[k]
			o.SKU = fmt.Sprintf("%s-%d", o.SKU, round)
			o.Breaks = append([]part.Break(nil), o.Breaks...)
			for j := range o.Breaks {
				o.Breaks[j].UnitPrice += part.Money(1000 * round)
			}
		}
		ids, parts = append(ids, fmt.Sprintf("part-%05d", i)), append(parts, p)
	}
	return series, ids, parts
}

// BenchmarkPlanOver10000Parts is a whole plan as the command makes it: every
// service case, the bands from a thousand samples, the windows read from an
// SQLite file, every part in them judged, the order proven.
func BenchmarkPlanOver10000Parts(b *testing.B) {
	series, ids, parts := largeCatalogue(b, 10000)
	for _, name := range []string{"fernhollow-6", "saltmarsh-40", "ravensgill-100"} {
		b.Run(name, func(b *testing.B) {
			store, err := sqlite.Open(b.Context(), filepath.Join(b.TempDir(), "large.db"))
			if err != nil {
				b.Fatal(err)
			}
			defer store.Close()
			if _, err := store.LoadCatalogue(b.Context(), repo.Bench, series, ids, parts, repo.Stamp{At: time.Unix(0, 0)}); err != nil {
				b.Fatal(err)
			}
			text, err := os.ReadFile(filepath.Join("..", "testdata", "amps", name+".json"))
			if err != nil {
				b.Fatal(err)
			}
			a, err := amp.Parse(text)
			if err != nil {
				b.Fatal(err)
			}
			judged := 0
			for b.Loop() {
				p, err := api.MakePlan(context.Background(), store, repo.Bench, a, derate.Default(), time.Time{}, plan.DefaultSamples)
				if err != nil || !p.Order.Proven {
					b.Fatalf("%v, proven %v", err, p != nil && p.Order.Proven)
				}
				judged = 0
				for i := range p.Positions {
					judged += p.Positions[i].Considered
				}
			}
			b.ReportMetric(float64(judged), "judged/op")
		})
	}
}

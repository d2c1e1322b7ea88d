package pick_test

import (
	"fmt"
	"testing"
)

// BenchmarkCheapest is a whole search with its proof, on ten seeded instances
// of each size with 40 options a need.
func BenchmarkCheapest(b *testing.B) {
	for _, needs := range []int{5, 10, 20, 40, 60} {
		b.Run(fmt.Sprintf("needs=%d", needs), func(b *testing.B) {
			nodes, most, unproven, runs := 0, 0, 0, 0
			for b.Loop() {
				for seed := range uint64(10) {
					o := shopInstance(seed, needs, 40).solve(b)
					nodes, most = nodes+o.Nodes, max(most, o.Nodes)
					runs++
					if !o.Proven {
						unproven++
					}
				}
			}
			b.ReportMetric(float64(nodes)/float64(runs), "nodes/order")
			b.ReportMetric(float64(most), "most-nodes")
			b.ReportMetric(float64(unproven), "unproven")
			b.ReportMetric(float64(b.Elapsed().Microseconds())/float64(runs), "µs/order")
		})
	}
}

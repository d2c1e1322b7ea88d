package plan_test

import (
	"context"
	"testing"

	"coldrise/domain/derate"
	"coldrise/domain/plan"
)

// BenchmarkStudy is a plan's whole study, a thousand samples, on one core.
func BenchmarkStudy(b *testing.B) {
	for _, name := range []string{"fernhollow-6", "saltmarsh-40", "ravensgill-100", "bare-voltages"} {
		b.Run(name, func(b *testing.B) {
			a := demo(b, name)
			points := 0
			for b.Loop() {
				s, err := plan.Assess(context.Background(), a, derate.Default())
				if err != nil {
					b.Fatal(err)
				}
				points += studyOn(b, s, plan.DefaultSamples)
			}
			b.ReportMetric(float64(points)/b.Elapsed().Seconds(), "points/s")
		})
	}
}

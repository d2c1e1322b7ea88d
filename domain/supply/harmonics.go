package supply

import "math"

// harmonicsKept is how many multiples of the mains a capacitor's ripple
// current is resolved into; the tables that weigh them end at 10 kHz, and
// beyond the twentieth nothing of the current is left.
const harmonicsKept = 20

// harmonics resolves a current that repeats with the mains. Bins holds it at
// equal distances in a cycle, A, summed over a number of cycles.
func harmonics(bins []float64, cycles int, hz float64) []Harmonic {
	if cycles == 0 {
		return nil
	}
	scale := math.Sqrt2 / float64(len(bins)*cycles)
	top := min(harmonicsKept, (len(bins)-1)/2) // beyond half the sampling a multiple cannot be told
	out := make([]Harmonic, top)
	for k := range out {
		re, im := 0.0, 0.0
		for j, a := range bins {
			sin, cos := math.Sincos(2 * math.Pi * float64((k+1)*j%len(bins)) / float64(len(bins)))
			re += a * cos
			im += a * sin
		}
		out[k] = Harmonic{Hz: hz * float64(k+1), ARMS: scale * math.Hypot(re, im)}
	}
	return out
}

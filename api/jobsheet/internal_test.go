package jobsheet

import "testing"

// A time to wait is never printed shorter than it is.
func TestSecondsAreRoundedUp(t *testing.T) {
	t.Parallel()
	for s, want := range map[float64]string{0: "below", 0.01: "0.1 s", 9.91: "10.0 s", 59.2: "60 s", 323: "323 s", 601: "11 min"} {
		if got := seconds(s); got != want {
			t.Errorf("%g s is printed as %s, want %s", s, got, want)
		}
	}
}

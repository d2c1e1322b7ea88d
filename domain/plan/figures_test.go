package plan

import (
	"math"
	"testing"
)

func TestFiguresKeepSixDigits(t *testing.T) {
	t.Parallel()
	for _, c := range []struct{ in, want float64 }{
		{323.50984688964564, 323.51}, {0.000123456789, 0.000123457}, {-2.0000004, -2}, {0, 0}, {123456789, 123457000}, {0.9, 0.9}, {1e-300, 1e-300},
	} {
		if got := digits(c.in); math.Abs(got-c.want) > 1e-12*math.Abs(c.want) {
			t.Errorf("%v becomes %v, want %v", c.in, got, c.want)
		}
	}
}

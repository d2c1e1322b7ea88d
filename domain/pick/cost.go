package pick

import "coldrise/domain/part"

// cost is what orders are compared by: money × scale + order lines, where
// scale is past any count of lines. The lesser cost is then the lesser amount
// and, among equal amounts, the fewer lines; all in whole numbers.
type cost int64

// never is the cost of what cannot be had. Sums and products stop there.
const never cost = 1 << 62

// weighable bounds the sums that the bound forms.
const weighable cost = 1 << 60

func (c cost) plus(d cost) cost {
	if c >= never || d >= never {
		return never
	}
	return min(c+d, never)
}

func (c cost) times(n int) cost {
	if n > 0 && c > never/cost(n) {
		return never
	}
	return c * cost(n)
}

// timesSigned is times for a count of either sign.
func (c cost) timesSigned(n int) cost {
	if n < 0 {
		return -c.times(-n)
	}
	return c.times(n)
}

// money is the amount in a cost; for a lower bound it is a lower bound on the amount.
func (c cost) money(scale cost) part.Money { return part.Money(c / scale) }

// scaleFor is a power of two past the lines that any order of so many can have.
func scaleFor(lines int) cost {
	scale := cost(2)
	for scale <= cost(lines) {
		scale *= 2
	}
	return scale
}

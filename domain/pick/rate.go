package pick

import (
	"math/bits"
	"strings"

	"coldrise/domain/part"
	"coldrise/domain/problem"
)

// rateDecimals is the most decimals that ParseRate reads.
const rateDecimals = 9

// ParseRate reads a rate written as a decimal, such as "1.1734": so many units
// of the order's currency for one of the currency named.
func ParseRate(currency, decimal string) (Rate, error) {
	whole, frac, dot := strings.Cut(decimal, ".")
	r := Rate{Currency: currency, Den: 1}
	if whole == "" || dot && frac == "" || len(frac) > rateDecimals || len(whole) > rateDecimals {
		return Rate{}, badRate(decimal)
	}
	for _, c := range whole + frac {
		if c < '0' || c > '9' {
			return Rate{}, badRate(decimal)
		}
		r.Num = 10*r.Num + int64(c-'0')
	}
	for range frac {
		r.Den *= 10
	}
	if r.Num == 0 {
		return Rate{}, badRate(decimal)
	}
	return r, nil
}

func badRate(decimal string) error {
	return problem.New(problem.Invalid, "a rate is a decimal above 0 with up to nine digits before and behind the point, such as 1.1734; got %q", decimal)
}

// maxRate bounds both sides of a Rate.
const maxRate = 1_000_000_000_000_000_000

// convert gives an amount in the order's currency, to the nearest millionth,
// half up; it is not ok past part.MaxMoney.
func (r Rate) convert(m part.Money) (part.Money, bool) {
	hi, lo := bits.Mul64(uint64(m), uint64(r.Num))
	lo, carry := bits.Add64(lo, uint64(r.Den)/2, 0)
	hi += carry
	if hi >= uint64(r.Den) {
		return 0, false
	}
	q, _ := bits.Div64(hi, lo, uint64(r.Den))
	return part.Money(q), q <= uint64(part.MaxMoney)
}

// mulDiv gives a·b/c for b and c not negative, c above 0: downwards, or with up
// towards more. What does not fit is held at never.
func mulDiv(a, b, c cost, up bool) cost {
	if a < 0 {
		return -mulDiv(-a, b, c, !up)
	}
	hi, lo := bits.Mul64(uint64(a), uint64(b))
	if hi >= uint64(c) {
		return never
	}
	q, rest := bits.Div64(hi, lo, uint64(c))
	if up && rest > 0 {
		q++
	}
	return min(cost(min(q, uint64(never))), never)
}

package part

import (
	"fmt"
	"math"
	"math/bits"
	"strconv"
	"strings"
)

// Money is an amount in millionths of a currency's unit: 12 500 000 is 12.50.
// The currency stands beside it. On the wire it is a decimal string.
type Money int64

// MaxMoney bounds what one amount may be: a thousand million units. Sums of
// amounts within it cannot overflow.
const MaxMoney Money = 1e15

const moneyUnit = 1_000_000

// String writes the amount with two decimals, or more where they are not zero.
func (m Money) String() string {
	sign, v := "", uint64(m)
	if m < 0 {
		sign, v = "-", uint64(-m)
	}
	frac := fmt.Sprintf("%06d", v%moneyUnit)
	for len(frac) > 2 && frac[len(frac)-1] == '0' {
		frac = frac[:len(frac)-1]
	}
	return sign + strconv.FormatUint(v/moneyUnit, 10) + "." + frac
}

// ParseMoney reads a decimal string with up to six decimals: "12", "0.0123".
func ParseMoney(s string) (Money, error) {
	whole, frac, _ := strings.Cut(s, ".")
	if whole == "" || len(frac) > 6 || !digits(whole) || !digits(frac) || (strings.Contains(s, ".") && frac == "") {
		return 0, fmt.Errorf("an amount is a decimal string with up to six decimals, such as \"12.50\"")
	}
	v, err := strconv.ParseUint(whole, 10, 63)
	if err != nil || Money(v) > MaxMoney/moneyUnit {
		return 0, fmt.Errorf("an amount may be %s at most", MaxMoney)
	}
	part := uint64(0)
	for i := range 6 {
		part *= 10
		if i < len(frac) {
			part += uint64(frac[i] - '0')
		}
	}
	if v = v*moneyUnit + part; Money(v) > MaxMoney {
		return 0, fmt.Errorf("an amount may be %s at most", MaxMoney)
	}
	return Money(v), nil
}

func digits(s string) bool {
	for _, r := range s {
		if r < '0' || r > '9' {
			return false
		}
	}
	return true
}

// Times gives m × n, held at the largest int64 rather than wrapped.
func (m Money) Times(n int) Money {
	hi, lo := bits.Mul64(uint64(m), uint64(n))
	if hi != 0 || lo > math.MaxInt64 {
		return math.MaxInt64
	}
	return Money(lo)
}

// MarshalText writes the decimal string.
func (m Money) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText reads the decimal string.
func (m *Money) UnmarshalText(b []byte) error {
	v, err := ParseMoney(string(b))
	if err == nil {
		*m = v
	}
	return err
}

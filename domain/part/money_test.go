package part_test

import (
	"encoding/json"
	"math"
	"testing"

	"coldrise/domain/part"
	"pgregory.net/rapid"
)

func TestMoneyReadsAndWritesDecimalStrings(t *testing.T) {
	t.Parallel()
	tests := []struct {
		in   string
		want part.Money
		out  string
	}{
		{"0", 0, "0.00"},
		{"12", 12_000_000, "12.00"},
		{"12.5", 12_500_000, "12.50"},
		{"0.0123", 12_300, "0.0123"},
		{"0.000001", 1, "0.000001"},
		{"007.10", 7_100_000, "7.10"},
		{"1000000000", part.MaxMoney, "1000000000.00"},
	}
	for _, tt := range tests {
		got, err := part.ParseMoney(tt.in)
		if err != nil || got != tt.want || got.String() != tt.out {
			t.Errorf("ParseMoney(%q) = %d (%v), %v; want %d (%s)", tt.in, got, got, err, tt.want, tt.out)
		}
	}
}

func TestMoneyRefusesWhatIsNoPlainAmount(t *testing.T) {
	t.Parallel()
	for _, in := range []string{"", ".", ".5", "5.", "-1", "+1", "1e3", "1,5", " 1", "0.0000001", "1000000000.000001", "99999999999999999999", "٣", "NaN"} {
		if got, err := part.ParseMoney(in); err == nil {
			t.Errorf("ParseMoney(%q) = %v, want an error", in, got)
		}
	}
}

// Sub-cent price breaks must not drift: 10 000 × 0.0123 = 123.00 to the last digit.
func TestMoneyTimesIsExact(t *testing.T) {
	t.Parallel()
	price, err := part.ParseMoney("0.0123")
	if err != nil {
		t.Fatal(err)
	}
	if got := price.Times(10_000); got != 123_000_000 || got.String() != "123.00" {
		t.Errorf("10 000 × 0.0123 = %v, want 123.00", got)
	}
}

func TestMoneyTimesHoldsInsteadOfWrapping(t *testing.T) {
	t.Parallel()
	if got := part.MaxMoney.Times(1_000_000); got != math.MaxInt64 {
		t.Errorf("MaxMoney × 1 000 000 = %d, want it held at %d", got, int64(math.MaxInt64))
	}
	if got := part.Money(math.MaxInt64).Times(2); got != math.MaxInt64 {
		t.Errorf("MaxInt64 × 2 = %d, want it held", got)
	}
}

func TestMoneyIsAStringOnTheWire(t *testing.T) {
	t.Parallel()
	data, err := json.Marshal(part.Break{MinQty: 10, UnitPrice: 2_340_000})
	if err != nil || string(data) != `{"min_qty":10,"unit_price":"2.34"}` {
		t.Errorf("got %s, %v", data, err)
	}
}

func TestMoneyRoundTrips(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		m := part.Money(rapid.Int64Range(0, int64(part.MaxMoney)).Draw(t, "millionths"))
		if back, err := part.ParseMoney(m.String()); err != nil || back != m {
			t.Fatalf("%d written as %q is read as %d, %v", m, m, back, err)
		}
	})
}

func FuzzParseMoney(f *testing.F) {
	for _, s := range []string{"0", "12.50", "0.0123", "1000000000", ".", "1.2.3", "-0", "00000000000000000001"} {
		f.Add(s)
	}
	f.Fuzz(func(t *testing.T, s string) {
		m, err := part.ParseMoney(s)
		if err != nil {
			return
		}
		if m < 0 || m > part.MaxMoney {
			t.Fatalf("%q gives %d, out of range", s, m)
		}
		if back, err := part.ParseMoney(m.String()); err != nil || back != m {
			t.Fatalf("%q gives %d, which reads back as %d, %v", s, m, back, err)
		}
	})
}

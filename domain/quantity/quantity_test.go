package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"testing"

	"pgregory.net/rapid"

	"coldrise/domain/problem"
)

// picofarads is the float64 of a whole number of pF: exact, no tolerance.
func picofarads(t *testing.T, pF int64) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(fmt.Sprintf("%de-12", pF), 64)
	if err != nil {
		t.Fatal(err)
	}
	return v
}

// Letters for the decimal sign are IEC 60062's; u47, 4u7 and 47u are the
// examples of check-values.md 1.9. MFD, MMF and the bare number below 1 in µF
// are common practice on old schematics and parts.
func TestParseReadsCapacitances(t *testing.T) {
	t.Parallel()
	comma, legacy, bare := Options{DecimalComma: true}, Options{Legacy: true}, Options{Bare: "pF"}
	for _, r := range []struct {
		text string
		pF   int64
		o    Options
	}{
		{"4n7", 4_700, Options{}}, {"4N7", 4_700, Options{}}, {"n47", 470, Options{}}, {"4n7F", 4_700, Options{}}, {"100n", 100_000, Options{}},
		{"4µ7", 4_700_000, Options{}}, {"4\u03bc7", 4_700_000, Options{}}, {"4u7", 4_700_000, Options{}}, {"4U7", 4_700_000, Options{}},
		{"4u7F", 4_700_000, Options{}}, {"4µ7 F", 4_700_000, Options{}}, {"u47", 470_000, Options{}}, {"0u47", 470_000, Options{}}, {"µ047", 47_000, Options{}},
		{"47p", 47, Options{}}, {"470P", 470, Options{}}, {"1F0", 1_000_000_000_000, Options{}},
		{"47u", 47_000_000, Options{}}, {"47µ", 47_000_000, Options{}}, {"47U", 47_000_000, Options{}}, {"47\u03bc", 47_000_000, Options{}},
		{"47uF", 47_000_000, Options{}}, {"47 uF", 47_000_000, Options{}}, {"47UF", 47_000_000, Options{}}, {"47uf", 47_000_000, Options{}},
		{"47 µF", 47_000_000, Options{}}, {"47\u00a0µF", 47_000_000, Options{}}, {"47\u202fµF", 47_000_000, Options{}}, {" 47µF ", 47_000_000, Options{}},
		{"47. µF", 47_000_000, Options{}}, {"47.0 µF", 47_000_000, Options{}}, {"047 µF", 47_000_000, Options{}},
		{"20 MFD", 20_000_000, Options{}}, {"20MFD", 20_000_000, Options{}}, {"20 mfd", 20_000_000, Options{}}, {"20 Mfd.", 20_000_000, Options{}},
		{"20 MF", 20_000_000, Options{}}, {".1 MFD", 100_000, Options{}}, {".05mfd", 50_000, Options{}},
		{"250 MMF", 250, Options{}}, {"250mmf", 250, Options{}}, {"250 MMFD", 250, Options{}}, {"250 mmfd.", 250, Options{}},
		{"250 µµF", 250, Options{}}, {"250\u03bc\u03bcF", 250, Options{}}, {"250uuF", 250, Options{}}, {"250 UUF", 250, Options{}}, {"250µµ", 250, Options{}},
		{".047", 47_000, Options{}}, {"0.047", 47_000, Options{}}, {"0.1", 100_000, Options{}}, {".0022", 2_200, Options{}}, {".00025", 250, Options{}},
		{".047µF", 47_000, Options{}}, {"0.047 uF", 47_000, Options{}},
		{"0,047 µF", 47_000, comma}, {",047", 47_000, comma}, {"4,7µF", 4_700_000, comma}, {"1,234 nF", 1_234, comma}, {"4n7", 4_700, comma},
		{"47 mF", 47_000_000, legacy}, {"47mf", 47_000_000, legacy}, {"47M", 47_000_000, legacy}, {"4M7", 4_700_000, legacy}, {"47 m", 47_000_000, legacy},
		{"47", 47, bare}, {"0.5 nF", 500, bare}, {"1000", 1_000, bare}, {"47", 47_000, Options{Bare: "nF"}}, {"47", 47_000_000, Options{Bare: "µF"}},
		{"470 pF", 470, Options{}}, {"470pf", 470, Options{}}, {"470PF", 470, Options{}}, {"100 nF", 100_000, Options{}}, {"100NF", 100_000, Options{}},
		{"1 F", 1_000_000_000_000, Options{}}, {"0.000047 F", 47_000_000, Options{}}, {"4.7E-05 F", 47_000_000, Options{}}, {"4.7e+1 µF", 47_000_000, Options{}},
		{"10000 µF", 10_000_000_000, Options{}}, {"123456789 pF", 123_456_789, Options{}},
	} {
		got, err := ParseWith(r.text, Farad, r.o)
		if want := picofarads(t, r.pF); err != nil || got != want {
			t.Errorf("%q: %g F, %v; want %g F", r.text, got, err, want)
		}
	}
}

func TestParseReadsFractionsOfAPicofarad(t *testing.T) {
	t.Parallel()
	for text, want := range map[string]float64{"p47": 0.47e-12, "4p7": 4.7e-12, "2.2pF": 2.2e-12, "0p5": 0.5e-12} {
		if got, err := Parse(text, Farad); err != nil || got != want {
			t.Errorf("%q: %g F, %v; want %g F", text, got, err, want)
		}
	}
}

func TestParseReadsResistancesAndVolts(t *testing.T) {
	t.Parallel()
	for _, r := range []struct {
		text string
		unit Unit
		want float64
	}{
		{"4k7", Ohm, 4700}, {"4K7", Ohm, 4700}, {"4k7Ω", Ohm, 4700}, {"4k7 ohms", Ohm, 4700}, {"1M", Ohm, 1e6}, {"1M5", Ohm, 1.5e6}, {"2G2", Ohm, 2.2e9},
		{"220R", Ohm, 220}, {"220", Ohm, 220}, {"4R7", Ohm, 4.7}, {"R47", Ohm, 0.47}, {"0R1", Ohm, 0.1}, {"0", Ohm, 0}, {"0R", Ohm, 0},
		{"10 k", Ohm, 1e4}, {"10 kΩ", Ohm, 1e4}, {"10k\u2126", Ohm, 1e4}, {"10kohm", Ohm, 1e4}, {"8.2K", Ohm, 8200}, {"1 meg", Ohm, 1e6}, {"2.2 Megohms", Ohm, 2.2e6},
		{"4.7 Ω", Ohm, 4.7}, {"150 ohms", Ohm, 150}, {"4.7E+03", Ohm, 4700},
		{"450", Volt, 450}, {"450V", Volt, 450}, {"450 V", Volt, 450}, {"450 VDC", Volt, 450}, {"450 V DC", Volt, 450}, {"450 WV", Volt, 450}, {"450WVDC", Volt, 450},
		{"6V3", Volt, 6.3}, {"6.3 V", Volt, 6.3}, {"1.5 kV", Volt, 1500}, {"1k5", Volt, 1500}, {"1k5V", Volt, 1500}, {"100 mV", Volt, 0.1}, {"450 volts", Volt, 450},
	} {
		if got, err := Parse(r.text, r.unit); err != nil || got != r.want {
			t.Errorf("%q: %g %s, %v; want %g", r.text, got, r.unit, err, r.want)
		}
	}
}

func TestParseRefusesAndSaysWhy(t *testing.T) {
	t.Parallel()
	comma := Options{DecimalComma: true}
	for _, r := range []struct {
		text string
		unit Unit
		o    Options
		says string
	}{
		{"", Farad, Options{}, "must not be empty"},
		{" \u00a0", Farad, Options{}, "must not be empty"},
		{"µF", Farad, Options{}, "such as 47 µF"},
		{".", Farad, Options{}, "such as 47 µF"},
		{"-47 µF", Farad, Options{}, "must not be negative"},
		{"−47 µF", Farad, Options{}, "must not be negative"},
		{"0 µF", Farad, Options{}, "must be more than 0"},
		{"0u0", Farad, Options{}, "must be more than 0"},
		{"1E-400 F", Farad, Options{}, "must be more than 0"},
		{"1E+400 F", Farad, Options{}, "is too large"},
		{strings.Repeat("9", 60) + "F", Farad, Options{}, ""}, // 1e60 F: finite, and the caller's to bound
		{strings.Repeat("9", 64) + "F", Farad, Options{}, "at most 64 characters"},
		{"47\xff", Farad, Options{}, "must be text"},
		{"47 mF", Farad, Options{}, "declare legacy units"},
		{"47mf", Farad, Options{}, "declare legacy units"},
		{"47M", Farad, Options{}, "bare M"},
		{"4M7", Farad, Options{}, "bare M"},
		{"47", Farad, Options{}, "in pF or in µF"},
		{"473", Farad, Options{}, "in pF or in µF"},
		{"1", Farad, Options{}, "in pF or in µF"},
		{"10K", Farad, Options{}, "tolerance of 10 %"},
		{"1,234 µF", Farad, Options{}, "declare the decimal comma"},
		{"0,047 µF", Farad, Options{}, "declare the decimal comma"},
		{"1.234 µF", Farad, comma, "where the decimal comma is declared"},
		{"1.234,5 µF", Farad, comma, "where the decimal comma is declared"},
		{"1 234 µF", Farad, Options{}, "such as 47 µF"},
		{"1'234 µF", Farad, Options{}, "where its unit should be"},
		{"1.2.3 µF", Farad, Options{}, "such as 47 µF"},
		{"47 V", Farad, Options{}, `has "V" where its unit should be`},
		{"4k7", Farad, Options{}, "thousands of pF"},
		{"47 µF 20 %", Farad, Options{}, "where its unit should be"},
		{"4n7V", Farad, Options{}, `has "V"`},
		{"NaN", Farad, Options{}, "such as 47 µF"},
		{"Infinity", Ohm, Options{}, "such as 4k7"},
		{"٤٧ µF", Farad, Options{}, "such as 47 µF"}, // Arabic-Indic digits
		{"4E7", Ohm, Options{}, "write the exponent with its sign"},
		{"4.7e3", Ohm, Options{}, "write the exponent with its sign"},
		{"10m", Ohm, Options{}, "milliohms or megohms"},
		{"10m5", Ohm, Options{}, "milliohms or megohms"},
		{"4.7 µF", Ohm, Options{}, "where its unit should be"},
		{"275 VAC", Volt, Options{}, "alternating"},
		{"275V~", Volt, Options{}, "alternating"},
		{"0 V", Volt, Options{}, "must be more than 0"},
		{"1M", Volt, Options{}, "M where volts are expected"},
	} {
		got, err := ParseWith(r.text, r.unit, r.o)
		if r.says == "" {
			if err != nil {
				t.Errorf("%q: %v", r.text, err)
			}
			continue
		}
		p := problem.As(err)
		if p == nil || p.Code != problem.Invalid || len(p.Faults) != 1 || !strings.Contains(p.Faults[0].Message, r.says) {
			t.Errorf("%q: %g, %v; want a fault that says %q", r.text, got, err, r.says)
			continue
		}
		if p.Faults[0].Unit != string(r.unit) || r.text != "" && p.Faults[0].Value == "" {
			t.Errorf("%q: %+v", r.text, p.Faults[0])
		}
	}
}

func TestPrint(t *testing.T) {
	t.Parallel()
	for _, r := range []struct {
		v           float64
		unit        Unit
		digits      int
		plain, iec6 string
	}{
		{47e-6, Farad, 0, "47 µF", "47µ"}, {4.7e-6, Farad, 0, "4.7 µF", "4µ7"}, {0.47e-6, Farad, 0, "470 nF", "470n"}, {4.7e-9, Farad, 0, "4.7 nF", "4n7"},
		{100e-12, Farad, 0, "100 pF", "100p"}, {0.47e-12, Farad, 0, "0.47 pF", "p47"}, {0.047e-12, Farad, 0, "0.047 pF", "p047"},
		{0.01, Farad, 0, "10000 µF", "10000µ"}, {1, Farad, 0, "1000000 µF", "1000000µ"},
		{4700, Ohm, 0, "4.7 kΩ", "4k7"}, {220, Ohm, 0, "220 Ω", "220R"}, {0.47, Ohm, 0, "0.47 Ω", "R47"}, {1e6, Ohm, 0, "1 MΩ", "1M"}, {2.2e10, Ohm, 0, "22 GΩ", "22G"}, {0, Ohm, 0, "0 Ω", "0R"},
		{6.3, Volt, 0, "6.3 V", "6V3"}, {450, Volt, 0, "450 V", "450V"}, {1500, Volt, 0, "1.5 kV", "1k5"},
		{494.97, Volt, 3, "495 V", ""}, {999.96, Volt, 3, "1 kV", ""}, {1.0 / 3, Ohm, 2, "0.33 Ω", ""}, {31.83e-6, Farad, 2, "32 µF", ""},
		{math.NaN(), Volt, 0, "?", "?"}, {math.Inf(1), Volt, 0, "?", "?"}, {-1, Ohm, 0, "?", "?"}, {1, "A", 0, "?", "?"},
	} {
		if got := Print(r.v, r.unit, r.digits); got != r.plain {
			t.Errorf("%g %s to %d digits: %q, want %q", r.v, r.unit, r.digits, got, r.plain)
		}
		if got := RKM(r.v, r.unit); r.iec6 != "" && got != r.iec6 {
			t.Errorf("%g %s: %q, want %q", r.v, r.unit, got, r.iec6)
		}
	}
}

// Every value that is printed whole is read back as the same float64.
func TestParseIsTheInverseOfPrint(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		unit := rapid.SampledFrom([]Unit{Farad, Ohm, Volt}).Draw(t, "unit")
		v := math.Pow(10, rapid.Float64Range(-15, 12).Draw(t, "decades"))
		if rapid.Bool().Draw(t, "round") {
			v, _ = E12.Nearest(v)
		}
		for _, text := range []string{Print(v, unit, 0), RKM(v, unit)} {
			if got, err := Parse(text, unit); err != nil || got != v {
				t.Fatalf("%v %s prints as %q, which reads %v: %v", v, unit, text, got, err)
			}
		}
	})
}

func FuzzParse(f *testing.F) {
	for _, s := range []string{"4n7", "4µ7", "47 µF", ".047", "20 MFD.", "250 µµF", "4k7", "6V3", "4.7E-05", "1,234", "4E7", "\xff", "9e+999", "0R", "-1"} {
		for mode := range uint8(12) {
			f.Add(s, mode)
		}
	}
	f.Fuzz(func(t *testing.T, s string, mode uint8) {
		unit := []Unit{Farad, Ohm, Volt}[mode%3]
		v, err := ParseWith(s, unit, Options{DecimalComma: mode&4 != 0, Legacy: mode&8 != 0})
		if err != nil {
			if p := problem.As(err); p.Code != problem.Invalid || len(p.Faults) != 1 || v != 0 {
				t.Fatalf("%q: %g, %+v", s, v, p)
			}
			return
		}
		if math.IsNaN(v) || math.IsInf(v, 0) || v < 0 || v == 0 && unit != Ohm {
			t.Fatalf("%q is %g", s, v)
		}
		if v > 1e-15 && v < 1e15 {
			if again, err := Parse(Print(v, unit, 0), unit); err != nil || again != v {
				t.Fatalf("%q is %v, prints as %q, reads %v: %v", s, v, Print(v, unit, 0), again, err)
			}
		}
	})
}

package quantity

import (
	"math"
	"strings"
	"testing"

	"github.com/google/go-cmp/cmp"
	"pgregory.net/rapid"

	"coldrise/domain/problem"
)

// What suppliers' lists write beside capacitances. Spellings are common
// practice; an inch is 25.4 mm by the agreement of 1959.
func TestReaderReadsWhatListsWrite(t *testing.T) {
	t.Parallel()
	for _, r := range []struct {
		text     string
		unit     Unit
		in, bare string
		want     float64
	}{
		{"240 mA", Ampere, "mA", "", 240}, {"240mA", Ampere, "mA", "", 240}, {"1.2 A", Ampere, "mA", "", 1200}, {"1.2", Ampere, "mA", "A", 1200},
		{"240", Ampere, "mA", "mA", 240}, {"850 mArms", Ampere, "mA", "", 850}, {"0.01 mA", Ampere, "µA", "", 10}, {"130 uA", Ampere, "µA", "", 130},
		{"0", Ampere, "µA", "µA", 0}, {"130 \u03bcA", Ampere, "µA", "", 130}, {"1200 mA rms", Ampere, "mA", "", 1200},
		{"275 VAC", VoltAC, "", "", 275}, {"275V~", VoltAC, "", "", 275}, {"275", VoltAC, "", "", 275}, {"305 V AC", VoltAC, "", "", 305},
		{"450 WV", Volt, "", "", 450}, {"450 DCWV", Volt, "", "", 450}, {"0.45 kV", Volt, "", "", 450},
		{"120 Hz", Hertz, "", "", 120}, {"100kHz", Hertz, "", "", 100e3}, {"120", Hertz, "", "", 120}, {"10", Hertz, "", "kHz", 10e3},
		{"25 mm", Metre, "mm", "", 25}, {"2.5 cm", Metre, "mm", "", 25}, {"25", Metre, "mm", "mm", 25}, {"1 in", Metre, "mm", "", 25.4},
		{"1.375\"", Metre, "mm", "", 34.925}, {"2", Metre, "mm", "in", 50.8},
		{"5000 h", Hour, "", "", 5000}, {"5000h", Hour, "", "", 5000}, {"5 kh", Hour, "", "", 5000}, {"5000 hrs", Hour, "", "", 5000}, {"5000", Hour, "", "", 5000},
		{"3 days", Day, "", "", 3}, {"2 weeks", Day, "", "", 14}, {"3 Tage", Day, "", "", 3}, {"4", Day, "", "weeks", 28}, {"0", Day, "", "", 0},
		{"105 °C", Celsius, "", "", 105}, {"105C", Celsius, "", "", 105}, {"-40", Celsius, "", "", -40}, {"−40 °C", Celsius, "", "", -40},
		{"+85 ℃", Celsius, "", "", 85}, {"0", Celsius, "", "", 0}, {"5 K", Kelvin, "", "", 5}, {"20 %", Percent, "", "", 20}, {"20", Percent, "", "", 20},
		{"45 mΩ", Ohm, "", "", 0.045}, {"45", Ohm, "", "mΩ", 0.045}, {"0.15", One, "", "", 0.15}, {"15 %", One, "", "", 0.15}, {"25 pcs", One, "", "", 25},
		{"4n7", Farad, "µF", "", 0.0047}, {"4.7", Farad, "µF", "µF", 4.7}, {"47 µF", Farad, "µF", "", 47}, {"22", Farad, "µF", "nF", 0.022},
	} {
		got, err := NewReader(r.unit, r.in, Options{Bare: r.bare}).Read(r.text)
		if err != nil || got != r.want {
			t.Errorf("%q in %q, bare %q: %v, %v; want %v", r.text, r.in, r.bare, got, err, r.want)
		}
	}
}

func TestReaderRefusesAndSaysWhy(t *testing.T) {
	t.Parallel()
	for _, r := range []struct {
		text string
		unit Unit
		o    Options
		says string
	}{
		{"1.2", Ampere, Options{}, "declare what the column is in"}, {"25", Metre, Options{}, "declare what the column is in"}, {"45", Ohm, Options{AskBare: true}, "declare what the column is in"},
		{"240 MA", Ampere, Options{}, "write mA"}, {"221 °F", Celsius, Options{}, "in Fahrenheit"}, {"630 VDC", VoltAC, Options{}, "is a direct voltage"},
		{"-5 h", Hour, Options{}, "must not be negative"}, {"5000 h at 105 °C", Hour, Options{}, "where its unit should be"}, {">1000", One, Options{}, "such as 25"},
		{"1,200", Ampere, Options{Bare: "mA"}, "declare the decimal comma"},
		{"1.234", One, Options{DoubtPoint: true}, "declare which"}, {"12.500 mm", Metre, Options{DoubtPoint: true}, "declare which"},
		{"1.234", One, Options{DecimalComma: true}, "where the decimal comma is declared"},
		{"12.34", One, Options{DecimalComma: true, Grouping: "."}, `"." without three digits`},
		{"1,23", One, Options{Grouping: ","}, `"," without three digits`}, {"1234,567", One, Options{Grouping: ","}, "declared to part off thousands"},
		{"1 23", One, Options{Grouping: " "}, "declared to part off thousands"},
	} {
		got, err := ParseWith(r.text, r.unit, r.o)
		if p := problem.As(err); err == nil || p.Code != problem.Invalid || !strings.Contains(p.Faults[0].Message, r.says) {
			t.Errorf("%q: %v, %v; want a fault that says %q", r.text, got, err, r.says)
		}
	}
}

// One number as en-US, de-DE, fr-FR and de-CH write it, and what is no doubt
// where nothing is declared.
func TestDeclaredLocales(t *testing.T) {
	t.Parallel()
	us, de, fr := Options{Grouping: ","}, Options{DecimalComma: true, Grouping: "."}, Options{DecimalComma: true, Grouping: " "}
	for _, r := range []struct {
		text string
		o    Options
		want float64
	}{
		{"1,234.5", us, 1234.5}, {"1.234,5", de, 1234.5}, {"1 234,5", fr, 1234.5}, {"1\u00a0234,5", fr, 1234.5}, {"1\u202f234,5", fr, 1234.5},
		{"1'234.5", Options{Grouping: "'"}, 1234.5}, {"1’234.5", Options{Grouping: "'"}, 1234.5}, {"12,345,678", us, 12345678}, {"1.234.567", de, 1234567},
		{"1234.5", us, 1234.5}, {"0.125", us, 0.125}, {"1.234", us, 1.234}, {"0,047", de, 0.047}, {"1 234 pcs", fr, 1234}, {"12 pcs", fr, 12},
		{"0.125", Options{DoubtPoint: true}, 0.125}, {"1.25", Options{DoubtPoint: true}, 1.25}, {"1234.567", Options{DoubtPoint: true}, 1234.567}, {"1.2345", Options{DoubtPoint: true}, 1.2345},
	} {
		if got, err := ParseWith(r.text, One, r.o); err != nil || got != r.want {
			t.Errorf("%q: %v, %v; want %v", r.text, got, err, r.want)
		}
	}
	for text, want := range map[string]string{"1.234,50": "1234.50", "4,63": "4.63", ",5": "0.5", "12": "12", "12,": "12"} {
		if got, err := ParseDecimal(text, de); err != nil || got != want {
			t.Errorf("%q: %q, %v; want %q", text, got, err, want)
		}
	}
	for _, bad := range []string{"", "4.63", "4,63 EUR", "1,2,3", "4,63E+02", "€4", "-1"} {
		if got, err := ParseDecimal(bad, de); err == nil {
			t.Errorf("%q: %q", bad, got)
		}
	}
}

// Letters by IEC 60062 (see TestToleranceLetters); the other spellings are
// those of makers' sheets, common practice.
func TestParseTolerance(t *testing.T) {
	t.Parallel()
	for text, want := range map[string][2]float64{
		"M": {20, 20}, "T": {10, 50}, "K": {10, 10}, "±20 %": {20, 20}, "±20%": {20, 20}, "+/-20%": {20, 20}, "+-10": {10, 10}, "20%": {20, 20}, "20": {20, 20},
		"-10/+50 %": {10, 50}, "-10%/+50%": {10, 50}, "−10 % +50 %": {10, 50}, "-10…+50%": {10, 50}, "+50/-10%": {10, 50}, "-10 +50": {10, 50}, "-20/+80": {20, 80},
		"±2.5 %": {2.5, 2.5}, "M (±20 %)": {20, 20}, "±10% (K)": {10, 10}, "-0/+100%": {0, 100},
	} {
		got, err := ParseTolerance(text, Options{})
		if err != nil || got.MinusPct != want[0] || got.PlusPct != want[1] {
			t.Errorf("%q: %+v, %v; want %v", text, got, err, want)
		}
	}
	if got, err := ParseTolerance("±2,5 %", Options{DecimalComma: true}); err != nil || got.PlusPct != 2.5 {
		t.Errorf("a declared comma: %+v, %v", got, err)
	}
	for _, bad := range []string{"", "X", "+20%", "-10%", "+10/+50", "-10/-50", "M (±10 %)", "±2,5 %", "20 V", "±", "10/50", "±1e9", "1000000%", "A-", "+", "+-", "()"} {
		if got, err := ParseTolerance(bad, Options{}); problem.CodeOf(err) != problem.Invalid {
			t.Errorf("%q: %+v, %v", bad, got, err)
		}
	}
}

func TestReadDimensions(t *testing.T) {
	t.Parallel()
	mm, bare := NewReader(Metre, "mm", Options{Bare: "mm"}), NewReader(Metre, "mm", Options{})
	inches, comma := NewReader(Metre, "mm", Options{Bare: "in"}), NewReader(Metre, "mm", Options{Bare: "mm", DecimalComma: true})
	for _, r := range []struct {
		text string
		by   *Reader
		want []float64
	}{
		{"25x50", mm, []float64{25, 50}}, {"Ø25 × 50 mm", bare, []float64{25, 50}}, {"25 X 50", mm, []float64{25, 50}}, {"25*50mm", bare, []float64{25, 50}},
		{"D25xL50", mm, []float64{25, 50}}, {"ø 12.5 x 30 mm", bare, []float64{12.5, 30}}, {"26.5 x 8.5 x 17", mm, []float64{26.5, 8.5, 17}}, {"12,5x30", comma, []float64{12.5, 30}},
		{"2.5 x 5 cm", bare, []float64{25, 50}}, {"25mm x 5cm", bare, []float64{25, 50}}, {"1 x 3 in", bare, []float64{25.4, 76.2}}, {"1-3/8 x 3", inches, []float64{34.925, 76.2}},
		{"1 3/8\" x 2-1/2\"", bare, []float64{34.925, 63.5}}, {"3/4 x 2", inches, []float64{19.05, 50.8}}, {"18", mm, []float64{18}},
	} {
		got, err := r.by.ReadDimensions(r.text)
		if diff := cmp.Diff(r.want, got); err != nil || diff != "" {
			t.Errorf("%q: %v\n%s", r.text, err, diff)
		}
	}
	for _, bad := range []string{"", "x", "25x50", "25 x 0 mm", "1-3/8 x 3", "25x50x3x4 mm", "25 V x 50 mm", "-25 x 50 mm", "3/0 in", "1/2 x"} {
		if got, err := bare.ReadDimensions(bad); problem.CodeOf(err) != problem.Invalid {
			t.Errorf("%q: %v, %v", bad, got, err)
		}
	}
}

func TestReadSections(t *testing.T) {
	t.Parallel()
	uf := NewReader(Farad, "µF", Options{})
	for text, want := range map[string][]float64{
		"32+32 µF": {32, 32}, "50/50µF": {50, 50}, "32 + 16 + 8 uF": {32, 16, 8}, "40µF + 20µF": {40, 20}, "20+20+20 MFD": {20, 20, 20}, "47 µF": {47}, "4µ7+10µ": {4.7, 10},
	} {
		got, err := uf.ReadSections(text)
		if diff := cmp.Diff(want, got); err != nil || diff != "" {
			t.Errorf("%q: %v\n%s", text, err, diff)
		}
	}
	for _, bad := range []string{"", "+", "32+32", "32+ µF V", "32-32 µF", "32 µF + 0 µF"} {
		if got, err := uf.ReadSections(bad); problem.CodeOf(err) != problem.Invalid {
			t.Errorf("%q: %v, %v", bad, got, err)
		}
	}
}

// 40/085/21 is a climatic category, IEC 60068-1, FROM MEMORY; the rest is
// common practice.
func TestParseRange(t *testing.T) {
	t.Parallel()
	none := math.NaN()
	for text, want := range map[string][2]float64{
		"105°C": {none, 105}, "105": {none, 105}, "85C": {none, 85}, "+105 °C": {none, 105}, "-40/+105": {-40, 105}, "-40/+105 °C": {-40, 105}, "-40°C/+105°C": {-40, 105},
		"-40...+105 °C": {-40, 105}, "-40…105": {-40, 105}, "-55 to 85 °C": {-55, 85}, "−25 ~ +85": {-25, 85}, "40/085/21": {-40, 85}, "55/105/56": {-55, 105}, "-40 bis +85 °C": {-40, 85},
		"-25 - +85": {-25, 85}, "0/70": {0, 70},
	} {
		got, err := ParseRange(text, Options{})
		low := none
		if got.LowC != nil {
			low = *got.LowC
		}
		if err != nil || got.HighC != want[1] || low != want[0] && !(math.IsNaN(low) && math.IsNaN(want[0])) {
			t.Errorf("%q: %v to %v, %v; want %v", text, low, got.HighC, err, want)
		}
	}
	for _, bad := range []string{"", "hot", "+105/-40", "85 (105 core)", "221 °F", "40/85/21/7", "-40/", "1,5/85"} {
		if got, err := ParseRange(bad, Options{}); problem.CodeOf(err) != problem.Invalid {
			t.Errorf("%q: %+v, %v", bad, got, err)
		}
	}
}

// A number is read the same in every locale it may be written in.
func TestLocalesAgree(t *testing.T) {
	t.Parallel()
	rapid.Check(t, func(t *rapid.T) {
		whole, cents := rapid.IntRange(0, 999_999_999).Draw(t, "whole"), rapid.IntRange(0, 99).Draw(t, "cents")
		want := float64(whole) + float64(cents)/100
		digits := []byte{}
		for i, text := 0, []byte(strings.TrimLeft(padded(whole, 9), "0")); i < len(text); i++ {
			if i > 0 && (len(text)-i)%3 == 0 {
				digits = append(digits, '|')
			}
			digits = append(digits, text[i])
		}
		for _, l := range []struct {
			group, sign string
			o           Options
		}{{",", ".", Options{Grouping: ","}}, {".", ",", Options{Grouping: ".", DecimalComma: true}}, {"\u202f", ",", Options{Grouping: " ", DecimalComma: true}}} {
			text := strings.ReplaceAll(string(digits), "|", l.group) + l.sign + padded(cents, 2)
			if got, err := ParseWith(text, One, l.o); err != nil || math.Abs(got-want) > 1e-6 {
				t.Fatalf("%q: %v, %v; want %v", text, got, err, want)
			}
		}
	})
}

func padded(n, width int) string {
	text := strings.Repeat("0", width)
	for i := width - 1; i >= 0; i, n = i-1, n/10 {
		text = text[:i] + string(rune('0'+n%10)) + text[i+1:]
	}
	return text
}

func FuzzCompound(f *testing.F) {
	for _, s := range []string{"±20 %", "-10/+50 %", "M (±20%)", "Ø25 × 50 mm", "1-3/8 x 3 in", "32+32 µF", "-40/+105", "40/085/21", "1.234,5", "\xff", "x", "+-"} {
		for mode := range uint8(4) {
			f.Add(s, mode)
		}
	}
	f.Fuzz(func(t *testing.T, s string, mode uint8) {
		o := Options{DecimalComma: mode&1 != 0}
		if mode&2 != 0 {
			o.Grouping = map[bool]string{true: ".", false: ","}[o.DecimalComma]
		}
		finite := func(what string, err error, least float64, values ...float64) {
			if err != nil && problem.CodeOf(err) != problem.Invalid {
				t.Fatalf("%s %q: %v", what, s, err)
			}
			for _, v := range values {
				if math.IsNaN(v) || math.IsInf(v, 0) || v < least {
					t.Fatalf("%s %q: %v", what, s, v)
				}
			}
		}
		tol, err := ParseTolerance(s, o)
		finite("tolerance", err, 0, tol.MinusPct, tol.PlusPct)
		r, err := ParseRange(s, o)
		finite("range", err, math.Inf(-1), r.HighC)
		for _, unit := range []Unit{Metre, Farad, Ampere, Celsius, One} {
			least := 0.0
			if unit == Celsius {
				least = math.Inf(-1)
			}
			v, err := ParseWith(s, unit, o)
			finite(string(unit), err, least, v)
		}
		sizes, err := NewReader(Metre, "mm", Options{DecimalComma: o.DecimalComma, Grouping: o.Grouping, Bare: "in"}).ReadDimensions(s)
		finite("size", err, 0, sizes...)
		sections, err := NewReader(Farad, "µF", o).ReadSections(s)
		finite("sections", err, 0, sections...)
		if text, err := ParseDecimal(s, o); err == nil && strings.Trim(text, "0123456789.") != "" {
			t.Fatalf("%q has the digits %q", s, text)
		}
	})
}

func BenchmarkRead(b *testing.B) {
	for _, text := range []string{"4.7", "450", "47 µF", "4n7", "240 mA"} {
		unit, o := Farad, Options{Bare: "µF"}
		if strings.HasSuffix(text, "mA") {
			unit, o = Ampere, Options{}
		}
		b.Run(text, func(b *testing.B) {
			r := NewReader(unit, map[Unit]string{Farad: "µF", Ampere: "mA"}[unit], o)
			for b.Loop() {
				if _, err := r.Read(text); err != nil {
					b.Fatal(err)
				}
			}
		})
	}
}

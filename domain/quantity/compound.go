package quantity

import (
	"regexp"
	"strconv"
	"strings"
)

// several reads values parted by one of the signs of seps: 25 × 50 mm, 32+32 µF.
// A value without a unit is in the unit of the last.
func (r *Reader) several(s, seps string) ([]float64, string) {
	pieces := strings.FieldsFunc(s, func(c rune) bool { return strings.ContainsRune(seps, c) })
	if len(pieces) == 0 {
		return nil, "must be " + r.kind.expected
	}
	_, last, _ := scanNumber(strings.TrimSpace(pieces[len(pieces)-1]), r.o)
	values := make([]float64, len(pieces))
	for i, piece := range pieces {
		piece = strings.TrimSpace(piece)
		if n, rest, trouble := scanNumber(piece, r.o); trouble == "" && rest == "" && (n.whole != "" || n.fraction != "") {
			piece += " " + last
		}
		v, trouble := r.read(piece)
		if trouble != "" {
			return nil, trouble
		}
		values[i] = v
	}
	return values, ""
}

// sections are parted by + or / on a can: 32+32 µF, 50/50.
const sectionSigns = "+/&"

// ReadSections reads the sections of a can, such as 32+32+16 µF: one value or
// more, each as Read has it. The error is as Read's.
func (r *Reader) ReadSections(s string) ([]float64, error) {
	text, trouble := clean(s)
	if trouble == "" {
		var values []float64
		if values, trouble = r.several(text, sectionSigns); trouble == "" {
			for _, v := range values {
				if v == 0 && !r.kind.zero {
					trouble = "must be more than 0"
				}
			}
			if trouble == "" {
				return values, nil
			}
		}
	}
	return nil, fault(s, trouble, r.unit, r.kind.noun)
}

var (
	// Letters ahead of a dimension say which it is: Ø25, D25, L50. Common practice.
	dimensionLetters = regexp.MustCompile(`^(?:[ØøΦφ⌀]|[DdLlHhWwBbTt](?:ia\.?)?[ =:]?)\s*([0-9.,])`)
	// Inches are written with common fractions: 1-3/8, 1 3/8, 3/4.
	inchFraction = regexp.MustCompile(`^(?:([0-9]{1,2})[- ])?([0-9]{1,2})/([0-9]{1,2}) ?(|in\.?|inch|inches|"|″|”)$`)
)

// ReadDimensions reads the dimensions of a body, such as 25x50, Ø25 × 50 mm or
// 26.5 × 8.5 × 17: one to three lengths, more than 0, in the order written.
// Common fractions are taken for inches. It panics where the reader is not of
// lengths. The error is as Read's.
func (r *Reader) ReadDimensions(s string) ([]float64, error) {
	if r.unit != Metre {
		panic("quantity: dimensions are lengths")
	}
	text, trouble := clean(s)
	if trouble == "" {
		var values []float64
		if values, trouble = r.dimensions(text); trouble == "" {
			return values, nil
		}
	}
	return nil, fault(s, trouble, r.unit, "size")
}

func (r *Reader) dimensions(s string) ([]float64, string) {
	pieces := strings.FieldsFunc(s, func(c rune) bool { return strings.ContainsRune("xX×*", c) })
	if len(pieces) == 0 || len(pieces) > 3 {
		return nil, "must be two or three lengths, such as 25 × 50 mm"
	}
	for i, piece := range pieces {
		piece = strings.TrimSpace(piece)
		pieces[i] = dimensionLetters.ReplaceAllString(piece, "$1")
	}
	if v, ok, trouble := r.inches(pieces); ok {
		return v, trouble
	}
	values, trouble := r.several(strings.Join(pieces, "×"), "×")
	for _, v := range values {
		if v == 0 {
			return nil, "must be more than 0"
		}
	}
	return values, trouble
}

// inches reads dimensions of which one at least has a common fraction; false
// where none has.
func (r *Reader) inches(pieces []string) ([]float64, bool, string) {
	found := false
	values := make([]float64, len(pieces))
	for i, piece := range pieces {
		m := inchFraction.FindStringSubmatch(piece)
		if m == nil {
			continue
		}
		found = true
		whole, _ := strconv.Atoi("0" + m[1]) // at most two digits each
		above, _ := strconv.Atoi(m[2])
		below, _ := strconv.Atoi(m[3])
		if below == 0 || m[4] == "" && r.o.Bare != "in" {
			return nil, true, "has a fraction, and only inches have those; declare inches, or write millimetres"
		}
		text := strconv.FormatFloat(float64(whole)+float64(above)/float64(below), 'f', 12, 64)
		v, trouble := (&Reader{kind: r.kind, unit: r.unit, in: r.in, bare: inch, known: true}).read(text)
		if trouble != "" {
			return nil, true, trouble
		}
		values[i] = v
	}
	if !found {
		return nil, false, ""
	}
	for i, piece := range pieces {
		if values[i] != 0 {
			continue
		}
		if _, rest, _ := scanNumber(piece, r.o); rest == "" {
			piece += " in"
		}
		v, trouble := r.read(piece)
		if trouble != "" || v == 0 {
			return nil, true, "must be two or three lengths, such as 25 × 50 mm"
		}
		values[i] = v
	}
	return values, true, ""
}

// The signs a tolerance is written with, brought to one spelling.
var toleranceSpelling = strings.NewReplacer("−", "-", "–", "-", "+/-", "±", "+-", "±", "-/+", "±", "%", " ", "...", " ", "…", " ", "/", " ", ";", " ")

// bracketed is a second spelling after the first: ±20 % (M), M (±20 %).
var bracketed = regexp.MustCompile(`^(.*?) *[(\[](.*)[)\]]$`)

// ParseTolerance reads a tolerance: a letter of IEC 60062, ±20 %, 20 %,
// -10/+50 %, or a letter and its meaning in brackets, which must agree. Both
// ends are below 1000 %. The error is a *problem.Error as ParseWith's.
func ParseTolerance(s string, o Options) (Tolerance, error) {
	text, trouble := clean(s)
	if trouble == "" {
		var t Tolerance
		if t, trouble = tolerance(text, o); trouble == "" {
			return t, nil
		}
	}
	return Tolerance{}, fault(s, trouble, Percent, "tolerance")
}

const toleranceExpected = "must be a tolerance, such as ±20 %, -10/+50 %, or a letter of IEC 60062 such as M"

func tolerance(s string, o Options) (Tolerance, string) {
	if m := bracketed.FindStringSubmatch(s); m != nil && m[1] != "" {
		a, trouble := tolerance(m[1], o)
		if trouble != "" {
			return a, trouble
		}
		b, trouble := tolerance(m[2], o)
		if trouble == "" && (a.MinusPct != b.MinusPct || a.PlusPct != b.PlusPct) {
			trouble = "has a letter and a tolerance that contradict each other"
		}
		return a, trouble
	}
	if t, ok := ToleranceOf(s); ok {
		return t, ""
	}
	fields := strings.Fields(toleranceSpelling.Replace(s))
	switch text := strings.Join(fields, ""); strings.Count(text, "+") + strings.Count(text, "-") {
	case 0:
		v, trouble := toleranceEnd(strings.TrimPrefix(text, "±"), o)
		return Tolerance{MinusPct: v, PlusPct: v, Source: "as written"}, trouble
	case 2:
		return twoSided(text, o)
	}
	return Tolerance{}, toleranceExpected
}

// twoSided reads -10+50 and +50-10.
func twoSided(text string, o Options) (Tolerance, string) {
	second := 1 + strings.IndexAny(text[1:], "+-")
	if !strings.ContainsRune("+-", rune(text[0])) || text[0] == text[second] {
		return Tolerance{}, toleranceExpected
	}
	a, trouble := toleranceEnd(text[1:second], o)
	if trouble != "" {
		return Tolerance{}, trouble
	}
	b, trouble := toleranceEnd(text[second+1:], o)
	if text[0] == '+' {
		a, b = b, a
	}
	return Tolerance{MinusPct: a, PlusPct: b, Source: "as written"}, trouble
}

func toleranceEnd(s string, o Options) (float64, string) {
	n, rest, trouble := scanNumber(s, o)
	if trouble != "" {
		return 0, trouble
	}
	if rest != "" || n.whole == "" && n.fraction == "" || len(n.whole) > 3 || n.exponent != 0 {
		return 0, toleranceExpected
	}
	return decimal(n.whole, n.fraction, 0)
}

var (
	// 40/085/21 is a climatic category: the cold end without its sign, the hot
	// end, days of damp heat. IEC 60068-1, from memory.
	climatic = regexp.MustCompile(`^([0-9]{2})/([0-9]{3})/([0-9]{2})$`)
	// -40/+105, -40 … 105 °C, -55 to +85 °C, -25 ~ 105.
	span = regexp.MustCompile(`^([-−+]?[0-9.,]+ ?(?:°? ?C)?) ?(?:/|…|~|to|bis|à|[-–](?: ?\+)?|\+) ?([-−+]?[0-9.,]+ ?(?:°? ?C)?)$`)
)

var dots = strings.NewReplacer("...", "…", "..", "…")

// Range is the temperatures a part is made for, °C. LowC is nil where only the
// hot end is given.
type Range struct {
	LowC  *float64
	HighC float64
}

// ParseRange reads a temperature class: 105 °C, -40/+105, -55 to 85 °C, or a
// climatic category such as 40/085/21. The error is as ParseWith's.
func ParseRange(s string, o Options) (Range, error) {
	text, trouble := clean(s)
	if trouble == "" {
		var t Range
		if t, trouble = temperatures(text, o); trouble == "" {
			return t, nil
		}
	}
	return Range{}, fault(s, trouble, Celsius, "temperature class")
}

func temperatures(s string, o Options) (Range, string) {
	r := NewReader(Celsius, "", o)
	if m := climatic.FindStringSubmatch(s); m != nil {
		low, _ := decimal(m[1], "", 0)
		high, _ := decimal(m[2], "", 0)
		low = -low
		return Range{LowC: &low, HighC: high}, ""
	}
	m := span.FindStringSubmatch(dots.Replace(s))
	if m == nil {
		v, trouble := r.read(s)
		if trouble != "" {
			trouble = "must be a temperature class, such as 105 °C or -40/+105 °C"
		}
		return Range{HighC: v}, trouble
	}
	low, trouble := r.read(strings.TrimSpace(m[1]))
	if trouble != "" {
		return Range{}, trouble
	}
	high, trouble := r.read(strings.TrimSpace(m[2]))
	if trouble == "" && low >= high {
		trouble = "must have its cold end below its hot end"
	}
	return Range{LowC: &low, HighC: high}, trouble
}

func sign(o Options) string {
	if o.DecimalComma {
		return ","
	}
	return "."
}

// ParseDecimal gives the decimal digits of a plain number, with a point and
// without signs that part off thousands: 1.234,5 under DecimalComma and
// Grouping "." is "1234.5". For what must not pass through a float64, such as
// money. The error is as ParseWith's.
func ParseDecimal(s string, o Options) (string, error) {
	text, trouble := clean(s)
	if trouble == "" {
		n, rest, t := scanNumber(text, o)
		switch {
		case t != "":
			trouble = t
		case rest != "" || n.whole == "" && n.fraction == "" || n.exponent != 0:
			trouble = "must be a plain number, such as 1234 or 4" + sign(o) + "63"
		case n.fraction == "":
			return n.whole, nil
		default:
			return "0"[min(len(n.whole), 1):] + n.whole + "." + n.fraction, nil
		}
	}
	return "", fault(s, trouble, One, "number")
}

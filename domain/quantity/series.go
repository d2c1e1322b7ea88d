package quantity

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"coldrise/domain/problem"
)

// Series is one of the series of preferred numbers of IEC 60063.
type Series int

// The series electrolytic and film capacitors are made in.
const (
	E3  Series = 3
	E6  Series = 6
	E12 Series = 12
)

// The numbers of a decade, times ten: check-values.md 1.9, of IEC 60063.
var decades = map[Series][]int{
	E3:  {10, 22, 47},
	E6:  {10, 15, 22, 33, 47, 68},
	E12: {10, 12, 15, 18, 22, 27, 33, 39, 47, 56, 68, 82},
}

// Nearest gives the preferred number nearest to v by ratio. False where v is
// not a finite number more than 0 (and within 1e±300), or the series is none.
func (s Series) Nearest(v float64) (float64, bool) {
	best, found := 0.0, false
	for _, p := range s.around(v) {
		if !found || math.Abs(math.Log(p/v)) < math.Abs(math.Log(best/v)) {
			best, found = p, true
		}
	}
	return best, found
}

// Next gives the least preferred number above v; what differs from v by less
// than a part in 1e9 counts as v itself. False as for Nearest.
func (s Series) Next(v float64) (float64, bool) {
	for _, p := range s.around(v) {
		if p > v*(1+1e-9) {
			return p, true
		}
	}
	return 0, false
}

// AtMost gives the greatest preferred number not above v; what differs from v
// by less than a part in 1e9 counts as v itself. False as for Nearest.
func (s Series) AtMost(v float64) (float64, bool) {
	best, found := 0.0, false
	for _, p := range s.around(v) {
		if p <= v*(1+1e-9) {
			best, found = p, true
		}
	}
	return best, found
}

// around lists the preferred numbers of v's decade and of its neighbours,
// ascending.
func (s Series) around(v float64) []float64 {
	if !(v > 1e-300 && v < 1e300) {
		return nil
	}
	var all []float64
	decade := int(math.Floor(math.Log10(v)))
	for d := decade - 1; d <= decade+1; d++ {
		for _, n := range decades[s] {
			// Read from text: 47 × 10^d is then the same float64 as "4.7e…" elsewhere.
			if p, err := strconv.ParseFloat(fmt.Sprintf("%de%d", n, d-1), 64); err == nil {
				all = append(all, p)
			}
		}
	}
	return all
}

// Tolerance is how far a value may lie from its nominal, in per cent.
type Tolerance struct {
	MinusPct, PlusPct float64 // both positive
	Source            string
	FromMemory        bool
}

var tolerances = map[string]Tolerance{
	"J": {5, 5, "IEC 60062, secondary text", false},
	"K": {10, 10, "IEC 60062, secondary text", false},
	"M": {20, 20, "IEC 60062, cited in Vishay's EYD data sheet", false},
	"T": {10, 50, "Vishay's ASH and 132/133 ALL-DIN data sheets", false},
	"Z": {20, 80, "IEC 60062, secondary text", false},
	"Q": {10, 30, "from memory of IEC 60062", true},
	"S": {20, 50, "from memory of IEC 60062", true},
}

// ToleranceOf gives the tolerance a letter marks on a capacitor.
func ToleranceOf(letter string) (Tolerance, bool) {
	t, ok := tolerances[letter]
	return t, ok
}

// ParseCode reads a capacitor's three-digit code, with or without a tolerance
// letter: 473 is 47 × 10³ pF, 473K the same within 10 %. The last digit 8 is
// ×0.01 and 9 ×0.1; 7 is not used. The letter is "" where there is none.
// Only the marking on a body is such a code: in any other place 473 is a number.
func ParseCode(s string) (farad float64, letter string, err error) {
	s = strings.TrimSpace(s)
	if len(s) == 4 {
		s, letter = s[:3], s[3:]
	}
	_, known := tolerances[letter]
	digits := len(s) == 3 && strings.Trim(s, "0123456789") == ""
	if !digits || s[0] == '0' || s[2] == '7' || letter != "" && !known {
		l := &problem.List{}
		l.Add(problem.Fault{Message: "must be two digits, a power of ten and perhaps a tolerance letter, such as 473 or 473K", Value: shown(s + letter)})
		return 0, "", l.Err("capacitor code")
	}
	power := int(s[2] - '0')
	if power >= 8 {
		power -= 10
	}
	farad, _ = decimal(s[:2], "", power-12)
	return farad, letter, nil
}

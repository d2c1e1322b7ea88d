package catalogue

import (
	"math"
	"strconv"
	"strings"
	"unicode"

	"coldrise/catalogue/table"
	"coldrise/domain/part"
	"coldrise/domain/problem"
	"coldrise/domain/quantity"
)

// reading is how the cells of one column are turned into values of a member:
// texts under what the map declares, numbers of a workbook as they are.
type reading struct {
	member       *member
	text, number *quantity.Reader // nil for what has no unit
	options      quantity.Options
	pointed      bool // a point can only be the decimal sign
	per          int64
}

// readingOf makes the reading of a member under a map's declarations; unit is
// the column's, "" where it says none.
func readingOf(m *member, o quantity.Options, unit string, per int) reading {
	r := reading{member: m, options: o, per: int64(max(per, 1)), pointed: !o.DecimalComma && !o.DoubtPoint && o.Grouping != "."}
	if m.form != isNumber && m.form != isWhole {
		return r
	}
	o.Bare, o.AskBare = unit, m.ask
	r.text = quantity.NewReader(m.unit, m.in, o)
	r.number = quantity.NewReader(m.unit, m.in, quantity.Options{Bare: unit, AskBare: m.ask})
	return r
}

// value is what a cell was turned into: one of the three, by the member's form.
type value struct {
	text   string
	number float64
	money  part.Money
}

// trouble is what keeps a cell from being taken.
type trouble struct {
	code    Code
	message string
}

// read turns a cell that is not blank into a value.
func (r *reading) read(cell *table.Cell, text string) (value, *trouble) {
	switch cell.Kind {
	case table.Error:
		return value{}, &trouble{CodeValue, "is the error of a formula"}
	case table.Date:
		return value{}, &trouble{CodeDate, "is a day to the spreadsheet, which takes texts such as 10/50 or 3-5 for one; format the column as text and type it again"}
	}
	switch r.member.form {
	case isWord:
		return r.word(text)
	case isNumber:
		return r.quantity(cell, text)
	case isWhole:
		return r.whole(cell, text)
	case isMoney:
		return r.money(cell, text)
	case isFlag:
		return flag(text)
	}
	return r.words(cell, text)
}

func (r *reading) quantity(cell *table.Cell, text string) (value, *trouble) {
	by := r.text
	switch cell.Kind {
	case table.Number:
		by = r.number
	case table.Percent:
		by, text = r.number, text+"%"
	}
	v, err := by.Read(text)
	if err != nil {
		return value{}, &trouble{CodeValue, problem.As(err).Faults[0].Message}
	}
	if f, bad := r.member.rule.Number(v); bad {
		return value{}, &trouble{CodeRange, f.Message}
	}
	return value{number: v}, nil
}

func (r *reading) whole(cell *table.Cell, text string) (value, *trouble) {
	v, t := r.quantity(cell, text)
	if t != nil && !strings.ContainsAny(text, "0123456789") {
		return value{}, &trouble{CodeValue, "must be a whole number, such as 25; a word can be given a meaning in the column's values"}
	}
	if t == nil && (v.number != math.Trunc(v.number) || math.Abs(v.number) > 1<<53) {
		return value{}, &trouble{CodeValue, "must be a whole number"}
	}
	return v, t
}

func (r *reading) words(cell *table.Cell, text string) (value, *trouble) {
	if cell.Kind == table.Number && strings.ContainsAny(text, ".e") {
		return value{}, &trouble{CodeValue, "is a number to the spreadsheet, and a text is expected; format the column as text and type it again"}
	}
	if t := plainText(text); t != nil {
		return value{}, t
	}
	if f, bad := r.member.rule.Text(text); bad {
		return value{}, &trouble{CodeRange, f.Message}
	}
	return value{text: text}, nil
}

// plainText refuses what no member may hold, as document.Decode does.
func plainText(s string) *trouble {
	for i := range len(s) {
		if c := s[i]; c < ' ' && c != '\t' && c != '\n' && c != '\r' || c == 0x7f {
			return &trouble{CodeValue, "must not contain control characters other than tab and line end"}
		}
	}
	return nil
}

// word finds one of a closed set, whatever its case: Snap-In is snap_in.
func (r *reading) word(text string) (value, *trouble) {
	for _, w := range r.member.rule.Enum {
		if w == text {
			return value{text: w}, nil
		}
	}
	folded := foldWord(text)
	for _, w := range r.member.rule.Enum {
		if strings.EqualFold(w, folded) {
			return value{text: w}, nil
		}
	}
	f, _ := r.member.rule.Text(text)
	return value{}, &trouble{CodeChoice, f.Message + "; say in the column's values what the file's words stand for"}
}

var foldWord = func(s string) string { return strings.NewReplacer("-", "_", " ", "_").Replace(s) }

// Yes and no, as spreadsheets in three languages write them.
var flags = map[string]float64{
	"yes": 1, "true": 1, "1": 1, "x": 1, "ja": 1, "wahr": 1, "oui": 1, "vrai": 1,
	"no": 0, "false": 0, "0": 0, "nein": 0, "falsch": 0, "non": 0, "faux": 0,
}

func flag(text string) (value, *trouble) {
	v, ok := flags[strings.ToLower(text)]
	if !ok {
		return value{}, &trouble{CodeChoice, "must be yes or no"}
	}
	return value{number: v}, nil
}

// money reads a price. A currency sign or code may stand beside it; whether it
// is the offer's is for the row to say.
func (r *reading) money(cell *table.Cell, text string) (value, *trouble) {
	digits := text
	if cell.Kind == table.Text && !(r.pointed && plainDecimal(text)) {
		amount, _ := splitCurrency(text)
		d, err := quantity.ParseDecimal(amount, r.options)
		if err != nil {
			return value{}, &trouble{CodeValue, problem.As(err).Faults[0].Message}
		}
		digits = d
	} else if v, err := strconv.ParseFloat(text, 64); cell.Kind != table.Text && err == nil {
		// A spreadsheet's sum of cents may end in 0.0000000000001.
		cents := strconv.FormatFloat(v, 'f', 6, 64)
		if near, err := strconv.ParseFloat(cents, 64); err == nil && math.Abs(near-v) <= 1e-12*math.Max(1, math.Abs(v)) {
			digits = cents
		}
	}
	m, err := part.ParseMoney(digits)
	if err != nil {
		return value{}, &trouble{CodeValue, "must be an amount of up to six decimals, from 0 to " + part.MaxMoney.String()}
	}
	if int64(m)%r.per != 0 {
		return value{}, &trouble{CodeValue, "has more than six decimals once it is divided by the " + strconv.FormatInt(r.per, 10) + " pieces it is for"}
	}
	return value{money: m / part.Money(r.per)}, nil
}

// plainDecimal says whether s is digits and at most one point between them, as
// most prices are.
func plainDecimal(s string) bool {
	if s == "" || !isDigit(s[0]) || !isDigit(s[len(s)-1]) {
		return false
	}
	points := 0
	for i := range len(s) {
		if s[i] == '.' {
			points++
		} else if !isDigit(s[i]) {
			return false
		}
	}
	return points <= 1
}

// splitCurrency parts an amount from a currency sign or code at its end or start.
func splitCurrency(s string) (amount, currency string) {
	if s == "" || isDigit(s[0]) && isDigit(s[len(s)-1]) {
		return s, ""
	}
	sign := func(c rune) bool { return unicode.Is(unicode.Sc, c) || c < unicode.MaxASCII && unicode.IsLetter(c) }
	amount = strings.TrimSpace(strings.TrimFunc(s, func(c rune) bool { return sign(c) || unicode.IsSpace(c) }))
	currency = strings.TrimSpace(strings.Replace(s, amount, "", 1))
	return amount, currency
}

func isDigit(c byte) bool { return c >= '0' && c <= '9' }

// currencySigns are what signs may stand for; a sign of none here is taken for none.
var currencySigns = map[string]string{"€": "EUR", "£": "GBP", "$": "USD AUD CAD HKD NZD SGD", "US$": "USD", "¥": "JPY CNY"}

// agrees says whether what stands beside a price may be the currency.
func agrees(sign, currency string) bool {
	return sign == "" || strings.EqualFold(sign, currency) || strings.Contains(currencySigns[strings.ToUpper(sign)], currency) && currency != ""
}

// set puts a value into a member of the struct v.
func (r *reading) set(to *slot, v value) {
	target := r.member.target(to.v)
	switch r.member.form {
	case isNumber:
		setNumber(target, v.number)
	case isWhole:
		target.SetInt(int64(v.number))
	case isMoney:
		target.SetInt(int64(v.money))
	case isFlag:
		target.SetBool(v.number != 0)
	default:
		target.SetString(v.text)
	}
	to.given |= 1 << r.member.index
}

// canonical reads a text as maps and exports write it: a decimal point, and
// numbers in the member's own unit.
func (m *member) canonical(text string) (value, *problem.Fault) {
	if strings.TrimSpace(text) == "" {
		return value{}, &problem.Fault{Message: "must not be empty"}
	}
	r := readingOf(m, quantity.Options{}, m.in, 1)
	v, t := r.read(&table.Cell{Text: text}, text)
	if t != nil {
		return value{}, &problem.Fault{Message: t.message, Value: strconv.Quote(text)}
	}
	return v, nil
}

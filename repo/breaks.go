package repo

import (
	"errors"
	"strconv"
	"strings"

	"coldrise/domain/part"
)

// EncodeBreaks writes an offer's price breaks as engines keep them: a JSON
// list of [quantity, millionths], such as [[1,3200000],[10,2880000]]. An error
// says that a quantity is below 1 or a price below 0.
func EncodeBreaks(breaks []part.Break) (string, error) {
	text := []byte{'['}
	for i, b := range breaks {
		if b.MinQty < 1 || b.UnitPrice < 0 {
			return "", errors.New("a price break of a quantity below 1 or a price below 0")
		}
		if i > 0 {
			text = append(text, ',')
		}
		text = append(text, '[')
		text = strconv.AppendInt(text, int64(b.MinQty), 10)
		text = append(text, ',')
		text = strconv.AppendInt(text, int64(b.UnitPrice), 10)
		text = append(text, ']')
	}
	return string(append(text, ']')), nil
}

var errBreaks = errors.New("price breaks are kept as [[quantity,millionths],…]")

// DecodeBreaks reads what EncodeBreaks wrote, and nothing else.
func DecodeBreaks(text string) ([]part.Break, error) {
	inner, ok := strings.CutPrefix(text, "[")
	if !ok {
		return nil, errBreaks
	}
	if inner, ok = strings.CutSuffix(inner, "]"); !ok {
		return nil, errBreaks
	}
	if inner == "" {
		return nil, nil
	}
	breaks := make([]part.Break, 0, strings.Count(inner, "["))
	for {
		b, rest, err := decodeBreak(inner)
		if err != nil {
			return nil, err
		}
		breaks = append(breaks, b)
		if rest == "" {
			return breaks, nil
		}
		if inner, ok = strings.CutPrefix(rest, ","); !ok {
			return nil, errBreaks
		}
	}
}

// decodeBreak reads one [quantity,millionths] at the start of text.
func decodeBreak(text string) (part.Break, string, error) {
	pair, rest, closed := strings.Cut(text, "]")
	pair, opened := strings.CutPrefix(pair, "[")
	left, right, two := strings.Cut(pair, ",")
	if !opened || !closed || !two {
		return part.Break{}, "", errBreaks
	}
	quantity, err := count(left)
	if err != nil || quantity < 1 {
		return part.Break{}, "", errBreaks
	}
	price, err := count(right)
	if err != nil {
		return part.Break{}, "", errBreaks
	}
	return part.Break{MinQty: int(quantity), UnitPrice: part.Money(price)}, rest, nil
}

// count reads digits as they are written, without sign or leading zeros.
func count(text string) (int64, error) {
	if text == "" || text[0] < '0' || text[0] > '9' || (text[0] == '0' && len(text) > 1) {
		return 0, errBreaks
	}
	return strconv.ParseInt(text, 10, 64)
}

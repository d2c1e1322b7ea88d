package repo

import (
	"strconv"

	"coldrise/domain/part"
	"coldrise/domain/problem"
)

// keyKinds are the keys of a cursor in each order: text, a number or a count.
var keyKinds = map[PartOrder]string{
	ByNumber: "tt", ByCapacitance: "nnt", ByRating: "nnt", ByPrice: "ct", ByChange: "ct",
}

// CheckFilter refuses a filter of no order there is, one by price without a
// currency, and values no engine can keep. invalid.
func CheckFilter(f PartFilter) error {
	if err := Storable(f, "filter"); err != nil {
		return err
	}
	if keyKinds[f.Order] == "" {
		return fault("filter", problem.Fault{Pointer: "/order", Value: quote(string(f.Order)),
			Message: "parts are listed by number (no word), capacitance, rating, price or change"})
	}
	if f.Order == ByPrice && f.Currency == "" {
		return fault("filter", problem.Fault{Pointer: "/currency", Message: "an order by price needs the prices' currency"})
	}
	return nil
}

// PartKeys gives the keys of a part in an order, which say where a page stopped.
func PartKeys(f PartFilter, p *Part) []string {
	number := func(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
	switch f.Order {
	case ByCapacitance:
		return []string{number(p.CapacitanceUF), number(p.RatedV), p.ID}
	case ByRating:
		return []string{number(p.RatedV), number(p.CapacitanceUF), p.ID}
	case ByPrice:
		price, _ := leastPrice(p.Offers, f.Currency)
		return []string{strconv.FormatInt(int64(price), 10), p.ID}
	case ByChange:
		return []string{strconv.FormatInt(p.Changed.UnixMicro(), 10), p.ID}
	}
	return []string{p.Maker, p.PartNumber}
}

// PartsAfter reads the cursor of a list of parts: the keys of the row it
// stopped at, as string, float64 and int64; nil at the start. invalid, at /cursor.
func PartsAfter(list string, f PartFilter, cursor string) ([]any, error) {
	kinds := keyKinds[f.Order]
	keys, err := DecodeCursor(list, cursor, len(kinds))
	if err != nil || keys == nil {
		return nil, err
	}
	values := make([]any, len(keys))
	for i, k := range keys {
		var err error
		switch kinds[i] {
		case 'n':
			values[i], err = strconv.ParseFloat(k, 64)
		case 'c':
			values[i], err = strconv.ParseInt(k, 10, 64)
		default:
			values[i] = k
		}
		if err != nil {
			return nil, BadCursor(cursor)
		}
	}
	return values, nil
}

// leastPrice is the least price of one piece at an offer's least quantity, in a currency.
func leastPrice(offers []part.Offer, currency string) (part.Money, bool) {
	var least part.Money
	found := false
	for i := range offers {
		price, ok := firstPrice(&offers[i])
		if ok && offers[i].Currency == currency && (!found || price < least) {
			least, found = price, true
		}
	}
	return least, found
}

// firstPrice is the price of one piece at an offer's least quantity: of the
// last break that begins there or below, else of the first.
func firstPrice(o *part.Offer) (part.Money, bool) {
	if len(o.Breaks) == 0 {
		return 0, false
	}
	price := o.Breaks[0].UnitPrice
	for _, b := range o.Breaks {
		if b.MinQty <= o.MinQty {
			price = b.UnitPrice
		}
	}
	return price, true
}

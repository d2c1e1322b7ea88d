package pick

import (
	"strconv"

	"coldrise/domain/part"
	"coldrise/domain/problem"
)

// MaxPieces is the most pieces that all needs of an order and its spare take together.
const MaxPieces = 10_000

// check finds what Cheapest cannot reckon with, in needs, settings and the
// offers of the parts that are options.
func check(needs []Need, parts []part.Part, s Settings) error {
	var l problem.List
	if s.LineCost < 0 || s.LineCost > part.MaxMoney {
		l.Add(problem.Fault{Pointer: "/settings/line_cost", Value: s.LineCost.String(), Limit: "0 to " + part.MaxMoney.String(),
			Message: "the cost of a line is an amount"})
	}
	if s.Spare < 0 || s.Spare > MaxPieces {
		l.Add(problem.Fault{Pointer: "/settings/spare", Value: strconv.Itoa(s.Spare), Limit: "0 to " + strconv.Itoa(MaxPieces),
			Message: "the spare pieces are a count"})
	}
	pieces := s.Spare
	seen := make([]bool, len(parts))
	for i, n := range needs {
		at := "/needs/" + strconv.Itoa(i)
		if n.Quantity < 1 || n.Quantity > MaxPieces {
			l.Add(problem.Fault{Pointer: at + "/quantity", Value: strconv.Itoa(n.Quantity), Limit: "1 to " + strconv.Itoa(MaxPieces),
				Message: "a position takes at least one piece"})
		} else if pieces <= MaxPieces {
			pieces += n.Quantity
		}
		for j, p := range n.Options {
			if p < 0 || p >= len(parts) {
				l.Add(problem.Fault{Pointer: at + "/options/" + strconv.Itoa(j), Value: strconv.Itoa(p),
					Limit: "0 to " + strconv.Itoa(len(parts)-1), Message: "an option is the index of a part"})
				continue
			}
			seen[p] = true
		}
	}
	if pieces > MaxPieces {
		l.Add(problem.Fault{Pointer: "/needs", Limit: strconv.Itoa(MaxPieces), Message: "the needs and the spare take more pieces than an order can have"})
	}
	for p, is := range seen {
		if is {
			checkOffers(&l, p, parts[p].Offers, s.Currency)
		}
	}
	return l.Err("order")
}

func checkOffers(l *problem.List, p int, offers []part.Offer, currency string) {
	for i, o := range offers {
		if o.Currency != currency {
			continue
		}
		at := "/parts/" + strconv.Itoa(p) + "/offers/" + strconv.Itoa(i)
		if o.Pack < 1 {
			l.Add(problem.Fault{Pointer: at + "/pack", Value: strconv.Itoa(o.Pack), Limit: "1", Message: "a pack has at least one piece"})
		}
		if o.Stock > maxStock {
			l.Add(problem.Fault{Pointer: at + "/stock", Value: strconv.Itoa(o.Stock), Limit: strconv.Itoa(maxStock), Message: "a stock within the limit of an offer"})
		}
		for j, b := range o.Breaks {
			if b.UnitPrice < 0 || b.UnitPrice > part.MaxMoney {
				l.Add(problem.Fault{Pointer: at + "/breaks/" + strconv.Itoa(j) + "/unit_price", Value: b.UnitPrice.String(),
					Limit: "0 to " + part.MaxMoney.String(), Unit: currency, Message: "a price is not negative and not beyond the limit"})
			}
		}
	}
}

// maxStock is the limit of part.Offer's stock.
const maxStock = 100_000_000

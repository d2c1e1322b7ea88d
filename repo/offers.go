package repo

import (
	"reflect"

	"coldrise/domain/part"
)

// OfferColumns is what an engine keeps of an offer beside its plain members.
type OfferColumns struct {
	Breaks   string // as EncodeBreaks writes them
	Price    *int64 // of one piece at the least quantity, in millionths; nil without breaks
	Cheapest bool   // no other offer in its currency, and no equal one before it, asks less
}

// ColumnsOf gives the columns of a part's offers. An error as for EncodeBreaks.
func ColumnsOf(offers []part.Offer) ([]OfferColumns, error) {
	columns := make([]OfferColumns, len(offers))
	for i := range offers {
		breaks, err := EncodeBreaks(offers[i].Breaks)
		if err != nil {
			return nil, err
		}
		columns[i].Breaks = breaks
		if price, ok := firstPrice(&offers[i]); ok {
			micro := int64(price)
			columns[i].Price = &micro
		}
	}
	for i := range offers {
		columns[i].Cheapest = columns[i].Price != nil
		for k := range offers {
			if columns[k].Price == nil || k == i || offers[k].Currency != offers[i].Currency || !columns[i].Cheapest {
				continue
			}
			less := *columns[k].Price < *columns[i].Price || k < i && *columns[k].Price == *columns[i].Price
			columns[i].Cheapest = !less
		}
	}
	return columns, nil
}

// Merge gives the part that an import's row makes of the one that is there:
// the row's figures, and its offers in place of those of the suppliers it
// names. The first of a supplier takes the first one's place, and so on; other
// suppliers' keep theirs; those without a place come last.
func Merge(have, row part.Part) part.Part {
	merged := row
	bySupplier := map[string][]int{} // of the row's offers, those not yet placed
	for i := range row.Offers {
		supplier := row.Offers[i].Supplier
		bySupplier[supplier] = append(bySupplier[supplier], i)
	}
	merged.Offers = make([]part.Offer, 0, len(have.Offers)+len(row.Offers))
	placed := make([]bool, len(row.Offers))
	for _, o := range have.Offers {
		waiting, named := bySupplier[o.Supplier]
		switch {
		case !named:
			merged.Offers = append(merged.Offers, o)
		case len(waiting) > 0:
			merged.Offers = append(merged.Offers, row.Offers[waiting[0]])
			placed[waiting[0]], bySupplier[o.Supplier] = true, waiting[1:]
		}
	}
	for i := range row.Offers {
		if !placed[i] {
			merged.Offers = append(merged.Offers, row.Offers[i])
		}
	}
	DropEmpty(&merged)
	return merged
}

// Same says whether two parts are the same in all that is kept. Lists of
// neither are empty without being nil.
func Same(a, b *part.Part) bool { return reflect.DeepEqual(a, b) }

// SameFigures is Same but for the offers.
func SameFigures(a, b part.Part) bool {
	a.Offers, b.Offers = nil, nil
	return reflect.DeepEqual(a, b)
}

// SameSeries says whether two series are the same in all that is kept.
func SameSeries(a, b part.Series) bool {
	DropEmpty(&b)
	return reflect.DeepEqual(a, b)
}

package api

import (
	"coldrise/api/ordersheet"
	"coldrise/domain/plan"
)

// csvMedia is registered by RFC 4180 with these parameters.
const csvMedia = "text/csv; charset=utf-8; header=present"

// orderOf gives a plan's order as order sheets take it. Reference and date are
// the shop's to add.
func orderOf(o *plan.Order) ordersheet.Order {
	lines := make([]ordersheet.Line, len(o.Lines))
	for i, l := range o.Lines {
		lines[i] = ordersheet.Line{Supplier: l.Supplier, SKU: l.SKU, Maker: l.Maker, PartNumber: l.PartNumber, Text: l.Text, Refs: l.Refs,
			Quantity: l.Quantity, ForUse: l.ForUse, UnitPrice: l.UnitPrice, Total: l.Total, Currency: o.Currency, LeadDays: l.LeadDays}
	}
	return ordersheet.Order{Lines: lines}
}

// orderSheet writes an order as CSV by RFC 4180, in the columns of a shop that
// has set none.
func orderSheet(o *plan.Order) ([]byte, error) {
	return ordersheet.CSV(orderOf(o), ordersheet.Plain())
}

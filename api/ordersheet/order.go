// Package ordersheet fills an order into the shop's own workbook, or writes it
// as CSV in the shop's own columns. A workbook goes in and a copy comes out;
// nothing is stored, sent or run here.
//
// The copy differs from the workbook only in the rows filled in and what must
// follow from them: the sheet they stand in, styles, the workbook's own part,
// the range of a table that grew, and the cached results of formulas, which
// are cleared so that no stale figure is seen. Parts that did not change keep
// their bytes, and what did change is spliced, so unknown content stays too.
// What cannot be done safely is refused with the cell named.
//
// Cells and files are as ISO/IEC 29500-1 (transitional) and 29500-2 have them.
package ordersheet

import (
	"fmt"
	"strconv"
	"strings"
	"time"
	"unicode/utf16"
	"unicode/utf8"

	"coldrise/domain/part"
	"coldrise/domain/problem"
)

// Limits of an order.
const (
	MaxLines = 10_000
	// MaxText is the longest text of a cell, in UTF-16 units (common practice;
	// spreadsheets cut longer text without a word).
	MaxText = 32_767
)

// Order is what is filled in.
type Order struct {
	Reference string    // the shop's own reference of the order; may be empty
	Date      time.Time // its date, of which the clock and zone do not count; only where it is written
	Lines     []Line
}

// Line is one line of an order.
type Line struct {
	Supplier, SKU, Maker, PartNumber, Text string
	Refs                                   []string // positions it is for
	Quantity, ForUse                       int
	UnitPrice, Total                       part.Money
	Currency                               string // ISO 4217
	LeadDays                               int
}

// Field names a figure of a line, as maps and profiles call it.
type Field string

// The fields.
const (
	Supplier       Field = "supplier"
	SKU            Field = "sku"
	Maker          Field = "maker"
	PartNumber     Field = "part_number"
	Text           Field = "text"
	Refs           Field = "refs"
	Quantity       Field = "quantity"
	ForUse         Field = "for_use"
	UnitPrice      Field = "unit_price"
	Total          Field = "total"
	Currency       Field = "currency"
	LeadDays       Field = "lead_days"
	OrderReference Field = "order_reference"
	OrderDate      Field = "order_date"
	LineNumber     Field = "line_number"
)

// form is how a value is written into a cell.
type form string

const (
	asText   form = "text"
	asNumber form = "number"
	asDate   form = "date"
)

// natural is how a field is written where a map says nothing else.
func (f Field) natural() form {
	switch f {
	case Quantity, ForUse, UnitPrice, Total, LeadDays, LineNumber:
		return asNumber
	case OrderDate:
		return asDate
	}
	return asText
}

// of gives a field of line i (from 0) of an order. Numbers are plain decimals
// with a point, dates are ISO 8601.
func (f Field) of(o *Order, i int) string {
	l := &o.Lines[i]
	switch f {
	case Supplier:
		return l.Supplier
	case SKU:
		return l.SKU
	case Maker:
		return l.Maker
	case PartNumber:
		return l.PartNumber
	case Text:
		return l.Text
	case Refs:
		return strings.Join(l.Refs, " ")
	case Quantity:
		return strconv.Itoa(l.Quantity)
	case ForUse:
		return strconv.Itoa(l.ForUse)
	case UnitPrice:
		return l.UnitPrice.String()
	case Total:
		return l.Total.String()
	case Currency:
		return l.Currency
	case LeadDays:
		return strconv.Itoa(l.LeadDays)
	case OrderReference:
		return o.Reference
	case OrderDate:
		return o.Date.Format(time.DateOnly)
	case LineNumber:
		return strconv.Itoa(i + 1)
	}
	return ""
}

// Check adds to l what is wrong with an order: too many lines, texts that no
// cell can hold, figures below zero.
func (o *Order) Check(l *problem.List) {
	if n := len(o.Lines); n > MaxLines {
		l.Add(problem.Fault{Pointer: "/lines", Message: fmt.Sprintf("an order sheet takes at most %d lines", MaxLines), Value: strconv.Itoa(n)})
	}
	checkText(l, "/reference", o.Reference)
	for i := range min(len(o.Lines), MaxLines) {
		at := "/lines/" + strconv.Itoa(i)
		for _, f := range []Field{Supplier, SKU, Maker, PartNumber, Text, Refs, Currency} {
			checkText(l, at+"/"+string(f), f.of(o, i))
		}
		v := &o.Lines[i]
		for f, negative := range map[Field]bool{Quantity: v.Quantity < 0, ForUse: v.ForUse < 0, UnitPrice: v.UnitPrice < 0, Total: v.Total < 0, LeadDays: v.LeadDays < 0} {
			if negative {
				l.Addf(at+"/"+string(f), "must not be below zero")
			}
		}
	}
}

// checkDate adds a fault where the date is to be written and is none that a
// workbook can hold by either calendar.
func (o *Order) checkDate(l *problem.List, written bool) {
	if y := o.Date.Year(); written && (y < 1905 || y > 9998) {
		l.Addf("/date", "must be a date from 1905 to 9998")
	}
}

func checkText(l *problem.List, at, text string) {
	control := strings.IndexFunc(text, func(r rune) bool {
		return r < ' ' && r != '\t' && r != '\n' && r != '\r' || r == 0x7f || r == 0xfffe || r == 0xffff
	})
	switch {
	case !utf8.ValidString(text):
		l.Addf(at, "is not UTF-8")
	case control >= 0:
		l.Addf(at, "has a control character, which no cell holds")
	case units(text) > MaxText:
		l.Add(problem.Fault{Pointer: at, Message: fmt.Sprintf("a cell holds at most %d UTF-16 units of text", MaxText), Value: strconv.Itoa(units(text))})
	}
}

// units is the length of a text as spreadsheets count it.
func units(text string) int {
	n := 0
	for _, r := range text {
		n += utf16.RuneLen(r)
	}
	return n
}

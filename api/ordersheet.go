package api

import (
	"bytes"
	"encoding/csv"
	"strconv"
	"strings"

	"coldrise/domain/plan"
	"coldrise/domain/problem"
)

// csvMedia is registered by RFC 4180 with these parameters.
const csvMedia = "text/csv; charset=utf-8; header=present"

// sheetColumns head the order sheet.
var sheetColumns = [...]string{"supplier", "sku", "maker", "part_number", "text", "refs", "quantity", "for_use",
	"unit_price", "total", "currency", "lead_days"}

// orderSheet writes an order as CSV by RFC 4180: a header, CRLF, quotes where
// needed. Words from the catalogue that a spreadsheet would take for a formula
// get an apostrophe in front.
func orderSheet(o *plan.Order) ([]byte, error) {
	var b bytes.Buffer
	w := csv.NewWriter(&b)
	w.UseCRLF = true
	rows := [][]string{sheetColumns[:]}
	for i := range o.Lines {
		l := &o.Lines[i]
		rows = append(rows, []string{
			defused(l.Supplier), defused(l.SKU), defused(l.Maker), defused(l.PartNumber), defused(l.Text),
			defused(strings.Join(l.Refs, " ")), strconv.Itoa(l.Quantity), strconv.Itoa(l.ForUse),
			l.UnitPrice.String(), l.Total.String(), defused(o.Currency), strconv.Itoa(l.LeadDays),
		})
	}
	if err := w.WriteAll(rows); err != nil {
		return nil, problem.Wrap(err, "writing the order sheet")
	}
	return b.Bytes(), nil
}

// defused makes words harmless to a spreadsheet. A cell that begins with one
// of these, or with one after blanks or in its full-width form, may be run as
// a formula (OWASP, CSV Injection; ASVS 1.2.10).
func defused(cell string) string {
	first := strings.TrimLeft(cell, " \u00a0\u3000")
	if strings.HasPrefix(cell, "\x00") || strings.ContainsAny(first[:min(1, len(first))], "=+-@\t\r\n\x00") {
		return "'" + cell
	}
	for _, wide := range []string{"＝", "＋", "－", "＠"} {
		if strings.HasPrefix(first, wide) {
			return "'" + cell
		}
	}
	return cell
}

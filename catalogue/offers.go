package catalogue

import (
	"fmt"
	"reflect"
	"strconv"

	"coldrise/domain/part"
)

// takeOffer puts the row's offer into the part: another one, or further price
// breaks of the last.
func (b *builder) takeOffer() {
	priced := false
	for i := range b.prices {
		priced = priced || b.prices[i].given != 0
	}
	if b.terms.given == 0 && !priced {
		return
	}
	last := len(b.part.Offers) - 1
	if last >= 0 && b.sameOffer(&b.part.Offers[last]) {
		b.sameTerms(&b.part.Offers[last])
		b.takeBreaks(last)
		return
	}
	b.fill(ofOffer, &b.terms)
	b.part.Offers = append(b.part.Offers, b.offer)
	b.offerLines = append(b.offerLines, b.line)
	b.breakPlace = append(b.breakPlace, nil)
	b.takeBreaks(last + 1)
	if !agrees(b.sign, b.offer.Currency) {
		b.find(CodeContradiction, b.signAt, "unit_price", b.sign, "the price stands beside "+strconv.Quote(b.sign)+", which is not "+b.offer.Currency)
	}
	if len(b.part.Offers[last+1].Breaks) == 0 {
		b.at("/offers/"+strconv.Itoa(last+1)+"/breaks/0/unit_price", "", CodeRequired, "an offer must have a price")
	}
}

// sameOffer says whether the row goes on with an offer: it names the same
// supplier and order code, or neither.
func (b *builder) sameOffer(o *part.Offer) bool {
	return (b.offer.Supplier == "" || b.offer.Supplier == o.Supplier) && (b.offer.SKU == "" || b.offer.SKU == o.SKU)
}

// sameTerms finds where a further row of an offer says something else of it.
func (b *builder) sameTerms(o *part.Offer) {
	for i := range b.lay.columns {
		c := &b.lay.columns[i]
		m := c.reading.member
		if c.owner != ofOffer || !b.terms.has(m) {
			continue
		}
		before, _ := m.look(reflect.ValueOf(o).Elem())
		now, _ := m.look(b.terms.v)
		if before.Interface() != now.Interface() {
			b.find(CodeContradiction, c.place, m.name, fmt.Sprint(now.Interface()), fmt.Sprintf("differs from the row before, of the same offer, which has %v", before.Interface()))
		}
	}
}

// takeBreaks appends the row's price breaks to an offer.
func (b *builder) takeBreaks(offer int) {
	o := &b.part.Offers[offer]
	for i := range b.prices {
		p := &b.prices[i]
		if p.given == 0 {
			continue
		}
		for j := range b.lay.fixed[ofBreak] {
			if f := &b.lay.fixed[ofBreak][j]; !p.has(f.reading.member) {
				f.reading.set(p, f.value)
			}
		}
		switch {
		case p.has(minQtyMember):
		case b.lay.breaks[i].fromQty > 0:
			b.breaks[i].MinQty = b.lay.breaks[i].fromQty
		case len(o.Breaks) == 0 && o.MinQty > 0:
			b.breaks[i].MinQty = o.MinQty
		default:
			b.missing(minQtyMember, i)
		}
		if !p.has(priceMember) {
			b.missing(priceMember, i)
		}
		o.Breaks = append(o.Breaks, b.breaks[i])
		b.breakPlace[offer] = append(b.breakPlace[offer], breakPlace{b.line, i})
	}
}

var (
	minQtyMember = memberNamed("break_min_qty")
	priceMember  = memberNamed("unit_price")
)

// missing notes that half of a price break is blank.
func (b *builder) missing(m *member, slot int) {
	p := place{index: -1}
	if at, ok := b.lay.of[feedKey(m.pointer(), slot)]; ok {
		p = b.lay.columns[at].place
	}
	b.find(CodeRequired, p, m.name, "", "a price and the quantity it holds from go together; one is blank")
}

// takePoints appends the row's points to the tables of the part's own ratings.
func (b *builder) takePoints() {
	if b.points.given != 0 {
		b.fill(ofFrequency, &b.points)
		b.part.FrequencyFactors = append(b.part.FrequencyFactors, b.point)
	}
	if b.heats.given != 0 {
		b.fill(ofTemperature, &b.heats)
		b.part.TemperatureFactors = append(b.part.TemperatureFactors, b.heat)
	}
}

package part

import (
	"fmt"
	"math"
	"strconv"

	"coldrise/domain/problem"
)

// maxSurgeRatio is the largest surge voltage taken as believable, as a
// multiple of the rated voltage. No published factor passes 1.15; a figure
// past this is a slip of a digit, and one that would kill. Common practice.
const maxSurgeRatio = 1.5

// Check adds what is wrong with a part beyond the ranges of its members:
// figures that contradict each other, or its series. A nil series leaves out
// the checks that need one. Pointers are those of a part document.
func (p *Part) Check(l *problem.List, series *Series) {
	p.checkSafety(l)
	p.checkBody(l)
	p.checkVolts(l)
	p.checkLosses(l)
	var shared Ratings
	if series != nil {
		p.checkSeries(l, series)
		shared = series.Ratings
	}
	checkRatings(l, &p.Ratings, &shared, series != nil || p.Series == "")
	for i := range p.Offers {
		o := &p.Offers[i]
		at := "/offers/" + strconv.Itoa(i)
		for first := range i {
			if before := &p.Offers[first]; before.Supplier == o.Supplier && before.SKU == o.SKU {
				l.Addf(at+"/sku", "the same supplier and order code as offer %d", first)
				break
			}
		}
		o.check(l, at)
	}
}

// checkSafety refuses a class where it does not belong. A part of a safety
// technology may lack its class or its AC volts; on the mains it is not picked then.
func (p *Part) checkSafety(l *problem.List) {
	classes := ""
	switch p.Technology {
	case SafetyX:
		classes = "X1 or X2"
	case SafetyY:
		classes = "Y1 or Y2"
	}
	if classes == "" {
		if p.SafetyClass != "" {
			l.Add(problem.Fault{Pointer: "/safety_class", Value: quoted(p.SafetyClass),
				Message: fmt.Sprintf("a class goes with safety_x or safety_y; the technology is %s", p.Technology)})
		}
		if p.RatedVAC != nil {
			l.Add(problem.Fault{Pointer: "/rated_v_ac", Value: number(*p.RatedVAC), Unit: "V",
				Message: "AC volts of a safety class go with safety_x or safety_y"})
		}
		return
	}
	if p.SafetyClass != "" && p.SafetyClass[0] != classes[0] {
		l.Add(problem.Fault{Pointer: "/safety_class", Value: quoted(p.SafetyClass), Limit: classes,
			Message: fmt.Sprintf("a part of technology %s has the class %s", p.Technology, classes)})
	}
}

func (p *Part) checkBody(l *problem.List) {
	if p.Technology == Electrolytic && (p.Style == Box || p.Style == Disc) {
		l.Add(problem.Fault{Pointer: "/style", Value: quoted(string(p.Style)), Limit: "axial, radial, snap_in, can",
			Message: "an electrolytic is no box and no disc"})
	}
	if len(p.FurtherSectionsUF) > 0 && p.Style != Can {
		l.Add(problem.Fault{Pointer: "/further_sections_uf", Value: fmt.Sprint(len(p.FurtherSectionsUF)),
			Message: fmt.Sprintf("only a can has further sections; the style is %s", p.Style)})
	}
	if p.ThicknessMM != nil && p.Style != Box && p.Style != Disc {
		l.Add(problem.Fault{Pointer: "/thickness_mm", Value: number(*p.ThicknessMM), Unit: "mm",
			Message: "a thickness goes with a box or a disc; a round body has a diameter"})
	}
}

// checkVolts: a rating that could not be read is zero here, and has its fault already.
func (p *Part) checkVolts(l *problem.List) {
	if p.RatedV <= 0 {
		return
	}
	if v := p.RatedVAC; v != nil && *v > p.RatedV {
		l.Add(problem.Fault{Pointer: "/rated_v_ac", Value: number(*v), Limit: number(p.RatedV), Unit: "V",
			Message: "the rated AC volts (RMS) are above the rated direct volts"})
	}
	if p.SurgeV == nil {
		return
	}
	switch v := *p.SurgeV; {
	case v < p.RatedV:
		l.Add(problem.Fault{Pointer: "/surge_v", Value: number(v), Limit: number(p.RatedV), Unit: "V",
			Message: "the surge voltage is not below the rated voltage"})
	case v > maxSurgeRatio*p.RatedV:
		l.Add(problem.Fault{Pointer: "/surge_v", Value: number(v), Limit: number(maxSurgeRatio * p.RatedV), Unit: "V",
			Message: "no surge voltage is believed beyond 1.5 × rated"})
	}
}

// esrSlack is how far a stated ESR may pass what the stated maximum tan δ
// gives: makers print typical figures 6–17 % below it (Vishay ASH), and two
// frequencies of rating lie between 1 and 2.4 of each other.
const esrSlack = 2.5

// checkLosses holds a part's own ESR against its own loss factor, a maximum.
func (p *Part) checkLosses(l *problem.List) {
	if p.LeakageMin != nil && p.LeakageUA == nil {
		l.Addf("/leakage_min", "minutes go with a leakage_ua; a law has its own")
	}
	if p.ESROhm == nil || p.TanDelta == nil || p.BaseHz == nil || p.CapacitanceUF <= 0 || *p.BaseHz <= 0 {
		return
	}
	most := *p.TanDelta / (2 * math.Pi * *p.BaseHz * p.CapacitanceUF * 1e-6)
	if *p.ESROhm > esrSlack*most {
		l.Add(problem.Fault{Pointer: "/esr_ohm", Value: number(*p.ESROhm), Limit: strconv.FormatFloat(most, 'g', 3, 64), Unit: "Ω",
			Message: "the ESR is far above what the part's own maximum tan_delta gives, tan δ/(2πfC)"})
	}
}

func (p *Part) checkSeries(l *problem.List, s *Series) {
	if p.Series != s.Name {
		l.Add(problem.Fault{Pointer: "/series", Value: quoted(p.Series), Limit: quoted(s.Name), Message: "the part names another series"})
	}
	if p.Maker != s.Maker {
		l.Add(problem.Fault{Pointer: "/maker", Value: quoted(p.Maker), Limit: quoted(s.Maker), Message: "the series is another maker's"})
	}
	if p.Technology != s.Technology {
		l.Add(problem.Fault{Pointer: "/technology", Value: quoted(string(p.Technology)), Limit: quoted(string(s.Technology)),
			Message: "the part and its series are of one technology"})
	}
}

// check adds the faults of one offer; at is its pointer.
func (o *Offer) check(l *problem.List, at string) {
	if !currencyCode(o.Currency) {
		l.Add(problem.Fault{Pointer: at + "/currency", Value: quoted(o.Currency), Message: "a currency is three capital letters (ISO 4217)"})
	}
	for j, b := range o.Breaks {
		here := at + "/breaks/" + strconv.Itoa(j)
		if b.UnitPrice < 0 || b.UnitPrice > MaxMoney {
			l.Add(problem.Fault{Pointer: here + "/unit_price", Value: b.UnitPrice.String(), Limit: "0 to " + MaxMoney.String(), Unit: o.Currency,
				Message: "a price is not negative and not beyond the limit"})
		}
		if j == 0 {
			continue
		}
		before := o.Breaks[j-1]
		if b.MinQty <= before.MinQty {
			l.Add(problem.Fault{Pointer: here + "/min_qty", Value: strconv.Itoa(b.MinQty), Limit: strconv.Itoa(before.MinQty),
				Message: "price breaks ascend in min_qty"})
		}
		if b.UnitPrice > before.UnitPrice {
			l.Add(problem.Fault{Pointer: here + "/unit_price", Value: b.UnitPrice.String(), Limit: before.UnitPrice.String(), Unit: o.Currency,
				Message: "the unit price does not rise with the quantity"})
		}
	}
	// A first break above the least quantity would leave quantities without a price.
	if len(o.Breaks) > 0 && o.MinQty > 0 && o.Breaks[0].MinQty > o.MinQty {
		l.Add(problem.Fault{Pointer: at + "/breaks/0/min_qty", Value: strconv.Itoa(o.Breaks[0].MinQty), Limit: strconv.Itoa(o.MinQty),
			Message: "the first price break holds from the offer's min_qty at the latest"})
	}
}

func currencyCode(s string) bool {
	if len(s) != 3 {
		return false
	}
	for _, r := range s {
		if r < 'A' || r > 'Z' {
			return false
		}
	}
	return true
}

func quoted(s string) string { return strconv.Quote(s) }

func number(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
